"""The compiled search's books: after any moves they say what a fresh count says, and a refused move leaves no trace.

Also: what it calls legal can be wired and passes the judge, and the wires' trees are near the shortest there are.
"""

from __future__ import annotations

import contextlib
import itertools
import math
import random
from collections.abc import Iterator

import numpy as np
import pytest

from placer.boards.catalogue import load_board
from placer.boards.model import Board
from placer.circuit.model import Circuit
from placer.errors import PlacerError
from placer.plan.model import Options
from placer.solve import layout
from placer.solve.anneal import Annealer, State
from placer.solve.arrays import Arrays, Places
from placer.solve.assemble import assemble, solve_info
from placer.solve.compiled import compiled, raw
from placer.solve.moves import try_move
from placer.solve.problem import Problem, build
from placer.solve.wiring import Wiring, shortest_tree, wire
from tests.solve.brute import standing_of
from tests.solve.cases import any_board, any_circuit
from tests.solve.circuits import catalogue_circuit
from tests.solve.engine import faults
from tests.solve.poses import Ground
from tests.solve.wires import Meter, TooLargeError, cheapest
from tests.solve.wishing import wishful

PENALTIES = (layout.SHORTS, layout.OVERLAPS, layout.WIRELESS, layout.DEFICIT, layout.WISHES)


def drawn(seed: int) -> tuple[Circuit, Board, Options]:
    """A small random case, or a circuit of catalogue packages on a catalogue board; half of them with wishes."""
    dice = random.Random(f"kernel {seed}")
    kind = seed % 4
    if kind < 2:
        board = any_board(dice, ("none", "hole", "knife", "both")[seed // 4 % 4])
        circuit = any_circuit(dice, board, dice.randint(2, 4), wishes=0.4)
        circuit = wishful(dice, board, circuit) if dice.random() < 0.5 else circuit
        return circuit, board, Options(diagonals=dice.random() < 0.3)
    board = load_board("five-hole-20" if kind == 2 else "long-strip-12x20")
    options = Options(allow_cuts=board.cut_by_default, diagonals=dice.random() < 0.2)
    circuit = catalogue_circuit(dice, dice.randint(4, 9))
    return wishful(dice, board, circuit) if dice.random() < 0.5 else circuit, board, options


def arrays_of(seed: int) -> Arrays | None:
    try:
        return Arrays(build(*drawn(seed)), liked=True)
    except PlacerError:  # a part that fits nowhere: no case for this test
        return None


def told(arrays: Arrays, state: State) -> dict[str, object]:
    """What a state says, without its scratch tables."""
    w, (s, f) = arrays.world, state
    p = arrays.problem
    n_items, n_holes, n_strips, n_nets = len(p.items), len(p.hx), len(p.slen), len(p.net_names)
    table = {
        "placed": (layout.PLACED, n_items),
        "occupied": (layout.OCC, n_holes),
        "covered": (layout.COVER, n_holes),
        "segments": (layout.SEG_N, n_strips),
        "cuts": (layout.STRIP_CUTS, n_strips),
        "shorts": (layout.STRIP_SHORTS, n_strips),
        "net segments": (layout.NET_SEG, n_nets),
        "net dry": (layout.NET_DRY, n_nets),
        "net free": (layout.NET_FREE, n_nets),
        "net places": (layout.NET_XY, 4 * n_nets),
        "wishes": (layout.WISH_COST, arrays.n_wishes),
    }
    found: dict[str, object] = {name: s[w[at] : w[at] + size].tolist() for name, (at, size) in table.items()}
    for name, at in (
        ("nets", layout.SEG_NET),
        ("free", layout.SEG_FREE),
        ("low", layout.SEG_LO),
        ("high", layout.SEG_HI),
    ):
        found[f"segment {name}"] = [
            s[w[at] + w[layout.SEG_W] * strip : w[at] + w[layout.SEG_W] * strip + s[w[layout.SEG_N] + strip]].tolist()
            for strip in range(n_strips)
        ]
    stands = [i for i in range(n_items) if s[w[layout.PLACED] + i]]
    found["stands"] = [(i, int(s[w[layout.SHAPE] + i]), int(s[w[layout.ANCHOR] + i])) for i in stands]
    found["bounds"] = [s[w[layout.BOUND] + 4 * i : w[layout.BOUND] + 4 * i + 4].tolist() for i in stands]
    found["totals"] = f[: layout.LENGTH].tolist()
    found["net costs"] = f[w[layout.NET_COST] : w[layout.NET_COST] + 4 * n_nets].tobytes()
    found["length"] = float(f[layout.LENGTH])
    found["liked, raised"] = f[layout.LIKED : layout.OLD_TOTALS].tolist()
    return found


@compiled
def make_move(
    world: layout.Ints, state: layout.Ints, totals: layout.Floats, weights: layout.Floats, limit: float
) -> bool:
    """The way into the move from outside."""
    return bool(try_move(raw(world), raw(state), raw(totals), raw(weights), limit))


class Mover:
    """Makes random moves of one to three items straight on the kernel."""

    def __init__(self, arrays: Arrays, dice: random.Random) -> None:
        self.arrays, self.dice = arrays, dice

    def move(self, state: State, weight: layout.Floats, limit: float) -> bool:
        items, w, s = self.arrays.problem.items, self.arrays.world, state[0]
        chosen = self.dice.sample(range(len(items)), min(len(items), self.dice.choice((1, 1, 2, 3))))
        s[layout.N_MOVED] = len(chosen)
        for t, i in enumerate(chosen):
            shape = self.dice.randrange(len(items[i].shapes))
            s[w[layout.MOVED] + t] = i
            s[w[layout.NEW_SHAPE] + t] = self.arrays.item_shape[i] + shape
            s[w[layout.NEW_ANCHOR] + t] = self.dice.choice(items[i].ways[shape])
        return bool(make_move(w, *state, weight, limit))


def begin(arrays: Arrays, seed: int) -> State | None:
    return Annealer(arrays, seed, lambda: False).start()


def places_in(arrays: Arrays, state: State) -> Places:
    w, (s, _) = arrays.world, state
    n = len(arrays.problem.items)
    return arrays.places(s[w[layout.SHAPE] : w[layout.SHAPE] + n], s[w[layout.ANCHOR] : w[layout.ANCHOR] + n])


WEIGHT = np.array([1.0, 0.8, 1.5, 1.0, 1.0, 0.5, 1.0, 0.02, 3e-4, 1e-3])


@pytest.mark.parametrize("block", range(4))
@pytest.mark.parametrize("severable", [False, True], ids=["uncut", "cut"])
def test_running_totals_equal_a_fresh_count(severable: bool, block: int) -> None:
    made = 0
    for seed in range(20 * block, 20 * block + 20):
        arrays = arrays_of(seed)
        state = arrays and begin(arrays, seed)
        if arrays is None or state is None:
            continue
        p = arrays.problem
        if any(p.severable(strip) for strip in range(len(p.slen))) != severable:
            continue
        mover = Mover(arrays, random.Random(seed))
        for step in range(120):
            made += mover.move(state, WEIGHT, mover.dice.choice((-0.5, 0.0, 1.0, 3.0, 1e9)))
            if step % 12 == 0:
                fresh = Annealer(arrays, 1, lambda: False).resume(places_in(arrays, state))
                assert fresh is not None
                mine, count = told(arrays, state), told(arrays, fresh)
                for name in mine:
                    if name in ("length", "net costs"):  # sums of roots in another order
                        continue
                    assert mine[name] == count[name], (seed, step, name)
                assert mine["length"] == pytest.approx(count["length"], abs=1e-9)
    assert made > 60


@pytest.mark.parametrize("block", range(4))
def test_a_refused_move_leaves_no_trace(block: int) -> None:
    """Refused early (an overlap too heavy, a hole taken) and refused after the count: the state is the same bytes."""
    refused = 0
    for seed in range(200 + 10 * block, 210 + 10 * block):
        arrays = arrays_of(seed)
        state = arrays and begin(arrays, seed)
        if arrays is None or state is None:
            continue
        mover = Mover(arrays, random.Random(seed))
        light = WEIGHT.copy()
        light[layout.OVERLAPS] = 0.0
        for step in range(60):
            if step % 3 == 0:
                mover.move(state, WEIGHT, 1e9)
            before = told(arrays, state)
            moved = mover.move(state, light if step % 2 else WEIGHT, -1e6)
            assert not moved
            refused += 1
            assert told(arrays, state) == before, (seed, step)
    assert refused > 200


# --- what is called legal --------------------------------------------------------------------------------------------


def legal_states(seed: int, rounds: int = 16) -> Iterator[tuple[Problem, Places, State]]:
    """States of an annealing run that the books call legal."""
    arrays = arrays_of(seed)
    state = arrays and begin(arrays, seed)
    if arrays is None or state is None:
        return
    seen: set[Places] = set()
    annealer = Annealer(arrays, seed, lambda: False)
    for _ in range(rounds):
        for _found in annealer.run(state, 2000, hot=0.4, cold=0.3, penalty=3.0):
            pass
        places = places_in(arrays, state)
        if places not in seen and not any(state[1][term] > 0.5 for term in PENALTIES):
            seen.add(places)
            yield arrays.problem, places, state


@pytest.mark.parametrize("block", range(4))
def test_what_is_called_legal_can_be_wired_and_passes_the_judge(block: int) -> None:
    legal = wired = missed = 0
    for seed in range(400 + 10 * block, 410 + 10 * block):
        for p, places, state in legal_states(seed):
            legal += 1
            wiring = wire(p, places)
            if wiring is not None:
                wired += 1
                plan = assemble(p, places, wiring, 0.0, solve_info(0, 0, 1, (), None))
                assert faults(plan) == ()
                assert plan.score.jumpers == round(state[1][layout.JUMPERS])
                assert plan.score.cuts == round(state[1][layout.CUTS])
            elif len(p.hx) < 40:
                with contextlib.suppress(TooLargeError):
                    missed += _exact(p, places)
    assert legal > 20
    assert wired >= 0.95 * legal, f"{wired} of {legal} wired; {missed} more could be"


def _exact(p: Problem, places: Places) -> bool:
    """Can these places be wired at all? By trying everything, from where the pins stand alone."""
    ground, o = Ground(p.board), p.options
    bare = assemble(p, places, Wiring((), (), (), 0.0), 0.0, solve_info(0, 0, 1, (), None))
    at = standing_of(ground, bare)
    how = {"jumper_cost": o.jumper_cost, "cut_cost": o.cut_cost}
    return cheapest(ground, at, math.inf, Meter(3000), allow_cuts=o.allow_cuts, **how) is not None


# --- wires -----------------------------------------------------------------------------------------------------------


def _shortest(p: Problem, groups: list[list[int]]) -> float:
    """The length of the shortest tree of wires, by trying all."""
    owner = {h: i for i, group in enumerate(groups) for h in group}
    holes = sorted(owner)
    edges = [(a, b) for a, b in itertools.combinations(holes, 2) if owner[a] != owner[b]]
    best = math.inf
    for chosen in itertools.combinations(edges, len(groups) - 1):
        ends = [h for edge in chosen for h in edge]
        if len(set(ends)) < len(ends):
            continue
        lead = list(range(len(groups)))
        joined = 0
        for a, b in chosen:
            ra, rb = owner[a], owner[b]
            while lead[ra] != ra:
                ra = lead[ra]
            while lead[rb] != rb:
                rb = lead[rb]
            if ra != rb:
                lead[ra] = rb
                joined += 1
        if joined == len(groups) - 1:
            best = min(best, sum(math.dist((p.hx[a], p.hy[a]), (p.hx[b], p.hy[b])) for a, b in chosen))
    return best


def test_trees_of_wires_are_legal_and_near_the_shortest() -> None:
    dice = random.Random(5)
    board = load_board("five-hole-12")
    p = build(catalogue_circuit(dice, 3), board, Options())
    ratios = []
    for _ in range(250):
        k = dice.choice((2, 3, 3, 4))
        strips = dice.sample([s for s in range(len(p.slen)) if p.slen[s] == 5], k)
        groups = [
            sorted(dice.sample(range(p.sstart[s], p.sstart[s] + 5), dice.randint(1, 3 if k < 4 else 2))) for s in strips
        ]
        best = _shortest(p, groups)
        tree = shortest_tree(p, groups)
        if tree is None:
            assert math.isinf(best), "holes for a tree are there"
            continue
        owner = {h: i for i, group in enumerate(groups) for h in group}
        ends = [h for edge in tree for h in edge]
        assert len(set(ends)) == len(ends) == 2 * (k - 1)
        lead = {i: {i} for i in range(k)}
        for a, b in tree:
            both = lead[owner[a]] | lead[owner[b]]
            for i in both:
                lead[i] = both
        assert len(lead[0]) == k, "not one piece"
        length = sum(math.dist((p.hx[a], p.hy[a]), (p.hx[b], p.hy[b])) for a, b in tree)
        assert length >= best - 1e-9
        ratios.append(length / best)
    assert len(ratios) > 120
    assert np.mean(ratios) < 1.05
