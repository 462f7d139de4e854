"""The compiled local search: moves parts on the board with exact incremental cost.

The cost of a state is

    jumper cost x sum over nets of (components - 1)  +  cut cost x cuts  +  penalties  +  a little wire length

where a strip that may be severed falls into one segment per run of equal nets, a strip that may not counts its minority
pins as shorts, and a net of k > 1 components needs a free hole on each and 2 (k - 1) in all (its wire ends).

All data live in three flat arrays, since passing many arrays from one compiled function to the next costs more than the
work itself: ``w`` (the world, never changes), ``s`` (the state, whole numbers) and ``f`` (the state's totals and each
net's share of them). The first entries of ``w`` say where each table starts: ``w[w[HX] + hole]`` is a hole's x, and
``s[w[OCC] + hole]`` tells what stands in it. :mod:`placer.solve.arrays` lays the tables out.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from numba import njit

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# Totals: the first entries of ``f``, and of every list of weights.
JUMPERS, CUTS, SHORTS, OVERLAPS, WIRELESS, DEFICIT, WISHES, LENGTH = range(8)
# The first entries of ``s``: a stamp that tells this move's marks from older ones, and how much it has touched.
STAMP, N_STRIPS_TOUCHED, N_NETS_TOUCHED = range(3)
MAX_MOVED = 24

# Header of ``w``: sizes and strides, then the start of each table in ``w``, in ``s`` and in ``f``.
# fmt: off
(
    N_ITEMS, N_HOLES, N_MOVABLE, N_RIGID, CELL_W, CELL_H, X0, Y0, NET_W, SEG_W, SCRATCH_W, JUNCTION,
) = range(12)
(
    HX, HY, HSTRIP, SSTART, SLEN, CUT_AT, CUT_BETWEEN, ITEM_PINS, SHAPE_PIN, OFF_X, OFF_Y, COV_X,
    COV_Y, WAY, PIN_ITEM, PIN_K, WISH_KIND, WISH_ITEM, WISH_PIN, WISH_LIMIT, WISH_OF, MOVABLE,
    RIGID, CELL, ITEM_SHAPE, ITEM_NET, SHAPE_BOX, BOX, SHAPE_COVER, SHAPE_WAY, VALID, NET_PIN,
    NET_JOIN, JOIN, WISH_A, WISH_B, ITEM_WISH, EDGE,
) = range(12, 50)
(
    SHAPE, ANCHOR, PLACED, OCC, COVER, SEG_N, STRIP_CUTS, STRIP_SHORTS, NET_SEG, NET_DRY, NET_FREE,
    WISH_COST, MARK_STRIP, MARK_NET, LIST_STRIP, LIST_NET, SAVE_N, BOUND, SEG_NET, SEG_FREE, SEG_LO,
    SEG_HI, NET_XY, SAVE_CS, SCRATCH, SAVE_SEG,
) = range(50, 76)
(
    NET_COST, SAVE_NET,
) = range(76, 78)
HEADER = 78
# fmt: on


@njit(cache=True, nogil=True)
def hole_of(w: Ints, x: int, y: int) -> int:
    """The hole at a grid position, or -1."""
    gx = x - w[X0]
    gy = y - w[Y0]
    if gx < 0 or gy < 0 or gy >= w[CELL_H] or gx >= w[CELL_W]:
        return -1
    return int(w[w[CELL] + w[CELL_W] * gy + gx])


@njit(cache=True, nogil=True)
def pin_hole(w: Ints, s: Ints, item: int, k: int) -> int:
    """The hole that an item's pin stands in."""
    base = w[w[SHAPE_PIN] + s[w[SHAPE] + item]] + k
    a = s[w[ANCHOR] + item]
    return hole_of(w, w[w[HX] + a] + w[w[OFF_X] + base], w[w[HY] + a] + w[w[OFF_Y] + base])


@njit(cache=True, nogil=True)
def touch_strip(w: Ints, s: Ints, strip: int) -> None:
    """Mark a strip for scanning, once a move."""
    if s[w[MARK_STRIP] + strip] != s[STAMP]:
        s[w[MARK_STRIP] + strip] = s[STAMP]
        s[w[LIST_STRIP] + s[N_STRIPS_TOUCHED]] = strip
        s[N_STRIPS_TOUCHED] += 1


@njit(cache=True, nogil=True)
def touch_net(w: Ints, s: Ints, net: int) -> None:
    """Mark a net for pricing, once a move."""
    if s[w[MARK_NET] + net] != s[STAMP]:
        s[w[MARK_NET] + net] = s[STAMP]
        s[w[LIST_NET] + s[N_NETS_TOUCHED]] = net
        s[N_NETS_TOUCHED] += 1


@njit(cache=True, nogil=True)
def overlap(w: Ints, s: Ints, i: int) -> int:
    """Conflicts of a placed item with all other placed items: leads under bodies, bodies on bodies."""
    found = 0
    shape = s[w[SHAPE] + i]
    a = s[w[ANCHOR] + i]
    base = w[w[SHAPE_PIN] + shape]
    for k in range(w[w[ITEM_PINS] + i]):
        found += s[w[COVER] + hole_of(w, w[w[HX] + a] + w[w[OFF_X] + base + k], w[w[HY] + a] + w[w[OFF_Y] + base + k])]
    c0, cn = w[w[SHAPE_COVER] + 2 * shape], w[w[SHAPE_COVER] + 2 * shape + 1]
    for c in range(c0, c0 + cn):
        h = hole_of(w, w[w[HX] + a] + w[w[COV_X] + c], w[w[HY] + a] + w[w[COV_Y] + c])
        if h >= 0 and s[w[OCC] + h] >= 0:
            found += 1
    b0, bn = w[w[SHAPE_BOX] + 2 * shape], w[w[SHAPE_BOX] + 2 * shape + 1]
    if bn == 0:
        return found
    ax = w[w[HX] + a] * 2540
    ay = w[w[HY] + a] * 2540
    m0, m1, m2, m3 = s[w[BOUND] + 4 * i], s[w[BOUND] + 4 * i + 1], s[w[BOUND] + 4 * i + 2], s[w[BOUND] + 4 * i + 3]
    for j in range(w[N_ITEMS]):
        if j == i or s[w[PLACED] + j] == 0:
            continue
        if (
            s[w[BOUND] + 4 * j] >= m2
            or s[w[BOUND] + 4 * j + 2] <= m0
            or s[w[BOUND] + 4 * j + 1] >= m3
            or s[w[BOUND] + 4 * j + 3] <= m1
        ):
            continue
        other = s[w[SHAPE] + j]
        d0, dn = w[w[SHAPE_BOX] + 2 * other], w[w[SHAPE_BOX] + 2 * other + 1]
        jx = w[w[HX] + s[w[ANCHOR] + j]] * 2540
        jy = w[w[HY] + s[w[ANCHOR] + j]] * 2540
        hit = False
        for b in range(b0, b0 + bn):
            for d in range(d0, d0 + dn):
                if (
                    ax + w[w[BOX] + 4 * b] < jx + w[w[BOX] + 4 * d + 2]
                    and ax + w[w[BOX] + 4 * b + 2] > jx + w[w[BOX] + 4 * d]
                    and ay + w[w[BOX] + 4 * b + 1] < jy + w[w[BOX] + 4 * d + 3]
                    and ay + w[w[BOX] + 4 * b + 3] > jy + w[w[BOX] + 4 * d + 1]
                ):
                    hit = True
                    break
            if hit:
                break
        if hit:
            found += 1
    return found


@njit(cache=True, nogil=True)
def lift(w: Ints, s: Ints, i: int) -> None:
    """Take an item off the board (strips and nets are brought up to date later)."""
    shape = s[w[SHAPE] + i]
    a = s[w[ANCHOR] + i]
    base = w[w[SHAPE_PIN] + shape]
    for k in range(w[w[ITEM_PINS] + i]):
        x = w[w[HX] + a] + w[w[OFF_X] + base + k]
        y = w[w[HY] + a] + w[w[OFF_Y] + base + k]
        s[w[OCC] + hole_of(w, x, y)] = -1
        n = w[w[ITEM_NET] + w[NET_W] * i + k]
        s[w[NET_XY] + 4 * n] -= 1
        s[w[NET_XY] + 4 * n + 1] -= x
        s[w[NET_XY] + 4 * n + 2] -= y
        s[w[NET_XY] + 4 * n + 3] -= x * x + y * y
    c0, cn = w[w[SHAPE_COVER] + 2 * shape], w[w[SHAPE_COVER] + 2 * shape + 1]
    for c in range(c0, c0 + cn):
        h = hole_of(w, w[w[HX] + a] + w[w[COV_X] + c], w[w[HY] + a] + w[w[COV_Y] + c])
        if h >= 0:
            s[w[COVER] + h] -= 1
    s[w[PLACED] + i] = 0


@njit(cache=True, nogil=True)
def fits(w: Ints, s: Ints, i: int, shape: int, a: int) -> bool:
    """True when every hole that the item's leads need is there and empty."""
    if w[w[VALID] + w[N_HOLES] * shape + a] == 0:
        return False
    base = w[w[SHAPE_PIN] + shape]
    for k in range(w[w[ITEM_PINS] + i]):
        if s[w[OCC] + hole_of(w, w[w[HX] + a] + w[w[OFF_X] + base + k], w[w[HY] + a] + w[w[OFF_Y] + base + k])] >= 0:
            return False
    return True


@njit(cache=True, nogil=True)
def put(w: Ints, s: Ints, i: int, shape: int, a: int) -> None:
    """Put an item on the board; its holes must be empty."""
    s[w[SHAPE] + i] = shape
    s[w[ANCHOR] + i] = a
    base = w[w[SHAPE_PIN] + shape]
    for k in range(w[w[ITEM_PINS] + i]):
        x = w[w[HX] + a] + w[w[OFF_X] + base + k]
        y = w[w[HY] + a] + w[w[OFF_Y] + base + k]
        s[w[OCC] + hole_of(w, x, y)] = i * 64 + k
        n = w[w[ITEM_NET] + w[NET_W] * i + k]
        s[w[NET_XY] + 4 * n] += 1
        s[w[NET_XY] + 4 * n + 1] += x
        s[w[NET_XY] + 4 * n + 2] += y
        s[w[NET_XY] + 4 * n + 3] += x * x + y * y
    c0, cn = w[w[SHAPE_COVER] + 2 * shape], w[w[SHAPE_COVER] + 2 * shape + 1]
    for c in range(c0, c0 + cn):
        h = hole_of(w, w[w[HX] + a] + w[w[COV_X] + c], w[w[HY] + a] + w[w[COV_Y] + c])
        if h >= 0:
            s[w[COVER] + h] += 1
    s[w[PLACED] + i] = 1
    b0, bn = w[w[SHAPE_BOX] + 2 * shape], w[w[SHAPE_BOX] + 2 * shape + 1]
    ax = w[w[HX] + a] * 2540
    ay = w[w[HY] + a] * 2540
    s[w[BOUND] + 4 * i] = 1 << 40
    s[w[BOUND] + 4 * i + 1] = 1 << 40
    s[w[BOUND] + 4 * i + 2] = -(1 << 40)
    s[w[BOUND] + 4 * i + 3] = -(1 << 40)
    for b in range(b0, b0 + bn):
        s[w[BOUND] + 4 * i] = min(s[w[BOUND] + 4 * i], ax + w[w[BOX] + 4 * b])
        s[w[BOUND] + 4 * i + 1] = min(s[w[BOUND] + 4 * i + 1], ay + w[w[BOX] + 4 * b + 1])
        s[w[BOUND] + 4 * i + 2] = max(s[w[BOUND] + 4 * i + 2], ax + w[w[BOX] + 4 * b + 2])
        s[w[BOUND] + 4 * i + 3] = max(s[w[BOUND] + 4 * i + 3], ay + w[w[BOX] + 4 * b + 3])


@njit(cache=True, nogil=True)
def touch_item(w: Ints, s: Ints, i: int, shape: int, a: int) -> None:
    """Mark every strip and net that an item at this place bears on."""
    base = w[w[SHAPE_PIN] + shape]
    for k in range(w[w[ITEM_PINS] + i]):
        touch_strip(
            w,
            s,
            w[w[HSTRIP] + hole_of(w, w[w[HX] + a] + w[w[OFF_X] + base + k], w[w[HY] + a] + w[w[OFF_Y] + base + k])],
        )
        touch_net(w, s, w[w[ITEM_NET] + w[NET_W] * i + k])
    c0, cn = w[w[SHAPE_COVER] + 2 * shape], w[w[SHAPE_COVER] + 2 * shape + 1]
    for c in range(c0, c0 + cn):
        h = hole_of(w, w[w[HX] + a] + w[w[COV_X] + c], w[w[HY] + a] + w[w[COV_Y] + c])
        if h >= 0:
            touch_strip(w, s, w[w[HSTRIP] + h])


@njit(cache=True, nogil=True)
def retract(w: Ints, s: Ints, f: Floats, strip: int) -> None:
    """Take a strip's segments out of the nets' sums."""
    for k in range(s[w[SEG_N] + strip]):
        n = s[w[SEG_NET] + w[SEG_W] * strip + k]
        touch_net(w, s, n)
        s[w[NET_SEG] + n] -= 1
        s[w[NET_FREE] + n] -= s[w[SEG_FREE] + w[SEG_W] * strip + k]
        if s[w[SEG_FREE] + w[SEG_W] * strip + k] == 0:
            s[w[NET_DRY] + n] -= 1
    f[CUTS] -= s[w[STRIP_CUTS] + strip]
    f[SHORTS] -= s[w[STRIP_SHORTS] + strip]


@njit(cache=True, nogil=True)
def enter(w: Ints, s: Ints, f: Floats, strip: int) -> None:
    """Add a strip's segments to the nets' sums."""
    for k in range(s[w[SEG_N] + strip]):
        n = s[w[SEG_NET] + w[SEG_W] * strip + k]
        touch_net(w, s, n)
        s[w[NET_SEG] + n] += 1
        s[w[NET_FREE] + n] += s[w[SEG_FREE] + w[SEG_W] * strip + k]
        if s[w[SEG_FREE] + w[SEG_W] * strip + k] == 0:
            s[w[NET_DRY] + n] += 1
    f[CUTS] += s[w[STRIP_CUTS] + strip]
    f[SHORTS] += s[w[STRIP_SHORTS] + strip]


@njit(cache=True, nogil=True)
def share_gap(w: Ints, s: Ints, strip: int, n_seg: int, net: int, gap: int) -> int:
    """How many of a gap's free holes go to the run on its left: to the net that needs wire ends, else half."""
    last = w[SEG_W] * strip + n_seg - 1
    wants_left = s[w[NET_SEG] + s[w[SEG_NET] + last]] > 0
    wants_right = s[w[NET_SEG] + net] > 0
    if wants_left != wants_right:
        return gap if wants_left else 0
    if gap == 1 and s[w[SEG_FREE] + last] == 0:
        return 1
    return gap // 2


@njit(cache=True, nogil=True)
def scan(w: Ints, s: Ints, strip: int) -> None:
    """Work out a strip's segments, cuts and shorts from the pins on it."""
    h0 = w[w[SSTART] + strip]
    length = w[w[SLEN] + strip]
    n_seg = 0
    shorts = 0
    cuts = 0
    if w[w[CUT_AT] + strip] == 0 and w[w[CUT_BETWEEN] + strip] == 0:
        free = 0
        pins = 0
        for p in range(length):
            o = s[w[OCC] + h0 + p]
            if o < 0:
                if s[w[COVER] + h0 + p] == 0:
                    free += 1
                continue
            pins += 1
            n = w[w[ITEM_NET] + w[NET_W] * (o >> 6) + (o & 63)]
            known = False
            for k in range(n_seg):
                if s[w[SEG_NET] + w[SEG_W] * strip + k] == n:
                    s[w[SEG_HI] + w[SEG_W] * strip + k] += 1
                    known = True
                    break
            if not known:
                s[w[SEG_NET] + w[SEG_W] * strip + n_seg] = n
                s[w[SEG_LO] + w[SEG_W] * strip + n_seg] = 0
                s[w[SEG_HI] + w[SEG_W] * strip + n_seg] = 1
                n_seg += 1
        most = 0
        for k in range(n_seg):
            most = max(most, s[w[SEG_HI] + w[SEG_W] * strip + k])
            s[w[SEG_FREE] + w[SEG_W] * strip + k] = free
            s[w[SEG_HI] + w[SEG_W] * strip + k] = length
        shorts = pins - most
    else:
        last_net = -1
        last_pos = -1
        gap = 0  # free, uncovered holes since the last pin
        hid = 0  # free but covered
        before = 0  # the first, as far as the first of the second
        for p in range(length):
            o = s[w[OCC] + h0 + p]
            if o < 0:
                if s[w[COVER] + h0 + p] == 0:
                    gap += 1
                    if hid == 0:
                        before = gap
                else:
                    hid += 1
                continue
            n = w[w[ITEM_NET] + w[NET_W] * (o >> 6) + (o & 63)]
            if n == last_net:
                s[w[SEG_FREE] + w[SEG_W] * strip + n_seg - 1] += gap
                s[w[SEG_HI] + w[SEG_W] * strip + n_seg - 1] = p
            else:
                left = 0
                if n_seg > 0:
                    cuts += 1
                    left = share_gap(w, s, strip, n_seg, n, gap)
                    if w[w[CUT_BETWEEN] + strip] == 0:
                        if p - last_pos < 2:
                            shorts += 1
                            cuts -= 1
                        elif hid > 0 and (gap < 2 or (before > 0 and gap > before)):
                            left = before  # drill under a body: no free hole is lost, the split is where it is
                        else:
                            gap -= 1
                            left = share_gap(w, s, strip, n_seg, n, gap)
                    s[w[SEG_FREE] + w[SEG_W] * strip + n_seg - 1] += left
                s[w[SEG_NET] + w[SEG_W] * strip + n_seg] = n
                s[w[SEG_LO] + w[SEG_W] * strip + n_seg] = p
                s[w[SEG_HI] + w[SEG_W] * strip + n_seg] = p
                s[w[SEG_FREE] + w[SEG_W] * strip + n_seg] = gap - left
                n_seg += 1
                last_net = n
            last_pos = p
            gap = 0
            hid = 0
            before = 0
        if n_seg > 0:
            s[w[SEG_FREE] + w[SEG_W] * strip + n_seg - 1] += gap
    s[w[SEG_N] + strip] = n_seg
    s[w[STRIP_CUTS] + strip] = cuts
    s[w[STRIP_SHORTS] + strip] = shorts


@njit(cache=True, nogil=True)
def joined_net(w: Ints, s: Ints, n: int) -> tuple[int, int, int]:
    """(components, components without a free hole, free holes) of a net that has joins inside parts."""
    n_seg = 0
    for q in range(w[w[NET_PIN] + 2 * n], w[w[NET_PIN] + 2 * n] + w[w[NET_PIN] + 2 * n + 1]):
        i = w[w[PIN_ITEM] + q]
        if s[w[PLACED] + i] == 0:
            continue
        key, free = segment_of(w, s, n, pin_hole(w, s, i, w[w[PIN_K] + q]))
        known = False
        for t in range(n_seg):
            if s[w[SCRATCH] + w[SCRATCH_W] * 0 + t] == key:
                known = True
                break
        if not known:
            s[w[SCRATCH] + w[SCRATCH_W] * 0 + n_seg] = key
            s[w[SCRATCH] + w[SCRATCH_W] * 1 + n_seg] = n_seg
            s[w[SCRATCH] + w[SCRATCH_W] * 2 + n_seg] = free
            n_seg += 1
    for j in range(w[w[NET_JOIN] + 2 * n], w[w[NET_JOIN] + 2 * n] + w[w[NET_JOIN] + 2 * n + 1]):
        if s[w[PLACED] + w[w[JOIN] + 4 * j]] == 0 or s[w[PLACED] + w[w[JOIN] + 4 * j + 2]] == 0:
            continue
        ka, _ = segment_of(w, s, n, pin_hole(w, s, w[w[JOIN] + 4 * j], w[w[JOIN] + 4 * j + 1]))
        kb, _ = segment_of(w, s, n, pin_hole(w, s, w[w[JOIN] + 4 * j + 2], w[w[JOIN] + 4 * j + 3]))
        ca = -1
        cb = -1
        for t in range(n_seg):
            if s[w[SCRATCH] + w[SCRATCH_W] * 0 + t] == ka:
                ca = s[w[SCRATCH] + w[SCRATCH_W] * 1 + t]
            if s[w[SCRATCH] + w[SCRATCH_W] * 0 + t] == kb:
                cb = s[w[SCRATCH] + w[SCRATCH_W] * 1 + t]
        if ca != cb:
            for t in range(n_seg):
                if s[w[SCRATCH] + w[SCRATCH_W] * 1 + t] == cb:
                    s[w[SCRATCH] + w[SCRATCH_W] * 1 + t] = ca
    comps = 0
    dry = 0
    total = 0
    for t in range(n_seg):
        total += s[w[SCRATCH] + w[SCRATCH_W] * 2 + t]
        first = True
        for u in range(t):
            if s[w[SCRATCH] + w[SCRATCH_W] * 1 + u] == s[w[SCRATCH] + w[SCRATCH_W] * 1 + t]:
                first = False
                break
        if first:
            comps += 1
            free = 0
            for u in range(t, n_seg):
                if s[w[SCRATCH] + w[SCRATCH_W] * 1 + u] == s[w[SCRATCH] + w[SCRATCH_W] * 1 + t]:
                    free += s[w[SCRATCH] + w[SCRATCH_W] * 2 + u]
            if free == 0:
                dry += 1
    return comps, dry, total


@njit(cache=True, nogil=True)
def segment_of(w: Ints, s: Ints, n: int, h: int) -> tuple[int, int]:
    """(key, free holes) of the segment of net n that hole h lies on."""
    strip = w[w[HSTRIP] + h]
    p = h - w[w[SSTART] + strip]
    for k in range(s[w[SEG_N] + strip]):
        if (
            s[w[SEG_NET] + w[SEG_W] * strip + k] == n
            and s[w[SEG_LO] + w[SEG_W] * strip + k] <= p <= s[w[SEG_HI] + w[SEG_W] * strip + k]
        ):
            return strip * 1024 + k, s[w[SEG_FREE] + w[SEG_W] * strip + k]
    return strip * 1024 + 1023, 0


@njit(cache=True, nogil=True)
def price_net(w: Ints, s: Ints, f: Floats, n: int) -> None:
    """Bring a net's share of the totals up to date."""
    for c in range(4):
        f[(JUMPERS, WIRELESS, DEFICIT, LENGTH)[c]] -= f[w[NET_COST] + 4 * n + c]
    comps = s[w[NET_SEG] + n]
    dry = s[w[NET_DRY] + n]
    free = s[w[NET_FREE] + n]
    if w[w[NET_JOIN] + 2 * n + 1] > 0:
        comps, dry, free = joined_net(w, s, n)
    if comps > 1:
        f[w[NET_COST] + 4 * n] = comps - 1
        f[w[NET_COST] + 4 * n + 1] = dry
        short = max(0, 2 * (comps - 1) - free)
        if short > 0 and w[JUNCTION] > 0:  # empty strips as junctions lend holes, a jumper each
            f[w[NET_COST] + 4 * n] += (short + w[JUNCTION] - 1) // w[JUNCTION]
            short = 0
        f[w[NET_COST] + 4 * n + 2] = short
        m = s[w[NET_XY] + 4 * n]
        var = s[w[NET_XY] + 4 * n + 3] / m - (s[w[NET_XY] + 4 * n + 1] / m) ** 2 - (s[w[NET_XY] + 4 * n + 2] / m) ** 2
        f[w[NET_COST] + 4 * n + 3] = (comps - 1) * np.sqrt(max(0.0, var))
    else:
        f[w[NET_COST] + 4 * n] = 0
        f[w[NET_COST] + 4 * n + 1] = 0
        f[w[NET_COST] + 4 * n + 2] = 0
        f[w[NET_COST] + 4 * n + 3] = 0
    for c in range(4):
        f[(JUMPERS, WIRELESS, DEFICIT, LENGTH)[c]] += f[w[NET_COST] + 4 * n + c]


@njit(cache=True, nogil=True)
def price_wish(w: Ints, s: Ints, q: int) -> int:
    """How far a wish is from being kept, in steps (0: kept)."""
    a0, an = w[w[WISH_A] + 2 * q], w[w[WISH_A] + 2 * q + 1]
    b0, bn = w[w[WISH_B] + 2 * q], w[w[WISH_B] + 2 * q + 1]
    if w[w[WISH_KIND] + q] == 2:
        some = False
        for t in range(a0, a0 + an):
            i = w[w[WISH_ITEM] + t]
            some = some or s[w[PLACED] + i] == 1
            if s[w[PLACED] + i] and w[w[EDGE] + w[N_HOLES] * (w[w[WISH_PIN] + q]) + pin_hole(w, s, i, 0)]:
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
        return 1 + int(np.sqrt(least) - np.sqrt(w[w[WISH_LIMIT] + q] / 1e6))
    if least * 1000000 >= w[w[WISH_LIMIT] + q]:
        return 0
    return 1 + int(np.sqrt(w[w[WISH_LIMIT] + q] / 1e6) - np.sqrt(least))


@njit(cache=True, nogil=True)
def energy(tot: Floats, weight: Floats) -> float:
    """The weighted sum of the totals."""
    e = 0.0
    for c in range(8):
        e += tot[c] * weight[c]
    return e


@njit(cache=True, nogil=True)
def refresh(w: Ints, s: Ints, f: Floats, n_moved: int, moved: Ints) -> None:
    """Bring strips, nets and wishes up to date after items have moved; remembers what was there before."""
    for t in range(s[N_STRIPS_TOUCHED]):
        strip = s[w[LIST_STRIP] + t]
        n = s[w[SEG_N] + strip]
        s[w[SAVE_N] + t] = n
        for k in range(n):
            s[w[SAVE_SEG] + w[SEG_W] * (4 * t + 0) + k] = s[w[SEG_NET] + w[SEG_W] * strip + k]
            s[w[SAVE_SEG] + w[SEG_W] * (4 * t + 1) + k] = s[w[SEG_FREE] + w[SEG_W] * strip + k]
            s[w[SAVE_SEG] + w[SEG_W] * (4 * t + 2) + k] = s[w[SEG_LO] + w[SEG_W] * strip + k]
            s[w[SAVE_SEG] + w[SEG_W] * (4 * t + 3) + k] = s[w[SEG_HI] + w[SEG_W] * strip + k]
        s[w[SAVE_CS] + 2 * t] = s[w[STRIP_CUTS] + strip]
        s[w[SAVE_CS] + 2 * t + 1] = s[w[STRIP_SHORTS] + strip]
        retract(w, s, f, strip)
        scan(w, s, strip)
        enter(w, s, f, strip)
    for t in range(s[N_NETS_TOUCHED]):
        n = s[w[LIST_NET] + t]
        for c in range(4):
            f[w[SAVE_NET] + 4 * t + c] = f[w[NET_COST] + 4 * n + c]
        price_net(w, s, f, n)
    for t in range(n_moved):
        i = moved[t]
        for u in range(w[w[ITEM_WISH] + 2 * i], w[w[ITEM_WISH] + 2 * i] + w[w[ITEM_WISH] + 2 * i + 1]):
            q = w[w[WISH_OF] + u]
            f[WISHES] -= s[w[WISH_COST] + q]
            s[w[WISH_COST] + q] = price_wish(w, s, q)
            f[WISHES] += s[w[WISH_COST] + q]


@njit(cache=True, nogil=True)
def undo(
    w: Ints, s: Ints, f: Floats, n_moved: int, moved: Ints, old_shape: Ints, old_anchor: Ints, old_tot: Floats
) -> None:
    """Take the last move back, exactly."""
    for t in range(n_moved):
        lift(w, s, moved[t])
    for t in range(n_moved):
        if old_shape[t] >= 0:
            put(w, s, moved[t], old_shape[t], old_anchor[t])
    for t in range(s[N_STRIPS_TOUCHED]):
        strip = s[w[LIST_STRIP] + t]
        retract(w, s, f, strip)
        n = s[w[SAVE_N] + t]
        s[w[SEG_N] + strip] = n
        for k in range(n):
            s[w[SEG_NET] + w[SEG_W] * strip + k] = s[w[SAVE_SEG] + w[SEG_W] * (4 * t + 0) + k]
            s[w[SEG_FREE] + w[SEG_W] * strip + k] = s[w[SAVE_SEG] + w[SEG_W] * (4 * t + 1) + k]
            s[w[SEG_LO] + w[SEG_W] * strip + k] = s[w[SAVE_SEG] + w[SEG_W] * (4 * t + 2) + k]
            s[w[SEG_HI] + w[SEG_W] * strip + k] = s[w[SAVE_SEG] + w[SEG_W] * (4 * t + 3) + k]
        s[w[STRIP_CUTS] + strip] = s[w[SAVE_CS] + 2 * t]
        s[w[STRIP_SHORTS] + strip] = s[w[SAVE_CS] + 2 * t + 1]
        enter(w, s, f, strip)
    for t in range(s[N_NETS_TOUCHED]):
        n = s[w[LIST_NET] + t]
        for c in range(4):
            f[w[NET_COST] + 4 * n + c] = f[w[SAVE_NET] + 4 * t + c]
    for t in range(n_moved):
        i = moved[t]
        for u in range(w[w[ITEM_WISH] + 2 * i], w[w[ITEM_WISH] + 2 * i] + w[w[ITEM_WISH] + 2 * i + 1]):
            q = w[w[WISH_OF] + u]
            s[w[WISH_COST] + q] = price_wish(w, s, q)
    for c in range(8):
        f[c] = old_tot[c]


@njit(cache=True, nogil=True)
def try_move(
    w: Ints,
    s: Ints,
    f: Floats,
    n_moved: int,
    moved: Ints,
    new_shape: Ints,
    new_anchor: Ints,
    old_shape: Ints,
    old_anchor: Ints,
    old_tot: Floats,
    weight: Floats,
    limit: float,
) -> bool:
    """Move some items at once; keep the move when the energy rises by no more than ``limit``."""
    for c in range(8):
        old_tot[c] = f[c]
    for t in range(n_moved):
        i = moved[t]
        old_shape[t] = -1
        if s[w[PLACED] + i]:
            old_shape[t] = s[w[SHAPE] + i]
            old_anchor[t] = s[w[ANCHOR] + i]
            f[OVERLAPS] -= overlap(w, s, i)
            lift(w, s, i)
    done = 0
    for t in range(n_moved):
        i = moved[t]
        if not fits(w, s, i, new_shape[t], new_anchor[t]):
            break
        put(w, s, i, new_shape[t], new_anchor[t])
        f[OVERLAPS] += overlap(w, s, i)
        done += 1
    # What the other terms can win back is bounded by the jumpers and cuts at stake: a heavy overlap is refused early.
    if done < n_moved or (f[OVERLAPS] - old_tot[OVERLAPS]) * weight[OVERLAPS] > limit + 6.0 * n_moved:
        for t in range(done):
            lift(w, s, moved[t])
        for t in range(n_moved):
            if old_shape[t] >= 0:
                put(w, s, moved[t], old_shape[t], old_anchor[t])
        f[OVERLAPS] = old_tot[OVERLAPS]
        return False
    s[STAMP] += 1
    s[N_STRIPS_TOUCHED] = 0
    s[N_NETS_TOUCHED] = 0
    for t in range(n_moved):
        i = moved[t]
        if old_shape[t] >= 0:
            touch_item(w, s, i, old_shape[t], old_anchor[t])
        touch_item(w, s, i, new_shape[t], new_anchor[t])
    refresh(w, s, f, n_moved, moved)
    if energy(f, weight) - energy(old_tot, weight) <= limit:
        return True
    undo(w, s, f, n_moved, moved, old_shape, old_anchor, old_tot)
    return False


@njit(cache=True, nogil=True)
def anchor_for(w: Ints, shape: int, k: int, h: int) -> int:
    """The anchor hole that puts pin k of a shape into hole h, or -1."""
    base = w[w[SHAPE_PIN] + shape] + k
    a = hole_of(w, w[w[HX] + h] - w[w[OFF_X] + base], w[w[HY] + h] - w[w[OFF_Y] + base])
    if a >= 0 and w[w[VALID] + w[N_HOLES] * shape + a]:
        return a
    return -1


@njit(cache=True, nogil=True)
def holds(w: Ints, s: Ints, strip: int, net: int) -> bool:
    """True when a strip bears a segment of a net."""
    found = False
    for k in range(s[w[SEG_N] + strip]):
        found = found or s[w[SEG_NET] + w[SEG_W] * strip + k] == net
    return found


@njit(cache=True, nogil=True)
def partner_hole(w: Ints, s: Ints, i: int, k: int) -> int:
    """A random hole on a strip where another pin of pin k's net lies, or -1."""
    n = w[w[ITEM_NET] + w[NET_W] * i + k]
    m = w[w[NET_PIN] + 2 * n + 1]
    if m < 2:
        return -1
    for _ in range(4):
        q = w[w[NET_PIN] + 2 * n] + np.random.randint(m)
        j = w[w[PIN_ITEM] + q]
        if j == i or s[w[PLACED] + j] == 0:
            continue
        strip = w[w[HSTRIP] + pin_hole(w, s, j, w[w[PIN_K] + q])]
        if w[w[SLEN] + strip] > 8:  # on a long strip look near the partner most of the time
            g = pin_hole(w, s, j, w[w[PIN_K] + q]) - w[w[SSTART] + strip]
            p = np.random.randint(w[w[SLEN] + strip])
            if np.random.random() < 0.6:
                p = g + np.random.randint(-6, 7)
            p = min(max(p, 0), w[w[SLEN] + strip] - 1)
            return int(w[w[SSTART] + strip] + p)
        return int(w[w[SSTART] + strip] + np.random.randint(w[w[SLEN] + strip]))
    return -1


@njit(cache=True, nogil=True)
def random_place(w: Ints, i: int) -> tuple[int, int]:
    """Any place of an item, by chance: (shape, anchor)."""
    for _ in range(8):
        shape = w[w[ITEM_SHAPE] + 2 * i] + np.random.randint(w[w[ITEM_SHAPE] + 2 * i + 1])
        m = w[w[SHAPE_WAY] + 2 * shape + 1]
        if m > 0:
            return shape, w[w[WAY] + w[w[SHAPE_WAY] + 2 * shape] + np.random.randint(m)]
    return -1, -1


@njit(cache=True, nogil=True)
def propose(w: Ints, s: Ints, i: int, kind: float) -> tuple[int, int]:
    """A new place for one item: (shape, anchor), or (-1, -1)."""
    pins = w[w[ITEM_PINS] + i]
    n_shape = w[w[ITEM_SHAPE] + 2 * i + 1]
    s0 = w[w[ITEM_SHAPE] + 2 * i]
    if kind < 0.30 and pins >= 2:  # bridge: two leads onto strips that hold their nets
        k = np.random.randint(pins)
        h = partner_hole(w, s, i, k)
        if h < 0:
            return -1, -1
        first = np.random.randint(n_shape)
        for t in range(n_shape):
            shape = s0 + (first + t) % n_shape
            a = anchor_for(w, shape, k, h)
            if a < 0:
                continue
            for m in range(pins):
                if m != k and w[w[NET_PIN] + 2 * (w[w[ITEM_NET] + w[NET_W] * i + m]) + 1] > 1:
                    base = w[w[SHAPE_PIN] + shape] + m
                    g = hole_of(w, w[w[HX] + a] + w[w[OFF_X] + base], w[w[HY] + a] + w[w[OFF_Y] + base])
                    if (s[w[OCC] + g] < 0 or s[w[OCC] + g] >> 6 == i) and holds(
                        w, s, w[w[HSTRIP] + g], w[w[ITEM_NET] + w[NET_W] * i + m]
                    ):
                        return shape, a
        return -1, -1
    if kind < 0.62:  # jump to the strip of a partner
        k = np.random.randint(pins)
        h = partner_hole(w, s, i, k)
        if h < 0:
            return random_place(w, i)
        for _ in range(4):
            shape = s0 + np.random.randint(n_shape)
            a = anchor_for(w, shape, k, h)
            if a >= 0:
                return shape, a
        return -1, -1
    if s[w[PLACED] + i] and kind < 0.82:  # shift
        a = s[w[ANCHOR] + i]
        h = hole_of(w, w[w[HX] + a] + np.random.randint(-2, 3), w[w[HY] + a] + np.random.randint(-2, 3))
        if h >= 0 and w[w[VALID] + w[N_HOLES] * (s[w[SHAPE] + i]) + h]:
            return s[w[SHAPE] + i], h
        return -1, -1
    if s[w[PLACED] + i] and kind < 0.95:  # reshape about one pin
        k = np.random.randint(pins)
        h = pin_hole(w, s, i, k)
        shape = s0 + np.random.randint(n_shape)
        a = anchor_for(w, shape, k, h)
        if a >= 0:
            return shape, a
        return -1, -1
    return random_place(w, i)


@njit(cache=True, nogil=True)
def construct(w: Ints, s: Ints, f: Floats, order: Ints, tries: int, weight: Floats, seed: int) -> bool:
    """Place the items in order, each at the cheapest of ``tries`` drawn places. False when one finds no empty holes."""
    np.random.seed(seed)
    moved = np.empty(1, np.int64)
    ns = np.empty(1, np.int64)
    na = np.empty(1, np.int64)
    os_ = np.empty(1, np.int64)
    oa = np.empty(1, np.int64)
    ot = np.empty(8)
    best_tot = np.empty(8)
    for t in range(order.shape[0]):
        i = order[t]
        moved[0] = i
        best = 1e18
        bs = -1
        ba = -1
        tried = 0
        while tried < tries or (bs < 0 and tried < 40 * tries):
            tried += 1
            shape, a = propose(w, s, i, np.random.random() * (0.62 if tried < tries // 2 else 1.0))
            if shape < 0 or not fits(w, s, i, shape, a):
                continue
            ns[0] = shape
            na[0] = a
            if try_move(w, s, f, 1, moved, ns, na, os_, oa, ot, weight, 1e17):
                e = energy(f, weight)
                if e < best:
                    best = e
                    bs = shape
                    ba = a
                undo(w, s, f, 1, moved, os_, oa, ot)
        if bs < 0:
            return False
        ns[0] = bs
        na[0] = ba
        try_move(w, s, f, 1, moved, ns, na, os_, oa, best_tot, weight, 1e17)
    return True


@njit(cache=True, nogil=True)
def load(w: Ints, s: Ints, f: Floats, shape: Ints, anchor: Ints, weight: Floats) -> bool:
    """Put every item at a given place on an empty board. False when two leads would share a hole."""
    moved = np.empty(1, np.int64)
    ns = np.empty(1, np.int64)
    na = np.empty(1, np.int64)
    os_ = np.empty(1, np.int64)
    oa = np.empty(1, np.int64)
    ot = np.empty(8)
    for i in range(w[N_ITEMS]):
        moved[0] = i
        ns[0] = shape[i]
        na[0] = anchor[i]
        if not try_move(w, s, f, 1, moved, ns, na, os_, oa, ot, weight, 1e17):
            return False
    return True


@njit(cache=True, nogil=True)
def search(
    w: Ints,
    s: Ints,
    f: Floats,
    proposals: int,
    t_start: float,
    t_end: float,
    weight: Floats,
    seed: int,
    best_shape: Ints,
    best_anchor: Ints,
    best: Floats,
    stop_cost: float,
) -> int:
    """Anneal. ``best``: [cost, length] of the best legal state so far, kept in ``best_shape`` and ``best_anchor``.

    Returns the number of proposals made; stops early once a legal state costs ``stop_cost`` or less.
    """
    np.random.seed(seed)
    moved = np.empty(MAX_MOVED, np.int64)
    ns = np.empty(MAX_MOVED, np.int64)
    na = np.empty(MAX_MOVED, np.int64)
    os_ = np.empty(MAX_MOVED, np.int64)
    oa = np.empty(MAX_MOVED, np.int64)
    ot = np.empty(8)
    n_items = w[N_ITEMS]
    n_mov = w[N_MOVABLE]
    n_rigid = w[N_RIGID]
    if n_mov == 0:
        return 0
    temp = t_start
    for it in range(proposals):
        if it % 64 == 0:
            temp = t_start * (t_end / t_start) ** (it / proposals)
        limit = -temp * np.log(np.random.random() + 1e-300)
        i = w[w[MOVABLE] + np.random.randint(n_mov)]
        r = np.random.random()
        n_moved = 1
        moved[0] = i
        if r < 0.06:  # change places with another item of the same shapes
            j = w[w[MOVABLE] + np.random.randint(n_mov)]
            found = False
            for _ in range(6):
                if j != i and w[w[ITEM_SHAPE] + 2 * j] == w[w[ITEM_SHAPE] + 2 * i]:
                    found = True
                    break
                j = w[w[MOVABLE] + np.random.randint(n_mov)]
            if not found:
                continue
            n_moved = 2
            moved[1] = j
            ns[0], na[0], ns[1], na[1] = s[w[SHAPE] + j], s[w[ANCHOR] + j], s[w[SHAPE] + i], s[w[ANCHOR] + i]
        elif r < 0.09 and n_rigid > 0:  # a rigid part with its satellites
            i = w[w[RIGID] + np.random.randint(n_rigid)]
            a = s[w[ANCHOR] + i]
            dx = np.random.randint(-3, 4)
            dy = np.random.randint(-3, 4)
            far = np.random.random() < 0.3
            if far:
                shape, h = random_place(w, i)
                if h < 0:
                    continue
                dx = w[w[HX] + h] - w[w[HX] + a]
                dy = w[w[HY] + h] - w[w[HY] + a]
            if dx == 0 and dy == 0:
                continue
            n_moved = 1
            moved[0] = i
            for k in range(w[w[ITEM_PINS] + i]):
                strip = w[w[HSTRIP] + pin_hole(w, s, i, k)]
                if w[w[SLEN] + strip] > 8:
                    continue
                for p in range(w[w[SLEN] + strip]):
                    o = s[w[OCC] + w[w[SSTART] + strip] + p]
                    if o >= 0 and n_moved < MAX_MOVED:
                        j = o >> 6
                        if w[w[ITEM_PINS] + j] > 2 and j != i:
                            continue
                        known = False
                        for t in range(n_moved):
                            if moved[t] == j:
                                known = True
                        if not known:
                            moved[n_moved] = j
                            n_moved += 1
            good = True
            for t in range(n_moved):
                j = moved[t]
                h = hole_of(w, w[w[HX] + s[w[ANCHOR] + j]] + dx, w[w[HY] + s[w[ANCHOR] + j]] + dy)
                if h < 0 or w[w[VALID] + w[N_HOLES] * (s[w[SHAPE] + j]) + h] == 0:
                    good = False
                    break
                ns[t] = s[w[SHAPE] + j]
                na[t] = h
            if not good:
                continue
        elif r < 0.12:  # two small parts change places with new shapes about one pin
            j = w[w[MOVABLE] + np.random.randint(n_mov)]
            if j == i or w[w[ITEM_PINS] + i] > 3 or w[w[ITEM_PINS] + j] > 3:
                continue
            hi = pin_hole(w, s, i, np.random.randint(w[w[ITEM_PINS] + i]))
            hj = pin_hole(w, s, j, np.random.randint(w[w[ITEM_PINS] + j]))
            si = w[w[ITEM_SHAPE] + 2 * i] + np.random.randint(w[w[ITEM_SHAPE] + 2 * i + 1])
            sj = w[w[ITEM_SHAPE] + 2 * j] + np.random.randint(w[w[ITEM_SHAPE] + 2 * j + 1])
            ai = anchor_for(w, si, np.random.randint(w[w[ITEM_PINS] + i]), hj)
            aj = anchor_for(w, sj, np.random.randint(w[w[ITEM_PINS] + j]), hi)
            if ai < 0 or aj < 0:
                continue
            n_moved = 2
            moved[1] = j
            ns[0], na[0], ns[1], na[1] = si, ai, sj, aj
        else:
            shape, a = propose(w, s, i, np.random.random())
            if shape < 0 or (shape == s[w[SHAPE] + i] and a == s[w[ANCHOR] + i]):
                continue
            ns[0] = shape
            na[0] = a
        kept = try_move(w, s, f, n_moved, moved, ns, na, os_, oa, ot, weight, limit)
        if not kept or f[SHORTS] + f[OVERLAPS] + f[WIRELESS] + f[DEFICIT] + f[WISHES] > 0.5:
            continue
        cost = f[JUMPERS] * weight[JUMPERS] + f[CUTS] * weight[CUTS]
        if cost < best[0] - 1e-9 or (cost < best[0] + 1e-9 and f[LENGTH] < best[1] - 1e-9):
            best[0] = cost
            best[1] = f[LENGTH]
            for q in range(n_items):
                best_shape[q] = s[w[SHAPE] + q]
                best_anchor[q] = s[w[ANCHOR] + q]
            if cost <= stop_cost + 1e-9:
                return it + 1
    return proposals
