"""Rules on holes: they exist, are not drilled out, take one lead or wire end each, and the leads go in."""

from __future__ import annotations

from collections.abc import Iterable

from placer.check.case import Case, Use
from placer.check.report import fault, listed
from placer.errors import Diagnostic

# Lead and hole sizes are decimals of a few digits; this only absorbs binary rounding.
TINY_MM = 1e-9


def holes_exist(case: Case) -> Iterable[Diagnostic]:
    """Every pin and wire end is in a hole the board has."""
    board = case.plan.board
    for use in case.uses:
        if use.hole not in board.holes:
            yield fault("unknown-hole", f"{use.name} is in {use.hole}, but board {board.name} has no such hole")


def drilled_holes_are_empty(case: Case) -> Iterable[Diagnostic]:
    """No pin and no wire end is in a hole that a cut drills out."""
    for use in case.uses:
        if use.hole in case.copper.drilled:
            yield fault("drilled-hole-used", f"{use.name} is in {use.hole}, which a cut drills out")


def one_lead_a_hole(case: Case) -> Iterable[Diagnostic]:
    """A hole takes one pin or one wire end."""
    by_hole: dict[str, list[Use]] = {}
    for use in case.uses:
        by_hole.setdefault(use.hole, []).append(use)
    for hole, uses in by_hole.items():
        # Both ends of one wire in one hole are told as a wire of no length.
        if len(uses) > 1 and (len(set(uses)) > 1 or uses[0].part):
            yield fault(
                "hole-shared",
                f"hole {hole} holds {listed(dict.fromkeys(use.name for use in uses))}; "
                "a hole takes one lead or wire end",
            )


def leads_fit_holes(case: Case) -> Iterable[Diagnostic]:
    """A lead, with the spread of a part off the grid, is no thicker than its hole."""
    for item in case.placed:
        package = item.package
        if item.part.place.port is not None:
            continue  # the port is made for these leads
        needed = package.lead_mm + package.spread_mm
        for pin, hole in item.holes.items():
            if needed > hole.diameter_mm + TINY_MM:
                spread = f" and are {package.spread_mm:g} mm off the grid" if package.spread_mm else ""
                yield fault(
                    "lead-too-thick",
                    f"{item.part.ref}.{pin} does not fit hole {hole.address}: the leads of {package.name} are "
                    f"{package.lead_mm:g} mm thick{spread}, the hole is {hole.diameter_mm:g} mm",
                )
