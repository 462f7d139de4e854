"""How wide a line of text is, without asking a renderer.

Widths are those of the Helvetica-compatible fonts that :data:`placer.guide.svg.FONTS` names first (measured from
Liberation Sans 2, whose advance widths equal Arial's). A character that is not listed counts as wide.
"""

from __future__ import annotations

from placer.guide.room import Box

CAP = 0.69  # height of a capital or a digit, in font sizes
DESCENT = 0.21
_BOLD = 1.07  # a bold line is at most this much wider
_WIDTHS = {
    191: "'",
    222: "ijl",
    260: "|",
    278: " !,./:;I[\\]ft·",
    333: "()-`r²",
    334: "{}",
    355: '"',
    389: "*",
    400: "°",
    469: "^",
    500: "Jcksvxyz",
    549: "±≥≤",
    556: "#$0123456789?L_abdeghnopqu–äöüéèå",
    576: "µ",
    584: "+<=>~×−",
    611: "FTZßø",
    667: "&ABEKPSVXYÄ",
    722: "CDHNRUwÜ",
    748: "Ω",
    778: "GOQÖ",
    833: "Mm",
    889: "%æ",
    944: "W",
    1000: "—…→",
    1015: "@",
}
_WIDTH_OF = {c: width / 1000 for width, chars in _WIDTHS.items() for c in chars}
_DESCENDERS = frozenset("gjpqyµ,;()[]{}|_QÇç@$/\\")


def text_width(text: str, size: float, *, condense: float = 1.0, bold: bool = False) -> float:
    """Advance width of a line in mm."""
    em = sum(_WIDTH_OF.get(c, 0.8 if ord(c) < 0x2E80 else 1.0) for c in text)
    return em * size * condense * (_BOLD if bold else 1.0)


def rise(size: float) -> float:
    """Height of a capital in mm."""
    return CAP * size


def drop(text: str, size: float) -> float:
    """How far the text reaches below its baseline in mm."""
    return DESCENT * size if any(c in _DESCENDERS or ord(c) > 0x7E for c in text) else 0.02 * size


def text_box(x: float, y: float, text: str, size: float, anchor: str, angle: int, width: float) -> Box:
    """The box around a line of text whose anchor on the baseline is (x, y). ``width`` from :func:`text_width`."""
    left = {"start": 0.0, "middle": -width / 2, "end": -width}[anchor]
    up, down = rise(size) if text else 0.0, drop(text, size)
    if angle:
        return Box(x - up, y - left - width, x + down, y - left)
    return Box(x + left, y - up, x + left + width, y + down)


def shorten(text: str, size: float, room: float, *, bold: bool = False) -> str:
    """The text, or its beginning with an ellipsis, so that it is at most ``room`` mm wide."""
    if text_width(text, size, bold=bold) <= room:
        return text
    while text and text_width(text + "…", size, bold=bold) > room:
        text = text[:-1]
    return text.rstrip() + "…"
