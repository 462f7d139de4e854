"""The clauses with a literal for each place, against the truth of small cases."""

from __future__ import annotations

import itertools
import math
import os
import random

import pytest

from placer.boards.catalogue import load_board
from placer.boards.model import Board
from placer.circuit.model import Apart, Circuit, Net, Owned, Part, PinRef, Place, Region, Wishes
from placer.errors import PlacerError
from placer.packages.catalogue import lookup
from placer.packages.model import Flying, Rigid
from placer.plan.model import Options
from placer.solve.assemble import assemble, solve_info
from placer.solve.cores import BUILT, DOUBTFUL, IMPOSSIBLE, Cores
from placer.solve.frame import frame, pick_anchor, turns_upside_down
from placer.solve.placemodel import PlaceModel, Stand
from placer.solve.pool import Pool
from placer.solve.prices import Prices
from placer.solve.problem import Problem, build
from placer.solve.prover import Prover, Task, theory_of
from placer.solve.wiring import wire
from tests.bench.boards import made_case
from tests.solve.brute import Answer, optimum
from tests.solve.cases import board_of, package
from tests.solve.engine import faults
from tests.solve.kinds import case
from tests.solve.wires import TooLargeError
from tests.solve.wishing import wishful

STEPS = 600  # of the search; wishes of several parts may take many more
COUNT = int(os.environ.get("PLACER_CASES", "0")) or 60


def by_places(p: Problem, *, half: bool | None = None) -> Cores:
    """The clauses alone, taken to their end, or so far. ``half``: half a turn changes nothing; None: if that is so."""
    seen = frame(p, pick_anchor(p))
    assert seen is not None
    _, short = theory_of(p, seen, lambda: False, 1)
    prices = Prices.of(p.options.jumper_cost, p.options.cut_cost)
    model = PlaceModel(seen, prices, short, half=turns_upside_down(p) if half is None else half)
    cores = Cores(model, Stand(model, Pool()))
    for _ in itertools.islice(cores.run(), STEPS):
        pass
    return cores


@pytest.mark.parametrize("seed", range(COUNT))
def test_places_tell_the_least_cost(seed: int) -> None:
    drawn, truth = case("uncut", seed)
    try:
        p = build(drawn.circuit, drawn.board, drawn.options)
    except PlacerError:
        assert truth.cost is None
        return
    cores = by_places(p)
    cost = Prices.of(p.options.jumper_cost, p.options.cut_cost).cost(cores.bound)
    if truth.cost is None:
        assert cores.ended in (IMPOSSIBLE, DOUBTFUL)
        return
    assert cost <= truth.cost + 1e-9
    if cores.ended == BUILT:
        assert cores.places is not None
        wiring = wire(p, cores.places)
        assert wiring is not None
        plan = assemble(p, cores.places, wiring, cost, solve_info(0, 0, 1, (), None))
        assert faults(plan) == ()
        assert plan.score.cost == pytest.approx(truth.cost)
    else:  # a strip that only wires meet on is counted, not placed
        assert cores.ended == DOUBTFUL
        assert any(cores.model.sat.holds(lit) for lit in cores.model.shy)


@pytest.mark.parametrize("seed", range(COUNT))
def test_places_tell_the_least_cost_with_wishes(seed: int) -> None:
    """Wishes that name strips or edges hold wherever the anchor stands; the others are kept in what is built."""
    drawn, truth = _wishing(seed)
    p = build(*drawn)
    for half in {False, turns_upside_down(p)}:
        cores = by_places(p, half=half)
        if truth.cost is None:
            assert cores.ended != BUILT or any(wish.nets for wish in p.wishes)  # wire ends come into those
            continue
        assert cores.ended != IMPOSSIBLE
        assert cores.bound <= Prices.of(p.options.jumper_cost, p.options.cut_cost).units(truth.cost)


def _wishing(seed: int) -> tuple[tuple[Circuit, Board, Options], Answer]:
    """A small circuit with binding wishes of every kind, and the truth about it."""
    for again in itertools.count():
        dice = random.Random(f"wishing {seed} {again}")
        drawn, _ = case("uncut", dice.randrange(2000))
        circuit = wishful(dice, drawn.board, drawn.circuit, mild=0.0)
        try:
            truth = optimum(circuit, drawn.board, drawn.options, most_nodes=40_000)
            build(circuit, drawn.board, drawn.options)
        except (TooLargeError, PlacerError):
            continue
        return (circuit, drawn.board, drawn.options), truth
    raise AssertionError  # never


ROW = package("row3", Rigid(((0, 0), (0, 1), (0, 2)), None), 3)
FLY = package("fly", Flying(), 1)


def test_a_strip_that_a_net_is_to_have_is_one_of_the_board() -> None:
    """Three pins in a row go on three of nine strips; which of them is one strip depends on where they stand."""
    board = board_of([[(x, y) for x in range(3)] for y in range(9)])
    for strip in ("S1", "S4", "S7"):
        circuit = Circuit(
            "owner",
            (Part("X1", "row3"),),
            (Net("GND", (PinRef("X1", "1"),)),),
            {"row3": ROW},
            wishes=Wishes((Owned("GND", strip),)),
        )
        p = build(circuit, board, Options(allow_cuts=False))
        cores = by_places(p)
        assert (cores.ended, cores.bound) == (BUILT, 0), strip


def test_half_a_turn_keeps_the_holes_that_no_wire_may_end_in() -> None:
    strips = [[(0, 0), (1, 0)], [(1, 1)], [(0, 2)], [(0, 3), (1, 3)], [(4, 1), (5, 1)], [(-4, 2), (-3, 2)]]
    board = board_of(strips, thin=frozenset({(0, 0), (1, 3)}))
    circuit = Circuit(
        "half",
        (Part("X", "ell"), Part("Y", "fly")),
        (Net("N", (PinRef("X", "1"), PinRef("Y", "1"))),),
        {
            "ell": package("ell", Rigid(((0, 0), (0, 1), (-1, 2)), None), 3, lead=0.8),
            "fly": package("fly", Flying(), 1, lead=0.8),
        },
        wishes=Wishes((Region("e1", "e1"),)),
    )
    truth = optimum(circuit, board, Options(allow_cuts=False))
    p = build(circuit, board, Options(allow_cuts=False))
    assert truth.cost == 1.0
    assert not turns_upside_down(p)
    assert by_places(p).bound <= Prices.of(p.options.jumper_cost, p.options.cut_cost).units(truth.cost)


def test_distances_from_the_pad_of_a_port_are_left_to_the_judge() -> None:
    """A pad stands between two places of the grid: 18.70 mm away, though seven steps are 17.78."""
    circuit = Circuit(
        "port",
        (Part("J1", "barrel-jack", place=Place(port="P1")), Part("F", "fly", place=Place(at={"1": "g4"}))),
        (Net("GND", (PinRef("J1", "2"),)), Net("N", (PinRef("F", "1"),))),
        {"barrel-jack": lookup("barrel-jack"), "fly": FLY},
        wishes=Wishes((Apart(("GND", "N"), 18.5),)),
    )
    p = build(circuit, load_board("five-hole-twin-4"), Options(allow_cuts=False))
    assert by_places(p).ended == BUILT


def test_a_bank_of_short_strips_is_proved_place_by_place() -> None:
    """What strips and clusters leave open: whether the clusters fit side by side. The plain exact model says 7 too."""
    drawn = made_case(10, 1, "five-hole")
    p = build(drawn.circuit, drawn.board, drawn.options)
    prover = Prover(p, 1, lambda: False, Task.PROOFS)
    while not (found := prover.advance(30.0, math.inf)).ended:
        pass
    assert found.places is not None
    wiring = wire(p, found.places)
    assert wiring is not None
    assert found.bound == len(wiring.wires) == 7
    assert any(isinstance(getattr(way, "model", None), PlaceModel) for way in prover.ways)
