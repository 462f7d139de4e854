"""What an ohmmeter sees of a circuit without its ICs: resistances between nets, as far as they can be said.

Every part is branches between pins with the least, the named and the greatest resistance that a good one may show. The
resistance between two nets never falls when that of a branch rises (monotonicity law of Rayleigh; from memory), so the
network with all branches at their least gives a lower limit and the one with all at their greatest an upper limit.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from placer.circuit.model import Circuit, Part, PinRef
from placer.guide.values import farads, ohms
from placer.guide.words import is_resistor, letters, socketed
from placer.packages.model import Package
from placer.plan.conductors import joined_groups

# How far a good reading may lie from the value: parts of 5 %, the meter and its leads. Common practice, no source.
TOLERANCE = 0.1
# The least that a multimeter shows of a junction that conducts; most show some hundred ohm or nothing.
# Common practice, no source.
JUNCTION_OHM = 100.0
COIL_OHM = 10.0  # the least that the coil of a relay has; common practice, no source
# The least that an electrolytic capacitor of 1 uF shows when it is charged: ten times the usual limit of its leakage,
# 0.01 x C x V (datasheets, from memory), for it may be charged the wrong way round, or may have lain for long.
LEAKAGE_OHM_UF = 1e7
METAL_OHM = 1e-3  # what is as good as metal (fuses, small coils, contacts that are closed at rest)
NO_LIMIT = math.inf


@dataclass(frozen=True)
class Branch:
    """Between two pins of a part. ``kind``: "resistor", "trimmer", "junction", "coil", "metal" or "capacitor"."""

    one: PinRef
    two: PinRef
    kind: str
    low: float
    named: float
    high: float


def branches_of(part: Part, package: Package) -> Iterator[Branch]:
    """The branches of one part with nothing connected to its outside, ICs out of their sockets, trimmers in the middle.

    What is not known is taken for a junction: it may conduct, one way round or the other, but is no short.
    """
    pins = [PinRef(part.ref, pin) for pin in package.pins]
    value = ohms(part.value)
    shape = package.shape
    if socketed(package) or shape in ("header", "terminal", "button", "crystal"):
        return
    if shape in ("disc", "box") and letters(part.ref) == "C":
        return
    if shape == "flying":
        if part.package == "barrel-jack":  # sleeve and switch touch while no plug is in
            yield Branch(pins[1], pins[2], "metal", METAL_OHM, METAL_OHM, NO_LIMIT)
    elif shape == "can" and len(pins) == 2 and letters(part.ref) == "C":
        capacity = farads(part.value)
        microfarad = max(1.0, float(capacity.amount) * 1e6) if capacity else 1000.0
        yield Branch(pins[0], pins[1], "capacitor", LEAKAGE_OHM_UF / microfarad, NO_LIMIT, NO_LIMIT)
    elif shape == "axial" and len(pins) == 2:
        yield _axial(part, package, pins)
    elif shape == "trimmer" and value and len(pins) == 3:
        least, most = 0.3 * float(value.amount), 0.7 * float(value.amount)
        half = float(value.amount) / 2
        yield Branch(pins[0], pins[1], "trimmer", least, half, most)
        yield Branch(pins[1], pins[2], "trimmer", least, half, most)
    elif shape == "relay":
        at = {pin.pin: pin for pin in pins}
        rest = (("4", "6"), ("13", "11"))  # common two-pole relay: contacts closed at rest; from memory
        yield from (_junction(at[a], at[b], METAL_OHM) for a, b in rest if a in at and b in at)
        yield Branch(pins[0], pins[-1], "coil", COIL_OHM, NO_LIMIT, NO_LIMIT)
    else:
        yield from (_junction(a, b) for a, b in combinations(pins, 2))


def _junction(one: PinRef, two: PinRef, low: float = JUNCTION_OHM) -> Branch:
    return Branch(one, two, "junction" if low == JUNCTION_OHM else "metal", low, NO_LIMIT, NO_LIMIT)


def _axial(part: Part, package: Package, pins: list[PinRef]) -> Branch:
    one, two = pins
    value = ohms(part.value)
    if is_resistor(part, package) and value is not None:
        amount = max(float(value.amount), METAL_OHM)
        return Branch(one, two, "resistor", amount * (1 - TOLERANCE), amount, amount * (1 + TOLERANCE))
    if letters(part.ref) in ("L", "F", "FB"):
        return Branch(one, two, "metal", METAL_OHM, METAL_OHM, NO_LIMIT)
    if letters(part.ref) == "C":
        return Branch(one, two, "capacitor", NO_LIMIT, NO_LIMIT, NO_LIMIT)
    return _junction(one, two)


@dataclass(frozen=True)
class Reading:
    """What the meter may show between two nets. ``named``: with every junction open. inf: no connection at all."""

    low: float
    named: float
    high: float


class Network:
    """The circuit as an ohmmeter sees it. Nodes are nets by name; a pin in no net is a node of its own (``R1.2``)."""

    def __init__(self, circuit: Circuit) -> None:
        self._circuit = circuit
        self.node_of = _nodes(circuit)
        self.branches: tuple[Branch, ...] = tuple(
            branch for part in circuit.parts for branch in branches_of(part, circuit.packages[part.package])
        )

    @cached_property
    def _low(self) -> _Solved:
        return _Solved(self._edges("low"))

    @cached_property
    def _named(self) -> _Solved:
        return _Solved(self._edges("named"))

    @cached_property
    def _high(self) -> _Solved:
        return _Solved(self._edges("high"))

    def _edges(self, which: str) -> Iterator[tuple[str, str, float]]:
        for branch in self.branches:
            one, two, ohm = self.node_of[branch.one], self.node_of[branch.two], getattr(branch, which)
            if one != two and math.isfinite(ohm):
                yield one, two, ohm

    def between(self, one: str, two: str) -> Reading:
        """The reading between two nodes, ohm."""
        return Reading(self._low.between(one, two), self._named.between(one, two), self._high.between(one, two))

    @cached_property
    def _capacitors(self) -> Mapping[frozenset[str], tuple[str, ...]]:
        found: dict[frozenset[str], tuple[str, ...]] = {}
        for branch in self.branches:
            if branch.kind == "capacitor":
                ends = frozenset((self.node_of[branch.one], self.node_of[branch.two]))
                found[ends] = (*found.get(ends, ()), branch.one.part)
        return found

    def capacitors(self, one: str, two: str) -> tuple[str, ...]:
        """The electrolytic capacitors right between two nodes: they charge while one measures."""
        return self._capacitors.get(frozenset((one, two)), ())


def _nodes(circuit: Circuit) -> Mapping[PinRef, str]:
    """The node of each pin: its net's name, its own name where it is in no net; metal inside parts counts."""
    alone = {
        PinRef(part.ref, pin): f"{part.ref}.{pin}"
        for part in circuit.parts
        for pin in circuit.packages[part.package].pins
    }
    nodes = {**alone, **circuit.net_of}
    for group in joined_groups(circuit):
        listed = [circuit.net_of[pin] for pin in group if pin in circuit.net_of]
        for pin in group:
            if pin not in circuit.net_of:
                nodes[pin] = listed[0] if listed else nodes[group[0]]
    return nodes


class _Solved:
    """Resistances between all nodes of a network: one inverse of the conductance matrix for each connected piece."""

    def __init__(self, edges: Iterable[tuple[str, str, float]]) -> None:
        graph = nx.Graph()
        for one, two, ohm in edges:
            before = graph.edges[one, two]["siemens"] if graph.has_edge(one, two) else 0.0
            graph.add_edge(one, two, siemens=before + 1.0 / ohm)
        self._place: dict[str, tuple[int, int]] = {}
        self._inverse: list[NDArray[np.float64]] = []
        for number, piece in enumerate(nx.connected_components(graph)):
            nodes = sorted(piece)
            self._place |= {node: (number, row) for row, node in enumerate(nodes)}
            self._inverse.append(_inverse(graph, nodes))

    def between(self, one: str, two: str) -> float:
        """Ohm between two nodes; inf where nothing leads from one to the other."""
        if one == two:
            return 0.0
        here, there = self._place.get(one), self._place.get(two)
        if here is None or there is None or here[0] != there[0]:
            return NO_LIMIT
        z, i, j = self._inverse[here[0]], here[1], there[1]
        return max(0.0, float(z[i, i] + z[j, j] - 2 * z[i, j]))


def _inverse(graph: nx.Graph, nodes: list[str]) -> NDArray[np.float64]:
    """The inverse of the conductance matrix with the last node as reference; its row and column are noughts."""
    size = len(nodes)
    row = {node: number for number, node in enumerate(nodes)}
    matrix = np.zeros((size, size))
    for one, two, siemens in graph.subgraph(nodes).edges(data="siemens"):
        i, j = row[one], row[two]
        matrix[i, i] += siemens
        matrix[j, j] += siemens
        matrix[i, j] -= siemens
        matrix[j, i] -= siemens
    found = np.zeros((size, size))
    found[:-1, :-1] = np.linalg.inv(matrix[:-1, :-1])
    return found
