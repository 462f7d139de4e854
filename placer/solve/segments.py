"""A lower bound of jumpers and cuts on copper that may be severed: which net has pins on which strip.

Each pin takes a strip of the frame. A net costs a jumper for each strip beyond its first, a severable strip a cut for
each net beyond its first; a strip that cannot be severed holds one net. Where a part's own pins lie on both sides of
it on one strip, whatever shares the copper of one side stands on that side. Positions along the strips are left out.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from math import gcd

import numpy as np
from ortools.sat.python import cp_model

from placer.packages.model import STEP_UM
from placer.solve.frame import FAR, Frame
from placer.solve.problem import Item, Problem
from placer.solve.relax import run_stoppable
from placer.solve.shapes import Shape

Pin = tuple[int, int]
Lit = cp_model.IntVar


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


@dataclass(frozen=True)
class _Line:
    """One strip under a part: runs of equal nets along it, and whether the body hides every hole between the ends."""

    strip: int
    runs: tuple[int, ...]


class SegmentModel:
    """The relaxation as a CP-SAT model, in whole-number prices."""

    def __init__(
        self,
        p: Problem,
        frame: Frame,
        prices: Prices,
        most: int | None,
        stopped: Callable[[], bool] = lambda: False,
    ) -> None:
        """``most``: cost (units) above which nobody asks; keeps the model small.

        A large model takes seconds to state: where ``stopped`` says so on the way it is left ``unfinished`` and must
        not be solved.
        """
        self.p, self.frame, self.prices = p, frame, prices
        self.model = cp_model.CpModel()
        self.severable = [False, *([False] * (frame.n_strips - 1))]
        for t in frame.shifts:
            for b, s in enumerate(t.tolist()):
                if s > FAR and p.severable(b):
                    self.severable[s] = True
        self.own: dict[tuple[int, int], Lit] = {}
        self.pin_at: dict[Pin, dict[int, Lit]] = {}
        self.leads: dict[tuple[int, int], list[Lit]] = {}
        self.split: dict[int, Lit] = {}
        self.several: dict[int, Lit] = {}
        self.n_pins, self.joins = p.pins_and_joins()
        self.empty = False
        self.base = 0
        self.terms: list[tuple[int, Lit]] = []
        self.least = [0] * len(p.net_names)
        self._sides: dict[tuple[int, int], Lit] = {}
        self._hosts: list[tuple[int, Lit, tuple[_Line, ...]]] = []
        self.unfinished = False
        for i in range(len(p.items)):
            if stopped():
                self.unfinished = True
                return
            if not self._place(i):
                self.empty = True
                return
        self._window()
        self._jumpers(most)
        self._cuts(most)
        self._beside()

    # Pins on strips.

    def _classes(self, i: int) -> list[tuple[int, ...]]:
        """Strips that the pins of an item can be on together, those that must join two nets left out."""
        nets = self.p.items[i].nets
        found = dict.fromkeys(map(tuple, self.frame.keys[i].tolist()))
        differ = [(a, b) for a, b in itertools.combinations(range(len(nets)), 2) if nets[a] != nets[b]]
        return [
            key for key in found if not any(key[a] == key[b] != FAR and not self.severable[key[a]] for a, b in differ)
        ]

    def _owned(self, n: int, s: int) -> Lit:
        if (n, s) not in self.own:
            self.own[n, s] = self.model.new_bool_var(f"own_{n}_{s}")
        return self.own[n, s]

    def _split(self, n: int) -> Lit:
        """The net lies somewhere in two pieces on one strip."""
        if n not in self.split:
            self.split[n] = self.model.new_bool_var(f"split_{n}")
        return self.split[n]

    def _place(self, i: int) -> bool:
        m, item = self.model, self.p.items[i]
        classes = self._classes(i)
        if not classes:
            return False
        for n in set(item.nets):
            ks = [k for k, other in enumerate(item.nets) if other == n]
            fewest = min(len({key[k] for k in ks}) for key in classes)
            self.least[n] = max(self.least[n], fewest - 1 - self.joins[n])
        on: list[dict[int, Lit]] = []
        for k, n in enumerate(item.nets):
            strips = {s: m.new_bool_var("") for s in sorted({key[k] for key in classes})}
            m.add_exactly_one(strips.values())
            for s, lit in strips.items():
                m.add_implication(lit, self._owned(n, s))
                self.leads.setdefault((n, s), []).append(lit)
            on.append(strips)
            self.pin_at[i, k] = strips
        if len(item.pins) == 1:
            return True
        if len(item.pins) == 2:
            for a, b in ((0, 1), (1, 0)):
                partners: dict[int, set[int]] = {}
                for key in classes:
                    partners.setdefault(key[a], set()).add(key[b])
                for s, others in partners.items():
                    if len(others) < len(on[b]):
                        m.add_bool_or([~on[a][s], *(on[b][t] for t in sorted(others))])
            return True
        lits = [m.new_bool_var("") for _ in classes]
        m.add_exactly_one(lits)
        for key, lit in zip(classes, lits, strict=True):
            for k, s in enumerate(key):
                m.add_implication(lit, on[k][s])
        hosts = _host_lines(self.p, self.frame, i)
        for key, lit in zip(classes, lits, strict=True):
            if hosts.get(key):
                self._hosts.append((i, lit, hosts[key]))
        return True

    def _window(self) -> None:
        """Strips in use lie on one board: the frame overlays all places of the anchor, a plan has one of them."""
        if len(self.frame.shifts) < 2:
            return
        there: dict[int, list[int]] = {}
        for t, row in enumerate(self.frame.shifts):
            for s in set(row.tolist()):
                there.setdefault(s, []).append(t)
        lits = [self.model.new_bool_var("") for _ in self.frame.shifts]
        self.model.add_exactly_one(lits)
        for (_, s), own in self.own.items():
            if s != FAR and len(there.get(s, ())) < len(lits):
                self.model.add_bool_or([~own, *(lits[t] for t in there.get(s, ()))])

    # What it costs.

    def _jumpers(self, most: int | None) -> None:
        m, price = self.model, self.prices.jumper
        strips_of: dict[int, list[int]] = {}
        for n, s in self.own:
            strips_of.setdefault(n, []).append(s)
        self.base = price * sum(self.least)
        for n, strips in strips_of.items():
            start = 1 + self.joins[n] + self.least[n]
            reach = 2 * self.n_pins[n] - start
            if most is not None:
                reach = min(reach, (most - self.base) // price)
            extra = [m.new_bool_var(f"extra_{n}_{j}") for j in range(max(0, reach))]
            for a, b in itertools.pairwise(extra):
                m.add_implication(b, a)
            named = n < self.p.n_named and self.n_pins[n] > 1
            count = sum(self.own[n, s] for s in strips)
            junctions = m.new_int_var(0, self.n_pins[n] if named and self.joins[n] == 0 else 0, f"junctions_{n}")
            pieces = count + junctions + (self._split(n) if self.n_pins[n] > 1 else 0)
            m.add(pieces <= start + sum(extra))
            self.terms += [(price, lit) for lit in extra]
            if not named or self.joins[n] > 0:
                continue
            several = self.several[n] = m.new_bool_var(f"several_{n}")
            m.add(count <= 1 + len(strips) * several)
            widest = min(int(self.frame.room[1:].max()), 10_000)
            rooms = sum(min(int(self.frame.room[s]), 10_000) * self.own[n, s] for s in strips)
            if not self._roomy(max((s for s in strips if s != FAR), key=lambda s: -int(self.frame.room[s]), default=0)):
                m.add(rooms + widest * junctions >= self.n_pins[n] + 2 * (count + junctions - 1))

    def _roomy(self, s: int) -> bool:
        """A strip that can hold every lead, a wire end for each and a cut beside each: its room never binds."""
        return s == FAR or int(self.frame.room[s]) >= 3 * sum(self.n_pins)

    def _cuts(self, most: int | None) -> None:
        m, price = self.model, self.prices.cut
        nets_on: dict[int, list[int]] = {}
        for n, s in self.own:
            if s != FAR:
                nets_on.setdefault(s, []).append(n)
        for s, nets in nets_on.items():
            lits = [self.own[n, s] for n in nets]
            cuts: list[Lit] = []
            if not self.severable[s]:
                m.add_at_most_one(lits)
            elif len(lits) > 1:
                reach = len(lits) - 1
                if most is not None and price:
                    reach = min(reach, (most - self.base) // price)
                cuts = [m.new_bool_var(f"cut_{s}_{j}") for j in range(max(0, reach))]
                for a, b in itertools.pairwise(cuts):
                    m.add_implication(b, a)
                m.add(sum(lits) <= 1 + sum(cuts))
                self.terms += [(price, lit) for lit in cuts if price]
            if not self._roomy(s):
                self._room(s, nets, cuts)
        self.terms += [(price, lit) for lit in self.split.values() if price]

    def _room(self, s: int, nets: list[int], cuts: list[Lit]) -> None:
        """Leads, wire ends and drilled holes fit the holes of a strip."""
        m, room = self.model, int(self.frame.room[s])
        wanted: list[Lit] = []
        for n in nets:
            if n in self.several:
                want = m.new_bool_var("")
                m.add_bool_or([~self.own[n, s], ~self.several[n], want])
                wanted.append(want)
        leads = [lit for n in nets for lit in self.leads[n, s]]
        holes_lost = cuts if self._drilled(s) else []
        if len(leads) + len(wanted) + len(holes_lost) > room:
            m.add(sum(leads) + sum(wanted) + sum(holes_lost) <= room)

    def _drilled(self, s: int) -> bool:
        """True where a strip is cut at holes only."""
        return all(
            not self.p.cut_between[b] for row in self.frame.shifts for b, there in enumerate(row.tolist()) if there == s
        )

    # Which side of a part.

    def _beside(self) -> None:
        """What shares the copper of one side of a part stands on that side, unless a net is split on the strip."""
        m = self.model
        sideable = [_sideable(item, self.frame.axis) for item in self.p.items]
        for h, lit, lines in self._hosts:
            for line in lines:
                s, runs = line.strip, line.runs
                for n in set(runs):
                    if runs.count(n) > 1:
                        m.add_implication(lit, self._split(n))
                for q, item in enumerate(self.p.items):
                    if q == h:
                        continue
                    for k, n in enumerate(item.nets):
                        on = self.pin_at[q, k].get(s)
                        if on is None or runs.count(n) != 1:
                            continue
                        at = runs.index(n)
                        if 0 < at < len(runs) - 1:
                            m.add_bool_or([~lit, ~on, self._split(n)])
                        elif sideable[q]:
                            left = self._left(q, h)
                            m.add_bool_or([~lit, ~on, self._split(n), left if at == 0 else ~left])

    def _left(self, a: int, b: int) -> Lit:
        """Item a stands before item b along the strips; means something where they share one."""
        if a > b:
            return ~self._left(b, a)  # type: ignore[return-value]  # a negated literal serves as well
        if (a, b) not in self._sides:
            self._sides[a, b] = self.model.new_bool_var(f"left_{a}_{b}")
        return self._sides[a, b]

    def solve(self, work: float, stop: Callable[[], bool], seed: int) -> tuple[int, bool]:
        """(bound in units, solved to the end) within ``work`` units of the solver's deterministic time.

        The bound is negative when no plan can be.
        """
        if self.empty:
            return -1, True
        if not self.terms:
            return self.base, True
        self.model.minimize(self.base + sum(w * lit for w, lit in self.terms))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.optimize_with_core = True
        solver.parameters.random_seed = seed
        solver.parameters.max_deterministic_time = work
        solver.parameters.catch_sigint_signal = False
        status = run_stoppable(solver, self.model, stop)
        if status == cp_model.INFEASIBLE:
            return -1, True
        if status == cp_model.MODEL_INVALID:
            return self.base, False
        bound = -int(-(solver.best_objective_bound - 1e-6) // 1)
        return max(self.base, bound), status == cp_model.OPTIMAL


def _host_lines(p: Problem, frame: Frame, i: int) -> dict[tuple[int, ...], tuple[_Line, ...]]:
    """For each class of an item's places: strips with pins of several nets and no free hole between them.

    Only what holds for every place of the class is told.
    """
    item = p.items[i]
    found: dict[tuple[int, ...], set[_Line]] = {}
    axis = frame.axis
    for shape, (rows, cols) in zip(item.shapes, frame.spots[i], strict=True):
        if not len(rows):
            continue
        by_line: dict[int, list[int]] = {}
        for k, o in enumerate(shape.offsets):
            by_line.setdefault(o[axis], []).append(k)
        good: list[tuple[int, list[int]]] = []
        for ks in by_line.values():
            ks.sort(key=lambda k: shape.offsets[k][1 - axis])
            if len({item.nets[k] for k in ks}) > 1 and _closed(shape, ks, axis):
                good.append((ks[0], ks))
        on = np.stack([frame.strip_at[rows + o[axis], cols + o[1 - axis]] for o in shape.offsets], axis=1)
        for key in map(tuple, np.unique(on, axis=0).tolist()):
            lines = {
                _Line(key[first], tuple(n for n, _ in itertools.groupby(item.nets[k] for k in ks)))
                for first, ks in good
                if key[first] != FAR and len({key[k] for k in ks}) == 1
            }
            found[key] = found[key] & lines if key in found else lines
    return {key: tuple(sorted(lines, key=lambda x: x.strip)) for key, lines in found.items() if lines}


def _closed(shape: Shape, ks: list[int], axis: int) -> bool:
    """One box of the body spans all the part's lines and hides the holes between the outermost pins of this one."""
    if shape.slants:
        return False
    own = set(shape.offsets)
    line = shape.offsets[ks[0]][axis]
    first, last = shape.offsets[ks[0]][1 - axis], shape.offsets[ks[-1]][1 - axis]
    cells = [(c, line) if axis else (line, c) for c in range(first + 1, last)]
    for box in shape.boxes:
        low, high = box[axis], box[2 + axis]
        if not all(low < o[axis] * STEP_UM < high for o in shape.offsets):
            continue
        if all(
            cell in own or (box[0] < cell[0] * STEP_UM < box[2] and box[1] < cell[1] * STEP_UM < box[3])
            for cell in cells
        ):
            near, far = box[1 - axis], box[3 - axis]
            return bool(near < last * STEP_UM and far > first * STEP_UM)
    return False


def _sideable(item: Item, axis: int) -> bool:
    """However the item lies, one box of its body reaches along all its pins: it stands wholly beside another body."""
    if len(item.pins) < 2:
        return False

    def ok(shape: Shape) -> bool:
        if shape.slants:
            return False
        along = 1 - axis
        return any(
            box[axis] < box[2 + axis]
            and all(box[axis] <= o[axis] * STEP_UM <= box[2 + axis] for o in shape.offsets)
            and all(box[along] - STEP_UM <= o[along] * STEP_UM <= box[2 + along] + STEP_UM for o in shape.offsets)
            for box in shape.boxes
        )

    return all(ok(shape) for shape in item.shapes)
