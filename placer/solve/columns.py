"""Columns of parts on long severable strips, as literals.

Every line of the board is one strip. Each part has columns in unary (``column >= c``), one for its leftmost and one for
its rightmost pin. Of two parts the one that stands before the other ends before that one begins, on each level: a line
of holes, or half-way between two.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from placer.packages.model import STEP_UM
from placer.solve.frame import Frame
from placer.solve.lines import lines_of
from placer.solve.prices import Prices
from placer.solve.segments import MOST_STATED, SegmentModel
from placer.solve.stances import Key, Stance, Stances
from placer.solve.strips import Bools

End = tuple[int, int, int]
"""A wire end: the pin that leads its segment, and which of the segment's it is."""

Node = int | End
"""An item, or a wire end."""

Outline = dict[tuple[int, int, int], list[tuple[int, int]]]
"""Level, side (0: where it begins), kind (0: body, 1: pin) -> how far a part may reach (um, outwards) and literals."""


def corners(
    right: list[tuple[int, int]], left: list[tuple[int, int]], *, pins: bool
) -> Iterator[tuple[int, tuple[int, ...]]]:
    """Columns from one part to the next, and the least reaches (literals) of the one and the other that take so many.

    ``pins``: both reaches are of pins, which cannot have the same hole.
    """
    below = [-10_000] * len(left)  # by the next smaller reach of the one
    for one, first in right:
        before = -10_000
        for at, (two, second) in enumerate(left):
            columns = (one + two) // STEP_UM + 1 if pins else -(-(one + two) // STEP_UM)
            if columns > max(before, below[at]):
                yield columns, (first, second)
            before = below[at] = columns


class ColumnModel(SegmentModel):
    """The clauses, as :class:`placer.solve.segments.SegmentModel` has them, and columns."""

    def __init__(
        self, frame: Frame, prices: Prices, shares: Bools, *, half: bool = False, most: int = MOST_STATED
    ) -> None:
        super().__init__(frame, prices, shares, half=half, most=most)
        lines = lines_of(self.p)
        assert lines is not None and self._holes  # noqa: S101, PT018 - see clauses()
        self._board = lines
        self._stances = Stances(frame, self._along, self._line_of, lines.gap)
        self._choice: dict[tuple[int, Key, int], list[int]] = {}
        self._at: dict[tuple[Node, bool], int] = {}  # the first of the literals "column >= 1", "column >= 2" ...
        self._outlines: dict[int, Outline] = {}
        self._wide: dict[int, set[int]] = {}
        self._paired: set[tuple[int, int]] = set()

    # Shapes on lines.

    def _lies(self, i: int, stance: Stance) -> list[int]:
        """Literals that hold when an item lies so; where several shapes go on the same strips one of them is chosen."""
        base = self._lies_on(i, stance.key)
        alike = self._stances.of(i)[stance.key]
        if len(alike) == 1:
            return base
        if (i, stance.key, stance.shape) not in self._choice:
            chosen = [self.sat.new() for _ in alike]
            self.sat.add([*(-lit for lit in base), *chosen])
            for lit, one in zip(chosen, alike, strict=True):
                self._choice[i, stance.key, one.shape] = [lit]
                offsets = self.p.items[i].shapes[one.shape].offsets
                for a, b in itertools.combinations(range(len(one.key)), 2):
                    if one.key[a] == one.key[b]:
                        turned = self._pin_before((i, a), (i, b))
                        first = offsets[a][self._along] < offsets[b][self._along]
                        self.sat.add([-lit, *(-x for x in base), turned if first else -turned])
        return self._choice[i, stance.key, stance.shape]

    def _possible(self, i: int) -> Iterator[Stance]:
        for key, alike in self._stances.of(i).items():
            if self._can_lie(i, key):
                yield from alike

    # Columns.

    def _from(self, node: Node, column: int, *, right: bool = False) -> int | bool:
        """Its leftmost pin (``right``: its rightmost) is in this column or a later one."""
        holes = self._board.holes
        if column <= 0 or column >= holes:
            return column <= 0
        widths = self._widths(node) if isinstance(node, int) else {0}
        right &= widths != {0}
        if (node, right) not in self._at:
            at = self._at[node, right] = self.sat.new_many(holes - 1)
            for c in range(at, at + holes - 2):
                self.sat.add([-(c + 1), c])
            if isinstance(node, int):
                self._tie(node, widths) if right else self._bound(node, at)
        return self._at[node, right] + column - 1

    def _widths(self, i: int) -> set[int]:
        if i not in self._wide:
            self._wide[i] = {stance.width for stance in self._possible(i)}
        return self._wide[i]

    def _bound(self, i: int, at: int) -> None:
        """The columns that an item's leftmost pin may take, as it lies."""
        for stance in self._possible(i):
            lies = [-lit for lit in self._lies(i, stance)]
            if stance.first > 0:
                self.sat.add([*lies, at + stance.first - 1])
            if stance.last < self._board.holes - 1:
                self.sat.add([*lies, -(at + stance.last)])

    def _tie(self, i: int, widths: set[int]) -> None:
        """An item's rightmost pin is as far from its leftmost as it is wide."""
        for width in sorted(widths):
            wide = self.sat.any_of(self._lies(i, s) for s in self._possible(i) if s.width == width)
            for c in range(self._board.holes):
                left, right = self._from(i, c), self._from(i, c + width, right=True)
                self._imply([-wide], left, right)
                self._imply([-wide], right, left)

    def _imply(self, unless: Sequence[int], one: int | bool, other: int | bool) -> None:
        """Where the one holds, so does the other."""
        if one is not False and other is not True:
            there = [] if one is True else [-one]
            self.sat.add([*unless, *there, *([] if other is False else [other])])

    def _distance(self, unless: Sequence[int], first: Node, second: Node, columns: int) -> None:
        """The leftmost pin of the second is so many columns beyond the rightmost of the first at least."""
        for c in range(self._board.holes):
            low, high = self._from(first, c, right=True), self._from(second, c + columns)
            self._imply(unless, low, high)
            if high is False:
                return

    def _outline(self, i: int) -> Outline:
        """Literals that hold at least where an item reaches so far, on a level and side, with its body or a pin."""
        if i not in self._outlines:
            sat = self.sat
            found: Outline = {}
            reach: dict[tuple[int, int, int], dict[int, list[Stance]]] = {}
            for stance in self._possible(i):
                for level, both in stance.levels.items():
                    for side, edge in enumerate(both):
                        for kind, at in enumerate((edge.body, edge.pin)):
                            if at is not None:
                                values = reach.setdefault((level, side, kind), {})
                                values.setdefault(at if side else -at, []).append(stance)
            for what, values in reach.items():
                chain = found[what] = []
                for value in sorted(values):
                    lit = sat.new()
                    if chain:
                        sat.add([-lit, chain[-1][1]])
                    chain.append((value, lit))
                    for stance in values[value]:
                        sat.add([lit, *(-x for x in self._lies(i, stance))])
            self._outlines[i] = found
        return self._outlines[i]

    def _pair_up(self, i: int, j: int) -> None:
        """Whichever of two items stands before the other ends before it begins."""
        self._paired.add((i, j))
        loose = self._astray(i, j)
        for a, b in ((i, j), (j, i)):
            ends, begins = self._outline(a), self._outline(b)
            ways: dict[int, list[tuple[int, ...]]] = {}
            for level, one, two in itertools.product(sorted({what[0] for what in ends}), (0, 1), (0, 1)):
                right, left = ends.get((level, 1, one), []), begins.get((level, 0, two), [])
                for columns, lits in corners(right, left, pins=one == two == 1):
                    ways.setdefault(columns, []).append(lits)
            self._far(ways, [-self._before(a, b), *loose], a, b)

    def _far(self, ways: dict[int, list[tuple[int, ...]]], unless: list[int], a: Node, b: Node) -> None:
        """Where all literals of a way hold, the second node is so many columns beyond the first."""
        for columns in sorted(ways):
            self._distance([-self.sat.any_of(ways[columns]), *unless], a, b, columns)
