"""The run: members of the search take turns in rounds of fixed work, until a proof, the time, or the user ends it.

Rounds are reproducible: in each, every worker has one task of a fixed amount of work, and what a task finds is used only
when the round is over. A search that ends by proof therefore gives the same plan every time.
"""

from __future__ import annotations

import dataclasses
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from placer.errors import Diagnostic, PlacerError
from placer.solve.anneal import Annealer, Found
from placer.solve.api import Judge, Outcome, Progress, Request
from placer.solve.arrays import Arrays
from placer.solve.assemble import assemble, solve_info
from placer.solve.problem import build
from placer.solve.room import shortage
from placer.solve.store import Store
from placer.solve.wiring import wire

FIRST_PROPOSALS = 60_000
MOST_PROPOSALS = 6_000_000


def solve(
    request: Request,
    judge: Judge,
    on_progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
) -> Outcome:
    """Search for the cheapest plan and a proof of it.

    Every plan has passed ``judge`` before it is reported. Raises nothing for circuits that do not fit: the outcome says
    why. ``stop`` ends the search early; the best checked plan so far is returned.
    """
    try:
        problem = build(request.circuit, request.board, request.options)
    except PlacerError as error:
        return Outcome(None, error.diagnostics, proved_impossible=True)
    missing = shortage(request.circuit, request.board, request.options)
    if missing:
        return Outcome(None, missing, proved_impossible=True)
    run = _Run(request, Store(problem, judge, on_progress), stop or threading.Event())
    return run.outcome()


class _Run:
    def __init__(self, request: Request, store: Store, stop: threading.Event) -> None:
        self.request = request
        self.store = store
        self.stop = stop
        self.deadline = None if request.seconds is None else time.monotonic() + request.seconds
        self.arrays = Arrays(store.problem)
        self.phases: list[dict[str, Any]] = []

    def stopped(self) -> bool:
        """True when the user or the clock ends the search."""
        return self.stop.is_set() or (self.deadline is not None and time.monotonic() >= self.deadline)

    def outcome(self) -> Outcome:
        """Run the rounds and put the answer together."""
        store, request = self.store, self.request
        self._rounds()
        interrupted = self.stop.is_set()
        if store.best is None or store.places is None:
            return Outcome(None, self._why_none(), interrupted=interrupted)
        wiring = wire(store.problem, store.places)
        assert wiring is not None  # noqa: S101 - the store wired the same places before
        info = solve_info(store.seconds, request.seed, request.workers, self.phases, store.first_seconds)
        plan = assemble(store.problem, store.places, wiring, store.bound, info)
        faults = store.judge(plan)
        if faults:
            raise RuntimeError(f"a plan that had passed the check no longer does: {faults[0]}")
        return Outcome(dataclasses.replace(plan), interrupted=interrupted)

    def _rounds(self) -> None:
        store, request = self.store, self.request
        workers = max(1, request.workers)
        streams = [Annealer(self.arrays, request.seed * 7919 + k, self.stopped) for k in range(workers)]
        proposals = FIRST_PROPOSALS
        round_no = 0
        with ThreadPoolExecutor(workers) as pool:
            while not self.stopped() and (request.effort is None or round_no < request.effort):
                started = store.seconds
                cost, bound = store.rank[0], store.bound
                found = list(pool.map(lambda s: self._anneal(s, proposals), streams))
                for better in found:
                    for f in better:
                        store.offer(f.places, "annealing")
                self.phases.append(
                    {
                        "phase": "annealing",
                        "round": round_no,
                        "seconds": round(store.seconds - started, 3),
                        "cost": None if store.best is None else store.best.score.cost,
                        "bound": store.bound,
                        "improved": store.rank[0] < cost or store.bound > bound,
                    }
                )
                if store.proved:
                    return
                proposals = min(MOST_PROPOSALS, proposals * 2)
                round_no += 1

    def _anneal(self, stream: Annealer, proposals: int) -> list[Found]:
        state = stream.start()
        if state is None:
            return []
        return list(stream.run(state, proposals, stop_cost=self.store.bound))[-3:]

    def _why_none(self) -> tuple[Diagnostic, ...]:
        return (
            Diagnostic(
                "no-plan-found",
                f"no legal plan was found on board {self.store.problem.board.name} in {self.store.seconds:.0f} s; "
                "whether one exists is not known",
                "Give it more time (--time), a larger board (--board), or relax placement wishes.",
            ),
        )
