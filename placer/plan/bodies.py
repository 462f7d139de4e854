"""The room that placed parts take: convex outlines in micrometres, in the grid frame (hole centre = grid x 2540).

For what is derived from a finished plan. Whether a part may stand as it does is the judge's business; one that fits
no turn of its package is taken in the turn that fits best.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from placer.boards.model import Board
from placer.packages.model import STEP_UM, Flying, Package, Rigid, TwoLead
from placer.plan.model import Placement, Plan

Point = tuple[float, float]
Outline = tuple[Point, ...]
"""Corners of a convex shape, in order."""

_TURNS = ((1, 0, 0, 1), (0, -1, 1, 0), (-1, 0, 0, -1), (0, 1, -1, 0))  # clockwise by 0, 90, 180, 270 degrees
_HAIR_UM = 1e-3  # far below any real overlap, far above rounding


def bodies_of(plan: Plan) -> Mapping[str, tuple[Outline, ...]]:
    """The outlines of each placed part by reference; none for flying leads, two for a part that lies flat on leads."""
    found = {}
    for ref, placement in plan.placements.items():
        package = plan.circuit.packages.get(placement.package)
        found[ref] = _outlines(package, placement, plan.board) if package else ()
    return found


def box(x0: float, y0: float, x1: float, y1: float) -> Outline:
    """An upright rectangle."""
    return (x0, y0), (x1, y0), (x1, y1), (x0, y1)


def overlap(one: Outline, other: Outline) -> bool:
    """True when two convex outlines share an area: no side of either has the other beyond it (separating axes)."""
    for outline in (one, other):
        for (ax, ay), (bx, by) in zip(outline, (*outline[1:], outline[0]), strict=True):
            length = math.hypot(bx - ax, by - ay)
            if length < _HAIR_UM:
                return False  # no width, no area
            nx, ny = (ay - by) / length, (bx - ax) / length
            first = [x * nx + y * ny for x, y in one]
            second = [x * nx + y * ny for x, y in other]
            if min(max(first), max(second)) - max(min(first), min(second)) <= _HAIR_UM:
                return False
    return True


def origin_um(board: Board) -> tuple[int, int]:
    """Where grid position (0, 0) lies, from the outline's top left corner."""
    for hole in board.holes.values():
        return round(hole.x_mm * 1000) - hole.x * STEP_UM, round(hole.y_mm * 1000) - hole.y * STEP_UM
    return 0, 0


def _outlines(package: Package, placement: Placement, board: Board) -> tuple[Outline, ...]:
    form = package.form
    holes = [board.holes.get(placement.pins.get(pin, "")) for pin in package.pins]
    at = [(hole.x, hole.y) for hole in holes if hole is not None]
    if isinstance(form, Flying) or not at or len(at) < len(holes):
        return ()
    if isinstance(form, Rigid):
        return _rigid(form, at)
    if len(at) != 2:
        return ()
    if isinstance(form, TwoLead) and placement.mount == "standing":
        half = _half_um(form.upright)
        return (_between(at, None, half, beyond=half),)
    body = _between(at, _half_um(form.length), _half_um(form.width))
    return (body, _between(at, None, _half_um(package.lead_mm))) if isinstance(form, TwoLead) else (body,)


def _half_um(size_mm: float) -> int:
    return round(size_mm * 1000 / 2)


def _rigid(form: Rigid, at: Sequence[tuple[int, int]]) -> tuple[Outline, ...]:
    if form.body is None:
        return ()
    (x, y), stood = at[0], set(enumerate(at))

    def fitting(turn: tuple[int, int, int, int]) -> int:
        a, b, c, d = turn
        places = ((x + a * dx + b * dy, y + c * dx + d * dy) for dx, dy in form.offsets)
        return len(stood.intersection(enumerate(places)))

    a, b, c, d = max(_TURNS, key=fitting)
    x0, y0, x1, y1 = (round(value * 1000) for value in form.body)
    corners = [(x * STEP_UM + a * p + b * q, y * STEP_UM + c * p + d * q) for p, q in ((x0, y0), (x1, y1))]
    (left, right), (top, bottom) = (sorted(values) for values in zip(*corners, strict=True))
    return (box(left, top, right, bottom),)


def _between(at: Sequence[tuple[int, int]], half_length: int | None, half_width: int, beyond: int = 0) -> Outline:
    """A rectangle about the middle between two holes, along them; without ``half_length`` from hole to hole."""
    (ax, ay), (bx, by) = ((x * STEP_UM, y * STEP_UM) for x, y in at)
    distance = math.hypot(bx - ax, by - ay)
    ux, uy = ((bx - ax) / distance, (by - ay) / distance) if distance else (1.0, 0.0)
    mx, my = (ax + bx) / 2, (ay + by) / 2
    reach = distance / 2 + beyond if half_length is None else half_length
    signs = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return tuple(
        (mx + s * reach * ux - t * half_width * uy, my + s * reach * uy + t * half_width * ux) for s, t in signs
    )
