"""Polishing: no more jumpers and cuts, shorter wires, a smaller rectangle; and it may begin from any plan."""

from __future__ import annotations

import time
from functools import cache
from pathlib import Path

import pytest

from placer.boards.catalogue import load_board
from placer.circuit.read_yaml import read_circuit
from placer.plan.model import Options
from placer.solve import layout, polish
from placer.solve.anneal import PENALTIES, Annealer
from placer.solve.arrays import Arrays, Places
from placer.solve.polish import LIKING_STEPS, STEPS, Polisher
from placer.solve.problem import Problem, build
from placer.solve.store import Rank, Store
from tests.bench.boards import made_case
from tests.solve.engine import faults
from tests.solve.test_kernel import drawn


def never() -> bool:
    return False


@cache
def begun(seed: int, kind: str) -> tuple[Problem, Places]:
    """A plan as a short run leaves it that does not look at wires."""
    made = made_case(15, seed, kind)
    problem = build(made.circuit, made.board, made.options)
    store = Store(problem, faults, None)
    annealer = Annealer(Arrays(problem), 1, never)
    annealer.base[layout.LENGTH] = 0.0
    state = annealer.start()
    assert state is not None
    for found in annealer.run(state, 300_000):
        store.offer(found.places, "annealing")
    assert store.places is not None
    return problem, store.places


def store_at(problem: Problem, places: Places) -> Store:
    store = Store(problem, faults, None)
    assert store.offer(places, "start")
    return store


def polished(problem: Problem, places: Places, workers: int = 1, last: float | None = None) -> tuple[Rank, Rank, Store]:
    """How good a plan is before and after."""
    store = store_at(problem, places)
    before = store.rank
    polish.polish(store, 1, workers, never, last)
    return before, store.rank, store


@pytest.mark.parametrize("kind", ["five-hole", "long-strip"])
def test_wires_become_shorter_at_no_more_jumpers_and_cuts(kind: str) -> None:
    better = 0
    for seed in range(1, 4):
        before, after, _ = polished(*begun(seed, kind), workers=2)
        assert after <= before
        better += after[0] < before[0] or after[2] < 0.97 * before[2]
    assert better >= 2


@pytest.mark.parametrize("rebuilds", [True, False])
def test_each_kind_of_step_finds_shorter_wires(rebuilds: bool) -> None:
    found = 0
    for seed in range(1, 6):
        problem, places = begun(seed, "five-hole")
        store = store_at(problem, places)
        before = store.rank
        for step in STEPS:
            if step.rebuilds is rebuilds and store.places is not None:
                for better in Polisher(Arrays(problem), 1, never).shorter(step, store.places)[-1:]:
                    store.offer(better, "polishing")
        found += store.rank[0] == before[0] and store.rank[2] < before[2] - 0.5
    assert found >= 2


def test_the_same_work_comes_to_the_same_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(polish, "STEPS", STEPS[:2])
    problem, places = begun(2, "five-hole")
    for workers in (1, 2):
        _, one, first = polished(problem, places, workers)
        _, other, second = polished(problem, places, workers)
        assert one == other
        assert first.places == second.places


def test_it_ends_when_the_time_is_up_or_the_user_says_so() -> None:
    problem, places = begun(1, "five-hole")
    before, after, _ = polished(problem, places)
    assert after < before
    store = store_at(problem, places)
    polish.polish(store, 1, 1, lambda: True, None)
    assert store.rank == before
    ends = time.monotonic() + 0.5
    polish.polish(store, 1, 1, lambda: time.monotonic() > ends, ends)
    assert store.rank <= before


def test_it_begins_from_a_plan_whose_lone_hole_serves_two_nets() -> None:
    """Counted for both nets one is short of a hole; counted for either as the wires need it, it is a plan."""
    problem = build(*drawn(99))
    places = ((2, 186), (155, 150), (3, 180), (1, 152), (1, 181), (0, 147))
    state = Annealer(Arrays(problem), 1, never).resume(places)
    assert state is not None
    assert state[1][list(PENALTIES)].max() > 0.5, "not legal as the search counts"
    before, after, _ = polished(problem, places)
    assert after[0] == before[0]
    assert after[2] < before[2]


def test_where_no_part_can_move_nothing_is_tried(tmp_path: Path) -> None:
    path = tmp_path / "circuit.yaml"
    path.write_text(
        "circuit: held\nparts:\n"
        "  R1: {package: axial-0207, place: {at: {1: c2, 2: c6}}}\n"
        "  R2: {package: axial-0207, place: {at: {1: d2, 2: d10}}}\n"
        "nets: {A: [R1.1, R2.1], B: [R1.2, R2.2]}\n",
        encoding="utf-8",
    )
    circuit, _ = read_circuit(path)
    problem = build(circuit, load_board("five-hole-30"), Options(allow_cuts=False, habits=True))
    arrays = Arrays(problem, liked=True)
    assert arrays.world[layout.N_MOVABLE] == 0
    places = tuple((s, int(way[0])) for item in problem.items for s, way in enumerate(item.ways) if len(way))
    for step in (*STEPS, *LIKING_STEPS):
        assert Polisher(arrays, 1, never).shorter(step, places) == []
    before, after, _ = polished(problem, places)
    assert after == before
