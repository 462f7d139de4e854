"""The part of the board that a plan uses: the least rectangle that can be sawn out without changing the circuit.

It holds every hole with a lead, a wire end or a cut at it, the holes either side of a knife cut, every body, and the
copper between the holes that it joins: where the copper of one segment leaves the rectangle on its way from one used
hole to another, the rectangle grows until it does not. Copper whose way off the grid is not known (round the edge, say)
and that is needed keeps the whole board.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Set
from dataclasses import dataclass
from itertools import pairwise

import networkx as nx

from placer.boards.model import Board, Hole
from placer.packages.model import STEP_UM
from placer.plan.bodies import bodies_of, origin_um
from placer.plan.conductors import CopperMap, Segment
from placer.plan.model import Plan
from placer.plan.ports import mounted

_FAR = 1_000_000  # links that no way takes if there is another


@dataclass(frozen=True)
class Area:
    """The used rectangle. ``x0`` .. ``y1``: its first and last grid lines (steps), both inside.

    ``bodies_um``: the box around all bodies (left, top, right, bottom; grid frame), None where there are none.
    ``off_grid``: the strips whose copper off the grid the plan needs; the whole board is used then.
    """

    x0: int
    y0: int
    x1: int
    y1: int
    bodies_um: tuple[float, float, float, float] | None = None
    off_grid: tuple[str, ...] = ()

    @property
    def columns(self) -> int:
        """Grid lines from left to right, those without holes (a channel) among them."""
        return self.x1 - self.x0 + 1

    @property
    def rows(self) -> int:
        """Grid lines from top to bottom."""
        return self.y1 - self.y0 + 1


def used_area(plan: Plan) -> Area:
    """The used rectangle of a plan; the whole grid of the board for a plan that uses nothing."""
    plan = mounted(plan)
    board = plan.board
    ends = {address for address in _ends(plan) if address in board.holes}
    used = {address: board.holes[address] for address in (*ends, *_cut_holes(plan)) if address in board.holes}
    knives = {frozenset(cut.between) for cut in plan.cuts if cut.between is not None}
    lines, off_grid = list(used.values()), []
    for segment in CopperMap(plan).segments:
        stood = [address for address in segment.holes if address in ends]
        if len(stood) > 1:
            way, leaves_grid = _way(board, segment, stood, knives)
            lines += way
            off_grid += [segment.strip] if leaves_grid else []
    if off_grid or not lines:
        lines = list(board.holes.values())
    corners = [point for outlines in bodies_of(plan).values() for outline in outlines for point in outline]
    xs, ys = [hole.x for hole in lines], [hole.y for hole in lines]
    if not corners:
        return Area(min(xs), min(ys), max(xs), max(ys), None, tuple(dict.fromkeys(off_grid)))
    (left, right), (top, bottom) = ((min(values), max(values)) for values in zip(*corners, strict=True))
    # Holes under a body are used up as well; a body that hangs over the edge uses up what there is.
    first_x, last_x = (edge(hole.x for hole in board.holes.values()) for edge in (min, max))
    first_y, last_y = (edge(hole.y for hole in board.holes.values()) for edge in (min, max))
    return Area(
        min(*xs, max(first_x, math.ceil(round(left) / STEP_UM))),
        min(*ys, max(first_y, math.ceil(round(top) / STEP_UM))),
        max(*xs, min(last_x, math.floor(round(right) / STEP_UM))),
        max(*ys, min(last_y, math.floor(round(bottom) / STEP_UM))),
        (left, top, right, bottom),
        tuple(dict.fromkeys(off_grid)),
    )


def size_mm(area: Area, board: Board) -> tuple[float, float]:
    """Width and height of the used rectangle: pads and bodies, as far as they are on the board."""
    left, top = origin_um(board)
    ring = round(max(board.copper.width_mm, *(hole.diameter_mm for hole in board.holes.values())) * 500)
    x0, y0, x1, y1 = (value * STEP_UM for value in (area.x0, area.y0, area.x1, area.y1))
    box: tuple[float, float, float, float] = (x0 - ring, y0 - ring, x1 + ring, y1 + ring)
    if area.bodies_um is not None:
        b = area.bodies_um
        box = (min(box[0], b[0]), min(box[1], b[1]), max(box[2], b[2]), max(box[3], b[3]))
    width, height = (round(value * 1000) for value in board.outline_mm)
    across = min(box[2], width - left) - max(box[0], -left)
    down = min(box[3], height - top) - max(box[1], -top)
    return round(across / 1000, 2), round(down / 1000, 2)


def _ends(plan: Plan) -> Iterator[str]:
    """The holes that hold a lead or a wire end."""
    for placement in plan.placements.values():
        yield from placement.pins.values()
    for jumper in plan.jumpers:
        yield from (jumper.start, jumper.end)


def _cut_holes(plan: Plan) -> Iterator[str]:
    for cut in plan.cuts:
        yield from (cut.at,) if cut.at is not None else ()
        yield from cut.between or ()


def _way(board: Board, segment: Segment, stood: list[str], knives: Set[frozenset[str]]) -> tuple[list[Hole], bool]:
    """The holes on the copper that joins the used holes of a segment, and whether that copper leaves the grid."""
    strip = board.strip_of[segment.holes[0]]
    off_grid = {frozenset(link) for link in strip.off_grid}
    inside = set(segment.holes)
    graph = nx.Graph()
    for link in strip.links:
        if inside.issuperset(link) and frozenset(link) not in knives:
            graph.add_edge(*link, weight=_FAR if frozenset(link) in off_grid else 1)
    ways = nx.single_source_dijkstra_path(graph, stood[0])
    taken = {frozenset(link) for hole in stood for link in pairwise(ways[hole])}
    return [board.holes[hole] for link in taken for hole in link], bool(taken & off_grid)
