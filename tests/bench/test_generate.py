"""Circuits and boards made for measuring: the same from the same seed, sound, and with the room that is promised."""

from __future__ import annotations

import hashlib
from collections import Counter
from pathlib import Path

import pytest

from placer.circuit.model import Circuit
from placer.circuit.read_yaml import read_circuit
from placer.packages.model import TwoLead
from placer.solve.problem import build
from placer.solve.room import shortage
from tests.bench import boards, generate
from tests.bench.boards import KINDS, board_for, made_case, need
from tests.bench.generate import GROUND, SIZES, circuit, circuit_text

SOME = [(count, seed) for count in (10, 11, 20, 40, 80) for seed in range(1, 9)] + [(150, 1), (300, 1), (430, 1)]


def test_a_seed_gives_the_same_circuit_everywhere() -> None:
    """The digest was written down when the first measurements were published; a change makes them incomparable."""
    text = "".join(circuit_text(count, 1) for count in SIZES)
    assert hashlib.sha256(text.encode()).hexdigest()[:16] == "deda309b4418182b"
    assert circuit_text(40, 1) == circuit_text(40, 1)
    assert circuit_text(40, 1) != circuit_text(40, 2)


@pytest.mark.parametrize(("count", "seed"), SOME)
def test_every_circuit_is_sound(count: int, seed: int) -> None:
    made, warnings = read_circuit(Path("made.yaml"), text=circuit_text(count, seed))
    assert warnings == ()
    assert len(made.parts) == count
    for part in made.parts:
        package = made.packages[part.package]
        nets = [net for pin, net in made.net_of.items() if pin.part == part.ref]
        if isinstance(package.form, TwoLead):
            assert len(set(nets)) == 2, f"{part.ref} has both leads in one net, or one in none"
        assert nets, f"{part.ref} is joined to nothing"
    supply, ground = made.nets[0], made.nets[1]
    assert (supply.role, ground.role) == ("supply", "ground")
    assert max(len(net.pins) for net in made.nets[2:]) <= generate.MOST_PINS


def test_nets_and_packages_are_as_circuits_have_them() -> None:
    """Over many circuits: two nets feed everything, four in five of the others have two to four pins, few more."""
    many = [circuit(count, seed) for count in (40, 80) for seed in range(1, 11)]
    signals = [len(net.pins) for made in many for net in made.nets[2:]]
    assert 0.85 < sum(2 <= size <= 4 for size in signals) / len(signals) < 0.99
    assert 0.01 < sum(size > 4 for size in signals) / len(signals) < 0.15
    for made in many:
        sizes = sorted((len(net.pins) for net in made.nets), reverse=True)
        assert sizes[:2] == sorted((len(net.pins) for net in made.nets[:2]), reverse=True)
    kinds = Counter(part.package.split("-")[0] for made in many for part in made.parts)
    total = sum(kinds.values())
    assert 0.35 < kinds["axial"] / total < 0.50
    assert 0.07 < kinds["dip"] / total < 0.14
    assert {"to", "do", "led", "disc", "radial", "trimmer", "terminal"} <= set(kinds)


def test_each_ic_of_a_large_circuit_has_a_capacitor_across_the_supply() -> None:
    made = circuit(150, 1)
    across = [part for part in made.parts if {_net(made, part.ref, pin) for pin in "12"} == {"V5", "GND"}]
    ceramics = [part for part in across if part.package.startswith(("disc", "film"))]
    assert len(ceramics) >= sum(part.package.startswith("dip") for part in made.parts)
    assert GROUND == 1


def _net(made: Circuit, ref: str, pin: str) -> str | None:
    return next((net for p, net in made.net_of.items() if (p.part, p.pin) == (ref, pin)), None)


def test_the_estimate_of_a_circuit_counted_by_hand() -> None:
    """An IC of 8, a resistor and a three-pin header; four nets and two open pins.

    Pins: 8 + 2 + 3 = 13. Long strips: the IC is 4 x 4 = 16 holes, the resistor stands on 2, the header is 3 x 1, and a
    hole more for each pin: 21 + 13 = 34. Five-hole board: the IC takes its 8 pins, 13 + 7 = 20. Strips: A has one pin
    of the IC: 1. B has two: 2. GND has two: 2. D has none: 1. Pins 6, 7 and 8 are open: 3. In all 9.
    """
    text = """
circuit: by-hand
parts: {U1: {package: dip-8}, R1: {package: axial-0207}, J1: {package: header-3}}
nets: {A: [U1.1, R1.1], B: [U1.2, U1.3, R1.2], GND: [U1.4, U1.5, U1.6, J1.1], D: [J1.2, J1.3]}
"""
    made, _ = read_circuit(Path("by-hand.yaml"), text=text)
    assert need(made) == boards.Need(holes=34, channelled=20, strips=9, tallest=4)
    five, long = board_for(made, "five-hole"), board_for(made, "long-strip")
    # 9 strips of two a row and half as many again: 6.75, so 7 rows; 10 x 7 holes and four rails of 7.
    assert len(five.holes) == 98
    assert sum(strip.rail for strip in five.strips) == 4
    # 1.5 x 34 = 51 holes, as 6 strips (2 more than the IC is long) of 9.
    assert (len(long.strips), len(long.holes)) == (6, 54)


def test_a_long_bank_is_made_of_several_side_by_side() -> None:
    made = circuit(150, 1)
    wanted = need(made)
    board = board_for(made, "five-hole")
    rows = {hole.y for hole in board.holes.values()}
    assert len(rows) <= boards.LONGEST_BANK
    short = [strip for strip in board.strips if not strip.rail]
    assert all(len(strip.holes) == 5 for strip in short)
    assert len(short) * 5 >= 1.5 * wanted.channelled
    assert len(short) >= 1.5 * wanted.strips
    # e and f of each bank are three steps apart, so an IC stands across the channel.
    holes = board.holes
    assert holes["Bf1"].x - holes["Be1"].x == 3
    assert not board.cut_by_default
    assert board_for(made, "long-strip").cut_by_default


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("count", "seed"), [(10, 1), (20, 3), (80, 2)])
def test_the_engine_takes_what_is_made(count: int, seed: int, kind: str) -> None:
    case = made_case(count, seed, kind)
    problem = build(case.circuit, case.board, case.options)
    assert shortage(case.circuit, case.board, case.options) == ()
    assert len(problem.items) == count
    assert any(problem.severable(s) for s in range(len(problem.slen))) == (kind == "long-strip")


def test_both_commands_print_what_is_read(capsys: pytest.CaptureFixture[str]) -> None:
    assert generate.main(["20", "--seed", "2"]) == 0
    assert capsys.readouterr().out == circuit_text(20, 2)
    assert boards.main(["20", "--seed", "2", "--kind", "long-strip"]) == 0
    assert capsys.readouterr().out.startswith("board: made-20-2-long-strip-15x21\n")
