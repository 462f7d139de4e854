"""Choosing a board where the user names none: the smallest of the catalogue that takes the circuit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from placer.boards.catalogue import load_board, names
from placer.boards.model import Board
from placer.circuit.model import Circuit
from placer.errors import Diagnostic, Exit, PlacerError
from placer.plan.model import Options
from placer.solve.api import Outcome
from placer.solve.room import shortage

Try = Callable[[Board], Outcome]
"""A short search on a board."""

UNNAMED = frozenset(("wish-unknown-hole", "wish-unknown-strip", "port-unknown"))
"""What is said of a board that has no hole, strip or port of the name in a wish."""


@dataclass(frozen=True)
class Choice:
    """The board, and why it was chosen, in words."""

    board: Board
    reason: str


def candidates() -> list[Board]:
    """Return the catalogue's boards in the order they are tried.

    Boards with pre-joined holes that are not cut by default come first: they cost the least work. Among equals, the
    one with fewer holes.
    """
    boards = [load_board(name) for name in names()]
    return sorted(boards, key=lambda board: (not _ready_made(board), len(board.holes), board.name))


def _ready_made(board: Board) -> bool:
    return not board.cut_by_default and any(len(strip.holes) > 1 for strip in board.strips)


def choose_board(circuit: Circuit, options_for: Callable[[Board], Options], short_search: Try) -> Choice:
    """Return the first candidate on which counting finds no shortage and a short search finds a plan.

    Where no short search finds one, the roomiest board that counting does not rule out is left to the long search.
    Raises PlacerError (no plan) when every board of the catalogue is ruled out; it says why the roomiest is that has
    what the wishes name.
    """
    undecided: list[Board] = []
    refused: dict[str, tuple[Diagnostic, ...]] = {}
    for board in candidates():
        reasons = shortage(circuit, board, options_for(board))
        if reasons:
            refused[board.name] = reasons
            continue
        outcome = short_search(board)
        if outcome.plan is not None:
            return Choice(board, "the first of the catalogue, from small to large, that takes the circuit")
        if outcome.interrupted:
            message = "interrupted while a board was chosen; no plan was found yet"
            raise PlacerError(Diagnostic("interrupted", message), exit_code=Exit.INTERRUPTED)
        if outcome.proved_impossible:
            refused[board.name] = outcome.reasons
        else:
            undecided.append(board)
    if undecided:
        board = max(undecided, key=lambda b: len(b.holes))
        return Choice(board, "no short search found a plan; this is the roomiest board that is not ruled out")
    # A board that lacks what a wish names is not the one that was meant, unless all of them lack it.
    meant = [name for name, reasons in refused.items() if not any(r.code in UNNAMED for r in reasons)] or list(refused)
    roomiest = max(meant, key=lambda name: len(load_board(name).holes))
    message = f"no board of the catalogue takes the circuit; even on {roomiest}:"
    headline = Diagnostic("no-board-fits", message, "split the circuit, or describe a larger board (--board FILE)")
    raise PlacerError(headline, *refused[roomiest], exit_code=Exit.NO_PLAN)
