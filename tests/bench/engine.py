"""The engine as it is measured: called as the command line calls it, every plan through the judge."""

from __future__ import annotations

import threading
from functools import cache

from placer.check.judge import judge
from placer.plan.model import Score
from placer.solve.api import Outcome, Progress, Request
from placer.solve.run import solve
from tests.bench.boards import KINDS, Case, made_case
from tests.bench.record import Recorder, Run

METHOD = "engine"


@cache
def warm_up() -> None:
    """Compile before any clock runs: a user waits for that once, after installing."""
    for kind in KINDS:
        case = made_case(10, 1, kind)
        solve(Request(case.circuit, case.board, case.options, seconds=0.5, effort=1), lambda plan: judge(plan).faults)


def search(recorder: Recorder, workers: int, *, until_first: bool = False) -> Outcome:
    """One search, noted on the recorder's clock. ``until_first``: end it with the first plan."""
    case = recorder.case
    stop = threading.Event()

    def on_progress(state: Progress) -> None:
        score = None
        if state.cost is not None:
            score = Score(state.jumpers or 0, state.cuts or 0, 0.0, state.cost)
            if until_first:
                stop.set()
        recorder.note(score, state.bound)

    request = Request(
        case.circuit, case.board, case.options, seconds=recorder.limit, seed=recorder.seed, workers=workers
    )
    return solve(request, lambda plan: judge(plan).faults, on_progress, stop)


def run(case: Case, seed: int, seconds: float, workers: int) -> Run:
    """The engine on a case."""
    warm_up()
    recorder = Recorder(case, seed, seconds)
    outcome = search(recorder, workers)
    note = "" if outcome.plan is not None else "; ".join(reason.code for reason in outcome.reasons)
    if outcome.plan is not None:
        recorder.note(outcome.plan.score, outcome.plan.proof.lower_bound)
    return recorder.run(METHOD, note)
