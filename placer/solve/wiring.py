"""Jumpers and cuts for parts that have their places: which holes the wires end in, where each strip is severed."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import networkx as nx

from placer.solve.aims import square
from placer.solve.arrays import Places, covered
from placer.solve.problem import Problem

Edge = tuple[int, int]


@dataclass(frozen=True)
class Wiring:
    """Cuts and jumpers by hole numbers. ``drilled``: holes; ``severed``: neighbours; ``wires``: (net, a, b)."""

    drilled: tuple[int, ...]
    severed: tuple[Edge, ...]
    wires: tuple[tuple[int, int, int], ...]
    length: float  # steps


@dataclass
class _Gap:
    """Two runs of different nets next to each other on a strip: the cut goes somewhere from ``left`` to ``right``."""

    left: int  # last pin's hole of the first run
    right: int  # first pin's hole of the second run
    net_left: int
    net_right: int
    ways: list[_Way]
    room: int  # free holes between them
    need_left: int = 0  # free holes that the first run must keep here
    need_right: int = 0
    choice: tuple[str, int] = ("", -1)  # ("hole", h) or ("knife", h): between h and h + 1


@dataclass(frozen=True)
class _Way:
    """One way to cut in a gap: with a drill at a hole, or a knife after it; free holes left on both sides."""

    kind: str
    hole: int
    left: int
    right: int


def wire(problem: Problem, places: Places) -> Wiring | None:
    """Cuts and the shortest jumpers that can be found; None when some net cannot be wired as placed."""
    p = problem
    pin_net = [-1] * len(p.hx)
    under = [False] * len(p.hx)
    pin_at: dict[tuple[int, int], int] = {}
    for i, (item, (shape_no, anchor)) in enumerate(zip(p.items, places, strict=True)):
        shape = item.shapes[shape_no]
        x, y = int(p.hx[anchor]), int(p.hy[anchor])
        for k, (dx, dy) in enumerate(shape.offsets):
            h = p.hole(x + dx, y + dy)
            if h < 0 or pin_net[h] >= 0:
                return None
            pin_net[h] = item.nets[k]
            pin_at[i, k] = h
        for dx, dy in covered(shape):
            h = p.hole(x + dx, y + dy)
            if h >= 0:
                under[h] = True
    free = [n < 0 and not u and not b for n, u, b in zip(pin_net, under, p.barred.tolist(), strict=True)]
    gaps = _gaps(p, pin_net, free)
    if gaps is None:
        return None
    runs = _count_runs(p, pin_net, pin_at)
    _claim(p, pin_net, free, gaps, {n for n, k in runs.items() if k > 1})
    hunger: dict[int, float] = {n: float(k > 1) for n, k in runs.items()}
    for _ in range(4):
        for gap in gaps:
            _choose(gap, hunger)
        result, starved = _wire_nets(p, pin_net, pin_at, free, gaps)
        if result is not None:
            return result
        for n in starved:
            hunger[n] = hunger.get(n, 0.0) + 2.0
    return None


def _gaps(p: Problem, pin_net: Sequence[int], free: Sequence[bool]) -> list[_Gap] | None:
    found = []
    for s in range(len(p.slen)):
        start, stop = int(p.sstart[s]), int(p.sstart[s] + p.slen[s])
        pins = [h for h in range(start, stop) if pin_net[h] >= 0]
        for a, b in itertools.pairwise(pins):
            if pin_net[a] == pin_net[b]:
                continue
            ways = _ways(a, b, free, at_hole=bool(p.cut_at[s]), between=bool(p.cut_between[s]))
            if not ways:
                return None
            found.append(_Gap(a, b, pin_net[a], pin_net[b], ways, sum(free[a + 1 : b])))
    return found


def _ways(a: int, b: int, free: Sequence[bool], *, at_hole: bool, between: bool) -> list[_Way]:
    """Every way to cut between the pins in two holes of a strip."""
    room, before = sum(free[a + 1 : b]), 0
    drilled, severed = [], []
    for h in range(a, b):
        if h > a and at_hole:
            drilled.append(_Way("hole", h, before, room - before - free[h]))
        before += h > a and free[h]
        if between:
            severed.append(_Way("knife", h, before, room - before))
    return drilled + severed


def _claim(p: Problem, pin_net: Sequence[int], free: Sequence[bool], gaps: Sequence[_Gap], needy: set[int]) -> None:
    """Say which side of each cut must keep a free hole, so that each run of a needy net has one where that can be.

    Along a strip, a run that has none of its own takes one from the gap before it, if that can spare one (no later run
    can use it), and else from the gap after it.
    """
    after = {gap.left: gap for gap in gaps}
    for s in range(len(p.slen)):
        before: _Gap | None = None
        first, stop = int(p.sstart[s]), int(p.sstart[s] + p.slen[s])
        while first < stop:
            # A run: its own holes are those between its pins, and at the ends of the strip those beyond.
            last = next((h for h in range(first, stop) if h in after), stop - 1)
            gap = after.get(last)
            wants = any(pin_net[h] in needy for h in range(first, last + 1))
            if wants and not any(free[first : last + 1]) and not _spares(before) and gap is not None:
                gap.need_left = 1
            before, first = gap, stop if gap is None else gap.right


def _spares(gap: _Gap | None) -> bool:
    """Have a gap keep a free hole for the run after it, if it can."""
    if gap is None or not any(way.left >= gap.need_left and way.right > 0 for way in gap.ways):
        return False
    gap.need_right = 1
    return True


def _count_runs(p: Problem, pin_net: Sequence[int], pin_at: dict[tuple[int, int], int]) -> dict[int, int]:
    """Components of each net, with joins inside parts taken off (an upper count is enough here)."""
    runs: dict[int, int] = {}
    for s in range(len(p.slen)):
        last = -1
        for h in range(int(p.sstart[s]), int(p.sstart[s] + p.slen[s])):
            if pin_net[h] >= 0 and pin_net[h] != last:
                last = pin_net[h]
                runs[last] = runs.get(last, 0) + 1
    for i, k, j, m in p.joins:
        if pin_at[i, k] != pin_at[j, m]:
            runs[p.items[i].nets[k]] -= 1
    return runs


def _choose(gap: _Gap, hunger: dict[int, float]) -> None:
    """Pick the cut: the side hungrier for wire-end holes gets more; drilled where a hole is to spare."""
    want_left, want_right = hunger.get(gap.net_left, 0.0), hunger.get(gap.net_right, 0.0)
    share = 0.5 if want_left == want_right else want_left / (want_left + want_right)
    middle = (gap.left + gap.right) / 2

    def key(way: _Way) -> tuple[float, ...]:
        denied = (way.left < gap.need_left) + (way.right < gap.need_right)
        starved = (want_left > 0 and way.left == 0 and gap.room > 0) + (
            want_right > 0 and way.right == 0 and gap.room > 0
        )
        lost = gap.room - way.left - way.right
        knife = way.kind == "knife"
        # With few holes left a lost one hurts; with many, drilling is the cut that is harder to get wrong.
        cost = abs(way.left - share * (way.left + way.right)) + (lost * 4.0 if gap.room < 4 else 0.0) + 0.4 * knife
        return denied, starved, cost, abs(way.hole + 0.5 * knife - middle), way.hole

    best = min(gap.ways, key=key)
    gap.choice = (best.kind, best.hole)


def _wire_nets(
    p: Problem, pin_net: Sequence[int], pin_at: dict[tuple[int, int], int], free: Sequence[bool], gaps: Sequence[_Gap]
) -> tuple[Wiring | None, set[int]]:
    drilled = {g.choice[1] for g in gaps if g.choice[0] == "hole"}
    severed = {g.choice[1] for g in gaps if g.choice[0] == "knife"}
    segment = [-1] * len(pin_net)
    holes: list[list[int]] = []
    for s in range(len(p.slen)):
        fresh = True
        for h in range(int(p.sstart[s]), int(p.sstart[s] + p.slen[s])):
            if h in drilled:
                fresh = True
                continue
            if fresh:
                holes.append([])
                fresh = False
            holes[-1].append(h)
            segment[h] = len(holes) - 1
            if h in severed:
                fresh = True
    graph = nx.Graph()
    of_net: dict[int, set[int]] = {}
    for h, n in enumerate(pin_net):
        if n >= 0:
            graph.add_node(segment[h])
            of_net.setdefault(n, set()).add(segment[h])
    for i, k, j, m in p.joins:
        graph.add_edge(segment[pin_at[i, k]], segment[pin_at[j, m]])
    groups: dict[int, list[list[int]]] = {}
    empty = [seg for seg in range(len(holes)) if seg not in graph]
    for comp in nx.connected_components(graph):
        first = next(iter(comp))
        net = next(pin_net[h] for h in holes[first] if pin_net[h] >= 0)
        ends = sorted(h for seg in comp for h in holes[seg] if free[h])
        groups.setdefault(net, []).append(ends)
    wires: list[tuple[int, int, int]] = []
    starved = set()
    leads = [h for h, n in enumerate(pin_net) if n >= 0]
    middle = (round(float(p.hx[leads].mean())), round(float(p.hy[leads].mean()))) if leads else (0, 0)
    for net, given in sorted(groups.items()):
        ends_of = _allowed(p, net, given, pin_net, wires)
        tree = shortest_tree(p, sorted(ends_of), middle)
        if tree is None and all(ends_of):
            tree = _with_junctions(p, sorted(ends_of), empty, holes, free, middle)
        if tree is None:
            starved.add(net)
        else:
            wires += [(net, min(a, b), max(a, b)) for a, b in tree]
    if starved:
        return None, starved
    length = sum(math.hypot(p.hx[a] - p.hx[b], p.hy[a] - p.hy[b]) for _, a, b in wires)
    return Wiring(
        tuple(sorted(drilled)), tuple((h, h + 1) for h in sorted(severed)), tuple(sorted(wires)), length
    ), starved


def _allowed(
    p: Problem, net: int, ends_of: list[list[int]], pin_net: Sequence[int], wires: Sequence[tuple[int, int, int]]
) -> list[list[int]]:
    """The free holes of each group of a net that are apart from other nets' leads and wires, as wished."""
    for wish in p.wishes:
        if wish.nets is not None and net in wish.nets:
            other = wish.nets[1] if net == wish.nets[0] else wish.nets[0]
            taken = [h for h, n in enumerate(pin_net) if n == other]
            taken += [h for n, *ends in wires for h in ends if n == other]
            ends_of = [[h for h in ends if all(square(p, h, g) >= wish.limit2 for g in taken)] for ends in ends_of]
    return ends_of


def _with_junctions(
    p: Problem,
    groups: list[list[int]],
    empty: list[int],
    holes: Sequence[Sequence[int]],
    free: Sequence[bool],
    middle: tuple[int, int],
) -> list[Edge] | None:
    """A tree that passes through strips nothing stands on, where the net's own wire-end holes do not suffice.

    The strips used are taken out of ``empty``.
    """
    x = sum(int(p.hx[h]) for g in groups for h in g) / sum(map(len, groups))
    y = sum(int(p.hy[h]) for g in groups for h in g) / sum(map(len, groups))

    def nearness(seg: int) -> float:
        return min(math.hypot(p.hx[h] - x, p.hy[h] - y) for h in holes[seg])

    usable = sorted((seg for seg in empty if sum(free[h] for h in holes[seg]) > 2), key=nearness)
    taken: list[int] = []
    for seg in usable[: len(groups)]:
        taken.append(seg)
        tree = shortest_tree(p, [*groups, *([h for h in holes[t] if free[h]] for t in taken)], middle)
        if tree is not None:
            for t in taken:
                empty.remove(t)
            return tree
    return None


def shortest_tree(p: Problem, groups: Sequence[Sequence[int]], middle: tuple[int, int] = (0, 0)) -> list[Edge] | None:
    """A short tree of wires that joins groups of free holes, one wire end a hole.

    Among equally long wires one that runs straight along the grid, then one near ``middle`` (grid position), which
    keeps the used part of the board small.

    Shortest pair first, refusing any join that leaves what is joined so far without a free hole while more is to come;
    then single wires are exchanged while that shortens the whole. None when the holes do not suffice.
    """
    k = len(groups)
    if k < 2:
        return []
    if any(not g for g in groups) or sum(map(len, groups)) < 2 * (k - 1):
        return None
    owner = {h: i for i, g in enumerate(groups) for h in g}
    x, y = p.hx.tolist(), p.hy.tolist()

    def rank(a: int, b: int) -> tuple[int, bool, int]:
        aside = abs(x[a] + x[b] - 2 * middle[0]) + abs(y[a] + y[b] - 2 * middle[1])
        return (x[a] - x[b]) ** 2 + (y[a] - y[b]) ** 2, x[a] != x[b] and y[a] != y[b], aside

    ranked = sorted(
        (*rank(a, b), a, b) for i, g in enumerate(groups) for other in groups[i + 1 :] for a in g for b in other
    )
    pairs = [(a, b) for *_, a, b in ranked]
    room = [len(g) for g in groups]
    edges = _grow(k, pairs, owner, room, [])
    if edges is None:
        return None
    improved = True
    while improved:
        improved = False
        for old in sorted(edges, key=lambda e: -_square(p, e)):
            rest = [e for e in edges if e != old]
            again = _grow(k, pairs, owner, room, rest)
            if again is not None and _length(p, again) < _length(p, edges) - 1e-9:
                edges = again
                improved = True
                break
    return edges


def _grow(
    k: int, pairs: Sequence[Edge], owner: dict[int, int], room: Sequence[int], kept: Sequence[Edge]
) -> list[Edge] | None:
    """Complete a forest of wires to a tree, shortest pair first."""
    parent = list(range(k))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    left = list(room)
    used: set[int] = set()
    edges: list[Edge] = []
    trees = k

    def join(a: int, b: int) -> None:
        nonlocal trees
        ra, rb = root(owner[a]), root(owner[b])
        parent[rb] = ra
        left[ra] += left[rb] - 2
        used.update((a, b))
        edges.append((a, b))
        trees -= 1

    for a, b in kept:
        join(a, b)
    if trees == 1:
        return edges
    for a, b in pairs:
        if a in used or b in used:
            continue
        ra, rb = root(owner[a]), root(owner[b])
        if ra == rb or (trees > 2 and left[ra] + left[rb] - 2 < 1):
            continue
        join(a, b)
        if trees == 1:
            return edges
    return None


def _square(p: Problem, edge: Edge) -> int:
    a, b = edge
    return int((p.hx[a] - p.hx[b]) ** 2 + (p.hy[a] - p.hy[b]) ** 2)


def _length(p: Problem, edges: Sequence[Edge]) -> float:
    return sum(math.sqrt(_square(p, e)) for e in edges)
