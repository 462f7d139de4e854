"""Files: whole or not at all, lists that a spreadsheet reads and cannot be harmed by."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path

import pytest

from placer.boards.catalogue import load_board
from placer.errors import PlacerError
from placer.guide import write
from placer.guide.build import build_guide, part_groups
from placer.guide.lists import cuts_csv, harmless, jumpers_csv, parts_csv, placements_csv, wire_csv
from placer.guide.write import write_guide
from placer.plan.model import Cut
from tests.guide.plans import lantern, make_plan


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_lists_say_what_the_plan_says() -> None:
    plan = replace(lantern(), cuts=(Cut(between=("L+14", "L+15")), Cut(at="L+20")))

    guide = build_guide(plan)
    parts = {row["ref"]: row for row in rows(placements_csv(plan))}
    assert set(parts) == set(plan.placements)
    for ref, placement in plan.placements.items():
        assert dict(h.split("=") for h in parts[ref]["holes"].split()) == placement.pins
        assert parts[ref]["package"] == placement.package
        assert parts[ref]["mount"] == placement.mount
    assert "cathode" in parts["D2"]["note"]
    assert {"1=A", "2=K"} <= set(parts["D2"]["pin_names"].split())
    told = [
        (int(r["number"]), r["net"], r["from"], r["to"], float(r["length_mm"])) for r in rows(jumpers_csv(guide.wires))
    ]
    assert sorted(told) == [
        (i, j.net, j.start, j.end, pytest.approx(j.length_mm, abs=0.005)) for i, j in enumerate(plan.jumpers, 1)
    ]
    assert [row[4] for row in told] == sorted(row[4] for row in told)
    cuts = [(r["number"], r["kind"], r["where"]) for r in rows(cuts_csv(guide.cuts))]
    assert cuts == [("1", "knife", "L+14 L+15"), ("2", "drill", "L+20")]


def test_parts_are_grouped_to_buy() -> None:
    """R3 and R4 of the lantern are equal; the timer needs a socket."""
    bought = {(row["value"], row["package"], row["what"]): row for row in rows(parts_csv(part_groups(lantern())))}
    assert bought["330", "axial-0207", "resistor"]["refs"] == "R3 R4"
    assert bought["330", "axial-0207", "resistor"]["count"] == "2"
    assert bought["330", "axial-0207", "resistor"]["marking"] == "orange orange brown gold"
    assert bought["100n", "disc-2.5", "ceramic capacitor"]["marking"] == "104"
    assert bought["socket", "dip-8", "IC socket"]["refs"] == "U1"


def test_the_wire_adds_up() -> None:
    """Each piece is the straight way and 10 mm, insulated wire 5 mm more, in whole mm; the sums run to the totals."""
    wires = build_guide(lantern()).wires
    listed = rows(jumpers_csv(wires))
    for row in listed:
        more = 10 if row["wire"] == "bare" else 15
        assert 0 <= int(row["piece_mm"]) - float(row["length_mm"]) - more < 1.01
    for kind in ("bare", "insulated"):
        mine = [row for row in listed if row["wire"] == kind]
        assert int(mine[-1]["sum_mm"]) == sum(int(row["piece_mm"]) for row in mine)
    spools: dict[tuple[str, str], int] = {}
    for row in rows(wire_csv(wires)):
        spool = row["wire"], row["spool"]
        spools[spool] = spools.get(spool, int(row["spool_mm"])) - int(row["piece_mm"])
        assert int(row["left_mm"]) == spools[spool] >= 0


def test_the_list_of_jumpers_says_which_may_be_bare_and_why_the_others_may_not() -> None:
    told = {row["number"]: (row["wire"], row["note"]) for row in rows(jumpers_csv(build_guide(lantern()).wires))}
    assert told["1"] == ("bare", "")  # a10 to L+10, over empty holes
    assert told["4"] == ("insulated", "does not run along one line of holes")  # b11 to c17


def test_lists_follow_rfc_4180() -> None:
    board = load_board("five-hole-30")
    value = '10 k, "1 %"\nwound'
    plan = make_plan("x", board, [("R1", "axial-0207", value, "flat", {"1": "a5", "2": "e5"})])
    text = parts_csv(part_groups(plan))
    assert rows(placements_csv(plan))[0]["value"] == value
    assert text.endswith("\r\n")
    assert rows(text)[0]["value"] == value
    assert cuts_csv(()) == "number,kind,where,net,other_net\r\n"
    assert jumpers_csv(()) == "number,net,from,to,length_mm,wire,note,piece_mm,strip_mm,sum_mm\r\n"


@pytest.mark.parametrize("cell", ["=cmd|' /C calc'!A0", "+5V", "-HIVE()", "@SUM(A1)", "\t=1", "\r=1"])
def test_no_cell_is_a_formula(cell: str) -> None:
    assert harmless(cell) == "'" + cell
    board = load_board("five-hole-30")
    plan = make_plan("x", board, [("R1", "axial-0207", cell, "flat", {"1": "a5", "2": "e5"})])
    assert rows(parts_csv(part_groups(plan)))[0]["value"] == "'" + cell
    assert rows(placements_csv(plan))[0]["value"] == "'" + cell


@pytest.mark.parametrize("cell", ["L+4", "-12", "+3.3", "10k", "", "a=b"])
def test_plain_cells_stay_as_they_are(cell: str) -> None:
    assert harmless(cell) == cell


def test_guide_is_written_and_written_again(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "guide"
    paths = write_guide(lantern(), folder)
    assert {p.name for p in paths} >= {"board.svg", "copper.svg", "cuts.csv", "jumpers.csv", "parts.csv", "tests.csv"}
    before = {p.name: p.read_bytes() for p in paths}
    assert write_guide(lantern(), folder) == paths
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before  # same bytes, nothing left over


def test_a_failing_write_leaves_the_old_file_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    paths = write_guide(lantern(), tmp_path)
    before = {p.name: p.read_bytes() for p in paths}

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(write.Path, "replace", full)
    with pytest.raises(PlacerError, match="No space left"):
        write_guide(replace(lantern(), jumpers=()), tmp_path)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_a_file_in_place_of_the_folder_is_said(tmp_path: Path) -> None:
    blocker = tmp_path / "guide"
    blocker.write_text("bees")
    with pytest.raises(PlacerError, match="cannot be written") as found:
        write_guide(lantern(), blocker)
    assert found.value.diagnostics[0].help
