"""Two rails change places with all that stands on them: what single moves, each dearer, cannot come to."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from placer.solve.arrays import Places
from placer.solve.problem import Problem


def swaps(p: Problem, places: Places) -> Iterator[Places]:
    """Places with what is on one rail on another and the other way round, for each two rails where all parts can."""
    rails = [strip.holes for strip in p.board.strips if strip.rail]
    number = {address: hole for hole, address in enumerate(p.addresses)}
    for one, other in itertools.combinations(rails, 2):
        if len(one) == len(other):
            goes = {number[a]: number[b] for pair in zip(one, other, strict=True) for a, b in (pair, pair[::-1])}
            swapped = _swapped(p, places, goes)
            if swapped is not None and swapped != places:
                yield swapped


def _swapped(p: Problem, places: Places, goes: dict[int, int]) -> Places | None:
    """The places with leads in other holes, None where a part cannot follow."""
    found = []
    for i, (shape, anchor) in enumerate(places):
        x, y = int(p.hx[anchor]), int(p.hy[anchor])
        holes = [p.hole(x + dx, y + dy) for dx, dy in p.items[i].shapes[shape].offsets]
        wanted = [goes.get(hole, hole) for hole in holes]
        place = (shape, anchor) if wanted == holes else _place(p, i, shape, wanted)
        if place is None:
            return None
        found.append(place)
    return tuple(found)


def _place(p: Problem, i: int, shape: int, holes: list[int]) -> tuple[int, int] | None:
    """How an item has its leads in these holes, lying as it does now where that is possible."""
    item = p.items[i]
    at = [(int(p.hx[hole]), int(p.hy[hole])) for hole in holes]
    likest = sorted(range(len(item.shapes)), key=lambda s: (item.shapes[s].mount != item.shapes[shape].mount, s))
    for s in likest:
        offsets = item.shapes[s].offsets
        x, y = at[0][0] - offsets[0][0], at[0][1] - offsets[0][1]
        if all((x + dx, y + dy) == there for (dx, dy), there in zip(offsets, at, strict=True)):
            anchor = p.hole(x, y)
            if anchor in item.ways[s]:
                return s, anchor
    return None
