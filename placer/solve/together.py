"""Compiled: which candidates of a cluster's items can stand together, as bits.

What is compared of each candidate lies side by side, so that the compiler takes many of them at a time.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from placer.solve.compiled import compiled, inner
from placer.solve.layout import Ints
from placer.solve.touching import HEIGHT, WIDTH, X0, Y0, Bytes, touch

SHAPE, X, Y = range(3)  # columns of a row of places
FAR = 1 << 30

Rows32 = npt.NDArray[np.int32]
Words = npt.NDArray[np.uint64]


@compiled
def lay_out(
    n: int, rows: Ints, on: Ints, n_pins: Ints, found: Rows32, start: Ints, count: Ints, n_forms: int
) -> tuple[Rows32, Rows32, Rows32, Ints, Rows32, Ints, Ints, Ints]:
    """The candidates that are left, one row for each thing that is compared.

    Shape, x and y of each; the strips of its pins, item by item and pin by pin; and the different
    shapes of each item. With each of these three, where an item's begin.
    """
    first, of_pins, of_forms = np.zeros(n + 1, np.int64), np.zeros(n + 1, np.int64), np.zeros(n + 1, np.int64)
    seen = np.zeros(n_forms, np.int64)  # by which item last, from 1
    forms = np.empty(n * n_forms, np.int64)
    for t in range(n):
        first[t + 1] = first[t] + count[t]
        of_pins[t + 1] = of_pins[t] + n_pins[t] * count[t]
    shapes, xs, ys = np.empty(first[n], np.int32), np.empty(first[n], np.int32), np.empty(first[n], np.int32)
    strips = np.empty(of_pins[n], np.int32)
    for t in range(n):
        of_forms[t + 1] = of_forms[t]
        for c in range(count[t]):
            r = found[start[t] + c]
            shapes[first[t] + c], xs[first[t] + c], ys[first[t] + c] = rows[r, SHAPE], rows[r, X], rows[r, Y]
            for k in range(n_pins[t]):
                strips[of_pins[t] + k * count[t] + c] = on[r, k]
            if seen[rows[r, SHAPE]] <= t:
                seen[rows[r, SHAPE]] = t + 1
                forms[of_forms[t + 1]] = rows[r, SHAPE]
                of_forms[t + 1] += 1
    return shapes, xs, ys, first, strips, of_pins, forms, of_forms


@inner
def together(
    t: int,
    q: int,
    u: int,
    shapes: Rows32,
    xs: Rows32,
    ys: Rows32,
    first: Ints,
    strips: Rows32,
    of_pins: Ints,
    n_pins: Ints,
    nets: Ints,
    groups: Ints,
    at: Ints,
    bits: Bytes,
    forms: Ints,
    of_forms: Ints,
    bad: Rows32,
    fits: Words,
    row: int,
) -> None:
    """Set a bit in ``fits``, from word ``row`` on, for each candidate of item u that can be with candidate q of item t.

    ``bad``: to work in; the others as :func:`lay_out` has them. Bare addresses, where all candidates are gone through.
    """
    at_u, many, own = first[u], first[u + 1] - first[u], first[t + 1] - first[t]
    me = first[t] + q
    shape, x, y = shapes[me], xs[me], ys[me]
    x0, y0, x1, y1 = FAR, FAR, -FAR, -FAR
    for f in range(of_forms[u], of_forms[u + 1]):
        table = at[shape, forms[f]]
        x0, x1 = min(x0, x + table[X0]), max(x1, x + table[X0] + table[WIDTH])
        y0, y1 = min(y0, y + table[Y0]), max(y1, y + table[Y0] + table[HEIGHT])
    for c in range(many):  # 2: near enough to touch
        bad[c] = 2 * ((xs[at_u + c] >= x0) & (xs[at_u + c] < x1) & (ys[at_u + c] >= y0) & (ys[at_u + c] < y1))
    for k in range(n_pins[t]):
        here = strips[of_pins[t] + k * own + q]
        for m in range(n_pins[u]):
            base = of_pins[u] + m * many
            if nets[t, k] != nets[u, m]:
                for c in range(many):
                    bad[c] |= strips[base + c] == here
            elif groups[t, k] >= 0 and groups[t, k] == groups[u, m]:
                for c in range(many):
                    bad[c] |= strips[base + c] != here
    for w in range((many + 63) // 64):
        word = np.uint64(0)
        for c in range(64 * w, min(64 * w + 64, many)):
            if bad[c] == 0 or (
                bad[c] == 2 and not touch(at, bits, shape, shapes[at_u + c], xs[at_u + c] - x, ys[at_u + c] - y)
            ):
                word |= np.uint64(1) << np.uint64(c - 64 * w)
        fits[row + w] = word
