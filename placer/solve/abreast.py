"""Parts beside each other along the strips: in what order they stand, and how many holes of a line they take.

A shape *keeps order* when there is a point along the strips (the middle of its body) that lies, on each line with pins
of it, in the stretch from its first to its last pin there, its body on that line included, and when no hole within that
stretch is free for another part. Such stretches of two parts on one line do not overlap: a lead stands in no other
part's stretch, and bodies do not meet. So if any pin of one comes before a pin of the other on some strip, its point
lies before the other's. One order, that of the points, then holds on all strips at once.
"""

from __future__ import annotations

from collections import Counter

from placer.packages.model import STEP_UM
from placer.solve.arrays import covered
from placer.solve.shapes import Box, Shape


def keeps_order(shape: Shape, along: int) -> bool:
    """The shape keeps order. ``along``: 0 where strips run in x, 1 in y."""
    return len({o[along] for o in shape.offsets}) == 1 or _body(shape, along) is not None


def middle(shape: Shape, along: int) -> float:
    """Its point, um along the strips from the first pin; where it does not keep order, the middle of its pins."""
    columns = [o[along] * STEP_UM for o in shape.offsets]
    body = _body(shape, along) if len(set(columns)) > 1 else None
    return (min(columns) + max(columns)) / 2 if body is None else (body[along] + body[2 + along]) / 2


def central(shape: Shape, along: int) -> list[Box]:
    """The boxes of its body that its point is in: those of two parts on one level stand as their points do."""
    centre = middle(shape, along)
    return [] if shape.slants else [box for box in shape.boxes if box[along] < centre < box[2 + along]]


def _body(shape: Shape, along: int) -> Box | None:
    """The box of a body that closes all its lines."""
    if shape.slants:
        return None
    lines: dict[int, list[int]] = {}
    for o in shape.offsets:
        lines.setdefault(o[1 - along], []).append(o[along])
    closing = (box for box in shape.boxes if all(_closed(line, pins, box, along) for line, pins in lines.items()))
    return next(closing, None)


def _closed(line: int, pins: list[int], box: Box, along: int) -> bool:
    """The stretch of a line has the middle of the body in it, and no hole that another part could use."""
    low, high = min(pins) * STEP_UM, max(pins) * STEP_UM
    first, last = box[along], box[2 + along]
    crossed = box[1 - along] < line * STEP_UM < box[3 - along]
    if crossed:
        low, high = min(low, first), max(high, last)
    for hole in range(low // STEP_UM + 1, -(-high // STEP_UM)):
        if hole not in pins and not (crossed and first < hole * STEP_UM < last):
            return False
    return 2 * low <= first + last <= 2 * high


def holes_taken(shape: Shape, along: int, *, overhangs: bool) -> Counter[int]:
    """Line, counted from that of the first pin -> how many of its holes the shape takes, by pins or by its body.

    ``overhangs``: the body may reach beyond the board; then, as off the axes, only pins are counted.
    """
    cells = set(shape.offsets)
    if not overhangs and not shape.slants:
        for x0, y0, x1, y1 in shape.boxes:
            columns = range(x0 // STEP_UM + 1, -(-x1 // STEP_UM))
            cells.update((x, y) for y in range(y0 // STEP_UM + 1, -(-y1 // STEP_UM)) for x in columns)
    return Counter(cell[1 - along] - shape.offsets[0][1 - along] for cell in cells)


Beside = tuple[int, int] | None
"""The nearest pin of its own line on one side of a hole, and how many columns away it is; None where there is none."""


def spare_holes(shape: Shape, along: int) -> list[tuple[Beside, Beside]]:
    """Holes within the reach of a shape on a line with pins of it that are free: what is before each, and after it.

    Its reach there is from its first pin to its last, the bodies included that its point is in.
    """
    hidden = set(covered(shape))
    lines: dict[int, list[tuple[int, int]]] = {}
    for k, o in enumerate(shape.offsets):
        lines.setdefault(o[1 - along], []).append((o[along], k))
    found: list[tuple[Beside, Beside]] = []
    for line, pins in lines.items():
        reach = [at * STEP_UM for at, _ in pins]
        for box in central(shape, along):
            if box[1 - along] < line * STEP_UM < box[3 - along]:
                reach += [box[along], box[2 + along]]
        for at in range(min(reach) // STEP_UM + 1, -(-max(reach) // STEP_UM)):
            if all(at != column for column, _ in pins) and ((line, at) if along else (at, line)) not in hidden:
                before = max((pin for pin in pins if pin[0] < at), default=None)
                after = min((pin for pin in pins if pin[0] > at), default=None)
                found.append((before and (before[1], at - before[0]), after and (after[1], after[0] - at)))
    return found
