"""Annealing runs on the compiled kernel, in reproducible portions of work."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from placer.solve import kernel, layout
from placer.solve.arrays import Arrays, Places
from placer.solve.layout import Floats, Ints
from placer.solve.tighten import pins_area, tighten
from placer.solve.wiring import wire

State = tuple[Ints, Floats]

CHUNK = 6000  # proposals between looks at the clock; some tens of milliseconds
T_HOT, T_COLD = 0.8, 0.1
SEARCH_LENGTH = 0.02  # weight of a step of wire against a jumper of 1
POLISH_COLD = 0.03
# Runs from a fresh start: short and long ones in turn, since no one length is best for all circuits.
RUN_PROPOSALS_AN_ITEM = 20_000
RUN_LENGTHS = (1, 2, 1, 6)
START_TRIES = (120, 600)  # an item, of a start state; more where that does not do
KEPT = 3  # states that a portion of the search hands on


@dataclass(frozen=True)
class Found:
    """A legal state: its cost in jumpers and cuts, and its places."""

    cost: float
    length: float
    places: Places


TIGHT_HOT, TIGHT_COLD = 0.3, 0.02
TIGHT_LENGTH, AREA_WEIGHT = 0.5, 0.04  # a step of wire outweighs a row of holes


class Annealer:
    """One worker's stream of runs. The same problem, seed and sequence of calls give the same results."""

    def __init__(self, arrays: Arrays, seed: int, stopped: Callable[[], bool]) -> None:
        self.arrays = arrays
        self.rng = np.random.default_rng(seed)
        self.stopped = stopped
        self.penalty = 1.0
        self.runs = 0
        self._search: Iterator[Found | None] | None = None
        self._stop_cost = -1.0
        options = arrays.problem.options
        self.base = np.array([options.jumper_cost, options.cut_cost, 0.0, 0.0, 0.0, 0.0, 0.0, SEARCH_LENGTH])

    def _seed(self) -> int:
        return int(self.rng.integers(2**31))

    def _weights(self, penalty: float) -> Floats:
        weight = self.base.copy()
        weight[layout.SHORTS] = 1.5 * penalty
        weight[layout.OVERLAPS] = penalty
        weight[layout.WIRELESS] = penalty
        weight[layout.DEFICIT] = 0.5 * penalty
        weight[layout.WISHES] = penalty
        return weight

    def start(self) -> State | None:
        """Construct a first state: most-pinned items first, then those that share most nets with what is placed."""
        n = self.arrays.n_items
        nets = [set(i.nets) for i in self.arrays.problem.items]
        freedom = [sum(len(x) for x in i.ways) for i in self.arrays.problem.items]
        degree = self.arrays.net_sizes
        order: list[int] = []
        seen: set[int] = set()
        left = set(range(n))
        while left:
            noise = self.rng.random(n)

            def rank(i: int, noise: Floats = noise, seen: set[int] = seen) -> tuple[float, ...]:
                pins = len(self.arrays.problem.items[i].pins)
                shared = sum(1.0 / degree[m] for m in nets[i] & seen if degree[m] > 1)
                return (freedom[i] > 40, -(pins > 3) * pins, -shared, noise[i])

            best = min(left, key=rank)
            order.append(best)
            seen |= nets[best]
            left.discard(best)
        for tries in START_TRIES:
            state = self.arrays.empty()
            if kernel.construct(self.arrays.world, *state, np.array(order), tries, self._weights(2.0), self._seed()):
                return state
        return None

    def resume(self, places: Places) -> State | None:
        """A state with every item at a given place."""
        state = self.arrays.empty()
        shape = np.array([s + self.arrays.item_shape[i] for i, (s, _) in enumerate(places)], np.int64)
        anchor = np.array([a for _, a in places], np.int64)
        if not kernel.load(self.arrays.world, *state, shape, anchor, self._weights(6.0)):
            return None
        return state

    def polish(self, places: Places, proposals: int, hot: float, length_weight: float) -> Iterator[Found]:
        """Look for shorter wires at the same jumpers and cuts, from a plan, at no more than a moderate temperature."""
        state = self.resume(places)
        if state is None:
            return
        self.base[layout.LENGTH] = length_weight
        try:
            yield from self.run(state, proposals, hot=hot, cold=POLISH_COLD, penalty=4.0)
        finally:
            self.base[layout.LENGTH] = SEARCH_LENGTH

    def tighten(self, places: Places, proposals: int) -> Iterator[Places]:
        """Look for a smaller rectangle of board at no more jumpers, cuts and wire; yields what is better on the way."""
        state = self.resume(places)
        if state is None or not self.arrays.world[layout.N_MOVABLE]:
            return
        weight = self._weights(4.0)
        weight[layout.LENGTH] = TIGHT_LENGTH
        f = state[1]
        cost = f[layout.JUMPERS] * weight[layout.JUMPERS] + f[layout.CUTS] * weight[layout.CUTS]
        best = np.array([pins_area(self.arrays.world, state[0]), cost, f[layout.LENGTH]])
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
                self._seed(),
                shape,
                anchor,
                best,
            )
            if best[0] < before:
                yield self.arrays.places(shape, anchor)

    def advance(self, proposals: int, stop_cost: float) -> list[Found]:
        """Go on with the search for so many proposals: run after run from a fresh start, long ones in several calls.

        Returns the last few legal states, each better than the one before; ends early at one that costs ``stop_cost``.
        """
        if self._search is None:
            self._search = self._runs()
        self._stop_cost = stop_cost
        found: list[Found] = []
        for _ in range(max(1, -(-proposals // CHUNK))):
            if self.stopped():
                break
            better = next(self._search)
            if better is not None:
                found.append(better)
                if better.cost <= stop_cost + 1e-9:
                    break
        return found[-KEPT:]

    def _runs(self) -> Iterator[Found | None]:
        """Endless: yields once for each chunk of proposals."""
        unit = RUN_PROPOSALS_AN_ITEM * max(10, self.arrays.n_items)
        while True:
            state = self.start()
            for _ in range(START_TRIES[0] * self.arrays.n_items // CHUNK + (state is None)):
                yield None
            if state is not None:
                yield from self._chunks(state, unit * RUN_LENGTHS[self.runs % len(RUN_LENGTHS)])

    def run(
        self,
        state: State,
        proposals: int,
        *,
        hot: float = T_HOT,
        cold: float = T_COLD,
        penalty: float | None = None,
        stop_cost: float = -1.0,
    ) -> Iterator[Found]:
        """Anneal a state; yields each better legal state. Without a ``penalty`` it is one of the search's own runs."""
        self._stop_cost = stop_cost
        for found in self._chunks(state, proposals, hot, cold, penalty):
            if found is not None:
                yield found

    def _chunks(
        self,
        state: State,
        proposals: int,
        hot: float = T_HOT,
        cold: float = T_COLD,
        penalty: float | None = None,
    ) -> Iterator[Found | None]:
        """Anneal a state in chunks; yields a better legal state, or None, after each.

        Penalties adapt to what stays violated. Of the search's own runs every other one looks at jumpers and cuts
        alone, and after one that ends without a legal state the next starts stricter.
        """
        w = self.arrays.world
        own = penalty is None
        least = self._weights(self.penalty if penalty is None else penalty)
        if own:
            least[layout.LENGTH] *= self.runs % 2 == 0
            self.runs += 1
        weight = least.copy()
        best = np.array([1e18, 1e18])
        shape, anchor = np.zeros(self.arrays.n_items, np.int64), np.zeros(self.arrays.n_items, np.int64)
        chunks = max(1, -(-proposals // CHUNK))
        for c in range(chunks):
            if self.stopped():
                return
            t0 = hot * (cold / hot) ** (c / chunks)
            t1 = hot * (cold / hot) ** ((c + 1) / chunks)
            before = best.copy()
            kernel.search(w, *state, CHUNK, t0, t1, weight, self._seed(), shape, anchor, best, self._stop_cost)
            found = None
            if best[0] < before[0] or best[1] < before[1]:
                places = self.arrays.places(shape, anchor)
                if wire(self.arrays.problem, places) is None:
                    best[:] = before  # a state that cannot be wired must not stand in the way of others as cheap
                else:
                    found = Found(float(best[0]), float(best[1]), places)
            yield found
            if found is not None and best[0] <= self._stop_cost + 1e-9:
                return
            if c > chunks // 4:
                for term, cap in ((2, 18.0), (3, 12.0), (4, 12.0), (5, 6.0), (6, 12.0)):
                    if state[1][term] > 0.5:
                        weight[term] = min(cap, 1.08 * weight[term])
                    else:
                        weight[term] = max(least[term], weight[term] / 1.03)
        if own:
            self.penalty = 1.0 if best[0] < 1e17 else min(4.0, 2 * self.penalty)
