"""Cheaper plans near the best one, on long strips that may be cut: a few parts go anywhere, others keep their lines.

The clauses of :mod:`placer.solve.linemodel` find them, or tell that there are none. Whoever keeps its lines and the
segments it shares may still move along them, so that there is room wherever there can be.
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
from placer.solve.near import holes_of_pins, linked
from placer.solve.nearbest import NearBest
from placer.solve.prices import Prices
from placer.solve.sat import Counter
from placer.solve.strips import Bools
from placer.solve.wiring import wire

LEAST_ITEMS, MOST_ITEMS = 28, 59  # with fewer, a proof to the end is soon had; with more, clauses take too long
LEAST_FREE, FIRST_FREE, MOST_FREE = 6, 12, 40  # items that may go anywhere
CONFLICTS = 6_000  # of the clauses, for one answer
MOST_WORK = 3.0  # about seconds, for one choice of items
MOST_STATED = 500_000  # clauses about order beforehand
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
        self.model = LineModel(seen, prices, shares, most=MOST_STATED)
        super().__init__(self.model, stopped, seed, FIRST_FREE)
        self._cost = 0  # units, of the best
        self._costs: dict[int, list[int]] = {}  # units -> literals that cost so much
        self._counters: dict[int, Counter] = {}
        self._paid: dict[int, int] = {}  # units -> how many of these literals the best plan pays
        self._strip: dict[Pin, int] = {}
        self._segments: list[list[Pin]] = []
        self._shared: dict[tuple[Pin, Pin], int] = {}

    def _begin_from(self, best: Places) -> bool:
        cost = self._cost_of(best)
        if cost is None:
            return False
        self._cost = cost
        self._paid.clear()
        return True

    def _cost_of(self, places: Places) -> int | None:
        """What a plan with these places costs (units); None where it cannot be wired."""
        wiring = wire(self.p, places)
        if wiring is None:
            return None
        cuts = len(wiring.drilled) + len(wiring.severed)
        return len(wiring.wires) * self.prices.jumper + cuts * self.prices.cut

    def run(self) -> Iterator[None]:
        """Go on without end; yields often."""
        for _ in self.model.state():
            yield
        if self.model.impossible:
            self.ended = DOUBTFUL
            return
        self._count()
        while (best := self._best) is not None and self._cost > self.bound:
            if not self._paid:
                yield from self._look_at(best)
                if not any(self._paid.values()):
                    break
            yield from self._near(best, linked(self.p, self._free, self._rng))
        self.ended = DOUBTFUL

    def _count(self) -> None:
        """Count what costs alike."""
        model = self.model
        for literal, units in model.costs.items():
            own = self._costs.setdefault(units, [])
            own.append(literal)
            chain = model.chains.get(literal)
            if chain is not None:
                more = range(chain.count + 1, min(chain.counter.size, chain.count + CHAINED) + 1)
                own += [chain.counter.at_least(k) for k in more]
        self._counters = {units: Counter(model.sat, lits) for units, lits in self._costs.items() if len(lits) > 1}

    def _look_at(self, best: Places) -> Iterator[None]:
        """See what the best plan pays for."""
        model, sat, frame = self.model, self.model.sat, self.model.frame
        holes = holes_of_pins(self.p, best)
        line = self.p.hy if frame.axis else self.p.hx
        at = int(line[best[frame.anchor][1]])
        row = frame.shifts[frame.moves.index(at) if len(frame.moves) > 1 else 0]
        self._strip = {pin: int(row[self.p.hstrip[hole]]) for pin, hole in holes.items()}
        self._segments = []
        before: tuple[int, int] | None = None  # strip and net
        for pin, hole in sorted(holes.items(), key=lambda pin_hole: pin_hole[1]):
            here = (int(self.p.hstrip[hole]), self.p.items[pin[0]].nets[pin[1]])
            if here != before:
                self._segments.append([])
            self._segments[-1].append(pin)
            before = here
        kept = self._kept(frozenset())
        spared = {-literal for lits in self._costs.values() for literal in lits}
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
        self._paid = {units: sum(-lit not in spared for lit in lits) for units, lits in self._costs.items()}
        along = self.p.hy if model.frame.axis == 0 else self.p.hx
        phases = [lit if s == self._strip[pin] else -lit for pin, at_ in model.pin_at.items() for s, lit in at_.items()]
        phases += model.in_order({i: int(along[hole]) for i, (_, hole) in enumerate(best)})
        sat.prefer(phases)

    def _kept(self, free: frozenset[int]) -> list[int]:
        """All items but these keep their lines, and the segments that they share."""
        kept = [self.model.pin_at[pin][s] for pin, s in self._strip.items() if pin[0] not in free]
        for group in self._segments:
            pins = sorted((pin for pin in group if pin[0] not in free), key=self.model.rank)
            kept += [self._share(a, b) for a, b in itertools.pairwise(pins)]
        return kept

    def _share(self, a: Pin, b: Pin) -> int:
        """A literal that makes two pins share a segment."""
        if (a, b) not in self._shared:
            self._shared[a, b] = self.model.sharing_forced(a, b)
        return self._shared[a, b]

    def _cheaper(self) -> list[int]:
        """Literals that make a plan cheaper: one less of one kind, and as many more of others as that pays for."""
        most = dict(self._paid)
        less = self._rng.choice([units for units, paid in sorted(most.items()) if paid])
        most[less] -= 1
        left = less - 1
        for units in sorted(most, reverse=True):
            if units != less and left >= units:
                most[units] += left // units
                left %= units
        found = []
        for units, count in most.items():
            lits = self._costs[units]
            if count < 1:
                found += [-literal for literal in lits]
            elif count < len(lits):
                found.append(-self._counters[units].at_least(count + 1))
        return found

    def _near(self, best: Places, free: frozenset[int]) -> Iterator[None]:
        """Look for a cheaper plan in which all other items keep their lines."""
        model = self.model
        asked = [*self._kept(free), *self._cheaper()]
        limit = self.work + MOST_WORK
        yield
        while self.work < limit and not self.stopped():
            answer = model.sat.ask(asked, CONFLICTS)
            yield
            if answer is False and self._free < MOST_FREE:
                self._free += 1  # all of it has been seen: more next time
            if not answer:
                break
            if self._best is not best:
                return
            if model.mend():
                continue
            places = self.theory.on_board(model.proposal().places)
            cost = None if places is None else self._cost_of(places)
            if cost is not None and cost < self._cost:
                self.start = places
                return
            break
        else:
            self._free = max(LEAST_FREE, self._free - 1)
