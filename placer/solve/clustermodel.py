"""The cluster question as a constraint model, for clusters that plain depth-first search does not decide.

Bodies are kept apart at the points of a half-step lattice; what slips through is found by looking at the places that
come out, forbidden, and solved again. A "no" is therefore always right, and a "yes" has been looked at.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence

from ortools.sat.python import cp_model

from placer.packages.model import STEP_UM
from placer.solve.arrays import covered
from placer.solve.problem import Problem
from placer.solve.relax import run_stoppable

Place = tuple[int, int, int, int, tuple[int, ...]]
"""(item, shape, x, y, strips of the pins)."""
Pin = tuple[int, int]

LATTICE = STEP_UM // 2
MOST_REPAIRS = 40


def decide(
    p: Problem,
    places: Sequence[Place],
    group_of: dict[Pin, int],
    wired: frozenset[int],
    strip_at: Callable[[int, int], int],
    room: Sequence[int],
    work: float,
    stopped: Callable[[], bool],
) -> tuple[bool | None, list[Place], float]:
    """(possible or None when cut short, chosen places, work done)."""
    m = cp_model.CpModel()
    lits = [m.new_bool_var("") for _ in places]
    by_item: dict[int, list[cp_model.IntVar]] = {}
    pins: dict[tuple[int, int], list[cp_model.IntVar]] = {}
    covers: dict[tuple[int, int], list[cp_model.IntVar]] = {}
    points: dict[tuple[int, int], list[cp_model.IntVar]] = {}
    own: dict[tuple[int, int], cp_model.IntVar] = {}
    group_on: dict[tuple[int, int], cp_model.IntVar] = {}
    used: dict[int, list[cp_model.IntVar]] = {}
    for (i, no, x, y, strips), lit in zip(places, lits, strict=True):
        item = p.items[i]
        shape = item.shapes[no]
        by_item.setdefault(i, []).append(lit)
        for k, ((dx, dy), s) in enumerate(zip(shape.offsets, strips, strict=True)):
            pins.setdefault((x + dx, y + dy), []).append(lit)
            used.setdefault(s, []).append(lit)
            pair = (s, item.nets[k])
            if pair not in own:
                own[pair] = m.new_bool_var("")
            m.add_implication(lit, own[pair])
            if (i, k) in group_of:
                at = (group_of[i, k], s)
                if at not in group_on:
                    group_on[at] = m.new_bool_var("")
                m.add_implication(lit, group_on[at])
        for dx, dy in covered(shape):
            s = strip_at(x + dx, y + dy)
            if s > 0:
                covers.setdefault((x + dx, y + dy), []).append(lit)
                used.setdefault(s, []).append(lit)
        for point in _lattice(() if shape.diagonal else shape.boxes, x * STEP_UM, y * STEP_UM):
            points.setdefault(point, []).append(lit)
    for own_lits in by_item.values():
        m.add_exactly_one(own_lits)
    for cell, some in pins.items():
        m.add_at_most_one(some)
        if cell in covers:
            hidden = m.new_bool_var("")
            for lit in covers[cell]:
                m.add_implication(lit, hidden)
            for lit in some:
                m.add_implication(lit, ~hidden)
    for some in points.values():
        if len(some) > 1:
            m.add_at_most_one(some)
    by_strip: dict[int, list[cp_model.IntVar]] = {}
    for (s, _), lit in own.items():
        by_strip.setdefault(s, []).append(lit)
    for some in by_strip.values():
        m.add_at_most_one(some)
    by_group: dict[int, list[cp_model.IntVar]] = {}
    for (g, _), lit in group_on.items():
        by_group.setdefault(g, []).append(lit)
    for some in by_group.values():
        m.add_exactly_one(some)
    for s, some in used.items():
        wants = [lit for (t, n), lit in own.items() if t == s and n in wired]
        if len(some) + 1 > room[s]:
            m.add(sum(some) + sum(wants) <= int(room[s]))
    done = 0.0
    for _ in range(MOST_REPAIRS):
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.catch_sigint_signal = False
        solver.parameters.max_deterministic_time = max(1e-3, work - done)
        solver.parameters.linearization_level = 0
        solver.parameters.symmetry_level = 0
        status = run_stoppable(solver, m, stopped)
        done += solver.deterministic_time
        if status == cp_model.INFEASIBLE:
            return False, [], done
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None, [], done
        chosen = [a for a, lit in enumerate(lits) if solver.boolean_value(lit)]
        clash = [(a, b) for a, b in itertools.combinations(chosen, 2) if _bodies_meet(p, places[a], places[b])]
        if not clash:
            return True, [places[a] for a in chosen], done
        for a, b in clash:
            m.add_bool_or([~lits[a], ~lits[b]])
    return None, [], done


def _lattice(boxes: Sequence[tuple[int, int, int, int]], x: int, y: int) -> set[tuple[int, int]]:
    """Points of the half-step lattice strictly inside a body."""
    found = set()
    for x0, y0, x1, y1 in boxes:
        for gx in range(-(-(x + x0 + 1) // LATTICE), (x + x1 - 1) // LATTICE + 1):
            for gy in range(-(-(y + y0 + 1) // LATTICE), (y + y1 - 1) // LATTICE + 1):
                found.add((gx, gy))
    return found


def _bodies_meet(p: Problem, a: Place, b: Place) -> bool:
    if p.items[a[0]].shapes[a[1]].diagonal or p.items[b[0]].shapes[b[1]].diagonal:
        return False  # boxes are more than such a body takes: no ground for a refutation
    ax, ay, bx, by = (v * STEP_UM for v in (a[2], a[3], b[2], b[3]))
    return any(
        ax + q[0] < bx + r[2] and ax + q[2] > bx + r[0] and ay + q[1] < by + r[3] and ay + q[3] > by + r[1]
        for q in p.items[a[0]].shapes[a[1]].boxes
        for r in p.items[b[0]].shapes[b[1]].boxes
    )
