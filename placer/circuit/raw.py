"""A netlist as a file of another program states it: elements on nodes, cells, and no packages. Readers build it.

:mod:`placer.circuit.resolve` turns it, with a parts map, into a circuit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from placer.circuit.source import At

OPEN = ""
"""The node of a pin that is joined to nothing."""


@dataclass(frozen=True, slots=True)
class RawElement:
    """An element of a netlist: a component, or an instance of a cell.

    ``name``: as it was first written. ``kind``: the letter that says what it is, as in SPICE (``R``, ``Q``, ``V`` ...;
    ``X``: an instance of the cell ``model``); "" where the format does not say, and the letters of the name do.
    ``nodes``: names of nets in node order, as first written; :data:`OPEN` for a pin joined to nothing.
    ``ports``: where the format names them, the pin or port at which each node stands, as many as ``nodes``; else ().
    ``model``: name of the model, subcircuit or cell, "" for none. ``value``: as written, without quotes or braces.
    ``params``: further settings, names in lower case. ``package``: where the format says it, else "".
    ``at``: where the element stands.
    """

    name: str
    kind: str
    nodes: tuple[str, ...]
    at: At
    ports: tuple[str, ...] = ()
    model: str = ""
    value: str = ""
    params: Mapping[str, str] = field(default_factory=dict)
    package: str = ""


@dataclass(frozen=True, slots=True)
class RawCell:
    """A subcircuit or cell: its ports and what stands inside.

    ``cells`` and ``models``: what is defined inside it and known only there, by folded name (see :class:`RawNetlist`).
    ``params``: names in lower case and what they stand for unless an instance says otherwise.
    ``leaf``: the file tells its ports only, so that it is one part and never flattened.
    """

    name: str
    ports: tuple[str, ...]
    elements: tuple[RawElement, ...]
    at: At
    cells: Mapping[str, RawCell] = field(default_factory=dict)
    models: Mapping[str, str] = field(default_factory=dict)
    params: Mapping[str, str] = field(default_factory=dict)
    leaf: bool = False


@dataclass(frozen=True)
class NetFacts:
    """What a file tells of a net besides its pins, as :class:`placer.circuit.model.Net` has it."""

    role: str = "signal"
    volts: float | None = None
    amps: float | None = None
    ac: bool = False
    plain: bool = False


@dataclass(frozen=True)
class RawNetlist:
    """A whole netlist. ``top``: what is to be built; ``top.cells`` and ``top.models`` are known everywhere.

    ``fold``: names that differ only in capitals are one; the keys of ``cells`` and ``models`` are then in lower case.
    ``models`` map a model's name to its type (``npn``, ``d`` ..., lower case), "" where it is not told.
    ``common``: folded names of nets that are the same net inside every cell; ``ground`` of them, those that are 0 V.
    ``facts``: of nets of the top cell, by folded name, where the file tells any.
    ``figures``: values are figures as SPICE writes them. ``about``: one line on the circuit, such as a title.
    """

    name: str
    top: RawCell
    fold: bool = False
    common: frozenset[str] = frozenset()
    ground: frozenset[str] = frozenset()
    facts: Mapping[str, NetFacts] = field(default_factory=dict)
    figures: bool = False
    about: str = ""

    def key(self, name: str) -> str:
        """Return a name as it is looked up: in lower case where capitals do not count."""
        return name.lower() if self.fold else name
