"""What the clauses propose for long strips, made to fit: the search by order goes on from it where columns are short.

The clauses learn of columns only what has been broken; a proposal that is cheap but too long is often not far from a
plan as cheap, or is one of a kind that no run has come to.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence

from placer.solve.arrays import Places
from placer.solve.legal import is_legal
from placer.solve.lineup import Lineup
from placer.solve.problem import Problem

ROUNDS_AN_ITEM = 100
HOT, COLD = 0.3, 0.1
SECONDS_A_ROUND = 5e-5  # about


class Refit:
    """Makes proposals fit. ``work``: about how many seconds have gone into it."""

    def __init__(self, p: Problem, seed: int) -> None:
        self.p = p
        self.work = 0.0
        self._lineup = Lineup(p)
        self._rng = random.Random(seed)  # noqa: S311 - chance, no secret

    def fit(self, lie: Mapping[int, tuple[int, int]], order: Sequence[int]) -> Places | None:
        """The cheapest legal places found near such an order (see :meth:`placer.solve.lineup.Lineup.ordered`)."""
        state = self._lineup.ordered(lie, order)
        if state is None:
            return None
        rounds = ROUNDS_AN_ITEM * len(self.p.items)
        self.work += SECONDS_A_ROUND * rounds
        found = None
        for better in self._lineup.rebuilt(state, rounds, HOT, COLD, lambda: self._rng.randrange(2**31)):
            found = better or found
        return found if found is not None and is_legal(self.p, found) else None
