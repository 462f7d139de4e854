"""Reading the placement wishes of a part, and refusing those that no board could keep."""

from __future__ import annotations

from dataclasses import replace

from placer.circuit.model import AwayWish, Force, NearWish, PinRef, Place, Preference
from placer.circuit.pins import PinFinder
from placer.circuit.problems import Problems, name_fault
from placer.circuit.schema import Loc, Locate, PlaceSchema, PreferSchema, WishSchema, validate
from placer.packages.model import Package, TwoLead


def read_wishes(
    ref: str,
    schema: PlaceSchema,
    loc: Loc,
    locate: Locate,
    finder: PinFinder,
    problems: Problems,
    asked: dict[str, PinRef],
) -> Place:
    """Return the wishes of part ``ref``. ``asked``: the holes that earlier parts ask for; this part's are added."""
    if schema.diagonal and not isinstance(finder.package_of[ref].form, TwoLead):
        message = f"part {ref}: diagonal is for parts with two flexible leads, {finder.package_of[ref].name} is none"
        problems.error("impossible-diagonal", message, locate((*loc, "diagonal")), hint="remove the wish")
    place = _read_place(ref, schema, loc, locate, finder, problems, asked)
    prefer = _read_prefer(ref, schema.prefer, (*loc, "prefer"), locate, finder, problems)
    _check_port(ref, schema, loc, locate, problems)
    return replace(
        place,
        diagonal=schema.diagonal,
        flying=schema.flying,
        port=schema.port,
        fixed=schema.fixed,
        prefer=prefer,
    )


def _read_place(
    ref: str,
    schema: WishSchema,
    loc: Loc,
    locate: Locate,
    finder: PinFinder,
    problems: Problems,
    asked: dict[str, PinRef],
) -> Place:
    mount = None if schema.mount == "any" else schema.mount
    _check_mount(ref, mount, loc, locate, finder.package_of[ref], problems)
    return Place(
        at=_read_at(ref, schema, (*loc, "at"), locate, finder, problems, asked),
        edge=schema.edge,
        rotation=None if schema.rotation is None else int(schema.rotation),
        mount=mount,
        near=_read_near(ref, schema, (*loc, "near"), locate, finder, problems),
        away=_read_away(ref, schema, (*loc, "away"), locate, finder, problems),
        side=schema.side,
    )


def _read_prefer(
    ref: str, raw: object, loc: Loc, locate: Locate, finder: PinFinder, problems: Problems
) -> tuple[Preference, ...]:
    """One mapping or a list of them, each with wishes and perhaps a weight or a cost."""
    entries = raw if isinstance(raw, list) else [] if raw is None else [raw]
    found = []
    for number, entry in enumerate(entries):
        at: Loc = (*loc, number) if isinstance(raw, list) else loc
        schema = validate(PreferSchema, entry, at, locate, problems, f"part {ref}: place.prefer")
        if schema is None:
            continue
        place = _read_place(ref, schema, at, locate, finder, problems, {})
        if place == Place():
            message = f"part {ref}: place.prefer wishes for nothing"
            problems.error("empty-wish", message, locate(at), hint="such as prefer: {edge: top, weight: 2}")
            continue
        force = read_force(schema.weight, schema.cost, at, locate, problems, f"part {ref}: place.prefer")
        found.append(Preference(place, force if not force.binding else Force(weight=1.0)))
    return tuple(found)


def read_force(
    weight: float | None, cost: float | None, loc: Loc, locate: Locate, problems: Problems, what: str
) -> Force:
    """How much a wish binds: as its ``weight`` or its ``cost`` says, binding without either."""
    if weight is not None and cost is not None:
        message = f"{what} has both a weight and a cost"
        hint = "a weight ranks below jumpers and cuts, a cost counts as much as they do: give one"
        problems.error("wish-contradiction", message, locate((*loc, "cost"), key=True), hint=hint)
        return Force(cost=cost)
    return Force(weight, cost)


def _check_mount(ref: str, mount: str | None, loc: Loc, locate: Locate, package: Package, problems: Problems) -> None:
    form = package.form
    mounts = ("flat",)
    if isinstance(form, TwoLead):
        mounts = (*(("flat",) if form.flat else ()), *(("standing",) if form.standing else ()))
    if mount is not None and mount not in mounts:
        message = f"part {ref}: mount {mount} is not possible, {package.name} goes {' or '.join(mounts)} only"
        problems.error("impossible-mount", message, locate((*loc, "mount")), hint="change or remove the wish")


def _check_port(ref: str, schema: PlaceSchema, loc: Loc, locate: Locate, problems: Problems) -> None:
    """A port says where a part stands and how; what else could say so contradicts it."""
    if schema.port is None:
        return
    fault = name_fault(schema.port)
    if fault:
        message = f"part {ref}: port {schema.port[:40]!r} {fault}"
        problems.error("bad-name", message, locate((*loc, "port")), hint="ports are listed by: placer board NAME")
    for key in ("at", "edge", "rotation", "mount", "side", "diagonal", "flying"):
        if getattr(schema, key):
            message = f"part {ref}: place has both port and {key}; a port says where and how the part stands"
            problems.error("wish-contradiction", message, locate((*loc, key), key=True), hint="keep one of the two")


def _read_at(
    ref: str,
    schema: WishSchema,
    loc: Loc,
    locate: Locate,
    finder: PinFinder,
    problems: Problems,
    asked: dict[str, PinRef],
) -> dict[str, str]:
    at: dict[str, str] = {}
    for pin, hole in schema.at.items():
        number = finder.number(ref, pin)
        fault = name_fault(hole)
        if number is None:
            message = f"part {ref}: place.at names pin {pin!r}, which the part does not have"
            problems.error("unknown-pin", message, locate((*loc, pin), key=True), hint=finder.pin_hint(ref, pin))
        elif number in at:
            message = f"part {ref}: place.at gives pin {number} two holes, {at[number]} and {hole}"
            problems.error("wish-contradiction", message, locate((*loc, pin), key=True), hint="keep one of the two")
        elif fault:
            message = f"part {ref}: place.at of pin {pin}: hole address {hole[:40]!r} {fault}"
            problems.error("bad-name", message, locate((*loc, pin)))
        elif hole in asked:
            message = f"part {ref}: place.at wants pin {number} in hole {hole}, which {asked[hole]} wants too"
            problems.error("wish-contradiction", message, locate((*loc, pin)), hint="a hole takes one lead")
        else:
            at[number] = hole
            asked[hole] = PinRef(ref, number)
    return at


def _read_near(
    ref: str, schema: WishSchema, loc: Loc, locate: Locate, finder: PinFinder, problems: Problems
) -> tuple[NearWish, ...]:
    wishes = []
    for number, wish in enumerate(schema.near):
        span = locate((*loc, number, "pin"))
        pin = finder.find(wish.pin, f"part {ref}: place.near", span)
        if pin is None:
            continue
        if pin.part == ref:
            message = f"part {ref}: place.near names the part's own pin {pin}"
            problems.error("near-itself", message, span, hint="name a pin of another part")
        wishes.append(NearWish(pin, wish.steps))
    return tuple(wishes)


def _read_away(
    ref: str, schema: WishSchema, loc: Loc, locate: Locate, finder: PinFinder, problems: Problems
) -> tuple[AwayWish, ...]:
    wishes = []
    for number, wish in enumerate(schema.away):
        span = locate((*loc, number, "part"))
        if wish.part == ref:
            message = f"part {ref}: place.away names the part itself"
            problems.error("away-from-itself", message, span, hint="name another part")
        elif wish.part not in finder.refs:
            message = f"part {ref}: place.away names part {wish.part!r}, which is not there"
            problems.error("unknown-part", message, span, hint=problems.did_you_mean(wish.part, finder.refs))
        wishes.append(AwayWish(wish.part, wish.mm))
    return tuple(wishes)
