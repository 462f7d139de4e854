"""Which way the openings of a connector look, and where on a board nothing can stand in front of them.

The pins say along which edges a row runs, not on which side of it wires come in: a screw terminal may be turned either
way round on the same holes. So it is taken to open towards the nearer of the two edges, here as in the guide.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from placer.boards.model import Board, Hole
from placer.boards.ports import port_at
from placer.circuit.model import SIDES
from placer.packages.model import STEP_UM, Package, Rigid

OPEN = ("terminal",)
"""Shapes of packages whose wires come in from the side, not from above."""

Places = Mapping[int, Mapping[str, frozenset[str]]]
"""By rotation, then by the hole of the first pin: holes of rails that are left in front of the openings."""


def outward(holes: Sequence[Hole], board: Board) -> str:
    """The edge that a row of pins is nearest to, of the two it runs along: where wires come in."""
    dx, dy = holes[-1].x - holes[0].x, holes[-1].y - holes[0].y
    width, height = board.outline_mm
    x, y = sum(h.x_mm for h in holes) / len(holes), sum(h.y_mm for h in holes) / len(holes)
    sides = {"left": x, "right": width - x} if abs(dy) >= abs(dx) else {"top": y, "bottom": height - y}
    return min(sides, key=lambda side: (sides[side], side))


def has_openings(package: Package) -> bool:
    """True for a part in one row that wires enter from the side; of other forms it is not known which side that is."""
    form = package.form
    if package.shape not in OPEN or not isinstance(form, Rigid) or len(form.offsets) < 2:
        return False
    return any(len({offset[axis] for offset in form.offsets}) == 1 for axis in (0, 1))


@dataclass(frozen=True)
class _Line:
    """A grid line up to a side: its holes, the outermost first, and how far out the last is that is not a rail's."""

    holes: tuple[Hole, ...]
    outermost: int


@dataclass(frozen=True)
class Openings:
    """Where parts may stand on a board with their openings free."""

    board: Board

    def places(self, package: Package, edge: str) -> Places:
        """Where the row runs along an edge and the body leaves no hole between its front and that edge, save of rails.

        Rails along an edge belong to it, as for the wish ``edge``. Their holes are told, for a part on them would be in
        the way. ``edge``: a side, or "any".
        """
        form = package.form
        if not isinstance(form, Rigid):
            return {}
        found: dict[int, Mapping[str, frozenset[str]]] = {}
        for turns in range(4):
            pins = [_turned(offset, turns) for offset in form.offsets]
            upright = pins[0][0] == pins[-1][0]
            own: dict[str, frozenset[str]] = {}
            for side in SIDES:
                if edge in (side, "any") and upright == (side in _ACROSS):
                    own.update(self._along(side, pins, _box(form, pins, turns)))
            found[90 * turns] = own
        return found

    def _along(
        self, side: str, pins: Sequence[tuple[int, int]], box: tuple[int, int, int, int]
    ) -> Iterator[tuple[str, frozenset[str]]]:
        """The holes of the first pin along one side, with the holes of rails that are then left in front."""
        lines = self._lines[side]
        front = {"left": -box[0], "right": box[2], "top": -box[1], "bottom": box[3]}[side]
        low, high = (box[1], box[3]) if side in _ACROSS else (box[0], box[2])
        for number, line in lines.items():
            wide = range(number + low // STEP_UM + 1, number - (-high // STEP_UM))
            beside = [lines[other] for other in wide if other in lines]
            for hole in line.holes:
                level = _out(hole, side) * STEP_UM + front
                if line.outermost * STEP_UM >= level:
                    break  # and so it is for all that are further in
                stood = [self.board.hole_at.get((hole.x + dx, hole.y + dy)) for dx, dy in pins]
                row = [pin for pin in stood if pin is not None]
                if len(row) < len(pins) or outward(row, self.board) != side:
                    continue
                if all(one.outermost * STEP_UM < level for one in beside):
                    left = (h.address for one in beside for h in one.holes if _out(h, side) * STEP_UM >= level)
                    yield hole.address, frozenset(left)

    @cached_property
    def _lines(self) -> Mapping[str, Mapping[int, _Line]]:
        """By side: the grid lines that end there."""
        # Pads of ports are holes only while the port is in use, and not where they truly are.
        holes = [hole for address, hole in self.board.holes.items() if port_at(self.board, address) is None]
        rails = {address for strip in self.board.strips if strip.rail for address in strip.holes}
        found: dict[str, Mapping[int, _Line]] = {}
        for side in SIDES:
            by_line: dict[int, list[Hole]] = {}
            for hole in holes:
                by_line.setdefault(hole.y if side in _ACROSS else hole.x, []).append(hole)
            made = {}
            for number, own in by_line.items():
                # Rails never count for the ends of a board, so on a line of their own they are holes as any other.
                signal = [hole for hole in own if hole.address not in rails] or own
                ordered = sorted(own, key=lambda hole: -_out(hole, side))
                made[number] = _Line(tuple(ordered), max(_out(hole, side) for hole in signal))
            found[side] = made
        return found


_ACROSS = ("left", "right")


def _out(hole: Hole, side: str) -> int:
    """How far a hole lies towards a side, in steps."""
    return {"left": -hole.x, "right": hole.x, "top": -hole.y, "bottom": hole.y}[side]


def _turned(point: tuple[int, int], turns: int) -> tuple[int, int]:
    """A point after so many quarter turns, clockwise."""
    x, y = point
    for _ in range(turns):
        x, y = -y, x
    return x, y


def _box(form: Rigid, pins: Sequence[tuple[int, int]], turns: int) -> tuple[int, int, int, int]:
    """The room of the body and of the pins, half a step about each, um from the first pin."""
    half = STEP_UM // 2
    points = [(x * STEP_UM + s, y * STEP_UM + s) for x, y in pins for s in (-half, half)]
    if form.body is not None:
        x0, y0, x1, y1 = (round(value * 1000) for value in form.body)
        points += [_turned(corner, turns) for corner in ((x0, y0), (x1, y1))]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)
