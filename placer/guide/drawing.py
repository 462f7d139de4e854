"""The finished drawings of a plan: component side and copper side."""

from __future__ import annotations

from placer.guide.ground import View
from placer.guide.legend import plan_rows
from placer.guide.planview import plan_groups
from placer.guide.scene import Scene
from placer.guide.sheet import lay_out, print_note, sheet_scene
from placer.guide.svg import write_svg
from placer.plan.crop import Crop, crop_text
from placer.plan.model import Plan

_TURNED = (
    "Copper side: the board turned over its left edge, like the page of a book; the top edge stays on top.",
    "What is on the left of the component side is on the right here.",
)
SIDES = ("board", "copper")
"""The two drawings of a plan: the component side, and the copper side."""


def plan_scenes(plan: Plan, crop: Crop | None = None) -> dict[str, Scene]:
    """Both drawings by their names in :data:`SIDES`."""
    return {side: plan_scene(plan, copper_side=side == "copper", crop=crop) for side in SIDES}


def plan_scene(plan: Plan, *, copper_side: bool = False, crop: Crop | None = None) -> Scene:
    """A plan from the component side, or from the copper side, mirrored left to right; with saw lines if wanted."""
    rows = list(plan_rows(plan, mirrored=copper_side, sawn=bool(crop and crop.lines)))
    sawing = [crop_text(crop, plan.board)] if crop else []
    notes = [print_note(plan.board, rows), *(_TURNED if copper_side else ()), *sawing]
    layout = lay_out(plan.board, notes, rows)
    side = "copper side (mirrored)" if copper_side else "component side"
    title = f"{plan.circuit.name} – {plan.board.name} – {side}"
    view = View(plan.board, copper_side, *layout.board_at)
    return sheet_scene(layout, title, plan_groups(plan, view, crop))


def plan_svg(plan: Plan, *, copper_side: bool = False, prefix: str = "", crop: Crop | None = None) -> str:
    """One side of a plan as an SVG document, 1 unit = 1 mm. ``prefix`` goes before every id."""
    return write_svg(plan_scene(plan, copper_side=copper_side, crop=crop), prefix)
