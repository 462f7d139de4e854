"""Finding the pin that a text such as ``U1.8`` or ``U1.VCC`` means."""

from __future__ import annotations

from collections.abc import Mapping

from placer.circuit.model import PinRef
from placer.circuit.problems import Problems
from placer.errors import Span
from placer.packages.model import Package


class PinFinder:
    """Finds pins by number, by the part's own names, or by the package's names, in this order.

    ``refs``: every part that the file names, also those that could not be read. ``package_of``: the packages of those
    that could. ``names``: the parts' own pin names.
    """

    def __init__(
        self,
        refs: tuple[str, ...],
        package_of: Mapping[str, Package],
        names: Mapping[str, Mapping[str, str]],
        problems: Problems,
    ) -> None:
        self.refs = dict.fromkeys(refs)
        self.package_of = package_of
        self._names = names
        self._problems = problems

    def number(self, ref: str, pin: str) -> str | None:
        """Return the number of a pin of a part that was read, or None when it has no such pin."""
        package = self.package_of[ref]
        if pin in package.pins:
            return pin
        return self._names[ref].get(pin) or package.pin_names.get(pin)

    def find(self, written: str, what: str, span: Span) -> PinRef | None:
        """Return the pin, or None with an error recorded (or when its part's own error is recorded already)."""
        splits = [i for i, c in enumerate(written) if c == "."]
        if not splits:
            hint = "a pin is REF.PIN, such as U1.1"
            if written in self.package_of:
                hint += f"; {pin_list(self.package_of[written])}"
            self._problems.error("pin-malformed", f"{what}: {written!r} names no pin", span, hint=hint)
            return None
        # Both references (X1.R3, flattened) and pin names (3.3V) may hold dots: the longest known part wins.
        known = [(written[:i], written[i + 1 :]) for i in reversed(splits) if written[:i] in self.refs]
        if not known:
            ref = written[: splits[-1]]
            hint = self._problems.did_you_mean(ref, self.refs)
            self._problems.error(
                "unknown-part", f"{what}: {written} names part {ref!r}, which is not there", span, hint=hint
            )
            return None
        for ref, pin in known:
            if ref not in self.package_of:
                return None
            number = self.number(ref, pin)
            if number is not None:
                return PinRef(ref, number)
        ref, pin = known[0]
        # REF.PIN, REF.PIN without brackets is one long text to YAML.
        several = len(split := written.replace(",", " ").split()) > 1 and all("." in each for each in split)
        hint = f"several pins are a list: [{', '.join(split)}]" if several else self.pin_hint(ref, pin)
        message = f"{what}: part {ref} ({self.package_of[ref].name}) has no pin {pin!r}"
        self._problems.error("unknown-pin", message, span, hint=hint)
        return None

    def pin_hint(self, ref: str, pin: str) -> str:
        """Return advice on a pin that a part does not have: the nearest name, and the pins there are."""
        package = self.package_of[ref]
        near = self._problems.nearest(pin, (*self._names[ref], *package.pin_names))
        listed = pin_list(package, self._names[ref])
        return f"did you mean {ref}.{near}? {listed}" if near else listed


def pin_list(package: Package, names: Mapping[str, str] | None = None) -> str:
    """Return the pins of a package in words, shortened where they are many."""
    pins = package.pins
    numbers = ", ".join(pins) if len(pins) <= 10 else f"{pins[0]}, {pins[1]} .. {pins[-1]}"
    known = [*(names or {}), *package.pin_names]
    named = f", also named {', '.join(known[:12])}" if known else ""
    return f"{package.name} has the pins {numbers}{named}"
