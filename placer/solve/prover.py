"""Bounds and proofs, one task after another: each does a fixed amount of work and is reproducible."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from placer.solve.arrange import Lines, lines_of
from placer.solve.arrays import Arrays, Places
from placer.solve.cutproof import IMPOSSIBLE, CutProof
from placer.solve.frame import frame, pick_anchor
from placer.solve.problem import Problem
from placer.solve.relax import StripModel
from placer.solve.segments import Prices, SegmentModel
from placer.solve.sharing import BUILT, REFUTED, STUCK, SharingProof

WINDOW = 6
SHARES_WORK = 5.0


@dataclass(frozen=True)
class Finding:
    """What a task found: a bound of the cost, and perhaps places that are worth offering."""

    phase: str
    bound: float
    places: Places | None = None
    impossible: bool = False


Task = Callable[[float, float], Finding]
"""A task takes the best cost (infinity without a plan) and the bound known when its round begins."""


def tasks(p: Problem, stopped: Callable[[], bool], seed: int) -> Iterator[tuple[str, Task]]:
    """The tasks for a problem, cheap ones first."""
    if p.options.jumper_cost <= 0:
        return
    if any(p.severable(s) for s in range(len(p.slen))):
        yield from _severed(p, stopped, seed)
        return
    yield "near strips", lambda best, _: _strips(p, WINDOW, 3.0, best, stopped, seed)
    yield "all strips", lambda best, _: _strips(p, None, 12.0, best, stopped, seed)
    shares = _Shares(p, stopped, seed)
    while not shares.ended:
        yield "shares", shares


def _severed(p: Problem, stopped: Callable[[], bool], seed: int) -> Iterator[tuple[str, Task]]:
    """The tasks where strips may be cut."""
    yield "near segments", lambda best, _: _segments(p, WINDOW, 1.5, best, stopped, seed)
    yield "all segments", lambda best, _: _segments(p, None, 4.0, best, stopped, seed)
    lines = lines_of(p)
    if lines is None:
        return
    cuts = _Cuts(p, lines, stopped, seed)
    while not cuts.ended:
        yield "arrangements", cuts


class _Cuts:
    """The proof on lines of severable strips, a portion of work at a time."""

    def __init__(self, p: Problem, lines: Lines, stopped: Callable[[], bool], seed: int) -> None:
        self.p, self.lines, self.stopped, self.seed = p, lines, stopped, seed
        self.prices = Prices.of(p.options.jumper_cost, p.options.cut_cost)
        self.proof: CutProof | None = None
        self.ended = False

    def __call__(self, best: float, bound: float) -> Finding:
        if self.proof is None:
            seen = frame(self.p, pick_anchor(self.p), None)
            assert seen is not None  # noqa: S101 - without a window there always is a frame
            arrays = Arrays(self.p, for_proof=True)
            self.proof = CutProof(self.p, arrays, seen, self.lines, self.prices, self.stopped, self.seed)
        prices = self.prices
        units = prices.attainable(prices.units(bound))
        limit = self.proof.work + SHARES_WORK
        while prices.cost(units) < best - 1e-9 and self.proof.work < limit:
            verdict, places = self.proof.decide(units, limit - self.proof.work)
            if verdict == REFUTED:
                units = prices.attainable(units + 1)
                continue
            if verdict == IMPOSSIBLE:
                return Finding("arrangements", 0.0, impossible=True)
            self.ended = verdict in (BUILT, STUCK)
            return Finding("arrangements", prices.cost(units), places)
        return Finding("arrangements", min(best, prices.cost(units)))


class _Shares:
    """The proof by shares, a portion of work at a time."""

    def __init__(self, p: Problem, stopped: Callable[[], bool], seed: int) -> None:
        self.p, self.stopped, self.seed = p, stopped, seed
        self.proof: SharingProof | None = None
        self.ended = False

    def __call__(self, best: float, bound: float) -> Finding:
        cost = self.p.options.jumper_cost
        if self.proof is None:
            seen = frame(self.p, pick_anchor(self.p), None)
            assert seen is not None  # noqa: S101 - without a window there always is a frame
            self.proof = SharingProof(self.p, Arrays(self.p, for_proof=True), seen, self.stopped, self.seed)
        jumpers = math.ceil(bound / cost - 1e-9)
        limit = self.proof.work + SHARES_WORK
        while jumpers * cost < best - 1e-9 and self.proof.work < limit:
            verdict, places = self.proof.decide(jumpers, limit - self.proof.work)
            if verdict == REFUTED:
                jumpers += 1
                continue
            self.ended = verdict in (BUILT, STUCK)
            return Finding("shares", jumpers * cost, places)
        return Finding("shares", jumpers * cost)


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


def _segments(
    p: Problem, window: int | None, work: float, best: float, stopped: Callable[[], bool], seed: int
) -> Finding:
    name = "all segments" if window is None else "near segments"
    seen = None if stopped() else frame(p, pick_anchor(p), window)
    if seen is None:
        return Finding(name, 0.0)
    prices = Prices.of(p.options.jumper_cost, p.options.cut_cost)
    most = None if math.isinf(best) else prices.units(best)
    model = SegmentModel(p, seen, prices, most, stopped)
    if model.unfinished:
        return Finding(name, 0.0)
    bound, _ = model.solve(work, stopped, seed)
    if bound < 0:
        # With a plan in hand, "none at all" means none as cheap.
        return Finding(name, 0.0, impossible=True) if most is None else Finding(name, best)
    return Finding(name, prices.cost(prices.attainable(bound)))
