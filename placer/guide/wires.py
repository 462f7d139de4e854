"""Jumpers on the sheet: a numbered line from hole to hole, bowed a little where a straight one would hide something."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from placer.guide import style
from placer.guide.metrics import rise
from placer.guide.room import Box, Room, along
from placer.guide.scene import Circle, Item, Path, Pen, Point, Step, Text, polyline

_BOWS = (0.0, 0.9, -0.9, 1.8, -1.8, 2.7, -2.7, 3.8, -3.8, 5.0, -5.0, 7.0, -7.0)
_COVER = {"jumper": 3.0, "edge": 2.0}


@dataclass(frozen=True)
class Route:
    """A jumper's line: a quadratic curve from ``start`` over ``control`` to ``end``."""

    start: Point
    control: Point
    end: Point

    def at(self, t: float) -> Point:
        """The point at parameter t, 0 to 1."""
        a, b, c = (1 - t) ** 2, 2 * t * (1 - t), t * t
        return (
            a * self.start[0] + b * self.control[0] + c * self.end[0],
            a * self.start[1] + b * self.control[1] + c * self.end[1],
        )

    def points(self, count: int = 24) -> list[Point]:
        """Points along the line, ends included."""
        return [self.at(i / count) for i in range(count + 1)]

    @property
    def length(self) -> float:
        """Straight distance from end to end, mm."""
        return math.dist(self.start, self.end)


def find_route(room: Room, start: Point, end: Point, owner: str) -> Route:
    """The line that hides least: leads and labels count most, then other jumpers, then the bow itself."""
    return min(
        (_bowed(start, end, bow) for bow in _BOWS if abs(bow) <= 0.45 * math.dist(start, end)),
        key=lambda route: _cost(room, route, owner),
    )


def _bowed(start: Point, end: Point, bow: float) -> Route:
    """A curve whose middle stands ``bow`` mm to the side of the straight line."""
    length = math.dist(start, end) or 1.0
    dx, dy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    middle = (start[0] + end[0]) / 2 - 2 * bow * dy, (start[1] + end[1]) / 2 + 2 * bow * dx
    return Route(start, middle, end)


def _cost(room: Room, route: Route, owner: str) -> float:
    middle = (route.start[0] + route.end[0]) / 2, (route.start[1] + route.end[1]) / 2
    cost = 0.45 * math.dist(route.control, middle)
    for piece in along(route.points(), style.JUMPER_MM / 2):
        cost += 4.0 * min(1, room.blocked(piece, owner)) + room.price(piece, _COVER, owner)
    return cost


def straight(start: Point, end: Point) -> Route:
    """A route that does not bow: bare wire lies straight, whatever the line may hide."""
    return _bowed(start, end, 0.0)


def wire_items(route: Route, pen: Pen, *, bare: bool = False) -> tuple[Item, ...]:
    """The line on a white bed (so that it stands off the outlines below it) and its end dots."""
    line = (("M", route.start), ("Q", (*route.control, *route.end)))
    found: list[Item] = [Path(line, Pen(pen.width + 0.3, style.PAPER)), *line_items(line, pen, bare=bare)]
    return (*found, *end_items(route.start, pen), *end_items(route.end, pen))


def line_items(line: tuple[Step, ...], pen: Pen, *, bare: bool) -> tuple[Item, ...]:
    """The dashes of a net's class; those of a bare link are thinner, and strung on a continuous line."""
    if not bare:
        return (Path(line, pen),)
    return Path(line, Pen(style.SPINE_MM, pen.colour)), Path(line, replace(pen, width=style.BARE_MM))


def end_items(point: Point, pen: Pen) -> tuple[Item, ...]:
    """An end dot: filled, with a ring of paper between dot and rim, so that it differs from a part's lead."""
    x, y = point
    return (
        Circle(x, y, style.END_R + 0.12, Pen(0.2, pen.colour), style.PAPER),
        Circle(x, y, style.END_R - 0.18, None, pen.colour),
    )


@dataclass(frozen=True)
class Disc:
    """A number in a circle (jumpers) or a square (cuts), tied to what it numbers by a leader where they are apart."""

    x: float
    y: float
    number: int
    leader: tuple[Point, ...] = ()
    square: bool = False

    @property
    def box(self) -> Box:
        """The room it takes."""
        return Box.about(self.x, self.y, style.DISC_R)

    def items(self, pen: Pen) -> tuple[Item, ...]:
        """What to draw."""
        text = str(self.number)
        r, size = style.DISC_R, style.NUMBER_MM
        squeeze = 1.0 if len(text) < 2 else (0.85 if len(text) == 2 else 0.6)
        rim = Pen(0.25, pen.colour)
        found: list[Item] = [polyline(self.leader, Pen(0.18, pen.colour))] if self.leader else []
        if self.square:
            corners = ((self.x + sx * r, self.y + sy * r) for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1)))
            found.append(polyline(corners, rim, style.PAPER, closed=True))
        else:
            found.append(Circle(self.x, self.y, r, rim, style.PAPER))
        return (*found, Text(self.x, self.y + rise(size) / 2, text, size, condense=squeeze))


def place_disc(room: Room, route: Route, number: int, owner: str) -> Disc:
    """Where a jumper's number stands: on its line where there is room, else beside it. Does not take the place."""

    def candidates() -> Iterator[tuple[float, Disc]]:
        for t in (0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74, 0.18, 0.82):
            x, y = route.at(t)
            yield abs(t - 0.5) * 2, Disc(x, y, number)
        for away in (style.DISC_R + 0.35, 2.6, 3.8, 5.2, 7.0, 9.0, 12.0):
            for t in (0.5, 0.35, 0.65, 0.2, 0.8):
                for turn in range(16):
                    x, y = route.at(t)
                    px = x + away * math.cos(turn * math.pi / 8)
                    py = y + away * math.sin(turn * math.pi / 8)
                    yield 1.5 + away, Disc(px, py, number, _to_rim((x, y), (px, py)))

    return _best(room, candidates(), owner)


def place_number(room: Room, point: Point, number: int, owner: str, *, clear: float, square: bool = False) -> Disc:
    """Where a number stands beside a point; ``clear``: radius of what is drawn there. Does not take the place."""

    def candidates() -> Iterator[tuple[float, Disc]]:
        for away in (clear + style.DISC_R + 0.15, 2.6, 3.4, 4.4, 5.6, 7.0, 9.0, 12.0, 16.0):
            for turn in range(16):
                px = point[0] + away * math.cos(turn * math.pi / 8)
                py = point[1] + away * math.sin(turn * math.pi / 8)
                leader = _to_rim(point, (px, py), clear)
                yield away + 0.2 * (turn % 4 != 0), Disc(px, py, number, leader, square)

    return _best(room, candidates(), owner)


def _to_rim(point: Point, centre: Point, clear: float = 0.0) -> tuple[Point, ...]:
    """The line from a point's surround to a disc's rim."""
    far = math.dist(point, centre)
    ux, uy = (centre[0] - point[0]) / far, (centre[1] - point[1]) / far
    start = point[0] + ux * clear, point[1] + uy * clear
    return start, (centre[0] - ux * style.DISC_R, centre[1] - uy * style.DISC_R)


def _best(room: Room, candidates: Iterator[tuple[float, Disc]], owner: str) -> Disc:
    best = (math.inf, Disc(0, 0, 0))
    for cost, disc in candidates:
        if cost >= best[0]:
            continue
        box = disc.box.grown(0.1)
        outside = 0.0 if room.sheet.holds(box) else 1000.0
        cost += outside + 100.0 * room.blocked(box)
        cost += room.price(box, {"jumper": 1.2, "body": 0.1, "hole": 0.3, "edge": 0.4}, owner)
        if cost >= best[0]:
            continue
        for piece in along(disc.leader, 0.12):
            cost += 4.0 * min(1, room.blocked(piece, owner)) + 0.5 * room.price(piece, {"jumper": 1.0}, owner)
        if cost < best[0]:
            best = cost, disc
    return best[1]


def take(room: Room, disc: Disc, owner: str = "") -> Disc:
    """Blocks the place of a number and of its leader, and returns it."""
    room.block(disc.box, owner)
    if disc.leader:
        room.block_line(disc.leader, 0.1, owner)
    return disc


def line_class(role: str) -> Pen:
    """The line of a jumper by the role of its net; an unknown role is drawn as a signal."""
    return style.JUMPER_PENS.get(role, style.JUMPER_PENS["signal"])
