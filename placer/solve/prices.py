"""Costs as whole numbers."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import gcd


@dataclass(frozen=True)
class Prices:
    """Costs as whole numbers: a jumper, a cut, and how many of these units make 1.0 of the plan's cost."""

    jumper: int
    cut: int
    unit: Fraction

    @staticmethod
    def of(jumper_cost: float, cut_cost: float) -> Prices:
        """Whole numbers in the same ratio, never above the costs themselves."""
        j, c = (Fraction(v).limit_denominator(10_000) for v in (jumper_cost, cut_cost))
        scale = j.denominator * c.denominator // gcd(j.denominator, c.denominator)
        whole_j, whole_c = int(j * scale), int(c * scale)
        common = gcd(whole_j, whole_c) or 1
        return Prices(whole_j // common, whole_c // common, Fraction(scale, common))

    def cost(self, units: int) -> float:
        """The plan's cost of so many units."""
        return float(units / self.unit)

    def units(self, cost: float) -> int:
        """The units of a plan's cost."""
        return round(cost * self.unit)

    def attainable(self, units: int) -> int:
        """The least cost, in units, that is at least ``units`` and made of whole jumpers and cuts."""
        best = None
        for jumpers in range(units // self.jumper + 2):
            left = units - jumpers * self.jumper
            if left <= 0:
                total = jumpers * self.jumper
            elif self.cut == 0:
                continue
            else:
                total = jumpers * self.jumper + -(-left // self.cut) * self.cut
            best = total if best is None else min(best, total)
        assert best is not None  # noqa: S101 - jumpers alone reach any cost
        return best
