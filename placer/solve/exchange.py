"""Two strips change places with all that stands on them: what single moves, each dearer, cannot come to.

Only strips that something which is liked tells apart: for the cost one is as good as the other.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from placer.solve.arrays import Places
from placer.solve.problem import Problem


def exchanges(p: Problem, places: Places) -> Iterator[Places]:
    """Places with what is on one strip on another and the other way round, for each two strips where all parts can."""
    leads = [_leads(p, i, place) for i, place in enumerate(places)]
    on: dict[int, set[int]] = {}
    for i, holes in enumerate(leads):
        for hole in holes:
            on.setdefault(int(p.hstrip[hole]), set()).add(i)
    held = [
        [int(hole) for hole in range(start, start + length)]
        for start, length in zip(p.sstart.tolist(), p.slen.tolist(), strict=True)
    ]
    liked = [frozenset(wish.holes) for wish in p.preferred if wish.holes]
    kinds = [tuple(not holes.isdisjoint(strip) for holes in liked) for strip in held]
    for one, other in itertools.combinations(range(len(held)), 2):
        concerned = on.get(one, set()) | on.get(other, set())
        if concerned and kinds[one] != kinds[other] and len(held[one]) == len(held[other]):
            goes = dict(zip(held[one], held[other], strict=True)) | dict(zip(held[other], held[one], strict=True))
            found = {i: _place(p, i, places[i][0], [goes.get(hole, hole) for hole in leads[i]]) for i in concerned}
            moved = {i: place for i, place in found.items() if place is not None}
            if len(moved) == len(found):
                yield tuple(moved.get(i, place) for i, place in enumerate(places))


def _leads(p: Problem, i: int, place: tuple[int, int]) -> list[int]:
    shape, anchor = place
    x, y = int(p.hx[anchor]), int(p.hy[anchor])
    return [p.hole(x + dx, y + dy) for dx, dy in p.items[i].shapes[shape].offsets]


def _place(p: Problem, i: int, shape: int, holes: list[int]) -> tuple[int, int] | None:
    """How an item has its leads in these holes, mounted as it is now where that is possible; None where it cannot."""
    item = p.items[i]
    at = [(int(p.hx[hole]), int(p.hy[hole])) for hole in holes]
    for s in sorted(range(len(item.shapes)), key=lambda s: (item.shapes[s].mount != item.shapes[shape].mount, s)):
        offsets = item.shapes[s].offsets
        x, y = at[0][0] - offsets[0][0], at[0][1] - offsets[0][1]
        if all((x + dx, y + dy) == there for (dx, dy), there in zip(offsets, at, strict=True)):
            anchor = p.hole(x, y)
            if anchor in item.ways[s]:
                return s, anchor
    return None
