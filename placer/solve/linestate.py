"""Compiled: items on lines, each line with its pins in order, and what they come to in segments."""

from __future__ import annotations

from placer.solve.compiled import inner
from placer.solve.layout import Floats, Ints
from placer.solve.linelayout import (
    COUNT,
    F_GROUP,
    F_GROUPS,
    F_JOINED,
    F_JOINS,
    F_SHUT,
    F_SHUTS,
    FORM,
    FORM_W,
    G_INNER,
    G_LINE,
    G_NET,
    G_PINS,
    GROUP,
    GROUP_NET,
    GROUP_W,
    INSIDE,
    JOINED,
    KEY,
    LIES,
    LINE,
    N_ITEMS,
    ORDER,
    ROW_FIRST,
    ROW_ITEM,
    ROW_KEY,
    ROW_LAST,
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
        row = line * w[N_ITEMS]
        items, keys, firsts, lasts = w[ROW_ITEM] + row, w[ROW_KEY] + row, w[ROW_FIRST] + row, w[ROW_LAST] + row
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
        row = line * w[N_ITEMS]
        items, keys, firsts, lasts = w[ROW_ITEM] + row, w[ROW_KEY] + row, w[ROW_FIRST] + row, w[ROW_LAST] + row
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
def price(w: Ints, s: Ints, weight: Floats, lies: int, line: int, key: int, most: float) -> float:
    """What an item that is not there would add to the cost, with segments that starve; above ``most`` where more."""
    form = w[FORM] + FORM_W * lies
    more = 0
    rows = 0
    groups = w[form + F_GROUPS]
    inside = weight[W_JUMPER] * w[form + F_JOINED]
    for u in range(w[form + F_SHUT]):
        if s[w[SEGMENTS] + w[w[SHUT] + w[form + F_SHUTS] + u]] > 0:
            inside -= weight[W_STARVED]
    for q in range(groups):
        group = w[GROUP] + GROUP_W * (w[form + F_GROUP] + q)
        there = line + w[group + G_LINE]
        count = s[w[COUNT] + there]
        first = w[w[GROUP_NET] + w[group + G_NET]]
        more += w[group + G_INNER]
        if count == 0:
            rows += 1
            more += 1
        else:
            row = there * w[N_ITEMS]
            keys = w[ROW_KEY] + row
            at = 0
            while at < count and s[keys + at] <= key:
                at += 1
            before = s[w[ROW_LAST] + row + at - 1] if at > 0 else -1
            if first != before:
                more += 1
            if at < count:
                after = s[w[ROW_FIRST] + row + at]
                if after != w[w[GROUP_NET] + w[group + G_NET] + w[group + G_PINS] - 1]:
                    more += 1
                if after != before:
                    more -= 1
        now = weight[W_JUMPER] * more + weight[W_CUT] * (more - rows) - inside
        if now - weight[W_CUT] * (groups - q - 1) > most:
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
