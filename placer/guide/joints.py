"""Where solder joins metal to metal: leads, wires, bridges and copper as a graph, and the fewest probes that prove it.

Nodes are pieces of metal: copper segments, leads (those that metal joins inside a part are one), jumper wires. Edges
are joints. A joint that is the only way between two parts of a conductor is proved by a probe whose two ends lie on
either side of it; a probe proves all such joints on its way. Joints with another way round have no effect when dry.

A tree with L leaves needs ceil(L / 2) probes, for each leaf must be touched, and so many suffice. Count the leaves
round the tree from 0 to L - 1 and let h be L / 2 rounded down. Leaf i goes with leaf i + h for i < h, and a leaf left
over goes with leaf 0. What lies behind a joint is a run of leaves, neither none nor all of them. A run that no pair
crosses holds with a leaf its mate h further on, so all that lies between, so every leaf but perhaps the one left over,
and that one goes with leaf 0.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import networkx as nx

from placer.circuit.model import PinRef
from placer.plan.conductors import CopperMap, Segment, group_of_pins, natural_key, pin_key
from placer.plan.model import Plan

Metal = tuple[str, str]
"""A piece of metal: ("copper", number), ("lead", pin), ("wire", number)."""


@dataclass(frozen=True)
class Touch:
    """A place to put a probe: a lead (``pin`` set) in a hole, or the bare copper of a free hole."""

    hole: str
    pin: PinRef | None = None


@dataclass(frozen=True)
class Path:
    """A continuity probe: its two ends and the joints it proves, in words, from the one end to the other."""

    start: Touch
    end: Touch
    joints: tuple[str, ...]


class Joints:
    """All metal of a plan, soldered as it should be."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self.copper = CopperMap(plan)
        self._group_of = group_of_pins(plan.circuit)
        self.graph = self._graph()

    def _graph(self) -> nx.MultiGraph:
        segment_of = self.copper.segment_of
        graph = nx.MultiGraph()
        graph.add_nodes_from(("copper", str(number)) for number in range(len(self.copper.segments)))
        for pin, hole in self.copper.hole_of.items():
            if hole in segment_of:
                name = f"the joint of {pin.part} pin {pin.pin} in {hole}"
                graph.add_edge(self.lead(pin), ("copper", str(segment_of[hole])), name=name)
        for number, jumper in enumerate(self._plan.jumpers, 1):
            for hole in (jumper.start, jumper.end):
                graph.add_edge(("wire", str(number)), ("copper", str(segment_of[hole])), name=f"jumper {number}")
        for number, bridge in enumerate(self._plan.bridges, 1):
            one, two = (("copper", str(segment_of[hole])) for hole in bridge.between)
            graph.add_edge(one, two, name=f"bridge {number}")
        return graph

    def lead(self, pin: PinRef) -> Metal:
        """The metal of a pin, with all that is joined to it inside the part."""
        return "lead", str(self._group_of.get(pin, (pin,))[0])

    @cached_property
    def _pins_of(self) -> dict[Metal, list[PinRef]]:
        found: dict[Metal, list[PinRef]] = {}
        for pin in sorted(self.copper.hole_of, key=pin_key):
            found.setdefault(self.lead(pin), []).append(pin)
        return found

    @cached_property
    def _taken(self) -> frozenset[str]:
        wires = {hole for jumper in self._plan.jumpers for hole in (jumper.start, jumper.end)}
        return frozenset(wires | set(self.copper.hole_of.values()))

    def free_hole(self, segment: Segment) -> str | None:
        """A hole of a segment where nothing stands, None when it is full."""
        return next((hole for hole in segment.holes if hole not in self._taken), None)

    def paths(self) -> Iterator[Path]:
        """Continuity probes, conductor by conductor; none for those with fewer than two leads."""
        for piece in nx.connected_components(self.graph):
            if sum(kind == "lead" for kind, _ in piece) >= 2:
                yield from self._paths(self.graph.subgraph(piece))

    def _paths(self, graph: nx.MultiGraph) -> Iterator[Path]:
        tree = _tree(graph)
        ends = [(node, touch) for node in _leaves_in_order(tree) if (touch := self._touch(tree.nodes[node]["metals"]))]
        half = len(ends) // 2
        pairs = [(ends[i], ends[i + half]) for i in range(half)]
        if len(ends) % 2 and len(ends) > 1:
            pairs.append((ends[0], ends[-1]))
        for (one, start), (two, end) in pairs:
            way = nx.shortest_path(tree, one, two)
            names = [tree.edges[a, b]["name"] for a, b in pairwise(way)]
            yield Path(start, end, tuple(dict.fromkeys(names)))

    def _touch(self, metals: Sequence[Metal]) -> Touch | None:
        """Where to touch one of some pieces of metal: a lead if there is one, else a free hole."""
        pins = [pin for metal in metals for pin in self._pins_of.get(metal, ())]
        if pins:
            pin = min(pins, key=pin_key)
            return Touch(self.copper.hole_of[pin], pin)
        segments = [self.copper.segments[int(name)] for kind, name in metals if kind == "copper"]
        free = (self.free_hole(segment) for segment in segments)
        return next((Touch(hole) for hole in free if hole), None)


def _tree(graph: nx.MultiGraph) -> nx.Graph:
    """The graph with all that has two ways round drawn together: nodes carry their metals, edges their names."""
    simple = nx.Graph(graph)
    single = [edge for edge in nx.bridges(simple) if graph.number_of_edges(*edge) == 1]
    rest = simple.copy()
    rest.remove_edges_from(single)
    home: dict[Metal, int] = {}
    tree = nx.Graph()
    for number, piece in enumerate(nx.connected_components(rest)):
        tree.add_node(number, metals=sorted(piece, key=lambda metal: (metal[0], natural_key(metal[1]))))
        home |= dict.fromkeys(piece, number)
    for one, two in single:
        tree.add_edge(home[one], home[two], name=graph.edges[one, two, 0]["name"])
    return tree


def _leaves_in_order(tree: nx.Graph) -> list[int]:
    """The leaves in the order in which a walk round the tree meets them."""

    def key(node: int) -> tuple[str, tuple[tuple[int, int, str], ...]]:
        kind, name = tree.nodes[node]["metals"][0]
        return kind, natural_key(name)

    leaves = [node for node in tree if tree.degree(node) == 1]
    if len(tree) <= 2:
        return sorted(leaves, key=key)
    root = min((node for node in tree if tree.degree(node) > 1), key=key)
    ordered, stack = [], [(root, -1)]
    while stack:
        node, parent = stack.pop()
        below = sorted((other for other in tree[node] if other != parent), key=key, reverse=True)
        if not below:
            ordered.append(node)
        stack += [(other, node) for other in below]
    return ordered
