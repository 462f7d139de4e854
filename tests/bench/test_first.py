"""The table of first plans says what was measured, and the command measures what it says."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from tests.bench import first
from tests.bench.first import SEEDS, First, as_markdown, cases, main

ROWS = [
    First("demo", "hive-lantern", "five-hole", "five-hole-63", 5, 0.02, 0.03, 0.1, ""),
    First("demo", "activity-bar", "five-hole", "five-hole-63", 46, 0.5, 0.75, 1.0, ""),
    First("40", "made-40-1", "long-strip", "made-40-1-long-strip-20x30", 40, 1.0, 1.2, 1.3, ""),
    First("40", "made-40-2", "long-strip", "made-40-2-long-strip-20x30", 40, 3.0, 3.4, 3.5, ""),
    First("40", "made-40-3", "long-strip", "made-40-3-long-strip-20x30", 40, None, None, 60.4, "no-plan-found"),
    First("80", "made-80-1", "five-hole", "made-80-1-five-hole-2x57", 80, None, None, 61.0, "no-plan-found"),
]


def test_medians_are_of_what_was_found_and_failures_are_told() -> None:
    lines = as_markdown(ROWS, 60, 2).splitlines()
    assert "| demo, 5 to 46 | five-hole | 2 | 2 | 0.26 | 0.39 | 0.75 |" in lines
    assert "| 40 | long-strip | 3 | 2 | 2.00 | 2.30 | 3.40 |" in lines
    assert "| 80 | five-hole | 1 | 0 |  |  |  |" in lines
    assert "- made-40-3 on made-40-3-long-strip-20x30: no-plan-found (60 s)" in lines
    assert sum(line.startswith("- ") for line in lines) == 2


def test_there_are_sixty_made_cases_up_to_150_parts_and_some_larger() -> None:
    small = list(cases([size for size in SEEDS if size <= 150], None, "", demos=False))
    large = list(cases([300, 430], None, "", demos=False))
    assert len(small) >= 60
    assert len(large) >= 4
    demos = list(cases([], None, "", demos=True))
    assert len(demos) == 2 * len(list((Path(first.ROOT) / "netlists").glob("*.yaml")))


def test_the_command_searches_and_writes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    argument = ["--sizes", "10", "--seeds", "1", "--no-demos", "--seconds", "20", "--workers", "1"]
    assert main([*argument, "--only", "five-hole", "--out", str(tmp_path)]) == 0
    assert "made-10-1 on five-hole: " in capsys.readouterr().out
    with (tmp_path / "first-plan.csv").open(newline="") as file:
        (row,) = csv.DictReader(file)
    assert row["circuit"] == "made-10-1"
    assert 0 < float(row["search_seconds"]) <= float(row["seconds"]) <= float(row["ended_seconds"]) + 0.01
    assert "| 10 | five-hole | 1 | 1 |" in (tmp_path / "first-plan.md").read_text(encoding="utf-8")
