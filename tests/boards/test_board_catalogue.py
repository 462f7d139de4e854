"""The catalogue's boards against counts and places worked out by hand from their descriptions (a step is 2.54 mm)."""

from __future__ import annotations

import pytest

from placer.boards.catalogue import families, load_board, names
from placer.boards.data import board_from_data, board_to_data
from placer.boards.model import CutRule
from placer.boards.selfcheck import faults_of
from placer.errors import PlacerError

# name: holes, strips, links (= holes - strips for unbranched copper), outline in steps
COUNTS = {
    "five-hole-30": (30 * 10 + 4 * 30, 60 + 4, 60 * 4 + 4 * 29, (19, 31)),
    "five-hole-63": (63 * 10 + 4 * 63, 126 + 4, 126 * 4 + 4 * 62, (19, 64)),
    "five-hole-inner-40": (40 * 10 + 2 * 41, 80 + 2, 80 * 4 + 2 * 40, (13, 42)),
    "five-hole-twin-45": (45 * 20 + 2 * 45, 180 + 2, 180 * 4 + 2 * 44, (29, 52)),
    "long-strip-24x37": (24 * 37, 24, 24 * 36, (38, 25)),
    "long-strip-39x60": (39 * 60, 39, 39 * 59, (61, 40)),
    "long-strip-railed-24x37": (26 * 37, 26, 26 * 36, (38, 27)),
    "single-pad-30x20": (600, 600, 0, (31, 21)),
    "three-hole-20x30": (600, 200, 400, (21, 31)),
}

# address: (mm from the left, mm from the top)
PLACES = {
    "five-hole-30": {
        "L+1": (2.54, 2.54),
        "L-1": (5.08, 2.54),
        "a1": (10.16, 2.54),
        "e1": (20.32, 2.54),
        "f1": (27.94, 2.54),
        "j30": (38.1, 76.2),
        "R-30": (43.18, 76.2),
        "R+30": (45.72, 76.2),
    },
    "five-hole-63": {"a63": (10.16, 160.02), "c12": (15.24, 30.48)},
    "five-hole-inner-40": {"e1": (12.7, 2.54), "M+1": (15.24, 2.54), "M-41": (17.78, 104.14), "f40": (20.32, 101.6)},
    "five-hole-twin-45": {
        "a1": (2.54, 17.78),
        "j1": (30.48, 17.78),
        "M-1": (35.56, 17.78),
        "M+45": (38.1, 129.54),
        "k1": (43.18, 17.78),
        "t45": (71.12, 129.54),
    },
    "long-strip-24x37": {"A1": (2.54, 2.54), "C12": (30.48, 7.62), "X37": (93.98, 60.96)},
    "long-strip-39x60": {"Z60": (152.4, 66.04), "AA1": (2.54, 68.58), "AM60": (152.4, 99.06)},
    "long-strip-railed-24x37": {"L1": (2.54, 30.48), "m+1": (2.54, 33.02), "m-37": (93.98, 35.56), "M1": (2.54, 38.1)},
    "single-pad-30x20": {"a1": (2.54, 2.54), "z1": (66.04, 2.54), "aa1": (68.58, 2.54), "ad20": (76.2, 50.8)},
    "three-hole-20x30": {"a1": (2.54, 2.54), "t30": (50.8, 76.2)},
}


def test_the_catalogue_lists_exactly_the_boards_that_are_counted_here() -> None:
    assert set(names()) == set(COUNTS) == set(PLACES)


@pytest.mark.parametrize("name", sorted(COUNTS))
def test_counts_and_outline(name: str) -> None:
    board = load_board(name)
    holes, strips, links, (wide, high) = COUNTS[name]

    assert (len(board.holes), len(board.strips), sum(len(s.links) for s in board.strips)) == (holes, strips, links)
    assert board.outline_mm == pytest.approx((wide * 2.54, high * 2.54))
    assert board.name == name
    assert board.sources


@pytest.mark.parametrize("name", sorted(PLACES))
def test_known_holes_are_at_their_mm_places(name: str) -> None:
    board = load_board(name)

    assert {a: (board.holes[a].x_mm, board.holes[a].y_mm) for a in PLACES[name]} == PLACES[name]


@pytest.mark.parametrize("name", sorted(COUNTS))
def test_sound_and_same_after_a_round_trip_through_data(name: str) -> None:
    board = load_board(name)

    assert faults_of(board) == ()
    assert board_from_data(board_to_data(board)) == board


def test_strips_of_a_five_hole_board() -> None:
    board = load_board("five-hole-30")

    assert board.strip_of["a1"].name == "L1"
    assert board.strip_of["a1"].holes == ("a1", "b1", "c1", "d1", "e1")
    assert board.strip_of["f30"].name == "R30"
    assert board.strip_of["L+7"].holes == tuple(f"L+{n}" for n in range(1, 31))
    assert {s.name for s in board.strips if s.rail} == {"L+", "L-", "R-", "R+"}
    assert (board.cut, board.cut_by_default) == (CutRule(at_hole=False, between=True), False)
    assert board.holes["f1"].x - board.holes["e1"].x == 3


def test_rails_in_the_channel_reach_one_row_past_the_last() -> None:
    board = load_board("five-hole-inner-40")

    assert "a41" not in board.holes
    assert board.holes["M+41"].y == board.holes["a40"].y + 1
    assert [board.holes[a].x - board.holes["e1"].x for a in ("M+1", "M-1", "f1")] == [1, 2, 3]


def test_twin_banks_share_one_rail_pair_and_have_power_ports() -> None:
    board = load_board("five-hole-twin-45")

    assert [s.name for s in board.strips if s.rail] == ["M-", "M+"]
    assert board.ports["P1"].strips == {"1": "M+", "2": "M-"}
    assert board.ports["P2"].fits == ("terminal-2", "terminal-2-5.0")
    x1, x2 = (board.ports["P2"].pads[pin][0] for pin in ("1", "2"))
    assert x2 - x1 == pytest.approx(5.08)
    top = min(h.y_mm for h in board.holes.values())
    assert all(y < top for port in board.ports.values() for _, y in port.pads.values())


def test_long_strips_are_lettered_from_the_top_and_cut_both_ways_by_default() -> None:
    board = load_board("long-strip-39x60")

    assert [s.name for s in board.strips][25:28] == ["Z", "AA", "AB"]
    assert board.strip_of["AA7"].holes[:2] == ("AA1", "AA2")
    assert board.holes["B5"].y > board.holes["A5"].y
    assert (board.cut, board.cut_by_default) == (CutRule(at_hole=True, between=True), True)
    assert all(s.is_path and s.cut == board.cut for s in board.strips)


def test_pads_in_threes_run_downwards() -> None:
    board = load_board("three-hole-20x30")

    assert board.strip_of["b5"].holes == ("b4", "b5", "b6")
    assert {len(s.holes) for s in board.strips} == {3}


def test_families_load_in_sizes_that_the_catalogue_does_not_list() -> None:
    assert "long-strip-{strips}x{holes}" in families()
    board = load_board("long-strip-30x11")

    assert len(board.strips) == 30
    assert {len(s.holes) for s in board.strips} == {11}
    assert board.name == "long-strip-30x11"


@pytest.mark.parametrize(
    ("side", "expected"),
    [
        ("top", {f"{c}1" for c in "abcdefghij"}),
        ("bottom", {f"{c}30" for c in "abcdefghij"}),
        ("left", {f"{c}{n}" for c in ("a", "L+", "L-") for n in range(1, 31)}),
        ("right", {f"{c}{n}" for c in ("j", "R+", "R-") for n in range(1, 31)}),
    ],
)
def test_rails_count_for_the_side_they_run_along_and_never_for_the_ends(side: str, expected: set[str]) -> None:
    assert load_board("five-hole-30").edge_holes(side) == expected


def test_edges_of_other_boards() -> None:
    long, inner = load_board("long-strip-24x37"), load_board("five-hole-inner-40")

    assert long.edge_holes("top") == {f"A{n}" for n in range(1, 38)}
    assert long.edge_holes("right") == {f"{s.name}37" for s in long.strips}
    assert inner.edge_holes("bottom") == {f"{c}40" for c in "abcdefghij"}
    assert long.edge_holes("any") == frozenset().union(
        *(long.edge_holes(s) for s in ("top", "bottom", "left", "right"))
    )
    assert len(long.edge_holes("any")) == 2 * 37 + 2 * 24 - 4


def test_unknown_names_are_refused_with_the_nearest() -> None:
    with pytest.raises(PlacerError) as caught:
        load_board("five-hole-thirty")

    (diagnostic,) = caught.value.diagnostics
    assert diagnostic.code == "board-unknown"
    assert diagnostic.message == "board 'five-hole-thirty' is neither in the catalogue nor a file"
    assert "five-hole-30" in diagnostic.help


@pytest.mark.parametrize("name", ["five-hole-101", "long-strip-1x201", "five-hole-twin-3", "long-strip-railed-1x9"])
def test_sizes_beyond_the_family_are_refused_with_the_limits(name: str) -> None:
    with pytest.raises(PlacerError) as caught:
        load_board(name)

    (diagnostic,) = caught.value.diagnostics
    assert diagnostic.code == "parameter-out-of-range"
    assert "expected" in diagnostic.message
    assert diagnostic.span is not None


@pytest.mark.parametrize("name", ["five-hole-0", "five-hole-030", "long-strip-24", "", "x" * 5000, "a\0b"])
def test_odd_names_are_unknown_boards(name: str) -> None:
    with pytest.raises(PlacerError) as caught:
        load_board(name)

    assert caught.value.diagnostics[0].code == "board-unknown"


def test_a_missing_file_is_said_to_be_missing() -> None:
    with pytest.raises(PlacerError) as caught:
        load_board("no-such-board.yaml")

    assert caught.value.diagnostics[0].code == "file-missing"
