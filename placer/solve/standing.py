"""Parts on a board of long strips, as a constraint model: where each stands and how it lies.

Such a board is lines of equal length, each one strip: what matters is which line a pin is on and how far along it.
Bodies are rectangles in um.
"""

from __future__ import annotations

from collections.abc import Iterable

from ortools.sat.python import cp_model

from placer.packages.model import STEP_UM
from placer.solve.claims import Pin
from placer.solve.lines import Lines
from placer.solve.problem import Problem
from placer.solve.shapes import Shape

Var = cp_model.IntVar
Linear = cp_model.LinearExpr | cp_model.IntVar | int
Box = tuple[int, int, int, int]


class Standing:
    """Some parts on a board of lines, as a model: where each stands and how it lies, no two in each other's way.

    ``line`` and ``along``: the position of each pin. ``on_board``: every part stands where it may on this board; else
    anywhere within the board's size. ``half``: half a turn of everything changes nothing (None: as the parts tell).
    :meth:`close` ends the model, when all points are known.
    """

    def __init__(
        self, p: Problem, lines: Lines, items: Iterable[int], *, on_board: bool, half: bool | None = None
    ) -> None:
        self.p, self.lines = p, lines
        self.m = cp_model.CpModel()
        self.items = sorted(items)
        self.shape: dict[int, list[Var]] = {}
        self.line: dict[Pin, Linear] = {}
        self.along: dict[Pin, Linear] = {}
        self.bodies: list[tuple[cp_model.IntervalVar, cp_model.IntervalVar]] = []
        self.inner: list[tuple[cp_model.IntervalVar, cp_model.IntervalVar]] = []
        self.points: list[tuple[cp_model.IntervalVar, cp_model.IntervalVar]] = []
        self.at: dict[int, tuple[Var, Var]] = {}
        self.on_board = on_board
        self._half = all(_turns(p.items[i].shapes) for i in self.items) if half is None else half
        self._stage()
        for i in self.items:
            self._item(i)

    def close(self) -> None:
        """State that bodies keep off each other and off the points."""
        m = self.m
        if len(self.items) > 1:
            m.add_no_overlap_2d([b[0] for b in self.bodies], [b[1] for b in self.bodies])
            if self.points:
                both = self.inner + self.points
                m.add_no_overlap_2d([b[0] for b in both], [b[1] for b in both])

    def _stage(self) -> None:
        """Positions as seen from the largest part, where nothing ties parts to the board itself.

        The board is then a window that may lie anywhere round it, and half a turn of everything changes nothing.
        """
        m, lines = self.m, self.lines
        self.anchor = max(self.items, key=lambda i: (len(self.p.items[i].pins), -i))
        self.free = not self.on_board and not lines.whole
        self.low = (1 - lines.count, 1 - lines.holes) if self.free else (0, 0)
        self.high = (lines.count - 1, lines.holes - 1)
        self.window: tuple[Linear, Linear] = (0, 0)
        if self.free:
            self.window = (m.new_int_var(self.low[0], 0, ""), m.new_int_var(self.low[1], 0, ""))

    def within(self, at: Linear, way: int) -> None:
        """The position lies on the board."""
        if self.free:
            self.m.add(at >= self.window[way])
            self.m.add(at <= self.window[way] + self.high[way])

    def _item(self, i: int) -> None:
        m, item, axis = self.m, self.p.items[i], self.lines.axis
        line = m.new_int_var(self.low[0], self.high[0], "")
        along = m.new_int_var(self.low[1], self.high[1], "")
        self.at[i] = (line, along)
        lits = [m.new_bool_var("") for _ in item.shapes]
        m.add_exactly_one(lits)
        self.shape[i] = lits
        if self.free and i == self.anchor:
            m.add(line == 0)
            m.add(along == 0)
            if self._half:
                for shape, lit in zip(item.shapes, lits, strict=True):
                    if shape.rotation >= 180:
                        m.add(lit == 0)
        for k in range(len(item.pins)):
            d_line = [s.offsets[k][axis] for s in item.shapes]
            d_along = [s.offsets[k][1 - axis] for s in item.shapes]
            self.line[i, k] = self._plus(line, d_line, lits, 0)
            self.along[i, k] = self._plus(along, d_along, lits, 1)
        if self.on_board:
            self._ways(i, line, along)
        # A body off the axes is left out: boxes only cover it from outside.
        solid = all(s.boxes and not s.slants for s in item.shapes)
        tiles = [_tiles(s.boxes) if solid else [] for s in item.shapes]
        for t in range(max(map(len, tiles))):
            having = [no for no, some in enumerate(tiles) if t < len(some)]
            boxes = [some[t] if t < len(some) else tiles[having[0]][t] for some in tiles]
            there: Var | None = None
            if len(having) < len(tiles):
                there = m.new_bool_var("")
                m.add(sum(lits[no] for no in having) == there)
            for shrink, kept in ((0, self.bodies), (1, self.inner)):
                if all(b[2] - b[0] > 2 * shrink and b[3] - b[1] > 2 * shrink for b in boxes):
                    kept.append(
                        (
                            self._interval(line, [(b[axis], b[2 + axis]) for b in boxes], lits, shrink, there),
                            self._interval(along, [(b[1 - axis], b[3 - axis]) for b in boxes], lits, shrink, there),
                        )
                    )
        for k in range(len(item.pins)):
            # A pin inside its own body is kept clear by that body.
            bare = [lit for s, lit in zip(item.shapes, lits, strict=True) if not _inside(s.boxes, s.offsets[k])]
            there = None
            if 0 < len(bare) < len(lits):
                there = m.new_bool_var("")
                m.add(sum(bare) == there)
            if bare:
                self.point(self.line[i, k], self.along[i, k], there)

    def _plus(self, start: Var, steps: list[int], lits: list[Var], way: int) -> Linear:
        """A pin's position: within the board, whatever the shape."""
        at = start
        if any(steps):
            at = self.m.new_int_var(self.low[way], self.high[way], "")
            self.m.add(at == start + sum(d * lit for d, lit in zip(steps, lits, strict=True) if d))
        self.within(at, way)
        return at

    def _interval(
        self, start: Var, spans: list[tuple[int, int]], lits: list[Var], shrink: int, there: Var | None
    ) -> cp_model.IntervalVar:
        """The extent of a piece of a body in one direction, um; ``there``: whether the part has this piece."""
        m = self.m
        lows, highs = [a + shrink for a, _ in spans], [b - shrink for _, b in spans]
        sizes = [b - a for a, b in zip(lows, highs, strict=True)]
        low: Linear = start * STEP_UM + lows[0]
        size: Linear = sizes[0]
        high: Linear = start * STEP_UM + highs[0]
        top = max(self.lines.count, self.lines.holes) * STEP_UM
        if len(set(lows)) > 1:
            low = m.new_int_var(min(lows) - top, top + max(lows), "")
            m.add(low == start * STEP_UM + sum(v * lit for v, lit in zip(lows, lits, strict=True)))
        if len(set(highs)) > 1:
            high = m.new_int_var(min(highs) - top, top + max(highs), "")
            m.add(high == start * STEP_UM + sum(v * lit for v, lit in zip(highs, lits, strict=True)))
        if len(set(sizes)) > 1:
            size = m.new_int_var_from_domain(cp_model.Domain.from_values(sizes), "")
            m.add(size == sum(v * lit for v, lit in zip(sizes, lits, strict=True)))
        if there is None:
            return m.new_interval_var(low, size, high, "")
        return m.new_optional_interval_var(low, size, high, there, "")

    def point(self, line: Linear, along: Linear, there: Var | None = None) -> None:
        """A hole that no body may hide and no two points share; ``there``: a literal for whether it counts at all.

        As 2 um across, it meets a body shrunk by 1 um just where its centre is inside the body.
        """
        m = self.m
        one, two = (
            m.new_fixed_size_interval_var(at * STEP_UM - 1, 2, "")
            if there is None
            else m.new_optional_fixed_size_interval_var(at * STEP_UM - 1, 2, there, "")
            for at in (line, along)
        )
        self.points.append((one, two))

    def _ways(self, i: int, line: Var, along: Var) -> None:
        """The part where it may stand on the board."""
        m, p, axis = self.m, self.p, self.lines.axis
        for lit, way in zip(self.shape[i], p.items[i].ways, strict=True):
            rows = (p.hy[way] - p.y0 if axis else p.hx[way] - p.x0).tolist()
            cols = (p.hx[way] - p.x0 if axis else p.hy[way] - p.y0).tolist()
            by_row: dict[int, list[int]] = {}
            for r, c in zip(rows, cols, strict=True):
                by_row.setdefault(r, []).append(c)
            m.add_linear_expression_in_domain(line, cp_model.Domain.from_values(list(by_row))).only_enforce_if(lit)
            same = {tuple(sorted(c)) for c in by_row.values()}
            if len(same) == 1:
                domain = cp_model.Domain.from_values(list(same.pop()))
                m.add_linear_expression_in_domain(along, domain).only_enforce_if(lit)
            else:
                m.add_allowed_assignments([line, along], list(zip(rows, cols, strict=True))).only_enforce_if(lit)

    def places(self, solver: cp_model.CpSolver) -> dict[int, tuple[int, int, int]]:
        """Item -> (shape, line, position along it) of the answer."""
        return {
            i: (
                next(no for no, lit in enumerate(self.shape[i]) if solver.boolean_value(lit)),
                solver.value(self.at[i][0]),
                solver.value(self.at[i][1]),
            )
            for i in self.items
        }


def _inside(boxes: tuple[Box, ...], offset: tuple[int, int]) -> bool:
    """The pin lies inside its own body: then a body over it, or a wire end in its hole, meets that body."""
    x, y = offset[0] * STEP_UM, offset[1] * STEP_UM
    return any(x0 < x < x1 and y0 < y < y1 for x0, y0, x1, y1 in boxes)


def _turns(shapes: tuple[Shape, ...]) -> bool:
    """Half a turn of a shape is a shape again."""

    def key(shape: Shape, sign: int) -> tuple[object, ...]:
        boxes = [(x0, y0, x1, y1) if sign > 0 else (-x1, -y1, -x0, -y0) for x0, y0, x1, y1 in shape.boxes]
        return tuple((sign * x, sign * y) for x, y in shape.offsets), frozenset(boxes), bool(shape.slants)

    have = {(key(s, 1), s.rotation % 360 >= 180) for s in shapes}
    return all((key(s, -1), s.rotation % 360 < 180) in have for s in shapes) or len(shapes[0].offsets) == 1


def _tiles(boxes: tuple[Box, ...]) -> list[Box]:
    """The same body as boxes that do not overlap."""
    found: list[Box] = []
    for box in boxes:
        rest = [box]
        for tile in found:
            rest = [part for one in rest for part in _minus(one, tile)]
        found += rest
    return found


def _minus(a: Box, b: Box) -> list[Box]:
    """What is left of a rectangle when another is taken from it, as rectangles."""
    x0, y0, x1, y1 = max(a[0], b[0]), max(a[1], b[1]), min(a[2], b[2]), min(a[3], b[3])
    if x0 >= x1 or y0 >= y1:
        return [a]
    parts = [(a[0], a[1], x0, a[3]), (x1, a[1], a[2], a[3]), (x0, a[1], x1, y0), (x0, y1, x1, a[3])]
    return [p for p in parts if p[0] < p[2] and p[1] < p[3]]
