"""What a run of annealing comes to is rebuilt: a few items are taken away and put back, as it suits the board.

On lines that may be cut in the order in which all stand along them, on strips that are not cut place by place.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from placer.solve import layout
from placer.solve.arrays import Arrays, Places
from placer.solve.found import Found
from placer.solve.layout import Floats, Ints
from placer.solve.lineup import CHUNK, Lineup, can_line_up
from placer.solve.putback import put_back

HOT, COLD = 0.8, 0.2

State = tuple[Ints, Floats]


class Rebuilder:
    """The rounds of a stream. ``resume``: as :meth:`placer.solve.anneal.Annealer.resume`.

    ``penalties``: the terms that a legal state has none of; ``weights``: of all terms, while there is rebuilding.
    """

    def __init__(
        self, arrays: Arrays, resume: Callable[..., State | None], weights: Floats, penalties: tuple[int, ...]
    ) -> None:
        self.arrays, self.resume, self.weights, self.penalties = arrays, resume, weights, penalties
        self.lined = can_line_up(arrays.problem)
        self._lineup: Lineup | None = None
        self._least = math.inf  # that counts
        self._refused = False

    def refuse(self) -> None:
        """What was handed on last is no plan: others as dear may be handed on."""
        self._least, self._refused = math.inf, True

    def chunks(
        self, start: Found, count: int, seed: Callable[[], int], stop_cost: Callable[[], float]
    ) -> Iterator[Found | None]:
        """So many chunks of rounds from a state on; after each a cheaper one than all before, or None."""
        steps = self._in_order(start, count, seed) if self.lined else self._by_places(start, count, seed, stop_cost)
        self._least, self._refused = start.cost, False
        for found in steps:
            better = found is not None and found.cost < self._least - 1e-9
            if found is not None and better:
                self._least = found.cost
            yield found if better else None

    def _in_order(self, start: Found, count: int, seed: Callable[[], int]) -> Iterator[Found | None]:
        self._lineup = self._lineup or Lineup(self.arrays.problem)
        for places in self._lineup.rebuilt(self._lineup.state(start.places), count * CHUNK, HOT, COLD, seed):
            found = None if places is None else self._as_found(places)
            yield found
            self._lineup.refused = self._refused or (places is not None and found is None)
            self._refused = False

    def _as_found(self, places: Places) -> Found | None:
        """Places as a legal state; None where they are none.

        Lone holes between two nets may count for both, as they may when wires are laid.
        """
        state = self.resume(places, lenient=True)
        if state is None or state[1][list(self.penalties)].max() > 0.5:
            return None
        f, terms = state[1], [layout.JUMPERS, layout.CUTS]
        return Found(float(f[terms] @ self.weights[terms]), float(f[layout.LENGTH]), places)

    def _by_places(
        self, start: Found, count: int, seed: Callable[[], int], stop_cost: Callable[[], float]
    ) -> Iterator[Found | None]:
        state = self.resume(start.places)
        if state is None or not self.arrays.world[layout.N_MOVABLE]:
            return
        rounds = Rounds(self.arrays, self.weights, seed, stop_cost)
        for places in rounds.chunks(state, count, HOT, COLD):
            yield None if places is None else Found(float(rounds.best[0]), float(rounds.best[1]), places)
            if self._refused:
                rounds.best[:], self._refused = 1e18, False


def _never() -> float:
    return -1.0


class Rounds:
    """Rounds place by place. ``best``: cost, wire in steps and what is disliked of the best legal state so far."""

    def __init__(
        self,
        arrays: Arrays,
        weights: Floats,
        seed: Callable[[], int],
        stop_cost: Callable[[], float] = _never,
    ) -> None:
        self.arrays, self.weights, self.seed, self.stop_cost = arrays, weights, seed, stop_cost
        self.best = np.full(3, 1e18)

    def chunks(self, state: State, count: int, hot: float, cold: float) -> Iterator[Places | None]:
        """So many chunks from a state on, ever colder; after each the best so far, or None where that is no news."""
        n, best = self.arrays.n_items, self.best
        shape, anchor = np.zeros(n, np.int64), np.zeros(n, np.int64)
        for c in range(count):
            t0, t1 = (hot * (cold / hot) ** (k / count) for k in (c, c + 1))
            before = best.copy()
            stop_cost = self.stop_cost()
            put_back(
                self.arrays.world, *state, CHUNK, t0, t1, self.weights, self.seed(), shape, anchor, best, stop_cost
            )
            yield self.arrays.places(shape, anchor) if (best != before).any() else None
