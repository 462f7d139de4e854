"""Every legal plan lives in the relaxation: no frame, window or model may prove a bound above a plan that is there."""

from __future__ import annotations

import itertools
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
from placer.solve.arrays import Arrays, Places
from placer.solve.assemble import assemble, solve_info
from placer.solve.claims import Pin
from placer.solve.cores import IMPOSSIBLE, Cores, Model
from placer.solve.frame import Frame, frame, pick_anchor
from placer.solve.linemodel import clauses
from placer.solve.placemodel import MOST_PLACES, PlaceModel, Stand, places_in
from placer.solve.prices import Prices
from placer.solve.problem import Problem, build
from placer.solve.prover import names_all_others, theory_of
from placer.solve.shares import ShareModel
from placer.solve.sharing import SharingTheory
from placer.solve.strips import Bools, StripModel
from placer.solve.wiring import wire
from tests.solve.cases import any_circuit, board_of, odd_strips, short_strips
from tests.solve.circuits import catalogue_circuit
from tests.solve.engine import faults

BOARDS = ("five-hole-6", "five-hole-8", "five-hole-10", "five-hole-14", "five-hole-20", "three-hole-10x12")
MORE = int(os.environ.get("PLACER_CASES", "0")) // 4
WORK = 5.0 if MORE else 0.6  # about seconds of work of the prover


def on_a_catalogue_board(seed: int, again: int) -> tuple[Circuit, Board, Options]:
    dice = random.Random(f"catalogue {seed} {again}")
    board = load_board(BOARDS[seed % len(BOARDS)])
    count = dice.randint(5, 7 + 2 * (seed % len(BOARDS))) if seed % len(BOARDS) < 5 else dice.randint(5, 9)
    return catalogue_circuit(dice, count), board, Options(diagonals=dice.random() < 0.2, allow_cuts=False)


def on_long_strips(seed: int, again: int) -> tuple[Circuit, Board, Options]:
    dice = random.Random(f"long {seed} {again}")
    board = load_board(("long-strip-10x16", "long-strip-14x24", "five-hole-10")[seed % 3])
    return catalogue_circuit(dice, dice.randint(4, 9)), board, Options(allow_cuts=True)


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


def some_plan(case: tuple[Circuit, Board, Options], seed: int) -> tuple[Problem, Places, float] | None:
    """The problem and the places and cost of a legal plan; None where the annealer finds none at once."""
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
            return p, found.places, plan.score.cost
    return None


def strips_taken(seen: Frame, places: Places) -> dict[Pin, int]:
    """The strip of the frame that each pin of a plan is on, seen from where the plan's anchor stands."""
    p = seen.p
    line = p.hy if seen.axis else p.hx
    at = int(line[places[seen.anchor][1]])
    row = seen.shifts[seen.moves.index(at) if len(seen.moves) > 1 else 0]
    found = {}
    for i, (item, (no, anchor)) in enumerate(zip(p.items, places, strict=True)):
        for k, (dx, dy) in enumerate(item.shapes[no].offsets):
            hole = p.hole(int(p.hx[anchor]) + dx, int(p.hy[anchor]) + dy)
            found[i, k] = int(row[p.hstrip[hole]])
    return found


def on_strips(model: StripModel, taken: dict[Pin, int]) -> None:
    """State that every pin is where a plan has it."""
    for pin, s in taken.items():
        assert s in model.pin_at[pin], "the plan's place is none in the relaxation"
        model.sat.add([model.pin_at[pin][s]])


def in_places(model: PlaceModel, places: Places) -> None:
    """State that every part stands where a plan has it, seen from where the plan's anchor stands."""
    p, seen = model.p, model.frame
    across, line = (p.hx, p.hy) if seen.axis else (p.hy, p.hx)
    at = int(line[places[seen.anchor][1]])
    move = at if len(seen.moves) > 1 else 0
    for i, (no, hole) in enumerate(places):
        x, y = int(across[hole]) - seen.origin[1], int(line[hole]) - move - seen.origin[0]
        place = (no, x, y) if seen.axis else (no, y, x)
        assert place in model.lits[i], "the plan's place is none in the clauses"
        model.sat.add([model.lits[i][place]])


def as_shared(model: ShareModel, taken: dict[Pin, int]) -> None:
    """State which pins share a strip in a plan."""
    for (i, k), s in taken.items():
        if model.shares[s]:
            model.sat.add([-model.long[i, k]])
        else:
            assert s in model.on[i, k], "the plan's place is none in the relaxation"
            model.sat.add([model.on[i, k][s]])
    for (a, s), (b, t) in itertools.combinations(sorted(taken.items()), 2):
        nets = [model.p.items[i].nets[k] for i, k in (a, b)]
        if nets[0] == nets[1] and model.shares[s] and model.shares[t]:
            model.sat.add([model.share(a, b) if s == t else -model.share(a, b)])


def least(model: Model) -> tuple[str | None, int]:
    """How a relaxation that is stated ends, and its least cost in units."""
    cores = Cores(model, None)
    model.state = lambda: iter(())  # type: ignore[method-assign]
    for _ in cores.run():
        pass
    return cores.ended, cores.bound


def holds(p: Problem, places: Places, cost: float, anchor: int) -> None:
    """The plan is in each relaxation, at no more than its cost, and no conflict that was learned forbids it."""
    seen = frame(p, anchor)
    assert seen is not None
    prices = Prices.of(p.options.jumper_cost, p.options.cut_cost)
    theory, short = theory_of(p, seen, lambda: False, 1)
    kinds: list[Callable[[Frame, Prices, Bools], StripModel | ShareModel]] = [clauses]
    if isinstance(theory, SharingTheory) and places_in(seen) <= MOST_PLACES:
        kinds.append(PlaceModel)
    if isinstance(theory, SharingTheory) and names_all_others(seen, short):
        kinds.append(ShareModel)
        for _ in itertools.islice(theory.foresee(), 20):
            pass
    for kind in kinds:
        model = kind(seen, prices, short)
        stand = None if theory is None or not isinstance(model, PlaceModel) else Stand(model, theory.conflicts)
        cores = Cores(model, stand or theory)
        for _ in cores.run():
            if model.sat.work + (0.0 if theory is None else theory.work) > WORK:
                break
        assert cores.ended != IMPOSSIBLE
        assert prices.cost(cores.bound) <= cost + 1e-9, f"a bound above a plan of {cost}: {anchor=} {kind=}"
    for kind in kinds:
        stated = kind(seen, prices, short)
        for _ in stated.state():
            pass
        for conflict in () if theory is None else theory.conflicts:
            stated.forbid(conflict)
        taken = strips_taken(seen, places)
        on_strips(stated, taken) if isinstance(stated, StripModel) else as_shared(stated, taken)
        if isinstance(stated, PlaceModel):
            in_places(stated, places)
        ended, units = least(stated)
        assert ended != IMPOSSIBLE, f"a plan of {cost} is not in the relaxation: {anchor=} {kind=}"
        assert prices.cost(units) <= cost + 1e-9, f"the relaxation counts more than {cost}: {anchor=} {kind=}"


@pytest.mark.parametrize("seed", range(MORE or 9))
def test_plans_on_catalogue_boards_are_in_the_relaxation(seed: int) -> None:
    _all_hold(on_a_catalogue_board, seed)


@pytest.mark.parametrize("seed", range(MORE or 24))
def test_plans_on_odd_boards_are_in_the_relaxation(seed: int) -> None:
    _all_hold(on_a_board_of_its_own, seed)


@pytest.mark.parametrize("seed", range(MORE or 12))
def test_plans_on_long_strips_are_in_the_relaxation(seed: int) -> None:
    _all_hold(on_long_strips, seed)


def _all_hold(draw: Callable[[int, int], tuple[Circuit, Board, Options]], seed: int) -> None:
    tries = (some_plan(draw(seed, again), seed) for again in range(40))
    p, places, cost = next(found for found in tries if found is not None)
    for anchor in sorted({pick_anchor(p), random.Random(seed).randrange(len(p.items))}):
        holds(p, places, cost, anchor)
