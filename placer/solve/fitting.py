"""Can these parts stand on this board at all, their wishes kept? A constraint model over places.

Left out is only the wiring (holes for wire ends). A "no" is therefore a fact about every plan; a "yes" comes with
places.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from ortools.sat.python import cp_model

from placer.packages.model import STEP_UM
from placer.solve.aims import ANY, AWAY, BOX, NEAR, Wish
from placer.solve.arrays import Places, covered
from placer.solve.cpsat import run_stoppable
from placer.solve.problem import Problem

MOST_PLACES = 40_000  # of all parts together; more are not looked into
MOST_PAIRS = 400_000  # clauses of distances
MOST_REPAIRS = 60
LATTICE = STEP_UM // 2

Lit = cp_model.IntVar


@dataclass(frozen=True)
class Fit:
    """``possible``: None when cut short, or too large to look into. ``places``: for the parts of the problem."""

    possible: bool | None
    places: Places | None = None


def fits(p: Problem, work: float, stopped: Callable[[], bool], wired: Callable[[Places], bool] | None = None) -> Fit:
    """Whether the parts can stand, within ``work`` units of the solver's deterministic time.

    ``wired`` looks at places once more and may refuse them; when every one is refused the answer is not known.
    """
    if sum(len(way) for item in p.items for way in item.ways) > MOST_PLACES:
        return Fit(None)
    try:
        return _Fitting(p).solve(work, stopped, wired)
    except _TooLargeError:
        return Fit(None)


class _TooLargeError(Exception):
    """More distances than are looked into."""


class _Fitting:
    def __init__(self, p: Problem) -> None:
        self.p = p
        self.m = cp_model.CpModel()
        self.rows: list[tuple[int, int, int]] = []  # item, shape, hole of its first pin
        self.lits: list[Lit] = []
        self.at: dict[tuple[int, int], dict[int, Lit]] = {}  # pin -> hole -> literal
        self._places()
        self._holes()
        self._copper()
        self._wishes()
        if self.lits:
            self.m.add_decision_strategy(self.lits, cp_model.CHOOSE_FIRST, cp_model.SELECT_MAX_VALUE)

    def _places(self) -> None:
        m, p = self.m, self.p
        self.leads: dict[int, list[Lit]] = {}
        self.covers: dict[int, list[Lit]] = {}
        self.points: dict[tuple[int, int], list[Lit]] = {}
        for i, item in enumerate(p.items):
            own: list[Lit] = []
            pins: list[dict[int, list[Lit]]] = [{} for _ in item.pins]
            for no, (shape, way) in enumerate(zip(item.shapes, item.ways, strict=True)):
                hidden = covered(shape)
                lattice = [] if shape.slants else _inside(shape.boxes)
                for h in way[self._unshorted(i, no)].tolist():
                    lit = m.new_bool_var("")
                    own.append(lit)
                    self.rows.append((i, no, h))
                    x, y = int(p.hx[h]), int(p.hy[h])
                    for k, (dx, dy) in enumerate(shape.offsets):
                        pins[k].setdefault(p.hole(x + dx, y + dy), []).append(lit)
                    for dx, dy in hidden:
                        g = p.hole(x + dx, y + dy)
                        if g >= 0:
                            self.covers.setdefault(g, []).append(lit)
                    for px, py in lattice:
                        self.points.setdefault((px + 2 * x, py + 2 * y), []).append(lit)
            m.add_bool_or(own)
            m.add_at_most_one(own)
            self.lits += own
            for k, by_hole in enumerate(pins):
                at = {h: m.new_bool_var("") for h in by_hole}
                m.add_exactly_one(at.values())
                for h, some in by_hole.items():
                    for lit in some:
                        m.add_implication(lit, at[h])
                    self.leads.setdefault(h, []).append(at[h])
                self.at[i, k] = at

    def _unshorted(self, i: int, no: int) -> npt.NDArray[np.bool_]:
        """Of the ways of a shape, those in which its own pins of different nets share no copper that is not cut."""
        p, item = self.p, self.p.items[i]
        way, shape = item.ways[no], item.shapes[no]
        at = [p.cell[p.hy[way] - p.y0 + dy, p.hx[way] - p.x0 + dx] for dx, dy in shape.offsets]
        good: npt.NDArray[np.bool_] = np.ones(len(way), dtype=bool)
        for a, b in itertools.combinations(range(len(item.pins)), 2):
            if item.nets[a] != item.nets[b]:
                strip = p.hstrip[at[a]]
                good &= (strip != p.hstrip[at[b]]) | p.cut_at[strip] | p.cut_between[strip]
        return good

    def _holes(self) -> None:
        m = self.m
        for h, some in self.leads.items():
            m.add_at_most_one(some)
            if h in self.covers:
                hidden = m.new_bool_var("")
                for lit in self.covers[h]:
                    m.add_implication(lit, hidden)
                for lit in some:
                    m.add_implication(lit, ~hidden)
        for lits in self.points.values():
            if len(lits) > 1:
                m.add_at_most_one(lits)

    def _copper(self) -> None:
        """One net on copper that cannot be severed; a hole between nets where cuts are drilled."""
        m, p = self.m, self.p
        on: dict[tuple[int, int], Lit] = {}
        by_hole: dict[tuple[int, int], list[Lit]] = {}
        for (i, k), at in self.at.items():
            n = p.items[i].nets[k]
            for h, lit in at.items():
                s = int(p.hstrip[h])
                if p.cut_between[s]:
                    continue
                if p.cut_at[s]:
                    by_hole.setdefault((h, n), []).append(lit)
                    continue
                if (s, n) not in on:
                    on[s, n] = m.new_bool_var("")
                m.add_implication(lit, on[s, n])
        nets_on: dict[int, list[Lit]] = {}
        for (s, _), lit in on.items():
            nets_on.setdefault(s, []).append(lit)
        for lits in nets_on.values():
            m.add_at_most_one(lits)
        nets_at: dict[int, list[int]] = {}
        for h, n in by_hole:
            nets_at.setdefault(h, []).append(n)
        for h, nets in nets_at.items():
            if p.hstrip[h] != p.hstrip[min(h + 1, len(p.hstrip) - 1)]:
                continue
            for a, b in itertools.product(nets, nets_at.get(h + 1, [])):
                if a != b:
                    for one, other in itertools.product(by_hole[h, a], by_hole[h + 1, b]):
                        m.add_bool_or([~one, ~other])

    def _occupied(self, pins: list[tuple[int, int]]) -> list[tuple[int, Lit]]:
        """(hole, literal that is true when one of the pins is there)."""
        by_hole: dict[int, list[Lit]] = {}
        for pin in pins:
            for h, lit in self.at[pin].items():
                by_hole.setdefault(h, []).append(lit)
        found = []
        for h, lits in sorted(by_hole.items()):
            there = lits[0]
            if len(lits) > 1:
                there = self.m.new_bool_var("")
                self.m.add_bool_or([~there, *lits])
                for lit in lits:
                    self.m.add_implication(lit, there)
            found.append((h, there))
        return found

    def _wishes(self) -> None:
        m, p = self.m, self.p
        for wish in p.wishes:
            if wish.kind == BOX:
                self._box(wish)
                continue
            mine = self._occupied(list(wish.a))
            if wish.kind == ANY:
                holes = set(wish.holes)
                m.add_bool_or([lit for h, lit in mine if h in holes])
                continue
            theirs = self._occupied(list(wish.b))
            mx, my = (np.array([v[h] for h, _ in mine]) for v in (p.hx, p.hy))
            pairs = 0
            for h, lit in theirs:
                square = (mx - p.hx[h]) ** 2 + (my - p.hy[h]) ** 2
                near = np.flatnonzero(square <= wish.limit2 if wish.kind == NEAR else square < wish.limit2)
                pairs += len(near)
                if pairs > MOST_PAIRS:
                    raise _TooLargeError
                if wish.kind == NEAR:
                    m.add_bool_or([~lit, *(mine[a][1] for a in near.tolist())])
                elif wish.kind == AWAY:
                    for a in near.tolist():
                        m.add_bool_or([~lit, ~mine[a][1]])

    def _box(self, wish: Wish) -> None:
        """All pins in a square, wherever it is."""
        side = math.isqrt(int(wish.limit2))
        for v in (self.p.hx, self.p.hy):
            low = self.m.new_int_var(int(v.min()), int(v.max()), "")
            for pin in wish.a:
                at = self.at[pin]
                where = cp_model.LinearExpr.weighted_sum(list(at.values()), [int(v[h]) for h in at])
                self.m.add_linear_constraint(where - low, 0, side)

    def solve(self, work: float, stopped: Callable[[], bool], wired: Callable[[Places], bool] | None) -> Fit:
        done, refused = 0.0, False
        for _ in range(MOST_REPAIRS):
            solver = cp_model.CpSolver()
            solver.parameters.num_workers = 1
            solver.parameters.random_seed = 1
            solver.parameters.catch_sigint_signal = False
            solver.parameters.max_deterministic_time = max(1e-3, work - done)
            solver.parameters.cp_model_probing_level = 0
            solver.parameters.max_presolve_iterations = 1
            solver.parameters.linearization_level = 0
            solver.parameters.symmetry_level = 0
            status = run_stoppable(solver, self.m, stopped)
            done += solver.deterministic_time
            if status == cp_model.INFEASIBLE:
                return Fit(None if refused else False)
            if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
                return Fit(None)
            chosen = [a for a, lit in enumerate(self.lits) if solver.boolean_value(lit)]
            clash = [(a, b) for a, b in itertools.combinations(chosen, 2) if self._meet(a, b)]
            for a, b in clash:
                self.m.add_bool_or([~self.lits[a], ~self.lits[b]])
            if clash:
                continue
            places = tuple((self.rows[a][1], self.rows[a][2]) for a in chosen)
            if wired is None or wired(places):
                return Fit(True, places)
            refused = True
            self.m.add_bool_or([~self.lits[a] for a in chosen])
        return Fit(None)

    def _meet(self, a: int, b: int) -> bool:
        """Two bodies overlap. One off the axes is let pass: whoever looks at the places once more will tell."""
        p = self.p
        one, other = (p.items[self.rows[c][0]].shapes[self.rows[c][1]] for c in (a, b))
        if one.slants or other.slants:
            return False
        ax, ay = (int(v[self.rows[a][2]]) * STEP_UM for v in (p.hx, p.hy))
        bx, by = (int(v[self.rows[b][2]]) * STEP_UM for v in (p.hx, p.hy))
        return any(
            ax + q[0] < bx + r[2] and ax + q[2] > bx + r[0] and ay + q[1] < by + r[3] and ay + q[3] > by + r[1]
            for q in one.boxes
            for r in other.boxes
        )


def _inside(boxes: tuple[tuple[int, int, int, int], ...]) -> list[tuple[int, int]]:
    """Points of the half-step lattice (half steps from the first pin) strictly inside a body."""
    return sorted(
        {
            (x, y)
            for x0, y0, x1, y1 in boxes
            for x in range(x0 // LATTICE, x1 // LATTICE + 2)
            for y in range(y0 // LATTICE, y1 // LATTICE + 2)
            if x0 < x * LATTICE < x1 and y0 < y * LATTICE < y1
        }
    )
