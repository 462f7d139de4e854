"""Netlists of other programs as circuits: planned with a parts map, checked against their source, or refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from .conftest import NETLISTS

LAMP = """\
Smoker lamp
V1 vcc 0 5
R1 vcc lamp 330
D1 lamp 0 LEDRED
X1 vcc 0 BUZZER
.model LEDRED D
"""
PARTS = "models: {LEDRED: led-5, BUZZER: {package: terminal-2, value: buzzer}}\n"


@pytest.fixture
def lamp(tmp_path: Path) -> tuple[Path, Path]:
    """A netlist and its map."""
    (tmp_path / "lamp.cir").write_text(LAMP, encoding="utf-8")
    (tmp_path / "map.yaml").write_text(PARTS, encoding="utf-8")
    return tmp_path / "lamp.cir", tmp_path / "map.yaml"


def test_a_netlist_is_planned_and_checked_against_its_source(run, lamp, tmp_path):
    netlist, parts = lamp
    done = run("plan", netlist, "--parts", parts, "--board", "five-hole-30", "--effort", 1, "--out", "out", "--quiet")
    assert (done.code, done.out) == (0, "")
    assert (
        json.loads((tmp_path / "out" / "plan.json").read_text())["circuit"]["data"]["parts"]["X1"]["value"] == "buzzer"
    )
    assert run("check", "out/plan.json").code == 0
    assert run("check", "out/plan.json", "--circuit", netlist, "--parts", parts).code == 0
    netlist.write_text(LAMP.replace("330", "470").replace("R1 vcc", "R1 0"), encoding="utf-8")
    differs = run("check", "out/plan.json", "--circuit", netlist, "--parts", parts)
    assert differs.code == 1
    assert "value of R1" in differs.out
    assert "net vcc" in differs.out


def test_what_cannot_be_built_is_refused_before_anything_is_written(run, lamp, tmp_path):
    netlist, _ = lamp
    refused = run("plan", netlist, "--board", "five-hole-30", "--out", "out")
    assert refused.code == 2
    assert f"{netlist}:5:1" in refused.err
    assert "BUZZER" in refused.err
    assert "--parts" in refused.err
    assert not (tmp_path / "out").exists()
    told = run("plan", netlist, "--json").json["errors"]
    assert [(each["code"], each["line"]) for each in told] == [("cannot-be-built", 5)]


def test_files_outside_the_folder_are_read_only_when_allowed(run, lamp, tmp_path):
    _, parts = lamp
    (tmp_path / "inner").mkdir()
    (tmp_path / "secret.inc").write_text("R7 vcc 0 1k\n", encoding="utf-8")
    netlist = tmp_path / "inner" / "lamp.cir"
    netlist.write_text(LAMP + ".include ../secret.inc\n", encoding="utf-8")
    refused = run("plan", netlist, "--parts", parts, "--out", "out")
    assert refused.code == 2
    assert "include-outside" in refused.err
    assert "--allow-outside" in refused.err
    done = run(
        "plan", netlist, "--parts", parts, "--allow-outside", "--board", "five-hole-30", "--effort", 1, "--out", "out",
        "--quiet",
    )  # fmt: skip
    assert done.code == 0
    assert "R7" in json.loads((tmp_path / "out" / "plan.json").read_text())["placements"]


def test_a_map_without_a_netlist_is_wrong_usage(run, lamp, finished):
    assert run("check", finished / "plan.json", "--parts", lamp[1]).code == 2
    assert run("plan", lamp[0], "--parts", "nosuch.yaml").code == 2


def test_an_unknown_suffix_is_read_as_a_circuit_file(run, tmp_path):
    (tmp_path / "lamp.txt").write_text(LAMP, encoding="utf-8")
    assert run("plan", "lamp.txt").code == 2


@pytest.mark.parametrize("netlist", sorted(NETLISTS.glob("*.cir")), ids=lambda path: path.stem)
def test_the_demo_netlists_read_without_a_warning(netlist):
    from placer.circuit.read import read_circuit_file

    circuit, warnings = read_circuit_file(netlist, netlist.with_name(f"{netlist.stem}.parts.yml"))
    assert warnings == ()
    assert len(circuit.parts) >= 10
