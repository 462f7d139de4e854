"""The guide on paper: a PDF, set by typst from the same drawings, at true scale where it says so.

Everything that is said comes to the template as data and is set as plain text, so nothing in a circuit can become
markup. Same plan, same bytes: no date is written, and the typeface comes with the program.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from importlib import resources
from typing import Any

import typst

from placer.guide.legend import sign_rows
from placer.guide.marks import COPPER_KINDS, Mark, marks_of
from placer.guide.paper import BAR_MM, DEFAULT_PAPER, FOOT_MM, GAP_MM, HEAD_MM, MARGIN_MM, PAPERS, Paper
from placer.guide.picture import Picture, Sheet, StepPictures, picture_of, sheets
from placer.guide.scene import Scene, Window
from placer.guide.sheet import Row, legend_scene
from placer.guide.step import Guide
from placer.guide.svg import number, write_svg
from placer.guide.typeface import FAMILY, faces, fitted
from placer.plan.findings import gist
from placer.plan.model import Plan


def guide_pdf(plan: Plan, guide: Guide, scenes: Mapping[str, Scene], paper: str = DEFAULT_PAPER) -> bytes:
    """The guide as a PDF. ``scenes``: the two drawings of the plan, "board" and "copper"; ``paper``: a key of PAPERS.

    Raises KeyError for another paper.
    """
    size = PAPERS[paper]
    pictures = {side: picture_of(fitted(scene)) for side, scene in scenes.items()}
    sawn = any(group.kind == "saw" for scene in scenes.values() for group in scene.groups)
    data: dict[str, Any] = {
        "paper": size.name,
        "geometry": {"margin": MARGIN_MM, "foot": FOOT_MM, "head": HEAD_MM, "bar": BAR_MM, "gap": GAP_MM},
        "guide": asdict(guide),
        "gist": gist(guide.findings),
        "pages": list(_true_scale(pictures, sign_rows(plan, sawn=sawn), size)),
        "pictures": list(_step_pictures(guide, pictures)),
    }
    template = resources.files("placer.guide").joinpath("page", "guide.typ").read_bytes()
    # Fonts of the machine come in only where a character is missing from ours.
    fonts = typst.Fonts(font_paths=[face.path for face in faces()])
    compiler = typst.Compiler(template, font_paths=fonts, sys_inputs={"data": json.dumps(data)})
    made = compiler.compile(format="pdf")
    if not isinstance(made, bytes):
        raise TypeError("typst gave no PDF")
    return made


def _true_scale(pictures: Mapping[str, Picture], signs: Sequence[Row], paper: Paper) -> Iterator[dict[str, Any]]:
    """The pages at 1:1: both sides on one where they fit, else a page a side, upright or across, else sheets."""
    width, height = paper.room(flipped=False)
    windows = [picture.window for picture in pictures.values()]
    if sum(w for _, _, w, _ in windows) + GAP_MM <= width and max(h for _, _, _, h in windows) <= height:
        whole = [(side, Sheet(picture, 1, 1)) for side, picture in pictures.items()]
        yield _page(whole, signs, (width, height), flipped=False)
        return
    for side, picture in pictures.items():
        ways = [(sheets(picture, *paper.room(flipped=flipped)), flipped) for flipped in (False, True)]
        made, flipped = min(ways, key=lambda way: len(way[0]))
        for sheet in made:
            yield _page([(side, sheet)], signs, paper.room(flipped=flipped), flipped=flipped)


def _page(
    shown: Sequence[tuple[str, Sheet]], signs: Sequence[Row], room: tuple[float, float], *, flipped: bool
) -> dict[str, Any]:
    """One page; the legend comes below the boards where there is room."""
    legend = fitted(legend_scene(signs, room[0] + BAR_MM))
    left = room[1] - max(sheet.picture.window[3] for _, sheet in shown) - 2 * GAP_MM
    first = shown[0][1]
    return {
        "flipped": flipped,
        "sides": [{"side": side, "joins": list(sheet.joins), **_image(sheet.picture)} for side, sheet in shown],
        "number": first.number,
        "count": first.count,
        "legend": _svg(legend, (0.0, 0.0, legend.width, legend.height)) if legend.height <= left else None,
    }


def _image(picture: Picture) -> dict[str, Any]:
    return _svg(picture.scene, picture.window)


def _svg(scene: Scene, window: Window) -> dict[str, Any]:
    svg = write_svg(scene, window=window, fonts=f"'{FAMILY}'")
    return {"svg": svg, "width": float(number(window[2])), "height": float(number(window[3]))}


def _step_pictures(guide: Guide, pictures: Mapping[str, Picture]) -> Iterator[dict[str, Any] | None]:
    """A picture for each step that is about holes, else None."""
    series = {side: StepPictures(picture) for side, picture in pictures.items()}
    before: set[Mark] = set()
    for step in guide.steps:
        now = marks_of(step)
        if now and step.holes:
            side = "copper" if step.kind in COPPER_KINDS else "board"
            yield {"side": side, **_image(series[side].of(now, before, step.holes))}
        else:
            yield None
        before |= now
