"""Solder between pads: for parts that have their places, which pads are bridged and where a jumper is still needed.

The copper is a graph: a node is a strip as bought (mostly a lone pad), an edge two holes side by side on two strips. A
net's pins are joined by runs of bridges over nodes that no other net has taken, or by a jumper between two free holes
that the net reaches. Nets are routed one after the other; those that come off badly push others aside afterwards.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from placer.solve.arrays import Places, covered
from placer.solve.problem import Problem

Pair = tuple[int, int]
PASSES = 3
RESTARTS = 3
TINY = 1e-9
LEAST = 1e-5


@dataclass(frozen=True)
class Copper:
    """The copper of a board as a graph. ``beside[node]``: neighbour -> the two holes where solder joins them."""

    beside: tuple[dict[int, Pair], ...]
    holes: tuple[tuple[int, ...], ...]

    @classmethod
    def of(cls, p: Problem) -> Copper:
        """The graph of a problem's board; nodes are its strips."""
        beside: list[dict[int, Pair]] = [{} for _ in p.slen]
        for h in range(len(p.hx)):
            for dx, dy in ((1, 0), (0, 1)):
                g = p.hole(int(p.hx[h]) + dx, int(p.hy[h]) + dy)
                if g < 0 or p.hstrip[g] == p.hstrip[h]:
                    continue
                a, b = int(p.hstrip[h]), int(p.hstrip[g])
                beside[a].setdefault(b, (h, g))
                beside[b].setdefault(a, (h, g))
        holes = tuple(tuple(range(int(s), int(s + n))) for s, n in zip(p.sstart, p.slen, strict=True))
        return cls(tuple(beside), holes)


@dataclass(frozen=True)
class Tree:
    """How one net is joined: bridges and wires as pairs of holes, and the nodes it takes, its pins' left out.

    ``missing``: joins for which no way was found.
    """

    bridges: tuple[Pair, ...] = ()
    wires: tuple[Pair, ...] = ()
    nodes: frozenset[int] = frozenset()
    missing: int = 0


@dataclass(frozen=True)
class Routing:
    """Bridges and wires of all nets: (net, hole, hole). ``missing``: joins for which no way was found."""

    bridges: tuple[tuple[int, int, int], ...]
    wires: tuple[tuple[int, int, int], ...]
    cost: float
    length: float  # steps of wire
    missing: int

    @property
    def rank(self) -> tuple[int, float, float]:
        """Smaller is better."""
        return self.missing, self.cost, round(self.length, 6)


@dataclass
class _Growth:
    """The pieces of a net while they are joined."""

    piece: dict[int, int]  # node -> piece
    bridges: list[Pair] = field(default_factory=list)
    wires: list[Pair] = field(default_factory=list)
    ends: set[int] = field(default_factory=set)  # holes that this net's wires have taken

    def merge(self, a: int, b: int) -> None:
        for node, piece in self.piece.items():
            if piece == b:
                self.piece[node] = a


def route(p: Problem, copper: Copper, places: Places) -> Routing | None:
    """Join all nets of parts at these places as far as can be; None where two leads share a hole, or nets a strip."""
    job = _Job.of(p, copper, places)
    if job is None:
        return None
    job.first_round()
    return job.better()


class _Job:
    def __init__(self, p: Problem, copper: Copper, pins: dict[int, list[list[int]]], lead: set[int], under: set[int]):
        self.p = p
        self.copper = copper
        self.pins = pins  # net -> groups of nodes that need no joining among themselves
        self.step = max(p.options.bridge_cost, LEAST)  # so that runs are short even where solder costs nothing
        self.jump = p.options.jumper_cost
        self.lack = 1 + 5 * self.jump + len(p.slen) * self.step
        self.free_end = [h not in lead and h not in under and not p.barred[h] for h in range(len(p.hx))]
        self.owner: dict[int, int] = {node: n for n, groups in pins.items() for group in groups for node in group}
        self.fixed = frozenset(self.owner)
        self.trees: dict[int, Tree] = {}

    @classmethod
    def of(cls, p: Problem, copper: Copper, places: Places) -> _Job | None:
        """None where two leads share a hole, or two nets a strip."""
        lead: dict[int, int] = {}
        under: set[int] = set()
        at: dict[tuple[int, int], int] = {}
        for i, (item, (shape_no, anchor)) in enumerate(zip(p.items, places, strict=True)):
            shape = item.shapes[shape_no]
            x, y = int(p.hx[anchor]), int(p.hy[anchor])
            for k, (dx, dy) in enumerate(shape.offsets):
                h = p.hole(x + dx, y + dy)
                if h < 0 or h in lead:
                    return None
                lead[h] = item.nets[k]
                at[i, k] = h
            under |= {p.hole(x + dx, y + dy) for dx, dy in covered(shape)}
        nodes: dict[int, int] = {}
        for h, n in lead.items():
            if nodes.setdefault(int(p.hstrip[h]), n) != n:
                return None
        group = {node: {node} for node in nodes}
        for i, k, j, m in p.joins:
            a, b = group[int(p.hstrip[at[i, k]])], group[int(p.hstrip[at[j, m]])]
            if a is not b:
                a |= b
                for node in b:
                    group[node] = a
        pins: dict[int, list[list[int]]] = {}
        seen: set[int] = set()
        for node, n in sorted(nodes.items()):
            if node not in seen:
                seen |= group[node]
                pins.setdefault(n, []).append(sorted(group[node]))
        return cls(p, copper, pins, set(lead), under)

    def cost(self, tree: Tree) -> float:
        """What a net's tree costs; a missing join more than any that is made."""
        return len(tree.bridges) * self.step + len(tree.wires) * self.jump + tree.missing * self.lack

    def total(self) -> float:
        """What all nets cost together."""
        return sum(self.cost(tree) for tree in self.trees.values())

    # --- the order of nets -------------------------------------------------------------------------------------------

    def first_round(self) -> None:
        """Route all nets, narrow ones first; one that finds no way comes first the next time."""
        order = sorted((n for n, groups in self.pins.items() if len(groups) > 1), key=lambda n: (self._spread(n), n))
        best: tuple[float, dict[int, Tree]] | None = None
        for _ in range(RESTARTS):
            for n in order:
                self.take(n, self.grow(n, {}))
            if best is None or self.total() < best[0] - TINY:
                best = self.total(), dict(self.trees)
            failed = [n for n in order if self.trees[n].missing]
            if not failed:
                break
            for n in order:
                self.release(n)
            order = [*failed, *(n for n in order if n not in failed)]
        if best is not None:
            self._restore(best[1])

    def _restore(self, trees: dict[int, Tree]) -> None:
        for n in list(self.trees):
            self.release(n)
        for n, tree in trees.items():
            self.take(n, tree)

    def better(self) -> Routing:
        """Improve net by net until a pass brings nothing."""
        for _ in range(PASSES):
            before = self.total()
            for n in sorted(self.trees, key=lambda n: (-self._slack(n), n)):
                if self._slack(n) > TINY:
                    self._again(n)
            if self.total() > before - TINY:
                break
        bridges = [(n, a, b) for n, tree in self.trees.items() for a, b in tree.bridges]
        wires = [(n, min(pair), max(pair)) for n, tree in self.trees.items() for pair in tree.wires]
        p = self.p
        length = sum(math.hypot(p.hx[a] - p.hx[b], p.hy[a] - p.hy[b]) for _, a, b in wires)
        cost = round(len(bridges) * p.options.bridge_cost + len(wires) * self.jump, 6)
        missing = sum(tree.missing for tree in self.trees.values())
        return Routing(tuple(sorted(bridges)), tuple(sorted(wires)), cost, length, missing)

    def _spread(self, n: int) -> int:
        holes = [self.copper.holes[node][0] for group in self.pins[n] for node in group]
        xs, ys = [int(self.p.hx[h]) for h in holes], [int(self.p.hy[h]) for h in holes]
        return max(xs) - min(xs) + max(ys) - min(ys)

    def _slack(self, n: int) -> float:
        """How much more a net costs than one join for each piece but one."""
        return self.cost(self.trees[n]) - (len(self.pins[n]) - 1) * min(self.step, self.jump)

    def _again(self, n: int) -> None:
        """Route a net once more: past the others as they are, then through them, those in the way going round."""
        old = self.trees[n]
        self.release(n)
        tree = self.grow(n, {})
        self.take(n, tree if self.cost(tree) < self.cost(old) - TINY else old)
        toll = {node: 0.5 * self.step for m, other in self.trees.items() if m != n for node in other.nodes}
        saved, before = dict(self.trees), self.total()
        self.release(n)
        tree = self.grow(n, toll)
        pushed = [m for m, other in self.trees.items() if other.nodes & tree.nodes]
        if not pushed:
            self.take(n, saved[n])
            return
        for m in pushed:
            self.release(m)
        self.take(n, tree)
        for m in sorted(pushed, key=lambda m: (self._spread(m), m)):
            self.take(m, self.grow(m, {}))
        if self.total() > before - TINY:
            self._restore(saved)

    def take(self, n: int, tree: Tree) -> None:
        """Give a net its tree."""
        self.trees[n] = tree
        for node in tree.nodes:
            self.owner[node] = n
        for pair in tree.wires:
            for h in pair:
                self.free_end[h] = False

    def release(self, n: int) -> None:
        """Take a net's tree away."""
        tree = self.trees.pop(n)
        for node in tree.nodes:
            del self.owner[node]
        for pair in tree.wires:
            for h in pair:
                self.free_end[h] = True

    # --- one net -----------------------------------------------------------------------------------------------------

    def grow(self, n: int, toll: dict[int, float]) -> Tree:
        """Join a net's pieces, each time the two that are cheapest to join. ``toll``: nodes of others, at a price."""
        growth = _Growth({node: i for i, group in enumerate(self.pins[n]) for node in group})
        joins = len(self.pins[n]) - 1
        while joins and self._join(n, growth, toll):
            joins -= 1
        nodes = frozenset(growth.piece) - self.fixed
        return Tree(tuple(growth.bridges), tuple(growth.wires), nodes, joins)

    def _join(self, n: int, growth: _Growth, toll: dict[int, float]) -> bool:
        """One more join. Every piece spreads at once; where two meet is a run of bridges."""
        dist: dict[int, float] = {}
        label: dict[int, int] = {}
        back: dict[int, int] = {}
        heap: list[tuple[float, int, int, int]] = [(0.0, node, piece, -1) for node, piece in growth.piece.items()]
        heapq.heapify(heap)
        meet: tuple[float, int, int] | None = None
        ends: dict[int, tuple[float, list[Pair]]] = {}  # piece -> (distance, [(node, hole)])
        while heap:
            d, node, piece, came = heapq.heappop(heap)
            if node in dist:
                continue
            # Two pieces that meet later have each come as far as d, but for the last step; so have later wire ends.
            best = min(meet[0] if meet else math.inf, self._cheapest_wire(ends) if len(ends) > 1 else math.inf)
            if 2 * d - self.step > best + TINY and (len(ends) > 1 or d + self.jump > best):
                break
            dist[node], label[node], back[node] = d, piece, came
            if node not in toll and (piece not in ends or d <= ends[piece][0] + TINY):
                free = [(node, h) for h in self.copper.holes[node] if self.free_end[h] and h not in growth.ends]
                if free:
                    known = ends.setdefault(piece, (d, []))
                    known[1].extend(free)
            for other in self.copper.beside[node]:
                if other in dist:
                    if label[other] != piece:
                        cost = d + dist[other] + self.step
                        if meet is None or (cost, node, other) < meet:
                            meet = (cost, node, other)
                    continue
                owner = self.owner.get(other, -1)
                if owner not in (-1, n) and other not in toll:
                    continue
                heapq.heappush(heap, (d + self.step + toll.get(other, 0.0), other, piece, node))
        wire = self._best_wire(ends)
        if meet is not None and (wire is None or meet[0] <= wire[0] + TINY):
            _, a, b = meet
            self._walk(growth, a, back)
            self._walk(growth, b, back)
            growth.bridges.append(self.copper.beside[a][b])
            growth.merge(label[a], label[b])
            return True
        if wire is None:
            return False
        _, (a, hole_a), (b, hole_b) = wire
        self._walk(growth, a, back)
        self._walk(growth, b, back)
        growth.wires.append((hole_a, hole_b))
        growth.ends |= {hole_a, hole_b}
        growth.merge(label[a], label[b])
        return True

    def _walk(self, growth: _Growth, node: int, back: dict[int, int]) -> None:
        """Bridge from a node back to the piece that reached it."""
        path = [node]
        while back[path[-1]] >= 0:
            path.append(back[path[-1]])
        piece = growth.piece[path[-1]]
        for one, other in pairwise(path):
            growth.bridges.append(self.copper.beside[one][other])
            growth.piece[one] = piece

    def _cheapest_wire(self, ends: dict[int, tuple[float, list[Pair]]]) -> float:
        near = sorted(d for d, _ in ends.values())
        return self.jump + near[0] + near[1]

    def _best_wire(self, ends: dict[int, tuple[float, list[Pair]]]) -> tuple[float, Pair, Pair] | None:
        """The cheapest jumper between two pieces, the shortest of those: (cost, (node, hole), (node, hole))."""
        if len(ends) < 2:
            return None
        least = self._cheapest_wire(ends) + TINY
        p = self.p
        best: tuple[float, Pair, Pair] | None = None
        shortest = math.inf
        known: Sequence[tuple[int, tuple[float, list[Pair]]]] = sorted(ends.items())
        for t, (_, (d, holes)) in enumerate(known):
            for _, (e, others) in known[t + 1 :]:
                if self.jump + d + e > least:
                    continue
                for a in holes:
                    for b in others:
                        length = math.hypot(p.hx[a[1]] - p.hx[b[1]], p.hy[a[1]] - p.hy[b[1]])
                        if length < shortest - TINY:
                            shortest, best = length, (self.jump + d + e, a, b)
        return best
