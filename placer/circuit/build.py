"""From the plain data of a circuit file to the frozen circuit, with every problem found on the way."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from placer.circuit.model import Circuit, Net, Part, PinRef
from placer.circuit.pins import PinFinder, pin_list
from placer.circuit.problems import Problems, name_fault
from placer.circuit.schema import Loc, Locate, NetSchema, PartSchema, PlaceSchema, kind_of, validate
from placer.circuit.shared import read_shared
from placer.circuit.wishes import read_wishes
from placer.packages.fit import on_wires
from placer.packages.model import Package

MAX_PARTS = 2000
KEYS = ("circuit", "about", "parts", "nets", "wishes", "packages")

Packages = Callable[[str, Loc], Package | None]
"""``packages(name, loc)``: the package of that name; None when there is none, the reason recorded already."""


def build_circuit(
    data: Any, locate: Locate, packages: Packages, problems: Problems, default_name: str
) -> Circuit | None:
    """Return the circuit that the data mean, or None with at least one error recorded.

    ``locate`` gives the place of a value in the source, ``packages`` the package of a name; ``default_name`` is the
    circuit's name where the data give none.
    """
    if not isinstance(data, Mapping):
        message = f"a circuit file is a mapping with the keys {', '.join(KEYS)}; found {kind_of(data)}"
        problems.error("empty-circuit" if data is None else "wrong-type", message, locate(()))
        return None
    for key in data:
        if key not in KEYS:
            hint = problems.did_you_mean(key, KEYS) or f"known keys: {', '.join(KEYS)}"
            problems.error(
                "unknown-key", f"key {key!r} is not known in a circuit file", locate((key,), key=True), hint=hint
            )
    name = _text(data, "circuit", locate, problems) or default_name
    _check_name("circuit name", name, ("circuit",), locate, problems)
    about = _text(data, "about", locate, problems)
    if "\n" in about:
        about = " ".join(about.split())  # one line in every list and drawing
    fault = name_fault(about, longest=500, empty_allowed=True)
    if fault:
        problems.error("bad-name", f"about {fault}", locate(("about",)))
    read = _Parts(data.get("parts"), locate, packages, problems)
    parts = read.with_wishes()
    nets = _read_nets(data.get("nets"), read.finder, locate, problems)
    wishes = read_shared(data.get("wishes"), read.finder.refs, nets, locate, problems)
    _warn(parts, nets, locate, problems)
    if problems.any:
        return None
    used = {part.package: read.package_of[part.ref] for part in parts}
    return Circuit(name, parts, nets, used, about, wishes)


def _text(data: Mapping[str, Any], key: str, locate: Locate, problems: Problems) -> str:
    value = data.get(key)
    if value is None:
        return ""
    if not isinstance(value, str):
        problems.error("wrong-type", f"{key}: expected text, found {kind_of(value)}", locate((key,)))
        return ""
    return value


def _check_name(what: str, name: str, loc: Loc, locate: Locate, problems: Problems, *, key: bool = False) -> None:
    fault = name_fault(name)
    if fault:
        problems.error(
            "bad-name", f"{what} {_quoted(name)} {fault}", locate(loc, key=key), hint="give it a short plain name"
        )


def _quoted(name: str) -> str:
    return repr(name if len(name) <= 40 else name[:40] + "...")


def _section(data: Any, key: str, what: str, locate: Locate, problems: Problems) -> Mapping[str, Any]:
    if data is None or data == {}:
        message = f"the circuit has no {key}"
        problems.error("empty-circuit", message, locate((key,), key=True), hint=f"list its {key} under {key}:")
        return {}
    if not isinstance(data, Mapping):
        message = f"{key}: expected a mapping from {what}, found {kind_of(data)}"
        problems.error("wrong-type", message, locate((key,)))
        return {}
    return data


class _Parts:
    """Reads the parts: schemas, packages and aliases first, so that wishes may name parts that come later."""

    def __init__(self, data: Any, locate: Locate, packages: Packages, problems: Problems) -> None:
        self._locate = locate
        self._problems = problems
        self._schemas: dict[str, PartSchema] = {}
        self._names: dict[str, dict[str, str]] = {}
        self.package_of: dict[str, Package] = {}
        section = _section(data, "parts", "reference to part", locate, problems)
        if len(section) > MAX_PARTS:
            message = f"the circuit has {len(section)} parts, {MAX_PARTS} is the most"
            problems.error(
                "too-many-parts", message, locate(("parts",), key=True), hint="split the circuit over boards"
            )
            section = {}
        for ref, raw in section.items():
            loc: Loc = ("parts", ref)
            _check_name("part name", ref, loc, locate, problems, key=True)
            schema = validate(PartSchema, {} if raw is None else raw, loc, locate, problems, f"part {ref}")
            if schema is None:
                continue
            self._schemas[ref] = schema
            fault = name_fault(schema.value, empty_allowed=True)
            if fault:
                message = f"part {ref}: value {_quoted(schema.value)} {fault}"
                problems.error("bad-name", message, locate((*loc, "value")))
            package = packages(schema.package, (*loc, "package"))
            if package is not None and _on_wires(schema.place):
                package = on_wires(package)
            if package is not None:
                self.package_of[ref] = package
                self._names[ref] = self._aliases(ref, schema, package)
        self.finder = PinFinder(tuple(section), self.package_of, self._names, problems)

    def with_wishes(self) -> tuple[Part, ...]:
        """Return the parts that could be read, wishes included."""
        parts = []
        asked: dict[str, PinRef] = {}
        for ref, schema in self._schemas.items():
            if ref in self.package_of:
                loc: Loc = ("parts", ref, "place")
                raw = {} if schema.place is None else schema.place
                wishes = validate(PlaceSchema, raw, loc, self._locate, self._problems, f"part {ref}: place")
                if wishes is None:
                    continue
                place = read_wishes(ref, wishes, loc, self._locate, self.finder, self._problems, asked)
                package = self.package_of[ref].name
                parts.append(Part(ref, package, schema.value, self._names[ref], place))
        return tuple(parts)

    def _aliases(self, ref: str, schema: PartSchema, package: Package) -> dict[str, str]:
        names: dict[str, str] = {}
        for alias, pin in schema.pins.items():
            loc: Loc = ("parts", ref, "pins", alias)
            _check_name(f"part {ref}: pin name", alias, loc, self._locate, self._problems, key=True)
            number = pin if pin in package.pins else package.pin_names.get(pin)
            if number is None:
                hint = self._problems.did_you_mean(pin, (*package.pins, *package.pin_names)) or pin_list(package)
                message = f"part {ref}: pin name {alias} stands for pin {pin}, which {package.name} does not have"
                self._problems.error("unknown-pin", message, self._locate(loc), hint=hint)
            elif alias in package.pins and alias != number:
                message = f"part {ref}: pin name {alias} stands for pin {number}, but is the number of another pin"
                hint = f"write {ref}.{number} in the nets, or choose another name"
                self._problems.error("ambiguous-pin-name", message, self._locate(loc, key=True), hint=hint)
            else:
                names[alias] = number
        return names


def _on_wires(place: Any) -> bool:
    """True where a part's ``place`` wishes it onto wires; what is wrong with the wish is told with the other wishes."""
    flying = place.get("flying") if isinstance(place, Mapping) else None
    return isinstance(flying, str) and flying.lower() in ("true", "yes", "on", "1", "y", "t")


def _read_nets(data: Any, finder: PinFinder, locate: Locate, problems: Problems) -> tuple[Net, ...]:
    nets = []
    owner: dict[PinRef, tuple[str, Loc]] = {}
    for name, raw in _section(data, "nets", "net name to pins", locate, problems).items():
        loc: Loc = ("nets", name)
        _check_name("net name", name, loc, locate, problems, key=True)
        long_form = isinstance(raw, Mapping)
        if not long_form and not isinstance(raw, list | str):
            message = f"net {name}: expected a list of pins or a mapping with the key pins, found {kind_of(raw)}"
            problems.error("net-without-pins", message, locate(loc, key=True), hint=f"such as {name}: [U1.8, R1.1]")
            continue
        what = f"net {name}"
        schema = validate(
            NetSchema, raw if long_form else {"pins": raw}, loc, _shifted(locate, long_form), problems, what
        )
        if schema is None:
            continue
        if not schema.pins:
            problems.error("net-without-pins", f"net {name} has no pins", locate(loc, key=True), hint="list its pins")
        inner: Loc = (*loc, "pins") if long_form else loc
        pins = []
        for number, written in enumerate(schema.pins):
            is_list = isinstance(raw["pins"] if isinstance(raw, Mapping) else raw, list)
            at: Loc = (*inner, number) if is_list else inner
            pin = finder.find(written, f"net {name}", locate(at))
            if pin is None:
                continue
            if pin in owner:
                _report_twice(pin, written, name, owner[pin], locate(at), locate, problems)
                continue
            owner[pin] = (name, at)
            pins.append(pin)
        plain = schema.role == "signal" and "role" in schema.model_fields_set
        nets.append(Net(name, tuple(pins), schema.role, schema.volts, schema.amps, schema.ac, plain))
        _check_alternating(name, schema, loc, locate, problems)
    _check_joined(owner, finder, locate, problems)
    return tuple(nets)


def _check_alternating(name: str, schema: NetSchema, loc: Loc, locate: Locate, problems: Problems) -> None:
    """``ac`` makes an r.m.s. value of ``volts``: there must be one, and it has no sign."""
    if schema.ac and schema.volts is None and schema.amps is None:
        message = f"net {name} is ac, but has neither volts nor amps that it could tell of"
        problems.error("ac-without-volts", message, locate((*loc, "ac")), hint="add volts: (r.m.s.), or leave ac out")
    elif schema.ac and schema.volts is not None and schema.volts < 0:
        message = f"net {name} is ac and has volts {schema.volts:g}; an r.m.s. value is not below 0"
        problems.error("ac-below-zero", message, locate((*loc, "volts")), hint="leave the sign out")
    elif schema.ac and schema.role == "ground":
        message = f"net {name} is ac and has role ground; ground is what volts are counted from"
        problems.error("ac-ground", message, locate((*loc, "ac")), hint="leave ac out")


def _shifted(locate: Locate, long_form: bool) -> Locate:
    """Short-form nets are checked as ``{pins: ...}``: drop that step again to find the place."""
    if long_form:
        return locate
    return lambda loc, key=False: locate(loc[:2] + loc[3:], key=key)


def _report_twice(
    pin: PinRef, written: str, net: str, first: tuple[str, Loc], span: Any, locate: Locate, problems: Problems
) -> None:
    other, loc = first
    shown = str(pin) if written == str(pin) else f"{pin} (written {written})"
    line = locate(loc).line
    there = f" on line {line}" if line else ""
    if other == net:
        problems.error(
            "pin-twice", f"net {net}: pin {shown} stands in it already{there}", span, hint="keep one of the two"
        )
    else:
        message = f"net {net}: pin {shown} is in net {other} already{there}; a pin is in one net at most"
        hint = f"keep it in one of {other} and {net}, or make the two nets one"
        problems.error("pin-in-two-nets", message, span, hint=hint)


def _check_joined(
    owner: Mapping[PinRef, tuple[str, Loc]], finder: PinFinder, locate: Locate, problems: Problems
) -> None:
    for ref, package in finder.package_of.items():
        for group in package.joined:
            placed = [PinRef(ref, pin) for pin in group if PinRef(ref, pin) in owner]
            for pin in placed[1:]:
                first, (net, loc) = placed[0], owner[pin]
                if owner[first][0] != net:
                    message = (
                        f"pins {first} and {pin} are joined inside the part, "
                        f"yet stand in two nets, {owner[first][0]} and {net}: they would be shorted"
                    )
                    hint = f"pins joined inside {package.name}: {', '.join('-'.join(g) for g in package.joined)}"
                    problems.error("joined-pins-in-two-nets", message, locate(loc), hint=hint)


def _warn(parts: tuple[Part, ...], nets: tuple[Net, ...], locate: Locate, problems: Problems) -> None:
    for net in nets:
        if len(net.pins) == 1:
            message = f"net {net.name} has one pin only, {net.pins[0]}: it joins nothing"
            problems.warning("net-with-one-pin", message, locate(("nets", net.name), key=True))
    connected = {pin.part for net in nets for pin in net.pins}
    for part in parts:
        if part.ref not in connected:
            message = f"part {part.ref} has no pin in any net"
            problems.warning("part-unconnected", message, locate(("parts", part.ref), key=True))
