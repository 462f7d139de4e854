"""A board of long strips as lines: which way they run, how many there are, how long they are, which cannot be cut."""

from __future__ import annotations

from dataclasses import dataclass

from placer.solve.problem import Problem


@dataclass(frozen=True)
class Lines:
    """The board as lines: ``axis`` 1 when they run in x. ``gap``: holes from the end of a segment to the next one.

    ``whole``: lines that cannot be cut.
    """

    axis: int
    count: int
    holes: int
    gap: int
    whole: frozenset[int]


def lines_of(p: Problem) -> Lines | None:
    """The board as lines, or None when it is none."""
    if (p.cell < 0).any():
        return None
    height, width = p.cell.shape
    for axis, count, holes in ((1, height, width), (0, width, height)):
        line = p.hy - p.y0 if axis else p.hx - p.x0
        if len(p.slen) != count or (p.slen != holes).any():
            continue
        first = line[p.sstart]
        if (line != first[p.hstrip]).any() or any(
            p.severable(s) and not _in_order(p, s, axis) for s in range(len(p.slen))
        ):
            continue
        whole = frozenset(int(first[s]) for s in range(len(p.slen)) if not p.severable(s))
        return Lines(axis, count, holes, 1 if p.cut_between.any() else 2, whole)
    return None


def _in_order(p: Problem, s: int, axis: int) -> bool:
    along = (p.hx if axis else p.hy)[p.sstart[s] : p.sstart[s] + p.slen[s]]
    step = along[1:] - along[:-1]
    return bool((step == 1).all() or (step == -1).all())
