"""Pictures taken from a finished drawing: a side of the board without the sheet around it, whole, in a step, in sheets.

The drawing stays what it is; a picture chooses what of it is shown.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from placer.guide import style
from placer.guide.ground import AXIS_MM
from placer.guide.marks import WORDS, Mark
from placer.guide.metrics import rise
from placer.guide.room import Box
from placer.guide.scene import Circle, Group, Item, Path, Pen, Scene, Text, Window, polyline, rectangle
from placer.guide.sheet import moved

NOW = "#009e73"  # bluish green of the palette of Okabe and Ito, 2008 (from memory): what this step is about
BEFORE = "#8f8f8f"
_RING_R = 1.3
_RING = Pen(0.45, NOW)
_AROUND_MM = 7.62  # three steps of the board around what a step is about
_WHOLE_MM = 62.0  # a board not larger than that is shown whole in this direction
OVERLAP_MM = 10.16
_JOIN = Pen(0.18, style.INK, dash=(4.0, 0.6, 0.5, 0.6))


@dataclass(frozen=True)
class Picture:
    """A piece of a drawing. ``outline``: the board on the drawing, mm; ``window``: what is shown."""

    scene: Scene
    outline: Box
    window: Window


@dataclass(frozen=True)
class Sheet:
    """One sheet of a picture that may take several. ``joins``: names of the lines that its neighbours have too."""

    picture: Picture
    number: int
    count: int
    joins: tuple[str, ...] = ()


def picture_of(scene: Scene) -> Picture:
    """The board of a plan's drawing with the labels along its edges."""
    outline = next(group for group in scene.groups if group.id == "outline").items[0]
    if not isinstance(outline, Path):
        raise TypeError("the outline of a board is a path")
    box = Box.around([(v[0], v[1]) for _, v in outline.steps if v])
    groups = tuple(group for group in scene.groups if group.layer != "sheet")
    return Picture(replace(scene, groups=groups), box, _window(box.grown(AXIS_MM)))


def _window(box: Box) -> Window:
    return box.x0, box.y0, box.width, box.height


def _extent(item: Item) -> Box:
    """The room of an item, generously."""
    if isinstance(item, Circle):
        return Box.about(item.x, item.y, item.r)
    if isinstance(item, Text):
        return Box.about(item.x, item.y, item.size * (1 + len(item.text)))
    points = [(v[-2], v[-1]) for _, v in item.steps if v]
    return Box.around(points).grown(item.pen.width / 2 if item.pen else 0.0)


# A step ----------------------------------------------------------------------------------------------------------


class StepPictures:
    """The board as it looks in each step: what is soldered now in full, what was before in grey, the rest not yet."""

    def __init__(self, picture: Picture) -> None:
        self._picture = picture
        groups = [group for group in picture.scene.groups if group.kind != "axis"]
        self._groups = [(group, [_extent(item) for item in group.items]) for group in groups]
        self._labels = [group for group in picture.scene.groups if group.kind == "axis"]
        self._holes = {_address(circle): circle for circle in _circles(picture.scene) if _address(circle)}

    def of(self, now: Collection[Mark], before: Collection[Mark], holes: Collection[str]) -> Picture:
        """The picture of a step that is about ``now`` and comes after ``before``.

        ``holes``: addresses of the holes that get a ring. A small board is shown whole, else what is around them.
        """
        outline = self._picture.outline
        rings = [self._holes[hole] for hole in holes if hole in self._holes]
        box = _around(outline, [(ring.x, ring.y) for ring in rings])
        shown: list[Group] = []
        for group, extents in self._groups:
            marks = [pair for pair in group.data if pair[0] in WORDS]
            current = not marks or any(mark in now for mark in marks)
            if current or any(mark in before for mark in marks):
                kept = (item for item, extent in zip(group.items, extents, strict=True) if extent.meets(box))
                items = tuple(kept if current else map(_pale, kept))
                shown += [replace(group, items=items)] if items else []
        targets = tuple(Circle(ring.x, ring.y, _RING_R, _RING) for ring in rings)
        labels = (_edge_labels(group, outline, box) for group in self._labels)
        groups = (*shown, Group("targets", "holes of this step", "targets", "targets", targets))
        scene = replace(self._picture.scene, groups=(*groups, *_margins(box, outline), *labels))
        return Picture(scene, outline, _window(box.grown(AXIS_MM)))


def _circles(scene: Scene) -> Iterator[Circle]:
    return (item for group in scene.groups for item in group.items if isinstance(item, Circle))


def _address(circle: Circle) -> str:
    return dict(circle.data).get("hole", "")


def _around(outline: Box, points: Sequence[tuple[float, float]]) -> Box:
    """What of the board to show: all of it where it is small, else the points and what is around them."""
    near = Box.around(points).grown(_AROUND_MM) if points else outline
    x = (outline.x0, outline.x1) if outline.width <= _WHOLE_MM else _within(near.x0, near.x1, outline.x0, outline.x1)
    y = (outline.y0, outline.y1) if outline.height <= _WHOLE_MM else _within(near.y0, near.y1, outline.y0, outline.y1)
    return Box(x[0], y[0], x[1], y[1])


def _within(low: float, high: float, least: float, most: float) -> tuple[float, float]:
    return max(least, low), min(most, high)


def _pale(item: Item) -> Item:
    """The item in grey; what is paper stays paper."""
    if isinstance(item, Text):
        return replace(item, colour=BEFORE)
    pen = item.pen and (item.pen if item.pen.colour == style.PAPER else replace(item.pen, colour=BEFORE))
    fill = item.fill if item.fill in (None, style.PAPER) else BEFORE
    return replace(item, pen=pen, fill=fill)


def _edge_labels(group: Group, outline: Box, box: Box) -> Group:
    """The labels of one edge, brought to the edge of what is shown."""
    side = group.id.rpartition("-")[2]
    dx = {"left": box.x0 - outline.x0, "right": box.x1 - outline.x1}.get(side, 0.0)
    dy = {"top": box.y0 - outline.y0, "bottom": box.y1 - outline.y1}.get(side, 0.0)
    items = (moved(item, dx, dy) for item in group.items)
    across = side in ("left", "right")
    kept = [item for item in items if _beside(item, box, across=across)]
    return replace(group, items=tuple(kept))


def _beside(item: Item, box: Box, *, across: bool) -> bool:
    x, y = (item.x, item.y) if not isinstance(item, Path) else item.steps[0][1][:2]
    return box.y0 <= y <= box.y1 + 1.0 if across else box.x0 <= x <= box.x1


def _margins(box: Box, outline: Box) -> tuple[Group, ...]:
    """Paper beyond an edge of what is shown that is not an edge of the board, so that the labels stand clear."""
    o = box.grown(AXIS_MM + 1.0)
    items: list[Item] = []
    for inside, corners, edge in (
        (box.y0 > outline.y0, (o.x0, o.y0, o.x1, box.y0), ((box.x0, box.y0), (box.x1, box.y0))),
        (box.y1 < outline.y1, (o.x0, box.y1, o.x1, o.y1), ((box.x0, box.y1), (box.x1, box.y1))),
        (box.x0 > outline.x0, (o.x0, o.y0, box.x0, o.y1), ((box.x0, box.y0), (box.x0, box.y1))),
        (box.x1 < outline.x1, (box.x1, o.y0, o.x1, o.y1), ((box.x1, box.y0), (box.x1, box.y1))),
    ):
        if inside:
            items += [rectangle(*corners, None, style.PAPER), polyline(edge, style.HIDDEN)]
    return (Group("margins", "margins", "margins", "margins", tuple(items)),) if items else ()


# Sheets ----------------------------------------------------------------------------------------------------------


def sheets(picture: Picture, width: float, height: float) -> tuple[Sheet, ...]:
    """The picture at 1:1 in sheets of at most ``width`` x ``height`` mm.

    Neighbours overlap by OVERLAP_MM. In the middle of an overlap runs a line, midway between two lines of holes, with
    the same letter on both sheets; they are joined along it.
    """
    x0, y0, whole_w, whole_h = picture.window
    grid = next(iter(c for c in _circles(picture.scene) if _address(c)))
    columns = _joins(x0, whole_w, width, grid.x)
    rows = _joins(y0, whole_h, height, grid.y)
    names = [chr(ord("A") + i) for i in range(len(columns) + len(rows))]
    marks = Group("joins", "lines where sheets are joined", "joins", "joins", tuple(_marks(picture, columns, rows)))
    scene = replace(picture.scene, groups=(*picture.scene.groups, *((marks,) if marks.items else ())))
    pieces = [(top, left) for top in _spans(y0, whole_h, rows) for left in _spans(x0, whole_w, columns)]
    found = []
    for number, ((top, bottom), (left, right)) in enumerate(pieces, 1):
        across = [n for n, at in zip(names, columns, strict=False) if left < at < right]
        along = [n for n, at in zip(names[len(columns) :], rows, strict=True) if top < at < bottom]
        part = replace(picture, scene=scene, window=(left, top, right - left, bottom - top))
        found.append(Sheet(part, number, len(pieces), (*across, *along)))
    return tuple(found)


def _joins(start: float, size: float, room: float, hole: float) -> list[float]:
    """Where the joins are along one axis: evenly, each midway between two lines of holes."""
    if size <= room:
        return []
    count = math.ceil(size / (room - OVERLAP_MM - 2.54))
    ideal = (start + size * i / count for i in range(1, count))
    return [hole + (math.floor((at - hole) / 2.54) + 0.5) * 2.54 for at in ideal]


def _spans(start: float, size: float, joins: Sequence[float]) -> list[tuple[float, float]]:
    """The pieces between the joins, each reaching half an overlap beyond them."""
    half = OVERLAP_MM / 2
    ends = [start + half, *joins, start + size - half]
    return [(a - half, b + half) for a, b in pairwise(ends)]


def _marks(picture: Picture, columns: Sequence[float], rows: Sequence[float]) -> Iterator[Item]:
    """Lines with their letters at both ends, and crosses where they meet the outline."""
    box, o = picture.outline, picture.outline.grown(AXIS_MM)
    names = iter(chr(ord("A") + i) for i in range(len(columns) + len(rows)))
    size = style.AXIS_MM
    for x in columns:
        yield polyline(((x, o.y0), (x, o.y1)), _JOIN)
        name = next(names)
        for y in (o.y0 + 0.1 + rise(size), o.y1 - 0.2):
            yield Text(x + 0.5, y, name, size, "start", bold=True)
        yield from (cross for y in (box.y0, box.y1) for cross in _cross(x, y))
    for y in rows:
        yield polyline(((o.x0, y), (o.x1, y)), _JOIN)
        name = next(names)
        yield Text(o.x0 + 0.2, y - 0.4, name, size, "start", bold=True)
        yield Text(o.x1 - 0.2, y - 0.4, name, size, "end", bold=True)
        yield from (cross for x in (box.x0, box.x1) for cross in _cross(x, y))


def _cross(x: float, y: float) -> Iterator[Item]:
    yield Circle(x, y, 1.0, style.THIN)
    yield polyline(((x - 1.8, y), (x + 1.8, y)), style.THIN)
    yield polyline(((x, y - 1.8), (x, y + 1.8)), style.THIN)
