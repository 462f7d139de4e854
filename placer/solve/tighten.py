"""A smaller rectangle of board for a plan, at no more jumpers, cuts or wire: the compiled last look."""

from __future__ import annotations

import math

from placer.solve.arrays import Places
from placer.solve.bodies import pin_hole
from placer.solve.compiled import chance, compiled, draw, inner, raw, set_chance
from placer.solve.layout import (
    ANCHOR,
    CUTS,
    DEFICIT,
    HX,
    HY,
    ITEM_PINS,
    JUMPERS,
    LENGTH,
    LIKED,
    MOVABLE,
    MOVED,
    N_ITEMS,
    N_MOVABLE,
    N_MOVED,
    NEW_ANCHOR,
    NEW_SHAPE,
    OVERLAPS,
    RAISED,
    SHAPE,
    SHORTS,
    WIRELESS,
    WISHES,
    Floats,
    Ints,
)
from placer.solve.moves import propose, try_move, undo
from placer.solve.pricing import energy
from placer.solve.problem import Problem


def leads_area(problem: Problem, places: Places) -> float:
    """Columns x rows of the smallest rectangle round all leads of parts that stand at these places."""
    leads = [
        (int(problem.hx[anchor]) + dx, int(problem.hy[anchor]) + dy)
        for item, (no, anchor) in zip(problem.items, places, strict=True)
        for dx, dy in item.shapes[no].offsets
    ]
    across, down = (max(at) - min(at) + 1 for at in zip(*leads, strict=True))
    return float(across * down)


@inner
def pins_area(w: Ints, s: Ints) -> float:
    """Columns x rows of the smallest rectangle round all leads, and a little of its outline, to break ties."""
    x0, y0, x1, y1 = 1 << 30, 1 << 30, -(1 << 30), -(1 << 30)
    for i in range(w[N_ITEMS]):
        for k in range(w[w[ITEM_PINS] + i]):
            h = pin_hole(w, s, i, k)
            x0, x1 = min(x0, w[w[HX] + h]), max(x1, w[w[HX] + h])
            y0, y1 = min(y0, w[w[HY] + h]), max(y1, w[w[HY] + h])
    return (x1 - x0 + 1.0) * (y1 - y0 + 1.0)


@inner
def spread(w: Ints, s: Ints, cx: float, cy: float) -> float:
    """Steps of all leads from a point, along the axes: what draws the parts together one by one."""
    total = 0.0
    for i in range(w[N_ITEMS]):
        for k in range(w[w[ITEM_PINS] + i]):
            h = pin_hole(w, s, i, k)
            total += abs(w[w[HX] + h] - cx) + abs(w[w[HY] + h] - cy)
    return total


@compiled
def tighten(
    world: Ints,
    state: Ints,
    totals: Floats,
    proposals: int,
    hot: float,
    cold: float,
    area_weight: float,
    weights: Floats,
    seed: int,
    best_shape: Ints,
    best_anchor: Ints,
    best: Floats,
) -> None:
    """Anneal with the area, and the leads' distance from their middle, in the energy.

    ``best``: [least area seen in a legal state; the cost, about the wire length, and what of the liked may be broken in
    it].
    """
    w, s, f, weight = raw(world), raw(state), raw(totals), raw(weights)
    set_chance(s, seed)
    s[N_MOVED] = 1
    cx, cy, leads = 0.0, 0.0, 0.0
    for i in range(w[N_ITEMS]):
        for k in range(w[w[ITEM_PINS] + i]):
            h = pin_hole(w, s, i, k)
            cx, cy, leads = cx + w[w[HX] + h], cy + w[w[HY] + h], leads + 1.0
    cx, cy = cx / leads, cy / leads
    most = best[1]
    longest = best[2]
    liked = best[3]
    drawn = area_weight * (pins_area(w, s) / leads + spread(w, s, cx, cy))
    slack = 60.0 * area_weight  # what one move can hardly win back
    temp = hot
    for it in range(proposals):
        if it % 64 == 0:
            temp = hot * (cold / hot) ** (it / proposals)
        limit = -temp * math.log(chance(s) + 1e-300)
        i = w[w[MOVABLE] + draw(s, w[N_MOVABLE])]
        shape, a = propose(w, s, i, chance(s))
        if shape < 0 or (shape == s[w[SHAPE] + i] and a == s[w[ANCHOR] + i]):
            continue
        s[w[MOVED]] = i
        s[w[NEW_SHAPE]] = shape
        s[w[NEW_ANCHOR]] = a
        before = energy(f, weight)
        if not try_move(w, s, f, weight, limit + slack):
            continue
        area = pins_area(w, s)
        now = area_weight * (area / leads + spread(w, s, cx, cy))
        if energy(f, weight) - before + now - drawn > limit:
            undo(w, s, f)
            continue
        drawn = now
        if f[SHORTS] + f[OVERLAPS] + f[WIRELESS] + f[DEFICIT] + f[WISHES] > 0.5:
            continue
        cost = f[JUMPERS] * weight[JUMPERS] + f[CUTS] * weight[CUTS] + f[RAISED] * weight[RAISED]
        if cost > most + 1e-9 or f[LIKED] > liked + 0.5 or f[LENGTH] > longest + 0.25 or area > best[0] - 0.5:
            continue
        best[0] = area
        for q in range(w[N_ITEMS]):
            best_shape[q] = s[w[SHAPE] + q]
            best_anchor[q] = s[w[ANCHOR] + q]
