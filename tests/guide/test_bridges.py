"""Bridges on the drawings and in the lists."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest

from placer.guide.drawing import plan_scene
from placer.guide.scene import Path as Line
from placer.guide.scene import texts
from placer.guide.write import write_guide
from tests.check.bridged import bare, link
from tests.check.plans import lantern


@pytest.mark.parametrize("copper_side", [False, True])
def test_every_bridge_is_drawn_between_its_two_holes(copper_side: bool) -> None:
    plan = link()
    scene = plan_scene(plan, copper_side=copper_side)
    at = {item.id: (item.x, item.y) for g in scene.groups if g.kind == "holes" for item in g.items}  # type: ignore[union-attr]
    drawn = [group for group in scene.groups if group.kind == "bridge"]
    assert [group.title for group in drawn] == [
        f"bridge {i}, {b.net}: {b.between[0]} to {b.between[1]}" for i, b in enumerate(plan.bridges, 1)
    ]
    for group, bridge in zip(drawn, plan.bridges, strict=True):
        ends = [at[f"hole-{hole}"] for hole in bridge.between]
        line = group.items[0]
        assert isinstance(line, Line)
        middle = [sum(step[1][axis] for step in line.steps) / 2 for axis in (0, 1)]
        assert middle == pytest.approx([(ends[0][axis] + ends[1][axis]) / 2 for axis in (0, 1)])


def test_the_legend_explains_bridges_where_there_are_any() -> None:
    said = {side: " ".join(t.text for t in texts(plan_scene(link(), copper_side=side))) for side in (False, True)}
    assert "bridge: join the two pads with solder (4)" in said[True]
    assert "bridge of solder on the other side (4)" in said[False]
    assert "bridge" not in " ".join(t.text for t in texts(plan_scene(bare(), copper_side=True)))


def test_the_list_of_bridges_is_written_where_there_are_any(tmp_path: Path) -> None:
    write_guide(link(), tmp_path / "pads")
    with (tmp_path / "pads" / "bridges.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file))
    assert rows[:2] == [["number", "net", "from", "to"], ["1", "A", "a2", "b2"]]
    assert len(rows) == 5
    write_guide(lantern(), tmp_path / "strips")
    write_guide(replace(link(), bridges=()), tmp_path / "bare")
    assert not list(tmp_path.glob("strips/bridges.csv")) + list(tmp_path.glob("bare/bridges.csv"))
