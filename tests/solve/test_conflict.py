"""Impossible wishes: the set that is named cannot be, and without any one of its members the rest can.

The truth comes from trying everything (tests.solve.brute), which shares no code with the engine.
"""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from placer.boards.catalogue import load_board
from placer.boards.model import Board
from placer.circuit.model import AwayWish, Circuit, NearWish, Net, Part, PinRef, Place
from placer.cli import main
from placer.errors import Exit
from placer.packages.catalogue import lookup
from placer.plan.model import Options
from placer.solve import run
from placer.solve.api import Outcome, Request
from placer.solve.conflict import Conflict, explain_none, smallest_conflict, wishes_of, without
from tests.solve.brute import optimum
from tests.solve.cases import any_board, any_circuit, board_of
from tests.solve.engine import faults, short_polish
from tests.solve.wires import TooLargeError
from tests.solve.wishing import wishful

WANTED = 50


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    short_polish(monkeypatch)


def find(circuit: Circuit, board: Board, options: Options) -> Conflict | None:
    request = Request(circuit, board, options, seconds=None, effort=2, workers=1)
    return smallest_conflict(request, faults, lambda part: run.solve(part, faults), seconds=20.0)


def can_be(circuit: Circuit, board: Board, options: Options) -> bool:
    """By trying everything."""
    if not circuit.parts:
        return True
    return optimum(circuit, board, options).plan is not None


@cache
def impossible(count: int) -> list[tuple[Circuit, Board, Options]]:
    """Circuits that have a plan until their wishes are to be kept."""
    found = []
    for seed in range(4000):
        dice = random.Random(f"impossible {seed}")
        board = any_board(dice, dice.choice(("none", "none", "hole", "both")))
        circuit = any_circuit(dice, board, dice.choice((2, 3, 3)), wishes=0.3 if seed % 3 else 1.0)
        if seed % 3:
            circuit = wishful(dice, board, circuit, mild=0.0)
        else:
            circuit = replace(circuit, parts=tuple(_wish(dice, board, part, circuit) for part in circuit.parts))
        options = Options()
        try:
            if can_be(circuit, board, options) or not can_be(
                without(circuit, refs(circuit), frozenset()), board, options
            ):
                continue
        except TooLargeError:
            continue
        found.append((circuit, board, options))
        if len(found) == count:
            return found
    raise AssertionError("too few cases")


def _wish(dice: random.Random, board: Board, part: Part, circuit: Circuit) -> Part:
    """More wishes for a part, that it may well be unable to keep."""
    place = part.place
    others = [p for p in circuit.parts if p.ref != part.ref]
    if dice.random() < 0.5 and not place.at:
        place = replace(place, side=dice.choice(("top", "bottom", "left", "right")))
    if dice.random() < 0.5:
        other = dice.choice(others)
        pin = PinRef(other.ref, dice.choice(circuit.packages[other.package].pins))
        place = replace(place, near=(NearWish(pin, dice.choice((1.0, 2.0, 3.0))),))
    if dice.random() < 0.5:
        place = replace(place, away=(AwayWish(dice.choice(others).ref, dice.choice((5.0, 7.62, 10.0))),))
    if dice.random() < 0.3:
        pin_no = dice.choice(circuit.packages[part.package].pins)
        place = replace(place, at={pin_no: dice.choice(sorted(board.holes))})
    return replace(part, place=place)


def refs(circuit: Circuit) -> frozenset[str]:
    return frozenset(p.ref for p in circuit.parts)


def is_smallest(conflict: Conflict, circuit: Circuit, board: Board, options: Options) -> bool:
    """Impossible, and without any one member possible. Raises TooLargeError where that cannot all be tried."""
    parts, wishes = frozenset(conflict.parts), frozenset(conflict.wishes)
    assert not can_be(without(circuit, parts, wishes), board, options), conflict
    for wish in wishes:
        if not can_be(without(circuit, parts, wishes - {wish}), board, options):
            return False
    for ref in parts:
        left = parts - {ref}
        kept = frozenset(w for w in wishes if not w.ref or w.ref in left)  # those about the part go with it
        if not can_be(without(circuit, left, kept), board, options):
            return False
    return True


def test_fifty_impossible_wish_sets_are_smallest() -> None:
    smallest = shared = 0
    sizes = set()
    for circuit, board, options in impossible(WANTED + 20):
        conflict = find(circuit, board, options)
        if conflict is None:
            continue
        assert conflict.wishes, "without wishes these circuits have a plan"
        try:
            least = is_smallest(conflict, circuit, board, options)
        except TooLargeError:
            continue
        assert least or not conflict.smallest, conflict
        if not conflict.smallest:
            continue
        smallest += 1
        shared += any(not wish.ref for wish in conflict.wishes)
        sizes.add(len(conflict.wishes))
        if smallest >= WANTED:
            break
    assert smallest >= WANTED
    assert shared >= 10, "wishes of the circuit as a whole"
    assert len(sizes) >= 3, "single wishes, pairs, and more"


def test_a_circuit_with_a_plan_has_no_conflict() -> None:
    asked = 0
    for seed in range(40):
        dice = random.Random(f"possible {seed}")
        board = any_board(dice, "none")
        circuit = any_circuit(dice, board, 3, wishes=0.8)
        try:
            possible = can_be(circuit, board, Options())
        except TooLargeError:
            continue
        if possible:
            asked += 1
            assert find(circuit, board, Options()) is None
    assert asked >= 5


def test_a_plan_of_solder_bridges_is_no_conflict() -> None:
    """On lone pads a net of several pins has no strip with a free hole; solder joins it all the same."""
    board = load_board("single-pad-24x16")
    names = {"U1": "dip-8", "R1": "axial-0204"}
    net = Net("SYRUP", (PinRef("U1", "1"), PinRef("U1", "5"), PinRef("R1", "1")))
    parts = tuple(Part(ref, name) for ref, name in names.items())
    circuit = Circuit("feeder", parts, (net,), {name: lookup(name) for name in names.values()})
    assert find(circuit, board, Options(allow_cuts=board.cut_by_default)) is None


def two_feeders(place: Place) -> Circuit:
    parts = (Part("R1", "axial-0207", place=Place(mount="standing")), Part("R2", "axial-0207", place=place))
    package = lookup("axial-0207")
    nets = (Net("SYRUP", (PinRef("R1", "1"), PinRef("R2", "1"))),)
    return Circuit("feeder", parts, nets, {package.name: package})


def test_the_words_are_the_users_own() -> None:
    board = board_of([[(x, y) for x in range(5)] for y in range(6)])
    circuit = two_feeders(Place(near=(NearWish(PinRef("R1", "1"), 2.0),), away=(AwayWish("R1", 30.0),)))
    conflict = find(circuit, board, Options())
    assert conflict is not None
    text = conflict.text(circuit, board.name)
    assert "R2 away: [{part: R1, mm: 30}]" in text
    assert "R1 mount" not in text


def test_the_outcome_keeps_what_was_known_and_says_that_it_is_proved() -> None:
    board = board_of([[(x, y) for x in range(5)] for y in range(6)])
    circuit = two_feeders(Place(away=(AwayWish("R1", 300.0),)))
    request = Request(circuit, board, Options(), seconds=None, effort=1, workers=1)
    outcome = explain_none(request, Outcome(None), faults, lambda part: run.solve(part, faults))
    assert outcome.proved_impossible
    assert [d.code for d in outcome.reasons] == ["wishes-in-conflict"]
    assert len(wishes_of(circuit.parts[1])) == 1


def test_the_command_names_the_wishes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source = tmp_path / "feeder.yaml"
    source.write_text(
        "circuit: feeder\nparts:\n  R1: {package: axial-0207, place: {at: {1: a1}}}\n"
        "  R2: {package: axial-0207, place: {side: top, away: [{part: R1, mm: 100}]}}\n"
        "nets:\n  SYRUP: [R1.1, R2.1]\n"
    )
    arguments = ["plan", str(source), "--board", "five-hole-30", "--effort", "2", "--out", str(tmp_path / "out")]
    assert main([*arguments, "--quiet"]) == Exit.NO_PLAN
    told = capsys.readouterr().err
    assert "wishes-in-conflict" in told
    assert "R2 away: [{part: R1, mm: 100}]" in told


def test_what_the_empty_board_refuses_is_named_first(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Neighbouring pins of one connector cannot be 5 mm apart; wishes that could be kept take no time before that."""
    source = tmp_path / "scale.yaml"
    source.write_text(
        "circuit: scale\nparts:\n  J1: {package: header-3}\n  R1: {package: axial-0207}\n  R2: {package: axial-0207}\n"
        "nets:\n  VCC: [J1.1, R1.1]\n  MID: [J1.2, R1.2, R2.1]\n  GND: [J1.3, R2.2]\n"
        "wishes:\n  together: [{parts: [R1, R2], steps: 10}]\n  rails: {VCC: L+}\n"
        "  apart: [{nets: [MID, VCC], mm: 5}]\n"
    )
    arguments = ["plan", str(source), "--board", "five-hole-30", "--effort", "1", "--out", str(tmp_path / "out")]
    assert main([*arguments, "--quiet"]) == Exit.NO_PLAN
    nowhere, conflict = (line for line in capsys.readouterr().err.splitlines() if "[wish" in line)
    assert "together" not in nowhere, "J1 is not in that wish"
    assert "cannot be kept (with J1, R1, R2 on the board): apart: {nets: [MID, VCC], mm: 5}" in conflict
