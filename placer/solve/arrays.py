"""Problem to the compiled search's arrays, and its states back to places."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from placer.packages.model import STEP_UM
from placer.solve import layout
from placer.solve.aims import ALIKE, ALL, ANY, FACE, POSE, SOLE, Wish
from placer.solve.layout import Floats
from placer.solve.problem import Ints, Problem
from placer.solve.shapes import Shape, Slant

# Steps: a part is shifted by at most so many at once, a group of parts, and a lead along a long strip from a partner.
SHIFT, GROUP_SHIFT, NEAR = 2, 3, 6

Places = tuple[tuple[int, int], ...]
"""For each item: (index into its shapes, hole of its first pin)."""


def _pairs(counts: Sequence[int]) -> Ints:
    n = np.array(counts, dtype=np.int64).reshape(-1)
    start = np.concatenate([[0], np.cumsum(n)])[: len(n)]
    return np.stack([start, n], axis=1).astype(np.int64) if len(n) else np.zeros((0, 2), np.int64)


def _ints(values: Sequence[object], *shape: int) -> Ints:
    return np.array(values, dtype=np.int64).reshape(shape) if shape else np.array(values, dtype=np.int64)


def _bits(flags: npt.NDArray[np.bool_]) -> Ints:
    """64 flags to a number: moves ask for them all over the table, which so stays close to the processor."""
    packed = np.packbits(flags.reshape(-1), bitorder="little")
    return np.pad(packed, (0, -len(packed) % 8)).view("<i8").astype(np.int64)


def _term(wish: Wish) -> int:
    if wish.force.binding:
        return layout.WISHES
    return layout.RAISED if wish.force.cost is not None else layout.LIKED


def covered(shape: Shape) -> tuple[tuple[int, int], ...]:
    """Offsets (steps) of the holes whose centre lies strictly inside the shape's boxes, its own pins left out."""
    return shape.hidden


def _fixed_point(slant: Slant) -> tuple[int, ...]:
    """A slanted rectangle as whole numbers: nm, and the unit vector times 1e9."""
    x, y, ux, uy, length, width = slant
    return (
        round(x * 1e3),
        round(y * 1e3),
        round(ux * 1e9),
        round(uy * 1e9),
        round(length * 1e3),
        round(width * 1e3),
    )


class Arrays:
    """The world of one problem, with the numbering of its shapes."""

    def __init__(self, problem: Problem, *, for_proof: bool = False, liked: bool = False) -> None:
        """``for_proof``: bodies off the axes, which boxes only cover from outside, are left out of overlap tests.

        ``liked``: what need not be kept is priced too, not only what counts like jumpers and cuts.
        """
        self.problem = problem
        wishes = [*problem.wishes, *(q for q in problem.preferred if liked or q.force.cost is not None)]
        self.n_wishes = len(wishes)
        p = problem
        classes: dict[int, int] = {}
        item_shape: list[tuple[int, int]] = []
        all_shapes: list[Shape] = []
        all_ways: list[Ints] = []
        for item, key in zip(p.items, p.like, strict=True):
            if key not in classes:
                classes[key] = len(all_shapes)
                all_shapes.extend(item.shapes)
                all_ways.extend(item.ways)
            item_shape.append((classes[key], len(item.shapes)))
        most = max(len(i.pins) for i in p.items)
        item_net = np.full((len(p.items), most), -1, np.int64)
        by_net: list[list[tuple[int, int]]] = [[] for _ in p.net_names]
        for i, item in enumerate(p.items):
            item_net[i, : len(item.pins)] = item.nets
            for k, n in enumerate(item.nets):
                by_net[n].append((i, k))
        joins: list[list[tuple[int, int, int, int]]] = [[] for _ in p.net_names]
        for join in p.joins:
            joins[p.items[join[0]].nets[join[1]]].append(join)
        valid = np.zeros((len(all_shapes), len(p.hx)), np.bool_)
        for s, way in enumerate(all_ways):
            valid[s, way] = True
        covers = [covered(s) for s in all_shapes]
        cov = [c for cs in covers for c in cs]
        off = [o for s in all_shapes for o in s.offsets]
        # As far as a pin, a covered hole or a shift of the search may lie outside the holes' rectangle.
        pad = max([SHIFT, *(abs(v) for o in (*off, *cov) for v in o)])
        grid = np.pad(p.cell, pad, constant_values=-1)
        width = grid.shape[1]
        bodies = [() if for_proof and s.diagonal else s.boxes for s in all_shapes]
        boxes = [b for own in bodies for b in own]
        slanted = sum(len(s.slants) for s in all_shapes)
        wish_pins = [pin for q in wishes for pin in (*q.a, *q.b)]
        a_n, b_n, start = [], [], 0
        for q in wishes:
            a_n.append((start, len(q.a)))
            b_n.append((start + len(q.a), len(q.b)))
            start += len(q.a) + len(q.b)
        of_item: list[list[int]] = [[] for _ in p.items]
        for q_no, q in enumerate(wishes):
            for i in q.items:
                of_item[i].append(q_no)
        pins = [len(i.pins) for i in p.items]
        many_ways = [sum(len(w) for w in i.ways) for i in p.items]
        strides = {
            layout.N_ITEMS: len(p.items),
            layout.N_HOLES: len(p.hx),
            layout.CELL_W: width,
            layout.CELL_H: grid.shape[0],
            layout.X0: p.x0 - pad,
            layout.Y0: p.y0 - pad,
            layout.SHIFT: SHIFT,
            layout.GROUP_SHIFT: GROUP_SHIFT,
            layout.NEAR: NEAR,
            layout.NET_W: most,
            layout.SEG_W: int(max(p.slen)) + 1,
            layout.JUNCTION: max(0, int(max(p.slen)) - 2),
            layout.SCRATCH_W: max(len(n) for n in by_net) + 1,
            layout.BANDS_X: (width * STEP_UM >> layout.BAND_SHIFT) + 1,
            layout.BANDS_Y: (grid.shape[0] * STEP_UM >> layout.BAND_SHIFT) + 1,
            layout.BAND_W: (len(p.items) >> layout.ITEM_SHIFT) + 1,
        }
        movable = [i for i, m in enumerate(many_ways) if m > 1]
        rigid = [i for i in movable if pins[i] > 2]
        strides[layout.N_MOVABLE], strides[layout.N_RIGID] = len(movable), len(rigid)
        tables = {
            layout.HX: p.hx,
            layout.HY: p.hy,
            layout.HSTRIP: p.hstrip.astype(np.int64),
            layout.SSTART: p.sstart,
            layout.SLEN: p.slen,
            layout.CUT_AT: p.cut_at.astype(np.int64),
            layout.CUT_BETWEEN: p.cut_between.astype(np.int64),
            layout.CELL: grid,
            layout.AT: (p.hy - p.y0 + pad) * width + p.hx - p.x0 + pad,
            layout.ITEM_SHAPE: _ints(item_shape, len(p.items), 2),
            layout.ITEM_PINS: _ints(pins),
            layout.ITEM_NET: item_net,
            layout.SHAPE_PIN: _pairs([len(s.offsets) for s in all_shapes])[:, 0].copy(),
            layout.OFF_X: _ints([o[0] for o in off]),
            layout.OFF_Y: _ints([o[1] for o in off]),
            layout.OFF: _ints([y * width + x for x, y in off]),
            layout.SHAPE_BOX: _pairs([len(own) for own in bodies]),
            layout.BOX: _ints(boxes, len(boxes), 4),
            layout.SHAPE_SLANT: _pairs([len(s.slants) for s in all_shapes]),
            layout.SLANT: _ints([_fixed_point(t) for s in all_shapes for t in s.slants], slanted, 6),
            layout.SHAPE_COVER: _pairs([len(c) for c in covers]),
            layout.COV_X: _ints([c[0] for c in cov]),
            layout.COV_Y: _ints([c[1] for c in cov]),
            layout.COV: _ints([y * width + x for x, y in cov]),
            layout.SHAPE_WAY: _pairs([len(w) for w in all_ways]),
            layout.WAY: np.concatenate(all_ways).astype(np.int64),
            layout.VALID: _bits(valid),
            layout.NET_PIN: _pairs([len(n) for n in by_net]),
            layout.PIN_ITEM: _ints([i for n in by_net for i, _ in n]),
            layout.PIN_K: _ints([k for n in by_net for _, k in n]),
            layout.NET_JOIN: _pairs([len(j) for j in joins]),
            layout.JOIN: _ints([j for js in joins for j in js], sum(map(len, joins)), 4),
            layout.WISH_KIND: _ints([q.kind for q in wishes]),
            layout.WISH_A: _ints(a_n, len(wishes), 2),
            layout.WISH_B: _ints(b_n, len(wishes), 2),
            layout.WISH_ITEM: _ints([i for i, _ in wish_pins]),
            layout.WISH_K: _ints([k for _, k in wish_pins]),
            layout.WISH_LIMIT: _ints([round(q.limit2 * 1e6) for q in wishes]),
            layout.WISH_FORCE: _ints([round(1000 * (q.force.cost or q.force.weight or 0.0)) for q in wishes]),
            layout.WISH_TERM: _ints([_term(q) for q in wishes]),
            layout.ITEM_WISH: _pairs([len(o) for o in of_item]),
            layout.WISH_OF: _ints([q for o in of_item for q in o]),
            layout.MOVABLE: _ints(movable),
            layout.RIGID: _ints(rigid),
        }
        self.item_shape = [start for start, _ in item_shape]
        tables |= self._masks(wishes, all_shapes)
        self.pin_counts = pins
        self.net_sizes = [len(n) for n in by_net]
        self.world, self.state_size, self.float_size = self._lay_out(strides, tables)
        self.n_items = len(p.items)

    def _masks(self, wishes: Sequence[Wish], shapes: Sequence[Shape]) -> dict[int, Ints]:
        """For each wish where its mask begins, by hole or by shape; the masks one after the other."""
        begin: list[int] = []
        masks: list[Ints] = [np.zeros(0, np.int64)]
        at = 0
        for q in wishes:
            begin.append(at)
            if q.kind in (ANY, ALL, SOLE):
                mask = np.zeros(len(self.problem.hx), np.int64)
                mask[list(q.holes)] = 1
            elif q.kind == POSE:
                mask = np.zeros(len(shapes), np.int64)
                mask[[self.item_shape[q.a[0][0]] + s for s in q.shapes]] = 1
            elif q.kind == ALIKE:
                mask = np.array([s.rotation // 90 for s in shapes], np.int64)
            elif q.kind == FACE:
                mask = self._fronts(q)
            else:
                continue
            masks.append(mask)
            at += len(mask)
        return {layout.WISH_MASK: _ints(begin), layout.MASK: np.concatenate(masks)}

    def _fronts(self, wish: Wish) -> Ints:
        """For each shape and hole of an item 0, or where from here on it is written how many holes to ask, and which.

        Where nothing may be, a hole counts as covered; none of those is asked.
        """
        item = self.problem.items[wish.a[0][0]]
        n_holes = len(self.problem.hx)
        table = [0] * (len(item.shapes) * n_holes)
        begin: dict[tuple[int, ...], int] = {}
        for shape, hole, front in wish.places:
            asked = tuple(h for h in front if not self.problem.barred[h])
            if asked not in begin:
                begin[asked] = len(table)
                table += [len(asked), *asked]
            table[n_holes * shape + hole] = begin[asked]
        return _ints(table)

    def _lay_out(self, strides: dict[int, int], tables: dict[int, Ints]) -> tuple[Ints, int, int]:
        """The flat world, and the sizes of the flat state and its floats."""
        p = self.problem
        world = np.zeros(layout.HEADER + sum(t.size for t in tables.values()), np.int64)
        for k, v in strides.items():
            world[k] = v
        at = layout.HEADER
        for k, table in tables.items():
            world[k] = at
            world[at : at + table.size] = table.ravel()
            at += table.size
        # Where each mask begins, in the world itself.
        world[world[layout.WISH_MASK] : world[layout.WISH_MASK] + self.n_wishes] += world[layout.MASK]
        n_items, n_holes, n_strips, n_nets = len(p.items), len(p.hx), len(p.slen), len(p.net_names)
        seg = strides[layout.SEG_W]
        sizes = [(k, n_items) for k in (layout.SHAPE, layout.ANCHOR, layout.PLACED)]
        sizes += [(k, n_holes) for k in (layout.OCC, layout.COVER)]
        sizes += [(k, n_strips) for k in (layout.SEG_N, layout.STRIP_CUTS, layout.STRIP_SHORTS)]
        sizes += [(k, n_strips) for k in (layout.MARK_STRIP, layout.LIST_STRIP, layout.SAVE_N)]
        sizes += [(k, n_strips * seg) for k in (layout.SEG_NET, layout.SEG_FREE, layout.SEG_LO, layout.SEG_HI)]
        sizes += [
            (k, n_nets) for k in (layout.NET_SEG, layout.NET_DRY, layout.NET_FREE, layout.MARK_NET, layout.LIST_NET)
        ]
        sizes += [
            (layout.BOUND, 4 * n_items),
            (layout.BAND_X, strides[layout.BANDS_X] * strides[layout.BAND_W]),
            (layout.BAND_Y, strides[layout.BANDS_Y] * strides[layout.BAND_W]),
            (layout.NET_XY, 4 * n_nets),
            (layout.WISH_COST, self.n_wishes),
            (layout.SAVE_SEG, 4 * n_strips * seg),
            (layout.SAVE_CS, 4 * n_strips),
            (layout.SCRATCH, 3 * strides[layout.SCRATCH_W]),
        ]
        move = layout.MOVED, layout.NEW_SHAPE, layout.NEW_ANCHOR, layout.OLD_SHAPE, layout.OLD_ANCHOR
        sizes += [(k, layout.MAX_MOVED) for k in move]
        at = layout.N_MOVED + 1
        for k, size in sizes:
            world[k] = at
            at += size
        first = 2 * layout.OLD_TOTALS
        world[layout.NET_COST], world[layout.SAVE_NET] = first, first + 4 * n_nets
        return world, at, first + 8 * n_nets

    def empty(self) -> tuple[Ints, Floats]:
        """A state with nothing placed."""
        state = np.zeros(self.state_size, np.int64)
        occ = self.world[layout.OCC]
        state[occ : occ + len(self.problem.hx)] = -1
        # Where no wire may end, a hole counts as covered.
        cover = self.world[layout.COVER]
        state[cover : cover + len(self.problem.hx)] = self.problem.barred
        return state, np.zeros(self.float_size)

    def places(self, shape: Ints, anchor: Ints) -> Places:
        """A state's shapes and anchors as places."""
        return tuple((int(s) - self.item_shape[i], int(a)) for i, (s, a) in enumerate(zip(shape, anchor, strict=True)))
