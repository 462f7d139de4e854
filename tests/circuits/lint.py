"""An electrical lint for the demo circuits: what a careful colleague would mark on the schematic.

Each rule yields a sentence for every breach. Series of values: IEC 60063 (E24 from memory). Decoupling with 100 nF, a
resistor for each LED and a diode across each coil: common practice, no source.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence

from placer.circuit.model import Circuit, Net, Part, PinRef
from tests.circuits.pinouts import LOADS_THAT_KICK, PINOUTS, REGULATORS, Pinout

E24 = (
    1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2,
    9.1,
)  # fmt: skip
E12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
PREFIX = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3, "M": 1e6}
HIGHEST_VOLTS = 24.0


def kind(part: Part) -> str:
    """The letters of a reference designator: ``R``, ``LED`` ..."""
    return re.match(r"[A-Z]+", part.ref).group()  # type: ignore[union-attr]  # every reference begins with letters


def number(value: str) -> float | None:
    """The value of ``4.7k`` or ``100n`` in base units; None when it is no such figure."""
    match = re.fullmatch(r"(\d+(?:\.\d+)?)([pnumkM]?)", value)
    return float(match[1]) * PREFIX[match[2]] if match else None


def in_series(value: float, series: Sequence[float]) -> bool:
    """True when the leading figures of ``value`` are in ``series``."""
    mantissa = value / 10 ** int(f"{value:e}".split("e")[1])
    return any(abs(mantissa - step) < 1e-6 for step in series)


class Lint:
    """The rules over one circuit. ``breaches()`` is empty for a sound circuit."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.nets = {net.name: net for net in circuit.nets}

    def breaches(self) -> list[str]:
        """Every breach of every rule."""
        rules = (
            self._values, self._nets, self._shorts, self._open_pins, self._leds, self._decoupling, self._inputs,
            self._op_amps, self._outputs, self._regulators, self._polarity, self._kicks, self._volts, self._known,
        )  # fmt: skip
        return [breach for rule in rules for breach in rule()]

    def net_at(self, ref: str, pin: str) -> Net | None:
        """The net of a pin, None when open."""
        name = self.circuit.net_of.get(PinRef(ref, pin))
        return self.nets[name] if name is not None else None

    def _of_kind(self, *kinds: str) -> list[Part]:
        return [part for part in self.circuit.parts if kind(part) in kinds]

    def _between(self, kinds: tuple[str, ...], first: Net | None, second: Net | None) -> list[Part]:
        """Two-lead parts of these kinds whose leads are on the two nets, either way round."""
        wanted = {first, second}
        return [p for p in self._of_kind(*kinds) if {self.net_at(p.ref, "1"), self.net_at(p.ref, "2")} == wanted]

    def _is_ground(self, net: Net | None) -> bool:
        return net is not None and net.role == "ground"

    def _values(self) -> Iterator[str]:
        for part in self._of_kind("R", "C", "RV"):
            value = number(part.value)
            if value is None:
                yield f"{part.ref}: '{part.value}' is no value"
            elif not in_series(value, E24 if kind(part) == "R" else E12):
                yield f"{part.ref}: {part.value} is in no series"
        for part in self._of_kind("D"):
            if part.value.startswith("zener"):
                volts = number(part.value.removeprefix("zener ").removesuffix("V"))
                if volts is None or not in_series(volts, E24):
                    yield f"{part.ref}: {part.value} is in no series"

    def _nets(self) -> Iterator[str]:
        for net in self.circuit.nets:
            if len(net.pins) < 2:
                yield f"net {net.name} has {len(net.pins)} pin"
        if sum(net.role == "ground" for net in self.circuit.nets) != 1:
            yield "there is not exactly one ground net"
        if not any(net.role == "supply" and net.volts is not None for net in self.circuit.nets):
            yield "no supply net says its voltage"

    def _shorts(self) -> Iterator[str]:
        for part in self.circuit.parts:
            nets = [self.circuit.net_of.get(PinRef(part.ref, pin)) for pin in self.circuit.package_of(part.ref).pins]
            on = Counter(name for name in nets if name is not None)
            if len(nets) > 1 and len(on) == 1 and None not in nets:
                yield f"{part.ref}: every pin is on net {nets[0]}"
            if kind(part) == "Q" and len(on) != 3:
                yield f"{part.ref}: a transistor needs three nets, found {len(on)}"

    def _open_pins(self) -> Iterator[str]:
        for part in self.circuit.parts:
            package = self.circuit.package_of(part.ref)
            pinout = PINOUTS.get((part.package, part.value))
            may_open = set(pinout.may_open) if pinout else set()
            for group in package.joined:
                if any(self.net_at(part.ref, pin) for pin in group):
                    may_open.update(group)
            if kind(part) == "K":
                coil = {package.pin_names["A1"], package.pin_names["A2"]}
                may_open.update(set(package.pins) - coil)  # contacts that nobody uses do no harm
            for pin in package.pins:
                if self.net_at(part.ref, pin) is None and pin not in may_open:
                    yield f"{part.ref}.{pin} is open"

    def _leds(self) -> Iterator[str]:
        for led in self._of_kind("LED"):
            if not any(self._limited(led, pin) for pin in ("1", "2")):
                yield f"{led.ref} has no series resistor"

    def _limited(self, led: Part, pin: str) -> bool:
        """True when the LED's current must pass a resistor on this side; a chain of LEDs is followed."""
        net = self.net_at(led.ref, pin)
        if net is None or len(net.pins) != 2:
            return False
        far = next(ref for ref in net.pins if ref.part != led.ref)
        other = self.circuit.part_by_ref[far.part]
        if kind(other) == "R":
            return True
        return kind(other) == "LED" and far.pin != pin and self._limited(other, "2" if far.pin == "1" else "1")

    def _chips(self) -> Iterator[tuple[Part, Pinout]]:
        for part in self._of_kind("U"):
            if (part.package, part.value) in PINOUTS:
                yield part, PINOUTS[part.package, part.value]

    def _known(self) -> Iterator[str]:
        for part in self._of_kind("U"):
            if (part.package, part.value) not in PINOUTS and (part.package, part.value) not in REGULATORS:
                yield f"{part.ref}: no pinout known for a {part.value} in {part.package}"

    def _decoupling(self) -> Iterator[str]:
        wanted: Counter[tuple[str, str]] = Counter()
        for part, pinout in self._chips():
            for pins in pinout.supply:
                supply, ground = (self.net_at(part.ref, pin) for pin in pins)
                if supply is None or ground is None or not self._is_ground(ground):
                    yield f"{part.ref} is not fed at its pins {' and '.join(pins)}"
                else:
                    wanted[supply.name, ground.name] += 1
        for part in self._of_kind("U"):
            if (part.package, part.value) in REGULATORS:
                _, ground_pin, out_pin = REGULATORS[part.package, part.value]
                supply, ground = self.net_at(part.ref, out_pin), self.net_at(part.ref, ground_pin)
                if supply is not None and ground is not None:
                    wanted[supply.name, ground.name] += 1
        for (plus, minus), count in wanted.items():
            found = [c for c in self._between(("C",), self.nets[plus], self.nets[minus]) if c.value == "100n"]
            if len(found) < count:
                yield f"{count} supply pins between {plus} and {minus} want 100n each, found {len(found)}"

    def _inputs(self) -> Iterator[str]:
        for part, pinout in self._chips():
            for pin in sorted(pinout.inputs):
                if not self._driven(self.net_at(part.ref, pin)):
                    yield f"input {part.ref}.{pin} floats"

    def _driven(self, net: Net | None) -> bool:
        """True when the net has a path for direct current: supply, an output, a resistor, a connector, a diode ..."""
        if net is None:
            return False
        if net.role != "signal":
            return True
        for ref in net.pins:
            part = self.circuit.part_by_ref[ref.part]
            pinout = PINOUTS.get((part.package, part.value))
            if kind(part) == "C" or (pinout is not None and ref.pin in pinout.inputs):
                continue
            return True
        return False

    def _op_amps(self) -> Iterator[str]:
        """A section without feedback is a comparator; it must then see a different net at each input."""
        for part, pinout in self._chips():
            for out, minus, plus in pinout.op_amps:
                nets = [self.net_at(part.ref, pin) for pin in (out, minus, plus)]
                if nets[0] is None or nets[1] is nets[2] or nets[0] is nets[2]:
                    yield f"{part.ref}: the section at pin {out} is not wired as amplifier, comparator or follower"

    def _outputs(self) -> Iterator[str]:
        for net in self.circuit.nets:
            drivers = [
                str(ref)
                for ref in net.pins
                for part in (self.circuit.part_by_ref[ref.part],)
                for pinout in (PINOUTS.get((part.package, part.value)),)
                if pinout is not None and ref.pin in pinout.outputs
            ]
            if len(drivers) > 1 or (drivers and net.role != "signal"):
                yield f"net {net.name} is driven by {' and '.join(drivers)} as a {net.role} net"

    def _regulators(self) -> Iterator[str]:
        for part in self._of_kind("U"):
            pins = REGULATORS.get((part.package, part.value))
            if pins is None:
                continue
            source, ground, output = (self.net_at(part.ref, pin) for pin in pins)
            if not self._is_ground(ground):
                yield f"{part.ref}.{pins[1]} is not on ground"
            for name, net, least in (("input", source, 330e-9), ("output", output, 100e-9)):
                caps = [number(c.value) or 0.0 for c in self._between(("C",), net, ground)]
                if max(caps, default=0.0) < least * (1 - 1e-9):
                    yield f"{part.ref}: no capacitor at its {name}"

    def _polarity(self) -> Iterator[str]:
        for part in self._of_kind("C"):
            polarised = self.circuit.package_of(part.ref).polarity or part.package.startswith("radial")
            plus, minus = self.net_at(part.ref, "1"), self.net_at(part.ref, "2")
            if polarised and (self._is_ground(plus) or (minus is not None and minus.role == "supply")):
                yield f"{part.ref} is the wrong way round"
        for part in self._of_kind("LED"):
            anode, cathode = self.net_at(part.ref, "1"), self.net_at(part.ref, "2")
            if self._is_ground(anode) or (cathode is not None and cathode.role == "supply"):
                yield f"{part.ref} is the wrong way round"

    def _kicks(self) -> Iterator[str]:
        """A switched coil needs a diode across it, or diodes from each end to both rails."""
        coils = [(p, "1", "2") for p in self._of_kind("J") if p.value in LOADS_THAT_KICK]
        for relay in self._of_kind("K"):
            names = self.circuit.package_of(relay.ref).pin_names
            coils.append((relay, names["A1"], names["A2"]))
        for part, first, second in coils:
            ends = [self.net_at(part.ref, first), self.net_at(part.ref, second)]
            across = [
                d for d in self._between(("D",), *ends)
                if not self._is_ground(self.net_at(d.ref, "2"))
                and getattr(self.net_at(d.ref, "1"), "role", "") != "supply"
            ]  # fmt: skip
            clamped = all(end is not None and (end.role != "signal" or self._clamped(end)) for end in ends)
            if not across and not clamped:
                yield f"{part.ref}: nothing catches the kick of its coil"

    def _clamped(self, net: Net) -> bool:
        """True when diodes lead from ground to the net and from the net to a supply."""
        up = down = False
        for diode in self._of_kind("D"):
            anode, cathode = self.net_at(diode.ref, "1"), self.net_at(diode.ref, "2")
            up |= anode is net and cathode is not None and cathode.role == "supply"
            down |= cathode is net and self._is_ground(anode)
        return up and down

    def _volts(self) -> Iterator[str]:
        for net in self.circuit.nets:
            if net.volts is not None and abs(net.volts) > HIGHEST_VOLTS:
                yield f"net {net.name}: {net.volts} V is more than {HIGHEST_VOLTS} V"
