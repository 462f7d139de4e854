"""Rules on wishes: each is kept, and a broken one is named as the user wrote it."""

from __future__ import annotations

import math
from collections.abc import Iterable

from placer.boards.model import Hole
from placer.check.case import Case, Placed
from placer.check.report import fault, warning
from placer.circuit.model import SIDES
from placer.errors import Diagnostic
from placer.packages.model import Flying, TwoLead
from placer.plan.conductors import natural_key

TINY = 1e-9


def _broken(item: Placed, wish: str, found: str) -> Diagnostic:
    code = "wish-" + wish.split(":", 1)[0]
    return fault(code, f"wish place: {{{wish}}} of {item.part.ref} is not kept: {found}")


def _where(item: Placed) -> str:
    return ", ".join(f"{item.part.ref}.{pin} is in {hole.address}" for pin, hole in item.holes.items())


def pins_are_in_the_holes_wished(case: Case) -> Iterable[Diagnostic]:
    """``at``: a pin is in the hole asked for."""
    for item in case.placed:
        for pin, hole in sorted(item.part.place.at.items(), key=lambda wish: natural_key(wish[0])):
            found = item.placement.pins.get(pin)
            if found != hole:
                place = f"is in {found}" if found is not None else "has no hole"
                yield _broken(item, f"at: {{{pin}: {hole}}}", f"{item.part.ref}.{pin} {place}")


def parts_are_at_the_edge_wished(case: Case) -> Iterable[Diagnostic]:
    """``edge``: at least one pin is in a hole at that side of the board."""
    for item in case.placed:
        side = item.part.place.edge
        if side is None:
            continue
        if side not in (*SIDES, "any"):
            yield _broken(item, f"edge: {side}", "there is no such side")
        elif not {hole.address for hole in item.holes.values()} & case.plan.board.edge_holes(side):
            yield _broken(item, f"edge: {side}", f"{_where(item)}, none of them at that edge")


def parts_are_turned_as_wished(case: Case) -> Iterable[Diagnostic]:
    """``rotation``: the part stands turned by that angle, clockwise from the component side."""
    for item in case.placed:
        wished = item.part.place.rotation
        if wished is None:
            continue
        rotations = case.stances[item.part.ref].rotations
        if isinstance(item.package.form, Flying):
            yield warning(
                "idle-wish",
                f"wish place: {{rotation: {wished}}} of {item.part.ref} says nothing: flying leads have no rotation",
            )
        elif wished not in rotations:
            found = f"it is turned by {rotations[0]}" if rotations else "it is at no quarter turn"
            yield _broken(item, f"rotation: {wished}", f"{found} ({_where(item)})")


def parts_are_mounted_as_wished(case: Case) -> Iterable[Diagnostic]:
    """``mount``: flat or standing, as asked."""
    for item in case.placed:
        wished = item.part.place.mount
        if wished is not None and item.placement.mount != wished:
            yield _broken(item, f"mount: {wished}", f"it is mounted {item.placement.mount}")


def parts_are_near_what_they_should(case: Case) -> Iterable[Diagnostic]:
    """``near``: at least one pin is within so many steps of the pin named."""
    for item in case.placed:
        for wish in item.part.place.near:
            words = f"near: [{wish.pin}]"
            if not _exists(case, wish.pin.part, wish.pin.pin):
                yield _broken(item, words, f"the circuit has no pin {wish.pin}")
                continue
            target = case.plan.board.holes.get(case.copper.hole_of.get(wish.pin, ""))
            if target is None or not item.holes:
                continue  # a pin without a hole is told as such
            steps = min(math.hypot(hole.x - target.x, hole.y - target.y) for hole in item.holes.values())
            if not steps <= wish.steps + TINY:
                yield _broken(
                    item,
                    words,
                    f"its nearest pin is {steps:.2f} steps from {wish.pin} ({target.address}), allowed {wish.steps:g}; "
                    f"{_where(item)}",
                )


def parts_are_away_from_what_they_should(case: Case) -> Iterable[Diagnostic]:
    """``away``: every pin is at least so many mm from every pin of the part named."""
    by_ref = {item.part.ref: item for item in case.placed}
    for item in case.placed:
        for wish in item.part.place.away:
            words = f"away: [{wish.ref}]"
            if wish.ref not in case.plan.circuit.part_by_ref:
                yield _broken(item, words, f"the circuit has no part {wish.ref}")
                continue
            other = by_ref.get(wish.ref)
            if other is None or not other.holes or not item.holes:
                continue  # a part without holes is told as such
            mm, pin, other_pin = min(
                (_distance_mm(hole, there), pin, other_pin)
                for pin, hole in item.holes.items()
                for other_pin, there in other.holes.items()
            )
            if not mm >= wish.mm - TINY:
                yield _broken(
                    item,
                    words,
                    f"{item.part.ref}.{pin} ({item.holes[pin].address}) is {mm:.2f} mm from {wish.ref}.{other_pin} "
                    f"({other.holes[other_pin].address}), wanted {wish.mm:g} mm or more",
                )


def parts_are_on_the_side_wished(case: Case) -> Iterable[Diagnostic]:
    """``side``: every pin lies in that half of the holes' bounding box; the middle line belongs to both halves."""
    holes = case.plan.board.holes.values()
    for item in case.placed:
        side = item.part.place.side
        if side is None:
            continue
        if side not in SIDES:
            yield _broken(item, f"side: {side}", "there is no such side")
            continue
        for pin, hole in item.holes.items():
            xs, ys = [h.x for h in holes], [h.y for h in holes]
            twice = 2 * hole.x - min(xs) - max(xs) if side in ("left", "right") else 2 * hole.y - min(ys) - max(ys)
            if (twice > 0) if side in ("left", "top") else (twice < 0):
                yield _broken(item, f"side: {side}", f"{item.part.ref}.{pin} is in {hole.address}, in the other half")


def diagonals_are_as_wished(case: Case) -> Iterable[Diagnostic]:
    """``diagonal``: a part asked not to lie on a diagonal does not; only two flexible leads can."""
    for item in case.placed:
        wished = item.part.place.diagonal
        if wished is None:
            continue
        if wished and not isinstance(item.package.form, TwoLead):
            yield warning(
                "idle-wish",
                f"wish place: {{diagonal: true}} of {item.part.ref} says nothing: "
                f"{item.part.package} has no two flexible leads",
            )
        if not wished and isinstance(item.package.form, TwoLead) and len(item.holes) == 2:
            first, second = item.holes.values()
            if first.x != second.x and first.y != second.y:
                yield _broken(item, "diagonal: false", _where(item))


def _exists(case: Case, ref: str, pin: str) -> bool:
    part = case.plan.circuit.part_by_ref.get(ref)
    package = case.plan.circuit.packages.get(part.package) if part else None
    return package is not None and pin in package.pins


def _distance_mm(first: Hole, second: Hole) -> float:
    return math.hypot(second.x_mm - first.x_mm, second.y_mm - first.y_mm)
