"""Every legal plan lives in the relaxation: no frame, window or model may prove a bound above a plan that is there."""

from __future__ import annotations

import os
import random
from collections.abc import Callable

import pytest

from placer.boards.catalogue import load_board
from placer.boards.model import Board
from placer.circuit.model import Circuit
from placer.errors import PlacerError
from placer.plan.model import Options
from placer.solve.anneal import Annealer
from placer.solve.arrays import Arrays
from placer.solve.assemble import assemble, solve_info
from placer.solve.frame import frame, pick_anchor
from placer.solve.problem import Problem, build
from placer.solve.relax import StripModel
from placer.solve.wiring import wire
from tests.solve.cases import any_circuit, board_of, odd_strips, short_strips
from tests.solve.circuits import catalogue_circuit
from tests.solve.engine import faults

BOARDS = ("five-hole-6", "five-hole-8", "five-hole-10", "five-hole-14", "five-hole-20", "three-hole-10x12")
MORE = int(os.environ.get("PLACER_CASES", "0")) // 4
WORK = 2.0 if MORE else 0.15  # deterministic time of the prover


def on_a_catalogue_board(seed: int, again: int) -> tuple[Circuit, Board, Options]:
    dice = random.Random(f"catalogue {seed} {again}")
    board = load_board(BOARDS[seed % len(BOARDS)])
    count = dice.randint(5, 7 + 2 * (seed % len(BOARDS))) if seed % len(BOARDS) < 5 else dice.randint(5, 9)
    return catalogue_circuit(dice, count), board, Options(diagonals=dice.random() < 0.2, allow_cuts=False)


def on_a_board_of_its_own(seed: int, again: int) -> tuple[Circuit, Board, Options]:
    """Irregular strips, rails, keep-outs, single rows; larger than what can be tried out."""
    dice = random.Random(f"own {seed} {again}")
    rails: frozenset[int] = frozenset()
    kind = seed % 4
    if kind == 0:
        strips = odd_strips(dice, dice.randint(6, 10), dice.randint(5, 8))
    elif kind == 1:
        strips, rails = short_strips(dice, dice.randint(5, 9), dice.choice((3, 4, 5)))
    elif kind == 2:
        strips = [[(x, 0)] for x in range(dice.randint(8, 20))]
        for first in range(0, len(strips) - 3, 5):
            strips[first] += strips[first + 1]
            strips[first + 1] = []
        strips = [strip for strip in strips if strip]
    else:
        long, short = dice.randint(8, 12), dice.randint(3, 6)
        strips = [[(x, y) for x in range(long)] for y in range(short)]
        strips += [[(long + 1, y) for y in range(short)], [(-2, y) for y in range(short)]]
    if dice.random() < 0.4:
        strips = [[(y, x) for x, y in strip] for strip in strips]
    cells = [cell for strip in strips for cell in strip]
    keepouts: tuple[tuple[float, float, float, float], ...] = ()
    if dice.random() < 0.3:
        x, y = dice.choice(cells)
        keepouts = ((x + 0.2, y + 0.2, x + 0.8, y + 0.8),)
    board = board_of(
        strips, rails=rails, keepouts=keepouts, margin=tuple(dice.choice((1.3, 2.54, 6.0)) for _ in range(4))
    )
    count = dice.randint(2, 3) if kind == 2 else dice.randint(3, 7)
    return any_circuit(dice, board, count, wishes=0.1), board, Options(diagonals=dice.random() < 0.1)


def some_plan(case: tuple[Circuit, Board, Options], seed: int) -> tuple[Problem, int] | None:
    """The problem and the jumpers of a legal plan; None where the annealer finds none at once."""
    try:
        p = build(*case)
    except PlacerError:
        return None
    annealer = Annealer(Arrays(p), seed, lambda: False)
    state = annealer.start()
    if state is None:
        return None
    for found in reversed(list(annealer.run(state, 60_000))):
        wiring = wire(p, found.places)
        if wiring is None:
            continue
        plan = assemble(p, found.places, wiring, 0.0, solve_info(0, 0, 1, (), None))
        if not faults(plan):
            return p, plan.score.jumpers
    return None


def holds(p: Problem, jumpers: int, anchor: int, window: int | None, *, bodies: bool, most: int | None) -> bool:
    """True when a frame was there and its bound does not exceed a plan's jumpers."""
    seen = frame(p, anchor, window)
    if seen is None:
        assert window is not None, "without a window there is always a frame"
        return False
    bound = StripModel(p, seen, most, bodies=bodies).solve(WORK, lambda: False, 1)
    assert bound.jumpers <= jumpers, (
        f"bound {bound.jumpers} above a plan of {jumpers}: {window=} {bodies=} {most=} {anchor=}"
    )
    return True


@pytest.mark.parametrize("seed", range(MORE or 9))
def test_no_bound_above_a_plan_on_catalogue_boards(seed: int) -> None:
    _all_hold(on_a_catalogue_board, seed)


@pytest.mark.parametrize("seed", range(MORE or 24))
def test_no_bound_above_a_plan_on_odd_boards(seed: int) -> None:
    _all_hold(on_a_board_of_its_own, seed)


def _all_hold(draw: Callable[[int, int], tuple[Circuit, Board, Options]], seed: int) -> None:
    tries = (some_plan(draw(seed, again), seed) for again in range(40))
    p, jumpers = next(found for found in tries if found is not None)
    dice = random.Random(seed)
    tried = 0
    for window in (2, 4, 6, None):
        bodies = dice.random() < 0.5
        most = dice.choice((None, jumpers))
        tried += holds(p, jumpers, pick_anchor(p), window, bodies=bodies, most=most)
    tried += holds(p, jumpers, dice.randrange(len(p.items)), dice.choice((3, None)), bodies=True, most=jumpers)
    assert tried
