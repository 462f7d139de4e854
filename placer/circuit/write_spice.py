"""Writing a circuit as a SPICE netlist that a simulator reads as it is meant.

Resistors, capacitors, coils, diodes and sources are elements where their value says what they are; every other part is
an instance (``X``) of a subcircuit that is declared empty, with the package's pins in order: what is inside is for the
reader to put in. Values are written as SPICE reads them (``4.7k``, ``1Meg``). Names that SPICE would not keep (signs,
capitals alone, ``0`` and ``gnd``) are written otherwise, and tables in the comments say which is which.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from placer.circuit.model import Circuit, Part, PinRef
from placer.circuit.quantities import read_value, spice_value
from placer.packages.model import Package

_UNITS = {"R": ("", "ohm"), "C": ("", "F"), "L": ("", "H"), "V": ("", "V"), "I": ("", "A")}
_SOURCE_TEXT = re.compile(r"[\w.+-]+(?: [\w.+-]+)*(?: ?\([\w.+ -]*\))?")
_GROUND = ("0", "gnd")


def circuit_to_spice(circuit: Circuit) -> str:
    """Return the netlist's text.

    Not held: packages and wishes (the packages stand in a comment, a parts map gives them back), ``about`` but as a
    comment, ``amps``, and roles and volts of nets but which one is ground.
    """
    return "\n".join([*_lines(circuit), ""])


def _lines(circuit: Circuit) -> Iterator[str]:
    nodes, refs, classes = _Nodes(circuit), _Names(), _Names()
    bodies: list[str] = []
    declared: dict[tuple[str, str], str] = {}
    models: dict[str, str] = {}
    table: list[str] = []
    cells: list[str] = []
    for part in circuit.parts:
        package = circuit.packages[part.package]
        leads = [nodes.of(part, pin, package) for pin in package.pins]
        name, tail = _element(part, package, models, classes)
        if name:
            ref = refs.take(_ref(name, part.ref))
        else:
            ref = refs.take(_ref("X", part.ref))
            key = (part.package, part.value)
            if key not in declared:
                declared[key] = classes.take(_plain(f"{part.package}_{part.value}" if part.value else part.package))
                pins = " ".join(f"p{_plain(pin)}" for pin in package.pins)
                cells += [f".subckt {declared[key]} {pins}", ".ends"]
            tail = declared[key]
        bodies.append(f"{ref} {' '.join(leads)} {tail}")
        table.append(
            f"* part {_comment(ref)} is {_comment(part.ref)}, {_comment(f'{part.package} {part.value}'.strip())}"
        )
    yield _comment(circuit.name)
    if circuit.about:
        yield f"* {_comment(circuit.about)}"
    yield from (f"* net {written} is {_comment(name)}" for name, written in nodes.renamed)
    yield from table
    yield from cells
    if models:
        yield "* Models are plain diodes with the simulator's own figures; put the real ones in their place."
        yield from models.values()
    yield from bodies
    yield ".end"


def _element(part: Part, package: Package, models: dict[str, str], classes: _Names) -> tuple[str, str]:
    """Return the letter of the element that a part is, and what follows its nodes; ("", "") for none."""
    letters = re.match(r"[A-Za-z]*", part.ref.rsplit(".", 1)[-1])
    letter = letters[0].upper() if letters else ""
    if len(package.pins) != 2:
        return "", ""
    if letter in ("D", "LED") and package.pin_names.get("A") == package.pins[0]:
        if part.value not in models:
            model = classes.take(_plain(part.value or "diode", first_letter="D"))
            models[part.value] = f".model {model} D"
        return "D", models[part.value].split()[1]
    if letter not in _UNITS:
        return "", ""
    if letter in ("V", "I") and _SOURCE_TEXT.fullmatch(part.value) and read_value(part.value) is None:
        return letter, part.value  # a source with a wave, in SPICE's own words
    value = read_value(part.value, whole=True)  # what follows a value, such as a tolerance, would be lost
    if value is None or value.unit not in _UNITS[letter]:
        return "", ""
    return letter, spice_value(value.number)


def _ref(letter: str, ref: str) -> str:
    plain = _plain(ref)
    return plain if letter != "X" and plain[:1].upper() == letter else f"{letter}{plain}"


def _plain(name: str, first_letter: str = "") -> str:
    """Return a name of letters, digits, ``_`` and ``.`` only; other signs as their codes, ``_2b_`` for ``+``."""
    plain = re.sub(r"[^A-Za-z0-9_.]", lambda m: "_" if m[0] in " -" else f"_{ord(m[0]):x}_", name)
    return f"{first_letter}{plain}" if first_letter and not plain[:1].isalpha() else plain


def _comment(text: str) -> str:
    """Return a text that is safe in a comment and as a title: no control characters, and not empty."""
    return "".join(c if c.isprintable() else "?" for c in text).strip() or "-"


class _Names:
    """Hands out names, each once; capitals do not count in SPICE."""

    def __init__(self, taken: Sequence[str] = ()) -> None:
        self._taken = set(taken)

    def take(self, name: str) -> str:
        """Return the name, with a number behind it where it is taken."""
        found, number = name, 1
        while found.lower() in self._taken:
            number += 1
            found = f"{name}_{number}"
        self._taken.add(found.lower())
        return found


class _Nodes:
    """The node of each pin. The first net that is ground is SPICE's ground, called ``0`` unless it is called so."""

    def __init__(self, circuit: Circuit) -> None:
        self._circuit = circuit
        self._names = _Names(_GROUND)
        self._written: dict[str, str] = {}
        ground = next((net.name for net in circuit.nets if net.role == "ground"), "")
        ground = ground or next((net.name for net in circuit.nets if net.name.lower() in _GROUND), "")
        for net in circuit.nets:
            if net.name == ground:
                self._written[net.name] = net.name if net.name.lower() in _GROUND else "0"
            else:
                self._written[net.name] = self._names.take(_plain(net.name, first_letter="n"))
        self._open: dict[PinRef, str] = {}

    @property
    def renamed(self) -> list[tuple[str, str]]:
        """The nets that are written under another name: (name, name as written)."""
        return [(name, written) for name, written in self._written.items() if name != written]

    def of(self, part: Part, pin: str, package: Package) -> str:
        """Return the node of a pin; an open one has a node of its own, or that of the pins it is joined to inside."""
        group = next((g for g in package.joined if pin in g), (pin,))
        for mate in (pin, *group):
            net = self._circuit.net_of.get(PinRef(part.ref, mate))
            if net is not None:
                return self._written[net]
        first = PinRef(part.ref, group[0])
        if first not in self._open:
            self._open[first] = self._names.take(_plain(f"open_{part.ref}_{group[0]}"))
        return self._open[first]
