"""Read a board from a file: YAML in our syntax, or the JSON that ``placer board NAME --json`` prints."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from pydantic import ValidationError

from placer.boards.data import board_from_data
from placer.boards.expand import Expanded, Loc, expand
from placer.boards.labels import fill
from placer.boards.model import Board
from placer.boards.schema import BoardFile, Head, diagnostics_of
from placer.boards.selfcheck import Fault, find_faults
from placer.errors import Diagnostic, PlacerError
from placer.filekinds import BOARD, expect
from placer.marked import Document, load_marked

MAX_DIAGNOSTICS = 20
# Where within a block, rail or strip the cause of a fault is written, as narrow as can be said.
_KEY_AT_FAULT = {
    "strip-name-twice": "name",
    "holes-on-one-place": "at",
    "hole-outside-outline": "at",
    "hole-diameter": "hole_mm",
    "label-missing": "at",
    "run-askew": "runs",
    "link-to-nowhere": "links",
    "link-to-itself": "links",
    "link-across-hole": "links",
    "cut-strip-not-a-path": "cut",
    "cut-beyond-board": "cut",
    "port-strip-unknown": "pads",
    "port-outside-outline": "pads",
}


def read_board(path: Path, *, text: str | None = None, parameters: Mapping[str, int] | None = None) -> Board:
    """Read and self-check a board. ``text``: the content, when at hand; ``parameters`` replace the file's defaults.

    Raises PlacerError with the place of every fault.
    """
    document = load_marked(path, text=text)
    expect(BOARD, document)
    data = document.data
    if isinstance(data, dict) and "format" in data:
        return board_from_data(document.typed, span=lambda loc, key: document.span(loc, key=key))
    head = read_head(document)
    values = _parameter_values(document, head, parameters or {})
    try:
        file = BoardFile.model_validate(data, context=values)
    except ValidationError as err:
        raise _refusal(*diagnostics_of(err, lambda loc, key: document.span(loc, key=key))) from None
    expanded = expand(file, fill(head.board, {key: str(value) for key, value in values.items()}))
    found = [(m.diagnostic, m.loc) for m in expanded.misfits]
    if not found:
        found = [(fault.diagnostic, _place(fault, expanded)) for fault in find_faults(expanded.board)]
    if found:
        raise _refusal(*_gathered(found, document))
    return expanded.board


def read_head(document: Document) -> Head:
    """Read name, parameters and sizes of a board file. Raises PlacerError with the place of a fault."""
    if not isinstance(document.data, dict):
        found = "nothing" if document.data is None else "something else than keys and values"
        message = f"{document.file} holds {found}, expected a board"
        raise PlacerError(Diagnostic("board-file-empty", message, "begin with  board: NAME", span=document.span()))
    try:
        return Head.model_validate(document.data)
    except ValidationError as err:
        raise _refusal(*diagnostics_of(err, lambda loc, key: document.span(loc, key=key))) from None


def _parameter_values(document: Document, head: Head, wanted: Mapping[str, int]) -> Mapping[str, int]:
    """Return the value of each parameter. Raises PlacerError for an unknown one and one beyond its limits."""
    values: dict[str, int] = {}
    for name in wanted:
        if name not in head.parameters:
            known = ", ".join(head.parameters) or "none"
            message = f"parameter {name} is not known, expected one of: {known}"
            raise PlacerError(Diagnostic("parameter-unknown", message, span=document.span(("parameters",), key=True)))
    for name, parameter in head.parameters.items():
        value = wanted.get(name, parameter.default)
        if not parameter.min <= value <= parameter.max:
            message = f"parameter {name} is {value}, expected {parameter.min} to {parameter.max}"
            span = document.span(("parameters", name))
            raise PlacerError(Diagnostic("parameter-out-of-range", message, "ask for another number", span=span))
        values[name] = value
    return values


def _place(fault: Fault, expanded: Expanded) -> Loc:
    """Return the place in the file that caused a fault of the self-check."""
    if fault.kind == "hole":
        return expanded.hole_origin.get(fault.subject, ())
    if fault.kind == "strip":
        return expanded.strip_origin.get(fault.subject, ())
    if fault.kind == "keepout" and any(m.name == fault.subject for m in expanded.board.mounting):
        return ("mounting", fault.subject)
    top = {"port": "ports", "keepout": "keepouts"}.get(fault.kind)
    return (top, fault.subject) if top else (fault.kind,)


def _gathered(found: Sequence[tuple[Diagnostic, Loc]], document: Document) -> Iterator[Diagnostic]:
    """Point at the place of each fault; of one kind from one place only the first is told, and how many follow."""
    alike: dict[tuple[str, Loc], list[Diagnostic]] = {}
    for diagnostic, loc in found:
        alike.setdefault((diagnostic.code, loc), []).append(diagnostic)
    for (code, loc), diagnostics in alike.items():
        # A key that is not written out leaves the span at the whole entry.
        span = document.span((*loc, _KEY_AT_FAULT[code]) if code in _KEY_AT_FAULT else loc)
        more = f" (and {len(diagnostics) - 1} more like it)" if len(diagnostics) > 1 else ""
        yield replace(diagnostics[0], message=diagnostics[0].message + more, span=span)


def _refusal(*diagnostics: Diagnostic) -> PlacerError:
    """Make one error of many diagnostics, not more of them than anyone would read."""
    rest = len(diagnostics) - MAX_DIAGNOSTICS
    if rest > 0:
        told = f"and {rest} more faults of the same file"
        return PlacerError(*diagnostics[:MAX_DIAGNOSTICS], Diagnostic("more-faults", told))
    return PlacerError(*diagnostics)
