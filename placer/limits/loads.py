"""What each net carries: as the circuit says, as a feeding net says, or as its parts let through."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from placer.circuit.model import Circuit, Net, PinRef
from placer.limits import dc, values
from placer.limits.network import Load

FED = "fed"  # from the net that feeds it
PARTIAL = "partial"  # some of its parts say nothing: it may be more
MAX_SOURCES = 40  # more places that may feed a net are not tried one by one


@dataclass(frozen=True)
class NetLoad:
    """A net's load and how it is known: "declared", "fed", "estimated", "bounded" or "partial"."""

    net: str
    load: Load
    how: str


def net_loads(circuit: Circuit, known: dc.Estimate) -> Mapping[str, NetLoad]:
    """Return the load of each net in the circuit's order."""
    totals = _totals(circuit, known)
    found = {}
    for net in circuit.nets:
        amps, how = totals[net.name]
        most = {}
        for pin in net.pins:
            level = _of_pin(circuit, known, pin)
            most[pin] = amps if level is None else min(level.size, amps)
        found[net.name] = NetLoad(net.name, Load(amps, most, _sources(circuit, known, net, most)), how)
    return found


def _of_pin(circuit: Circuit, known: dc.Estimate, pin: PinRef) -> dc.Level | None:
    """What runs through a pin; None where the netlist does not tell."""
    if dc.carries_nothing(circuit, pin):
        return dc.Level(0.0, 0.0, dc.ESTIMATED)
    branch = known.branches.get(pin.part)
    if branch is not None and pin in (branch.first, branch.second):
        return known.amps.get(pin.part)
    return None


def _totals(circuit: Circuit, known: dc.Estimate) -> dict[str, tuple[float, str]]:
    """The most that each net carries in all, and how that is known."""
    totals: dict[str, tuple[float, str]] = {}
    for net in circuit.nets:
        if net.amps is not None:
            totals[net.name] = (net.amps, dc.DECLARED)
    for net in circuit.nets:
        own = _own_total(circuit, known, net)
        if net.name not in totals and own is not None:
            totals[net.name] = own
    for feed in known.feeds:
        # A diode or a linear regulator hands on no more current than it gets.
        if feed.source in totals and feed.target not in totals:
            totals[feed.target] = (totals[feed.source][0], FED)
    entries = {pin.part for net in circuit.nets for pin in net.pins if dc.is_entry(circuit, pin.part)}
    feeding = [n for n in circuit.nets if n.role == "supply" and any(pin.part in entries for pin in n.pins)]
    for net in sorted(circuit.nets, key=lambda net: net.role == "ground"):  # ground takes from the supplies
        if net.name in totals:
            continue
        if net.role == "ground" and feeding and all(totals[other.name][1] != PARTIAL for other in feeding):
            # What came in by the supplies goes back by ground.
            totals[net.name] = (sum(totals[other.name][0] for other in feeding), FED)
            continue
        told = (_of_pin(circuit, known, pin) for pin in net.pins)
        totals[net.name] = (sum(level.size for level in told if level is not None), PARTIAL)
    return totals


def _own_total(circuit: Circuit, known: dc.Estimate, net: Net) -> tuple[float, str] | None:
    """What a net carries by its own parts; None where more than one pin does not tell."""
    levels = [_of_pin(circuit, known, pin) for pin in net.pins]
    told = [level for level in levels if level is not None]
    if len(levels) - len(told) > 1:
        return None
    how = dc.ESTIMATED if all(level.how == dc.ESTIMATED for level in told) else dc.BOUNDED
    amount = sum(level.size for level in told)
    # What comes in goes out: where every pin tells, each ampere was counted twice.
    return (amount / 2 if len(told) == len(levels) else amount), how


def _sources(circuit: Circuit, known: dc.Estimate, net: Net, most: Mapping[PinRef, float]) -> tuple[PinRef, ...]:
    """The pins by which a net's current may come in (or, on ground, go out): all where none stands out."""
    live = [pin for pin in net.pins if most[pin] > 0]
    if net.role in ("supply", "ground"):
        entries = tuple(pin for pin in live if dc.is_entry(circuit, pin.part))
        if entries:
            return entries
    feeds = {feed.ref for feed in known.feeds if feed.target == net.name}
    feeding = tuple(pin for pin in live if pin.part in feeds)
    connectors = (circuit.part_by_ref[pin.part] for pin in live)
    if feeding and not any(values.is_connector(part, circuit.packages[part.package]) for part in connectors):
        return feeding
    return tuple(sorted(live, key=lambda pin: -most[pin]))[:MAX_SOURCES]
