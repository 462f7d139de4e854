"""Compiled: a few items are taken away and put back where each costs the least, on boards whose strips are not cut.

What a place costs is told by the strips that its pins are on, without making the move; only what is best so far is
held against bodies. The state is that of :mod:`placer.solve.kernel`.
"""

from __future__ import annotations

import math

from placer.solve.bodies import lift, overlap, pin_hole, put, touch_item
from placer.solve.compiled import chance, compiled, draw, inner, raw, set_chance
from placer.solve.kernel import record
from placer.solve.layout import (
    ANCHOR,
    AT,
    CELL,
    COVER,
    HSTRIP,
    ITEM_NET,
    ITEM_PINS,
    ITEM_SHAPE,
    MOVABLE,
    MOVED,
    N_MOVABLE,
    N_MOVED,
    N_NETS_TOUCHED,
    N_STRIPS_TOUCHED,
    NET_PIN,
    NET_W,
    NEW_ANCHOR,
    NEW_SHAPE,
    OCC,
    OFF,
    OLD_ANCHOR,
    OLD_SHAPE,
    OVERLAPS,
    PIN_ITEM,
    PIN_K,
    PLACED,
    SEG_FREE,
    SEG_N,
    SEG_W,
    SHAPE,
    SHAPE_PIN,
    SLEN,
    SSTART,
    STAMP,
    Floats,
    Ints,
)
from placer.solve.moves import anchor_for, holds, random_place
from placer.solve.pricing import energy, refresh

LARGE = 4  # pins; such items are put back before others
LEAST_TAKEN, MOST_TAKEN = 2, 5  # items in a round
NEARBY = 0.8  # of the rounds take what stands on strips beside each other, the others what hangs together by nets
STRIPS_AWAY = 2
LARGE_NET, RARELY = 8, 0.3  # of so many pins, others are looked for on a net less often
PARTNERS = 4  # on a net, at most, on whose strips an item may be put
HOLES = 5  # of such a strip, at most
PINS_OF_LARGE = 4  # about, by which an item of many is put back
LEFT_OUT = 0.02  # of all places, so that not always the same one is the best
ANYWHERE, ANYWHERE_ALONE = 10, 50  # places by chance besides; the second where nothing else is
NEVER = 1e9
# Against a jumper of 1: the last free hole but one of a strip is taken; a strip for an open pin.
LAST_HOLE, OPEN_PIN = 0.15, 0.02


@inner
def price(w: Ints, s: Ints, i: int, shape: int, anchor: int, most: float) -> float:
    """About how many jumpers an item that is not there would add; ``NEVER`` where it may not be, or for above ``most``.

    A strip that bears its net costs nothing, an empty one a jumper; on those of other nets it may not be.
    """
    at = w[CELL] + w[w[AT] + anchor]
    pin = w[OFF] + w[w[SHAPE_PIN] + shape]
    nets = w[ITEM_NET] + w[NET_W] * i
    more = 0.0
    for k in range(w[w[ITEM_PINS] + i]):
        hole = w[at + w[pin + k]]
        if s[w[OCC] + hole] >= 0 or s[w[COVER] + hole] > 0:
            return NEVER
        strip = w[w[HSTRIP] + hole]
        net = w[nets + k]
        if s[w[SEG_N] + strip] > 0:
            if not holds(w, s, strip, net):
                return NEVER
            if s[w[SEG_FREE] + w[SEG_W] * strip] < 2:
                more += LAST_HOLE
        else:
            new = True
            for q in range(k):
                if w[w[HSTRIP] + w[at + w[pin + q]]] == strip:
                    if w[nets + q] != net:
                        return NEVER
                    new = False
            if new:
                more += 1.0 if w[w[NET_PIN] + 2 * net + 1] > 1 else OPEN_PIN
        if more > most:
            return NEVER
    return more


@inner
def stands_free(w: Ints, s: Ints, i: int, shape: int, anchor: int) -> bool:
    """No other body is in the way of an item that is not there."""
    put(w, s, i, shape, anchor)
    free = overlap(w, s, i) == 0
    lift(w, s, i)
    return bool(free)


@inner
def best_place(w: Ints, s: Ints, i: int) -> bool:
    """Find the cheapest place for an item that is not there, of those on strips of its nets and some others."""
    pins = w[w[ITEM_PINS] + i]
    first_shape, shapes = w[w[ITEM_SHAPE] + 2 * i], w[w[ITEM_SHAPE] + 2 * i + 1]
    least = 1e8
    s[w[NEW_SHAPE]] = -1
    for k in range(pins):
        net = w[w[ITEM_NET] + w[NET_W] * i + k]
        mates, count = w[w[NET_PIN] + 2 * net], w[w[NET_PIN] + 2 * net + 1]
        if count < 2 or (pins >= LARGE and chance(s) * pins > PINS_OF_LARGE):
            continue
        start = draw(s, count)
        seen = 0
        for t in range(count):
            mate = mates + (start + t) % count
            j = w[w[PIN_ITEM] + mate]
            if s[w[PLACED] + j] == 0:
                continue
            seen += 1
            if seen > PARTNERS:
                break
            strip = w[w[HSTRIP] + pin_hole(w, s, j, w[w[PIN_K] + mate])]
            length = w[w[SLEN] + strip]
            begin = draw(s, length)
            tried = 0
            for u in range(length):
                hole = w[w[SSTART] + strip] + (begin + u) % length
                if s[w[OCC] + hole] >= 0 or s[w[COVER] + hole] > 0:
                    continue
                tried += 1
                if tried > HOLES:
                    break
                for shape in range(first_shape, first_shape + shapes):
                    anchor = anchor_for(w, shape, k, hole)
                    if anchor < 0:
                        continue
                    found = price(w, s, i, shape, anchor, least)
                    if found >= least or chance(s) < LEFT_OUT:
                        continue
                    found += 0.01 * chance(s)
                    if found < least and stands_free(w, s, i, shape, anchor):
                        least = found
                        s[w[NEW_SHAPE]], s[w[NEW_ANCHOR]] = shape, anchor
    for _ in range(ANYWHERE if s[w[NEW_SHAPE]] >= 0 else ANYWHERE_ALONE):
        shape, anchor = random_place(w, s, i)
        if shape >= 0:
            found = price(w, s, i, shape, anchor, least)
            if found < least:
                found += 0.01 * chance(s)
            if found < least and stands_free(w, s, i, shape, anchor):
                least = found
                s[w[NEW_SHAPE]], s[w[NEW_ANCHOR]] = shape, anchor
    return bool(s[w[NEW_SHAPE]] >= 0)


@inner
def choose(w: Ints, s: Ints, count: int) -> int:
    """Choose about so many items that have to do with each other, large ones first; returns how many."""
    near = chance(s) < NEARBY
    s[w[MOVED]] = w[w[MOVABLE] + draw(s, w[N_MOVABLE])]
    n = min(1, count)  # no literal: `draw` would be compiled for it too
    for _ in range(20 * count):
        if n == count:
            break
        i = s[w[MOVED] + draw(s, n)]
        k = draw(s, w[w[ITEM_PINS] + i])
        if near:
            strip = w[w[HSTRIP] + pin_hole(w, s, i, k)] + int(chance(s) * (2 * STRIPS_AWAY + 1)) - STRIPS_AWAY
            if strip < 0 or strip >= w[SLEN] - w[SSTART]:
                continue
            occupant = s[w[OCC] + w[w[SSTART] + strip] + draw(s, w[w[SLEN] + strip])]
            if occupant < 0:
                continue
            j = occupant >> 6
        else:
            net = w[w[ITEM_NET] + w[NET_W] * i + k]
            pins = w[w[NET_PIN] + 2 * net + 1]
            if pins < 2 or (pins > LARGE_NET and chance(s) > RARELY):
                continue
            j = w[w[PIN_ITEM] + w[w[NET_PIN] + 2 * net] + draw(s, pins)]
        known = False
        for t in range(n):
            known = known or s[w[MOVED] + t] == j
        if not known:
            at = n
            if w[w[ITEM_PINS] + j] >= LARGE:
                while at > 0 and w[w[ITEM_PINS] + s[w[MOVED] + at - 1]] < w[w[ITEM_PINS] + j]:
                    s[w[MOVED] + at] = s[w[MOVED] + at - 1]
                    at -= 1
            s[w[MOVED] + at] = j
            n += 1
    return n


@inner
def off(w: Ints, s: Ints, f: Floats, i: int) -> None:
    """Take an item off the board, and mark what that concerns."""
    touch_item(w, s, i, s[w[SHAPE] + i], s[w[ANCHOR] + i])
    f[OVERLAPS] -= overlap(w, s, i)
    lift(w, s, i)


@inner
def on(w: Ints, s: Ints, f: Floats, i: int, shape: int, anchor: int) -> None:
    """Put an item on the board, and mark what that concerns."""
    put(w, s, i, shape, anchor)
    f[OVERLAPS] += overlap(w, s, i)
    touch_item(w, s, i, shape, anchor)


@inner
def next_step(s: Ints) -> None:
    """Forget what was marked."""
    s[STAMP] += 1
    s[N_STRIPS_TOUCHED] = 0
    s[N_NETS_TOUCHED] = 0


@compiled
def put_back(
    world: Ints,
    state: Ints,
    totals: Floats,
    rounds: int,
    hot: float,
    cold: float,
    weights: Floats,
    seed: int,
    kept_shape: Ints,
    kept_anchor: Ints,
    kept: Floats,
    stop_cost: float,
) -> None:
    """So many rounds, from one temperature to another; arguments as those of :func:`placer.solve.kernel.search`."""
    w, s, f, weight = raw(world), raw(state), raw(totals), raw(weights)
    best_shape, best_anchor, best = raw(kept_shape), raw(kept_anchor), raw(kept)
    set_chance(s, seed)
    record(w, s, f, weight, best_shape, best_anchor, best)
    for r in range(rounds):
        temperature = hot * (cold / hot) ** (r / rounds)
        most = energy(f, weight) - temperature * math.log(chance(s) + 1e-300)
        n = choose(w, s, LEAST_TAKEN + int(chance(s) * (MOST_TAKEN - LEAST_TAKEN + 1)))
        s[N_MOVED] = n
        next_step(s)
        for t in range(n):
            i = s[w[MOVED] + t]
            s[w[OLD_SHAPE] + t], s[w[OLD_ANCHOR] + t] = s[w[SHAPE] + i], s[w[ANCHOR] + i]
            off(w, s, f, i)
        refresh(w, s, f)
        back = 0
        while back < n and best_place(w, s, s[w[MOVED] + back]):
            next_step(s)
            on(w, s, f, s[w[MOVED] + back], s[w[NEW_SHAPE]], s[w[NEW_ANCHOR]])
            refresh(w, s, f)
            back += 1
        if back == n and energy(f, weight) <= most:
            if record(w, s, f, weight, best_shape, best_anchor, best) and best[0] <= stop_cost + 1e-9:
                return
            continue
        next_step(s)
        for t in range(back):
            off(w, s, f, s[w[MOVED] + t])
        for t in range(n):
            on(w, s, f, s[w[MOVED] + t], s[w[OLD_SHAPE] + t], s[w[OLD_ANCHOR] + t])
        refresh(w, s, f)
