"""From copper to conductors: what a plan joins, worked out from board, cuts, jumpers, bridges and the parts' metal.

Strips fall into segments by the cuts; segments joined by jumpers, by bridges or by metal inside a part are one
conductor. Nothing
here knows how the plan was found, nor what the circuit wants: who asks compares.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import networkx as nx

from placer.circuit.model import Circuit, PinRef
from placer.plan.model import Plan
from placer.plan.ports import mounted


def natural_key(text: str) -> tuple[tuple[int, int, str], ...]:
    """Sort key that puts ``R2`` before ``R10``."""
    return tuple((0, int(run), "") if run.isdecimal() else (1, 0, run) for run in re.findall(r"\d+|\D+", text))


def pin_key(pin: PinRef) -> tuple[tuple[tuple[int, int, str], ...], tuple[tuple[int, int, str], ...]]:
    """Sort key of a pin: by part, then by pin, both in natural order."""
    return natural_key(pin.part), natural_key(pin.pin)


@dataclass(frozen=True)
class Segment:
    """Holes that one unbroken piece of copper joins, in the strip's own order. ``whole``: no cut touched the strip."""

    strip: str
    holes: tuple[str, ...]
    whole: bool

    def __str__(self) -> str:
        if self.whole:
            return f"strip {self.strip}"
        if len(self.holes) == 1:
            return f"strip {self.strip} at {self.holes[0]}"
        return f"strip {self.strip} from {self.holes[0]} to {self.holes[-1]}"


@dataclass(frozen=True)
class Conductor:
    """Segments that are electrically one, and every pin that stands on them (natural order)."""

    segments: tuple[Segment, ...]
    pins: tuple[PinRef, ...]

    def __str__(self) -> str:
        return ", ".join(str(segment) for segment in self.segments)


class CopperMap:
    """The copper of a plan as it would be built: segments, conductors, and where each hole and pin belongs.

    Holes that are drilled out have no copper; a pin or wire end there joins nothing. Unknown holes, pins and parts are
    passed over: the judge names them elsewhere.
    """

    def __init__(self, plan: Plan) -> None:
        self._plan = plan = mounted(plan)
        self.drilled = frozenset(cut.at for cut in plan.cuts if cut.at is not None and cut.at in plan.board.holes)
        self.segments = self._segments()
        self.segment_of: Mapping[str, int] = {
            hole: index for index, segment in enumerate(self.segments) for hole in segment.holes
        }
        self.hole_of: Mapping[PinRef, str] = {
            PinRef(ref, pin): hole for ref, placement in plan.placements.items() for pin, hole in placement.pins.items()
        }

    def _segments(self) -> tuple[Segment, ...]:
        knives = {frozenset(cut.between) for cut in self._plan.cuts if cut.between is not None}
        found: list[Segment] = []
        for strip in self._plan.board.strips:
            links = [
                link for link in strip.links if frozenset(link) not in knives and not self.drilled.intersection(link)
            ]
            copper = nx.Graph(links)
            copper.add_nodes_from(hole for hole in strip.holes if hole not in self.drilled)
            whole = len(links) == len(strip.links) and not self.drilled.intersection(strip.holes)
            place = {hole: number for number, hole in enumerate(strip.holes)}
            pieces = [tuple(sorted(piece, key=lambda hole: place[hole])) for piece in nx.connected_components(copper)]
            found += [Segment(strip.name, piece, whole) for piece in sorted(pieces, key=lambda piece: place[piece[0]])]
        return tuple(found)

    @cached_property
    def _joins(self) -> nx.MultiGraph:
        """Segments (by index) joined by jumpers and bridges (edge key: which) and by metal inside parts."""
        joins = nx.MultiGraph()
        joins.add_nodes_from(range(len(self.segments)))
        made = [(("jumper", number), (j.start, j.end)) for number, j in enumerate(self._plan.jumpers)]
        made += [(("bridge", number), bridge.between) for number, bridge in enumerate(self._plan.bridges)]
        for key, holes in made:
            ends = [self.segment_of.get(hole) for hole in holes]
            if None not in ends:
                joins.add_edge(*ends, key=key)
        for group in joined_groups(self._plan.circuit):
            stood = [self.segment_of[self.hole_of[pin]] for pin in group if self.hole_of.get(pin) in self.segment_of]
            for first, second in pairwise(stood):
                joins.add_edge(first, second)
        return joins

    @cached_property
    def _pins_on(self) -> Mapping[int, tuple[PinRef, ...]]:
        on: dict[int, list[PinRef]] = {}
        for pin, hole in self.hole_of.items():
            if hole in self.segment_of:
                on.setdefault(self.segment_of[hole], []).append(pin)
        return {index: tuple(sorted(pins, key=pin_key)) for index, pins in on.items()}

    def _conductor(self, members: Iterable[int]) -> Conductor:
        indices = sorted(members)
        pins = (pin for index in indices for pin in self._pins_on.get(index, ()))
        return Conductor(tuple(self.segments[index] for index in indices), tuple(sorted(pins, key=pin_key)))

    @cached_property
    def conductors(self) -> tuple[Conductor, ...]:
        """Every conductor, bare copper included, in the order of its first segment on the board."""
        pieces = sorted(nx.connected_components(self._joins), key=min)
        return tuple(self._conductor(piece) for piece in pieces)

    @cached_property
    def _conductor_of_segment(self) -> Mapping[Segment, Conductor]:
        return {segment: conductor for conductor in self.conductors for segment in conductor.segments}

    def conductor_at(self, hole: str) -> Conductor | None:
        """The conductor that a hole's copper belongs to; None where there is no copper."""
        index = self.segment_of.get(hole)
        return None if index is None else self._conductor_of_segment[self.segments[index]]

    def pins_at(self, segment: Segment) -> tuple[PinRef, ...]:
        """The pins that stand on one segment."""
        return self._pins_on.get(self.segment_of[segment.holes[0]], ())

    def reach_without(self, jumper: int, hole: str) -> Conductor | None:
        """What the copper at ``hole`` is joined to when jumper number ``jumper`` is left out."""
        return self._reach_without(("jumper", jumper), hole)

    def reach_without_bridge(self, bridge: int, hole: str) -> Conductor | None:
        """What the copper at ``hole`` is joined to when bridge number ``bridge`` is left out."""
        return self._reach_without(("bridge", bridge), hole)

    def _reach_without(self, key: tuple[str, int], hole: str) -> Conductor | None:
        index = self.segment_of.get(hole)
        if index is None:
            return None
        joins, ends = self._joins, self._ends_of.get(key)
        if ends is None:
            return self._conductor(nx.node_connected_component(joins, index))
        joins.remove_edge(*ends, key=key)
        try:
            return self._conductor(nx.node_connected_component(joins, index))
        finally:
            joins.add_edge(*ends, key=key)

    @cached_property
    def _ends_of(self) -> Mapping[tuple[str, int], tuple[int, int]]:
        """The segments that a jumper or bridge joins."""
        return {key: (u, v) for u, v, key in self._joins.edges(keys=True) if isinstance(key, tuple)}


def joined_groups(circuit: Circuit) -> tuple[tuple[PinRef, ...], ...]:
    """Groups of pins that metal inside a part joins, overlapping groups merged, in the order of parts and packages."""
    groups: list[tuple[PinRef, ...]] = []
    for part in circuit.parts:
        package = circuit.packages.get(part.package)
        if package is None:
            continue
        metal = nx.Graph()
        for group in package.joined:
            nx.add_path(metal, group)
        groups += [
            tuple(PinRef(part.ref, pin) for pin in sorted(piece, key=natural_key))
            for piece in nx.connected_components(metal)
        ]
    return tuple(groups)


def group_of_pins(circuit: Circuit) -> Mapping[PinRef, tuple[PinRef, ...]]:
    """The joined group of each pin; a pin that metal joins to nothing is a group of one."""
    alone = {
        PinRef(part.ref, pin): (PinRef(part.ref, pin),)
        for part in circuit.parts
        if part.package in circuit.packages
        for pin in circuit.packages[part.package].pins
    }
    return {**alone, **{pin: group for group in joined_groups(circuit) for pin in group}}
