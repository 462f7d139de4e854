"""Compiled: items on lines, each line with its pins in order, and what they come to in segments."""

from __future__ import annotations

from placer.solve.compiled import inner
from placer.solve.layout import Floats, Ints
from placer.solve.linelayout import (
    BLOCK,
    COUNT,
    F_GROUP,
    F_GROUPS,
    F_JOINED,
    F_JOINS,
    FORM,
    FORM_W,
    G_LINE,
    G_NET,
    G_PINS,
    GROUP,
    GROUP_NET,
    GROUP_W,
    INSIDE,
    JOINED,
    K_GROUP,
    K_GROUPS,
    K_JOINED,
    K_SHUT,
    K_SHUTS,
    KEY,
    KG_FIRST,
    KG_INNER,
    KG_LAST,
    KG_LINE,
    KIN,
    KIN_GROUP,
    KIN_GROUP_W,
    KIN_W,
    LIES,
    LINE,
    N_ITEMS,
    NO_KEY,
    ORDER,
    ROW_FIRST,
    ROW_ITEM,
    ROW_KEY,
    ROW_LAST,
    ROW_W,
    SEGMENTS,
    SHUT,
    TOTAL,
    USED,
    W_CUT,
    W_JUMPER,
    W_STARVED,
)


@inner
def cost(s: Ints, weight: Floats) -> float:
    """What jumpers and cuts cost, nets that need none left out of the account."""
    jumpers = s[TOTAL] - s[INSIDE]
    return float(weight[W_JUMPER] * jumpers + weight[W_CUT] * (s[TOTAL] - s[USED]))


@inner
def put(w: Ints, s: Ints, i: int) -> None:
    """Put an item where ``s`` says that it lies."""
    form = w[FORM] + FORM_W * s[w[LIES] + i]
    key = s[w[KEY] + i]
    for q in range(w[form + F_GROUPS]):
        group = w[GROUP] + GROUP_W * (w[form + F_GROUP] + q)
        line = s[w[LINE] + i] + w[group + G_LINE]
        row = line * w[ROW_W]
        items, keys, firsts, lasts = w[ROW_ITEM] + row, w[ROW_KEY] + row, w[ROW_FIRST] + row, w[ROW_LAST] + row + 1
        nets, pins = w[GROUP_NET] + w[group + G_NET], w[group + G_PINS]
        count = s[w[COUNT] + line]
        at = count
        while at > 0 and s[keys + at - 1] > key:
            s[items + at], s[keys + at] = s[items + at - 1], s[keys + at - 1]
            s[firsts + at], s[lasts + at] = s[firsts + at - 1], s[lasts + at - 1]
            at -= 1
        s[items + at], s[keys + at] = i, key
        s[firsts + at], s[lasts + at] = w[nets], w[nets + pins - 1]
        s[w[COUNT] + line] = count + 1
        before = s[lasts + at - 1] if at > 0 else -1
        after = s[firsts + at + 1] if at < count else -1
        if count == 0:
            s[USED] += 1
        count_group(w, s, nets, pins, before, after, 1)
    for u in range(w[form + F_JOINED]):
        s[INSIDE] += 1
        s[w[SEGMENTS] + w[w[JOINED] + w[form + F_JOINS] + u]] -= 1


@inner
def take(w: Ints, s: Ints, i: int) -> None:
    """Take an item away."""
    form = w[FORM] + FORM_W * s[w[LIES] + i]
    for q in range(w[form + F_GROUPS]):
        group = w[GROUP] + GROUP_W * (w[form + F_GROUP] + q)
        line = s[w[LINE] + i] + w[group + G_LINE]
        row = line * w[ROW_W]
        items, keys, firsts, lasts = w[ROW_ITEM] + row, w[ROW_KEY] + row, w[ROW_FIRST] + row, w[ROW_LAST] + row + 1
        nets, pins = w[GROUP_NET] + w[group + G_NET], w[group + G_PINS]
        count = s[w[COUNT] + line] - 1
        at = 0
        while s[items + at] != i:
            at += 1
        before = s[lasts + at - 1] if at > 0 else -1
        after = s[firsts + at + 1] if at < count else -1
        if count == 0:
            s[USED] -= 1
        count_group(w, s, nets, pins, before, after, -1)
        for u in range(at, count):
            s[items + u], s[keys + u] = s[items + u + 1], s[keys + u + 1]
            s[firsts + u], s[lasts + u] = s[firsts + u + 1], s[lasts + u + 1]
        s[keys + count], s[firsts + count] = NO_KEY, -1
        s[w[COUNT] + line] = count
    for u in range(w[form + F_JOINED]):
        s[INSIDE] -= 1
        s[w[SEGMENTS] + w[w[JOINED] + w[form + F_JOINS] + u]] += 1


@inner
def count_group(w: Ints, s: Ints, nets: int, pins: int, before: int, after: int, sign: int) -> None:
    """Count the segments that a group begins between its neighbours (nets, -1: none); ``sign``: it comes or goes."""
    segments = w[SEGMENTS]
    if after >= 0 and before != after:
        s[TOTAL] -= sign
        s[segments + after] -= sign
    last = before
    for u in range(pins):
        net = w[nets + u]
        if net != last:
            s[TOTAL] += sign
            s[segments + net] += sign
        last = net
    if after >= 0 and last != after:
        s[TOTAL] += sign
        s[segments + after] += sign


@inner
def price(w: Ints, s: Ints, weight: Floats, kin: int, line: int, key: int, most: float) -> float:
    """What an item that is not there would add to the cost, with segments that starve; above ``most`` where more."""
    own = w[KIN] + KIN_W * kin
    more = 0
    rows = 0
    groups = w[own + K_GROUPS]
    inside = weight[W_JUMPER] * w[own + K_JOINED]
    for u in range(w[own + K_SHUT]):
        if s[w[SEGMENTS] + w[w[SHUT] + w[own + K_SHUTS] + u]] > 0:
            inside -= weight[W_STARVED]
    group = w[KIN_GROUP] + KIN_GROUP_W * w[own + K_GROUP]
    for _ in range(groups):
        row = (line + w[group + KG_LINE]) * w[ROW_W]
        keys = w[ROW_KEY] + row
        at = 0
        while True:
            here = 0
            for t in range(BLOCK):
                here += s[keys + at + t] <= key
            at += here
            if here < BLOCK:
                break
        before, after = s[w[ROW_LAST] + row + at], s[w[ROW_FIRST] + row + at]
        # No group makes it cheaper: what joins two others' segments has a change of net within.
        more += w[group + KG_INNER]
        more += w[group + KG_FIRST] != before
        more += (after >= 0) & (w[group + KG_LAST] != after)
        more -= (after >= 0) & (before != after)
        rows += (before < 0) & (after < 0)
        group += KIN_GROUP_W
        if groups > 2:
            now = weight[W_JUMPER] * more + weight[W_CUT] * (more - rows) - inside
            if now > most:
                return 1e9
    return float(weight[W_JUMPER] * more + weight[W_CUT] * (more - rows) - inside)


@inner
def sort(w: Ints, s: Ints) -> None:
    """Put the order of all items right, most of which is."""
    order = w[ORDER]
    for t in range(1, w[N_ITEMS]):
        i = s[order + t]
        key = s[w[KEY] + i]
        at = t
        while at > 0 and s[w[KEY] + s[order + at - 1]] > key:
            s[order + at] = s[order + at - 1]
            at -= 1
        s[order + at] = i
