"""Bridges in the plan file and in the conductors."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from placer.errors import PlacerError
from placer.plan.file import plan_from_data, plan_to_data, read_plan, write_plan
from placer.plan.readback import readback
from tests.check.bridged import bare, bridged, link
from tests.check.plans import lantern


def test_a_plan_with_bridges_is_read_back_as_it_was_written(tmp_path: Path) -> None:
    plan = bridged(bare(), ("A", "a2", "b2"))
    write_plan(plan, tmp_path / "plan.json")
    again = read_plan(tmp_path / "plan.json")
    assert (again.bridges, again.score, again.options, again.board) == (
        plan.bridges,
        plan.score,
        plan.options,
        plan.board,
    )
    assert again.doubts == ()
    data = json.loads((tmp_path / "plan.json").read_text())
    assert data["bridges"] == [{"net": "A", "between": ["a2", "b2"]}]
    assert data["score"]["bridges"] == 1
    assert data["options"]["bridge_cost"] == 0.1


def test_a_plan_on_a_board_without_bridges_says_nothing_of_them() -> None:
    assert "bridge" not in json.dumps(plan_to_data(lantern()))


def test_a_bridge_of_three_holes_is_refused() -> None:
    data = plan_to_data(link())
    data["bridges"][0]["between"].append("d2")
    with pytest.raises(PlacerError) as caught:
        plan_from_data(data, "hive.json")
    (told,) = caught.value.diagnostics
    assert told.message.startswith("bridges.0.between is ")
    assert told.message.endswith("expected two holes")


def test_bridges_join_conductors() -> None:
    assert {net.name: len(net.pins) for net in readback(link())} == {"A": 2, "B": 2}
    assert all(net.name.startswith("copper-") for net in readback(bare()))
