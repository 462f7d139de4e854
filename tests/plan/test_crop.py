"""The used area and where to saw: a board sawn down so, with the plan on it, passes the judge.

The test saws for itself: holes, links, bodies and keep-outs are cut from the board's data, the copper falls apart as it
must, and the plan is judged anew on what is left.
"""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from pathlib import Path

import networkx as nx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from placer.boards.catalogue import load_board
from placer.boards.loader import read_board
from placer.boards.model import Board, CutRule, Strip
from placer.check.judge import judge
from placer.circuit.model import Circuit
from placer.circuit.read_yaml import read_circuit
from placer.plan.area import size_mm, used_area
from placer.plan.crop import Crop, crop, crop_text
from placer.plan.model import Cut, Options, Plan
from placer.solve.api import Request
from placer.solve.run import solve
from tests.check.plans import circuit_of, lantern, plan_of
from tests.check.test_random_plans import legal_plan

ROOT = Path(__file__).resolve().parents[2]


# --- sawing, in the test's own way -----------------------------------------------------------------------------------


def sawn_board(board: Board, found: Crop) -> Board:
    """What is left: the holes that stay whole, and the copper that still joins them."""
    x0, y0, x1, y1 = found.left, found.top, found.right, found.bottom
    holes = {
        address: replace(hole, x_mm=hole.x_mm - x0, y_mm=hole.y_mm - y0)
        for address, hole in board.holes.items()
        if x0 < hole.x_mm - hole.diameter_mm / 2 and hole.x_mm + hole.diameter_mm / 2 < x1
        if y0 < hole.y_mm - hole.diameter_mm / 2 and hole.y_mm + hole.diameter_mm / 2 < y1
    }
    strips = []
    for strip in board.strips:
        left = nx.Graph()
        left.add_nodes_from(address for address in strip.holes if address in holes)
        # Copper off the grid is lost as soon as anything is sawn off: nobody knows where it runs.
        lost = {frozenset(link) for link in strip.off_grid} if found.lines else set()
        left.add_edges_from(link for link in strip.links if holes.keys() >= set(link) and frozenset(link) not in lost)
        for number, piece in enumerate(nx.connected_components(left)):
            own = tuple(address for address in strip.holes if address in piece)
            links = tuple(link for link in strip.links if left.has_edge(*link) and link[0] in piece)
            strips.append(Strip(f"{strip.name}/{number}", own, links, strip.cut, strip.rail))
    keepouts = tuple(
        replace(k, x0=k.x0 - x0, y0=k.y0 - y0, x1=k.x1 - x0, y1=k.y1 - y0)
        for k in board.keepouts
        if k.x0 < x1 and x0 < k.x1 and k.y0 < y1 and y0 < k.y1
    )
    return replace(
        board,
        name=f"{board.name}, sawn",
        outline_mm=(x1 - x0, y1 - y0),
        holes=holes,
        strips=tuple(strips),
        keepouts=keepouts,
        mounting=(),
        ports={},
    )


def unsided(circuit: Circuit) -> Circuit:
    """The circuit without wishes for a side: they speak of halves of the whole board."""
    parts = tuple(replace(part, place=replace(part.place, side=None)) for part in circuit.parts)
    return replace(circuit, parts=parts)


def assert_still_passes(plan: Plan, margin: float) -> Crop:
    assert judge(plan).faults == ()
    found = crop(plan, margin)
    width, height = plan.board.outline_mm
    assert 0 <= found.left < found.right <= width
    assert 0 <= found.top < found.bottom <= height
    small = replace(plan, board=sawn_board(plan.board, found), circuit=unsided(plan.circuit))
    faults = judge(small).faults
    assert faults == (), (crop_text(found, plan.board), [fault.message for fault in faults])
    return found


# --- plans of the search ---------------------------------------------------------------------------------------------


@cache
def searched(circuit_name: str, board_name: str) -> Plan:
    circuit, _ = read_circuit(ROOT / "netlists" / f"{circuit_name}.yaml")
    board = load_board(board_name)
    request = Request(circuit, board, Options(allow_cuts=board.cut_by_default), seconds=None, effort=1, workers=1)
    plan = solve(request, lambda each: judge(each).faults).plan
    assert plan is not None
    return plan


DEMOS = [
    ("hive-lantern", "long-strip-24x37"),
    ("gate-blinker", "long-strip-24x37"),
    ("frost-alarm", "long-strip-railed-24x37"),
    ("gate-blinker", "five-hole-63"),
    ("hive-lantern", "five-hole-twin-45"),
]


@pytest.mark.parametrize("margin", [0.0, 2.54, 7.0])
@pytest.mark.parametrize(("circuit", "board"), DEMOS)
def test_a_demo_plan_passes_on_its_sawn_board(circuit: str, board: str, margin: float) -> None:
    plan = searched(circuit, board)
    found = assert_still_passes(plan, margin)
    if margin < 5:
        assert found.lines  # there is something to saw, or the test says nothing
        assert found.size_mm < plan.board.outline_mm


@settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 10**9), st.floats(0, 12))
def test_a_random_legal_plan_passes_on_its_sawn_board(seed: int, margin: float) -> None:
    assert_still_passes(legal_plan(random.Random(seed)), margin)


def test_a_plan_made_by_hand_passes_on_its_sawn_board() -> None:
    assert_still_passes(lantern(), 0.0)


def test_sawing_any_closer_would_be_noticed() -> None:
    """The judge on the sawn board is no formality: half a step less on any side has faults."""
    plan = searched("hive-lantern", "long-strip-24x37")
    found = crop(plan, 0.0)
    # A part with a wish for an edge may overhang it: without the wish its body counts like any other.
    parts = tuple(replace(part, place=replace(part.place, edge=None)) for part in plan.circuit.parts)
    plan = replace(plan, circuit=replace(plan.circuit, parts=parts))
    for line in found.lines:
        closer = {line.side: line.at_mm + (1.27 if line.side in ("left", "top") else -1.27)}
        small = replace(plan, board=sawn_board(plan.board, replace(found, **closer)), circuit=unsided(plan.circuit))
        assert judge(small).faults, line


# --- copper that leaves the rectangle --------------------------------------------------------------------------------

DETOUR = """
board: detour
about: one strip that winds round the board, and a short one within
labels: {columns: 12, rows: 10}
blocks:
  - {name: B, at: [2, 5], strips: 1, holes: 6, address: "b{hole}"}
strips:
  - {name: ring, runs: [[[0, 0], [11, 0], [11, 9], [0, 9], [0, 2], [9, 2]]], address: "w{hole}"}
"""


def detour() -> Plan:
    """Two wires two steps apart, joined by the long way round the board."""
    board = read_board(Path("detour.yaml"), text=DETOUR)
    at = {(hole.x, hole.y): hole.address for hole in board.holes.values()}
    circuit = circuit_of("winding", {"P1": "pad-1", "P2": "pad-1"}, {"A": "P1.1 P2.1"})
    return plan_of(circuit, board, {"P1": at[(3, 0)], "P2": at[(3, 2)]})


def test_the_rectangle_grows_to_hold_copper_that_leaves_it() -> None:
    plan = detour()
    area = used_area(plan)
    assert (area.x0, area.y0, area.x1, area.y1) == (0, 0, 11, 9)
    assert_still_passes(plan, 0.0)


def test_where_the_copper_is_not_needed_the_rectangle_stays_small() -> None:
    """The same holes in two nets, the ring cut between them: the way round is no longer in use."""
    plan = detour()
    circuit = circuit_of("apart", {"P1": "pad-1", "P2": "pad-1"}, {"A": "P1.1", "B": "P2.1"})
    board = replace(plan.board, cut=CutRule(between=True))
    strips = tuple(replace(s, cut=CutRule(between=True)) for s in board.strips)
    pins = {ref: item.pins["1"] for ref, item in plan.placements.items()}
    ring = next(s for s in strips if pins["P1"] in s.holes)
    cut = Cut(between=(ring.holes[ring.holes.index(pins["P1"]) + 1], ring.holes[ring.holes.index(pins["P1"]) + 2]))
    apart = plan_of(circuit, replace(board, strips=strips), pins, (cut,), options=Options(allow_cuts=True))
    area = used_area(apart)
    assert (area.x0, area.y0, area.x1, area.y1) == (3, 0, 5, 2)
    assert_still_passes(apart, 0.0)


RAILED = """
board: rails-round-the-edge
about: two rails that copper round the edge joins
labels: {columns: {2: a..e}, rows: 12, address: "{column}{row}"}
blocks:
  - {name: "S{row}", at: [2, 0], strips: 12, holes: 5}
rails:
  - {name: L+, at: [0, 0], holes: 12}
  - {name: R+, at: [8, 0], holes: 12}
joins:
  - {name: "+", links: [[L+1, R+1]]}
mounting:
  M1: {at_mm: [27.94, 40], diameter_mm: 3, clear_mm: 4}
outline_mm: [32, 46]
"""


@pytest.mark.parametrize(("second", "whole"), [("R+6", True), ("L+7", False)])
def test_copper_round_the_edge_keeps_the_board_whole_when_it_is_needed(second: str, whole: bool) -> None:
    board = read_board(Path("rails.yaml"), text=RAILED)
    circuit = circuit_of("edge", {"P1": "pad-1", "P2": "pad-1"}, {"A": "P1.1 P2.1"})
    plan = plan_of(circuit, board, {"P1": "L+5", "P2": second})
    found = assert_still_passes(plan, 0.0)
    assert (found.lines == ()) == whole
    told = crop_text(found, board)
    if whole:
        assert found.size_mm == board.outline_mm
        assert "copper of + off the grid is in use" in told
    else:
        assert "mounting hole M1" in told


# --- sizes and words, worked out by hand -----------------------------------------------------------------------------


def row_of(first: str, last: str, board_name: str = "long-strip-24x37") -> Plan:
    circuit = circuit_of("wires", {"P1": "pad-1", "P2": "pad-1"}, {"A": "P1.1", "B": "P2.1"})
    return plan_of(circuit, load_board(board_name), {"P1": first, "P2": last})


def test_eighteen_by_twelve_holes_and_a_step_all_round() -> None:
    """17 and 11 steps between the outermost holes, a step more on each side: 19 x 2.54 = 48.26, 13 x 2.54 = 33.02."""
    plan = row_of("C5", "N22")
    area = used_area(plan)
    assert (area.columns, area.rows) == (18, 12)
    assert size_mm(area, plan.board) == (17 * 2.54 + 2, 11 * 2.54 + 2)  # strips are 2 mm wide
    found = crop(plan)
    assert found.size_mm == (48.26, 33.02)
    assert crop_text(found, plan.board) == (
        "Saw the board to 48.3 x 33.0 mm: columns 5 to 22 and rows C to N stay whole. Saw through the holes of column "
        "4; through the holes of column 23; through the holes of row B; through the holes of row O."
    )
    assert [(line.side, line.at_mm) for line in found.lines] == [
        ("left", pytest.approx(2.54 * 4)),
        ("right", pytest.approx(2.54 * 23)),
        ("top", pytest.approx(2.54 * 2)),
        ("bottom", pytest.approx(2.54 * 15)),
    ]


def test_a_wider_margin_leaves_at_least_that_much_and_never_leaves_the_board() -> None:
    plan = row_of("C5", "N22")
    for margin in (0.0, 1.0, 2.0, 3.0, 5.5, 9.0, 40.0, 100.0):
        found = crop(plan, margin)
        first, last = plan.board.holes["C5"], plan.board.holes["N22"]
        width, height = plan.board.outline_mm
        for gap, edge in (
            (first.x_mm - found.left, first.x_mm),
            (first.y_mm - found.top, first.y_mm),
            (found.right - last.x_mm, width - last.x_mm),
            (found.bottom - last.y_mm, height - last.y_mm),
        ):
            assert gap >= min(max(margin, 1.0), edge) - 1e-9
            assert gap <= edge + 1e-9
    assert crop(plan, 100.0).lines == ()
    assert "Nothing to saw off" in crop_text(crop(plan, 100.0), plan.board)


def test_less_than_a_step_is_not_sawn_off() -> None:
    """From column 2 on: the line would run 2.54 mm from the edge, through column 1; a step more is left to saw."""
    assert [line.side for line in crop(row_of("A2", "X37"), 2.54).lines] == ["left"]
    assert crop(row_of("A1", "X37"), 0.0).lines == ()


def test_a_saw_line_beside_a_channel_is_measured_and_rails_have_their_names() -> None:
    found = crop(row_of("f3", "j9", "five-hole-30"))
    assert [line.where for line in found.lines] == [
        "2.5 mm from column f, towards column e",
        "2.5 mm from column j, towards rail R-",
        "through the holes of row 2",
        "through the holes of row 10",
    ]
    rails = crop(row_of("L+3", "a9", "five-hole-30"))
    assert "rail L+ to column a and rows 3 to 9 stay whole" in crop_text(rails, load_board("five-hole-30"))


def test_a_knife_cut_keeps_both_of_its_holes() -> None:
    circuit = circuit_of("cut", {"P1": "pad-1", "P2": "pad-1"}, {"A": "P1.1", "B": "P2.1"})
    plan = plan_of(circuit, load_board("long-strip-24x37"), {"P1": "C5", "P2": "C9"}, (Cut(between=("C7", "C8")),))
    area = used_area(plan)
    assert (area.columns, area.rows) == (5, 1)
    idle = replace(plan, cuts=(*plan.cuts, Cut(at="D12"), Cut(between=("E2", "E3"))))
    area = used_area(idle)
    assert (area.columns, area.rows) == (11, 3)
