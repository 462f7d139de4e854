"""The same question gives the same answer: by effort always, by the clock when the search ends with a proof."""

from __future__ import annotations

import json
from typing import Any

import pytest

from placer.boards.catalogue import load_board
from placer.circuit.model import Circuit, Net, Part, PinRef
from placer.packages.catalogue import lookup
from placer.plan.file import plan_to_data
from placer.plan.model import Options, Plan
from placer.solve import run
from placer.solve.api import Request
from tests.solve.cases import case
from tests.solve.engine import answer_of, faults, short_polish


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
