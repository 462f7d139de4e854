"""Where the local search looks for copper of a net, against what the board and the leads on it say."""

from __future__ import annotations

import pytest

from placer.solve.compiled import compiled, raw
from placer.solve.layout import Ints
from placer.solve.moves import meets, reach
from placer.solve.near import holes_of_pins
from tests.solve.test_kernel import arrays_of, begin, places_in

CASES = range(24)


@compiled
def asked_meets(world: Ints, state: Ints, hole: int, net: int, i: int) -> bool:
    """The way in from outside."""
    return bool(meets(raw(world), raw(state), hole, net, i))


@compiled
def asked_reach(world: Ints, state: Ints, hole: int, first: int, last: int) -> tuple[int, int]:
    """The same."""
    return reach(raw(world), raw(state), hole, first, last)


@pytest.mark.parametrize("seed", CASES)
def test_copper_of_a_net_is_what_no_other_net_keeps_from_it(seed: int) -> None:
    arrays = arrays_of(seed)
    state = None if arrays is None else begin(arrays, seed)
    if arrays is None or state is None:
        return
    p = arrays.problem
    net_in = {hole: p.items[i].nets[k] for (i, k), hole in holes_of_pins(p, places_in(arrays, state)).items()}
    own_of = {hole: i for (i, _), hole in holes_of_pins(p, places_in(arrays, state)).items()}
    for strip, (first, count) in enumerate(zip(p.sstart.tolist(), p.slen.tolist(), strict=True)):
        last = first + count - 1
        for hole in range(first, last + 1):
            for i in range(len(p.items)):
                for net in sorted(set(p.items[i].nets)):
                    if p.severable(strip):
                        others = [h for h in range(first, last + 1) if h in net_in and own_of[h] != i]
                        beside = [max((h for h in others if h < hole), default=None)]
                        beside.append(min((h for h in others if h > hole), default=None))
                        expected = any(h is not None and net_in[h] == net for h in beside)
                    else:
                        expected = any(net_in.get(h) == net for h in range(first, last + 1))
                    assert asked_meets(arrays.world, state[0], hole, net, i) == expected
            if hole in net_in:
                low, high = asked_reach(arrays.world, state[0], hole, first, last)
                assert first <= low <= hole <= high <= last
                assert all(net_in.get(h, net_in[hole]) == net_in[hole] for h in range(low, high + 1))
                for beyond in (low - 1, high + 1):
                    assert not first <= beyond <= last or net_in.get(beyond, net_in[hole]) != net_in[hole]
