"""Labels: none covers another, a lead, a number or a mark; all large enough; their widths as the font has them."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import combinations

import pytest
from matplotlib import font_manager
from PIL import ImageFont

from placer.guide.bodies import part_art
from placer.guide.drawing import plan_scene
from placer.guide.metrics import CAP, text_box, text_width
from placer.guide.room import Box
from placer.guide.scene import Circle, Group, Path, Scene, Text
from placer.plan.model import Plan
from tests.guide.plans import generated, lantern
from tests.outside import missing

PLANS = [
    *(("five-hole-30", 20, seed, 0) for seed in (1, 2, 3)),
    *(("five-hole-63", 38, seed, 0) for seed in (4, 5)),
    ("five-hole-twin-45", 45, 6, 3),
    ("long-strip-39x60", 40, 7, 10),
    ("single-pad-30x20", 15, 8, 0),
]


def box_of(text: Text) -> Box:
    width = text_width(text.text, text.size, condense=text.condense, bold=text.bold)
    return text_box(text.x, text.y, text.text, text.size, text.anchor, text.angle, width)


def all_texts(scene: Scene) -> list[tuple[Group, Text]]:
    return [(g, t) for g in scene.groups for t in g.items if isinstance(t, Text)]


@lru_cache(maxsize=2 * len(PLANS))
def drawn(case: tuple[str, int, int, int], copper_side: bool) -> tuple[Plan, Scene]:
    name, count, seed, cuts = case
    plan = generated(name, count, seed, cuts=cuts)
    assert len(plan.placements) > count / 2
    return plan, plan_scene(plan, copper_side=copper_side)


@pytest.mark.parametrize("copper_side", [False, True], ids=["board", "copper"])
@pytest.mark.parametrize("case", PLANS, ids=str)
def test_no_text_covers_another_or_a_lead(case: tuple[str, int, int, int], copper_side: bool) -> None:
    plan, scene = drawn(case, copper_side)
    boxes = [(t.text, box_of(t)) for _, t in all_texts(scene)]

    covered = [(a, b) for (a, box_a), (b, box_b) in combinations(boxes, 2) if box_a.grown(-0.02).meets(box_b)]
    assert covered == []
    sheet = Box(0, 0, scene.width, scene.height)
    assert [t for t, box in boxes if not sheet.holds(box)] == []
    leads = [c for g in scene.groups if g.kind == "leads" for c in g.items if isinstance(c, Circle) and c.r < 0.5]
    assert leads
    ends = [c for g in scene.groups if g.kind.startswith("jumper") for c in g.items if isinstance(c, Circle)]
    assert len(ends) == 4 * len(plan.jumpers)
    for dot in (*leads, *ends):
        assert [t for t, box in boxes if math.dist(box.nearest(dot.x, dot.y), (dot.x, dot.y)) < dot.r - 0.02] == []


@pytest.mark.parametrize("copper_side", [False, True], ids=["board", "copper"])
@pytest.mark.parametrize("case", PLANS, ids=str)
def test_numbers_cover_no_lead_and_no_label(case: tuple[str, int, int, int], copper_side: bool) -> None:
    _, scene = drawn(case, copper_side)
    numbers = [g for g in scene.groups if g.kind == "number"]
    middles = [(t.x, box_of(t).centre[1]) for g in numbers for t in g.items if isinstance(t, Text)]
    rims = [Box.about(x, y, 1.1) for x, y in middles]
    labels = [box_of(t) for g, t in all_texts(scene) if g.kind in ("label", "pin", "axis")]
    leads = [c for g in scene.groups if g.kind == "leads" for c in g.items if isinstance(c, Circle)]

    assert rims
    assert not [1 for a, b in combinations(rims, 2) if a.meets(b)]
    assert not [1 for rim in rims for label in labels if rim.meets(label)]
    assert not [1 for rim in rims for dot in leads if math.dist(rim.centre, (dot.x, dot.y)) < 1.2 + 0.3]


@pytest.mark.parametrize("case", PLANS, ids=str)
def test_each_part_shows_reference_and_value_large_enough(case: tuple[str, int, int, int]) -> None:
    """Capitals at least 1.5 mm high for references and 1.2 mm for values, by the font's own capital height."""
    plan, scene = drawn(case, False)
    texts = all_texts(scene)
    for ref, placement in plan.placements.items():
        value = plan.circuit.part_by_ref[ref].value
        name = ref if len(placement.pins) == 1 or placement.package[:4] != "pad-" else f"{ref}.1"
        refs = [t for g, t in texts if t.text == name and g.kind == "label"]
        assert len(refs) == 1
        assert refs[0].size * CAP >= 1.5
        own = [t for g, t in texts if t.text == value and ref in g.title.replace(",", "").split()]
        assert len(own) == 1
        assert own[0].size * CAP >= 1.2
        assert min(refs[0].condense, own[0].condense) >= 0.75


def test_label_lies_inside_its_part_or_beside_it_or_on_a_leader() -> None:
    plan = lantern()
    scene = plan_scene(plan)
    outline = next(g for g in scene.groups if g.id == "outline").items[0]
    assert isinstance(outline, Path)
    x0, y0 = outline.steps[0][1]
    for group in (g for g in scene.groups if g.kind == "label"):
        placement = plan.placements[group.title.split(" of ")[1]]
        pins = {pin: plan.board.holes[a] for pin, a in placement.pins.items()}
        package = plan.circuit.packages[placement.package]
        art = part_art(package, placement.mount, {p: (h.x_mm + x0, h.y_mm + y0) for p, h in pins.items()})
        assert art is not None
        gap = min(box_of(t).gap(Box.around(art.hull)) for t in group.items if isinstance(t, Text))
        led = any(isinstance(i, Circle) for i in group.items)
        assert gap < 1.2 or led


def test_widths_are_those_of_the_font() -> None:
    """Compared with Liberation Sans, whose widths are those of the fonts named first."""
    try:
        # Not by the library's own list, which may be older than the font.
        path = next(p for p in font_manager.findSystemFonts() if p.endswith("LiberationSans-Regular.ttf"))
    except StopIteration:
        missing("the font Liberation Sans is not installed (Debian package fonts-liberation)")
    font = ImageFont.truetype(path, 1000)
    for text in ("R12", "4k7", "1N4148", "hex inverter", "100 µF", "2M2", "L+14 – L+15", "10 kΩ", "BC547"):
        assert text_width(text, 1000) == pytest.approx(font.getlength(text), rel=0.02)
        bold = ImageFont.truetype(path.replace("-Regular", "-Bold"), 1000)
        assert text_width(text, 1000, bold=True) >= bold.getlength(text) * 0.97
