"""Reading the wishes that are not one part's own: ``wishes:`` at the top of a circuit file."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, TypeVar

from pydantic import BaseModel

from placer.circuit.model import HABITS, Apart, Force, Net, Owned, Region, Shared, Short, Together, Wishes
from placer.circuit.problems import Problems, name_fault
from placer.circuit.schema import (
    ApartSchema,
    HabitSchema,
    Loc,
    Locate,
    OwnedSchema,
    RegionSchema,
    ShortSchema,
    TogetherSchema,
    kind_of,
    validate,
)
from placer.circuit.wishes import read_force

KEYS = ("together", "keepout", "rails", "short", "apart", "habits")
LOC: Loc = ("wishes",)

S = TypeVar("S", bound=BaseModel)


def read_shared(
    data: Any, refs: Mapping[str, object], nets: tuple[Net, ...], locate: Locate, problems: Problems
) -> Wishes:
    """Return the wishes of the circuit as a whole. ``refs``: every part that the file names."""
    if data is None:
        return Wishes()
    if not isinstance(data, Mapping):
        message = f"wishes: expected a mapping with the keys {', '.join(KEYS)}, found {kind_of(data)}"
        problems.error("wrong-type", message, locate(LOC))
        return Wishes()
    for key in data:
        if key not in KEYS:
            hint = problems.did_you_mean(key, KEYS) or f"known keys: {', '.join(KEYS)}"
            problems.error("unknown-key", f"wishes: key {key} is not known", locate((*LOC, key), key=True), hint=hint)
    reader = _Reader(refs, {net.name: net for net in nets}, locate, problems)
    return Wishes(tuple(reader.shared(data)), reader.habits(data.get("habits")))


class _Reader:
    def __init__(self, refs: Mapping[str, object], nets: Mapping[str, Net], locate: Locate, problems: Problems) -> None:
        self._refs, self._nets = refs, nets
        self._locate, self._problems = locate, problems

    def shared(self, data: Mapping[str, Any]) -> Iterator[Shared]:
        """Every wish that could be read, in the order of :data:`KEYS`."""
        yield from self._each(data, "together", TogetherSchema, self._together)
        yield from self._each(data, "keepout", RegionSchema, self._region)
        yield from self._rails(data.get("rails"))
        yield from self._each(data, "short", ShortSchema, self._short)
        yield from self._each(data, "apart", ApartSchema, self._apart)

    def habits(self, data: Any) -> dict[str, Force | None]:
        """Each habit that is named, with how much it binds; None where it is not wanted."""
        if isinstance(data, str) and data == "false":
            return dict.fromkeys(HABITS)
        found: dict[str, Force | None] = {}
        for name, raw in self._mapping(data, "habits", "habit to true, false or a weight"):
            at: Loc = (*LOC, "habits", name)
            if name not in HABITS:
                hint = self._problems.did_you_mean(name, HABITS) or f"the habits are {', '.join(HABITS)}"
                self._problems.error(
                    "unknown-habit", f"habits: {name} is not known", self._locate(at, key=True), hint=hint
                )
            elif raw in ("true", "false"):
                if raw == "false":
                    found[name] = None
            else:
                schema = validate(
                    HabitSchema,
                    raw if isinstance(raw, Mapping) else {"weight": raw},
                    at,
                    self._short_form(at, isinstance(raw, Mapping)),
                    self._problems,
                    f"habits: {name}",
                )
                if schema is not None:
                    force = self._force(schema, at, f"habits: {name}")
                    found[name] = Force(weight=1.0) if force.binding else force
        return found

    def _each(
        self, data: Mapping[str, Any], key: str, schema: type[S], read: Callable[[S, Loc], Shared | None]
    ) -> Iterator[Shared]:
        raw = data.get(key)
        for number, entry in enumerate(raw if isinstance(raw, list) else [] if raw is None else [raw]):
            at: Loc = (*LOC, key, number) if isinstance(raw, list) else (*LOC, key)
            known = validate(schema, entry, at, self._locate, self._problems, f"wishes: {key}")
            wish = None if known is None else read(known, at)
            if wish is not None:
                yield wish

    def _mapping(self, data: Any, key: str, what: str) -> Iterator[tuple[str, Any]]:
        if isinstance(data, Mapping):
            yield from data.items()
        elif data is not None:
            message = f"wishes: {key}: expected a mapping from {what}, found {kind_of(data)}"
            self._problems.error("wrong-type", message, self._locate((*LOC, key)))

    def _force(self, schema: Any, at: Loc, what: str) -> Force:
        return read_force(schema.weight, schema.cost, at, self._locate, self._problems, what)

    def _together(self, known: TogetherSchema, at: Loc) -> Together | None:
        parts = tuple(dict.fromkeys(known.parts))
        for number, ref in enumerate(known.parts):
            if ref not in self._refs:
                self._problems.error(
                    "unknown-part",
                    f"wishes: together names part {ref!r}, which is not there",
                    self._locate((*at, "parts", number)),
                    hint=self._problems.did_you_mean(ref, self._refs),
                )
        if not parts:
            self._problems.error("empty-wish", "wishes: together names no parts", self._locate(at, key=True))
            return None
        return Together(parts, known.steps, self._force(known, at, "wishes: together"))

    def _region(self, known: RegionSchema, at: Loc) -> Region | None:
        for key, hole in (("from", known.start), ("to", known.end)):
            fault = name_fault(hole)
            if fault:
                message = f"wishes: keepout: hole address {hole[:40]!r} {fault}"
                self._problems.error("bad-name", message, self._locate((*at, key)))
                return None
        return Region(known.start, known.end)

    def _rails(self, data: Any) -> Iterator[Owned]:
        owner: dict[str, str] = {}
        for net, raw in self._mapping(data, "rails", "net name to strip"):
            loc: Loc = (*LOC, "rails", net)
            if not self._is_net(net, loc, "rails", key=True):
                continue
            for number, entry in enumerate(raw if isinstance(raw, list) else [raw]):
                at: Loc = (*loc, number) if isinstance(raw, list) else loc
                wish = self._owned(net, entry, at)
                if wish is not None and wish.strip in owner:
                    message = f"wishes: rails gives strip {wish.strip} twice, to {owner[wish.strip]} and to {net}"
                    hint = "a strip carries one net"
                    self._problems.error("wish-contradiction", message, self._locate(at), hint=hint)
                elif wish is not None:
                    owner[wish.strip] = net
                    yield wish

    def _owned(self, net: str, raw: Any, at: Loc) -> Owned | None:
        long_form, what = isinstance(raw, Mapping), f"wishes: rails: {net}"
        known = validate(
            OwnedSchema, raw if long_form else {"strip": raw}, at, self._short_form(at, long_form), self._problems, what
        )
        if known is None:
            return None
        fault = name_fault(known.strip)
        if fault:
            message = f"wishes: rails: strip name {known.strip[:40]!r} {fault}"
            self._problems.error("bad-name", message, self._locate(at))
            return None
        return Owned(net, known.strip, self._force(known, at, what))

    def _short_form(self, at: Loc, long_form: bool) -> Locate:
        """A value that stands for a mapping has no inner places of its own."""
        if long_form:
            return self._locate
        return lambda loc, key=False: self._locate(loc[: len(at)], key=key)

    def _short(self, known: ShortSchema, at: Loc) -> Short | None:
        if not self._is_net(known.net, (*at, "net"), "short"):
            return None
        return Short(known.net, known.mm, self._force(known, at, "wishes: short"))

    def _apart(self, known: ApartSchema, at: Loc) -> Apart | None:
        if len(known.nets) != 2 or known.nets[0] == known.nets[1]:
            message = f"wishes: apart names {len(set(known.nets))} different nets, expected two"
            self._problems.error("wish-contradiction", message, self._locate((*at, "nets"), key=True))
            return None
        named = [self._is_net(net, (*at, "nets", number), "apart") for number, net in enumerate(known.nets)]
        if not all(named):
            return None
        return Apart((known.nets[0], known.nets[1]), known.mm, self._force(known, at, "wishes: apart"))

    def _is_net(self, name: str, at: Loc, what: str, *, key: bool = False) -> bool:
        if name not in self._nets:
            hint = self._problems.did_you_mean(name, self._nets)
            message = f"wishes: {what} names net {name!r}, which is not there"
            self._problems.error("unknown-net", message, self._locate(at, key=key), hint=hint)
            return False
        return bool(self._nets[name].pins)  # one without pins is told as such
