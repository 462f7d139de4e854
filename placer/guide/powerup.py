"""The first power-up: with a current limit, ICs out of their sockets, voltages measured before anything is risked."""

from __future__ import annotations

from collections.abc import Iterator

from placer.circuit.model import Net, PinRef
from placer.circuit.rails import role_of, sign_of
from placer.guide.step import PowerStep
from placer.guide.words import letters, socketed
from placer.plan.model import Plan

# "Start at 20 to 50 mA plus what is expected": common practice, no source.
FIRST_MA = 50.0
_FEEDS = ("terminal", "header", "flying")  # shapes that power comes in by
_FEED_LETTERS = ("J", "P", "X", "TB", "BT", "B", "CN")


def power_steps(plan: Plan) -> tuple[PowerStep, ...]:
    """The steps of the first power-up; () for a circuit that names no supply and no ground."""
    ground = next((net for net in plan.circuit.nets if role_of(net) == "ground"), None)
    inputs = _inputs(plan)
    if ground is None or not inputs:
        return ()
    made = list(_without_ics(plan, inputs, ground))
    ics = [ref for ref in plan.placements if socketed(plan.circuit.package_of(ref))]
    if ics:
        made += list(_with_ics(inputs, ics))
    return tuple(PowerStep(number, *rest) for number, rest in enumerate(made, 1))


_Row = tuple[str, str, float | None]


def _inputs(plan: Plan) -> list[Net]:
    """The supply nets that come in by a connector; all of them where none does."""
    supplies = [net for net in plan.circuit.nets if role_of(net) == "supply"]
    return [net for net in supplies if _feed(plan, net) is not None] or supplies


def _feed(plan: Plan, net: Net) -> PinRef | None:
    """The pin of a connector on a net; screw terminals before pins and wires."""
    pins = [
        (_FEEDS.index(shape), pin)
        for pin in net.pins
        if (shape := plan.circuit.package_of(pin.part).shape) in _FEEDS and letters(pin.part) in _FEED_LETTERS
    ]
    return min(pins, key=lambda found: found[0])[1] if pins else None


def _place(plan: Plan, pin: PinRef) -> str:
    return f"{pin.part} pin {pin.pin} ({plan.placements[pin.part].pins[pin.pin]})"


def _volts(net: Net) -> str:
    return f"{net.volts:g} V" if net.volts is not None else "the voltage that the circuit needs"


def _milliamps(inputs: list[Net]) -> tuple[float | None, str]:
    """The limit with everything fitted, and where it comes from."""
    amps = [net.amps for net in inputs if net.amps is not None]
    if not amps:
        return None, "50 mA more than the circuit should take"
    limit = FIRST_MA + 1000 * max(amps)
    return limit, f"{limit:.0f} mA (the {1000 * max(amps):g} mA that it takes at most, and 50 mA)"


def _without_ics(plan: Plan, inputs: list[Net], ground: Net) -> Iterator[_Row]:
    at_ground = _feed(plan, ground) or ground.pins[0]
    yield (
        "Only when every line of the test sheet is as expected: set the supply to its current limit of 50 mA, off. "
        "Without a supply that limits, put a 100 ohm resistor of 1 W or more into the + lead.",
        "Sockets are empty, loads and sensors are not connected.",
        FIRST_MA,
    )
    for net in inputs:
        pin = _feed(plan, net) or net.pins[0]
        sign = sign_of(net) or "+"
        volts = _volts(net).removeprefix("-")
        yield (
            f"{net.name}: set {volts}, supply off. Connect its {sign} to {_place(plan, pin)} and its other pole to "
            f"{_place(plan, at_ground)}.",
            "Polarity is right: look twice.",
            None,
        )
    yield (
        "Switch on for two seconds, watch current and voltage, switch off. Feel and smell. Then switch on again.",
        "The limit is not reached and nothing warms or smells. If it is reached: off, and look for the short.",
        None,
    )
    reference = _place(plan, at_ground)
    for net in plan.circuit.nets:
        if net.volts is not None and net is not ground:
            expected = "About" if role_of(net) == "supply" else "Not above"
            yield (
                f"Measure the voltage of {net.name}: from {reference} to {_place(plan, net.pins[0])}.",
                f"{expected} {_volts(net)}; less by 0.7 V for each diode on the way.",
                None,
            )
    named = {net.name: net for net in plan.circuit.nets}
    for ref, placement in plan.placements.items():
        if not socketed(plan.circuit.package_of(ref)):
            continue
        nets = {pin: named[name] for pin in placement.pins if (name := plan.circuit.net_of.get(PinRef(ref, pin)))}
        low = next((pin for pin, on in nets.items() if role_of(on) == "ground"), None)
        for high, on in nets.items():
            if low is not None and role_of(on) == "supply" and on.volts is not None:
                yield (
                    f"Measure at the empty socket of {ref}: from pin {low} ({placement.pins[low]}) to pin {high} "
                    f"({placement.pins[high]}).",
                    f"About {_volts(on)}, as on {on.name}.",
                    None,
                )


def _with_ics(inputs: list[Net], ics: list[str]) -> Iterator[_Row]:
    yield (
        "Power off. Wait until the supply reads under 1 V, so that the capacitors are empty.",
        f"Now fit {', '.join(ics)}.",
        None,
    )
    limit, words = _milliamps(inputs)
    yield (
        f"Switch on with a current limit of {words}. Connect loads and sensors only when this is in order, power off.",
        "Voltages as before, nothing warms or smells.",
        limit,
    )
