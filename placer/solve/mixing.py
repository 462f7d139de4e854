"""Plans of several runs are mixed: what is true of none of some plans stays untrue, and what is true of all stays true.

What is true of a plan is told in facts: which pins share a strip or a segment, and which lie on a long strip. So little
is then left open that nearly all parts can be let go: what is good of one plan and of another are put together. Every
other time a few parts besides are let go altogether, and the others make room for them as in one plan or another.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable
from enum import Enum
from typing import Generic, TypeVar

from placer.solve.arrays import Places
from placer.solve.lineup import can_line_up
from placer.solve.problem import Problem

LEAST_MIXED, MOST_MIXED = 28, 99  # items on long strips
LEAST_PLANS = 2  # others, before they are mixed
MIXED = (2, 4, 8, 24)  # others that are mixed with the best one, at most

BESIDE = 0.5  # of the times that plans are mixed
FIRST_MIXED = 24  # items that are let go as in some plans, at first
LEAST_BESIDE, FIRST_BESIDE = 2, 6  # items besides that are let go altogether

Fact = TypeVar("Fact")


class Way(Enum):
    """How items that are let go may share: in any way, as in some plans, or so and a few besides in any way."""

    PLAIN = "plain"
    MIXED = "mixed"
    BESIDE = "beside"


def are_mixed(p: Problem) -> bool:
    """True where mixing does not wait until annealing finds no more, and runs are short so that there are many."""
    return LEAST_MIXED <= len(p.items) <= MOST_MIXED and can_line_up(p)


class Mixing(Generic[Fact]):
    """Facts of plans, and which of them are mixed. ``facts``: what is true of a plan; ``share``: of the work.

    ``spent``: the work that went into mixing (True) and into what is looked for otherwise (False).
    """

    def __init__(self, facts: Callable[[Places], frozenset[Fact]], rng: random.Random, share: float) -> None:
        self._facts, self._rng, self._share = facts, rng, share
        self._known: dict[Places, frozenset[Fact]] = {}
        self.spent = {False: 0.0, True: 0.0}

    def plans(self, best: Places, others: Iterable[Places]) -> list[Places]:
        """Those that are not the best one, each once; of plans that are no more among them nothing is kept."""
        plans = [plan for plan in dict.fromkeys(others) if plan != best]
        self._known = {plan: self._known[plan] for plan in (best, *plans) if plan in self._known}
        return plans

    def of(self, plan: Places) -> frozenset[Fact]:
        """What is true of a plan."""
        if plan not in self._known:
            self._known[plan] = self._facts(plan)
        return self._known[plan]

    def way(self, plans: list[Places]) -> Way:
        """Mixed where there are plans to mix, and mixing has had no more than its share of the work."""
        if len(plans) < LEAST_PLANS or self.spent[True] > self._share * self.spent[False]:
            return Way.PLAIN
        return Way.BESIDE if self._rng.random() < BESIDE else Way.MIXED

    def chosen(self, best: Places, plans: list[Places]) -> tuple[frozenset[Fact], frozenset[Fact]]:
        """What is true of the best plan and of all of some others, and what of any of them."""
        others = self._rng.sample(plans, min(len(plans), self._rng.choice(MIXED)))
        facts = [self.of(plan) for plan in (best, *others)]
        return facts[0].intersection(*facts[1:]), facts[0].union(*facts[1:])
