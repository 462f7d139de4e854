"""Cheaper plans near the best one, on long strips that may be cut: some parts go anywhere, others keep their lines.

The clauses of :mod:`placer.solve.linemodel` find them, or tell that there are none. Whoever keeps its lines and the
segments it shares may still move along them, so that there is room wherever there can be.

Most of the time, with many parts all of it, who goes anywhere shares segments only with whom it does in one of some
plans that runs of the search have come to, the best among them, and does so where it does in all. That leaves so little
open that nearly all parts can be let go: what is good of one plan and what is good of another are put together. Up to
some size, every other time, a few parts besides share segments in any way.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator

from placer.solve.arrays import Places
from placer.solve.claims import Pin
from placer.solve.cores import DOUBTFUL
from placer.solve.cutproof import CutTheory
from placer.solve.frame import Frame
from placer.solve.linemodel import LineModel
from placer.solve.lineup import can_line_up
from placer.solve.mixing import FIRST_BESIDE, FIRST_MIXED, LEAST_BESIDE, LEAST_PLANS, Mixing, Way
from placer.solve.near import holes_of_pins, linked
from placer.solve.nearbest import NearBest
from placer.solve.prices import Prices
from placer.solve.refit import Refit
from placer.solve.sat import Counter
from placer.solve.strips import Bools
from placer.solve.wiring import wire

MOST_WHOLE = 59  # items; with more, the clauses only know of sharing in some plans, and are stated anew for others
LEAST_FREE, FIRST_FREE, MOST_FREE = 6, 12, 40  # items that may go anywhere, where nothing is mixed
CONFLICTS = 6_000  # of the clauses, for one answer
MOST_WORK = 3.0  # about seconds, for one choice of items
MOST_STATED, MOST_STATED_OF_SOME = 500_000, 9_000_000  # clauses about order beforehand; with sharing in some plans
PLANS_ANEW = 8  # others with sharing that the clauses do not know, before they are stated anew
MIXING = 3.0  # work that goes into it, to one of what is looked for otherwise
MOST_OWN = 12  # proposals made to fit that are kept, to be mixed
CHAINED = 5  # further segments of a strip that are counted


class Reseat(NearBest):
    """A way to better plans on long strips that may be cut."""

    def __init__(
        self,
        seen: Frame,
        prices: Prices,
        shares: Bools,
        theory: CutTheory,
        stopped: Callable[[], bool],
        seed: int,
    ) -> None:
        self.p, self.prices = seen.p, prices
        self.theory = theory
        self._seen, self._shares = seen, shares
        self._whole = len(self.p.items) <= MOST_WHOLE
        self.model = self._new_model()
        super().__init__(stopped, seed)
        self._worked = 0.0  # with models given up
        self._cost = 0  # units, of the best
        self._costs: list[tuple[int, int, int]] = []  # literals, and how many jumpers and cuts each costs
        self._counts: list[tuple[list[int], Counter | None]] = []  # of jumpers and of cuts: literals, each as it counts
        self._paid: tuple[int, int] | None = None  # jumpers and cuts that the best plan pays for
        self._strip: dict[Pin, int] = {}
        self._segments: list[list[Pin]] = []
        self._shared: dict[tuple[Pin, Pin], int] = {}
        self._refit = Refit(self.p, seed) if can_line_up(self.p) else None
        self._mixing = Mixing(self._pairs_of, self._rng, MIXING)  # facts: who shares a segment with whom
        self._own: list[tuple[int, Places]] = []  # what proposals were made to fit, the cheapest first
        self._sizes = {Way.PLAIN: FIRST_FREE, Way.MIXED: FIRST_MIXED, Way.BESIDE: FIRST_BESIDE}

    @property
    def work(self) -> float:
        """About how many seconds have gone into it."""
        return self._worked + self.model.sat.work + (0.0 if self._refit is None else self._refit.work)

    def _begin_from(self, best: Places) -> bool:
        cost = self._cost_of(best)
        if cost is None:
            return False
        self._cost = cost
        self._paid = None
        return True

    def _cost_of(self, places: Places) -> int | None:
        """What a plan with these places costs (units); None where it cannot be wired."""
        wiring = wire(self.p, places)
        if wiring is None:
            return None
        cuts = len(wiring.drilled) + len(wiring.severed)
        return len(wiring.wires) * self.prices.jumper + cuts * self.prices.cut

    @property
    def ready(self) -> bool:
        """True when there is a plan to begin from, and with many items others to mix it with."""
        return super().ready and (self._whole or len(self._others) > LEAST_PLANS)

    def run(self) -> Iterator[None]:
        """Go on without end; yields often. Word of another best plan may come whenever it does."""
        stated = False
        while (best := self._best) is not None and self._cost > self.bound:
            plans = self._mixing.plans(best, (*self._others, *(own for _, own in self._own)))
            if not stated or self._is_news(best, plans):
                yield from self._state(None if self._whole else [best, *plans])
                stated = True
                if self.model.impossible:
                    break
            if self._paid is None:
                yield from self._look_at(best)
            if self._best is not best:
                continue
            if self._paid is None or not any(self._paid):
                break
            way = self._mixing.way(plans) if self._whole else Way.MIXED  # else the clauses know of no other sharing
            before = self.work
            free, more = self._let_go(best, plans, way)
            yield from self._near(best, free, more, way)
            self._mixing.spent[way is not Way.PLAIN] += self.work - before
        self.ended = DOUBTFUL

    def _new_model(self) -> LineModel:
        most = MOST_STATED if self._whole else MOST_STATED_OF_SOME
        return LineModel(self._seen, self.prices, self._shares, most=most)

    def _is_news(self, best: Places, plans: list[Places]) -> bool:
        """The clauses do not know of sharing in the best plan, or in too many others."""
        only = self.model.only
        if only is None:
            return False
        known = [self._mixing.of(plan) <= only for plan in (best, *plans)]
        return not known[0] or known.count(False) >= PLANS_ANEW

    def _state(self, plans: list[Places] | None) -> Iterator[None]:
        """State the clauses; where plans are given, for who shares a segment in one of them alone."""
        self._worked += self.model.sat.work
        self.model = self._new_model()
        if plans is not None:
            self.model.only = frozenset().union(*map(self._mixing.of, plans))
        self._paid = None
        self._shared.clear()
        self._costs.clear()
        self._counts.clear()
        for _ in self.model.state():
            yield
        if not self.model.impossible:
            self._count()

    def _let_go(self, best: Places, plans: list[Places], way: Way) -> tuple[frozenset[int], list[int]]:
        """Items that are let go, and literals that hold as well.

        Who shares a segment does so in the best plan or one of some others, and those that do in all of them do, but
        for a few items besides.
        """
        if way is Way.PLAIN:
            return linked(self.p, self._sizes[way], self._rng), []
        free = linked(self.p, self._sizes[Way.MIXED], self._rng)
        beside = linked(self.p, self._sizes[way], self._rng) if way is Way.BESIDE else frozenset()
        in_all, some = self._mixing.chosen(best, plans)
        together = [
            self._share(a, b)
            for a, b in sorted(in_all)
            if beside.isdisjoint((a[0], b[0])) and (a[0] in free or b[0] in free)
        ]
        return free | beside, [*self.model.shared_only(some, beside), *together]

    def _pairs_of(self, plan: Places) -> Pairs:
        """The pairs of pins of a plan that share a segment, each in order."""
        groups = self._segments_of(plan)
        return frozenset(pair for group in groups for pair in itertools.combinations(sorted(group), 2))

    def _segments_of(self, plan: Places) -> list[list[Pin]]:
        """The pins of a plan, segment by segment."""
        segments: list[list[Pin]] = []
        before: tuple[int, int] | None = None  # strip and net
        for pin, hole in sorted(holes_of_pins(self.p, plan).items(), key=lambda pin_hole: pin_hole[1]):
            here = (int(self.p.hstrip[hole]), self.p.items[pin[0]].nets[pin[1]])
            if here != before:
                segments.append([])
            segments[-1].append(pin)
            before = here
        return segments

    def _count(self) -> None:
        """Count jumpers and cuts."""
        model = self.model
        for literal, units in model.costs.items():
            jumpers, cuts = self._made_of(units)
            own = [literal]
            chain = model.chains.get(literal)
            if chain is not None:
                more = range(chain.count + 1, min(chain.counter.size, chain.count + CHAINED) + 1)
                own += [chain.counter.at_least(k) for k in more]
            self._costs += [(lit, jumpers, cuts) for lit in own]
        for kind in (1, 2):
            lits = [cost[0] for cost in self._costs for _ in range(cost[kind])]
            self._counts.append((lits, Counter(model.sat, lits) if len(lits) > 1 else None))

    def _made_of(self, units: int) -> tuple[int, int]:
        """How many jumpers and cuts cost so many units."""
        jumper, cut = self.prices.jumper, self.prices.cut
        ways = [(n, (units - n * jumper) // cut if cut else 0) for n in range(units // jumper + 1)]
        return min(
            (way for way in ways if way[0] * jumper + way[1] * cut == units), key=lambda way: (sum(way), -way[0])
        )

    def _look_at(self, best: Places) -> Iterator[None]:
        """See what the best plan pays for."""
        model, sat, frame = self.model, self.model.sat, self.model.frame
        holes = holes_of_pins(self.p, best)
        line = self.p.hy if frame.axis else self.p.hx
        at = int(line[best[frame.anchor][1]])
        row = frame.shifts[frame.moves.index(at) if len(frame.moves) > 1 else 0]
        self._strip = {pin: int(row[self.p.hstrip[hole]]) for pin, hole in holes.items()}
        self._segments = self._segments_of(best)
        kept = self._kept(frozenset())
        spared = {-literal for literal, _, _ in self._costs}
        dropped: list[int] = []
        while sat.ask([*kept, *sorted(spared)], CONFLICTS) is False:
            yield
            culprits = spared.intersection(sat.core())
            if not culprits:
                return
            dropped.append(max(culprits))
            spared.discard(dropped[-1])
        for literal in dropped:
            if sat.ask([*kept, *sorted(spared), literal], CONFLICTS):
                spared.add(literal)
            yield
        if self._best is not best:
            return
        paid = [cost for cost in self._costs if -cost[0] not in spared]
        self._paid = sum(jumpers for _, jumpers, _ in paid), sum(cuts for _, _, cuts in paid)
        along = self.p.hy if model.frame.axis == 0 else self.p.hx
        phases = [lit if s == self._strip[pin] else -lit for pin, at_ in model.pin_at.items() for s, lit in at_.items()]
        phases += model.in_order({i: int(along[hole]) for i, (_, hole) in enumerate(best)})
        sat.prefer(phases)

    def _kept(self, free: frozenset[int]) -> list[int]:
        """All items but these keep their lines, and the segments that they share."""
        kept = [self.model.pin_at[pin][s] for pin, s in self._strip.items() if pin[0] not in free]
        for group in self._segments:
            pins = sorted(pin for pin in group if pin[0] not in free)
            kept += [self._share(a, b) for a, b in itertools.pairwise(pins)]
        return kept

    def _share(self, a: Pin, b: Pin) -> int:
        """A literal that makes two pins share a segment."""
        if (a, b) not in self._shared:
            self._shared[a, b] = self.model.sharing_forced(a, b)
        return self._shared[a, b]

    def _cheaper(self) -> list[int]:
        """Literals that make a plan cheaper: a jumper and a cut less, or one less of one for what it pays of the other.

        A segment that is no longer needed saves both, and to ask for both is what the clauses settle soonest.
        """
        assert self._paid is not None  # noqa: S101 - looked at
        jumpers, cuts = self._paid
        jumper, cut = self.prices.jumper, self.prices.cut
        both = (jumpers - 1, cuts - 1)
        one = (jumpers - 1, cuts + ((jumper - 1) // cut if cut else len(self._costs)))
        other = (jumpers + (cut - 1) // jumper, cuts - 1)
        ways = [both, both, one, other] if jumpers and cuts else [one] if jumpers else [other]
        found = []
        for most, (lits, counter) in zip(self._rng.choice(ways), self._counts, strict=True):
            if most < 1:
                found += [-literal for literal in lits]
            elif most < len(lits) and counter is not None:
                found.append(-counter.at_least(most + 1))
        return found

    def _near(self, best: Places, free: frozenset[int], more: list[int], way: Way) -> Iterator[None]:
        """Look for a cheaper plan in which all other items keep their lines; ``more``: literals that hold as well."""
        model, mix = self.model, way is not Way.PLAIN
        asked = [*self._kept(free), *more, *self._cheaper()]
        limit = self.work + MOST_WORK
        yield
        while self.work < limit and not self.stopped():
            answer = model.sat.ask(asked, CONFLICTS)
            yield
            if answer is False:  # it was soon settled: more next time
                self._sizes[way] = min(len(self.p.items) if way is Way.MIXED else MOST_FREE, self._sizes[way] + 1)
            if answer is None and mix:
                self._let_go_fewer(way)
            if not answer:
                break
            if self._best is not best:
                return
            fits = not model.mend()
            places = self.theory.on_board(model.proposal().places) if fits else self._refitted() if mix else None
            cost = None if places is None else self._cost_of(places)
            if cost is not None and cost < self._cost:
                self.start = places
                return
            if fits:
                break
            if places is not None and cost is not None:
                self._own = sorted({*self._own, (cost, places)})[:MOST_OWN]
            yield
        else:
            self._let_go_fewer(way)

    def _let_go_fewer(self, way: Way) -> None:
        self._sizes[way] = max(LEAST_BESIDE if way is Way.BESIDE else LEAST_FREE, self._sizes[way] - 1)

    def _refitted(self) -> Places | None:
        """The last proposal made to fit the board."""
        lined_up = self.model.lined_up()
        return None if lined_up is None or self._refit is None else self._refit.fit(*lined_up)


Pairs = frozenset[tuple[Pin, Pin]]
"""Pins that share a segment."""
