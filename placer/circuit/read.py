"""Reading a circuit from a file of any kind, told by its suffix: YAML or JSON, SPICE, EDIF, or a pin list (CSV)."""

from __future__ import annotations

from pathlib import Path

from placer.circuit.model import Circuit
from placer.circuit.partsmap import PartsMap, read_parts_map
from placer.circuit.problems import Problems
from placer.circuit.raw import RawNetlist
from placer.circuit.read_yaml import packages_beside, read_circuit
from placer.circuit.source import Source, read_source
from placer.errors import Diagnostic, PlacerError, Span

SPICE = (".cir", ".sp", ".spice", ".net", ".ckt")
EDIF = (".edf", ".edn", ".edif")
CSV = (".csv",)


def is_netlist(path: Path) -> bool:
    """Tell whether a file is read as a netlist that knows no packages; all others are circuit files in YAML or JSON."""
    return path.suffix.lower() in (*SPICE, *EDIF, *CSV)


def read_circuit_file(
    path: Path, parts_map: Path | None = None, *, allow_outside: bool = False
) -> tuple[Circuit, tuple[Diagnostic, ...]]:
    """Read a circuit and return it with the warnings about it.

    ``parts_map``: the file that gives packages to what a netlist names. ``allow_outside``: a netlist may include files
    that lie outside its own folder. Raises PlacerError with every problem found (the first 20).
    """
    if not is_netlist(path):
        circuit, warnings = read_circuit(path)
        if parts_map is not None:
            message = f"the parts map {parts_map} is not used: {path} is a circuit file and names its packages itself"
            unused = Diagnostic("map-not-used", message, "leave out --parts", "warning", Span(str(path)))
            warnings = (*warnings, unused)
        return circuit, warnings
    from placer.circuit.resolve import resolve

    problems = Problems()
    raw = read_raw(path, problems, allow_outside=allow_outside)
    own = packages_beside(path, problems)
    found = PartsMap(own=own) if parts_map is None else read_parts_map(parts_map, problems, own)
    circuit_or_none = None
    if raw is not None and not problems.any:
        circuit_or_none = resolve(raw, found, problems, map_given=parts_map is not None)
    warnings = problems.finish()
    if circuit_or_none is None:  # pragma: no cover - finish() has raised
        raise PlacerError(Diagnostic("empty-circuit", f"{path} holds no circuit", span=Span(str(path))))
    return circuit_or_none, warnings


def read_raw(path: Path, problems: Problems, *, allow_outside: bool = False) -> RawNetlist | None:
    """Read a netlist; what is wrong in it is recorded in ``problems``, and None comes back where nothing is left.

    Raises PlacerError where the file cannot be read at all.
    """
    source = read_source(path)
    kind = path.suffix.lower()
    if kind in CSV:
        from placer.circuit.read_csv import read_csv_rows

        return read_csv_rows(path, source.text, problems)
    if kind in EDIF or _is_edif(source):
        from placer.circuit.edif import read_edif

        return read_edif(path, source.text, problems)
    from placer.circuit.spice.read import read_spice

    return read_spice(path, source, problems, allow_outside=allow_outside)


def _is_edif(source: Source) -> bool:
    """Tell by its beginning: the suffix .net is used for netlists of several kinds."""
    return source.text[:200].lstrip().lower().startswith("(edif")
