"""Bounds and proofs, one task after another: each does a fixed amount of work and is reproducible."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from placer.solve.arrays import Places
from placer.solve.frame import frame, pick_anchor
from placer.solve.problem import Problem
from placer.solve.relax import StripModel

WINDOW = 6


@dataclass(frozen=True)
class Finding:
    """What a task found: a bound of the cost, and perhaps places that are worth offering."""

    phase: str
    bound: float
    places: Places | None = None
    impossible: bool = False


Task = Callable[[float], Finding]
"""A task takes the best cost known when its round begins (infinity without a plan)."""


def tasks(p: Problem, stopped: Callable[[], bool], seed: int) -> Iterator[tuple[str, Task]]:
    """The tasks for a problem, cheap ones first."""
    if any(p.severable(s) for s in range(len(p.slen))):
        return
    yield "near strips", lambda best: _strips(p, WINDOW, 6.0, best, stopped, seed)
    yield "all strips", lambda best: _strips(p, None, 30.0, best, stopped, seed)


def _most_jumpers(p: Problem, best: float) -> int | None:
    if math.isinf(best) or p.options.jumper_cost <= 0:
        return None
    return math.floor(best / p.options.jumper_cost + 1e-9)


def _strips(
    p: Problem, window: int | None, work: float, best: float, stopped: Callable[[], bool], seed: int
) -> Finding:
    name = "all strips" if window is None else "near strips"
    seen = frame(p, pick_anchor(p), window)
    if seen is None:
        return Finding(name, 0.0)
    bound = StripModel(p, seen, _most_jumpers(p, best)).solve(work, stopped, seed)
    if bound.jumpers >= 1 << 30:
        return Finding(name, 0.0, impossible=True)
    return Finding(name, bound.jumpers * p.options.jumper_cost)
