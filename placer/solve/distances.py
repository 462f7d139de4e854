"""Wishes about distances between parts, as clauses over their places: stated when a proposal breaks one."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence

from placer.solve.aims import AWAY, BOX, NEAR, Wish
from placer.solve.claims import Pin
from placer.solve.problem import Problem
from placer.solve.sat import Sat

Cell = tuple[int, int]
"""A hole of the frame: x, y."""
Where = tuple[int, int, int]
"""Shape, x and y of the first pin."""

KINDS = (NEAR, AWAY, BOX)


class Distances:
    """The clauses. ``places``: of each item, the literal of each place."""

    def __init__(self, p: Problem, sat: Sat, places: Sequence[Mapping[Where, int]]) -> None:
        self.p, self.sat, self.places = p, sat, places
        self._at: dict[tuple[Pin, int], dict[object, int]] = {}
        self._stated: set[tuple[object, ...]] = set()

    def state(self, wish: Wish, at: Mapping[Pin, Cell]) -> bool:
        """State that a wish is kept by the pins that break it, where they are; False where nothing is left to state."""
        if wish.kind == AWAY:
            a, b = min(itertools.product(wish.a, wish.b), key=lambda pair: _square(at[pair[0]], at[pair[1]]))
            return self._once((wish, a, b), lambda: self._away(a, b, wish.limit2))
        if wish.kind == BOX:
            axis = max((0, 1), key=lambda v: max(at[q][v] for q in wish.a) - min(at[q][v] for q in wish.a))
            a, b = (pick(wish.a, key=lambda q: at[q][axis]) for pick in (min, max))
            return self._once((wish, axis, min(a, b), max(a, b)), lambda: self._abreast(a, b, axis, wish.limit2))
        if len({i for i, _ in wish.a}) > 1:
            return False
        return self._once((wish,), lambda: self._near(wish))

    def _once(self, what: tuple[object, ...], state: Callable[[], None]) -> bool:
        if what in self._stated:
            return False
        self._stated.add(what)
        state()
        return True

    def _away(self, a: Pin, b: Pin, limit2: float) -> None:
        others = self._cells(b)
        for here, one in self._cells(a).items():
            self.sat.add_all([[-one, -other] for there, other in others.items() if _square(here, there) < limit2])

    def _abreast(self, a: Pin, b: Pin, axis: int, limit2: float) -> None:
        others = self._lines(b, axis)
        for here, one in self._lines(a, axis).items():
            self.sat.add_all([[-one, -other] for there, other in others.items() if (here - there) ** 2 > limit2])

    def _near(self, wish: Wish) -> None:
        """Wherever the one part stands, some pin is where it is near enough."""
        others = [(cell, lit) for pin in wish.b for cell, lit in self._cells(pin).items()]
        for place, lit in self.places[wish.a[0][0]].items():
            pins = [self.pin_at(place, pin) for pin in wish.a]
            near = [there for cell, there in others if any(_square(cell, pin) <= wish.limit2 for pin in pins)]
            self.sat.add([-lit, *near])

    def pin_at(self, place: Where, pin: Pin) -> Cell:
        """The hole of the frame that a pin is in."""
        no, x, y = place
        dx, dy = self.p.items[pin[0]].shapes[no].offsets[pin[1]]
        return x + dx, y + dy

    def _cells(self, pin: Pin) -> dict[Cell, int]:
        """For each hole a literal that holds where the pin is in it, and nowhere else."""
        return self._marks(pin, 2, lambda cell: cell)  # type: ignore[return-value]  # what marks are made of

    def _lines(self, pin: Pin, axis: int) -> dict[int, int]:
        """The same for each line across an axis."""
        return self._marks(pin, axis, lambda cell: cell[axis])  # type: ignore[return-value]  # as above

    def _marks(self, pin: Pin, kind: int, mark: Callable[[Cell], object]) -> dict[object, int]:
        if (pin, kind) not in self._at:
            by_mark: dict[object, list[int]] = {}
            for place, lit in self.places[pin[0]].items():
                by_mark.setdefault(mark(self.pin_at(place, pin)), []).append(lit)
            self._at[pin, kind] = {made: self._any(lits) for made, lits in by_mark.items()}
        return self._at[pin, kind]

    def _any(self, lits: Sequence[int]) -> int:
        either = self.sat.any_of((lit,) for lit in lits)
        self.sat.add([-either, *lits])
        return either


def _square(a: Cell, b: Cell) -> int:
    return (a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2
