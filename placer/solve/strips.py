"""What a plan costs at least, as clauses: which pins are on which strip, columns and bodies left out.

Each pin takes a strip of the frame, and parts join strips only as their leads reach. A net costs a jumper for each
strip beyond its first, and a strip holds one net. Jumpers are carried by the pins: put in order, each pin of a net that
is the first on its strip *leads* there, and all leaders but one cost a jumper. Strips that may be severed hold more:
see :mod:`placer.solve.segments`.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from placer.solve.claims import Pin
from placer.solve.frame import Frame
from placer.solve.helpers import Helpers, holes_given
from placer.solve.prices import Prices
from placer.solve.proposal import Chain, Conflict, Proposal
from placer.solve.sat import Sat, unsaved

Bools = npt.NDArray[np.bool_]
SHORT = 10  # holes; the strips that a net with many pins may need several of


class StripModel:
    """The clauses. ``costs``: literal -> units when it holds; ``base``: units that every plan costs.

    ``shares[strip of the frame]``: pins of one net there count as sharing. ``impossible``: no plan can be.
    ``half``: half a turn of the board changes nothing.
    """

    def __init__(self, frame: Frame, prices: Prices, shares: Bools, *, half: bool = False) -> None:
        self.p, self.frame, self.prices, self.shares = frame.p, frame, prices, shares
        self.sat = Sat()
        self.costs: dict[int, int] = {}
        self.chains: dict[int, Chain] = {}
        self.shy: list[int] = []
        self.base = 0
        self.impossible = False
        self.pin_at: dict[Pin, dict[int, int]] = {}
        self.several: dict[int, int] = {}  # net -> it is in several pieces
        self.hanging: dict[int, int] = {}  # the same of nets of which a piece may hang by a part, without a wire
        self._half = half
        self._own: dict[tuple[int, int], int] = {}
        self.helpers = Helpers(self.sat, self.costs, prices.jumper, holes_given(frame))
        self._saves: dict[int, list[tuple[int, Pin, Pin]]] = {}  # joins inside parts that save a jumper, by net
        self._lying: dict[int, dict[tuple[int, ...], int]] = {}  # items of three pins or more: strips -> literal
        self._shared: dict[tuple[Pin, Pin], int | None] = {}
        self._level: dict[tuple[Pin, Pin], int | None] = {}
        self._long: dict[Pin, int | None] = {}
        self._pins: dict[int, list[Pin]] = {}
        self._windows: list[int] = []
        self._severable = np.zeros(frame.n_strips, dtype=bool)
        for row in frame.shifts:
            for b, s in enumerate(row.tolist()):
                self._severable[s] |= self.p.severable(b)

    def state(self) -> Iterator[None]:
        """State the clauses, in portions: a large model takes seconds."""
        p = self.p
        for i in range(len(p.items)):
            if not self._place(i):
                self.impossible = True
                return
            yield
        # Pins of large parts first: they are what the others come to.
        for i in sorted(range(len(p.items)), key=lambda i: (-len(p.items[i].pins), i)):
            for k, n in enumerate(p.items[i].nets):
                self._pins.setdefault(n, []).append((i, k))
        self._window()
        self._nets_on: dict[int, list[int]] = {}
        for n, s in self._own:
            self._nets_on.setdefault(s, []).append(n)
        yield from self._segments()
        _, joins = p.pins_and_joins()
        for n, pins in self._pins.items():
            if len(pins) > 1:
                self._price(n, pins, self._leaders(pins), joins[n])
                yield
        for s, nets in self._nets_on.items():
            if not self._severable[s]:
                self.sat.at_most_one([self._own[n, s] for n in nets])
        yield from self._rest()

    # Pins on strips.

    def _place(self, i: int) -> bool:
        """State where an item's pins may be; False when they can be nowhere."""
        sat, item = self.sat, self.p.items[i]
        keys = self._keys(i)
        if not keys:
            return False
        at: list[dict[int, int]] = []
        for k, n in enumerate(item.nets):
            strips = {s: sat.new() for s in sorted({key[k] for key in keys})}
            sat.add(list(strips.values()))
            sat.at_most_one(strips.values())
            for s, lit in strips.items():
                sat.add([-lit, self._owned(n, s)])
            at.append(strips)
            self.pin_at[i, k] = strips
        if len(item.pins) == 2:
            self._partners(keys, at)
        elif len(item.pins) > 2:
            self._together(i, keys, at)
        return True

    def _keys(self, i: int) -> list[tuple[int, ...]]:
        """Sets of strips that an item's pins can be on together, those that must join two nets left out.

        Where half a turn of the board changes nothing, the anchor lies only in two of its four ways.
        """
        nets = self.p.items[i].nets
        keys = self.frame.keys(i)
        if self._half and i == self.frame.anchor and len(nets) > 2:
            half = [no for no, shape in enumerate(self.p.items[i].shapes) if shape.rotation < 180]
            some = [self.frame.strips_of(i, no) for no in half if len(self.frame.spots(i)[no][0])]
            keys = np.unique(np.concatenate(some), axis=0) if some else keys
        good = np.ones(len(keys), dtype=bool)
        for a, b in itertools.combinations(range(len(nets)), 2):
            if nets[a] != nets[b]:
                good &= (keys[:, a] != keys[:, b]) | self._severable[keys[:, a]]
        return [tuple(key) for key in keys[good].tolist()]

    def _owned(self, n: int, s: int) -> int:
        if (n, s) not in self._own:
            self._own[n, s] = self.sat.new()
        return self._own[n, s]

    def _partners(self, keys: Sequence[tuple[int, ...]], at: Sequence[dict[int, int]]) -> None:
        """Two leads: for each strip of one, the strips that the other reaches."""
        for a, b in ((0, 1), (1, 0)):
            partners: dict[int, set[int]] = {}
            for key in keys:
                partners.setdefault(key[a], set()).add(key[b])
            for s, others in partners.items():
                if len(others) < len(at[b]):
                    self.sat.add([-at[a][s], *(at[b][t] for t in sorted(others))])

    def _together(self, i: int, keys: Sequence[tuple[int, ...]], at: Sequence[dict[int, int]]) -> None:
        """Three pins or more: one of the sets of strips, as a whole."""
        sat = self.sat
        lits = [sat.new() for _ in keys]
        sat.add(lits)
        sat.at_most_one(lits)
        having: list[dict[int, list[int]]] = [{} for _ in at]
        for key, lit in zip(keys, lits, strict=True):
            for k, s in enumerate(key):
                sat.add([-lit, at[k][s]])
                having[k].setdefault(s, []).append(lit)
        for k, by_strip in enumerate(having):
            for s, some in by_strip.items():
                sat.add([-at[k][s], *some])
        self._lying[i] = dict(zip(keys, lits, strict=True))

    def _window(self) -> None:
        """Strips in use lie on one board: the frame overlays all places of the anchor, a plan has one of them."""
        shifts = self.frame.shifts
        if len(shifts) < 2:
            return
        there: dict[int, list[int]] = {}
        for t, row in enumerate(shifts):
            for s in set(row.tolist()):
                there.setdefault(s, []).append(t)
        lits = [self.sat.new() for _ in shifts]
        self.sat.add(lits)
        self.sat.at_most_one(lits)
        self._windows += lits
        for (_, s), own in self._own.items():
            if len(there.get(s, ())) < len(lits):
                self.sat.add([-own, *(lits[t] for t in there.get(s, ()))])

    # What it costs.

    def _segments(self) -> Iterator[None]:
        """What must be known of segments before nets are priced."""
        yield

    def _rest(self) -> Iterator[None]:
        """What is stated last."""
        yield

    def _cost(self, literal: int, units: int) -> None:
        if units:
            self.costs[literal] = self.costs.get(literal, 0) + units

    def _leaders(self, pins: Sequence[Pin]) -> list[int]:
        """Literals of a net's pins, all but the first, that are true at least where no pin before is on the strip."""
        sat = self.sat
        earlier: dict[int, int] = {}  # strip -> a pin before this one is on it
        pieces = []
        for a, pin in enumerate(pins):
            leads = 0
            if a:
                leads = sat.new()
                pieces.append(leads)
            for s, on in self.pin_at[pin].items():
                if a:
                    sat.add([-on, leads, *([earlier[s]] if s in earlier else [])])
                if s in earlier and a + 1 < len(pins):
                    either = sat.new()
                    sat.add([-either, earlier[s], on])
                    sat.add([either, -on])
                    sat.add([either, -earlier[s]])
                    earlier[s] = either
                else:
                    earlier[s] = on
        return pieces

    def _price(self, n: int, pins: Sequence[Pin], pieces: list[int], joins: int) -> None:
        """What a net costs; ``pieces``: literals of its pieces beyond the first."""
        sat, price = self.sat, self.prices.jumper
        if joins:
            self._joined(n, pieces)
            if not self._severable.any():
                several = self.hanging[n] = sat.new()
                for lit in pieces:
                    sat.add([-lit, several])
            return
        for lit in pieces:
            self._cost(lit, price)
        if n < self.p.n_named:
            several = self.several[n] = sat.new()
            for lit in pieces:
                sat.add([-lit, several])
            self._wire_ends(pins, pieces, several)

    def _joined(self, n: int, pieces: Sequence[int]) -> None:
        """Joins inside parts save a jumper each, where their pins are not in one piece already."""
        sat, p = self.sat, self.p
        saves = []
        own = self._saves.setdefault(n, [])
        for i, k, j, m in p.joins:
            if p.items[i].nets[k] == n:
                save = sat.new()
                saves.append(save)
                own.append((save, (i, k), (j, m)))
                for both in self._in_one_piece((i, k), (j, m)):
                    sat.add([-save, *(-lit for lit in both)])
        for paid in unsaved(sat, pieces, saves):
            self._cost(paid, self.prices.jumper)

    def _in_one_piece(self, a: Pin, b: Pin) -> list[tuple[int, ...]]:
        """The ways in which two pins of one net are in one piece of copper: literals that then hold."""
        one, other = self.pin_at[a], self.pin_at[b]
        return [(on, other[s]) for s, on in one.items() if s in other]

    def _wire_ends(self, pins: Sequence[Pin], pieces: Sequence[int], several: int) -> None:
        """A net in k > 1 pieces needs a free hole on each, and 2 (k - 1) in all."""
        sat, room = self.sat, self.frame.room
        leads: dict[int, list[int]] = {}
        for pin in pins:
            for s, on in self.pin_at[pin].items():
                leads.setdefault(s, []).append(on)
        for s, some in leads.items():
            if not self._severable[s] and len(some) + 1 > room[s]:
                sat.at_most([*some, several], int(room[s]))
        widest = max((int(room[s]) for s in leads if room[s] <= SHORT), default=0)
        if len(pins) > 2 and self.helpers.given and not self._severable.any():
            self.helpers.state(self.p.items[pins[0][0]].nets[pins[0][1]], len(pins))
        longer = [lit for s, some in leads.items() if room[s] > SHORT for lit in some]
        self._pieces_needed(pins, widest, pieces, longer)

    def _pieces_needed(self, pins: Sequence[Pin], widest: int, pieces: Sequence[int], longer: Sequence[int]) -> None:
        """On k strips of so many holes: pins + 2 (k - 1) <= holes k, unless one is longer or an empty one helps."""
        if widest <= 2:
            return
        need = -(-(len(pins) - 2) // (widest - 2)) - 1
        if need > 0:
            self.sat.at_least(pieces, need, [*longer, self.helpers.any(self.p.items[pins[0][0]].nets[pins[0][1]])])

    # Proposals and conflicts.

    def mend(self) -> bool:
        """What is proposed is always consistent here."""
        return False

    def proposal(self) -> Proposal:
        """What the last answer proposes."""
        strip = self._strips()
        known = (*self.several, *self.hanging)
        several = frozenset(n for n in known if len({strip[q] for q in self._pins[n]}) > 1)
        return Proposal(strip, several, helped=self.helpers.held())

    def _strips(self) -> dict[Pin, int]:
        """The strip of each pin in the last answer."""
        holds = self.sat.holds
        return {pin: next(s for s, on in at.items() if holds(on)) for pin, at in self.pin_at.items()}

    def forbid(self, conflict: Conflict, unless: int | None = None) -> None:
        """State a conflict; nothing is stated of one that cannot come about here."""
        lits = [self._pair(a, b) for a, b in sorted(conflict.pairs)]
        lits += [self._on_long(pin) for pin in sorted(conflict.long)]
        lits += [self.several.get(n, self.hanging.get(n)) for n in sorted(conflict.several)]
        lits += [self.pin_at.get(pin, {}).get(s) for pin, s in sorted(conflict.on)]
        lits += self.helpers.denied(conflict, for_good=unless is None)
        clause = [-lit for lit in lits if lit is not None]
        if len(clause) < len(lits):
            return
        clause += [lit for lit in (self._same_strip(a, b) for a, b in sorted(conflict.apart)) if lit is not None]
        self.sat.add(clause if unless is None else [*clause, unless])

    def _pair(self, a: Pin, b: Pin) -> int | None:
        """True at least where two pins of one net share; None where they never do."""
        if (a, b) not in self._shared:
            ways = self._sharing(a, b) if a in self.pin_at and b in self.pin_at else []
            self._shared[a, b] = self.sat.any_of(ways) if ways else None
        return self._shared[a, b]

    def _sharing(self, a: Pin, b: Pin) -> list[tuple[int, ...]]:
        """The ways in which two pins of one net share a strip on which that counts."""
        one, other = self.pin_at[a], self.pin_at[b]
        return [(on, other[s]) for s, on in one.items() if s in other and self.shares[s]]

    def _on_long(self, pin: Pin) -> int | None:
        if pin not in self._long:
            some = [lit for s, lit in self.pin_at.get(pin, {}).items() if not self.shares[s]]
            either = self.sat.new() if some else None
            self._long[pin] = either
            if either is not None:
                for lit in some:
                    self.sat.add([-lit, either])
        return self._long[pin]

    def _same_strip(self, a: Pin, b: Pin) -> int | None:
        """True only where two pins are on one strip; None where they never are."""
        if (a, b) not in self._level:
            one, other = self.pin_at.get(a, {}), self.pin_at.get(b, {})
            lit = self.sat.new() if any(s in other for s in one) else None
            self._level[a, b] = lit
            if lit is not None:
                for s, on in one.items():
                    self.sat.add([-lit, -on, *([other[s]] if s in other else [])])
        return self._level[a, b]
