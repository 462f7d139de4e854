"""Compiled: a quick look for places of a cluster's items, one item after another, without comparing all with all.

An item is put where its pins meet those before it; where it has no place, the search goes back to the last item that
has to do with that, and begins anew elsewhere when it has been at it for long. On copper in small pieces parts have
more places than :mod:`placer.solve.clusterwalk` can compare; what can be built there is mostly found here at once.
"""

from __future__ import annotations

import math

import numpy as np

from placer.solve.clusterwalk import CUT_SHORT, FOUND, IMPOSSIBLE, enough, put
from placer.solve.compiled import compiled, draw, inner, set_chance
from placer.solve.layout import Ints
from placer.solve.together import SHAPE, X, Y
from placer.solve.touching import Bytes, touch

FIRST_TRY = 500  # places looked at before the first fresh start; each next try is twice as long


@inner
def _leave(
    t: int, on: Ints, r: int, n_pins: Ints, groups: Ints, owner: Ints, holders: Ints, strip_of: Ints, members: Ints
) -> None:
    """Forget that an item has its pins on the strips of a row."""
    others = ~(np.int64(1) << t)
    for k in range(n_pins[t]):
        s = on[r, k]
        holders[s] &= others
        if holders[s] == 0:
            owner[s] = -1
        g = groups[t, k]
        if g >= 0:
            members[g] &= others
            if members[g] == 0:
                strip_of[g] = -1


@compiled
def dive(
    rows: Ints,
    on: Ints,
    rows_of: Ints,
    entry: Ints,
    entry_at: Ints,
    by: Ints,
    by_rows: Ints,
    n_pins: Ints,
    nets: Ints,
    groups: Ints,
    n_groups: int,
    wired: Ints,
    longs: Ints,
    fixed: Ints,
    is_long: Ints,
    needy: Ints,
    needy_pins: Ints,
    slack: Ints,
    at: Ints,
    bits: Bytes,
    c_at: Ints,
    cover: Ints,
    grid: Ints,
    room: Ints,
    most: int,
    chosen: Ints,
    report: Ints,
) -> int:
    """Look for one place an item, as :func:`placer.solve.clusterwalk.walk` does, at ``most`` places in all.

    FOUND: rows in ``chosen``; IMPOSSIBLE when every place has been looked at; else CUT_SHORT. ``report``: how many
    places were looked at, and the items that a refutation rests on as bits.
    """
    n = n_pins.shape[0]
    n_strips = room.shape[0]
    use = np.zeros(n_strips, np.int64)
    want = np.zeros(n_strips, np.int64)
    stamp = np.zeros(n_strips + 1, np.int64)
    owner = np.full(n_strips, -1, np.int64)  # net of a strip
    holders = np.zeros(n_strips, np.int64)  # bits: items with a pin there
    strip_of = np.full(n_groups + 1, -1, np.int64)
    members = np.zeros(n_groups + 1, np.int64)  # bits: items with a pin in the group
    base, size, first, stride, tried, blame = (
        np.zeros(n, np.int64),
        np.zeros(n, np.int64),
        np.zeros(n, np.int64),
        np.zeros(n, np.int64),
        np.zeros(n, np.int64),
        np.zeros(n, np.int64),
    )
    there, gone = int(np.int64(1)), int(np.int64(-1))  # no literals: for each a function would be compiled once more
    dice = np.zeros(1, np.int64)
    set_chance(dice, n_groups)
    for u in range(n):
        chosen[u] = -1
    report[0] = 0
    report[1] = 0
    longest = FIRST_TRY
    limit = longest
    t = 0
    fresh = True
    while report[0] < most:
        if fresh:
            if t == n:
                return FOUND
            fresh = False
            chosen[t] = -1
            tried[t] = 0
            blame[t] = 0
            if entry[t] < 0:
                base[t], size[t] = rows_of[t, 0], rows_of[t, 1] - rows_of[t, 0]
            else:
                g = groups[t, entry[t]]
                base[t] = by[entry_at[t] + strip_of[g]]
                size[t] = by[entry_at[t] + strip_of[g] + 1] - base[t]
                blame[t] = members[g]
            if size[t] > 0:
                first[t] = draw(dice, size[t])
                stride[t] = 1 + draw(dice, size[t])
                while math.gcd(stride[t], size[t]) > 1:
                    stride[t] = stride[t] % size[t] + 1
        own = np.int64(1) << t
        if chosen[t] >= 0:
            _leave(t, on, chosen[t], n_pins, groups, owner, holders, strip_of, members)
            put(t, chosen[t], gone, rows, on, n_pins, wired, c_at, cover, grid, room, use, want)
            chosen[t] = -1
        while tried[t] < size[t]:
            r = base[t] + (first[t] + tried[t] * stride[t]) % size[t]
            if entry[t] >= 0:
                r = by_rows[r]
            tried[t] += 1
            report[0] += 1
            good = True
            for k in range(n_pins[t]):
                s = on[r, k]
                g = groups[t, k]
                if (
                    (longs[t, k] and not is_long[s])
                    or (fixed[t, k] >= 0 and fixed[t, k] != s)
                    or (g >= 0 and is_long[s])
                ):
                    good = False
                    break
                if g >= 0 and strip_of[g] >= 0 and strip_of[g] != s:
                    blame[t] |= members[g]
                    good = False
                    break
                if owner[s] >= 0 and owner[s] != nets[t, k]:
                    blame[t] |= holders[s]
                    good = False
                    break
                for m in range(k):
                    if g >= 0 and groups[t, m] == g and on[r, m] != s:
                        good = False
            if not good:
                continue
            for u in range(t):
                q = chosen[u]
                if touch(at, bits, rows[q, SHAPE], rows[r, SHAPE], rows[r, X] - rows[q, X], rows[r, Y] - rows[q, Y]):
                    blame[t] |= np.int64(1) << u
                    good = False
                    break
            if not good:
                continue
            roomy = put(t, r, there, rows, on, n_pins, wired, c_at, cover, grid, room, use, want)
            chosen[t] = r
            if not roomy or not enough(needy, needy_pins, slack, chosen, on, use, room, stamp):
                put(t, r, gone, rows, on, n_pins, wired, c_at, cover, grid, room, use, want)
                chosen[t] = -1
                blame[t] |= own - 1
                continue
            for k in range(n_pins[t]):
                owner[on[r, k]] = nets[t, k]
                holders[on[r, k]] |= own
                if groups[t, k] >= 0:
                    strip_of[groups[t, k]] = on[r, k]
                    members[groups[t, k]] |= own
            break
        if chosen[t] >= 0:
            t += 1
            fresh = True
            continue
        # No place: back to the last item that has to do with it, or to the start.
        blame[t] &= own - 1
        report[1] |= own | blame[t]
        if blame[t] == 0:
            return IMPOSSIBLE
        back = t - 1
        while not blame[t] & (np.int64(1) << back):
            back -= 1
        again = report[0] > limit
        if again:
            report[1] = 0
            longest *= 2
            limit = report[0] + longest
        else:
            blame[back] |= blame[t]
        for u in range(t - 1, -1 if again else back, -1):
            _leave(u, on, chosen[u], n_pins, groups, owner, holders, strip_of, members)
            put(u, chosen[u], gone, rows, on, n_pins, wired, c_at, cover, grid, room, use, want)
            chosen[u] = -1
        t = 0 if again else back
        fresh = again
    return CUT_SHORT
