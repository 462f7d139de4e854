"""The engine's answer to a case held against the truth about it."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from placer.solve.api import Outcome
from tests.solve.brute import Answer
from tests.solve.cases import Case
from tests.solve.engine import answer_of, faults

EFFORTS = (3, 6, 12)
"""Rounds of work, each at least twice as long as the one before: more where a case is hard to find a plan for."""


class MissedError(AssertionError):
    """With all the effort allowed, the engine did not find a plan of the least cost."""


def agree(drawn: Case, truth: Answer, efforts: Sequence[int] = EFFORTS) -> None:
    """The engine never claims what is not so, and with some effort it finds the optimum.

    Raises MissedError when only the latter fails.
    """
    if truth.plan is not None:
        assert faults(truth.plan) == (), "the exhaustive search is wrong itself"
    costs = []
    for effort in efforts if truth.cost is not None else efforts[:1]:
        outcome = answer_of(drawn, effort)
        claims_are_true(outcome, truth)
        costs.append(None if outcome.plan is None else outcome.plan.score.cost)
        if costs[-1] == truth.cost or truth.junctions:
            return
    if costs[-1] != truth.cost:
        raise MissedError(f"plans of {costs} with efforts of {efforts}; the least cost is {truth.cost}")


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
