"""Which cell a name means where it stands, and whether a cell can be laid out flat."""

from __future__ import annotations

from dataclasses import dataclass

from placer.circuit.kinds import Refusal, refusal
from placer.circuit.partsmap import PartsMap
from placer.circuit.raw import RawCell, RawElement, RawNetlist

MAX_DEPTH = 40
"""How deep subcircuits may stand in each other."""


@dataclass(frozen=True)
class Scope:
    """Where names of cells and models are looked up: in a cell, then in what it is defined in."""

    cell: RawCell
    outer: Scope | None = None

    def find_cell(self, key: str) -> Scope | None:
        """Return the scope of the inside of a cell, or None where no cell is called so."""
        here: Scope | None = self
        while here is not None:
            if key in here.cell.cells:
                return Scope(here.cell.cells[key], here)
            here = here.outer
        return None


class Cells:
    """Looks into the cells of a netlist, each once."""

    def __init__(self, raw: RawNetlist, parts_map: PartsMap) -> None:
        self._raw = raw
        self._map = parts_map
        self._fit: dict[int, Refusal | None] = {}

    def inside(self, element: RawElement, scope: Scope) -> Scope | None:
        """Return the inside of the cell that an element is an instance of; None where there is none to be seen."""
        if element.kind != "X":
            return None
        inner = scope.find_cell(self._raw.key(element.model))
        # One without elements is declared for its ports only: there is nothing that could be laid out.
        return None if inner is None or inner.cell.leaf or not inner.cell.elements else inner

    def unfit(self, scope: Scope, depth: int = 0) -> Refusal | None:
        """Return why a cell cannot be laid out: its first element that cannot be built; None where it can.

        Cells that stand inside themselves must have been refused before.
        """
        if depth > MAX_DEPTH:
            return Refusal(scope.cell.name, "a subcircuit that stands too deep in others", "lay some out by hand")
        key = id(scope.cell)
        if key not in self._fit:
            self._fit[key] = None
            self._fit[key] = next((why for e in scope.cell.elements if (why := self._element(e, scope, depth))), None)
        return self._fit[key]

    def _element(self, element: RawElement, scope: Scope, depth: int) -> Refusal | None:
        named = element.model and self._map.models.find(element.model)
        if element.package or named or self._map.elements.find(element.name):
            return None
        inner = self.inside(element, scope)
        if inner is None:
            return refusal(element)
        return None if self._map.flatten.find(inner.cell.name) else self.unfit(inner, depth + 1)
