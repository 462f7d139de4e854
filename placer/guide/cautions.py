"""Cautions, chosen by what the circuit holds, each with the moment and the parts that it matters for.

Law comes first. A circuit that speaks of the mains is told not to be built, nor is one with a limit exceeded as it is.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator

from placer.circuit.model import Part
from placer.circuit.rails import sign_of
from placer.guide.nets import nets_of_holes
from placer.guide.step import Caution
from placer.guide.values import farads, ohms
from placer.guide.words import is_mosfet, is_polarised_can, is_regulator, is_resistor, socketed
from placer.packages.model import Package
from placer.plan.conductors import natural_key
from placer.plan.findings import over
from placer.plan.model import Plan

# Touchable extra-low voltage, dry, DC and AC: IEC 60364-4-41 (DC), and what limits/ warns of (AC), from memory.
_TOUCH_VOLTS = 60.0
_TOUCH_VOLTS_AC = 30.0  # RMS
# Half of the 0.25 W class, so that the resistor can be touched: common practice, no source.
_WARM_WATTS = 0.125
_HIGH_FARADS = 1e-3  # worth discharging before one works on; common practice, no source

_MAINS = re.compile(
    r"\bmains\b|\b(?:100|11[05]|120|127|2[2-4]0|400)[ -]?V(?:[ -]?(?:AC|~))|\b(?:2[234]0|400) ?V\b", re.IGNORECASE
)
_MAINS_NETS = ({"L", "N"}, {"L", "PE"}, {"LIVE"}, {"NEUTRAL"}, {"MAINS"}, {"PE"})
_LITHIUM = re.compile(
    r"\bli-?(?:ion|po|poly|fe-?po4?)\b|\blithium\b|\blipo\b|\b(?:1[468]\d|21|26)\d{2,3}\b(?= ?cell)"
    r"|\b(?:14500|16340|18650|21700|26650)\b|\bCR\d{4}\b",
    re.IGNORECASE,
)
_BATTERY = re.compile(r"lead[- ]acid|battery|\baccu|\bNi-?MH\b|\bNi-?Cd\b", re.IGNORECASE)


def build_cautions(plan: Plan) -> tuple[Caution, ...]:
    """All cautions of a plan, the gravest first."""
    return (*_danger(plan), *_over(plan), *_always(), *_by_marks(plan), *_by_parts(plan))


def _texts(plan: Plan) -> Iterator[tuple[str, str]]:
    """Reference ("" for nets) and what is written of it."""
    for part in plan.circuit.parts:
        yield part.ref, part.value
    for net in plan.circuit.nets:
        yield "", net.name.replace("_", " ")


def _speaking(plan: Plan, pattern: re.Pattern[str]) -> tuple[bool, tuple[str, ...]]:
    """Whether a pattern is found at all, and in which parts."""
    found = [ref for ref, text in _texts(plan) if pattern.search(text)]
    return bool(found), _sorted(ref for ref in found if ref)


def _sorted(refs: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted(dict.fromkeys(refs), key=natural_key))


def _danger(plan: Plan) -> Iterator[Caution]:
    mains, refs = _speaking(plan, _MAINS)
    names = {net.name.upper() for net in plan.circuit.nets}
    if mains or any(group <= names for group in _MAINS_NETS):
        yield Caution(
            "mains",
            "Mains: do not build this",
            "This circuit speaks of the mains. Copper half a millimetre apart and open joints can kill there. Leave it "
            "to a certified module and to people who are licensed for such work; local codes say who that is.",
            "start",
            refs,
        )
    high = [
        net
        for net in plan.circuit.nets
        if net.volts is not None and abs(net.volts) > (_TOUCH_VOLTS_AC if net.ac else _TOUCH_VOLTS)
    ]
    if high:
        yield Caution(
            "voltage",
            "Voltage that is not safe to touch",
            f"{', '.join(f'{net.name} ({net.volts:g} V)' for net in high)}: above 60 V DC or 30 V AC these boards "
            "are no protection against shock. Leave it to licensed practice under the local codes.",
        )


def _over(plan: Plan) -> Iterator[Caution]:
    """What is above its limit: each before the work begins, and all of them once more before power."""
    exceeded = over(plan.findings)
    for finding in exceeded:
        text = f"{_sentence(finding.message)} {_sentence(finding.mend)}".rstrip()
        yield Caution("limit", "Above a limit: do not build it as it is", text)
    if exceeded:
        text = f"Until this is mended: {'; '.join(finding.message for finding in exceeded)}."
        yield Caution("limit", "Above a limit: do not switch on", text, "power")


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _always() -> Iterator[Caution]:
    yield Caution(
        "law",
        "Local codes come first",
        "Work that the law leaves to licensed people stays with them. Extra-low voltage only, from a certified supply.",
    )
    yield Caution(
        "iron",
        "Heat of the iron",
        "The tip has 350 degrees Celsius. Use a stand, keep paper and cable away, unplug it when you leave.",
    )
    yield Caution(
        "fumes",
        "Fumes and lead",
        "Draw the fumes away from your face. Solder may hold lead: no food at the bench, wash your hands afterwards.",
    )
    yield Caution(
        "eyes",
        "Eyes",
        "Wear glasses: clipped leads fly, and hot flux spits. Hold each lead while you clip it.",
        "build",
    )


def _by_marks(plan: Plan) -> Iterator[Caution]:
    """Rails that carry something else than their printed sign says: to be marked, and not to be trusted at power-up."""
    signs = {net.name: sign_of(net) for net in plan.circuit.nets}
    named = nets_of_holes(plan)
    carrying: dict[str, list[str]] = {}
    for strip in plan.board.strips:
        nets = dict.fromkeys(named[hole] for hole in strip.holes if hole in named) if strip.mark else ()
        wrong = [net for net in nets if signs.get(net) != strip.mark]
        if wrong:
            carrying.setdefault(" and ".join(wrong), []).append(strip.name)
    found = [
        f"the rail{'s' * (len(rails) > 1)} printed {', '.join(rails)} carr{'y' if len(rails) > 1 else 'ies'} {nets}"
        for nets, rails in carrying.items()
    ]
    if found:
        told = f"{_sentence('; '.join(found))} What is printed there does not hold here."
        yield Caution(
            "rails",
            "Rails marked otherwise",
            f"{told} Write the name of the net beside each before you solder.",
            "build",
        )
        text = f"{told} Connect the supply where this page says, not by the signs."
        yield Caution("rails", "Do not go by the signs of these rails", text, "power")


def _chosen(plan: Plan, wanted: Callable[[Part, Package], bool]) -> tuple[str, ...]:
    parts = plan.circuit.parts
    return _sorted(part.ref for part in parts if wanted(part, plan.circuit.packages[part.package]))


def _by_parts(plan: Plan) -> Iterator[Caution]:
    polar = _chosen(plan, lambda _, package: is_polarised_can(package))
    if polar:
        text = "An electrolytic capacitor the wrong way round can burst. The longer lead is +, the stripe is at -."
        yield Caution("polarity", "Polarity of capacitors", text, "build", polar)
    one_way = _chosen(plan, lambda _, package: package.shape in ("diode", "led"))
    if one_way:
        text = "Stripe, or flat and short lead, mark the cathode. Turned round, the circuit fails or a part dies."
        yield Caution("polarity", "Diodes and LEDs have a direction", text, "build", one_way)
    pinout = _chosen(plan, lambda _, package: package.shape in ("to-92", "to-220"))
    if pinout:
        text = "Their pins come in a different order from device to device: look yours up before you solder it."
        yield Caution("pinout", "Transistors and regulators", text, "build", pinout)
    static = _chosen(plan, lambda part, package: socketed(package) or is_mosfet(part, package))
    if static:
        text = "Static electricity destroys them unseen. Touch earthed metal first, keep them in their foil until then."
        yield Caution("static", "ICs and MOSFETs", text, "build", static)
    hot = _sorted((*_chosen(plan, _gets_hot), *_dissipating(plan)))
    if hot:
        text = (
            "They may get too hot to touch. Leave air around them, 1.5 mm under a hot resistor, a heat sink where the "
            "power calls for one, and 10 mm to electrolytic capacitors and sensors."
        )
        yield Caution("heat", "Parts that get hot", text, "power", hot)
    large = _chosen(plan, _holds_charge)
    if large:
        text = "It holds its charge when the power is off: discharge it through 100 ohm before you touch the board."
        yield Caution("charge", "Large capacitor", text, "power", large)
    lithium, refs = _speaking(plan, _LITHIUM)
    if lithium:
        yield Caution(
            "lithium",
            "Lithium cells burn",
            "Never solder to a cell. Use a protected cell in a holder, a fuse in its lead, and a charger made for its "
            "kind. Never charge a cell that is not made for it, nor any unattended.",
            "power",
            refs,
        )
    battery, refs = _speaking(plan, _BATTERY)
    if battery:
        text = "A battery gives enough current to set wires on fire: a fuse right at its pole, connected last."
        yield Caution("battery", "Battery", text, "power", refs)


def _gets_hot(part: Part, package: Package) -> bool:
    watts = (value.watts if (value := ohms(part.value)) and is_resistor(part, package) else None) or 0
    return is_regulator(part, package) or package.shape == "to-220" or watts >= 1


def _holds_charge(part: Part, package: Package) -> bool:
    value = farads(part.value) if package.shape == "can" else None
    return value is not None and value.amount >= _HIGH_FARADS


def _dissipating(plan: Plan) -> Iterator[str]:
    """Resistors between two nets of known voltages that take more than :data:`_WARM_WATTS`."""
    circuit = plan.circuit
    volts = {net.name: net.volts for net in circuit.nets if net.volts is not None}
    volts |= {net.name: 0.0 for net in circuit.nets if net.role == "ground" and net.volts is None}
    on = {(pin.part, pin.pin): net for pin, net in circuit.net_of.items()}
    for part in circuit.parts:
        package = circuit.packages[part.package]
        value = ohms(part.value) if is_resistor(part, package) else None
        ends = [on.get((part.ref, pin), "") for pin in package.pins]
        if value is None or not value.amount or not all(end in volts for end in ends):
            continue
        if (volts[ends[0]] - volts[ends[1]]) ** 2 / float(value.amount) > _WARM_WATTS:
            yield part.ref
