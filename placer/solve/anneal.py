"""Annealing runs on the compiled kernel, in reproducible portions of work."""

from __future__ import annotations

import itertools
import time
from collections.abc import Callable, Iterator

import numpy as np

from placer.solve import kernel, layout
from placer.solve.arrays import Arrays, Places
from placer.solve.found import Found
from placer.solve.kinds import kinds_of
from placer.solve.layout import Floats, Ints
from placer.solve.lineup import CHUNK as REBUILD_CHUNK
from placer.solve.mixing import are_mixed
from placer.solve.problem import Problem
from placer.solve.rebuilder import Rebuilder, State

CHUNK = 6000  # proposals between looks at the clock; some tens of milliseconds
T_HOT, T_COLD = 0.8, 0.1
SEARCH_LENGTH = 0.02  # weight of a step of wire against a jumper of 1
RUN_PROPOSALS_AN_ITEM = 20_000
LONGEST_RUN = 4_000_000
# What a run comes to is rebuilt, for longer each time, and then settles.
ROUNDS_AN_ITEM, MOST_ROUNDS_AN_ITEM = 300, 2_400
# Where plans of several runs are mixed many are better than a few good ones, but with many parts they must be good.
MOST_ROUNDS_TO_MIX, ROUNDS_A_SQUARE = 800, 30  # an item; or these times the number of items, where that is more
SETTLE_PROPOSALS_AN_ITEM, SETTLE_HOT = 1_500, 0.15
# The first state of all is mended with penalties that grow by and by, jumpers and cuts counting little.
MENDINGS, MENDING, MEND_TRIES = 4, 24, 400  # how often, chunks, places for an item that is in the way
MEND_HOT, MEND_COLD = 0.35, 0.1
STRICT, LAX, GROWTH, CAP = 2.0, 0.25, 1.08, 8.0
GENTLE = 4  # chunks after which mending is forced
PENALTIES = (layout.SHORTS, layout.OVERLAPS, layout.WIRELESS, layout.DEFICIT, layout.WISHES)
START_TRIES = (120, 600)  # an item, of a start state; more where that does not do
BUSY = 0.7  # of the time, about; others have turns as well
TIMED = 20  # chunks after which their own speed counts
KEPT = 3  # states that a portion of the search hands on
MOST_ENDS = 24  # of runs
ITEMS_AT_HALF_SPEED = 200
MOST_PROPOSALS_A_SECOND = 1_300_000


def proposals_a_second(p: Problem) -> int:
    """About how many moves of the local search take as long as a second of the proof's work."""
    return round(MOST_PROPOSALS_A_SECOND / (1 + len(p.items) / ITEMS_AT_HALF_SPEED))


class Annealer:
    """One worker's stream of runs. The same problem, seed and sequence of calls give the same results.

    ``last``: when (on the monotonic clock) the search ends: the runs then share what time is left. Without it they
    have a fixed length each. ``ends``: the best states of the runs so far, the cheapest of them.
    """

    def __init__(self, arrays: Arrays, seed: int, stopped: Callable[[], bool], last: float | None = None) -> None:
        self.arrays = arrays
        self.rng = np.random.default_rng(seed)
        self.stopped = stopped
        self.last = last
        self.chunks = 0  # so many have been done
        self._timed, self._busy = 0, 0.0  # of the chunks of its runs, how many took how many seconds
        self.penalty = 1.0
        self.runs = 0
        self.ends: tuple[Found, ...] = ()
        p = arrays.problem
        self._rounds = ROUNDS_AN_ITEM * len(p.items)
        self._search: Iterator[Found | None] | None = None
        self._stop_cost = -1.0
        self._best: Found | None = None
        self._refused = False
        self._no_plan: Found | None = None
        self._lenient = arrays.world.copy()
        self._lenient[layout.LENIENT] = 1
        options = arrays.problem.options
        self.base = np.zeros(layout.OLD_TOTALS)
        self.base[layout.JUMPERS], self.base[layout.CUTS] = options.jumper_cost, options.cut_cost
        self.base[layout.LENGTH], self.base[layout.RAISED] = SEARCH_LENGTH, 1e-3
        self._rebuilder = Rebuilder(arrays, self.resume, self.weights(STRICT), PENALTIES)
        self._kinds = kinds_of(p, lined=self._rebuilder.lined)
        n = len(p.items)
        most = min(MOST_ROUNDS_AN_ITEM, max(MOST_ROUNDS_TO_MIX, ROUNDS_A_SQUARE * n))
        self._most_rounds = n * (most if are_mixed(p) else MOST_ROUNDS_AN_ITEM)

    def seed(self) -> int:
        """The next of this stream's."""
        return int(self.rng.integers(2**31))

    def weights(self, penalty: float) -> Floats:
        """The weight of each total, with penalties as high as that."""
        weight = self.base.copy()
        weight[layout.SHORTS] = 1.5 * penalty
        weight[layout.OVERLAPS] = penalty
        weight[layout.WIRELESS] = penalty
        weight[layout.DEFICIT] = 0.5 * penalty
        weight[layout.WISHES] = penalty
        return weight

    def order(self) -> list[int]:
        """An order to place the items in: most-pinned first, then those that share most nets with what is placed."""
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
        return order

    def start(self, *, lenient: bool = False) -> State | None:
        """Construct a first state; None when an item finds no empty holes. ``lenient``: as :meth:`resume`."""
        order = np.array(self.order(), np.int64)
        none = np.zeros(self.arrays.n_items, np.int64)
        for tries in START_TRIES:
            state = self.arrays.empty()
            weights, seed = self.weights(2.0), self.seed()
            if kernel.construct(self._world(lenient), *state, order, tries, none, none, weights, seed):
                return state
        return None

    def _world(self, lenient: bool) -> Ints:
        return self._lenient if lenient else self.arrays.world

    def resume(self, places: Places, *, lenient: bool = False) -> State | None:
        """A state with every item at a given place.

        ``lenient``: a lone hole between two nets counts for both, which it may when the wires are laid, or not.
        """
        state = self.arrays.empty()
        shape = np.array([s + self.arrays.item_shape[i] for i, (s, _) in enumerate(places)], np.int64)
        anchor = np.array([a for _, a in places], np.int64)
        order = np.arange(self.arrays.n_items, dtype=np.int64)
        if not kernel.construct(self._world(lenient), *state, order, 0, shape, anchor, self.weights(6.0), 0):
            return None
        return state

    def advance(self, proposals: int, stop_cost: float) -> list[Found]:
        """Go on with the search for so many proposals: run after run, long ones in several calls.

        Returns the last few legal states, each better than the one before; ends early at the first of all, and at one
        that costs ``stop_cost``.
        """
        if self._search is None:
            self._search = self._runs()
        self._stop_cost = stop_cost
        found: list[Found] = []
        for _ in range(max(1, -(-proposals // CHUNK))):
            if self.stopped():
                break
            fresh = self._best is None
            better = next(self._search)
            self.chunks += 1
            if better is not None:
                # A run that begins in this portion begins dear: what the one before came to must not be lost.
                if not found or (better.cost, better.length) < (found[-1].cost, found[-1].length):
                    found.append(better)
                if fresh or better.cost <= stop_cost + 1e-9:
                    break
        return found[-KEPT:]

    def _runs(self) -> Iterator[Found | None]:
        """Endless: yields once for each chunk of proposals."""
        n = self.arrays.n_items
        unit = min(LONGEST_RUN, RUN_PROPOSALS_AN_ITEM * max(10, n))
        for turn in itertools.count():
            if self.stopped():
                yield None  # runs that are stopped at once yield nothing
            if self._best is None:
                for found in self._first(lenient=turn % 2 == 1):
                    self._note(found)
                    yield found
            hot, length, lenient, then = self._kinds[turn % len(self._kinds)]
            best = self._best
            again = best is not None and hot > 0
            state = (
                self.resume(best.places, lenient=lenient) if best is not None and again else self.start(lenient=lenient)
            )
            for _ in range(0 if again else START_TRIES[0] * n // CHUNK + (state is None)):
                yield None
            if state is None:
                continue
            last: Found | None = None
            end: Found | None = None
            length_here = self._fitted(round(unit * length))
            for found in self._chunks(state, length_here, hot if again else T_HOT, lenient=lenient):
                self._note(found)
                yield found
                last = end = found or last
            if then and last is not None and last is not self._no_plan and last.cost > self._stop_cost + 1e-9:
                for found in self._rebuilt(last):
                    self._note(found)
                    yield found
                    if found is not None and (end is None or end is self._no_plan or found.cost < end.cost):
                        end = found
            if end is not None and end is not self._no_plan:
                # The cheapest; of two as cheap, the later one.
                self.ends = tuple(sorted((end, *self.ends), key=lambda found: found.cost)[:MOST_ENDS])

    def _rebuilt(self, start: Found) -> Iterator[Found | None]:
        """Take a few items away and put them back, for longer each time; then let the whole settle."""
        n, best = self.arrays.n_items, start
        chunks = self._fitted(self._rounds * CHUNK // REBUILD_CHUNK) // CHUNK
        self._rounds = min(self._most_rounds, 2 * self._rounds)
        self._refused = False
        for found in self._rebuilder.chunks(start, chunks, self.seed, lambda: self._stop_cost):
            yield found
            if self._refused:
                self._rebuilder.refuse()
                self._refused, best = False, start
            elif found is not None:
                best = found
                if found.cost <= self._stop_cost + 1e-9:
                    return
            if self.stopped():
                return
        state = self.resume(best.places)
        if state is not None:
            yield from self._chunks(state, SETTLE_PROPOSALS_AN_ITEM * n, SETTLE_HOT, T_COLD, penalty=STRICT)

    def _fitted(self, proposals: int) -> int:
        """About so many proposals, such that the last run of all ends cold when the time is up."""
        if self.last is None:
            return proposals
        known = self._timed >= TIMED
        rate = CHUNK * self._timed / self._busy if known else proposals_a_second(self.arrays.problem)
        left = BUSY * (self.last - time.monotonic()) * rate
        return max(CHUNK, round(left / max(1, round(left / proposals))))

    @property
    def best(self) -> Found | None:
        """The best legal state so far, of this stream or of those it was told of."""
        return self._best

    def take(self, found: Found) -> None:
        """Take word of a state that another stream has found: runs that begin from the best begin from it."""
        self._note(found)

    def refuse(self, found: Found) -> None:
        """Take word that a state that was found is no plan after all."""
        self._refused, self._no_plan = True, found
        if self._best is found:
            self._best = None

    def _note(self, found: Found | None) -> None:
        if found is not None and (
            self._best is None or (found.cost, found.length) < (self._best.cost, self._best.length)
        ):
            self._best = found

    def _first(self, *, lenient: bool) -> Iterator[Found | None]:
        """A start that is mended at a low temperature, its penalties growing until it is legal."""
        state = self.start(lenient=lenient)
        n = self.arrays.n_items
        for _ in range(START_TRIES[0] * n // CHUNK + (state is None)):
            yield None
        if state is None:
            return
        least = self.weights(STRICT)
        least[[layout.JUMPERS, layout.CUTS, layout.LENGTH, layout.RAISED]] *= LAX
        weight = least.copy()
        shape, anchor = np.zeros(n, np.int64), np.zeros(n, np.int64)
        best = np.array([1e18, 1e18, 1e18])
        w, cycle = self._world(lenient), max(min(MENDING, 2 * n), n // 8)
        for c in range(MENDINGS * cycle):
            heat = MEND_HOT * (MEND_COLD / MEND_HOT) ** (c % cycle / cycle)
            kernel.search(w, *state, CHUNK, heat, heat, weight, self.seed(), shape, anchor, best, 1e17)
            if best[0] < 1e17:
                yield Found(float(best[0]) / LAX, float(best[1]), self.arrays.places(shape, anchor))
                return
            yield None
            if w[layout.N_MOVABLE] == 0:
                return
            if c % 4 == 3:
                kernel.mend(w, *state, MEND_TRIES, weight, self.seed(), force=c % cycle >= GENTLE)
            for term in PENALTIES:
                if state[1][term] > 0.5:
                    weight[term] = min(CAP * least[term], GROWTH * weight[term])
            if c % cycle == cycle - 1:
                weight = least.copy()

    def _mended(
        self, w: Ints, state: State, weight: Floats, shape: Ints, anchor: Ints, best: Floats
    ) -> Iterator[Found | None]:
        """The end of a run that is cheap but not legal: it stays cold, and penalties grow until it is, or dear.

        With many parts there is nearly always some short or overlap left.
        """
        f = state[1]
        for c in range(max(MENDING, self.arrays.n_items // 4)):
            wrong = [term for term in PENALTIES if f[term] > 0.5]
            cost = sum(f[term] * weight[term] for term in (layout.JUMPERS, layout.CUTS, layout.RAISED))
            if not wrong or cost > best[0] - 1e-9 or self.stopped():
                return
            for term in wrong:
                weight[term] = min(CAP * STRICT, GROWTH * max(STRICT, weight[term]))
            if c % 4 == 0:
                kernel.mend(w, *state, MEND_TRIES, weight, self.seed(), force=c >= GENTLE)
            before = best[0]
            kernel.search(w, *state, CHUNK, T_COLD, T_COLD, weight, self.seed(), shape, anchor, best, self._stop_cost)
            better = best[0] < before
            yield Found(float(best[0]), float(best[1]), self.arrays.places(shape, anchor)) if better else None

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
        *,
        lenient: bool = False,
    ) -> Iterator[Found | None]:
        """Anneal a state in chunks; yields a better legal state, or None, after each.

        Penalties adapt to what stays violated. Of the search's own runs every other one looks at jumpers and cuts
        alone, and after one that ends without a legal state the next starts stricter.
        """
        w = self._world(lenient)
        own = penalty is None
        least = self.weights(self.penalty if penalty is None else penalty)
        if own:
            least[layout.LENGTH] *= self.runs % 2 == 0
            self.runs += 1
        weight = least.copy()
        best = np.array([1e18, 1e18, 1e18])
        shape, anchor = np.zeros(self.arrays.n_items, np.int64), np.zeros(self.arrays.n_items, np.int64)
        chunks = max(1, -(-proposals // CHUNK))
        for c in range(chunks):
            if self.stopped():
                return
            t0 = hot * (cold / hot) ** (c / chunks)
            t1 = hot * (cold / hot) ** ((c + 1) / chunks)
            before = best.copy()
            began = time.monotonic()
            kernel.search(w, *state, CHUNK, t0, t1, weight, self.seed(), shape, anchor, best, self._stop_cost)
            self._timed, self._busy = self._timed + 1, self._busy + time.monotonic() - began
            found = None
            if (best != before).any():
                found = Found(float(best[0]), float(best[1]), self.arrays.places(shape, anchor))
            yield found
            if self._refused:
                best[:] = 1e18  # a state that cannot be wired must not stand in the way of others as cheap
                self._refused = False
            if found is not None and best[0] <= self._stop_cost + 1e-9:
                return
            if c > chunks // 4:
                for term, cap in ((2, 18.0), (3, 12.0), (4, 12.0), (5, 6.0), (6, 12.0)):
                    if state[1][term] > 0.5:
                        weight[term] = min(cap, 1.08 * weight[term])
                    else:
                        weight[term] = max(least[term], weight[term] / 1.03)
        if own:
            yield from self._mended(w, state, weight, shape, anchor, best)
            self.penalty = 1.0 if best[0] < 1e17 else min(4.0, 2 * self.penalty)
