"""The best checked plan and the best bound so far: what the members of the search share."""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable

import numpy as np

from placer.plan.model import Plan
from placer.solve.api import Judge, Progress
from placer.solve.arrays import Places
from placer.solve.assemble import assemble, solve_info
from placer.solve.problem import Problem
from placer.solve.wiring import Wiring, wire

Rank = tuple[float, float, float, int]
"""Smaller is better: the cost in jumpers, cuts and broken wishes that count like them; the weights of what else is
wished for and not kept; the wire length in steps; the holes of the rectangle used."""


class Store:
    """Takes places, wires them, has them judged, and keeps the best. Safe to use from several threads."""

    def __init__(self, problem: Problem, judge: Judge, on_progress: Callable[[Progress], None] | None) -> None:
        self.problem = problem
        self.judge = judge
        self.on_progress = on_progress
        self.started = time.monotonic()
        self.bound = 0.0
        self.best: Plan | None = None
        self.places: Places | None = None
        self.rank: Rank = (math.inf, math.inf, math.inf, 0)
        self.first_seconds: float | None = None
        self.refused: list[object] = []
        self._lock = threading.Lock()

    @property
    def seconds(self) -> float:
        """Seconds since the search began."""
        return time.monotonic() - self.started

    @property
    def proved(self) -> bool:
        """True when the best plan's cost equals the bound."""
        return self.best is not None and self.rank[0] <= self.bound + 1e-9

    def offer(self, places: Places, phase: str) -> bool | None:
        """Wire and judge places: True when they are now the best plan, None when they are no plan at all."""
        wiring = wire(self.problem, places)
        if wiring is None:
            return None
        plan = assemble(self.problem, places, wiring, 0.0, solve_info(0, 0, 0, (), None))
        score = plan.score
        first = round(score.cost + score.raised, 6)
        rank = (first, score.broken, round(wiring.length, 6), area(self.problem, places, wiring))
        with self._lock:
            if rank >= self.rank:
                return False
        faults = self.judge(plan)
        if faults:
            self.refused.append(faults[0])
            return None
        with self._lock:
            if rank >= self.rank:
                return False
            self.best, self.places, self.rank = plan, places, rank
            if self.first_seconds is None:
                self.first_seconds = self.seconds
        self.report(phase)
        return True

    def raise_bound(self, bound: float, phase: str) -> None:
        """Record a proved lower bound of the cost."""
        with self._lock:
            if bound <= self.bound + 1e-9:
                return
            self.bound = bound
        self.report(phase)

    def report(self, phase: str) -> None:
        """Send a line of progress."""
        if self.on_progress is not None:
            best = self.best
            self.on_progress(
                Progress(
                    self.seconds,
                    phase,
                    None if best is None else best.score.cost,
                    None if best is None else best.score.jumpers,
                    None if best is None else best.score.cuts,
                    self.bound,
                )
            )


def area(problem: Problem, places: Places, wiring: Wiring) -> int:
    """Columns x rows of the smallest rectangle round all leads, wire ends and cuts."""
    p = problem
    used = {end for _, *ends in wiring.wires for end in ends}
    used |= set(wiring.drilled) | {h for pair in wiring.severed for h in pair}
    for item, (no, anchor) in zip(p.items, places, strict=True):
        used |= {p.hole(int(p.hx[anchor]) + dx, int(p.hy[anchor]) + dy) for dx, dy in item.shapes[no].offsets}
    holes = sorted(used)
    return int((np.ptp(p.hx[holes]) + 1) * (np.ptp(p.hy[holes]) + 1))
