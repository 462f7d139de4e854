"""The drawing as a document: well formed, named throughout, escaped, the same each time, within A4."""

from __future__ import annotations

import os
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

from placer.boards.catalogue import load_board, names
from placer.guide.boardview import board_svg
from placer.guide.drawing import plan_scene, plan_svg
from placer.guide.scene import Path as Line
from placer.guide.scene import identifier
from placer.plan.model import Cut, Plan
from tests.guide.plans import generated, lantern, make_plan

SVG = "{http://www.w3.org/2000/svg}"
GOLDEN = Path(__file__).parent / "golden"


def parsed(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314 - our own output


def title_of(element: ET.Element) -> str:
    found = element.find(f"{SVG}title")
    return "" if found is None else found.text or ""


def groups(root: ET.Element, kind: str) -> list[ET.Element]:
    return [g for g in root.iter(f"{SVG}g") if kind in g.get("class", "").split()]


@pytest.mark.parametrize("copper_side", [False, True])
@pytest.mark.parametrize("plan", [lantern(), generated("long-strip-24x37", 15, 2, cuts=4)], ids=["lantern", "strips"])
def test_everything_on_the_board_is_named_and_titled(plan: Plan, copper_side: bool) -> None:
    root = parsed(plan_svg(plan, copper_side=copper_side))

    ids = [e.get("id") for e in root.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    assert all(title_of(g) for g in root.iter(f"{SVG}g") if g.get("class") != "layer")
    strips = groups(root, "strip") + groups(root, "rail")
    assert {g.get("data-strip") for g in strips} == {s.name for s in plan.board.strips}
    assert all(title_of(g).split(":")[0].split()[1].strip(",") == g.get("data-strip") for g in strips)
    parts = {g.get("id"): title_of(g) for g in groups(root, "part")}
    assert set(parts) == {identifier("part", ref) for ref in plan.placements}
    assert all(a in parts[identifier("part", r)] for r, p in plan.placements.items() for a in p.pins.values())
    assert [title_of(g).split(",")[0] for g in groups(root, "jumper")] == [
        f"jumper {i}" for i in range(1, len(plan.jumpers) + 1)
    ]
    assert [title_of(g).split(":")[0] for g in groups(root, "cut")] == [
        f"cut {i}" for i in range(1, len(plan.cuts) + 1)
    ]
    holes = {c.get("id") for c in root.iter(f"{SVG}circle") if (c.get("id") or "").startswith("hole-")}
    assert holes == {identifier("hole", address) for address in plan.board.holes}
    assert {g.get("id") for g in groups(root, "axis")} == {
        f"labels-{side}" for side in ("top", "bottom", "left", "right")
    }


def test_one_unit_is_one_millimetre() -> None:
    root = parsed(plan_svg(lantern()))

    width, height = root.get("width", ""), root.get("height", "")
    assert root.get("viewBox") == f"0 0 {width.removesuffix('mm')} {height.removesuffix('mm')}"
    assert width.endswith("mm")
    assert height.endswith("mm")


def test_same_plan_same_bytes_and_prefix_keeps_two_drawings_apart() -> None:
    assert plan_svg(lantern()) == plan_svg(lantern())
    first, second = (set(re.findall(r' id="([^"]+)"', plan_svg(lantern(), prefix=p))) for p in ("b-", "c-"))
    assert first
    assert first.isdisjoint(second)


def test_text_from_the_circuit_cannot_become_markup() -> None:
    ref, value = "<script>", 'x"/><script>alert(1)</script>&\x00'
    plan = make_plan(
        "</title><script>",
        load_board("five-hole-30"),
        [(ref, "axial-0207", value, "flat", {"1": "a5", "2": "e5"})],
        {"<b>": "signal"},
        [("<b>", "a8", "j8")],
    )

    for copper_side in (False, True):
        root = parsed(plan_svg(plan, copper_side=copper_side))
        assert {e.tag.removeprefix(SVG) for e in root.iter()} <= {
            "svg", "g", "title", "desc", "rect", "path", "circle", "text",
        }  # fmt: skip
        assert any('<script>, x"/><script>' in title_of(g) for g in groups(root, "part"))


def test_hostile_names_keep_ids_apart() -> None:
    words = ["L+4", "L-4", "L_2b_4", "a b", "a_20_b", "ä", "", "-"]
    ids = {identifier("hole", word) for word in words}
    assert len(ids) == len(words)
    assert all(re.fullmatch(r"[A-Za-z][A-Za-z0-9_-]*", i) for i in ids)


@pytest.mark.parametrize("name", ["five-hole-63", "long-strip-39x60", "five-hole-twin-45"])
@pytest.mark.parametrize("copper_side", [False, True])
def test_sheet_fits_a4_with_margins_of_10_mm(name: str, copper_side: bool) -> None:
    """A4 is 210 x 297 mm: ISO 216, from memory."""
    scene = plan_scene(generated(name, 30, 1, cuts=6), copper_side=copper_side)
    assert min(scene.width, scene.height) <= 190
    assert max(scene.width, scene.height) <= 277


@pytest.mark.parametrize("name", names())
def test_every_board_of_the_catalogue_can_be_drawn(name: str) -> None:
    board = load_board(name)
    root = parsed(board_svg(board))
    texts = [t.text for t in root.iter(f"{SVG}text")]
    assert len(groups(root, "strip") + groups(root, "rail")) == len(board.strips)
    for labels in (board.column_labels, board.row_labels):
        for label in (labels[min(labels)], labels[max(labels)]):
            assert texts.count(label) >= 2  # on both sides


def test_a_knife_cut_breaks_the_bar_and_a_drilled_hole_is_crossed_out() -> None:
    plan = lantern()
    strip = next(s for s in plan.board.strips if s.name == "L+")
    cut = replace(plan, cuts=(Cut(between=("L+14", "L+15")), Cut(at="L+20")), jumpers=())

    def bars(p: Plan) -> list[int]:
        """How many holes are joined to the next one in each piece of the strip."""
        found = []
        for group in plan_scene(p).groups:
            if ("strip", "L+") in group.data:
                assert isinstance(group.items[0], Line)
                found.append(sum(name == "L" for name, _ in group.items[0].steps))
        return found

    # The bar of 30 holes has 29 links; the knife severs the 14th; the drilled hole keeps its bar on either side.
    assert len(strip.links) == 29
    assert bars(plan_without_cuts(plan)) == [29]
    assert bars(cut) == [13, 5, 10]
    crossed = next(g for g in plan_scene(cut).groups if g.id == "cut-2")
    assert crossed.title == "cut 2: drill out hole L+20"


def plan_without_cuts(plan: Plan) -> Plan:
    return replace(plan, cuts=())


@pytest.mark.parametrize("copper_side", [False, True], ids=["board", "copper"])
def test_golden_drawing(copper_side: bool) -> None:
    """Looked at once in print; set PLACER_UPDATE_GOLDEN=1 to write anew, then look again."""
    path = GOLDEN / ("lantern-copper.svg" if copper_side else "lantern-board.svg")
    drawn = plan_svg(lantern(), copper_side=copper_side)
    if os.environ.get("PLACER_UPDATE_GOLDEN"):
        path.parent.mkdir(exist_ok=True)
        path.write_text(drawn, encoding="utf-8")
    assert drawn == path.read_text(encoding="utf-8")
