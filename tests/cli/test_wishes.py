"""Wishes from the command line: parts soldered already, habits, and what the end of a run says of them."""

from __future__ import annotations

import json
from pathlib import Path

from placer.errors import Exit

CIRCUIT = """\
circuit: hive-bell
parts:
  U1: {package: dip-8}
  C1: {package: disc-5}
  R1: {package: axial-0207, place: {prefer: {edge: top, weight: 3}}}
  J1: {package: header-3}
nets:
  VCC: {pins: [U1.8, U1.4, C1.1, J1.1, R1.1], role: supply}
  GND: {pins: [U1.1, C1.2, J1.3], role: ground}
  OUT: [U1.3, J1.2]
  SET: [U1.6, R1.2]
"""
PLAN = ("--board", "five-hole-20", "--effort", 2)


def written(folder: Path) -> dict[str, dict[str, object]]:
    return json.loads((folder / "plan.json").read_text(encoding="utf-8"))


def test_parts_that_are_kept_stay(run, tmp_path):
    source = tmp_path / "bell.yaml"
    source.write_text(CIRCUIT, encoding="utf-8")
    run("plan", source, *PLAN, "--out", tmp_path / "first")
    more = CIRCUIT.replace("C1: {package: disc-5}", "C1: {package: disc-5}\n  D1: {package: do-35}")
    source.write_text(more.replace("OUT: [U1.3", "OUT: [D1.1, U1.3"), encoding="utf-8")
    first = tmp_path / "first" / "plan.json"
    ran = run("plan", source, *PLAN, "--out", tmp_path / "next", "--from", first, "--keep", "U1, J*", "--seed", 5)
    assert ran.code == Exit.OK
    one, two = (written(tmp_path / name)["placements"] for name in ("first", "next"))
    assert {ref: two[ref] for ref in ("U1", "J1")} == {ref: one[ref] for ref in ("U1", "J1")}
    assert run("check", tmp_path / "next" / "plan.json", "--circuit", source).code == Exit.OK


def test_what_cannot_stay_is_told(run, tmp_path):
    source = tmp_path / "bell.yaml"
    source.write_text(CIRCUIT, encoding="utf-8")
    assert run("plan", source, *PLAN, "--keep", "U1").code == Exit.BAD_INPUT
    source.write_text(CIRCUIT.replace("{package: dip-8}", "{package: dip-8, place: {fixed: true}}"), encoding="utf-8")
    ran = run("plan", source, *PLAN)
    assert ran.code == Exit.BAD_INPUT
    assert "fixed-without-plan" in ran.err


def test_habits_and_wishes_are_told_at_the_end(run, tmp_path):
    source = tmp_path / "bell.yaml"
    source.write_text(CIRCUIT, encoding="utf-8")
    ran = run("plan", source, *PLAN, "--out", tmp_path / "with")
    lines = {line.split()[0]: line for line in ran.out.splitlines() if line.strip()}
    assert "of 6 kept" in lines["habits"]
    assert "of 1 kept" in lines["wishes"]
    assert set(written(tmp_path / "with")["score"]["habits"]) == {"rails", "decoupling", "edges"}
    run("plan", source, *PLAN, "--no-habits", "--out", tmp_path / "without")
    assert "habits" not in written(tmp_path / "without")["score"]
