"""Random wishes of every kind for a circuit: binding ones, ones that need not be kept, and habits."""

from __future__ import annotations

import random
from dataclasses import replace

from placer.boards.model import Board
from placer.circuit.model import (
    BINDING,
    HABITS,
    SIDES,
    Apart,
    AwayWish,
    Circuit,
    Force,
    NearWish,
    Net,
    Owned,
    Part,
    PinRef,
    Place,
    Preference,
    Region,
    Shared,
    Short,
    Together,
    Wishes,
)

KINDS = ("together", "keepout", "rails", "short", "apart")


def wishful(dice: random.Random, board: Board, circuit: Circuit, *, mild: float = 0.4, roomy: int = 1) -> Circuit:
    """The circuit with some wishes of the circuit as a whole, a share of them ``mild``, and with preferences.

    ``roomy``: how many times as wide squares are as on the smallest boards.
    """
    shared: list[Shared] = []
    for kind in dice.sample(KINDS, dice.choice((1, 1, 2, 2, 3))):
        wish = shared_wish(dice, board, circuit, kind, _force(dice) if dice.random() < mild else BINDING, roomy)
        taken = {one.strip for one in shared if isinstance(one, Owned)}
        if wish is not None and not (isinstance(wish, Owned) and wish.strip in taken):
            shared.append(wish)
    parts = tuple(
        replace(part, place=replace(part.place, prefer=(preference(dice, board, circuit, part),)))
        if dice.random() < mild
        else part
        for part in circuit.parts
    )
    nets = tuple(with_role(dice, net) for net in circuit.nets)
    habits: dict[str, Force | None] = {
        name: dice.choice((None, _force(dice))) for name in HABITS if dice.random() < 0.3
    }
    return replace(circuit, parts=parts, nets=nets, wishes=Wishes(tuple(shared), habits))


def with_role(dice: random.Random, net: Net) -> Net:
    """A net that may be a supply or ground."""
    return replace(net, role=dice.choice(("signal", "signal", "supply", "ground")))


def _force(dice: random.Random) -> Force:
    if dice.random() < 0.3:
        return Force(cost=dice.choice((0.5, 1.0, 2.0)))
    return Force(weight=dice.choice((1.0, 2.0, 0.5)))


def shared_wish(
    dice: random.Random, board: Board, circuit: Circuit, kind: str, force: Force, roomy: int = 1
) -> Shared | None:
    """A wish of one kind; None where the circuit has too little for it."""
    refs = [part.ref for part in circuit.parts]
    names = [net.name for net in circuit.nets]
    if kind == "together":
        some = dice.sample(refs, min(len(refs), dice.choice((2, 2, 3))))
        return Together(tuple(some), float(roomy * dice.choice((1, 2, 3, 4, 6))), force)
    if kind == "keepout":
        one = board.holes[dice.choice(sorted(board.holes))]
        near = [h.address for h in board.holes.values() if abs(h.x - one.x) < 3 and abs(h.y - one.y) < 2]
        return Region(one.address, dice.choice(near))
    if not names:
        return None
    if kind == "rails":
        long = max(len(strip.holes) for strip in board.strips)
        able = [s.name for s in board.strips if s.rail or len(s.holes) == long]
        if long == 1:
            return None  # a lone pad is hardly worth owning
        return Owned(dice.choice(names), dice.choice(able), force)
    if kind == "short":
        return Short(dice.choice(names), roomy * dice.choice((2.54, 5.08, 6.0, 10.16)), force)
    if len(names) < 2:
        return None
    one_net, other = dice.sample(names, 2)
    return Apart((one_net, other), dice.choice((3.0, 5.08, 7.0, 10.16)), force)


def preference(dice: random.Random, board: Board, circuit: Circuit, part: Part) -> Preference:
    """A few wishes of one part that need not be kept."""
    pins = circuit.package_of(part.ref).pins
    others = [other.ref for other in circuit.parts if other.ref != part.ref]
    place = Place()
    for kind in dice.sample(("at", "edge", "rotation", "mount", "near", "away", "side"), dice.choice((1, 1, 2))):
        if kind == "at":
            place = replace(place, at={dice.choice(pins): dice.choice(sorted(board.holes))})
        elif kind == "edge":
            place = replace(place, edge=dice.choice((*SIDES, "any")))
        elif kind == "rotation":
            place = replace(place, rotation=dice.choice((0, 90, 180, 270)))
        elif kind == "mount":
            place = replace(place, mount=dice.choice(("flat", "standing")))
        elif kind == "side":
            place = replace(place, side=dice.choice(SIDES))
        elif others and kind == "near":
            other = dice.choice(others)
            pin = PinRef(other, dice.choice(circuit.package_of(other).pins))
            place = replace(place, near=(NearWish(pin, dice.choice((1.0, 2.0, 3.0))),))
        elif others:
            place = replace(place, away=(AwayWish(dice.choice(others), dice.choice((5.0, 7.62, 12.0))),))
    if place == Place():
        place = Place(edge="any")
    return Preference(place, _force(dice))
