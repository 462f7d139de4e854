"""The search on boards that allow bridges: figures worked out by hand, random circuits, and the same plan again."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from placer.boards.catalogue import load_board
from placer.boards.loader import read_board
from placer.boards.model import Board
from placer.check.judge import judge
from placer.circuit.model import Circuit, Place
from placer.plan.file import plan_to_data
from placer.plan.model import Options
from placer.plan.readback import readback
from placer.solve.api import Outcome, Request
from placer.solve.padbound import least_cost
from placer.solve.padview import virtual_board
from placer.solve.problem import build
from placer.solve.run import solve
from tests.check.plans import circuit_of
from tests.solve.circuits import catalogue_circuit

BUS = """\
board: smoker-pads
bridges: true
labels: {columns: {1: a..p}, rows: 6}
blocks:
  - {at: [1, 0], strips: 6, holes: 16, sections: 1}
strips:
  - {name: bus, runs: [[[0, 0], [0, 6], [16, 6]]], address: "bus{hole}", rail: true}
"""


def asked(own: Circuit, board: Board, options: Options | None = None, effort: int = 2) -> Outcome:
    """What the search answers; a plan it shows has passed the judge once more here."""
    request = Request(own, board, options or Options(), seconds=None, effort=effort, workers=1)
    outcome = solve(request, lambda plan: judge(plan).faults)
    if outcome.plan is not None:
        assert judge(outcome.plan).faults == ()
    return outcome


def fixed(holes: Mapping[str, str], nets: Mapping[str, str]) -> Circuit:
    """Single flying leads, each in a hole of its own choosing."""
    places = {ref: Place(at={"1": hole}) for ref, hole in holes.items()}
    return circuit_of("pads", dict.fromkeys(holes, "pad-1"), nets, places)


def counts(outcome: Outcome) -> tuple[int, int, float]:
    """Jumpers, bridges and cost."""
    assert outcome.plan is not None, outcome.reasons
    score = outcome.plan.score
    return score.jumpers, score.bridges, score.cost


TWO = {"A": "P1.1 P2.1"}


def test_pads_five_steps_apart_take_five_bridges() -> None:
    assert counts(asked(fixed({"P1": "a1", "P2": "f1"}, TWO), load_board("single-pad-9x2"))) == (0, 5, 0.5)


def test_a_long_way_is_a_jumper_between_two_bridged_pads() -> None:
    """19 bridges would cost 1.9; a jumper with a bridge at each end costs 1.2."""
    own, board = fixed({"P1": "a1", "P2": "t1"}, TWO), load_board("single-pad-20x2")
    assert counts(asked(own, board)) == (1, 2, 1.2)
    assert counts(asked(own, board, Options(bridge_cost=0.05))) == (0, 19, 0.95)
    assert counts(asked(own, board, Options(jumper_cost=3.0))) == (0, 19, 1.9)


def test_solder_that_costs_nothing_still_goes_the_shortest_way() -> None:
    own = fixed({"P1": "a1", "P2": "f1"}, TWO)
    assert counts(asked(own, load_board("single-pad-9x5"), Options(bridge_cost=0.0))) == (0, 5, 0.0)


def test_a_run_goes_round_the_pads_of_another_net() -> None:
    """Two steps straight on, were there not B between: round it, it is four."""
    own = fixed({"P1": "a2", "P2": "c2", "Q": "b2"}, {**TWO, "B": "Q.1"})
    assert counts(asked(own, load_board("single-pad-4x3"))) == (0, 4, 0.4)


def test_three_pins_share_a_run() -> None:
    """A tee: five pads in a row and two down from its middle, six bridges; pin by pin it would be eight."""
    own = fixed({"P1": "a1", "P2": "e1", "P3": "c3"}, {"A": "P1.1 P2.1 P3.1"})
    assert counts(asked(own, load_board("single-pad-6x4"))) == (0, 6, 0.6)


def test_a_net_that_stands_in_the_way_is_pushed_aside() -> None:
    """A down the middle and B across it cannot both be straight: B goes round by the free row, 2 + 8 bridges."""
    own = fixed({"P1": "c1", "P2": "c3", "Q1": "a2", "Q2": "e2"}, {"A": "P1.1 P2.1", "B": "Q1.1 Q2.1"})
    assert counts(asked(own, load_board("single-pad-5x4"))) == (0, 2 + 8, 1.0)


def test_where_neither_solder_nor_wire_can_reach_there_is_no_plan() -> None:
    outcome = asked(fixed({"P1": "a1", "P2": "c1", "Q": "b1"}, {**TWO, "B": "Q.1"}), load_board("single-pad-3x1"))
    assert outcome.plan is None
    assert not outcome.proved_impossible
    assert [reason.code for reason in outcome.reasons] == ["no-plan-found"]


def test_headers_side_by_side_are_proved_minimal() -> None:
    own = circuit_of("link", {"H1": "header-2", "H2": "header-2"}, {"A": "H1.1 H2.1", "B": "H1.2 H2.2"})
    outcome = asked(own, load_board("single-pad-6x5"), effort=6)
    assert counts(outcome) == (0, 2, 0.2)
    assert outcome.plan is not None
    assert outcome.plan.proof.status == "optimal"


@pytest.mark.parametrize(("options", "bound"), [(Options(), 0.6), (Options(jumper_cost=0.3), 0.5)])
def test_pins_that_a_part_holds_apart_raise_the_bound(options: Options, bound: float) -> None:
    """Pins 4 and 8 of dip-8 are 3 + 3 steps apart: six bridges, or a jumper and a bridge at each of its two ends."""
    own = circuit_of("chip", {"U1": "dip-8"}, {"A": "U1.4 U1.8"})
    board = load_board("single-pad-9x9")
    assert least_cost(build(own, board, options)) == bound
    outcome = asked(own, board, options)
    assert outcome.plan is not None
    assert (outcome.plan.score.cost, outcome.plan.proof.status) == (bound, "optimal")


def test_metal_inside_a_part_is_a_way_that_costs_nothing() -> None:
    """Pins 1-2 and 3-4 of the key are joined inside: A and B each have one group of pins and need nothing."""
    own = circuit_of("key", {"S1": "button-6"}, {"A": "S1.1 S1.2", "B": "S1.3 S1.4"})
    board = load_board("single-pad-9x9")
    assert least_cost(build(own, board, Options())) == 0.0
    assert counts(asked(own, board)) == (0, 0, 0.0)


def test_longer_strips_join_for_nothing_and_bridges_reach_them() -> None:
    board = read_board(Path("board.yaml"), text=BUS)
    across = asked(fixed({"P1": "bus1", "P2": "bus20"}, TWO), board)
    assert counts(across) == (0, 0, 0.0)
    beside = asked(fixed({"P1": "bus1", "P2": "c6"}, TWO), board)
    assert counts(beside) == (0, 1, 0.1)  # the bus runs along below row 6
    assert beside.plan is not None
    assert beside.plan.proof.lower_bound == 0.0


def test_the_virtual_board_has_the_same_holes_in_runs_along_one_axis() -> None:
    board = load_board("single-pad-10x3")
    for along, lengths in (("x", [8, 2] * 3), ("y", [3] * 10)):
        seen = virtual_board(board, along)
        assert seen.holes == board.holes
        assert [len(strip.holes) for strip in seen.strips] == lengths
        assert all(strip.is_path and strip.cut.between for strip in seen.strips)
        assert {side: seen.edge_holes(side) for side in ("left", "top")} == {
            side: board.edge_holes(side) for side in ("left", "top")
        }


def test_same_effort_and_seed_give_the_same_plan_with_several_workers() -> None:
    own, board = catalogue_circuit(random.Random(3), 5), load_board("single-pad-14x12")
    request = Request(own, board, seconds=None, effort=3, seed=4, workers=2)
    plans = [solve(request, lambda plan: judge(plan).faults).plan for _ in range(2)]
    assert plans[0] is not None
    assert plans[1] is not None
    first, second = (plan_to_data(replace(plan, solve=plans[0].solve)) for plan in plans if plan)
    assert first == second


def test_a_search_begun_from_a_plan_is_no_worse() -> None:
    own, board = catalogue_circuit(random.Random(5), 5), load_board("single-pad-14x12")
    first = asked(own, board).plan
    assert first is not None
    request = Request(own, board, seconds=None, effort=1, seed=9, workers=1, start=first)
    again = solve(request, lambda plan: judge(plan).faults).plan
    assert again is not None
    assert again.score.cost <= first.score.cost


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.integers(0, 10**6), st.integers(1, 4), st.integers(4, 12), st.integers(3, 10))
def test_random_circuits_get_a_plan_that_passes_or_an_honest_no(seed: int, count: int, wide: int, high: int) -> None:
    own = catalogue_circuit(random.Random(seed), count)
    outcome = asked(own, load_board(f"single-pad-{wide}x{high}"), effort=1)
    if outcome.plan is None:
        assert outcome.reasons
        return
    made = {net.name: frozenset(net.pins) for net in readback(outcome.plan)}
    assert all(made[net.name] == frozenset(net.pins) for net in own.nets)
    assert outcome.plan.score.cost >= outcome.plan.proof.lower_bound
