"""Pairs of parts on long strips that one order does not put in order: one has a hole to spare between its pins.

A lead, or a narrow body, may stand in that hole. Which order the two points have then does not tell whose pins come
first. Such a pair *strays*, which is a literal: clauses about its order do not hold then, but it stands as one of few
distances from each other allow, which is stated as soon as a proposal has one astray.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import itemgetter

from placer.solve.abreast import Beside, spare_holes
from placer.solve.columns import ColumnModel
from placer.solve.frame import Frame
from placer.solve.prices import Prices
from placer.solve.segments import MOST_STATED
from placer.solve.stances import Stance
from placer.solve.strips import Bools


class StrayModel(ColumnModel):
    """The clauses, as :class:`placer.solve.columns.ColumnModel` has them, and how pairs stray."""

    def __init__(
        self, frame: Frame, prices: Prices, shares: Bools, *, half: bool = False, most: int = MOST_STATED
    ) -> None:
        super().__init__(frame, prices, shares, half=half, most=most)
        self._strays: dict[tuple[int, int], int | None] = {}
        self._told: set[tuple[int, ...]] = set()  # of which pairs (and shapes, shifts) it has been stated how they may
        self._named: dict[tuple[int, ...], int] = {}
        self._opens: dict[tuple[int, int], bool] = {}

    def _astray(self, i: int, j: int) -> list[int]:
        i, j = sorted((i, j))
        if (i, j) not in self._strays:
            loose = super()._astray(i, j)
            stray = self._strays[i, j] = self.sat.new() if loose else None
            if stray is not None:
                self.sat.add([-stray, *loose])
                self.sat.prefer([-stray])
        lit = self._strays[i, j]
        return [] if lit is None else [lit]

    def _stray(self, i: int, j: int) -> bool:
        """Two items (the first has the lower number) are astray in the last answer."""
        lit = self._strays.get((i, j))
        return lit is not None and self.sat.holds(lit)

    def _lead_back(self, stances: dict[int, Stance]) -> bool:
        """State how the pairs that are astray in the last answer may be; False where all of it was stated before."""
        fresh = False
        for i, j in [pair for pair in self._strays if self._stray(*pair)]:
            fresh |= self._tell(i, j, stances[i], stances[j])
        return fresh

    def _tell(self, i: int, j: int, one: Stance, other: Stance) -> bool:
        """State how two items may stray; True where it is new for how they lie."""
        fresh = (i, j) not in self._told
        if fresh:
            self._told.add((i, j))
            self._tell_stances(i, j)
        what = (i, j, one.shape, other.shape, other.line - one.line)
        if what not in self._told:
            self._told.add(what)
            self._tell_columns(i, j, one, other, self._stances.astray(i, one, j, other))
            fresh = True
        return fresh

    def _tell_stances(self, i: int, j: int) -> None:
        """For each way that one of two items lies: the ways of the other in which they can be astray."""
        stray = self._strays[i, j]
        assert stray is not None  # noqa: S101 - it holds
        shapes: dict[int, Stance] = {}
        lying: dict[tuple[int, int], list[tuple[int, Stance]]] = {}
        for no, other in enumerate(self._possible(j)):
            shapes.setdefault(other.shape, other)
            lying.setdefault((other.shape, other.line), []).append((no, other))
        for one in list(self._possible(i)):
            ways = [
                way
                for shape, any_such in shapes.items()
                for shift in self._stances.shifts_astray(i, one, j, any_such)
                for way in lying.get((shape, one.line + shift), [])
            ]
            others = [self._is(j, other) for _, other in sorted(ways, key=itemgetter(0))]
            self.sat.add([-stray, *(-x for x in self._lies(i, one)), *others])

    def _is(self, i: int, stance: Stance) -> int:
        """A literal that holds only where an item lies so."""
        what = (i, stance.shape, *stance.key)
        if what not in self._named:
            self._named[what] = self.sat.new()
            # Of shapes on the same strips each has a literal that may be true elsewhere: the strips are named as well.
            for lit in {*self._lies_on(i, stance.key), *self._lies(i, stance)}:
                self.sat.add([-self._named[what], lit])
        return self._named[what]

    def _tell_columns(self, i: int, j: int, one: Stance, other: Stance, columns: Sequence[int]) -> None:
        """With these shapes, so many lines apart, the other's leftmost pin is one of these columns beyond the first's.

        Without any they are not astray so. Stated for all lines.
        """
        stray = self._strays[i, j]
        assert stray is not None  # noqa: S101 - it holds
        ones = {s.line: self._lies(i, s) for s in self._possible(i) if s.shape == one.shape}
        others = {s.line: self._lies(j, s) for s in self._possible(j) if s.shape == other.shape}
        shift = other.line - one.line
        so = self.sat.any_of((*lits, *others[at + shift]) for at, lits in ones.items() if at + shift in others)
        unless = [-stray, -so]
        if not columns:
            self.sat.add(unless)
            return
        for c in range(self._board.holes):
            self._imply(unless, self._from(i, c), self._from(j, c + columns[0]))
            self._imply(unless, self._from(j, c + columns[-1]), self._from(i, c))
        for between in sorted(set(range(columns[0], columns[-1])).difference(columns)):
            for c in range(max(0, -between), min(self._board.holes, self._board.holes - between)):
                self.sat.add([*unless, *self._elsewhere(i, c), *self._elsewhere(j, c + between)])

    def _elsewhere(self, i: int, column: int) -> list[int]:
        """Literals of which one holds where an item's leftmost pin is not in this column of the board."""
        here, beyond = self._from(i, column), self._from(i, column + 1)
        return [*([] if here is True else [-here]), *([] if beyond is False else [beyond])]

    def _stray_by(self, i: int, one: Stance, j: int, other: Stance) -> int | None:
        """How many columns the second of two items is beyond the first in the last answer; None where in order."""
        if not self._stray(i, j) or (i, False) not in self._at or (j, False) not in self._at:
            return None
        held = [sum(self.sat.holds(self._at[node, False] + c) for c in range(self._board.holes - 1)) for node in (i, j)]
        return held[1] - held[0] if held[1] - held[0] in self._stances.astray(i, one, j, other) else None

    def _open(self, j: int, n: int) -> list[int]:
        """Literals of which one holds where an item, as it lies, has room for a wire end of a net within its reach."""
        loose = self._loose(j)
        if loose is None:
            return []
        if (j, n) not in self._opens:
            item, gap = self.p.items[j], self._board.gap

            def fits(pin: Beside) -> bool:
                return pin is None or pin[1] >= gap or item.nets[pin[0]] == n

            spare = (hole for shape in item.shapes for hole in spare_holes(shape, self._along))
            self._opens[j, n] = any(fits(before) and fits(after) for before, after in spare)
        return [loose] if self._opens[j, n] else []
