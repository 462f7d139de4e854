"""The drawing as it comes out of a renderer: true to scale, and the copper side an exact mirror image."""

from __future__ import annotations

import io
import math
import subprocess

import numpy as np
import pytest
from PIL import Image

from placer.boards.catalogue import load_board
from placer.guide.drawing import plan_scene, plan_svg
from placer.guide.ground import View
from placer.guide.scene import Circle
from placer.guide.sheet import MARGIN
from tests.guide.plans import generated, lantern, make_plan
from tests.outside import need

DPI = 600
PX_PER_MM = DPI / 25.4


def rendered(svg: str) -> np.ndarray:
    """The sheet as grey levels, one row per pixel line."""
    run = subprocess.run(
        [need("rsvg-convert"), "-d", str(DPI), "-p", str(DPI)], input=svg.encode(), capture_output=True, check=True
    )
    return np.asarray(Image.open(io.BytesIO(run.stdout)).convert("L"), dtype=float)


def centre_of_ink(picture: np.ndarray, x_mm: float, y_mm: float, reach_mm: float = 1.3) -> tuple[float, float]:
    """Centroid in mm of what is nearly black around a place (copper and holes are grey)."""
    x0, y0 = (round((v - reach_mm) * PX_PER_MM) for v in (x_mm, y_mm))
    size = round(2 * reach_mm * PX_PER_MM)
    ink = np.clip(90 - picture[y0 : y0 + size, x0 : x0 + size], 0, None)
    assert ink.sum() > 0
    rows, columns = np.indices(ink.shape) + 0.5
    return (
        float(x0 + (columns * ink).sum() / ink.sum()) / PX_PER_MM,
        float(y0 + (rows * ink).sum() / ink.sum()) / PX_PER_MM,
    )


@pytest.mark.parametrize("copper_side", [False, True])
def test_pitch_is_2_54_mm_over_the_whole_board(copper_side: bool) -> None:
    """Two free wires in opposite corners of 63 rows: 17 steps across, 62 down; a step is 2.54 mm (0.1 in exactly)."""
    board = load_board("five-hole-63")
    plan = make_plan("corners", board, [("W", "pad-2", "", "flat", {"1": "L+1", "2": "R+63"})])
    scene = plan_scene(plan, copper_side=copper_side)
    holes = {c.id: c for g in scene.groups for c in g.items if isinstance(c, Circle) and c.id}
    picture = rendered(plan_svg(plan, copper_side=copper_side))

    first, last = (holes[f"hole-{a}"] for a in ("L_2b_1", "R_2b_63"))
    (ax, ay), (bx, by) = (centre_of_ink(picture, h.x, h.y) for h in (first, last))
    sense = -1 if copper_side else 1
    assert bx - ax == pytest.approx(sense * 17 * 2.54, abs=0.02)
    assert by - ay == pytest.approx(62 * 2.54, abs=0.02)


def test_scale_bar_measures_100_mm() -> None:
    picture = rendered(plan_svg(lantern()))
    bar = next(g for g in plan_scene(lantern()).groups if g.id == "scale-bar")
    line_y = bar.items[0].steps[0][1][1]  # type: ignore[union-attr]
    row = picture[round((line_y - 0.5) * PX_PER_MM), : round(120 * PX_PER_MM)]  # across the ticks
    ticks = np.flatnonzero(row < 128) / PX_PER_MM
    assert ticks.min() == pytest.approx(MARGIN + 2, abs=0.2)
    assert ticks.max() - ticks.min() == pytest.approx(100, abs=0.18 + 0.05)  # ticks are 0.18 wide


@pytest.mark.parametrize("name", ["five-hole-30", "long-strip-24x37", "five-hole-twin-45"])
def test_copper_side_is_the_exact_mirror_image(name: str) -> None:
    plan = generated(name, 12, 3)
    sides = []
    for copper_side in (False, True):
        scene = plan_scene(plan, copper_side=copper_side)
        outline = next(g for g in scene.groups if g.id == "outline").items[0]
        x0, y0 = outline.steps[0][1]  # type: ignore[union-attr]
        circles = (c for g in scene.groups for c in g.items if isinstance(c, Circle) and c.id)
        sides.append({c.id: (c.x - x0, c.y - y0) for c in circles})
    width = plan.board.outline_mm[0]

    assert sides[0].keys() == sides[1].keys()
    for hole, (x, y) in sides[0].items():
        mirrored = sides[1][hole]
        assert mirrored == pytest.approx((width - x, y), abs=1e-9)


def test_mirror_twice_is_identity() -> None:
    board = load_board("five-hole-30")
    mirror = View(board, True, 0.0, 0.0).frame
    twice = mirror.after(mirror)
    for hole in board.holes.values():
        assert math.dist(twice.point(hole.x_mm, hole.y_mm), (hole.x_mm, hole.y_mm)) < 1e-9
    assert mirror.mirrors
    assert not twice.mirrors
