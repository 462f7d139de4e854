"""The bound on a board that allows bridges: a count of pins, and how far rigid parts hold them apart."""

from __future__ import annotations

from collections import Counter

import networkx as nx

from placer.solve.problem import Item, Problem


def least_cost(p: Problem) -> float:
    """A cost that no plan beats; 0 where some strip is more than a lone pad, for it may join pins for nothing.

    A net of k pins (those joined inside a part counted once) is a graph over its pads that hangs together. Each jumper
    brings two pads more, for its ends, so that with n jumpers there are at least k + 2 n - 1 joins, and k + n - 1 of
    them are bridges. Without a jumper, bridges also go as far as the box around those of its pins that one rigid part
    holds in place, unless metal in a part shortens the way.
    """
    if any(n > 1 for n in p.slen):
        return 0.0
    step, jump = p.options.bridge_cost, p.options.jumper_cost
    metal = nx.Graph()
    joined = set()
    for i, item in enumerate(p.items):
        metal.add_nodes_from(((i, k), {"net": n}) for k, n in enumerate(item.nets))
    for i, k, j, m in p.joins:
        metal.add_edge((i, k), (j, m))
        joined.add(p.items[i].nets[k])
    pieces = Counter(metal.nodes[min(group)]["net"] for group in nx.connected_components(metal))
    total = 0.0
    for n, k in pieces.items():
        reach = 0 if n in joined else max(_reach(item, n) for item in p.items)
        total += min(step * max(k - 1, reach), jump + step * k) if k > 1 else 0.0
    return round(total, 6)


def _reach(item: Item, net: int) -> int:
    """Half the way round the box about an item's pins of a net (steps), in the smallest of its shapes."""
    pins = [k for k, n in enumerate(item.nets) if n == net]
    if len(pins) < 2:
        return 0
    boxes = []
    for shape in item.shapes:
        xs, ys = zip(*(shape.offsets[k] for k in pins), strict=True)
        boxes.append(max(xs) - min(xs) + max(ys) - min(ys))
    return int(min(boxes))
