"""A lower bound of the jumpers on copper that is not cut: which net owns which strip, columns left out.

Each pin takes a strip of the frame, a strip has at most one net, and parts join strips only as their leads reach.
Jumpers are the strips owned beyond one a net, less the joins made inside parts. The cost is carried by few ordered
literals a net, which lets the solver's core-guided search raise the bound one step at a time.
"""

from __future__ import annotations

import itertools
import math
import threading
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from ortools.sat.python import cp_model

from placer.solve.frame import FAR, Frame
from placer.solve.problem import Problem


@dataclass(frozen=True)
class Bound:
    """A proved lower bound of the number of jumpers; ``complete``: the relaxation was solved to its optimum."""

    jumpers: int
    complete: bool
    work: float


class StripModel:
    """The relaxation as a CP-SAT model."""

    def __init__(self, p: Problem, frame: Frame, most: int | None, *, bodies: bool = False, pins: bool = False) -> None:
        self.p = p
        self.frame = frame
        self.model = cp_model.CpModel()
        self.own: dict[tuple[int, int], cp_model.IntVar] = {}
        self.at: dict[tuple[int, int], list[cp_model.IntVar]] = {}
        self.several: dict[int, cp_model.IntVar] = {}
        self.n_pins, self.joins = p.pins_and_joins()
        self.empty = False
        self.bodies = bodies
        self.pins = pins
        self.pin_at: dict[tuple[int, int], dict[int, cp_model.IntVar]] = {}
        self.used: dict[int, list[tuple[int, cp_model.IntVar]]] = {}
        self._place_items()
        self._one_net_a_strip()
        self._cost(most)
        if bodies:
            self._room()

    def _classes(self, i: int) -> list[tuple[tuple[int, ...], dict[int, int]]]:
        """Placement classes of an item: strips of its pins, and how many holes of each strip it takes.

        Classes that short two nets by themselves are left out, and with bodies so is a class that takes no less
        anywhere than another with the same strips.
        """
        nets = self.p.items[i].nets
        keys, takes = self.frame.keys[i], self.frame.takes[i]
        good = np.ones(len(keys), dtype=bool)
        for a in range(len(nets)):
            for b in range(a + 1, len(nets)):
                if nets[a] != nets[b]:
                    good &= (keys[:, a] != keys[:, b]) | (keys[:, a] == FAR)
        found: dict[tuple[int, ...], list[dict[int, int]]] = {}
        for key_row, take_row in zip(keys[good].tolist(), takes[good].tolist(), strict=True):
            key = tuple(key_row)
            if not self.bodies:
                found[key] = [{}]
                continue
            use: dict[int, int] = {}
            for s in (*key, *take_row):
                if s > FAR:
                    use[s] = use.get(s, 0) + 1
            kept = found.setdefault(key, [])
            if any(all(use.get(s, 0) >= c for s, c in old.items()) for old in kept):
                continue
            kept[:] = [old for old in kept if not all(old.get(s, 0) >= c for s, c in use.items())]
            kept.append(use)
        return [(key, use) for key, uses in found.items() for use in uses]

    def _owned(self, n: int, s: int) -> cp_model.IntVar:
        if (n, s) not in self.own:
            self.own[n, s] = self.model.new_bool_var(f"own_{n}_{s}")
        return self.own[n, s]

    def _place_items(self) -> None:
        m = self.model
        for i, item in enumerate(self.p.items):
            classes = self._classes(i)
            if not classes:
                self.empty = True
                return
            if len(item.pins) > 2 or (self.bodies and len(item.pins) == 2):
                lits = [m.new_bool_var("") for _ in classes]
                m.add_exactly_one(lits)
                if len(item.pins) == 2:
                    on = self._pin_literals(i, [key for key, _ in classes])
                    for k in (0, 1):
                        by: dict[int, list[cp_model.IntVar]] = {}
                        for (key, _), lit in zip(classes, lits, strict=True):
                            m.add_implication(lit, on[k][key[k]])
                            by.setdefault(key[k], []).append(lit)
                        for s, some in by.items():
                            m.add_bool_or([~on[k][s], *some])
                elif self.pins:
                    on = self._pin_literals(i, [key for key, _ in classes])
                    for (key, _), lit in zip(classes, lits, strict=True):
                        for k, s in enumerate(key):
                            m.add_implication(lit, on[k][s])
                else:
                    for (key, _), lit in zip(classes, lits, strict=True):
                        seen: dict[tuple[int, int], int] = {}
                        for n, s in zip(item.nets, key, strict=True):
                            seen[n, s] = seen.get((n, s), 0) + 1
                        for (n, s), times in seen.items():
                            m.add_implication(lit, self._owned(n, s))
                            self.at.setdefault((n, s), []).extend([lit] * times)
                for (_, use), lit in zip(classes, lits, strict=True):
                    for s, c in use.items():
                        self.used.setdefault(s, []).append((c, lit))
                continue
            on = self._pin_literals(i, [key for key, _ in classes])
            if len(item.pins) == 1:
                for s, lit in on[0].items():
                    if self.bodies and s != FAR:
                        self.used.setdefault(s, []).append((1, lit))
                continue
            for a, b in ((0, 1), (1, 0)):
                partners: dict[int, set[int]] = {}
                for key, _ in classes:
                    partners.setdefault(key[a], set()).add(key[b])
                for s, others in partners.items():
                    if len(others) < len(on[b]):
                        m.add_bool_or([~on[a][s], *(on[b][t] for t in sorted(others))])

    def _pin_literals(self, i: int, keys: list[tuple[int, ...]]) -> list[dict[int, cp_model.IntVar]]:
        on = []
        for k, n in enumerate(self.p.items[i].nets):
            strips = {s: self.model.new_bool_var("") for s in sorted({key[k] for key in keys})}
            self.model.add_exactly_one(strips.values())
            for s, lit in strips.items():
                self.at.setdefault((n, s), []).append(lit)
                self.model.add_implication(lit, self._owned(n, s))
            on.append(strips)
            self.pin_at[i, k] = strips
        return on

    def _room(self) -> None:
        """Leads, covered holes and a wire end where one is needed fit the holes of each strip."""
        want: dict[int, cp_model.IntVar] = {}
        for (n, s), lit in self.own.items():
            if s != FAR and n in self.several and s in self.used:
                if s not in want:
                    want[s] = self.model.new_bool_var("")
                self.model.add_bool_or([~lit, ~self.several[n], want[s]])
        for s, uses in self.used.items():
            room = int(self.frame.room[s])
            self.model.add(sum(c * lit for c, lit in uses) + want.get(s, 0) <= room)

    def _one_net_a_strip(self) -> None:
        by_strip: dict[int, list[cp_model.IntVar]] = {}
        for (_, s), lit in self.own.items():
            if s != FAR:
                by_strip.setdefault(s, []).append(lit)
        for lits in by_strip.values():
            if len(lits) > 1:
                self.model.add_at_most_one(lits)

    def _cost(self, most: int | None) -> None:
        m = self.model
        by_net: dict[int, list[tuple[int, cp_model.IntVar]]] = {}
        for (n, s), lit in self.own.items():
            by_net.setdefault(n, []).append((s, lit))
        self.base = 0
        terms = []
        least = [self._least(n) for n in range(len(self.n_pins))]
        self.base = sum(least)
        for n, owned in by_net.items():
            start = 1 + self.joins[n] + least[n]
            reach = 2 * self.n_pins[n] - start  # strips with pins, and empty ones as junctions
            if most is not None:
                reach = min(reach, most - self.base)
            extra = [m.new_bool_var(f"extra_{n}_{j}") for j in range(max(0, reach))]
            for a, b in itertools.pairwise(extra):
                m.add_implication(b, a)
            count = sum(lit for _, lit in owned)
            # Strips with pins, and empty ones as junctions.
            junctions = m.new_int_var(0, 0, "")
            if n < self.p.n_named and self.n_pins[n] > 1 and self.joins[n] == 0:
                # An empty strip may serve as a junction where wire-end holes are short: one more piece to join.
                junctions = m.new_int_var(0, self.n_pins[n], f"junctions_{n}")
            m.add(count + junctions <= start + sum(extra))
            terms += extra
            if n >= self.p.n_named or self.n_pins[n] < 2:
                continue
            # A net in k > 1 pieces needs a free hole on each strip, and 2 (k - 1) in all, junctions counted in.
            several = m.new_bool_var(f"several_{n}")
            if self.joins[n] == 0:
                self.several[n] = several
                m.add(count <= 1 + len(owned) * several)
                for s, _ in owned:
                    room = int(self.frame.room[s])
                    leads = self.at.get((n, s), [])
                    if s != FAR and len(leads) + 1 > room:
                        m.add(sum(leads) + several <= room)
                most_room = min(int(self.frame.room[1:].max()), 10_000)
                room_all = sum(min(int(self.frame.room[s]), 10_000) * lit for s, lit in owned)
                m.add(room_all + most_room * junctions >= self.n_pins[n] + 2 * (count + junctions - 1))
        if terms:
            m.minimize(self.base + sum(terms))
        self.terms = terms

    def _least(self, n: int) -> int:
        """Jumpers that one rigid part alone forces on a net: its pins in different strips whatever way it lies."""
        least = 0
        for i, item in enumerate(self.p.items):
            ks = [k for k, m in enumerate(item.nets) if m == n]
            if len(ks) < 2:
                continue
            fewest = min((len({key[k] for k in ks}) for key, _ in self._classes(i)), default=1)
            least = max(least, fewest - 1 - self.joins[n])
        return max(0, least)

    def solve(self, work: float, stop: Callable[[], bool], seed: int) -> Bound:
        """Raise the bound within ``work`` units of the solver's deterministic time."""
        if self.empty:
            return Bound(1 << 30, True, 0.0)
        if not self.terms:
            return Bound(self.base, True, 0.0)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.optimize_with_core = True
        solver.parameters.random_seed = seed
        solver.parameters.max_deterministic_time = work
        solver.parameters.catch_sigint_signal = False
        status = run_stoppable(solver, self.model, stop)
        if status == cp_model.INFEASIBLE:
            return Bound(1 << 30, True, solver.deterministic_time)
        bound = math.ceil(solver.best_objective_bound - 1e-6) if status != cp_model.MODEL_INVALID else 0
        return Bound(max(self.base, bound), status == cp_model.OPTIMAL, solver.deterministic_time)


def run_stoppable(
    solver: cp_model.CpSolver, model: cp_model.CpModel, stop: Callable[[], bool]
) -> cp_model.CpSolverStatus:
    """Solve, asking ``stop`` ten times a second whether to give up."""
    done = threading.Event()

    def watch() -> None:
        while not done.wait(0.1):
            if stop():
                solver.stop_search()

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        return solver.solve(model)
    finally:
        done.set()
        watcher.join()


def easy_solver(seed: int, work: float) -> cp_model.CpSolver:
    """A solver for a model that is solved many times over, each time easily: long presolving does not pay.

    ``work``: the most deterministic time of one solution.
    """
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.catch_sigint_signal = False
    solver.parameters.max_presolve_iterations = 1
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.symmetry_level = 0
    solver.parameters.linearization_level = 0
    solver.parameters.max_deterministic_time = work
    return solver
