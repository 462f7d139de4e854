"""The problem as plain numbers: what the compiled search and the models read.

Holes are numbered strip by strip, each strip's holes in the order of its copper. Every connected pin belongs to its
net; an open pin (or an open group of pins joined inside a part) is a net of its own. A part with flying leads is split:
each of its pins is an item of its own.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from placer.boards.model import Board, CutRule
from placer.circuit.model import Apart, Circuit, Owned, Part, PinRef, Region, Shared, Together
from placer.errors import Diagnostic, PlacerError
from placer.packages.model import STEP_UM, Flying
from placer.plan.model import Options
from placer.plan.wanted import Wanted, wanted
from placer.solve.aims import Wish, binding, preferred, strip_named, suits
from placer.solve.connectors import board_in_use, place_in
from placer.solve.shapes import Shape, meets_box, shapes
from placer.solve.walled import reached_from_outside, unwalled, walled_in

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
EDGE_SIDES = ("top", "bottom", "left", "right", "any")


@dataclass(frozen=True)
class Item:
    """What moves as one: a part, or one flying lead of a part. ``nets``: net number of each pin, in shape order."""

    ref: str
    pins: tuple[str, ...]
    nets: tuple[int, ...]
    shapes: tuple[Shape, ...]
    ways: tuple[Ints, ...]  # per shape: the holes that pin 0 may take, all wishes on this part alone kept

    @property
    def rigid(self) -> bool:
        """True for a part of three or more pins."""
        return len(self.pins) > 2


@dataclass(frozen=True)
class Problem:
    """Circuit and board as numbers.

    ``joins``: pairs of (item, pin, item, pin) that a part connects inside. ``like``: for each item a number that it
    shares with the items of the same shapes and ways. ``wishes``, ``wanted``: see :mod:`placer.solve.aims`.
    """

    circuit: Circuit
    board: Board
    options: Options
    addresses: tuple[str, ...]
    hx: Ints
    hy: Ints
    hstrip: Ints
    sstart: Ints
    slen: Ints
    cut_at: npt.NDArray[np.bool_]
    cut_between: npt.NDArray[np.bool_]
    cell: Ints  # [y - y0, x - x0] -> hole or -1
    x0: int
    y0: int
    items: tuple[Item, ...]
    net_names: tuple[str, ...]
    n_named: int  # nets 0..n_named-1 are the circuit's own; the rest stand for open pins
    joins: tuple[tuple[int, int, int, int], ...]
    wishes: tuple[Wish, ...]  # binding, and about more than one part's own places
    wanted: tuple[Wanted, ...]  # not binding
    preferred: tuple[Wish, ...]  # the same as numbers
    barred: Bools  # holes in which neither a lead nor a wire end may be
    owner: Ints  # of each strip: the one net whose leads may stand on it, by a wish, or -1
    like: tuple[int, ...]

    def hole(self, x: int, y: int) -> int:
        """The hole at a grid position, or -1."""
        gy, gx = y - self.y0, x - self.x0
        if 0 <= gy < self.cell.shape[0] and 0 <= gx < self.cell.shape[1]:
            return int(self.cell[gy, gx])
        return -1

    def pins_and_joins(self) -> tuple[list[int], list[int]]:
        """For each net: how many pins it has, and how many joins parts make for it inside."""
        pins, joins = [0] * len(self.net_names), [0] * len(self.net_names)
        for item in self.items:
            for n in item.nets:
                pins[n] += 1
        for i, k, _, _ in self.joins:
            joins[self.items[i].nets[k]] += 1
        return pins, joins

    def severable(self, strip: int) -> bool:
        """True when this strip may be cut under the options."""
        return bool(self.cut_at[strip] or self.cut_between[strip])


def build(circuit: Circuit, board: Board, options: Options, named: Board | None = None) -> Problem:
    """Turn a circuit and a board into numbers. ``named``: the board whose strips wishes mean, where it is another one.

    Raises PlacerError (BAD_INPUT) naming the part or wish when a part can go nowhere on the empty board.
    """
    named = named or board
    bare, board = board, board_in_use(circuit, board)
    addresses = tuple(a for s in board.strips for a in s.holes)
    hole_no = {a: i for i, a in enumerate(addresses)}
    hx = np.array([board.holes[a].x for a in addresses], dtype=np.int64)
    hy = np.array([board.holes[a].y for a in addresses], dtype=np.int64)
    slen = np.array([len(s.holes) for s in board.strips], dtype=np.int64)
    sstart = np.concatenate([[0], np.cumsum(slen)[:-1]]).astype(np.int64)
    hstrip = np.repeat(np.arange(len(board.strips)), slen)
    rules = [s.cut if options.allow_cuts and s.is_path else CutRule() for s in board.strips]
    x0, y0 = int(hx.min()), int(hy.min())
    cell = np.full((int(hy.max()) - y0 + 1, int(hx.max()) - x0 + 1), -1, dtype=np.int64)
    cell[hy - y0, hx - x0] = np.arange(len(addresses))

    net_no, net_names, n_named = _number_nets(circuit)
    room = _Room(circuit, board, addresses, hole_no, hx, hy, hstrip, cell, x0, y0)
    kept_out = room.barred.copy()
    room.barred |= np.array([a not in bare.holes for a in addresses])  # a port's pads are for its part alone
    owner = _owners(circuit, named, hole_no, hstrip, len(board.strips))
    foreign = {n: (owner >= 0) & (owner != n) for n in set(net_no.values())} if (owner >= 0).any() else {}
    pins_of = Counter(net_no.values())
    whole = np.array([not (r.at_hole or r.between) for r in rules])[hstrip]
    tied = any(not isinstance(wish, Region | Owned) and wish.force.binding for wish in circuit.wishes.shared)
    known: dict[tuple[object, ...], list[tuple[Shape, Ints]]] = {}
    items: list[Item] = []
    where: dict[PinRef, tuple[int, int]] = {}
    for part in circuit.parts:
        package = circuit.packages[part.package]
        pins = package.pins
        nets = tuple(net_no[PinRef(part.ref, p)] for p in pins)
        groups: list[tuple[tuple[str, ...], tuple[Shape, ...]]]
        if isinstance(package.form, Flying):
            groups = [((p,), (Shape(((0, 0),), (), "flat", 0),)) for p in pins]
        else:
            slanted = part.place.diagonal if part.place.diagonal is not None else options.diagonals
            groups = [(pins, shapes(package, diagonals=slanted))]
        if part.place.port is not None:
            groups = [(pins, (place_in(part, pins, board)[0],))]
        for own, forms in groups:
            own_nets = tuple(nets[pins.index(p)] for p in own)
            # Parts of one package whose nets meet in the same way have the same places, as long as they wish for none.
            inside = {p for group in package.joined for p in group}
            joined = [p in inside for p in own]
            outside = reached_from_outside(own_nets, joined, pins_of)
            same = tuple(own_nets.index(n) for n in own_nets)
            kind = (part.package, len(own), same, outside, *_mine(own_nets, owner))
            plain = part.place.free and not tied
            kept = known.get(kind) if plain else None
            if kept is None:
                lead_um = round(package.lead_mm * 1000) + round(package.spread_mm * 1000)
                if part.place.port is not None:
                    ways = [np.array([hole_no[place_in(part, pins, board)[1]]], dtype=np.int64)]
                else:
                    forms = tuple(shape for shape in forms if suits(circuit, part.ref, own_nets, shape.offsets))
                    shut = [foreign[n][hstrip] if foreign else room.barred for n in own_nets]
                    ways = [room.ways(part, own, shape, lead_um, shut) for shape in forms]
                apart = [room.apart(shape, own_nets, way, whole) for shape, way in zip(forms, ways, strict=True)]
                if any(len(w) for w in apart):  # else other checks tell better what is wrong
                    ways = apart
                if any(len(w) for w in ways) and not named.bridges:
                    grid = hx - x0, hy - y0, cell
                    reached = (
                        unwalled(shape, way, outside, joined, grid, hstrip, kept_out).any()
                        for shape, way in zip(forms, ways, strict=True)
                    )
                    if not any(reached):
                        meant = [(p, net_names[n]) for p, n, out in zip(own, own_nets, outside, strict=True) if out]
                        raise PlacerError(walled_in(part, meant, board.name))
                kept = [(s, w) for s, w in zip(forms, ways, strict=True) if len(w)]
                if not kept:
                    raise PlacerError(_nowhere(part, board, own if len(own) < len(pins) else (), circuit))
                if plain:
                    known[kind] = kept
            for k, p in enumerate(own):
                where[PinRef(part.ref, p)] = (len(items), k)
            items.append(Item(part.ref, own, own_nets, tuple(s for s, _ in kept), tuple(w for _, w in kept)))
    joins = []
    for part in circuit.parts:
        for group in circuit.packages[part.package].joined:
            for first, second in itertools.pairwise(group):
                joins.append((*where[PinRef(part.ref, first)], *where[PinRef(part.ref, second)]))
    aimed = wanted(circuit, named, habits=options.habits)
    return Problem(
        circuit=circuit,
        board=bare,
        options=options,
        addresses=addresses,
        hx=hx,
        hy=hy,
        hstrip=hstrip,
        sstart=sstart,
        slen=slen,
        cut_at=np.array([r.at_hole for r in rules]),
        cut_between=np.array([r.between for r in rules]),
        cell=cell,
        x0=x0,
        y0=y0,
        items=tuple(items),
        net_names=net_names,
        n_named=n_named,
        joins=tuple(joins),
        wishes=binding(circuit, named, where, hole_no),
        wanted=aimed,
        preferred=preferred(aimed, items, net_names, where, hole_no),
        barred=kept_out,
        owner=owner,
        like=_alike(items),
    )


def _owners(circuit: Circuit, board: Board, hole_no: dict[str, int], hstrip: Ints, n_strips: int) -> Ints:
    """For each strip the net that owns it by a binding wish, or -1."""
    owner = np.full(n_strips, -1, dtype=np.int64)
    names = [net.name for net in circuit.nets]
    for wish in circuit.wishes.shared:
        if isinstance(wish, Owned) and wish.force.binding and wish.net in names:
            owner[hstrip[[hole_no[a] for a in strip_named(board, wish)]]] = names.index(wish.net)
    return owner


def _mine(nets: Sequence[int], owner: Ints) -> tuple[int, ...]:
    """Of some nets those that own strips, -1 for the others: what tells apart where their leads may stand."""
    own = set(owner.tolist())
    return tuple(n if n in own else -1 for n in nets)


def _alike(items: Sequence[Item]) -> tuple[int, ...]:
    """The number of each item's class: the same shapes and the same ways."""
    known: dict[tuple[object, ...], int] = {}
    return tuple(known.setdefault((item.shapes, *(w.tobytes() for w in item.ways)), len(known)) for item in items)


def _number_nets(circuit: Circuit) -> tuple[dict[PinRef, int], tuple[str, ...], int]:
    """Net number of every pin of every part; pins joined inside a part share one."""
    names = [net.name for net in circuit.nets]
    number = {name: i for i, name in enumerate(names)}
    given = {pin: number[name] for pin, name in circuit.net_of.items()}
    net_no: dict[PinRef, int] = {}
    for part in circuit.parts:
        package = circuit.packages[part.package]
        groups = [tuple(g) for g in package.joined]
        grouped = {p for g in groups for p in g}
        groups += [(p,) for p in package.pins if p not in grouped]
        for group in groups:
            refs = [PinRef(part.ref, p) for p in group]
            known = [given[r] for r in refs if r in given]
            if not known:
                known = [len(names)]
                names.append(f"open {refs[0]}")
            for ref in refs:
                net_no[ref] = given.get(ref, known[0])
    return net_no, tuple(names), len(circuit.nets)


class _Room:
    """Where a shape may stand on the empty board, its own wishes kept."""

    def __init__(
        self,
        circuit: Circuit,
        board: Board,
        addresses: Sequence[str],
        hole_no: dict[str, int],
        hx: Ints,
        hy: Ints,
        strip: Ints,
        cell: Ints,
        x0: int,
        y0: int,
    ) -> None:
        self.board, self.strip = board, strip
        self.forms = {name: package.form for name, package in circuit.packages.items()}
        self.addresses = addresses
        self.hole_no = hole_no
        self.hx, self.hy, self.cell, self.x0, self.y0 = hx, hy, cell, x0, y0
        self.diameter = np.array([round(board.holes[a].diameter_mm * 1000) for a in addresses])
        first = board.holes[addresses[0]]
        # The grid's origin measured from the outline's corner, um.
        self.off_x = round(first.x_mm * 1000) - first.x * STEP_UM
        self.off_y = round(first.y_mm * 1000) - first.y * STEP_UM
        self.edges = {s: self._mask(board.edge_holes(s)) for s in EDGE_SIDES}
        mid_x, mid_y = (int(hx.min()) + int(hx.max())) / 2, (int(hy.min()) + int(hy.max())) / 2
        self.sides = {"left": hx <= mid_x, "right": hx >= mid_x, "top": hy <= mid_y, "bottom": hy >= mid_y}
        self.barred = np.zeros(len(addresses), dtype=bool)
        # Areas without bodies, leads and wire ends: left, top, right, bottom, um from the outline's corner.
        self.shut = [tuple(float(round(v * 1000)) for v in (k.x0, k.y0, k.x1, k.y1)) for k in board.keepouts]
        self.shut += [self._region(r) for r in circuit.wishes.shared if isinstance(r, Region)]
        xs, ys = hx * STEP_UM + self.off_x, hy * STEP_UM + self.off_y
        for left, top, right, bottom in self.shut:
            self.barred |= (xs > left) & (xs < right) & (ys > top) & (ys < bottom)

    def _region(self, wish: Region) -> tuple[float, ...]:
        """The cells of the holes of a keep-out that is wished for."""
        for address in (wish.start, wish.end):
            if address not in self.hole_no:
                message = f"wish {wish.words} names hole {address}, which board {self.board.name} does not have"
                raise PlacerError(Diagnostic("wish-unknown-hole", message, "look at the board: placer board NAME"))
        corners = [self.hole_no[address] for address in (wish.start, wish.end)]
        x0, x1 = sorted(int(self.hx[h]) * STEP_UM + self.off_x for h in corners)
        y0, y1 = sorted(int(self.hy[h]) * STEP_UM + self.off_y for h in corners)
        half = STEP_UM / 2
        return x0 - half, y0 - half, x1 + half, y1 + half

    def _mask(self, names: frozenset[str]) -> npt.NDArray[np.bool_]:
        mask = np.zeros(len(self.addresses), dtype=bool)
        mask[[self.hole_no[a] for a in names]] = True
        return mask

    def apart(self, shape: Shape, nets: tuple[int, ...], way: Ints, whole: npt.NDArray[np.bool_]) -> Ints:
        """Those places at which no two of a part's own nets meet on a strip. ``whole``: holes of strips not cut."""
        good = np.ones(len(way), dtype=bool)
        at = [self.cell[self.hy[way] + dy - self.y0, self.hx[way] + dx - self.x0] for dx, dy in shape.offsets]
        for (a, one), (b, other) in itertools.combinations(zip(nets, at, strict=True), 2):
            if a != b:
                good &= (self.strip[one] != self.strip[other]) | ~whole[one]
        return way[good]

    def ways(self, part: Part, pins: tuple[str, ...], shape: Shape, lead_um: int, shut: Sequence[Bools]) -> Ints:
        """Holes of the shape's first pin at which the shape may stand. ``shut``: holes that each pin may not take."""
        place = part.place
        none = np.empty(0, dtype=np.int64)
        if place.rotation is not None and shape.rotation != place.rotation and len(pins) > 1:
            return none
        if place.mount in ("flat", "standing") and shape.mount != place.mount:
            return none
        n = len(self.addresses)
        ok = np.ones(n, dtype=bool)
        at_edge = np.zeros(n, dtype=bool)
        height, width = self.cell.shape
        for pin, closed, (dx, dy) in zip(pins, shut, shape.offsets, strict=True):
            gx, gy = self.hx + dx - self.x0, self.hy + dy - self.y0
            inside = (gx >= 0) & (gx < width) & (gy >= 0) & (gy < height)
            hole = np.where(inside, self.cell[np.clip(gy, 0, height - 1), np.clip(gx, 0, width - 1)], -1)
            ok &= hole >= 0
            safe = np.maximum(hole, 0)
            ok &= (self.diameter[safe] >= lead_um) & ~self.barred[safe] & ~closed[safe]
            if pin in place.at:
                ok &= safe == self.hole_no.get(place.at[pin], -1)
            if place.side:
                ok &= self.sides[place.side][safe]
            if place.edge:
                at_edge |= self.edges[place.edge][safe]
        flying = isinstance(self.forms[part.package], Flying)
        if place.edge and not flying:  # of flying leads one is enough, see EDGE
            ok &= at_edge
        xs, ys = self.hx * STEP_UM + self.off_x, self.hy * STEP_UM + self.off_y
        out_w, out_h = (round(v * 1000) for v in self.board.outline_mm)
        corners = shape.corners()
        if corners and not place.edge:
            left, right = min(c[0] for c in corners), max(c[0] for c in corners)
            top, bottom = min(c[1] for c in corners), max(c[1] for c in corners)
            ok &= (xs + left >= 0) & (ys + top >= 0) & (xs + right <= out_w) & (ys + bottom <= out_h)
        reach = max((abs(v) for corner in corners for v in corner), default=0)
        for keep in self.shut if corners else ():
            x0, y0, x1, y1 = keep
            near = ok & (xs > x0 - reach) & (xs < x1 + reach) & (ys > y0 - reach) & (ys < y1 + reach)
            for h in np.flatnonzero(near).tolist():
                if meets_box(shape, (x0, y0, x1, y1), int(xs[h]), int(ys[h])):
                    ok[h] = False
        return np.flatnonzero(ok).astype(np.int64)


def _nowhere(part: Part, board: Board, lead: tuple[str, ...], circuit: Circuit) -> Diagnostic:
    name = f"{part.ref}{'.' + lead[0] if lead else ''}"
    wishes = []
    place = part.place
    if place.at:
        wishes.append("at: {" + ", ".join(f"{p}: {h}" for p, h in place.at.items()) + "}")
    words = ("edge", "rotation", "mount", "side")
    wishes += [f"{word}: {getattr(place, word)}" for word in words if getattr(place, word) is not None]
    wishes += [wish.words for wish in circuit.wishes.shared if _stands_in_the_way(wish, part, circuit)]
    if wishes:
        kept = "its wish" if len(wishes) == 1 else "all of"
        return Diagnostic(
            "wish-cannot-be-kept",
            f"{name} ({part.package}) has no place on board {board.name} that keeps {kept} {'; '.join(wishes)}",
            "Relax or drop the wish, or choose another board.",
        )
    return Diagnostic(
        "part-fits-nowhere",
        f"{name} ({part.package}) fits nowhere on board {board.name}, even when the board is empty",
        "Choose a board with holes where the part needs them, or another package.",
    )


def _stands_in_the_way(wish: Shared, part: Part, circuit: Circuit) -> bool:
    """False for a wish of the circuit that says nothing of where this part by itself may be."""
    if isinstance(wish, Region):
        return True
    nets = {net.name for net in circuit.nets if any(pin.part == part.ref for pin in net.pins)}
    if isinstance(wish, Together):
        concerned = part.ref in wish.parts
    elif isinstance(wish, Apart):
        concerned = nets >= set(wish.nets)
    else:
        concerned = isinstance(wish, Owned) or wish.net in nets
    return concerned and wish.force.binding


def steps_between(problem: Problem, a: int, b: int) -> float:
    """Straight-line distance between two holes, in steps."""
    return math.hypot(problem.hx[a] - problem.hx[b], problem.hy[a] - problem.hy[b])
