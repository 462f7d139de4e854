"""Wishes as numbers: those that tie several pins together, and those that need not be kept."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from placer.boards.model import Board
from placer.circuit.model import BINDING, Apart, Circuit, Force, Owned, PinRef, Region, Short, Together
from placer.errors import Diagnostic, PlacerError
from placer.packages.model import Flying
from placer.plan.model import Tally
from placer.plan.wanted import Aim, Alike, Compact, Facing, Far, Near, Posed, Sole, Wanted, Within, leads_of, pins_of

if TYPE_CHECKING:
    from placer.solve.problem import Item, Problem

Pin = tuple[int, int]
"""(item, pin index)."""
Where = Mapping[PinRef, Pin]
Mask = npt.NDArray[np.bool_]

NEAR, AWAY, ANY, ALL, BOX, SOLE, POSE, ALIKE, FACE = range(9)
TINY = 1e-6
STEP_MM = 2.54


@dataclass(frozen=True)
class Wish:
    """A wish about pins ``a`` and ``b``. Distances are squared, in steps.

    NEAR: some pin of ``a`` is within the limit of some of ``b``. AWAY: each of ``a`` is that far from each of ``b``.
    ANY, ALL: some pin, every pin of ``a`` is in a hole of ``holes``. BOX: all of ``a`` lie in a square, ``limit2`` is
    the square of its side. SOLE: some pin of ``a`` is in ``holes`` and none of ``b``. POSE: the item of ``a`` has one
    of the shapes of ``shapes``. ALIKE: the items of ``a`` have the same rotation. FACE: the item of ``a`` is at one of
    ``places``, and no lead or body of the items of ``b`` at the holes that are told of it.
    ``force``: how much it binds; ``nets``: their wire ends count for AWAY too.
    """

    kind: int
    a: tuple[Pin, ...]
    b: tuple[Pin, ...] = ()
    limit2: float = 0.0
    holes: tuple[int, ...] = ()
    shapes: tuple[int, ...] = ()  # of the one item: indices
    force: Force = BINDING
    nets: tuple[int, int] | None = None
    places: tuple[tuple[int, int, tuple[int, ...]], ...] = ()  # shape, hole of the first pin, holes in front

    @property
    def items(self) -> tuple[int, ...]:
        """Every item that it is about."""
        return tuple(sorted({i for i, _ in (*self.a, *self.b)}))


def binding(circuit: Circuit, board: Board, where: Where, hole_no: Mapping[str, int]) -> tuple[Wish, ...]:
    """The binding wishes that no part can keep by itself. ``board``: the one whose strips the wishes name.

    Raises PlacerError where a wish names a strip that the board does not have.
    """

    def pins(refs: Sequence[PinRef]) -> tuple[Pin, ...]:
        return tuple(where[ref] for ref in refs)

    found = []
    for part in circuit.parts:
        own = pins(pins_of(circuit, part.ref))
        if part.place.edge and isinstance(circuit.package_of(part.ref).form, Flying):
            holes = tuple(sorted(hole_no[a] for a in board.edge_holes(part.place.edge)))
            found.append(Wish(ANY, own, holes=holes))
        found += [Wish(NEAR, own, (where[near.pin],), near.steps**2 + TINY) for near in part.place.near]
        found += [
            Wish(AWAY, own, pins(pins_of(circuit, away.ref)), (away.mm / STEP_MM) ** 2 - TINY)
            for away in part.place.away
        ]
    leads = leads_of(circuit)
    names = [net.name for net in circuit.nets]
    for wish in circuit.wishes.shared:
        if isinstance(wish, Together) and wish.force.binding:
            together = [pin for ref in wish.parts for pin in pins_of(circuit, ref)]
            found.append(Wish(BOX, pins(together), limit2=wish.steps**2 + TINY))
        elif isinstance(wish, Short) and wish.force.binding:
            found.append(Wish(BOX, pins(leads[wish.net]), limit2=(wish.mm / STEP_MM) ** 2 + TINY))
        elif isinstance(wish, Owned) and wish.force.binding:
            holes = tuple(hole_no[a] for a in strip_named(board, wish))
            found.append(Wish(ANY, pins(leads[wish.net]), holes=holes))
        elif isinstance(wish, Apart) and wish.force.binding:
            one, other = (names.index(net) for net in wish.nets)
            limit2 = (wish.mm / STEP_MM) ** 2 - TINY
            found.append(Wish(AWAY, pins(leads[wish.nets[0]]), pins(leads[wish.nets[1]]), limit2, nets=(one, other)))
    return tuple(found)


def suits(circuit: Circuit, ref: str, nets: Sequence[int], offsets: Sequence[tuple[int, int]]) -> bool:
    """False where a part with its pins like this breaks a binding wish of the circuit by itself.

    ``nets``: number of each pin's net, the circuit's own in their order.
    """
    names = dict(enumerate(net.name for net in circuit.nets))
    pins = [(names.get(n, ""), offset) for n, offset in zip(nets, offsets, strict=True)]
    for wish in circuit.wishes.shared:
        if isinstance(wish, Region | Owned) or not wish.force.binding:
            continue
        for (net, a), (other, b) in itertools.combinations(pins, 2):
            across = max(abs(a[0] - b[0]), abs(a[1] - b[1]))
            if isinstance(wish, Together):
                good = ref not in wish.parts or across <= wish.steps + TINY
            elif isinstance(wish, Short):
                good = not net == other == wish.net or across * STEP_MM <= wish.mm + TINY
            else:
                good = {net, other} != set(wish.nets) or math.dist(a, b) * STEP_MM >= wish.mm - TINY
            if not good:
                return False
    return True


def strip_named(board: Board, wish: Owned) -> tuple[str, ...]:
    """The holes of the strip that a wish names. Raises PlacerError where there is none."""
    for strip in board.strips:
        if strip.name == wish.strip:
            return strip.holes
    raise PlacerError(
        Diagnostic(
            "wish-unknown-strip",
            f"wish {wish.words} names strip {wish.strip}, which board {board.name} does not have",
            "list the strips with: placer board NAME --json",
        )
    )


def preferred(
    wishes: Sequence[Wanted], items: Sequence[Item], names: Sequence[str], where: Where, hole_no: Mapping[str, int]
) -> tuple[Wish, ...]:
    """What need not be kept, each in its place of ``wishes``."""
    return tuple(_wish(wish.aim, wish.force, items, names, where, hole_no) for wish in wishes)


def _wish(
    aim: Aim, force: Force, items: Sequence[Item], names: Sequence[str], where: Where, hole_no: Mapping[str, int]
) -> Wish:
    def pins(refs: Sequence[PinRef]) -> tuple[Pin, ...]:
        return tuple(where[ref] for ref in refs)

    def holes(addresses: frozenset[str]) -> tuple[int, ...]:
        return tuple(sorted(hole_no[a] for a in addresses if a in hole_no))

    if isinstance(aim, Within):
        return Wish(ALL if aim.each else ANY, pins(aim.pins), holes=holes(aim.holes), force=force)
    if isinstance(aim, Near):
        return Wish(NEAR, pins(aim.pins), pins(aim.others), aim.steps**2 + TINY, force=force)
    if isinstance(aim, Far):
        nets = None if aim.nets is None else (names.index(aim.nets[0]), names.index(aim.nets[1]))
        return Wish(AWAY, pins(aim.pins), pins(aim.others), aim.steps**2 - TINY, force=force, nets=nets)
    if isinstance(aim, Compact):
        return Wish(BOX, pins(aim.pins), limit2=aim.steps**2 + TINY, force=force)
    if isinstance(aim, Sole):
        own = set(pins(aim.pins))
        others = tuple((i, k) for i, item in enumerate(items) for k in range(len(item.pins)) if (i, k) not in own)
        return Wish(SOLE, pins(aim.pins), others, holes=holes(aim.holes), force=force)
    if isinstance(aim, Alike):
        first = {item.ref: i for i, item in reversed(list(enumerate(items)))}
        return Wish(ALIKE, tuple((first[ref], 0) for ref in aim.refs), force=force)
    if isinstance(aim, Facing):
        return _faced(aim, force, items, hole_no)
    return _posed(aim, force, items)


def _posed(aim: Posed, force: Force, items: Sequence[Item]) -> Wish:
    i = next(i for i, item in enumerate(items) if item.ref == aim.ref)
    shapes = tuple(
        s
        for s, shape in enumerate(items[i].shapes)
        if aim.rotation in (None, shape.rotation) and aim.mount in (None, shape.mount)
    )
    return Wish(POSE, ((i, 0),), shapes=shapes, force=force)


def _faced(aim: Facing, force: Force, items: Sequence[Item], hole_no: Mapping[str, int]) -> Wish:
    i = next(i for i, item in enumerate(items) if item.ref == aim.ref)
    places = tuple(
        (s, hole_no[address], tuple(sorted(hole_no[a] for a in front)))
        for s, shape in enumerate(items[i].shapes)
        for address, front in aim.places.get(shape.rotation, {}).items()
    )
    others = tuple((j, 0) for j in range(len(items)) if j != i) if any(front for _, _, front in places) else ()
    return Wish(FACE, ((i, 0),), others, force=force, places=places)


def tallies(p: Problem, places: Sequence[tuple[int, int]], wires: Sequence[tuple[int, int, int]]) -> tuple[Tally, ...]:
    """How far each wish that need not be kept is kept. ``wires``: (net, hole, hole)."""
    found = []
    for wanted, wish in zip(p.wanted, p.preferred, strict=True):
        force = wanted.force
        kept = wanted.of - missed(p, wish, places, wires)
        found.append(Tally(wanted.name, kept, wanted.of, force.weight, force.cost, wanted.habit))
    return tuple(found)


def missed(p: Problem, wish: Wish, places: Sequence[tuple[int, int]], wires: Sequence[tuple[int, int, int]]) -> int:
    """How many times a wish is broken."""
    if wish.kind == ALIKE:
        turned = Counter(p.items[i].shapes[places[i][0]].rotation for i, _ in wish.a)
        return len(wish.a) - max(turned.values())
    if wish.kind == POSE:
        return int(places[wish.a[0][0]][0] not in wish.shapes)
    if wish.kind == FACE:
        front = next((front for *place, front in wish.places if tuple(place) == places[wish.a[0][0]]), None)
        return int(front is None or not _taken(p, [j for j, _ in wish.b], places).isdisjoint(front))
    a, b = list(_holes(p, wish.a, places)), list(_holes(p, wish.b, places))
    if wish.kind in (ANY, ALL, SOLE):
        holes = set(wish.holes)
        if wish.kind == ALL:
            return int(not holes.issuperset(a))
        return int(holes.isdisjoint(a) or not holes.isdisjoint(b))
    if wish.kind == BOX:
        side = max((int(np.ptp(v[a])) for v in (p.hx, p.hy)), default=0)
        return int(side * side > wish.limit2)
    if wish.nets is not None:
        a += [h for n, *ends in wires for h in ends if n == wish.nets[0]]
        b += [h for n, *ends in wires for h in ends if n == wish.nets[1]]
    least = min((square(p, h, g) for h in a for g in b), default=math.inf)
    return int(least > wish.limit2) if wish.kind == NEAR else int(least < wish.limit2)


def _holes(p: Problem, pins: Sequence[Pin], places: Sequence[tuple[int, int]]) -> Iterator[int]:
    for i, k in pins:
        shape, anchor = places[i]
        dx, dy = p.items[i].shapes[shape].offsets[k]
        yield p.hole(int(p.hx[anchor]) + dx, int(p.hy[anchor]) + dy)


def _taken(p: Problem, items: Sequence[int], places: Sequence[tuple[int, int]]) -> set[int]:
    """The holes that leads of some items stand in, and those under their bodies."""
    found = set()
    for i in items:
        shape, anchor = p.items[i].shapes[places[i][0]], places[i][1]
        x, y = int(p.hx[anchor]), int(p.hy[anchor])
        found |= {p.hole(x + dx, y + dy) for dx, dy in (*shape.offsets, *shape.hidden)}
    return found


def square(p: Problem, h: int, g: int) -> int:
    """The square of the distance between two holes, in steps."""
    return int((p.hx[h] - p.hx[g]) ** 2 + (p.hy[h] - p.hy[g]) ** 2)
