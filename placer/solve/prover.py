"""Bounds and proofs of one problem, a portion of work at a time."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from placer.solve.arrange import lines_of
from placer.solve.arrays import Places
from placer.solve.cluster import LONG
from placer.solve.cores import BUILT, IMPOSSIBLE, Cores, Theory
from placer.solve.cutproof import CutTheory
from placer.solve.frame import Frame, Stopped, frame, pick_anchor, turns_upside_down
from placer.solve.prices import Prices
from placer.solve.problem import Problem
from placer.solve.sharing import SharingTheory
from placer.solve.strips import StripModel


@dataclass(frozen=True)
class Finding:
    """What a portion of work came to.

    ``bound``: no plan costs less. ``places``: worth offering; they may turn out to be no plan. ``impossible``: no plan
    can be. ``ended``: nothing more will come. ``work``: about how many seconds of work it took.
    """

    bound: float
    places: Places | None = None
    impossible: bool = False
    ended: bool = False
    work: float = 0.0


class Prover:
    """The proofs of a problem. The same portions, asked for in the same order, give the same findings.

    ``seed``: where the random parts of the exact searches begin. ``stopped``: asked often; True gives up.
    """

    def __init__(self, p: Problem, seed: int, stopped: Stopped) -> None:
        self.p, self.seed, self.stopped = p, seed, stopped
        self._prices = Prices.of(p.options.jumper_cost, p.options.cut_cost)
        self._cores: Cores | None = None
        self._steps: Iterator[None] | None = None
        self._ended = p.options.jumper_cost <= 0

    def advance(self, work: float, best: float) -> Finding:
        """Go on for about so many seconds of work. ``best``: the cost of the best plan known, infinity without one."""
        if self._ended:
            return Finding(0.0, ended=True)
        if self._cores is None:
            self._begin()
        assert self._cores is not None and self._steps is not None  # noqa: S101, PT018 - just begun
        cores, began, start = self._cores, self._cores.work, self._cores.start
        while cores.ended is None and cores.work - began < work and self._cost(cores.bound) < best - 1e-9:
            if self.stopped() or next(self._steps, self) is self:
                break
        places = cores.places if cores.ended == BUILT else cores.start if cores.start is not start else None
        impossible = cores.ended == IMPOSSIBLE
        self._ended = cores.ended is not None or self._cost(cores.bound) >= best - 1e-9
        bound = 0.0 if impossible else self._cost(cores.bound)
        return Finding(bound, places, impossible, self._ended, cores.work - began)

    def _cost(self, units: int) -> float:
        """The least cost that whole jumpers and cuts can make of so many units or more."""
        return self._prices.cost(self._prices.attainable(units)) if units else 0.0

    def _begin(self) -> None:
        p = self.p
        seen = frame(p, pick_anchor(p), self.stopped)
        if seen is None:
            seen = frame(p, pick_anchor(p))
        assert seen is not None  # noqa: S101 - nobody stops it
        theory, short = theory_of(p, seen, self.stopped, self.seed)
        model = StripModel(seen, self._prices, short, half=turns_upside_down(p))
        self._cores = Cores(model, theory)
        self._steps = self._cores.run()


def theory_of(p: Problem, seen: Frame, stopped: Stopped, seed: int) -> tuple[Theory | None, np.ndarray]:
    """Who can tell what can be built on this board, and on which strips of the frame sharing counts.

    None where some strips may be severed and the board is more than lines of equal length.
    """
    if not any(p.severable(s) for s in range(len(p.slen))):
        return SharingTheory(p, seen, stopped), seen.room <= LONG
    lines = lines_of(p)
    every = np.ones(seen.n_strips, dtype=bool)
    return (None if lines is None else CutTheory(p, lines, stopped, seed)), every


def impossible(p: Problem, work: float, stopped: Stopped) -> bool:
    """True when the nets cannot be kept apart on the board at any cost, as far as so much work tells."""
    return Prover(p, 1, stopped).advance(work, math.inf).impossible
