"""What the ways to cheaper plans near the best one have in common."""

from __future__ import annotations

import random
from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence

from placer.solve.arrays import Places


class NearBest(ABC):
    """A way to better plans, as :class:`placer.solve.prover.Way`. It proves nothing: ``bound`` is what it was told.

    ``start``: places that should be a cheaper plan; wishes of several parts may still stand against it. ``seed``: of
    what is left to chance.
    """

    def __init__(self, stopped: Callable[[], bool], seed: int) -> None:
        self.stopped = stopped
        self.bound = 0
        self.ended: str | None = None
        self.places: Places | None = None
        self.start: Places | None = None
        self._rng = random.Random(seed)  # noqa: S311 - chance, no secret
        self._best: Places | None = None
        self._others: Sequence[Places] = ()

    @property
    @abstractmethod
    def work(self) -> float:
        """About how many seconds have gone into it, those of the theory left out."""

    @property
    def ready(self) -> bool:
        """True when there is a plan to begin from."""
        return self._best is not None

    def told(self, best: Places | None, bound: int, others: Sequence[Places] = ()) -> None:
        """Take word of the best plan, near which cheaper ones are looked for, and of the bound (units).

        ``others``: states that other runs of the search have come to.
        """
        self.bound = bound
        self._others = others
        if best is not None and best != self._best and self._begin_from(best):
            self._best = best

    @abstractmethod
    def _begin_from(self, best: Places) -> bool:
        """Take a new best plan as what to begin from; False where it cannot be wired."""
