"""Which jumpers can be bare wire: straight links that touch nothing on their way.

A bare link runs along one grid line on the component side. Every hole strictly between its ends is empty, and the wire,
:data:`WIRE_MM` thick, keeps clear of every body, every keep-out (a screw's head is metal) and every other bare link.
Copper on the component side rules bare links out altogether. Insulated wires may cross a bare one.

A bare link whose holes in between are empty can touch another only where one runs across and the other along, so what
keeps them apart is a graph in two colours. A largest set without conflicts is what its least vertex cover leaves over,
and that cover follows from a largest matching (theorem of Koenig, 1931; from memory): exact, and quick at any size.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import networkx as nx
from networkx.algorithms import bipartite

from placer.boards.model import Board, Hole
from placer.packages.model import STEP_UM
from placer.plan.bodies import Outline, bodies_of, box, origin_um, overlap
from placer.plan.conductors import natural_key
from placer.plan.model import Jumper, Plan

WIRE_MM = 0.6  # tinned copper wire as used for links; common practice, no source
_HALF_UM = round(WIRE_MM * 1000 / 2)


@dataclass(frozen=True)
class Link:
    """What wire a jumper may be. ``reason``: why it must be insulated, "" for one that may be bare."""

    reason: str = ""

    @property
    def bare(self) -> bool:
        """True when bare wire will do."""
        return not self.reason

    @property
    def wire(self) -> str:
        """``bare`` or ``insulated``."""
        return "bare" if self.bare else "insulated"


def links(plan: Plan) -> tuple[Link, ...]:
    """For each jumper of the plan, in its order, whether it can be bare; as many as possible are.

    Same plan, same answer. Meant for plans without faults; an end in no hole of the board makes a jumper insulated.
    """
    holders = _holders(plan)
    obstacles = _obstacles(plan)
    spans = [_span(jumper, plan.board) for jumper in plan.jumpers]
    reasons = [_reason(plan.board, span, holders, obstacles) for span in spans]
    able = {n: span for n, (span, reason) in enumerate(zip(spans, reasons, strict=True)) if span and not reason}
    conflicts = nx.Graph()
    conflicts.add_nodes_from(sorted(able))
    across = [number for number, (first, last) in able.items() if first.y == last.y]
    along = [number for number, (first, last) in able.items() if first.y != last.y]
    conflicts.add_edges_from((a, b) for a in across for b in along if _meet(able[a], able[b]))
    matching = bipartite.hopcroft_karp_matching(conflicts, across)
    cover = bipartite.to_vertex_cover(conflicts, matching, across)
    for number in sorted(cover):
        # A least cover holds nothing in vain: each of its members crosses a link outside it.
        crossed = min(other for other in conflicts[number] if other not in cover)
        reasons[number] = f"crosses bare jumper {crossed + 1}"
    return tuple(Link(reason) for reason in reasons)


def _span(jumper: Jumper, board: Board) -> tuple[Hole, Hole] | None:
    """The two ends, the left or upper one first."""
    start, end = board.holes.get(jumper.start), board.holes.get(jumper.end)
    if start is None or end is None:
        return None
    return (start, end) if (start.x, start.y) <= (end.x, end.y) else (end, start)


def _holders(plan: Plan) -> Mapping[tuple[int, int], str]:
    """What stands in the holes that are not empty, by grid position."""
    found: dict[tuple[int, int], str] = {}
    for ref in sorted(plan.placements, key=natural_key):
        for pin, address in plan.placements[ref].pins.items():
            if address in plan.board.holes:
                hole = plan.board.holes[address]
                found.setdefault((hole.x, hole.y), f"lead {ref}.{pin} in {address}")
    for number, jumper in enumerate(plan.jumpers, 1):
        for address in (jumper.start, jumper.end):
            if address in plan.board.holes:
                hole = plan.board.holes[address]
                found.setdefault((hole.x, hole.y), f"the end of jumper {number} in {address}")
    return found


def _obstacles(plan: Plan) -> list[tuple[str, Outline]]:
    """Shapes that a bare wire keeps clear of, each with its name."""
    left, top = origin_um(plan.board)
    bodies = bodies_of(plan)
    found = [(f"the body of {ref}", outline) for ref in sorted(bodies, key=natural_key) for outline in bodies[ref]]
    for keepout in plan.board.keepouts:
        x0, y0, x1, y1 = (round(value * 1000) for value in (keepout.x0, keepout.y0, keepout.x1, keepout.y1))
        found.append((f"keep-out {keepout.name}", box(x0 - left, y0 - top, x1 - left, y1 - top)))
    return found


def _reason(
    board: Board,
    span: tuple[Hole, Hole] | None,
    holders: Mapping[tuple[int, int], str],
    obstacles: list[tuple[str, Outline]],
) -> str:
    """Why a jumper cannot be bare whatever the others are; "" when it can."""
    if span is None or span[0] == span[1]:
        return "does not join two holes of the board"
    first, last = span
    if first.x != last.x and first.y != last.y:
        return "does not run along one line of holes"
    if board.copper.side != "bottom":
        return "there is copper on the component side"
    between = [(x, y) for x in range(first.x, last.x + 1) for y in range(first.y, last.y + 1)][1:-1]
    for place in between:
        if place in holders:
            return f"passes over {holders[place]}"
    x0, y0, x1, y1 = (value * STEP_UM for value in (first.x, first.y, last.x, last.y))
    across = first.y == last.y
    wire = box(x0, y0 - _HALF_UM, x1, y1 + _HALF_UM) if across else box(x0 - _HALF_UM, y0, x1 + _HALF_UM, y1)
    for name, outline in obstacles:
        if overlap(wire, outline):
            return f"meets {name}"
    return ""


def _meet(across: tuple[Hole, Hole], along: tuple[Hole, Hole]) -> bool:
    """True when a wire along x and one along y share a point."""
    (left, right), (upper, lower) = across, along
    return left.x <= upper.x <= right.x and upper.y <= left.y <= lower.y
