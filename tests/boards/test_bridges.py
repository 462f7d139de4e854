"""Boards that allow bridges of solder."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from placer.boards.catalogue import load_board, names
from placer.boards.data import board_from_data, board_to_data
from placer.boards.loader import read_board
from placer.boards.selfcheck import faults_of

PADS = """\
board: smoker-pads
bridges: true
labels: {columns: a..e, rows: 4}
blocks:
  - {at: [0, 0], strips: 4, holes: 5, sections: 1}
"""


def test_a_board_file_may_allow_bridges_and_does_not_by_itself() -> None:
    assert read_board(Path("board.yaml"), text=PADS).bridges
    assert not read_board(Path("board.yaml"), text=PADS.replace("bridges: true\n", "")).bridges


def test_of_the_catalogue_only_the_board_of_lone_pads_allows_them() -> None:
    assert [name for name in names() if load_board(name).bridges] == ["single-pad-30x20"]


def test_board_data_name_bridges_only_where_they_are_allowed() -> None:
    board = load_board("single-pad-5x4")
    assert board_to_data(board)["bridges"] is True
    assert board_from_data(board_to_data(board)) == board
    assert "bridges" not in board_to_data(load_board("five-hole-30"))


def test_a_gap_that_solder_does_not_hold_across_is_a_fault() -> None:
    board = load_board("single-pad-5x4")
    wide = replace(board, copper=replace(board.copper, width_mm=1.2, gap_mm=1.34))
    assert [fault.code for fault in faults_of(wide)] == ["bridge-gap-too-wide"]
    assert faults_of(replace(wide, bridges=False)) == ()


def test_bridges_with_nothing_side_by_side_are_a_fault() -> None:
    board = replace(load_board("long-strip-1x9"), bridges=True)
    assert [fault.code for fault in faults_of(board)] == ["bridges-nowhere"]
