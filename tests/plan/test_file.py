"""The plan file: written and read back, and everything that can be wrong with one."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from placer.boards.catalogue import load_board
from placer.check.judge import judge
from placer.errors import Exit, PlacerError
from placer.plan.file import checksum, plan_from_data, plan_to_data, read_plan, write_plan
from placer.plan.model import Options, Plan, SolveInfo
from tests.check.plans import lantern, scale, scored

CONTRACT = {
    "": {"format", "version", "circuit", "board", "placements", "cuts", "jumpers", "score", "proof", "solve"},
    "circuit": {"name", "sha256", "data"},
    "board": {"name", "sha256", "data"},
    "score": {"jumpers", "cuts", "jumper_mm", "cost"},
    "proof": {"status", "lower_bound", "gap", "scope"},
    "solve": {"seconds", "seed", "workers", "phases"},
}
"""The contract's fields; a plan made by hand has these and no more."""


def by_hand(plan: Plan) -> dict[str, Any]:
    """A plan's data with the contract's fields only."""
    data = copy.deepcopy(plan_to_data(plan))
    del data["options"], data["solve"]["first_plan_seconds"]
    assert set(data) == CONTRACT[""]
    return data


def refused(data: Any) -> dict[str, str]:
    """Codes and messages that reading data is refused with."""
    with pytest.raises(PlacerError) as caught:
        plan_from_data(data, "hive.json")
    assert caught.value.exit_code == Exit.BAD_INPUT
    assert all(d.span is not None and d.span.file.startswith("hive.json") for d in caught.value.diagnostics)
    return {d.code: d.message for d in caught.value.diagnostics}


# --- there and back --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("plan", [lantern(), scale()], ids=lambda plan: plan.circuit.name)
def test_a_plan_comes_back_from_its_file_as_it_went_in(plan: Plan, tmp_path: Path) -> None:
    write_plan(plan, tmp_path / "plan.json")
    back = read_plan(tmp_path / "plan.json")

    assert back.doubts == ()
    assert back.placements == plan.placements
    assert (back.cuts, back.options, back.solve) == (plan.cuts, plan.options, plan.solve)
    assert [(j.net, j.start, j.end) for j in back.jumpers] == [(j.net, j.start, j.end) for j in plan.jumpers]
    assert back.score.jumper_mm == pytest.approx(plan.score.jumper_mm, abs=1e-6)
    assert back.circuit == plan.circuit
    assert judge(back) == judge(plan)


@pytest.mark.parametrize("plan", [lantern(), scale()], ids=lambda plan: plan.circuit.name)
def test_writing_reading_and_writing_again_changes_no_byte(plan: Plan, tmp_path: Path) -> None:
    write_plan(plan, tmp_path / "one.json")
    write_plan(read_plan(tmp_path / "one.json"), tmp_path / "two.json")

    assert (tmp_path / "one.json").read_bytes() == (tmp_path / "two.json").read_bytes()


def test_the_file_has_the_contracts_fields_and_form(tmp_path: Path) -> None:
    write_plan(scale(), tmp_path / "plan.json")
    text = (tmp_path / "plan.json").read_text(encoding="utf-8")
    data = json.loads(text)

    assert text.endswith("}\n")
    assert (data["format"], data["version"]) == ("placer-plan", 1)
    for place, fields in CONTRACT.items():
        assert fields <= set(data[place] if place else data)
    assert data["placements"]["R1"] == {"package": "axial-0207", "mount": "flat", "pins": {"1": "C3", "2": "G3"}}
    assert data["cuts"] == [{"at": "C11"}, {"at": "D11"}, {"at": "E12"}, {"between": ["F11", "F12"]}]
    assert data["jumpers"] == [{"net": "OUT", "from": "D16", "to": "E17", "length_mm": 3.592102}]
    assert data["score"] == {"jumpers": 1, "cuts": 4, "jumper_mm": 3.592102, "cost": 4.2}
    assert data["board"]["data"]["format"] == "placer-board"
    assert data["board"]["data"]["holes"]["A1"]["diameter_mm"] == 1.0
    assert not re.search(r"\d\.\d{7}", text)


def test_the_file_does_not_depend_on_the_order_of_placements() -> None:
    plan = lantern()
    backwards = replace(plan, placements=dict(reversed(plan.placements.items())))

    assert json.dumps(plan_to_data(plan)) == json.dumps(plan_to_data(backwards))


def test_numbers_of_solver_libraries_and_bounds_not_yet_known_become_plain_json(tmp_path: Path) -> None:
    phases = ({"name": "first", "cost": float("inf"), "rounds": np.int64(3), "bounds": [np.float64(1.25), -0.0]},)
    write_plan(replace(lantern(), solve=SolveInfo(1.0, 1, 2, phases, 0.1234567)), tmp_path / "plan.json")
    solve = json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))["solve"]

    assert solve["phases"] == [{"name": "first", "cost": None, "rounds": 3, "bounds": [1.25, 0.0]}]
    assert solve["first_plan_seconds"] == 0.123457


# --- plans made by hand ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("plan", [lantern(), scale()], ids=lambda plan: plan.circuit.name)
def test_a_plan_made_by_hand_with_the_contracts_fields_only_is_read(plan: Plan) -> None:
    assert judge(plan_from_data(by_hand(plan), "hive.json")).faults == ()


def test_a_plan_without_options_is_held_to_the_boards_defaults() -> None:
    assert plan_from_data(by_hand(lantern()), "hive.json").options == Options(allow_cuts=False)
    assert plan_from_data(by_hand(scale()), "hive.json").options == Options(allow_cuts=True)
    assert load_board("five-hole-30").cut_by_default is False


@pytest.mark.parametrize("what", ["circuit", "board"])
def test_a_checksum_that_does_not_fit_is_a_fault_the_judge_tells(what: str) -> None:
    data = by_hand(lantern())
    data[what]["sha256"] = "0" * 64

    assert [fault.code for fault in judge(plan_from_data(data, "hive.json")).faults] == [f"{what}-changed"]


def test_data_changed_under_their_checksum_are_found_out_and_judged_as_they_stand() -> None:
    data = by_hand(lantern())
    data["circuit"]["data"]["nets"]["OUT"]["pins"].remove("Q1.2")
    codes = {fault.code for fault in judge(plan_from_data(data, "hive.json")).faults}

    assert {"circuit-changed", "open-pin-touched"} <= codes


@pytest.mark.parametrize("what", ["circuit", "board"])
def test_a_name_that_is_not_the_datas_is_a_fault(what: str) -> None:
    data = by_hand(lantern())
    data[what]["name"] = "other"
    faults = judge(plan_from_data(data, "hive.json")).faults

    assert [fault.code for fault in faults] == [f"{what}-misnamed"]
    assert '"other"' in faults[0].message


def test_the_checksum_is_sha256_of_canonical_json() -> None:
    """Expected value from the sha256sum program on the bytes {"a":[1,2.5],"b":"\u00b5"}, keys sorted, UTF-8."""
    expected = "88a2327754270bc269476e364c05d5a24917e329796e997adb6e7b03c4b937ee"

    assert checksum({"b": "\u00b5", "a": [1.0, 2.5]}) == checksum({"a": [1, 2.5], "b": "\u00b5"})
    assert checksum({"b": "\u00b5", "a": [1.0, 2.5]}) == expected


# --- files that are no plan ------------------------------------------------------------------------------------------

Spoil = Callable[[dict[str, Any]], Any]

WRONG: dict[str, tuple[Spoil, str, tuple[str, ...]]] = {
    "another format": (lambda data: data.update(format="placer-board"), "plan-not-a-plan", ('"placer-board"',)),
    "no format": (lambda data: data.pop("format"), "plan-not-a-plan", ("null",)),
    "another version": (lambda data: data.update(version=2), "plan-version", ("version 2", "expected 1")),
    "a version that is none": (lambda data: data.update(version=True), "plan-version", ("version true",)),
    "a field missing": (lambda data: data["score"].pop("cost"), "plan-field-missing", ("score.cost",)),
    "a whole part missing": (lambda data: data.pop("jumpers"), "plan-field-missing", ("jumpers",)),
    "a field unknown": (
        lambda data: data["score"].update(costs=1),
        "plan-field-unknown",
        ("score.costs",),
    ),
    "a field unknown in a placement": (
        lambda data: data["placements"]["R1"].update(angle=90),
        "plan-field-unknown",
        ("placements.R1.angle",),
    ),
    "text for a number": (
        lambda data: data["score"].update(cost="7"),
        "plan-field-wrong",
        ("score.cost", '"7"', "a number"),
    ),
    "half a jumper": (
        lambda data: data["score"].update(jumpers=7.5),
        "plan-field-wrong",
        ("score.jumpers", "7.5", "a whole number"),
    ),
    "yes for a count": (
        lambda data: data["score"].update(jumpers=True),
        "plan-field-wrong",
        ("score.jumpers", "true or false", "a whole number"),
    ),
    "a number for a hole": (
        lambda data: data["placements"]["R1"]["pins"].update({"1": 11}),
        "plan-field-wrong",
        ("placements.R1.pins.1", "11", "text"),
    ),
    "a list of placements": (
        lambda data: data.update(placements=[]),
        "plan-field-wrong",
        ("placements", "a list", "a mapping"),
    ),
    "a cut between three holes": (
        lambda data: data.update(cuts=[{"between": ["a1", "b1", "c1"]}]),
        "plan-field-wrong",
        ("cuts.0.between", "[a1, b1, c1]", "two holes"),
    ),
    "a circuit that is none": (
        lambda data: data["circuit"].update(data=[]),
        "plan-field-wrong",
        ("circuit.data", "a list"),
    ),
    "infinite wire": (
        lambda data: data["score"].update(jumper_mm=float("inf")),
        "plan-field-wrong",
        ("score.jumper_mm", "finite"),
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_data_of_another_form_are_refused_with_the_place_and_what_was_expected(name: str) -> None:
    spoil, code, words = WRONG[name]
    data = by_hand(lantern())
    spoil(data)
    messages = refused(data)

    assert list(messages) == [code]
    assert all(word in messages[code] for word in words), messages


def test_every_wrong_field_is_told_at_once() -> None:
    data = by_hand(lantern())
    data["score"]["cost"] = "7"
    data["proof"].pop("gap")
    data["jumper"] = []

    assert set(refused(data)) == {"plan-field-wrong", "plan-field-missing", "plan-field-unknown"}


def test_an_unknown_field_is_told_with_the_nearest_known() -> None:
    data = by_hand(lantern())
    data["jumpers"][0]["form"] = data["jumpers"][0].pop("from")
    with pytest.raises(PlacerError) as caught:
        plan_from_data(data, "hive.json")

    assert "did you mean from?" in [diagnostic.help for diagnostic in caught.value.diagnostics]


def test_a_faulty_circuit_or_board_is_told_with_its_place() -> None:
    circuit, board = by_hand(lantern()), by_hand(lantern())
    circuit["circuit"]["data"]["nets"]["OUT"]["pins"].append("U9.1")
    board["board"]["data"]["links"].append(["a1", "a2"])

    assert any("U9" in message for message in refused(circuit).values())
    with pytest.raises(PlacerError) as caught:
        plan_from_data(board, "hive.json")
    assert any("a1 to a2" in diagnostic.message for diagnostic in caught.value.diagnostics)


@pytest.mark.parametrize(
    ("raw", "code", "words"),
    [
        (b"", "plan-not-json", "not JSON"),
        (b'{"format": "placer-plan",\n  oops}', "plan-not-json", "not JSON"),
        (b'{"format": 1, "format": 2}', "plan-not-json", '"format" occurs twice'),
        (b'{"score": NaN}', "plan-not-json", "NaN"),
        (b"\xff\xfe{}", "plan-not-utf8", "UTF-8"),
        (b"[" * 100_000, "plan-not-json", "nested too deeply"),
        (b'{"format": "\\ud800"}', "plan-not-json", "surrogate"),
        (b"9" * 5000, "plan-not-json", "JSON"),
        (b"null", "plan-not-a-plan", "mapping"),
    ],
    ids=["empty", "broken", "key twice", "not a number", "not text", "deep", "half a character", "long", "null"],
)
def test_a_file_that_is_no_plan_is_refused_without_a_traceback(
    raw: bytes, code: str, words: str, tmp_path: Path
) -> None:
    path = tmp_path / "plan.json"
    path.write_bytes(raw)
    with pytest.raises(PlacerError) as caught:
        read_plan(path)

    (diagnostic,) = caught.value.diagnostics
    assert diagnostic.code == code
    assert words in diagnostic.message
    assert diagnostic.span is not None
    assert diagnostic.span.file == str(path)


def test_broken_json_is_told_by_line_and_column(tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    path.write_text('{"format": "placer-plan",\n  oops}', encoding="utf-8")
    with pytest.raises(PlacerError) as caught:
        read_plan(path)

    span = caught.value.diagnostics[0].span
    assert span is not None
    assert (span.line, span.column, span.excerpt) == (2, 3, "  oops}")


def test_a_missing_file_and_a_folder_are_told_as_such(tmp_path: Path) -> None:
    for path in (tmp_path / "none.json", tmp_path):
        with pytest.raises(PlacerError) as caught:
            read_plan(path)
        assert caught.value.diagnostics[0].code == "plan-not-read"


# --- atomic writing --------------------------------------------------------------------------------------------------


def test_a_failed_write_leaves_the_old_file_and_nothing_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "plan.json"
    write_plan(lantern(), path)
    before = path.read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(PlacerError) as caught:
        write_plan(scored(lantern(), bound=3.0), path)

    assert caught.value.diagnostics[0].code == "plan-not-written"
    assert "No space left" in caught.value.diagnostics[0].message
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


def test_a_plan_is_not_written_into_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(PlacerError) as caught:
        write_plan(lantern(), tmp_path / "none" / "plan.json")

    assert caught.value.diagnostics[0].code == "plan-not-written"
