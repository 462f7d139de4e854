"""Bridges of solder on the sheet: a solid bar between two pads on the copper side, its outline on the other."""

from __future__ import annotations

import math
from collections.abc import Iterator

from placer.guide import style
from placer.guide.ground import View
from placer.guide.room import Room
from placer.guide.scene import Group, Item, Path, Pen, Point, identifier
from placer.plan.model import Plan

_WIDE = 0.9  # width of the bar, mm
_CLEAR = 1.05  # from the hole's centre to the bar's straight part: its round end stays clear of hole and lead


def bridge_items(a: Point, b: Point, *, near: bool) -> tuple[Item, ...]:
    """The bar between two holes; ``near``: on the side that is looked at."""
    (start, end) = _ends(a, b)
    line = (("M", start), ("L", end))
    if near:
        return (Path(line, Pen(_WIDE, style.INK, cap="round")),)
    bed = Path(line, Pen(_WIDE, style.COPPER_EDGE, cap="round"))
    return (bed, Path(line, Pen(_WIDE - 0.26, style.PAPER, cap="round")))


def bridge_groups(plan: Plan, view: View) -> Iterator[Group]:
    """Every bridge, named with its net and its two holes."""
    near = view.mirrored == (plan.board.copper.side == "bottom")
    for i, bridge in enumerate(plan.bridges, 1):
        a, b = bridge.between
        title = f"bridge {i}, {bridge.net}: {a} to {b}"
        items = bridge_items(view.at(a), view.at(b), near=near)
        data = (("bridge", str(i)), ("net", bridge.net))
        yield Group(identifier("bridge", str(i)), title, "bridge", "bridges", items, data)


def note_bridges(room: Room, plan: Plan, view: View) -> None:
    """Tells the room that labels had better not cover bridges on the side where they are soldered."""
    for bridge in plan.bridges if view.mirrored else ():
        room.block_line(_ends(*(view.at(hole) for hole in bridge.between)), _WIDE / 2, "bridge")


def _ends(a: Point, b: Point) -> tuple[Point, Point]:
    """Where the bar's straight part begins and ends."""
    length = math.dist(a, b) or 1.0
    ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    return (a[0] + ux * _CLEAR, a[1] + uy * _CLEAR), (b[0] - ux * _CLEAR, b[1] - uy * _CLEAR)
