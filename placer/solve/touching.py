"""Which shapes can stand side by side: a table for each pair, by how far apart their first pins are.

Two shapes cannot stand together when two pins would share a hole, a pin would stand under the other's body, or the
bodies would overlap. Bodies off the axes are left out of the last, for boxes cover more than they take.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Sequence

import numpy as np
import numpy.typing as npt

from placer.packages.model import STEP_UM
from placer.solve.arrays import covered
from placer.solve.compiled import compiled
from placer.solve.layout import Ints
from placer.solve.shapes import Shape, bodies_meet

Bytes = npt.NDArray[np.uint8]
START, X0, Y0, WIDTH, HEIGHT = range(5)


class Touching:
    """The tables of all pairs of some shapes, filled in as they are asked for.

    ``at[a, b]``: where the pair's table begins in ``bits`` (-1: not made yet), the least x and y (steps) from a's first
    pin to b's at which they can touch, and the table's width and height. ``bits``: 1 where they cannot stand together.
    """

    def __init__(self, shapes: Sequence[Shape]) -> None:
        self.shapes = shapes
        n = len(shapes)
        self.at = np.full((n, n, 5), -1, np.int64)
        self.bits: Bytes = np.zeros(1 << 16, np.uint8)
        self.used = 0
        self._made: set[tuple[tuple[int, ...], tuple[int, ...]]] = set()
        self.ranges: list[tuple[int, int, int, int]] = []
        pins, covers, boxes = [], [], []
        for shape in shapes:
            own = () if shape.slants else shape.boxes
            hidden = covered(shape)
            pins.append(shape.offsets)
            covers.append(hidden)
            boxes.append(own)
            cells = [*shape.offsets, *hidden]
            xs = [x for x, _ in cells] + [v // STEP_UM for b in own for v in (b[0], b[2] + STEP_UM - 1)]
            ys = [y for _, y in cells] + [v // STEP_UM for b in own for v in (b[1], b[3] + STEP_UM - 1)]
            self.ranges.append((min(xs), min(ys), max(xs), max(ys)))
        self._tables = tuple(_ragged(t, w) for t, w in ((pins, 2), (covers, 2), (boxes, 4)))

    def need(self, kinds: Collection[tuple[int, ...]]) -> None:
        """Fill in the tables of every shape of these kinds of item with every one of these."""
        for some, others in itertools.product(kinds, kinds):
            if (some, others) not in self._made:
                self._made.add((some, others))
                for a, b in itertools.product(some, others):
                    self._fill(a, b)

    def _fill(self, a: int, b: int) -> None:
        if self.at[a, b, START] >= 0:
            return
        (ax0, ay0, ax1, ay1), (bx0, by0, bx1, by1) = self.ranges[a], self.ranges[b]
        x0, y0 = ax0 - bx1, ay0 - by1
        width, height = ax1 - bx0 - x0 + 1, ay1 - by0 - y0 + 1
        while self.used + width * height > len(self.bits):
            self.bits = np.concatenate([self.bits, np.zeros_like(self.bits)])
        self.at[a, b] = (self.used, x0, y0, width, height)
        (p_at, pin), (c_at, cover), (b_at, box) = self._tables
        _fill(self.at[a, b], self.bits, a, b, p_at, pin, c_at, cover, b_at, box)
        self.used += width * height


def _ragged(rows: Sequence[Sequence[tuple[int, ...]]], width: int) -> tuple[Ints, Ints]:
    """Rows of different length as one table, and where each begins (one more than there are rows)."""
    start = np.concatenate([[0], np.cumsum([len(r) for r in rows])]).astype(np.int64)
    return start, np.array([v for r in rows for v in r], np.int64).reshape(-1, width)


@compiled
def _fill(
    at: Ints,
    bits: Bytes,
    a: int,
    b: int,
    p_at: Ints,
    pin: Ints,
    c_at: Ints,
    cover: Ints,
    b_at: Ints,
    box: Ints,
) -> None:
    """Work out the table of one pair."""
    for row in range(at[HEIGHT]):
        for col in range(at[WIDTH]):
            dx = at[X0] + col
            dy = at[Y0] + row
            hit = False
            for k in range(p_at[a], p_at[a + 1]):
                for m in range(p_at[b], p_at[b + 1]):
                    hit = hit or (pin[k, 0] == dx + pin[m, 0] and pin[k, 1] == dy + pin[m, 1])
                for m in range(c_at[b], c_at[b + 1]):
                    hit = hit or (pin[k, 0] == dx + cover[m, 0] and pin[k, 1] == dy + cover[m, 1])
            for m in range(p_at[b], p_at[b + 1]):
                for k in range(c_at[a], c_at[a + 1]):
                    hit = hit or (cover[k, 0] == dx + pin[m, 0] and cover[k, 1] == dy + pin[m, 1])
            x = dx * 2540
            y = dy * 2540
            for k in range(b_at[a], b_at[a + 1]):
                for m in range(b_at[b], b_at[b + 1]):
                    hit = hit or (
                        box[k, 0] < x + box[m, 2]
                        and box[k, 2] > x + box[m, 0]
                        and box[k, 1] < y + box[m, 3]
                        and box[k, 3] > y + box[m, 1]
                    )
            bits[at[START] + at[WIDTH] * row + col] = hit


def touches(a: Shape, b: Shape, dx: int, dy: int) -> bool:
    """The same of one pair, its bodies alone; bodies off the axes too."""
    x, y = dx * STEP_UM, dy * STEP_UM
    if a.slants or b.slants:
        return bodies_meet(a, b, x, y)
    boxes = ([box for box in shape.boxes if box[0] < box[2] and box[1] < box[3]] for shape in (a, b))
    return any(
        q[0] < x + r[2] and q[2] > x + r[0] and q[1] < y + r[3] and q[3] > y + r[1]
        for q, r in itertools.product(*boxes)
    )


@compiled
def touch(at: Ints, bits: Bytes, a: int, b: int, dx: int, dy: int) -> bool:
    """True when shape b with its first pin dx, dy steps from shape a's cannot stand beside it."""
    col = dx - at[a, b, X0]
    row = dy - at[a, b, Y0]
    if col < 0 or row < 0 or col >= at[a, b, WIDTH] or row >= at[a, b, HEIGHT]:
        return False
    return bool(bits[at[a, b, START] + at[a, b, WIDTH] * row + col] != 0)
