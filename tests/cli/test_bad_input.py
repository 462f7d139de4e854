"""Every bad input: its text, its exit code, no traceback, and nothing overwritten."""

import json

import pytest

from .conftest import LANTERN, contents

PARTS = "circuit: c\nparts:\n  R1: {package: axial-0207}\n  R2: {package: axial-0207}\n"
GOOD = PARTS + "nets:\n  A: [R1.1, R2.1]\n  B: [R1.2, R2.2]\n"
MISSPELT = GOOD.replace("axial-0207", "axial-207", 1)
TWICE = GOOD.replace("R1.1, R2.1", "R1.1, R1.1")
TWO_NETS = GOOD.replace("R1.2", "R1.1")
BOMB = "a0: &a0 [x]\n" + "".join(f"a{i}: &a{i} [*a{i - 1}]\n" for i in range(1, 300_000))
FLAT_BOMB = "a: &a x\nb: [" + "*a," * 1_000_000 + "]"
LARGE = "circuit: large\nparts: {U1: {package: dip-40-wide}, U2: {package: dip-40-wide}}\nnets: {A: [U1.1, U2.1]}\n"
AT = "circuit: c\nparts:\n  R1: {package: axial-0207, place: {at: {1: zz99}}}\nnets: {A: [R1.1], B: [R1.2]}\n"
AT_FAR = AT.replace("{1: zz99}", "{1: a1, 2: j30}")

BAD_INPUT, NO_PLAN = 2, 3


@pytest.mark.parametrize(
    ("text", "code", "says"),
    [
        (MISSPELT, BAD_INPUT, ["circuit.yaml:3:17", "unknown-package", "did you mean axial-0207?"]),
        (TWICE, BAD_INPUT, ["circuit.yaml:6:13", "pin R1.1 stands in it already on line 6", "pin-twice"]),
        (TWO_NETS, BAD_INPUT, ["circuit.yaml:7:7", "pin R1.1 is in net A already on line 6", "pin-in-two-nets"]),
        ("a: [1\n", BAD_INPUT, ["circuit.yaml:1:4", "not YAML", "yaml-syntax"]),
        ("\x7fELF\x00\x01", BAD_INPUT, ["control character", "yaml-control-character"]),
        ("", BAD_INPUT, ["empty-circuit"]),
        (BOMB, BAD_INPUT, ["nested more than 60 deep", "yaml-too-deep"]),
        (FLAT_BOMB, BAD_INPUT, ["more than 200000 values", "yaml-too-many-values"]),
        (LARGE, NO_PLAN, ["no-plan-possible", "board five-hole-30 has 64 strips", "larger board"]),
        (AT, NO_PLAN, ["R1", "at", "zz99"]),
        (AT_FAR, NO_PLAN, ["R1", "at", "j30"]),
    ],
    ids=[
        "unknown package", "pin twice", "pin in two nets", "not YAML", "binary", "empty", "nested aliases",
        "a million aliases", "board too small", "wish for no hole", "wish out of reach",
    ],
)  # fmt: skip
def test_a_circuit_that_cannot_be_planned(run, earlier, tmp_path, text, code, says):
    (tmp_path / "circuit.yaml").write_text(text)
    before = contents(tmp_path)
    ran = run("plan", "circuit.yaml", "--board", "five-hole-30", "--out", earlier, "--time", 5)
    assert ran.code == code
    assert ran.out == ""
    for text in says:
        assert text in ran.err
    assert contents(tmp_path) == before


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("plan", "hive.yaml"), "hive.yaml does not exist"),
        (("plan", "."), "is a folder"),
        (("plan", LANTERN, "--board", "five-hole-31x"), "five-hole-30"),
        (("plan", LANTERN, "--board", "no.yaml"), "no.yaml"),
        (("plan", LANTERN, "--from", "no.json"), "no.json"),
        (("plan", LANTERN, "--time", "0"), "--time"),
        (("plan", LANTERN, "--time", "nan"), "--time"),
        (("plan", LANTERN, "--time", "1", "--effort", "1"), "--effort"),
        (("plan", LANTERN, "--jumper-cost", "-1"), "--jumper-cost"),
        (("plan",), "circuit"),
        (("check", "no.json"), "no.json"),
        (("guide", "no.json"), "no.json"),
        (("board", "no-such"), "neither in the catalogue nor a file"),
        (("board", "--svg", "x.svg"), "name it"),
        (("board", "five-hole-30", "--svg", "no/x.svg"), "cannot be written"),
        (("parts", "dip8"), "did you mean dip-8"),
        (("parts", "header-99"), "found 99"),
        (("nonsense",), "nonsense"),
        (("--nonsense",), "nonsense"),
    ],
)
def test_arguments_that_cannot_be_taken(run, tmp_path, arguments, says):
    ran = run(*arguments)
    assert ran.code == BAD_INPUT
    assert ran.out == ""
    assert says.lower() in ran.err.lower()
    assert contents(tmp_path) == {}


@pytest.mark.parametrize("place", ["out", "out/deeper"])
def test_an_output_folder_that_cannot_be_written_is_found_before_the_search(run, tmp_path, monkeypatch, place):
    import placer.planning

    monkeypatch.setattr(placer.planning, "solve", lambda *_: pytest.fail("searched"))
    (tmp_path / "out").write_text("a file in the way")
    ran = run("plan", LANTERN, "--board", "five-hole-30", "--out", place)
    assert ran.code == BAD_INPUT
    assert "folder-not-writable" in ran.err
    assert contents(tmp_path) == {"out": b"a file in the way"}


def test_a_folder_named_as_the_plan_file_is_found_before_the_search(run, tmp_path):
    (tmp_path / "out" / "plan.json").mkdir(parents=True)
    ran = run("plan", LANTERN, "--board", "five-hole-30", "--out", "out")
    assert ran.code == BAD_INPUT
    assert "plan.json is a folder" in ran.err


def test_a_failed_run_leaves_no_folder_behind(run, tmp_path):
    (tmp_path / "circuit.yaml").write_text(LARGE)
    assert run("plan", "circuit.yaml", "--board", "five-hole-30", "--out", "a/b").code == NO_PLAN
    assert not (tmp_path / "a").exists()


def test_where_holes_are_missing_no_wish_is_blamed(run, tmp_path):
    """A count says it all; which of the wishes finds no room first is chance."""
    parts = ", ".join(f"J{i}: {{package: terminal-2, place: {{edge: left}}}}" for i in range(40))
    (tmp_path / "circuit.yaml").write_text(f"circuit: c\nparts: {{{parts}}}\nnets: {{A: [J1.1, J2.1]}}\n")
    ran = run("plan", "circuit.yaml", "--board", "long-strip-4x10")
    assert ran.code == NO_PLAN
    assert "80 leads" in ran.err
    assert "conflict" not in ran.err


def test_one_part_is_not_told_to_stand_together(run, tmp_path):
    (tmp_path / "circuit.yaml").write_text(
        "circuit: c\nparts: {J1: {package: terminal-3, place: {edge: any}}}\nnets: {A: [J1.1], B: [J1.2], C: [J1.3]}\n"
    )
    ran = run("plan", "circuit.yaml", "--board", "long-strip-1x3")
    assert ran.code == NO_PLAN
    assert "J1 cannot stand on board long-strip-1x3 [" in ran.err


def test_what_is_no_plan_file_is_told_which_one_is_meant(run, tmp_path):
    (tmp_path / "circuit.yaml").write_text(GOOD)
    for what in (".", "circuit.yaml"):
        ran = run("check", what)
        assert ran.code == BAD_INPUT
        assert "name the plan.json that placer plan wrote" in ran.err


def test_no_board_of_the_catalogue_is_said_with_the_reason(run, tmp_path):
    parts = ", ".join(f"U{i}: {{package: dip-40-wide}}" for i in range(80))
    (tmp_path / "circuit.yaml").write_text(f"circuit: c\nparts: {{{parts}}}\nnets: {{A: [U1.1, U2.1]}}\n")
    ran = run("plan", "circuit.yaml")
    assert ran.code == NO_PLAN
    assert "no-board-fits" in ran.err
    assert "too-few-holes" in ran.err


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("", "not JSON"),
        ("{", "not JSON"),
        ("[" * 100_000, "JSON"),
        ("[]", "expected a plan file"),
        ('{"format": "placer-board", "version": 1}', "placer-plan"),
        ('{"format": "placer-plan", "version": 99}', "version 99"),
        ('{"format": "placer-plan", "version": 1}', "circuit"),
        ('{"a": NaN}', "NaN"),
    ],
)
@pytest.mark.parametrize("command", ["check", "guide"])
def test_a_plan_file_that_is_none(run, tmp_path, command, content, says):
    (tmp_path / "plan.json").write_text(content)
    ran = run(command, "plan.json")
    assert ran.code == BAD_INPUT
    assert says in ran.err
    assert list(contents(tmp_path)) == ["plan.json"]


def test_a_plan_with_an_impossible_circuit_is_told_with_its_place(run, earlier):
    path = earlier / "plan.json"
    data = json.loads(path.read_text())
    data["circuit"]["data"]["parts"]["R1"]["package"] = "axial-9"
    path.write_text(json.dumps(data))
    ran = run("check", path)
    assert ran.code == BAD_INPUT
    assert "circuit.data.parts.R1.package" in ran.err


def test_errors_are_json_too_when_json_is_asked_for(run, tmp_path):
    (tmp_path / "circuit.yaml").write_text(TWO_NETS)
    ran = run("plan", "circuit.yaml", "--json")
    assert ran.code == BAD_INPUT
    (found,) = ran.json["errors"]
    assert (found["code"], found["file"], found["line"], found["column"]) == ("pin-in-two-nets", "circuit.yaml", 7, 7)
