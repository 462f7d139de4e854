"""The books of the search, against counts that know nothing of its short cuts."""

from __future__ import annotations

import itertools
import random

import networkx as nx
import pytest

from placer.solve import layout
from placer.solve.anneal import Annealer
from placer.solve.arrays import Arrays, Places
from placer.solve.problem import Problem, build
from tests.bench.boards import made_case
from tests.solve.test_kernel import WEIGHT, Mover, places_in

CASES = [(20, 1, "five-hole"), (20, 1, "long-strip"), (150, 1, "five-hole")]


def in_the_way(p: Problem, places: Places) -> int:
    """Pins under bodies and bodies that meet, pair by pair."""
    shapes = [(item.shapes[no], int(p.hx[a]), int(p.hy[a])) for item, (no, a) in zip(p.items, places, strict=True)]
    pins = [{(x + dx, y + dy) for dx, dy in shape.offsets} for shape, x, y in shapes]
    under = [{(x + dx, y + dy) for dx, dy in shape.hidden} for shape, x, y in shapes]
    boxes = [
        [(b[0] + 2540 * x, b[1] + 2540 * y, b[2] + 2540 * x, b[3] + 2540 * y) for b in shape.boxes]
        for shape, x, y in shapes
    ]
    found = sum(bool(p.barred[p.cell[y - p.y0, x - p.x0]]) for own in pins for x, y in own)
    for i, j in itertools.combinations(range(len(shapes)), 2):
        found += len(pins[i] & under[j]) + len(pins[j] & under[i])
        found += any(a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3] for a in boxes[i] for b in boxes[j])
    return found


def components(p: Problem, arrays: Arrays, state: tuple[layout.Ints, layout.Floats], n: int) -> list[int]:
    """For each component of a net how many free holes it has, from its segments, pins and the joins of its parts."""
    w, s = arrays.world, state[0]
    graph: nx.Graph[tuple[int, int]] = nx.Graph()
    segment: dict[tuple[int, int], tuple[int, int]] = {}
    for i, (item, (no, a)) in enumerate(zip(p.items, places_in(arrays, state), strict=True)):
        for k, (dx, dy) in enumerate(item.shapes[no].offsets):
            if item.nets[k] == n:
                hole = int(p.cell[p.hy[a] - p.y0 + dy, p.hx[a] - p.x0 + dx])
                strip = int(p.hstrip[hole])
                at, place = w[layout.SEG_W] * strip, hole - int(p.sstart[strip])
                for q in range(s[w[layout.SEG_N] + strip]):
                    low, high = s[w[layout.SEG_LO] + at + q], s[w[layout.SEG_HI] + at + q]
                    if s[w[layout.SEG_NET] + at + q] == n and low <= place <= high:
                        segment[i, k] = (strip, q)
                        graph.add_node((strip, q), free=int(s[w[layout.SEG_FREE] + at + q]))
    for i, k, j, m in p.joins:
        if p.items[i].nets[k] == n:
            graph.add_edge(segment[i, k], segment[j, m])
    return [sum(graph.nodes[v]["free"] for v in part) for part in nx.connected_components(graph)]


@pytest.mark.parametrize(("parts", "seed", "kind"), CASES)
def test_overlaps_and_components_are_what_a_plain_count_says(parts: int, seed: int, kind: str) -> None:
    made = made_case(parts, seed, kind)
    p = build(made.circuit, made.board, made.options)
    assert p.joins, "no part joins its pins: the test tests less than it says"
    assert not any(shape.slants for item in p.items for shape in item.shapes)
    arrays = Arrays(p)
    state = Annealer(arrays, seed, lambda: False).start()
    assert state is not None
    mover, overlapped = Mover(arrays, random.Random(seed)), 0
    for step in range(300):
        mover.move(state, WEIGHT, mover.dice.choice((0.0, 3.0, 9.0)))
        if step % 30:
            continue
        w, f = arrays.world, state[1]
        overlaps = in_the_way(p, places_in(arrays, state))
        overlapped += overlaps > 0
        assert f[layout.OVERLAPS] == overlaps
        for n in {p.items[i].nets[k] for i, k, _, _ in p.joins}:
            free = components(p, arrays, state, n)
            own = w[layout.NET_COST] + 4 * n
            dry = free.count(0) if len(free) > 1 else 0
            assert f[own + 1] == dry
            assert f[own] >= len(free) - 1
            if w[layout.JUNCTION] == 0 or sum(free) >= 2 * (len(free) - 1):
                assert f[own] == len(free) - 1
    assert overlapped
