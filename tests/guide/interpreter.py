"""A builder that knows nothing of the plan: it reads the texts of the steps, and does what they say.

From the words alone come the place of every lead, the wires, cuts and bridges. The packages say where the other pins of
an IC are when its corners are known, and the board where there is copper. Out comes the netlist that was built.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import networkx as nx

from placer.boards.model import Board
from placer.circuit.model import Circuit
from placer.packages.model import Package, Rigid

HOLE = r"([A-Za-z][\w+-]*)"
PIN = re.compile(rf"pin (\S+?)(?: \([^)]*\))? into {HOLE}")
AT = re.compile(rf"pin (\S+?) at {HOLE}")
TWO = re.compile(rf"one (?:lead|end) into {HOLE} and the other into {HOLE}")
SEEN = re.compile(rf"the ([^()]*?)(?: \(pin \S+\))?,? into {HOLE}")
# What is seen on a lead, and the name that packages give it.
SIGNS = (("cathode", "K"), ("anode", "A"), ("+", "+"), (", -", "-"))

# How a part reads when its face looks at you, pins left to right, leads down: seen from above, with the face towards
# the lower edge the pins run to the right; a quarter turn clockwise takes one to the next.
ALONG = {"bottom": (1, 0), "left": (0, 1), "top": (-1, 0), "right": (0, -1)}


@dataclass
class Built:
    """What stands on the board so far."""

    board: Board
    leads: dict[tuple[str, str], str] = field(default_factory=dict)
    wires: list[tuple[str, str]] = field(default_factory=list)
    drilled: set[str] = field(default_factory=set)
    severed: set[frozenset[str]] = field(default_factory=set)
    ics: set[str] = field(default_factory=set)

    def put(self, ref: str, pin: str, hole: str) -> None:
        """A lead goes into a hole, which must be there and empty."""
        assert hole in self.board.holes, f"{ref}: there is no hole {hole}"
        assert hole not in self.drilled, f"{ref}: hole {hole} was drilled out"
        assert hole not in self.leads.values(), f"{ref}: hole {hole} is taken"
        assert hole not in {end for wire in self.wires for end in wire}, f"{ref}: hole {hole} holds a wire"
        self.leads[ref, pin] = hole

    def nets(self, circuit: Circuit) -> frozenset[tuple[tuple[str, str], ...]]:
        """What is joined: pins by reference and number; both leads of a part that may be turned are alike."""
        graph = nx.Graph()
        graph.add_nodes_from(("pin", *lead) for lead in self.leads)
        for strip in self.board.strips:
            for a, b in strip.links:
                if not self.drilled & {a, b} and frozenset((a, b)) not in self.severed:
                    graph.add_edge(a, b)
        graph.add_edges_from(self.wires)
        graph.add_edges_from((("pin", *lead), hole) for lead, hole in self.leads.items())
        for part in circuit.parts:
            for group in circuit.packages[part.package].joined:
                nx.add_path(graph, [("pin", part.ref, pin) for pin in group])
        pieces = ([node for node in piece if node[0] == "pin"] for piece in nx.connected_components(graph))
        return alike(circuit, ([(ref, pin) for _, ref, pin in piece] for piece in pieces if piece))


def alike(circuit: Circuit, nets: Iterable[Iterable[tuple[str, str]]]) -> frozenset[tuple[tuple[str, str], ...]]:
    """Nets as sets; the pins of a part that may be turned lose their numbers."""
    turned = {part.ref for part in circuit.parts if circuit.packages[part.package].symmetric}
    return frozenset(tuple(sorted((ref, "" if ref in turned else pin) for ref, pin in net)) for net in nets)


def wanted(circuit: Circuit) -> frozenset[tuple[tuple[str, str], ...]]:
    """What the circuit wants joined, open pins each alone; metal inside parts counts."""
    graph = nx.Graph()
    for part in circuit.parts:
        package = circuit.packages[part.package]
        graph.add_nodes_from((part.ref, pin) for pin in package.pins)
        for group in package.joined:
            nx.add_path(graph, [(part.ref, pin) for pin in group])
    for net in circuit.nets:
        nx.add_path(graph, [(pin.part, pin.pin) for pin in net.pins])
    return alike(circuit, nx.connected_components(graph))


def follow(texts: Iterable[str], board: Board, circuit: Circuit, seed: int = 1) -> Built:
    """Do what the texts say, in their order; parts that may lie either way round are turned at random."""
    built, rng = Built(board), random.Random(seed)
    for text in texts:
        _do(text, built, circuit, rng)
    return built


def _do(text: str, built: Built, circuit: Circuit, rng: random.Random) -> None:
    if text.startswith("Cut "):
        between = re.search(rf"between holes {HOLE} and {HOLE}", text)
        at = re.search(rf"in hole {HOLE}", text)
        assert (between is None) != (at is None)
        if between:
            built.severed.add(frozenset(between.groups()))
        elif at:
            built.drilled.add(at.group(1))
    elif text.startswith("Bridge "):
        found = re.search(rf"pads of {HOLE} and {HOLE}", text)
        assert found
        built.wires.append(found.groups())
    elif text.startswith("Jumper "):
        found = TWO.search(text)
        assert found
        for hole in found.groups():
            assert hole not in built.leads.values()
        built.wires.append(found.groups())
    elif socket := re.match(r"Socket with (\d+) pins for (\S+?):", text):
        ref = socket.group(2)
        package = circuit.package_of(ref)
        assert len(package.pins) == int(socket.group(1))
        _rigid(ref, package, dict(PIN.findall(text)), built)
    elif "press it into its socket" in text:
        ref = text.removeprefix("Power off. ").split(",")[0]
        corners = AT.findall(text)
        assert corners
        for pin, hole in corners:
            assert built.leads[ref, pin] == hole
        built.ics.add(ref)
    elif (ref := text.split(",")[0]) in circuit.part_by_ref:
        _part(ref, text, built, circuit, rng)


def _part(ref: str, text: str, built: Built, circuit: Circuit, rng: random.Random) -> None:
    package = circuit.package_of(ref)
    if either := TWO.search(text):
        assert "either way round" in text
        assert package.symmetric
        holes = list(either.groups())
        rng.shuffle(holes)
        places = dict(zip(package.pins, holes, strict=True))
    elif "Push the " in text and (seen := SEEN.findall(text.split("Push ")[1])):
        names = [next(name for sign, name in SIGNS if sign in words) for words, _ in seen]
        places = {package.pin_names[name]: hole for name, (_, hole) in zip(names, seen, strict=True)}
    else:
        places = dict(PIN.findall(text))
    if isinstance(package.form, Rigid):
        if face := re.search(r"face towards the (\w+) edge", text):
            first, last = (built.board.holes[places[pin]] for pin in (package.pins[0], package.pins[-1]))
            dx, dy = ALONG[face.group(1)]
            assert (last.x - first.x) * dx + (last.y - first.y) * dy == len(package.pins) - 1, f"{ref} looks elsewhere"
        _rigid(ref, package, places, built)
        return
    assert set(places) == set(package.pins), f"{ref}: where do its pins go?"
    for pin, hole in places.items():
        built.put(ref, pin, hole)


def _rigid(ref: str, package: Package, places: Mapping[str, str], built: Built) -> None:
    """All pins of a part that cannot be bent, from those that were named: the only turn that fits them."""
    form, board = package.form, built.board
    assert isinstance(form, Rigid)
    offset = dict(zip(package.pins, form.offsets, strict=True))
    known = next(iter(places))
    start, fitting = board.holes[places[known]], []
    for a, b, c, d in ((1, 0, 0, 1), (0, -1, 1, 0), (-1, 0, 0, -1), (0, 1, -1, 0)):
        at = {}
        for pin, (x, y) in offset.items():
            x, y = x - offset[known][0], y - offset[known][1]
            hole = board.hole_at.get((start.x + a * x + b * y, start.y + c * x + d * y))
            at[pin] = hole.address if hole else ""
        if all(at[pin] == hole for pin, hole in places.items()):
            fitting.append(at)
    assert len(fitting) == 1 or len(package.pins) == 1, f"{ref}: {len(fitting)} turns fit"
    for pin, hole in fitting[0].items():
        built.put(ref, pin, hole)
