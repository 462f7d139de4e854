"""Long severable strips: what order and room leave open is stated where a proposal does not fit.

A proposal is packed, each part as far to the left as the order allows. What is squeezed is stated of pairs of parts,
and where levels do not tell everything, of single pairs of shapes. A segment that needs a wire and has no hole for its
end is given one: a hole on its line, as a part of one pin that is there only when it is needed. A net in k segments
needs 2 (k - 1) such holes in all, or an empty segment for a jumper more.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from placer.solve.claims import Pin
from placer.solve.columns import End, Node, corners
from placer.solve.frame import Frame
from placer.solve.lined import lies_in_lines
from placer.solve.packing import Rows, pack
from placer.solve.prices import Prices
from placer.solve.proposal import Proposal
from placer.solve.sat import Counter
from placer.solve.segments import MOST_STATED, SegmentModel
from placer.solve.stances import Edge, Stance, apart
from placer.solve.strays import StrayModel
from placer.solve.strips import Bools, StripModel

MORE_ENDS = 2  # of a segment are given a hole each; the last stands for all that might follow


class LineModel(StrayModel):
    """The clauses, as :class:`placer.solve.segments.SegmentModel` has them, and all that it takes to build a plan."""

    def __init__(
        self, frame: Frame, prices: Prices, shares: Bools, *, half: bool = False, most: int = MOST_STATED
    ) -> None:
        super().__init__(frame, prices, shares, half=half, most=most)
        self._refined: set[tuple[object, ...]] = set()
        self._ends: dict[End, int] = {}  # holes for wire ends: literals that they are there
        self._end_first: dict[tuple[End, int], int] = {}  # literals that a wire end is before an item
        self._parted: dict[int, int] = {}  # nets that may need wires: literals that they are in more than one piece
        self._supplied: set[int] = set()  # nets whose wire ends are counted
        self._columns: dict[Node, int] = {}
        self._held: dict[Pin, int] = {}
        self._stood: dict[int, tuple[int, int]] | None = None

    # Holes for wire ends.

    def _wire_ends(self, pins: Sequence[Pin], pieces: Sequence[int], several: int) -> None:
        super()._wire_ends(pins, pieces, several)
        self._parted[self._net_of(pins[0])] = several
        if len(pins) > 2:
            self.helpers.state(self._net_of(pins[0]))

    def _joined(self, n: int, pieces: Sequence[int]) -> None:
        super()._joined(n, pieces)
        self._parted[n] = self.sat.any_of((piece,) for piece in pieces)

    def _hangs(self, pin: Pin) -> list[int]:
        """Literals of which one holds where the segment that a pin leads hangs by a part instead of a wire."""
        found = []
        for save, *both in self._saves.get(self._net_of(pin), ()):
            for other in both:
                joins = self._leads.get(pin) if other == pin else self._joins.get((other, pin))
                if other == pin or joins is not None:
                    found.append(self.sat.new())
                    self.sat.add([-found[-1], save])
                    if joins is not None:
                        self.sat.add([-found[-1], joins])
        return found

    def _net_of(self, at: Pin | End) -> int:
        return self.p.items[at[0]].nets[at[1]]

    def _end(self, pin: Pin, count: int = 0) -> None:
        """A hole for the end of a wire in the segment that a pin leads; the first is there where the net needs it."""
        end = (*pin, count)
        if end in self._ends:
            return
        sat, n = self.sat, self._net_of(pin)
        there = self._ends[end] = sat.new()
        leads = [self._leads[pin]] if pin in self._leads else []
        for lead in leads:
            sat.add([-there, lead])
        if count:
            sat.add([-there, self._ends[*pin, count - 1]])
            self._distance([-there], (*pin, count - 1), end, 1)
        else:
            sat.add([there, -self._parted[n], *(-lead for lead in leads), *self._hangs(pin)])
        for j in range(len(self.p.items)):
            self._beside(end, j)
        for other in self.pin_at:
            if self._net_of(other) != n and (unless := self._on_level(end, other)) is not None:
                first, before = self._pin_before(pin, other), self._end_first[end, other[0]]
                sat.add([*unless, -first, before])
                sat.add([*unless, first, -before])
        for other_end, also in self._ends.items():
            if self._net_of(other_end) != n and (unless := self._on_level(end, other_end[:2])) is not None:
                first = self._pin_before(pin, other_end[:2])
                self._distance([*unless, -also, -first], end, other_end, self._board.gap)
                self._distance([*unless, -also, first], other_end, end, self._board.gap)

    def _on_level(self, end: End, other: Pin) -> list[int] | None:
        """Literals of which one holds unless a wire end is there, on one strip with a pin; None where it never is."""
        level = self._on_one_strip(end[:2], other)
        if level is None:
            return None
        astray = [] if end[0] == other[0] else self._astray(end[0], other[0])
        return [-self._ends[end], -level, *astray, *self._open(other[0], self._net_of(end))]

    def _beside(self, end: End, j: int) -> None:
        """A wire end is before an item or after it, where they are on one level."""
        before = self._end_first[end, j] = self.sat.new()
        unless = [-self._ends[end], *self._open(j, self._net_of(end))]
        outline = self._outline(j)
        for side in (0, 1):
            ways: dict[int, list[tuple[int, ...]]] = {}
            for (s, on), kind in itertools.product(self.pin_at[end[:2]].items(), (0, 1)):
                reach = outline.get((2 * self._line_of[s], side, kind), [])
                for columns, lits in corners([(0, on)], reach, pins=kind == 1):
                    ways.setdefault(columns, []).append(lits)
            if side == 0:
                self._far(ways, [*unless, -before], end, j)
            else:
                self._far(ways, [*unless, before], j, end)

    def _supply(self, n: int) -> None:
        """A net in k segments has 2 (k - 1) wire ends, unless an empty segment helps."""
        self._supplied.add(n)
        pins = self._pins[n]
        for pin, count in itertools.product(pins, range(MORE_ENDS)):
            self._end(pin, count)
        held = [self._ends[*pin, count] for pin, count in itertools.product(pins, range(MORE_ENDS))]
        for pin in pins:
            for _ in range(len(pins) - MORE_ENDS):
                held.append(self.sat.new())
                self.sat.add([-held[-1], self._ends[*pin, MORE_ENDS - 1]])
        leads = Counter(self.sat, [self._leads[pin] for pin in pins[1:]])
        for k in range(2, len(pins)):
            self.sat.at_least(held, 2 * k, [-leads.at_least(k), self.helpers.any(n)])

    # Proposals.

    def mend(self) -> bool:
        """State what the last answer breaks of order, room and columns, where that was not stated before."""
        self._stood = None
        if super().mend():
            return True
        self._columns = {}
        self._held = self._strips()
        stances = self._stances_held()
        self._stood = {i: (stance.shape, stance.line) for i, stance in stances.items()}
        if self._beyond(stances) or self._lead_back(stances):
            return True
        ends = [end for end, there in self._ends.items() if self.sat.holds(there)]
        first: dict[Node, int] = {i: stance.first for i, stance in stances.items()} | dict.fromkeys(ends, 0)
        last: dict[Node, int] = {i: stance.last for i, stance in stances.items()}
        last |= dict.fromkeys(ends, self._board.holes - 1)
        packed = pack(first, last, self._steps(stances, ends))
        if isinstance(packed, list):
            return self._state_chains(packed, stances)
        self._columns = packed
        return self._give_holes(stances, packed)

    def _beyond(self, stances: dict[int, Stance]) -> bool:
        """State of shapes that reach beyond the board that they do not; False where all are on it."""
        here = {t for t, window in enumerate(self._windows) if self.sat.holds(window)}
        fresh = False
        for i, stance in stances.items() if here else ():
            times = self._where(i)[stance.key][stance.shape]
            if here.isdisjoint(times):
                self.sat.add([*(-x for x in self._lies(i, stance)), *(self._windows[t] for t in times)])
                fresh = True
        return fresh

    def _give_holes(self, stances: dict[int, Stance], at: dict[Node, int]) -> bool:
        """Give holes to segments and nets that have too few for their wires; False where all have enough."""
        rows = Rows(self._board.holes, self._board.gap)
        for i, stance in stances.items():
            for line, column, net in self._stances.covered(i, stance, at[i]):
                rows.take(line, column, net)
        places = {end: (self._line_of[self._held[end[:2]]], at[end]) for end in self._ends if end in at}
        for end, place in places.items():
            rows.take(*place, self._net_of(end))
        fresh = False
        for n in self._parted:
            led = [pin for pin in self._pins[n] if pin not in self._leads or self.sat.holds(self._leads[pin])]
            if len(led) < 2:
                continue
            holes = 0
            for pin in led:
                given = sum((*pin, count) in places for count in range(MORE_ENDS))
                free = rows.free(n, *self._place_of(pin, stances, at))
                holes += given + len(free)
                if free and not given:
                    rows.take(self._line_of[self._held[pin]], free[0], n)
                if not given and not free and (*pin, 0) not in self._ends:
                    self._end(pin)
                    fresh = True
            enough = holes >= 2 * (len(led) - 1) or n in self._supplied or n not in self.helpers.of
            if not enough and not self.sat.holds(self.helpers.any(n)):
                self._supply(n)
                fresh = True
        return fresh

    def _place_of(self, pin: Pin, stances: dict[int, Stance], at: dict[Node, int]) -> tuple[int, int]:
        """Line and column of a pin."""
        i, k = pin
        offset = self.p.items[i].shapes[stances[i].shape].offsets[k][self._along]
        return self._line_of[self._held[pin]], at[i] - stances[i].lead + offset

    def _stances_held(self) -> dict[int, Stance]:
        strip, found = self._strips(), {}
        for i, item in enumerate(self.p.items):
            alike = self._stances.of(i)[tuple(strip[i, k] for k in range(len(item.pins)))]
            found[i] = next((s for s in alike if self._holds_all(i, s)), alike[0])
        return found

    def _holds_all(self, i: int, stance: Stance) -> bool:
        if len(self._stances.of(i)[stance.key]) > 1 and (i, stance.key, stance.shape) not in self._choice:
            return self._turned_as(i, stance)
        return all(self.sat.holds(lit) for lit in self._lies(i, stance))

    def _turned_as(self, i: int, stance: Stance) -> bool:
        """No literal says that the item lies another way round."""
        offsets = self.p.items[i].shapes[stance.shape].offsets
        return all(
            self._true(lit) == (offsets[a][self._along] < offsets[b][self._along])
            for (j, a, b), lit in self._turned.items()
            if j == i and stance.key[a] == stance.key[b]
        )

    def _steps(self, stances: dict[int, Stance], ends: Sequence[End]) -> Iterator[tuple[Node, Node, int]]:
        """Who must be how many columns beyond whom, as the last answer has them stand."""
        gap, edge = self._board.gap, self._stances.edge
        for i, j in itertools.combinations(stances, 2):
            beyond = self._stray_by(i, stances[i], j, stances[j])
            if beyond is not None:
                yield i, j, beyond
                yield j, i, -beyond
                continue
            a, b = (i, j) if self._true(self._before(i, j)) else (j, i)
            columns = self._stances.between(a, stances[a], b, stances[b])
            if columns is not None:
                yield a, b, columns
        for end in ends:
            own, level = Edge(None, 0, self._net_of(end)), 2 * self._line_of[self._held[end[:2]]]
            for j, stance in stances.items():
                if (edges := stance.levels.get(level)) is None:
                    continue
                if self.sat.holds(self._end_first[end, j]):
                    yield end, j, apart(own, edge(j, edges[0]), gap)
                else:
                    yield j, end, stance.width + apart(edge(j, edges[1]), own, gap)
        for one, two in itertools.combinations(ends, 2):
            if one[:2] == two[:2]:
                yield (one, two, 1) if one < two else (two, one, 1)
            elif self._held[one[:2]] == self._held[two[:2]] and self._net_of(one) != self._net_of(two):
                before = self._true(self._pin_before(one[:2], two[:2]))
                yield (one, two, gap) if before else (two, one, gap)

    def _state_chains(self, chains: list[list[tuple[Node, Node, int]]], stances: dict[int, Stance]) -> bool:
        """State what keeps the parts of chains apart; False where all of it was stated before."""
        fresh = False
        links = [link for link in dict.fromkeys(itertools.chain(*chains)) if not self._is_stray_link(link[0], link[1])]
        for a, b, _ in links:
            if isinstance(a, int) and isinstance(b, int) and (min(a, b), max(a, b)) not in self._paired:
                self._pair_up(min(a, b), max(a, b))
                fresh = True
        for a, b, columns in () if fresh else links:
            if isinstance(a, int) or isinstance(b, int):  # two wire ends are told apart to the full
                fresh |= self._refine(a, b, columns, stances)
        return fresh

    def _is_stray_link(self, a: Node, b: Node) -> bool:
        """Two items stray in the last answer: all about that has been stated."""
        return isinstance(a, int) and isinstance(b, int) and self._stray(min(a, b), max(a, b))

    def _refine(self, a: Node, b: Node, columns: int, stances: dict[int, Stance]) -> bool:
        """The second stands so far beyond the first, with these shapes at this distance across the strips.

        Stated for all lines; True where that is new.
        """
        what = (a, b, *(stances[node].shape if isinstance(node, int) else -1 for node in (a, b)))
        shift = self._line(b, stances) - self._line(a, stances)
        if (*what, shift) in self._refined:
            return False
        self._refined.add((*what, shift))
        unless = []
        for node, other in ((a, b), (b, a)):
            if not isinstance(node, int):
                unless.append(-self._ends[node])
                if isinstance(other, int):
                    lit = self._end_first[node, other]
                    unless += [-lit if node == a else lit, *self._open(other, self._net_of(node))]
        if isinstance(a, int) and isinstance(b, int):
            unless += [-self._before(a, b), *self._astray(a, b)]
        ones, others = self._on_lines(a, stances), self._on_lines(b, stances)
        ways = [(*lits, *others[line + shift]) for line, lits in ones.items() if line + shift in others]
        width = stances[a].width if isinstance(a, int) else 0
        self._distance([-self.sat.any_of(ways), *unless], a, b, columns - width)
        return True

    def _line(self, node: Node, stances: dict[int, Stance]) -> int:
        return stances[node].line if isinstance(node, int) else self._line_of[self._held[node[:2]]]

    def _on_lines(self, node: Node, stances: dict[int, Stance]) -> dict[int, list[int]]:
        """For each line that an item may be on with its shape, or a wire end: literals that it is."""
        if isinstance(node, int):
            same = (s for s in self._possible(node) if s.shape == stances[node].shape)
            return {stance.line: self._lies(node, stance) for stance in same}
        return {self._line_of[s]: [on] for s, on in self.pin_at[node[:2]].items()}

    def lined_up(self) -> tuple[dict[int, tuple[int, int]], list[int]] | None:
        """How all items lie (shape, line of the frame) in the last answer, and their order; after :meth:`mend`.

        None where it is at odds about the order. Whether there are columns for all of them is another matter.
        """
        if self._stood is None:
            return None
        every = range(len(self.p.items))
        before = {i: sum(self._true(self._before(j, i)) for j in every if j != i) for i in every}
        return self._stood, sorted(every, key=lambda i: (before[i], i))

    def proposal(self) -> Proposal:
        """What the last answer proposes, with a place for each part."""
        plain = super().proposal()
        stances = self._stances_held()
        places = {i: (s.shape, s.line, self._columns[i] - s.lead) for i, s in stances.items() if i in self._columns}
        return Proposal(plain.strip, plain.several, plain.segments, places)


def clauses(frame: Frame, prices: Prices, shares: Bools, *, half: bool = False) -> StripModel:
    """The clauses that suit the board."""
    p = frame.p
    if not any(p.severable(s) for s in range(len(p.slen))):
        return StripModel(frame, prices, shares, half=half)
    kind = LineModel if lies_in_lines(frame) else SegmentModel
    return kind(frame, prices, shares, half=half)
