"""Compiled: a few items are taken away and put back where each costs the least, again and again, ever colder.

The state is an order of all items along the strips (:mod:`placer.solve.lineup`), not places: who is put between two
others moves all that come after, so that there is room wherever the strips are long enough for all.
"""

from __future__ import annotations

import math

from placer.solve.compiled import chance, compiled, draw, inner, raw, set_chance
from placer.solve.layout import Floats, Ints
from placer.solve.linelayout import (
    AWAY,
    COLUMN,
    COUNT,
    EXCESS,
    F_GROUP,
    F_GROUPS,
    F_KIN,
    FIRST,
    FORM,
    FORM_W,
    G_LINE,
    GROUP,
    GROUP_W,
    ITEM_FORM,
    ITEM_KIN,
    ITEM_NET,
    ITEM_PINS,
    K_FORM,
    K_FORMS,
    K_HIGH,
    K_LOW,
    KEY,
    KEYS,
    KIN,
    KIN_FORM,
    KIN_LINE,
    KIN_W,
    LIES,
    LINE,
    MOVED,
    N_HOLES,
    N_ITEMS,
    N_LINES,
    NET_PIN,
    NET_W,
    NEVER,
    NEW_KEY,
    NO_KEY,
    OLD_KEY,
    OLD_LIES,
    OLD_LINE,
    ORDER,
    PIN_ITEM,
    PIN_K,
    PIN_LINE,
    ROW_FIRST,
    ROW_ITEM,
    ROW_KEY,
    ROW_LAST,
    ROW_W,
    STARVED,
    TURN,
    W_EXCESS,
    W_STARVED,
    Steps,
)
from placer.solve.linepack import pack
from placer.solve.linestate import cost, price, put, sort, take

LARGE = 4  # pins; such items are put back before others
LEAST_TAKEN, MOST_TAKEN = 2, 4  # items in a round
ALONG = 0.8  # of the rounds take what stands side by side, the others what hangs together by nets
LARGE_NET, RARELY = 8, 0.3  # of so many pins, others are looked for on a net less often
PARTNERS = 6  # on a net, at most, beside which an item may be put
PINS_OF_LARGE = 4  # about, by which an item of many is put back
LEFT_OUT = 0.02  # of all places, so that not always the same one is the best
ANYWHERE, ANYWHERE_ALONE = 10, 60  # places by chance besides; the second where nothing else is
CLOSE = 12  # keys from a partner at most


@compiled
def begin(world: Ints, distances: Steps, state: Ints) -> None:
    """Put all items where ``LIES``, ``LINE`` and ``KEY`` of an otherwise empty state say."""
    w, far, s = raw(world), raw(distances), raw(state)
    for at in range(w[N_LINES] * w[ROW_W]):
        s[w[ROW_KEY] + at], s[w[ROW_FIRST] + at], s[w[ROW_LAST] + at] = NO_KEY, -1, -1
    for i in range(w[N_ITEMS]):
        s[w[ORDER] + i] = i
        put(w, s, i)
    sort(w, s)
    pack(w, far, s, 1e9)


@compiled
def measure(cells: Ints, boxes: Ints, starts: Ints, extents: Ints, reach: int, far: Steps) -> None:
    """Least columns from the leftmost pin of one shape to that of another beyond it, for each distance of lines.

    ``cells``: line, column, and 1 for a pin or 0 where a body hides a hole; ``boxes``: um, first across the strips;
    ``starts``: for each shape where its cells and boxes begin (one more than there are shapes); ``extents``: its first
    and last line.
    """
    cell, box, start, extent, found = raw(cells), raw(boxes), raw(starts), raw(extents), raw(far)
    n = len(extents) // 2
    for a in range(n):
        for b in range(n):
            lowest, highest = extent[2 * a] - extent[2 * b + 1], extent[2 * a + 1] - extent[2 * b]
            for lines in range(max(-reach, lowest), min(reach, highest) + 1):
                most = NEVER
                for c in range(start[2 * a], start[2 * a + 2]):
                    for e in range(start[2 * b], start[2 * b + 2]):
                        if cell[3 * c] == cell[3 * e] + lines and cell[3 * c + 2] + cell[3 * e + 2] > 0:
                            most = max(most, cell[3 * c + 1] - cell[3 * e + 1] + 1)
                across = lines * 2540
                for c in range(start[2 * a + 1], start[2 * a + 3]):
                    for e in range(start[2 * b + 1], start[2 * b + 3]):
                        if box[4 * c] < box[4 * e + 1] + across and box[4 * c + 1] > box[4 * e] + across:
                            most = max(most, -((box[4 * e + 2] - box[4 * c + 3]) // 2540))
                found[(a * n + b) * (2 * reach + 1) + lines + reach] = most


@inner
def choose(w: Ints, s: Ints, count: int) -> int:
    """Choose about so many items that have to do with each other; returns how many."""
    along = chance(s) < ALONG
    first = draw(s, w[N_ITEMS])
    s[w[MOVED]] = first
    s[w[AWAY] + first] = 1
    n = min(1, count)  # no literal: `draw` would be compiled for it too
    for _ in range(20 * count):
        if n == count:
            break
        i = s[w[MOVED] + draw(s, n)]
        if along:
            form = w[FORM] + FORM_W * s[w[LIES] + i]
            group = w[GROUP] + GROUP_W * (w[form + F_GROUP] + draw(s, w[form + F_GROUPS]))
            line = s[w[LINE] + i] + w[group + G_LINE]
            row = w[ROW_ITEM] + line * w[ROW_W]
            at = 0
            while s[row + at] != i:
                at += 1
            at += 1 if chance(s) < 0.5 else -1
            if at < 0 or at >= s[w[COUNT] + line]:
                continue
            j = s[row + at]
        else:
            net = w[w[ITEM_NET] + w[NET_W] * i + draw(s, w[w[ITEM_PINS] + i])]
            pins = w[w[NET_PIN] + 2 * net + 1]
            if pins < 2 or (pins > LARGE_NET and chance(s) > RARELY):
                continue
            j = w[w[PIN_ITEM] + w[w[NET_PIN] + 2 * net] + draw(s, pins)]
        if s[w[AWAY] + j] == 0:
            s[w[AWAY] + j] = 1
            s[w[MOVED] + n] = j
            n += 1
    return n


@inner
def arrange(w: Ints, s: Ints, n: int) -> None:
    """Order the chosen items as they are put back: large ones first, else by chance."""
    for t in range(n):
        i = s[w[MOVED] + t]
        pins = w[w[ITEM_PINS] + i]
        turn = int(KEYS * chance(s)) - (KEYS * pins if pins >= LARGE else 0)
        at = t
        while at > 0 and s[w[TURN] + at - 1] > turn:
            s[w[TURN] + at], s[w[MOVED] + at] = s[w[TURN] + at - 1], s[w[MOVED] + at - 1]
            at -= 1
        s[w[TURN] + at], s[w[MOVED] + at] = turn, i


@inner
def put_back(w: Ints, s: Ints, weight: Floats, i: int) -> bool:
    """Put an item where it costs the least, beside one that it shares a net with or anywhere; False if nowhere."""
    first_form, forms = w[w[ITEM_FORM] + 2 * i], w[w[ITEM_FORM] + 2 * i + 1]
    first_kin, kins = w[w[ITEM_KIN] + 2 * i], w[w[ITEM_KIN] + 2 * i + 1]
    pins = w[w[ITEM_PINS] + i]
    least = 1e8
    lies, line, key = -1, 0, 0
    for k in range(pins):
        net = w[w[ITEM_NET] + w[NET_W] * i + k]
        mates, count = w[w[NET_PIN] + 2 * net], w[w[NET_PIN] + 2 * net + 1]
        if count < 2 or (pins >= LARGE and chance(s) * pins > PINS_OF_LARGE):
            continue
        start = draw(s, count)
        seen = 0
        for t in range(count):
            pin = mates + (start + t) % count
            j = w[w[PIN_ITEM] + pin]
            if s[w[AWAY] + j] != 0:
                continue
            seen += 1
            if seen > PARTNERS:
                break
            there = s[w[LINE] + j] + w[w[PIN_LINE] + w[NET_W] * s[w[LIES] + j] + w[w[PIN_K] + pin]]
            for side in range(2):
                close = s[w[KEY] + j] + (1 + int(CLOSE * chance(s))) * (1 if side == 1 else -1)
                for q in range(first_kin, first_kin + kins):
                    kin = w[KIN] + KIN_W * q
                    own = there - w[w[KIN_LINE] + w[NET_W] * q + k]
                    if own + w[kin + K_LOW] < 0 or own + w[kin + K_HIGH] >= w[N_LINES]:
                        continue
                    found = price(w, s, weight, q, own, close, least)
                    if found >= least or chance(s) < LEFT_OUT:
                        continue
                    f = w[w[KIN_FORM] + w[kin + K_FORM] + draw(s, w[kin + K_FORMS])]
                    found += 0.01 * chance(s)
                    if found < least and w[w[FIRST] + f * w[N_LINES] + own] >= 0:
                        least = found
                        lies, line, key = f, own, close
    for _ in range(ANYWHERE if lies >= 0 else ANYWHERE_ALONE):
        f = first_form + draw(s, forms)
        own = draw(s, w[N_LINES])
        if w[w[FIRST] + f * w[N_LINES] + own] >= 0:
            close = draw(s, KEYS * w[N_HOLES])
            found = price(w, s, weight, w[w[FORM] + FORM_W * f + F_KIN], own, close, least)
            if found < least:
                found += 0.01 * chance(s)
            if found < least:
                least = found
                lies, line, key = f, own, close
    if lies < 0:
        return False
    again = True
    while again:  # of two with one key it would not be clear who stands before whom
        again = False
        for j in range(w[N_ITEMS]):
            if s[w[AWAY] + j] == 0 and s[w[KEY] + j] == key:
                key += 1
                again = True
    s[w[LIES] + i], s[w[LINE] + i], s[w[KEY] + i] = lies, line, key
    return True


@compiled
def search(
    world: Ints,
    distances: Steps,
    state: Ints,
    weights: Floats,
    rounds: int,
    hot: float,
    cold: float,
    seed: int,
    kept: Ints,
    best: Floats,
) -> None:
    """So many rounds, from one temperature to another. The best state on the way that fits is kept.

    ``kept``: form, line and column of each item, in three rows; ``best``: its cost.
    """
    w, far, s, weight = raw(world), raw(distances), raw(state), raw(weights)
    set_chance(s, seed)
    n = w[N_ITEMS]
    now = cost(s, weight)
    for r in range(rounds):
        temperature = hot * (cold / hot) ** (r / rounds)
        most = now - temperature * math.log(chance(s) + 1e-300)
        most += weight[W_EXCESS] * s[EXCESS] + weight[W_STARVED] * s[STARVED]
        moved = choose(w, s, LEAST_TAKEN + int(chance(s) * (MOST_TAKEN - LEAST_TAKEN + 1)))
        arrange(w, s, moved)
        for t in range(moved):
            i = s[w[MOVED] + t]
            s[w[OLD_LIES] + t], s[w[OLD_LINE] + t], s[w[OLD_KEY] + t] = s[w[LIES] + i], s[w[LINE] + i], s[w[KEY] + i]
            take(w, s, i)
        back = 0
        for t in range(moved):
            i = s[w[MOVED] + t]
            if back == t and put_back(w, s, weight, i):
                put(w, s, i)
                back += 1
            s[w[AWAY] + i] = 0
        new = cost(s, weight)
        taken = False
        if back == moved and new <= most:
            excess, starved = s[EXCESS], s[STARVED]
            sort(w, s)
            if weight[W_EXCESS] > 0 and pack(w, far, s, (most - new) / weight[W_EXCESS]):
                taken = new + weight[W_EXCESS] * s[EXCESS] + weight[W_STARVED] * s[STARVED] <= most
            if not taken:
                s[EXCESS], s[STARVED] = excess, starved
        if taken:
            now = new
            for i in range(n):
                s[w[KEY] + i] = s[w[NEW_KEY] + i]
            for line in range(w[N_LINES]):
                row = line * w[ROW_W]
                for at in range(s[w[COUNT] + line]):
                    s[w[ROW_KEY] + row + at] = s[w[KEY] + s[w[ROW_ITEM] + row + at]]
            sort(w, s)
            if s[EXCESS] == 0 and s[STARVED] == 0 and now < best[0] - 1e-9:
                best[0] = now
                for i in range(n):
                    kept[i], kept[n + i], kept[2 * n + i] = s[w[LIES] + i], s[w[LINE] + i], s[w[COLUMN] + i]
            continue
        for t in range(back):
            take(w, s, s[w[MOVED] + t])
        for t in range(moved):
            i = s[w[MOVED] + t]
            s[w[LIES] + i], s[w[LINE] + i], s[w[KEY] + i] = s[w[OLD_LIES] + t], s[w[OLD_LINE] + t], s[w[OLD_KEY] + t]
            put(w, s, i)
        sort(w, s)
