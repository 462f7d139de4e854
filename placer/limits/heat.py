"""Heat: what resistors, linear regulators, diodes and LEDs turn into it, against what their packages bear."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from itertools import combinations

from placer.circuit.model import Circuit, Part, PinRef
from placer.limits import dc, laws, values
from placer.limits.loads import FED, PARTIAL, NetLoad
from placer.limits.words import amount, figures, listed
from placer.plan.findings import Finding

NEAR = 0.8  # of a limit; common practice, no source
SINK = "bolt it to a heat sink, or feed it with less voltage"


def heat_findings(circuit: Circuit, loads: Mapping[str, NetLoad], known: dc.Estimate) -> Iterator[Finding]:
    """Say which parts get too hot, or nearly, and of which it cannot be said."""
    yield from _resistors(circuit, known)
    yield from _diodes(circuit, known)
    for part in circuit.parts:
        yield from _regulator(circuit, part, loads, known)
        yield from _pass_transistor(circuit, part, known)


def _resistors(circuit: Circuit, known: dc.Estimate) -> Iterator[Finding]:
    open_: dict[str, float] = {}
    for ref, level in known.amps.items():
        branch, package = known.branches[ref], circuit.part_by_ref[ref].package
        if branch.drop is not None or package not in laws.RESISTOR_W:
            continue
        limit = laws.resistor_limit_w(laws.RESISTOR_W[package], laws.AIR_C)
        watts = level.size**2 * branch.ohms
        if watts <= NEAR * limit:
            continue
        if level.how != dc.ESTIMATED:
            if watts > limit:
                open_[ref] = watts
            continue
        over = watts > limit
        needed = next((name for name, most in laws.RESISTOR_W.items() if watts <= NEAR * most), None)
        yield Finding(
            "resistor-power" if over else "resistor-power-near",
            "error" if over else "warning",
            f"{ref} ({package}, {branch.ohms:g} ohm) turns {amount(watts, 'W')} into heat at "
            f"{amount(level.size, 'A')}; its class is {limit:g} W",
            (ref,),
            figures(power_W=watts, limit_W=limit, current_A=level.size),
            laws.RESISTOR_SOURCE,
            f"use {needed}, or two in series" if needed else "share it between several, or use a power resistor",
        )
    if open_:
        yield Finding(
            "resistor-power-open",
            "note",
            f"{listed(open_)}: above the power class if all the voltage there is stood across for long; the netlist "
            "does not say that it does",
            tuple(open_),
            figures(most_W=max(open_.values())),
            laws.RESISTOR_SOURCE,
            "reckon by hand",
        )


def _diodes(circuit: Circuit, known: dc.Estimate) -> Iterator[Finding]:
    for ref, level in known.amps.items():
        branch, part = known.branches[ref], circuit.part_by_ref[ref]
        shape = circuit.packages[part.package].shape
        limit = laws.LED_A if shape == "led" else laws.DIODE_A.get(part.package)
        if branch.drop is None or limit is None or level.high <= limit:
            continue
        sure = level.how == dc.ESTIMATED
        yield Finding(
            "diode-current",
            "error" if sure and level.high > 2 * limit else "warning",
            f"{ref} ({part.package}) {'gets' if sure else 'may get'} {amount(level.high, 'A')}; the most is taken as "
            f"{amount(limit, 'A')}",
            (ref,),
            figures(current_A=level.high, limit_A=limit),
            f"{laws.LED_SOURCE if shape == 'led' else laws.DIODE_SOURCE}; {values.DROP_SOURCE}",
            "use a larger resistor before it",
        )


def _regulator(circuit: Circuit, part: Part, loads: Mapping[str, NetLoad], known: dc.Estimate) -> Iterator[Finding]:
    """A fixed regulator: (in - out) x current + in x quiescent current; and whether it gets enough to regulate."""
    nets = dc.regulator_nets(circuit, part)
    regulator = values.regulator_of(part, circuit.packages[part.package])
    shape = circuit.packages[part.package].shape
    if nets is None or regulator is None:
        return
    into, _, out = nets
    if into not in known.volts or known.volts[into].how == dc.BOUNDED:
        return
    volts_in, volts_out = known.volts[into].size, abs(regulator.volts)
    left = volts_in - volts_out
    if left < laws.DROPOUT_V:
        yield Finding(
            "regulator-dropout",
            "warning",
            f"{part.ref} ({part.value}) gets {volts_in:g} V for {volts_out:g} V; it wants {laws.DROPOUT_V:g} V more "
            f"than it gives, {volts_out + laws.DROPOUT_V:g} V",
            (part.ref, into),
            figures(in_V=volts_in, out_V=volts_out, dropout_V=laws.DROPOUT_V),
            laws.DROPOUT_SOURCE,
            "feed it with more, or use a low-dropout type",
        )
        return
    if shape not in laws.KELVIN_PER_WATT:
        return
    limit = laws.package_limit_w(laws.KELVIN_PER_WATT[shape])
    own = volts_in * laws.QUIESCENT_A
    most = max(0.0, (limit - own) / left)
    told = _current_through(circuit, part, loads, into, out)
    if told is None:
        yield Finding(
            "regulator-heat-open",
            "note",
            f"{part.ref} ({part.value}): what it turns into heat is not known; without a heat sink it may give "
            f"{amount(most, 'A')} from {volts_in:g} V in air of {laws.AIR_C:g} C",
            (part.ref, out),
            figures(in_V=volts_in, out_V=volts_out, most_A=most, limit_W=limit),
            f"{laws.REGULATOR_SOURCE}; {laws.DROPOUT_SOURCE}",
            f"say amps: of net {out}",
        )
        return
    amps = told.load.amps
    watts = left * amps + own
    yield from _hot(part, shape, watts, limit, f"{volts_in:g} V to {volts_out:g} V at {amount(amps, 'A')}", most)


def _current_through(circuit: Circuit, part: Part, loads: Mapping[str, NetLoad], into: str, out: str) -> NetLoad | None:
    """The load of a regulator: that of its output, or of an input that goes nowhere else; None where neither tells."""
    if loads[out].how not in (PARTIAL, FED):
        return loads[out]
    net = next(net for net in circuit.nets if net.name == into)
    others = [
        pin
        for pin in net.pins
        if pin.part != part.ref
        and not dc.carries_nothing(circuit, pin)
        and not dc.is_entry(circuit, pin.part)
        and values.drop_of(circuit.part_by_ref[pin.part], circuit.package_of(pin.part)) is None
    ]
    return loads[into] if not others and loads[into].how != PARTIAL else None


def _pass_transistor(circuit: Circuit, part: Part, known: dc.Estimate) -> Iterator[Finding]:
    """A transistor or adjustable regulator between two nets of different stated voltages drops what is between them."""
    package = circuit.packages[part.package]
    adjustable = values.is_adjustable(part, package)
    if not (adjustable or re.match(r"Q\d", part.ref)) or package.shape not in laws.KELVIN_PER_WATT:
        return
    net_of, nets = circuit.net_of, {net.name: net for net in circuit.nets}
    own = [net_of[pin] for pin in (PinRef(part.ref, pin) for pin in package.pins) if pin in net_of]
    stated = [nets[name] for name in dict.fromkeys(own) if _has_steady_volts(nets[name].volts, nets[name].role)]
    # All that a regulator hands on goes through it; of a transistor both sides must say so.
    steady = [net for net in stated if not net.ac and (adjustable or net.amps is not None)]
    for one, two in combinations(steady, 2):
        high, low = sorted((one, two), key=lambda net: -_most(known, net.name))
        left = _most(known, high.name) - _most(known, low.name)
        amps = min((net.amps for net in (high, low) if net.amps is not None), default=0.0)
        limit = laws.package_limit_w(laws.KELVIN_PER_WATT[package.shape])
        if left > 0:
            text = f"{_most(known, high.name):g} V to {_most(known, low.name):g} V at {amount(amps, 'A')}"
            yield from _hot(part, package.shape, left * amps, limit, text, limit / left)


def _has_steady_volts(volts: float | None, role: str) -> bool:
    return bool(volts) and role != "ground"


def _most(known: dc.Estimate, net: str) -> float:
    return known.volts[net].high if net in known.volts else 0.0


def _hot(part: Part, shape: str, watts: float, limit: float, from_to: str, most: float) -> Iterator[Finding]:
    if watts <= NEAR * limit:
        return
    over = watts > limit
    case = laws.CASE_KELVIN_PER_WATT.get(shape)
    # The plan does not know of heat sinks: more than bare air takes is an error only where none can help.
    hopeless = over and (case is None or watts > laws.package_limit_w(case))
    yield Finding(
        "regulator-heat" if over else "regulator-heat-near",
        "error" if hopeless else "warning",
        f"{part.ref} ({part.value or part.package}) turns {amount(watts, 'W')} into heat ({from_to}); without a heat "
        f"sink {shape} bears {amount(limit, 'W')} in air of {laws.AIR_C:g} C, that is {amount(most, 'A')}",
        (part.ref,),
        figures(power_W=watts, limit_W=limit, junction_C=laws.AIR_C + watts * laws.KELVIN_PER_WATT[shape], most_A=most),
        laws.REGULATOR_SOURCE,
        SINK if case is not None else "feed it with less voltage, or use a larger package",
    )
