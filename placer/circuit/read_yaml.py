"""Reading a circuit file (YAML or JSON): one mapping with the keys circuit, about, parts, nets and packages.

A user's own packages stand under ``packages:`` in the file itself, or in a parts file beside it: named by
``packages: other.yaml``, or found as ``<circuit file>.packages.yaml`` (``lamp.yaml``: ``lamp.packages.yaml``). A parts
file is a mapping from package name to package, at its top or under the key ``packages``. Own packages win over the
catalogue's.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from placer.circuit.build import build_circuit
from placer.circuit.model import Circuit
from placer.circuit.problems import Problems, name_fault
from placer.circuit.schema import Loc, Locate, kind_of
from placer.errors import Diagnostic, PlacerError, Span
from placer.filekinds import CIRCUIT, expect
from placer.marked import Document, load_marked
from placer.packages.catalogue import families, lookup, names, package_from_data, parse_package
from placer.packages.faults import PackageError
from placer.packages.model import Package


def read_circuit(path: Path, *, text: str | None = None) -> tuple[Circuit, tuple[Diagnostic, ...]]:
    """Read a circuit file and return the circuit with the warnings about it.

    ``text``: the file's content, when it is at hand already. Raises PlacerError with every problem of the file that was
    found (the first 20), each with its place, what was expected and the nearest right name.
    """
    document = load_marked(path, text=text)
    expect(CIRCUIT, document)
    problems = Problems()
    own = _own_packages(document, path, problems)
    book = PackageBook(own, document.span, problems)
    circuit = build_circuit(document.data, document.span, book.find, problems, path.stem)
    warnings = problems.finish()
    if circuit is None:  # pragma: no cover - finish() has raised
        raise PlacerError(Diagnostic("empty-circuit", f"{path} holds no circuit", span=Span(str(path))))
    return circuit, warnings


class PackageBook:
    """Finds packages by name: the user's own first, then the catalogue's. ``own``: None where one has faults."""

    def __init__(self, own: Mapping[str, Package | None], locate: Locate, problems: Problems) -> None:
        self._own = own
        self._locate = locate
        self._problems = problems

    def find(self, name: str, loc: Loc) -> Package | None:
        """Return the package, or None with the reason recorded."""
        if name in self._own:
            return self._own[name]
        try:
            return lookup(name)
        except KeyError:
            known = (*self._own, *names(), *(family.template for family in families()))
            hint = self._problems.did_you_mean(name, known) or "list the packages with: placer parts"
            self._problems.error("unknown-package", f"package {name!r} is not known", self._locate(loc), hint=hint)
        except PackageError as err:
            for fault in err.faults:
                message = f"package {name}: {fault.message}"
                self._problems.error("unknown-package", message, self._locate(loc), hint=fault.help)
        return None


def parse_own(data: Mapping[str, Any], base: Loc, locate: Locate, problems: Problems) -> dict[str, Package | None]:
    """Return a user's own packages; None for each with faults, which are recorded with their places.

    ``data``: name to package, in the syntax of the catalogue, or complete as a plan holds them (``form`` a mapping).
    """
    own: dict[str, Package | None] = {}
    for name, raw in data.items():
        loc: Loc = (*base, name)
        own[name] = None
        try:
            complete = isinstance(raw, Mapping) and isinstance(raw.get("form"), Mapping)
            package = package_from_data({**raw, "name": name}) if complete else parse_package(name, raw)
        except PackageError as err:
            for fault in err.faults:
                message = f"package {name!r}: {fault.message}"
                problems.error("bad-package", message, locate((*loc, *fault.loc), key=not fault.loc), hint=fault.help)
            continue
        fault_text = _text_fault(package)
        if fault_text:
            problems.error("bad-name", f"package {name}: {fault_text}", locate(loc, key=True), hint="remove it")
            continue
        own[name] = package
    return own


def packages_beside(path: Path, problems: Problems) -> dict[str, Package | None]:
    """Return the user's own packages from the parts file that is named after a circuit file, if there is one."""
    beside = path.with_name(f"{path.stem}.packages.yaml")
    return _parts_file(beside, problems) if beside.is_file() else {}


def _text_fault(package: Package) -> str:
    """Say which text of a package would break lists and drawings, or "" when all are fit."""
    for pin in (*package.pins, *package.pin_names):
        fault = name_fault(pin)
        if fault:
            return f"pin {pin!r} {fault}"
    for field in ("name", "about", "polarity"):
        fault = name_fault(getattr(package, field), longest=500, empty_allowed=True)
        if fault:
            return f"{field} {fault}"
    return ""


def _own_packages(document: Document, path: Path, problems: Problems) -> dict[str, Package | None]:
    data = document.typed
    section = data.get("packages") if isinstance(data, Mapping) else None
    if isinstance(section, Mapping):
        return parse_own(section, ("packages",), document.span, problems)
    if section is None:
        return packages_beside(path, problems)
    span = document.span(("packages",))
    name = document.data["packages"]
    if not isinstance(name, str):
        message = f"packages: expected a mapping from name to package, or the name of a file, found {kind_of(name)}"
        problems.error("wrong-type", message, span)
        return {}
    if not name or Path(name).name != name:
        message = f"packages: {name!r} is no plain file name; the parts file stands beside the circuit file"
        problems.error("parts-file-elsewhere", message, span, hint="move the parts file beside the circuit file")
        return {}
    beside = path.with_name(name)
    if not beside.is_file():
        problems.error("file-missing", f"parts file {beside} does not exist", span)
        return {}
    return _parts_file(beside, problems)


def _parts_file(path: Path, problems: Problems) -> dict[str, Package | None]:
    try:
        document = load_marked(path)
    except PlacerError as err:
        for diagnostic in err.diagnostics:
            problems.take(diagnostic)
        return {}
    data = document.typed
    if isinstance(data, Mapping) and set(data) == {"packages"}:
        return _mapping(data["packages"], ("packages",), document, problems)
    return _mapping(data, (), document, problems)


def _mapping(data: Any, base: Loc, document: Document, problems: Problems) -> dict[str, Package | None]:
    if not isinstance(data, Mapping):
        message = f"a parts file is a mapping from name to package, found {kind_of(data)}"
        problems.error("wrong-type", message, document.span(base))
        return {}
    return parse_own(data, base, document.span, problems)
