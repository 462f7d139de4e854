"""Can these parts stand so that these pins share strips? An exact search over places, compiled.

A cluster is a few parts with pins that are said to share a short strip, pins said to lie on a long strip, and nets
said to need a wire end on each of their strips. The board is seen from one of the parts (:mod:`placer.solve.frame`), so
the answer holds wherever the cluster stands. Parts outside the cluster are left out: a "no" is a fact about any plan.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from placer.solve import layout
from placer.solve.arrays import Arrays
from placer.solve.claims import Answer, Claim, Pin
from placer.solve.clustermodel import decide
from placer.solve.compiled import compiled
from placer.solve.frame import Frame
from placer.solve.layout import Ints
from placer.solve.problem import Problem

Bools = npt.NDArray[np.bool_]
MOST_PLACES = 6000  # placements in one search; more means: not decided
MOST_NODES = 20_000
LONG = 10  # holes; a longer strip is no neighbourhood


class ClusterSearch:
    """Answers claims, with the board seen from a frame's anchor."""

    def __init__(self, p: Problem, arrays: Arrays, frame: Frame, stopped: Callable[[], bool]) -> None:
        self.p = p
        self.arrays = arrays
        self.frame = frame
        self.stopped = stopped
        self.work = 0.0
        self._answers: dict[Claim, tuple[Answer, tuple[int, float]]] = {}
        self._tables: dict[int, tuple[Ints, Ints, Ints, Ints]] = {}

    def _table(self, i: int) -> tuple[Ints, Ints, Ints, Ints]:
        """All places of an item: shape, line, across, strips of its pins; those that short its own nets left out."""
        if i not in self._tables:
            item, f = self.p.items[i], self.frame
            shapes, lines, acrosses, strips = [], [], [], []
            for no, (shape, (r, c)) in enumerate(zip(item.shapes, f.spots[i], strict=True)):
                if len(r) == 0:
                    continue
                on = np.stack([f.strip_at[r + o[f.axis], c + o[1 - f.axis]] for o in shape.offsets], axis=1)
                good = np.ones(len(r), dtype=bool)
                for a in range(len(item.nets)):
                    for b in range(a + 1, len(item.nets)):
                        if item.nets[a] != item.nets[b]:
                            good &= on[:, a] != on[:, b]
                shapes.append(np.full(int(good.sum()), no, np.int64))
                lines.append(r[good])
                acrosses.append(c[good])
                strips.append(on[good])
            if shapes:
                self._tables[i] = (
                    np.concatenate(shapes),
                    np.concatenate(lines).astype(np.int64),
                    np.concatenate(acrosses).astype(np.int64),
                    np.concatenate(strips).astype(np.int64),
                )
            else:
                none = np.empty(0, np.int64)
                self._tables[i] = (none, none, none, np.empty((0, len(item.pins)), np.int64))
        return self._tables[i]

    def ask(self, claim: Claim, nodes: int = MOST_NODES, deep: float = 0.0) -> Answer:
        """Search for places that keep the claim, giving up after so many tried places.

        ``deep``: work for the constraint model when that was not enough.
        """
        known = self._answers.get(claim)
        if known is None or (known[0].possible is None and (nodes, deep) > known[1]):
            known = (self._decide(claim, nodes, deep), (nodes, deep))
            self._answers[claim] = known
        return known[0]

    def _decide(self, claim: Claim, nodes: int, deep: float) -> Answer:
        f = self.frame
        items = sorted(claim.items)
        alive = {i: np.ones(len(self._table(i)[0]), dtype=bool) for i in items}
        is_long = f.length > LONG
        for i, k in claim.long:
            alive[i] &= is_long[self._table(i)[3][:, k]]
        for (i, k), s in claim.on:
            # Seen from this anchor the strip may have no one place: then nothing is known of it.
            if f.of_board[s] >= 0:
                alive[i] &= self._table(i)[3][:, k] == f.of_board[s]
        group_of = {pin: g for g, pins in enumerate(claim.groups) for pin in pins}
        short = ~is_long
        domains = [short.copy() for _ in claim.groups]
        changed = True
        while changed:
            changed = False
            for pin, g in group_of.items():
                i, k = pin
                strips = self._table(i)[3][:, k]
                fits = domains[g][strips] & alive[i]
                if int(fits.sum()) < int(alive[i].sum()):
                    alive[i] = fits
                    changed = True
                seen = np.zeros(f.n_strips, dtype=bool)
                seen[strips[fits]] = True
                if (domains[g] & ~seen).any():
                    domains[g] &= seen
                    changed = True
            if any(not a.any() for a in alive.values()):
                return Answer(False)
        total = sum(int(a.sum()) for a in alive.values())
        if total > MOST_PLACES:
            return Answer(None)
        return self._search(items, alive, group_of, claim, nodes, deep)

    def _search(
        self,
        items: Sequence[int],
        alive: dict[int, Bools],
        group_of: dict[Pin, int],
        claim: Claim,
        nodes: int,
        deep: float,
    ) -> Answer:
        p, f = self.p, self.frame
        most = max(len(p.items[i].pins) for i in items)
        rows: list[Ints] = []
        start = np.zeros(len(items) + 1, np.int64)
        strips = []
        for t, i in enumerate(items):
            shape, line, across, on = (x[alive[i]] for x in self._table(i))
            x, y = (across, line) if f.axis else (line, across)
            rows.append(np.stack([np.full(len(shape), t), shape + self.arrays.item_shape[i], x, y], axis=1))
            padded = np.full((len(on), most), -1, np.int64)
            padded[:, : on.shape[1]] = on
            strips.append(padded)
            start[t + 1] = start[t] + len(shape)
        place = np.concatenate(rows).astype(np.int64)
        on = np.concatenate(strips)
        n_pins = np.array([len(p.items[i].pins) for i in items], np.int64)
        nets = np.full((len(items), most), -1, np.int64)
        groups = np.full((len(items), most), -1, np.int64)
        wired = np.zeros((len(items), most), np.int64)
        for t, i in enumerate(items):
            for k, n in enumerate(p.items[i].nets):
                nets[t, k] = n
                groups[t, k] = group_of.get((i, k), -1)
                wired[t, k] = n in claim.wired
        # What a body covers of a strip counts only where the overlay adds no cells to the strip: along a strip that it
        # smears out, a covered cell need not be a hole of the board.
        cells = np.bincount(f.strip_at[f.strip_at >= 0], minlength=len(f.room))
        firm = np.where(np.append(cells <= f.room, False)[f.strip_at], f.strip_at, -1)
        grid = np.ascontiguousarray(firm if f.axis else firm.T)
        chosen = np.full(len(items), -1, np.int64)
        result = _depth_first(
            self.arrays.world, place, on, n_pins, nets, groups, wired, start, grid, f.room, chosen, nodes
        )
        if result == 0:
            return Answer(False)
        if result == 1:
            return Answer(True, {i: self._at(place[chosen[t]]) for t, i in enumerate(items)})
        if not deep:
            return Answer(None)
        rows_of = [
            (items[t], shape - self.arrays.item_shape[items[t]], x, y, tuple(strips[: n_pins[t]]))
            for (t, shape, x, y), strips in zip(place.tolist(), on.tolist(), strict=True)
        ]
        possible, found, work = decide(
            p, rows_of, group_of, claim.wired, _Lookup(grid), f.room.tolist(), deep, self.stopped
        )
        self.work += work
        if not possible:
            return Answer(possible)
        return Answer(True, {i: (no, *((y, x) if f.axis else (x, y))) for i, no, x, y, _ in found})

    def _at(self, row: Ints) -> tuple[int, int, int]:
        _, shape, x, y = (int(v) for v in row)
        start = max(s for s in self.arrays.item_shape if s <= shape)
        return (shape - start, *((y, x) if self.frame.axis else (x, y)))


class _Lookup:
    """The strip at a position of the frame, 0 or less where there is no hole."""

    def __init__(self, grid: Ints) -> None:
        self.grid = grid

    def __call__(self, x: int, y: int) -> int:
        if 0 <= y < self.grid.shape[0] and 0 <= x < self.grid.shape[1]:
            return int(self.grid[y, x])
        return -1


@compiled
def _together(w: Ints, place: Ints, on: Ints, n_pins: Ints, nets: Ints, groups: Ints, a: int, b: int) -> bool:
    """True when places a and b of two different items can stand together."""
    ia, sa, xa, ya = place[a, 0], place[a, 1], place[a, 2], place[a, 3]
    ib, sb, xb, yb = place[b, 0], place[b, 1], place[b, 2], place[b, 3]
    pin_a = w[w[layout.SHAPE_PIN] + sa]
    pin_b = w[w[layout.SHAPE_PIN] + sb]
    for k in range(n_pins[ia]):
        for m in range(n_pins[ib]):
            if on[a, k] != on[b, m]:
                if groups[ia, k] >= 0 and groups[ia, k] == groups[ib, m]:
                    return False
            elif nets[ia, k] != nets[ib, m] or (
                xa + w[w[layout.OFF_X] + pin_a + k] == xb + w[w[layout.OFF_X] + pin_b + m]
                and ya + w[w[layout.OFF_Y] + pin_a + k] == yb + w[w[layout.OFF_Y] + pin_b + m]
            ):
                return False
    if not (_clear(w, n_pins[ib], sa, xa, ya, sb, xb, yb) and _clear(w, n_pins[ia], sb, xb, yb, sa, xa, ya)):
        return False
    c0, cn = w[w[layout.SHAPE_BOX] + 2 * sa], w[w[layout.SHAPE_BOX] + 2 * sa + 1]
    d0, dn = w[w[layout.SHAPE_BOX] + 2 * sb], w[w[layout.SHAPE_BOX] + 2 * sb + 1]
    dx, dy = (xa - xb) * 2540, (ya - yb) * 2540
    for c in range(c0, c0 + cn):
        for d in range(d0, d0 + dn):
            if (
                dx + w[w[layout.BOX] + 4 * c] < w[w[layout.BOX] + 4 * d + 2]
                and dx + w[w[layout.BOX] + 4 * c + 2] > w[w[layout.BOX] + 4 * d]
                and dy + w[w[layout.BOX] + 4 * c + 1] < w[w[layout.BOX] + 4 * d + 3]
                and dy + w[w[layout.BOX] + 4 * c + 3] > w[w[layout.BOX] + 4 * d + 1]
            ):
                return False
    return True


@compiled
def _clear(w: Ints, pins_b: int, sa: int, xa: int, ya: int, sb: int, xb: int, yb: int) -> bool:
    """True when no pin of b lies in a hole that a's body covers."""
    for c in range(
        w[w[layout.SHAPE_COVER] + 2 * sa], w[w[layout.SHAPE_COVER] + 2 * sa] + w[w[layout.SHAPE_COVER] + 2 * sa + 1]
    ):
        cx = xa + w[w[layout.COV_X] + c]
        cy = ya + w[w[layout.COV_Y] + c]
        for m in range(pins_b):
            if (
                cx == xb + w[w[layout.OFF_X] + w[w[layout.SHAPE_PIN] + sb] + m]
                and cy == yb + w[w[layout.OFF_Y] + w[w[layout.SHAPE_PIN] + sb] + m]
            ):
                return False
    return True


@compiled
def _room_left(
    w: Ints, place: Ints, on: Ints, n_pins: Ints, wired: Ints, chosen: Ints, grid: Ints, room: Ints, new: int
) -> bool:
    """True when the strips that the new place bears on still hold their leads, covered holes and wire ends."""
    n_items = chosen.shape[0]
    for k in range(-1, w[w[layout.SHAPE_COVER] + 2 * place[new, 1] + 1] + n_pins[place[new, 0]]):
        if k < 0:
            continue
        if k < n_pins[place[new, 0]]:
            strip = on[new, k]
        else:
            c = w[w[layout.SHAPE_COVER] + 2 * place[new, 1]] + k - n_pins[place[new, 0]]
            x = place[new, 2] + w[w[layout.COV_X] + c]
            y = place[new, 3] + w[w[layout.COV_Y] + c]
            if x < 0 or y < 0 or y >= grid.shape[0] or x >= grid.shape[1]:
                continue
            strip = grid[y, x]
        if strip <= 0:
            continue
        used = 0
        want = 0
        for t in range(n_items):
            a = chosen[t]
            if a < 0:
                continue
            s = place[a, 1]
            for m in range(n_pins[t]):
                if on[a, m] == strip:
                    used += 1
                    want = max(want, wired[t, m])
            for c in range(
                w[w[layout.SHAPE_COVER] + 2 * s],
                w[w[layout.SHAPE_COVER] + 2 * s] + w[w[layout.SHAPE_COVER] + 2 * s + 1],
            ):
                x = place[a, 2] + w[w[layout.COV_X] + c]
                y = place[a, 3] + w[w[layout.COV_Y] + c]
                if 0 <= x < grid.shape[1] and 0 <= y < grid.shape[0] and grid[y, x] == strip:
                    used += 1
        if used + want > room[strip]:
            return False
    return True


@compiled
def _depth_first(
    w: Ints,
    place: Ints,
    on: Ints,
    n_pins: Ints,
    nets: Ints,
    groups: Ints,
    wired: Ints,
    start: Ints,
    grid: Ints,
    room: Ints,
    chosen: Ints,
    most_nodes: int,
) -> int:
    """Depth-first search with forward checking: 1 found (in ``chosen``), 0 impossible, -1 cut short."""
    n_items = n_pins.shape[0]
    n = place.shape[0]
    alive = np.zeros((n_items + 1, n), np.uint8)
    alive[0, :] = 1
    order = np.full(n_items, -1, np.int64)
    cursor = np.zeros(n_items, np.int64)
    depth = 0
    nodes = 0
    fresh = True
    while True:
        if fresh:
            if depth == n_items:
                return 1
            least = 1 << 40
            for t in range(n_items):
                if chosen[t] >= 0:
                    continue
                count = 0
                for a in range(start[t], start[t + 1]):
                    count += alive[depth, a]
                if count < least:
                    least = count
                    order[depth] = t
            cursor[depth] = start[order[depth]]
            fresh = False
        t = order[depth]
        chosen[t] = -1
        advanced = False
        while cursor[depth] < start[t + 1]:
            a = cursor[depth]
            cursor[depth] += 1
            if alive[depth, a] == 0:
                continue
            nodes += 1
            if nodes > most_nodes:
                return -1
            good = True
            chosen[t] = a
            for u in range(n_items):
                if chosen[u] >= 0:
                    continue
                some = False
                for b in range(start[u], start[u + 1]):
                    v = alive[depth, b] == 1 and _together(w, place, on, n_pins, nets, groups, a, b)
                    alive[depth + 1, b] = v
                    some = some or v
                if not some:
                    good = False
                    break
            if good and not _room_left(w, place, on, n_pins, wired, chosen, grid, room, a):
                good = False
            if good:
                advanced = True
                break
            chosen[t] = -1
        if advanced:
            depth += 1
            fresh = True
        else:
            if depth == 0:
                return 0
            depth -= 1
            chosen[order[depth]] = -1
