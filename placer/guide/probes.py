"""The test sheet: what to measure before power, in an order that finds every fault with few probes.

First continuity, which proves every joint and jumper that a net needs (``joints.py``). Then every two conductors whose
copper comes within a step of each other, or meets at a cut, and every two supplies: no short between them. Then the
resistors that no line has shown yet. ICs are out of their sockets all the while.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, groupby

from placer.circuit.model import PinRef
from placer.circuit.rails import role_of
from placer.guide.joints import Joints, Touch
from placer.guide.meter import Branch, Network, Reading
from placer.guide.step import Probe
from placer.guide.values import ohm_text
from placer.guide.wire import cut_sides
from placer.guide.words import socketed
from placer.packages.model import Flying
from placer.plan.conductors import Conductor, natural_key, pin_key
from placer.plan.model import Plan

# Joints, wire and the meter's own leads together; common practice, no source.
CONTINUITY_OHM = 2.0
# Far above what a short shows, and below what flux and fingers leave: a bare board has 10 Mohm (page on IPC-9252A,
# level C), and a populated one reads lower (common practice, no source).
ISOLATION_OHM = 1e6
_ELSEWHERE = "; some current may flow through other parts"
_TOLD_APART_OHM = 5.0  # a short cannot be told from less than this

TOUCH = (
    "No power, nothing connected, sockets empty, trimmers in the middle.",
    "Touch metal, not solder: the lead itself above the board, or its tip where it stands out of the joint; of a "
    "socket the contact from above; of a screw terminal the screw. Only then does the current pass the joint.",
    "Bare copper means the copper round an empty hole.",
    "First touch the probes together: take that reading off every reading below 10 ohm.",
    "Continuity shows under 2 ohm. No connection shows over 1 Mohm, or the sign for it. Keep fingers off both tips.",
    "Where a capacitor charges, wait until the reading stands still. Where a part conducts one way, swap the probes "
    "and take the higher reading.",
)


@dataclass(frozen=True)
class _Pair:
    """Two conductors that must not touch, and where they might: pairs of holes."""

    one: Conductor
    two: Conductor
    places: tuple[tuple[str, str], ...]


def build_probes(plan: Plan) -> tuple[Probe, ...]:
    """The test sheet of a plan without faults, numbered from 1."""
    joints, network = Joints(plan), Network(plan.circuit)
    sheet = [*_continuity(plan, joints, network)]
    done: set[frozenset[str]] = set()
    for pair in _pairs(plan, joints):
        nodes = network.node_of[pair.one.pins[0]], network.node_of[pair.two.pins[0]]
        if nodes[0] != nodes[1] and frozenset(nodes) not in done:
            done.add(frozenset(nodes))
            sheet.append(_apart(plan, pair, network, nodes))
    sheet += _resistors(plan, network, done)
    return tuple(replace(probe, number=number) for number, probe in enumerate(sheet, 1))


def _what(plan: Plan, touch: Touch) -> str:
    if touch.pin is None:
        return "bare copper"
    ref, pin = touch.pin.part, touch.pin.pin
    package = plan.circuit.package_of(ref)
    if socketed(package):
        return f"{ref} socket pin {pin}"
    if isinstance(package.form, Flying):
        return f"{ref} wire {pin}"
    return f"{ref} pin {pin}"


def _either(items: Sequence[str]) -> str:
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} or {items[-1]}"


def _runs(names: Sequence[str]) -> list[str]:
    """Jumpers and bridges that follow each other under one word: ``bridges 3, 7, 8``."""
    found = []
    for word, group in groupby(names, lambda name: name.split()[0]):
        items = list(group)
        numbers = ", ".join(name.split()[-1] for name in items)
        found += [f"{word}s {numbers}"] if word in ("jumper", "bridge") and len(items) > 1 else items
    return found


def _probe(plan: Plan, kind: str, one: Touch, two: Touch, nodes: tuple[str, str]) -> Probe:
    """A probe with its ends; what to expect is filled in by the caller."""
    ends = one.hole, two.hole, _what(plan, one), _what(plan, two)
    return Probe(0, kind, *ends, "", None, None, "", nodes[0], nodes[1])


# Continuity ----------------------------------------------------------------------------------------------------------


def _continuity(plan: Plan, joints: Joints, network: Network) -> Iterator[Probe]:
    order = {net.name: number for number, net in enumerate(plan.circuit.nets)}
    rank = {net.name: ("supply", "ground", "signal").index(role_of(net)) for net in plan.circuit.nets}
    found = []
    for path in joints.paths():
        pin = path.start.pin or path.end.pin
        node = network.node_of[pin] if pin is not None else ""
        probe = _probe(plan, "continuity", path.start, path.end, (node, node))
        found.append(
            replace(
                probe,
                expect="continuity",
                high_ohm=CONTINUITY_OHM,
                finds=f"no continuity: open at {_either(_runs(path.joints))}",
            )
        )
    yield from sorted(found, key=lambda probe: (rank.get(probe.net, 3), order.get(probe.net, 0)))


# Isolation -----------------------------------------------------------------------------------------------------------


def _pairs(plan: Plan, joints: Joints) -> Iterator[_Pair]:
    """Pairs of conductors with leads on them: supplies first, then neighbours in the order of the board."""
    copper, board = joints.copper, plan.board
    places: dict[tuple[Conductor, Conductor], list[tuple[str, str]]] = {}
    number = {conductor: index for index, conductor in enumerate(copper.conductors)}
    at = {hole: conductor for conductor in copper.conductors for s in conductor.segments for hole in s.holes}

    def near(one: str, two: str) -> None:
        a, b = at.get(one), at.get(two)
        if a is not None and b is not None and a is not b and a.pins and b.pins:
            key = (a, b) if number[a] < number[b] else (b, a)
            places.setdefault(key, []).append((one, two) if key[0] is a else (two, one))

    for address, hole in board.holes.items():
        for dx, dy in ((1, 0), (0, 1)):
            other = board.hole_at.get((hole.x + dx, hole.y + dy))
            if other is not None:
                near(address, other.address)
    for cut in plan.cuts:
        before, after = cut_sides(plan, cut)
        near(before, after)
    carrying = {net.name: copper.conductor_at(copper.hole_of[net.pins[0]]) for net in plan.circuit.nets if net.pins}
    power = [carrying[net.name] for net in plan.circuit.nets if role_of(net) != "signal"]
    first: dict[tuple[Conductor, Conductor], None] = {}
    for one, two in combinations(dict.fromkeys(c for c in power if c is not None), 2):
        first[(one, two) if number[one] < number[two] else (two, one)] = None
    for key in (*first, *(key for key in places if key not in first)):
        yield _Pair(*key, tuple(dict.fromkeys(places.get(key, ()))))


def _apart(plan: Plan, pair: _Pair, network: Network, nodes: tuple[str, str]) -> Probe:
    """The line that shows that two conductors are not joined, by no connection or by the resistance between them."""
    near = pair.places[0] if pair.places else None
    one, two = (
        _nearest(plan, conductor, near[side] if near else None) for side, conductor in enumerate((pair.one, pair.two))
    )
    reading = network.between(*nodes)
    direct = [b for b in network.branches if {network.node_of[b.one], network.node_of[b.two]} == set(nodes)]
    kind, expect, low, high = _expected(reading, direct, network.capacitors(*nodes))
    places = [f"{a} and {b}" for a, b in pair.places]
    where = f" between {', '.join(places[:3])}" if places else ""
    more = f" or {len(places) - 3} more places" if len(places) > 3 else ""
    cuts = [f"cut {n}" for n, cut in enumerate(plan.cuts, 1) if _across(plan, n - 1, pair)]
    open_cuts = f", {_either(cuts)} not through" if cuts else ""
    finds = f"near 0 ohm: solder or copper{where}{more}{open_cuts}" if places else "near 0 ohm: the supplies are joined"
    if kind == "resistance":
        finds += "; any other wrong reading: a wrong part on the way"
    probe = _probe(plan, kind, one, two, nodes)
    return replace(probe, expect=expect, low_ohm=low, high_ohm=high, finds=finds)


def _across(plan: Plan, number: int, pair: _Pair) -> bool:
    sides = frozenset(cut_sides(plan, plan.cuts[number]))
    return any(frozenset(place) == sides for place in pair.places)


def _nearest(plan: Plan, conductor: Conductor, near: str | None) -> Touch:
    """The lead of a conductor that is nearest to a hole."""
    holes = {pin: plan.placements[pin.part].pins[pin.pin] for pin in conductor.pins}

    def distance(pin: PinRef) -> tuple[float, object]:
        if near is None:
            return 0.0, pin_key(pin)
        here, there = plan.board.holes[holes[pin]], plan.board.holes[near]
        return math.hypot(here.x - there.x, here.y - there.y), pin_key(pin)

    pin = min(conductor.pins, key=distance)
    return Touch(holes[pin], pin)


def _expected(
    reading: Reading, direct: list[Branch], charging: tuple[str, ...]
) -> tuple[str, str, float | None, float | None]:
    """Kind, words and limits of a reading between two nets."""
    parts = sorted({branch.one.part for branch in direct}, key=natural_key)
    wait = f"; {', '.join(charging)} charges first: wait" if charging else ""
    if reading.low < _TOLD_APART_OHM:
        return "resistance", f"anything: {', '.join(parts) or 'a part'} joins them{wait}", None, None
    if math.isinf(reading.low):
        return "isolation", f"no connection{wait}", ISOLATION_OHM, None
    if math.isinf(reading.high):
        low = min(_rounded_down(reading.low), ISOLATION_OHM)
        may = sorted({b.one.part for b in direct if b.kind in ("junction", "coil", "metal")}, key=natural_key)
        why = f"; {', '.join(may)} may conduct one way" if may else "" if direct or low >= ISOLATION_OHM else _ELSEWHERE
        return "isolation", f"over {ohm_text(low)}{why}{wait}", low, None
    low, high = _rounded_down(reading.low), _rounded_up(reading.high)
    words = f"about {ohm_text(reading.named)} ({ohm_text(low)} to {ohm_text(high)})"
    return "resistance", words + wait, low, high


def _rounded_down(ohm: float) -> float:
    return _two_figures(ohm, up=False)


def _rounded_up(ohm: float) -> float:
    return _two_figures(ohm, up=True)


def _two_figures(ohm: float, *, up: bool) -> float:
    size = 10.0 ** (math.floor(math.log10(ohm)) - 1)
    number = round(ohm / size, 6)  # a hair of rounding must not push a round number to the next
    return float(f"{(math.ceil(number) if up else math.floor(number)) * size:.6g}")


# Resistors -----------------------------------------------------------------------------------------------------------


def _resistors(plan: Plan, network: Network, done: set[frozenset[str]]) -> Iterator[Probe]:
    """Every resistor and trimmer that no line has shown yet, in place."""
    ends = [(b.one, b.two) for b in network.branches if b.kind == "resistor"]
    for part in plan.circuit.parts:
        pins = plan.circuit.packages[part.package].pins
        if any(b.kind == "trimmer" and b.one.part == part.ref for b in network.branches):
            ends += [(PinRef(part.ref, a), PinRef(part.ref, b)) for a, b in ((pins[0], pins[2]), (pins[0], pins[1]))]
    for one, two in sorted(ends, key=lambda pair: pin_key(pair[0])):
        nodes = network.node_of[one], network.node_of[two]
        if nodes[0] == nodes[1] or frozenset(nodes) in done:
            continue
        done.add(frozenset(nodes))
        reading = network.between(*nodes)
        kind, expect, low, high = _expected(reading, [], network.capacitors(*nodes))
        touches = [Touch(plan.placements[pin.part].pins[pin.pin], pin) for pin in (one, two)]
        probe = _probe(plan, kind, touches[0], touches[1], nodes)
        finds = f"a wrong reading: {one.part} or a part beside it has a wrong value or stands in a wrong place"
        yield replace(probe, expect=expect, low_ohm=low, high_ohm=high, finds=finds)
