"""Reasons by counting: more pins than a strip holds, pins that one part puts on one strip, more nets than strips."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from placer.solve.problem import Problem


@dataclass(frozen=True)
class Pieces:
    """A net needs at least ``least`` pieces of copper; ``longest``: holes of the longest strip it can have."""

    pins: int
    least: int
    jumpers: int
    longest: int


def pieces_needed(p: Problem, net: int, without: frozenset[int] = frozenset()) -> Pieces:
    """Pieces of copper and jumpers that a net must have, strips ``without`` being closed to it.

    k pieces are joined by k - 1 wires, less the joins made inside parts, and each wire takes two holes besides the
    pins'. A net that no strips can hold is said to need one more piece than there are strips.
    """
    pins = sum(item.nets.count(net) for item in p.items)
    joins = sum(1 for i, k, _, _ in p.joins if p.items[i].nets[k] == net)
    lengths = sorted((int(n) for s, n in enumerate(p.slen) if s not in without), reverse=True)
    room = 0
    for k, length in enumerate(lengths, 1):
        room += length
        wires = max(0, k - 1 - joins)
        if room >= pins + 2 * wires:
            return Pieces(pins, k, wires, lengths[0])
    return Pieces(pins, len(lengths) + 1, max(0, len(lengths) - joins), lengths[0] if lengths else 0)


def own_cuts(p: Problem, i: int) -> int:
    """Fewest cuts between an item's own pins, whichever way it stands on the empty board."""
    item = p.items[i]
    least: int | None = None
    for shape, way in zip(item.shapes, item.ways, strict=True):
        if not len(way):
            continue
        at = np.stack([p.cell[p.hy[way] - p.y0 + dy, p.hx[way] - p.x0 + dx] for dx, dy in shape.offsets], axis=1)
        order = np.argsort(at, axis=1)
        holes = np.take_along_axis(at, order, axis=1)
        nets = np.array(item.nets)[order]
        same = p.hstrip[holes[:, 1:]] == p.hstrip[holes[:, :-1]]
        changes = same & (nets[:, 1:] != nets[:, :-1])
        firm = changes & ~(p.cut_at | p.cut_between)[p.hstrip[holes[:, 1:]]]
        counts = changes.sum(axis=1)[~firm.any(axis=1)]
        if len(counts):
            least = int(counts.min()) if least is None else min(least, int(counts.min()))
    return least or 0


def nets_and_strips(p: Problem) -> tuple[int, int]:
    """Nets and open pins that need copper of their own, and strips of the board."""
    used = set(itertools.chain.from_iterable(item.nets for item in p.items))
    return len(used), len(p.slen)
