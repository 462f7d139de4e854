"""Rules on room: parts stand as their packages allow, bodies clear each other, leads, keep-outs and the edge."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import combinations

from placer.boards.model import Board, Hole
from placer.check.case import Case
from placer.check.rectangle import Point, Rectangle
from placer.check.report import fault
from placer.errors import Diagnostic
from placer.packages.model import STEP_UM

CELL_STEPS = 8


def packages_keep_their_shape(case: Case) -> Iterable[Diagnostic]:
    """Pin distances, pin order, handedness and mount are those of the package."""
    for stance in case.stances.values():
        yield from stance.faults


def bodies_do_not_overlap(case: Case) -> Iterable[Diagnostic]:
    """No two parts take the same room. Touching is allowed."""
    for (ref, stance), (other_ref, other) in combinations(case.stances.items(), 2):
        if any(a.overlaps(b) for a in stance.bodies for b in other.bodies):
            yield fault(
                "bodies-overlap",
                f"{_named(case, ref)} and {_named(case, other_ref)} overlap: {_span(case, ref)}, "
                f"{_span(case, other_ref)}",
            )


def holes_under_bodies_are_free(case: Case) -> Iterable[Diagnostic]:
    """No lead of another part and no wire end goes in where a body stands."""
    near = _by_place(case)
    for use in case.uses:
        hole = case.plan.board.holes.get(use.hole)
        if hole is None:
            continue
        here = near.get((hole.x // CELL_STEPS, hole.y // CELL_STEPS), {})
        for ref, bodies in here.items():
            if ref != use.part and any(body.covers(_centre(hole)) for body in bodies):
                code = "lead-under-body" if use.part else "wire-under-body"
                yield fault(code, f"{use.name} in {use.hole} is under the body of {_named(case, ref)}")


def _by_place(case: Case) -> dict[tuple[int, int], dict[str, list[Rectangle]]]:
    """The bodies that reach into each square of the grid, by part: most leads are far from most bodies."""
    found: dict[tuple[int, int], dict[str, list[Rectangle]]] = {}
    side = CELL_STEPS * STEP_UM
    for ref, stance in case.stances.items():
        for body in stance.bodies:
            (x, y), far = body.centre, body.half_length + body.half_width
            for column in range(int((x - far) // side), int((x + far) // side) + 1):
                for row in range(int((y - far) // side), int((y + far) // side) + 1):
                    found.setdefault((column, row), {}).setdefault(ref, []).append(body)
    return found


def keepouts_are_clear(case: Case) -> Iterable[Diagnostic]:
    """Nothing stands in a keep-out: no body, no lead, no wire end."""
    board = case.plan.board
    left, top = grid_origin_um(board)
    for keepout in board.keepouts:
        x0, y0, x1, y1 = (round(value * 1000) for value in (keepout.x0, keepout.y0, keepout.x1, keepout.y1))
        area = Rectangle.upright(x0 - left, y0 - top, x1 - left, y1 - top)
        for ref, stance in case.stances.items():
            if any(body.overlaps(area) for body in stance.bodies):
                yield fault("in-keepout", f"the body of {_named(case, ref)} reaches into keep-out {keepout.name}")
        for use in case.uses:
            hole = board.holes.get(use.hole)
            if hole is not None and area.covers(_centre(hole)):
                yield fault("in-keepout", f"{use.name} in {use.hole} is inside keep-out {keepout.name}")


def bodies_stay_on_the_board(case: Case) -> Iterable[Diagnostic]:
    """No body reaches beyond the outline, save of a part that is wished to an edge."""
    board = case.plan.board
    left, top = grid_origin_um(board)
    x1, y1 = (round(size * 1000) for size in board.outline_mm)
    for item in case.placed:
        ref = item.part.ref
        if item.part.place.edge is None and not all(
            body.within(-left, -top, x1 - left, y1 - top) for body in case.stances[ref].bodies
        ):
            yield fault(
                "over-the-edge",
                f"the body of {_named(case, ref)} reaches beyond the outline of board {board.name}: {_span(case, ref)}",
                "move it inwards, or wish it to an edge if it may overhang",
            )


def grid_origin_um(board: Board) -> tuple[int, int]:
    """Where grid position (0, 0) lies from the outline's top left corner (um)."""
    for hole in board.holes.values():
        return round(hole.x_mm * 1000) - hole.x * STEP_UM, round(hole.y_mm * 1000) - hole.y * STEP_UM
    return 0, 0


def _centre(hole: Hole) -> Point:
    return hole.x * STEP_UM, hole.y * STEP_UM


def _named(case: Case, ref: str) -> str:
    return f"{ref} ({case.plan.circuit.part_by_ref[ref].package})"


def _span(case: Case, ref: str) -> str:
    holes: Iterator[str] = iter(case.plan.placements[ref].pins.values())
    return f"{ref} in {', '.join(holes)}"
