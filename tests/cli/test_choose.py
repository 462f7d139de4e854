"""Choosing a board: the order, and what happens when none or only some are ruled out."""

from pathlib import Path

import pytest

from placer.choose import candidates, choose_board
from placer.circuit.read_yaml import read_circuit
from placer.errors import Diagnostic, Exit, PlacerError
from placer.plan.file import read_plan
from placer.plan.model import Options
from placer.solve.api import Outcome

from .conftest import LANTERN


def choose(short_search):
    return choose_board(read_circuit(Path(LANTERN))[0], lambda _board: Options(), short_search)


def test_ready_made_boards_come_first_and_from_small_to_large():
    boards = candidates()
    ready = [not b.cut_by_default and any(len(s.holes) > 1 for s in b.strips) for b in boards]
    assert ready == sorted(ready, reverse=True)
    for kind in (True, False):
        sizes = [len(b.holes) for b, is_ready in zip(boards, ready, strict=True) if is_ready is kind]
        assert sizes == sorted(sizes)
    assert len({b.name for b in boards}) == len(boards) > 5


def test_the_first_board_with_a_plan_is_chosen(finished):
    plan = read_plan(finished / "plan.json")
    second = candidates()[1].name
    choice = choose(lambda board: Outcome(plan if board.name == second else None))
    assert choice.board.name == second


def test_the_roomiest_undecided_board_is_left_to_the_long_search():
    choice = choose(lambda _board: Outcome(None))
    assert choice.board.name == max(candidates(), key=lambda b: len(b.holes)).name
    assert "not ruled out" in choice.reason


def test_when_every_board_is_ruled_out_the_roomiest_says_why():
    with pytest.raises(PlacerError) as caught:
        choose(lambda board: Outcome(None, (Diagnostic("why", board.name),), proved_impossible=True))
    assert caught.value.exit_code == Exit.NO_PLAN
    assert caught.value.diagnostics[1].message == max(candidates(), key=lambda b: len(b.holes)).name


def test_a_board_without_the_holes_that_a_wish_names_does_not_speak_for_the_others():
    def short_search(board):
        code = "why" if board.name == "five-hole-63" else "wish-unknown-hole"
        return Outcome(None, (Diagnostic(code, board.name),), proved_impossible=True)

    with pytest.raises(PlacerError) as caught:
        choose(short_search)
    assert caught.value.diagnostics[1].message == "five-hole-63"


def test_an_interrupt_ends_the_choice():
    with pytest.raises(PlacerError) as caught:
        choose(lambda _board: Outcome(None, interrupted=True))
    assert caught.value.exit_code == Exit.INTERRUPTED
