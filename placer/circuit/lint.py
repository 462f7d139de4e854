"""An electrical lint: what a careful colleague would mark on the schematic. Warnings only; a plan is made all the same.

Each rule says where it comes from. A rule speaks only where the circuit tells enough to be fairly sure: roles of nets,
their names, letters of references, packages, values and names of pins.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from decimal import Decimal
from itertools import combinations, pairwise

from placer.circuit.model import Circuit, Net, Part, PinRef
from placer.circuit.quantities import read_value, spice_value
from placer.circuit.rails import BETWEEN_SUPPLIES, LINKS, SWITCHES, Facts, says_volts
from placer.errors import Diagnostic

# IEC 60063, from memory: the series of 24 and of 96 values a decade.
E24 = frozenset(map(str, (
    100, 110, 120, 130, 150, 160, 180, 200, 220, 240, 270, 300, 330, 360, 390, 430, 470, 510, 560, 620, 680, 750, 820,
    910,
)))  # fmt: skip
E96 = frozenset(str(round(100 * 10 ** (index / 96))) for index in range(96))
SMALL_CAPACITOR = Decimal("1e-6")
IC_PINS = 8
ENTRIES = ("J", "P", "TB", "X", "CN", "V", "BT", "TP")
# Names that makers give to inputs; common practice, no source.
_INPUT = re.compile(
    r"[+-]?IN(?:P|N|[+-]|\d{1,2}|[AB][+-]?|\d[+-])?|[+-]IN\w?|CLK|CLOCK|CP|RESET|RST|N?MR|CLR|CLEAR|EN|ENABLE|OE|TRIG|THR|GATE",
    re.IGNORECASE,
)
_FEED = re.compile(r"[AD]?V(?:CC|DD|EE|SS|S)|V[+-]|[AD]?GND", re.IGNORECASE)


def lint(circuit: Circuit) -> tuple[Diagnostic, ...]:
    """Return what is doubtful about a circuit, as warnings, each with its reason."""
    facts = Facts(circuit)
    return tuple(warning for rule in RULES for warning in rule(facts))


def _warning(code: str, message: str, hint: str) -> Diagnostic:
    return Diagnostic(code, message, hint, "warning")


def shorted_parts(facts: Facts) -> Iterator[Diagnostic]:
    """A part whose leads are all on one net does nothing (arithmetic: no voltage across it)."""
    for part in facts.circuit.parts:
        if facts.circuit.packages[part.package].shape in ("terminal", "header") or facts.kind(part) in ("J", "TP"):
            continue  # several ways to one net are meant
        nets = facts.nets_of(part)
        if len(nets) > 1 and nets[0] is not None and all(net is nets[0] for net in nets):
            leads = "both leads are" if len(nets) == 2 else "every pin is"
            message = f"{part.ref}: {leads} on net {nets[0].name}, so that it does nothing"
            yield _warning("part-shorted", message, "move one of them to the net that is meant, or leave the part out")


def lone_leds(facts: Facts) -> Iterator[Diagnostic]:
    """An LED needs something that limits its current, most simply a resistor (common practice, no source)."""
    for led in facts.of_kind("LED"):
        anode, cathode = facts.net_at(led, "1"), facts.net_at(led, "2")
        if anode is None or cathode is None or anode is cathode:
            continue
        ends = [_unlimited_end(facts, led, pin) for pin in ("1", "2")]
        if all(ends):
            message = f"{led.ref}: no resistor limits its current, from {ends[0]} to {ends[1]}"
            hint = "put a resistor in series; (supply volts - LED volts) / amperes is its value"
            yield _warning("led-without-resistor", message, hint)


def _unlimited_end(facts: Facts, led: Part, pin: str) -> str:
    """Where one side of an LED ends without a resistor: a rail or the pin of an IC; "" where something limits it.

    Chains of LEDs and diodes are followed, and closed switches. What else there is may limit the current, or not.
    """
    start = facts.net_at(led, pin)
    waiting, seen = [(start, led)], {led.ref}
    end = ""
    while waiting:
        net, came_from = waiting.pop()
        if net is None:
            return ""
        if facts.is_rail(net):
            end = end or f"net {net.name}"
            continue
        for ref in net.pins:
            part = facts.circuit.part_by_ref[ref.part]
            if part.ref == came_from.ref or part.ref in seen:
                continue
            kind = facts.kind(part)
            seen.add(part.ref)
            if kind in ("LED", "D", *SWITCHES) and len(facts.nets_of(part)) == 2:
                waiting += [(other, part) for other in facts.nets_of(part) if other is not net]
            elif kind in ("U", "IC"):
                end = end or str(ref)
            elif kind == "C":
                continue
            else:
                return ""
    return end


def unfed_ics(facts: Facts) -> Iterator[Diagnostic]:
    """An IC needs a supply and its return (common practice, no source)."""
    grounds = [net for net in facts.circuit.nets if facts.is_ground(net)]
    if not facts.fed or not grounds:
        return  # the circuit does not say which nets are supplies
    for part in _ics(facts):
        named = _named_feeds(part, facts)
        loose = [pin for pin, net in named.items() if net is None]
        if loose:
            message = f"{part.ref}: its pin {loose[0]} is open, by its name a supply pin"
            yield _warning("ic-without-supply", message, "join it to the supply or ground that it is for")
            continue
        unfed = [(pin, net) for pin, net in named.items() if net is not None and not _may_feed(facts, net)]
        if unfed:
            pin, net = unfed[0]
            message = f"{part.ref}: its pin {pin} is by its name a supply pin, and nothing feeds net {net.name}"
            yield _warning("ic-without-supply", message, "join it to a supply, or say role: supply of its net")
        nets = {net.name: net for net in facts.nets_of(part) if net is not None}
        if nets and not named:
            rails = [net for net in nets.values() if facts.is_rail(net) or net.name in facts.fed]
            if len(rails) < 2 or all(facts.is_ground(net) for net in rails):
                what = "no supply" if not any(net.name in facts.fed for net in rails) else "a supply and no ground"
                message = f"{part.ref}: of its {len(nets)} nets none is a supply with its return; it has {what}"
                yield _warning("ic-without-supply", message, "join its supply pins, or say role: supply of their net")


def _may_feed(facts: Facts, net: Net) -> bool:
    """True for a rail, what one feeds, and what comes in from outside."""
    if facts.is_rail(net) or net.name in facts.fed:
        return True
    return any(facts.kind(facts.circuit.part_by_ref[pin.part]) in ENTRIES for pin in net.pins)


def _ics(facts: Facts) -> Iterator[Part]:
    """Parts that are most likely ICs with a supply; optocouplers and switches have fewer pins."""
    for part in facts.of_kind("U", "IC"):
        package = facts.circuit.packages[part.package]
        if package.shape == "dip" and len(package.pins) >= IC_PINS:
            yield part


def _named_feeds(part: Part, facts: Facts) -> dict[str, Net | None]:
    names = {**facts.circuit.packages[part.package].pin_names, **part.pin_names}
    return {f"{name} ({pin})": facts.net_at(part, pin) for name, pin in names.items() if _FEED.fullmatch(name)}


def undecoupled_ics(facts: Facts) -> Iterator[Diagnostic]:
    """Each IC wants some 100 nF of its own across its supply (common practice, no source)."""
    served: dict[tuple[str, str], list[str]] = {}
    grounds = [net.name for net in facts.circuit.nets if facts.is_ground(net)]
    for part in _ics(facts):
        nets = {net.name: net for net in facts.nets_of(part) if net is not None}
        plus = sorted(name for name in nets if name in facts.fed)
        minus = sorted(name for name, net in nets.items() if facts.is_ground(net))
        straight = [pair for pair in combinations(plus, 2) if _opposite(facts, *pair)]
        straight = straight or ([] if minus else list(pairwise(plus)))
        pairs = [(high, low) for high in plus for low in minus] + straight
        if not pairs:
            continue
        held = [pair for pair in pairs if _capacitors(facts, *pair)]
        # Without a ground pin, as op-amps are: from each of two supplies to ground is as good.
        halves = [((high, ground), (low, ground)) for high, low in straight for ground in grounds]
        split = [pair for pair in halves if all(_capacitors(facts, *half) for half in pair)]
        if not held and split:
            for half in split[0] if len(split) == 1 else ():
                served.setdefault(half, []).append(part.ref)
        elif not held:
            one_sided = [half for pair in halves if any(_capacitors(facts, *h) for h in pair) for half in pair]
            high, low = next((half for half in one_sided if not _capacitors(facts, *half)), pairs[0])
            message = f"{part.ref}: no capacitor lies between its supply {high} and {low}"
            hint = "add 100n close to its supply pins, with a near wish"
            yield _warning("ic-without-decoupling", message, hint)
        elif len(held) == 1 and not any(all(_small(facts, *half) for half in pair) for pair in split):
            served.setdefault(held[0], []).append(part.ref)
    for (high, low), refs in served.items():
        small = _small(facts, high, low)
        if small < len(refs):
            told = ", ".join(refs[:6]) + (" ..." if len(refs) > 6 else "")
            message = f"{len(refs)} IC{'s' * (len(refs) > 1)} ({told}) between {high} and {low}, and {small or 'no'} "
            message += f"small capacitor{'s' * (small != 1)} there"
            yield _warning("ic-without-decoupling", message, "add 100n for each IC, close to its supply pins")


def _opposite(facts: Facts, one: str, other: str) -> bool:
    """True for a positive and a negative supply."""
    volts = facts.volts(facts.nets[one]), facts.volts(facts.nets[other])
    return volts[0] is not None and volts[1] is not None and volts[0] * volts[1] < 0


def _capacitors(facts: Facts, first: str, second: str) -> list[Part]:
    """Capacitors between two nets."""
    found = []
    for part in facts.of_kind("C"):
        nets = facts.nets_of(part)
        if {net.name for net in nets if net is not None} == {first, second}:
            found.append(part)
    return found


def _small(facts: Facts, first: str, second: str) -> int:
    """How many small capacitors lie between two nets."""
    return sum(_is_small(part) for part in _capacitors(facts, first, second))


def _is_small(part: Part) -> bool:
    value = read_value(part.value)
    return not part.package.startswith("radial") if value is None else value.number <= SMALL_CAPACITOR


def floating_inputs(facts: Facts) -> Iterator[Diagnostic]:
    """An input that nothing drives takes any level (common practice, no source). Inputs are known by their names."""
    inputs: dict[PinRef, str] = {}
    for part in facts.circuit.parts:
        kind = facts.kind(part)
        names = {**facts.circuit.packages[part.package].pin_names, **part.pin_names}
        for name, pin in names.items():
            if (kind in ("U", "IC") and _INPUT.fullmatch(name)) or (kind == "Q" and name.upper() in ("G", "GATE")):
                inputs.setdefault(PinRef(part.ref, pin), name)
    for ref, name in inputs.items():
        net = facts.net_at(facts.circuit.part_by_ref[ref.part], ref.pin)
        if net is None:
            message = f"{ref} ({name}) is an input by its name, and open"
        elif not facts.is_rail(net) and all(
            pin in inputs or facts.kind(facts.circuit.part_by_ref[pin.part]) == "C" for pin in net.pins
        ):
            message = f"{ref} ({name}) is an input by its name, and nothing on net {net.name} drives it"
        else:
            continue
        yield _warning("floating-input", message, "join it to what drives it, or to a rail, by a resistor if need be")


def joined_supplies(facts: Facts) -> Iterator[Diagnostic]:
    """Two rails that a link, a switch or two sources join are one (arithmetic: no voltage is left between them)."""
    for part in facts.circuit.parts:
        nets = facts.nets_of(part)
        kind = facts.kind(part)
        joined = [net for net in nets if net is not None]
        if len(nets) != 2 or len(joined) != 2 or joined[0] is joined[1]:
            continue
        is_switch = kind in SWITCHES or facts.circuit.packages[part.package].shape == "button"
        if not all(map(facts.is_rail, joined)) or not (is_switch or _joins(facts, part, kind)):
            continue
        grounded = any(map(facts.is_ground, joined))
        if kind in BETWEEN_SUPPLIES and not grounded and facts.circuit.packages[part.package].shape != "button":
            continue  # the way in which one supply is made from another
        one, other = (facts.volts(net) for net in joined)
        if one == other and (one == 0 or all(map(says_volts, joined))):
            continue  # two grounds, or two supplies of one voltage
        when = " when it is closed" if is_switch else ""
        message = f"{part.ref} joins {joined[0].name} and {joined[1].name}{when}, two rails"
        yield _warning("supplies-joined", message, "look whether one of its leads is meant to be on another net")
    yield from _joined_sources(facts)


def _joins(facts: Facts, part: Part, kind: str) -> bool:
    return kind in LINKS and (kind != "R" or facts.ohms(part) == 0)


def _joined_sources(facts: Facts) -> Iterator[Diagnostic]:
    first: dict[frozenset[str], Part] = {}
    for part in facts.of_kind("V", "BT"):
        nets = [net for net in facts.nets_of(part) if net is not None]
        if len(nets) != 2 or nets[0] is nets[1]:
            continue
        other = first.setdefault(frozenset(net.name for net in nets), part)
        if other is not part:
            message = (
                f"{part.ref} and {other.ref} are two sources on the same two nets, {nets[0].name} and {nets[1].name}"
            )
            yield _warning("supplies-joined", message, "keep one, or put them on nets of their own")


def reversed_electrolytics(facts: Facts) -> Iterator[Diagnostic]:
    """An electrolytic capacitor the wrong way round can burst (makers' application notes, from memory)."""
    for part in facts.of_kind("C"):
        names = facts.circuit.packages[part.package].pin_names
        if "+" not in names or "-" not in names:
            continue
        plus, minus = facts.net_at(part, names["+"]), facts.net_at(part, names["-"])
        high, low = facts.volts(plus), facts.volts(minus)
        if plus is None or minus is None or high is None or low is None:
            continue
        comparable = (says_volts(plus) and says_volts(minus)) or high <= 0 < low or low >= 0 > high
        if high < low and comparable:
            message = f"{part.ref}: its + (pin {names['+']}) is on {plus.name}, its - on {minus.name}, which is higher"
            yield _warning("capacitor-reversed", message, "exchange its pins")


def forward_diodes(facts: Facts) -> Iterator[Diagnostic]:
    """A diode from a supply to ground conducts without a limit (common practice, no source)."""
    for part in facts.of_kind("D"):
        names = facts.circuit.packages[part.package].pin_names
        anode, cathode = facts.net_at(part, names.get("A", "1")), facts.net_at(part, names.get("K", "2"))
        high, low = facts.volts(anode), facts.volts(cathode)
        if anode is None or cathode is None or high is None or low is None:
            continue
        if high > 0 >= low or high >= 0 > low:
            message = (
                f"{part.ref}: its anode is on {anode.name} and its cathode on {cathode.name}: it shorts the supply"
            )
            yield _warning("diode-across-supply", message, "turn it round: the cathode belongs on the higher voltage")


def odd_resistors(facts: Facts) -> Iterator[Diagnostic]:
    """Resistors are sold in the values of IEC 60063's series (from memory): a hint, for the value may be on purpose."""
    for part in facts.of_kind("R"):
        value = read_value(part.value)
        if value is None or value.unit not in ("", "ohm") or value.number <= 0:
            continue
        digits = value.number.normalize().as_tuple().digits
        figure = "".join(map(str, digits)).ljust(3, "0")
        if figure not in E24 and figure not in E96:
            message = f"{part.ref}: {part.value} is in neither of the series E24 and E96 of resistor values"
            yield _warning("hint-odd-resistor", message, f"the nearest in E24 is {_nearest(value.number)}")


def _nearest(number: Decimal) -> str:
    decade = number.adjusted()
    steps = [Decimal(figure).scaleb(power - 2) for power in (decade - 1, decade, decade + 1) for figure in E24]
    best = min(steps, key=lambda step: (abs((step / number).ln()), step))
    return spice_value(best).replace("Meg", "M")


RULES: tuple[Callable[[Facts], Iterator[Diagnostic]], ...] = (
    shorted_parts,
    lone_leds,
    unfed_ics,
    undecoupled_ics,
    floating_inputs,
    joined_supplies,
    reversed_electrolytics,
    forward_diodes,
    odd_resistors,
)
