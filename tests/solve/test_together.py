"""Which candidates can stand together, told of many at a time, against one pair after the other."""

from __future__ import annotations

import random

import numpy as np
import pytest

from placer.errors import PlacerError
from placer.solve.cluster import Forms
from placer.solve.compiled import compiled, raw
from placer.solve.layout import Ints
from placer.solve.problem import build
from placer.solve.together import Rows32, lay_out, together
from placer.solve.touching import HEIGHT, START, WIDTH, X0, Y0, Bytes, Touching
from tests.solve.test_kernel import drawn

CASES = range(16)
STRIPS = 9


@compiled
def bits_of(
    t: int,
    q: int,
    u: int,
    rows: Ints,
    on: Ints,
    n_pins: Ints,
    nets: Ints,
    groups: Ints,
    found: Rows32,
    start: Ints,
    count: Ints,
    at: Ints,
    bits: Bytes,
) -> Ints:
    """The way in from outside: for each candidate of item u, 1 where it can be with candidate q of item t."""
    n = len(n_pins)
    shapes, xs, ys, first, strips, of_pins, forms, of_forms = lay_out(
        n, rows, on, n_pins, found, start, count, at.shape[0]
    )
    bad = np.empty(first[n], np.int32)
    fits = np.zeros(2 + (count[u] + 63) // 64, np.uint64)
    together(
        t,
        q,
        u,
        raw(shapes),
        raw(xs),
        raw(ys),
        first,
        raw(strips),
        of_pins,
        n_pins,
        nets,
        groups,
        at,
        bits,
        forms,
        of_forms,
        raw(bad),
        raw(fits),
        1,
    )
    told = np.zeros(count[u], np.int64)
    for c in range(count[u]):
        told[c] = np.int64((fits[1 + c // 64] >> np.uint64(c % 64)) & np.uint64(1))
    return told


def meet(touching: Touching, a: int, b: int, dx: int, dy: int) -> bool:
    """What the table of two shapes says."""
    table = touching.at[a, b]
    column, row = dx - table[X0], dy - table[Y0]
    if not (0 <= column < table[WIDTH] and 0 <= row < table[HEIGHT]):
        return False
    return bool(touching.bits[table[START] + table[WIDTH] * row + column])


@pytest.mark.parametrize("seed", CASES)
def test_many_at_a_time_are_told_as_one_by_one(seed: int) -> None:
    dice = random.Random(seed)
    try:
        p = build(*drawn(seed))
    except PlacerError:  # a part that fits nowhere: no case for this test
        return
    forms = Forms(p)
    kinds = [dice.choice(range(len(p.items))) for _ in range(3)]
    own_forms = [forms.of[p.like[i]] for i in kinds]
    forms.touching.need(set(own_forms))
    n_pins = np.array([len(p.items[i].pins) for i in kinds], np.int64)
    width = int(n_pins.max())
    nets = np.array([[dice.randrange(4) for _ in range(width)] for _ in kinds], np.int64)
    # A group is of one net; some pins are in none.
    groups = np.array([[n if dice.random() < 0.5 else -1 for n in row] for row in nets.tolist()], np.int64)
    count = np.array([dice.choice((1, 63, 64, 65, 150)) for _ in kinds], np.int64)
    start = np.array([5 + int(count[:t].sum()) for t in range(len(kinds))], np.int64)
    total = int(count.sum())
    form = [dice.choice(own_forms[t]) for t in range(len(kinds)) for _ in range(count[t])]
    rows = np.array([(f, dice.randrange(12), dice.randrange(12)) for f in form], np.int64)
    on = np.array([[dice.randrange(STRIPS) for _ in range(width)] for _ in range(total)], np.int64)
    found = np.zeros(total + 5, np.int32)
    found[5:] = range(total)
    said = 0
    for t in range(len(kinds)):
        for u in range(len(kinds)):
            q = dice.randrange(int(count[t]))
            r = int(found[start[t] + q])
            told = bits_of(
                t,
                q,
                u,
                rows,
                on,
                n_pins,
                nets,
                groups,
                found,
                start,
                count,
                forms.touching.at,
                forms.touching.bits,
            )
            for c in range(int(count[u])):
                b = int(found[start[u] + c])
                good = not meet(
                    forms.touching, rows[r, 0], rows[b, 0], rows[b, 1] - rows[r, 1], rows[b, 2] - rows[r, 2]
                )
                for k in range(n_pins[t]):
                    for m in range(n_pins[u]):
                        same = on[r, k] == on[b, m]
                        grouped = groups[t, k] >= 0 and groups[t, k] == groups[u, m]
                        good = good and not (same and nets[t, k] != nets[u, m]) and not (grouped and not same)
                assert told[c] == good, (t, u, c)
                said += good
    assert said, "no pair can stand together: nothing was tested"
