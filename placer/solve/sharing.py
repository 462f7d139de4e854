"""Proof by refuting shares: the relaxation proposes which pins share strips, the cluster search tries to build it.

Where no cluster of parts can stand as proposed, a smallest set of shares that cannot be is forbidden, for these parts
and for all parts of the same shapes joined in the same way, wherever they stand. When nothing is left to propose at a
cost, the bound is one jumper higher; when everything proposed can be built, the plan is.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import networkx as nx
from ortools.sat.python import cp_model

from placer.solve.arrays import Arrays, Places
from placer.solve.claims import Answer, Claim, Pin, connected, copies, only, pieces, unbound, without_pin
from placer.solve.cluster import LONG, MOST_NODES, ClusterSearch
from placer.solve.frame import Frame, frame, half_turn, turns_upside_down
from placer.solve.problem import Problem
from placer.solve.relax import StripModel, easy_solver, run_stoppable
from placer.solve.stack import stack

REFUTED, BUILT, STUCK, UNFINISHED = "refuted", "built", "stuck", "unfinished"
MOST_SOLVE_WORK = 120.0
MOST_COPIES = 400  # cuts made from one conflict
PIECES = (5, 7)  # parts; sizes of the pieces of a cluster looked at first
DEEP_WORK, DEEP_SHRINK = 6.0, 0.3
QUICK_NODES = 1_500  # tried places when a conflict is made smaller


Cut = tuple[frozenset[tuple[Pin, Pin]], frozenset[Pin], frozenset[int], frozenset[tuple[Pin, int]]]
"""Not all at once: pairs of pins on one short strip, pins on long strips, nets in several pieces, pins on these."""


class SharingProof:
    """Decides, one cost after another, whether a plan with that many jumpers can be."""

    def __init__(self, p: Problem, arrays: Arrays, seen: Frame, stopped: Callable[[], bool], seed: int) -> None:
        self.p = p
        self.arrays = arrays
        self.seen = seen
        self.stopped = stopped
        self.seed = seed
        self.cuts: dict[Cut, None] = {}
        self.searches: dict[int, ClusterSearch] = {}
        self.work = 0.0
        self.rounds = 0
        pins_of: dict[int, list[Pin]] = {}
        for i, item in enumerate(p.items):
            for k, n in enumerate(item.nets):
                pins_of.setdefault(n, []).append((i, k))
        self.pins_of = pins_of
        # A half turn of the board, where it maps everything onto itself, turns a conflict on long strips along.
        self.turns: list[list[int]] = [list(range(len(p.slen)))]
        if turns_upside_down(p):
            half = half_turn(p)
            assert half is not None  # noqa: S101 - the board turns onto itself
            self.turns.append([int(p.hstrip[half[h]]) for h in p.sstart])
        self.plain = unbound(p)

    def decide(self, jumpers: int, work: float) -> tuple[str, Places | None]:
        """Whether a plan can have so few jumpers.

        REFUTED: none can. BUILT: the places are such a plan, unless wiring it as a whole fails. STUCK: every piece can
        be built but the whole was not. UNFINISHED: the work or the time ran out; calling again goes on.
        """
        limit = self.work + work
        while not self.stopped() and self.work < limit:
            self.rounds += 1
            model = StripModel(self.p, self.seen, jumpers, pins=True)
            if model.empty or model.base > jumpers:
                return REFUTED, None
            model.model.clear_objective()  # type: ignore[no-untyped-call]  # the library leaves it untyped
            model.model.add(sum(model.terms) <= jumpers - model.base)
            if not self._forbid(model):
                return REFUTED, None
            # Never cut short by the portion: a refutation broken off would have to start again.
            solver = easy_solver(self.seed, MOST_SOLVE_WORK)
            status = run_stoppable(solver, model.model, self.stopped)
            self.work += solver.deterministic_time + 0.02
            if status == cp_model.INFEASIBLE:
                return REFUTED, None
            if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
                return UNFINISHED, None
            strips = {
                pin: next(s for s, lit in lits.items() if solver.boolean_value(lit))
                for pin, lits in model.pin_at.items()
            }
            several = {n for n, lit in model.several.items() if solver.boolean_value(lit)}
            new = 0
            built: list[tuple[ClusterSearch, Answer]] = []
            for claim in self._claims(strips, several):
                if self.stopped():
                    return UNFINISHED, None
                answer = self._ask(claim)
                if answer.possible is False:
                    new += self._refute(claim)
                    continue
                exact = self._as_proposed(claim, strips)
                answer = self._ask(exact)
                if answer.possible is False:
                    new += self._refute(exact)
                elif new == 0:
                    built.append((self._search_for(exact), answer))
            if new == 0:
                # Nothing left to forbid: what is proposed can be built piece by piece, or is too large to decide.
                places = stack(self.p, built)
                return (STUCK if places is None else BUILT), places
        return UNFINISHED, None

    def _ask(self, claim: Claim) -> Answer:
        """Small pieces of a large cluster first: what refutes a piece refutes the whole, and is found sooner."""
        if self._forbidden(claim) or any(self._refuted(piece) for piece in self._pieces(claim)):
            return Answer(False)
        search = self._search_for(claim)
        before = search.work
        answer = search.ask(claim, MOST_NODES, DEEP_WORK)
        self.work += search.work - before + 0.02
        return answer

    def _pieces(self, claim: Claim) -> Iterator[Claim]:
        for size in PIECES:
            if len(claim.items) > size:
                yield from pieces(claim, size)

    def _refute(self, claim: Claim) -> int:
        """Forbid what makes a claim impossible: a conflict in each piece of it that is, or else in the whole."""
        before = len(self.cuts)
        for piece in self._pieces(claim):
            if not self._forbidden(piece) and self._refuted(piece):
                self._add(self._shrink(piece))
        if not self._forbidden(claim):
            self._add(self._shrink(claim, DEEP_SHRINK))
        return len(self.cuts) - before

    def _forbidden(self, claim: Claim) -> bool:
        """True when a known conflict is part of the claim."""
        pairs = {pair for g in claim.groups for pair in itertools.combinations(sorted(g), 2)}
        return any(
            c_pairs <= pairs and longs <= claim.long and wired <= claim.wired and on <= claim.on
            for c_pairs, longs, wired, on in self.cuts
        )

    def _as_proposed(self, claim: Claim, strips: dict[Pin, int]) -> Claim:
        """The claim with its long strips as the relaxation chose them."""
        back = {int(s): b for b, s in enumerate(self.seen.of_board) if s >= 0}
        on = frozenset((pin, back[strips[pin]]) for pin in claim.long if strips[pin] in back)
        return replace(claim, on=on)

    # What the relaxation proposes.

    def _is_long(self, strip: int) -> bool:
        return bool(self.seen.length[strip] > LONG)

    def _claims(self, strips: dict[Pin, int], several: set[int]) -> Iterator[Claim]:
        """The clusters of a proposal: parts tied together by shared short strips."""
        on: dict[int, list[Pin]] = {}
        for pin, s in strips.items():
            on.setdefault(s, []).append(pin)
        graph = nx.Graph()
        graph.add_nodes_from(range(len(self.p.items)))
        groups = []
        for s, pins in on.items():
            if not self._is_long(s) and len(pins) > 1:
                groups.append(frozenset(pins))
                items = [i for i, _ in pins]
                graph.add_edges_from(itertools.pairwise(items))
        for comp in sorted(nx.connected_components(graph), key=min):
            own = tuple(sorted((g for g in groups if next(iter(g))[0] in comp), key=sorted))
            long = frozenset(pin for pin, s in strips.items() if pin[0] in comp and self._is_long(s))
            wired = frozenset(n for i in comp for n in self.p.items[i].nets if n in several)
            yield Claim(frozenset(comp), own, long, wired)

    def _search_for(self, claim: Claim) -> ClusterSearch:
        """The search that sees the board from the cluster's largest part."""
        anchor = max(claim.items, key=lambda i: (len(self.p.items[i].pins), -i))
        if anchor not in self.searches:
            seen = self.seen if anchor == self.seen.anchor else frame(self.p, anchor, None)
            assert seen is not None  # noqa: S101 - without a window there always is a frame
            self.searches[anchor] = ClusterSearch(self.p, self.arrays, seen, self.stopped)
        return self.searches[anchor]

    # Conflicts.

    def _refuted(self, claim: Claim) -> bool:
        return any(self._search_for(part).ask(part, QUICK_NODES).possible is False for part in connected(claim))

    def _shrink(self, claim: Claim, deep: float = 0.0) -> Claim:
        """A conflict within a refuted claim from which nothing can be dropped (as far as a quick look tells)."""

        def refuted(fewer: Claim) -> bool:
            if not deep:
                return self._refuted(fewer)
            for part in connected(fewer):
                search = self._search_for(part)
                before = search.work
                answer = search.ask(part, MOST_NODES, deep)
                self.work += search.work - before
                if answer.possible is False:
                    return True
            return False

        def drop(fewer: Claim) -> None:
            nonlocal claim
            if fewer != claim and fewer.items and refuted(fewer):
                claim = fewer

        def narrow() -> None:
            nonlocal claim
            claim = next((part for part in connected(claim) if refuted(part)), claim)

        none: frozenset[Any] = frozenset()
        drop(replace(claim, wired=none))
        drop(replace(claim, on=none))
        drop(replace(claim, long=none, on=none))
        for i in sorted(claim.items):
            drop(only(claim, claim.items - {i}))
        narrow()
        for pin in sorted({q for g in claim.groups for q in g}):
            drop(without_pin(claim, pin))
        narrow()
        for assertion in sorted(claim.on):
            drop(replace(claim, on=claim.on - {assertion}))
        for pin in sorted(claim.long):
            drop(replace(claim, long=claim.long - {pin}))
        for n in sorted(claim.wired):
            drop(replace(claim, wired=claim.wired - {n}))
        return claim

    def _add(self, conflict: Claim) -> int:
        """Forbid a conflict and its copies among parts of the same shapes; the number of new cuts."""
        before = len(self.cuts)
        for count, (pin_map, net_map) in enumerate(copies(self.p, self.arrays.item_shape, self.plain, conflict)):
            if count >= MOST_COPIES:
                break
            pairs = set()
            for g in conflict.groups:
                first, *rest = sorted(pin_map[q] for q in g)
                pairs |= {(first, other) for other in rest}
            cut = (
                frozenset(pairs),
                frozenset(pin_map[q] for q in conflict.long),
                frozenset(net_map[n] for n in conflict.wired),
            )
            for turned in self.turns if conflict.on else self.turns[:1]:
                self.cuts.setdefault((*cut, frozenset((pin_map[q], turned[s]) for q, s in conflict.on)))
        return len(self.cuts) - before

    def _forbid(self, model: StripModel) -> bool:
        """State the cuts in a model; False when one of them is broken already."""
        m = model.model
        share: dict[tuple[Pin, Pin], cp_model.IntVar | None] = {}
        on_long: dict[Pin, cp_model.IntVar | None] = {}

        def shared(a: Pin, b: Pin) -> cp_model.IntVar | None:
            if (a, b) not in share:
                common = [s for s in model.pin_at[a] if s in model.pin_at[b] and not self._is_long(s)]
                lit = m.new_bool_var("") if common else None
                share[a, b] = lit
                if lit is not None:
                    for s in common:
                        m.add_bool_or([~model.pin_at[a][s], ~model.pin_at[b][s], lit])
            return share[a, b]

        def long(pin: Pin) -> cp_model.IntVar | None:
            if pin not in on_long:
                some = [lit for s, lit in model.pin_at[pin].items() if self._is_long(s)]
                either = m.new_bool_var("")
                on_long[pin] = either if some else None
                for lit in some:
                    m.add_implication(lit, either)
            return on_long[pin]

        for pairs, longs, wired, on in self.cuts:
            lits = [shared(a, b) for a, b in sorted(pairs)]
            lits += [long(pin) for pin in sorted(longs)]
            lits += [model.several.get(n) for n in sorted(wired)]
            lits += [model.pin_at[pin].get(int(self.seen.of_board[s])) for pin, s in sorted(on)]
            if any(lit is None for lit in lits):
                continue  # this can never come about in the model
            if not lits:
                return False
            m.add_bool_or([~lit for lit in lits if lit is not None])
        return True
