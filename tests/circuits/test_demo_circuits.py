"""The demo circuits load, are electrically sound by a lint, and the lint objects when one is spoiled."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from placer.circuit.model import Circuit, PinRef
from placer.circuit.read_yaml import read_circuit
from tests.circuits.lint import Lint

FOLDER = Path(__file__).resolve().parents[2] / "netlists"
NAMES = sorted(path.stem for path in FOLDER.glob("*.yaml"))


def load(name: str) -> Circuit:
    circuit, warnings = read_circuit(FOLDER / f"{name}.yaml")
    assert warnings == (), warnings
    return circuit


def moved(circuit: Circuit, pin: str, net: str | None) -> Circuit:
    """The circuit with one pin (``R1.2``) taken off its net and put on another, or left open."""
    ref = PinRef(*pin.split("."))
    nets = []
    for old in circuit.nets:
        pins = tuple(p for p in old.pins if p != ref) + ((ref,) if old.name == net else ())
        nets.append(replace(old, pins=pins))
    return replace(circuit, nets=tuple(nets))


def revalued(circuit: Circuit, ref: str, value: str) -> Circuit:
    parts = tuple(replace(part, value=value) if part.ref == ref else part for part in circuit.parts)
    return replace(circuit, parts=parts)


def test_there_are_at_least_ten_demo_circuits_from_five_to_sixty_parts() -> None:
    sizes = sorted(len(load(name).parts) for name in NAMES)
    assert len(sizes) >= 10
    assert sizes[0] == 5
    assert 50 <= sizes[-1] <= 60


@pytest.mark.parametrize("name", NAMES)
def test_a_demo_circuit_is_electrically_sound(name: str) -> None:
    circuit = load(name)
    assert circuit.name == name
    assert circuit.about
    assert Lint(circuit).breaches() == []


@pytest.mark.parametrize("name", NAMES)
def test_a_demo_circuit_says_what_it_is_in_its_head_comment(name: str) -> None:
    lines = (FOLDER / f"{name}.yaml").read_text(encoding="utf-8").splitlines()
    head = "\n".join(line for line in lines[: next(i for i, t in enumerate(lines) if not t.startswith("#"))])
    assert "Topology:" in head
    assert "Supply:" in head


SPOILED = [
    ("hive-lantern", "LED1.1", "VLED", "LED1 has no series resistor"),
    ("gate-blinker", "C3.1", "OUT", "supply pins between VCC and GND want 100n each"),
    ("gate-blinker", "R2.2", "DIS", "R2: every pin is on net DIS"),
    ("gate-blinker", "U1.4", None, "input U1.4 floats"),
    ("gate-blinker", "R3.2", None, "R3.2 is open"),
    ("swarm-listener", "U1.9", "VMID", "the section at pin 8"),
    ("swarm-listener", "U1.14", "PRE", "driven by U1.1 and U1.14"),
    ("activity-bar", "R19.1", None, "R19.1 is open"),
    ("activity-bar", "U2.13", None, "input U2.13 floats"),
    ("hive-counter", "R11.1", "GND", "R11: every pin is on net GND"),
    ("honey-warmer-timer", "D1.1", "GND", "K1: nothing catches the kick"),
    ("feeder-motor-driver", "D3.2", "MB", "J2: nothing catches the kick"),
    ("brood-logger", "C6.1", "V5", "U2: no capacitor at its input"),
    ("brood-logger", "C4.1", "SDA", "want 100n each"),
    ("frost-alarm", "Q2.3", "DRIVE", "Q2: a transistor needs three nets"),
    ("fan-supply", "LED1.2", "LAMP", "LED1: every pin is on net LAMP"),
]


@pytest.mark.parametrize(("name", "pin", "net", "expected"), SPOILED)
def test_the_lint_objects_to_a_misplaced_pin(name: str, pin: str, net: str | None, expected: str) -> None:
    breaches = Lint(moved(load(name), pin, net)).breaches()
    assert any(expected in breach for breach in breaches), breaches


@pytest.mark.parametrize(
    ("ref", "value", "expected"),
    [
        ("R1", "5k", "in no series"),
        ("C1", "2.4n", "in no series"),
        ("R2", "much", "is no value"),
        ("U1", "?", "no pinout"),
    ],
)
def test_the_lint_objects_to_a_strange_value(ref: str, value: str, expected: str) -> None:
    breaches = Lint(revalued(load("gate-blinker"), ref, value)).breaches()
    assert any(expected in breach and ref in breach for breach in breaches), breaches


def test_the_lint_objects_to_a_reversed_capacitor_a_lone_pin_and_high_voltage() -> None:
    circuit = load("gate-blinker")
    turned = moved(moved(circuit, "C4.1", "GND"), "C4.2", "VCC")
    assert "C4 is the wrong way round" in Lint(turned).breaches()
    assert "net LAMP has 1 pin" in Lint(moved(circuit, "LED1.1", None)).breaches()
    live = replace(circuit, nets=tuple(replace(n, volts=48.0) if n.name == "VCC" else n for n in circuit.nets))
    assert any("48.0 V is more than" in breach for breach in Lint(live).breaches())
