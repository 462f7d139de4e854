"""Copper as a path: the order of holes along it."""

from __future__ import annotations

from collections.abc import Sequence


def along_copper(holes: Sequence[str], links: Sequence[tuple[str, str]]) -> tuple[str, ...] | None:
    """Return the holes in the order the copper visits them, or None when it branches, closes on itself or breaks.

    The path begins at the end that stands first in ``holes``.

    >>> along_copper(["a", "b", "c"], [("c", "a"), ("b", "c")])
    ('a', 'c', 'b')
    """
    beside: dict[str, list[str]] = {hole: [] for hole in holes}
    for one, other in {tuple(sorted(link)) for link in links}:
        beside[one].append(other)
        beside[other].append(one)
    ends = [hole for hole in holes if len(beside[hole]) <= 1]
    if not ends or any(len(near) > 2 for near in beside.values()):
        return None
    order, seen = [ends[0]], {ends[0]}
    while True:
        onward = [hole for hole in beside[order[-1]] if hole not in seen]
        if not onward:
            break
        order.append(onward[0])
        seen.add(onward[0])
    return tuple(order) if len(order) == len(holes) else None
