"""Compiled: how far wishes that tie parts together are from being kept."""

from __future__ import annotations

import math

from placer.solve.bodies import pin_hole
from placer.solve.compiled import inner
from placer.solve.layout import (
    EDGE,
    HX,
    HY,
    ITEM_PINS,
    N_HOLES,
    PLACED,
    WISH_A,
    WISH_B,
    WISH_ITEM,
    WISH_KIND,
    WISH_LIMIT,
    WISH_PIN,
    Ints,
)


@inner
def price_wish(w: Ints, s: Ints, q: int) -> int:
    """How far a wish is from being kept, in steps (0: kept)."""
    a0, an = w[w[WISH_A] + 2 * q], w[w[WISH_A] + 2 * q + 1]
    b0, bn = w[w[WISH_B] + 2 * q], w[w[WISH_B] + 2 * q + 1]
    if w[w[WISH_KIND] + q] == 2:
        some = False
        for t in range(a0, a0 + an):
            i = w[w[WISH_ITEM] + t]
            some = some or s[w[PLACED] + i] == 1
            if (
                s[w[PLACED] + i]
                and w[w[EDGE] + w[N_HOLES] * (w[w[WISH_PIN] + q]) + pin_hole(w, s, i, w[w[ITEM_PINS] + i] - 1)]
            ):
                return 0
        return 2 if some else 0
    least = 1 << 40
    for t in range(a0, a0 + an):
        i = w[w[WISH_ITEM] + t]
        if s[w[PLACED] + i] == 0:
            continue
        for k in range(w[w[ITEM_PINS] + i]):
            h = pin_hole(w, s, i, k)
            for u in range(b0, b0 + bn):
                j = w[w[WISH_ITEM] + u]
                if s[w[PLACED] + j] == 0:
                    continue
                lo, hi = 0, w[w[ITEM_PINS] + j]
                if w[w[WISH_KIND] + q] == 0:
                    lo, hi = w[w[WISH_PIN] + q], w[w[WISH_PIN] + q] + 1
                for m in range(lo, hi):
                    g = pin_hole(w, s, j, m)
                    d = (w[w[HX] + h] - w[w[HX] + g]) ** 2 + (w[w[HY] + h] - w[w[HY] + g]) ** 2
                    least = min(least, d)
    if least == 1 << 40:
        return 0
    if w[w[WISH_KIND] + q] == 0:
        if least * 1000000 <= w[w[WISH_LIMIT] + q]:
            return 0
        return 1 + int(math.sqrt(least) - math.sqrt(w[w[WISH_LIMIT] + q] / 1e6))
    if least * 1000000 >= w[w[WISH_LIMIT] + q]:
        return 0
    return 1 + int(math.sqrt(w[w[WISH_LIMIT] + q] / 1e6) - math.sqrt(least))
