"""Where to saw a board down to what a plan uses, told so that one can count it on the board.

Each saw line runs right across the board, through a line of holes or midway between two: those are found without a
ruler, and a board breaks well along a line of holes (common practice, no source). A line stands at least the margin
away from the outermost used hole's middle and from every body, and never in the copper of a used hole.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from placer.boards.model import Board
from placer.packages.model import STEP_UM
from placer.plan.area import Area, used_area
from placer.plan.bodies import origin_um
from placer.plan.model import Plan

MARGIN_MM = 2.54  # a step: as much as boards come with beyond their outermost holes
_HALF_STEP_UM = STEP_UM // 2
_LEAST_OFF_UM = STEP_UM  # less than a step is not sawn off


@dataclass(frozen=True)
class SawLine:
    """One saw line. ``side``: of the component side; ``at_mm``: x (left, right) or y, from the outline's corner."""

    side: str
    at_mm: float
    where: str


@dataclass(frozen=True)
class Crop:
    """A board sawn down. The rectangle that stays, mm from the outline's top left corner, and the lines round it.

    ``columns``, ``rows``: the first and the last grid line whose holes stay whole.
    ``lost``: mounting holes and ports that do not stay whole, in words.
    """

    left: float
    top: float
    right: float
    bottom: float
    lines: tuple[SawLine, ...]
    columns: tuple[int, int]
    rows: tuple[int, int]
    lost: tuple[str, ...] = ()
    off_grid: tuple[str, ...] = ()

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of what stays."""
        return round(self.right - self.left, 2), round(self.bottom - self.top, 2)


def crop(plan: Plan, margin_mm: float = MARGIN_MM) -> Crop:
    """Where to saw the plan's board. ``margin_mm``: how much to leave beyond holes and bodies in use."""
    board, area = plan.board, used_area(plan)
    left, top = origin_um(board)
    width, height = (round(value * 1000) for value in board.outline_mm)
    low, high = _limits(board, area, round(margin_mm * 1000))
    # Everything in um from the outline's corner from here on.
    x0, x1 = _kept(low[0], high[0], left, width, whole=bool(area.off_grid))
    y0, y1 = _kept(low[1], high[1], top, height, whole=bool(area.off_grid))
    sides = (("left", x0, x0 > 0), ("right", x1, x1 < width), ("top", y0, y0 > 0), ("bottom", y1, y1 < height))
    names = {True: line_names(board, vertical=True), False: line_names(board, vertical=False)}
    lines = []
    for side, at, sawn in sides:
        if sawn:
            vertical = side in ("left", "right")
            where = _where(names[vertical], at - (left if vertical else top))
            lines.append(SawLine(side, at / 1000, where))
    edges = (x0 / 1000, y0 / 1000, x1 / 1000, y1 / 1000)
    whole = [hole for hole in board.holes.values() if _inside(edges, hole.x_mm, hole.y_mm, hole.diameter_mm / 2)]
    xs, ys = [hole.x for hole in whole], [hole.y for hole in whole]
    lost = tuple(_lost(board, edges))
    return Crop(*edges, tuple(lines), (min(xs), max(xs)), (min(ys), max(ys)), lost, area.off_grid)


def _limits(board: Board, area: Area, margin: int) -> tuple[tuple[float, float], tuple[float, float]]:
    """What must stay, grid frame: the least and the greatest x and y."""
    pad = round(max(board.copper.width_mm, *(hole.diameter_mm for hole in board.holes.values())) * 500)
    room = max(margin, pad)
    low: tuple[float, float] = (area.x0 * STEP_UM - room, area.y0 * STEP_UM - room)
    high: tuple[float, float] = (area.x1 * STEP_UM + room, area.y1 * STEP_UM + room)
    if area.bodies_um is not None:
        left, top, right, bottom = area.bodies_um
        low = min(low[0], left - margin), min(low[1], top - margin)
        high = max(high[0], right + margin), max(high[1], bottom + margin)
    return low, high


def _kept(low: float, high: float, origin: int, size: int, *, whole: bool) -> tuple[int, int]:
    """The piece of one axis that stays, from the outline's corner: on half steps of the grid, or the board's edge."""
    first = origin + math.floor(round(low) / _HALF_STEP_UM) * _HALF_STEP_UM
    last = origin + math.ceil(round(high) / _HALF_STEP_UM) * _HALF_STEP_UM
    first = 0 if whole or first < _LEAST_OFF_UM else first
    last = size if whole or last > size - _LEAST_OFF_UM else last
    return first, last


def _inside(edges: tuple[float, float, float, float], x: float, y: float, r: float) -> bool:
    """True when a round hole about (x, y) stays whole."""
    x0, y0, x1, y1 = edges
    return x0 <= x - r and x + r <= x1 and y0 <= y - r and y + r <= y1


def _lost(board: Board, edges: tuple[float, float, float, float]) -> Iterator[str]:
    for hole in board.mounting:
        if not _inside(edges, hole.x_mm, hole.y_mm, hole.diameter_mm / 2):
            yield f"mounting hole {hole.name}"
    for port in board.ports.values():
        if not all(_inside(edges, x, y, 0.0) for x, y in port.pads.values()):
            yield f"port {port.name}"


# --- words -----------------------------------------------------------------------------------------------------------

Name = tuple[str, str]  # "column" or "row" or "rail", and the label


def line_names(board: Board, *, vertical: bool) -> Mapping[int, Name]:
    """What each grid line with holes is called: its printed label, the rail that lies on it, else a hole of it."""
    labels = board.column_labels if vertical else board.row_labels
    word = "column" if vertical else "row"
    found: dict[int, Name] = {}
    for hole in board.holes.values():
        found.setdefault(hole.x if vertical else hole.y, (f"{word} of hole", hole.address))
    for strip in board.strips:
        lines = {board.holes[address].x if vertical else board.holes[address].y for address in strip.holes}
        if strip.rail and len(lines) == 1 and len(strip.holes) > 1:
            found[lines.pop()] = ("rail", strip.name)
    return {line: (word, labels[line]) if labels.get(line) else name for line, name in sorted(found.items())}


def _pair(first: Name, last: Name, joint: str) -> str:
    """Two lines in words: ``columns 4 and 5``, ``rail L+ and column a``."""
    if first[0] == last[0] in ("column", "row", "rail"):
        return f"{first[0]}s {first[1]} {joint} {last[1]}"
    return f"{' '.join(first)} {joint} {' '.join(last)}"


def _where(names: Mapping[int, Name], at_um: float) -> str:
    """A place on the grid in words: through a line of holes, or between two."""
    line, off = divmod(round(at_um), STEP_UM)
    if not off and line in names:
        return f"through the holes of {' '.join(names[line])}"
    before = max((each for each in names if each * STEP_UM < at_um), default=None)
    after = min((each for each in names if each * STEP_UM > at_um), default=None)
    if before is not None and after is not None and after - before == 1:
        return f"midway between {_pair(names[before], names[after], 'and')}"
    near = min((each for each in (before, after) if each is not None), key=lambda each: abs(at_um - each * STEP_UM))
    towards = f", towards {' '.join(names[after])}" if near == before and after is not None else ""
    towards = f", towards {' '.join(names[before])}" if near == after and before is not None else towards
    return f"{abs(at_um - near * STEP_UM) / 1000:.1f} mm from {' '.join(names[near])}{towards}"


def kept_words(found: Crop, board: Board) -> str:
    """What stays whole, in printed labels: ``columns 5 to 22 and rows C to N``."""
    said = []
    for vertical, (first, last) in ((True, found.columns), (False, found.rows)):
        names = line_names(board, vertical=vertical)
        said.append(" ".join(names[first]) if first == last else _pair(names[first], names[last], "to"))
    return " and ".join(said)


def crop_text(found: Crop, board: Board) -> str:
    """The whole of it in a few sentences that are true of both sides of the board."""
    width, height = found.size_mm
    if not found.lines:
        why = f" (copper of {', '.join(found.off_grid)} off the grid is in use)" if found.off_grid else ""
        return f"Nothing to saw off: the plan takes the whole board, {width:.1f} x {height:.1f} mm{why}."
    text = f"Saw the board to {width:.1f} x {height:.1f} mm: {kept_words(found, board)} stay whole. "
    text += f"Saw {'; '.join(line.where for line in found.lines)}."
    return text + (f" Sawn off: {', '.join(found.lost)}." if found.lost else "")
