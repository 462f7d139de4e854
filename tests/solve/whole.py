"""The whole problem as one constraint model, on boards of long strips: every part, every segment, what a plan costs.

Each pin either leads a segment or joins that of an earlier pin of its net; segments are rectangles one line high, and a
leader beyond a net's first costs a jumper. Cuts follow: segments less the lines in use. Nothing is stated hole by hole,
so the size of the board matters little, and positions are seen from the largest part, so that a plan counts once
wherever on the board it stands. What is left out (wishes of several parts, bodies off the axes, holes barred to wires)
only admits more, so a bound is one of every plan; a plan that is found is wired and judged as any other.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence

from ortools.sat.python import cp_model

from placer.solve.arrays import Places
from placer.solve.claims import Pin
from placer.solve.cores import BUILT, DOUBTFUL, IMPOSSIBLE
from placer.solve.cpsat import run_stoppable
from placer.solve.frame import turns_upside_down
from placer.solve.lines import Lines
from placer.solve.prices import Prices
from placer.solve.problem import Problem
from placer.solve.standing import Linear, Standing, Var
from placer.solve.wiring import wire

MOST_PINS = 80  # of all parts; with more it takes minutes to come to anything
FIRST, GROWTH = 0.4, 5.0  # deterministic time of the first question, and of each next one against the one before
SECONDS_A_UNIT, SECONDS_A_MODEL = 3.5, 0.05  # of the solver's deterministic time, about; and to state the model
ENDS = (2, 3, 5)  # wire ends a segment that are given a hole each; more where that did not do


def is_small(p: Problem) -> bool:
    """True where the model settles things in reasonable time."""
    return sum(len(item.pins) for item in p.items) <= MOST_PINS


class Whole:
    """Asks for the cheapest plan, for longer and longer: a way to a proof, as :class:`placer.solve.prover.Way`.

    ``work``: about how many seconds it has taken; ``wants``: how many the next question takes.
    """

    def __init__(self, p: Problem, lines: Lines, prices: Prices, stopped: Callable[[], bool], seed: int) -> None:
        self.p, self.lines, self.prices, self.stopped, self.seed = p, lines, prices, stopped, seed
        self.bound = 0
        self.ended: str | None = None
        self.places: Places | None = None
        self.start: Places | None = None
        self.work = 0.0
        self._least = 0
        self._most: int | None = None
        self._time = FIRST
        self._ends = 0

    @property
    def wants(self) -> float:
        """About how many seconds the next question takes."""
        return SECONDS_A_UNIT * self._time

    def told(self, best: float, bound: int) -> None:
        """Take word of the cost of the best plan known, for cheaper ones are asked for, and of the bound (units)."""
        self._least = max(self._least, bound)
        if best < math.inf:
            self._most = math.ceil(best * self.prices.unit - 1e-6) - 1

    def run(self) -> Iterator[None]:
        """Go on until the end; yields after each question."""
        while self.ended is None:
            self._ask()
            yield

    def _ask(self) -> None:
        most = self._most
        if most is not None and most < self.bound:
            self.ended = DOUBTFUL  # the best plan known is the cheapest: there is nothing to ask
            return
        model = WholeModel(self.p, self.lines, self.prices, self._least, most, ENDS[self._ends])
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = self.seed
        solver.parameters.catch_sigint_signal = False
        solver.parameters.linearization_level = 0
        solver.parameters.optimize_with_core = True
        solver.parameters.max_deterministic_time = self._time
        status = run_stoppable(solver, model.m, self.stopped)
        self.work += SECONDS_A_UNIT * solver.deterministic_time + SECONDS_A_MODEL
        if status == cp_model.INFEASIBLE:
            self._none(most)
            return
        if status == cp_model.MODEL_INVALID:
            raise RuntimeError("the model of the whole problem is not valid")
        self.bound = max(self.bound, math.ceil(solver.best_objective_bound - 1e-6))
        if status == cp_model.UNKNOWN:
            self._time *= GROWTH
            return
        cost = round(solver.objective_value)
        places = model.placed(solver)
        if places is None or not self._wired(places, cost):
            # Wire ends that have no hole of their own were too many: the same again, with more of them stated.
            self._ends += 1
            self.ended = DOUBTFUL if self._ends == len(ENDS) else None
        elif self.bound >= cost:
            self.places, self.ended = places, BUILT
        else:
            self.start = places
            self._time *= GROWTH

    def _none(self, most: int | None) -> None:
        """No plan costs so little."""
        if most is None:
            self.ended = IMPOSSIBLE
        else:
            self.bound = max(self.bound, most + 1)
            self.ended = DOUBTFUL

    def _wired(self, places: Places, cost: int) -> bool:
        """The wires can be laid at that cost."""
        wiring = wire(self.p, places)
        if wiring is None:
            return False
        cuts = len(wiring.drilled) + len(wiring.severed)
        return len(wiring.wires) * self.prices.jumper + cuts * self.prices.cut <= cost


class WholeModel(Standing):
    """The model.

    ``least``, ``most``: units that a plan costs (``most`` None: any); ``ends``: wire ends a segment that have a hole.
    """

    def __init__(self, p: Problem, lines: Lines, prices: Prices, least: int, most: int | None, ends: int) -> None:
        edges = _edges(p, lines)
        super().__init__(p, lines, range(len(p.items)), on_board=edges is None, half=turns_upside_down(p))
        self._ends = ends
        self._prices = prices
        self._rows = range(self.low[0], self.high[0] + 1)
        self._on: dict[Pin, dict[int, Var]] = {}
        self._leads: dict[Pin, Var] = {}
        self._joins: dict[tuple[Pin, Pin], Var] = {}
        self._extent: dict[Pin, tuple[Var, Var]] = {}
        self._row: list[cp_model.IntervalVar] = []
        self._col: list[cp_model.IntervalVar] = []
        if self.free and edges is not None:
            self._within_edges(edges)
        cost = [self._net(n, pins) for n, pins in self._pins().items()]
        self.m.add_no_overlap_2d(self._row, self._col)
        cost.append(prices.cut * self._cuts())
        self.close()
        total = sum(cost)
        self.m.add(total >= least)
        if most is not None:
            self.m.add(total <= most)
        self.m.minimize(total)

    def _within_edges(self, edges: dict[int, list[Edges]]) -> None:
        """Every part stands where it may, wherever the board is."""
        for i in self.items:
            for way in (0, 1):
                least = sum(e[way] * lit for e, lit in zip(edges[i], self.shape[i], strict=True))
                most = sum(e[2 + way] * lit for e, lit in zip(edges[i], self.shape[i], strict=True))
                self.m.add(self.at[i][way] >= self.window[way] + least)
                self.m.add(self.at[i][way] <= self.window[way] + most)

    def _pins(self) -> dict[int, list[Pin]]:
        """The pins of each net, those of large parts first: they are what the others come to."""
        found: dict[int, list[Pin]] = {}
        for i in sorted(self.items, key=lambda i: (-len(self.p.items[i].pins), i)):
            for k, n in enumerate(self.p.items[i].nets):
                found.setdefault(n, []).append((i, k))
        return found

    def _net(self, n: int, pins: Sequence[Pin]) -> Linear:
        """A net's pins on segments; returns what its jumpers cost."""
        m = self.m
        for at, q in enumerate(pins):
            self._on[q] = {r: m.new_bool_var("") for r in self._rows}
            m.add_exactly_one(self._on[q].values())
            m.add(sum(r * lit for r, lit in self._on[q].items()) == self.line[q])
            self._segment(q, pins[:at])
        leads = [self._leads[q] for q in pins[1:]]
        if not leads:
            return 0
        several = m.new_bool_var("")
        m.add_bool_or([~several, *leads])
        for lit in leads:
            m.add_implication(lit, several)
        saves = {((i, k), (j, o)): m.new_bool_var("") for i, k, j, o in self.p.joins if self.p.items[i].nets[k] == n}
        for (one, other), save in saves.items():
            for host in pins:
                both = [lit for lit in (self._in(one, host), self._in(other, host)) if lit is not None]
                if len(both) == 2:
                    m.add_bool_or([~save, *(~lit for lit in both)])
        jumpers: Linear = sum(leads)
        if saves:
            jumpers = m.new_int_var(0, len(leads), "")
            m.add(jumpers >= sum(leads) - sum(saves.values()))
        return self._prices.jumper * (jumpers + self._wire_ends(pins, jumpers, several, saves))

    def _in(self, q: Pin, host: Pin) -> Var | None:
        """A pin is in the segment that another leads; None where it cannot be."""
        return self._leads[q] if q == host else self._joins.get((q, host))

    def _segment(self, q: Pin, earlier: Sequence[Pin]) -> None:
        """A pin leads a segment, or joins that of an earlier one."""
        m, lines = self.m, self.lines
        leads = self._leads[q] = m.new_bool_var("")
        low, high = (m.new_int_var(self.low[1], self.high[1], "") for _ in range(2))
        self._extent[q] = (low, high)
        self.within(low, 1)
        self.within(high, 1)
        size = m.new_int_var(lines.gap, lines.holes - 1 + lines.gap, "")
        self._row.append(m.new_optional_fixed_size_interval_var(self.line[q], 1, leads, ""))
        self._col.append(m.new_optional_interval_var(low, size, high + lines.gap, leads, ""))
        self._reaches(q, q, leads)
        for r in lines.whole:
            m.add(low == 0).only_enforce_if([leads, self._on[q][r]])
            m.add(high == lines.holes - 1).only_enforce_if([leads, self._on[q][r]])
        choices = [leads]
        for host in earlier:
            lit = self._joins[q, host] = m.new_bool_var("")
            choices.append(lit)
            m.add_implication(lit, self._leads[host])
            self._reaches(host, q, lit)
            m.add(self.line[q] == self.line[host]).only_enforce_if(lit)
            for r in self._rows:
                m.add_bool_or([~lit, ~self._on[q][r], self._on[host][r]])
                m.add_bool_or([~lit, self._on[q][r], ~self._on[host][r]])
        m.add_exactly_one(choices)

    def _reaches(self, host: Pin, q: Pin, lit: Var) -> None:
        """The segment that a pin leads reaches as far as another."""
        low, high = self._extent[host]
        self.m.add(low <= self.along[q]).only_enforce_if(lit)
        self.m.add(high >= self.along[q]).only_enforce_if(lit)

    def _wire_ends(
        self, pins: Sequence[Pin], jumpers: Linear, several: Var, saves: Mapping[tuple[Pin, Pin], Var]
    ) -> Linear:
        """A net in several segments needs a free hole on each, and two a jumper in all, unless an empty segment helps.

        A segment may hang by a part instead, which saves a jumper. Only so many ends a segment have a hole each; the
        last of them stands for all that might follow.
        """
        m, most = self.m, len(pins) - 1  # wire ends of one segment
        found: list[Linear] = []
        for q in pins:
            low, high = self._extent[q]
            there = [m.new_bool_var("") for _ in range(min(self._ends, most))]
            m.add_bool_or([there[0], ~self._leads[q], ~several, *self._hangs(q, saves)])
            for e, lit in enumerate(there):
                m.add_implication(lit, there[e - 1] if e else self._leads[q])
                hole = m.new_int_var(self.low[1], self.high[1], "")
                self.point(self.line[q], hole, lit)
                m.add(low <= hole).only_enforce_if(lit)
                m.add(high >= hole).only_enforce_if(lit)
                found.append(lit if e + 1 < self._ends else (most - e) * lit)
        if most < 2:
            return 0
        helped = m.new_bool_var("")
        m.add(sum(found) >= 2 * jumpers).only_enforce_if(~helped)
        return helped

    def _hangs(self, host: Pin, saves: Mapping[tuple[Pin, Pin], Var]) -> list[Var]:
        """For each join inside a part: it saves a jumper and has a pin in the segment that this one leads."""
        found = []
        for ends, save in saves.items():
            here = [lit for lit in (self._in(q, host) for q in ends) if lit is not None]
            if here:
                hangs = self.m.new_bool_var("")
                self.m.add_implication(hangs, save)
                self.m.add_bool_or([~hangs, *here])
                found.append(hangs)
        return found

    def _cuts(self) -> Var:
        """Cuts: segments less the lines in use, and on each line one fewer than it has nets."""
        m = self.m
        nets: dict[int, list[Pin]] = {}
        for i, k in self._on:
            nets.setdefault(self.p.items[i].nets[k], []).append((i, k))
        used, beyond = [], []
        for r in self._rows:
            taken = m.new_bool_var("")
            used.append(taken)
            m.add_bool_or([~taken, *(on[r] for on in self._on.values())])
            owned = []
            for pins in nets.values():
                own = m.new_bool_var("")
                owned.append(own)
                for q in pins:
                    m.add_implication(self._on[q][r], own)
            more = m.new_int_var(0, len(nets), "")
            m.add(more >= sum(owned) - 1)
            beyond.append(more)
        m.add(sum(used) <= self.lines.count)
        cuts = m.new_int_var(0, len(self._on), "")
        m.add(cuts >= sum(self._leads.values()) - sum(used))
        m.add(cuts >= sum(beyond))
        return cuts

    def placed(self, solver: cp_model.CpSolver) -> Places | None:
        """The places of the answer; None where a hole is not one that a part may take."""
        p, axis = self.p, self.lines.axis
        off = [solver.value(w) if not isinstance(w, int) else w for w in self.window]
        found = []
        for i, (no, line, along) in self.places(solver).items():
            y, x = (line - off[0], along - off[1]) if axis else (along - off[1], line - off[0])
            h = p.hole(x + p.x0, y + p.y0)
            if h < 0 or h not in p.items[i].ways[no]:
                return None
            found.append((no, h))
        return tuple(found)


Edges = tuple[int, int, int, int]
"""The lines and positions along them that the first pin of a shape may take: least of both, most of both."""


def _edges(p: Problem, lines: Lines) -> dict[int, list[Edges]] | None:
    """For each item and shape; None where some may take others than all within such edges."""
    found: dict[int, list[Edges]] = {}
    for i, item in enumerate(p.items):
        found[i] = []
        for way in item.ways:
            if not len(way):
                found[i].append((0, 0, -1, -1))
                continue
            x, y = p.hx[way] - p.x0, p.hy[way] - p.y0
            line, along = (y, x) if lines.axis else (x, y)
            edge = int(line.min()), int(along.min()), int(line.max()), int(along.max())
            if len(way) != (edge[2] - edge[0] + 1) * (edge[3] - edge[1] + 1):
                return None
            found[i].append(edge)
    return found
