"""Where the board is sawn down: a chain line from edge to edge, with a word on the side that comes off."""

from __future__ import annotations

from collections.abc import Iterator

from placer.guide import style
from placer.guide.ground import View
from placer.guide.labels import compose
from placer.guide.room import Box, Room
from placer.guide.scene import Group, Item, Point, identifier, polyline, rectangle
from placer.plan.crop import Crop, SawLine

WORD = "saw off"
_OFF_MM = 0.45  # between the line and the word
_EVERY_MM = 1.27


def saw_groups(room: Room, view: View, found: Crop) -> list[Group]:
    """A group for each saw line; takes its room, so that no label is set across it."""
    ends = [_ends(view, line) for line in found.lines]
    for line in ends:
        room.block_line(line, style.SAW.width / 2 + 0.1)
    return [_group(room, view, line, at) for line, at in zip(found.lines, ends, strict=True)]


def _ends(view: View, line: SawLine) -> tuple[Point, Point]:
    width, height = view.board.outline_mm
    if line.side in ("left", "right"):
        return view.frame.point(line.at_mm, 0.0), view.frame.point(line.at_mm, height)
    return view.frame.point(0.0, line.at_mm), view.frame.point(width, line.at_mm)


def _group(room: Room, view: View, line: SawLine, ends: tuple[Point, Point]) -> Group:
    items: list[Item] = [polyline(ends, style.SAW)]
    places = [place for place in _places(view, line, ends) if room.free(place[3].grown(0.15))]
    if places:
        x, y, angle, box = min(places, key=lambda place: room.price(place[3], {"hole": 0.1, "edge": 1.0}))
        word = compose((((WORD, style.AXIS_MM, True),),), x, y, angle, 1.0)
        room.block(box.grown(0.3))
        paper = box.grown(0.12)
        items += [rectangle(paper.x0, paper.y0, paper.x1, paper.y1, None, style.PAPER), *word.texts]
    title = f"saw line {line.where}, {line.side} of the component side"
    return Group(identifier("saw", line.side), title, "saw", "saw", tuple(items))


def _places(view: View, line: SawLine, ends: tuple[Point, Point]) -> Iterator[tuple[float, float, int, Box]]:
    """Middles of the word along the line, on the side that comes off, from the middle of the line outwards."""
    vertical = line.side in ("left", "right")
    angle = -90 if vertical else 0
    size = compose((((WORD, style.AXIS_MM, True),),), 0.0, 0.0, angle, 1.0).box
    # Mirrored, the left side of the board lies on the right.
    outwards = 1 if (line.side in ("right", "bottom")) != (vertical and view.mirrored) else -1
    (ax, ay), (bx, by) = ends
    away = outwards * (style.SAW.width / 2 + _OFF_MM + (size.width if vertical else size.height) / 2)
    count = int(max(abs(bx - ax), abs(by - ay)) / 2 / _EVERY_MM) - 3
    for step in sorted(range(-count, count + 1), key=abs):
        along = step * _EVERY_MM
        x, y = (ax + away, (ay + by) / 2 + along) if vertical else ((ax + bx) / 2 + along, ay + away)
        yield x, y, angle, Box.about(x, y, size.width / 2, size.height / 2)
