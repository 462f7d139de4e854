"""How parts lie on lines of holes: where each begins and ends on every level, and how far apart two of them stand.

A level is a line of holes (even numbers, twice that of the line) or half-way between two (odd numbers).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from placer.packages.model import STEP_UM
from placer.solve.abreast import central, middle
from placer.solve.arrays import covered
from placer.solve.frame import Frame
from placer.solve.shapes import Box, Shape
from placer.solve.touching import touches

Key = tuple[int, ...]
"""The strips that an item's pins are on."""


@dataclass(frozen=True)
class Edge:
    """Where a part ends on a level, um from its outermost pin on that side: its body, its pins, and the last one's net.

    ``body`` and ``pin`` are None where it has none there.
    """

    body: int | None
    pin: int | None
    net: int


@dataclass(frozen=True)
class Stance:
    """A shape on a set of strips.

    ``line``: that of the first pin; ``first``, ``last``: columns that its leftmost pin may take; ``width``: columns
    from there to the rightmost one; ``lead``: from the first pin to the leftmost one. ``levels``: left and right edge.
    """

    key: Key
    shape: int
    line: int
    first: int
    last: int
    lead: int
    width: int
    levels: dict[int, tuple[Edge, Edge]]


def apart(left: Edge, right: Edge, gap: int) -> int:
    """Columns from the rightmost pin of a part to the leftmost of the next one, at least.

    ``gap``: from pin to pin of different nets. ``left``: where the first one ends; ``right``: where the next begins.
    """
    reach = [
        -(-(one - two) // STEP_UM)
        for one, two in ((left.body, right.body), (left.body, right.pin), (left.pin, right.body))
        if one is not None and two is not None
    ]
    if left.pin is not None and right.pin is not None:
        reach.append((left.pin - right.pin) // STEP_UM + (1 if left.net == right.net else gap))
    return max(reach)


class Stances:
    """The stances of all items in a frame whose lines are strips. ``along``: 0 where they run in x, 1 in y.

    ``line_of[strip]``: its line. ``gap``: columns between pins of different nets on one line, at least.
    """

    def __init__(self, frame: Frame, along: int, line_of: Mapping[int, int], gap: int) -> None:
        self.p, self.frame, self.along, self.line_of, self.gap = frame.p, frame, along, line_of, gap
        self._known: dict[tuple[int, bool], dict[Key, list[Stance]]] = {}
        self._across: dict[int, int] = {}
        self._points: dict[tuple[int, int], tuple[float, list[Box]]] = {}
        self._alike: dict[tuple[int, int], tuple[int, ...]] = {}
        self._known_between: dict[tuple[int, ...], int | None] = {}
        self._known_shifts: dict[tuple[int, ...], list[int]] = {}
        self._known_astray: dict[tuple[int, ...], list[int]] = {}

    def of(self, i: int) -> dict[Key, list[Stance]]:
        """For each set of strips of an item, the ways to lie on them."""
        what = (self.p.like[i], i == self.frame.anchor)
        if what not in self._known:
            p, frame, item = self.p, self.frame, self.p.items[i]
            at = p.hy - p.y0 if self.along else p.hx - p.x0
            found: dict[Key, list[Stance]] = {}
            for no, shape in enumerate(item.shapes):
                if not len(item.ways[no]):
                    continue
                levels = self._levels(shape)
                pins = [o[self.along] - shape.offsets[0][self.along] for o in shape.offsets]
                lead, width = min(pins), max(pins) - min(pins)
                first, last = int(at[item.ways[no]].min()) + lead, int(at[item.ways[no]].max()) + lead
                for key in frame.sets_of(i, no):
                    line = self.line_of[key[0]]
                    there = {2 * line + level: edges for level, edges in levels.items()}
                    found.setdefault(key, []).append(Stance(key, no, line, first, last, lead, width, there))
            self._known[what] = found
        return self._known[what]

    def _levels(self, shape: Shape) -> dict[int, tuple[Edge, Edge]]:
        """Levels, counted from that of the first pin -> where the shape begins and ends; nets as numbers of pins."""
        along, across = self.along, 1 - self.along
        bodies: dict[int, list[int]] = {}
        for box in central(shape, along):
            for level in range(2 * box[across] // STEP_UM + 1, -(-2 * box[2 + across] // STEP_UM)):
                # On a line of holes a body that hides none of them may stand between two pins.
                if level % 2 or box[along] // STEP_UM + 1 < -(-box[2 + along] // STEP_UM):
                    bodies.setdefault(level, []).extend((box[along], box[2 + along]))
        pins: dict[int, list[tuple[int, int]]] = {}
        for k, o in enumerate(shape.offsets):
            pins.setdefault(2 * o[across], []).append((o[along] * STEP_UM, k))
        start = 2 * shape.offsets[0][across]
        columns = [o[along] * STEP_UM for o in shape.offsets]
        found = {}
        for level in bodies.keys() | pins.keys():
            ends = []
            for pick, outer in ((min, min(columns)), (max, max(columns))):
                pin, k = pick(pins[level]) if level in pins else (outer, -1)
                body = pick(bodies[level]) - outer if level in bodies else None
                ends.append(Edge(body, pin - outer if k >= 0 else None, k))
            found[level - start] = (ends[0], ends[1])
        return found

    def edge(self, i: int, edge: Edge) -> Edge:
        """An edge of an item's stance with the net of its pin."""
        return Edge(edge.body, edge.pin, self.p.items[i].nets[edge.net] if edge.net >= 0 else -1)

    def _pair(self, a: int, b: int) -> tuple[int, ...]:
        """The same for pairs of items that are alike, and have the same pins on one net."""
        if (a, b) not in self._alike:
            nets, others = self.p.items[a].nets, self.p.items[b].nets
            same = (x for k, n in enumerate(nets) for m, net in enumerate(others) if n == net for x in (k, m))
            self._alike[a, b] = (self.p.like[a], self.p.like[b], *same)
        return self._alike[a, b]

    def _levels_across(self, i: int) -> int:
        """The most levels that an item reaches to one side of its first pin."""
        like = self.p.like[i]
        if like not in self._across:
            stances = itertools.chain.from_iterable(self.of(i).values())
            self._across[like] = max((abs(level - 2 * s.line) for s in stances for level in s.levels), default=0)
        return self._across[like]

    def _point(self, i: int, stance: Stance) -> tuple[float, list[Box]]:
        """The point of an item that lies so, um from its first pin, and the boxes of its body around it."""
        what = (self.p.like[i], stance.shape)
        if what not in self._points:
            shape = self.p.items[i].shapes[stance.shape]
            self._points[what] = middle(shape, self.along), central(shape, self.along)
        return self._points[what]

    def between(self, a: int, one: Stance, b: int, two: Stance) -> int | None:
        """Columns between the leftmost pins of an item and one after it, at least; None where they do not meet."""
        return self._between(a, one, b, two, two.line - one.line)

    def _between(self, a: int, one: Stance, b: int, two: Stance, shift: int) -> int | None:
        """The same for these shapes with the first pins so many lines apart, wherever the stances are."""
        what = (one.shape, two.shape, shift, *self._pair(a, b))
        if what not in self._known_between:
            self._known_between[what] = self._measured(a, one, b, two, shift)
        return self._known_between[what]

    def _measured(self, a: int, one: Stance, b: int, two: Stance, shift: int) -> int | None:
        along = self.along
        away = 2 * (two.line - one.line - shift)
        reach = [
            one.width + apart(self.edge(a, edges[1]), self.edge(b, two.levels[level + away][0]), self.gap)
            for level, edges in one.levels.items()
            if level + away in two.levels
        ]
        across = shift * STEP_UM
        for box, other in itertools.product(self._point(a, one)[1], self._point(b, two)[1]):
            low, high = other[1 - along] + across, other[3 - along] + across
            if box[1 - along] < high and low < box[3 - along]:
                reach.append(-(-(box[2 + along] - other[along]) // STEP_UM) + two.lead - one.lead)
        return max(reach, default=None)

    def astray(self, a: int, one: Stance, b: int, two: Stance) -> list[int]:
        """Columns from the leftmost pin of an item to that of another where their points do not tell which comes first.

        The two do not touch there, nor are pins of different nets on one line nearer than they may be; in ascending
        order. There are none for shapes that keep order.
        """
        return self._astray(a, one, b, two, two.line - one.line)

    def shifts_astray(self, a: int, one: Stance, b: int, two: Stance) -> list[int]:
        """How many lines from the first pin of an item to that of another there may be where two shapes are astray."""
        what = (one.shape, two.shape, *self._pair(a, b))
        if what not in self._known_shifts:
            most = (self._levels_across(a) + self._levels_across(b)) // 2 + 1
            shifts = range(-most, most + 1)
            self._known_shifts[what] = [shift for shift in shifts if self._astray(a, one, b, two, shift)]
        return self._known_shifts[what]

    def _astray(self, a: int, one: Stance, b: int, two: Stance, shift: int) -> list[int]:
        what = (one.shape, two.shape, shift, *self._pair(a, b))
        if what not in self._known_astray:
            self._known_astray[what] = self._measured_astray(a, one, b, two, shift)
        return self._known_astray[what]

    def _measured_astray(self, a: int, one: Stance, b: int, two: Stance, shift: int) -> list[int]:
        forth, back = self._between(a, one, b, two, shift), self._between(b, two, a, one, -shift)
        if forth is None or back is None:
            return []
        first, second = (self._point(i, lies)[0] - lies.lead * STEP_UM for i, lies in ((a, one), (b, two)))
        most = max(abs(forth), abs(back), math.ceil(abs(first - second) / STEP_UM)) + 1
        found = []
        for columns in range(-most, most + 1):
            beyond = columns * STEP_UM + second - first
            in_order = (beyond > 0 and columns >= forth) or (beyond < 0 and -columns >= back)
            if not in_order and not self._meet(a, one, b, two, (columns - two.lead + one.lead, shift)):
                found.append(columns)
        return found

    def _meet(self, a: int, one: Stance, b: int, two: Stance, step: tuple[int, int]) -> bool:
        """Two items, the first pin of the second so far from that of the first, cannot stand so.

        ``step``: columns and lines.
        """
        items = self.p.items
        shape, other = items[a].shapes[one.shape], items[b].shapes[two.shape]
        dx, dy = step[::-1] if self.along else step
        pins = dict(zip(shape.offsets, items[a].nets, strict=True))
        moved = {(x + dx, y + dy): n for (x, y), n in zip(other.offsets, items[b].nets, strict=True)}
        hidden = {(x + dx, y + dy) for x, y in covered(other)}
        if hidden & pins.keys() or moved.keys() & (pins.keys() | set(covered(shape))) or touches(shape, other, dx, dy):
            return True
        return any(
            o[1 - self.along] == q[1 - self.along] and n != m and abs(o[self.along] - q[self.along]) < self.gap
            for (o, n), (q, m) in itertools.product(pins.items(), moved.items())
        )

    def covered(self, i: int, stance: Stance, column: int) -> Iterator[tuple[int, int, int]]:
        """Holes that an item takes, its leftmost pin in a column: line, column, the pin's net or -1 for its body."""
        item, along = self.p.items[i], self.along
        shape = item.shapes[stance.shape]
        column -= stance.lead  # of the first pin
        for o, n in zip(shape.offsets, item.nets, strict=True):
            yield stance.line + o[1 - along] - shape.offsets[0][1 - along], column + o[along], n
        for box in shape.boxes:
            lines = range(box[1 - along] // STEP_UM + 1, -(-box[3 - along] // STEP_UM))
            columns = range(box[along] // STEP_UM + 1, -(-box[2 + along] // STEP_UM))
            for line, c in itertools.product(lines, columns):
                yield stance.line + line, column + c, -1
