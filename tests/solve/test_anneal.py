"""Streams of annealing runs: stopped at any moment, mended at their end, on boards too full for one part at a time."""

from __future__ import annotations

import time

import pytest

from placer.boards.model import Board
from placer.circuit.model import Circuit, Net, Part, PinRef, Place
from placer.packages.model import Flying, Rigid
from placer.plan.model import Options
from placer.solve import kernel, layout
from placer.solve.anneal import CHUNK, PENALTIES, Annealer
from placer.solve.arrays import Arrays
from placer.solve.problem import build
from tests.bench.boards import made_case
from tests.solve.agree import agree
from tests.solve.cases import board_of, package
from tests.solve.engine import short_polish
from tests.solve.kinds import case

PAD = package("pad", Flying(), 1)
LARGE = package("large", Rigid(((0, 0), (0, 1), (0, 2), (0, 3)), None), 4)


def rows(count: int) -> Board:
    """So many strips of five holes, one below the other."""
    return board_of([[(x, y) for x in range(5)] for y in range(count)])


def made(parts: int, kind: str = "five-hole") -> Arrays:
    """A made circuit on its board."""
    own = made_case(parts, 1, kind)
    return Arrays(build(own.circuit, own.board, own.options))


@pytest.mark.parametrize("kind", ["five-hole", "long-strip"])
def test_a_stream_that_is_stopped_at_any_look_comes_back(kind: str) -> None:
    arrays = made(6, kind)
    for looks in (*range(1, 12), 30, 31, 32, 33):
        asked = 0

        def stopped(looks: int = looks) -> bool:
            nonlocal asked
            asked += 1
            assert asked < looks + 50, "it goes on, though it was told to stop"
            return asked > looks

        stream = Annealer(arrays, 1, stopped)
        for _ in range(3):
            stream.advance(40 * CHUNK, -1.0)


def test_what_shares_a_strip_with_a_large_parts_pin_is_led_off_together() -> None:
    """One pad alone gains nothing by leaving: only when both are gone, no nets meet on the strip."""
    parts = {"U1": LARGE, "P1": PAD, "P2": PAD, "P3": PAD}
    nets = {"A": "P1.1 P2.1", "B": "U1.1 P3.1"}
    circuit = Circuit(
        "by-hand",
        tuple(
            Part(ref, own.name, place=Place(at={"1": "a1"}, rotation=0) if ref == "U1" else Place())
            for ref, own in parts.items()
        ),
        tuple(Net(name, tuple(PinRef(*pin.split(".")) for pin in pins.split())) for name, pins in nets.items()),
        {own.name: own for own in parts.values()},
    )
    arrays = Arrays(build(circuit, rows(6), Options()))
    p = arrays.problem
    hole = {"P1": (1, 0), "P2": (2, 0), "P3": (0, 4)}
    places = tuple((0, p.hole(*hole[item.ref])) if item.ref in hole else (0, int(item.ways[0][0])) for item in p.items)
    stream = Annealer(arrays, 1, lambda: False)
    left = []
    for force in (False, True):
        state = stream.resume(places)
        assert state is not None
        assert state[1][layout.SHORTS] == 1
        kernel.mend(arrays.world, *state, 200, stream.weights(2.0), 1, force=force)
        left.append(state[1][layout.SHORTS])
    assert left == [1, 0]


@pytest.mark.parametrize("kind", ["five-hole", "long-strip"])
def test_what_runs_have_come_to_is_kept_the_cheapest_first(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    made = made_case(10, 1, kind)
    p = build(made.circuit, made.board, made.options)
    stream = Annealer(Arrays(p), 1, lambda: False)
    assert stream.ends == ()
    best = None
    while stream.runs < 8:
        for found in stream.advance(30_000, -1.0):
            best = found if best is None else min(best, found, key=lambda f: f.cost)
    assert best is not None
    costs = [end.cost for end in stream.ends]
    assert 3 <= len(costs) <= stream.runs
    assert costs == sorted(costs)
    assert costs[0] >= best.cost - 1e-9
    terms = [layout.JUMPERS, layout.CUTS]
    for end in stream.ends:
        state = stream.resume(end.places, lenient=True)
        assert state is not None
        assert state[1][list(PENALTIES)].max() <= 0.5
        assert state[1][terms] @ stream.base[terms] == pytest.approx(end.cost)
    monkeypatch.setattr("placer.solve.anneal.MOST_ENDS", 2)
    runs = stream.runs
    while stream.runs < runs + 3:
        stream.advance(30_000, -1.0)
    assert len(stream.ends) == 2
    assert all(end.cost <= before for end, before in zip(stream.ends, costs, strict=False))


def test_a_run_of_many_parts_ends_with_a_plan() -> None:
    """Cooled this fast, 120 parts nearly always keep some short or overlap; the end of the run mends it."""
    arrays = made(120)
    ended = 0
    for seed in range(6):
        stream = Annealer(arrays, seed, lambda: False)
        state = stream.start()
        assert state is not None
        ended += any(found is not None for found in stream._chunks(state, 120_000))
    assert ended >= 4, "of 240 such runs 232 did"


@pytest.mark.parametrize("kind", ["five-hole", "long-strip"])
def test_the_best_of_a_portion_is_handed_on_though_another_run_follows(kind: str) -> None:
    stream = Annealer(made(6, kind), 1, lambda: False)
    best, portions = None, 0
    for _ in range(12):
        found = stream.advance(3 * 200_000 + CHUNK, -1.0)  # three runs and the beginning of a fourth
        costs = [(state.cost, state.length) for state in found]
        assert costs == sorted(set(costs), reverse=True)
        if stream.best is not best:
            best = stream.best
            assert found[-1] is best
            portions += 1
    assert portions > 1


def test_runs_share_the_time_that_is_left() -> None:
    """Without an end they have their fixed length; with one, a run is as long as lets the last of them end cold."""
    arrays = made(40)
    planned = 800_000
    assert Annealer(arrays, 1, lambda: False)._fitted(planned) == planned
    soon = Annealer(arrays, 1, lambda: False, time.monotonic() + 0.5)._fitted(planned)
    assert CHUNK <= soon < planned
    later = Annealer(arrays, 1, lambda: False, time.monotonic() + 1000)._fitted(planned)
    assert later == pytest.approx(planned, rel=0.01)
    assert Annealer(arrays, 1, lambda: False, time.monotonic() - 1)._fitted(planned) == CHUNK


def test_parts_that_cannot_get_past_each_other_move_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two parts on fifteen holes: from anywhere else, the one cheapest plan is reached by moving both only."""
    short_polish(monkeypatch)
    agree(*case("rails mixed", 100))
