"""Which kind of the tool's files some data come from: told where one of another kind has been named by mistake.

A list of keys that are not known helps nobody who has named a board where a circuit was asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from placer.errors import Diagnostic, PlacerError
from placer.marked import Document

PLAN, BOARD, CIRCUIT, PARTS_MAP = "plan", "board", "circuit", "parts map"

GOES: Mapping[str, str] = {
    PLAN: "name it with --from, or ask placer check or placer guide about it",
    BOARD: "name it with --board",
    CIRCUIT: "name it first: placer plan CIRCUIT",
    PARTS_MAP: "name it with --parts, beside a netlist",
}
"""Where a file of each kind is named."""


def kind_of_file(data: Any) -> str | None:
    """Return the kind, as far as keys of the top tell it; None where they do not."""
    if not isinstance(data, Mapping):
        return None
    written = str(data.get("format", "")).removeprefix("placer-")
    if written in (PLAN, BOARD):
        return written
    if "parts" in data or "nets" in data:
        return CIRCUIT if "parts" in data and "nets" in data and "board" not in data else None
    if "board" in data:
        return BOARD
    return PARTS_MAP if ("elements" in data or "models" in data) and "circuit" not in data else None


def expect(kind: str, document: Document) -> None:
    """Refuse a document that is plainly of another kind. Raises PlacerError."""
    found = kind_of_file(document.data)
    if found is not None and found != kind:
        message = f"{document.file} is a {found}, expected a {kind}"
        raise PlacerError(Diagnostic("another-kind-of-file", message, GOES[found], span=document.span()))
