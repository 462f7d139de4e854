"""What a plan costs at least where strips may be severed: who shares a segment, and who stands before whom.

Beyond what :mod:`placer.solve.strips` states, each pin *leads* a segment or joins the one that an earlier pin of its
net leads. Parts stand in one order along the strips (see :mod:`placer.solve.abreast`), and a segment has no pin of
another net between its own: such a pin comes before all pins of the segment on its strip, or after all. Columns are
left out but for a count: pins, hidden holes and wire ends fit the holes of a line.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterator, Mapping, Sequence, Set

import numpy as np

from placer.solve.abreast import holes_taken, keeps_order
from placer.solve.claims import Pin
from placer.solve.frame import Frame
from placer.solve.lined import direction, lies_in_lines, lines_of_strips, places_beyond, stands, straight_strips
from placer.solve.lines import lines_of
from placer.solve.prices import Prices
from placer.solve.proposal import Chain, Proposal
from placer.solve.sat import Counter
from placer.solve.stances import Key
from placer.solve.strips import Bools, StripModel

MOST_COUNTED = 2_000  # pins times holes; the room on a longer strip takes more clauses than it is worth
MOST_STATED = 3_500_000  # clauses about order that are stated beforehand; with more, those that a proposal breaks


class SegmentModel(StripModel):
    """The clauses, as :class:`placer.solve.strips.StripModel` has them.

    ``most``: so many clauses about order are stated beforehand. ``only``: where it is given before anything is stated,
    no other pins share a segment than these pairs (each in order).
    """

    def __init__(
        self, frame: Frame, prices: Prices, shares: Bools, *, half: bool = False, most: int = MOST_STATED
    ) -> None:
        super().__init__(frame, prices, shares, half=half)
        self._most = most
        self.only: Set[tuple[Pin, Pin]] | None = None
        self._leads: dict[Pin, int] = {}  # all but the first of each net
        self._joins: dict[tuple[Pin, Pin], int] = {}
        self._order: dict[tuple[int, int], int] = {}
        self._turned: dict[tuple[int, int, int], int] = {}
        self._common: dict[tuple[Pin, Pin], int | None] = {}
        self._kept: set[tuple[Pin, Pin, Pin]] = set()
        self._in_order = False
        self._along = direction(self.p)
        self._loosened: dict[int, int | None] = {}
        self._straight = straight_strips(frame, self._along, set(np.flatnonzero(self._severable).tolist()))
        self._spread = False
        lines = lines_of(self.p)
        self._holes = 0  # of a line, and places beyond them; 0 where the board is none of lines
        self._line_of: dict[int, int] = {}
        if lines is not None and lies_in_lines(frame):
            self._holes = lines.holes + places_beyond(self.p, self._along)
            self._line_of = lines_of_strips(frame)
        self._takes: dict[tuple[int, bool], dict[Key, dict[int, int]]] = {}
        self._stands: dict[tuple[int, bool], dict[Key, dict[int, list[int]]]] = {}
        self._counted: set[int] = set()

    def _window(self) -> None:
        super()._window()
        if self._windows and self._holes:
            for i in range(len(self.p.items)):
                for key, shapes in self._where(i).items():
                    times = sorted(set().union(*shapes.values()))
                    if len(times) < len(self._windows) and self._can_lie(i, key):
                        self.sat.add([*(-x for x in self._lies_on(i, key)), *(self._windows[t] for t in times)])

    def _where(self, i: int) -> dict[Key, dict[int, list[int]]]:
        """See :func:`placer.solve.lined.stands`."""
        what = (self.p.like[i], i == self.frame.anchor)
        if what not in self._stands:
            self._stands[what] = stands(self.frame, i)
        return self._stands[what]

    # Segments.

    def _segments(self) -> Iterator[None]:
        strips = len(self.p.slen)
        # With many more nets than strips, the cuts that their number alone forces are better counted than found.
        self._spread = bool(self._severable.all() and 4 * len(self._pins) >= 5 * strips)
        if self._spread:
            self.base += self.prices.cut * (len(self._pins) - strips)
        yield

    def _leaders(self, pins: Sequence[Pin]) -> list[int]:
        """Literals of a net's pins, all but the first, that are true at least where they join no segment."""
        sat = self.sat
        before: dict[int, int] = {}  # strip -> a pin before this one is on it
        for a, pin in enumerate(pins):
            if a:
                self._lead(pin, pins[:a], before)
            for s, on in self.pin_at[pin].items():
                if s in before and a + 1 < len(pins):
                    either = sat.new()
                    sat.add([either, -on])
                    sat.add([either, -before[s]])
                    before[s] = either
                else:
                    before[s] = on
        return [self._leads[pin] for pin in pins[1:]]

    def _lead(self, pin: Pin, earlier: Sequence[Pin], before: dict[int, int]) -> None:
        """A pin leads a segment or joins that of an earlier one; ``before``: strips that earlier pins are on."""
        sat = self.sat
        leads = self._leads[pin] = sat.new()
        choices = [leads]
        for host in earlier:
            if self.pin_at[pin].keys().isdisjoint(self.pin_at[host]):
                continue
            if self.only is not None and (min(pin, host), max(pin, host)) not in self.only:
                continue
            joins = self._joins[pin, host] = sat.new()
            choices.append(joins)
            if host in self._leads:
                sat.add([-joins, self._leads[host]])
            for s, on in self.pin_at[pin].items():
                there = self.pin_at[host].get(s)
                sat.add([-joins, -on] if there is None else [-joins, -on, there])
        sat.add(choices)
        if self._spread:
            self._cost(leads, self.prices.cut)
            return
        again = [s for s in self.pin_at[pin] if s in before and self._severable[s]]
        if again and self.prices.cut:
            anew = sat.new()  # a further segment of the net on its strip
            self._cost(anew, self.prices.cut)
            for s in again:
                sat.add([-leads, -self.pin_at[pin][s], -before[s], anew])

    def _in_one_piece(self, a: Pin, b: Pin) -> list[tuple[int, ...]]:
        pins = self._pins[self.p.items[a[0]].nets[a[1]]]
        first, second = sorted((a, b), key=pins.index)
        found = []
        for host in pins[: pins.index(first) + 1]:
            both = [(pin, host) for pin in (first, second) if pin != host]
            if all(pair in self._joins for pair in both):
                found.append(tuple(self._joins[pair] for pair in both))
        return found

    def _sharing(self, a: Pin, b: Pin) -> list[tuple[int, ...]]:
        return self._in_one_piece(a, b)

    # Order.

    def _rest(self) -> Iterator[None]:
        yield from self._state_order()
        self._cuts()
        yield

    def _state_order(self) -> Iterator[None]:
        """One order of all parts, and what follows for segments; very much of that only once a proposal breaks it."""
        sat = self.sat
        every = range(len(self.p.items))
        for a in every:
            stated = []
            for b, c in itertools.combinations(every[a + 1 :], 2):
                ab, bc, ac = self._before(a, b), self._before(b, c), self._before(a, c)
                stated += [[-ab, -bc, ac], [ab, bc, -ac]]
            sat.add_all(stated)
            yield
        pins = len(self.pin_at)
        strips = sum(map(len, self.pin_at.values())) // max(1, pins)
        self._in_order = pins * (2 * len(self._joins) + pins * strips // 2) <= self._most
        yield from self._state_apart() if self._in_order else ()

    def _state_apart(self) -> Iterator[None]:
        """A segment has no pin of another net between its own."""
        where = {pin: sum(1 << s for s in at) for pin, at in self.pin_at.items()}
        for pin, host in self._joins:
            both = where[pin] & where[host]
            others = (other for other, on in where.items() if on & both)
            self.sat.add_all([clause for other in others for clause in self._keep_apart(pin, host, other)])
            yield

    def _keep_apart(self, pin: Pin, host: Pin, other: Pin) -> list[list[int]]:
        """A pin that joins another's segment is on the same side of a third as that one is."""
        items = self.p.items
        if items[pin[0]].nets[pin[1]] == items[other[0]].nets[other[1]]:
            return []
        one, two = self._pin_before(pin, other), self._pin_before(host, other)
        on_one = self._on_one_strip(host, other) if one != two else None
        if on_one is None:
            return []
        # The pins of one item are in order however it lies.
        astray = {lit for i in {pin[0], host[0]} - {other[0]} for lit in self._astray(i, other[0])}
        unless = [-self._joins[pin, host], -on_one, *sorted(astray)]
        return [[*unless, -one, two], [*unless, one, -two]]

    def _astray(self, i: int, j: int) -> list[int]:
        """Literals of which one holds where two items stand so that one order does not tell which pins come first."""
        return [lit for lit in (self._loose(i), self._loose(j)) if lit is not None]

    def _loose(self, i: int) -> int | None:
        """True where an item may lie in a way that keeps no order; None where it never does."""
        if i not in self._loosened:
            shapes = self.p.items[i].shapes
            tidy = [keeps_order(shape, self._along) for shape in shapes]
            lit = self._loosened[i] = None if all(tidy) else self.sat.new()
            if lit is not None:
                own = [set(self.frame.sets_of(i, no)) for no in range(len(shapes))]
                untidy = set[Key]().union(*(keys for keys, neat in zip(own, tidy, strict=True) if not neat))
                for key in set[Key]().union(*own) - untidy:
                    if self._can_lie(i, key):
                        self.sat.add([-lit, *(-x for x in self._lies_on(i, key))])
        return self._loosened[i]

    def _can_lie(self, i: int, key: Key) -> bool:
        """An item may be on these strips: they do not join two nets of its own."""
        if i in self._lying:
            return key in self._lying[i]
        return all(s in self.pin_at[i, k] for k, s in enumerate(key))

    def _lies_on(self, i: int, key: Key) -> list[int]:
        """An item is on these strips."""
        if i in self._lying:
            return [self._lying[i][key]]
        return [self.pin_at[i, k][s] for k, s in enumerate(key)]

    def sharing_forced(self, a: Pin, b: Pin) -> int:
        """A new literal that holds only where two pins of one net share a segment."""
        forced = self.sat.new()
        ways = []
        for way in self._in_one_piece(a, b):
            ways.append(self.sat.new())
            for literal in way:
                self.sat.add([-ways[-1], literal])
        self.sat.add([-forced, *ways])
        return forced

    def shared_only(self, pairs: Collection[tuple[Pin, Pin]], beside: Set[int] = frozenset()) -> list[int]:
        """Literals that let no pin join another's segment but in these pairs (in order), and where some items do."""
        others = (two for two in self._joins if (min(two), max(two)) not in pairs)
        return [-self._joins[a, b] for a, b in others if a[0] not in beside and b[0] not in beside]

    def in_order(self, at: Mapping[int, int]) -> list[int]:
        """Literals of the order in which items stand with such columns."""
        return [lit if at[a] < at[b] else -lit for (a, b), lit in self._order.items()]

    def _before(self, a: int, b: int) -> int:
        """Item a stands before item b along the strips."""
        if a > b:
            return -self._before(b, a)
        if (a, b) not in self._order:
            self._order[a, b] = self.sat.new()
        return self._order[a, b]

    def _pin_before(self, a: Pin, b: Pin) -> int:
        """Where both are on one straight strip, and neither item is loose: a pin comes before another."""
        if a[0] != b[0]:
            return self._before(a[0], b[0])
        if a[1] > b[1]:
            return -self._pin_before(b, a)
        i, (one, two) = a[0], (a[1], b[1])
        if (i, one, two) not in self._turned:
            lit = self._turned[i, one, two] = self.sat.new()
            for key, first in self._facing(i, one, two).items():
                self.sat.add([-self._lying[i][key], lit if first else -lit])
        return self._turned[i, one, two]

    def _facing(self, i: int, one: int, two: int) -> dict[Key, bool]:
        """For strips of an item of three pins or more that tell it: one of its pins comes before another on its line.

        With two leads strips never tell: it can be turned.
        """
        seen: dict[Key, set[bool]] = {}
        for no, shape in enumerate(self.p.items[i].shapes if i in self._lying else ()):
            a, b = shape.offsets[one], shape.offsets[two]
            if a[1 - self._along] == b[1 - self._along]:
                for key in self.frame.sets_of(i, no):
                    seen.setdefault(key, set()).add(a[self._along] < b[self._along])
        return {key: True in ways for key, ways in seen.items() if len(ways) == 1 and key in self._lying[i]}

    def _on_one_strip(self, a: Pin, b: Pin) -> int | None:
        """True at least where two pins are on one straight strip; None where they never are."""
        if a > b:
            a, b = b, a
        if (a, b) not in self._common:
            one, other = self.pin_at[a], self.pin_at[b]
            ways = [(on, other[s]) for s, on in one.items() if s in other and s in self._straight]
            self._common[a, b] = self.sat.any_of(ways) if ways else None
        return self._common[a, b]

    # What it costs.

    def _cuts(self) -> None:
        if self._spread:
            self._unused()
        for s, nets in self._nets_on.items():
            if not self._severable[s]:
                continue
            if len(nets) > 1 and self.prices.cut and not self._spread:
                self._link(Counter(self.sat, [self._own[n, s] for n in nets]), 2, self.prices.cut)
            self._strip_room(s, nets)

    def _unused(self) -> None:
        """Cuts as segments less the strips in use: each strip of the board that is not used costs as much as a cut."""
        sat = self.sat
        there: dict[int, list[int]] = {}
        for t, row in enumerate(self.frame.shifts):
            for s in row.tolist():
                there.setdefault(s, []).append(t)
        for s, times in there.items():
            idle = sat.new()
            self._cost(idle, self.prices.cut)
            used = [at[s] for at in self.pin_at.values() if s in at]
            if len(times) == len(self.frame.shifts):
                sat.add([idle, *used])
            else:
                for t in times:
                    sat.add([idle, *used, -self._windows[t]])

    def _link(self, counter: Counter, count: int, units: int) -> None:
        """The cost of so many or more; the next one follows when this one is known to be paid."""
        literal = counter.at_least(count)
        self._cost(literal, units)
        self.chains[literal] = Chain(counter, count)

    # Room.

    def _strip_room(self, s: int, nets: Sequence[int]) -> None:
        """Leads and wire ends fit the holes of a severable strip."""
        leads = [self.pin_at[pin][s] for n in nets for pin in self._pins[n] if s in self.pin_at[pin]]
        room = int(self.frame.room[s])
        if self._holes or 2 * len(leads) <= room or len(leads) * room > MOST_COUNTED:
            return
        wanted = []
        for n in nets:
            if n in self.several:
                want = self.sat.new()
                self.sat.add([-self._own[n, s], -self.several[n], want])
                wanted.append(want)
        if len(leads) + len(wanted) > room:
            self.sat.at_most([*leads, *wanted], room)

    def _taken(self, i: int) -> dict[Key, dict[int, int]]:
        """For each set of strips of an item: line -> holes that it takes there at least."""
        what = (self.p.like[i], i == self.frame.anchor)
        if what not in self._takes:
            item, frame = self.p.items[i], self.frame
            overhangs = self.p.circuit.part_by_ref[item.ref].place.edge is not None
            found: dict[Key, dict[int, int]] = {}
            for no, shape in enumerate(item.shapes):
                taken = holes_taken(shape, self._along, overhangs=overhangs)
                for key in frame.sets_of(i, no):
                    lines = {self._line_of[key[0]] + d: count for d, count in taken.items()}
                    old = found.get(key)
                    found[key] = lines if old is None else {k: min(old[k], lines[k]) for k in old.keys() & lines.keys()}
            self._takes[what] = found
        return self._takes[what]

    def _crowded(self, strip: dict[Pin, int]) -> list[int]:
        """Lines that have more to hold than they have holes, of those not yet counted."""
        full: dict[int, int] = {}
        for i, item in enumerate(self.p.items):
            key = tuple(strip[i, k] for k in range(len(item.pins)))
            for line, count in self._taken(i)[key].items():
                full[line] = full.get(line, 0) + count
        for n, several in self.several.items():
            if self.sat.holds(several):
                for pin in self._pins[n]:
                    if pin not in self._leads or self.sat.holds(self._leads[pin]):
                        full[self._line_of[strip[pin]]] = full.get(self._line_of[strip[pin]], 0) + 1
        return sorted(line for line, count in full.items() if count > self._holes and line not in self._counted)

    def _count(self, line: int) -> None:
        """Pins, hidden holes and wire ends fit the holes of a line."""
        sat = self.sat
        self._counted.add(line)
        held: list[int] = []
        for i, item in enumerate(self.p.items):
            counts: list[int] = []  # literals of one hole, two holes ...
            for key, lines in self._taken(i).items():
                if not self._can_lie(i, key):
                    continue
                taken = lines.get(line, 0)
                while len(counts) < taken:
                    counts.append(sat.new())
                    if len(counts) > 1:
                        sat.add([-counts[-1], counts[-2]])
                if taken:
                    sat.add([counts[taken - 1], *(-lit for lit in self._lies_on(i, key))])
            held += counts
            for k, n in enumerate(item.nets):
                for s, on in self.pin_at[i, k].items():
                    if self._line_of[s] == line and n in self.several:
                        wired = sat.new()
                        leads = [-self._leads[i, k]] if (i, k) in self._leads else []
                        sat.add([wired, -on, -self.several[n], *leads])
                        held.append(wired)
        sat.at_most(held, self._holes)

    # Proposals.

    def _true(self, literal: int) -> bool:
        """True when a literal held in the last answer."""
        return self.sat.holds(abs(literal)) == (literal > 0)

    def mend(self) -> bool:
        """State what the last answer breaks of order and room, where that was not stated before."""
        strip = self._strips()
        broken = [] if self._in_order else self._broken(strip)
        crowded = self._crowded(strip) if self._holes else []
        for three in broken:
            self._kept.add(three)
            self.sat.add_all(self._keep_apart(*three))
        for line in crowded:
            self._count(line)
        return bool(broken or crowded)

    def _broken(self, strip: dict[Pin, int]) -> list[tuple[Pin, Pin, Pin]]:
        """Pins that join a segment of the last answer, its leader, and a pin of another net that is between them."""
        holds = self.sat.holds
        on: dict[int, list[Pin]] = {}
        for pin, s in strip.items():
            if s in self._straight:
                on.setdefault(s, []).append(pin)
        found = []
        for (pin, host), joins in self._joins.items():
            if holds(joins):
                n = self.p.items[pin[0]].nets[pin[1]]
                for other in on.get(strip[host], ()):
                    if self.p.items[other[0]].nets[other[1]] != n and (pin, host, other) not in self._kept:
                        sides = (self._true(self._pin_before(q, other)) for q in (pin, host))
                        if len(set(sides)) > 1:
                            found.append((pin, host, other))
        return found

    def proposal(self) -> Proposal:
        """What the last answer proposes."""
        holds = self.sat.holds
        segments = []
        for pins in self._pins.values():
            led = {pin: {pin} for pin in pins if pin not in self._leads or holds(self._leads[pin])}
            for at, pin in enumerate(pins):
                if pin not in led:
                    led[next(h for h in pins[:at] if (pin, h) in self._joins and holds(self._joins[pin, h]))].add(pin)
            segments += [frozenset(group) for group in led.values()]
        of_net: dict[int, int] = {}
        for group in segments:
            i, k = min(group)
            of_net[self.p.items[i].nets[k]] = of_net.get(self.p.items[i].nets[k], 0) + 1
        several = frozenset(n for n in self.several if of_net[n] > 1)
        return Proposal(self._strips(), several, tuple(segments))
