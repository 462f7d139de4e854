"""The whole problem as one plain constraint model: a Boolean for each part, shape and hole. The baseline to beat.

Holes, bodies, nets, jumpers and cuts are stated as they are, with no relaxation, no frame and no symmetry. A strip that
cannot be severed is one node of copper; of a strip that can, each hole is one, and neighbours are joined unless a knife
or a drill comes between. A node belongs to one net at most. A net in k pieces takes k - 1 jumpers, 2 (k - 1) free holes
for their ends, and at least one such hole a piece. Where parts join pins inside, each piece has one root that the other
nodes of the piece reach by copper or joins, which a flow shows.

Bodies off the axes are not stated: circuits that need them are refused.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Sequence

import numpy as np
from ortools.sat.python import cp_model

from placer.packages.model import STEP_UM
from placer.solve.aims import ANY, AWAY, BOX, NEAR
from placer.solve.arrays import Places, covered
from placer.solve.problem import Problem
from placer.solve.shapes import Box, Shape

UNIT = 1000  # costs are whole thousandths
Lit = cp_model.IntVar


class NotStatedError(Exception):
    """The model cannot be stated, or not in the time."""


def pieces(shape: Shape) -> tuple[Box, ...]:
    """The room a shape takes as boxes that do not overlap each other."""
    if shape.diagonal:
        raise NotStatedError("bodies off the axes")
    xs = sorted({x for x0, _, x1, _ in shape.boxes for x in (x0, x1)})
    ys = sorted({y for _, y0, _, y1 in shape.boxes for y in (y0, y1)})
    found: list[Box] = []
    for x0, x1 in itertools.pairwise(xs):
        for y0, y1 in itertools.pairwise(ys):
            if any(a <= x0 and x1 <= c and b <= y0 and y1 <= d for a, b, c, d in shape.boxes):
                last = found[-1] if found else None
                if last is not None and (last[0], last[2], last[3]) == (x0, x1, y0):
                    found[-1] = (x0, last[1], x1, y1)
                else:
                    found.append((x0, y0, x1, y1))
    return tuple(found)


class PlainModel:
    """The model of a problem. ``up`` is asked while it is stated whether the time is over."""

    def __init__(self, problem: Problem, up: Callable[[], bool]) -> None:
        self.p = problem
        self.up = up
        self.model = cp_model.CpModel()
        self.choices: list[list[tuple[Lit, int, int]]] = []  # of each item: literal, shape, hole
        self.pin_at: dict[tuple[int, int], dict[int, list[Lit]]] = {}
        self.cover: list[list[Lit]] = [[] for _ in problem.hx]
        self._nodes()
        self._places()
        self._bodies()
        self._holes()
        self._owners()
        self._wishes()
        self._jumpers()

    # --- copper ------------------------------------------------------------------------------------------------------

    def _nodes(self) -> None:
        """Nodes of copper; for each link between two of them what may sever it."""
        p, m = self.p, self.model
        self.node_of = np.zeros(len(p.hx), np.int64)
        self.holes_of: list[list[int]] = []
        self.drilled: dict[int, Lit] = {}  # node
        self.links: list[tuple[int, int, list[Lit]]] = []
        for s in range(len(p.slen)):
            holes = range(int(p.sstart[s]), int(p.sstart[s] + p.slen[s]))
            if not p.severable(s):
                self.node_of[list(holes)] = len(self.holes_of)
                self.holes_of.append(list(holes))
                continue
            for h in holes:
                v = len(self.holes_of)
                self.node_of[h] = v
                self.holes_of.append([h])
                if p.cut_at[s]:
                    self.drilled[v] = m.new_bool_var("")
                if h > holes[0]:
                    severing = [self.drilled[n] for n in (v - 1, v) if n in self.drilled]
                    if p.cut_between[s]:
                        severing.append(m.new_bool_var(""))
                    self.links.append((v - 1, v, severing))
        self.cuts = list({lit.index: lit for *_, own in self.links for lit in own}.values())

    # --- parts -------------------------------------------------------------------------------------------------------

    def _places(self) -> None:
        """Each item stands in one place; the holes of its pins and those under its body."""
        p, m = self.p, self.model
        for i, item in enumerate(self.p.items):
            own: list[tuple[Lit, int, int]] = []
            for k in range(len(item.pins)):
                self.pin_at[i, k] = {}
            for s, (shape, way) in enumerate(zip(item.shapes, item.ways, strict=True)):
                under = covered(shape)
                for first in way.tolist():
                    if self.up():
                        raise NotStatedError("time")
                    lit = m.new_bool_var("")
                    own.append((lit, s, first))
                    x, y = int(p.hx[first]), int(p.hy[first])
                    for k, (dx, dy) in enumerate(shape.offsets):
                        self.pin_at[i, k].setdefault(p.hole(x + dx, y + dy), []).append(lit)
                    for dx, dy in under:
                        h = p.hole(x + dx, y + dy)
                        if h >= 0:
                            self.cover[h].append(lit)
            m.add_exactly_one([lit for lit, _, _ in own])
            self.choices.append(own)

    def _bodies(self) -> None:
        """Bodies do not overlap: rectangles whose corners follow from where the part stands."""
        p, m = self.p, self.model
        across, along = [], []
        for i, item in enumerate(p.items):
            boxes = [pieces(shape) for shape in item.shapes]
            for k in range(max(map(len, boxes))):
                there = [c for c in self.choices[i] if len(boxes[c[1]]) > k]
                sides = []
                for side in range(4):
                    at = p.hy if side % 2 else p.hx
                    values = [boxes[s][k][side] + int(at[h]) * STEP_UM for _, s, h in there]
                    low, high = min(values), max(values)
                    sides.append(m.new_int_var(min(low, 0), max(high, 0), ""))
                    m.add(sides[-1] == cp_model.LinearExpr.weighted_sum([lit for lit, _, _ in there], values))
                on = m.new_bool_var("")
                m.add(cp_model.LinearExpr.sum([lit for lit, _, _ in there]) == on)
                for found, (start, end) in ((across, (sides[0], sides[2])), (along, (sides[1], sides[3]))):
                    size = m.new_int_var(0, 10**7, "")
                    m.add(size == end - start)
                    found.append(m.new_optional_interval_var(start, size, end, on, ""))
            if self.up():
                raise NotStatedError("time")
        m.add_no_overlap_2d(across, along)

    def _holes(self) -> None:
        """A hole holds one lead or one wire end, and neither under a body or where it is drilled."""
        p, m = self.p, self.model
        leads: list[list[Lit]] = [[] for _ in p.hx]
        for by_hole in self.pin_at.values():
            for h, lits in by_hole.items():
                leads[h] += lits
        self.end: list[Lit] = []
        for h in range(len(p.hx)):
            end, under = m.new_bool_var(""), m.new_bool_var("")
            self.end.append(end)
            for lit in self.cover[h]:
                m.add_implication(lit, under)
            drilled = self.drilled.get(int(self.node_of[h]))
            m.add_at_most_one([*leads[h], end, under])
            if drilled is not None:
                m.add_at_most_one([*leads[h], end, drilled])
        if self.up():
            raise NotStatedError("time")

    # --- nets --------------------------------------------------------------------------------------------------------

    def _owners(self) -> None:
        """A node belongs to one net at most; copper that is not severed to the same one throughout."""
        p, m = self.p, self.model
        count = len(self.holes_of)
        self.own = [[m.new_bool_var("") for _ in range(count)] for _ in p.net_names]
        for v in range(count):
            drilled = [self.drilled[v]] if v in self.drilled else []
            m.add_at_most_one([*(own[v] for own in self.own), *drilled])
        self.joined: list[list[Lit]] = []  # of each net, for each link: both ends are its own, and not severed
        for own in self.own:
            if self.up():
                raise NotStatedError("time")
            joined = []
            for u, v, severing in self.links:
                m.add_bool_or([~own[u], own[v], *severing])
                m.add_bool_or([~own[v], own[u], *severing])
                both = m.new_bool_var("")
                m.add_implication(both, own[u])
                m.add_implication(both, own[v])
                for cut in severing:
                    m.add_implication(both, ~cut)
                joined.append(both)
            self.joined.append(joined)
        self.pin_on: dict[tuple[int, int], dict[int, list[Lit]]] = {}
        for (i, k), by_hole in self.pin_at.items():
            by_node: dict[int, list[Lit]] = {}
            for h, lits in by_hole.items():
                by_node.setdefault(int(self.node_of[h]), []).extend(lits)
            self.pin_on[i, k] = by_node
            n = p.items[i].nets[k]
            for v, lits in by_node.items():
                m.add(cp_model.LinearExpr.sum(lits) <= self.own[n][v])

    def _jumpers(self) -> None:
        """Jumpers of each net, the free holes that they need, and the cost."""
        p, m = self.p, self.model
        n_pins, n_joins = p.pins_and_joins()
        self._free_on_the_way()
        cost = []
        for n, own in enumerate(self.own):
            if self.up():
                raise NotStatedError("time")
            if not n_pins[n]:
                m.add(cp_model.LinearExpr.sum(own) == 0)
                continue
            most = 2 * n_pins[n] if n < p.n_named and n_pins[n] > 1 else 0
            extra = m.new_int_var(0, most, "")
            cost.append(round(UNIT * p.options.jumper_cost) * extra)
            several = m.new_bool_var("")
            m.add(extra >= 1).only_enforce_if(several)
            m.add(extra == 0).only_enforce_if(~several)
            if n_joins[n]:
                roots = self._roots(n)
                m.add(cp_model.LinearExpr.sum(roots) - 1 == extra)
                for v, root in enumerate(roots):
                    m.add_bool_or([~root, ~several, *(self.end[h] for h in self.holes_of[v])])
            else:
                links = self.joined[n]
                m.add(cp_model.LinearExpr.sum(own) - cp_model.LinearExpr.sum(links) - 1 == extra)
                self._an_end_each(own, several)
            if most:
                ends = []
                for v, lit in enumerate(own):
                    here = m.new_int_var(0, len(self.holes_of[v]), "")
                    m.add(here <= cp_model.LinearExpr.sum([self.end[h] for h in self.holes_of[v]]))
                    m.add(here <= len(self.holes_of[v]) * lit)
                    ends.append(here)
                m.add(cp_model.LinearExpr.sum(ends) >= 2 * extra)
        cost += [round(UNIT * p.options.cut_cost) * cut for cut in self.cuts]
        if cost:
            m.minimize(sum(cost))

    def _free_on_the_way(self) -> None:
        """For each node of a severable strip: is there a wire end on its copper, here or before it?"""
        m = self.model
        self.seen: dict[int, Lit] = {}
        self.after: dict[int, list[Lit]] = {}
        into = {v: (u, severing) for u, v, severing in self.links}
        for u, _, severing in self.links:
            self.after[u] = severing
        severable = sorted({v for u, v, _ in self.links} | {u for u, v, _ in self.links})
        for v in severable:
            seen = self.seen[v] = m.new_bool_var("")
            (h,) = self.holes_of[v]
            if v not in into:
                m.add_implication(seen, self.end[h])
                continue
            u, severing = into[v]
            m.add_bool_or([~seen, self.end[h], self.seen[u]])
            for cut in severing:
                m.add_bool_or([~seen, self.end[h], ~cut])

    def _an_end_each(self, own: Sequence[Lit], several: Lit) -> None:
        """Each piece of a net in several has a wire end: asked at its last node."""
        m = self.model
        for v, lit in enumerate(own):
            if v not in self.seen:
                m.add_bool_or([~lit, ~several, *(self.end[h] for h in self.holes_of[v])])
            elif v not in self.after:
                m.add_bool_or([~lit, ~several, self.seen[v]])
            else:
                for cut in self.after[v]:
                    m.add_bool_or([~lit, ~several, ~cut, self.seen[v]])

    def _roots(self, n: int) -> list[Lit]:
        """One root a piece at least: every node of the net sends one unit to a root, by copper or by joins."""
        m, own = self.model, self.own[n]
        count = len(own)
        roots = [m.new_bool_var("") for _ in own]
        out: list[list[cp_model.LinearExprT]] = [[] for _ in own]
        for (u, v, _), both in zip(self.links, self.joined[n], strict=True):
            flow = m.new_int_var(-count, count, "")
            m.add(flow <= count * both)
            m.add(flow >= -count * both)
            out[u].append(flow)
            out[v].append(-flow)
        for i, k, j, other in self.p.joins:
            if self.p.items[i].nets[k] != n:
                continue
            flow = m.new_int_var(-count, count, "")
            for pin, sign in (((i, k), 1), ((j, other), -1)):
                for v, lits in self.pin_on[pin].items():
                    here = m.new_bool_var("")
                    m.add(cp_model.LinearExpr.sum(lits) == here)
                    part = m.new_int_var(-count, count, "")
                    m.add(part == flow).only_enforce_if(here)
                    m.add(part == 0).only_enforce_if(~here)
                    out[v].append(sign * part)
        for v, root in enumerate(roots):
            m.add_implication(root, own[v])
            taken = m.new_int_var(0, count, "")
            m.add(taken <= count * root)
            m.add(own[v] == taken + sum(out[v]))
        return roots

    # --- wishes that tie parts together ------------------------------------------------------------------------------

    def _wishes(self) -> None:
        p, m = self.p, self.model
        for q in p.wishes:
            if q.kind == ANY:
                m.add_bool_or([x for pin in q.a for h, some in self.pin_at[pin].items() if h in q.holes for x in some])
                continue
            if q.kind == BOX:
                raise NotStatedError("parts in a square")
            mine = self._any_pin(q.a)
            if q.kind == NEAR:
                theirs = self._any_pin(q.b)
                for h, lit in theirs.items():
                    m.add_bool_or([~lit, *(own for g, own in mine.items() if self._square(g, h) <= q.limit2)])
            elif q.kind == AWAY:
                theirs = self._any_pin(q.b)
                for h, lit in theirs.items():
                    for g, own in mine.items():
                        if self._square(g, h) < q.limit2:
                            m.add_bool_or([~lit, ~own])

    def _square(self, a: int, b: int) -> int:
        p = self.p
        return int((p.hx[a] - p.hx[b]) ** 2 + (p.hy[a] - p.hy[b]) ** 2)

    def _any_pin(self, pins: Iterable[tuple[int, int]]) -> dict[int, Lit]:
        """For each hole: is one of these pins in it?"""
        lits: dict[int, list[Lit]] = {}
        for pin in pins:
            for h, some in self.pin_at[pin].items():
                lits.setdefault(h, []).extend(some)
        found = {}
        for h, some in lits.items():
            found[h] = self.model.new_bool_var("")
            self.model.add_max_equality(found[h], some)
        return found

    # --- answers -----------------------------------------------------------------------------------------------------

    def places(self, value: Callable[[Lit], bool]) -> Places:
        """The places of a solution."""
        return tuple(next((s, h) for lit, s, h in own if value(lit)) for own in self.choices)

    def cost(self, objective: float) -> float:
        """An objective, or a bound of it, as a cost."""
        return 0.0 if math.isinf(objective) else round(objective / UNIT, 6)
