"""The netlist as the copper makes it: read back from a plan, conductor by conductor, without asking the search."""

from __future__ import annotations

from collections.abc import Mapping

from placer.circuit.model import Net, PinRef
from placer.plan.conductors import Conductor, CopperMap, group_of_pins
from placer.plan.model import Plan


def readback(plan: Plan) -> tuple[Net, ...]:
    """The nets that the plan's copper really makes.

    A conductor whose pins are exactly those of a net of the circuit gets that net's name, role, volts and amps, and its
    order of pins; these come first, in the circuit's order. Every other conductor gets a made-up name (``copper-1``,
    ...). Left out: bare copper; an open pin that touches nothing; and, in a part whose pins metal joins inside, the
    pins no net lists, for their mates already say where that metal is.
    """
    group_of = group_of_pins(plan.circuit)
    told = [_pins_to_tell(plan, conductor, group_of) for conductor in CopperMap(plan).conductors]
    carried = {frozenset(pins): pins for pins in told if pins}
    exact = tuple(net for net in plan.circuit.nets if frozenset(net.pins) in carried)
    for net in exact:
        del carried[frozenset(net.pins)]
    taken = {net.name for net in plan.circuit.nets}
    free = (name for number in range(1, len(carried) + len(taken) + 1) if (name := f"copper-{number}") not in taken)
    return exact + tuple(Net(name, pins) for name, pins in zip(free, carried.values(), strict=False))


def _pins_to_tell(
    plan: Plan, conductor: Conductor, group_of: Mapping[PinRef, tuple[PinRef, ...]]
) -> tuple[PinRef, ...]:
    """The pins of a conductor that make it a net; () for bare copper and for an open pin alone."""
    listed = plan.circuit.net_of
    present = set(conductor.pins)
    told = tuple(
        pin
        for pin in conductor.pins
        if pin in listed or not any(mate in listed and mate in present for mate in group_of.get(pin, ()))
    )
    groups = {group_of.get(pin, (pin,)) for pin in told}
    return () if len(groups) < 2 and not any(pin in listed for pin in told) else told
