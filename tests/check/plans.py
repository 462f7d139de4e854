"""Two good plans made by hand, without the search, and the tools to spoil them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from functools import cache

from placer.boards.catalogue import load_board
from placer.boards.model import Board
from placer.circuit.model import Circuit, Net, Part, PinRef, Place
from placer.packages.catalogue import lookup
from placer.packages.model import Package
from placer.plan.model import Cut, Jumper, Options, Placement, Plan, Proof, Score, SolveInfo


def pins(text: str) -> tuple[PinRef, ...]:
    """``"U1.8 R1.1"`` as pin references."""
    return tuple(PinRef(*word.split(".")) for word in text.split())


def circuit_of(
    name: str,
    parts: Mapping[str, str],
    nets: Mapping[str, str],
    places: Mapping[str, Place] | None = None,
    own: Mapping[str, Package] | None = None,
) -> Circuit:
    """A circuit from reference -> package name and net -> pins."""
    own, places = own or {}, places or {}
    return Circuit(
        name,
        tuple(Part(ref, package, place=places.get(ref, Place())) for ref, package in parts.items()),
        tuple(Net(net, pins(listed)) for net, listed in nets.items()),
        {package: own.get(package) or lookup(package) for package in parts.values()},
    )


def placement(circuit: Circuit, ref: str, holes: str, mount: str = "flat") -> Placement:
    """A placement with the package's pins, in order, in the holes listed."""
    package = circuit.package_of(ref)
    return Placement(ref, package.name, mount, dict(zip(package.pins, holes.split(), strict=True)))


def jumper(board: Board, net: str, start: str, end: str) -> Jumper:
    """A jumper of its true length; of length 0 where an end is in no hole of the board."""
    ends = [board.holes.get(hole) for hole in (start, end)]
    if None in ends:
        return Jumper(net, start, end, 0.0)
    a, b = (hole for hole in ends if hole is not None)
    return Jumper(net, start, end, math.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm))


def scored(plan: Plan, bound: float | None = None) -> Plan:
    """The plan with the score that its jumpers and cuts have, and a proof that fits (optimal without ``bound``)."""
    cost = len(plan.jumpers) * plan.options.jumper_cost + len(plan.cuts) * plan.options.cut_cost
    lower = cost if bound is None else bound
    return replace(
        plan,
        score=Score(len(plan.jumpers), len(plan.cuts), sum(j.length_mm for j in plan.jumpers), cost),
        proof=Proof("optimal" if lower == cost else "feasible", lower, cost - lower),
    )


def plan_of(
    circuit: Circuit,
    board: Board,
    holes: Mapping[str, str],
    cuts: tuple[Cut, ...] = (),
    wires: tuple[tuple[str, str, str], ...] = (),
    options: Options | None = None,
) -> Plan:
    """A plan from reference -> holes; a mount other than flat is written after a colon (``"j11 j12:standing"``)."""
    placements = {}
    for ref, text in holes.items():
        where, _, mount = text.partition(":")
        placements[ref] = placement(circuit, ref, where, mount or "flat")
    return scored(
        Plan(
            circuit,
            board,
            placements,
            cuts,
            tuple(jumper(board, *wire) for wire in wires),
            Score(0, 0, 0.0, 0.0),
            Proof("feasible", 0.0, 0.0),
            SolveInfo(0.0, 1, 1),
            options or Options(allow_cuts=board.cut_by_default),
        )
    )


@cache
def lantern() -> Plan:
    """A timer, a transistor, a key joined inside, a lamp and flying leads on a five-hole board; seven jumpers.

    The key's pins 2 and 4 are in no net: metal joins them to 1 and 3, and they carry KEY and GND across the channel.
    """
    circuit = circuit_of(
        "hive-lantern",
        {
            "U1": "dip-8",
            "R1": "axial-0207",
            "R2": "axial-0207",
            "C1": "disc-5",
            "D1": "led-5",
            "Q1": "to-92",
            "S1": "button-6",
            "J1": "terminal-2",
            "P1": "pad-2",
        },
        {
            "GND": "U1.1 C1.1 S1.3 J1.2 D1.2",
            "VCC": "U1.4 U1.8 C1.2 J1.1",
            "TRIG": "U1.2 R1.1",
            "KEY": "R1.2 S1.1 P1.1",
            "DIS": "U1.7 R2.1",
            "THR": "U1.6 R2.2 P1.2",
            "OUT": "U1.3 Q1.2",
            "LAMP": "Q1.1 D1.1",
        },
        {"J1": Place(edge="left")},
    )
    return plan_of(
        circuit,
        load_board("five-hole-30"),
        {
            "U1": "e10 e11 e12 e13 f13 f12 f11 f10",
            "R1": "c11 c15",
            "R2": "j11 j12:standing",
            "C1": "a10 a13",
            "D1": "i16 i15",
            "Q1": "g16 g17 g18",
            "S1": "e20 f20 e22 f22",
            "J1": "a25 a27",
            "P1": "h20 h12",
        },
        wires=(
            ("GND", "d10", "c22"),
            ("GND", "d22", "c27"),
            ("GND", "g15", "g22"),
            ("VCC", "d13", "c25"),
            ("VCC", "d25", "h10"),
            ("KEY", "d15", "c20"),
            ("OUT", "d12", "h17"),
        ),
    )


@cache
def scale() -> Plan:
    """A dual op-amp across long strips: three strips drilled, one cut by knife, one jumper."""
    circuit = circuit_of(
        "hive-scale",
        {"U1": "dip-8", "R1": "axial-0207", "R2": "axial-0207", "C1": "disc-5"},
        {
            "GND": "U1.1 R1.1",
            "VCC": "U1.8 R2.1",
            "MID": "R1.2 R2.2",
            "IN": "U1.2 C1.1",
            "REF": "U1.3 C1.2",
            "OUT": "U1.6 U1.7",
        },
    )
    return plan_of(
        circuit,
        load_board("long-strip-24x37"),
        {
            "U1": "C10 D10 E10 F10 F13 E13 D13 C13",
            "R1": "C3 G3",
            "R2": "C20 G20",
            "C1": "D5 E5",
        },
        cuts=(Cut("C11"), Cut("D11"), Cut("E12"), Cut(None, ("F11", "F12"))),
        wires=(("OUT", "D16", "E17"),),
    )


def moved(plan: Plan, ref: str, **holes: str) -> Plan:
    """The plan with pins of one part in other holes: ``moved(plan, "R1", p2="c16")``."""
    old = plan.placements[ref]
    new = replace(old, pins={**old.pins, **{pin.removeprefix("p"): hole for pin, hole in holes.items()}})
    return replace(plan, placements={**plan.placements, ref: new})


def placed(plan: Plan, ref: str, holes: str, mount: str = "flat") -> Plan:
    """The plan with one part elsewhere."""
    return replace(plan, placements={**plan.placements, ref: placement(plan.circuit, ref, holes, mount)})


def wired(plan: Plan, *wires: tuple[str, str, str], drop: tuple[int, ...] = ()) -> Plan:
    """The plan with some jumpers left out (by number) and others added, scored anew."""
    kept = tuple(wire for number, wire in enumerate(plan.jumpers) if number not in drop)
    return scored(replace(plan, jumpers=kept + tuple(jumper(plan.board, *wire) for wire in wires)))


def cut(plan: Plan, *cuts: Cut, drop: tuple[int, ...] = ()) -> Plan:
    """The plan with some cuts left out (by number) and others added, scored anew."""
    kept = tuple(item for number, item in enumerate(plan.cuts) if number not in drop)
    return scored(replace(plan, cuts=kept + cuts))


def wishing(plan: Plan, ref: str, place: Place) -> Plan:
    """The plan for a circuit in which one part has other wishes."""
    parts = tuple(replace(part, place=place) if part.ref == ref else part for part in plan.circuit.parts)
    return replace(plan, circuit=replace(plan.circuit, parts=parts))


def netted(plan: Plan, **nets: str) -> Plan:
    """The plan for a circuit in which some nets have other pins (new names are added)."""
    old = {net.name: net for net in plan.circuit.nets}
    new = {name: replace(old.get(name, Net(name, ())), pins=pins(listed)) for name, listed in nets.items()}
    return replace(plan, circuit=replace(plan.circuit, nets=tuple({**old, **new}.values())))


def repacked(plan: Plan, package: str, **changes: object) -> Plan:
    """The plan for a circuit whose package has other data."""
    packages = dict(plan.circuit.packages)
    packages[package] = replace(packages[package], **changes)  # type: ignore[arg-type]
    return replace(plan, circuit=replace(plan.circuit, packages=packages))
