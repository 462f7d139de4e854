"""Boards built wrong, and what a meter shows on them: how many single faults a test sheet finds.

A build is holes, leads and wires joined edge by edge, from the plan and the board's links alone; nothing of the code
that writes the test sheet is used. The sheet comes as the text of ``tests.csv``, as a person at the bench has it: where
to touch, and the limits.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import networkx as nx
import numpy as np

from placer.packages.model import Package, Rigid
from placer.plan.model import Cut, Plan

Node = tuple[str, ...]  # ("hole", a1), ("metal", R1, 1), ("wire", 3)
Edge = tuple[Node, Node]

METER_OHM = 0.2  # the leads of the meter, and what a joint has
# What a junction shows that conducts; one that does not conduct shows nothing. Common practice, no source.
JUNCTION_OHM = 150.0
LEAKAGE_OHM_UF = 5e7  # what an electrolytic capacitor of 1 uF lets through then
COIL_OHM = 400.0  # a 12 V relay of 30 mA


@dataclass(frozen=True)
class Fault:
    """One mistake. ``without``, ``extra``: the joins that are missing from the good build, or too many."""

    kind: str
    name: str
    without: tuple[Edge, ...] = ()
    extra: tuple[Edge, ...] = ()


@dataclass(frozen=True)
class Line:
    """One line of the sheet."""

    number: int
    one: Node
    two: Node
    low: float
    high: float


# --- the good build -------------------------------------------------------------------------------------------------


def _metal(package: Package, ref: str, pin: str) -> Node:
    """The metal of a pin: pins that a part joins inside bear the name of the first of them."""
    graph = nx.Graph()
    for group in package.joined:
        nx.add_path(graph, group)
    mates = nx.node_connected_component(graph, pin) if pin in graph else {pin}
    return "metal", ref, min(mates, key=package.pins.index)


class Bench:
    """A plan as it should be built, and every way to build it wrong by one mistake."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.drilled = {cut.at for cut in plan.cuts if cut.at is not None}
        self.leads = {
            (ref, pin): (self.metal(ref, pin), ("hole", hole))
            for ref, placement in plan.placements.items()
            for pin, hole in placement.pins.items()
        }
        self.wires = [
            ((("wire", str(n)), ("hole", j.start)), (("wire", str(n)), ("hole", j.end)))
            for n, j in enumerate(plan.jumpers, 1)
        ]
        self.blobs = [(("hole", b.between[0]), ("hole", b.between[1])) for b in plan.bridges]
        self.copper = [*self._copper()]

    def metal(self, ref: str, pin: str) -> Node:
        return _metal(self.plan.circuit.packages[self.plan.placements[ref].package], ref, pin)

    def _copper(self) -> Iterator[Edge]:
        knives = {frozenset(cut.between) for cut in self.plan.cuts if cut.between is not None}
        for strip in self.plan.board.strips:
            for a, b in strip.links:
                if frozenset((a, b)) not in knives and not self.drilled & {a, b}:
                    yield ("hole", a), ("hole", b)

    @cached_property
    def piece_of(self) -> Mapping[Node, Node]:
        """The piece of copper that each hole is on, by one of its holes: what no fault severs."""
        return {hole: min(piece) for piece in nx.connected_components(nx.Graph(self.copper)) for hole in piece}

    @cached_property
    def elements(self) -> Mapping[float, list[tuple[Node, Node, float]]]:
        """What an ohmmeter sees of the parts, with junctions that do not conduct and with such that do."""
        return {ohm: list(elements(self.plan, ohm)) for ohm in (math.inf, JUNCTION_OHM)}

    @cached_property
    def edges(self) -> list[Edge]:
        return [*self.leads.values(), *(end for wire in self.wires for end in wire), *self.blobs]

    @cached_property
    def good(self) -> Build:
        return self.build()

    def build(self, fault: Fault | None = None) -> Build:
        """The build with a fault, or without one."""
        edges = list(self.edges)
        for edge in fault.without if fault else ():
            edges.remove(edge)
        return Build(self, (*edges, *(fault.extra if fault else ())))

    # --- faults -----------------------------------------------------------------------------------------------------

    def faults(self) -> Iterator[Fault]:
        """Every single fault."""
        for n, wire in enumerate(self.wires, 1):
            yield Fault("jumper missing", f"jumper {n}", wire)
            for end in wire:
                yield Fault("dry joint", f"jumper {n} in {end[1][1]}", (end,))
        for (ref, pin), joint in self.leads.items():
            yield Fault("dry joint", f"{ref}.{pin} in {joint[1][1]}", (joint,))
        for n, blob in enumerate(self.blobs, 1):
            yield Fault("bridge missing", f"bridge {n}", (blob,))
        for n, cut in enumerate(self.plan.cuts, 1):
            yield Fault("cut missing", f"cut {n}", extra=tuple(self._uncut(cut)))
            sides = [*self._sides(cut)]
            yield Fault("cut bridged", f"cut {n}", extra=((sides[0], sides[-1]),) if len(sides) > 1 else ())
        yield from self._one_off()
        yield from self._whole_part_off()
        yield from self._bridged()

    def _uncut(self, cut: Cut) -> Iterator[Edge]:
        for strip in self.plan.board.strips:
            for a, b in strip.links:
                if {a, b} == set(cut.between or ()) or (cut.at in (a, b) and not (self.drilled - {cut.at}) & {a, b}):
                    yield ("hole", a), ("hole", b)

    def _sides(self, cut: Cut) -> Iterator[Node]:
        if cut.between is not None:
            yield from (("hole", hole) for hole in cut.between)
            return
        for a, b in self.plan.board.strip_of[str(cut.at)].links:
            if cut.at in (a, b):
                yield "hole", b if cut.at == a else a

    @cached_property
    def taken(self) -> set[str]:
        ends = (*self.leads.values(), *(end for wire in self.wires for end in wire))
        return {hole[1] for _, hole in ends} | {hole for hole in self.drilled if hole}

    def _beside(self, address: str) -> Iterator[tuple[tuple[int, int], str]]:
        hole = self.plan.board.holes[address]
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            other = self.plan.board.hole_at.get((hole.x + dx, hole.y + dy))
            if other is not None:
                yield (dx, dy), other.address

    def _one_off(self) -> Iterator[Fault]:
        ends = {f"{ref}.{pin}": joint for (ref, pin), joint in self.leads.items()}
        ends |= {f"jumper {n} end {k}": end for n, wire in enumerate(self.wires, 1) for k, end in enumerate(wire)}
        for name, end in ends.items():
            for _, other in self._beside(end[1][1]):
                if other not in self.taken:
                    yield Fault("lead one hole off", f"{name} in {other}", (end,), ((end[0], ("hole", other)),))

    def _whole_part_off(self) -> Iterator[Fault]:
        for ref, placement in self.plan.placements.items():
            if not isinstance(self.plan.circuit.packages[placement.package].form, Rigid):
                continue
            own = {pin: dict(self._beside(hole)) for pin, hole in placement.pins.items()}
            for way in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                new = {pin: near.get(way) for pin, near in own.items()}
                others = self.taken - set(placement.pins.values())
                if None not in new.values() and not others & set(new.values()):
                    old = tuple(self.leads[ref, pin] for pin in placement.pins)
                    moved = tuple((self.metal(ref, pin), ("hole", str(hole))) for pin, hole in new.items())
                    yield Fault("part one hole off", f"{ref} by {way}", old, moved)

    def _bridged(self) -> Iterator[Fault]:
        home = self.good.home
        for address in self.plan.board.holes:
            for way, other in self._beside(address):
                a, b = ("hole", address), ("hole", other)
                if way in ((1, 0), (0, 1)) and not self.drilled & {address, other} and home(a) != home(b):
                    yield Fault("neighbours bridged", f"{address} and {other}", extra=((a, b),))


# --- what the meter shows -------------------------------------------------------------------------------------------


class Build:
    """Metal that is joined, and the meter's readings between any two pieces of it."""

    def __init__(self, bench: Bench, edges: Sequence[Edge]) -> None:
        self._bench = bench
        self._up: dict[Node, Node] = {}
        for a, b in edges:
            one, two = self.home(a), self.home(b)
            if one != two:
                self._up[one] = two

    def home(self, node: Node) -> Node:
        """The piece of metal that stands for all that is joined to this one."""
        node = self._bench.piece_of.get(node, node)
        while node in self._up:
            node = self._up[node]
        return node

    @cached_property
    def joined(self) -> frozenset[frozenset[Node]]:
        """The leads that are joined to each other: what the circuit feels."""
        return self.alike(())

    def alike(self, touched: Iterable[Node]) -> frozenset[frozenset[Node]]:
        """Which leads and other touched pieces are joined: builds alike in this show the same on the meter."""
        found: dict[Node, set[Node]] = {}
        for node in (*(metal for metal, _ in self._bench.leads.values()), *touched):
            found.setdefault(self.home(node), set()).add(node)
        return frozenset(frozenset(metals) for metals in found.values())

    def reading(self, one: Node, two: Node, junction_ohm: float) -> float:
        """Ohm between two pieces of metal, inf for no connection; junctions all conduct so, or not at all (inf)."""
        here, there = self.home(one), self.home(two)
        if here == there:
            return METER_OHM
        return METER_OHM + self._between(here, there, junction_ohm)

    def _between(self, here: Node, there: Node, junction_ohm: float) -> float:
        graph = nx.MultiGraph()
        for a, b, ohm in self._bench.elements[junction_ohm]:
            if math.isfinite(ohm):
                graph.add_edge(self.home(a), self.home(b), siemens=1 / max(ohm, 1e-3))
        if here not in graph or there not in graph or not nx.has_path(graph, here, there):
            return math.inf
        nodes = sorted(nx.node_connected_component(graph, here))
        row = {node: n for n, node in enumerate(nodes)}
        matrix = np.zeros((len(nodes), len(nodes)))
        for a, b, siemens in graph.subgraph(nodes).edges(data="siemens"):
            if a != b:
                i, j = row[a], row[b]
                matrix[[i, j], [i, j]] += siemens
                matrix[[i, j], [j, i]] -= siemens
        current = np.zeros(len(nodes))
        current[row[here]], current[row[there]] = 1.0, -1.0
        keep = [n for n in range(len(nodes)) if n != row[there]]  # that node is at 0 V
        volts = np.linalg.solve(matrix[np.ix_(keep, keep)], current[keep])
        return float(volts[keep.index(row[here])])


def elements(plan: Plan, junction_ohm: float) -> Iterator[tuple[Node, Node, float]]:
    """The parts of the demo circuits as an ohmmeter sees them, no IC in its socket, each trimmer in its middle."""
    for part in plan.circuit.parts:
        package = plan.circuit.packages[part.package]
        metals = [_metal(package, part.ref, pin) for pin in package.pins]
        if part.package.startswith("axial"):
            yield metals[0], metals[1], _ohm(part.value)
        elif part.package.startswith("trimmer"):
            yield metals[0], metals[1], _ohm(part.value) / 2
            yield metals[1], metals[2], _ohm(part.value) / 2
        elif part.package.startswith("radial") and math.isfinite(junction_ohm):
            yield metals[0], metals[1], LEAKAGE_OHM_UF / _ohm(part.value.removesuffix("u"))
        elif part.package.startswith(("do-", "led", "to-")):
            yield from ((a, b, junction_ohm) for a, b in combinations(metals, 2))
        elif part.package == "relay":
            at = dict(zip(package.pins, metals, strict=True))
            yield at["1"], at["16"], COIL_OHM
            yield at["4"], at["6"], 0.0
            yield at["13"], at["11"], 0.0


def _ohm(value: str) -> float:
    found = re.fullmatch(r"(\d+(?:\.\d+)?)([kM]?)", value)
    assert found, f"{value} is no resistance that this reads"
    return float(found.group(1)) * {"": 1, "k": 1e3, "M": 1e6}[found.group(2)]


# --- the sheet ------------------------------------------------------------------------------------------------------


def sheet(bench: Bench, text: str) -> list[Line]:
    """The lines of a ``tests.csv``."""
    lines = []
    for row in csv.DictReader(io.StringIO(text, newline="")):
        ends = [_touched(bench, row["from"], row["from_hole"]), _touched(bench, row["to"], row["to_hole"])]
        low, high = float(row["low_ohm"] or 0), float(row["high_ohm"] or "inf")
        lines.append(Line(int(row["number"]), ends[0], ends[1], low, high))
    return lines


def _touched(bench: Bench, what: str, hole: str) -> Node:
    found = re.fullmatch(r"(\S+) (?:socket )?(?:pin|wire) (\S+)", what)
    if found is None:
        assert what == "bare copper"
        return "hole", hole
    ref, pin = found.groups()
    assert bench.plan.placements[ref].pins[pin] == hole, f"{what} is not in {hole}"
    return bench.metal(ref, pin)


def wrong_lines(build: Build, lines: Iterable[Line]) -> Iterator[int]:
    """The lines whose reading is out of its limits, whether junctions conduct or not."""
    for line in lines:
        # Most lines are settled by what is joined; the others are worked out.
        readings = (build.reading(line.one, line.two, ohm) for ohm in (math.inf, JUNCTION_OHM))
        if all(not line.low <= ohm <= line.high for ohm in readings):
            yield line.number


def alarms(build: Build, lines: Iterable[Line]) -> list[int]:
    """The lines that a good build would fail, with junctions conducting or not."""
    return [
        line.number
        for line in lines
        for ohm in (math.inf, JUNCTION_OHM)
        if not line.low <= build.reading(line.one, line.two, ohm) <= line.high
    ]


@dataclass(frozen=True)
class Coverage:
    """Faults of one kind: how many change what is joined, how many of these the sheet finds, which it does not."""

    kind: str
    faults: int
    found: int
    harmless: int
    missed: tuple[str, ...]


def coverage(plan: Plan, text: str) -> Mapping[str, Coverage]:
    """The coverage of a test sheet by kind of fault. A fault that leaves the same leads joined is harmless."""
    bench = Bench(plan)
    lines = sheet(bench, text)
    touched = {end for line in lines for end in (line.one, line.two)}
    known: dict[object, bool] = {}
    told: dict[str, tuple[list[str], list[str], list[str]]] = {}
    for fault in bench.faults():
        found, missed, harmless = told.setdefault(fault.kind, ([], [], []))
        build = bench.build(fault)
        if build.joined == bench.good.joined:
            harmless.append(fault.name)
            continue
        key = build.alike(touched)
        if key not in known:
            known[key] = next(wrong_lines(build, _likely_first(bench, build, lines)), None) is not None
        (found if known[key] else missed).append(fault.name)
    return {
        kind: Coverage(kind, len(found) + len(missed), len(found), len(harmless), tuple(missed))
        for kind, (found, missed, harmless) in told.items()
    }


def _likely_first(bench: Bench, build: Build, lines: Sequence[Line]) -> list[Line]:
    """Lines between whose ends the fault changed something, before the others: they are quicker to work out."""

    def changed(line: Line) -> bool:
        together = [each.home(line.one) == each.home(line.two) for each in (bench.good, build)]
        return together[0] != together[1]

    return sorted(lines, key=lambda line: not changed(line))
