"""Problem to the compiled search's arrays, and its states back to places."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from placer.packages.model import STEP_UM
from placer.solve import kernel
from placer.solve.kernel import Floats
from placer.solve.problem import Ints, Problem
from placer.solve.shapes import Shape

Places = tuple[tuple[int, int], ...]
"""For each item: (index into its shapes, hole of its first pin)."""


def _pairs(counts: Sequence[int]) -> Ints:
    n = np.array(counts, dtype=np.int64).reshape(-1)
    start = np.concatenate([[0], np.cumsum(n)])[: len(n)]
    return np.stack([start, n], axis=1).astype(np.int64) if len(n) else np.zeros((0, 2), np.int64)


def _ints(values: Sequence[object], *shape: int) -> Ints:
    return np.array(values, dtype=np.int64).reshape(shape) if shape else np.array(values, dtype=np.int64)


def covered(shape: Shape) -> list[tuple[int, int]]:
    """Offsets (steps) of the holes whose centre lies strictly inside the shape's boxes, its own pins left out."""
    found = set()
    for x0, y0, x1, y1 in shape.boxes:
        for x in range(x0 // STEP_UM, x1 // STEP_UM + 2):
            for y in range(y0 // STEP_UM, y1 // STEP_UM + 2):
                if shape.covers(x * STEP_UM, y * STEP_UM):
                    found.add((x, y))
    return sorted(found - set(shape.offsets))


class Arrays:
    """The world of one problem, with the numbering of its shapes."""

    def __init__(self, problem: Problem, *, for_proof: bool = False) -> None:
        """``for_proof``: bodies off the axes, which boxes only cover from outside, are left out of overlap tests."""
        self.problem = problem
        p = problem
        classes: dict[tuple[object, ...], int] = {}
        item_shape: list[tuple[int, int]] = []
        all_shapes: list[Shape] = []
        all_ways: list[Ints] = []
        for item in p.items:
            key = (item.shapes, tuple(w.tobytes() for w in item.ways))
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
        valid = np.zeros((len(all_shapes), len(p.hx)), np.int64)
        for s, way in enumerate(all_ways):
            valid[s, way] = 1
        covers = [covered(s) for s in all_shapes]
        cov = [c for cs in covers for c in cs]
        off = [o for s in all_shapes for o in s.offsets]
        bodies = [() if for_proof and s.diagonal else s.boxes for s in all_shapes]
        boxes = [b for own in bodies for b in own]
        wish_items = [i for q in p.wishes for i in (*q.a, *q.b)]
        a_n, b_n, start = [], [], 0
        for q in p.wishes:
            a_n.append((start, len(q.a)))
            b_n.append((start + len(q.a), len(q.b)))
            start += len(q.a) + len(q.b)
        of_item: list[list[int]] = [[] for _ in p.items]
        for q_no, q in enumerate(p.wishes):
            for i in sorted({*q.a, *q.b}):
                of_item[i].append(q_no)
        pins = [len(i.pins) for i in p.items]
        many_ways = [sum(len(w) for w in i.ways) for i in p.items]
        strides = {
            kernel.N_ITEMS: len(p.items),
            kernel.N_HOLES: len(p.hx),
            kernel.CELL_W: p.cell.shape[1],
            kernel.CELL_H: p.cell.shape[0],
            kernel.X0: p.x0,
            kernel.Y0: p.y0,
            kernel.NET_W: most,
            kernel.SEG_W: int(max(p.slen)) + 1,
            kernel.JUNCTION: max(0, int(np.median(p.slen)) - 2) if len(p.slen) > 2 else 0,
            kernel.SCRATCH_W: max(len(n) for n in by_net) + 1,
        }
        movable = [i for i, m in enumerate(many_ways) if m > 1]
        rigid = [i for i in movable if pins[i] > 2]
        strides[kernel.N_MOVABLE], strides[kernel.N_RIGID] = len(movable), len(rigid)
        tables = {
            kernel.HX: p.hx,
            kernel.HY: p.hy,
            kernel.HSTRIP: p.hstrip.astype(np.int64),
            kernel.SSTART: p.sstart,
            kernel.SLEN: p.slen,
            kernel.CUT_AT: p.cut_at.astype(np.int64),
            kernel.CUT_BETWEEN: p.cut_between.astype(np.int64),
            kernel.CELL: p.cell,
            kernel.ITEM_SHAPE: _ints(item_shape, len(p.items), 2),
            kernel.ITEM_PINS: _ints(pins),
            kernel.ITEM_NET: item_net,
            kernel.SHAPE_PIN: _pairs([len(s.offsets) for s in all_shapes])[:, 0].copy(),
            kernel.OFF_X: _ints([o[0] for o in off]),
            kernel.OFF_Y: _ints([o[1] for o in off]),
            kernel.SHAPE_BOX: _pairs([len(own) for own in bodies]),
            kernel.BOX: _ints(boxes, len(boxes), 4),
            kernel.SHAPE_COVER: _pairs([len(c) for c in covers]),
            kernel.COV_X: _ints([c[0] for c in cov]),
            kernel.COV_Y: _ints([c[1] for c in cov]),
            kernel.SHAPE_WAY: _pairs([len(w) for w in all_ways]),
            kernel.WAY: np.concatenate(all_ways).astype(np.int64),
            kernel.VALID: valid,
            kernel.NET_PIN: _pairs([len(n) for n in by_net]),
            kernel.PIN_ITEM: _ints([i for n in by_net for i, _ in n]),
            kernel.PIN_K: _ints([k for n in by_net for _, k in n]),
            kernel.NET_JOIN: _pairs([len(j) for j in joins]),
            kernel.JOIN: _ints([j for js in joins for j in js], sum(map(len, joins)), 4),
            kernel.WISH_KIND: _ints([q.kind for q in p.wishes]),
            kernel.WISH_A: _ints(a_n, len(p.wishes), 2),
            kernel.WISH_B: _ints(b_n, len(p.wishes), 2),
            kernel.WISH_ITEM: _ints(wish_items),
            kernel.WISH_PIN: _ints([q.b_pin for q in p.wishes]),
            kernel.WISH_LIMIT: _ints([round(q.limit2 * 1e6) for q in p.wishes]),
            kernel.ITEM_WISH: _pairs([len(o) for o in of_item]),
            kernel.WISH_OF: _ints([q for o in of_item for q in o]),
            kernel.EDGE: p.edges.astype(np.int64),
            kernel.MOVABLE: _ints(movable),
            kernel.RIGID: _ints(rigid),
        }
        self.item_shape = [start for start, _ in item_shape]
        self.pin_counts = pins
        self.net_sizes = [len(n) for n in by_net]
        self.world, self.state_size, self.float_size = self._lay_out(strides, tables)
        self.n_items = len(p.items)

    def _lay_out(self, strides: dict[int, int], tables: dict[int, Ints]) -> tuple[Ints, int, int]:
        """The flat world, and the sizes of the flat state and its floats."""
        p = self.problem
        world = np.zeros(kernel.HEADER + sum(t.size for t in tables.values()), np.int64)
        for k, v in strides.items():
            world[k] = v
        at = kernel.HEADER
        for k, table in tables.items():
            world[k] = at
            world[at : at + table.size] = table.ravel()
            at += table.size
        n_items, n_holes, n_strips, n_nets = len(p.items), len(p.hx), len(p.slen), len(p.net_names)
        seg = strides[kernel.SEG_W]
        sizes = [(k, n_items) for k in (kernel.SHAPE, kernel.ANCHOR, kernel.PLACED)]
        sizes += [(k, n_holes) for k in (kernel.OCC, kernel.COVER)]
        sizes += [(k, n_strips) for k in (kernel.SEG_N, kernel.STRIP_CUTS, kernel.STRIP_SHORTS)]
        sizes += [(k, n_strips) for k in (kernel.MARK_STRIP, kernel.LIST_STRIP, kernel.SAVE_N)]
        sizes += [(k, n_strips * seg) for k in (kernel.SEG_NET, kernel.SEG_FREE, kernel.SEG_LO, kernel.SEG_HI)]
        sizes += [
            (k, n_nets) for k in (kernel.NET_SEG, kernel.NET_DRY, kernel.NET_FREE, kernel.MARK_NET, kernel.LIST_NET)
        ]
        sizes += [
            (kernel.BOUND, 4 * n_items),
            (kernel.NET_XY, 4 * n_nets),
            (kernel.WISH_COST, len(p.wishes)),
            (kernel.SAVE_SEG, 4 * n_strips * seg),
            (kernel.SAVE_CS, 2 * n_strips),
            (kernel.SCRATCH, 3 * strides[kernel.SCRATCH_W]),
        ]
        at = 3
        for k, size in sizes:
            world[k] = at
            at += size
        world[kernel.NET_COST], world[kernel.SAVE_NET] = 8, 8 + 4 * n_nets
        return world, at, 8 + 8 * n_nets

    def empty(self) -> tuple[Ints, Floats]:
        """A state with nothing placed."""
        state = np.zeros(self.state_size, np.int64)
        occ = self.world[kernel.OCC]
        state[occ : occ + len(self.problem.hx)] = -1
        return state, np.zeros(self.float_size)

    def places(self, shape: Ints, anchor: Ints) -> Places:
        """A state's shapes and anchors as places."""
        return tuple((int(s) - self.item_shape[i], int(a)) for i, (s, a) in enumerate(zip(shape, anchor, strict=True)))
