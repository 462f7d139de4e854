"""The typeface of the PDF: DejaVu Sans as it comes with matplotlib, so that a page looks the same on every machine.

The drawing is laid out by the widths of a narrower face (:mod:`placer.guide.metrics`); its lines of text are condensed
by as much as DejaVu Sans is wider, and so take the room that was found for them.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from fontTools.ttLib import TTFont

from placer.guide.metrics import text_width
from placer.guide.scene import Group, Scene, Text

FAMILY = "DejaVu Sans"


@dataclass(frozen=True)
class Face:
    """A font file and the advance width of each of its characters in font sizes."""

    path: Path
    widths: Mapping[int, float]

    def width(self, text: str) -> float:
        """Advance width of a line in font sizes; a character that is missing counts as wide."""
        return sum(self.widths.get(ord(c), 1.0) for c in text)


@cache
def faces() -> tuple[Face, Face]:
    """The regular and the bold face. Raises FileNotFoundError where matplotlib's fonts are not there."""
    return _face("DejaVuSans.ttf"), _face("DejaVuSans-Bold.ttf")


def _face(name: str) -> Face:
    spec = importlib.util.find_spec("matplotlib")
    places = spec.submodule_search_locations if spec and spec.submodule_search_locations else []
    path = next((p for place in places if (p := Path(place, "mpl-data", "fonts", "ttf", name)).exists()), None)
    if path is None:
        raise FileNotFoundError(f"{name}, a font that comes with matplotlib")
    with TTFont(path, lazy=True) as font:
        advances, unit = font["hmtx"].metrics, font["head"].unitsPerEm
        widths = {code: advances[glyph][0] / unit for code, glyph in font.getBestCmap().items()}
    return Face(path, widths)


def fitted(scene: Scene) -> Scene:
    """The drawing with its texts condensed to the widths that it was laid out with."""
    return replace(scene, groups=tuple(_fitted_group(group) for group in scene.groups))


def _fitted_group(group: Group) -> Group:
    if not any(isinstance(item, Text) for item in group.items):
        return group
    return replace(group, items=tuple(_fitted(i) if isinstance(i, Text) else i for i in group.items))


def _fitted(text: Text) -> Text:
    wide = faces()[text.bold].width(text.text) * text.size
    meant = text_width(text.text, text.size)
    return replace(text, condense=text.condense * min(1.0, meant / wide)) if wide else text
