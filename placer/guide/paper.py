"""Paper sizes, and the room that a true-scale picture has on a page."""

from __future__ import annotations

from dataclasses import dataclass

MARGIN_MM = 10.0  # printers leave less than that blank (common practice, no source)
FOOT_MM = 14.0
HEAD_MM = 19.0
BAR_MM = 10.0
GAP_MM = 6.0


@dataclass(frozen=True)
class Paper:
    """A paper size in mm. ``name``: as typst calls it."""

    name: str
    width: float
    height: float

    def room(self, *, flipped: bool) -> tuple[float, float]:
        """Width and height that margins, heading and bars leave."""
        width, height = (self.height, self.width) if flipped else (self.width, self.height)
        return width - 2 * MARGIN_MM - BAR_MM, height - MARGIN_MM - FOOT_MM - HEAD_MM - BAR_MM


# A4: ISO 216; letter: ANSI/ASME Y14.1, 8.5 x 11 in. Both from memory.
PAPERS = {"a4": Paper("a4", 210.0, 297.0), "letter": Paper("us-letter", 215.9, 279.4)}
DEFAULT_PAPER = "a4"
