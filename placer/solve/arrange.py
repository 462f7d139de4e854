"""Can these parts stand so that these pins share segments? A constraint model for boards of long severable strips.

Segments are rectangles one line high that keep a cut's width apart. Parts outside the claim are left out, so a "no" is
a fact about any plan; a "yes" stands on the board as answered.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable

from ortools.sat.python import cp_model

from placer.solve.claims import Answer, Claim, Pin
from placer.solve.cpsat import easy_solver, run_stoppable
from placer.solve.lines import Lines
from placer.solve.problem import Problem
from placer.solve.standing import Linear, Standing, Var

SMALL = 8  # parts; up to so many, presolving takes longer than the search
SECONDS_A_UNIT = 1.6  # of the solver's deterministic time, about


class ArrangeSearch:
    """Answers claims on a board of lines."""

    def __init__(self, p: Problem, lines: Lines, stopped: Callable[[], bool], seed: int) -> None:
        self.p, self.lines, self.stopped, self.seed = p, lines, stopped, seed
        self.work = 0.0
        self._answers: dict[tuple[Claim, bool], tuple[Answer, float]] = {}

    def ask(self, claim: Claim, work: float, *, on_board: bool = False) -> Answer:
        """Whether the claim can be; cut short after ``work`` units of the solver's deterministic time.

        Places are (shape, line, position along it). ``on_board``: every part where it may stand on this board; else the
        parts stand anywhere within the board's size.
        """
        known = self._answers.get((claim, on_board))
        if known is not None and (known[0].possible is not None or known[1] >= work):
            return known[0]
        model = _Arrangement(self.p, self.lines, claim, on_board=on_board)
        solver = easy_solver(self.seed, work)
        solver.parameters.cp_model_presolve = len(claim.items) > SMALL
        status = run_stoppable(solver, model.m, self.stopped)
        self.work += SECONDS_A_UNIT * solver.deterministic_time + 0.01
        if status == cp_model.INFEASIBLE:
            answer = Answer(False)
        elif status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            answer = Answer(True, model.places(solver))
        else:
            answer = Answer(None)
        self._answers[claim, on_board] = (answer, work)
        return answer


class _Arrangement(Standing):
    """The parts of a claim, and its segments."""

    def __init__(self, p: Problem, lines: Lines, claim: Claim, *, on_board: bool) -> None:
        super().__init__(p, lines, claim.items, on_board=on_board)
        self.claim = claim
        self._segments()
        self.close()

    def _segments(self) -> None:
        m, lines, p = self.m, self.lines, self.p
        y: Linear
        asserted = {q for g in self.claim.groups for q in g}
        row: list[cp_model.IntervalVar] = []
        col: list[cp_model.IntervalVar] = []
        made: list[tuple[int, frozenset[Pin], Linear, Var, Var]] = []
        for g in self.claim.groups:
            first, *rest = sorted(g)
            n = p.items[first[0]].nets[first[1]]
            y = self.line[first]
            for q in rest:
                m.add(self.line[q] == y)
            low = m.new_int_var(self.low[1], self.high[1], "")
            high = m.new_int_var(self.low[1], self.high[1], "")
            self.within(low, 1)
            self.within(high, 1)
            places: list[Linear] = [self.along[q] for q in sorted(g)]
            if n in self.claim.wired:
                end = m.new_int_var(self.low[1], self.high[1], "")
                self.point(y, end)
                places.append(end)
            for x in places:
                m.add(low <= x)
                m.add(high >= x)
            if len(places) > 1:
                m.add_all_different(places)
            for r in lines.whole:
                there = m.new_bool_var("")
                m.add(y == r).only_enforce_if(there)
                m.add(y != r).only_enforce_if(~there)
                m.add(low == 0).only_enforce_if(there)
                m.add(high == lines.holes - 1).only_enforce_if(there)
            size = m.new_int_var(lines.gap, lines.holes - 1 + lines.gap, "")
            row.append(m.new_fixed_size_interval_var(y, 1, ""))
            col.append(m.new_interval_var(low, size, high + lines.gap, ""))
            made.append((n, g, y, low, high))
        if len(row) > 1:
            m.add_no_overlap_2d(row, col)
        of = {q: t for t, (_, g, *_) in enumerate(made) for q in g}
        for a, b in sorted(self.claim.apart):
            if a in of and b in of:
                m.add(made[of[a]][2] != made[of[b]][2])
        for i, k in itertools.product(self.items, range(64)):
            if k < len(p.items[i].pins) and (i, k) not in asserted:
                for n, _, y, low, high in made:
                    if p.items[i].nets[k] != n:
                        self._outside((i, k), y, low, high)

    def _outside(self, pin: Pin, y: Linear, low: Var, high: Var) -> None:
        """A pin about which nothing is claimed still keeps off the segments of other nets."""
        m, gap = self.m, self.lines.gap
        off, before, after = (m.new_bool_var("") for _ in range(3))
        m.add(self.line[pin] != y).only_enforce_if(off)
        m.add(self.along[pin] + gap <= low).only_enforce_if(before)
        m.add(high + gap <= self.along[pin]).only_enforce_if(after)
        m.add_bool_or([off, before, after])
