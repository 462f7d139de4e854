"""What lies on the straight way of an insulated wire that is soldered before the parts are.

Pulled straight it would lie over holes that leads need later, and a socket would sit on it.
"""

from __future__ import annotations

import math

from placer.packages.model import STEP_UM, Rigid
from placer.plan.bodies import Outline, bodies_of, overlap
from placer.plan.conductors import natural_key
from placer.plan.model import Plan

WIRE_MM = 1.5  # over all, of insulated hook-up wire; common practice, no source


def leads_below(plan: Plan, start: str, end: str) -> tuple[str, ...]:
    """The holes of leads that a straight wire between two holes would cover in part, in the order of the way."""
    board = plan.board
    one, other = board.holes[start], board.holes[end]
    dx, dy = other.x_mm - one.x_mm, other.y_mm - one.y_mm
    length = math.hypot(dx, dy)
    found = []
    for placement in plan.placements.values():
        for address in placement.pins.values():
            hole = board.holes.get(address)
            if hole is None or address in (start, end) or length == 0:
                continue
            x, y = hole.x_mm - one.x_mm, hole.y_mm - one.y_mm
            along, aside = (x * dx + y * dy) / length, abs(x * dy - y * dx) / length
            if 0 < along < length and aside < (WIRE_MM + hole.diameter_mm) / 2:
                found.append((along, address))
    return tuple(dict.fromkeys(address for _, address in sorted(found)))


def parts_above(plan: Plan, start: str, end: str) -> tuple[str, ...]:
    """The parts in whose way a straight wire between two holes would be, in their natural order.

    Those that stand on the board itself; what hangs on two leads has room for a wire below.
    """
    wire = _outline(plan, start, end)
    rigid = {ref: outlines for ref, outlines in bodies_of(plan).items() if _is_rigid(plan, ref)}
    return tuple(ref for ref in sorted(rigid, key=natural_key) if any(overlap(wire, each) for each in rigid[ref]))


def _is_rigid(plan: Plan, ref: str) -> bool:
    return isinstance(plan.circuit.packages[plan.placements[ref].package].form, Rigid)


def _outline(plan: Plan, start: str, end: str) -> Outline:
    one, other = plan.board.holes[start], plan.board.holes[end]
    ax, ay, bx, by = (value * STEP_UM for value in (one.x, one.y, other.x, other.y))
    length = math.hypot(bx - ax, by - ay) or 1.0
    half = WIRE_MM * 1000 / 2
    sx, sy = -(by - ay) / length * half, (bx - ax) / length * half
    return (ax + sx, ay + sy), (bx + sx, by + sy), (bx - sx, by - sy), (ax - sx, ay - sy)
