"""Closed chains of a few parts, each sharing a strip with the next: worth asking before anything is proposed."""

from __future__ import annotations

from collections.abc import Iterator

from placer.solve.claims import Claim, Pin
from placer.solve.problem import Problem

MOST_PINS = 12  # of a net; larger ones lie on rails, if they can
MOST_CHAINS = 4_000


def chains(p: Problem, most_parts: int = 3) -> list[Claim]:
    """Claims that the parts of a closed chain share strips as it goes round; short chains first.

    In a chain each part is entered by one pin and left by another.
    """
    pins: dict[int, list[Pin]] = {}
    for i, item in enumerate(p.items):
        for k, n in enumerate(item.nets):
            pins.setdefault(n, []).append((i, k))
    near = {
        (i, k): [q for q in pins[n] if q[0] != i] if len(pins[n]) <= MOST_PINS else []
        for i, item in enumerate(p.items)
        for k, n in enumerate(item.nets)
    }
    found: dict[Claim, None] = {}
    for first in range(len(p.items)):
        for k in range(len(p.items[first].nets)):
            for shared in _round(p, near, ((first, k),), (), most_parts):
                claim = _claim(shared)
                if claim is not None:
                    found.setdefault(claim)
                if len(found) >= MOST_CHAINS:
                    break
    return sorted(found, key=lambda c: len(c.items))


def _round(
    p: Problem, near: dict[Pin, list[Pin]], left: tuple[Pin, ...], shared: tuple[tuple[Pin, Pin], ...], most: int
) -> Iterator[tuple[tuple[Pin, Pin], ...]]:
    """Ways to go on from the last pin of ``left`` and come back to the first part, by a pin other than the first."""
    out = left[-1]
    for q in near[out]:
        j, m = q
        if j == left[0][0]:
            if len(left) > 1 and q != left[0]:
                yield (*shared, (out, q))
        elif j > left[0][0] and all(j != i for i, _ in left) and len(left) < most:
            for k in range(len(p.items[j].nets)):
                if k != m:
                    yield from _round(p, near, (*left, (j, k)), (*shared, (out, q)), most)


def _claim(shared: tuple[tuple[Pin, Pin], ...]) -> Claim | None:
    """The claim that these pairs share strips; None where all of them are on one."""
    groups: list[set[Pin]] = []
    for pair in shared:
        met = [g for g in groups if not g.isdisjoint(pair)]
        groups = [g for g in groups if g.isdisjoint(pair)] + [set(pair).union(*met)]
    if len(groups) < 2:
        return None
    own = tuple(sorted((frozenset(g) for g in groups), key=sorted))
    return Claim(frozenset(i for g in own for i, _ in g), own)
