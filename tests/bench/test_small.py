"""The comparison with the truth counts what it should, and a false claim does not pass it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.bench.small import FALSE, MISSED, NONE, OPTIMUM, Small, compare, failed, main, table
from tests.solve.engine import short_polish
from tests.solve.kinds import case

FOUND = [
    Small("uncut-0", "uncut", OPTIMUM, 3, 2.0, 2.0, 2.0, False),
    Small("uncut-1", "uncut", OPTIMUM, 5, 3.0, 3.0, 1.0, False),
    Small("uncut-2", "uncut", NONE, 3, None, None, 0.0, False),
    Small("cut-0", "cut", MISSED, 7, 1.8, 2.6, 1.0, True),
    Small("cut-1", "cut", FALSE, 3, 1.8, 1.8, 2.0, False, "the bound is above the least cost, 1.8"),
]


def test_results_are_counted_by_kind_and_in_all() -> None:
    rows = {line[:12].strip(): list(map(int, line[12:].split())) for line in table(FOUND).splitlines()[1:]}
    # problems, no plan, optimum, at once, proved, missed, false
    assert rows == {"uncut": [3, 1, 2, 1, 1, 0, 0], "cut": [2, 0, 0, 0, 0, 1, 1], "all": [5, 1, 2, 1, 1, 1, 1]}


def test_a_miss_counts_unless_wires_must_meet_on_empty_copper() -> None:
    assert [failed(one) for one in FOUND] == [False, False, False, False, True]
    assert failed(replace(FOUND[3], junctions=False))


def test_what_is_not_so_is_a_false_claim(monkeypatch: pytest.MonkeyPatch) -> None:
    """The truth is bent: dearer than the plan, no plan at all, or cheaper than what is proved."""
    short_polish(monkeypatch)
    drawn, truth = case("uncut", 3)
    assert truth.cost == 3
    straight = compare(drawn, truth, "uncut", [3])
    assert (straight.result, straight.bound) == (OPTIMUM, 3)
    for cost in (4.0, None, 2.0):
        bent = compare(drawn, replace(truth, cost=cost), "uncut", [3])
        assert bent.result == FALSE
        assert bent.claim


def test_the_command_agrees_with_the_truth(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["2", "--kinds", "uncut", "knife", "--from", "2"]) == 0
    name, problems, none, optimum, _, _, missed, false = capsys.readouterr().out.splitlines()[-1].split()
    assert (name, problems, none, optimum, missed, false) == ("all", "2", "0", "2", "0", "0")
