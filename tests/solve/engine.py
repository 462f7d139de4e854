"""The engine as these tests run it: by effort, so that a case gives the same answer every time."""

from __future__ import annotations

import pytest

from placer.check.judge import judge
from placer.errors import Diagnostic
from placer.plan.model import Plan
from placer.solve import polish, run
from placer.solve.api import Outcome, Request
from placer.solve.polish import Step
from tests.solve.cases import Case


def faults(plan: Plan) -> tuple[Diagnostic, ...]:
    """What the judge finds wrong with a plan."""
    return judge(plan).faults


def answer_of(case: Case, effort: int, *, seed: int = 1, workers: int = 1) -> Outcome:
    """What the engine answers to a case."""
    request = Request(case.circuit, case.board, case.options, seconds=None, effort=effort, seed=seed, workers=workers)
    return run.solve(request, faults)


def short_polish(patch: pytest.MonkeyPatch) -> None:
    """Little polishing: it shortens wires, and what these tests compare is counted in jumpers and cuts."""
    patch.setattr(polish, "STEPS", (Step(rebuilds=False, hot=0.3, length=0.06, chunks=1),))
