"""Compiled: how far wishes that tie pins together, or that need not be kept, are from being kept."""

from __future__ import annotations

import math

from placer.solve.bodies import pin_hole
from placer.solve.compiled import inner
from placer.solve.layout import (
    ANCHOR,
    COVER,
    HX,
    HY,
    ITEM_SHAPE,
    N_HOLES,
    OCC,
    PLACED,
    RAISED,
    SHAPE,
    WISH_A,
    WISH_B,
    WISH_FORCE,
    WISH_ITEM,
    WISH_K,
    WISH_KIND,
    WISH_LIMIT,
    WISH_MASK,
    WISH_TERM,
    Ints,
)


@inner
def off_mask(w: Ints, s: Ints, q: int, kind: int) -> int:
    """Of the wishes about certain holes: 0 where kept, else about how much is wrong. Kinds as in aims.py."""
    a0, an = w[w[WISH_A] + 2 * q], w[w[WISH_A] + 2 * q + 1]
    b0, bn = w[w[WISH_B] + 2 * q], w[w[WISH_B] + 2 * q + 1]
    mask = w[w[WISH_MASK] + q]
    on, off, strange = 0, 0, 0
    for t in range(a0, b0 + bn):
        i = w[w[WISH_ITEM] + t]
        if s[w[PLACED] + i]:
            good = w[mask + pin_hole(w, s, i, w[w[WISH_K] + t])]
            if t >= a0 + an:
                strange += good
            else:
                on += good
                off += 1 - good
    if kind == 3:
        return int(off)
    return int(strange + (2 if on == 0 and off > 0 else 0))


@inner
def off_pose(w: Ints, s: Ints, q: int, kind: int) -> int:
    """Of the wishes about shapes: how many items have another shape than wished for, or than most."""
    a0, an = w[w[WISH_A] + 2 * q], w[w[WISH_A] + 2 * q + 1]
    mask = w[w[WISH_MASK] + q]
    n0, n1, n2, n3 = 0, 0, 0, 0
    for t in range(a0, a0 + an):
        i = w[w[WISH_ITEM] + t]
        if s[w[PLACED] + i]:
            what = w[mask + s[w[SHAPE] + i]]
            n0 += 1 if what == 0 else 0
            n1 += 1 if what == 1 else 0
            n2 += 1 if what == 2 else 0
            n3 += 1 if what == 3 else 0
    if kind == 6:
        return n0
    return n0 + n1 + n2 + n3 - max(max(n0, n1), max(n2, n3))


@inner
def off_front(w: Ints, s: Ints, q: int) -> int:
    """Of the wish to face an edge: 0 where nothing is in front, else how many holes there are taken, or 1."""
    i = w[w[WISH_ITEM] + w[w[WISH_A] + 2 * q]]
    if s[w[PLACED] + i] == 0:
        return 0
    mask = w[w[WISH_MASK] + q]
    begin = w[mask + w[N_HOLES] * (s[w[SHAPE] + i] - w[w[ITEM_SHAPE] + 2 * i]) + s[w[ANCHOR] + i]]
    if begin == 0:
        return 1
    taken = 0
    for t in range(mask + begin + 1, mask + begin + 1 + w[mask + begin]):
        if s[w[OCC] + w[t]] >= 0 or s[w[COVER] + w[t]] > 0:
            taken += 1
    return int(taken)


@inner
def off_distance(w: Ints, s: Ints, q: int, kind: int) -> int:
    """Of the wishes about distances: how many steps are missing."""
    a0, an = w[w[WISH_A] + 2 * q], w[w[WISH_A] + 2 * q + 1]
    b0, bn = w[w[WISH_B] + 2 * q], w[w[WISH_B] + 2 * q + 1]
    limit = w[w[WISH_LIMIT] + q]
    least = 1 << 40
    x0, y0, x1, y1 = 1 << 30, 1 << 30, -(1 << 30), -(1 << 30)
    for t in range(a0, a0 + an):
        i = w[w[WISH_ITEM] + t]
        if s[w[PLACED] + i] == 0:
            continue
        h = pin_hole(w, s, i, w[w[WISH_K] + t])
        x, y = w[w[HX] + h], w[w[HY] + h]
        x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
        for u in range(b0, b0 + bn):
            j = w[w[WISH_ITEM] + u]
            if s[w[PLACED] + j]:
                g = pin_hole(w, s, j, w[w[WISH_K] + u])
                least = min(least, (x - w[w[HX] + g]) ** 2 + (y - w[w[HY] + g]) ** 2)
    if kind == 4:
        side = max(0, max(x1 - x0, y1 - y0))
        return 0 if side * side * 1000000 <= limit else 1 + int(side - math.sqrt(limit / 1e6))
    if least == 1 << 40:
        return 0
    if kind == 0:
        return 0 if least * 1000000 <= limit else 1 + int(math.sqrt(least) - math.sqrt(limit / 1e6))
    return 0 if least * 1000000 >= limit else 1 + int(math.sqrt(limit / 1e6) - math.sqrt(least))


@inner
def price_wish(w: Ints, s: Ints, q: int) -> int:
    """What a wish adds to its total: steps off where it binds, else its force (thousandths) and a little for steps."""
    kind = w[w[WISH_KIND] + q]
    if kind == 2 or kind == 3 or kind == 5:
        off = off_mask(w, s, q, kind)
    elif kind == 8:
        off = off_front(w, s, q)
    elif kind >= 6:
        off = off_pose(w, s, q, kind)
    else:
        off = off_distance(w, s, q, kind)
    force = w[w[WISH_FORCE] + q]
    if off == 0 or force == 0:
        return int(off)
    if kind == 7:
        return int(force * off)
    if w[w[WISH_TERM] + q] == RAISED:
        return int(force)
    return int(force * (20 + min(off - 1, 20)) // 20)
