"""Compiled: what a state costs, kept up to date strip by strip and net by net.

A strip that may be severed falls into one segment per run of equal nets; a strip that may not counts its minority pins
as shorts. A net of k > 1 components needs a free hole on each and 2 (k - 1) in all (its wire ends).
"""

from __future__ import annotations

import math

from placer.solve.bodies import pin_hole, touch_net
from placer.solve.compiled import inner
from placer.solve.layout import (
    COVER,
    CUT_AT,
    CUT_BETWEEN,
    CUTS,
    DEFICIT,
    HSTRIP,
    ITEM_NET,
    ITEM_WISH,
    JOIN,
    JUMPERS,
    JUNCTION,
    LENGTH,
    LENIENT,
    LIST_NET,
    LIST_STRIP,
    MOVED,
    N_MOVED,
    N_NETS_TOUCHED,
    N_STRIPS_TOUCHED,
    NET_COST,
    NET_DRY,
    NET_FREE,
    NET_JOIN,
    NET_PIN,
    NET_SEG,
    NET_W,
    NET_XY,
    OCC,
    OLD_TOTALS,
    PLACED,
    SAVE_CS,
    SAVE_N,
    SAVE_NET,
    SAVE_SEG,
    SCRATCH,
    SCRATCH_W,
    SEG_FREE,
    SEG_HI,
    SEG_LO,
    SEG_N,
    SEG_NET,
    SEG_W,
    SHORTS,
    SLEN,
    SSTART,
    STRIP_CUTS,
    STRIP_SHORTS,
    WIRELESS,
    WISH_COST,
    WISH_OF,
    WISH_TERM,
    Floats,
    Ints,
)
from placer.solve.wishcost import price_wish


@inner
def count_in(w: Ints, s: Ints, nets: int, frees: int, first: int, last: int) -> None:
    """Add segments to the nets' sums: those from ``first`` to before ``last``.

    ``nets`` and ``frees``: where the tables of their nets and free holes begin.
    """
    for k in range(first, last):
        n = s[nets + k]
        touch_net(w, s, n)
        s[w[NET_SEG] + n] += 1
        free = s[frees + k]
        s[w[NET_FREE] + n] += free
        if free == 0:
            s[w[NET_DRY] + n] += 1


@inner
def count_out(w: Ints, s: Ints, nets: int, frees: int, first: int, last: int) -> None:
    """Take them out again."""
    for k in range(first, last):
        n = s[nets + k]
        touch_net(w, s, n)
        s[w[NET_SEG] + n] -= 1
        free = s[frees + k]
        s[w[NET_FREE] + n] -= free
        if free == 0:
            s[w[NET_DRY] + n] -= 1


@inner
def scan_uncut(w: Ints, s: Ints, strip: int) -> None:
    """Work out the segments and shorts of a strip that may not be cut: one for each net, all with the same holes."""
    h0 = w[w[SSTART] + strip]
    length = w[w[SLEN] + strip]
    occ = w[OCC]
    seg = w[SEG_W] * strip
    nets, lows, counts = w[SEG_NET] + seg, w[SEG_LO] + seg, w[SEG_HI] + seg
    free = 0
    pins = 0
    n_seg = 0
    for h in range(h0, h0 + length):
        o = s[occ + h]
        if o < 0:
            if s[w[COVER] + h] == 0:
                free += 1
            continue
        pins += 1
        n = w[w[ITEM_NET] + w[NET_W] * (o >> 6) + (o & 63)]
        known = False
        for k in range(n_seg):
            if s[nets + k] == n:
                s[counts + k] += 1
                known = True
                break
        if not known:
            s[nets + n_seg] = n
            s[lows + n_seg] = 0
            s[counts + n_seg] = 1
            n_seg += 1
    most = 0
    for k in range(n_seg):
        most = max(most, s[counts + k])
        s[w[SEG_FREE] + seg + k] = free
        s[counts + k] = length  # from now on the last hole
    s[w[SEG_N] + strip] = n_seg
    s[w[STRIP_CUTS] + strip] = 0
    s[w[STRIP_SHORTS] + strip] = pins - most


@inner
def scan(w: Ints, s: Ints, strip: int) -> None:
    """Work out a strip's segments, cuts and shorts from the pins on it."""
    knife = w[w[CUT_BETWEEN] + strip]
    if w[w[CUT_AT] + strip] == 0 and knife == 0:
        scan_uncut(w, s, strip)
        return
    h0 = w[w[SSTART] + strip]
    occ = w[OCC] + h0
    cover = w[COVER] + h0
    seg = w[SEG_W] * strip
    nets, frees, lows, highs = w[SEG_NET] + seg, w[SEG_FREE] + seg, w[SEG_LO] + seg, w[SEG_HI] + seg
    n_seg = 0
    shorts = 0
    cuts = 0
    last_net = -1
    last_pos = -1
    gap = 0  # free, uncovered holes since the last pin
    hid = 0  # free but covered
    before = 0  # the first, as far as the first of the second
    for p in range(w[w[SLEN] + strip]):
        o = s[occ + p]
        if o < 0:
            if s[cover + p] == 0:
                gap += 1
                if hid == 0:
                    before = gap
            else:
                hid += 1
            continue
        n = w[w[ITEM_NET] + w[NET_W] * (o >> 6) + (o & 63)]
        if n == last_net:
            s[frees + n_seg - 1] += gap
            s[highs + n_seg - 1] = p
        else:
            left = 0
            if n_seg > 0:
                # Free holes go to the run that may need wire ends, where only one does; else each gets half.
                wants_left = w[w[NET_PIN] + 2 * last_net + 1] > 1
                wants_right = w[w[NET_PIN] + 2 * n + 1] > 1
                cuts += 1
                if knife == 0 and p - last_pos < 2:
                    shorts += 1
                    cuts -= 1
                elif knife == 0 and hid > 0 and (gap < 2 or (before > 0 and gap > before)):
                    left = before  # drill under a body: no free hole is lost, the split is where it is
                else:
                    if knife == 0:
                        gap -= 1
                    if wants_left != wants_right:
                        left = gap if wants_left else 0
                    elif gap == 1 and s[frees + n_seg - 1] == 0:
                        left = 1
                    else:
                        left = gap // 2
                s[frees + n_seg - 1] += left
            s[nets + n_seg] = n
            s[lows + n_seg] = p
            s[highs + n_seg] = p
            s[frees + n_seg] = gap - left
            if w[LENIENT] and n_seg > 0 and gap == 1 and left == 1 and knife and w[w[NET_PIN] + 2 * n + 1] > 1:
                # A lone hole by the knife counts for both: which of them needs it shows when the wires are laid.
                s[frees + n_seg] = 1
            n_seg += 1
            last_net = n
        last_pos = p
        gap = 0
        hid = 0
        before = 0
    if n_seg > 0:
        s[frees + n_seg - 1] += gap
    s[w[SEG_N] + strip] = n_seg
    s[w[STRIP_CUTS] + strip] = cuts
    s[w[STRIP_SHORTS] + strip] = shorts


@inner
def joined_net(w: Ints, s: Ints, n: int) -> tuple[int, int, int]:
    """(components, components without a free hole, free holes) of a net that has joins inside parts.

    Only segments that are joined are looked at: the others are components of their own, and have been counted.
    """
    keys = w[SCRATCH]
    heads = keys + w[SCRATCH_W]
    frees = heads + w[SCRATCH_W]
    comps, dry = s[w[NET_SEG] + n], s[w[NET_DRY] + n]
    n_seg = 0
    first_join = w[JOIN] + 4 * w[w[NET_JOIN] + 2 * n]
    for j in range(first_join, first_join + 4 * w[w[NET_JOIN] + 2 * n + 1], 4):
        if s[w[PLACED] + w[j]] == 0 or s[w[PLACED] + w[j + 2]] == 0:
            continue
        one, other = -1, -1
        for end in range(j, j + 4, 2):
            key, free = segment_of(w, s, n, pin_hole(w, s, w[end], w[end + 1]))
            at = 0
            while at < n_seg and s[keys + at] != key:
                at += 1
            if at == n_seg:
                s[keys + at], s[heads + at], s[frees + at] = key, at, free
                n_seg += 1
                dry -= 1 if free == 0 else 0  # until it is known what it is joined to
            one, other = other, s[heads + at]
        if one != other:
            comps -= 1
            for t in range(n_seg):
                if s[heads + t] == other:
                    s[heads + t] = one
    for head in range(n_seg):
        members, free = 0, 0
        for t in range(n_seg):
            if s[heads + t] == head:
                members += 1
                free += s[frees + t]
        if members > 0 and free == 0:
            dry += 1
    return comps, dry, s[w[NET_FREE] + n]


@inner
def segment_of(w: Ints, s: Ints, n: int, h: int) -> tuple[int, int]:
    """(key, free holes) of the segment of net n that hole h lies on."""
    strip = w[w[HSTRIP] + h]
    p = h - w[w[SSTART] + strip]
    seg = w[SEG_W] * strip
    for k in range(s[w[SEG_N] + strip]):
        if s[w[SEG_NET] + seg + k] == n and s[w[SEG_LO] + seg + k] <= p <= s[w[SEG_HI] + seg + k]:
            return strip * 1024 + k, s[w[SEG_FREE] + seg + k]
    return strip * 1024 + 1023, 0


@inner
def price_net(w: Ints, s: Ints, f: Floats, n: int) -> None:
    """Bring a net's share of the totals up to date."""
    own = w[NET_COST] + 4 * n
    f[JUMPERS] -= f[own]
    f[WIRELESS] -= f[own + 1]
    f[DEFICIT] -= f[own + 2]
    f[LENGTH] -= f[own + 3]
    comps = s[w[NET_SEG] + n]
    dry = s[w[NET_DRY] + n]
    free = s[w[NET_FREE] + n]
    if w[w[NET_JOIN] + 2 * n + 1] > 0:
        comps, dry, free = joined_net(w, s, n)
    jumpers = 0
    short = 0
    length = 0.0
    if comps > 1:
        jumpers = comps - 1
        short = max(0, 2 * (comps - 1) - free)
        if short > 0 and w[JUNCTION] > 0:  # empty strips as junctions lend holes, a jumper each
            jumpers += (short + w[JUNCTION] - 1) // w[JUNCTION]
            short = 0
        xy = w[NET_XY] + 4 * n
        m = s[xy]
        var = s[xy + 3] / m - (s[xy + 1] / m) ** 2 - (s[xy + 2] / m) ** 2
        length = (comps - 1) * math.sqrt(max(0.0, var))
    else:
        dry = 0
    f[own] = jumpers
    f[own + 1] = dry
    f[own + 2] = short
    f[own + 3] = length
    f[JUMPERS] += f[own]
    f[WIRELESS] += f[own + 1]
    f[DEFICIT] += f[own + 2]
    f[LENGTH] += f[own + 3]


@inner
def energy(f: Floats, weight: Floats) -> float:
    """The weighted sum of the totals."""
    e = 0.0
    for c in range(OLD_TOTALS):
        e += f[c] * weight[c]
    return e


@inner
def refresh(w: Ints, s: Ints, f: Floats) -> None:
    """Bring strips, nets and wishes up to date after items have moved; remembers what was there before."""
    width = w[SEG_W]
    for t in range(s[N_STRIPS_TOUCHED]):
        strip = s[w[LIST_STRIP] + t]
        n = s[w[SEG_N] + strip]
        s[w[SAVE_N] + t] = n
        seg = width * strip
        nets, frees, lows, highs = w[SEG_NET] + seg, w[SEG_FREE] + seg, w[SEG_LO] + seg, w[SEG_HI] + seg
        save = w[SAVE_SEG] + 4 * width * t
        for k in range(n):
            s[save + k] = s[nets + k]
            s[save + width + k] = s[frees + k]
            s[save + 2 * width + k] = s[lows + k]
            s[save + 3 * width + k] = s[highs + k]
        cuts, shorts = s[w[STRIP_CUTS] + strip], s[w[STRIP_SHORTS] + strip]
        scan(w, s, strip)
        m = s[w[SEG_N] + strip]
        # Most segments of a long strip are what they were: only the nets of those between are counted anew.
        most = min(n, m)
        head = 0
        while (
            head < most
            and s[save + head] == s[nets + head]
            and s[save + width + head] == s[frees + head]
            and s[save + 2 * width + head] == s[lows + head]
            and s[save + 3 * width + head] == s[highs + head]
        ):
            head += 1
        tail = 0
        while (
            head + tail < most
            and s[save + n - 1 - tail] == s[nets + m - 1 - tail]
            and s[save + width + n - 1 - tail] == s[frees + m - 1 - tail]
            and s[save + 2 * width + n - 1 - tail] == s[lows + m - 1 - tail]
            and s[save + 3 * width + n - 1 - tail] == s[highs + m - 1 - tail]
        ):
            tail += 1
        count_out(w, s, save, save + width, head, n - tail)
        count_in(w, s, nets, frees, head, m - tail)
        f[CUTS] += s[w[STRIP_CUTS] + strip] - cuts
        f[SHORTS] += s[w[STRIP_SHORTS] + strip] - shorts
        own = w[SAVE_CS] + 4 * t
        s[own], s[own + 1], s[own + 2], s[own + 3] = cuts, shorts, head, tail
    for t in range(s[N_NETS_TOUCHED]):
        n = s[w[LIST_NET] + t]
        save = w[SAVE_NET] + 4 * t
        own = w[NET_COST] + 4 * n
        for c in range(4):
            f[save + c] = f[own + c]
        price_net(w, s, f, n)
    for t in range(s[N_MOVED]):
        wish = w[ITEM_WISH] + 2 * s[w[MOVED] + t]
        for u in range(w[wish], w[wish] + w[wish + 1]):
            q = w[w[WISH_OF] + u]
            price = price_wish(w, s, q)
            f[w[w[WISH_TERM] + q]] += price - s[w[WISH_COST] + q]
            s[w[WISH_COST] + q] = price
