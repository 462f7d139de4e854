"""The guide on paper: a PDF, set by typst from the same drawings, at true scale where it says so.

Everything that is said comes to the template as data and is set as plain text, so nothing in a circuit can become
markup. Same plan, same bytes: no date is written, and the typeface comes with the program.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from importlib import resources
from typing import Any

import typst

from placer.guide.marks import COPPER_KINDS, Mark, marks_of
from placer.guide.picture import Picture, Sheet, picture_of, sheets, step_picture
from placer.guide.scene import Scene
from placer.guide.step import Guide, Step
from placer.guide.svg import number, write_svg
from placer.guide.typeface import FAMILY, faces, fitted


@dataclass(frozen=True)
class Paper:
    """A paper size in mm. The picture's room is what margins, heading and bars leave."""

    name: str
    width: float
    height: float

    def room(self, *, flipped: bool) -> tuple[float, float]:
        """Width and height that a true-scale picture may take."""
        width, height = (self.height, self.width) if flipped else (self.width, self.height)
        return width - 2 * MARGIN_MM - BAR_MM, height - MARGIN_MM - FOOT_MM - HEAD_MM - BAR_MM


# A4: ISO 216; letter: ANSI/ASME Y14.1, 8.5 x 11 in. Both from memory.
PAPERS = {"a4": Paper("a4", 210.0, 297.0), "letter": Paper("us-letter", 215.9, 279.4)}
MARGIN_MM = 10.0  # printers leave less than that blank (common practice, no source)
FOOT_MM = 14.0
HEAD_MM = 19.0
BAR_MM = 10.0


def guide_pdf(guide: Guide, scenes: Mapping[str, Scene], paper: str = "a4") -> bytes:
    """The guide as a PDF. ``scenes``: the two drawings of the plan, "board" and "copper"; ``paper``: a key of PAPERS.

    Raises KeyError for another paper.
    """
    size = PAPERS[paper]
    pictures = {side: picture_of(fitted(scene)) for side, scene in scenes.items()}
    data: dict[str, Any] = {
        "paper": size.name,
        "geometry": {"margin": MARGIN_MM, "foot": FOOT_MM, "head": HEAD_MM, "bar": BAR_MM},
        "guide": asdict(guide),
        "sheets": [sheet for side, picture in pictures.items() for sheet in _true_scale(side, picture, size)],
        "pictures": list(_step_pictures(guide, pictures)),
    }
    template = resources.files("placer.guide").joinpath("page", "guide.typ").read_bytes()
    fonts = [face.path for face in faces()]
    compiler = typst.Compiler(template, font_paths=fonts, sys_inputs={"data": json.dumps(data)})
    made = compiler.compile(format="pdf")
    if not isinstance(made, bytes):
        raise TypeError("typst gave no PDF")
    return made


def _true_scale(side: str, picture: Picture, paper: Paper) -> Iterator[dict[str, Any]]:
    """The pages of one side, upright where it fits, else across, else in as few sheets as can be."""
    ways = [(sheets(picture, *paper.room(flipped=flipped)), flipped) for flipped in (False, True)]
    made, flipped = min(ways, key=lambda way: len(way[0]))
    for sheet in made:
        yield {"side": side, "flipped": flipped, **_sheet(sheet)}


def _sheet(sheet: Sheet) -> dict[str, Any]:
    return {"number": sheet.number, "count": sheet.count, "joins": list(sheet.joins), **_image(sheet.picture)}


def _image(picture: Picture) -> dict[str, Any]:
    x, y, width, height = picture.window
    svg = write_svg(picture.scene, window=(x, y, width, height), fonts=f"'{FAMILY}'")
    return {"svg": svg, "width": float(number(width)), "height": float(number(height))}


def _step_pictures(guide: Guide, pictures: Mapping[str, Picture]) -> Iterator[dict[str, Any] | None]:
    """A picture for each step that is about holes, else None."""
    before: set[Mark] = set()
    for step in guide.steps:
        now = marks_of(step)
        if now and step.holes:
            side = "copper" if step.kind in COPPER_KINDS else "board"
            yield {"side": side, **_image(step_picture(pictures[side], now, before, step.holes))}
        else:
            yield None
        before |= now
