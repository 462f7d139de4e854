"""Random wishes: no plan breaks a binding one, and no refusal is wrong; a sample of what the command runs at length."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.bench.habits import Habits, kept, planned, table
from tests.bench.wishes import FALSE, PLAN, REFUSED, larger, look, loose, missed, small
from tests.bench.wishes import table as wishes_table
from tests.solve.engine import short_polish


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    short_polish(monkeypatch)


@pytest.mark.parametrize("block", range(4))
def test_small_problems_with_wishes_agree_with_the_truth(block: int) -> None:
    results = []
    for number in range(1000 + 8 * block, 1008 + 8 * block):
        case, truth = small(number)
        one = look(case, truth, "small")
        assert one.result != FALSE, (case.name, one.claim)
        assert not missed(one, case.circuit), case.name
        if truth.plan is not None and not loose(case.circuit):
            assert one.cost is not None
            assert one.cost >= truth.cost - 1e-9
        results.append(one.result)
    assert PLAN in results


def test_larger_circuits_with_wishes_pass_the_judge() -> None:
    results = [look(larger(number), None, "larger") for number in (2, 4, 8)]
    assert [one.claim for one in results] == ["", "", ""]
    assert any(one.result == PLAN for one in results)


def test_a_false_refusal_and_a_bound_too_high_are_noticed() -> None:
    case, truth = next(pair for pair in map(small, range(1000, 1100)) if pair[1].cost not in (None, 0.0))
    good = look(case, truth, "small")
    assert good.result == PLAN
    assert look(case, replace(truth, cost=None, plan=None), "small").result == FALSE
    assert look(case, replace(truth, cost=truth.cost + 5), "small").result == FALSE
    rows = wishes_table([good, replace(good, result=REFUSED)], 0).splitlines()
    assert rows[-2].split()[1:5] == ["2", "1", str(int(good.cost == truth.cost)), "1"]


def test_habits_are_kept_at_no_cost_and_told() -> None:
    # After two rounds the search has not come down to what it comes to, and luck in polishing decides.
    plans = [planned("hive-counter", 4, 1, habits=habits) for habits in (False, True)]
    one = Habits("hive-counter", *plans)
    assert one.extra <= 0
    before, after = (kept(plan) for plan in plans)
    assert sum(times for times, _ in after.values()) >= sum(times for times, _ in before.values())
    told = dict.fromkeys(after, (0, 0))
    for tally in plans[1].score.wishes:
        times, of = told[tally.habit]
        told[tally.habit] = times + tally.kept, of + tally.of
    assert told == after
    assert "hive-counter" in table([one])
