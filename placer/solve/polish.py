"""Polishing a plan at equal cost: what is liked is kept, wires become shorter, at last the rectangle smaller.

Moves of single parts and rounds that take a few away and put them back take turns, for each leads out of what the other
is stuck in; all workers begin a step from the same plan, and the best of what they find is where the next begins.
"""

from __future__ import annotations

import itertools
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from placer.solve import layout
from placer.solve.anneal import CHUNK, KEPT, Annealer
from placer.solve.arrays import Arrays, Places
from placer.solve.exchange import exchanges
from placer.solve.rebuilder import Rounds, State
from placer.solve.store import Store
from placer.solve.tighten import leads_area, tighten

COLD, PENALTY = 0.03, 4.0
LIKING = 0.4  # what a weight of 1 counts for, of what is liked and broken, against a jumper of 1
TIGHTEN_PROPOSALS, TIGHTEN_SHARE = 400_000, 0.2  # without a clock; of the time
TIGHT_HOT, TIGHT_COLD = 0.3, 0.02
TIGHT_LENGTH, AREA_WEIGHT = 0.5, 0.04  # a step of wire outweighs a row of holes
TIGHT_LIKING = 2.0  # and a habit that is broken both


@dataclass(frozen=True)
class Step:
    """A run from the best plan on. ``length``: the weight of a step of wire; ``chunks`` of rounds or of moves."""

    rebuilds: bool
    hot: float
    length: float
    chunks: int = 50
    liking: float = LIKING


FULL_ITEMS, LEAST_SHARE = 20, 0.2  # with fewer items there is less to look for
# No one pair of temperature and weight is best for all plans, so each has its turn.
STEPS = (
    Step(True, 0.3, 0.15, 60),
    Step(False, 0.3, 0.06),
    Step(True, 0.3, 0.06, 60),
    Step(False, 0.5, 0.15),
    Step(True, 0.15, 0.06, 60),
)
# Before them, where there is something to like.
LIKING_STEPS = (
    Step(False, 0.8, 0.02, 50, 0.7),
    Step(False, 0.5, 0.03, 50, 1.0),
    Step(False, 0.7, 0.03, 50, 0.5),
    Step(True, 0.5, 0.02, 60, 0.5),
    Step(True, 0.8, 0.02, 60, 0.7),
)


class Polisher:
    """One worker's polishing. The same problem, seed and sequence of calls give the same results."""

    def __init__(self, arrays: Arrays, seed: int, stopped: Callable[[], bool]) -> None:
        self.arrays, self.stopped = arrays, stopped
        self._annealer = Annealer(arrays, seed, stopped)

    def shorter(self, step: Step, places: Places) -> list[Places]:
        """What a step finds from places on, each better than the one before."""
        annealer = self._annealer
        annealer.base[layout.LENGTH], annealer.base[layout.LIKED] = step.length, 1e-3 * step.liking
        state = annealer.resume(places)
        if state is None or not self.arrays.world[layout.N_MOVABLE]:
            return []
        if step.rebuilds:
            return list(self._rebuilt(state, step))
        runs = annealer.run(state, step.chunks * CHUNK, hot=step.hot, cold=COLD, penalty=PENALTY)
        return [found.places for found in runs]

    def _rebuilt(self, state: State, step: Step) -> Iterator[Places]:
        rounds = Rounds(self.arrays, self._annealer.weights(PENALTY), self._annealer.seed)
        for places in rounds.chunks(state, step.chunks, step.hot, COLD):
            if places is not None:
                yield places
            if self.stopped():
                return

    def tighter(self, proposals: int, places: Places) -> list[Places]:
        """Look for a smaller rectangle of board at no more jumpers, cuts and wire; each better than the one before."""
        state = self._annealer.resume(places)
        if state is None or not self.arrays.world[layout.N_MOVABLE]:
            return []
        return list(self.tighter_from(state, places, proposals))

    def tighter_from(self, state: State, places: Places, proposals: int) -> Iterator[Places]:
        """The same from a state with every item in its place."""
        weight = self._annealer.weights(PENALTY)
        weight[layout.LENGTH], weight[layout.LIKED] = TIGHT_LENGTH, 1e-3 * TIGHT_LIKING
        f = state[1]
        cost = sum(f[term] * weight[term] for term in (layout.JUMPERS, layout.CUTS, layout.RAISED))
        best = np.array([leads_area(self.arrays.problem, places), cost, f[layout.LENGTH], f[layout.LIKED]])
        shape, anchor = np.zeros(self.arrays.n_items, np.int64), np.zeros(self.arrays.n_items, np.int64)
        chunks = max(1, -(-proposals // CHUNK))
        for c in range(chunks):
            if self.stopped():
                return
            hot, cold = (TIGHT_HOT * (TIGHT_COLD / TIGHT_HOT) ** (k / chunks) for k in (c, c + 1))
            before = best[0]
            tighten(
                self.arrays.world,
                *state,
                min(CHUNK, proposals),
                hot,
                cold,
                AREA_WEIGHT,
                weight,
                self._annealer.seed(),
                shape,
                anchor,
                best,
            )
            if best[0] < before:
                yield self.arrays.places(shape, anchor)


def polish(store: Store, seed: int, workers: int, stopped: Callable[[], bool], last: float | None) -> None:
    """Polish the best plan of a store, and offer what comes of it.

    ``last``: when (on the monotonic clock) it ends; until then it goes on. Without it the work is fixed, so that the
    same plan comes to the same.
    """
    liked = bool(store.problem.preferred)
    arrays = Arrays(store.problem, liked=liked)
    polishers = [Polisher(arrays, seed * 7919 + k, stopped) for k in range(workers)]
    usual = _fitted(STEPS, len(store.problem.items))
    first = (*_fitted(LIKING_STEPS, len(store.problem.items)), *usual) if liked else usual
    steps = first if last is None else itertools.chain(first, itertools.cycle(usual))
    began = time.monotonic()
    with ThreadPoolExecutor(workers) as pool:
        _exchange(store)
        for step in steps:
            if stopped() or (last is not None and time.monotonic() - began > (1 - TIGHTEN_SHARE) * (last - began)):
                break
            _offer(store, pool, [partial(polisher.shorter, step) for polisher in polishers], "polishing")
        _exchange(store)
        if not stopped():
            _offer(store, pool, [partial(polisher.tighter, TIGHTEN_PROPOSALS) for polisher in polishers], "tightening")


def _fitted(steps: tuple[Step, ...], items: int) -> tuple[Step, ...]:
    """The steps, shorter for few items."""
    share = max(LEAST_SHARE, min(1.0, items / FULL_ITEMS))
    return tuple(replace(step, chunks=max(1, round(share * step.chunks))) for step in steps)


def _exchange(store: Store) -> None:
    """Exchange strips as long as that is better liked."""
    better = True
    while better:
        places = store.places
        assert places is not None  # noqa: S101 - who polishes has a plan
        better = any(store.offer(other, "polishing") for other in exchanges(store.problem, places))


def _offer(store: Store, pool: Executor, ways: Iterable[Callable[[Places], list[Places]]], phase: str) -> None:
    """All from the best plan; of what each finds, the last few, for not all can be wired."""
    places = store.places
    assert places is not None  # noqa: S101 - who polishes has a plan
    for job in [pool.submit(way, places) for way in ways]:
        for found in job.result()[: -KEPT - 1 : -1]:
            if store.offer(found, phase):
                break
