"""The results command plans, writes what it says, and its table tells what the plans tell."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.bench.results import ROOT, Protocol, Row, as_markdown, boards_from, main


def test_two_circuits_give_two_folders_and_two_lines_by_size(tmp_path: Path) -> None:
    files = [str(ROOT / "netlists" / f"{name}.yaml") for name in ("gate-blinker", "hive-lantern")]
    assert main([*files, "--out", str(tmp_path), "--seconds", "2", "--workers", "1"]) == 0
    with (tmp_path / "results.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["circuit"] for row in rows] == ["hive-lantern", "gate-blinker"]
    for row in rows:
        plan = json.loads((tmp_path / row["circuit"] / "plan.json").read_text(encoding="utf-8"))
        assert plan["format"] == "placer-plan"
        assert int(row["jumpers"]) == plan["score"]["jumpers"] == len(plan["jumpers"])
        assert float(row["bound"]) <= float(row["cost"])
        assert int(row["parts"]) == len(plan["placements"])
        assert (tmp_path / row["circuit"] / "board.svg").stat().st_size > 0
    text = (tmp_path / "results.md").read_text(encoding="utf-8")
    assert "At most 2 s a circuit, seed 1, 1 worker, on " in text
    assert text.index("| hive-lantern |") < text.index("| gate-blinker |")


def test_a_circuit_that_fits_no_board_is_reported(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    parts = "".join(f"  J{n}: {{package: terminal-24}}\n" for n in range(8))
    wires = ", ".join(f"J{n}.1" for n in range(8))
    file = tmp_path / "too-large.yaml"
    file.write_text(f"circuit: too-large\nparts:\n{parts}nets:\n  BUS: [{wires}]\n", encoding="utf-8")
    assert main([str(file), "--out", str(tmp_path / "out"), "--seconds", "1", "--workers", "1"]) == 3
    assert "too-large: no plan" in capsys.readouterr().err
    assert (tmp_path / "out" / "results.csv").read_text(encoding="utf-8").count("\n") == 1


def test_boards_are_tried_from_the_given_one_upwards() -> None:
    assert boards_from("five-hole-30") == ("five-hole-30", "five-hole-63", "five-hole-twin-45")
    assert boards_from("five-hole-63") == ("five-hole-63", "five-hole-twin-45")
    assert boards_from("long-strip-39x60") == ("long-strip-39x60",)


def test_the_table_for_people_has_a_cell_for_every_figure() -> None:
    row = Row("hive-scale", "five-hole-30", 19, 12, 7, 0, 7.0, 6.5, "feasible", 101.6, 20.0, None)
    lines = as_markdown([row], Protocol("five-hole-30", 20, 1, 2)).splitlines()
    head = next(line for line in lines if line.startswith("| circuit"))
    body = next(line for line in lines if line.startswith("| hive-scale"))
    rule = next(line for line in lines if line.startswith("| ---"))
    assert head.count("|") == body.count("|") == rule.count("|")
    assert "| 6.5 | feasible | 101.6 | 20 |" in body
