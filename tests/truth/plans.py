"""Plans of the demo circuits, made once for all tests: a little search on the smallest board that takes the circuit."""

from __future__ import annotations

from functools import cache

from placer.boards.catalogue import load_board
from placer.check.judge import judge
from placer.plan.model import Options, Plan
from placer.solve.api import Request
from placer.solve.run import solve
from tests.circuits.test_demo_circuits import load

BOARDS = ("five-hole-30", "five-hole-63", "five-hole-twin-45")
"""Boards to try, smallest first."""


@cache
def planned(name: str, board: str | None = None) -> Plan:
    """A plan of a demo circuit after two rounds of search, on ``board`` or on the first of :data:`BOARDS` that fits."""
    for candidate in (board,) if board else BOARDS:
        on = load_board(candidate)
        options = Options(allow_cuts=on.cut_by_default)
        request = Request(load(name), on, options, seconds=30, effort=2, workers=1)
        outcome = solve(request, lambda plan: judge(plan).faults)
        if outcome.plan is not None:
            return outcome.plan
    raise AssertionError(f"no plan of {name}: {[reason.message for reason in outcome.reasons]}")
