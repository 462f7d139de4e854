"""The commands on good input: what they print, write and return."""

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from pypdf import PdfReader

import placer.planning
from placer.cli import main
from placer.plan.file import read_plan
from placer.solve.api import Outcome

from .conftest import LANTERN, NETLISTS, contents


def start(*arguments, **options):
    command = [sys.executable, "-m", "placer.cli", *map(str, arguments)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **options)


# --- plan ----------------------------------------------------------------------------------------------------------


def test_plan_chooses_a_board_writes_and_says_what_it_found(run, tmp_path):
    ran = run("plan", LANTERN, "--effort", 2)
    assert ran.code == 0
    folder = tmp_path / "hive-lantern-plan"
    plan = read_plan(folder / "plan.json")
    assert plan.board.name == "five-hole-30"
    assert "five-hole-30 was chosen" in ran.out
    for text in ("jumper", "cut", "cost", "proved minimal", "first plan after", "wire", "plan.json"):
        assert text in ran.out
    assert {"plan.json", "board.svg", "copper.svg", "parts.csv"} <= set(contents(folder))
    assert not list(folder.glob(".*"))


def test_plan_prints_one_json_object(run, tmp_path):
    ran = run("plan", LANTERN, "--board", "five-hole-30", "--effort", 1, "--json", "--out", "x", "--seed", 7)
    data = ran.json
    written = json.loads((tmp_path / "x" / "plan.json").read_text())
    assert data["score"] == written["score"]
    assert data["proof"] == written["proof"]
    assert data["solve"]["seed"] == 7
    others = sorted(file for file in (tmp_path / "x").iterdir() if file.name != "plan.json")
    assert data["files"] == [str(Path("x") / name) for name in ("plan.json", *(file.name for file in others))]
    assert data["warnings"] == []
    assert data["interrupted"] is False


def test_plan_says_what_it_uses_and_where_to_saw(run, tmp_path):
    command = ("plan", LANTERN, "--board", "long-strip-24x37", "--effort", 1, "--out", "x")
    plain = run(*command)
    assert re.search(r"uses \d+ x \d+ holes, [\d.]+ x [\d.]+ mm", plain.out)
    assert "Saw the board" not in plain.out
    assert "saw off" not in (tmp_path / "x" / "board.svg").read_text()
    sawn = run(*command, "--crop")
    assert re.search(r"Saw the board to [\d.]+ x [\d.]+ mm: columns \d+ to \d+ and rows \w+ to \w+ stay", sawn.out)
    for side in ("board", "copper"):
        assert "saw off" in (tmp_path / "x" / f"{side}.svg").read_text()
    data = run(*command, "--crop", "--margin", 5, "--json").json
    assert data["area"]["columns"] <= 37
    assert data["area"]["width_mm"] <= data["crop"]["width_mm"] <= 96.52
    assert data["area"]["height_mm"] <= data["crop"]["height_mm"] <= 63.5
    assert data["crop"]["lines"]
    assert data["bare_jumpers"] <= data["score"]["jumpers"]
    assert "crop" not in run(*command, "--json").json


def test_a_summary_counts_bare_jumpers(run):
    ran = run("plan", NETLISTS / "gate-blinker.yaml", "--board", "five-hole-30", "--effort", 1, "--seed", 2)
    jumpers = int(re.search(r"(\d+) jumper", ran.out)[1])
    assert jumpers
    assert int(re.search(rf"; (\d+) of {jumpers} jumpers? can be bare wire", ran.out)[1]) <= jumpers


@pytest.mark.parametrize("margin", [(), ("--margin", 0)])
def test_guide_draws_saw_lines_when_asked(run, earlier, margin):
    ran = run("guide", earlier / "plan.json", "--crop", *margin)
    assert ran.code == 0
    assert "Saw the board to" in ran.out
    assert "saw off" in (earlier / "copper.svg").read_text()
    run("guide", earlier / "plan.json")
    assert "saw off" not in (earlier / "copper.svg").read_text()


@pytest.mark.parametrize("more", [("--margin", 3), ("--crop", "--margin", -1), ("--crop", "--margin", "wide")])
def test_a_margin_needs_crop_and_a_length(run, earlier, more):
    before = contents(earlier)
    assert run("guide", earlier / "plan.json", *more).code == 2
    assert contents(earlier) == before


def test_quiet_prints_nothing(run):
    ran = run("plan", LANTERN, "--board", "five-hole-30", "--effort", 1, "--quiet")
    assert (ran.code, ran.out, ran.err) == (0, "", "")


def test_warnings_of_the_circuit_are_told(run, tmp_path):
    (tmp_path / "c.yaml").write_text("circuit: c\nparts: {R1: {package: axial-0207}}\nnets: {A: [R1.1]}\n")
    ran = run("plan", "c.yaml", "--board", "five-hole-30", "--effort", 1, "--json")
    assert ran.code == 0
    assert "net-with-one-pin" in ran.err
    assert "net-with-one-pin" in [w["code"] for w in ran.json["warnings"]]


@pytest.mark.parametrize(("flag", "allowed"), [(None, False), ("--cuts", True), ("--no-cuts", False)])
def test_options_reach_the_plan(run, tmp_path, flag, allowed):
    more = [flag] if flag else []
    run(
        "plan",
        LANTERN,
        "--board",
        "five-hole-30",
        "--effort",
        1,
        "--cut-cost",
        0.5,
        "--jumper-cost",
        2,
        "--diagonals",
        *more,
    )
    options = json.loads((tmp_path / "hive-lantern-plan" / "plan.json").read_text())["options"]
    expected = {"jumper_cost": 2.0, "cut_cost": 0.5, "allow_cuts": allowed, "diagonals": True, "habits": True}
    assert options == expected


def test_a_board_of_lone_pads_takes_bridges_and_their_cost(run, tmp_path):
    more = ("--board", "single-pad-14x12", "--effort", 2, "--bridge-cost", 0.25)
    ran = run("plan", LANTERN, *more)
    assert ran.code == 0
    folder = tmp_path / "hive-lantern-plan"
    data = json.loads((folder / "plan.json").read_text())
    assert data["options"]["bridge_cost"] == 0.25
    assert data["score"]["bridges"] == len(data["bridges"]) > 0
    assert data["score"]["cost"] == pytest.approx(data["score"]["jumpers"] + 0.25 * data["score"]["bridges"])
    assert f"{len(data['bridges'])} bridges, cost" in ran.out
    assert len((folder / "bridges.csv").read_text().splitlines()) == len(data["bridges"]) + 1
    assert run("check", folder / "plan.json").code == 0
    assert run("plan", LANTERN, *more, "--from", folder / "plan.json").code == 0
    assert "between neighbouring holes" in run("board", "single-pad-14x12").out


def test_an_earlier_plan_can_be_begun_from(run, finished):
    assert run("plan", LANTERN, "--board", "five-hole-30", "--effort", 1, "--from", finished / "plan.json").code == 0


def test_a_guide_that_fails_does_not_lose_the_plan(run, tmp_path, monkeypatch):
    def broken(_plan, _folder, **_options):
        raise ZeroDivisionError("no ink")

    monkeypatch.setattr(placer.planning, "write_guide", broken)
    ran = run("plan", LANTERN, "--board", "five-hole-30", "--effort", 1, "--out", "x")
    assert ran.code == 70
    assert "internal error: ZeroDivisionError: no ink" in ran.err
    assert read_plan(tmp_path / "x" / "plan.json").circuit.name == "hive-lantern"


def test_a_search_that_fails_overwrites_nothing(run, earlier, monkeypatch):
    before = contents(earlier)

    def broken(*_):
        raise RuntimeError("a plan that had passed the check no longer does")

    monkeypatch.setattr(placer.planning, "solve", broken)
    ran = run("plan", LANTERN, "--board", "five-hole-30", "--out", earlier)
    assert ran.code == 70
    assert len(ran.err.splitlines()) == 1
    assert contents(earlier) == before


# --- interrupts ----------------------------------------------------------------------------------------------------


def interrupted_search(plan, times):
    """A search that has the judge check one plan and is then interrupted by the user."""

    def solve(_request, judge, _on_progress=None, stop=None):
        if plan is not None:
            assert not judge(plan)
        for _ in range(times):
            signal.raise_signal(signal.SIGINT)
        assert stop.is_set()
        return Outcome(plan, interrupted=True)

    return solve


@pytest.mark.parametrize("times", [1, 2])
def test_an_interrupt_writes_the_best_checked_plan(run, tmp_path, monkeypatch, finished, times):
    monkeypatch.setattr(placer.planning, "solve", interrupted_search(read_plan(finished / "plan.json"), times))
    ran = run("plan", LANTERN, "--board", "five-hole-30", "--out", "x")
    assert ran.code == 130
    assert "interrupted" in ran.out
    assert read_plan(tmp_path / "x" / "plan.json").circuit.name == "hive-lantern"
    assert run("check", "x/plan.json").code == 0


@pytest.mark.parametrize("times", [1, 2])
def test_an_interrupt_before_the_first_plan_writes_nothing(run, tmp_path, monkeypatch, times):
    monkeypatch.setattr(placer.planning, "solve", interrupted_search(None, times))
    ran = run("plan", LANTERN, "--board", "five-hole-30", "--out", "x")
    assert ran.code == 130
    assert "interrupted" in ran.err
    assert contents(tmp_path) == {}


def test_an_interrupt_while_files_are_written_changes_nothing(run, monkeypatch):
    from placer.guide.write import write_guide

    def interrupted(plan, folder, **options):
        signal.raise_signal(signal.SIGINT)
        signal.raise_signal(signal.SIGINT)
        return write_guide(plan, folder, **options)

    monkeypatch.setattr(placer.planning, "write_guide", interrupted)
    assert run("plan", LANTERN, "--board", "five-hole-30", "--effort", 1, "--out", "x").code == 0
    assert run("check", "x/plan.json").code == 0


def test_a_real_search_is_ended_by_ctrl_c(tmp_path):
    circuit = NETLISTS / "four-hive-mixer.yaml"
    process = start("plan", circuit, "--board", "long-strip-39x60", "--time", 120, "--out", tmp_path / "x")
    for line in process.stderr:
        if "cost" in line:
            break
    process.send_signal(signal.SIGINT)
    began = time.monotonic()
    out, err = process.communicate(timeout=60)
    assert process.returncode == 130, err
    assert time.monotonic() - began < 30
    assert "stopping" in err
    assert "Traceback" not in err
    assert "best checked plan so far" in out
    assert main(["check", str(tmp_path / "x" / "plan.json")]) == 0


# --- check and guide -----------------------------------------------------------------------------------------------


def test_check_passes_a_good_plan(run, finished):
    ran = run("check", finished / "plan.json", "--circuit", LANTERN, "--board", "five-hole-30")
    assert ran.code == 0
    assert "no faults" in ran.out


def test_check_lists_faults(run, earlier, tmp_path):
    path = earlier / "plan.json"
    data = json.loads(path.read_text())
    first, second = list(data["placements"].values())[:2]
    first["pins"]["1"] = second["pins"]["1"]
    path.write_text(json.dumps(data))
    ran = run("check", path)
    assert ran.code == 1
    assert "do not build this plan" in ran.out
    faults = run("check", path, "--json").json
    assert faults["passed"] is False
    assert len(faults["faults"]) >= 1
    guide = run("guide", path, "--out", "g")
    assert guide.code == 1
    assert not (tmp_path / "g").exists()


def test_check_against_another_circuit_finds_the_difference(run, finished, tmp_path):
    (tmp_path / "c.yaml").write_text(LANTERN.read_text().replace("axial-0207", "axial-0309"))
    assert run("check", finished / "plan.json", "--circuit", "c.yaml").code == 1


def test_guide_writes_the_drawings(run, finished, tmp_path):
    ran = run("guide", finished / "plan.json", "--out", "g")
    assert ran.code == 0
    assert set(ran.out.split()) == {str(p.relative_to(tmp_path)) for p in (tmp_path / "g").iterdir()}
    assert (tmp_path / "g" / "board.svg").exists()
    assert (tmp_path / "g" / "guide.html").exists()


def test_guide_is_set_for_the_paper_asked_for(run, finished, tmp_path):
    """Letter: 8.5 x 11 in (ANSI/ASME Y14.1, from memory); a point is 1/72 in."""
    assert run("guide", finished / "plan.json", "--out", "g", "--paper", "letter").code == 0
    page = PdfReader(tmp_path / "g" / "guide.pdf").pages[0].mediabox
    assert (float(page.width), float(page.height)) == pytest.approx((8.5 * 72, 11 * 72), abs=0.3)
    assert run("guide", finished / "plan.json", "--paper", "a3").code == 2


# --- board and parts -----------------------------------------------------------------------------------------------


def test_board_lists_describes_and_draws(run, tmp_path):
    assert "five-hole-30" in run("board").out
    assert {"name", "about", "holes"} == set(run("board", "--json").json["boards"][0])
    described = run("board", "five-hole-30")
    assert described.code == 0
    assert "420" in described.out
    data = run("board", "five-hole-30", "--json").json
    assert (data["format"], data["version"], data["name"]) == ("placer-board", 1, "five-hole-30")
    assert run("board", "five-hole-30", "--svg", "b.svg").out == "b.svg\n"
    assert (tmp_path / "b.svg").read_text().startswith(("<svg", "<?xml"))


def test_parts_lists_and_describes(run):
    listed = run("parts").out
    assert "header-N" in listed
    assert max(map(len, listed.splitlines())) > 80  # whole lines where no terminal limits them
    assert "3 x 3 steps" in run("parts", "dip-8").out
    assert run("parts", "dip-8", "--json").json["pins"] == list("12345678")
    assert len(run("parts", "--json").json["packages"]) > 30


# --- the program ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "arguments", [["--help"], ["board"], ["board", "five-hole-30"], ["parts"], ["plan", "no.yaml", "--help"]]
)
def test_what_needs_no_search_does_not_load_it(arguments):
    code = (
        "import sys; from placer.cli import main; main(sys.argv[1:]); "
        "heavy = {m.split('.')[0] for m in sys.modules} & {'ortools', 'numba', 'matplotlib', 'networkx'}; "
        "sys.exit(f'loaded {heavy}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code, *arguments], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_the_listed_commands_are_the_ones_there_are(run):
    out = run("--help").out
    for name in ("plan", "check", "guide", "netlist", "board", "parts"):
        assert f" {name} " in out
    for name in ("revise", "compare"):
        assert f" {name} " not in out


def test_the_package_runs_as_the_command_does():
    done = subprocess.run([sys.executable, "-m", "placer", "board", "no-such"], capture_output=True, text=True)
    assert done.returncode == 2
    assert "no-such" in done.stderr


def test_version(run):
    import placer

    assert run("--version").out == f"placer {placer.__version__}\n"


def test_an_internal_error_is_one_line_unless_asked_for_more(run, monkeypatch, capsys):
    def broken():
        raise KeyError("x\ny")

    monkeypatch.setattr("placer.packages.show.overview", broken)
    monkeypatch.delenv("PLACER_DEBUG", raising=False)
    ran = run("parts")
    assert ran.code == 70
    assert len(ran.err.splitlines()) == 1
    assert "PLACER_DEBUG" in ran.err
    monkeypatch.setenv("PLACER_DEBUG", "1")
    assert main(["parts"]) == 70
    assert "Traceback" in capsys.readouterr().err


def test_a_closed_pipe_ends_quietly():
    process = start("parts")
    process.stdout.close()
    err = process.stderr.read()
    assert process.wait(30) != 0 or err == ""
    assert "Traceback" not in err
    assert "internal error" not in err


def test_an_output_without_unicode_does_no_harm():
    process = start("board", "five-hole-30", env={**os.environ, "PYTHONIOENCODING": "ascii", "LC_ALL": "C"})
    out, err = process.communicate(timeout=30)
    assert (process.returncode, err) == (0, "")
    assert out.isascii()
