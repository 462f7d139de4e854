"""What the board syntax can say, each feature on a board small enough to be checked by eye."""

from __future__ import annotations

from pathlib import Path

import pytest

from placer.boards.data import board_from_data, board_to_data
from placer.boards.labels import evaluate, label_sequence, letter_index, letters, numbers_in
from placer.boards.loader import read_board
from placer.boards.model import Board, Copper, CutRule, Keepout, MountingHole, Strip

FIVE_HOLE = """\
board: hive-bench-20
about: Five-hole strips either side of a channel, a rail pair on the left in groups of five.
copper: {width_mm: 2.0, thickness_um: 35, side: bottom}
hole_mm: 1.0
labels: {columns: {4: a..e, 11: f..j}, rows: 20, address: "{column}{row}"}
cut: {between: true, by_default: false}
blocks:
  - {name: "L{row}", at: [4, 0], along: x, strips: 20, holes: 5}
  - {name: "R{row}", at: [11, 0], along: x, strips: 20, holes: 5}
rails:
  - {name: P+, at: [0, 0], along: y, holes: 15, groups: 5, cut: none}
  - {name: P-, at: [1, 0], along: y, holes: 15, groups: {of: 5, gap: 1}, cut: none}
outline_mm: [60, 70]
mounting:
  M1: {at_mm: [56, 4], diameter_mm: 3.2, clear_mm: 6}
  M2: {at_mm: [56, 66], diameter_mm: 3.2, clear_mm: 6}
keepouts:
  battery: [56, 20, 60, 50]
ports:
  P1: {fits: [barrel-jack], pads: {1: {at_mm: [9, 4], strip: P+}, 2: {at_mm: [9, 10], strip: P-}}}
"""

LONG_STRIP = """\
board: smoker-strip-{strips}x{holes}
about: Long strips lettered from the top, holes numbered along them.
parameters: {strips: 30, holes: {default: 40, min: 5, max: 60}}
labels: {columns: holes, rows: strips from A, address: "{row}{column}"}
cut: {at_hole: true, between: true}
blocks:
  - {name: "{row}", at: [0, 0], along: x, strips: strips, holes: holes}
"""

PAD_PER_HOLE = """\
board: frame-pads
about: A pad at every hole; a bus round two sides.
labels: {columns: {1: a..h}, rows: 6}
blocks:
  - {at: [1, 0], strips: 6, holes: 8, sections: 1}
strips:
  - {name: bus, runs: [[[0, 0], [0, 6], [8, 6]]], address: "bus{hole}", rail: true}
"""


def board_of(text: str, **parameters: int) -> Board:
    return read_board(Path("board.yaml"), text=text, parameters=parameters)


def strip_named(board: Board, name: str) -> Strip:
    return next(s for s in board.strips if s.name == name)


@pytest.mark.parametrize("text", [FIVE_HOLE, LONG_STRIP, PAD_PER_HOLE])
def test_each_family_takes_under_thirty_lines(text: str) -> None:
    assert len(text.splitlines()) < 30
    assert board_of(text).holes


def test_five_hole_board() -> None:
    board = board_of(FIVE_HOLE)

    assert len(board.holes) == 20 * 10 + 2 * 15
    assert board.copper == Copper(2.0, 0.54, 35.0, "bottom")
    # 15 columns from x = 0 to 15, centred: (60 - 15 * 2.54) / 2; 20 rows: (70 - 19 * 2.54) / 2
    assert (board.holes["P+1"].x_mm, board.holes["P+1"].y_mm) == (10.95, 10.87)
    assert [board.holes[f"P+{n}"].y for n in (5, 6, 10, 11, 15)] == [4, 6, 10, 12, 16]
    assert strip_named(board, "P+").links[4] == ("P+5", "P+6")
    assert strip_named(board, "P+").cut == CutRule()
    assert strip_named(board, "L3").cut == CutRule(between=True)
    assert board.mounting[0] == MountingHole("M1", 56.0, 4.0, 3.2)
    assert board.keepouts == (
        Keepout("battery", 56.0, 20.0, 60.0, 50.0),
        Keepout("M1", 53.0, 1.0, 59.0, 7.0),
        Keepout("M2", 53.0, 63.0, 59.0, 69.0),
    )
    assert board.ports["P1"].strips == {"1": "P+", "2": "P-"}
    assert board.ports["P1"].pads == {"1": (9.0, 4.0), "2": (9.0, 10.0)}
    assert board.column_labels == {4: "a", 5: "b", 6: "c", 7: "d", 8: "e", 11: "f", 12: "g", 13: "h", 14: "i", 15: "j"}
    assert board.row_labels[19] == "20"


def test_long_strips_by_parameter() -> None:
    board, small = board_of(LONG_STRIP), board_of(LONG_STRIP, strips=2, holes=5)

    assert (board.name, len(board.strips), len(board.holes)) == ("smoker-strip-30x40", 30, 1200)
    assert "AD40" in board.holes
    assert (small.name, list(small.holes)) == ("smoker-strip-2x5", [f"{s}{n}" for s in "AB" for n in range(1, 6)])


def test_pads_and_a_bent_bus() -> None:
    board = board_of(PAD_PER_HOLE)
    bus = strip_named(board, "bus")

    assert board.strip_of["c2"].holes == ("c2",)
    assert board.strip_of["c2"].name == "c2"
    assert bus.holes == tuple(f"bus{n}" for n in range(1, 16))
    assert [(board.holes[a].x, board.holes[a].y) for a in bus.holes[5:9]] == [(0, 5), (0, 6), (1, 6), (2, 6)]
    assert bus.is_path
    assert bus.rail


def test_a_board_may_say_how_warm_its_copper_may_get() -> None:
    text = LONG_STRIP + "copper: {rise_k: 20}\n"
    board = board_of(text)
    assert board.copper.rise_k == 20.0
    assert board_from_data(board_to_data(board)).copper == board.copper


def test_branching_copper_is_one_strip_that_is_not_cut() -> None:
    board = board_of(
        "board: comb\ncut: {between: true}\nstrips:\n"
        '  - {name: T, runs: [[[0, 0], [4, 0]], [[2, 0], [2, 3]]], address: "T{hole}"}\n'
    )
    comb = strip_named(board, "T")

    assert len(comb.holes) == 8
    assert len(comb.links) == 7
    assert not comb.is_path
    assert comb.cut == CutRule()


def test_a_closed_ring_is_one_strip_that_is_not_cut() -> None:
    board = board_of(
        "board: ring\ncut: {between: true}\nstrips:\n"
        '  - {name: G, runs: [[[0, 0], [2, 0], [2, 2], [0, 2], [0, 0]]], address: "g{hole}"}\n'
    )
    ring = strip_named(board, "G")

    assert (len(ring.holes), len(ring.links), ring.is_path, ring.cut) == (8, 8, False, CutRule())


def test_single_holes_with_links_are_put_in_the_order_of_the_copper() -> None:
    board = board_of(
        "board: odd\ncut: {between: true}\nstrips:\n"
        "  - {name: S, holes: {p: [1, 0], q: [0, 0], r: [1, 4]}, links: [[q, p], [p, r]]}\n"
    )
    strip = strip_named(board, "S")

    assert strip.holes in (("q", "p", "r"), ("r", "p", "q"))
    assert strip.is_path
    assert strip.cut == CutRule(between=True)


def test_a_rail_in_sections_is_two_strips_with_one_count() -> None:
    board = board_of(
        "board: split\nrails:\n"
        '  - {name: "V+ {section}", at: [0, 0], holes: 12, address: "V+{hole}", sections: {of: 6, gap: 2}, groups: 3}\n'
    )

    assert [s.name for s in board.strips] == ["V+ 1", "V+ 2"]
    assert board.strips[1].holes == tuple(f"V+{n}" for n in range(7, 13))
    assert [board.holes[f"V+{n}"].y for n in range(1, 13)] == [0, 1, 2, 4, 5, 6, 9, 10, 11, 13, 14, 15]


def test_sections_of_unequal_length_repeat_the_last() -> None:
    board = board_of('board: uneven\nblocks:\n  - {at: [0, 0], holes: 9, sections: [2, 3], address: "x{hole}"}\n')

    assert [len(s.holes) for s in board.strips] == [2, 3, 3, 1]
    assert [s.name for s in board.strips] == ["x1", "x3", "x6", "x9"]


def test_copper_round_the_edge_joins_rails_into_one_strip() -> None:
    board = board_of(
        "board: tied\ncut: {between: true}\nrails:\n"
        "  - {name: L+, at: [0, 0], holes: 3}\n  - {name: L-, at: [1, 0], holes: 3}\n"
        "  - {name: R+, at: [9, 0], holes: 3}\n"
        'joins:\n  - {name: "+", links: [[L+1, R+1]]}\n'
    )
    tied = strip_named(board, "+")

    assert [s.name for s in board.strips] == ["+", "L-"]
    assert tied.holes == ("L+3", "L+2", "L+1", "R+1", "R+2", "R+3")
    assert tied.off_grid == (("L+1", "R+1"),)
    assert tied.rail
    assert tied.cut == CutRule(between=True)


def test_labels_may_run_backwards_and_blocks_may_have_labels_of_their_own() -> None:
    board = board_of(
        "board: two-ways\nlabels: {columns: e..a, rows: 3..1}\nblocks:\n"
        "  - {at: [0, 0], strips: 3, holes: 5}\n"
        '  - {name: "S{strip}", at: [0, 4], along: y, strips: p..r, spacing: 2, holes: [x, z],'
        ' address: "{strip}{hole}"}\n'
    )

    assert [board.holes[a].x for a in ("e3", "a3")] == [0, 4]
    assert [board.holes[a].y for a in ("a3", "a1")] == [0, 2]
    assert strip_named(board, "Sq").holes == ("qx", "qz")
    assert [(board.holes[a].x, board.holes[a].y) for a in ("px", "qx", "rz")] == [(0, 4), (2, 4), (4, 5)]


def test_hole_diameter_of_one_block_and_an_offset_without_outline() -> None:
    board = board_of(
        "board: terminals\nhole_mm: 0.9\noffset_mm: [5, 3]\nrails:\n"
        "  - {name: T, at: [0, 0], holes: 2, hole_mm: 1.3}\n  - {name: U, at: [1, 0], holes: 2}\n"
    )

    assert (board.holes["T1"].diameter_mm, board.holes["U1"].diameter_mm) == (1.3, 0.9)
    assert (board.holes["T1"].x_mm, board.holes["T1"].y_mm) == (5.0, 3.0)
    assert board.outline_mm == (10.08, 8.08)


def test_a_file_is_read_like_its_text(tmp_path: Path) -> None:
    path = tmp_path / "frame.yaml"
    path.write_text(PAD_PER_HOLE, encoding="utf-8")

    assert read_board(path) == board_of(PAD_PER_HOLE)


def test_letters_count_past_z() -> None:
    assert [letters(i, upper=True) for i in (0, 25, 26, 51, 52, 701, 702)] == ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]
    assert all(letter_index(letters(i, upper=False)) == i for i in range(2000))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("3", ("1", "2", "3")),
        (2, ("1", "2")),
        ("n + 1", ("1", "2", "3", "4", "5")),
        ("a..c", ("a", "b", "c")),
        ("3..1", ("3", "2", "1")),
        ("7..n", ("7", "6", "5", "4")),
        ("3 from Y", ("Y", "Z", "AA")),
        ("2 from A + 12", ("M", "N")),
        ("n // 2 from 0", ("0", "1")),
        ("n // 2 from A + n", ("E", "F")),
        (["p", "q"], ("p", "q")),
    ],
)
def test_label_sequences(text: object, expected: tuple[str, ...]) -> None:
    assert label_sequence(text, {"n": 4}) == expected


@pytest.mark.parametrize(
    "text", ["2 ** 3", "n.real", "__import__('os')", "1 < 2", "", "1.5", "n(1)", "9" * 90, "(" * 79]
)
def test_expressions_hold_nothing_but_sums_of_whole_numbers(text: str) -> None:
    with pytest.raises(ValueError, match=r"expected|at most"):
        evaluate(text, {"n": 4})


def test_expressions() -> None:
    assert evaluate("-(rows - 2) * 3 + rows // 4", {"rows": 9}) == -19


def test_names_give_their_parameters_back() -> None:
    assert numbers_in("strip-24x37", "strip-{strips}x{holes}") == {"strips": 24, "holes": 37}
    assert numbers_in("strip-24", "strip-{strips}x{holes}") is None
    assert numbers_in("strip-024x37", "strip-{strips}x{holes}") is None
    assert numbers_in("plain", "plain") == {}
