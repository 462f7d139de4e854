"""What an EDIF netlist says: libraries of cells, the ports, instances and nets of each, and the cell on top. Data only.

Names are compared without regard to case, so everything is kept under its ``key``: the identifier in small letters.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

_RANGE = re.compile(r"(.*)[\[(<](\d{1,9}):(\d{1,9})[\])>]$", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Name:
    """An identifier and the name that people know the thing by. ``at``: where it stands in the file.

    ``size``: how many there are where the name is an array's, 0 where it is of one thing.
    """

    key: str
    text: str
    at: int
    size: int = 0

    @property
    def count(self) -> int:
        """How many things bear the name."""
        return self.size or 1

    def label(self, index: int) -> str:
        """Return the name of one of them: ``D[5]`` for the third of ``D[7:0]``, ``D[2]`` for the third of ``D``."""
        if not self.size:
            return self.text
        match = _RANGE.match(self.text)
        if match is None:
            return f"{self.text}[{index}]"
        first, last = int(match[2]), int(match[3])
        if abs(first - last) + 1 != self.size:
            return f"{match[1]}[{index}]"
        return f"{match[1]}[{first - index if first > last else first + index}]"


@dataclass(frozen=True, slots=True)
class Pin:
    """One bit of a port: of an instance (its key and index), or (``instance`` None) of the cell itself."""

    instance: tuple[str, int] | None
    port: str
    bit: int
    at: int = field(compare=False, default=0)


@dataclass(frozen=True, slots=True)
class CellRef:
    """Which view of which cell an instance is of, as keys."""

    library: str
    cell: str
    view: str
    at: int


@dataclass(frozen=True, slots=True)
class Instance:
    """A cell put to use. ``properties``: name in small letters to text."""

    name: Name
    of: CellRef
    properties: Mapping[str, str]
    designator: str = ""


@dataclass(frozen=True, slots=True)
class Net:
    """A net, or one line of a net array. ``label``: its name. ``properties``: name in small letters to text."""

    label: str
    key: str
    index: int
    pins: tuple[Pin, ...]
    at: int
    properties: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Refusal:
    """Why a view cannot be read as a netlist."""

    code: str
    message: str
    hint: str
    at: int


@dataclass(frozen=True)
class View:
    """A cell as one of its views shows it. ``nets``: each with its pins; ``has_contents`` False for a part."""

    name: Name
    kind: str
    ports: Mapping[str, Name]
    instances: Mapping[str, Instance]
    nets: tuple[Net, ...]
    has_contents: bool
    refusals: tuple[Refusal, ...] = ()


@dataclass(frozen=True)
class Cell:
    """A cell and its views by key."""

    name: Name
    views: Mapping[str, View]


@dataclass(frozen=True)
class Library:
    """A library and its cells by key. ``external``: its cells are described elsewhere, only their ports are here."""

    name: Name
    cells: Mapping[str, Cell]
    external: bool = False


@dataclass(frozen=True)
class Netlist:
    """All libraries by key, and the library, cell and view on top. ``properties``: of the design."""

    name: Name
    libraries: Mapping[str, Library]
    top: CellRef
    properties: Mapping[str, str] = field(default_factory=dict)

    def view(self, ref: CellRef) -> View:
        """Return the view that a reference means. Raises KeyError when there is none."""
        return self.libraries[ref.library].cells[ref.cell].views[ref.view]

    def cell(self, ref: CellRef) -> Cell:
        """Return the cell that a reference means. Raises KeyError when there is none."""
        return self.libraries[ref.library].cells[ref.cell]
