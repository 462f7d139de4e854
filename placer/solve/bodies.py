"""Compiled: what stands where on the board, and what gets in each other's way."""

from __future__ import annotations

import numpy as np

from placer.solve.compiled import inner, lowest
from placer.solve.layout import (
    ANCHOR,
    AT,
    BAND_SHIFT,
    BAND_W,
    BAND_X,
    BAND_Y,
    BANDS_X,
    BANDS_Y,
    BOUND,
    BOX,
    CELL,
    CELL_H,
    CELL_W,
    COV,
    COVER,
    HSTRIP,
    HX,
    HY,
    ITEM_NET,
    ITEM_PINS,
    ITEM_SHIFT,
    LIST_NET,
    LIST_STRIP,
    MARK_NET,
    MARK_STRIP,
    N_HOLES,
    N_NETS_TOUCHED,
    N_STRIPS_TOUCHED,
    NET_W,
    NET_XY,
    OCC,
    OFF,
    PLACED,
    SHAPE,
    SHAPE_BOX,
    SHAPE_COVER,
    SHAPE_PIN,
    SHAPE_SLANT,
    SLANT,
    STAMP,
    VALID,
    X0,
    Y0,
    Floats,
    Ints,
)


@inner
def hole_of(w: Ints, x: int, y: int) -> int:
    """The hole at a grid position, or -1."""
    gx = x - w[X0]
    gy = y - w[Y0]
    if gx < 0 or gy < 0 or gy >= w[CELL_H] or gx >= w[CELL_W]:
        return -1
    return int(w[w[CELL] + w[CELL_W] * gy + gx])


@inner
def pin_hole(w: Ints, s: Ints, item: int, k: int) -> int:
    """The hole that an item's pin stands in."""
    pin = w[w[SHAPE_PIN] + s[w[SHAPE] + item]] + k
    return int(w[w[CELL] + w[w[AT] + s[w[ANCHOR] + item]] + w[w[OFF] + pin]])


@inner
def touch_strip(w: Ints, s: Ints, strip: int) -> None:
    """Mark a strip for scanning, once a move."""
    if s[w[MARK_STRIP] + strip] != s[STAMP]:
        s[w[MARK_STRIP] + strip] = s[STAMP]
        s[w[LIST_STRIP] + s[N_STRIPS_TOUCHED]] = strip
        s[N_STRIPS_TOUCHED] += 1


@inner
def touch_net(w: Ints, s: Ints, net: int) -> None:
    """Mark a net for pricing, once a move."""
    if s[w[MARK_NET] + net] != s[STAMP]:
        s[w[MARK_NET] + net] = s[STAMP]
        s[w[LIST_NET] + s[N_NETS_TOUCHED]] = net
        s[N_NETS_TOUCHED] += 1


@inner
def rectangle(w: Ints, shape: int, t: int, x: int, y: int, r: Floats) -> None:
    """The t-th rectangle of a shape's body at (x, y) um: centre, unit vector, half length, half width into ``r``."""
    if w[w[SHAPE_SLANT] + 2 * shape + 1] > 0:
        b = w[SLANT] + 6 * (w[w[SHAPE_SLANT] + 2 * shape] + t)
        r[0], r[1] = x + w[b] / 1e3, y + w[b + 1] / 1e3
        r[2], r[3] = w[b + 2] / 1e9, w[b + 3] / 1e9
        r[4], r[5] = w[b + 4] / 1e3, w[b + 5] / 1e3
    else:
        b = w[BOX] + 4 * (w[w[SHAPE_BOX] + 2 * shape] + t)
        r[0], r[1] = x + (w[b] + w[b + 2]) / 2, y + (w[b + 1] + w[b + 3]) / 2
        r[2], r[3] = 1.0, 0.0
        r[4], r[5] = (w[b + 2] - w[b]) / 2, (w[b + 3] - w[b + 1]) / 2


@inner
def slanted_meet(w: Ints, sa: int, xa: int, ya: int, sb: int, xb: int, yb: int) -> bool:
    """True when two bodies, at least one off the axes, overlap with positive area (separating axes)."""
    a = np.empty(6)
    b = np.empty(6)
    na = max(w[w[SHAPE_SLANT] + 2 * sa + 1], 0)
    nb = max(w[w[SHAPE_SLANT] + 2 * sb + 1], 0)
    if na == 0:
        na = w[w[SHAPE_BOX] + 2 * sa + 1]
    if nb == 0:
        nb = w[w[SHAPE_BOX] + 2 * sb + 1]
    for i in range(na):
        rectangle(w, sa, i, xa, ya, a)
        for j in range(nb):
            rectangle(w, sb, j, xb, yb, b)
            dx = b[0] - a[0]
            dy = b[1] - a[1]
            apart = False
            for axis in range(4):
                ux, uy = (a[2], a[3]) if axis < 2 else (b[2], b[3])
                if axis % 2 == 1:
                    ux, uy = -uy, ux
                reach = abs(ux * a[2] + uy * a[3]) * a[4] + abs(uy * a[2] - ux * a[3]) * a[5]
                reach += abs(ux * b[2] + uy * b[3]) * b[4] + abs(uy * b[2] - ux * b[3]) * b[5]
                # A hair on the safe side: the judge calls any overlap of positive area a fault.
                if abs(dx * ux + dy * uy) >= reach + 1e-4:
                    apart = True
                    break
            if not apart:
                return True
    return False


@inner
def bands(w: Ints, x0: int, y0: int, x1: int, y1: int) -> tuple[int, int, int, int]:
    """The first and last band in x, then in y, that a rectangle (um) reaches into; what is off the board is at its rim.

    Where there is nothing, and the rectangle ends before it begins, no band or a few too many.
    """
    x, y = w[X0] * 2540, w[Y0] * 2540
    far, low = w[BANDS_X] - 1, w[BANDS_Y] - 1
    return (
        min(max((x0 - x) >> BAND_SHIFT, 0), far),
        min(max((x1 - x) >> BAND_SHIFT, 0), far),
        min(max((y0 - y) >> BAND_SHIFT, 0), low),
        min(max((y1 - y) >> BAND_SHIFT, 0), low),
    )


@inner
def change_bands(w: Ints, s: Ints, i: int) -> None:
    """Note that an item stands where its bounds say now, or where it was noted that it no longer does."""
    own = w[BOUND] + 4 * i
    left, right, top, bottom = bands(w, s[own], s[own + 1], s[own + 2], s[own + 3])
    words, word, bit = w[BAND_W], i >> ITEM_SHIFT, 1 << (i & ((1 << ITEM_SHIFT) - 1))
    for band in range(left, right + 1):
        at = w[BAND_X] + words * band + word
        s[at] ^= bit
    for band in range(top, bottom + 1):
        at = w[BAND_Y] + words * band + word
        s[at] ^= bit


@inner
def overlap(w: Ints, s: Ints, i: int) -> int:
    """Conflicts of a placed item with all other placed items: leads under bodies, bodies on bodies."""
    found = 0
    shape = s[w[SHAPE] + i]
    a = s[w[ANCHOR] + i]
    at = w[CELL] + w[w[AT] + a]
    cover = w[COVER]
    p0 = w[OFF] + w[w[SHAPE_PIN] + shape]
    for p in range(p0, p0 + w[w[ITEM_PINS] + i]):
        found += s[cover + w[at + w[p]]]
    c0 = w[COV] + w[w[SHAPE_COVER] + 2 * shape]
    for c in range(c0, c0 + w[w[SHAPE_COVER] + 2 * shape + 1]):
        h = w[at + w[c]]
        if h >= 0 and s[w[OCC] + h] >= 0:
            found += 1
    if w[w[SHAPE_BOX] + 2 * shape + 1] == 0:
        return found
    bound = w[BOUND]
    own = bound + 4 * i
    m0, m1, m2, m3 = s[own], s[own + 1], s[own + 2], s[own + 3]
    left, right, top, bottom = bands(w, m0, m1, m2, m3)
    words = w[BAND_W]
    for word in range(words):
        beside = 0
        for band in range(left, right + 1):
            beside |= s[w[BAND_X] + words * band + word]
        level = 0
        for band in range(top, bottom + 1):
            level |= s[w[BAND_Y] + words * band + word]
        near = beside & level
        while near != 0:
            bit = lowest(near)
            near &= near - 1
            j = (word << ITEM_SHIFT) + bit
            o = bound + 4 * j
            if s[o] >= m2 or s[o + 2] <= m0 or s[o + 1] >= m3 or s[o + 3] <= m1 or j == i:
                continue
            found += meet(w, s, i, j)
    return found


@inner
def meet(w: Ints, s: Ints, i: int, j: int) -> int:
    """1 where the bodies of two placed items are in each other's way, else 0."""
    shape, other = s[w[SHAPE] + i], s[w[SHAPE] + j]
    b0, d0 = w[BOX] + 4 * w[w[SHAPE_BOX] + 2 * shape], w[BOX] + 4 * w[w[SHAPE_BOX] + 2 * other]
    bn, dn = w[w[SHAPE_BOX] + 2 * shape + 1], w[w[SHAPE_BOX] + 2 * other + 1]
    ax, ay = w[w[HX] + s[w[ANCHOR] + i]] * 2540, w[w[HY] + s[w[ANCHOR] + i]] * 2540
    jx, jy = w[w[HX] + s[w[ANCHOR] + j]] * 2540, w[w[HY] + s[w[ANCHOR] + j]] * 2540
    for b in range(b0, b0 + 4 * bn, 4):
        for d in range(d0, d0 + 4 * dn, 4):
            if (
                ax + w[b] < jx + w[d + 2]
                and ax + w[b + 2] > jx + w[d]
                and ay + w[b + 1] < jy + w[d + 3]
                and ay + w[b + 3] > jy + w[d + 1]
            ):
                if w[w[SHAPE_SLANT] + 2 * shape + 1] > 0 or w[w[SHAPE_SLANT] + 2 * other + 1] > 0:
                    return 1 if slanted_meet(w, shape, ax, ay, other, jx, jy) else 0
                return 1
    return 0


@inner
def lift(w: Ints, s: Ints, i: int) -> None:
    """Take an item off the board (strips and nets are brought up to date later)."""
    shape = s[w[SHAPE] + i]
    at = w[CELL] + w[w[AT] + s[w[ANCHOR] + i]]
    p0 = w[OFF] + w[w[SHAPE_PIN] + shape]
    net = w[ITEM_NET] + w[NET_W] * i
    for k in range(w[w[ITEM_PINS] + i]):
        h = w[at + w[p0 + k]]
        x = w[w[HX] + h]
        y = w[w[HY] + h]
        s[w[OCC] + h] = -1
        n = w[NET_XY] + 4 * w[net + k]
        s[n] -= 1
        s[n + 1] -= x
        s[n + 2] -= y
        s[n + 3] -= x * x + y * y
    c0 = w[COV] + w[w[SHAPE_COVER] + 2 * shape]
    for c in range(c0, c0 + w[w[SHAPE_COVER] + 2 * shape + 1]):
        h = w[at + w[c]]
        if h >= 0:
            s[w[COVER] + h] -= 1
    s[w[PLACED] + i] = 0
    change_bands(w, s, i)


@inner
def may_lie(w: Ints, shape: int, a: int) -> bool:
    """True when an item may lie in a shape with its first pin in hole ``a``, on an empty board."""
    bit = w[N_HOLES] * shape + a
    return bool(w[w[VALID] + (bit >> 6)] >> (bit & 63) & 1)


@inner
def fits(w: Ints, s: Ints, i: int, shape: int, a: int) -> bool:
    """True when every hole that the item's leads need is there and empty."""
    if not may_lie(w, shape, a):
        return False
    at = w[CELL] + w[w[AT] + a]
    occ = w[OCC]
    p0 = w[OFF] + w[w[SHAPE_PIN] + shape]
    for p in range(p0, p0 + w[w[ITEM_PINS] + i]):  # noqa: SIM110 - numba compiles no generators
        if s[occ + w[at + w[p]]] >= 0:
            return False
    return True


@inner
def put(w: Ints, s: Ints, i: int, shape: int, a: int) -> None:
    """Put an item on the board; its holes must be empty."""
    s[w[SHAPE] + i] = shape
    s[w[ANCHOR] + i] = a
    at = w[CELL] + w[w[AT] + a]
    p0 = w[OFF] + w[w[SHAPE_PIN] + shape]
    net = w[ITEM_NET] + w[NET_W] * i
    for k in range(w[w[ITEM_PINS] + i]):
        h = w[at + w[p0 + k]]
        x = w[w[HX] + h]
        y = w[w[HY] + h]
        s[w[OCC] + h] = i * 64 + k
        n = w[NET_XY] + 4 * w[net + k]
        s[n] += 1
        s[n + 1] += x
        s[n + 2] += y
        s[n + 3] += x * x + y * y
    c0 = w[COV] + w[w[SHAPE_COVER] + 2 * shape]
    for c in range(c0, c0 + w[w[SHAPE_COVER] + 2 * shape + 1]):
        h = w[at + w[c]]
        if h >= 0:
            s[w[COVER] + h] += 1
    s[w[PLACED] + i] = 1
    x0 = 1 << 40
    y0 = 1 << 40
    x1 = -(1 << 40)
    y1 = -(1 << 40)
    b0 = w[BOX] + 4 * w[w[SHAPE_BOX] + 2 * shape]
    for b in range(b0, b0 + 4 * w[w[SHAPE_BOX] + 2 * shape + 1], 4):
        x0 = min(x0, w[b])
        y0 = min(y0, w[b + 1])
        x1 = max(x1, w[b + 2])
        y1 = max(y1, w[b + 3])
    own = w[BOUND] + 4 * i
    s[own] = w[w[HX] + a] * 2540 + x0
    s[own + 1] = w[w[HY] + a] * 2540 + y0
    s[own + 2] = w[w[HX] + a] * 2540 + x1
    s[own + 3] = w[w[HY] + a] * 2540 + y1
    change_bands(w, s, i)


@inner
def touch_item(w: Ints, s: Ints, i: int, shape: int, a: int) -> None:
    """Mark every strip and net that an item at this place bears on."""
    at = w[CELL] + w[w[AT] + a]
    p0 = w[OFF] + w[w[SHAPE_PIN] + shape]
    net = w[ITEM_NET] + w[NET_W] * i
    for k in range(w[w[ITEM_PINS] + i]):
        touch_strip(w, s, w[w[HSTRIP] + w[at + w[p0 + k]]])
        touch_net(w, s, w[net + k])
    c0 = w[COV] + w[w[SHAPE_COVER] + 2 * shape]
    for c in range(c0, c0 + w[w[SHAPE_COVER] + 2 * shape + 1]):
        h = w[at + w[c]]
        if h >= 0:
            touch_strip(w, s, w[w[HSTRIP] + h])
