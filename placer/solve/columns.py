"""Columns for parts on long severable strips: what order and room leave open, stated where a proposal does not fit.

Every line of the board is one strip. Each part has a column, in unary (``column >= c``). Of two parts the one that
stands before the other ends before that one begins, on each level: a line of holes, or half-way between two. That is
stated of pairs that a proposal squeezes, and where levels do not tell everything, of single pairs of shapes. A segment
that needs a wire and has no hole for its end is given one: a hole on its line, as a part of one pin that is there only
when it is needed.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from placer.packages.model import STEP_UM
from placer.solve.abreast import central
from placer.solve.claims import Pin
from placer.solve.frame import Frame
from placer.solve.prices import Prices
from placer.solve.proposal import Proposal
from placer.solve.segments import MOST_STATED, Key, SegmentModel, lies_in_lines
from placer.solve.shapes import Shape
from placer.solve.standing import lines_of
from placer.solve.strips import Bools, StripModel

Node = int | Pin
"""An item, or the wire end of the segment that a pin leads."""

Outline = dict[tuple[int, int, int], list[tuple[int, int]]]
"""Level, side (0: where it begins), kind (0: body, 1: pin) -> how far a part may reach (um, outwards) and literals."""

MOST_CHAINS = 12  # of parts that do not fit, looked at for one proposal


@dataclass(frozen=True)
class Edge:
    """Where a part ends on a level, um from its outermost pin on that side: its body, its pins, and the last one's net.

    ``body`` and ``pin`` are None where it has none there.
    """

    body: int | None
    pin: int | None
    net: int


@dataclass(frozen=True)
class Stance:
    """A shape on a set of strips.

    ``line``: that of the first pin; ``first``, ``last``: columns that its leftmost pin may take; ``width``: columns
    from there to the rightmost one; ``lead``: from the first pin to the leftmost one. ``levels``: left and right edge.
    """

    key: Key
    shape: int
    line: int
    first: int
    last: int
    lead: int
    width: int
    levels: dict[int, tuple[Edge, Edge]]


def apart(left: Edge, right: Edge, gap: int) -> int:
    """Columns from the rightmost pin of a part to the leftmost of the next one, at least.

    ``gap``: from pin to pin of different nets. ``left``: where the first one ends; ``right``: where the next begins.
    """
    least = -10_000
    for one, two in ((left.body, right.body), (left.body, right.pin), (left.pin, right.body)):
        if one is not None and two is not None:
            least = max(least, -(-(one - two) // STEP_UM))
    if left.pin is not None and right.pin is not None:
        least = max(least, (left.pin - right.pin) // STEP_UM + (1 if left.net == right.net else gap))
    return least


def _corners(
    right: list[tuple[int, int]], left: list[tuple[int, int]], *, pins: bool
) -> Iterator[tuple[int, tuple[int, ...]]]:
    """Columns from one part to the next, and the least reaches (literals) of the one and the other that take so many.

    ``pins``: both reaches are of pins, which cannot have the same hole.
    """
    below = [-10_000] * len(left)  # by the next smaller reach of the one
    for one, first in right:
        before = -10_000
        for at, (two, second) in enumerate(left):
            columns = (one + two) // STEP_UM + 1 if pins else -(-(one + two) // STEP_UM)
            if columns > max(before, below[at]):
                yield columns, (first, second)
            before = below[at] = columns


class ColumnModel(SegmentModel):
    """The clauses, as :class:`placer.solve.segments.SegmentModel` has them, and columns."""

    def __init__(
        self, frame: Frame, prices: Prices, shares: Bools, *, half: bool = False, most: int = MOST_STATED
    ) -> None:
        super().__init__(frame, prices, shares, half=half, most=most)
        lines = lines_of(self.p)
        assert lines is not None and self._holes  # noqa: S101, PT018 - see clauses()
        self._board = lines
        self._stances: dict[tuple[int, bool], dict[Key, list[Stance]]] = {}
        self._choice: dict[tuple[int, Key, int], list[int]] = {}
        self._at: dict[tuple[Node, bool], int] = {}  # the first of the literals "column >= 1", "column >= 2" ...
        self._outlines: dict[int, Outline] = {}
        self._wide: dict[int, set[int]] = {}
        self._reach: dict[tuple[int, int, int, int, int], int | None] = {}
        self._paired: set[tuple[int, int]] = set()
        self._refined: set[tuple[object, ...]] = set()
        self._ends: dict[Pin, int] = {}  # holes for wire ends: leader -> literal that it is needed
        self._end_first: dict[tuple[Pin, int], int] = {}  # literals that a wire end is before an item
        self._columns: dict[Node, int] = {}
        self._held: dict[Pin, int] = {}

    # Shapes on lines.

    def _stances_of(self, i: int) -> dict[Key, list[Stance]]:
        what = (self.p.like[i], i == self.frame.anchor)
        if what not in self._stances:
            p, frame, item = self.p, self.frame, self.p.items[i]
            at = p.hy - p.y0 if self._along else p.hx - p.x0
            found: dict[Key, list[Stance]] = {}
            for no, shape in enumerate(item.shapes):
                if not len(frame.spots(i)[no][0]):
                    continue
                levels = self._levels(shape)
                pins = [o[self._along] - shape.offsets[0][self._along] for o in shape.offsets]
                lead, width = min(pins), max(pins) - min(pins)
                first, last = int(at[item.ways[no]].min()) + lead, int(at[item.ways[no]].max()) + lead
                for key in map(tuple, np.unique(frame.strips_of(i, no), axis=0).tolist()):
                    line = self._line_of[key[0]]
                    there = {2 * line + level: edges for level, edges in levels.items()}
                    found.setdefault(key, []).append(Stance(key, no, line, first, last, lead, width, there))
            self._stances[what] = found
        return self._stances[what]

    def _levels(self, shape: Shape) -> dict[int, tuple[Edge, Edge]]:
        """Levels, counted from that of the first pin -> where the shape begins and ends; nets as numbers of pins."""
        along, across = self._along, 1 - self._along
        bodies: dict[int, list[int]] = {}
        for box in central(shape, along):
            for level in range(2 * box[across] // STEP_UM + 1, -(-2 * box[2 + across] // STEP_UM)):
                bodies.setdefault(level, []).extend((box[along], box[2 + along]))
        pins: dict[int, list[tuple[int, int]]] = {}
        for k, o in enumerate(shape.offsets):
            pins.setdefault(2 * o[across], []).append((o[along] * STEP_UM, k))
        start = 2 * shape.offsets[0][across]
        columns = [o[along] * STEP_UM for o in shape.offsets]
        outer = (min(columns), max(columns))
        found = {}
        for level in bodies.keys() | pins.keys():
            ends = []
            for pick, end in zip((min, max), outer, strict=True):
                pin, k = pick(pins[level]) if level in pins else (end, -1)
                body = pick(bodies[level]) - end if level in bodies else None
                ends.append(Edge(body, pin - end if k >= 0 else None, k))
            found[level - start] = (ends[0], ends[1])
        return found

    def _edge(self, i: int, edge: Edge) -> Edge:
        """The same edge with the net of the pin."""
        return Edge(edge.body, edge.pin, self.p.items[i].nets[edge.net] if edge.net >= 0 else -1)

    def _lies(self, i: int, stance: Stance) -> list[int]:
        """Literals that hold when an item lies so; where several shapes go on the same strips one of them is chosen."""
        base = self._lies_on(i, stance.key)
        alike = self._stances_of(i)[stance.key]
        if len(alike) == 1:
            return base
        if (i, stance.key, stance.shape) not in self._choice:
            chosen = [self.sat.new() for _ in alike]
            self.sat.add([*(-lit for lit in base), *chosen])
            for lit, one in zip(chosen, alike, strict=True):
                self._choice[i, stance.key, one.shape] = [lit]
                offsets = self.p.items[i].shapes[one.shape].offsets
                for a, b in itertools.combinations(range(len(one.key)), 2):
                    if one.key[a] == one.key[b]:
                        turned = self._pin_before((i, a), (i, b))
                        first = offsets[a][self._along] < offsets[b][self._along]
                        self.sat.add([-lit, *(-x for x in base), turned if first else -turned])
        return self._choice[i, stance.key, stance.shape]

    def _possible(self, i: int) -> Iterator[Stance]:
        for key, alike in self._stances_of(i).items():
            if i not in self._lying or key in self._lying[i]:
                yield from alike

    # Columns.

    def _from(self, node: Node, column: int, *, right: bool = False) -> int | bool:
        """Its leftmost pin (``right``: its rightmost) is in this column or a later one."""
        holes = self._board.holes
        if column <= 0 or column >= holes:
            return column <= 0
        widths = self._widths(node) if isinstance(node, int) else {0}
        right &= widths != {0}
        if (node, right) not in self._at:
            at = self._at[node, right] = self.sat.new_many(holes - 1)
            for c in range(at, at + holes - 2):
                self.sat.add([-(c + 1), c])
            if isinstance(node, int):
                self._tie(node, widths) if right else self._bound(node, at)
        return self._at[node, right] + column - 1

    def _widths(self, i: int) -> set[int]:
        if i not in self._wide:
            self._wide[i] = {stance.width for stance in self._possible(i)}
        return self._wide[i]

    def _bound(self, i: int, at: int) -> None:
        """The columns that an item's leftmost pin may take, as it lies."""
        for stance in self._possible(i):
            lies = [-lit for lit in self._lies(i, stance)]
            if stance.first > 0:
                self.sat.add([*lies, at + stance.first - 1])
            if stance.last < self._board.holes - 1:
                self.sat.add([*lies, -(at + stance.last)])

    def _tie(self, i: int, widths: set[int]) -> None:
        """An item's rightmost pin is as far from its leftmost as it is wide."""
        for width in sorted(widths):
            wide = self.sat.any_of(self._lies(i, s) for s in self._possible(i) if s.width == width)
            for c in range(self._board.holes):
                left, right = self._from(i, c), self._from(i, c + width, right=True)
                self._imply([-wide], left, right)
                self._imply([-wide], right, left)

    def _imply(self, unless: Sequence[int], one: int | bool, other: int | bool) -> None:
        """Where the one holds, so does the other."""
        if one is not False and other is not True:
            there = [] if one is True else [-one]
            self.sat.add([*unless, *there, *([] if other is False else [other])])

    def _distance(self, unless: Sequence[int], first: Node, second: Node, columns: int) -> None:
        """The leftmost pin of the second is so many columns beyond the rightmost of the first at least."""
        for c in range(self._board.holes):
            low, high = self._from(first, c, right=True), self._from(second, c + columns)
            self._imply(unless, low, high)
            if high is False:
                return

    def _outline(self, i: int) -> Outline:
        """Literals that hold at least where an item reaches so far, on a level and side, with its body or a pin."""
        if i not in self._outlines:
            sat = self.sat
            found: Outline = {}
            reach: dict[tuple[int, int, int], dict[int, list[Stance]]] = {}
            for stance in self._possible(i):
                for level, both in stance.levels.items():
                    for side, edge in enumerate(both):
                        for kind, at in enumerate((edge.body, edge.pin)):
                            if at is not None:
                                values = reach.setdefault((level, side, kind), {})
                                values.setdefault(at if side else -at, []).append(stance)
            for what, values in reach.items():
                chain = found[what] = []
                for value in sorted(values):
                    lit = sat.new()
                    if chain:
                        sat.add([-lit, chain[-1][1]])
                    chain.append((value, lit))
                    for stance in values[value]:
                        sat.add([lit, *(-x for x in self._lies(i, stance))])
            self._outlines[i] = found
        return self._outlines[i]

    def _pair_up(self, i: int, j: int) -> None:
        """Whichever of two items stands before the other ends before it begins."""
        self._paired.add((i, j))
        loose = self._unless_loose({i, j})
        for a, b in ((i, j), (j, i)):
            ends, begins = self._outline(a), self._outline(b)
            ways: dict[int, list[tuple[int, ...]]] = {}
            for level, one, two in itertools.product(sorted({what[0] for what in ends}), (0, 1), (0, 1)):
                right, left = ends.get((level, 1, one), []), begins.get((level, 0, two), [])
                for columns, lits in _corners(right, left, pins=one == two == 1):
                    ways.setdefault(columns, []).append(lits)
            self._far(ways, [-self._before(a, b), *loose], a, b)

    def _far(self, ways: dict[int, list[tuple[int, ...]]], unless: list[int], a: Node, b: Node) -> None:
        """Where all literals of a way hold, the second node is so many columns beyond the first."""
        for columns in sorted(ways):
            self._distance([-self.sat.any_of(ways[columns]), *unless], a, b, columns)

    def _refine(self, a: Node, b: Node, columns: int, stances: dict[int, Stance]) -> bool:
        """The second stands so far beyond the first, with these shapes at this distance across the strips.

        Stated for all lines; True where that is new.
        """
        what = (a, b, *(stances[node].shape if isinstance(node, int) else -1 for node in (a, b)))
        shift = self._line(b, stances) - self._line(a, stances)
        if (*what, shift) in self._refined:
            return False
        self._refined.add((*what, shift))
        items = {node if isinstance(node, int) else node[0] for node in (a, b)}
        unless = self._unless_loose(items)
        for node, other in ((a, b), (b, a)):
            if not isinstance(node, int):
                unless.append(-self._ends[node])
                if isinstance(other, int):
                    lit = self._end_first[node, other]
                    unless.append(-lit if node == a else lit)
        if isinstance(a, int) and isinstance(b, int):
            unless.append(-self._before(a, b))
        ones, others = self._on_lines(a, stances), self._on_lines(b, stances)
        ways = [(*lits, *others[line + shift]) for line, lits in ones.items() if line + shift in others]
        width = stances[a].width if isinstance(a, int) else 0
        self._distance([-self.sat.any_of(ways), *unless], a, b, columns - width)
        return True

    def _line(self, node: Node, stances: dict[int, Stance]) -> int:
        return stances[node].line if isinstance(node, int) else self._line_of[self._held[node]]

    def _on_lines(self, node: Node, stances: dict[int, Stance]) -> dict[int, list[int]]:
        """For each line that an item may be on with its shape, or a wire end: literals that it is."""
        if isinstance(node, int):
            same = (s for s in self._possible(node) if s.shape == stances[node].shape)
            return {stance.line: self._lies(node, stance) for stance in same}
        return {self._line_of[s]: [on] for s, on in self.pin_at[node].items()}

    # Holes for wire ends.

    def _end(self, pin: Pin) -> None:
        """A hole for the end of a wire in the segment that a pin leads, where its net is in several pieces."""
        sat, p = self.sat, self.p
        n = p.items[pin[0]].nets[pin[1]]
        needed = sat.new()
        leads = [-self._leads[pin]] if pin in self._leads else []
        sat.add([needed, -self.several[n], *leads])
        for j in range(len(p.items)):
            before = self._end_first[pin, j] = sat.new()
            loose = [x for x in (self._loose(j),) if x is not None]
            outline = self._outline(j)
            for side in (0, 1):
                ways: dict[int, list[tuple[int, ...]]] = {}
                for (s, on), kind in itertools.product(self.pin_at[pin].items(), (0, 1)):
                    reach = outline.get((2 * self._line_of[s], side, kind), [])
                    for columns, lits in _corners([(0, on)], reach, pins=kind == 1):
                        ways.setdefault(columns, []).append(lits)
                if side == 0:
                    self._far(ways, [-needed, -before, *loose], pin, j)
                else:
                    self._far(ways, [-needed, before, *loose], j, pin)
        for other in self.pin_at:
            if p.items[other[0]].nets[other[1]] == n:
                continue
            first, level = self._pin_before(pin, other), self._on_one_strip(pin, other)
            if level is not None:
                before = self._end_first[pin, other[0]]
                unless = [-needed, -level, *self._unless_loose({pin[0], other[0]})]
                sat.add([*unless, -first, before])
                sat.add([*unless, first, -before])
        for other, there in self._ends.items():
            level, first = self._on_one_strip(pin, other), self._pin_before(pin, other)
            if p.items[other[0]].nets[other[1]] != n and level is not None:
                unless = [-needed, -there, -level, *self._unless_loose({pin[0], other[0]})]
                self._distance([*unless, -first], pin, other, self._board.gap)
                self._distance([*unless, first], other, pin, self._board.gap)
        self._ends[pin] = needed

    # Proposals.

    def mend(self) -> bool:
        """State what the last answer breaks of order, room and columns, where that was not stated before."""
        if super().mend():
            return True
        self._columns = {}
        stances = self._stances_held()
        ends = [pin for pin, needed in self._ends.items() if self.sat.holds(needed)]
        packed = self._packed(stances, ends)
        if isinstance(packed, dict):
            self._columns = packed
            missing = self._without_hole(stances, packed)
            for pin in missing:
                self._end(pin)
            return bool(missing)
        return self._state_chains(packed, stances)

    def _stances_held(self) -> dict[int, Stance]:
        strip = self._strips()
        found = {}
        for i, item in enumerate(self.p.items):
            alike = self._stances_of(i)[tuple(strip[i, k] for k in range(len(item.pins)))]
            found[i] = next((s for s in alike if self._holds_all(i, s)), alike[0])
        return found

    def _holds_all(self, i: int, stance: Stance) -> bool:
        if len(self._stances_of(i)[stance.key]) > 1 and (i, stance.key, stance.shape) not in self._choice:
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

    def _steps(self, stances: dict[int, Stance], ends: Sequence[Pin]) -> Iterator[tuple[Node, Node, int]]:
        """Who must be how many columns beyond whom, as the last answer has them stand."""
        for i, j in itertools.combinations(stances, 2):
            a, b = (i, j) if self._true(self._before(i, j)) else (j, i)
            columns = self._between(a, stances[a], b, stances[b])
            if columns is not None:
                yield a, b, columns
        for pin in ends:
            own = Edge(None, 0, self.p.items[pin[0]].nets[pin[1]])
            line = self._line_of[self._held[pin]]
            for j, stance in stances.items():
                edges = stance.levels.get(2 * line)
                if edges is None:
                    continue
                if self.sat.holds(self._end_first[pin, j]):
                    yield pin, j, apart(own, self._edge(j, edges[0]), self._board.gap)
                else:
                    yield j, pin, stance.width + apart(self._edge(j, edges[1]), own, self._board.gap)
        for one, two in itertools.combinations(ends, 2):
            nets = {self.p.items[q[0]].nets[q[1]] for q in (one, two)}
            first = self._pin_before(one, two)
            if self._held[one] == self._held[two] and len(nets) > 1:
                yield (one, two, self._board.gap) if self._true(first) else (two, one, self._board.gap)

    def _between(self, a: int, one: Stance, b: int, two: Stance) -> int | None:
        """Columns between the leftmost pins of an item and one after it, at least; None where they do not meet."""
        what = (a, one.shape, b, two.shape, two.line - one.line)
        if what not in self._reach:
            self._reach[what] = self._measured(a, one, b, two)
        return self._reach[what]

    def _measured(self, a: int, one: Stance, b: int, two: Stance) -> int | None:
        p, along = self.p, self._along
        reach = [
            one.width + apart(self._edge(a, one.levels[level][1]), self._edge(b, two.levels[level][0]), self._board.gap)
            for level in one.levels.keys() & two.levels.keys()
        ]
        shift = (two.line - one.line) * STEP_UM
        boxes = (central(p.items[i].shapes[lies.shape], along) for i, lies in ((a, one), (b, two)))
        for box, other in itertools.product(*boxes):
            low, high = other[1 - along] + shift, other[3 - along] + shift
            if box[1 - along] < high and low < box[3 - along]:
                reach.append(-(-(box[2 + along] - other[along]) // STEP_UM) + two.lead - one.lead)
        return max(reach, default=None)

    def _packed(
        self, stances: dict[int, Stance], ends: Sequence[Pin]
    ) -> dict[Node, int] | list[list[tuple[Node, Node, int]]]:
        """A column for each, as far to the left as can be; or chains of steps that are too long or closed."""
        self._held = self._strips()
        steps: dict[Node, list[tuple[Node, int]]] = {}
        for a, b, columns in self._steps(stances, ends):
            steps.setdefault(a, []).append((b, columns))
        at: dict[Node, int] = {i: stance.first for i, stance in stances.items()} | dict.fromkeys(ends, 0)
        last: dict[Node, int] = {i: s.last for i, s in stances.items()} | dict.fromkeys(ends, self._board.holes - 1)
        came: dict[Node, tuple[Node, int]] = {}
        queue = list(at)
        too_far: list[Node] = []
        while queue and len(too_far) < MOST_CHAINS:
            node = queue.pop(0)
            for other, columns in steps.get(node, ()):
                if at[node] + columns > at[other] and other not in too_far:
                    at[other] = at[node] + columns
                    came[other] = (node, columns)
                    if at[other] > last[other]:
                        too_far.append(other)
                    elif other not in queue:
                        queue.append(other)
        if not too_far:
            return at
        chains = []
        for node in too_far:
            chain: list[tuple[Node, Node, int]] = []
            seen = {node}
            while node in came:
                before, columns = came[node]
                chain.append((before, node, columns))
                node = before
                if node in seen:
                    break
                seen.add(node)
            chains.append(chain)
        return chains

    def _state_chains(self, chains: list[list[tuple[Node, Node, int]]], stances: dict[int, Stance]) -> bool:
        """State what keeps the parts of chains apart; False where all of it was stated before."""
        fresh = False
        links = list(dict.fromkeys(link for chain in chains for link in chain))
        for a, b, _ in links:
            if isinstance(a, int) and isinstance(b, int) and (min(a, b), max(a, b)) not in self._paired:
                self._pair_up(min(a, b), max(a, b))
                fresh = True
        for a, b, columns in () if fresh else links:
            if isinstance(a, int) or isinstance(b, int):  # two wire ends are told apart to the full
                fresh |= self._refine(a, b, columns, stances)
        return fresh

    def _without_hole(self, stances: dict[int, Stance], at: dict[Node, int]) -> list[Pin]:
        """Leaders of segments that need a wire and have no hole for its end, of those not given one before."""
        taken: dict[int, dict[int, int]] = {}  # line -> column -> net of the pin there, -1 where a body hides the hole
        for i, stance in stances.items():
            shape = self.p.items[i].shapes[stance.shape]
            for line, column, net in self._covered(i, stance, shape, at[i]):
                row = taken.setdefault(line, {})
                row[column] = max(net, row.get(column, -1))
        for pin in self._ends:
            if pin in at:
                taken[self._line_of[self._held[pin]]][at[pin]] = self.p.items[pin[0]].nets[pin[1]]
        found = []
        for n, several in self.several.items():
            if not self.sat.holds(several):
                continue
            for pin in self._pins[n]:
                if pin in self._ends or (pin in self._leads and not self.sat.holds(self._leads[pin])):
                    continue
                if not self._has_hole(n, self._place_of(pin, stances, at), taken):
                    found.append(pin)
        return found

    def _covered(self, i: int, stance: Stance, shape: Shape, column: int) -> Iterator[tuple[int, int, int]]:
        along = self._along
        column -= stance.lead  # of the first pin
        for k, o in enumerate(shape.offsets):
            yield stance.line + o[1 - along] - shape.offsets[0][1 - along], column + o[along], self.p.items[i].nets[k]
        for box in shape.boxes:
            lines = range(box[1 - along] // STEP_UM + 1, -(-box[3 - along] // STEP_UM))
            columns = range(box[along] // STEP_UM + 1, -(-box[2 + along] // STEP_UM))
            for line, c in itertools.product(lines, columns):
                yield stance.line + line - shape.offsets[0][1 - along], column + c, -1

    def _place_of(self, pin: Pin, stances: dict[int, Stance], at: dict[Node, int]) -> tuple[int, int]:
        """Line and column of a pin."""
        i, k = pin
        offset = self.p.items[i].shapes[stances[i].shape].offsets[k][self._along]
        return self._line_of[stances[i].key[k]], at[i] - stances[i].lead + offset

    def _has_hole(self, n: int, place: tuple[int, int], taken: dict[int, dict[int, int]]) -> bool:
        """A hole that is free, with no pin of another net between it and a place on the same line; it is taken."""
        line, column = place
        row = taken.get(line, {})
        for way in (-1, 1):
            c = column + way
            while 0 <= c < self._board.holes and row.get(c, n) in (n, -1):
                beyond = [row.get(c + way * d, n) for d in range(1, self._board.gap)]
                if c not in row and all(net in (n, -1) for net in beyond):
                    row[c] = n
                    return True
                c += way
        return False

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
    kind = ColumnModel if lies_in_lines(frame) else SegmentModel
    return kind(frame, prices, shares, half=half)
