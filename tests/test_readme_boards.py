"""The boards that the README shows a user how to write: four sorts, each short, each good to plan on."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from placer.boards.loader import read_board
from placer.boards.model import Board, Strip
from placer.boards.selfcheck import faults_of
from placer.check.judge import judge
from placer.circuit.read_yaml import read_circuit
from placer.plan.model import Options
from placer.plan.readback import readback
from placer.solve.api import Request
from placer.solve.run import solve
from tests.test_docs import BOARDS, ROOT

MOST_LINES = 30
SHOWN = {text.split("\n")[0].removeprefix("board: "): text for text in BOARDS}


def board_of(name: str) -> Board:
    return read_board(Path(f"{name}.yaml"), text=SHOWN[name])


def plain(board: Board) -> list[Strip]:
    return [strip for strip in board.strips if not strip.rail]


def rails(board: Board) -> list[Strip]:
    return [strip for strip in board.strips if strip.rail]


def five_hole(board: Board) -> bool:
    return all(len(strip.holes) == 5 for strip in plain(board)) and len(plain(board)) >= 20


def long_strip(board: Board) -> bool:
    return all(len(s.holes) >= 20 and s.cut.at_hole and s.cut.between for s in board.strips) and board.cut_by_default


def pad_per_hole(board: Board) -> bool:
    return all(len(strip.holes) == 1 for strip in plain(board)) and len(plain(board)) >= 50


def rails_in_the_channel(board: Board) -> bool:
    """Each rail lies between two banks of five-hole strips and ends one row beyond their last one."""
    spots = {a: (h.x, h.y) for a, h in board.holes.items()}
    columns = {spots[a][0] for s in plain(board) for a in s.holes}
    rows = {spots[a][1] for s in plain(board) for a in s.holes}
    return (
        five_hole(board)
        and bool(rails(board))
        and all(
            min(columns) < spots[strip.holes[0]][0] < max(columns)
            and len({spots[a][0] for a in strip.holes}) == 1
            and max(spots[a][1] for a in strip.holes) == max(rows) + 1
            for strip in rails(board)
        )
    )


@pytest.mark.parametrize("sort", [five_hole, long_strip, pad_per_hole, rails_in_the_channel])
def test_each_sort_of_board_is_shown_in_under_thirty_lines(sort: Callable[[Board], bool]) -> None:
    found = [name for name in SHOWN if sort(board_of(name))]
    assert found
    assert all(len(SHOWN[name].splitlines()) < MOST_LINES for name in found)


@pytest.mark.parametrize("name", SHOWN)
def test_a_board_shown_is_sound_and_takes_a_lantern(name: str) -> None:
    """Planned as the command would, judged, and read back. On a pad at every hole that takes wires to solder along."""
    board = board_of(name)
    assert faults_of(board) == ()
    if pad_per_hole(board):
        return
    circuit, _ = read_circuit(ROOT / "netlists" / "hive-lantern.yaml")
    options = Options(allow_cuts=board.cut_by_default)
    request = Request(circuit, board, options, seconds=None, effort=2, workers=1)
    plan = solve(request, lambda plan: judge(plan).faults).plan
    assert plan is not None
    assert judge(plan).faults == ()
    assert {(n.name, frozenset(n.pins)) for n in readback(plan)} == {(n.name, frozenset(n.pins)) for n in circuit.nets}
