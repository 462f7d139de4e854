"""The board seen from one part: strips by their place relative to an anchor.

A plan may stand anywhere along a board that repeats itself. Seen from one of its parts (the anchor), all those plans
fall together: the frame overlays the board's strips for every row (or column) that the anchor's first pin may take.
Pins that share a strip on the board share one in the frame and pins on different strips stay apart, so what a plan
costs is not changed; a strip of the frame holds at least what the board's does. A bound proved in the frame therefore
holds for the whole board. Where overlaying would melt two strips into one, the board itself is the frame.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from placer.solve.arrays import covered
from placer.solve.problem import Ints, Problem

FAR = 0  # strip number of everything outside the window


Spots = list[list[tuple[Ints, Ints]]]
"""For each item and shape: lines and cross positions (indices of ``strip_at``) of the first pin."""


@dataclass(frozen=True)
class Frame:
    """Strips of the frame and, for each item, the sets of strips its pins can take.

    ``keys[item]``: array [placement class, pin] of strip numbers. ``takes[item]``: for each class the strips that the
    item's body covers holes of, a strip once for each hole, padded with -1. ``room[strip]``: most leads and wire ends
    it can hold. ``exact``: no window; then strip FAR is not used.
    """

    anchor: int
    n_strips: int
    room: Ints
    keys: tuple[Ints, ...]
    takes: tuple[Ints, ...]
    exact: bool
    strip_at: Ints  # [line, across] strip numbers, -1: no hole
    spots: Spots
    axis: int  # 1: lines are rows (y), 0: lines are columns (x)
    length: Ints  # [strip] holes on the board's own strip
    of_board: Ints  # [board strip] its strip in the frame, -1 where that depends on where the anchor stands
    shifts: Ints  # [place of the anchor, board strip] the strip in the frame that it then is


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
    if half is None:
        return False
    if any(q.kind == 2 and q.b_pin != 4 for q in p.wishes):  # a wish for one named edge
        return False
    done: set[int] = set()
    for item in p.items:
        by_rotation = {}
        for shape, way in zip(item.shapes, item.ways, strict=True):
            by_rotation[shape.offsets] = set(way.tolist())
        signature = hash((tuple(sorted((k, len(v)) for k, v in by_rotation.items())), item.shapes))
        free = all(len(w) == len(item.ways[0]) for w in item.ways) and len(item.ways[0]) == len(p.hx)
        if free or signature in done:
            continue
        for offsets, holes in by_rotation.items():
            turned = tuple((-x, -y) for x, y in offsets)
            if {int(half[h]) for h in holes} != by_rotation.get(turned, set()):
                return False
        if not any(part.place.at or part.place.side for part in p.circuit.parts):
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


def frame(p: Problem, anchor: int, window: int | None, items: frozenset[int] | None = None) -> Frame | None:
    """The frame of an anchor. ``window``: strips farther than this from the anchor's line become one far strip.

    ``items``: the only ones whose places are wanted; then ``keys`` and ``takes`` are left empty.
    None when the board cannot be overlaid along either axis and a window is asked for.
    """
    item = p.items[anchor]
    for axis in (1, 0):
        line = p.hy if axis else p.hx
        shifts = sorted({int(line[h]) for way in item.ways for h in way.tolist()})
        if len(shifts) < 2:
            continue
        found = _overlay(p, anchor, axis, shifts, window, items)
        if found is not None:
            return found
    if window is not None:
        return None
    return _plain(p, anchor, items)


def _plain(p: Problem, anchor: int, items: frozenset[int] | None) -> Frame:
    strip_at = np.where(p.cell >= 0, p.hstrip[np.maximum(p.cell, 0)] + 1, -1)
    spots = [[(p.hy[way] - p.y0, p.hx[way] - p.x0) for way in item.ways] for item in p.items]
    keys, takes = _classes(p, strip_at, spots, 1) if items is None else ((), ())
    room = np.concatenate([[1 << 20], p.slen]).astype(np.int64)
    return Frame(
        anchor,
        len(p.slen) + 1,
        room,
        keys,
        takes,
        True,
        strip_at,
        spots,
        1,
        room,
        np.arange(1, len(p.slen) + 1),
        np.arange(1, len(p.slen) + 1)[None, :],
    )


def _classes(p: Problem, strip_at: Ints, spots: Spots, axis: int) -> tuple[tuple[Ints, ...], tuple[Ints, ...]]:
    """Distinct (strips of the pins, strips under the body) of each item, over its shapes and the spots of each."""
    height, width = strip_at.shape
    all_keys, all_takes = [], []
    for item, at in zip(p.items, spots, strict=True):
        n = len(item.pins)
        covers = [covered(shape) for shape in item.shapes]
        most = max(map(len, covers))
        rows = []
        for shape, cover, (r, c) in zip(item.shapes, covers, at, strict=True):
            if len(r) == 0:
                continue
            row = np.full((len(r), n + most), -1, np.int64)
            for k, o in enumerate([*shape.offsets, *cover]):
                y, x = r + o[axis], c + o[1 - axis]
                inside = (y >= 0) & (y < height) & (x >= 0) & (x < width)
                row[:, k] = np.where(inside, strip_at[np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)], -1)
            row[:, n:] = np.sort(row[:, n:], axis=1)
            rows.append(np.unique(row, axis=0))
        both = np.unique(np.concatenate(rows), axis=0) if rows else np.empty((0, n + most), np.int64)
        all_keys.append(both[:, :n])
        all_takes.append(both[:, n:])
    return tuple(all_keys), tuple(all_takes)


def _overlay(
    p: Problem, anchor: int, axis: int, shifts: list[int], window: int | None, items: frozenset[int] | None
) -> Frame | None:
    n_strips = len(p.slen)
    line, across = (p.hy, p.hx) if axis else (p.hx, p.hy)
    low = int(line.min()) - shifts[-1]
    high = int(line.max()) - shifts[0]
    c0, c1 = int(across.min()), int(across.max())
    cells = np.full((high - low + 1, c1 - c0 + 1), -1, dtype=np.int64)
    union = _Union(n_strips * len(shifts))
    for t, shift in enumerate(shifts):
        ids = p.hstrip + n_strips * t
        rows, cols = line - shift - low, across - c0
        there = cells[rows, cols]
        fresh = there < 0
        cells[rows[fresh], cols[fresh]] = ids[fresh]
        for a, b in set(zip(there[~fresh].tolist(), ids[~fresh].tolist(), strict=True)):
            union.join(a, b)
    roots = np.array([union.root(i) for i in range(n_strips * len(shifts))])
    for t in range(len(shifts)):
        if len(set(roots[n_strips * t : n_strips * (t + 1)].tolist())) < n_strips:
            return None  # two strips of the board would become one
    strip_at = np.where(cells >= 0, roots[np.maximum(cells, 0)], -1)
    names, strip_at_no = np.unique(strip_at, return_inverse=True)
    strip_at = strip_at_no.reshape(strip_at.shape) - (1 if names[0] < 0 else 0)
    count = int(strip_at.max()) + 1
    room = np.zeros(count, np.int64)
    number = {int(r): i for i, r in enumerate(n for n in names.tolist() if n >= 0)}
    for t in range(len(shifts)):
        own = np.array([number[int(r)] for r in roots[n_strips * t : n_strips * (t + 1)]])
        np.maximum.at(room, own, p.slen)
    keep = np.ones(count, dtype=bool)
    if window is not None:
        keep[:] = False
        reach = [o[axis] for s in p.items[anchor].shapes for o in s.offsets]
        top, bottom = min(reach) - window, max(reach) + window
        for row in range(max(low, top), min(high, bottom) + 1):
            inside = strip_at[row - low]
            keep[inside[inside >= 0]] = True
    renumber = np.full(count + 1, FAR, dtype=np.int64)
    renumber[:-1][keep] = np.arange(1, int(keep.sum()) + 1)
    renumber[-1] = -1  # index -1: no hole there
    strip_at = renumber[strip_at]
    table = roots.reshape(len(shifts), n_strips)
    of_board = np.array([renumber[number[int(c[0])]] if (c == c[0]).all() else -1 for c in table.T], dtype=np.int64)
    in_frame = np.array([[renumber[number[int(r)]] for r in row] for row in table], dtype=np.int64)
    spots: Spots = []
    for i, item in enumerate(p.items):
        own_spots = []
        for way in item.ways if items is None or i in items else ():
            mask: npt.NDArray[np.bool_] = np.zeros(cells.shape, dtype=bool)
            if i == anchor:
                mask[-low, across[way] - c0] = True
            else:
                for shift in shifts:
                    mask[line[way] - shift - low, across[way] - c0] = True
            r, c = np.nonzero(mask)
            own_spots.append((r.astype(np.int64), c.astype(np.int64)))
        spots.append(own_spots)
    keys, takes = _classes(p, strip_at, spots, axis) if items is None else ((), ())
    sizes = np.concatenate([[1 << 20], room[keep]]).astype(np.int64)
    return Frame(
        anchor, len(sizes), sizes, keys, takes, window is None, strip_at, spots, axis, sizes, of_board, in_frame
    )
