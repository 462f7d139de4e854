"""The compiled local search on any board: construct a state, anneal one.

The cost of a state is

    jumper cost x sum over nets of (components - 1)  +  cut cost x cuts  +  penalties  +  a little wire length
"""

from __future__ import annotations

import math

from placer.solve.bodies import fits, hole_of, may_lie, overlap, pin_hole
from placer.solve.compiled import chance, compiled, draw, inner, raw, set_chance
from placer.solve.layout import (
    ANCHOR,
    CUT_AT,
    CUT_BETWEEN,
    CUTS,
    DEFICIT,
    GROUP_SHIFT,
    HSTRIP,
    HX,
    HY,
    ITEM_PINS,
    ITEM_SHAPE,
    JUMPERS,
    LENGTH,
    LIKED,
    MAX_MOVED,
    MOVABLE,
    MOVED,
    N_ITEMS,
    N_MOVABLE,
    N_MOVED,
    N_RIGID,
    NEAR,
    NEW_ANCHOR,
    NEW_SHAPE,
    OCC,
    OVERLAPS,
    RAISED,
    RIGID,
    SHAPE,
    SHORTS,
    SLEN,
    SSTART,
    STRIP_SHORTS,
    WIRELESS,
    WISHES,
    Floats,
    Ints,
)
from placer.solve.moves import anchor_for, propose, random_place, reach, try_move, undo
from placer.solve.pricing import energy

FEW = 8  # parts; a board for so few may be too full to move them one by one


@compiled
def construct(
    world: Ints,
    state: Ints,
    totals: Floats,
    order: Ints,
    tries: int,
    given_shape: Ints,
    given_anchor: Ints,
    weights: Floats,
    seed: int,
) -> bool:
    """Place all items in order, each at the cheapest of ``tries`` drawn places, or without tries at a given place.

    False when an item finds no empty holes.
    """
    w, s, f, weight = raw(world), raw(state), raw(totals), raw(weights)
    set_chance(s, seed)
    s[N_MOVED] = 1
    for t in range(w[N_ITEMS]):
        i = order[t]
        s[w[MOVED]] = i
        best = 1e18
        bs = -1
        ba = -1
        if tries == 0:
            bs, ba = given_shape[i], given_anchor[i]
        tried = 0
        while tried < tries or (bs < 0 and tried < 40 * tries):
            tried += 1
            shape, a = propose(w, s, i, chance(s) * (0.62 if tried < tries // 2 else 1.0))
            if shape < 0 or not fits(w, s, i, shape, a):
                continue
            s[w[NEW_SHAPE]] = shape
            s[w[NEW_ANCHOR]] = a
            if try_move(w, s, f, weight, 1e17):
                e = energy(f, weight)
                if e < best:
                    best = e
                    bs = shape
                    ba = a
                undo(w, s, f)
        if bs < 0:
            return False
        s[w[NEW_SHAPE]] = bs
        s[w[NEW_ANCHOR]] = ba
        if not try_move(w, s, f, weight, 1e17):
            return False
    return True


@inner
def offends(w: Ints, s: Ints, i: int) -> bool:
    """True when an item stands in another's way, or on a strip where nets meet that must not."""
    if overlap(w, s, i) > 0:
        return True
    for k in range(w[w[ITEM_PINS] + i]):  # noqa: SIM110 - numba compiles no generators
        if s[w[STRIP_SHORTS] + w[w[HSTRIP] + pin_hole(w, s, i, k)]] > 0:
            return True
    return False


@compiled
def mend(world: Ints, state: Ints, totals: Floats, tries: int, weights: Floats, seed: int, force: bool) -> int:
    """Take each item that offends to the cheapest of so many places, where one is cheaper. Returns how many moved.

    ``force``: a small one goes to where it does not offend, dearer or not. Where several of one net meet a large part's
    pin of another, all must leave before anything is gained.
    """
    w, s, f, weight = raw(world), raw(state), raw(totals), raw(weights)
    set_chance(s, seed)
    moved = 0
    if w[N_MOVABLE] == 0:
        return 0
    first = draw(s, w[N_MOVABLE])
    for t in range(w[N_MOVABLE]):
        i = w[w[MOVABLE] + (first + t) % w[N_MOVABLE]]
        if not offends(w, s, i):
            continue
        s[N_MOVED] = 1
        s[w[MOVED]] = i
        forced = force and w[w[ITEM_PINS] + i] <= 3
        best = 1e17 if forced else energy(f, weight) - 1e-9
        bs = -1
        ba = -1
        for tried in range(tries):
            # A fourth anywhere, of the rest half onto the strips of partners.
            if tried % 4 == 0:
                shape, a = random_place(w, s, i)
            else:
                shape, a = propose(w, s, i, chance(s) * (0.62 if tried % 2 == 0 else 1.0))
            if shape < 0 or not fits(w, s, i, shape, a):
                continue
            s[w[NEW_SHAPE]] = shape
            s[w[NEW_ANCHOR]] = a
            if try_move(w, s, f, weight, 1e17):
                e = energy(f, weight)
                if e < best and not (forced and offends(w, s, i)):
                    best = e
                    bs = shape
                    ba = a
                undo(w, s, f)
        if bs >= 0:
            s[w[NEW_SHAPE]] = bs
            s[w[NEW_ANCHOR]] = ba
            moved += 1 if try_move(w, s, f, weight, 1e17) else 0
    return moved


@inner
def record(w: Ints, s: Ints, f: Floats, weight: Floats, best_shape: Ints, best_anchor: Ints, best: Floats) -> bool:
    """Keep the state as the best when it is legal and cheaper, or as cheap and better liked, or with shorter wires."""
    if f[SHORTS] + f[OVERLAPS] + f[WIRELESS] + f[DEFICIT] + f[WISHES] > 0.5:
        return False
    cost = f[JUMPERS] * weight[JUMPERS] + f[CUTS] * weight[CUTS] + f[RAISED] * weight[RAISED]
    if cost > best[0] + 1e-9:
        return False
    worse = f[LIKED] > best[2] + 0.5 or (f[LIKED] > best[2] - 0.5 and f[LENGTH] > best[1] - 1e-9)
    if cost > best[0] - 1e-9 and worse:
        return False
    best[0] = cost
    best[1] = f[LENGTH]
    best[2] = f[LIKED]
    for q in range(w[N_ITEMS]):
        best_shape[q] = s[w[SHAPE] + q]
        best_anchor[q] = s[w[ANCHOR] + q]
    return True


@compiled
def search(
    world: Ints,
    state: Ints,
    totals: Floats,
    proposals: int,
    t_start: float,
    t_end: float,
    weights: Floats,
    seed: int,
    kept_shape: Ints,
    kept_anchor: Ints,
    kept: Floats,
    stop_cost: float,
) -> int:
    """Anneal, and keep the best legal state in ``kept_shape`` and ``kept_anchor``.

    ``kept``: its [cost, length, what of the liked is broken].
    Returns the number of proposals made; stops early once a legal state costs ``stop_cost`` or less.
    """
    w, s, f, weight = raw(world), raw(state), raw(totals), raw(weights)
    best_shape, best_anchor, best = raw(kept_shape), raw(kept_anchor), raw(kept)
    set_chance(s, seed)
    record(w, s, f, weight, best_shape, best_anchor, best)
    n_mov = w[N_MOVABLE]
    n_rigid = w[N_RIGID]
    if n_mov == 0:
        return 0
    temp = t_start
    for it in range(proposals):
        if it % 64 == 0:
            temp = t_start * (t_end / t_start) ** (it / proposals)
        limit = -temp * math.log(chance(s) + 1e-300)
        i = w[w[MOVABLE] + draw(s, n_mov)]
        r = chance(s)
        n_moved = 1
        s[w[MOVED]] = i
        if r < 0.06:  # change places with another item of the same shapes
            j = w[w[MOVABLE] + draw(s, n_mov)]
            found = False
            for _ in range(6):
                if j != i and w[w[ITEM_SHAPE] + 2 * j] == w[w[ITEM_SHAPE] + 2 * i]:
                    found = True
                    break
                j = w[w[MOVABLE] + draw(s, n_mov)]
            if not found:
                continue
            n_moved = 2
            s[w[MOVED] + 1] = j
            s[w[NEW_SHAPE]], s[w[NEW_ANCHOR]] = s[w[SHAPE] + j], s[w[ANCHOR] + j]
            s[w[NEW_SHAPE] + 1], s[w[NEW_ANCHOR] + 1] = s[w[SHAPE] + i], s[w[ANCHOR] + i]
        elif r < 0.14 and n_rigid > 0:  # a rigid part with its satellites
            i = w[w[RIGID] + draw(s, n_rigid)]
            a = s[w[ANCHOR] + i]
            dx = draw(s, 2 * w[GROUP_SHIFT] + 1) - w[GROUP_SHIFT]
            dy = draw(s, 2 * w[GROUP_SHIFT] + 1) - w[GROUP_SHIFT]
            far = chance(s) < 0.3
            if far:
                shape, h = random_place(w, s, i)
                if h < 0:
                    continue
                dx = w[w[HX] + h] - w[w[HX] + a]
                dy = w[w[HY] + h] - w[w[HY] + a]
            if dx == 0 and dy == 0:
                continue
            n_moved = 1
            s[w[MOVED]] = i
            for k in range(w[w[ITEM_PINS] + i]):
                own = pin_hole(w, s, i, k)
                strip = w[w[HSTRIP] + own]
                first = w[w[SSTART] + strip]
                last = first + w[w[SLEN] + strip] - 1
                if w[w[SLEN] + strip] > 8:
                    if w[w[CUT_AT] + strip] + w[w[CUT_BETWEEN] + strip] == 0:
                        continue
                    # Of a strip that may be cut, what shares the segment and stands near.
                    first, last = reach(w, s, own, max(first, own - 2 * w[NEAR]), min(last, own + 2 * w[NEAR]))
                for p in range(first, last + 1):
                    o = s[w[OCC] + p]
                    if o >= 0 and n_moved < MAX_MOVED:
                        j = o >> 6
                        if w[w[ITEM_PINS] + j] > 2 and j != i:
                            continue
                        known = False
                        for t in range(n_moved):
                            if s[w[MOVED] + t] == j:
                                known = True
                        if not known:
                            s[w[MOVED] + n_moved] = j
                            n_moved += 1
            good = True
            for t in range(n_moved):
                j = s[w[MOVED] + t]
                h = hole_of(w, w[w[HX] + s[w[ANCHOR] + j]] + dx, w[w[HY] + s[w[ANCHOR] + j]] + dy)
                if h < 0 or not may_lie(w, s[w[SHAPE] + j], h):
                    good = False
                    break
                s[w[NEW_SHAPE] + t] = s[w[SHAPE] + j]
                s[w[NEW_ANCHOR] + t] = h
            if not good:
                continue
        elif r < 0.17:  # two small parts change places with new shapes about one pin
            j = w[w[MOVABLE] + draw(s, n_mov)]
            if j == i or w[w[ITEM_PINS] + i] > 3 or w[w[ITEM_PINS] + j] > 3:
                continue
            hi = pin_hole(w, s, i, draw(s, w[w[ITEM_PINS] + i]))
            hj = pin_hole(w, s, j, draw(s, w[w[ITEM_PINS] + j]))
            si = w[w[ITEM_SHAPE] + 2 * i] + draw(s, w[w[ITEM_SHAPE] + 2 * i + 1])
            sj = w[w[ITEM_SHAPE] + 2 * j] + draw(s, w[w[ITEM_SHAPE] + 2 * j + 1])
            ai = anchor_for(w, si, draw(s, w[w[ITEM_PINS] + i]), hj)
            aj = anchor_for(w, sj, draw(s, w[w[ITEM_PINS] + j]), hi)
            if ai < 0 or aj < 0:
                continue
            n_moved = 2
            s[w[MOVED] + 1] = j
            s[w[NEW_SHAPE]], s[w[NEW_ANCHOR]] = si, ai
            s[w[NEW_SHAPE] + 1], s[w[NEW_ANCHOR] + 1] = sj, aj
        elif r < 0.20 and n_mov <= FEW:  # two at once, anywhere: one after the other they may not get past each other
            j = w[w[MOVABLE] + draw(s, n_mov)]
            if j == i:
                continue
            n_moved = 2
            s[w[MOVED] + 1] = j
            s[w[NEW_SHAPE]], s[w[NEW_ANCHOR]] = random_place(w, s, i)
            s[w[NEW_SHAPE] + 1], s[w[NEW_ANCHOR] + 1] = random_place(w, s, j)
            if s[w[NEW_SHAPE]] < 0 or s[w[NEW_SHAPE] + 1] < 0:
                continue
        else:
            shape, a = propose(w, s, i, chance(s))
            if shape < 0 or (shape == s[w[SHAPE] + i] and a == s[w[ANCHOR] + i]):
                continue
            s[w[NEW_SHAPE]] = shape
            s[w[NEW_ANCHOR]] = a
        s[N_MOVED] = n_moved
        taken = try_move(w, s, f, weight, limit)
        if taken and record(w, s, f, weight, best_shape, best_anchor, best) and best[0] <= stop_cost + 1e-9:
            return it + 1
    return proposals
