"""The search on a board that allows bridges: place by the length of solder, route, have it judged, keep the best.

On such a board every lead fills its pad, and neighbouring pads are what strips are elsewhere. So the parts are placed
on a *virtual board*, where pads in a row count as strips that may be severed anywhere: hole addresses, and with them
places, are the same on both. Which pads are bridged is then worked out on the real board, and only real plans are
judged. No cuts are made on a board that allows bridges.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from placer.boards.model import Board, CutRule, Strip
from placer.errors import Diagnostic, PlacerError
from placer.plan.model import Bridge, Options, Plan, Proof, Score
from placer.solve.anneal import Annealer, State
from placer.solve.api import Judge, Outcome, Progress, Request
from placer.solve.arrays import Arrays, Places
from placer.solve.assemble import jumpers_of, placements_of, places_of, solve_info
from placer.solve.layout import Ints
from placer.solve.pads import Copper, Routing, route
from placer.solve.problem import Problem, build
from placer.solve.room import shortage
from placer.solve.spans import anneal_spans
from placer.solve.warm import compile_kernels

SCOPE = "jumpers, cuts and bridges"
RUN = 8  # pads in a row that count as one strip; what the moves of the search take for "near"
FIRST_PROPOSALS = 40_000
PROPOSALS_AN_ITEM = 20_000
RUN_LENGTHS = (1, 2, 1, 6)
CHUNKS = 25  # looks at the clock in an annealing run
HOT, WARM, COLD = 4.0, 1.2, 0.15  # temperatures, in steps of solder
LOOSE, STRICT = 1.5, 8.0  # penalty of a fault, in steps, from the beginning of a run to its end
KEPT = 3  # places of a run that are routed


def virtual_board(board: Board, along: str) -> Board:
    """The board with lone pads in a row made strips of up to RUN holes, severable between any two; no other cuts."""
    lone = {s.holes[0] for s in board.strips if len(s.holes) == 1 and not s.rail}
    strips = [replace(s, cut=CutRule()) for s in board.strips if s.holes[0] not in lone]

    def line(address: str) -> tuple[int, int]:
        hole = board.holes[address]
        return (hole.y, hole.x) if along == "x" else (hole.x, hole.y)

    runs: list[list[str]] = []
    for address in sorted(lone, key=line):
        across, place = line(address)
        if runs and len(runs[-1]) < RUN and line(runs[-1][-1]) == (across, place - 1):
            runs[-1].append(address)
        else:
            runs.append([address])
    for run in runs:
        links = tuple(zip(run, run[1:], strict=False))
        strips.append(Strip(f"pads from {run[0]}", tuple(run), links, CutRule(between=True)))
    return replace(board, strips=tuple(strips), cut=CutRule(between=True), bridges=False)


def least_cost(p: Problem) -> float:
    """A cost that no plan beats.

    Where every strip is a lone pad, a net of k pins (joined inside parts: counted once) is a tree over at least k pads,
    of at least k - 1 joins, each a bridge or a jumper. Longer strips may join pins for nothing: there it is 0.
    """
    if any(n > 1 for n in p.slen):
        return 0.0
    mates: dict[tuple[int, int], tuple[int, int]] = {}

    def root(pin: tuple[int, int]) -> tuple[int, int]:
        while pin in mates:
            pin = mates[pin]
        return pin

    for i, k, j, m in p.joins:
        if root((i, k)) != root((j, m)):
            mates[root((i, k))] = root((j, m))
    joins = 0
    groups: dict[int, set[tuple[int, int]]] = {}
    for i, item in enumerate(p.items):
        for k, n in enumerate(item.nets):
            groups.setdefault(n, set()).add(root((i, k)))
    for group in groups.values():
        joins += len(group) - 1
    return round(joins * min(p.options.bridge_cost, p.options.jumper_cost), 6)


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
        views = [_View.of(problem, virtual_board(request.board, along), loose) for along in ("x", "y")]
    except PlacerError as error:
        return Outcome(None, error.diagnostics, proved_impossible=True)
    if on_progress is not None:
        on_progress(Progress(0.0, "getting ready (the first run after installation compiles)", None, None, None, 0.0))
    compile_kernels()
    views[0].anneal(Annealer(views[0].arrays, 0, lambda: False), CHUNKS, HOT, None)  # compiles what is left
    return _Run(request, problem, views, judge, on_progress, stop or threading.Event()).outcome()


@dataclass(frozen=True)
class _View:
    """A virtual board's problem, and what the compiled search needs to know of the real one.

    ``to_real`` and ``from_real``: hole numbers; ``group``, ``strip`` and ``neighbour``: see
    :mod:`placer.solve.spans`.
    """

    arrays: Arrays
    to_real: tuple[int, ...]
    from_real: tuple[int, ...]
    group: Ints
    strip: Ints
    neighbour: Ints
    cap: float

    @classmethod
    def of(cls, real: Problem, board: Board, options: Options) -> _View:
        """The view of a problem by way of a virtual board."""
        p = build(real.circuit, board, options)
        number = {a: h for h, a in enumerate(real.addresses)}
        to_real = tuple(number[a] for a in p.addresses)
        from_real = [0] * len(to_real)
        for h, r in enumerate(to_real):
            from_real[r] = h
        by_net: list[list[tuple[int, int]]] = [[] for _ in p.net_names]
        for i, item in enumerate(p.items):
            for k, n in enumerate(item.nets):
                by_net[n].append((i, k))
        flat = [pin for pins in by_net for pin in pins]
        group = {pin: t for t, pin in enumerate(flat)}
        for i, k, j, m in p.joins:
            old, new = group[i, k], group[j, m]
            group = {pin: new if g == old else g for pin, g in group.items()}
        around = ((1, 0), (-1, 0), (0, 1), (0, -1))
        beside = [p.hole(int(x) + dx, int(y) + dy) for x, y in zip(p.hx, p.hy, strict=True) for dx, dy in around]
        step = real.options.bridge_cost
        # A jumper ends in pads of its own, a bridge away from the pins.
        cap = (real.options.jumper_cost + 2 * step) / step if step > 0 else 1e6
        return cls(
            Arrays(p),
            to_real,
            tuple(from_real),
            np.array([group[pin] for pin in flat], np.int64),
            np.array([real.hstrip[r] for r in to_real], np.int64),
            np.array(beside, np.int64),
            max(1.0, cap),
        )

    def real(self, places: Places) -> Places:
        """Places in the real problem's numbers. Shapes are numbered alike: both boards have the same holes."""
        return tuple((shape, self.to_real[anchor]) for shape, anchor in places)

    def anneal(self, stream: Annealer, proposals: int, hot: float, start: Places | None) -> list[Places]:
        """One run from places (of the real problem), or from a fresh start; the best places it came by, best last."""
        state: State | None
        if start is None:
            state = stream.start()
        else:
            state = stream.resume(tuple((shape, self.from_real[anchor]) for shape, anchor in start))
        if state is None:
            return []
        arrays = self.arrays
        span = np.zeros(len(arrays.problem.net_names))
        shape, anchor = np.zeros(arrays.n_items, np.int64), np.zeros(arrays.n_items, np.int64)
        found: list[Places] = []
        best = math.inf
        size = max(1, proposals // CHUNKS)
        tables = (self.group, self.strip, self.neighbour, span, shape, anchor)
        for c in range(CHUNKS):
            if stream.stopped():
                break
            before, t = best, c / CHUNKS
            seed = int(stream.rng.integers(2**31))
            heat = hot * (COLD / hot) ** t, hot * (COLD / hot) ** (t + 1 / CHUNKS)
            penalty = LOOSE + (STRICT - LOOSE) * t
            best = anneal_spans(arrays.world, *state, size, *heat, seed, self.cap, *tables, penalty, best)
            if best < before:
                found.append(self.real(arrays.places(shape, anchor)))
        return found[-KEPT:]


class _Run:
    def __init__(
        self,
        request: Request,
        problem: Problem,
        views: list[_View],
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
        self.places: Places | None = None
        self.rank = (math.inf, math.inf)
        self.first_seconds: float | None = None
        self.phases: list[dict[str, Any]] = []
        self.routed: set[Places] = set()

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
            if places is not None:
                self._offer(places, route(self.problem, self.copper, places), "start")
        workers = max(1, request.workers)
        streams = [
            [Annealer(view.arrays, request.seed * 7919 + 2 * k + v, self.stopped) for v, view in enumerate(self.views)]
            for k in range(workers)
        ]
        with ThreadPoolExecutor(workers) as pool:
            round_no = 0
            while not self.stopped() and (request.effort is None or round_no < request.effort):
                started, rank = self.seconds, self.rank
                jobs = [pool.submit(self._work, streams[k], round_no, k) for k in range(workers)]
                for job in jobs:
                    for places, routing in job.result():
                        self._offer(places, routing, "placing and bridging")
                self.phases.append(
                    {
                        "phase": "placing and bridging",
                        "round": round_no,
                        "seconds": round(self.seconds - started, 3),
                        "cost": None if self.best is None else self.best.score.cost,
                        "bound": self.bound,
                        "improved": self.rank < rank,
                    }
                )
                if self.rank[0] <= self.bound + 1e-9:
                    break
                round_no += 1
        interrupted = self.stop.is_set()
        if self.best is None:
            return Outcome(None, (self._why_none(),), interrupted=interrupted)
        info = solve_info(self.seconds, request.seed, request.workers, self.phases, self.first_seconds)
        return Outcome(replace(self.best, solve=info), interrupted=interrupted)

    def _work(self, streams: list[Annealer], round_no: int, worker: int) -> list[tuple[Places, Routing]]:
        """One worker's share of a round: an annealing run, and the routing of what it found."""
        number = round_no + worker
        view, stream = self.views[number % len(self.views)], streams[number % len(self.views)]
        proposals = FIRST_PROPOSALS
        if round_no > 0:
            items = max(10, len(self.problem.items))
            proposals = PROPOSALS_AN_ITEM * items * RUN_LENGTHS[round_no % len(RUN_LENGTHS)]
        # Every other run begins from the best plan so far, at less heat.
        start = self.places if number % 4 in (2, 3) else None
        found = []
        for places in view.anneal(stream, proposals, HOT if start is None else WARM, start):
            if places not in self.routed and (not self.stopped() or self.best is None):
                routing = route(self.problem, self.copper, places, self.rank[0])
                if routing is not None:
                    found.append((places, routing))
        return found

    def _offer(self, places: Places, routing: Routing | None, phase: str) -> None:
        self.routed.add(places)
        if routing is None:
            return
        rank = routing.cost, round(routing.length, 6)
        if rank >= self.rank:
            return
        plan = self._plan(places, routing)
        if self.judge(plan):
            return
        self.best, self.places, self.rank = plan, places, rank
        if self.first_seconds is None:
            self.first_seconds = self.seconds
        if self.on_progress is not None:
            score = plan.score
            self.on_progress(Progress(self.seconds, phase, score.cost, score.jumpers, score.cuts, self.bound))

    def _plan(self, places: Places, routing: Routing) -> Plan:
        p, request = self.problem, self.request
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
            score=Score(len(jumpers), 0, wire_mm, routing.cost, len(bridges)),
            proof=Proof("optimal" if gap == 0 else "feasible", round(routing.cost - gap, 6), gap, SCOPE),
            solve=solve_info(self.seconds, request.seed, request.workers, (), None),
            options=request.options,
            bridges=bridges,
        )

    def _why_none(self) -> Diagnostic:
        return Diagnostic(
            "no-plan-found",
            f"no legal plan was found on board {self.problem.board.name} in {self.seconds:.0f} s; whether one exists is "
            "not known",
            "Give it more time (--time), a larger board (--board), or relax placement wishes.",
        )
