"""Small cases by hand, each at a corner of the rules where a search can go wrong without noticing."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from placer.boards.model import Board
from placer.circuit.model import Circuit, NearWish, Net, Part, PinRef, Place
from placer.packages.model import Diagonal, Flying, Package, Rigid, TwoLead
from placer.plan.model import Options
from placer.solve import run
from placer.solve.api import Outcome, Request
from tests.solve.brute import optimum
from tests.solve.cases import board_of, package
from tests.solve.engine import faults, short_polish

PAD = package("pad", Flying(), 1)
ROW = package("row", Rigid(((0, 0), (0, 1), (0, 2)), None), 3)
SLANT = package("slant", Diagonal(5.0, 2.0), 2)
PAIR = package("pair", Rigid(((0, 0), (2, 0)), None), 2)
LINK = package("link", TwoLead((1,), (), 1.0, 1.0), 2, joined=(("1", "2"),))


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    short_polish(monkeypatch)


def circuit(
    parts: Mapping[str, Package], nets: Mapping[str, str], places: Mapping[str, Place] | None = None
) -> Circuit:
    return Circuit(
        "by-hand",
        tuple(Part(ref, own.name, place=(places or {}).get(ref, Place())) for ref, own in parts.items()),
        tuple(Net(name, tuple(PinRef(*pin.split(".")) for pin in pins.split())) for name, pins in nets.items()),
        {own.name: own for own in parts.values()},
    )


def rows(*lengths: int, **how: object) -> Board:
    """Strips across, one below the other."""
    return board_of([[(x, y) for x in range(length)] for y, length in enumerate(lengths)], **how)  # type: ignore[arg-type]


def asked(own: Circuit, board: Board, options: Options | None = None, effort: int = 12) -> Outcome:
    return run.solve(Request(own, board, options or Options(), seconds=None, effort=effort, workers=1), faults)


def reaches(cost: float, own: Circuit, board: Board, options: Options | None = None) -> None:
    """The least cost is ``cost`` by trying everything, and the engine's plan has it."""
    assert optimum(own, board, options or Options()).cost == cost
    outcome = asked(own, board, options)
    assert outcome.plan is not None, outcome.reasons
    assert outcome.plan.score.cost == cost
    assert faults(outcome.plan) == ()


def test_wires_may_meet_on_an_empty_strip() -> None:
    """Three pins on strips of two holes: one hole is left on each, the three wires meet on the fourth strip."""
    own = circuit({"X1": ROW}, {"A": "X1.1 X1.2 X1.3"}, {"X1": Place(at={"1": "a1"})})
    assert optimum(own, rows(2, 2, 2, 3), Options()).cost == 3
    outcome = asked(own, rows(2, 2, 2, 3))
    assert not outcome.proved_impossible
    if outcome.plan is not None:
        assert outcome.plan.score.cost == 3
        assert outcome.plan.proof.lower_bound <= 3


def test_wires_that_cannot_meet_anywhere_are_impossible() -> None:
    own = circuit({"X1": ROW}, {"A": "X1.1 X1.2 X1.3"}, {"X1": Place(rotation=0)})
    assert optimum(own, rows(2, 2, 2), Options()).cost is None
    assert asked(own, rows(2, 2, 2)).plan is None


def test_a_junction_where_no_pin_of_its_net_can_stand() -> None:
    """The far strip's holes are too thin for the leads, not for a wire."""
    thick = package("row", Rigid(((0, 0), (0, 1), (0, 2)), None), 3, lead=0.8)
    board = rows(2, 2, 2, 3, thin=frozenset({(0, 3), (1, 3), (2, 3)}))
    own = circuit({"X1": thick}, {"A": "X1.1 X1.2 X1.3"}, {"X1": Place(rotation=0)})
    assert optimum(own, board, Options()).cost == 3
    assert not asked(own, board).proved_impossible


def test_a_slanted_body_leaves_the_holes_beside_it_free() -> None:
    """The other pins of both nets stand right beside the body, in the two holes that a box round it would cover."""
    places = {"X1": Place(at={"1": "a1", "2": "b2"}), "P1": Place(at={"1": "b1"}), "P2": Place(at={"1": "a2"})}
    own = circuit({"X1": SLANT, "P1": PAD, "P2": PAD}, {"A": "X1.1 P1.1", "B": "X1.2 P2.1"}, places)
    reaches(0, own, rows(2, 2))


def test_a_slanted_body_clears_a_keepout_beside_it() -> None:
    """A keep-out in the corner of the box round the body, off the body itself."""
    board = rows(2, 2, keepouts=((0.82, 0.05, 0.97, 0.2),))
    own = circuit({"X1": SLANT}, {}, {"X1": Place(at={"1": "a1", "2": "b2"})})
    reaches(0, own, board)


def test_two_slanted_bodies_side_by_side() -> None:
    """Two parallel bodies 1.8 mm apart from middle to middle, 1.7 wide."""
    thin = package("slant", Diagonal(3.0, 1.7), 2)
    places = {"X1": Place(at={"1": "a1"}), "X2": Place(at={"1": "b1"})}
    own = circuit({"X1": thin, "X2": thin}, {"A": "X1.1 X2.1", "B": "X1.2 X2.2"}, places)
    reaches(0, own, rows(3, 3))


def test_edge_wish_of_a_part_without_a_body() -> None:
    places = {"X2": Place(edge="bottom")}
    own = circuit({"X1": PAIR, "X2": PAIR}, {"A": "X1.1 X2.1", "B": "X1.2 X2.2"}, places)
    columns = board_of([[(x, y) for y in range(4)] for x in range(3)])
    reaches(0, own, columns)


def test_edge_wish_of_a_flying_lead() -> None:
    places = {"P1": Place(at={"1": "a1"}), "P2": Place(edge="right")}
    reaches(
        1, circuit({"P1": PAD, "P2": PAD}, {"A": "P1.1 P2.1"}, places), board_of([[(0, 0), (1, 0)], [(2, 0), (3, 0)]])
    )


def test_edge_wish_of_two_flying_leads_is_kept_by_one() -> None:
    two = package("pad-two", Flying(), 2)
    places = {"P1": Place(edge="left")}
    reaches(0, circuit({"P1": two}, {"A": "P1.1 P1.2"}, places), board_of([[(x, 0) for x in range(4)]]))


def test_a_drill_at_a_hidden_hole_decides_who_gets_the_free_ones() -> None:
    """Under a body lies the one hole to drill; the free hole beyond it goes to the other net, so a wire has no end."""
    cover = package("cover", Rigid(((0, 0),), (-1.0, -1.0, 1.0, 3.54)), 1)
    places = {
        "X1": Place(at={"1": "b2"}, rotation=180),  # hides b1
        "P1": Place(at={"1": "a1"}),
        "P2": Place(at={"1": "d1"}),
        "P3": Place(at={"1": "a2"}),
    }
    own = circuit({"X1": cover, "P1": PAD, "P2": PAD, "P3": PAD}, {"A": "P1.1 P3.1", "B": "P2.1", "C": "X1.1"}, places)
    board = board_of([[(x, 0) for x in range(4)], [(0, 1)], [(1, 1), (2, 1)]], cut="hole")
    truth = optimum(own, board, Options())
    outcome = asked(own, board)
    assert truth.cost is None
    assert outcome.plan is None
    knife = board_of([[(x, 0) for x in range(4)], [(0, 1), (0, 2)], [(1, 1), (2, 1)]], cut="knife")
    reaches(1.8, own, knife)


def test_a_lone_hole_goes_to_the_net_that_needs_it() -> None:
    """Left of the lone hole stands an open pin, which needs no wire; right of it a net in two pieces."""
    places = {"P1": Place(at={"1": "a1"}), "P2": Place(at={"1": "c1"}), "P3": Place(at={"1": "a2"})}
    own = circuit({"P1": PAD, "P2": PAD, "P3": PAD}, {"A": "P2.1 P3.1"}, places)
    reaches(1.8, own, rows(3, 2, cut="knife"))


def test_two_nets_beside_a_lone_hole_that_both_need() -> None:
    places = {
        "P1": Place(at={"1": "a1"}),
        "P2": Place(at={"1": "c1"}),
        "P3": Place(at={"1": "a2"}),
        "P4": Place(at={"1": "a3"}),
    }
    own = circuit({"P1": PAD, "P2": PAD, "P3": PAD, "P4": PAD}, {"A": "P1.1 P3.1", "B": "P2.1 P4.1"}, places)
    assert optimum(own, rows(3, 2, 2, cut="knife"), Options()).cost is None
    assert asked(own, rows(3, 2, 2, cut="knife")).plan is None


def test_a_part_joined_inside_carries_a_net_across() -> None:
    own = circuit({"X1": ROW, "L1": LINK}, {"A": "X1.1 X1.2 X1.3 L1.1"}, {"X1": Place(rotation=0)})
    reaches(1, own, rows(3, 3, 3))


def test_a_part_joined_inside_and_open_takes_copper_for_itself() -> None:
    own = circuit({"X1": ROW, "L1": LINK}, {"A": "X1.1 X1.2 X1.3"}, {"X1": Place(rotation=0)})
    reaches(2, own, rows(3, 3, 3, 3, 3))
    assert asked(own, rows(3, 3, 3)).plan is None


def test_a_turn_wished_of_leads_that_may_lie_off_the_axes() -> None:
    """At no quarter turn: a part wished to a rotation stays on the axes though diagonals are allowed."""
    leads = package("leads", TwoLead((2, 3), (), 3.0, 1.0), 2)
    own = circuit({"R1": leads}, {"A": "R1.1 R1.2"}, {"R1": Place(rotation=0)})
    reaches(0, own, rows(4, 4), Options(diagonals=True))
    narrow = board_of([[(x, y) for y in range(3)] for x in range(2)])
    assert optimum(own, narrow, Options(diagonals=True)).cost is None
    assert asked(own, narrow, Options(diagonals=True)).plan is None


def test_one_pin_with_its_body_to_one_side() -> None:
    """A plan names no rotation: what stands on one pin keeps its first turn, in the plan as for the judge."""
    flag = package("flag", Rigid(((0, 0),), (-1.0, -1.0, 6.08, 1.0)), 1)
    own = circuit({"X1": flag, "P1": PAD}, {}, {"X1": Place(at={"1": "a1"})})
    for board in (
        board_of([[(0, 0)], [(1, 0)], [(0, 1)]]),
        board_of([[(0, 0)], [(1, 0)], [(2, 0)]], margin=(1.3, 1.3, 6.0, 6.0)),
    ):
        truth = optimum(own, board, Options())
        outcome = asked(own, board)
        assert (outcome.plan is None) == (truth.cost is None)
        assert not (outcome.proved_impossible and truth.cost is not None)


def test_near_wish_is_kept_to_the_letter() -> None:
    """A distance of the square root of two is within 1.5 steps, two steps are not."""
    places = {"P1": Place(at={"1": "a1"}), "P2": Place(near=(NearWish(PinRef("P1", "1"), 1.5),))}
    own = circuit({"P1": PAD, "P2": PAD}, {}, places)
    reaches(0, own, rows(2, 2))
    assert asked(own, board_of([[(0, 0)], [(2, 0)], [(0, 2)]])).plan is None


@pytest.mark.parametrize(
    "places",
    [
        "a1 b1 d1 a2",
        "d1 c1 a1 a2",
    ],
)
def test_the_one_hole_between_two_nets_goes_to_the_net_that_needs_it_for_a_wire(places: str) -> None:
    """A strip of four and one of two: net A has its two pins side by side, net B needs a wire from beside them."""
    at = {f"P{i + 1}": Place(at={"1": hole}) for i, hole in enumerate(places.split())}
    own = circuit(dict.fromkeys(at, PAD), {"A": "P1.1 P2.1", "B": "P3.1 P4.1"}, at)
    reaches(1.8, own, rows(4, 2, cut="knife"))
