"""``placer netlist``: circuits and plans in every format, drafts of parts maps, and what is refused."""

import json

import pytest

from placer.errors import Exit
from tests.cli.conftest import LANTERN, NETLISTS


@pytest.mark.parametrize("to", ["spice", "edif", "csv", "yaml"])
def test_a_circuit_is_written_in_every_format(run, to):
    done = run("netlist", LANTERN, "--to", to)
    assert done.code == Exit.OK
    assert "LED2" in done.out
    assert done.err == ""
    again = run("netlist", LANTERN, "--to", to)
    assert again.out == done.out


@pytest.mark.parametrize(("to", "suffix"), [("edif", "edf"), ("csv", "csv"), ("yaml", "yaml")])
def test_what_is_written_reads_back_and_comes_out_the_same(run, tmp_path, to, suffix):
    file = tmp_path / f"lantern.{suffix}"
    assert run("netlist", LANTERN, "--to", to, "--out", file).out == f"{file}\n"
    direct = run("netlist", LANTERN, "--to", "csv").out
    assert run("netlist", file, "--to", "csv").out == direct


def test_the_netlist_of_a_plan_is_read_back_from_its_copper(run, tmp_path):
    plan = NETLISTS.parent / "outputs" / LANTERN.stem / "plan.json"
    assert run("netlist", plan, "--to", "csv").out == run("netlist", LANTERN, "--to", "csv").out
    data = json.loads(plan.read_text(encoding="utf-8"))
    led = data["placements"]["LED1"]["pins"]
    led["1"], led["2"] = led["2"], led["1"]
    turned = tmp_path / "turned.json"
    turned.write_text(json.dumps(data), encoding="utf-8")
    done = run("netlist", turned, "--to", "csv", "--json")
    assert [w["code"] for w in done.json["warnings"]] == ["copper-differs"]
    assert done.json["text"] != run("netlist", LANTERN, "--to", "csv").out


def test_a_draft_map_is_written_once_and_makes_the_netlist_readable(run, tmp_path):
    file = tmp_path / "pair.cir"
    file.write_text("pair\nR1 a b 1k\nXQ1 a b 0 thing\n.subckt thing 1 2 3\n.ends\n.end\n", encoding="utf-8")
    assert run("netlist", file, "--to", "csv").code == Exit.BAD_INPUT
    draft = tmp_path / "parts.yaml"
    assert run("netlist", file, "--draft-map", draft).code == Exit.OK
    assert "thing" in draft.read_text(encoding="utf-8")
    assert run("netlist", file, "--to", "csv", "--parts", draft).code == Exit.OK
    before = draft.read_bytes()
    again = run("netlist", file, "--draft-map", draft)
    assert again.code == Exit.BAD_INPUT
    assert "there already" in again.err
    assert draft.read_bytes() == before


def test_warnings_of_the_lint_come_with_the_netlist(run, tmp_path):
    file = tmp_path / "bad.yaml"
    text = LANTERN.read_text(encoding="utf-8").replace("value: 330", "value: 333")
    file.write_text(text, encoding="utf-8")
    done = run("netlist", file, "--to", "csv", "--json")
    assert done.code == Exit.OK
    assert [w["code"] for w in done.json["warnings"]] == ["hint-odd-resistor"]
    assert "hint-odd-resistor" in done.err
    assert done.json["warnings"][0]["help"]


@pytest.mark.parametrize(
    "arguments",
    [
        ("netlist", LANTERN),
        ("netlist", LANTERN, "--to", "pdf"),
        ("netlist", LANTERN, "--to", "csv", "--draft-map", "m.yaml"),
        ("netlist", LANTERN, "--draft-map", "m.yaml"),
        ("netlist", "missing.edf", "--to", "csv"),
        ("netlist", NETLISTS, "--to", "csv"),
        ("netlist", LANTERN, "--to", "csv", "--out", "no/such/folder/x.csv"),
    ],
    ids=range(7),
)
def test_bad_usage_and_bad_input_end_with_two(run, arguments):
    done = run(*arguments)
    assert done.code == Exit.BAD_INPUT
    assert done.err


@pytest.mark.parametrize(
    ("name", "text", "marked"),
    [
        ("x.edf", "(edif t (edifVersion 3 0 0))", "(edifVersion"),
        ("x.csv", "part,pin,nett\nR1,1,A\n", "nett"),
    ],
)
def test_a_fault_is_shown_with_its_line_and_told_as_data(run, tmp_path, name, text, marked):
    file = tmp_path / name
    file.write_text(text, encoding="utf-8")
    done = run("netlist", file, "--to", "csv", "--json")
    fault = done.json["errors"][0]
    assert {"code", "severity", "message", "help", "file", "line", "column", "length"} <= set(fault)
    assert text.splitlines()[fault["line"] - 1][fault["column"] - 1 :][: fault["length"]] == marked
    excerpt = next(n for n, line in enumerate(done.err.splitlines()) if marked in line and "error" not in line)
    assert done.err.splitlines()[excerpt + 1].strip() == "^" * len(marked)
