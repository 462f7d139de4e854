"""What is taken from a drawing: a step's picture, sheets that overlap, marks by which a page finds things."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from placer.boards.catalogue import load_board
from placer.guide.drawing import plan_scene, plan_svg
from placer.guide.nets import nets_of_holes
from placer.guide.paper import PAPERS
from placer.guide.picture import StepPictures, picture_of, sheets
from placer.guide.scene import Circle, Path, Scene, Text
from placer.guide.typeface import faces, fitted
from placer.plan.model import Cut
from tests.guide.plans import generated, lantern, make_plan

SVG = "{http://www.w3.org/2000/svg}"


def holes(scene: Scene) -> dict[str, Circle]:
    found = (c for group in scene.groups for c in group.items if isinstance(c, Circle))
    return {dict(c.data)["hole"]: c for c in found if "hole" in dict(c.data)}


@pytest.mark.parametrize("copper_side", [False, True])
def test_everything_says_what_it_belongs_to(copper_side: bool) -> None:
    plan = lantern()
    root = ET.fromstring(plan_svg(plan, copper_side=copper_side))  # noqa: S314 - our own output

    def values(word: str, kind: str) -> set[str]:
        groups = (g for g in root.iter(f"{SVG}g") if kind in g.get("class", "").split())
        return {g.get(f"data-{word}", "") for g in groups}

    assert values("ref", "part") == values("ref", "leads") == set(plan.placements)
    assert values("jumper", "jumper") == {str(i) for i in range(1, len(plan.jumpers) + 1)}
    assert values("net", "jumper") == {j.net for j in plan.jumpers}
    assert values("cut", "cut") == {"1"}
    assert {c.get("data-hole") for c in root.iter(f"{SVG}circle") if c.get("data-hole")} == set(plan.board.holes)


def test_the_net_of_a_hole_ends_at_a_cut_and_goes_on_over_a_jumper() -> None:
    """A strip of 37 holes: A1 to A4 carry NET, a knife after A4 ends it, a jumper from A2 to C9 carries it on."""
    board = load_board("long-strip-24x37")
    plan = make_plan(
        "cut",
        board,
        [("R1", "axial-0207", "1k", "flat", {"1": "A1", "2": "E1"})],
        {"NET": "signal"},
        [("NET", "A2", "C9")],
        [Cut(between=("A4", "A5"))],
    )
    carried = nets_of_holes(plan)
    assert {hole for hole, net in carried.items() if net == "NET"} == {"A1", "A2", "A3", "A4"} | {
        f"C{n}" for n in range(1, 38)
    }
    drawn = {
        (dict(group.data)["strip"], dict(group.data).get("net", "")) for group in plan_scene(plan).groups
        if group.kind == "strip"
    }  # fmt: skip
    assert {("A", "NET"), ("A", ""), ("C", "NET"), ("B", "")} <= drawn


def test_a_step_shows_what_is_there_so_far() -> None:
    scene = plan_scene(lantern())
    picture = StepPictures(picture_of(scene)).of({("ref", "R2")}, {("ref", "R1"), ("jumper", "1")}, ["a6", "e6"])
    refs = {value for group in picture.scene.groups for word, value in group.data if word == "ref"}
    wires = {value for group in picture.scene.groups for word, value in group.data if word == "jumper"}
    assert refs == {"R1", "R2"}
    assert wires == {"1"}
    rings = next(group for group in picture.scene.groups if group.id == "targets").items
    places = holes(scene)
    assert {(c.x, c.y) for c in rings if isinstance(c, Circle)} == {(places[h].x, places[h].y) for h in ("a6", "e6")}
    colours = {
        ref: {i.pen.colour for g in picture.scene.groups if ("ref", ref) in g.data for i in g.items
              if isinstance(i, Path) and i.pen} for ref in ("R1", "R2")
    }  # fmt: skip
    assert "#000000" in colours["R2"]
    assert "#000000" not in colours["R1"]


def test_a_step_on_a_large_board_keeps_its_edge_labels() -> None:
    plan = generated("long-strip-39x60", 12, 4)
    hole = plan.placements[min(plan.placements)].pins["1"]
    picture = StepPictures(picture_of(plan_scene(plan))).of(set(), set(), [hole])
    x, y, width, height = picture.window
    assert width < 40
    assert height < 40
    labels = [i for g in picture.scene.groups if g.kind == "axis" for i in g.items if isinstance(i, Text)]
    assert {label.text for label in labels} & {plan.board.row_labels[plan.board.holes[hole].y]}
    assert all(x <= label.x <= x + width and y <= label.y <= y + height for label in labels)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", ["five-hole-100", "long-strip-60x100"])
def test_a_large_board_is_split_so_that_every_hole_is_whole_on_a_sheet(name: str, paper: str) -> None:
    plan = generated(name, 10, 7)
    width, height = PAPERS[paper].room(flipped=False)
    picture = picture_of(plan_scene(plan))
    found = sheets(picture, width, height)
    assert len(found) > 1
    whole: dict[str, int] = dict.fromkeys(plan.board.holes, 0)
    for sheet in found:
        x, y, w, h = sheet.picture.window
        assert w <= width
        assert h <= height
        assert sheet.joins
        for address, c in holes(sheet.picture.scene).items():
            whole[address] += x <= c.x - c.r and c.x + c.r <= x + w and y <= c.y - c.r and c.y + c.r <= y + h
        marks = next(group for group in sheet.picture.scene.groups if group.id == "joins")
        named = {i.text for i in marks.items if isinstance(i, Text)}
        assert set(sheet.joins) <= named
        for line in (i for i in marks.items if isinstance(i, Path) and i.pen and i.pen.dash):
            (ax, ay), (bx, by) = line.steps[0][1], line.steps[1][1]
            for c in holes(sheet.picture.scene).values():  # no line runs through a hole
                assert abs(c.x - ax) > c.r if ax == bx else abs(c.y - ay) > c.r
            assert ay == by or ax == bx
    assert min(whole.values()) >= 1
    assert all(sum(join in sheet.joins for sheet in found) >= 2 for sheet in found for join in sheet.joins)


def test_a_board_that_fits_stays_on_one_sheet() -> None:
    picture = picture_of(plan_scene(lantern()))
    (only,) = sheets(picture, *PAPERS["a4"].room(flipped=False))
    assert only.joins == ()
    assert only.picture.window == pytest.approx(picture.window)


def test_texts_in_the_typeface_of_the_pdf_are_as_wide_as_they_were_laid_out() -> None:
    from placer.guide.metrics import text_width

    before, after = plan_scene(lantern()), fitted(plan_scene(lantern()))
    pairs = [
        (a, b)
        for g, h in zip(before.groups, after.groups, strict=True)
        for a, b in zip(g.items, h.items, strict=True)
        if isinstance(a, Text) and isinstance(b, Text)
    ]
    assert len(pairs) > 50
    for a, b in pairs:
        wide = faces()[b.bold].width(b.text) * b.size * b.condense
        assert wide <= text_width(a.text, a.size, condense=a.condense) * 1.0001
