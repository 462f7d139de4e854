"""What a plan costs at least on uncut copper, as clauses that know no positions: which pins share a strip.

Two pins of one net share a short strip or they do not; a pin is on a short strip or on one of the few long ones. What
can be built of that is left to the theory to say, conflict by conflict, so that the size of the board does not matter.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterator, Mapping, Sequence

import numpy as np

from placer.solve.claims import Pin
from placer.solve.frame import Frame
from placer.solve.helpers import Helpers, holes_given
from placer.solve.prices import Prices
from placer.solve.proposal import Chain, Conflict, Proposal
from placer.solve.sat import Counter, Sat, unsaved
from placer.solve.strips import Bools

SharingFact = tuple[Pin, Pin] | tuple[Pin, int]
"""Two pins, in order, that share a short strip; or a pin and the long strip of the frame that it is on."""

WHOLE_NET = 12  # pins; sharing among more is made consistent only where a proposal is not


class ShareModel:
    """The clauses, as :class:`placer.solve.strips.StripModel` has them.

    ``on[pin][strip]``: the literal of a pin on a long strip of the frame; ``long[pin]``: of a pin on any of them.
    """

    def __init__(self, frame: Frame, prices: Prices, shares: Bools) -> None:
        self.p, self.frame, self.prices, self.shares = frame.p, frame, prices, shares
        self.sat = Sat()
        self.costs: dict[int, int] = {}
        self.chains: dict[int, Chain] = {}
        self.shy: list[int] = []
        self.base = 0
        self.impossible = False
        self.several: dict[int, int] = {}  # net -> it is in several pieces, those that a part joins inside among them
        self.helpers = Helpers(self.sat, self.costs, prices.jumper, holes_given(frame))
        self.on: dict[Pin, dict[int, int]] = {}
        self._shared: dict[tuple[Pin, Pin], int] = {}
        self._pins: dict[int, list[Pin]] = {}
        self.long: dict[Pin, int] = {}
        self.room = int(frame.room[shares].max()) if shares.any() else 0

    def state(self) -> Iterator[None]:
        """State the clauses."""
        p = self.p
        for i in sorted(range(len(p.items)), key=lambda i: (-len(p.items[i].pins), i)):
            for k, n in enumerate(p.items[i].nets):
                self._pins.setdefault(n, []).append((i, k))
        for i in range(len(p.items)):
            if not self._place(i):
                self.impossible = True
                return
            yield
        _, joins = p.pins_and_joins()
        for n, pins in self._pins.items():
            if len(pins) > 1:
                self._net(n, pins, joins[n])
                yield
        self._owners()

    def _place(self, i: int) -> bool:
        """An item's pins on long strips, and which of its own pins share a short one."""
        sat, item = self.sat, self.p.items[i]
        keys = self.frame.keys(i)
        good = np.ones(len(keys), dtype=bool)
        for a, b in itertools.combinations(range(len(item.nets)), 2):
            if item.nets[a] != item.nets[b]:
                good &= keys[:, a] != keys[:, b]
        kinds = sorted({self._kind(key) for key in keys[good].tolist()})
        if not kinds:
            return False
        for k in range(len(item.pins)):
            long = sorted({kind[k] for kind in kinds if kind[k] >= 0})
            self.on[i, k] = {s: sat.new() for s in long}
            self.long[i, k] = sat.new()
            sat.add([-self.long[i, k], *self.on[i, k].values()])
            for lit in self.on[i, k].values():
                sat.add([-lit, self.long[i, k]])
            sat.at_most_one(self.on[i, k].values())
        if len(item.pins) == 1 and len(kinds) == 1 and kinds[0][0] < 0:
            sat.add([-self.long[i, 0]])
            return True
        chosen = [sat.new() for _ in kinds]
        sat.add(chosen)
        for kind, lit in zip(kinds, chosen, strict=True):
            for k, s in enumerate(kind):
                sat.add([-lit, self.on[i, k][s] if s >= 0 else -self.long[i, k]])
            for a, b in itertools.combinations(range(len(kind)), 2):
                if item.nets[a] == item.nets[b] and kind[a] < 0 and kind[b] < 0:
                    share = self.share((i, a), (i, b))
                    sat.add([-lit, share if kind[a] == kind[b] else -share])
        return True

    def _kind(self, key: Sequence[int]) -> tuple[int, ...]:
        """A set of strips without positions: long strips by number, short ones as -1, -2, ... as they come."""
        names: dict[int, int] = {}
        return tuple(names.setdefault(s, -1 - len(names)) if self.shares[s] else s for s in key)

    def share(self, a: Pin, b: Pin) -> int:
        """True where two pins of one net share a short strip."""
        key = (a, b) if a < b else (b, a)
        if key not in self._shared:
            lit = self._shared[key] = self.sat.new()
            for pin in key:
                if pin in self.long:
                    self.sat.add([-lit, -self.long[pin]])
        return self._shared[key]

    def _net(self, n: int, pins: list[Pin], joins: int) -> None:
        sat = self.sat
        for a, b in itertools.combinations(pins, 2):
            self.share(a, b)
        if len(pins) <= WHOLE_NET:
            for three in itertools.combinations(pins, 3):
                self._consistent(*three)
        pieces = self._leaders(pins)
        several = sat.new()
        for lit in pieces:
            sat.add([-lit, several])
        self.several[n] = several
        if joins:  # a piece may hang by a part, without a wire
            self._joined(n, pieces)
        else:
            for lit in pieces:
                self.costs[lit] = self.prices.jumper
        for pin in pins if len(pins) <= WHOLE_NET else ():
            others = [self.share(pin, q) for q in pins if q != pin]
            if not joins and len(others) + 2 > self.room:
                sat.at_most([*others, several], self.room - 1)
            elif len(others) + 1 > self.room:
                sat.at_most(others, self.room - 1)
        self._counted(pins, pieces, self.room if joins or len(pins) <= self.room else self.room - 1)
        if not joins and self.room > 2:
            need = -(-(len(pins) - 2) // (self.room - 2)) - 1
            if need > 0 or self.helpers.given:
                self.helpers.state(n, len(pins))
            if need > 0:
                sat.at_least(pieces, need, [self.helpers.any(n), *(self.long[pin] for pin in pins if self.on[pin])])

    def _leaders(self, pins: Sequence[Pin]) -> list[int]:
        """Literals of a net's pins, all but the first, that are true at least where no pin before is on the strip."""
        sat = self.sat
        pieces: list[int] = []
        earlier: dict[int, int] = {}  # long strip -> a pin before this one is on it
        for at, pin in enumerate(pins):
            leads = 0
            if at:
                leads = sat.new()
                pieces.append(leads)
                sat.add([leads, self.long[pin], *(self.share(q, pin) for q in pins[:at])])
            for s, on in self.on[pin].items():
                before = [earlier[s]] if s in earlier else []
                if at:
                    sat.add([-on, leads, *before])
                earlier[s] = sat.new()
                sat.add([-earlier[s], on, *before])
        return pieces

    def _counted(self, pins: Sequence[Pin], pieces: Sequence[int], most: int) -> None:
        """So many pins on short strips take so many of them: what the pairs say, but not soon."""
        if most < 1 or len(pins) <= most:
            return
        sat = self.sat
        short = [-self.long[pin] for pin in pins]
        some = Counter(sat, short)
        for j in range(1, -(-len(pins) // most)):
            sat.at_least([short[0], *pieces], j + 1, [-some.at_least(j * most + 1)])

    def _consistent(self, a: Pin, b: Pin, c: Pin) -> None:
        x, y, z = self.share(a, b), self.share(b, c), self.share(a, c)
        self.sat.add([-x, -y, z])
        self.sat.add([-x, -z, y])
        self.sat.add([-y, -z, x])

    def _joined(self, n: int, pieces: Sequence[int]) -> None:
        """Joins inside parts save a jumper each, where their pins are not in one piece already."""
        sat, p = self.sat, self.p
        saves = []
        for i, k, j, m in p.joins:
            if p.items[i].nets[k] == n:
                save = sat.new()
                saves.append(save)
                sat.add([-save, -self.share((i, k), (j, m))])
                for s, on in self.on[i, k].items():
                    if s in self.on[j, m]:
                        sat.add([-save, -on, -self.on[j, m][s]])
        for paid in unsaved(sat, pieces, saves):
            self.costs[paid] = self.prices.jumper

    def _owners(self) -> None:
        """A long strip has one net."""
        owners: dict[int, dict[int, int]] = {}
        for (i, k), strips in self.on.items():
            n = self.p.items[i].nets[k]
            for s, on in strips.items():
                own = owners.setdefault(s, {})
                if n not in own:
                    own[n] = self.sat.new()
                self.sat.add([-on, own[n]])
        for own in owners.values():
            self.sat.at_most_one(own.values())

    # Proposals and conflicts.

    def proposal(self) -> Proposal:
        """What the last answer proposes; short strips have numbers after those of the frame."""
        holds = self.sat.holds
        strip: dict[Pin, int] = {}
        fresh = self.frame.n_strips
        for pins in self._pins.values():
            for at, pin in enumerate(pins):
                long = [s for s, lit in self.on[pin].items() if holds(lit)]
                if long:
                    strip[pin] = long[0]
                    continue
                host = next((q for q in pins[:at] if holds(self.share(q, pin))), None)
                if host is None:
                    strip[pin] = fresh
                    fresh += 1
                else:
                    strip[pin] = strip[host]
        several = frozenset(n for n in self.several if len({strip[q] for q in self._pins[n]}) > 1)
        return Proposal(strip, several, helped=self.helpers.held())

    def as_it_is(self, on: Mapping[Pin, int], free: Collection[int]) -> list[int]:
        """Literals that say of all items but some that their pins share strips as they do on these of the board."""
        found: list[int] = []
        at: dict[Pin, int] = {}  # the strips of pins on long ones, as the frame has them
        for (i, k), strip in on.items():
            if i in free:
                continue
            seen = int(self.frame.of_board[strip])
            if seen in self.on[i, k]:
                at[i, k] = seen
            found.append(self.long[i, k] if (i, k) in at else -self.long[i, k])
            found += [lit if at.get((i, k)) == s else -lit for s, lit in self.on[i, k].items()]
        for (a, b), lit in self._shared.items():
            if a[0] not in free and b[0] not in free:
                found.append(lit if on[a] == on[b] and a not in at else -lit)
        return found

    def as_in_some(
        self,
        in_all: Collection[SharingFact],
        some: Collection[SharingFact],
        free: Collection[int],
        beside: Collection[int],
    ) -> list[int]:
        """Literals: pins of these items share what they do in some plans alone, and do where they do in all.

        They say nothing of pins of the items ``beside``.
        """
        found: list[int] = []
        for (a, b), lit in self._shared.items():
            if (a[0] in free or b[0] in free) and a[0] not in beside and b[0] not in beside:
                found += [lit] if (a, b) in in_all else [] if (a, b) in some else [-lit]
        for pin, on in self.on.items():
            if pin[0] in free and pin[0] not in beside:
                for s, lit in on.items():
                    found += [lit] if (pin, s) in in_all else [] if (pin, s) in some else [-lit]
        return found

    def mend(self) -> bool:
        """State what makes sharing in large nets consistent, where the last answer is not; True where it was not."""
        found = False
        for pins in self._pins.values():
            if len(pins) <= WHOLE_NET:
                continue
            near: dict[Pin, set[Pin]] = {q: set() for q in pins}
            for a, b in itertools.combinations(pins, 2):
                if self.sat.holds(self.share(a, b)):
                    near[a].add(b)
                    near[b].add(a)
            for q in pins:
                for a, b in itertools.combinations(sorted(near[q]), 2):
                    if b not in near[a]:
                        self._consistent(a, q, b)
                        found = True
        return found

    def forbid(self, conflict: Conflict, unless: int | None = None) -> None:
        """State a conflict; nothing is stated of one that cannot come about here."""
        lits: list[int | None] = [self.share(a, b) for a, b in sorted(conflict.pairs)]
        lits += [self.long[pin] for pin in sorted(conflict.long)]
        lits += [self.several.get(n) for n in sorted(conflict.several)]
        lits += [self.on[pin].get(s) for pin, s in sorted(conflict.on)]
        lits += self.helpers.denied(conflict, for_good=unless is None)
        clause = [-lit for lit in lits if lit is not None]
        if len(clause) == len(lits):
            self.sat.add(clause if unless is None else [*clause, unless])
