"""Compiled: places for parts on a board of lone pads, by the length of solder that their nets would take.

Where every connection is a run of bridges from pad to pad, the cost of a net is close to a spanning tree over its pins,
steps counted along the grid. A state is annealed on the sum of those trees; whether the runs find their way past each
other is for the router to say (:mod:`placer.solve.pads`).
"""

from __future__ import annotations

import math

import numpy as np

from placer.solve.bodies import pin_hole
from placer.solve.compiled import chance, compiled, draw, inner, raw, set_chance
from placer.solve.layout import (
    ANCHOR,
    HX,
    HY,
    ITEM_NET,
    ITEM_PINS,
    ITEM_SHAPE,
    LIKED,
    LIST_NET,
    MOVABLE,
    MOVED,
    N_HOLES,
    N_ITEMS,
    N_MOVABLE,
    N_MOVED,
    N_NETS_TOUCHED,
    NET_PIN,
    NET_W,
    NEW_ANCHOR,
    NEW_SHAPE,
    OCC,
    OVERLAPS,
    PIN_ITEM,
    PIN_K,
    RAISED,
    SHAPE,
    SHORTS,
    WISHES,
    Floats,
    Ints,
)
from placer.solve.moves import anchor_for, propose, try_move, undo


@inner
def net_span(w: Ints, s: Ints, n: int, cap: float, group: Ints, strip: Ints, scratch: Ints, far: Floats) -> float:
    """The tree over a net's pins, in steps; an edge longer than ``cap`` is a jumper and counts as that.

    ``group``: pins of one number are joined inside their part; ``strip``: the copper under each hole, as bought.
    """
    q0 = w[w[NET_PIN] + 2 * n]
    m = w[w[NET_PIN] + 2 * n + 1]
    for t in range(m):
        scratch[t] = pin_hole(w, s, w[w[PIN_ITEM] + q0 + t], w[w[PIN_K] + q0 + t])
        far[t] = 1e18
    total = 0.0
    last = 0
    far[0] = -1.0
    for _ in range(m - 1):
        h = scratch[last]
        best = -1
        for t in range(m):
            if far[t] < 0.0:
                continue
            g = scratch[t]
            d = 1.0 * abs(w[w[HX] + h] - w[w[HX] + g]) + abs(w[w[HY] + h] - w[w[HY] + g])
            if group[q0 + t] == group[q0 + last] or strip[g] == strip[h]:
                d = 0.0
            far[t] = min(far[t], d)
            if best < 0 or far[t] < far[best]:
                best = t
        total += min(cap, far[best])
        far[best] = -1.0
        last = best
    return total


@inner
def crowding(w: Ints, s: Ints, i: int, mate: int, neighbour: Ints) -> float:
    """Pads beside an item's pins where a pin of another net stands: ways out that solder cannot take.

    Such a pair of pins counts once; half here where the other item is ``mate``, which is asked as well.
    """
    found = 0.0
    for k in range(w[w[ITEM_PINS] + i]):
        n = w[w[ITEM_NET] + w[NET_W] * i + k]
        h = pin_hole(w, s, i, k)
        for side in range(4):
            g = neighbour[4 * h + side]
            if g >= 0:
                o = s[w[OCC] + g]
                if o >= 0 and w[w[ITEM_NET] + w[NET_W] * (o >> 6) + (o & 63)] != n:
                    found += 0.5 if o >> 6 == mate or o >> 6 == i else 1.0
    return found


@compiled
def anneal_spans(
    world: Ints,
    state: Ints,
    totals: Floats,
    proposals: int,
    hot: float,
    cold: float,
    seed: int,
    cap: float,
    group: Ints,
    strip: Ints,
    neighbour: Ints,
    span: Floats,
    best_shape: Ints,
    best_anchor: Ints,
    penalty: float,
    crowded: float,
    best: float,
    no_weights: Floats,
    likes: Floats,
) -> float:
    """Anneal a state with everything placed. ``span``: each net's share, kept up to date.

    Returns the least sum of spans of a legal state, which is kept in ``best_shape`` and ``best_anchor`` when it is less
    than ``best``. In steps are: the temperatures, ``penalty`` (of each overlap, short and step off a wish) and
    ``crowded`` (the price of two pins of different nets side by side). ``likes``: the same for a thousandth of what is
    liked, or raised to a cost, and broken.
    """
    w, s, f, weight = raw(world), raw(state), raw(totals), raw(no_weights)
    set_chance(s, seed)
    n_nets = span.shape[0]
    most = 1
    for n in range(n_nets):
        most = max(most, w[w[NET_PIN] + 2 * n + 1])
    scratch = np.empty(most, np.int64)
    far = np.empty(most)
    saved = np.empty(n_nets)
    total = 0.0
    for n in range(n_nets):
        span[n] = net_span(w, s, n, cap, group, strip, scratch, far)
        total += span[n]
    for i in range(w[N_ITEMS]):  # asked of both items, each pair comes twice
        total += 0.5 * crowded * crowding(w, s, i, w[N_ITEMS], neighbour)
    total += likes[0] * f[LIKED] + likes[1] * f[RAISED]
    n_mov = w[N_MOVABLE]
    bad = f[OVERLAPS] + f[SHORTS] + f[WISHES]
    if n_mov == 0:
        proposals = min(proposals, 1)
    temp = hot
    for it in range(proposals):
        if it % 64 == 0:
            temp = hot * (cold / hot) ** (it / proposals)
        if bad < 0.5 and total < best - 1e-9:
            best = total
            for i in range(w[N_ITEMS]):
                best_shape[i] = s[w[SHAPE] + i]
                best_anchor[i] = s[w[ANCHOR] + i]
        if n_mov == 0:
            break
        limit = -temp * math.log(chance(s) + 1e-300)
        i = w[w[MOVABLE] + draw(s, n_mov)]
        s[w[MOVED]] = i
        n_moved = 1
        if chance(s) < 0.08:  # change places with another item of the same shapes
            j = w[w[MOVABLE] + draw(s, n_mov)]
            if j == i or w[w[ITEM_SHAPE] + 2 * j] != w[w[ITEM_SHAPE] + 2 * i]:
                continue
            s[w[MOVED] + 1] = j
            n_moved = 2
            s[w[NEW_SHAPE]], s[w[NEW_ANCHOR]] = s[w[SHAPE] + j], s[w[ANCHOR] + j]
            s[w[NEW_SHAPE] + 1], s[w[NEW_ANCHOR] + 1] = s[w[SHAPE] + i], s[w[ANCHOR] + i]
        else:
            kind = chance(s)
            # Beside a partner rather than on its strip: a pin's neighbours are what counts here.
            shape, a = beside(w, s, i, neighbour) if kind < 0.35 else propose(w, s, i, kind)
            if shape < 0 or (shape == s[w[SHAPE] + i] and a == s[w[ANCHOR] + i]):
                continue
            s[w[NEW_SHAPE]] = shape
            s[w[NEW_ANCHOR]] = a
        mate = s[w[MOVED] + 1] if n_moved > 1 else w[N_ITEMS]  # none
        crowd = crowding(w, s, i, mate, neighbour)
        if n_moved > 1:
            crowd += crowding(w, s, mate, i, neighbour)
        fond = likes[0] * f[LIKED] + likes[1] * f[RAISED]
        s[N_MOVED] = n_moved
        if not try_move(w, s, f, weight, 1e17):
            continue
        new_total = total + likes[0] * f[LIKED] + likes[1] * f[RAISED] - fond
        for t in range(s[N_NETS_TOUCHED]):
            n = s[w[LIST_NET] + t]
            saved[t] = span[n]
            span[n] = net_span(w, s, n, cap, group, strip, scratch, far)
            new_total += span[n] - saved[t]
        crowd -= crowding(w, s, i, mate, neighbour)
        if n_moved > 1:
            crowd -= crowding(w, s, mate, i, neighbour)
        new_total -= crowded * crowd
        new_bad = f[OVERLAPS] + f[SHORTS] + f[WISHES]
        if new_total - total + penalty * (new_bad - bad) <= limit:
            total = new_total
            bad = new_bad
        else:
            for t in range(s[N_NETS_TOUCHED]):
                span[s[w[LIST_NET] + t]] = saved[t]
            undo(w, s, f)
    return best


@inner
def beside(w: Ints, s: Ints, i: int, neighbour: Ints) -> tuple[int, int]:
    """A place that puts a pin of an item next to another pin of its net: (shape, anchor), or (-1, -1)."""
    k = draw(s, w[w[ITEM_PINS] + i])
    n = w[w[ITEM_NET] + w[NET_W] * i + k]
    q = w[w[NET_PIN] + 2 * n] + draw(s, w[w[NET_PIN] + 2 * n + 1])
    j = w[w[PIN_ITEM] + q]
    if j == i:
        return -1, -1
    h = neighbour[4 * pin_hole(w, s, j, w[w[PIN_K] + q]) + draw(s, neighbour.shape[0] // w[N_HOLES])]
    if h < 0:
        return -1, -1
    for _ in range(4):
        shape = w[w[ITEM_SHAPE] + 2 * i] + draw(s, w[w[ITEM_SHAPE] + 2 * i + 1])
        a = anchor_for(w, shape, k, h)
        if a >= 0:
            return shape, a
    return -1, -1
