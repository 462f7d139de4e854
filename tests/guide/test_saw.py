"""Bare links and saw lines on the drawing: told apart without colour, in their place on both sides, labels clear."""

from __future__ import annotations

from dataclasses import replace

import pytest

from placer.boards.catalogue import load_board
from placer.guide import style
from placer.guide.drawing import plan_scene
from placer.guide.metrics import text_box, text_width
from placer.guide.room import Box
from placer.guide.saw import WORD
from placer.guide.scene import Circle, Group, Path, Scene, Text, texts
from placer.plan.crop import crop, crop_text
from placer.plan.links import links
from placer.plan.model import Cut, Plan
from tests.guide.plans import generated, lantern, make_plan


def of_kind(scene: Scene, kind: str) -> list[Group]:
    return [group for group in scene.groups if kind in group.kind.split()]


def box_of(text: Text) -> Box:
    width = text_width(text.text, text.size, condense=text.condense, bold=text.bold)
    return text_box(text.x, text.y, text.text, text.size, text.anchor, text.angle, width)


def line_box(item: Path) -> Box:
    return Box.around([(v[-2], v[-1]) for _, v in item.steps if v])


def outline(scene: Scene) -> Box:
    item = next(group for group in scene.groups if group.id == "outline").items[0]
    assert isinstance(item, Path)
    return line_box(item)


def spine(group: Group) -> bool:
    """True when a continuous line as thin as a bare link's runs along it."""
    return any(isinstance(i, Path) and i.pen and i.pen.width == style.SPINE_MM and not i.pen.dash for i in group.items)


# --- bare links ------------------------------------------------------------------------------------------------------


def test_a_bare_link_has_a_line_through_its_dashes_and_lies_straight() -> None:
    plan = lantern()
    found = links(plan)
    assert {link.bare for link in found} == {True, False}
    for group, link in zip(of_kind(plan_scene(plan), "jumper"), found, strict=True):
        assert spine(group) == link.bare
        assert group.title.endswith(f"{link.wire} wire")
        dashed = [i for i in group.items if isinstance(i, Path) and i.pen and i.pen.dash]
        assert len(dashed) == 1
        assert dashed[0].pen
        assert dashed[0].pen.width == (style.BARE_MM if link.bare else style.JUMPER_MM)
        assert (dashed[0].pen.dash, dashed[0].pen.colour) in {(p.dash, p.colour) for p in style.JUMPER_PENS.values()}
        if link.bare:
            box = line_box(dashed[0])
            assert min(box.width, box.height) < 1e-9
            (_, control), middle = dashed[0].steps[1], box.centre
            assert control[:2] == pytest.approx(middle)


def test_the_legend_explains_bare_wire_where_there_is_some() -> None:
    plan = lantern()
    words = [text.text for text in texts(plan_scene(plan))]
    assert "thin, a line through the dashes: bare wire" in words
    assert words.count("bare") == sum(link.bare for link in links(plan))
    slanting = tuple(j for j, link in zip(plan.jumpers, links(plan), strict=True) if not link.bare)
    words = [text.text for text in texts(plan_scene(replace(plan, jumpers=slanting)))]
    assert not any("bare" in word for word in words)


# --- saw lines -------------------------------------------------------------------------------------------------------

PLANS = [
    lantern(),
    generated("long-strip-39x60", 12, 3, cuts=4),
    generated("five-hole-63", 14, 5),
    make_plan("corner", load_board("five-hole-twin-45"), [("W", "pad-2", "", "flat", {"1": "f20", "2": "h30"})]),
]


@pytest.mark.parametrize("copper_side", [False, True], ids=["board", "copper"])
@pytest.mark.parametrize("plan", PLANS, ids=lambda plan: plan.circuit.name)
@pytest.mark.parametrize("margin", [0.0, 2.54])
def test_saw_lines_run_across_the_board_clear_of_labels_and_bodies(
    plan: Plan, copper_side: bool, margin: float
) -> None:
    found = crop(plan, margin)
    scene = plan_scene(plan, copper_side=copper_side, crop=found)
    groups = of_kind(scene, "saw")
    assert [group.id for group in groups] == [f"saw-{line.side}" for line in found.lines]
    board = outline(scene)
    width = plan.board.outline_mm[0]
    kept = Box(found.left, found.top, found.right, found.bottom)
    if copper_side:
        kept = Box(width - kept.x1, kept.y0, width - kept.x0, kept.y1)
    kept = Box(kept.x0 + board.x0, kept.y0 + board.y0, kept.x1 + board.x0, kept.y1 + board.y0)
    others = [
        ((t.text, g.kind), box_of(t)) for g in scene.groups if g.kind != "saw" for t in g.items if isinstance(t, Text)
    ]
    for group, line in zip(groups, found.lines, strict=True):
        drawn = next(i for i in group.items if isinstance(i, Path) and i.pen == style.SAW)
        box = line_box(drawn)
        assert not kept.grown(-0.01).meets(box.grown(0.001))  # along the rim of what stays, not through it
        assert kept.gap(box) == pytest.approx(0, abs=1e-6)
        span = (box.height, board.height) if line.side in ("left", "right") else (box.width, board.width)
        assert span[0] == pytest.approx(span[1])
        (word,) = (i for i in group.items if isinstance(i, Text))
        assert word.text == WORD
        assert board.holds(box_of(word))
        assert not kept.meets(box_of(word))
        assert not any(box_of(word).meets(other) for _, other in others)
        # A port is printed on the board: a saw line may have to go through one.
        assert [
            t for t, other in others if not t[1].startswith("port") and box.grown(style.SAW.width / 2).meets(other)
        ] == []
    dots = [i for g in scene.groups if g.kind == "leads" for i in g.items if isinstance(i, Circle)]
    assert dots
    assert all(kept.holds(Box.about(dot.x, dot.y, dot.r)) for dot in dots)


def test_the_sheet_says_how_to_saw_and_without_crop_it_does_not() -> None:
    plan = lantern()
    found = crop(plan)
    assert found.lines
    for copper_side in (False, True):
        sheet = " ".join(text.text for text in texts(plan_scene(plan, copper_side=copper_side, crop=found)))
        assert crop_text(found, plan.board) in sheet
        assert "saw line: what lies beyond comes off" in sheet
        plain = plan_scene(plan, copper_side=copper_side)
        assert not any("saw" in text.text.lower() for text in texts(plain))
        assert of_kind(plain, "saw") == []


# --- cuts ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("copper_side", [False, True])
def test_the_lines_of_a_cut_are_labelled_at_the_edges(copper_side: bool) -> None:
    """Every fifth column is labelled; a cut in between gets its own, or the builder has to count."""
    plan = make_plan("cuts", load_board("long-strip-24x37"), [], {}, [], [Cut(at="G27"), Cut(between=("B12", "B13"))])
    scene = plan_scene(plan, copper_side=copper_side)
    for side in ("labels-top", "labels-bottom"):
        told = {t.text: t.x for g in scene.groups if g.id == side for t in g.items if isinstance(t, Text)}
        holes = {c.id: c.x for g in scene.groups for c in g.items if isinstance(c, Circle) and c.id}
        assert {"12", "13", "27"} <= set(told)
        assert "11" not in told
        assert told["27"] == pytest.approx(holes["hole-G27"])
        assert told["12"] == pytest.approx(holes["hole-B12"])
