"""The search on a board that allows bridges: place by the length of solder, route, have it judged, keep the best.

The parts are placed on a virtual board (:mod:`placer.solve.padview`). Which pads are bridged is then worked out on the
real one (:mod:`placer.solve.pads`), and only real plans are judged. No cuts are made on a board that allows bridges.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

from placer.errors import Diagnostic, PlacerError
from placer.plan.model import Bridge, Options, Plan, Proof, Score, Tally
from placer.solve.aims import tallies
from placer.solve.anneal import Annealer
from placer.solve.api import Judge, Outcome, Progress, Request
from placer.solve.arrays import Places
from placer.solve.assemble import jumpers_of, placements_of, places_of, solve_info
from placer.solve.cold import get_ready
from placer.solve.padbound import least_cost
from placer.solve.pads import Copper, Routing, route
from placer.solve.padview import PadView, virtual_board
from placer.solve.problem import Problem, build
from placer.solve.room import shortage
from placer.solve.warm import PADS

SCOPE = "jumpers, cuts and bridges"
FIRST_PROPOSALS = 40_000
PROPOSALS_AN_ITEM = 10_000
RUN_LENGTHS = (1, 2, 1, 6)
CROWDED = (0.3, 0.6, 1.0)  # steps of solder that two pins of different nets side by side are held to cost
# From the best plan: short runs, each at another temperature; proposals for each item that may move.
SHORT_RUNS = ((60, 0.5), (250, 1.0), (60, 0.9), (1000, 1.6))
SHORTS_A_ROUND = 12


def solve(
    request: Request,
    judge: Judge,
    on_progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
) -> Outcome:
    """Search for the cheapest plan in jumpers and bridges; as :func:`placer.solve.run.solve`."""
    uncut = replace(request.options, allow_cuts=False)
    missing = shortage(request.circuit, request.board, uncut)
    if missing:
        return Outcome(None, missing, proved_impossible=True)
    try:
        problem = build(request.circuit, request.board, uncut)
        loose = Options(cut_cost=0.0, allow_cuts=True, diagonals=request.options.diagonals)
        views = [PadView.of(problem, virtual_board(request.board, along), loose) for along in ("x", "y")]
    except PlacerError as error:
        return Outcome(None, error.diagnostics, proved_impossible=True)
    stop = stop or threading.Event()
    get_ready(problem, request, judge, on_progress, stop, PADS)
    return _Run(request, problem, views, judge, on_progress, stop).outcome()


@dataclass(frozen=True)
class _Found:
    """Places and how they are joined."""

    places: Places
    routing: Routing
    wishes: tuple[Tally, ...]

    @property
    def rank(self) -> tuple[float, ...]:
        """Smaller is better."""
        missing, cost, length = self.routing.rank
        raised = sum(tally.broken_cost for tally in self.wishes)
        return missing, round(cost + raised, 6), round(sum(tally.broken_weight for tally in self.wishes), 6), length


class _Run:
    def __init__(
        self,
        request: Request,
        problem: Problem,
        views: list[PadView],
        judge: Judge,
        on_progress: Callable[[Progress], None] | None,
        stop: threading.Event,
    ) -> None:
        self.request = request
        self.problem = problem
        self.views = views
        self.judge = judge
        self.on_progress = on_progress
        self.stop = stop
        self.copper = Copper.of(problem)
        self.bound = least_cost(problem)
        self.started = time.monotonic()
        self.best: Plan | None = None
        self.found: _Found | None = None  # the best so far; with joins missing, as long as there is no plan
        self.first_seconds: float | None = None
        self.phases: list[dict[str, Any]] = []

    @property
    def seconds(self) -> float:
        """Seconds since the search began."""
        return time.monotonic() - self.started

    def stopped(self) -> bool:
        """True when the user or the clock ends the search."""
        limit = self.request.seconds
        return self.stop.is_set() or (limit is not None and self.seconds >= limit)

    def outcome(self) -> Outcome:
        """Run the rounds and put the answer together."""
        request = self.request
        if request.start is not None:
            places = places_of(self.problem, request.start)
            routing = None if places is None else route(self.problem, self.copper, places)
            if places is not None and routing is not None:
                self._offer(self._found(places, routing), "start")
        workers = max(1, request.workers)
        streams = [
            [Annealer(view.arrays, request.seed * 7919 + 2 * k + v, self.stopped) for v, view in enumerate(self.views)]
            for k in range(workers)
        ]
        with ThreadPoolExecutor(workers) as pool:
            round_no = 0
            while not self.stopped() and (request.effort is None or round_no < request.effort):
                started, before = self.seconds, self.found
                jobs = [pool.submit(self._work, streams[k], round_no, k, before) for k in range(workers)]
                # What one worker finds is used when the round is over: so a round is the same every time.
                for found in [job.result() for job in jobs]:
                    if found is not None:
                        self._offer(found, "placing and bridging")
                self.phases.append(
                    {
                        "phase": "placing and bridging",
                        "round": round_no,
                        "seconds": round(self.seconds - started, 3),
                        "cost": None if self.best is None else self.best.score.cost,
                        "bound": self.bound,
                        "improved": self.found is not before,
                    }
                )
                if self.best is not None and self.best.score.cost + self.best.score.raised <= self.bound + 1e-9:
                    break
                round_no += 1
        interrupted = self.stop.is_set()
        if self.best is None:
            return Outcome(None, (self._why_none(),), interrupted=interrupted)
        info = solve_info(self.seconds, request.seed, request.workers, self.phases, self.first_seconds)
        return Outcome(replace(self.best, solve=info), interrupted=interrupted)

    def _work(self, streams: list[Annealer], round_no: int, worker: int, best: _Found | None) -> _Found | None:
        """One worker's share of a round: from a fresh start or from the best so far, then shaken into shape."""
        turn = round_no + worker
        crowded = CROWDED[turn % len(CROWDED)]
        items = max(10, len(self.problem.items))
        found = best
        if best is None or turn % 4 == 1:
            found = None
            proposals = FIRST_PROPOSALS
            if round_no > 0:
                proposals = PROPOSALS_AN_ITEM * items * RUN_LENGTHS[round_no // 4 % len(RUN_LENGTHS)]
            side = turn // 4 % 2
            for places in self.views[side].fresh(streams[side], proposals, crowded):
                found = self._better(found, places)
        for t in range(SHORTS_A_ROUND if round_no > 0 else 1):
            if found is None or self.stopped():
                break
            each, hot = SHORT_RUNS[t % len(SHORT_RUNS)]
            side = (t // 2 + round_no) % 2
            places_now = self.views[side].shaken(streams[side], each * items, hot, crowded, found.places)
            if places_now is not None and places_now != found.places:
                found = self._better(found, places_now)
        return found

    def _better(self, found: _Found | None, places: Places) -> _Found | None:
        """The better of what was found before and what these places come to."""
        routing = route(self.problem, self.copper, places)
        if routing is None:
            return found
        new = self._found(places, routing)
        return found if found is not None and new.rank > found.rank else new

    def _found(self, places: Places, routing: Routing) -> _Found:
        return _Found(places, routing, tallies(self.problem, places, routing.wires))

    def _offer(self, found: _Found, phase: str) -> None:
        if self.found is not None and found.rank >= self.found.rank:
            return
        if found.routing.missing:
            self.found = found
            return
        plan = self._plan(found)
        if self.judge(plan):
            return
        self.best, self.found = plan, found
        if self.first_seconds is None:
            self.first_seconds = self.seconds
        if self.on_progress is not None:
            score = plan.score
            self.on_progress(Progress(self.seconds, phase, score.cost, score.jumpers, score.cuts, self.bound))

    def _plan(self, found: _Found) -> Plan:
        p, request, places, routing = self.problem, self.request, found.places, found.routing
        jumpers = jumpers_of(p, routing.wires)
        bridges = tuple(Bridge(p.net_names[n], (p.addresses[a], p.addresses[b])) for n, a, b in routing.bridges)
        gap = round(routing.cost - min(self.bound, routing.cost), 6)
        wire_mm = round(sum(j.length_mm for j in jumpers), 2)
        return Plan(
            circuit=request.circuit,
            board=request.board,
            placements=placements_of(p, places),
            cuts=(),
            jumpers=jumpers,
            score=Score(len(jumpers), 0, wire_mm, routing.cost, len(bridges), found.wishes),
            proof=Proof("optimal" if gap == 0 else "feasible", round(routing.cost - gap, 6), gap, SCOPE),
            solve=solve_info(self.seconds, request.seed, request.workers, (), None),
            options=request.options,
            bridges=bridges,
        )

    def _why_none(self) -> Diagnostic:
        return Diagnostic(
            "no-plan-found",
            f"no legal plan was found on board {self.problem.board.name} in {self.seconds:.0f} s; "
            "whether one exists is not known",
            "Give it more time (--time), a larger board (--board), or relax placement wishes.",
        )
