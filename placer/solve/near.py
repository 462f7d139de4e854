"""What is near what: items that hang together by nets, and where the pins of a plan are."""

from __future__ import annotations

import random

from placer.solve.arrays import Places
from placer.solve.claims import Pin
from placer.solve.problem import Problem


def linked(p: Problem, count: int, rng: random.Random) -> frozenset[int]:
    """So many items: one by chance, and others that hang together with it by nets, small nets first."""
    if count >= len(p.items):
        return frozenset(range(len(p.items)))
    items_of: dict[int, list[int]] = {}
    for i, item in enumerate(p.items):
        for n in dict.fromkeys(item.nets):
            items_of.setdefault(n, []).append(i)
    chosen = {rng.randrange(len(p.items))}
    while len(chosen) < count:
        weight: dict[int, float] = {}
        for i in sorted(chosen):
            for n in p.items[i].nets:
                others = items_of[n]
                for j in others:
                    if j not in chosen:
                        weight[j] = weight.get(j, 0.0) + 1 / len(others)
        left = sorted(weight) or [i for i in range(len(p.items)) if i not in chosen]
        chosen.add(rng.choices(left, [weight.get(j, 1.0) ** 1.5 for j in left])[0])
    return frozenset(chosen)


def holes_of_pins(p: Problem, places: Places) -> dict[Pin, int]:
    """The hole of each pin."""
    found: dict[Pin, int] = {}
    for i, (item, (no, anchor)) in enumerate(zip(p.items, places, strict=True)):
        x, y = int(p.hx[anchor]), int(p.hy[anchor])
        for k, (dx, dy) in enumerate(item.shapes[no].offsets):
            found[i, k] = p.hole(x + dx, y + dy)
    return found


def strips_of_pins(p: Problem, places: Places) -> dict[Pin, int]:
    """The strip of each pin."""
    return {pin: int(p.hstrip[hole]) for pin, hole in holes_of_pins(p, places).items()}
