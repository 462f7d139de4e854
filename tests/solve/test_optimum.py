"""The engine against the truth: random small cases whose least cost is known because everything was tried.

PLACER_CASES sets how many cases of each kind are drawn (1000, say); the standard number keeps the suite quick. Plans
that need wires to meet on empty copper may be missed by the search, never denied by a proof.
"""

from __future__ import annotations

import os

import pytest

from placer.solve.api import Outcome
from tests.solve.brute import Answer
from tests.solve.cases import Case, case
from tests.solve.engine import answer_of, faults, short_polish

COUNT = int(os.environ.get("PLACER_CASES", "0"))
UNCUT = range(COUNT or 110)
CUT = range(COUNT or 90)


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    short_polish(monkeypatch)


EFFORTS = (3, 5, 7)
"""Rounds of work, each at least twice as long as the one before: more where a case is hard to find a plan for."""


def agree(drawn: Case, truth: Answer) -> None:
    """The engine never claims what is not so, and with some effort it finds the optimum."""
    if truth.plan is not None:
        assert faults(truth.plan) == (), "the exhaustive search is wrong itself"
    costs = []
    for effort in EFFORTS if truth.cost is not None else EFFORTS[:1]:
        outcome = answer_of(drawn, effort)
        claims_are_true(outcome, truth)
        costs.append(None if outcome.plan is None else outcome.plan.score.cost)
        if costs[-1] == truth.cost or truth.junctions:
            return
    assert costs[-1] == truth.cost, f"plans of {costs} with efforts of {EFFORTS}; the least cost is {truth.cost}"


def claims_are_true(outcome: Outcome, truth: Answer) -> None:
    """What the engine says of a case, held against the truth."""
    plan = outcome.plan
    if plan is None:
        assert outcome.reasons
        assert not outcome.proved_impossible or truth.cost is None, f"called impossible; a plan costs {truth.cost}"
        return
    assert faults(plan) == ()
    assert truth.cost is not None, "a plan where none exists"
    assert plan.score.cost >= truth.cost - 1e-9, f"cheaper than the least cost, {truth.cost}"
    assert plan.proof.lower_bound <= truth.cost + 1e-9, f"the bound is above the least cost, {truth.cost}"
    if plan.proof.status == "optimal":
        assert plan.score.cost == pytest.approx(truth.cost, abs=1e-9)


@pytest.mark.parametrize("seed", UNCUT)
def test_on_copper_that_is_not_cut(seed: int) -> None:
    agree(*case("uncut", seed))


@pytest.mark.parametrize("seed", CUT)
def test_on_copper_that_may_be_cut(seed: int) -> None:
    agree(*case("cut", seed))
