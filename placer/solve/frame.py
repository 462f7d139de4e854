"""The board seen from one part: strips by their place relative to an anchor.

A plan may stand anywhere along a board that repeats itself. Seen from one of its parts (the anchor), all those plans
fall together: the frame overlays the board's strips for every row (or column) that the anchor's first pin may take.
Pins that share a strip on the board share one in the frame and pins on different strips stay apart, so what a plan
costs is not changed; a strip of the frame holds at least what the board's does. A bound proved in the frame therefore
holds for the whole board. Where overlaying would melt two strips into one, the board itself is the frame.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from placer.solve.problem import Ints, Problem

LONG = 10  # holes; a longer strip is no neighbourhood, and has holes enough for any net

Bools = npt.NDArray[np.bool_]
Stopped = Callable[[], bool]

Spots = tuple[tuple[Ints, Ints], ...]
"""For each shape of an item: lines and cross positions (indices of ``strip_at``) of the first pin."""


@dataclass(frozen=True)
class Frame:
    """Strips of the frame, and where items may stand in it.

    ``strip_at[line, across]``: strip numbers, -1 where there is no hole. ``room[strip]``: most leads and wire ends it
    can hold: the holes of the longest strip of the board that it may be. ``axis``: 1 where lines are rows (y), 0 where
    they are columns (x). ``of_board[strip of the board]``: its strip in the frame, -1 where that depends on where the
    anchor stands. ``shifts[place of the anchor, strip of the board]``: the strip in the frame that it then is.
    """

    p: Problem
    anchor: int
    strip_at: Ints
    room: Ints
    axis: int
    of_board: Ints
    shifts: Ints
    moves: tuple[int, ...]  # the lines that the anchor's first pin may take; one that is 0 where nothing is overlaid
    origin: tuple[int, int]  # line and cross position of strip_at[0, 0], relative to the anchor
    _spots: dict[tuple[int, bool], Spots] = field(default_factory=dict)
    _keys: dict[tuple[int, bool], Ints] = field(default_factory=dict)
    _sets: dict[tuple[int, bool, int], list[tuple[int, ...]]] = field(default_factory=dict)

    @property
    def n_strips(self) -> int:
        """How many strips the frame has."""
        return len(self.room)

    def seen_from(self, anchor: int) -> Frame:
        """The same frame with another anchor, one whose first pin may take the same lines."""
        return replace(self, anchor=anchor)

    def spots(self, i: int) -> Spots:
        """Where an item may stand, in any of the anchor's places."""
        where = self._class_of(i)
        if where not in self._spots:
            self._spots[where] = tuple(self._spread(i, way) for way in self.p.items[i].ways)
        return self._spots[where]

    def _class_of(self, i: int) -> tuple[int, bool]:
        return self.p.like[i], i == self.anchor

    def _spread(self, i: int, way: Ints) -> tuple[Ints, Ints]:
        p = self.p
        line, across = (p.hy, p.hx) if self.axis else (p.hx, p.hy)
        mask: Bools = np.zeros(self.strip_at.shape, dtype=bool)
        cols = across[way] - self.origin[1]
        if i == self.anchor and len(self.moves) > 1:
            mask[-self.origin[0], cols] = True
        else:
            for shift in self.moves:
                mask[line[way] - shift - self.origin[0], cols] = True
        rows, columns = np.nonzero(mask)
        return rows.astype(np.int64), columns.astype(np.int64)

    def strips_of(self, i: int, no: int) -> Ints:
        """The strips that the pins of a shape are on, [spot, pin]."""
        rows, cols = self.spots(i)[no]
        offsets = self.p.items[i].shapes[no].offsets
        return np.stack([self.strip_at[rows + o[self.axis], cols + o[1 - self.axis]] for o in offsets], axis=1)

    def sets_of(self, i: int, no: int) -> list[tuple[int, ...]]:
        """Every different set of strips that the pins of a shape can be on together, in order."""
        where = (*self._class_of(i), no)
        if where not in self._sets:
            self._sets[where] = sorted(set(map(tuple, self.strips_of(i, no).tolist())))
        return self._sets[where]

    def keys(self, i: int) -> Ints:
        """Every different set of strips that the pins of an item can be on together, [set, pin]."""
        where = self._class_of(i)
        if where not in self._keys:
            item = self.p.items[i]
            every = sorted({key for no in range(len(item.shapes)) for key in self.sets_of(i, no)})
            self._keys[where] = np.array(every, np.int64).reshape(-1, len(item.pins))
        return self._keys[where]


class _Union:
    def __init__(self, n: int) -> None:
        self.parent = list(range(n))

    def root(self, i: int) -> int:
        while self.parent[i] != i:
            self.parent[i] = self.parent[self.parent[i]]
            i = self.parent[i]
        return i

    def join(self, a: int, b: int) -> None:
        ra, rb = self.root(a), self.root(b)
        if ra != rb:
            self.parent[max(ra, rb)] = min(ra, rb)


def pick_anchor(p: Problem) -> int:
    """The item that pins the frame down best: most pins, then fewest ways."""
    return min(range(len(p.items)), key=lambda i: (-len(p.items[i].pins), sum(len(w) for w in p.items[i].ways), i))


def turns_upside_down(p: Problem) -> bool:
    """True when a half turn maps the board, and every item's freedom on it, onto itself."""
    half = half_turn(p)
    if half is None or (p.barred[half] != p.barred).any():
        return False
    for q in p.wishes:
        if {int(half[h]) for h in q.holes} != set(q.holes):  # a wish for one named edge, say
            return False
    done: set[int] = set()
    for item in p.items:
        by_rotation = {}
        for shape, way in zip(item.shapes, item.ways, strict=True):
            by_rotation[shape.offsets, shape.mount] = set(way.tolist())
        signature = hash((tuple(sorted((k, len(v)) for k, v in by_rotation.items())), item.shapes))
        free = all(len(w) == len(item.ways[0]) for w in item.ways) and len(item.ways[0]) == len(p.hx)
        if free or signature in done:
            continue
        for (offsets, mount), holes in by_rotation.items():
            turned = tuple((-x, -y) for x, y in offsets)
            if {int(half[h]) for h in holes} != by_rotation.get((turned, mount), set()):
                return False
        if not p.circuit.wishes.shared and not any(part.place.at or part.place.side for part in p.circuit.parts):
            done.add(signature)
    return True


def half_turn(p: Problem) -> Ints | None:
    """Hole -> hole under a half turn of the board, or None when the turned board is not the same board."""
    sx, sy = int(p.hx.min() + p.hx.max()), int(p.hy.min() + p.hy.max())
    image = np.array([p.hole(sx - int(x), sy - int(y)) for x, y in zip(p.hx, p.hy, strict=True)], dtype=np.int64)
    if (image < 0).any():
        return None
    strips = p.hstrip[image]
    for s in range(len(p.slen)):
        own = strips[p.sstart[s] : p.sstart[s] + p.slen[s]]
        if (own != own[0]).any() or p.slen[own[0]] != p.slen[s]:
            return None
    return image


def frame(p: Problem, anchor: int, stopped: Stopped = lambda: False, like: Iterable[Frame] = ()) -> Frame | None:
    """The frame of an anchor; None when ``stopped`` said so on the way. ``like``: frames of the same problem."""
    item = p.items[anchor]
    known = {(f.axis, f.moves): f for f in like}
    for axis in _axes(p):
        line = p.hy if axis else p.hx
        moves = sorted({int(line[h]) for way in item.ways for h in way.tolist()})
        if len(moves) < 2:
            continue
        if stopped():
            return None
        if (axis, tuple(moves)) in known:
            return known[axis, tuple(moves)].seen_from(anchor)
        found = _overlay(p, anchor, axis, moves)
        if found is not None:
            return found
    return _plain(p, anchor)


def _axes(p: Problem) -> tuple[int, int]:
    """The ways to overlay: across the strips first."""
    upright = 0
    for first, holes in zip(p.sstart, p.slen, strict=True):
        own = slice(first, first + holes)
        upright += bool(np.ptp(p.hx[own]) < np.ptp(p.hy[own]))
    return (0, 1) if 2 * upright > len(p.slen) else (1, 0)


def _plain(p: Problem, anchor: int) -> Frame:
    """The board itself as the frame."""
    strip_at = np.where(p.cell >= 0, p.hstrip[np.maximum(p.cell, 0)], -1)
    every = np.arange(len(p.slen))
    return Frame(p, anchor, strip_at, p.slen, 1, every, every[None, :], (0,), (p.y0, p.x0))


def _overlay(p: Problem, anchor: int, axis: int, moves: list[int]) -> Frame | None:
    n_strips = len(p.slen)
    line, across = (p.hy, p.hx) if axis else (p.hx, p.hy)
    low = int(line.min()) - moves[-1]
    high = int(line.max()) - moves[0]
    c0, c1 = int(across.min()), int(across.max())
    cells = np.full((high - low + 1, c1 - c0 + 1), -1, dtype=np.int64)
    union = _Union(n_strips * len(moves))
    for t, move in enumerate(moves):
        ids = p.hstrip + n_strips * t
        rows, cols = line - move - low, across - c0
        there = cells[rows, cols]
        fresh = there < 0
        cells[rows[fresh], cols[fresh]] = ids[fresh]
        for a, b in set(zip(there[~fresh].tolist(), ids[~fresh].tolist(), strict=True)):
            union.join(a, b)
    roots = np.array([union.root(i) for i in range(n_strips * len(moves))])
    for t in range(len(moves)):
        if len(set(roots[n_strips * t : n_strips * (t + 1)].tolist())) < n_strips:
            return None  # two strips of the board would become one
    names, table = np.unique(roots, return_inverse=True)
    table = table.reshape(len(moves), n_strips).astype(np.int64)
    strip_at = np.where(cells >= 0, table.reshape(-1)[np.maximum(cells, 0)], -1)
    room = np.zeros(len(names), np.int64)
    for own in table:
        np.maximum.at(room, own, p.slen)
    of_board = np.where((table == table[0]).all(axis=0), table[0], -1)
    return Frame(p, anchor, strip_at, room, axis, of_board, table, tuple(moves), (low, c0))
