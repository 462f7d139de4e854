"""The copper of one net as a network of resistors, and the most that can run through each piece of it.

Nodes are the holes of the net's copper, edges the copper from hole to hole, jumpers, bridges, and metal inside parts.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import networkx as nx
import numpy as np
import numpy.typing as npt

from placer.boards.model import Board
from placer.circuit.model import PinRef
from placer.limits import laws
from placer.plan.conductors import CopperMap, joined_groups
from placer.plan.model import Plan

Floats = npt.NDArray[np.floating[Any]]

METAL_OHM = 0.1  # contact of a tactile switch, at most: PTS645 series datasheet
STRIP, JUMPER, BRIDGE, METAL = "strip", "jumper", "bridge", "metal"


@dataclass(frozen=True)
class Piece:
    """A piece of a net's copper between two holes. ``name``: of the strip, or number of the jumper in the plan.

    ``area_mm2``: the cross-section of its narrowest place; 0 where no limit is known.
    """

    kind: str
    name: str
    ends: tuple[str, str]
    ohms: float
    area_mm2: float


@dataclass(frozen=True)
class Network:
    """One net's copper: its pieces, the pins that stand on it, and the hole of each."""

    net: str
    pieces: tuple[Piece, ...]
    holes: Mapping[PinRef, str]


def networks(plan: Plan, copper: CopperMap) -> tuple[Network, ...]:
    """Return the network of each net that has copper, in the circuit's order."""
    board, celsius = plan.board, laws.AIR_C + plan.board.copper.rise_k
    links = _links(plan, copper, celsius)
    joined = [
        (PinRef(a.part, a.pin), PinRef(b.part, b.pin))
        for group in joined_groups(plan.circuit)
        for a, b in pairwise(group)
    ]
    found = []
    for net in plan.circuit.nets:
        stood = {pin: copper.hole_of[pin] for pin in net.pins if copper.hole_of.get(pin) in copper.segment_of}
        if not stood:
            continue
        first = copper.conductor_at(next(iter(stood.values())))
        segments = first.segments if first is not None else ()
        on = {hole for segment in segments for hole in segment.holes}
        pieces = [piece for segment in segments for piece in links.get(segment.holes[0], ())]
        for number, jumper in enumerate(plan.jumpers):
            if {jumper.start, jumper.end} <= on:
                ohms = laws.wire_ohm(_apart_mm(board, jumper.start, jumper.end), laws.JUMPER_AWG, celsius)
                area = laws.wire_mm2(laws.JUMPER_AWG)
                pieces.append(Piece(JUMPER, str(number + 1), (jumper.start, jumper.end), ohms, area))
        for number, bridge in enumerate(plan.bridges):
            if set(bridge.between) <= on:
                copper_ = board.copper
                ohms = laws.strip_ohm(board.pitch_mm, copper_.width_mm, copper_.thickness_um, celsius)
                pieces.append(Piece(BRIDGE, str(number + 1), bridge.between, ohms, 0.0))
        for a, b in joined:
            ends = copper.hole_of.get(a), copper.hole_of.get(b)
            if ends[0] is not None and ends[1] is not None and {*ends} <= on:
                pieces.append(Piece(METAL, a.part, (ends[0], ends[1]), METAL_OHM, 0.0))
        found.append(Network(net.name, tuple(pieces), {pin: hole for pin, hole in stood.items() if hole in on}))
    return tuple(found)


def _links(plan: Plan, copper: CopperMap, celsius: float) -> dict[str, list[Piece]]:
    """The copper from hole to hole of each segment, by the segment's first hole."""
    board, found = plan.board, dict[str, list[Piece]]()
    knives = {frozenset(cut.between) for cut in plan.cuts if cut.between is not None}
    width, thick = board.copper.width_mm, board.copper.thickness_um
    for strip in board.strips:
        for one, two in strip.links:
            if copper.drilled & {one, two} or frozenset((one, two)) in knives:
                continue
            hole = max(board.holes[one].diameter_mm, board.holes[two].diameter_mm)
            left = laws.narrow_mm(width, hole) or width
            ohms = laws.pitch_ohm(max(_apart_mm(board, one, two), board.pitch_mm), width, hole, thick, celsius)
            first = copper.segments[copper.segment_of[one]].holes[0]
            found.setdefault(first, []).append(Piece(STRIP, strip.name, (one, two), ohms, left * thick / 1000))
    return found


def _apart_mm(board: Board, one: str, two: str) -> float:
    a, b = board.holes[one], board.holes[two]
    return math.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm)


@dataclass(frozen=True)
class Load:
    """The most that runs in a net. ``amps``: in all, through any of its pins; ``most``: the most of each pin."""

    amps: float
    most: Mapping[PinRef, float]
    sources: tuple[PinRef, ...]


@dataclass(frozen=True)
class Flow:
    """The most that runs through each piece of a network (A), and the worst drop (V) from a source to a pin."""

    pieces: tuple[float, ...]
    drop_v: float = 0.0
    drop_from: PinRef | None = None
    drop_to: PinRef | None = None


def worst_flow(network: Network, load: Load) -> Flow:
    """Return the most that each piece can be asked to carry, over every way in which the pins may share the load.

    The load comes in at one of ``sources`` (each is tried) and leaves by other pins, none more than its most and all
    together no more than ``amps``. What one ampere from the source to a pin does in each piece is found by nodal
    analysis of the copper; the worst share gives to the pins that count most. On copper without loops that is the
    smaller of what the two sides of a piece can take.
    """
    pins = [pin for pin in network.holes if load.most.get(pin, 0.0) > 0]
    if not network.pieces or len(pins) < 2 or load.amps <= 0:
        return Flow(tuple(0.0 for _ in network.pieces))
    place, potential = _unit_potentials(network, [network.holes[pin] for pin in pins])
    ends = np.array([[place[piece.ends[0]], place[piece.ends[1]]] for piece in network.pieces])
    siemens = np.array([1.0 / max(piece.ohms, 1e-9) for piece in network.pieces])
    unit = (potential[ends[:, 0]] - potential[ends[:, 1]]) * siemens[:, None]  # [piece, pin], into the pin's hole
    most = np.array([min(load.most[pin], load.amps) for pin in pins])
    at = np.array([place[network.holes[pin]] for pin in pins])
    worst = np.zeros(len(network.pieces))
    drop = 0.0
    where: tuple[PinRef | None, PinRef | None] = (None, None)
    for source in load.sources:
        if source not in pins:
            continue
        own = pins.index(source)
        others = np.array([number for number in range(len(pins)) if number != own])
        amps = min(load.amps, float(most[others].sum()))
        rates = unit[:, [own]] - unit[:, others]
        for sign in (1.0, -1.0):
            worst = np.maximum(worst, _fill(sign * rates, most[others], amps))
        # Volts from the source to each pin for an ampere to each other pin.
        volts = potential[at[own]][[own, *others]][0] - potential[at[own]][others]
        transfer = volts[None, :] - (potential[at[others]][:, [own]] - potential[at[others]][:, others])
        drops = _fill(transfer, most[others], amps)
        far = int(np.argmax(drops))
        if drops[far] > drop:
            drop, where = float(drops[far]), (source, pins[others[far]])
    return Flow(tuple(float(value) for value in worst), drop, *where)


def _unit_potentials(network: Network, holes: Sequence[str]) -> tuple[dict[str, int], Floats]:
    """Potentials of all holes [hole, pin] for an ampere into each of ``holes``, out at the first hole of all."""
    graph = nx.Graph()
    graph.add_nodes_from(holes)
    for piece in network.pieces:
        graph.add_edge(*piece.ends)
    place: dict[str, int] = {hole: number for number, hole in enumerate(graph)}
    size = len(place)
    matrix = np.zeros((size, size))
    for piece in network.pieces:
        a, b = place[piece.ends[0]], place[piece.ends[1]]
        siemens = 1.0 / max(piece.ohms, 1e-9)
        matrix[a, a] += siemens
        matrix[b, b] += siemens
        matrix[a, b] -= siemens
        matrix[b, a] -= siemens
    for component in nx.connected_components(graph):  # one hole of each piece of copper is held at 0 V
        matrix[place[min(component)], place[min(component)]] += 1.0
    right = np.zeros((size, len(holes)))
    for number, hole in enumerate(holes):
        right[place[hole], number] = 1.0
    solved: Floats = np.linalg.solve(matrix, right)
    return place, solved


def _fill(rates: Floats, most: Floats, amps: float) -> Floats:
    """For each row the largest sum of rate x share: shares up to ``most``, together ``amps``, to the best first."""
    order = np.argsort(-rates, axis=1)
    best = np.take_along_axis(np.maximum(rates, 0.0), order, axis=1)
    shares = most[order]
    before = np.cumsum(shares, axis=1) - shares
    result: Floats = (best * np.clip(amps - before, 0.0, shares)).sum(axis=1)
    return result
