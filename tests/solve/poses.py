"""Every pose of a part on an empty board, worked out hole by hole from the geometry rules alone.

Part of the exhaustive search that the tests hold against the engine: it reads circuit and board data and shares no code
with the search. Lengths are micrometres in the grid frame (hole centre = grid position x 2540).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from placer.boards.model import Board, Hole
from placer.circuit.model import Circuit, Part
from placer.packages.model import Diagonal, Flying, Package, Rigid, TwoLead
from placer.plan.model import Options

PITCH = 2540
HAIR = 1e-4  # um; sides of bodies at an angle are known no better than this
AXIS_TURN = {(1, 0): 0, (0, 1): 90, (-1, 0): 180, (0, -1): 270}


@dataclass(frozen=True)
class Oblong:
    """A rectangle at any angle: centre, unit vector along it, half length and half width (um)."""

    cx: float
    cy: float
    ux: float
    uy: float
    length: float
    width: float

    def holds(self, x: float, y: float) -> bool:
        """True when the point lies strictly inside."""
        dx, dy = x - self.cx, y - self.cy
        return (
            abs(dx * self.ux + dy * self.uy) < self.length - HAIR
            and abs(dx * self.uy - dy * self.ux) < self.width - HAIR
        )

    def corners(self) -> list[tuple[float, float]]:
        """The four corners."""
        return [
            (
                self.cx + a * self.length * self.ux - b * self.width * self.uy,
                self.cy + a * self.length * self.uy + b * self.width * self.ux,
            )
            for a in (-1, 1)
            for b in (-1, 1)
        ]


@dataclass(frozen=True)
class Pose:
    """One way for a part to stand: the hole number of each pin, its bodies, its mount, the holes under its bodies."""

    holes: tuple[int, ...]
    bodies: tuple[Oblong, ...]
    mount: str
    covers: frozenset[int]


class Ground:
    """A board as numbers of the exhaustive search: holes strip by strip, in the order of the copper."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self.addresses = [address for strip in board.strips for address in strip.holes]
        self.holes: list[Hole] = [board.holes[address] for address in self.addresses]
        self.number = {address: i for i, address in enumerate(self.addresses)}
        self.at = {(hole.x, hole.y): i for i, hole in enumerate(self.holes)}
        some = self.holes[0]
        self.left, self.top = round(some.x_mm * 1000) - some.x * PITCH, round(some.y_mm * 1000) - some.y * PITCH
        self.keepouts = [
            _upright(
                *(round(v * 1000) - off for v, off in zip((k.x0, k.y0, k.x1, k.y1), self._corner * 2, strict=True))
            )
            for k in board.keepouts
        ]
        self.barred: frozenset[int] = frozenset()
        self._bar()

    def keep_out(self, start: str, end: str) -> None:
        """Nothing may stand in the cells of the holes of a rectangle, from now on."""
        one, two = self.holes[self.number[start]], self.holes[self.number[end]]
        xs, ys = sorted((one.x, two.x)), sorted((one.y, two.y))
        half = PITCH / 2
        box = (xs[0] * PITCH - half, ys[0] * PITCH - half, xs[1] * PITCH + half, ys[1] * PITCH + half)
        self.keepouts.append(_upright(*box))
        self._bar()

    def _bar(self) -> None:
        self.barred = frozenset(
            i for i, h in enumerate(self.holes) if any(k.holds(h.x * PITCH, h.y * PITCH) for k in self.keepouts)
        )

    @property
    def _corner(self) -> tuple[int, int]:
        return self.left, self.top

    def fits(self, pose_bodies: tuple[Oblong, ...], *, overhang: bool) -> bool:
        """True when bodies keep to the outline (or may overhang) and out of keep-outs."""
        if not overhang:
            wide, high = (round(v * 1000) for v in self.board.outline_mm)
            for body in pose_bodies:
                for x, y in body.corners():
                    if not (-HAIR <= x + self.left <= wide + HAIR and -HAIR <= y + self.top <= high + HAIR):
                        return False
        return not any(overlap(body, area) for body in pose_bodies for area in self.keepouts)


def _upright(x0: float, y0: float, x1: float, y1: float) -> Oblong:
    return Oblong((x0 + x1) / 2, (y0 + y1) / 2, 1.0, 0.0, (x1 - x0) / 2, (y1 - y0) / 2)


def overlap(a: Oblong, b: Oblong) -> bool:
    """True when two rectangles share an area greater than zero."""
    return bool(overlaps(pack([(a,)]), pack([(b,)]))[0, 0])


Packed = npt.NDArray[np.float64]


def pack(many: list[tuple[Oblong, ...]]) -> Packed:
    """Bodies of many poses as one array [pose, body, figure]; missing bodies have no size."""
    most = max((len(bodies) for bodies in many), default=0)
    packed = np.zeros((len(many), max(1, most), 6))
    packed[:, :, 2] = 1.0
    packed[:, :, 4:] = -1.0
    for i, bodies in enumerate(many):
        for j, b in enumerate(bodies):
            packed[i, j] = (b.cx, b.cy, b.ux, b.uy, b.length, b.width)
    return packed


def overlaps(first: Packed, second: Packed) -> npt.NDArray[np.bool_]:
    """For each pair of poses: do any of their bodies share an area? By the separating axis theorem."""
    hit = np.zeros((len(first), len(second)), dtype=bool)
    for i, j in itertools.product(range(first.shape[1]), range(second.shape[1])):
        a, b = first[:, None, i], second[None, :, j]
        solid = (a[..., 4] > HAIR) & (a[..., 5] > HAIR) & (b[..., 4] > HAIR) & (b[..., 5] > HAIR)
        dx, dy = b[..., 0] - a[..., 0], b[..., 1] - a[..., 1]
        dot = np.abs(a[..., 2] * b[..., 2] + a[..., 3] * b[..., 3])
        cross = np.abs(a[..., 2] * b[..., 3] - a[..., 3] * b[..., 2])
        for own, other in ((a, b), (b, a)):
            along = np.abs(dx * own[..., 2] + dy * own[..., 3])
            across = np.abs(dx * own[..., 3] - dy * own[..., 2])
            solid &= along < own[..., 4] + other[..., 4] * dot + other[..., 5] * cross - HAIR
            solid &= across < own[..., 5] + other[..., 4] * cross + other[..., 5] * dot - HAIR
        hit |= solid
    return hit


def poses(ground: Ground, circuit: Circuit, part: Part, options: Options) -> list[Pose]:
    """Every pose of a part that keeps its package's geometry, the board's room and the part's own wishes."""
    package = circuit.packages[part.package]
    wanted = options.diagonals if part.place.diagonal is None else part.place.diagonal
    found: dict[tuple[object, ...], Pose] = {}
    for holes, bodies, mount, turn in _stances(ground, part, package, diagonals=wanted):
        if not _allowed(ground, part, package, holes, mount, turn):
            continue
        if not ground.fits(bodies, overhang=part.place.edge is not None):
            continue
        covers = frozenset(
            i for i, h in enumerate(ground.holes) if any(b.holds(h.x * PITCH, h.y * PITCH) for b in bodies)
        )
        found.setdefault((holes, bodies, mount), Pose(holes, bodies, mount, covers))
    return list(found.values())


Stance = tuple[tuple[int, ...], tuple[Oblong, ...], str, int | None]


def _stances(ground: Ground, part: Part, package: Package, *, diagonals: bool) -> Iterator[Stance]:
    form = package.form
    if isinstance(form, Flying):
        for holes in itertools.permutations(range(len(ground.holes)), len(package.pins)):
            yield holes, (), "flat", part.place.rotation  # a wish to turn flying leads says nothing
    elif isinstance(form, Rigid):
        yield from _rigid(ground, part, form)
    else:
        for a, b in itertools.permutations(range(len(ground.holes)), 2):
            if isinstance(form, Diagonal):
                yield from _neighbours(ground, form, a, b)
            else:
                yield from _leads(ground, form, package.lead_mm, a, b, diagonals=diagonals)


def _rigid(ground: Ground, part: Part, form: Rigid) -> Iterator[Stance]:
    turns = range(4)
    if len(form.offsets) == 1:  # a plan says where pins stand, no more: one pin leaves the body at its first turn
        turns = range((part.place.rotation or 0) // 90, (part.place.rotation or 0) // 90 + 1)
    for turn in turns:
        offsets = [_cw(o, turn) for o in form.offsets]
        for start in ground.holes:
            spots = [(start.x + dx, start.y + dy) for dx, dy in offsets]
            if any(spot not in ground.at for spot in spots):
                continue
            bodies: tuple[Oblong, ...] = ()
            if form.body is not None:
                um = [round(v * 1000) for v in form.body]
                (ax, ay), (bx, by) = _cw((um[0], um[1]), turn), _cw((um[2], um[3]), turn)
                ox, oy = start.x * PITCH, start.y * PITCH
                bodies = (_upright(ox + min(ax, bx), oy + min(ay, by), ox + max(ax, bx), oy + max(ay, by)),)
            yield tuple(ground.at[spot] for spot in spots), bodies, "flat", 90 * turn


def _cw(offset: tuple[int, int], quarters: int) -> tuple[int, int]:
    """Clockwise quarter turns as seen from the component side: right goes down, down goes left."""
    x, y = offset
    return ((x, y), (-y, x), (-x, -y), (y, -x))[quarters]


def between(a: Hole, b: Hole, length: float, width: float) -> Oblong:
    """A rectangle about the middle between two holes, lying along them; half sizes in um."""
    d = math.hypot(b.x - a.x, b.y - a.y)
    return Oblong((a.x + b.x) * PITCH / 2, (a.y + b.y) * PITCH / 2, (b.x - a.x) / d, (b.y - a.y) / d, length, width)


def half_um(mm: float) -> int:
    return round(mm * 1000 / 2)


def _neighbours(ground: Ground, form: Diagonal, a: int, b: int) -> Iterator[Stance]:
    one, two = ground.holes[a], ground.holes[b]
    turn = {(1, 1): 0, (-1, 1): 90, (-1, -1): 180, (1, -1): 270}.get((two.x - one.x, two.y - one.y))
    if turn is not None:
        yield (a, b), (between(one, two, half_um(form.length), half_um(form.width)),), "flat", turn


def _leads(ground: Ground, form: TwoLead, lead_mm: float, a: int, b: int, *, diagonals: bool) -> Iterator[Stance]:
    one, two = ground.holes[a], ground.holes[b]
    dx, dy = two.x - one.x, two.y - one.y
    reach = math.hypot(dx, dy) * PITCH / 2
    turn = AXIS_TURN[(dx > 0) - (dx < 0), (dy > 0) - (dy < 0)] if 0 in (dx, dy) else None
    for mount, spans in (("flat", form.flat), ("standing", form.standing)):
        if not spans:
            continue
        if turn is not None:
            if abs(dx) + abs(dy) not in spans:
                continue
        elif not (diagonals and min(spans) ** 2 <= dx * dx + dy * dy <= max(spans) ** 2):
            continue
        if mount == "flat":
            body = between(one, two, half_um(form.length), half_um(form.width))
            yield (a, b), (body, between(one, two, reach, half_um(lead_mm))), mount, turn
        else:
            half = half_um(form.upright)
            yield (a, b), (between(one, two, reach + half, half),), mount, turn


def _allowed(
    ground: Ground, part: Part, package: Package, holes: tuple[int, ...], mount: str, turn: int | None
) -> bool:
    place, board = part.place, ground.board
    stood = [ground.holes[h] for h in holes]
    if any(h in ground.barred for h in holes):
        return False
    if any(package.lead_mm + package.spread_mm > h.diameter_mm + 1e-9 for h in stood):
        return False
    if any(stood[package.pins.index(pin)].address != hole for pin, hole in place.at.items()):
        return False
    if place.rotation is not None and turn != place.rotation:
        return False
    if place.mount is not None and mount != place.mount:
        return False
    if place.edge is not None and not any(h.address in board.edge_holes(place.edge) for h in stood):
        return False
    if place.side is not None:
        axis = [h.x for h in ground.holes] if place.side in ("left", "right") else [h.y for h in ground.holes]
        sign = 1 if place.side in ("left", "top") else -1
        for h in stood:
            along = h.x if place.side in ("left", "right") else h.y
            if sign * (2 * along - min(axis) - max(axis)) > 0:
                return False
    return True
