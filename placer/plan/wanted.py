"""What need not be, but is wished for: the preferences of a circuit and the habits of builders, as data.

Only what is wanted stands here, pins and holes by name. Whether a plan keeps it the search and the judge work out, each
for itself. Distances and choices of the habits are trade rules of thumb (common practice, no source):

``rails``: a supply or ground net of three pins or more has a lead on a rail, as far as there are rails; and no lead of
a supply or ground stands on a rail marked with the other sign. The latter has half the force, so that no net leaves the
rails for a sign's sake.
``decoupling``: a capacitor between supply and ground, or a positive and a negative supply, other than a can, has its
supply lead within 4 steps of a supply pin of an IC; each IC gets one as far as they go, then each further supply pin;
what is left is free.
``edges``: connectors and controls have a pin at an edge; those with openings for wires stand along one, and nothing
stands in front of the openings.
``crystals``: a crystal's pin stands within 4 steps of the IC pin of its net.
``alike``: ICs point the same way.

Which nets are supplies and grounds their roles tell, else their names: :func:`placer.circuit.rails.role_of`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from placer.boards.model import Board
from placer.circuit.model import (
    HABITS,
    SIDES,
    Circuit,
    Force,
    Owned,
    Part,
    PinRef,
    Place,
    Region,
    Short,
    Together,
)
from placer.circuit.rails import rail_volts, role_of, roles_of, sign_of
from placer.packages.model import Flying
from placer.plan.conductors import group_of_pins
from placer.plan.openings import Openings, Places, has_openings

STEP_MM = 2.54
NEAR_STEPS = 4.0
LEAST_RAIL_PINS = 3
USUAL = Force(weight=1.0)
SIGN_SHARE = 0.5  # of the force of the habit
OTHER_SIGN = {"+": "-", "-": "+"}
ICS = ("dip",)
OUTWARD = ("terminal", "header", "button", "trimmer", "flying")
"""Shapes of packages that wires or fingers must reach: connectors and controls."""


@dataclass(frozen=True)
class Within:
    """One of the pins, or each of them, stands in one of the holes."""

    pins: tuple[PinRef, ...]
    holes: frozenset[str]
    each: bool = False


@dataclass(frozen=True)
class Near:
    """One of the pins stands within so many steps of one of the others (straight line)."""

    pins: tuple[PinRef, ...]
    others: tuple[PinRef, ...]
    steps: float


@dataclass(frozen=True)
class Far:
    """Each of the pins stands at least so many steps from each of the others; ``nets``: so do their wire ends."""

    pins: tuple[PinRef, ...]
    others: tuple[PinRef, ...]
    steps: float
    nets: tuple[str, str] | None = None


@dataclass(frozen=True)
class Compact:
    """All pins stand in a square of so many steps."""

    pins: tuple[PinRef, ...]
    steps: float


@dataclass(frozen=True)
class Sole:
    """One of the pins stands in one of the holes, and no other lead at all."""

    pins: tuple[PinRef, ...]
    holes: frozenset[str]


@dataclass(frozen=True)
class Posed:
    """The part is turned by so many degrees, or mounted so; None: however."""

    ref: str
    rotation: int | None = None
    mount: str | None = None


@dataclass(frozen=True)
class Alike:
    """The parts are turned by the same angle; each that is not turned as most are counts by itself."""

    refs: tuple[str, ...]


@dataclass(frozen=True)
class Facing:
    """The part is turned and stands as ``places`` has it, and no other part on the holes in front, nor over them."""

    ref: str
    places: Places


Aim = Within | Near | Far | Compact | Sole | Posed | Alike | Facing


@dataclass(frozen=True)
class Wanted:
    """Something that is wished for but not binding. ``name``: in the user's words; ``habit``: "" for the user's own."""

    name: str
    aim: Aim
    force: Force
    habit: str = ""

    @property
    def of(self) -> int:
        """How many times it may be kept or broken."""
        return len(self.aim.refs) if isinstance(self.aim, Alike) else 1


def wanted(circuit: Circuit, board: Board, *, habits: bool) -> tuple[Wanted, ...]:
    """Everything that is wished for on this board, the user's own first; ``habits``: those of builders too.

    What names a hole or a strip that the board does not have can be kept by no plan.
    """
    found = [*_preferences(circuit, board), *_shared(circuit, board)]
    if habits:
        found += _habits(circuit, board)
    return tuple(found)


def pins_of(circuit: Circuit, ref: str) -> tuple[PinRef, ...]:
    """Every pin of a part."""
    return tuple(PinRef(ref, pin) for pin in circuit.package_of(ref).pins)


def leads_of(circuit: Circuit) -> dict[str, tuple[PinRef, ...]]:
    """The leads that carry each net: its pins, and those that metal inside their parts joins to them."""
    mates = group_of_pins(circuit)
    return {net.name: tuple(dict.fromkeys(m for pin in net.pins for m in mates[pin])) for net in circuit.nets}


# --- the user's own --------------------------------------------------------------------------------------------------


def _preferences(circuit: Circuit, board: Board) -> Iterator[Wanted]:
    for part in circuit.parts:
        for entry in part.place.prefer:
            for words, aim in _aims(circuit, board, part, entry.place):
                yield Wanted(f"{part.ref} {words}", aim, entry.force)


def _aims(circuit: Circuit, board: Board, part: Part, place: Place) -> Iterator[tuple[str, Aim]]:
    """Each field of a place as a wish of its own."""
    pins = pins_of(circuit, part.ref)
    for pin, hole in place.at.items():
        yield f"at: {{{pin}: {hole}}}", Within((PinRef(part.ref, pin),), frozenset((hole,)))
    if place.edge is not None:
        yield f"edge: {place.edge}", Within(pins, board.edge_holes(place.edge))
    if place.rotation is not None and not isinstance(circuit.package_of(part.ref).form, Flying):
        yield f"rotation: {place.rotation}", Posed(part.ref, rotation=place.rotation)
    if place.mount is not None:
        yield f"mount: {place.mount}", Posed(part.ref, mount=place.mount)
    for near in place.near:
        yield f"near: [{{pin: {near.pin}, steps: {near.steps:g}}}]", Near(pins, (near.pin,), near.steps)
    for away in place.away:
        others = pins_of(circuit, away.ref)
        yield f"away: [{{part: {away.ref}, mm: {away.mm:g}}}]", Far(pins, others, away.mm / STEP_MM)
    if place.side is not None:
        yield f"side: {place.side}", Within(pins, half(board, place.side), each=True)


def half(board: Board, side: str) -> frozenset[str]:
    """The holes of one half of the holes' bounding box; the middle line belongs to both."""
    across = side in SIDES[2:]
    along = {hole.address: hole.x if across else hole.y for hole in board.holes.values()}
    twice = min(along.values()) + max(along.values())
    sign = -1 if side in ("right", "bottom") else 1
    return frozenset(address for address, value in along.items() if sign * (2 * value - twice) <= 0)


def _shared(circuit: Circuit, board: Board) -> Iterator[Wanted]:
    leads = leads_of(circuit)
    strips = {strip.name: frozenset(strip.holes) for strip in board.strips}
    for wish in circuit.wishes.shared:
        if isinstance(wish, Region) or wish.force.binding:
            continue
        aim: Aim
        if isinstance(wish, Together):
            aim = Compact(tuple(pin for ref in wish.parts for pin in pins_of(circuit, ref)), wish.steps)
        elif isinstance(wish, Owned):
            aim = Sole(leads[wish.net], strips.get(wish.strip, frozenset()))
        elif isinstance(wish, Short):
            aim = Compact(leads[wish.net], wish.mm / STEP_MM)
        else:
            one, other = wish.nets
            aim = Far(leads[one], leads[other], wish.mm / STEP_MM, wish.nets)
        yield Wanted(wish.words, aim, wish.force)


# --- the habits of builders ------------------------------------------------------------------------------------------


def _habits(circuit: Circuit, board: Board) -> Iterator[Wanted]:
    makers = {
        "rails": _on_rails(circuit, board),
        "decoupling": _decoupling(circuit),
        "edges": _at_edges(circuit, board),
        "crystals": _by_their_pins(circuit),
        "alike": _turned_alike(circuit),
    }
    for habit in HABITS:
        force = circuit.wishes.habits.get(habit, USUAL)
        if force is not None:
            for name, aim in makers[habit]:
                yield Wanted(name, aim, force, habit)
            if habit == "rails":
                for name, aim in _by_signs(circuit, board):
                    yield Wanted(name, aim, _share(force, SIGN_SHARE), habit)


def _share(force: Force, share: float) -> Force:
    return Force(*(None if figure is None else figure * share for figure in (force.weight, force.cost)))


def _settled(part: Part) -> bool:
    """True when a binding wish says already where the part is."""
    return bool(part.place.at or part.place.edge or part.place.fixed)


def _on_rails(circuit: Circuit, board: Board) -> Iterator[tuple[str, Aim]]:
    rails = [strip for strip in board.strips if strip.rail]
    holes = frozenset(hole for strip in rails for hole in strip.holes)
    fed = [net for net in circuit.nets if role_of(net) != "signal" and len(net.pins) >= LEAST_RAIL_PINS]
    leads = leads_of(circuit)
    for net in sorted(fed, key=lambda net: -len(net.pins))[: len(rails)]:
        yield f"{net.name} on a rail", Within(leads[net.name], holes)


def _by_signs(circuit: Circuit, board: Board) -> Iterator[tuple[str, Aim]]:
    """Nothing of a net on rails of the other sign, which a beginner would wire as they are marked."""
    leads = leads_of(circuit)
    owned = {(wish.net, wish.strip) for wish in circuit.wishes.shared if isinstance(wish, Owned)}
    for net in circuit.nets:
        sign = OTHER_SIGN.get(sign_of(net), "")
        wrong = [strip for strip in board.strips if sign and strip.mark == sign]
        # Who wishes a net on such a rail means it so.
        if net.pins and wrong and not any((net.name, strip.name) in owned for strip in wrong):
            marked = {hole for strip in wrong for hole in strip.holes}
            yield f"{net.name} on no {sign} rail", Within(leads[net.name], frozenset(board.holes) - marked, each=True)


def _decoupling(circuit: Circuit) -> Iterator[tuple[str, Aim]]:
    """Capacitors between a supply and its return, each for the IC on both that has fewest of them."""
    returns = _Returns(circuit)
    on_net = {net.name: net.pins for net in circuit.nets}
    ics = [part.ref for part in circuit.parts if circuit.package_of(part.ref).shape in ICS]
    served: dict[tuple[str, str], int] = {}
    for part in circuit.parts:
        pins = pins_of(circuit, part.ref)
        nets = [circuit.net_of.get(pin, "") for pin in pins]
        pair = returns.supply_first(nets) if _is_capacitor(circuit, part) else None
        if pair is None:
            continue
        supply = pair[0]
        able = [ref for ref in ics if returns.serves(ref, *pair)]
        if not able:
            continue
        ref = min(able, key=lambda ref: served.get((ref, supply), 0))
        turn = served[ref, supply] = served.get((ref, supply), 0) + 1
        own = [pin for pin in on_net[supply] if pin.part == ref]
        if turn > len(own):
            continue  # one for each supply pin; what is more is for bulk
        mine, theirs = pins[nets.index(supply)], own[turn - 1]
        if not _settled(part):
            yield f"{part.ref} by {theirs}", Near((mine,), (theirs,), NEAR_STEPS)


class _Returns:
    """Supplies of a circuit and where their current returns, and which ICs take it."""

    def __init__(self, circuit: Circuit) -> None:
        self._role = roles_of(circuit)
        volts = {net.name: rail_volts(net) or 0.0 for net in circuit.nets if self._role[net.name] == "supply"}
        self._sign = {name: 1 if figure > 0 else -1 for name, figure in volts.items() if figure}
        self._on: dict[str, set[str]] = {}  # the nets of each part
        for net in circuit.nets:
            for pin in net.pins:
                self._on.setdefault(pin.part, set()).add(net.name)

    def supply_first(self, nets: Sequence[str]) -> tuple[str, str] | None:
        """A supply and its return, ground or the negative supply; None where two nets are no such pair."""
        one, other = sorted(nets, key=lambda net: (self._role.get(net) != "supply", -self._sign.get(net, 0)))
        if self._role.get(one) != "supply":
            return None
        split = self._sign.get(one, 0) * self._sign.get(other, 0) < 0
        return (one, other) if split or self._role.get(other) == "ground" else None

    def serves(self, ref: str, supply: str, back: str) -> bool:
        """True for an IC on both nets; from a supply to ground also for one on this supply and one of other sign.

        Op-amps have no pin for ground.
        """
        nets = self._on.get(ref, set())
        if supply not in nets or back in nets:
            return supply in nets
        split = any(self._sign.get(supply, 0) * self._sign.get(net, 0) < 0 for net in nets)
        return split and self._role[back] == "ground"


def _is_capacitor(circuit: Circuit, part: Part) -> bool:
    """By its letter (IEEE 315, from memory) and its two pins; cans hold charge for the board, not for one IC."""
    package = circuit.package_of(part.ref)
    return part.ref[:1] == "C" and len(package.pins) == 2 and package.shape != "can"


def _at_edges(circuit: Circuit, board: Board) -> Iterator[tuple[str, Aim]]:
    holes, openings = board.edge_holes("any"), Openings(board)
    known: dict[tuple[str, str], Places] = {}
    for part in circuit.parts:
        package, edge = circuit.package_of(part.ref), part.place.edge or "any"
        if has_openings(package) and part.place.port is None:
            if part.place.at or part.place.fixed or part.place.rotation is not None:
                continue  # the user says how it stands
            key = part.package, edge
            if key not in known:
                known[key] = openings.places(package, edge)
            which = "an edge" if edge == "any" else f"the {edge} edge"
            yield f"{part.ref} facing {which}", Facing(part.ref, known[key])
        elif package.shape in OUTWARD and not _settled(part):
            yield f"{part.ref} at an edge", Within(pins_of(circuit, part.ref), holes)


def _by_their_pins(circuit: Circuit) -> Iterator[tuple[str, Aim]]:
    ics = {part.ref for part in circuit.parts if circuit.package_of(part.ref).shape in ICS}
    nets = {net.name: net for net in circuit.nets}
    for part in circuit.parts:
        if circuit.package_of(part.ref).shape != "crystal":
            continue
        for pin in pins_of(circuit, part.ref):
            net = nets.get(circuit.net_of.get(pin, ""))
            theirs = tuple(other for other in net.pins if other.part in ics) if net is not None else ()
            if theirs and not _settled(part):
                yield f"{pin} by {theirs[0]}", Near((pin,), theirs, NEAR_STEPS)


def _turned_alike(circuit: Circuit) -> Iterator[tuple[str, Aim]]:
    refs = tuple(part.ref for part in circuit.parts if circuit.package_of(part.ref).shape in ICS)
    if len(refs) > 1:
        yield "ICs turned alike", Alike(refs)
