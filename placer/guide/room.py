"""What room is left on a sheet: boxes that must stay clear, and boxes that had better stay clear.

A small hashed grid answers "what would this box cover" quickly enough to try thousands of places for a label.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from placer.guide.scene import Point

_CELL = 2.6


@dataclass(frozen=True)
class Box:
    """An upright rectangle on the sheet, mm."""

    x0: float
    y0: float
    x1: float
    y1: float

    @classmethod
    def about(cls, x: float, y: float, half_width: float, half_height: float | None = None) -> Box:
        """A box by its centre and half sizes."""
        half_height = half_width if half_height is None else half_height
        return cls(x - half_width, y - half_height, x + half_width, y + half_height)

    @classmethod
    def around(cls, points: Sequence[Point]) -> Box:
        """The smallest box that holds the points."""
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        return cls(min(xs), min(ys), max(xs), max(ys))

    @property
    def centre(self) -> Point:
        """The middle of the box."""
        return (self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2

    @property
    def width(self) -> float:
        """Extent in x."""
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        """Extent in y."""
        return self.y1 - self.y0

    def grown(self, by: float) -> Box:
        """The box with ``by`` mm more on each side."""
        return Box(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)

    def meets(self, other: Box) -> bool:
        """True when the two overlap with positive area."""
        return self.x0 < other.x1 and other.x0 < self.x1 and self.y0 < other.y1 and other.y0 < self.y1

    def holds(self, other: Box) -> bool:
        """True when ``other`` lies inside."""
        return self.x0 <= other.x0 and other.x1 <= self.x1 and self.y0 <= other.y0 and other.y1 <= self.y1

    def gap(self, other: Box) -> float:
        """Straight-line distance between the two, 0 when they touch."""
        dx = max(self.x0 - other.x1, other.x0 - self.x1, 0.0)
        dy = max(self.y0 - other.y1, other.y0 - self.y1, 0.0)
        return math.hypot(dx, dy)

    def nearest(self, x: float, y: float) -> Point:
        """The point of the box that is nearest to (x, y)."""
        return min(max(x, self.x0), self.x1), min(max(y, self.y0), self.y1)


@dataclass
class _Index:
    cells: dict[tuple[int, int], list[tuple[float, float, float, float, int]]] = field(default_factory=dict)
    boxes: list[tuple[str, str]] = field(default_factory=list)

    def add(self, box: Box, kind: str, owner: str) -> None:
        entry = (box.x0, box.y0, box.x1, box.y1, len(self.boxes))
        for x in range(math.floor(box.x0 / _CELL), math.floor(box.x1 / _CELL) + 1):
            for y in range(math.floor(box.y0 / _CELL), math.floor(box.y1 / _CELL) + 1):
                self.cells.setdefault((x, y), []).append(entry)
        self.boxes.append((kind, owner))

    def meeting(self, box: Box) -> list[tuple[str, str]]:
        """Kind and owner of every box that meets ``box``, in the order in which they were added.

        Most of the time that a drawing takes goes here, so the comparison of :meth:`Box.meets` is written out.
        """
        x0, y0, x1, y1 = box.x0, box.y0, box.x1, box.y1
        found = set()
        for x in range(math.floor(x0 / _CELL), math.floor(x1 / _CELL) + 1):
            for y in range(math.floor(y0 / _CELL), math.floor(y1 / _CELL) + 1):
                for left, top, right, bottom, index in self.cells.get((x, y), ()):
                    if left < x1 and x0 < right and top < y1 and y0 < bottom:
                        found.add(index)
        return [self.boxes[index] for index in sorted(found)]


def along(points: Sequence[Point], half: float, pitch: float = 0.4) -> list[Box]:
    """Small boxes strung along a line, as wide as twice ``half``."""
    boxes = []
    for (x0, y0), (x1, y1) in pairwise(points):
        count = max(1, math.ceil(math.hypot(x1 - x0, y1 - y0) / pitch))
        boxes += [Box.about(x0 + (x1 - x0) * i / count, y0 + (y1 - y0) * i / count, half) for i in range(count + 1)]
    return boxes


@dataclass
class Room:
    """The sheet's occupancy while labels are being placed. Only one drawing uses it, and only while it is made."""

    sheet: Box
    _hard: _Index = field(default_factory=_Index)
    _soft: _Index = field(default_factory=_Index)

    def block(self, box: Box, owner: str = "") -> None:
        """Nothing but its owner may cover this box from now on."""
        self._hard.add(box, "", owner)

    def block_line(self, points: Sequence[Point], half: float, owner: str = "") -> None:
        """Nothing but its owner may cover this line from now on."""
        for box in along(points, half):
            self.block(box, owner)

    def note(self, box: Box, kind: str, owner: str = "") -> None:
        """Covering this box is undesirable; how much depends on its kind."""
        self._soft.add(box, kind, owner)

    def note_line(self, points: Sequence[Point], half: float, kind: str, owner: str = "") -> None:
        """Covering this line is undesirable, each 0.4 mm of it."""
        for box in along(points, half):
            self.note(box, kind, owner)

    def free(self, box: Box, owner: str = "") -> bool:
        """True when the box lies on the sheet and covers nothing that another owner has blocked."""
        return self.sheet.holds(box) and self.blocked(box, owner) == 0

    def blocked(self, box: Box, owner: str = "") -> int:
        """How many blocked boxes of other owners the box covers."""
        return sum(not other or other != owner for _, other in self._hard.meeting(box))

    def price(self, box: Box, weights: Mapping[str, float], owner: str = "") -> float:
        """What covering this box costs ``owner``, by the weight of each kind of thing below it."""
        return sum(weights.get(kind, 0.0) for kind, other in self._soft.meeting(box) if not other or other != owner)
