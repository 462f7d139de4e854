"""Proof on boards of severable strips: the relaxation proposes segments, the arrangement model tries to build them.

As in :mod:`placer.solve.sharing`, what cannot be built is narrowed down to a smallest conflict, which is forbidden for
these parts and for all parts of the same shapes joined in the same way. When nothing is left to propose at a cost, the
bound rises to the next cost that whole jumpers and cuts can make.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import networkx as nx
from ortools.sat.python import cp_model

from placer.solve.arrange import ArrangeSearch, Lines
from placer.solve.arrays import Arrays, Places
from placer.solve.claims import Answer, Claim, Pin, connected, copies, only, pieces, ties, unbound, without_pin
from placer.solve.frame import Frame
from placer.solve.problem import Problem
from placer.solve.relax import easy_solver, run_stoppable
from placer.solve.segments import Prices, SegmentModel
from placer.solve.sharing import BUILT, REFUTED, STUCK, UNFINISHED

Conflict = tuple[frozenset[tuple[Pin, Pin]], frozenset[int], frozenset[tuple[Pin, Pin]]]
"""Not all at once: pairs of pins in one segment, nets in several pieces, pairs of pins on different strips."""

IMPOSSIBLE = "impossible"
MASTER_WORK = 60.0
QUICK, DEEP, WHOLE = 0.1, 0.5, 8.0  # the solver's deterministic time for one question
PIECES = (3, 5)  # parts; sizes of the pieces of a cluster looked at first
MOST_COPIES = 300


class CutProof:
    """Decides, one cost after another, whether a plan that cheap can be."""

    def __init__(
        self,
        p: Problem,
        arrays: Arrays,
        seen: Frame,
        lines: Lines,
        prices: Prices,
        stopped: Callable[[], bool],
        seed: int,
    ) -> None:
        self.p, self.seen, self.lines, self.prices, self.stopped, self.seed = p, seen, lines, prices, stopped, seed
        self.arrays = arrays
        self.search = ArrangeSearch(p, lines, stopped, seed)
        self.conflicts: dict[Conflict, None] = {}
        self.plain = unbound(p)
        self.own_work = 0.0
        self.rounds = 0

    @property
    def work(self) -> float:
        """Deterministic work done so far."""
        return self.own_work + self.search.work

    def decide(self, units: int, work: float) -> tuple[str, Places | None]:
        """Whether a plan can cost so little, in the words of :class:`placer.solve.sharing.SharingProof`.

        IMPOSSIBLE: no plan can be at any cost.
        """
        limit = self.work + work
        self.own_work += 0.02
        model = SegmentModel(self.p, self.seen, self.prices, units, self.stopped)
        if model.unfinished:
            return UNFINISHED, None
        if model.empty:
            return IMPOSSIBLE, None
        if model.base > units:
            return REFUTED, None
        model.model.add(sum(w * lit for w, lit in model.terms) <= units - model.base)
        terms = _Terms(model)
        for conflict in self.conflicts:
            if not terms.forbid(conflict):
                return REFUTED, None
        while not self.stopped() and self.work < limit:
            self.rounds += 1
            solver = easy_solver(self.seed, MASTER_WORK)
            status = run_stoppable(solver, model.model, self.stopped)
            self.own_work += solver.deterministic_time + 0.02
            if status == cp_model.INFEASIBLE:
                return REFUTED, None
            if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
                return UNFINISHED, None
            claim = self._claim(model, solver)
            before = len(self.conflicts)
            places = self._try(claim)
            if self.stopped():
                return UNFINISHED, None
            fresh = list(self.conflicts)[before:]
            if not fresh:
                return (STUCK if places is None else BUILT), places
            for conflict in fresh:
                if not terms.forbid(conflict):
                    return REFUTED, None
        return UNFINISHED, None

    def _claim(self, model: SegmentModel, solver: cp_model.CpSolver) -> Claim:
        """What the relaxation proposes, said without positions."""
        p = self.p
        split = {n for n, lit in model.split.items() if solver.boolean_value(lit)}
        wired = frozenset(n for n, lit in model.several.items() if solver.boolean_value(lit))
        on: dict[tuple[int, int], set[Pin]] = {}
        for (i, k), strips in model.pin_at.items():
            n = p.items[i].nets[k]
            if n not in split:
                s = next(s for s, lit in strips.items() if solver.boolean_value(lit))
                on.setdefault((s, n), set()).add((i, k))
        first = {at: min(pins) for at, pins in on.items()}
        apart = frozenset(
            (min(first[a], first[b]), max(first[a], first[b])) for a, b in itertools.combinations(on, 2) if a[0] != b[0]
        )
        groups = tuple(frozenset(pins) for _, pins in sorted(on.items()))
        return Claim(frozenset(range(len(p.items))), groups, wired=wired, apart=apart)

    def _try(self, claim: Claim) -> Places | None:
        """Places for all parts as claimed, or None; conflicts found on the way are recorded."""
        before = len(self.conflicts)
        rest = claim
        answer = self.search.ask(rest, DEEP)
        # One conflict after another, each without a part of the last, so that they have little in common.
        while answer.possible is False and not self.stopped():
            conflict = self._shrink(rest)
            self._add(conflict)
            gone = min(conflict.items, key=lambda i: (len(self.p.items[i].pins), i))
            rest = only(rest, rest.items - {gone}, 1)
            answer = self.search.ask(rest, DEEP)
        if answer.possible is None and len(self.conflicts) == before:
            self._look(claim)
        if len(self.conflicts) > before or self.stopped():
            return None
        answer = self.search.ask(claim, WHOLE)
        if answer.possible is False:
            self._add(self._shrink(claim))
            return None
        places = self._on_board(answer)
        if answer.possible and places is None:
            answer = self.search.ask(claim, WHOLE, on_board=True)
            if answer.possible is False:
                self._add(claim, as_they_are=True)
            places = self._on_board(answer)
        return places

    def _look(self, claim: Claim) -> None:
        """Record conflicts in the pieces of a claim that is too large to decide, small pieces first."""
        for version in (replace(claim, apart=self._same_net(claim)), claim):
            for size in PIECES:
                before = len(self.conflicts)
                for cluster in connected(version, 1):
                    for piece in pieces(cluster, size, 1):
                        if self.stopped():
                            return
                        if not self._known(piece) and self._refuted(piece):
                            self._add(self._shrink(piece))
                if len(self.conflicts) > before:
                    return

    def _same_net(self, claim: Claim) -> frozenset[tuple[Pin, Pin]]:
        """The pairs of a claim that keep two segments of one net from being one."""
        net = self.p.items
        return frozenset((a, b) for a, b in claim.apart if net[a[0]].nets[a[1]] == net[b[0]].nets[b[1]])

    def _known(self, claim: Claim) -> bool:
        pairs = {pair for g in claim.groups for pair in itertools.combinations(sorted(g), 2)}
        return any(
            shared <= pairs and wired <= claim.wired and apart <= claim.apart for shared, wired, apart in self.conflicts
        )

    def _refuted(self, claim: Claim) -> bool:
        return any(self.search.ask(part, QUICK).possible is False for part in self._parts(claim))

    def _parts(self, claim: Claim) -> list[Claim]:
        """Clusters of a claim, those that are kept apart from one another taken together."""
        graph = ties(claim)
        graph.add_edges_from((a[0], b[0]) for a, b in claim.apart)
        return [only(claim, frozenset(c), 1) for c in sorted(nx.connected_components(graph), key=min)]

    def _shrink(self, claim: Claim) -> Claim:
        """A conflict within a refuted claim from which nothing can be dropped (as far as a quick look tells)."""

        def drop(fewer: Claim) -> bool:
            nonlocal claim
            if fewer != claim and fewer.items and self._refuted(fewer):
                claim = fewer
                return True
            return False

        def thin(things: list[Any], without: Callable[[frozenset[Any]], Claim]) -> None:
            """Drop as many of some things as can be, many at a time first."""
            size = len(things) // 2
            while size > 0:
                for at in range(0, len(things), size):
                    drop(without(frozenset(things[at : at + size])))
                things = [t for t in things if without(frozenset([t])) != claim]
                size = min(size // 2, len(things))

        drop(replace(claim, wired=frozenset()))
        drop(replace(claim, apart=self._same_net(claim)))
        thin(
            sorted(claim.items, key=lambda i: (len(self.p.items[i].pins), i)), lambda x: only(claim, claim.items - x, 1)
        )
        claim = next((part for part in self._parts(claim) if self._refuted(part)), claim)
        thin(sorted(claim.apart - self._same_net(claim)), lambda x: replace(claim, apart=claim.apart - x))
        for pin in sorted({q for g in claim.groups for q in g}):
            if any(pin in g for g in claim.groups):
                drop(self._unclaimed(claim, pin))
        for n in sorted(claim.wired):
            drop(replace(claim, wired=claim.wired - {n}))
        used = {p for p in claim.wired if any(self.p.items[q[0]].nets[q[1]] == p for g in claim.groups for q in g)}
        return replace(claim, wired=frozenset(used))

    def _unclaimed(self, claim: Claim, pin: Pin) -> Claim:
        """The claim without a pin; another of its group takes its part in what is apart."""
        group = next(g for g in claim.groups if pin in g)
        others = sorted(group - {pin})
        if others:
            swap = {pin: others[0]}
            moved = frozenset(
                (min(x, y), max(x, y)) for x, y in ((swap.get(a, a), swap.get(b, b)) for a, b in claim.apart)
            )
            claim = replace(claim, apart=moved)
        return without_pin(claim, pin, 1)

    def _add(self, conflict: Claim, *, as_they_are: bool = False) -> None:
        """Forbid a conflict and its copies among parts of the same shapes."""
        every = copies(self.p, self.arrays.item_shape, self.plain, conflict)
        if as_they_are:
            own = {q: q for g in conflict.groups for q in g}
            every = iter([(own, {n: n for n in conflict.wired})])
        for pin_map, net_map in itertools.islice(every, MOST_COPIES):
            pairs = set()
            for g in conflict.groups:
                first, *rest = sorted(pin_map[q] for q in g)
                pairs |= {(first, other) for other in rest}
            apart = frozenset(tuple(sorted((pin_map[a], pin_map[b]))) for a, b in conflict.apart)
            self.conflicts.setdefault((frozenset(pairs), frozenset(net_map[n] for n in conflict.wired), apart))  # type: ignore[arg-type]

    def _on_board(self, answer: Answer) -> Places | None:
        """Places of an arrangement, moved to where every part may stand; None where there is no such move."""
        if not answer.possible or answer.places is None:
            return None
        p, axis = self.p, self.lines.axis
        allowed = [[set(way.tolist()) for way in item.ways] for item in p.items]
        for shift in sorted(
            itertools.product(
                range(-self.lines.count, self.lines.count + 1), range(-self.lines.holes, self.lines.holes + 1)
            ),
            key=lambda d: abs(d[0]) + abs(d[1]),
        ):
            places = []
            for i in range(len(p.items)):
                no, line, along = answer.places[i]
                y, x = (line + shift[0], along + shift[1]) if axis else (along + shift[1], line + shift[0])
                h = p.hole(x + p.x0, y + p.y0)
                if h < 0 or h not in allowed[i][no]:
                    break
                places.append((no, h))
            else:
                return tuple(places)
        return None


class _Terms:
    """What conflicts are said in, in one model."""

    def __init__(self, model: SegmentModel) -> None:
        self.model = model
        self.shared: dict[tuple[Pin, Pin], cp_model.IntVar | None] = {}
        self.level: dict[tuple[Pin, Pin], cp_model.IntVar | None] = {}

    def forbid(self, conflict: Conflict) -> bool:
        """State a conflict; False when it is broken whatever the model does."""
        pairs, wired, apart = conflict
        lits = [self._share(a, b) for a, b in sorted(pairs)] + [self.model.several.get(n) for n in sorted(wired)]
        if any(lit is None for lit in lits):
            return True
        clause = [~lit for lit in lits if lit is not None]
        clause += [lit for lit in (self._level(a, b) for a, b in sorted(apart)) if lit is not None]
        if not clause:
            return False
        self.model.model.add_bool_or(clause)
        return True

    def _share(self, a: Pin, b: Pin) -> cp_model.IntVar | None:
        """True at least where two pins of one net are in one segment; None where they never are."""
        if (a, b) not in self.shared:
            m, at = self.model.model, self.model.pin_at
            n = self.model.p.items[a[0]].nets[a[1]]
            common = [s for s in at[a] if s in at[b]] if n == self.model.p.items[b[0]].nets[b[1]] else []
            lit = m.new_bool_var("") if common else None
            self.shared[a, b] = lit
            if lit is not None:
                for s in common:
                    m.add_bool_or([~at[a][s], ~at[b][s], self.model.split[n], lit])
        return self.shared[a, b]

    def _level(self, a: Pin, b: Pin) -> cp_model.IntVar | None:
        """True only where two pins are on one strip; None where they never are."""
        if (a, b) not in self.level:
            m, at = self.model.model, self.model.pin_at
            common = [s for s in at[a] if s in at[b]]
            lit = m.new_bool_var("") if common else None
            self.level[a, b] = lit
            if lit is not None:
                for s, on in at[a].items():
                    if s in at[b]:
                        m.add_bool_or([~lit, ~on, at[b][s]])
                    else:
                        m.add_implication(lit, ~on)
        return self.level[a, b]
