"""Findings in the plan file: there and back, and what a spoiled one is refused with."""

from __future__ import annotations

import copy
import random
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from placer.errors import Exit, PlacerError
from placer.plan.file import plan_from_data, plan_to_data, read_plan, write_plan
from placer.plan.findings import Finding, same_findings
from placer.plan.model import Plan
from tests.check.plans import lantern
from tests.plan.test_hostile import judged, spoil

FOUND = (
    Finding("strip-current", "error", "strip L1 carries 3 A", ("VCC", "L1"), {"current_A": 3.0}, "IPC-2221", "less"),
    Finding("current-basis", "note", "VCC as declared"),
)


def with_findings() -> Plan:
    return replace(lantern(), findings=FOUND)


def test_findings_come_back_from_the_file(tmp_path: Path) -> None:
    write_plan(with_findings(), tmp_path / "plan.json")

    assert read_plan(tmp_path / "plan.json").findings == FOUND


def test_a_plan_nobody_looked_at_has_no_such_field() -> None:
    assert "findings" not in plan_to_data(lantern())


@pytest.mark.parametrize(
    ("spoilt", "message"),
    [
        ({"severity": "fatal"}, 'findings.0.severity is "fatal"; expected error, warning or note'),
        ({"figures": {"current_A": "3"}}, 'findings.0.figures.current_A is "3"; expected a number'),
        ({"figures": {"current_A": float("inf")}}, "findings.0.figures.current_A is inf; expected a finite number"),
        ({"where": "VCC"}, 'findings.0.where is "VCC"; expected a list'),
        ({"mesage": "x"}, "findings.0.mesage is no field of a plan file"),
    ],
)
def test_a_spoiled_finding_is_refused_with_its_place(spoilt: dict[str, Any], message: str) -> None:
    data = copy.deepcopy(plan_to_data(with_findings()))
    data["findings"][0] |= spoilt

    with pytest.raises(PlacerError) as caught:
        plan_from_data(data, "hive.json")
    assert caught.value.exit_code == Exit.BAD_INPUT
    assert message in [d.message for d in caught.value.diagnostics]


def test_findings_spoiled_at_random_are_refused_or_read_never_a_traceback() -> None:
    good = plan_to_data(with_findings())
    dice = random.Random(7)
    answers = set()
    for _ in range(100):
        data = copy.deepcopy(good)
        spoil(dice, data["findings"])
        answers.add(judged(data) is None)

    assert answers == {True, False}


def test_findings_are_the_same_within_rounding_only() -> None:
    nearly = (replace(FOUND[0], figures={"current_A": 3.0005}), FOUND[1])
    other = (replace(FOUND[0], figures={"current_A": 3.1}), FOUND[1])

    assert same_findings(FOUND, nearly[::-1])
    assert not same_findings(FOUND, other)
    assert not same_findings(FOUND, FOUND[:1])
