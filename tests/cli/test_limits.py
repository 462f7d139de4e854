"""Current, voltage and heat as a user meets them: what is said, what is refused, and the exit codes."""

from __future__ import annotations

import json

import pytest

from placer.errors import Exit
from placer.plan.file import plan_from_data, plan_to_data, write_plan

LAMP = """\
circuit: comb-lamp
parts:
  J1: {{package: terminal-2, value: {value}}}
  R1: {{package: axial-0207, value: {ohms}}}
nets:
  {net}: {{pins: [J1.1, R1.1], role: supply, volts: {volts}}}
  GND: {{pins: [J1.2, R1.2], role: ground}}
"""


def lamp(tmp_path, value="5 V", ohms="1k", net="VCC", volts="5"):
    path = tmp_path / "lamp.yaml"
    path.write_text(LAMP.format(value=value, ohms=ohms, net=net, volts=volts), encoding="utf-8")
    return path


def planned(run, path, *options):
    return run("plan", path, "--board", "five-hole-30", "--effort", 1, "--workers", 1, "--out", "out", *options)


def test_a_good_plan_says_on_what_it_was_judged(run, tmp_path):
    ran = planned(run, lamp(tmp_path))
    assert ran.code == Exit.OK
    assert "bears     note: currents are estimated for VCC and GND" in ran.out
    checked = run("check", "out/plan.json")
    assert (checked.code, "no faults" in checked.out) == (Exit.OK, True)
    assert "bears     note: currents are estimated" in checked.out


def test_a_plan_above_a_limit_is_written_and_ends_with_1(run, tmp_path):
    """10 V over 100 ohm: 1 W in a resistor of 0.25 W."""
    ran = planned(run, lamp(tmp_path, ohms="100", volts="10"), "--json")
    assert ran.code == Exit.FAULTS
    (hot,) = [finding for finding in ran.json["findings"] if finding["severity"] == "error"]
    assert (hot["code"], hot["where"]) == ("resistor-power", ["R1"])
    assert hot["figures"]["power_W"] == 1.0
    assert hot["source"]
    assert hot["mend"]
    assert json.loads((tmp_path / "out" / "plan.json").read_text("utf-8"))["findings"] == ran.json["findings"]

    checked = run("check", "out/plan.json", "--json")
    assert checked.code == Exit.FAULTS
    assert (checked.json["passed"], checked.json["faults"]) == (False, [])
    assert checked.json["findings"] == ran.json["findings"]
    assert "1 limit exceeded; do not build it as it is" in run("check", "out/plan.json").out


def test_an_older_file_is_looked_at_when_its_guide_is_written(run, tmp_path):
    planned(run, lamp(tmp_path, ohms="100", volts="10"), "--quiet")
    path = tmp_path / "out" / "plan.json"
    data = json.loads(path.read_text("utf-8"))
    assert "R1 (axial-0207, 100 ohm) turns 1 W into heat" in (tmp_path / "out" / "guide.html").read_text("utf-8")
    del data["findings"]
    older = plan_from_data(data, "plan.json")
    write_plan(older, tmp_path / "older.json")

    guided = run("guide", "older.json", "--out", "guide")
    assert guided.code == Exit.OK
    assert "R1 (axial-0207, 100 ohm) turns 1 W into heat" in guided.err.replace("\n", " ")
    for name in ("guide.html", "guide.pdf"):
        assert (tmp_path / "guide" / name).read_bytes() == (tmp_path / "out" / name).read_bytes()


def test_quiet_still_tells_what_is_above_a_limit(run, tmp_path):
    ran = planned(run, lamp(tmp_path, ohms="100", volts="10"), "--quiet")
    assert (ran.code, ran.out) == (Exit.FAULTS, "")
    assert "R1 (axial-0207, 100 ohm) turns 1 W into heat" in ran.err.replace("\n", " ")


@pytest.mark.parametrize(
    ("change", "code", "says"),
    [
        ({"volts": "130"}, "above-extra-low-voltage", "net VCC has 130 V DC; the most for such a board is 120 V DC"),
        ({"value": "230 V"}, "mains-named", "part J1 with the value 230 V speaks of the mains"),
        ({"net": "MAINS_L"}, "mains-named", "net MAINS_L speaks of the mains"),
    ],
)
def test_what_is_not_for_such_boards_is_refused_before_the_search(run, tmp_path, change, code, says):
    ran = planned(run, lamp(tmp_path, **change), "--json")
    assert ran.code == Exit.BAD_INPUT
    assert [error["code"] for error in ran.json["errors"]] == [code]
    assert says in ran.json["errors"][0]["message"]
    assert not (tmp_path / "out").exists()


def test_a_plan_whose_circuit_was_made_dangerous_gets_no_guide_and_does_not_pass(run, tmp_path):
    planned(run, lamp(tmp_path), "--quiet")
    data = json.loads((tmp_path / "out" / "plan.json").read_text("utf-8"))
    data["circuit"]["data"]["nets"]["VCC"]["volts"] = 230
    spoilt = plan_from_data(data, "plan.json")
    write_plan(plan_from_data({**plan_to_data(spoilt)}, "plan.json"), tmp_path / "spoilt.json")

    checked = run("check", "spoilt.json")
    assert checked.code == Exit.FAULTS
    assert "net VCC has 230 V DC" in checked.out.replace("\n", " ")
    assert "findings-differ" in checked.out
    guided = run("guide", "spoilt.json", "--out", "guide")
    assert guided.code == Exit.BAD_INPUT
    assert not (tmp_path / "guide").exists()


@pytest.mark.parametrize(
    ("place", "code", "says"),
    [
        ("", "lead-too-thick", "0.9 mm + 0.4 mm off the grid end to end = 1.3 mm, holes 1 mm"),
        (", place: {port: P7}", "port-unknown", "J1 is wished into port P7"),
    ],
)
def test_a_connector_that_does_not_fit_is_told_with_its_reason_alone(run, tmp_path, place, code, says):
    path = tmp_path / "lid.yaml"
    text = f"circuit: lid\nparts:\n  J1: {{package: terminal-6-5.0{place}}}\n  R1: {{package: axial-0207}}\n"
    path.write_text(text + "nets:\n  A: [J1.1, R1.1]\n  B: [J1.6, R1.2]\n", encoding="utf-8")
    ran = planned(run, path, "--json")

    assert ran.code == Exit.NO_PLAN
    assert [error["code"] for error in ran.json["errors"]] == ["no-plan-possible", code]
    assert says in ran.json["errors"][1]["message"]
