"""Writing a circuit as EDIF 2 0 0: a cell for each package, an instance for each part, ``PACKAGE`` and ``VALUE`` on it.

Syntax: EDIF 2 0 0 (ANSI/EIA-548), from memory. Names that are no identifiers are renamed: ``(rename N_5V "+5V")``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from placer.circuit.model import Circuit, Net

_HEAD = """\
(edif {design}
 (edifVersion 2 0 0)
 (edifLevel 0)
 (keywordMap (keywordLevel 0))
 (library PACKAGES
  (edifLevel 0)
  (technology (numberDefinition))"""


def circuit_to_edif(circuit: Circuit) -> str:
    """Return the EDIF file's text.

    Nets have the property ``ROLE``, and ``VOLTS``, ``AMPS``, ``AC`` and ``ROLE_GIVEN`` (of a signal that was said to be
    one) where the circuit says so. Not held: names of pins, wishes, and the shape of the user's own packages.
    """
    return "\n".join([*_lines(circuit), ""])


def _lines(circuit: Circuit) -> Iterator[str]:
    cells, instances, nets = _Identifiers(), _Identifiers(), _Identifiers()
    design = _Identifiers().define(circuit.name)
    yield _HEAD.format(design=design)
    cell_of = {name: cells.take(name) for name in circuit.packages}
    ports: dict[str, dict[str, str]] = {}
    for name, package in circuit.packages.items():
        yield f"  (cell {_renamed(cell_of[name], name)} (cellType GENERIC)"
        yield "   (view NETLIST (viewType NETLIST)"
        yield "    (interface"
        known = _Identifiers()
        ports[name] = {pin: known.take(pin) for pin in package.pins}
        for number, identifier in ports[name].items():
            yield f"     (port {_renamed(identifier, number)} (direction INOUT))"
        yield "    )))"
    yield " )"
    yield " (library DESIGNS"
    yield "  (edifLevel 0)"
    yield "  (technology (numberDefinition))"
    yield f"  (cell {design} (cellType GENERIC)"
    yield "   (view NETLIST (viewType NETLIST)"
    yield "    (interface)"
    yield "    (contents"
    ids = {part.ref: instances.take(part.ref) for part in circuit.parts}
    for part in circuit.parts:
        cell = f"(viewRef NETLIST (cellRef {cell_of[part.package]} (libraryRef PACKAGES)))"
        value = f" (property VALUE (string {_text(part.value)}))" if part.value else ""
        told = f"(property PACKAGE (string {_text(part.package)}))"
        yield f"     (instance {_renamed(ids[part.ref], part.ref)} {cell}"
        yield f"      {told}{value})"
    package_of = {part.ref: part.package for part in circuit.parts}
    for net in circuit.nets:
        yield f"     (net {nets.define(net.name)}"
        yield "      (joined"
        for pin in net.pins:
            yield f"       (portRef {ports[package_of[pin.part]][pin.pin]} (instanceRef {ids[pin.part]}))"
        yield f"      ){_net_properties(net)})"
    yield "    )))"
    yield " )"
    about = f"\n  (property ABOUT (string {_text(circuit.about)}))" if circuit.about else ""
    yield f" (design {design}"
    yield f"  (cellRef {design.split()[1] if design.startswith('(') else design} (libraryRef DESIGNS)){about}))"


def _net_properties(net: Net) -> str:
    told = [f"(property ROLE (string {_text(net.role)}))"]
    told += [f"(property VOLTS (string {_text(f'{net.volts!r}')}))"] if net.volts is not None else []
    told += [f"(property AMPS (string {_text(f'{net.amps!r}')}))"] if net.amps is not None else []
    for name, holds in (("AC", net.ac), ("ROLE_GIVEN", net.plain)):
        told += [f"(property {name} (boolean (true)))"] if holds else []
    return "".join(f"\n      {each}" for each in told)


class _Identifiers:
    """Hands out identifiers, each once; capitals do not count."""

    def __init__(self) -> None:
        self._taken: set[str] = set()

    def take(self, name: str) -> str:
        """Return an identifier like the name: letters, digits and ``_``, and ``&`` before what is no letter."""
        plain = re.sub(r"[^A-Za-z0-9_]", "_", name)[:200]
        if not plain[:1].isalpha():
            plain = f"&{plain}"
        found, number = plain, 1
        while found.lower() in self._taken:
            number += 1
            found = f"{plain}_{number}"
        self._taken.add(found.lower())
        return found

    def define(self, name: str) -> str:
        """Take an identifier and return what defines it."""
        return _renamed(self.take(name), name)


def _renamed(identifier: str, name: str) -> str:
    return identifier if identifier.removeprefix("&") == name else f"(rename {identifier} {_text(name)})"


def _text(text: str) -> str:
    """Return a text in quotes; quotes, percent signs and what is not ASCII stand as their codes."""
    return '"' + re.sub(r'[^ -~]+|["%]+', lambda m: "%" + " ".join(str(ord(c)) for c in m[0]) + "%", text) + '"'
