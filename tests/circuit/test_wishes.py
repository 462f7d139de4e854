"""Reading wishes of the circuit as a whole, preferences and habits; what is said about each thing that is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from placer.circuit.model import (
    Apart,
    Circuit,
    Force,
    NearWish,
    Owned,
    PinRef,
    Place,
    Preference,
    Region,
    Short,
    Together,
    Wishes,
)
from placer.circuit.read_yaml import read_circuit
from placer.circuit.write_yaml import circuit_from_data, circuit_to_data
from placer.errors import Diagnostic, PlacerError

TEXT = """\
circuit: hive-lantern
parts:
  R1: {package: axial-0207, place: {side: left, prefer: [{edge: top, weight: 2}, {near: [U1.8], mount: flat, cost: 1}]}}
  U1: {package: dip-8, place: {fixed: true, prefer: {rotation: 90}}}
nets:
  VCC: {pins: [U1.8, R1.1], role: supply}
  GND: {pins: [U1.4, R1.2], role: ground}
wishes:
  together: {parts: [R1, U1], steps: 10}
  keepout: [{from: a1, to: c9}]
  rails: {VCC: L+, GND: [L-, {strip: R-, weight: 3}]}
  short: [{net: VCC, mm: 30, weight: 2}]
  apart: {nets: [VCC, GND]}
  habits: {edges: false, rails: true, decoupling: 3, alike: {cost: 1}}
"""


def read(text: str) -> Circuit:
    return read_circuit(Path("hive.yaml"), text=text)[0]


def refused(text: str) -> tuple[Diagnostic, ...]:
    with pytest.raises(PlacerError) as caught:
        read(text)
    return caught.value.diagnostics


def test_wishes_are_read() -> None:
    circuit = read(TEXT)
    assert circuit.wishes == Wishes(
        (
            Together(("R1", "U1"), 10.0),
            Region("a1", "c9"),
            Owned("VCC", "L+"),
            Owned("GND", "L-"),
            Owned("GND", "R-", Force(weight=3.0)),
            Short("VCC", 30.0, Force(weight=2.0)),
            Apart(("VCC", "GND"), 10.0),
        ),
        {"edges": None, "decoupling": Force(weight=3.0), "alike": Force(cost=1.0)},
    )
    resistor, chip = (part.place for part in circuit.parts)
    assert resistor == Place(
        side="left",
        prefer=(
            Preference(Place(edge="top"), Force(weight=2.0)),
            Preference(Place(near=(NearWish(PinRef("U1", "8")),), mount="flat"), Force(cost=1.0)),
        ),
    )
    assert chip == Place(fixed=True, prefer=(Preference(Place(rotation=90), Force(weight=1.0)),))


def test_what_is_written_is_read_back() -> None:
    circuit = read(TEXT)
    assert circuit_from_data(circuit_to_data(circuit)) == circuit


def test_all_habits_are_turned_off_at_once() -> None:
    circuit = read(TEXT.replace("{edges: false, rails: true, decoupling: 3, alike: {cost: 1}}", "false"))
    assert set(circuit.wishes.habits.values()) == {None}
    assert len(circuit.wishes.habits) == 5


# What is changed, and the fault to come of it with its line, column and a word of the message or the advice.
WRONG = {
    "a wish nobody knows": ("keepout:", "keepot:", "unknown-key", 10, 3, "keepout"),
    "a part that is not there": ("[R1, U1]", "[R1, U2]", "unknown-part", 9, 26, "U1"),
    "no distance": ("steps: 10", "steps: ten", "bad-value", 9, 38, "a number"),
    "no part": ("[R1, U1]", "[]", "empty-wish", 9, 3, "no parts"),
    "no corner": ("from: a1, ", "", "key-missing", 10, 13, "from"),
    "a net that is not there": ("{VCC: L+", "{VCD: L+", "unknown-net", 11, 11, "VCC"),
    "a strip for two nets": ("[L-,", "[L+,", "wish-contradiction", 11, 26, "twice"),
    "a key of a rail": ("strip: R-", "strap: R-", "unknown-key", 11, 31, "strip"),
    "a net to be short": ("net: VCC", "net: VC", "unknown-net", 12, 17, "VCC"),
    "one net to be apart": ("[VCC, GND]", "[VCC]", "wish-contradiction", 13, 11, "two"),
    "a habit nobody knows": ("edges: false", "edge: false", "unknown-habit", 14, 12, "edges"),
    "a habit of no weight": ("decoupling: 3", "decoupling: 0", "bad-value", 14, 51, "above 0"),
    "weight and cost": ("weight: 2}]\n  apart", "weight: 2, cost: 1}]\n  apart", "wish-contradiction", 12, 41, "one"),
    "a preference nobody knows": ("{edge: top,", "{edg: top,", "unknown-key", 3, 59, "edge"),
    "a preference for nothing": ("{edge: top, weight: 2}", "{weight: 2}", "empty-wish", 3, 58, "nothing"),
    "wishes that are a list": ("wishes:\n", "wishes: [1]\nextra:\n", "wrong-type", 8, 9, "mapping"),
}


@pytest.mark.parametrize("name", list(WRONG))
def test_what_is_wrong_is_told_with_its_place(name: str) -> None:
    old, new, code, line, column, word = WRONG[name]
    assert old in TEXT
    found = [d for d in refused(TEXT.replace(old, new)) if d.code == code]
    assert found, "another fault"
    assert (line, column) in [(d.span.line, d.span.column) for d in found if d.span is not None]
    assert any(word in f"{d.message} {d.help}" for d in found)
