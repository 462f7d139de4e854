"""The exhaustive search itself, on cases whose answer is plain to see."""

from __future__ import annotations

import pytest

from placer.circuit.model import Circuit, Net, Part, PinRef, Place
from placer.packages.model import Diagonal, Flying, Package, Rigid, TwoLead
from placer.plan.model import Options
from tests.solve.brute import Answer, optimum
from tests.solve.cases import board_of, package
from tests.solve.engine import faults
from tests.solve.poses import Ground, poses

PAD = package("pad", Flying(), 1)
ROW = package("row", Rigid(((0, 0), (0, 1), (0, 2)), None), 3)


def circuit(parts: dict[str, Package], nets: dict[str, str], places: dict[str, Place] | None = None) -> Circuit:
    return Circuit(
        "by-hand",
        tuple(Part(ref, own.name, place=(places or {}).get(ref, Place())) for ref, own in parts.items()),
        tuple(Net(name, tuple(PinRef(*pin.split(".")) for pin in pins.split())) for name, pins in nets.items()),
        {own.name: own for own in parts.values()},
    )


def rows(*lengths: int, **how: object):  # type: ignore[no-untyped-def]
    """A board of strips across, one below the other."""
    return board_of([[(x, y) for x in range(length)] for y, length in enumerate(lengths)], **how)  # type: ignore[arg-type]


def told(answer: Answer) -> tuple[float | None, int, int]:
    if answer.plan is None:
        return answer.cost, 0, 0
    assert faults(answer.plan) == ()
    return answer.cost, len(answer.plan.jumpers), len(answer.plan.cuts)


def test_pins_of_one_net_share_a_strip_for_nothing() -> None:
    assert told(optimum(circuit({"P1": PAD, "P2": PAD}, {"A": "P1.1 P2.1"}), rows(3, 3), Options())) == (0, 0, 0)


def test_a_row_across_three_strips_needs_two_jumpers() -> None:
    across = circuit({"X1": ROW}, {"A": "X1.1 X1.2 X1.3"}, {"X1": Place(rotation=0)})
    assert told(optimum(across, rows(3, 3, 3), Options())) == (2, 2, 0)
    along = circuit({"X1": ROW}, {"A": "X1.1 X1.2 X1.3"})
    assert told(optimum(along, rows(3, 3, 3), Options())) == (0, 0, 0)


def test_open_pins_need_copper_of_their_own() -> None:
    three = circuit({"P1": PAD, "P2": PAD, "P3": PAD}, {"A": "P1.1 P2.1"})
    assert told(optimum(three, rows(3, 3), Options())) == (0, 0, 0)
    assert optimum(three, rows(6), Options()).cost is None


@pytest.mark.parametrize(
    ("cut", "length", "cost"), [("hole", 3, 0.8), ("hole", 2, None), ("knife", 2, 0.8), ("none", 9, None)]
)
def test_a_strip_is_severed_as_its_rule_says(cut: str, length: int, cost: float | None) -> None:
    two = circuit({"P1": PAD, "P2": PAD}, {"A": "P1.1", "B": "P2.1"})
    assert optimum(two, rows(length, cut=cut), Options()).cost == cost
    assert optimum(two, rows(length, cut=cut), Options(allow_cuts=False)).cost is None


def test_the_place_of_a_cut_is_chosen_for_the_wire_ends() -> None:
    """Four pins wished to their holes: the knife has to leave the middle hole of the upper strip to net A."""
    places = {"P1": Place(at={"1": "a1"}), "P2": Place(at={"1": "c1"}), "P3": Place(at={"1": "a2"})}
    three = circuit({"P1": PAD, "P2": PAD, "P3": PAD}, {"A": "P1.1 P3.1", "B": "P2.1"}, places)
    answer = optimum(three, rows(3, 3, cut="knife"), Options())
    assert told(answer) == (1.8, 1, 1)
    assert answer.plan is not None
    assert answer.plan.cuts[0].between == ("b1", "c1")
    assert told(optimum(three, rows(3, 3, cut="hole"), Options())) == (None, 0, 0)


def test_empty_copper_serves_as_a_junction_where_holes_are_short() -> None:
    """Three strips of two holes have one hole left each: three wires meet on the fourth strip."""
    answer = optimum(
        circuit({"X1": ROW}, {"A": "X1.1 X1.2 X1.3"}, {"X1": Place(at={"1": "a1"})}), rows(2, 2, 2, 3), Options()
    )
    assert told(answer) == (3, 3, 0)
    assert answer.junctions
    assert optimum(circuit({"X1": ROW}, {"A": "X1.1 X1.2 X1.3"}), rows(2, 2, 2), Options()).cost is None


def test_a_cut_makes_a_junction_where_no_strip_is_empty() -> None:
    places = {"X1": Place(at={"1": "a1"}), "P1": Place(at={"1": "a4"})}
    four = circuit({"X1": ROW, "P1": PAD}, {"A": "X1.1 X1.2 X1.3", "B": "P1.1"}, places)
    board = board_of([[(x, y) for x in range(2)] for y in range(3)] + [[(x, 3) for x in range(5)]], cuts={3: "knife"})
    answer = optimum(four, board, Options())
    assert told(answer) == (3.8, 3, 1)
    assert answer.junctions


def test_pins_joined_inside_are_joined_for_nothing() -> None:
    link = package("link", TwoLead((1,), (), 1.0, 1.0), 2, joined=(("1", "2"),))
    down = {"X1": Place(rotation=0)}
    bridged = circuit({"X1": ROW, "L1": link}, {"A": "X1.1 X1.2 X1.3 L1.1"}, down)
    assert told(optimum(bridged, rows(3, 3, 3), Options())) == (1, 1, 0)
    left_open = circuit({"X1": ROW, "L1": link}, {"A": "X1.1 X1.2 X1.3"}, down)
    assert optimum(left_open, rows(3, 3, 3), Options()).cost is None


def test_a_body_hides_the_holes_it_covers() -> None:
    """Between its leads a flat part covers the middle hole: the third pad of its net has to go to the next strip."""
    flat = package("flat", TwoLead((2,), (), 3.0, 2.0), 2)
    places = {"R1": Place(at={"1": "a1", "2": "c1"})}
    one = circuit({"R1": flat, "P1": PAD}, {"A": "R1.1 R1.2 P1.1"}, places)
    assert optimum(one, rows(3), Options()).cost is None
    assert told(optimum(one, rows(4), Options())) == (0, 0, 0)


def test_a_slanted_body_covers_only_what_lies_under_it() -> None:
    """2.0 mm wide on the diagonal: the neighbours of both pins are 1.8 mm off its middle line, so they are free."""
    for width, under in ((2.0, 0), (3.4, 0), (3.8, 2)):
        slant = package("slant", Diagonal(5.0, width), 2)
        own = circuit({"X1": slant}, {}, {"X1": Place(at={"1": "b2", "2": "c3"})})
        board = rows(4, 4, 4, 4)
        (pose,) = poses(Ground(board), own, own.parts[0], Options())
        assert len(pose.covers - set(pose.holes)) == under


@pytest.mark.parametrize(
    ("place", "count"),
    [(Place(), 8), (Place(rotation=0), 2), (Place(rotation=90), 2), (Place(edge="left"), 4), (Place(edge="top"), 8)],
)
def test_poses_of_a_corner_on_a_square_of_four(place: Place, count: int) -> None:
    """An L of three pins takes three of the holes of a square: two squares, four turns; its mirror image never."""
    corner = package("corner", Rigid(((0, 0), (1, 0), (1, 1)), None), 3)
    own = circuit({"X1": corner}, {}, {"X1": place})
    found = poses(Ground(rows(3, 3)), own, own.parts[0], Options())
    assert len(found) == count
    for pose in found:
        (ax, ay), (bx, by), (cx, cy) = ((h.x, h.y) for h in (Ground(rows(3, 3)).holes[i] for i in pose.holes))
        assert (bx - ax) * (cy - by) - (by - ay) * (cx - bx) == 1
