"""Places the reference and the value of each part: inside its outline where they fit, else beside it or on a leader.

Greedy: each label takes the cheapest place left. A place is cheap when it is near, straight, not squeezed, and covers
no jumper, no other part and few holes; places that cover another label, a lead or a mark are not taken.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from placer.guide import style
from placer.guide.metrics import drop, rise, shorten, text_width
from placer.guide.room import Box, Room, along
from placer.guide.scene import Circle, Item, Point, Text, polyline, rectangle

Word = tuple[str, float, bool]  # text, font size, bold
Form = tuple[tuple[Word, ...], ...]  # rows of words

_GAP = 0.55  # between words and between rows, mm
_SQUEEZES = (1.0, 0.9, 0.82, 0.75)
_INSIDE = {"jumper": 1.0, "lead": 0.0}
_OUTSIDE = {"jumper": 1.2, "body": 6.0, "hole": 0.12, "edge": 1.5}
_RINGS = (0.45, 1.2, 2.2, 3.4, 4.8, 6.4, 8.4, 11.0, 14.0, 18.0, 23.0, 30.0)
LONGEST_VALUE_MM = 16.0


@dataclass(frozen=True)
class Label:
    """A placed label: its texts, the box they take and the leader that ties it to what it names, if any."""

    texts: tuple[Text, ...]
    box: Box
    leader: tuple[Point, ...] = ()

    def items(self, *, backed: bool) -> tuple[Item, ...]:
        """What to draw; ``backed`` puts paper under the texts, so that holes and copper do not show through."""
        found: list[Item] = []
        if self.leader:
            found += [polyline(self.leader, style.LEADER), Circle(*self.leader[-1], 0.3, None, style.INK)]
        if backed:
            b = self.box.grown(0.15)
            found.append(rectangle(b.x0, b.y0, b.x1, b.y1, None, style.PAPER))
        return (*found, *self.texts)


def forms(ref: str, value: str) -> tuple[Form, ...]:
    """The ways to set a reference and a value; the reference is bold."""
    name: Word = (shorten(ref, style.REF_MM, LONGEST_VALUE_MM, bold=True), style.REF_MM, True)
    if not value:
        alone: Form = ((name,),)
        return (alone,)
    what: Word = (shorten(value, style.VALUE_MM, LONGEST_VALUE_MM), style.VALUE_MM, False)
    one_row: Form = ((name, what),)
    two_rows: Form = ((name,), (what,))
    return one_row, two_rows


def value_forms(value: str) -> tuple[Form, ...]:
    """A value on its own, for a part whose reference stands inside its outline."""
    word: Word = (shorten(value, style.VALUE_MM, LONGEST_VALUE_MM), style.VALUE_MM, False)
    alone: Form = ((word,),)
    return (alone,)


def compose(form: Form, x: float, y: float, angle: int, squeeze: float) -> Label:
    """The texts of a form about the centre (x, y)."""
    gap = _GAP * squeeze
    widths = [sum(text_width(t, s, condense=squeeze, bold=b) for t, s, b in row) + gap * (len(row) - 1) for row in form]
    heights = [max(rise(s) + drop(t, s) for t, s, b in row) for row in form]
    width, height = max(widths), sum(heights) + _GAP * 0.8 * (len(form) - 1)
    texts = []
    v = -height / 2
    for row, row_width, row_height in zip(form, widths, heights, strict=True):
        u = -row_width / 2
        base = v + max(rise(s) for _, s, _ in row)
        for text, size, bold in row:
            px, py = (x + u, y + base) if angle == 0 else (x + base, y - u)
            texts.append(Text(px, py, text, size, "start", angle, squeeze, bold))
            u += text_width(text, size, condense=squeeze, bold=bold) + gap
        v += row_height + _GAP * 0.8
    half = (width / 2, height / 2) if angle == 0 else (height / 2, width / 2)
    return Label(tuple(texts), Box.about(x, y, *half))


def _inside_hull(hull: Sequence[Point], box: Box) -> bool:
    """True when the box lies in the convex hull (corners in either sense of rotation)."""
    corners = ((box.x0, box.y0), (box.x1, box.y0), (box.x1, box.y1), (box.x0, box.y1))
    for px, py in corners:
        sides = set()
        for (ax, ay), (bx, by) in zip(hull, (*hull[1:], hull[0]), strict=True):
            cross = (bx - ax) * (py - ay) - (by - ay) * (px - ax)
            if abs(cross) > 1e-9:
                sides.add(cross > 0)
        if len(sides) > 1:
            return False
    return True


def _spread(low: float, high: float, pitch: float = 0.55) -> list[float]:
    """Places between two bounds, the middle among them."""
    middle, count = (low + high) / 2, int((high - low) / 2 / pitch)
    return [middle + i * pitch for i in range(-count, count + 1)]


def place_inside(room: Room, hull: Sequence[Point], choices: Sequence[Form], owner: str) -> Label | None:
    """The cheapest place inside an outline, or None when there is none. Does not take the place."""
    bounds = Box.around(hull)
    cx, cy = bounds.centre
    best: tuple[float, Label] | None = None
    for squeeze in _SQUEEZES:
        for rank, form in enumerate(choices):
            for angle in (0, -90):
                size = compose(form, 0, 0, angle, squeeze).box
                if size.width > bounds.width or size.height > bounds.height:
                    continue
                for x in _spread(bounds.x0 + size.width / 2, bounds.x1 - size.width / 2):
                    for y in _spread(bounds.y0 + size.height / 2, bounds.y1 - size.height / 2):
                        box = Box.about(x, y, size.width / 2, size.height / 2).grown(0.2)
                        cost = 6 * (1 - squeeze) + 0.3 * rank + 0.4 * (angle != 0) + 0.25 * math.hypot(x - cx, y - cy)
                        if best and cost >= best[0]:
                            continue
                        if not room.free(box) or not _inside_hull(hull, box):
                            continue
                        cost += room.price(box, _INSIDE, owner)
                        if best is None or cost < best[0]:
                            best = cost, compose(form, x, y, angle, squeeze)
    return best[1] if best else None


def place_beside(
    room: Room, target: Box, hulls: Sequence[Box], choices: Sequence[Form], owner: str, *, nameless: bool = False
) -> Label:
    """The cheapest place around a box, with a leader when the label is not plainly its neighbour.

    ``hulls``: the outlines of all other parts. ``nameless``: the label does not say whose it is (a value alone), so it
    needs a leader as soon as anything else is near. When nothing is free the place that covers least is taken.
    """
    best: tuple[float, Label] | None = None
    for ring, gap in enumerate(_RINGS):
        if best and best[0] < gap * 0.9:
            break
        for squeeze in (1.0, 0.82):
            for rank, form in enumerate(choices):
                for angle in (0, -90):
                    size = compose(form, 0, 0, angle, squeeze).box
                    fixed = gap * 0.9 + 4 * (1 - squeeze) + 0.3 * rank + 0.8 * (angle != 0)
                    for x, y in _around(target, gap, size.width, size.height, 0.6 if ring < 4 else 1.27):
                        box = Box.about(x, y, size.width / 2, size.height / 2)
                        if best and fixed >= best[0]:
                            break
                        if not room.free(box.grown(0.2)):
                            continue
                        cost = fixed + room.price(box, _OUTSIDE, owner)
                        if best and cost >= best[0]:
                            continue
                        apart = gap < 1.0 and all(box.gap(h) > box.gap(target) + 0.7 for h in hulls)
                        if nameless and apart:
                            apart = room.blocked(box.grown(0.8), owner) == 0
                        leader = () if apart else _leader(box, target)
                        if best and cost + _least_leader_price(leader) >= best[0]:
                            continue
                        cost += _leader_price(room, leader, owner)
                        if best is None or cost < best[0]:
                            label = compose(form, x, y, angle, squeeze)
                            best = cost, Label(label.texts, label.box, leader)
    if best:
        return best[1]
    return _least_bad(room, target, choices[-1])


def _least_bad(room: Room, target: Box, form: Form) -> Label:
    """Where nothing is free: the place near the target that covers the fewest blocked things."""
    size = compose(form, 0, 0, 0, 0.75).box
    places = [p for gap in _RINGS[:8] for p in _around(target, gap, size.width, size.height, 1.27)]
    x, y = min(places, key=lambda p: room.blocked(Box.about(p[0], p[1], size.width / 2, size.height / 2)))
    return compose(form, x, y, 0, 0.75)


def _around(target: Box, gap: float, width: float, height: float, pitch: float) -> Iterator[Point]:
    """Centres of boxes of a size that stand ``gap`` off a target, all the way round."""
    x0, x1 = target.x0 - gap - width / 2, target.x1 + gap + width / 2
    y0, y1 = target.y0 - gap - height / 2, target.y1 + gap + height / 2
    for x in _spread(x0, x1, pitch):
        yield x, y0
        yield x, y1
    for y in _spread(y0, y1, pitch):
        yield x0, y
        yield x1, y


def _leader(box: Box, target: Box) -> tuple[Point, ...]:
    """The line from a label to its part."""
    inset = min(0.7, target.width * 0.3, target.height * 0.3)
    end = target.grown(-inset).nearest(*box.centre)
    start = box.grown(0.15).nearest(*end)
    return start, end


def _least_leader_price(leader: Sequence[Point]) -> float:
    """What a leader costs that covers nothing."""
    return 0.8 + 0.1 * math.dist(leader[0], leader[-1]) if leader else 0.0


def _leader_price(room: Room, leader: Sequence[Point], owner: str) -> float:
    if not leader:
        return 0.0
    price = _least_leader_price(leader)
    for piece in along(leader, 0.15):
        price += 4.0 * min(1, room.blocked(piece, owner)) + 0.3 * room.price(piece, {"body": 1.0, "jumper": 0.6}, owner)
    return price


def take(room: Room, label: Label, owner: str = "") -> Label:
    """Blocks the place of a label and of its leader, and returns it."""
    room.block(label.box.grown(0.1 if label.leader else 0.35), owner)
    if label.leader:
        room.block_line(label.leader, 0.1, owner)
        room.block(Box.about(*label.leader[-1], 0.3), owner)
    return label
