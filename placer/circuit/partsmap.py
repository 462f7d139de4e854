"""The parts map: which package stands for which element, model or cell of a netlist that knows no packages.

A YAML file (``--parts``) with these keys, all optional::

    elements: {R7: {package: axial-0309}, "C1?": radial-6.3}     # names of elements or instances
    models:   {2N3904: {package: to-92, pins: [3, 2, 1]}}        # names of models, subcircuits or cells
    flatten:  [NAND]                                             # subcircuits that stand for what is inside them
    packages: {...}                                              # the user's own, as in a circuit file

Names may be shell patterns (``*``, ``?``, ``[...]``); a plain name wins over a pattern, an earlier pattern over a
later one. An entry is a package's name, or a mapping: ``package``; ``pins``, the pins in node or port order (``-`` for
a node that has no lead) or a mapping from port to pin; ``value``, to be printed instead of the netlist's; ``omit:
true`` instead of a package, for what is not built.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from fnmatch import translate
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict

from placer.circuit.problems import Problems, name_fault
from placer.circuit.read_yaml import PackageBook, parse_own
from placer.circuit.schema import Loc, kind_of, validate
from placer.errors import Span
from placer.filekinds import PARTS_MAP, expect
from placer.marked import Document, load_marked
from placer.packages.model import Package

KEYS = ("elements", "models", "flatten", "packages")
MAX_PATTERNS = 200
"""Each name is held against each pattern: more of them would make reading slow."""


@dataclass(frozen=True)
class Entry:
    """What the map says of a name. ``package`` None: it is not built.

    ``pins``: pin numbers in node or port order (None for a node without a lead), or port to pin number; None where the
    map does not say. ``value``: None for the netlist's own.
    """

    name: str
    span: Span
    package: Package | None = None
    pins: tuple[str | None, ...] | Mapping[str, str] | None = None
    value: str | None = None


@dataclass(frozen=True)
class Table:
    """Entries by name, and by pattern in the order of the file. Capitals do not count."""

    plain: Mapping[str, Entry] = field(default_factory=dict)
    patterns: tuple[tuple[re.Pattern[str], Entry], ...] = ()

    def find(self, name: str) -> Entry | None:
        """Return the entry for a name, or None."""
        folded = name.casefold()
        entry = self.plain.get(folded)
        if entry is None:
            entry = next((found for pattern, found in self.patterns if pattern.match(folded)), None)
        return entry

    def entries(self) -> tuple[Entry, ...]:
        """Every entry."""
        return (*self.plain.values(), *(entry for _, entry in self.patterns))


@dataclass(frozen=True)
class PartsMap:
    """The map as data. ``flatten``: entries whose package is None; ``own``: the user's packages, None where faulty."""

    elements: Table = field(default_factory=Table)
    models: Table = field(default_factory=Table)
    flatten: Table = field(default_factory=Table)
    own: Mapping[str, Package | None] = field(default_factory=dict)


class EntrySchema(BaseModel):
    """An entry in its long form; ``pins`` are read by :func:`_pins`."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    package: str | None = None
    pins: Any = None
    value: str | None = None
    omit: bool = False


def read_parts_map(
    path: Path, problems: Problems, own: Mapping[str, Package | None] | None = None, *, text: str | None = None
) -> PartsMap:
    """Read a parts map; what is wrong in it is recorded in ``problems``, and the rest is read all the same.

    ``own``: the user's packages found elsewhere; those of the map win over them. ``text``: the content, where it is at
    hand. Raises PlacerError where the file cannot be read, is no YAML, or is plainly of another kind.
    """
    document = load_marked(path, text=text)
    expect(PARTS_MAP, document)
    data = {} if document.data is None else document.data  # a map of comments only
    if not isinstance(data, Mapping):
        message = f"a parts map is a mapping with the keys {', '.join(KEYS)}; found {kind_of(data)}"
        problems.error("wrong-type", message, document.span(), hint="such as models: {2N3904: {package: to-92}}")
        return PartsMap(own=own or {})
    for key in data:
        if key not in KEYS:
            hint = problems.did_you_mean(key, KEYS) or f"known keys: {', '.join(KEYS)}"
            problems.error(
                "unknown-key", f"key {key!r} is not known in a parts map", document.span((key,), key=True), hint=hint
            )
    packages = dict(own or {})
    section = (document.typed or {}).get("packages")
    if isinstance(section, Mapping):
        packages |= parse_own(section, ("packages",), document.span, problems)
    elif section is not None:
        message = f"packages: expected a mapping from name to package, found {kind_of(data['packages'])}"
        problems.error("wrong-type", message, document.span(("packages",)))
    reader = _Reader(document, PackageBook(packages, document.span, problems), problems)
    elements, models = reader.table("elements"), reader.table("models")
    return PartsMap(elements, models, reader.flatten(), packages)


class _Reader:
    def __init__(self, document: Document, book: PackageBook, problems: Problems) -> None:
        self._document = document
        self._book = book
        self._problems = problems

    def table(self, key: str) -> Table:
        """Return the entries under ``elements`` or ``models``."""
        section = (self._document.data or {}).get(key)
        if section is None:
            return Table()
        if not isinstance(section, Mapping):
            message = f"{key}: expected a mapping from name to package, found {kind_of(section)}"
            self._problems.error("wrong-type", message, self._document.span((key,)))
            return Table()
        found = [(name, self._entry(key, name, raw)) for name, raw in section.items()]
        return self._sorted([(name, entry) for name, entry in found if entry is not None], key)

    def flatten(self) -> Table:
        """Return the names under ``flatten``."""
        section = (self._document.data or {}).get("flatten")
        if section is None:
            return Table()
        names = [section] if isinstance(section, str) else section
        if not isinstance(names, list):
            message = f"flatten: expected a list of names of subcircuits, found {kind_of(section)}"
            self._problems.error("wrong-type", message, self._document.span(("flatten",)))
            return Table()
        entries = []
        for index, name in enumerate(names):
            span = self._document.span(("flatten", index))
            if isinstance(name, str) and name:
                entries.append((name, Entry(name, span)))
            else:
                message = f"flatten: expected the name of a subcircuit, found {kind_of(name)}"
                self._problems.error("wrong-type", message, span)
        return self._sorted(entries, "flatten")

    def _sorted(self, entries: list[tuple[str, Entry]], key: str) -> Table:
        plain: dict[str, Entry] = {}
        patterns = []
        for name, entry in entries:
            folded = name.casefold()
            if re.search(r"[*?\[]", name):
                patterns.append((re.compile(translate(folded)), entry))
            elif folded in plain:
                message = f"{key}: {name} stands already on line {plain[folded].span.line}; capitals do not count"
                self._problems.error("name-twice", message, entry.span, hint="keep one of the two")
            else:
                plain[folded] = entry
        if len(patterns) > MAX_PATTERNS:
            message = f"{key}: {len(patterns)} patterns, {MAX_PATTERNS} are the most"
            self._problems.error("too-many-patterns", message, patterns[MAX_PATTERNS][1].span, hint="use plain names")
            patterns = []
        return Table(plain, tuple(patterns))

    def _entry(self, key: str, name: str, raw: Any) -> Entry | None:
        loc: Loc = (key, name)
        what = f"{key}: {name}"
        short = isinstance(raw, str)
        schema = validate(
            EntrySchema, {"package": raw} if short else raw, loc, self._document.span, self._problems, what
        )
        if schema is None:
            return None
        span = self._document.span(loc, key=True)
        if schema.value is not None and (fault := name_fault(schema.value, empty_allowed=True)):
            self._problems.error("bad-name", f"{what}: value {fault}", self._document.span((*loc, "value")))
        if schema.omit:
            if schema.package is not None:
                message = f"{what}: omit says that it is not built, yet it has a package"
                self._problems.error("map-contradiction", message, span, hint="keep one of the two")
            return Entry(name, span)
        if schema.package is None:
            if not (isinstance(raw, Mapping) and "package" in raw and raw["package"] is not None):
                hint = "such as package: to-92; list the packages with: placer parts; omit: true for what is not built"
                self._problems.error("key-missing", f"{what} has no package", span, hint=hint)
            return None
        package = self._book.find(schema.package, loc if short else (*loc, "package"))
        if package is None:
            return None
        return Entry(name, span, package, self._pins(schema.pins, (*loc, "pins"), what, package), schema.value)

    def _pins(self, raw: Any, loc: Loc, what: str, package: Package) -> tuple[str | None, ...] | dict[str, str] | None:
        if raw is None:
            return None
        if isinstance(raw, Mapping):
            named = {port: self._pin(pin, (*loc, port), what, package) for port, pin in raw.items()}
            return {port.casefold(): pin for port, pin in named.items() if pin is not None}
        if not isinstance(raw, list):
            message = f"{what}: pins: expected a list of pins, or a mapping from port to pin, found {kind_of(raw)}"
            self._problems.error("wrong-type", message, self._document.span(loc))
            return None
        return tuple(self._pin(pin, (*loc, index), what, package) for index, pin in enumerate(raw))

    def _pin(self, pin: Any, loc: Loc, what: str, package: Package) -> str | None:
        """Return a pin's number; None for no lead (``-`` or nothing), and for a pin that is refused."""
        if pin is None or pin == "-":
            return None
        number = find_pin(package, pin) if isinstance(pin, str) else None
        if number is None:
            shown = repr(pin) if isinstance(pin, str) else kind_of(pin)
            message = f"{what}: {package.name} has no pin {shown}"
            hint = f"its pins are {', '.join([*package.pins, *package.pin_names][:20])}; - for a node without a lead"
            self._problems.error("unknown-pin", message, self._document.span(loc), hint=hint)
        return number


def find_pin(package: Package, pin: str) -> str | None:
    """Return the number of the pin that a text means: its number, its name, or its name in other capitals."""
    if pin in package.pins:
        return pin
    if pin in package.pin_names:
        return package.pin_names[pin]
    folded = pin.casefold()
    return next((number for name, number in package.pin_names.items() if name.casefold() == folded), None)
