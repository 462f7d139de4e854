"""Numbers back to a plan."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from placer.plan.model import Cut, Jumper, Placement, Plan, Proof, Score, SolveInfo
from placer.solve.aims import tallies
from placer.solve.arrays import Places
from placer.solve.problem import Problem
from placer.solve.wiring import Wiring

STEP_MM = 2.54


def assemble(problem: Problem, places: Places, wiring: Wiring, bound: float, info: SolveInfo) -> Plan:
    """The plan of places and wiring; ``bound`` is the proved lower bound of its cost."""
    p = problem
    address = p.addresses
    cuts = [Cut(at=address[h]) for h in wiring.drilled]
    cuts += [Cut(between=(address[a], address[b])) for a, b in wiring.severed]
    jumpers = jumpers_of(p, wiring.wires)
    cost = round(len(jumpers) * p.options.jumper_cost + len(cuts) * p.options.cut_cost, 6)
    bound = min(round(bound, 6), cost)
    gap = round(cost - bound, 6)
    return Plan(
        circuit=p.circuit,
        board=p.board,
        placements=placements_of(p, places),
        cuts=tuple(cuts),
        jumpers=jumpers,
        score=Score(
            len(jumpers),
            len(cuts),
            round(sum(j.length_mm for j in jumpers), 2),
            cost,
            wishes=tallies(p, places, wiring.wires),
        ),
        proof=Proof("optimal" if gap == 0 else "feasible", bound, gap),
        solve=info,
        options=p.options,
    )


def placements_of(problem: Problem, places: Places) -> dict[str, Placement]:
    """Where each part goes, by reference."""
    p = problem
    pins: dict[str, dict[str, str]] = {part.ref: {} for part in p.circuit.parts}
    mounts: dict[str, str] = {}
    for item, (shape_no, anchor) in zip(p.items, places, strict=True):
        shape = item.shapes[shape_no]
        mounts[item.ref] = shape.mount
        for pin, (dx, dy) in zip(item.pins, shape.offsets, strict=True):
            pins[item.ref][pin] = p.addresses[p.hole(int(p.hx[anchor]) + dx, int(p.hy[anchor]) + dy)]
    return {r.ref: Placement(r.ref, r.package, mounts[r.ref], pins[r.ref]) for r in p.circuit.parts}


def jumpers_of(problem: Problem, wires: Sequence[tuple[int, int, int]]) -> tuple[Jumper, ...]:
    """Wires, as (net, hole, hole), as jumpers with their straight lengths."""
    p = problem
    return tuple(
        Jumper(
            p.net_names[n],
            p.addresses[a],
            p.addresses[b],
            round(STEP_MM * math.hypot(p.hx[a] - p.hx[b], p.hy[a] - p.hy[b]), 2),
        )
        for n, a, b in wires
    )


def places_of(problem: Problem, plan: Plan) -> Places | None:
    """The places of an earlier plan in this problem's numbers; None when a part does not stand where the plan says."""
    p = problem
    number = {a: h for h, a in enumerate(p.addresses)}
    places = []
    for item in p.items:
        placement = plan.placements.get(item.ref)
        if placement is None or any(placement.pins.get(pin) not in number for pin in item.pins):
            return None
        holes = [number[placement.pins[pin]] for pin in item.pins]
        x, y = int(p.hx[holes[0]]), int(p.hy[holes[0]])
        offsets = tuple((int(p.hx[h]) - x, int(p.hy[h]) - y) for h in holes)
        for s, (shape, way) in enumerate(zip(item.shapes, item.ways, strict=True)):
            if shape.offsets == offsets and shape.mount == placement.mount and holes[0] in way:
                places.append((s, holes[0]))
                break
        else:
            return None
    return tuple(places)


def solve_info(
    seconds: float, seed: int, workers: int, phases: Sequence[Mapping[str, Any]], first: float | None
) -> SolveInfo:
    """Times rounded to the millisecond."""
    return SolveInfo(round(seconds, 3), seed, workers, tuple(phases), None if first is None else round(first, 3))
