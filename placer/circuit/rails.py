"""What a circuit tells of itself without being simulated: kinds of parts, and which nets are supplies and grounds."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from functools import cached_property

from placer.circuit.model import Circuit, Net, Part, PinRef
from placer.circuit.quantities import read_value

# Names that the trade gives to rails; common practice, no source. A net may be such a rail without saying its role.
_GROUND = re.compile(r"0|[ADP]?GND!?|GROUND|VSS|0V", re.IGNORECASE)
_PLUS = re.compile(r"[AD]?V(?:CC|DD)|V\+|\+?\d{1,2}V\d?|\+\d{1,2}(?:\.\d)?V?|VBAT", re.IGNORECASE)
_MINUS = re.compile(r"VEE|V-|-\d{1,2}(?:\.\d)?V?\d?", re.IGNORECASE)
SWITCHES = ("S", "SW", "JP")
LINKS = ("R", "JP", "W", "FB", "F", "L")
BETWEEN_SUPPLIES = ("S", "SW", "F", "FB", "L")
PASSES_SUPPLY = ("D", "L", "FB", "F", "S", "SW", "JP", "W")
SMALL_OHMS = Decimal(220)
_SOME = 1.0


def rail_volts(net: Net) -> float | None:
    """The voltage of a rail, as far as is known: 0 of ground; some volts, or minus, of a supply that says none.

    A role that is given counts for more than the name. None for a net that is neither supply nor ground.
    """
    if net.plain and net.role == "signal":
        return None
    if net.role == "ground" or (net.role == "signal" and not net.volts and _GROUND.fullmatch(net.name)):
        return 0.0
    if net.volts is not None and (net.role == "supply" or _PLUS.fullmatch(net.name)):
        return net.volts
    if _MINUS.fullmatch(net.name) and (net.volts is None or net.volts < 0):
        return -_SOME if net.volts is None else net.volts
    if net.role == "supply" or (net.volts is None and _PLUS.fullmatch(net.name)):
        return _SOME
    return None


def role_of(net: Net) -> str:
    """The role of a net: as given, else by the name that the trade gives to rails.

    For what is a matter of habit, order or colour; limits and the judge of nets go by what the circuit says itself.
    """
    volts = rail_volts(net) if net.role == "signal" else None
    if volts is None:
        return net.role
    return "supply" if volts else "ground"


def roles_of(circuit: Circuit) -> dict[str, str]:
    """The role of each net by its name; see :func:`role_of`."""
    return {net.name: role_of(net) for net in circuit.nets}


def sign_of(net: Net) -> str:
    """The sign of the rail that a builder would look for: ``+`` of a positive supply, ``-`` of ground or a negative.

    "" for signals and for alternating current.
    """
    volts = rail_volts(net)
    if volts is None or net.ac:
        return ""
    return "+" if volts > 0 else "-"


class Facts:
    """The circuit with what follows from it."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.nets: Mapping[str, Net] = {net.name: net for net in circuit.nets}

    def kind(self, part: Part) -> str:
        """The letters of a reference designator (``LED12`` in ``X1.LED12``: LED), LED and D by their package too."""
        shape = self.circuit.packages[part.package].shape
        if shape == "led":
            return "LED"
        match = re.match(r"[A-Za-z]*", part.ref.rsplit(".", 1)[-1])
        letters = match[0].upper() if match else ""
        return "D" if shape == "diode" and letters not in ("R", "L") else letters

    def of_kind(self, *kinds: str) -> Iterator[Part]:
        """Yield the parts of these kinds."""
        return (part for part in self.circuit.parts if self.kind(part) in kinds)

    def net_at(self, part: Part, pin: str) -> Net | None:
        """The net of a pin, or of one that metal joins it to inside the part; None where all are open."""
        group = next((g for g in self.circuit.packages[part.package].joined if pin in g), ())
        names = (self.circuit.net_of.get(PinRef(part.ref, each)) for each in (pin, *group))
        name = next((each for each in names if each is not None), None)
        return None if name is None else self.nets[name]

    def nets_of(self, part: Part) -> tuple[Net | None, ...]:
        """The net of each piece of metal that comes out of a part, in the order of its pins."""
        package = self.circuit.packages[part.package]
        first = (pin for pin in package.pins if not any(pin in g and pin != g[0] for g in package.joined))
        return tuple(self.net_at(part, pin) for pin in first)

    def ohms(self, part: Part) -> Decimal | None:
        """The resistance of a part of kind R, None where its value does not say."""
        value = read_value(part.value)
        return None if value is None or value.unit not in ("", "ohm") else value.number

    def volts(self, net: Net | None) -> float | None:
        """The voltage of a rail, None of what is none: :func:`rail_volts`."""
        return None if net is None else rail_volts(net)

    def is_rail(self, net: Net | None) -> bool:
        """True for a supply or ground, told by its role or by the name that the trade gives to rails."""
        return self.volts(net) is not None

    def is_ground(self, net: Net | None) -> bool:
        """True for a rail at 0 V."""
        return self.volts(net) == 0

    @cached_property
    def fed(self) -> frozenset[str]:
        """Nets that carry a supply: supplies, and what diodes, coils, fuses, switches or regulators feed."""
        found = {net.name for net in self.circuit.nets if self.is_rail(net) and not self.is_ground(net)}
        found |= {net.name for net in self.circuit.nets if net.volts and net.role != "ground"}
        links: dict[str, set[str]] = {}
        for part in self.circuit.parts:
            if self._passes(part):
                names = {net.name for net in self.nets_of(part) if net is not None and not self.is_ground(net)}
                for name in names:
                    links.setdefault(name, set()).update(names - {name})
        waiting = list(found)
        while waiting:
            for name in links.get(waiting.pop(), ()):
                if name not in found:
                    found.add(name)
                    waiting.append(name)
        return frozenset(found)

    def _passes(self, part: Part) -> bool:
        kind = self.kind(part)
        if kind == "R":
            ohms = self.ohms(part)
            return ohms is not None and ohms <= SMALL_OHMS
        # Three leads: a regulator, or a transistor that follows or switches a supply.
        return kind in PASSES_SUPPLY or (kind in ("U", "IC", "Q", "REG", "VR") and len(self.nets_of(part)) == 3)


def says_volts(net: Net) -> bool:
    """Tell whether the voltage of a rail is known as a figure."""
    return net.volts is not None or net.role == "ground"
