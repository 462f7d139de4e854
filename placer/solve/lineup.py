"""All parts of a circuit in one order along long strips: the tables of the search by order, and the way there and back.

Parts do not overlap, so one order of all of them says who comes before whom on every strip at once. What jumpers and
cuts a plan needs depends on that order and on each part's lines alone; columns follow from it.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence

import numpy as np

from placer.packages.model import STEP_UM
from placer.solve import linelayout as at
from placer.solve import rebuild
from placer.solve.arrays import Places
from placer.solve.layout import Floats, Ints
from placer.solve.lines import lines_of
from placer.solve.problem import Problem
from placer.solve.shapes import Shape

WEIGHTS = (1.0, 2.0)  # of a column too many, and of a segment without a hole for its wire
MOST_WEIGHT, GROWTH, DECAY = 12.0, 1.08, 1.03  # they grow while there are any, and fall again when there are none
CHUNK = 200  # rounds between looks at the clock


def can_line_up(p: Problem) -> bool:
    """True where the board is lines that may be cut, and nothing is wished for that an order does not tell."""
    lines = lines_of(p)
    if lines is None or lines.whole or p.wishes or any(wish.force.cost is not None for wish in p.preferred):
        return False
    return not any(shape.slants for item in p.items for shape in item.shapes)


class Lineup:
    """The world of the search by order. Raises AssertionError where :func:`can_line_up` does not hold."""

    def __init__(self, p: Problem) -> None:
        lines = lines_of(p)
        assert lines is not None  # noqa: S101 - see above
        self.p, self.lines = p, lines
        self.refused = False
        self.along = 1 - lines.axis
        self._line = p.hy - p.y0 if lines.axis else p.hx - p.x0
        self._column = p.hx - p.x0 if lines.axis else p.hy - p.y0
        self.first_form: list[int] = []
        shapes: dict[Shape, int] = {}
        forms: list[tuple[int, ...]] = []
        pin_line: list[list[int]] = []
        groups: list[tuple[int, ...]] = []
        nets: list[int] = []
        free: list[int] = []
        covers: list[tuple[int, int, int]] = []
        joined: list[int] = []
        shut: list[int] = []
        limits: list[Ints] = []
        same: dict[tuple[bytes, int], Ints] = {}  # many parts may stand in the same places
        self.leads: list[int] = []  # of each form, from its first pin to its leftmost one
        width = max(len(item.nets) for item in p.items)
        alike: dict[tuple[object, ...], int] = {}
        item_kin: list[tuple[int, int]] = []
        kin_forms: list[list[int]] = []
        kin: list[tuple[int, ...]] = []
        kin_group: list[tuple[int, int, int, int]] = []
        kin_line: list[list[int]] = []
        for i, item in enumerate(p.items):
            self.first_form.append(len(forms))
            first_kin = len(kin)
            for shape, way in zip(item.shapes, item.ways, strict=True):
                kind = shapes.setdefault(shape, len(shapes))
                rows, columns, lead = self._relative(shape.offsets)
                self.leads.append(lead)
                own = self._groups(item.nets, rows, columns, self._hidden(shape, lead), (nets, free))
                only = self._covers(rows, self._hidden(shape, lead))
                closed = [n for group in own for n in _shut(group, nets, free)]
                inside = [item.nets[a] for j, a, _, b in p.joins if j == i and rows[a] != rows[b]]
                orders = [tuple(nets[g[at.G_NET] : g[at.G_NET] + g[at.G_PINS]]) for g in own]
                look = i, tuple(rows), tuple(orders), tuple(inside), tuple(closed)
                if look not in alike:
                    alike[look] = len(kin)
                    counts = len(own), len(kin_group), len(inside), len(closed), len(shut)
                    kin.append((*counts, min(rows), max(rows)))
                    kin_group += [(g[at.G_LINE], o[0], o[-1], g[at.G_INNER]) for g, o in zip(own, orders, strict=True)]
                    kin_line.append(rows + [0] * (width - len(rows)))
                    kin_forms.append([])
                    shut += closed
                kin_forms[alike[look]].append(len(forms))
                of_lines = len(own), len(groups), len(only), len(covers)
                forms.append((kind, *of_lines, len(inside), len(joined), alike[look]))
                groups += own
                covers += only
                joined += inside
                pin_line.append(rows + [0] * (width - len(rows)))
                stand = way.tobytes(), lead
                if stand not in same:
                    same[stand] = self._limits(way, lead)
                limits.append(same[stand])
            item_kin.append((first_kin, len(kin) - first_kin))
        known = list(shapes)
        reach, far = self._distances(known)
        by_net: list[list[tuple[int, int]]] = [[] for _ in p.net_names]
        for i, item in enumerate(p.items):
            for k, n in enumerate(item.nets):
                by_net[n].append((i, k))
        ends = list(itertools.accumulate((len(pins) for pins in by_net), initial=0))
        starts = list(itertools.accumulate(map(len, kin_forms), initial=0))
        self.far = far.reshape(-1)
        sizes = {
            at.N_ITEMS: len(p.items),
            at.N_LINES: lines.count,
            at.N_HOLES: lines.holes,
            at.GAP: lines.gap,
            at.N_NETS: len(p.net_names),
            at.NET_W: width,
            at.REACH: reach,
            at.N_CLASSES: len(known),
            at.ROW_W: len(p.items) + at.BLOCK,
        }
        tables: dict[int, Sequence[object] | Ints] = {
            at.ITEM_FORM: [(first, len(item.shapes)) for first, item in zip(self.first_form, p.items, strict=True)],
            at.ITEM_PINS: [len(item.nets) for item in p.items],
            at.ITEM_NET: [list(item.nets) + [-1] * (width - len(item.nets)) for item in p.items],
            at.NET_PIN: [(start, len(pins)) for start, pins in zip(ends, by_net, strict=False)],
            at.PIN_ITEM: [i for pins in by_net for i, _ in pins],
            at.PIN_K: [k for pins in by_net for _, k in pins],
            at.FORM: forms,
            at.PIN_LINE: pin_line,
            at.GROUP: groups,
            at.GROUP_NET: nets,
            at.GROUP_FREE: free,
            at.COVER: covers,
            at.JOINED: joined,
            at.SHUT: shut,
            at.FIRST: np.array([pair[0] for pair in limits]),
            at.LAST: np.array([pair[1] for pair in limits]),
            at.CLASS: [(*self._extent(shape), int(far[k].max())) for k, shape in enumerate(known)],
            at.ITEM_KIN: item_kin,
            at.KIN: [(start, len(f), *k) for start, f, k in zip(starts, kin_forms, kin, strict=False)],
            at.KIN_FORM: [form for those in kin_forms for form in those],
            at.KIN_LINE: kin_line,
            at.KIN_GROUP: kin_group,
        }
        self.world, self.state_size = _lay_out(sizes, tables)

    def _relative(self, offsets: Sequence[tuple[int, int]]) -> tuple[list[int], list[int], int]:
        """Lines of pins from that of the first, columns from the leftmost pin, and that one's from the first."""
        rows = [o[1 - self.along] - offsets[0][1 - self.along] for o in offsets]
        columns = [o[self.along] - offsets[0][self.along] for o in offsets]
        lead = min(columns)
        return rows, [c - lead for c in columns], lead

    def _hidden(self, shape: Shape, lead: int) -> dict[int, list[int]]:
        """Columns of the holes that a body hides, on each line."""
        first = shape.offsets[0]
        found: dict[int, list[int]] = {}
        for hole in shape.hidden:
            column = hole[self.along] - first[self.along] - lead
            found.setdefault(hole[1 - self.along] - first[1 - self.along], []).append(column)
        return found

    def _groups(
        self,
        item_nets: Sequence[int],
        rows: list[int],
        columns: list[int],
        hidden: dict[int, list[int]],
        lists: tuple[list[int], list[int]],
    ) -> list[tuple[int, ...]]:
        """The pins on each line; to ``lists`` go their nets, and the free holes before each of them."""
        found: list[tuple[int, ...]] = []
        nets, free = lists
        for row in sorted(set(rows)):
            pins = sorted((c, n) for r, c, n in zip(rows, columns, item_nets, strict=True) if r == row)
            under = hidden.get(row, [])
            taken = [c for c, _ in pins] + under
            before = [0]
            for (a, one), (b, other) in itertools.pairwise(pins):
                covered = sum(a < c < b for c in under)
                cut = 0 if one == other else max(0, self.lines.gap - 1 - covered)
                before.append(max(0, b - a - 1 - covered - cut))
            own = [n for _, n in pins]
            changes = [k for k in range(1, len(own)) if own[k] != own[k - 1]]
            ends = (min(taken), max(taken), pins[0][0], pins[-1][0])
            alone = sum(before[: changes[0] + 1]) if changes else 0
            found.append((row, len(pins), *ends, len(changes), alone, len(nets)))
            nets += own
            free += before
        return found

    @staticmethod
    def _covers(rows: list[int], hidden: dict[int, list[int]]) -> list[tuple[int, int, int]]:
        return [(row, min(own), max(own)) for row, own in sorted(hidden.items()) if row not in rows]

    def _limits(self, way: Ints, lead: int) -> Ints:
        """The columns that the leftmost pin may take on each line: first and last, -1 where none.

        Where they are not all of a stretch, as beside an area that is kept free, the longest stretch of them.
        """
        found = np.full((2, self.lines.count), -1, np.int64)
        line, column = self._line[way], self._column[way] + lead
        for row in np.unique(line):
            own = np.sort(column[line == row])
            stretches = np.split(own, np.flatnonzero(np.diff(own) != 1) + 1)
            longest = max(stretches, key=len)
            found[:, row] = longest[0], longest[-1]
        return found

    def _distances(self, shapes: list[Shape]) -> tuple[int, at.Steps]:
        """Least columns from the leftmost pin of a shape to that of another beyond it, for each distance of lines."""
        cells: list[tuple[int, int, int]] = []
        boxes: list[tuple[int, ...]] = []
        starts = [(0, 0)]
        for shape in shapes:
            rows, columns, lead = self._relative(shape.offsets)
            hidden = self._hidden(shape, lead)
            cells += [(row, column, 1) for row, column in zip(rows, columns, strict=True)]
            cells += [(row, column, 0) for row, own in hidden.items() for column in own]
            first = shape.offsets[0]
            shift = first[1 - self.along] * STEP_UM, (first[self.along] + lead) * STEP_UM
            for box in shape.boxes:
                if box[0] < box[2] and box[1] < box[3]:
                    axes = enumerate((1 - self.along, self.along))
                    boxes.append(tuple(box[axis + side] - shift[k] for k, axis in axes for side in (0, 2)))
            starts.append((len(cells), len(boxes)))
        extents = [self._extent(shape) for shape in shapes]
        reach = max(high for _, high in extents) - min(low for low, _ in extents)
        n = len(shapes)
        far = np.full(n * n * (2 * reach + 1), at.NEVER, np.int16)
        flat = [np.array(table, np.int64).reshape(-1) for table in (cells, boxes, starts, extents)]
        rebuild.measure(flat[0], flat[1], flat[2], flat[3], reach, far)
        return reach, far.reshape(n, n, -1)

    def _extent(self, shape: Shape) -> tuple[int, int]:
        """The lines, from that of the first pin, between which anything can meet a shape."""
        first = shape.offsets[0][1 - self.along]
        cells = [o[1 - self.along] - first for o in (*shape.offsets, *shape.hidden)]
        for box in shape.boxes:
            cells += [box[1 - self.along] // STEP_UM - first, -(-box[3 - self.along] // STEP_UM) - first]
        return min(cells), max(cells)

    def state(self, places: Places) -> Ints:
        """A state with every item in its place, in the order in which they stand."""
        w = self.world
        state = np.zeros(self.state_size, np.int64)
        for i, (no, anchor) in enumerate(places):
            form = self.first_form[i] + no
            state[w[at.LIES] + i], state[w[at.LINE] + i] = form, self._line[anchor]
            state[w[at.KEY] + i] = at.KEYS * (self._column[anchor] + self.leads[form]) + i
        rebuild.begin(w, self.far, state)
        return state

    def ordered(self, lie: Mapping[int, tuple[int, int]], order: Sequence[int]) -> Ints | None:
        """A state with every item lying so (shape, line), in this order; None where the board has no such lines.

        Lines are counted from anywhere: all move across the strips to where every item may stand.
        """
        w, state = self.world, np.zeros(self.state_size, np.int64)
        forms = {i: self.first_form[i] + shape for i, (shape, _) in lie.items()}
        for shift in sorted(range(-self.lines.count, self.lines.count + 1), key=abs):
            if all(self._stands(forms[i], line + shift) for i, (_, line) in lie.items()):
                break
        else:
            return None
        for rank, i in enumerate(order):
            state[w[at.LIES] + i], state[w[at.LINE] + i] = forms[i], lie[i][1] + shift
            state[w[at.KEY] + i] = at.KEYS * rank
        rebuild.begin(w, self.far, state)
        return state

    def _stands(self, form: int, line: int) -> bool:
        """There is a column on that line where a form may stand."""
        lines = self.lines.count
        return 0 <= line < lines and bool(self.world[self.world[at.FIRST] + form * lines + line] >= 0)

    def places(self, kept: Ints) -> Places:
        """Where forms, lines and columns of all items are on the board."""
        found = []
        for i, (form, line, column) in enumerate(kept.reshape(3, -1).T.tolist()):
            column -= self.leads[form]
            anchor = self.p.cell[(line, column) if self.along == 0 else (column, line)]
            found.append((form - self.first_form[i], int(anchor)))
        return tuple(found)

    def weights(self) -> Floats:
        """What each term counts, as :mod:`placer.solve.linelayout` numbers them."""
        return np.array([self.p.options.jumper_cost, self.p.options.cut_cost, *WEIGHTS])

    def rebuilt(
        self, state: Ints, rounds: int, hot: float, cold: float, seed: Callable[[], int]
    ) -> Iterator[Places | None]:
        """Look for cheaper plans from a state on; yields once for each chunk of rounds, a better one or None.

        Once ``refused`` is set what was found does not count, and others as dear are found again.
        """
        weights = self.weights()
        kept = np.zeros(3 * len(self.p.items), np.int64)
        best = np.array([1e18])
        chunks = max(1, -(-rounds // CHUNK))
        for c in range(chunks):
            t0, t1 = (hot * (cold / hot) ** (k / chunks) for k in (c, c + 1))
            before = best[0]
            rebuild.search(self.world, self.far, state, weights, CHUNK, t0, t1, seed(), kept, best)
            yield self.places(kept) if best[0] < before else None
            if self.refused:
                best[0] = 1e18
                self.refused = False
            for term, weight in ((at.EXCESS, at.W_EXCESS), (at.STARVED, at.W_STARVED)):
                if state[term]:
                    weights[weight] = min(MOST_WEIGHT, GROWTH * weights[weight])
                else:
                    weights[weight] = max(WEIGHTS[weight - at.W_EXCESS], weights[weight] / DECAY)


def _shut(group: tuple[int, ...], nets: list[int], free: list[int]) -> list[int]:
    """The nets of those segments of a group that end on both sides within it, and have no free hole."""
    start, pins = group[at.G_NET], group[at.G_PINS]
    own, before = nets[start : start + pins], free[start : start + pins]
    begins = [k for k in range(pins) if k == 0 or own[k] != own[k - 1]]
    return [own[a] for a, b in itertools.pairwise(begins) if a > 0 and not any(before[a : b + 1])]


def _lay_out(sizes: dict[int, int], tables: dict[int, Sequence[object] | Ints]) -> tuple[Ints, int]:
    """The world as one array, and the size of a state."""
    n, lines, nets = sizes[at.N_ITEMS], sizes[at.N_LINES], sizes[at.N_NETS]
    header = np.zeros(at.HEADER, np.int64)
    for what, size in sizes.items():
        header[what] = size
    parts = [header]
    length = at.HEADER
    for what, table in tables.items():
        flat = np.array(table, np.int64).reshape(-1)
        header[what] = length
        length += len(flat)
        parts.append(flat)
    states = dict.fromkeys((at.ORDER, at.LIES, at.LINE, at.KEY, at.COLUMN, at.NEW_KEY, at.AWAY), n)
    states |= dict.fromkeys((at.MOVED, at.OLD_LIES, at.OLD_LINE, at.OLD_KEY, at.TURN), n)
    states |= {at.COUNT: lines, at.SEGMENTS: nets, at.TRACK: at.TRACK_W * lines, at.SKYLINE: at.SKY_W * n}
    states |= dict.fromkeys((at.ROW_ITEM, at.ROW_KEY, at.ROW_FIRST, at.ROW_LAST), lines * sizes[at.ROW_W])
    size = at.STATE_HEADER
    for what, length_ in states.items():
        header[what] = size
        size += length_
    return np.concatenate(parts), size
