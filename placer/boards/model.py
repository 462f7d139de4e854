"""A board: holes on a grid, and the copper that joins them before anything is soldered.

x runs right and y down, seen from the component side. Grid positions are integers in steps of ``pitch_mm``; positions
in mm are measured from the outline's top left corner.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property


@dataclass(frozen=True)
class Hole:
    """A hole. ``x``, ``y``: grid position (steps); ``x_mm``, ``y_mm``: the same place in mm."""

    address: str
    x: int
    y: int
    x_mm: float
    y_mm: float
    diameter_mm: float


@dataclass(frozen=True)
class CutRule:
    """How a piece of copper may be severed: drilled out at a hole, or by knife between two neighbouring holes."""

    at_hole: bool = False
    between: bool = False


@dataclass(frozen=True)
class Strip:
    """Holes joined by one piece of copper. ``holes`` follow the copper where it is a path, else are in reading order.

    ``links``: pairs of neighbouring holes that copper joins. ``is_path`` copper only can be cut.
    ``rail``: a long strip meant for power (drawn and labelled as such, no other meaning).
    ``off_grid``: those of the links whose copper runs off the grid (round the edge, say), between holes anywhere.
    """

    name: str
    holes: tuple[str, ...]
    links: tuple[tuple[str, str], ...]
    cut: CutRule = CutRule()
    rail: bool = False
    off_grid: tuple[tuple[str, str], ...] = ()

    @property
    def mark(self) -> str:
        """The sign that a rail is printed with, ``+`` or ``-``; "" of other copper.

        It is what the name ends in, but for the number of a section after a blank: ``L+``, ``P- 3``, not ``bus-2``.
        """
        found = re.search(r"([+\-\N{MINUS SIGN}])(?: \d+)?$", self.name) if self.rail else None
        return "" if found is None else found[1].replace("\N{MINUS SIGN}", "-")

    @cached_property
    def is_path(self) -> bool:
        """True when the copper runs hole to hole in the order of ``holes`` without branching."""
        run = {frozenset(p) for p in zip(self.holes, self.holes[1:], strict=False)}
        return {frozenset(link) for link in self.links} == run


@dataclass(frozen=True)
class Port:
    """A place made for a connector off the grid: what fits it, its pads (pin -> point in mm) and their strips."""

    name: str
    fits: tuple[str, ...]
    pads: Mapping[str, tuple[float, float]]
    strips: Mapping[str, str]
    about: str = ""


@dataclass(frozen=True)
class Keepout:
    """A rectangle (mm) where no body and no lead may be, such as a mounting hole's surround."""

    name: str
    x0: float
    y0: float
    x1: float
    y1: float


@dataclass(frozen=True)
class MountingHole:
    """A hole for a screw (mm). The keep-out of the same name says what room its head takes."""

    name: str
    x_mm: float
    y_mm: float
    diameter_mm: float


@dataclass(frozen=True)
class Copper:
    """The copper as made: strip width, gap to the next strip and thickness, mm (thickness in um).

    ``rise_k``: how much warmer than the air around it (K) its owner lets it get by current.
    """

    width_mm: float = 2.0
    gap_mm: float = 0.54
    thickness_um: float = 35.0
    side: str = "bottom"
    rise_k: float = 10.0


@dataclass(frozen=True)
class Board:
    """A board. ``cut``: what the board allows at all; ``cut_by_default``: whether plans may cut unless told otherwise.

    ``column_labels`` / ``row_labels``: printed labels by grid x / y, for the drawing's margins.
    ``bridges``: orthogonally neighbouring holes of two strips may be joined by a blob of solder.
    """

    name: str
    about: str
    outline_mm: tuple[float, float]
    holes: Mapping[str, Hole]
    strips: tuple[Strip, ...]
    cut: CutRule = CutRule()
    cut_by_default: bool = True
    ports: Mapping[str, Port] = field(default_factory=dict)
    keepouts: tuple[Keepout, ...] = ()
    copper: Copper = Copper()
    pitch_mm: float = 2.54
    column_labels: Mapping[int, str] = field(default_factory=dict)
    row_labels: Mapping[int, str] = field(default_factory=dict)
    sources: Mapping[str, str] = field(default_factory=dict)
    mounting: tuple[MountingHole, ...] = ()
    bridges: bool = False

    @cached_property
    def strip_of(self) -> Mapping[str, Strip]:
        """The strip that each hole belongs to (every hole belongs to exactly one; a lone pad is a strip of one)."""
        return {address: strip for strip in self.strips for address in strip.holes}

    @cached_property
    def hole_at(self) -> Mapping[tuple[int, int], Hole]:
        """Holes by grid position."""
        return {(h.x, h.y): h for h in self.holes.values()}

    def edge_holes(self, side: str) -> frozenset[str]:
        """Addresses of the holes at a side ("top", "bottom", "left", "right", or "any" for all four).

        A hole is at a side when no hole of a strip that is not a rail lies beyond it in that direction on its own grid
        line, and that line meets such a strip at all: on a board with power rails along a side, the outermost signal
        column and the rails outside it count for that side, and rails never count for the ends of the board.
        """
        if side == "any":
            return frozenset().union(*(self.edge_holes(s) for s in ("top", "bottom", "left", "right")))
        signal = [self.holes[a] for s in self.strips if not s.rail for a in s.holes] or list(self.holes.values())
        horizontal = side in ("left", "right")
        sign = -1 if side in ("left", "top") else 1
        outermost: dict[int, int] = {}
        for hole in signal:
            line, along = (hole.y, hole.x) if horizontal else (hole.x, hole.y)
            outermost[line] = max(outermost.get(line, sign * along), sign * along)
        found = set()
        for hole in self.holes.values():
            line, along = (hole.y, hole.x) if horizontal else (hole.x, hole.y)
            if line in outermost and sign * along >= outermost[line]:
                found.add(hole.address)
        return frozenset(found)
