"""What the local search hands on."""

from __future__ import annotations

from dataclasses import dataclass

from placer.solve.arrays import Places


@dataclass(frozen=True)
class Found:
    """A legal state: its cost in jumpers and cuts, and its places."""

    cost: float
    length: float
    places: Places
