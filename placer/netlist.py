"""A circuit, or what the copper of a plan makes, written as a netlist. Prints nothing itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from placer.circuit.draftmap import draft_map
from placer.circuit.lint import lint
from placer.circuit.model import Circuit
from placer.circuit.problems import Problems
from placer.circuit.read import is_netlist, read_circuit_file, read_raw
from placer.circuit.write_csv import circuit_to_csv
from placer.circuit.write_edif import circuit_to_edif
from placer.circuit.write_spice import circuit_to_spice
from placer.circuit.write_yaml import circuit_to_yaml
from placer.errors import Diagnostic, PlacerError, Span
from placer.marked import read_text
from placer.plan.file import read_plan
from placer.plan.readback import readback

FORMATS: Mapping[str, Callable[[Circuit], str]] = {
    "spice": circuit_to_spice,
    "edif": circuit_to_edif,
    "csv": circuit_to_csv,
    "yaml": circuit_to_yaml,
}


@dataclass(frozen=True)
class Written:
    """A netlist as text, and the warnings about its circuit."""

    text: str
    warnings: tuple[Diagnostic, ...]


def write_netlist(path: Path, to: str, parts_map: Path | None = None, *, allow_outside: bool = False) -> Written:
    """Read a circuit or a plan and return it in the format ``to``, a key of :data:`FORMATS`.

    Of a plan the nets are those that its copper makes. Raises PlacerError with every problem found.
    """
    circuit, warnings = _read(path, parts_map, allow_outside=allow_outside)
    return Written(FORMATS[to](circuit), (*warnings, *lint(circuit)))


def write_draft(path: Path, *, allow_outside: bool = False) -> Written:
    """Return a first parts map for a netlist. Raises PlacerError for what needs none, and for what cannot be read."""
    if not is_netlist(path):
        message = f"{path} is no netlist in SPICE, EDIF or CSV: circuit files and plans name their packages themselves"
        raise PlacerError(Diagnostic("map-not-used", message, "leave out --draft-map", span=Span(str(path))))
    problems = Problems()
    raw = read_raw(path, problems, allow_outside=allow_outside)
    warnings = problems.finish()
    if raw is None:  # pragma: no cover - finish() has raised
        raise PlacerError(Diagnostic("empty-circuit", f"{path} holds no circuit", span=Span(str(path))))
    return Written(draft_map(raw), warnings)


def _read(path: Path, parts_map: Path | None, *, allow_outside: bool) -> tuple[Circuit, tuple[Diagnostic, ...]]:
    if is_netlist(path) or not _is_plan(path):
        return read_circuit_file(path, parts_map, allow_outside=allow_outside)
    plan = read_plan(path)
    nets = readback(plan)
    warnings: tuple[Diagnostic, ...] = ()
    if parts_map is not None:
        message = f"the parts map {parts_map} is not used: a plan names its packages itself"
        warnings = (Diagnostic("map-not-used", message, "leave out --parts", "warning", Span(str(path))),)
    wanted = {frozenset(net.pins) for net in plan.circuit.nets}
    if {frozenset(net.pins) for net in nets} != wanted:
        message = "the copper of this plan makes other nets than its circuit has; those of the copper are written"
        hint = f"placer check {path} tells where they differ"
        warnings = (*warnings, Diagnostic("copper-differs", message, hint, "warning", Span(str(path))))
    return replace(plan.circuit, nets=nets), warnings


def _is_plan(path: Path) -> bool:
    """Tell a plan file by its beginning."""
    head = read_text(path, what="circuit or plan").lstrip()[:1000]
    return head.startswith("{") and '"placer-plan"' in head
