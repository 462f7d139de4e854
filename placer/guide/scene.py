"""The drawing as data: frozen primitives in mm, gathered in groups that say what they show.

x runs right and y down on the sheet. A group carries an id, a title (what a screen reader or a pointer's tooltip says),
a class and a layer; a writer turns a scene into a file and knows nothing of boards.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

Step = tuple[str, tuple[float, ...]]
"""A path step: ``("M", (x, y))``, ``("L", (x, y))``, ``("Q", (cx, cy, x, y))``,
``("A", (r, large, sweep, x, y))`` for a circular arc, ``("Z", ())``."""

Point = tuple[float, float]

Data = tuple[tuple[str, str], ...]
"""What an item stands for, as pairs of a word and a value: ``("ref", "R1")``, ``("net", "GND")``, ``("hole", "c12")``.
A page finds by them all that belongs to a part, a jumper, a cut, a bridge or a net."""

Window = tuple[float, float, float, float]
"""A piece of a sheet: x and y of its corner, width, height."""


@dataclass(frozen=True)
class Pen:
    """A line: width in mm, colour, dash pattern in mm (empty: continuous) and the form of its ends."""

    width: float
    colour: str = "#000000"
    dash: tuple[float, ...] = ()
    cap: str = "butt"


@dataclass(frozen=True)
class Path:
    """A line or a closed shape."""

    steps: tuple[Step, ...]
    pen: Pen | None = None
    fill: str | None = None
    data: Data = ()


@dataclass(frozen=True)
class Circle:
    """A circle about (x, y). ``id`` may be given to a circle that others want to find, such as a hole."""

    x: float
    y: float
    r: float
    pen: Pen | None = None
    fill: str | None = None
    id: str = ""
    data: Data = ()


@dataclass(frozen=True)
class Text:
    """One line of text. (x, y) is the anchor on the baseline; ``angle`` 0, or -90 to be read from the right.

    ``size``: font size in mm; ``condense``: width factor (1 is the font's own width).
    """

    x: float
    y: float
    text: str
    size: float
    anchor: str = "middle"  # "start" | "middle" | "end"
    angle: int = 0
    condense: float = 1.0
    bold: bool = False
    colour: str = "#000000"


Item = Path | Circle | Text


@dataclass(frozen=True)
class Group:
    """What belongs together on the drawing. ``id`` is unique in its scene; ``kind`` is the class, e.g. ``"part"``."""

    id: str
    title: str
    kind: str
    layer: str
    items: tuple[Item, ...]
    data: Data = ()


@dataclass(frozen=True)
class Scene:
    """A sheet. Sizes in mm; groups are drawn in order, neighbours of one layer share that layer's group."""

    width: float
    height: float
    title: str
    about: str
    groups: tuple[Group, ...]


def polyline(points: Iterable[Point], pen: Pen | None, fill: str | None = None, *, closed: bool = False) -> Path:
    """Straight lines from point to point."""
    steps: list[Step] = [("L" if i else "M", point) for i, point in enumerate(points)]
    return Path((*steps, *([("Z", ())] if closed else [])), pen, fill)


def rectangle(x0: float, y0: float, x1: float, y1: float, pen: Pen | None, fill: str | None = None) -> Path:
    """A rectangle between two corners."""
    return polyline(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), pen, fill, closed=True)


@dataclass(frozen=True)
class Affine:
    """A rigid motion of the plane, mirrored or not: (x, y) -> (a x + c y + e, b x + d y + f)."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    @classmethod
    def turned(cls, x: float, y: float, dx: float, dy: float) -> Affine:
        """Moves the origin to (x, y) and turns the x axis into the direction (dx, dy)."""
        length = math.hypot(dx, dy)
        cos, sin = dx / length, dy / length
        return cls(cos, sin, -sin, cos, x, y)

    def point(self, x: float, y: float) -> Point:
        """The image of a point."""
        return self.a * x + self.c * y + self.e, self.b * x + self.d * y + self.f

    def after(self, first: Affine) -> Affine:
        """The motion made of ``first``, then this one."""
        e, f = self.point(first.e, first.f)
        return Affine(
            self.a * first.a + self.c * first.b,
            self.b * first.a + self.d * first.b,
            self.a * first.c + self.c * first.d,
            self.b * first.c + self.d * first.d,
            e,
            f,
        )

    @property
    def mirrors(self) -> bool:
        """True when the motion turns the plane over."""
        return self.a * self.d - self.b * self.c < 0

    def step(self, step: Step) -> Step:
        """The image of a path step; a mirrored arc runs the other way round."""
        name, v = step
        if name == "A":
            return name, (v[0], v[1], 1 - v[2] if self.mirrors else v[2], *self.point(v[3], v[4]))
        return name, tuple(n for i in range(0, len(v), 2) for n in self.point(v[i], v[i + 1]))

    def shape(self, item: Path | Circle) -> Path | Circle:
        """The image of a path or a circle."""
        if isinstance(item, Circle):
            x, y = self.point(item.x, item.y)
            return Circle(x, y, item.r, item.pen, item.fill, item.id, item.data)
        return Path(tuple(self.step(s) for s in item.steps), item.pen, item.fill, item.data)


def identifier(*words: str) -> str:
    """An XML id made of words; different words give different ids.

    Letters and digits stay, anything else is written as its code point between underscores:
    ``identifier("hole", "L+4") == "hole-L_2b_4"``.
    """
    return "-".join("".join(c if c.isascii() and c.isalnum() else f"_{ord(c):x}_" for c in word) for word in words)


def texts(scene: Scene) -> Iterator[Text]:
    """Every line of text on the sheet, in drawing order."""
    for group in scene.groups:
        for item in group.items:
            if isinstance(item, Text):
                yield item
