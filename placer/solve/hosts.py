"""Parts that lie across severable strips: what shares the copper of one side of such a part stands on that side."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from placer.packages.model import STEP_UM
from placer.solve.frame import Frame
from placer.solve.problem import Item
from placer.solve.shapes import Shape


@dataclass(frozen=True)
class Line:
    """One strip under a part whose body hides every hole between the ends: runs of equal nets along it."""

    strip: int
    runs: tuple[int, ...]


def host_lines(frame: Frame, i: int) -> dict[tuple[int, ...], tuple[Line, ...]]:
    """For each set of strips that an item can take: strips with pins of several nets and no free hole between them.

    Only what holds for every place with these strips is told.
    """
    item = frame.p.items[i]
    found: dict[tuple[int, ...], set[Line]] = {}
    axis = frame.axis
    for no, shape in enumerate(item.shapes):
        if not len(frame.spots(i)[no][0]):
            continue
        by_line: dict[int, list[int]] = {}
        for k, o in enumerate(shape.offsets):
            by_line.setdefault(o[axis], []).append(k)
        good: list[tuple[int, list[int]]] = []
        for ks in by_line.values():
            ks.sort(key=lambda k: shape.offsets[k][1 - axis])
            if len({item.nets[k] for k in ks}) > 1 and _closed(shape, ks, axis):
                good.append((ks[0], ks))
        for key in map(tuple, np.unique(frame.strips_of(i, no), axis=0).tolist()):
            lines = {
                Line(key[first], tuple(n for n, _ in itertools.groupby(item.nets[k] for k in ks)))
                for first, ks in good
                if len({key[k] for k in ks}) == 1
            }
            found[key] = found[key] & lines if key in found else lines
    return {key: tuple(sorted(lines, key=lambda x: x.strip)) for key, lines in found.items() if lines}


def _closed(shape: Shape, ks: list[int], axis: int) -> bool:
    """One box of the body spans all the part's lines and hides the holes between the outermost pins of this one."""
    if shape.slants:
        return False
    own = set(shape.offsets)
    line = shape.offsets[ks[0]][axis]
    first, last = shape.offsets[ks[0]][1 - axis], shape.offsets[ks[-1]][1 - axis]
    cells = [(c, line) if axis else (line, c) for c in range(first + 1, last)]
    for box in shape.boxes:
        low, high = box[axis], box[2 + axis]
        if not all(low < o[axis] * STEP_UM < high for o in shape.offsets):
            continue
        if all(
            cell in own or (box[0] < cell[0] * STEP_UM < box[2] and box[1] < cell[1] * STEP_UM < box[3])
            for cell in cells
        ):
            near, far = box[1 - axis], box[3 - axis]
            return bool(near < last * STEP_UM and far > first * STEP_UM)
    return False


def sideable(item: Item, axis: int) -> bool:
    """However the item lies, one box of its body reaches along all its pins: it stands wholly beside another body."""
    if len(item.pins) < 2:
        return False

    def ok(shape: Shape) -> bool:
        if shape.slants:
            return False
        along = 1 - axis
        return any(
            box[axis] < box[2 + axis]
            and all(box[axis] <= o[axis] * STEP_UM <= box[2 + axis] for o in shape.offsets)
            and all(box[along] - STEP_UM <= o[along] * STEP_UM <= box[2 + along] + STEP_UM for o in shape.offsets)
            for box in shape.boxes
        )

    return all(ok(shape) for shape in item.shapes)
