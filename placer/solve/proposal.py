"""What the clauses of a bound propose, and what is answered: conflicts. Data only."""

from __future__ import annotations

from dataclasses import dataclass, field

from placer.solve.claims import Pin
from placer.solve.sat import Counter


@dataclass(frozen=True)
class Chain:
    """The count that stands behind a cost: its next literal costs as much again."""

    counter: Counter
    count: int


@dataclass(frozen=True)
class Proposal:
    """What the clauses allow: the strip of each pin, and nets in more than one piece.

    ``segments``: where strips may be severed, the pins of each segment that is in use. ``places``: where columns are
    known as well, (shape, line of the frame, column) of each item.
    ``helped``: net -> how many empty strips help to wire it.
    """

    strip: dict[Pin, int]
    several: frozenset[int]
    segments: tuple[frozenset[Pin], ...] = ()
    places: dict[int, tuple[int, int, int]] | None = None
    helped: dict[int, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Conflict:
    """What cannot all be at once.

    ``pairs``: pins of one net that share a strip on which sharing counts (or one segment of it); ``long``: pins on
    other strips; ``several``: nets in more than one piece; ``on``: pins on a strip of the frame; ``apart``: pairs of
    pins on different strips; ``unhelped``: (net, number) where so many empty strips at most help.
    """

    pairs: frozenset[tuple[Pin, Pin]] = frozenset()
    long: frozenset[Pin] = frozenset()
    several: frozenset[int] = frozenset()
    on: frozenset[tuple[Pin, int]] = frozenset()
    apart: frozenset[tuple[Pin, Pin]] = frozenset()
    unhelped: frozenset[tuple[int, int]] = frozenset()
