"""What the letters of elements mean: packages unless the map says otherwise, and what cannot be built."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from placer.circuit.raw import RawElement
from placer.circuit.values import spice_number


@dataclass(frozen=True)
class Default:
    """The package of a kind of element, and its pins in node order. ``assumed``: devices differ in their pins."""

    package: str
    pins: tuple[str, ...]
    assumed: bool = False


# Choices of this project: the packages that are most often on a bench (common practice, no source). Transistors: many
# in TO-92 have emitter, base, collector in this order, as the 2N3904 has; many others do not.
DEFAULTS: Mapping[str, Default] = {
    "R": Default("axial-0207", ("1", "2")),
    "C": Default("disc-5", ("1", "2")),
    "L": Default("axial-0309", ("1", "2")),
    "D": Default("do-35", ("1", "2")),
    "Q": Default("to-92", ("3", "2", "1"), assumed=True),
    "V": Default("pad-2", ("1", "2")),
    "I": Default("pad-2", ("1", "2")),
}

NODE_NAMES: Mapping[str, tuple[str, ...]] = {
    # Node order of SPICE3 (user's manual, from memory).
    "D": ("A", "K"),
    "Q": ("C", "B", "E"),
    "J": ("D", "G", "S"),
    "Z": ("D", "G", "S"),
    "M": ("D", "G", "S"),
}

# SPICE3 and the two simulators that the tests read examples of (from memory and from their manuals' lists of elements).
WHAT: Mapping[str, str] = {
    "A": "a mixed-mode device",
    "B": "a source with a formula",
    "E": "a controlled source",
    "F": "a controlled source",
    "G": "a controlled source",
    "H": "a controlled source",
    "J": "a field-effect transistor that the map does not name",
    "K": "a coupling of inductors",
    "M": "a field-effect transistor that the map does not name",
    "N": "a device given by code",
    "O": "a line",
    "P": "a group of lines",
    "S": "a switch",
    "T": "a line",
    "U": "a line or logic device",
    "W": "a switch",
    "X": "a subcircuit or cell that is not known",
    "Y": "a line or admittance",
    "Z": "a field-effect transistor that the map does not name",
}

_TRANSISTOR = "give its package: models: {{{model}: {{package: to-92, pins: [1, 2, 3]}}}} {map}, pins in node order"
_CELL = (
    "say what part it is: models: {{{model}: {{package: {package}{pins}}}}} {map}, pins in node order; "
    "or add its definition"
)
_OTHER = (
    "replace it by the part that it stands for, or name that part: elements: {{{name}: {{package: ...}}}} {map}; "
    "omit: true there leaves it out"
)

LARGE_FARADS = 1e-6  # from here on capacitors are mostly electrolytic (common practice, no source)


def is_large_capacitor(element: RawElement, kind: str) -> bool:
    """True for a capacitor that is most likely polar."""
    return kind == "C" and (spice_number(element.value) or 0) >= LARGE_FARADS


def is_light(element: RawElement, kind: str) -> bool:
    """True for a diode that its name or its model calls an LED."""
    return kind == "D" and any("led" in word.casefold() for word in (element.model, element.name.rsplit(".", 1)[-1]))


@dataclass(frozen=True)
class Refusal:
    """Why an element cannot be built. ``hint`` has the fields map, model, name, package and pins (", pins: [1, 2]")."""

    element: str
    what: str
    hint: str


def kind_of_element(element: RawElement) -> str:
    """Return the kind of an element: its own, or what the letters of its name say (``R12``: R), or ""."""
    if element.kind and element.kind != "X":
        return element.kind
    if element.kind == "X" and element.nodes and not element.ports:
        return "X"
    letters = re.match(r"[A-Za-z]*", element.name.rsplit(".", 1)[-1])
    found = letters[0].upper() if letters else ""
    return "D" if found == "LED" else found if found in DEFAULTS else element.kind


MOST_PINS = 40  # of a package that is proposed


def package_with(pins: int) -> str:
    """Return a package with that many pins, 1 to 40, or a few more: a place to begin."""
    if pins <= 3:
        return {1: "pad-1", 2: "terminal-2", 3: "header-3"}[pins]
    if pins == 5:
        return "dip-8"  # an amplifier more often than anything else (common practice, no source)
    if pins <= 20:
        return f"dip-{pins + pins % 2}"
    return "dip-28" if pins <= 28 else "dip-40-wide"


def refusal(element: RawElement) -> Refusal | None:
    """Return why an element has no default package; None when it has one."""
    kind = kind_of_element(element)
    if kind in DEFAULTS:
        return None
    if not kind or kind == "X":
        return Refusal(element.name, WHAT["X"], _CELL if element.model else _OTHER)
    what = WHAT.get(kind, f"an element of the kind {kind}")
    return Refusal(element.name, what, _TRANSISTOR if kind in ("J", "M", "Z") and element.model else _OTHER)
