"""The same question gives the same answer: by effort always, by the clock when the search ends with a proof."""

from __future__ import annotations

import json
import time
from typing import Any

import pytest

from placer.boards.catalogue import load_board
from placer.circuit.model import Circuit, Net, Part, PinRef
from placer.packages.catalogue import lookup
from placer.plan.file import plan_to_data
from placer.plan.model import Options, Plan
from placer.solve import run, turns
from placer.solve.api import Request
from placer.solve.prover import Finding
from tests.bench.boards import made_case
from tests.solve.engine import answer_of, faults, short_polish
from tests.solve.kinds import case


def hive_bell() -> Circuit:
    """A timer with its parts: rings when the hive's lid is left open."""
    packages = {"U1": "dip-8", "R1": "axial-0207", "R2": "axial-0207", "C1": "disc-5", "C2": "radial-5", "D1": "led-5"}
    nets = {
        "VCC": "U1.8 U1.4 R1.1",
        "GND": "U1.1 C1.2 C2.2 D1.2",
        "THR": "U1.2 U1.6 R2.2 C2.1",
        "DIS": "U1.7 R1.2 R2.1",
        "CV": "U1.5 C1.1",
        "OUT": "U1.3 D1.1",
    }
    return Circuit(
        "hive-bell",
        tuple(Part(ref, name) for ref, name in packages.items()),
        tuple(Net(name, tuple(PinRef(*pin.split(".")) for pin in pins.split())) for name, pins in nets.items()),
        {name: lookup(name) for name in packages.values()},
    )


def timeless(plan: Plan) -> str:
    """The plan's file without its times."""

    def strip(value: Any) -> Any:
        if isinstance(value, dict):
            return {k: strip(v) for k, v in value.items() if "seconds" not in k}
        return [strip(v) for v in value] if isinstance(value, list) else value

    return json.dumps(strip(plan_to_data(plan)), sort_keys=True)


@pytest.mark.parametrize("kind", ["uncut", "cut"])
@pytest.mark.parametrize("seed", range(3001, 3004))
def test_the_same_effort_gives_the_same_plan(kind: str, seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    short_polish(monkeypatch)
    drawn, _ = case(kind, seed)
    for workers in (1, 2):
        one, two = (answer_of(drawn, 3, workers=workers) for _ in range(2))
        assert (one.plan is None) == (two.plan is None)
        assert one.proved_impossible == two.proved_impossible
        assert [d.code for d in one.reasons] == [d.code for d in two.reasons]
        if one.plan is not None and two.plan is not None:
            assert timeless(one.plan) == timeless(two.plan)


@pytest.mark.parametrize("board", ["five-hole-10", "long-strip-8x14"])
def test_the_same_effort_gives_the_same_plan_of_a_real_circuit(board: str, monkeypatch: pytest.MonkeyPatch) -> None:
    short_polish(monkeypatch)
    request = Request(hive_bell(), load_board(board), seconds=None, effort=2, seed=3, workers=2)
    one, two = (run.solve(request, faults).plan for _ in range(2))
    assert one is not None
    assert two is not None
    assert timeless(one) == timeless(two)


@pytest.mark.parametrize("kind", ["five-hole", "long-strip"])
def test_the_same_effort_gives_the_same_plan_of_many_parts(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Their plans near the best one are looked for in a process of its own, at once here."""
    short_polish(monkeypatch)
    monkeypatch.setattr(turns, "NEAR_AFTER", 0.0)
    made = made_case(36, 1, kind)
    request = Request(made.circuit, made.board, made.options, seconds=None, effort=6, seed=1, workers=2)
    one, two = (run.solve(request, faults).plan for _ in range(2))
    assert one is not None
    assert two is not None
    assert any("near plans" in phase["phase"] for phase in one.solve.phases)
    assert one.proof.lower_bound > 0
    assert timeless(one) == timeless(two)


def test_a_search_that_ends_by_proof_gives_the_same_plan_whatever_the_clock() -> None:
    board, uncut = load_board("five-hole-10"), Options(allow_cuts=False)
    one, two = (
        run.solve(Request(hive_bell(), board, uncut, seconds=seconds, seed=2, workers=2), faults).plan
        for seconds in (60, 45)
    )
    assert one is not None
    assert two is not None
    assert one.proof.status == two.proof.status == "optimal"
    assert timeless(one) == timeless(two)


def test_another_seed_is_another_search(monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison above would pass on a search that ignores its seed; this shows that it tells plans apart."""
    short_polish(monkeypatch)
    plans = set()
    for seed in range(1, 6):
        request = Request(hive_bell(), load_board("long-strip-8x14"), seconds=None, effort=1, seed=seed, workers=1)
        plan = run.solve(request, faults).plan
        assert plan is not None
        plans.add(json.dumps(plan_to_data(plan)["placements"], sort_keys=True))
    assert len(plans) > 1


class _Slow:
    """A proof whose second answer is long in coming: that what the first plan costs is the least, or nothing."""

    starts = False
    seconds, proves = 0.0, True

    def __init__(self, *_: object, **__: object) -> None:
        self.asked = 0

    def advance(self, work: float, best: float, places: object, last: float | None, others: object) -> Finding:
        """Sleep, then answer."""
        del places, last, others
        self.asked += 1
        if self.asked < 3:
            return Finding(0.0, work=work)
        pause(self.seconds)
        return Finding(best if self.proves else 0.0, work=work, ended=self.proves)

    def close(self) -> None:
        """Nothing to end."""


@pytest.fixture
def asides(monkeypatch: pytest.MonkeyPatch) -> list[run._Run]:
    """The runs that are made, with what they annealed aside."""
    made: list[run._Run] = []

    class Kept(run._Run):
        def __init__(self, *args: Any) -> None:
            super().__init__(*args)
            made.append(self)

    short_polish(monkeypatch)
    monkeypatch.setattr(run, "Beside", _Slow)
    monkeypatch.setattr(run, "_Run", Kept)
    return made


def test_how_long_an_answer_is_waited_for_does_not_tell_in_what_a_proof_ends_with(
    asides: list[run._Run], monkeypatch: pytest.MonkeyPatch
) -> None:
    own = made_case(24, 2, "five-hole")
    plans = []
    for seconds in (0.0, 2.0):
        monkeypatch.setattr(_Slow, "seconds", seconds)
        request = Request(own.circuit, own.board, own.options, seconds=60, workers=2)
        plan = run.solve(request, faults).plan
        assert plan is not None
        plans.append(timeless(plan))
    assert asides[1].aside, "something was annealed meanwhile"
    assert plans[0] == plans[1]


def test_where_the_clock_ends_the_search_what_was_annealed_meanwhile_counts(
    asides: list[run._Run], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(_Slow, "seconds", 30.0)
    monkeypatch.setattr(_Slow, "proves", False)
    own = made_case(34, 2, "five-hole")
    early: list[float] = []

    def slept(seconds: float) -> None:
        """As long as the search lasts."""
        ours = asides[0]
        early.append(ours.store.rank[0])
        while not ours.stopped():
            time.sleep(0.02)
        assert seconds == 30.0

    monkeypatch.setattr(f"{__name__}.pause", slept)
    plan = run.solve(Request(own.circuit, own.board, own.options, seconds=6, workers=2), faults).plan
    assert plan is not None
    assert plan.score.cost <= asides[0].aside[-1].cost
    assert plan.score.cost < early[0], "six seconds make it cheaper than a few rounds do"


def pause(seconds: float) -> None:
    """Let time pass."""
    time.sleep(seconds)
