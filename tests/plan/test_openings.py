"""Where a connector has its openings free, hole by hole: worked out by hand from the boards' drawings."""

from __future__ import annotations

import pytest

from placer.boards.catalogue import load_board
from placer.packages.catalogue import lookup
from placer.packages.schema import parse_package
from placer.plan.openings import Openings, has_openings, outward

SIZE = {"shape": "terminal", "lead_mm": 0.9, "height_mm": 14.0}
# The body of terminal-2 is 10 deep, 5 to either side of its pins. The outermost hole is 2.54 from the outline, so that
# a row in the outermost line overhangs by 2.46, one in the second ends 0.08 from the outline, and in front of one in
# the third there is a line of holes.
CASES = [
    ("long-strip-24x37", "any", 90, "C1", True),  # C1 and E1, down along the left edge
    ("long-strip-24x37", "any", 90, "C2", True),
    ("long-strip-24x37", "any", 90, "C3", False),
    ("long-strip-24x37", "any", 270, "E36", True),  # up along the right edge
    ("long-strip-24x37", "any", 0, "B5", True),  # B5 and B7, along the top
    ("long-strip-24x37", "any", 0, "C5", False),
    ("long-strip-24x37", "any", 180, "W7", True),  # leftwards along the bottom
    ("long-strip-24x37", "any", 0, "C1", False),  # across the left edge
    ("long-strip-24x37", "any", 0, "C36", False),  # pin 2 off the board
    ("long-strip-24x37", "left", 90, "C2", True),
    ("long-strip-24x37", "right", 90, "C2", False),
    ("long-strip-24x37", "top", 0, "B5", True),
    ("long-strip-24x37", "top", 0, "W5", False),
    ("three-hole-20x30", "any", 90, "b5", True),
    ("three-hole-20x30", "any", 90, "c5", False),
    ("three-hole-20x30", "any", 0, "d29", True),
    ("five-hole-30", "any", 90, "a25", True),  # rails along an edge belong to it
    ("five-hole-30", "any", 90, "b25", True),  # over column a, and nothing but rails beyond
    ("five-hole-30", "any", 90, "c25", False),
    ("five-hole-30", "any", 90, "e25", False),  # towards the channel
    ("five-hole-30", "any", 0, "L-2", True),  # L-2 and a2, along the top
    ("five-hole-30", "any", 0, "L-3", False),
]


@pytest.mark.parametrize(("board", "edge", "rotation", "hole", "free"), CASES)
def test_where_openings_are_free(board: str, edge: str, rotation: int, hole: str, free: bool) -> None:
    places = Openings(load_board(board)).places(lookup("terminal-2"), edge)
    assert (hole in places[rotation]) == free


def test_the_holes_of_rails_in_front_are_told() -> None:
    """The body reaches from row 24 to row 28 and to between the two rails, a hair short of the holes of the inner."""
    places = Openings(load_board("five-hole-30")).places(lookup("terminal-2"), "any")
    bare = Openings(load_board("long-strip-24x37")).places(lookup("terminal-2"), "any")
    rails = {f"{rail}{row}" for rail in ("L+", "L-") for row in (25, 26, 27)}
    assert places[90]["a25"] == rails
    assert places[270]["a27"] == rails
    assert places[0]["L-2"] == frozenset()
    assert {front for way in bare.values() for front in way.values()} == {frozenset()}


@pytest.mark.parametrize("board", ["five-hole-30", "long-strip-24x37", "single-pad-30x20"])
def test_the_guide_turns_them_the_same_way(board: str) -> None:
    """Where an edge is named, the openings of every place look towards it, by the words of the guide too."""
    made, package = load_board(board), lookup("terminal-3")
    turn = {0: (2, 0), 90: (0, 2), 180: (-2, 0), 270: (0, -2)}
    for edge in ("left", "right", "top", "bottom"):
        for rotation, way in Openings(made).places(package, edge).items():
            for address in way:
                first, (dx, dy) = made.holes[address], turn[rotation]
                row = [made.hole_at[first.x + k * dx, first.y + k * dy] for k in range(3)]
                assert outward(row, made) == edge


def test_only_a_single_row_has_a_side_that_it_opens_to() -> None:
    assert has_openings(lookup("terminal-5"))
    assert not has_openings(lookup("terminal-2-3.5")), "on a diagonal"
    assert not has_openings(lookup("header-3")), "wires come from above"
    assert not has_openings(parse_package("block", {"form": "rigid", "rows": ["1 2", "4 3"], **SIZE}))


def test_a_terminal_without_a_body_is_as_deep_as_its_pins() -> None:
    bare = parse_package("bare", {"form": "rigid", "line": 2, "pitch": 2, **SIZE})
    places = Openings(load_board("long-strip-24x37")).places(bare, "left")
    assert {address[1:] for address in places[90]} == {"1"}
