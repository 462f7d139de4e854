"""Does a part enter the holes of a board: the arithmetic of leads, holes and parts that are off the grid.

A rigid part off the grid needs holes wider than its leads by what it is off, end to end, with its body centred: a
terminal of k poles with a pitch of 5.00 mm on holes 5.08 mm apart is off by 0.08 x (k - 1) mm.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import ROUND_FLOOR, Decimal

from placer.packages.model import Flying, Package

TINY_MM = 1e-9  # absorbs binary rounding of decimals of a few digits
POLE_OFF_MM = Decimal("0.08")  # 5.08 - 5.00
HOLES_MM = ("1.0", "1.1", "1.2", "1.3", "1.5")
WIRE_MM = 0.82  # bare wire up to AWG 20, 0.812 (ASTM B258, from memory)
ON_WIRES = "-on-wires"


def needed_mm(package: Package) -> float:
    """Return how wide a hole must be (mm) for the leads of a package, what it is off the grid included."""
    return package.lead_mm + package.spread_mm


def enters(package: Package, hole_mm: float) -> bool:
    """True where the leads of a package enter holes of this diameter."""
    return needed_mm(package) <= hole_mm + TINY_MM


def arithmetic(package: Package, hole_mm: float) -> str:
    """Return in figures why a package enters holes of this diameter or not.

    Such as ``leads 0.9 mm + 0.16 mm off the grid end to end = 1.06 mm, holes 1 mm``.
    """
    off = (
        f" + {package.spread_mm:g} mm off the grid end to end = {needed_mm(package):g} mm" if package.spread_mm else ""
    )
    return f"leads {package.lead_mm:g} mm{off}, holes {hole_mm:g} mm"


def most_poles(hole_mm: str, lead_mm: str) -> int:
    """Return how many poles a terminal of pitch 5.00 mm may have: floor(1 + (hole - lead) / 0.08); 0 for none.

    Decimal texts, for binary fractions would lose a pole here and there.

    >>> most_poles("1.0", "0.9"), most_poles("1.3", "0.9"), most_poles("1.0", "1.1")
    (2, 6, 0)
    """
    left = Decimal(hole_mm) - Decimal(lead_mm)
    return 0 if left < 0 else int((1 + left / POLE_OFF_MM).to_integral_value(ROUND_FLOOR))


def poles_table(lead_mm: float) -> str:
    """Return in a line how many poles of 5.00 mm enter which holes, for leads of this size."""
    rows = (f"{most_poles(hole, f'{lead_mm:g}')} in {hole} mm" for hole in HOLES_MM)
    return f"poles of 5.00 mm pitch with leads of {lead_mm:g} mm, at most: {', '.join(rows)}"


def on_wires(package: Package) -> Package:
    """Return the package with each pin on a wire of its own that reaches any hole; its body stands off the board."""
    if isinstance(package.form, Flying):
        return package
    return replace(
        package,
        name=package.name + ON_WIRES,
        about=f"{package.about or package.name}, on wires",
        form=Flying(),
        height_mm=12.0,
        lead_mm=WIRE_MM,
        spread_mm=0.0,
        shape="flying",
        symmetric=False,
        sources={
            "pins": package.sources.get("pins", "as the package it stands for"),
            "height_mm": "common practice, no source: room for the bend of a wire",
            "lead_mm": "derived: bare wire up to AWG 20, 0.812, from memory: ASTM B258",
        },
    )
