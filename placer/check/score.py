"""Rules on figures: lengths, counts, cost and proof agree with the plan they belong to."""

from __future__ import annotations

import math
from collections.abc import Iterable

from placer.boards.model import Hole
from placer.check.case import Case, jumper_name
from placer.check.report import fault
from placer.errors import Diagnostic

COST_TOLERANCE = 1e-6
# A plan may print lengths to a hundredth of a millimetre.
LENGTH_TOLERANCE_MM = 0.005 + 1e-6


def _distance_mm(first: Hole, second: Hole) -> float:
    return math.hypot(second.x_mm - first.x_mm, second.y_mm - first.y_mm)


def _lengths(case: Case) -> list[float | None]:
    """The straight length of each jumper (mm); None where an end is in no known hole."""
    holes = case.plan.board.holes
    return [
        _distance_mm(holes[jumper.start], holes[jumper.end]) if {jumper.start, jumper.end} <= holes.keys() else None
        for jumper in case.plan.jumpers
    ]


def jumper_lengths_are_true(case: Case) -> Iterable[Diagnostic]:
    """The length of a jumper is the straight distance between its holes."""
    for number, (jumper, length) in enumerate(zip(case.plan.jumpers, _lengths(case), strict=True)):
        if length is not None and not abs(jumper.length_mm - length) <= LENGTH_TOLERANCE_MM:
            yield fault(
                "wrong-length",
                f"{jumper_name(number)} of net {jumper.net} is given as {jumper.length_mm:.2f} mm; from {jumper.start} "
                f"to {jumper.end} it is {length:.2f} mm",
            )


def score_counts_are_true(case: Case) -> Iterable[Diagnostic]:
    """The score counts the plan's jumpers, cuts and wire."""
    plan, score = case.plan, case.plan.score
    if score.jumpers != len(plan.jumpers):
        yield fault("wrong-score", f"the score counts {score.jumpers} jumpers; the plan has {len(plan.jumpers)}")
    if score.cuts != len(plan.cuts):
        yield fault("wrong-score", f"the score counts {score.cuts} cuts; the plan has {len(plan.cuts)}")
    if score.bridges != len(plan.bridges):
        yield fault("wrong-score", f"the score counts {score.bridges} bridges; the plan has {len(plan.bridges)}")
    lengths = [length for length in _lengths(case) if length is not None]
    if len(lengths) == len(plan.jumpers):
        total = math.fsum(lengths)
        if not abs(score.jumper_mm - total) <= LENGTH_TOLERANCE_MM * (1 + len(lengths)):
            yield fault(
                "wrong-score", f"the score counts {score.jumper_mm:.2f} mm of wire; the jumpers take {total:.2f} mm"
            )


def cost_is_true(case: Case) -> Iterable[Diagnostic]:
    """Cost is jumpers, cuts and bridges, each at the price the options give."""
    plan, options = case.plan, case.plan.options
    prices = (("jumper", options.jumper_cost), ("cut", options.cut_cost), ("bridge", options.bridge_cost))
    for name, price in prices:
        if not (math.isfinite(price) and price >= 0):
            yield fault("wrong-cost", f"the {name} cost is {price}; expected a number of zero or more")
            return
    cost = len(plan.jumpers) * options.jumper_cost + len(plan.cuts) * options.cut_cost
    cost += len(plan.bridges) * options.bridge_cost
    soldered = f" and {len(plan.bridges)} bridges at {options.bridge_cost:g}" if plan.bridges else ""
    if not abs(plan.score.cost - cost) <= COST_TOLERANCE:
        yield fault(
            "wrong-cost",
            f"the score gives cost {plan.score.cost:g}; {len(plan.jumpers)} jumpers at {options.jumper_cost:g} and "
            f"{len(plan.cuts)} cuts at {options.cut_cost:g}{soldered} cost {cost:g}",
        )


def proof_is_consistent(case: Case) -> Iterable[Diagnostic]:
    """The bound does not exceed the cost, the gap is their difference, and "optimal" means no gap."""
    proof, cost = case.plan.proof, case.plan.score.cost
    if proof.status not in ("optimal", "feasible"):
        yield fault("wrong-proof", f'the proof has status "{proof.status}"; expected "optimal" or "feasible"')
    if not proof.lower_bound <= cost + COST_TOLERANCE:
        yield fault("wrong-proof", f"the proof's bound {proof.lower_bound:g} is above the cost {cost:g}")
    if not proof.lower_bound >= -COST_TOLERANCE:
        yield fault("wrong-proof", f"the proof's bound {proof.lower_bound:g} is below zero")
    if not abs(proof.gap - (cost - proof.lower_bound)) <= COST_TOLERANCE:
        yield fault(
            "wrong-proof",
            f"the proof gives gap {proof.gap:g}; cost {cost:g} less bound {proof.lower_bound:g} is "
            f"{cost - proof.lower_bound:g}",
        )
    if proof.status == "optimal" and not abs(cost - proof.lower_bound) <= COST_TOLERANCE:
        yield fault(
            "wrong-proof",
            f'the proof says "optimal", but the bound {proof.lower_bound:g} does not reach the cost {cost:g}',
        )
