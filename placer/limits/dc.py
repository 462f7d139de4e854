"""Direct currents and voltages as far as the netlist tells them: resistors, diodes and LEDs between known voltages.

Known are ground (0 V), supplies with ``volts``, what fixed regulators put out, and nets that a diode feeds from one of
these. Nets on which only resistors, diodes and capacitors stand are solved for (nodal analysis; a diode is its nominal
drop and 1 ohm, or open). Nets with anything else on them (ICs, transistors, connectors) may be anywhere between the
lowest and the highest voltage there is, or between 0 and their own ``volts``, which for a signal are the most it has:
what hangs on them gets bounds instead of one figure.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import networkx as nx
import numpy as np

from placer.circuit.model import Circuit, Part, PinRef
from placer.limits import laws, values
from placer.packages.model import Package

DIODE_OHM = 1.0  # so that a diode without a resistor gets a large current, not an endless one
LEAK_S = 1e-12  # keeps nodes behind blocked diodes at a voltage
MAX_LOOSE = 6  # corners of 2^6 bounds at most are tried
MAX_TURNS = 60
NO_RESISTOR_A = 1.0  # a bound above this is a diode with nothing known before it: no bound at all

DECLARED, ESTIMATED, BOUNDED = "declared", "estimated", "bounded"


@dataclass(frozen=True)
class Level:
    """A voltage (V) or current (A) between ``low`` and ``high``, and how it is known."""

    low: float
    high: float
    how: str

    @property
    def size(self) -> float:
        """The largest magnitude."""
        return max(abs(self.low), abs(self.high))


@dataclass(frozen=True)
class Branch:
    """A part with two leads that current runs through. ``drop``: None for a resistor; ``zener``: backwards, if known.

    Current counts from ``first`` to ``second``, of a diode from the anode to the cathode.
    """

    ref: str
    first: PinRef
    second: PinRef
    nets: tuple[str, str]
    ohms: float = DIODE_OHM
    drop: float | None = None
    zener: float | None = None


@dataclass(frozen=True)
class Feed:
    """A part that hands a voltage on, a diode or a regulator, from net to net."""

    ref: str
    source: str
    target: str


@dataclass(frozen=True)
class Estimate:
    """What is known of a circuit at rest. Nets and parts of which nothing is known are absent.

    ``volts`` by net, ``amps`` through a part with two leads by reference; ``span``: the lowest and highest voltage.
    """

    volts: Mapping[str, Level]
    amps: Mapping[str, Level]
    branches: Mapping[str, Branch]
    feeds: tuple[Feed, ...]
    span: tuple[float, float] | None


def estimate(circuit: Circuit) -> Estimate:
    """Return what the netlist tells of voltages and currents."""
    branches = {branch.ref: branch for branch in _branches(circuit)}
    fixed, ranges = _declared(circuit)
    volts = {net: Level(low, high, DECLARED) for net, (low, high) in ranges.items()}
    if not any(level.size for level in volts.values()):
        return Estimate(volts, {}, branches, (), None)
    feeds = tuple(_hand_on(circuit, branches.values(), fixed))
    for name, level in fixed.items():
        volts[name] = Level(level, level, DECLARED if ranges.get(name) == (level, level) else ESTIMATED)
    span = min(0.0, *(level.low for level in volts.values())), max(0.0, *(level.high for level in volts.values()))
    amps: dict[str, Level] = {}
    fed = {feed.ref for feed in feeds}
    live = [branch for branch in branches.values() if branch.ref not in fed]
    clusters = tuple(_clusters(circuit, live, fixed))
    for name in dict.fromkeys(net for cluster in clusters for net in cluster.loose):
        ranges.setdefault(name, _driven(circuit, name, fixed) or span)
    for cluster in clusters:
        _solve_cluster(cluster, fixed, {net: ranges[net] for net in cluster.loose}, volts, amps)
    for net in circuit.nets:
        volts.setdefault(net.name, Level(*ranges.get(net.name, span), BOUNDED))
    return Estimate(volts, amps, branches, feeds, span)


def _declared(circuit: Circuit) -> tuple[dict[str, float], dict[str, tuple[float, float]]]:
    """The nets that stand at a voltage, and between what voltages each net is of which the circuit says any."""
    fixed, ranges = {}, {}
    for net in circuit.nets:
        level = 0.0 if net.volts is None and net.role == "ground" else net.volts
        if level is None:
            continue
        if net.ac:
            ranges[net.name] = (-level * laws.ROOT_2, level * laws.ROOT_2)
        elif net.role == "signal":
            ranges[net.name] = (min(0.0, level), max(0.0, level))
        else:
            fixed[net.name] = level
            ranges[net.name] = (level, level)
    return fixed, ranges


def _branches(circuit: Circuit) -> Iterator[Branch]:
    net_of = circuit.net_of
    for part in circuit.parts:
        package = circuit.packages[part.package]
        ohms, drop = values.resistance_of(part, package), values.drop_of(part, package)
        ends = _ends_of_trimmer(part, package, net_of)
        if ends is None and (len(package.pins) != 2 or (ohms is None and drop is None)):
            continue
        if drop is not None and not values.is_blocked_backwards(part, package):
            continue
        one, two = ends or (PinRef(part.ref, package.pins[0]), PinRef(part.ref, package.pins[1]))
        if drop is not None and package.pin_names.get("A") == package.pins[1]:
            one, two = two, one
        if one not in net_of or two not in net_of or net_of[one] == net_of[two]:
            continue
        nets = net_of[one], net_of[two]
        if drop is not None:
            yield Branch(part.ref, one, two, nets, DIODE_OHM, drop, values.zener_of(part, package))
        else:
            yield Branch(part.ref, one, two, nets, ohms or values.ohms_of(part.value) or 1.0)


def _ends_of_trimmer(part: Part, package: Package, net_of: Mapping[PinRef, str]) -> tuple[PinRef, PinRef] | None:
    """The two ends of a trimmer as one resistor; None where the wiper is tied to an end, for then it may be less."""
    if package.shape != "trimmer" or len(package.pins) != 3 or values.ohms_of(part.value) is None:
        return None
    first, wiper, last = (PinRef(part.ref, pin) for pin in package.pins)
    tied = net_of.get(wiper) in (net_of.get(first), net_of.get(last)) and wiper in net_of
    return None if tied else (first, last)


def _hand_on(circuit: Circuit, branches: Iterable[Branch], fixed: dict[str, float]) -> Iterator[Feed]:
    """Regulators and diodes that make a voltage out of a known one; the voltages are added to ``fixed``."""
    diodes = [b for b in branches if b.drop is not None and b.zener is None and _is_rectifier(circuit, b.ref)]
    grounds = {net.name for net in circuit.nets if net.role == "ground"}
    active = _active_nets(circuit)
    again = True
    while again:
        again = False
        for branch in diodes:
            source, target = branch.nets
            fed = target not in fixed and target not in grounds and target in active
            if source in fixed and fixed[source] > 0 and fed and branch.drop is not None:
                fixed[target] = fixed[source] - branch.drop
                yield Feed(branch.ref, source, target)
                again = True
        for part in circuit.parts:
            found = regulator_nets(circuit, part)
            if found is not None and found[1] in fixed and found[2] not in fixed:
                regulator = values.regulator_of(part, circuit.packages[part.package])
                fixed[found[2]] = fixed[found[1]] + (regulator.volts if regulator else 0.0)
                yield Feed(part.ref, found[0], found[2])
                again = True


def _is_rectifier(circuit: Circuit, ref: str) -> bool:
    part = circuit.part_by_ref[ref]
    return circuit.packages[part.package].shape == "diode" and not values.ZENER.search(part.value)


def regulator_nets(circuit: Circuit, part: Part) -> tuple[str, str, str] | None:
    """Return the nets in, ground and out of a fixed regulator; None for other parts.

    Pins as the datasheets count them (78xx: IN-GND-OUT in TO-220, OUT-GND-IN in TO-92; 79xx: GND-IN-OUT); where ground
    is not where they say, the part is taken for something else.
    """
    package = circuit.packages[part.package]
    regulator = values.regulator_of(part, package)
    if regulator is None:
        return None
    order = (1, 0, 2) if regulator.volts < 0 else ((2, 1, 0) if package.shape == "to-92" else (0, 1, 2))
    net_of = circuit.net_of
    nets = [net_of.get(PinRef(part.ref, package.pins[place])) for place in order]
    into, ground, out = nets
    roles = {net.name: net.role for net in circuit.nets}
    if into is None or out is None or ground is None or roles[ground] != "ground":
        return None
    return into, ground, out


def _active_nets(circuit: Circuit) -> frozenset[str]:
    """Nets on which stands something of which the netlist does not tell what current it takes."""
    plain = {branch.ref for branch in _branches(circuit)}
    found = set()
    for net in circuit.nets:
        for pin in net.pins:
            part = circuit.part_by_ref[pin.part]
            package = circuit.packages[part.package]
            if pin.part in plain and not _is_wiper(package, pin):
                continue
            if not values.is_capacitor(part, package):
                found.add(net.name)
    return frozenset(found)


def _is_wiper(package: Package, pin: PinRef) -> bool:
    return package.shape == "trimmer" and pin.pin == package.pins[1]


def _driven(circuit: Circuit, name: str, fixed: Mapping[str, float]) -> tuple[float, float] | None:
    """The range of a net on which ICs stand and nothing else that is active: that of their supplies."""
    net = next(net for net in circuit.nets if net.name == name)
    found: list[float] = []
    for ref in dict.fromkeys(pin.part for pin in net.pins):
        part = circuit.part_by_ref[ref]
        package = circuit.packages[part.package]
        if values.is_capacitor(part, package) or len(package.pins) == 2:
            continue
        own = {fixed[other.name] for other in circuit.nets if other.name in fixed and _stands_on(other.pins, ref)}
        if package.shape != "dip" or len(own) < 2:
            return None
        found += own
    return (min(found), max(found)) if found else None


def _stands_on(pins: Sequence[PinRef], ref: str) -> bool:
    return any(pin.part == ref for pin in pins)


@dataclass(frozen=True)
class _Cluster:
    """Nets to be solved for (``free``), what runs between them, and the nets around that may be anywhere."""

    free: tuple[str, ...]
    branches: tuple[Branch, ...]
    loose: tuple[str, ...]


def _clusters(circuit: Circuit, branches: Sequence[Branch], fixed: Mapping[str, float]) -> Iterator[_Cluster]:
    active = _active_nets(circuit)
    free = {
        net.name
        for net in circuit.nets
        if net.name not in fixed and net.name not in active and not net.ac and net.volts is None
    }
    graph = nx.Graph()
    for branch in branches:
        inner = [net for net in branch.nets if net in free]
        graph.add_node(branch.ref)
        graph.add_edges_from((branch.ref, ("net", net)) for net in inner)
    by_ref = {branch.ref: branch for branch in branches}
    for piece in nx.connected_components(graph):
        own = tuple(by_ref[ref] for ref in by_ref if ref in piece)
        nets = tuple(dict.fromkeys(net for branch in own for net in branch.nets))
        loose = tuple(net for net in nets if net not in fixed and net not in free)
        yield _Cluster(tuple(net for net in nets if net in free), own, loose)


def _solve_cluster(
    cluster: _Cluster,
    fixed: Mapping[str, float],
    spans: Mapping[str, tuple[float, float]],
    volts: dict[str, Level],
    amps: dict[str, Level],
) -> None:
    """Add what a cluster's nets and parts have, over all corners of what is not known around it."""
    if len(cluster.loose) > MAX_LOOSE:
        for branch in cluster.branches:
            if branch.drop is None:
                ends = [end for span in spans.values() for end in span] + list(fixed.values())
                most = (max(ends) - min(ends)) / branch.ohms
                amps[branch.ref] = Level(-most, most, BOUNDED)
        return
    how = BOUNDED if cluster.loose else ESTIMATED
    seen_volts: dict[str, list[float]] = {}
    seen_amps: dict[str, list[float]] = {}
    for corner in product(*(spans[net] for net in cluster.loose)):
        around = {**fixed, **dict(zip(cluster.loose, corner, strict=True))}
        solved = _operating_point(cluster.free, cluster.branches, around)
        if solved is None:
            return
        for net in cluster.free:
            seen_volts.setdefault(net, []).append(solved[0][net])
        for ref, current in solved[1].items():
            seen_amps.setdefault(ref, []).append(current)
    for net, found in seen_volts.items():
        volts[net] = Level(min(found), max(found), how)
    for branch in cluster.branches:
        found = seen_amps[branch.ref]
        level = Level(min(found), max(found), how)
        if how == ESTIMATED or branch.drop is None or level.size <= NO_RESISTOR_A:
            amps[branch.ref] = level


def _operating_point(
    free: Sequence[str], branches: Sequence[Branch], around: Mapping[str, float]
) -> tuple[dict[str, float], dict[str, float]] | None:
    """Voltages of the free nets and currents of the branches; None where no set of conducting diodes agrees."""
    state = {branch.ref: 0 for branch in branches if branch.drop is not None}  # 0 open, 1 forward, -1 Zener
    for turn in range(MAX_TURNS):
        found = _linear(free, branches, around, state)
        wrong = []
        for branch in branches:
            if branch.drop is not None:
                now = _state_wanted(branch, found, state[branch.ref])
                if now != state[branch.ref]:
                    wrong.append((branch.ref, now))
        if not wrong:
            return found, {b.ref: _current(b, found, state.get(b.ref, 0)) for b in branches}
        # At first all at once, which is quick; later one by one, which does not run in circles.
        state.update(wrong if turn < 5 else wrong[:1])
    return None


def _state_wanted(branch: Branch, volts: Mapping[str, float], state: int) -> int:
    across = volts[branch.nets[0]] - volts[branch.nets[1]]
    if state == 0:
        if branch.drop is not None and across > branch.drop + 1e-9:
            return 1
        return -1 if branch.zener is not None and across < -branch.zener - 1e-9 else 0
    return state if _current(branch, volts, state) * state >= 0 else 0


def _current(branch: Branch, volts: Mapping[str, float], state: int) -> float:
    across = volts[branch.nets[0]] - volts[branch.nets[1]]
    if branch.drop is None:
        return across / branch.ohms
    if state == 0:
        return 0.0
    return (across - (branch.drop if state > 0 else -(branch.zener or 0.0))) / branch.ohms


def _linear(
    free: Sequence[str], branches: Sequence[Branch], around: Mapping[str, float], state: Mapping[str, int]
) -> dict[str, float]:
    """Nodal analysis: the voltages of the free nets where the others and the conducting diodes are given."""
    place = {net: number for number, net in enumerate(free)}
    matrix = np.zeros((len(free), len(free)))
    right = np.zeros(len(free))
    for branch in branches:
        on = state.get(branch.ref, 1)
        if on == 0:
            continue
        siemens = 1.0 / branch.ohms
        step = 0.0 if branch.drop is None else (branch.drop if on > 0 else -(branch.zener or 0.0))
        for here, there, sign in ((branch.nets[0], branch.nets[1], 1.0), (branch.nets[1], branch.nets[0], -1.0)):
            if here not in place:
                continue
            matrix[place[here], place[here]] += siemens
            right[place[here]] += siemens * sign * step
            if there in place:
                matrix[place[here], place[there]] -= siemens
            else:
                right[place[here]] += siemens * around[there]
    # In proportion, so that it is not lost beside a resistor of next to nothing.
    matrix += np.eye(len(free)) * LEAK_S * max(1.0, float(matrix.diagonal().max(initial=0.0)))
    solved = np.linalg.solve(matrix, right) if len(free) else right
    return {**around, **{net: float(solved[number]) for net, number in place.items()}}


def carries_nothing(circuit: Circuit, pin: PinRef) -> bool:
    """True for a pin through which no direct current runs: of a capacitor or a crystal."""
    part = circuit.part_by_ref[pin.part]
    return values.is_capacitor(part, circuit.packages[part.package])


def is_entry(circuit: Circuit, ref: str) -> bool:
    """True for a connector that brings in power: pins on a net with volts or role supply, and on ground."""
    part = circuit.part_by_ref[ref]
    if not values.is_connector(part, circuit.packages[part.package]):
        return False
    roles = {net.role for net in circuit.nets if any(pin.part == ref for pin in net.pins)}
    return "ground" in roles and ("supply" in roles or bool(re.match(r"BT\d", ref)))
