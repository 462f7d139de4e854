"""A few parts taken away and put back, place by place: the account stays right, and plans get cheaper."""

from __future__ import annotations

import numpy as np
import pytest

from placer.solve.anneal import Annealer
from placer.solve.arrays import Arrays
from placer.solve.problem import build
from placer.solve.putback import put_back
from placer.solve.rebuilder import Rebuilder
from tests.bench.boards import made_case
from tests.solve.test_kernel import PENALTIES, WEIGHT, arrays_of, begin, places_in, told
from tests.solve.test_reseat import cost_of


@pytest.mark.parametrize("block", range(4))
def test_running_totals_equal_a_fresh_count(block: int) -> None:
    looked_at, changed = 0, 0
    for seed in range(20 * block, 20 * block + 20):
        arrays = arrays_of(seed)
        state = arrays and begin(arrays, seed)
        if arrays is None or state is None:
            continue
        shape, best = np.zeros(arrays.n_items, np.int64), np.array([1e18, 1e18, 1e18])
        anchor = shape.copy()
        before = places_in(arrays, state)
        for turn in range(12):
            put_back(arrays.world, *state, 6, 2.0, 1.0, WEIGHT, turn, shape, anchor, best, -1.0)
            places = places_in(arrays, state)
            changed += places != before
            before = places
            fresh = Annealer(arrays, 1, lambda: False).resume(places)
            assert fresh is not None
            mine, count = told(arrays, state), told(arrays, fresh)
            for name in mine:
                if name in ("length", "net costs"):  # sums of roots in another order
                    continue
                assert mine[name] == count[name], (seed, turn, name)
            assert mine["length"] == pytest.approx(count["length"], abs=1e-7)
            looked_at += 1
    assert looked_at > 40
    assert changed > 20


def rebuilder(arrays: Arrays) -> Rebuilder:
    annealer = Annealer(arrays, 1, lambda: False)
    return Rebuilder(arrays, annealer.resume, annealer.weights(2.0), PENALTIES)


@pytest.mark.parametrize("kind", ["five-hole", "long-strip"])
def test_what_a_short_run_comes_to_gets_cheaper(kind: str) -> None:
    made = made_case(80, 1, kind)
    arrays = Arrays(build(made.circuit, made.board, made.options))
    annealer = Annealer(arrays, 1, lambda: False)
    state = annealer.start()
    assert state is not None
    last = list(annealer.run(state, 400_000))[-1]
    seeds = iter(range(1, 10_000))
    found = [x for x in rebuilder(arrays).chunks(last, 60, lambda: next(seeds), lambda: -1.0) if x is not None]
    costs = [x.cost for x in found]
    assert costs == sorted(set(costs), reverse=True), "each is cheaper than those before"
    assert costs[-1] <= last.cost - 1
    for x in (found[0], found[-1]):  # each is wired and judged; wires may do with a jumper less
        assert x.cost - 1.1 < cost_of(arrays.problem, x.places) <= x.cost + 1e-9
