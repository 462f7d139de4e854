"""Scale line drawings of parts, seen from above: the outline a part really takes, and the mark that says how it turns.

Each drawing is made in the part's own frame (pin 1 at the origin; rotation 0, or pin 2 to the right of a two-lead
part) in mm and moved as a whole, so a part can be turned but never mirrored by mistake.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from placer.guide.room import Box
from placer.guide.scene import Affine, Circle, Path, Point, polyline, rectangle
from placer.guide.style import INK, MARK, OUTLINE, PAPER, PIN1_HALF, THIN
from placer.packages.model import Diagonal, Flying, Package, Rigid, TwoLead

Shape = Path | Circle


@dataclass(frozen=True)
class Art:
    """A part's drawing. ``hull``: corners of the outline; ``marks``: shapes that no label may cover."""

    hull: tuple[Point, ...]
    shapes: tuple[Shape, ...]
    marks: tuple[Shape, ...] = ()

    def moved(self, by: Affine) -> Art:
        """The drawing after a motion."""
        return Art(
            tuple(by.point(*p) for p in self.hull),
            tuple(by.shape(s) for s in self.shapes),
            tuple(by.shape(s) for s in self.marks),
        )


def extent(shape: Shape) -> Box:
    """The box that a shape's points take (control points included, line width not)."""
    if isinstance(shape, Circle):
        return Box.about(shape.x, shape.y, shape.r)
    return Box.around([(v[-2], v[-1]) for _, v in shape.steps if v])


def part_art(package: Package, mount: str, pins: Mapping[str, Point], pitch: float = 2.54) -> Art | None:
    """The drawing of a placed part in the board's mm; None for flying leads, which have no body.

    ``pins``: where each pin is, board mm. A placement that the package does not allow is drawn in the nearest turn:
    whether it is legal is not this module's question.
    """
    form = package.form
    if isinstance(form, Flying) or not pins:
        return None
    first = pins[package.pins[0]]
    if isinstance(form, Rigid):
        turn = _turn(form.offsets, [pins[p] for p in package.pins], pitch)
        ahead = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[turn]
        return _rigid(package, form, pitch).moved(Affine.turned(*first, *ahead))
    second = pins[package.pins[1]]
    span = math.dist(first, second)
    ahead = (second[0] - first[0], second[1] - first[1]) if span else (1.0, 0.0)
    frame = Affine.turned(*first, *ahead)
    if isinstance(form, TwoLead) and mount == "standing":
        return _standing(package, form.upright, span).moved(frame)
    return _two_lead(package, form, span).moved(frame)


def _turn(offsets: tuple[tuple[int, int], ...], found: list[Point], pitch: float) -> int:
    """Quarter turns clockwise that bring the package's pins nearest to where they are."""
    turned = [[(x, y), (-y, x), (-x, -y), (y, -x)] for x, y in offsets]
    x0, y0 = found[0]

    def error(turn: int) -> float:
        return sum(
            math.hypot(x0 + t[turn][0] * pitch - x, y0 + t[turn][1] * pitch - y)
            for t, (x, y) in zip(turned, found, strict=True)
        )

    return min(range(4), key=error)


# Two leads -------------------------------------------------------------------------------------------------------


def _round_hull(x: float, y: float, r: float) -> tuple[Point, ...]:
    return tuple((x + r * math.cos(i * math.pi / 12), y + r * math.sin(i * math.pi / 12)) for i in range(24))


def _box_hull(x0: float, y0: float, x1: float, y1: float) -> tuple[Point, ...]:
    return (x0, y0), (x1, y0), (x1, y1), (x0, y1)


def _stadium(x0: float, x1: float, r: float) -> Path:
    steps = (
        ("M", (x0, -r)),
        ("L", (x1, -r)),
        ("A", (r, 0, 1, x1, r)),
        ("L", (x0, r)),
        ("A", (r, 0, 1, x0, -r)),
        ("Z", ()),
    )
    return Path(steps, OUTLINE, PAPER)


def _plus(x: float, y: float, half: float = 0.5) -> Path:
    steps = (("M", (x - half, y)), ("L", (x + half, y)), ("M", (x, y - half)), ("L", (x, y + half)))
    return Path(steps, MARK)


def _can(centre: float, r: float, plus_x: float, *, polar: bool) -> Art:
    """A round can; the sleeve's stripe is the filled segment at the minus side."""
    hull = _round_hull(centre, 0, r)
    body = Circle(centre, 0, r, OUTLINE, PAPER)
    if not polar:
        return Art(hull, (body,))
    chord = 0.78 * r
    half = math.sqrt(r * r - chord * chord)
    stripe = Path(
        (("M", (centre + chord, -half)), ("A", (r, 0, 1, centre + chord, half)), ("Z", ())),
        OUTLINE,
        INK,
    )
    return Art(hull, (body,), (stripe, _plus_inside(centre, r, plus_x)))


def _plus_inside(centre: float, r: float, pin: float) -> Path:
    """A plus beside pin 1: across the leads where the circle has room for it, else between them."""
    half = min(0.5, r * 0.2)
    across = math.sqrt(max(0.0, (r - half - 0.35) ** 2 - (pin - centre) ** 2))
    if across > half + PIN1_HALF + 0.1:
        return _plus(pin, -min(across, 1.6), half)
    return _plus(pin + PIN1_HALF + half + 0.3, 0.0, half)


def _led(centre: float, r: float, plus_x: float) -> Art:
    """A round LED: the rim is cut flat on the cathode's side."""
    chord = 0.8 * r
    half = math.sqrt(r * r - chord * chord)
    rim = Path((("M", (centre + chord, -half)), ("A", (r, 1, 0, centre + chord, half)), ("Z", ())), OUTLINE, PAPER)
    flat = polyline(((centre + chord, -half), (centre + chord, half)), MARK)
    return Art(_round_hull(centre, 0, r), (rim,), (flat, _plus_inside(centre, r, plus_x)))


def _two_lead(package: Package, form: TwoLead | Diagonal, span: float) -> Art:
    centre, half, side = span / 2, form.length / 2, form.width / 2
    x0, x1 = centre - half, centre + half
    polar = bool(package.polarity)
    if package.shape == "led":
        return _led(centre, half, 0.0)
    if package.shape == "can":
        return _can(centre, half, 0.0, polar=polar)
    wires: tuple[Shape, ...] = tuple(
        polyline(((a, 0.0), (b, 0.0)), OUTLINE) for a, b in ((0.0, x0), (x1, span)) if b - a > 0.01
    )
    hull = _box_hull(x0, -side, x1, side)
    if package.shape in ("disc", "crystal") and half > side:
        body: Shape = _stadium(x0 + side, x1 - side, side)
        return Art(hull, (*wires, body))
    body = rectangle(x0, -side, x1, side, OUTLINE, PAPER)
    if package.shape == "diode":
        band = rectangle(x1 - 1.0, -side, x1 - 0.45, side, None, INK)
        return Art(hull, (*wires, body), (band,))
    marks = (_plus(0.0 if x0 < -0.6 else x0 - 0.7, -side - 0.7, 0.45),) if polar else ()
    return Art(hull, (*wires, body), marks)


def _standing(package: Package, upright: float, span: float) -> Art:
    """The body stands on pin 1's hole, its upper lead comes down at pin 2."""
    r = (upright or 2.0) / 2
    room = _stadium(0.0, span, r)
    shapes = (Path(room.steps, THIN, PAPER), Circle(0, 0, r, OUTLINE, PAPER))
    wire = polyline(((0.0, 0.0), (span, 0.0)), OUTLINE)
    hull = _box_hull(-r, -r, span + r, r)
    if package.shape in ("diode", "led") or package.polarity:
        x = span - 0.85
        return Art(hull, shapes, (wire, rectangle(x - 0.25, -r * 0.75, x + 0.1, r * 0.75, None, INK)))
    return Art(hull, shapes, (wire,))


# Rigid parts -----------------------------------------------------------------------------------------------------


def _rigid(package: Package, form: Rigid, pitch: float) -> Art:
    pins = [(x * pitch, y * pitch) for x, y in form.offsets]
    if form.body is None:
        return Art(tuple(pins), ())
    x0, y0, x1, y1 = form.body
    draw = {"dip": _dip, "to-92": _to92, "to-220": _to220, "terminal": _terminal, "header": _header}.get(package.shape)
    if draw:
        return draw(form.body, pins)
    body = rectangle(x0, y0, x1, y1, OUTLINE, PAPER)
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    hull = _box_hull(*form.body)
    if package.shape == "can":
        r = min(x1 - x0, y1 - y0) / 2
        return Art(_round_hull(cx, cy, r), (Circle(cx, cy, r, OUTLINE, PAPER),))
    if package.shape == "button":
        at = dict(zip(package.pins, pins, strict=True))
        joins = tuple(polyline([at[p] for p in group], THIN) for group in package.joined)
        return Art(hull, (body,), (*joins, Circle(cx, cy, min(x1 - x0, y1 - y0) * 0.2, THIN, PAPER)))
    if package.shape == "trimmer":
        r = min(x1 - x0, y1 - y0) * 0.22
        x, y = x1 - r - 0.5, (y0 + r + 0.5 if abs(y0) > abs(y1) else y1 - r - 0.5)
        screw = (Circle(x, y, r, THIN, PAPER), polyline(((x - r * 0.7, y - r * 0.7), (x + r * 0.7, y + r * 0.7)), THIN))
        return Art(hull, (body,), screw)
    if package.shape == "crystal":
        return Art(hull, (body, rectangle(x0 + 0.6, y0 + 0.6, x1 - 0.6, y1 - 0.6, THIN)))
    return Art(hull, (body,), _corner(form.body, pins[0]))


def _corner(body: tuple[float, float, float, float], pin: Point) -> tuple[Shape, ...]:
    """A filled corner of the body at the corner nearest to pin 1."""
    x0, y0, x1, y1 = body
    x, sx = (x0, 1) if pin[0] - x0 <= x1 - pin[0] else (x1, -1)
    y, sy = (y0, 1) if pin[1] - y0 <= y1 - pin[1] else (y1, -1)
    return (polyline(((x, y), (x + 0.9 * sx, y), (x, y + 0.9 * sy)), None, INK, closed=True),)


def _dip(body: tuple[float, float, float, float], pins: list[Point]) -> Art:
    """A notch in the end between the first and the last pin, and a dot beside pin 1."""
    x0, y0, x1, y1 = body
    cx, cy, r = (x0 + x1) / 2, (y0 + y1) / 2, 0.8
    first, last = pins[0], pins[-1]
    if abs(first[1] - last[1]) < abs(first[0] - last[0]):
        y, sweep = (y0, 0) if first[1] < cy else (y1, 1)
        arc = Path((("M", (cx - r, y)), ("A", (r, 0, sweep, cx + r, y))), OUTLINE, PAPER)
    else:
        x, sweep = (x0, 1) if first[0] < cx else (x1, 0)
        arc = Path((("M", (x, cy - r)), ("A", (r, 0, sweep, x, cy + r))), OUTLINE, PAPER)
    x, y = min(max(first[0], x0 + 0.75), x1 - 0.75), min(max(first[1], y0 + 0.75), y1 - 0.75)
    return Art(_box_hull(*body), (rectangle(x0, y0, x1, y1, OUTLINE, PAPER),), (arc, Circle(x, y, 0.32, None, INK)))


def _to92(body: tuple[float, float, float, float], pins: list[Point]) -> Art:
    """A D: pins 1, 2, 3 run left to right when the flat faces the reader (below, at rotation 0)."""
    x0, y0, x1, y1 = body
    flat_below = pins[-1][0] >= pins[0][0]
    flat, back, sweep = (y1, y0, 1) if flat_below else (y0, y1, 0)
    width, height = x1 - x0, abs(back - flat)
    r = (width * width / 4 + height * height) / (2 * height)
    outline = Path(
        (("M", (x0, flat)), ("A", (r, int(height > width / 2), sweep, x1, flat)), ("Z", ())),
        OUTLINE,
        PAPER,
    )
    cx, cy = (x0 + x1) / 2, back + (r if back < flat else -r)
    ring = [(cx + r * math.cos(i * math.pi / 18), cy + r * math.sin(i * math.pi / 18)) for i in range(36)]
    hull = (*(p for p in ring if min(flat, back) <= p[1] <= max(flat, back)), (x0, flat), (x1, flat))
    hull = tuple(sorted(hull, key=lambda p: math.atan2(p[1] - (y0 + y1) / 2, p[0] - cx)))
    return Art(hull, (outline, polyline(((x0, flat), (x1, flat)), MARK)))


def _to220(body: tuple[float, float, float, float], pins: list[Point]) -> Art:
    """The metal tab is the hatched bar along the back; the printed face looks the other way."""
    x0, y0, x1, y1 = body
    below = pins[-1][0] >= pins[0][0]
    t0, t1 = (y0, y0 + 1.3) if below else (y1 - 1.3, y1)
    count = max(2, int((x1 - x0) / 1.0))
    hatch = tuple(
        polyline(((x0 + (x1 - x0) * i / count, t1), (x0 + (x1 - x0) * (i + 1) / count, t0)), THIN) for i in range(count)
    )
    return Art(
        _box_hull(*body),
        (rectangle(x0, y0, x1, y1, OUTLINE, PAPER),),
        (rectangle(x0, t0, x1, t1, OUTLINE), *hatch),
    )


def _terminal(body: tuple[float, float, float, float], pins: list[Point]) -> Art:
    """A screw about each pin."""
    x0, y0, x1, y1 = body
    pitch = min((math.dist(a, b) for a, b in pairwise(pins)), default=5.08)
    r = min(pitch * 0.36, (y1 - y0) * 0.36, (x1 - x0) * 0.36)
    screws = tuple(Circle(x, y, r, THIN, PAPER) for x, y in pins)
    return Art(_box_hull(*body), (rectangle(x0, y0, x1, y1, OUTLINE, PAPER),), (*screws, *_corner(body, pins[0])))


def _header(body: tuple[float, float, float, float], pins: list[Point]) -> Art:
    """A frame about each pin."""
    frames = tuple(rectangle(x - 0.95, y - 0.95, x + 0.95, y + 0.95, THIN, PAPER) for x, y in pins)
    return Art(_box_hull(*body), (rectangle(*body, OUTLINE, PAPER), *frames), _corner(body, pins[0]))
