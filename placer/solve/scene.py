"""A plan in the search's numbers: pieces of copper, what stands on them, which jumper joins which."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cached_property

import networkx as nx

from placer.plan.model import Plan
from placer.solve.arrays import Places
from placer.solve.assemble import places_of
from placer.solve.claims import Pin
from placer.solve.problem import Problem


@dataclass(frozen=True)
class CutAt:
    """A cut: its strip, and the nearest pins on both sides; None where there is none."""

    strip: int
    before: Pin | None
    after: Pin | None


class Scene:
    """What a plan's copper joins. Raises ValueError for a plan that is not one of this problem."""

    def __init__(self, p: Problem, plan: Plan) -> None:
        places = places_of(p, plan)
        if places is None:
            raise ValueError("the plan does not belong to this problem")
        self.p, self.plan = p, plan
        self.places: Places = places
        self.hole: dict[Pin, int] = {}
        for i, (item, (no, anchor)) in enumerate(zip(p.items, places, strict=True)):
            for k, (dx, dy) in enumerate(item.shapes[no].offsets):
                self.hole[i, k] = p.hole(int(p.hx[anchor]) + dx, int(p.hy[anchor]) + dy)
        self.pin_in = {h: pin for pin, h in self.hole.items()}
        self._number = {a: h for h, a in enumerate(p.addresses)}
        self.piece, self.strip_of = self._pieces()
        self.pins_on: dict[int, list[Pin]] = {}
        for pin, h in sorted(self.hole.items()):
            self.pins_on.setdefault(self.piece[h], []).append(pin)
        self.wires = [
            (self.piece[self._number[j.start]], self.piece[self._number[j.end]], p.net_names.index(j.net))
            for j in plan.jumpers
        ]

    def _pieces(self) -> tuple[list[int], list[int]]:
        p = self.p
        drilled = {self._number[c.at] for c in self.plan.cuts if c.at is not None}
        severed = {tuple(sorted(self._number[a] for a in c.between)) for c in self.plan.cuts if c.between is not None}
        piece = [-1] * len(p.addresses)
        strip_of: list[int] = []
        for s in range(len(p.slen)):
            fresh = True
            for h in range(int(p.sstart[s]), int(p.sstart[s] + p.slen[s])):
                if h in drilled:
                    fresh = True
                    continue
                if fresh or (h - 1, h) in severed:
                    strip_of.append(s)
                    fresh = False
                piece[h] = len(strip_of) - 1
        return piece, strip_of

    def net(self, pin: Pin) -> int:
        """The net of a pin."""
        return self.p.items[pin[0]].nets[pin[1]]

    def name(self, pin: Pin) -> str:
        """A pin as the user writes it."""
        item = self.p.items[pin[0]]
        return f"{item.ref}.{item.pins[pin[1]]}"

    def strip_name(self, s: int) -> str:
        """A strip as the board names it."""
        strips = self.p.board.strips
        return f"strip {strips[s].name}" if s < len(strips) else f"pad {self.p.addresses[self.p.sstart[s]]}"

    @cached_property
    def joined(self) -> set[int]:
        """Nets with pins that a part joins inside."""
        return {self.p.items[i].nets[k] for i, k, _, _ in self.p.joins}

    @cached_property
    def jumpers_of(self) -> dict[int, int]:
        """Net -> jumpers it has."""
        found: dict[int, int] = {}
        for _, _, n in self.wires:
            found[n] = found.get(n, 0) + 1
        return found

    @cached_property
    def wired(self) -> frozenset[int]:
        """Nets that need a wire end on each of their strips."""
        return frozenset(n for n in self.jumpers_of if n not in self.joined)

    @cached_property
    def owner(self) -> dict[int, int]:
        """Strip -> the net on it, of strips with pins or wire ends of one net only."""
        found: dict[int, set[int]] = {}
        for piece, pins in self.pins_on.items():
            found.setdefault(self.strip_of[piece], set()).update(self.net(q) for q in pins)
        for a, b, n in self.wires:
            for piece in (a, b):
                found.setdefault(self.strip_of[piece], set()).add(n)
        return {s: next(iter(nets)) for s, nets in found.items() if len(nets) == 1}

    def sides(self, jumper: int) -> tuple[list[Pin], list[Pin]] | None:
        """The pins on the nearest pieces of copper with pins, on either side of a jumper; None where there is none."""
        start, end, net = self.wires[jumper]
        graph = nx.Graph()
        graph.add_nodes_from((start, end))
        for number, (a, b, n) in enumerate(self.wires):
            if n == net and number != jumper:
                graph.add_edge(a, b)
        for i, k, j, m in self.p.joins:
            if self.p.items[i].nets[k] == net:
                graph.add_edge(self.piece[self.hole[i, k]], self.piece[self.hole[j, m]])
        found = []
        for first in (start, end):
            near = [first, *(b for _, b in nx.bfs_edges(graph, first))]
            pins = next((self.pins_on[piece] for piece in near if piece in self.pins_on), None)
            if pins is None:
                return None
            found.append(pins)
        return (found[0], found[1]) if found[0] != found[1] else None

    def pieces_with_pins(self, net: int) -> int:
        """Pieces of copper with pins of a net."""
        return sum(1 for pins in self.pins_on.values() if self.net(pins[0]) == net)

    @cached_property
    def cuts(self) -> list[CutAt]:
        """The plan's cuts, in its order."""
        p, found = self.p, []
        for cut in self.plan.cuts:
            if cut.at is not None:
                left = right = self._number[cut.at]
                left, right = left - 1, right + 1
            else:
                assert cut.between is not None  # noqa: S101 - one of the two is set
                left, right = sorted(self._number[a] for a in cut.between)
            s = int(p.hstrip[min(left + 1, right)])
            start, stop = int(p.sstart[s]), int(p.sstart[s] + p.slen[s])
            before = next((self.pin_in[h] for h in range(left, start - 1, -1) if h in self.pin_in), None)
            after = next((self.pin_in[h] for h in range(right, stop) if h in self.pin_in), None)
            found.append(CutAt(s, before, after))
        return found

    def own_changes(self, i: int) -> list[tuple[int, int, int]]:
        """(strip, hole, hole) of neighbouring pins of an item on one strip that are of different nets."""
        p = self.p
        at = sorted(self.hole[i, k] for k in range(len(p.items[i].pins)))
        return [
            (int(p.hstrip[a]), a, b)
            for a, b in itertools.pairwise(at)
            if p.hstrip[a] == p.hstrip[b] and self.net(self.pin_in[a]) != self.net(self.pin_in[b])
        ]
