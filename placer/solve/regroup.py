"""Cheaper plans near the best one: a few parts may share strips in other ways, all others share them as they do.

What is kept is who shares a strip with whom, not where anybody stands, so that everything may move to make room. The
clauses of :mod:`placer.solve.shares` propose a cheaper way, the theory builds it or finds what cannot be, and what it
finds is of use to the bound as well.

Most of the time plans are mixed (:mod:`placer.solve.mixing`): parts that are let go share strips, and lie on long ones,
as in some plans that runs of the search have come to. Every other time a few may do so in any way, and the others make
room for that as in one plan or another.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator

from placer.solve.arrays import Places
from placer.solve.claims import Pin
from placer.solve.cores import DOUBTFUL, Verdict
from placer.solve.frame import Frame
from placer.solve.mixing import FIRST_BESIDE, FIRST_MIXED, LEAST_BESIDE, Mixing, Way
from placer.solve.near import linked, strips_of_pins
from placer.solve.nearbest import NearBest
from placer.solve.prices import Prices
from placer.solve.problem import Problem
from placer.solve.proposal import Proposal
from placer.solve.sat import Counter
from placer.solve.shares import ShareModel, SharingFact
from placer.solve.sharing import SharingTheory
from placer.solve.strips import Bools
from placer.solve.wiring import wire

LEAST_FREE, FIRST_FREE, MOST_FREE = 10, 10, 24  # items that may share otherwise
MIXING = 3.0  # work that goes into it, to one of what is looked for otherwise
# Proposals that are looked at for one choice of items, and of these such that nobody can tell.
LOOKS, DOUBTS = 40, 8
LOOKS_MIXED, DOUBTS_MIXED = 400, 80
MOST_WORK = 3.0  # about seconds, for one choice of items
LEVEL = 0  # how closely the theory looks
CONFLICTS = 6_000  # of the clauses, for one proposal


class Regroup(NearBest):
    """A way to better plans on copper that is not cut."""

    def __init__(
        self,
        seen: Frame,
        prices: Prices,
        shares: Bools,
        theory: SharingTheory,
        stopped: Callable[[], bool],
        seed: int,
    ) -> None:
        self.p: Problem = seen.p
        self.theory = theory
        self.model = ShareModel(seen, prices, shares)
        super().__init__(stopped, seed)
        self._sizes = {Way.PLAIN: FIRST_FREE, Way.MIXED: FIRST_MIXED, Way.BESIDE: FIRST_BESIDE}
        self._mixing = Mixing(self._facts_of, self._rng, MIXING)
        self._jumper = prices.jumper
        self._looked = 0.0  # work of the theory on what was proposed here
        self._most = 0  # jumpers that a cheaper plan may have
        self._on: dict[Pin, int] = {}
        self._learned = 0
        self._doubts: list[int] = []
        self._items_of: dict[int, list[int]] = {}
        for i, item in enumerate(self.p.items):
            for n in dict.fromkeys(item.nets):
                self._items_of.setdefault(n, []).append(i)

    @property
    def work(self) -> float:
        """About how many seconds have gone into it, those of the theory left out."""
        return self.model.sat.work

    def _begin_from(self, best: Places) -> bool:
        wiring = wire(self.p, best)
        if wiring is None:
            return False
        self._most = len(wiring.wires) - 1
        self._on = strips_of_pins(self.p, best)
        for doubt in self._doubts:
            self.model.sat.add([doubt])
        self._doubts.clear()
        return True

    def run(self) -> Iterator[None]:
        """Go on without end; yields often."""
        for _ in self.model.state():
            yield
        if self.model.impossible or not self.model.costs:
            self.ended = DOUBTFUL
            return
        count = Counter(self.model.sat, list(self.model.costs))
        base = self.model.base // self._jumper
        while (best := self._best) is not None:
            most = self._most - base
            if most < 0:
                break
            fewer = [] if most >= count.size else [-count.at_least(most + 1)]
            plans = self._mixing.plans(best, self._others)
            way = self._mixing.way(plans)
            before = self._all_work()
            free, more = self._let_go(best, plans, way)
            yield from self._near(best, free, [*more, *fewer], way)
            self._mixing.spent[way is not Way.PLAIN] += self._all_work() - before
        self.ended = DOUBTFUL  # nothing takes fewer jumpers

    def _all_work(self) -> float:
        """About how many seconds have gone into it, those of the theory included."""
        return self.work + self._looked

    def _look(self, proposal: Proposal) -> Iterator[Verdict | None]:
        """Ask the theory, which proofs may ask in between, what it says of a proposal."""
        before = self.theory.work
        for verdict in self.theory.look(proposal, LEVEL, self._changed(proposal)):
            self._looked += self.theory.work - before
            yield verdict
            before = self.theory.work

    def _let_go(self, best: Places, plans: list[Places], way: Way) -> tuple[frozenset[int], list[int]]:
        """Items that may share otherwise, and literals that say: as in some plans."""
        if way is Way.PLAIN:
            return linked(self.p, self._sizes[way], self._rng), []
        free = linked(self.p, self._sizes[Way.MIXED], self._rng)
        beside = linked(self.p, self._sizes[way], self._rng) if way is Way.BESIDE else frozenset()
        in_all, some = self._mixing.chosen(best, plans)
        return free | beside, self.model.as_in_some(in_all, some, free - beside, beside)

    def _changed(self, proposal: Proposal) -> set[int]:
        """The items of which a proposal says anything new."""
        on, several = self._shared(proposal.strip)
        before, several_before = self._shared({q: self._named(q, s) for q, s in self._on.items()})
        found = {q[0] for q, where in on.items() if where != before[q]}
        return found.union(*(self._items_of[n] for n in several - several_before))

    def _named(self, pin: Pin, strip: int) -> int:
        """A strip of the board by a number of the frame, if it is a long one; else by one beyond those."""
        seen = int(self.model.frame.of_board[strip])
        return seen if seen in self.model.on[pin] else self.model.frame.n_strips + strip

    def _shared(self, strip: dict[Pin, int]) -> Shared:
        groups: dict[tuple[int, int], list[Pin]] = {}
        strips: dict[int, set[int]] = {}
        for (i, k), s in strip.items():
            n = self.p.items[i].nets[k]
            groups.setdefault((s, n), []).append((i, k))
            strips.setdefault(n, set()).add(s)
        on: dict[Pin, object] = {}
        for (s, _), pins in groups.items():
            where: object = s if s < self.model.frame.n_strips else frozenset(pins)
            on.update((q, where) for q in pins)
        return on, frozenset(n for n, some in strips.items() if len(some) > 1)

    def _facts_of(self, plan: Places) -> frozenset[SharingFact]:
        """Which pins of a plan share a short strip, and which is on which long one."""
        facts: set[SharingFact] = set()
        groups: dict[tuple[int, int], list[Pin]] = {}
        for (i, k), strip in strips_of_pins(self.p, plan).items():
            seen = int(self.model.frame.of_board[strip])
            if seen in self.model.on[i, k]:
                facts.add(((i, k), seen))
            else:
                groups.setdefault((strip, self.p.items[i].nets[k]), []).append((i, k))
        facts.update(pair for pins in groups.values() for pair in itertools.combinations(sorted(pins), 2))
        return frozenset(facts)

    def _near(self, best: Places, free: frozenset[int], more: list[int], way: Way) -> Iterator[None]:
        """Look for a plan in which all other items share strips as they do; ``more``: literals that hold as well."""
        model, theory = self.model, self.theory
        kept = model.as_it_is(self._on, free)
        model.sat.prefer(model.as_it_is(self._on, frozenset()))
        doubts = 0
        looks, most_doubts = (LOOKS, DOUBTS) if way is Way.PLAIN else (LOOKS_MIXED, DOUBTS_MIXED)
        limit = self._all_work() + MOST_WORK
        for _ in range(looks):
            for conflict in theory.conflicts.since(self._learned):
                model.forbid(conflict)
            self._learned = len(theory.conflicts)
            answer = model.sat.ask([*kept, *more, *(-d for d in self._doubts)], CONFLICTS)
            if answer is False:  # all of it has been seen, but for what was set aside: more next time
                self._sizes[way] = min(len(self.p.items) if way is Way.MIXED else MOST_FREE, self._sizes[way] + 1)
            yield
            if answer is None:
                break
            if not answer or self._best is not best:
                return
            if model.mend():
                continue
            proposal = model.proposal()
            for verdict in self._look(proposal):
                yield
                if verdict is None or verdict.refuted:
                    continue
                if verdict.asserted is not None:
                    # Set aside until there is another plan; so are places, which may turn out to be no plan.
                    doubt = model.sat.new()
                    model.forbid(verdict.asserted, unless=doubt)
                    self._doubts.append(doubt)
                    doubts += 1
                if verdict.places is not None:
                    self.start = verdict.places
                if verdict.asserted is None or verdict.places is not None:
                    return
            if doubts >= most_doubts or self._all_work() > limit:
                break
        self._sizes[way] = max(LEAST_BESIDE if way is Way.BESIDE else LEAST_FREE, self._sizes[way] - 1)


Shared = tuple[dict[Pin, object], frozenset[int]]
"""With which pins each shares a short strip, or on which long one it is; and the nets in several pieces."""
