"""Writes a scene as SVG 1.1: one user unit is one millimetre.

Only attributes that every renderer draws alike are used: no style sheet, no dominant-baseline, no textLength.
The same scene always gives the same bytes.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from itertools import groupby

from placer.guide.scene import Circle, Data, Group, Item, Path, Pen, Scene, Text, Window

FONTS = "Arial, 'Liberation Sans', Helvetica, 'DejaVu Sans', sans-serif"
# What the Char production of XML 1.0 (fifth edition, section 2.2) leaves out.
_FORBIDDEN = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def escape(text: str) -> str:
    """Text as XML character data or attribute value; characters that XML 1.0 forbids become U+FFFD."""
    return html.escape(_FORBIDDEN.sub("\ufffd", text)).replace("&#x27;", "'")


def number(value: float) -> str:
    """A length to the micrometre, without needless zeros."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _paint(pen: Pen | None, fill: str | None) -> str:
    parts = [f' fill="{fill or "none"}"']
    if pen:
        parts.append(f' stroke="{pen.colour}" stroke-width="{number(pen.width)}"')
        if pen.dash:
            parts.append(f' stroke-dasharray="{" ".join(map(number, pen.dash))}"')
        if pen.cap != "butt":
            parts.append(f' stroke-linecap="{pen.cap}"')
            if pen.cap == "round":
                parts.append(' stroke-linejoin="round"')
    return "".join(parts)


def _data(data: Data) -> str:
    return "".join(f' data-{word}="{escape(value)}"' for word, value in data)


def _path(path: Path) -> str:
    words = []
    for name, v in path.steps:
        if name == "A":
            radius = number(v[0])
            words.append(f"A{radius} {radius} 0 {int(v[1])} {int(v[2])} {number(v[3])} {number(v[4])}")
        else:
            words.append(name + " ".join(map(number, v)))
    return f'<path d="{"".join(words)}"{_data(path.data)}{_paint(path.pen, path.fill)}/>'


def _circle(circle: Circle, prefix: str) -> str:
    found = f' id="{prefix}{circle.id}"' if circle.id else ""
    place = f'cx="{number(circle.x)}" cy="{number(circle.y)}" r="{number(circle.r)}"'
    return f"<circle{found}{_data(circle.data)} {place}{_paint(circle.pen, circle.fill)}/>"


def _text(text: Text) -> str:
    x, y = number(text.x), number(text.y)
    if text.angle or text.condense != 1:
        turn = f" rotate({text.angle})" if text.angle else ""
        stretch = f" scale({number(text.condense)},1)" if text.condense != 1 else ""
        place = f'transform="translate({x},{y}){turn}{stretch}"'
    else:
        place = f'x="{x}" y="{y}"'
    bold = ' font-weight="bold"' if text.bold else ""
    return (
        f'<text {place} font-size="{number(text.size)}" text-anchor="{text.anchor}" fill="{text.colour}"{bold}>'
        f"{escape(text.text)}</text>"
    )


def _item(item: Item, prefix: str) -> str:
    if isinstance(item, Path):
        return _path(item)
    return _circle(item, prefix) if isinstance(item, Circle) else _text(item)


def _group(group: Group, prefix: str) -> Iterator[str]:
    yield f'<g id="{prefix}{group.id}" class="{group.kind}"{_data(group.data)}>'
    yield f"<title>{escape(group.title)}</title>"
    yield from (_item(item, prefix) for item in group.items)
    yield "</g>"


def write_svg(scene: Scene, prefix: str = "", *, window: Window | None = None, fonts: str = FONTS) -> str:
    """The scene as an SVG document.

    ``prefix`` goes before every id, so that two drawings can stand in one page. ``window``: the piece of the sheet to
    show, still 1 unit = 1 mm; None shows all. ``fonts``: families in the order of preference.
    """
    x, y, width, height = map(number, window or (0.0, 0.0, scene.width, scene.height))
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{width}mm" height="{height}mm" '
        f'viewBox="{x} {y} {width} {height}" font-family="{fonts}">',
        f"<title>{escape(scene.title)}</title>",
        f"<desc>{escape(scene.about)}</desc>",
        f'<rect id="{prefix}sheet" width="{number(scene.width)}" height="{number(scene.height)}" fill="#ffffff"/>',
    ]
    for layer, groups in groupby(scene.groups, key=lambda g: g.layer):
        lines.append(f'<g id="{prefix}layer-{layer}" class="layer">')
        for group in groups:
            lines.extend(_group(group, prefix))
        lines.append("</g>")
    return "\n".join([*lines, "</svg>", ""])
