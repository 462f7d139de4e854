"""Parts whose own body takes every hole of a strip that one of their pins is on, wherever they stand.

No wire and no other part reaches such a pin. Where its net has pins elsewhere, the board is none for the part.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from placer.circuit.model import Part
from placer.errors import Diagnostic
from placer.solve.shapes import Shape

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

CODE = "pin-walled-in"


def reached_from_outside(nets: Sequence[int], joined: Sequence[bool], pins_of: Mapping[int, int]) -> tuple[bool, ...]:
    """For each pin of an item, whether its net has pins elsewhere, to which the part itself makes no way.

    ``joined``: pins that the part joins to others inside; ``pins_of``: net -> how many pins it has in all.
    """
    own = Counter(nets)
    return tuple(pins_of[n] > own[n] and not inside for n, inside in zip(nets, joined, strict=True))


def unwalled(
    shape: Shape,
    way: Ints,
    outside: Sequence[bool],
    joined: Sequence[bool],
    at: tuple[Ints, Ints, Ints],
    hstrip: Ints,
    shut: Bools,
) -> Bools:
    """For each place of a shape, whether each pin that must be reached from outside can be.

    A strip that a pin of the part is on which it joins to others inside can be, by these. ``at``: x and y of each hole,
    and the hole at each y and x (-1: none); ``shut``: holes that neither leads nor wires may take.
    """
    x, y, cell = at
    good = np.ones(len(way), dtype=bool)
    taken = []
    for dx, dy in (*shape.offsets, *shape.hidden):
        gx, gy = x[way] + dx, y[way] + dy
        inside = (gx >= 0) & (gx < cell.shape[1]) & (gy >= 0) & (gy < cell.shape[0])
        hole = cell[np.clip(gy, 0, cell.shape[0] - 1), np.clip(gx, 0, cell.shape[1] - 1)]
        taken.append(np.where(inside & (hole >= 0) & ~shut[hole], hstrip[hole], -1))
    free = np.bincount(hstrip[~shut], minlength=int(hstrip.max()) + 1)
    on = [hstrip[cell[y[way] + dy, x[way] + dx]] for dx, dy in shape.offsets]
    for k in np.flatnonzero(outside):
        reached = sum((strip == on[k]).astype(np.int64) for strip in taken) < free[on[k]]
        for m in np.flatnonzero(joined):
            reached |= on[m] == on[k]
        good &= reached
    return good


def walled_in(part: Part, pins: Sequence[tuple[str, str]], board: str) -> Diagnostic:
    """Say that no place on a board leaves a part's pins within reach; ``pins``: each with its net."""
    named = [f"{part.ref}.{pin} of {net}" for pin, net in pins]
    told = " or ".join(named) if len(named) < 4 else f"one of {', '.join(named)}"
    kept = "" if part.place.free else " with its wishes kept"
    return Diagnostic(
        CODE,
        f"wherever {part.ref} ({part.package}) stands on board {board}{kept}, it takes every hole of the strip that "
        f"{told} is on: no wire and no other part can be joined to it there",
        "Choose a board with longer strips, or a smaller package.",
    )
