"""Which package an element gets, and on which pin each of its nodes comes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from placer.circuit.kinds import DEFAULTS, NODE_NAMES, is_large_capacitor, is_light
from placer.circuit.partsmap import Entry, find_pin
from placer.circuit.problems import Problems
from placer.circuit.raw import RawElement
from placer.circuit.read_yaml import PackageBook
from placer.packages.model import Package

Keys = Sequence[str | None]
"""Net keys in node order, None for a pin joined to nothing."""


class Leads:
    """Finds packages and pins; what is wrong is recorded, once for each package and each model where it is the same."""

    def __init__(self, own: Mapping[str, Package | None], problems: Problems) -> None:
        self._own = own
        self._problems = problems
        self._found: dict[str, Package | None] = {}
        self._assumed: set[str] = set()

    def of(
        self, name: str, element: RawElement, kind: str, keys: Keys, entry: Entry | None
    ) -> tuple[Package, Mapping[str, str]] | None:
        """Return the package and the net key of each connected pin, or None with an error recorded."""
        default = DEFAULTS.get(kind)
        package = entry.package if entry is not None else None
        if package is None:
            package = self._find(element.package or (default.package if default else ""), element)
            if package is not None and not element.package:
                self._doubt(name, element, kind, package)
        if package is None:
            return None
        pins = self._pins(name, element, kind, package, entry)
        if pins is None:
            return None
        return self._joined(name, element, package, pins, keys)

    def _doubt(self, name: str, element: RawElement, kind: str, package: Package) -> None:
        """Warn of a part that most likely is another than its letter says; of a model once."""
        if is_large_capacitor(element, kind):
            what, other = f"a capacitor of {element.value} is taken as ceramic", "radial-5"
            why = "most of 1 uF and more are electrolytic, and one put in the wrong way round may burst"
            where, nodes = f"elements: {{{name}:", "node 1 is +"
        elif is_light(element, kind) and (element.model.casefold() or name) not in self._assumed:
            self._assumed.add(element.model.casefold() or name)
            what, other = f"{element.model or name} is taken as a plain diode", "led-5"
            why, nodes = "its name says LED", "node 1 is the anode"
            where = f"models: {{{element.model}:" if element.model else f"elements: {{{name}:"
        else:
            return
        message = f"{name}: {what} ({package.name}); {why}"
        hint = f"if it is one, write into the parts map: {where} {{package: {other}}}}}, {nodes}"
        self._problems.warning("assumed-package", message, element.at.span(), hint=hint)

    def _find(self, name: str, element: RawElement) -> Package | None:
        if name not in self._found:
            span = element.at.span()
            book = PackageBook(self._own, lambda _loc, key=False: span, self._problems)  # noqa: ARG005
            self._found[name] = book.find(name, ())
        return self._found[name]

    def _pins(
        self, name: str, element: RawElement, kind: str, package: Package, entry: Entry | None
    ) -> Sequence[str | None] | None:
        """Return the pin of each node (None: no lead)."""
        count = len(element.nodes)
        told = entry.pins if entry is not None else None
        if isinstance(told, Mapping):
            return self._by_name(name, element, package, told)
        if told is not None:
            return self._by_list(name, element, kind, package, told)
        if element.ports:
            return self._by_name(name, element, package, {})
        names = NODE_NAMES.get(kind, ())
        if names and all(each in package.pin_names for each in names):
            return self._by_list(name, element, kind, package, tuple(package.pin_names[each] for each in names))
        default = DEFAULTS.get(kind)
        if default is not None and set(default.pins) == set(package.pins):
            if default.assumed:
                self._assume(name, element, package, default.pins)
            return self._by_list(name, element, kind, package, default.pins)
        if count == len(package.pins) and (not names or package.shape not in ("to-92", "to-220")):
            return package.pins
        message = f"{name}: which of the {len(package.pins)} pins of {package.name} its {count} nodes are is not said"
        where = f"models: {{{element.model}:" if element.model else f"elements: {{{name}:"
        hint = f"add pins in node order to the parts map: {where} {{package: {package.name}, pins: [...]}}}}"
        self._problems.error("pins-not-told", message, element.at.span(), hint=hint)
        return None

    def _assume(self, name: str, element: RawElement, package: Package, pins: Sequence[str]) -> None:
        what = element.model.casefold() or name
        if what in self._assumed:
            return
        self._assumed.add(what)
        shown = "".join(dict(zip(pins, "CBE", strict=False))[pin] for pin in package.pins)
        device = element.model or name
        message = (
            f"{name}: the pins of {device} are taken as {'-'.join(shown)} "
            f"(pins {', '.join(package.pins)} of {package.name}); devices differ"
        )
        hint = (
            f"look {device} up, and write what is so into the parts map: "
            f"models: {{{device}: {{package: {package.name}, pins: [{', '.join(pins)}]}}}}, in node order C B E"
        )
        self._problems.warning("assumed-pinout", message, element.at.span(), hint=hint)

    def _by_list(
        self, name: str, element: RawElement, kind: str, package: Package, told: Sequence[str | None]
    ) -> Sequence[str | None] | None:
        count = len(element.nodes)
        if len(told) > count:
            message = f"{name} has {count} nodes, but {len(told)} pins are listed for it ({package.name})"
            hint = "list one pin for each node, in node order"
            self._problems.error("pins-differ", message, element.at.span(), hint=hint)
            return None
        if 3 <= len(told) < count and kind == "Q":
            message = f"{name}: its substrate node {element.nodes[3]} has no lead and is left out"
            self._problems.warning("node-left-out", message, element.at.span())
        elif len(told) < count:
            nets = {node for node, pin in zip(element.nodes, told, strict=False) if pin is not None}
            loose = [node for node in element.nodes[len(told) :] if node not in nets]
            if loose:
                message = f"{name}: no pin of {package.name} is listed for its node {loose[0]}"
                hint = "list one pin for each node, in node order; - for a node without a lead"
                self._problems.error("pins-differ", message, element.at.span(), hint=hint)
                return None
        return (*told, *(None for _ in range(count - len(told))))

    def _by_name(
        self, name: str, element: RawElement, package: Package, told: Mapping[str, str]
    ) -> Sequence[str | None] | None:
        ports = element.ports or tuple(str(index + 1) for index in range(len(element.nodes)))
        pins: list[str | None] = []
        unknown = []
        for port in ports:
            pin = told.get(port.casefold()) or find_pin(package, port)
            pins.append(pin)
            if pin is None:
                unknown.append(port)
        if len(unknown) == len(ports) == len(package.pins) == 2 and package.symmetric:
            return package.pins
        if unknown:
            message = f"{name}: {package.name} has no pin {unknown[0]!r}"
            known = ", ".join([*package.pins, *package.pin_names][:20])
            where = f"models: {{{element.model}:" if element.model else f"elements: {{{name}:"
            hint = f"its pins are {known}; the parts map can say which one it is: {where} {{package: {package.name}, "
            hint += f"pins: {{{unknown[0]}: {package.pins[0]}}}}}}}"
            self._problems.error("unknown-pin", message, element.at.span(), hint=hint)
            return None
        return pins

    def _joined(
        self, name: str, element: RawElement, package: Package, pins: Sequence[str | None], keys: Keys
    ) -> tuple[Package, Mapping[str, str]] | None:
        found: dict[str, tuple[str, str]] = {}
        for pin, key, node in zip(pins, keys, element.nodes, strict=True):
            if pin is None or key is None:
                continue
            group = next((g for g in package.joined if pin in g), (pin,))
            other = next((found[each] for each in group if each in found and found[each][0] != key), None)
            if other is not None:
                shown = f"pin {pin}" if len(group) == 1 else f"pins {'-'.join(group)}, joined inside {package.name},"
                message = f"{name}: {shown} would be in two nets, {other[1]} and {node}"
                hint = "each pin is in one net at most; look at the order of the pins in the parts map"
                self._problems.error("pin-in-two-nets", message, element.at.span(), hint=hint)
                return None
            found[pin] = (key, node)
        return package, {pin: key for pin, (key, _) in found.items()}
