"""Literals of empty strips that help to wire a net: where its own strips have too few holes free for its wires.

A tree of wires over k strips needs 2 (k - 1) free holes. An empty strip that is made part of it costs a jumper more,
and gives as many holes as it has, less the two that it needs itself.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

from placer.solve.frame import LONG, Frame
from placer.solve.proposal import Conflict
from placer.solve.sat import Sat


def holes_given(frame: Frame) -> int:
    """How many holes an empty strip gives at most; 0 where there are long strips, which always have enough."""
    longest = int(frame.room.max())
    return max(0, longest - 2) if longest <= LONG else 0


@dataclass
class Helpers:
    """``of[net]``: literals that hold where at least one, two, ... empty strips help; each costs ``price``."""

    sat: Sat
    costs: dict[int, int]
    price: int
    given: int  # as :func:`holes_given` has it
    of: dict[int, list[int]] = field(default_factory=dict)

    def state(self, n: int, pins: int = 0) -> list[int]:
        """The literals of a net of so many pins, which has as many strips at most, and a hole free on each."""
        if n not in self.of:
            most = max(1, -(-(pins - 2) // self.given)) if self.given else 1
            self.of[n] = [self.sat.new() for _ in range(most)]
            self.sat.add_all([[-more, less] for less, more in itertools.pairwise(self.of[n])])
            if self.price:
                self.costs.update(dict.fromkeys(self.of[n], self.price))
        return self.of[n]

    def any(self, n: int) -> int:
        """A literal that holds where an empty strip helps a net."""
        return self.state(n)[0]

    def held(self) -> dict[int, int]:
        """How many empty strips help in the last answer, of nets that any helps."""
        counts = {n: sum(self.sat.holds(lit) for lit in lits) for n, lits in self.of.items()}
        return {n: count for n, count in counts.items() if count}

    def denied(self, conflict: Conflict, *, for_good: bool) -> list[int | None]:
        """Literals that say that as few help as a conflict has it.

        Where it allows all that there are: None of what is said ``for_good``, for what more would do is not known, and
        else nothing. Nor is anything said where an empty strip has no more holes than it needs: none ever helps.
        """
        if not self.given:
            return []
        lits = ((self.of.get(n, []), j) for n, j in sorted(conflict.unhelped))
        return [-of[j] if j < len(of) else None for of, j in lits if for_good or j < len(of)]
