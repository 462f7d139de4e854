"""Compiled: moves and how to take them back, and where to move to."""

from __future__ import annotations

from placer.solve.bodies import fits, lift, may_lie, overlap, pin_hole, put, touch_item
from placer.solve.compiled import chance, draw, inner
from placer.solve.layout import (
    ANCHOR,
    AT,
    CELL,
    CELL_W,
    CUT_AT,
    CUT_BETWEEN,
    HSTRIP,
    ITEM_NET,
    ITEM_PINS,
    ITEM_SHAPE,
    ITEM_WISH,
    LIST_NET,
    LIST_STRIP,
    MOVED,
    N_MOVED,
    N_NETS_TOUCHED,
    N_STRIPS_TOUCHED,
    NEAR,
    NET_COST,
    NET_PIN,
    NET_W,
    NEW_ANCHOR,
    NEW_SHAPE,
    OCC,
    OFF,
    OLD_ANCHOR,
    OLD_SHAPE,
    OLD_TOTALS,
    OVERLAPS,
    PIN_ITEM,
    PIN_K,
    PLACED,
    SAVE_CS,
    SAVE_N,
    SAVE_NET,
    SAVE_SEG,
    SEG_FREE,
    SEG_HI,
    SEG_LO,
    SEG_N,
    SEG_NET,
    SEG_W,
    SHAPE,
    SHAPE_PIN,
    SHAPE_WAY,
    SHIFT,
    SLEN,
    SSTART,
    STAMP,
    STRIP_CUTS,
    STRIP_SHORTS,
    WAY,
    WISH_COST,
    WISH_OF,
    Floats,
    Ints,
)
from placer.solve.pricing import count_in, count_out, energy, refresh
from placer.solve.wishcost import price_wish


@inner
def undo(w: Ints, s: Ints, f: Floats) -> None:
    """Take the last move back, exactly."""
    n_moved = s[N_MOVED]
    for t in range(n_moved):
        lift(w, s, s[w[MOVED] + t])
    for t in range(n_moved):
        if s[w[OLD_SHAPE] + t] >= 0:
            put(w, s, s[w[MOVED] + t], s[w[OLD_SHAPE] + t], s[w[OLD_ANCHOR] + t])
    width = w[SEG_W]
    for t in range(s[N_STRIPS_TOUCHED]):
        strip = s[w[LIST_STRIP] + t]
        n, m = s[w[SAVE_N] + t], s[w[SEG_N] + strip]
        own = w[SAVE_CS] + 4 * t
        head, tail = s[own + 2], s[own + 3]
        seg = width * strip
        save = w[SAVE_SEG] + 4 * width * t
        nets, frees = w[SEG_NET] + seg, w[SEG_FREE] + seg
        count_out(w, s, nets, frees, head, m - tail)
        count_in(w, s, save, save + width, head, n - tail)
        s[w[SEG_N] + strip] = n
        for k in range(head, n - tail if n == m else n):
            s[nets + k] = s[save + k]
            s[frees + k] = s[save + width + k]
            s[w[SEG_LO] + seg + k] = s[save + 2 * width + k]
            s[w[SEG_HI] + seg + k] = s[save + 3 * width + k]
        s[w[STRIP_CUTS] + strip] = s[own]
        s[w[STRIP_SHORTS] + strip] = s[own + 1]
    for t in range(s[N_NETS_TOUCHED]):
        save = w[SAVE_NET] + 4 * t
        own = w[NET_COST] + 4 * s[w[LIST_NET] + t]
        for c in range(4):
            f[own + c] = f[save + c]
    for t in range(n_moved):
        wish = w[ITEM_WISH] + 2 * s[w[MOVED] + t]
        for u in range(w[wish], w[wish] + w[wish + 1]):
            q = w[w[WISH_OF] + u]
            s[w[WISH_COST] + q] = price_wish(w, s, q)
    for c in range(OLD_TOTALS):
        f[c] = f[OLD_TOTALS + c]


@inner
def try_move(w: Ints, s: Ints, f: Floats, weight: Floats, limit: float) -> bool:
    """Make the move that stands in ``s``; keep it when the energy rises by no more than ``limit``."""
    n_moved = s[N_MOVED]
    before = energy(f, weight)
    for c in range(OLD_TOTALS):
        f[OLD_TOTALS + c] = f[c]
    for t in range(n_moved):
        i = s[w[MOVED] + t]
        s[w[OLD_SHAPE] + t] = -1
        if s[w[PLACED] + i]:
            s[w[OLD_SHAPE] + t] = s[w[SHAPE] + i]
            s[w[OLD_ANCHOR] + t] = s[w[ANCHOR] + i]
            f[OVERLAPS] -= overlap(w, s, i)
            lift(w, s, i)
    done = 0
    for t in range(n_moved):
        i = s[w[MOVED] + t]
        if not fits(w, s, i, s[w[NEW_SHAPE] + t], s[w[NEW_ANCHOR] + t]):
            break
        put(w, s, i, s[w[NEW_SHAPE] + t], s[w[NEW_ANCHOR] + t])
        f[OVERLAPS] += overlap(w, s, i)
        done += 1
    # What the other terms can win back is bounded by the jumpers and cuts at stake: a heavy overlap is refused early.
    if done < n_moved or (f[OVERLAPS] - f[OLD_TOTALS + OVERLAPS]) * weight[OVERLAPS] > limit + 6.0 * n_moved:
        for t in range(done):
            lift(w, s, s[w[MOVED] + t])
        for t in range(n_moved):
            if s[w[OLD_SHAPE] + t] >= 0:
                put(w, s, s[w[MOVED] + t], s[w[OLD_SHAPE] + t], s[w[OLD_ANCHOR] + t])
        f[OVERLAPS] = f[OLD_TOTALS + OVERLAPS]
        return False
    s[STAMP] += 1
    s[N_STRIPS_TOUCHED] = 0
    s[N_NETS_TOUCHED] = 0
    for t in range(n_moved):
        i = s[w[MOVED] + t]
        if s[w[OLD_SHAPE] + t] >= 0:
            touch_item(w, s, i, s[w[OLD_SHAPE] + t], s[w[OLD_ANCHOR] + t])
        touch_item(w, s, i, s[w[NEW_SHAPE] + t], s[w[NEW_ANCHOR] + t])
    refresh(w, s, f)
    if energy(f, weight) - before <= limit:
        return True
    undo(w, s, f)
    return False


@inner
def anchor_for(w: Ints, shape: int, k: int, h: int) -> int:
    """The anchor hole that puts pin k of a shape into hole h, or -1."""
    a = w[w[CELL] + w[w[AT] + h] - w[w[OFF] + w[w[SHAPE_PIN] + shape] + k]]
    if a >= 0 and may_lie(w, shape, a):
        return int(a)
    return -1


@inner
def holds(w: Ints, s: Ints, strip: int, net: int) -> bool:
    """True when a strip bears a segment of a net."""
    seg = w[SEG_NET] + w[SEG_W] * strip
    for k in range(seg, seg + s[w[SEG_N] + strip]):  # noqa: SIM110 - numba compiles no generators
        if s[k] == net:
            return True
    return False


@inner
def reach(w: Ints, s: Ints, hole: int, first: int, last: int) -> tuple[int, int]:
    """Of the holes ``first`` to ``last`` of a strip, those up to the next pin of another net than that in ``hole``."""
    o = s[w[OCC] + hole]
    net = w[w[ITEM_NET] + w[NET_W] * (o >> 6) + (o & 63)]
    low = hole
    while low > first:
        o = s[w[OCC] + low - 1]
        if o >= 0 and w[w[ITEM_NET] + w[NET_W] * (o >> 6) + (o & 63)] != net:
            break
        low -= 1
    high = hole
    while high < last:
        o = s[w[OCC] + high + 1]
        if o >= 0 and w[w[ITEM_NET] + w[NET_W] * (o >> 6) + (o & 63)] != net:
            break
        high += 1
    return low, high


@inner
def net_at(w: Ints, s: Ints, hole: int, i: int) -> int:
    """The net of the lead in a hole, -1 where there is none but perhaps one of item i's own."""
    o = s[w[OCC] + hole]
    if o < 0 or o >> 6 == i:
        return -1
    return int(w[w[ITEM_NET] + w[NET_W] * (o >> 6) + (o & 63)])


@inner
def meets(w: Ints, s: Ints, hole: int, net: int, i: int) -> bool:
    """True when a lead of item i in a hole would be on copper of a net: on a strip that may be cut, next to it."""
    strip = w[w[HSTRIP] + hole]
    if w[w[CUT_AT] + strip] + w[w[CUT_BETWEEN] + strip] == 0:
        return holds(w, s, strip, net)
    first = w[w[SSTART] + strip]
    for h in range(hole - 1, first - 1, -1):
        beside = net_at(w, s, h, i)
        if beside >= 0:
            if beside == net:
                return True
            break
    for h in range(hole + 1, first + w[w[SLEN] + strip]):
        beside = net_at(w, s, h, i)
        if beside >= 0:
            return bool(beside == net)
    return False


@inner
def partner_hole(w: Ints, s: Ints, i: int, k: int) -> int:
    """A random hole on a strip where another pin of pin k's net lies, or -1.

    On a strip that may be cut it is mostly one from which no pin of another net keeps it.
    """
    n = w[w[ITEM_NET] + w[NET_W] * i + k]
    m = w[w[NET_PIN] + 2 * n + 1]
    if m < 2:
        return -1
    for _ in range(4):
        q = w[w[NET_PIN] + 2 * n] + draw(s, m)
        j = w[w[PIN_ITEM] + q]
        if j == i or s[w[PLACED] + j] == 0:
            continue
        h = pin_hole(w, s, j, w[w[PIN_K] + q])
        strip = w[w[HSTRIP] + h]
        start = w[w[SSTART] + strip]
        length = w[w[SLEN] + strip]
        if length > 8 and w[w[CUT_AT] + strip] + w[w[CUT_BETWEEN] + strip] > 0 and chance(s) < 0.8:
            wide = 2 * w[NEAR]
            low, high = reach(w, s, h, max(start, h - wide), min(start + length - 1, h + wide))
            return int(low + draw(s, high - low + 1))
        p = draw(s, length)
        if length > 8 and chance(s) < 0.6:  # on a long strip look near the partner most of the time
            p = min(max(h - start + draw(s, 2 * w[NEAR] + 1) - w[NEAR], 0), length - 1)
        return int(start + p)
    return -1


@inner
def random_place(w: Ints, s: Ints, i: int) -> tuple[int, int]:
    """Any place of an item, by chance: (shape, anchor)."""
    for _ in range(8):
        shape = w[w[ITEM_SHAPE] + 2 * i] + draw(s, w[w[ITEM_SHAPE] + 2 * i + 1])
        m = w[w[SHAPE_WAY] + 2 * shape + 1]
        if m > 0:
            return shape, w[w[WAY] + w[w[SHAPE_WAY] + 2 * shape] + draw(s, m)]
    return -1, -1


@inner
def propose(w: Ints, s: Ints, i: int, kind: float) -> tuple[int, int]:
    """A new place for one item: (shape, anchor), or (-1, -1)."""
    pins = w[w[ITEM_PINS] + i]
    n_shape = w[w[ITEM_SHAPE] + 2 * i + 1]
    s0 = w[w[ITEM_SHAPE] + 2 * i]
    if kind < 0.30 and pins >= 2:  # bridge: two leads onto copper of their nets
        k = draw(s, pins)
        h = partner_hole(w, s, i, k)
        if h < 0:
            return -1, -1
        first = draw(s, n_shape)
        for t in range(n_shape):
            shape = s0 + (first + t) % n_shape
            a = anchor_for(w, shape, k, h)
            if a < 0:
                continue
            for m in range(pins):
                if m != k and w[w[NET_PIN] + 2 * (w[w[ITEM_NET] + w[NET_W] * i + m]) + 1] > 1:
                    g = w[w[CELL] + w[w[AT] + a] + w[w[OFF] + w[w[SHAPE_PIN] + shape] + m]]
                    empty = s[w[OCC] + g] < 0 or s[w[OCC] + g] >> 6 == i
                    if empty and meets(w, s, g, w[w[ITEM_NET] + w[NET_W] * i + m], i):
                        return shape, a
        return -1, -1
    if kind < 0.62:  # jump to the strip of a partner
        k = draw(s, pins)
        h = partner_hole(w, s, i, k)
        if h < 0:
            return random_place(w, s, i)
        for _ in range(4):
            shape = s0 + draw(s, n_shape)
            a = anchor_for(w, shape, k, h)
            if a >= 0:
                return shape, a
        return -1, -1
    if s[w[PLACED] + i] and kind < 0.82:  # shift
        across = draw(s, 2 * w[SHIFT] + 1) - w[SHIFT]
        down = draw(s, 2 * w[SHIFT] + 1) - w[SHIFT]
        h = w[w[CELL] + w[w[AT] + s[w[ANCHOR] + i]] + across + w[CELL_W] * down]
        if h >= 0 and may_lie(w, s[w[SHAPE] + i], h):
            return s[w[SHAPE] + i], h
        return -1, -1
    if s[w[PLACED] + i] and kind < 0.95:  # reshape about one pin
        k = draw(s, pins)
        h = pin_hole(w, s, i, k)
        shape = s0 + draw(s, n_shape)
        a = anchor_for(w, shape, k, h)
        if a >= 0:
            return shape, a
        return -1, -1
    return random_place(w, s, i)
