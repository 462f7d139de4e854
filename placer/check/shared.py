"""Rules on binding wishes of the circuit as a whole; a broken one is named as the user wrote it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from placer.boards.model import Hole
from placer.check.case import Case
from placer.check.rectangle import Rectangle
from placer.check.report import fault
from placer.circuit.model import Apart, Owned, Region, Shared, Short, Together
from placer.errors import Diagnostic
from placer.packages.model import STEP_UM

TINY = 1e-9


def _broken(wish: Shared, found: str) -> Diagnostic:
    return fault(f"wish-{wish.words.split(':', 1)[0]}", f"wish {wish.words} is not kept: {found}")


def parts_are_together(case: Case) -> Iterable[Diagnostic]:
    """``together``: all pins of the parts lie in a square of so many steps."""
    for wish in case.plan.circuit.wishes.shared:
        if isinstance(wish, Together) and wish.force.binding:
            standing = [
                (f"{item.part.ref}.{pin}", hole)
                for item in case.placed
                if item.part.ref in wish.parts
                for pin, hole in item.holes.items()
            ]
            yield from _spread(wish, standing, wish.steps)


def nets_are_short(case: Case) -> Iterable[Diagnostic]:
    """``short``: all leads of the net lie in a square of so many mm."""
    for wish in case.plan.circuit.wishes.shared:
        if isinstance(wish, Short) and wish.force.binding:
            yield from _spread(wish, _leads(case, wish.net), wish.mm / 2.54)


def _spread(wish: Shared, standing: list[tuple[str, Hole]], most: float) -> Iterator[Diagnostic]:
    for axis in ("x", "y"):
        if not standing:
            continue
        first = min(standing, key=lambda at: getattr(at[1], axis))
        last = max(standing, key=lambda at: getattr(at[1], axis))
        steps = getattr(last[1], axis) - getattr(first[1], axis)
        if steps > most + TINY:
            one, other = (f"{name} ({hole.address})" for name, hole in (first, last))
            yield _broken(wish, f"{one} and {other} are {steps} steps apart along {axis}")


def keepouts_wished_are_clear(case: Case) -> Iterable[Diagnostic]:
    """``keepout``: no lead, no wire end and no body in the rectangle."""
    holes = case.plan.board.holes
    for wish in case.plan.circuit.wishes.shared:
        if not isinstance(wish, Region):
            continue
        if wish.start not in holes or wish.end not in holes:
            missing = wish.start if wish.start not in holes else wish.end
            yield _broken(wish, f"the board has no hole {missing}")
            continue
        x0, x1 = sorted((holes[wish.start].x, holes[wish.end].x))
        y0, y1 = sorted((holes[wish.start].y, holes[wish.end].y))
        for use in case.uses:
            hole = holes.get(use.hole)
            if hole is not None and x0 <= hole.x <= x1 and y0 <= hole.y <= y1:
                yield _broken(wish, f"{use.name} is in {use.hole}")
        half = STEP_UM // 2
        area = Rectangle.upright(x0 * STEP_UM - half, y0 * STEP_UM - half, x1 * STEP_UM + half, y1 * STEP_UM + half)
        for ref, stance in case.stances.items():
            if any(body.overlaps(area) for body in stance.bodies):
                yield _broken(wish, f"the body of {ref} reaches into it")


def strips_are_owned_as_wished(case: Case) -> Iterable[Diagnostic]:
    """``rails``: a lead of the net stands on the strip, and no lead that is not of the net."""
    for wish in case.plan.circuit.wishes.shared:
        if not isinstance(wish, Owned) or not wish.force.binding:
            continue
        strip = next((strip for strip in case.plan.board.strips if strip.name == wish.strip), None)
        if strip is None:
            yield _broken(wish, f"the board has no strip {wish.strip}")
            continue
        standing = [pin for pin, hole in case.copper.hole_of.items() if hole in strip.holes]
        mine = [pin for pin in standing if wish.net in case.nets_of.get(pin, ())]
        if not mine:
            yield _broken(wish, f"no lead of {wish.net} stands on it")
        for pin in sorted(set(standing) - set(mine)):
            yield _broken(wish, f"{pin} in {case.copper.hole_of[pin]} stands on it too")


def nets_are_apart_as_wished(case: Case) -> Iterable[Diagnostic]:
    """``apart``: leads and wire ends of two nets keep their distance."""
    holes = case.plan.board.holes
    for wish in case.plan.circuit.wishes.shared:
        if not isinstance(wish, Apart) or not wish.force.binding:
            continue
        sides: list[list[tuple[str, Hole]]] = []
        for name in wish.nets:
            own = _leads(case, name)
            for number, jumper in enumerate(case.plan.jumpers, 1):
                ends = (jumper.start, jumper.end) if jumper.net == name else ()
                own += [(f"jumper {number}", holes[end]) for end in ends if end in holes]
            sides.append(own)
        pairs = [
            (math.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm), who, a, other, b)
            for who, a in sides[0]
            for other, b in sides[1]
        ]
        if pairs:
            mm, who, a, other, b = min(pairs, key=lambda pair: (pair[0], pair[1], pair[3]))
            if mm < wish.mm - TINY:
                yield _broken(wish, f"{who} ({a.address}) is {mm:.2f} mm from {other} ({b.address})")


def _leads(case: Case, net: str) -> list[tuple[str, Hole]]:
    """The leads that carry a net and stand in holes, by name."""
    holes = case.plan.board.holes
    return [
        (str(pin), holes[hole])
        for pin, hole in case.copper.hole_of.items()
        if net in case.nets_of.get(pin, ()) and hole in holes
    ]
