"""A plan judged against a circuit and a board given from outside, not only against those it carries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TypeVar

from placer.boards.model import Board, Strip
from placer.check.judge import judge
from placer.check.report import Report, fault, listed
from placer.circuit.model import Circuit, Net
from placer.errors import Diagnostic
from placer.plan.conductors import natural_key
from placer.plan.model import Plan

T = TypeVar("T")


def judge_against(plan: Plan, circuit: Circuit | None = None, board: Board | None = None) -> Report:
    """Judge a plan by the circuit and board given, and report where the plan's own differ from them.

    None stands for the plan's own. Names and remarks (``about``, sources) may differ; what is built may not.
    """
    differences: list[Diagnostic] = []
    if circuit is not None:
        circuit = _soldered(circuit, plan.circuit)
        differences += _circuit_differences(plan.circuit, circuit)
    if board is not None:
        differences += _board_differences(plan.board, board)
    report = judge(replace(plan, circuit=circuit or plan.circuit, board=board or plan.board))
    return Report.of((*differences, *report.faults, *report.warnings))


def _soldered(given: Circuit, own: Circuit) -> Circuit:
    """The circuit given with what only the plan can know: where the parts are that were soldered already."""
    known = {part.ref: part.place for part in own.parts if part.place.fixed}
    parts = tuple(
        replace(part, place=replace(part.place, at=at.at, mount=at.mount, fixed=True))
        if (at := known.get(part.ref)) is not None
        else part
        for part in given.parts
    )
    return replace(given, parts=parts)


def _differs(kind: str, what: str, own: object, given: object) -> Diagnostic:
    return fault(f"{kind}-differs", f"{what}: the plan was made for {own}, the {kind} given says {given}")


def _unequal(own: Mapping[str, T], given: Mapping[str, T]) -> Iterable[tuple[str, T | None, T | None]]:
    """Keys whose values differ or are on one side only, in natural order."""
    for key in sorted(own.keys() | given.keys(), key=natural_key):
        if own.get(key) != given.get(key):
            yield key, own.get(key), given.get(key)


def _circuit_differences(own: Circuit, given: Circuit) -> Iterable[Diagnostic]:
    for ref, mine, theirs in _unequal(own.part_by_ref, given.part_by_ref):
        if mine is None or theirs is None:
            yield _only_one_has("circuit", f"part {ref}", mine is None)
            continue
        for name in ("package", "value", "pin_names", "place"):
            one, other = getattr(mine, name), getattr(theirs, name)
            if one != other:
                if name in ("package", "value"):
                    yield _differs("circuit", f"{name} of {ref}", one or '""', other or '""')
                else:
                    words = {"pin_names": "pin names", "place": "placement wishes"}[name]
                    yield fault("circuit-differs", f"the {words} of {ref} are not those the plan was made for")
    if own.wishes != given.wishes:
        yield fault("circuit-differs", "the wishes of the circuit as a whole are not those the plan was made for")
    for name, mine_net, theirs_net in _unequal(_nets(own), _nets(given)):
        if mine_net is None or theirs_net is None:
            yield _only_one_has("circuit", f"net {name}", mine_net is None)
        else:
            yield from _net_differences(mine_net, theirs_net)
    for name, mine_package, theirs_package in _unequal(own.packages, given.packages):
        if mine_package is not None and theirs_package is not None:
            changed = [key for key in vars(mine_package) if getattr(mine_package, key) != getattr(theirs_package, key)]
            built = [key for key in changed if key not in ("about", "sources")]
            if built:
                yield fault(
                    "circuit-differs", f"package {name} is not what the plan was made for; changed: {listed(built)}"
                )


def _nets(circuit: Circuit) -> dict[str, Net]:
    """Nets by name, their pins in one order: the order they are listed in joins nothing."""
    return {net.name: replace(net, pins=tuple(sorted(net.pins))) for net in circuit.nets}


def _net_differences(own: Net, given: Net) -> Iterable[Diagnostic]:
    gone = [pin for pin in own.pins if pin not in given.pins]
    new = [pin for pin in given.pins if pin not in own.pins]
    if gone:
        yield fault("circuit-differs", f"net {own.name}: the plan was made with {listed(gone)} on it, now not there")
    if new:
        yield fault("circuit-differs", f"net {own.name}: the plan was made without {listed(new)} on it")
    for name in ("role", "volts", "amps", "ac"):
        if getattr(own, name) != getattr(given, name):
            yield _differs("circuit", f"{name} of net {own.name}", getattr(own, name), getattr(given, name))


def _only_one_has(kind: str, what: str, plan_lacks_it: bool) -> Diagnostic:
    if plan_lacks_it:
        return fault(f"{kind}-differs", f"{what} is in the {kind} given, but not in what the plan was made for")
    return fault(f"{kind}-differs", f"{what} is in what the plan was made for, but not in the {kind} given")


def _board_differences(own: Board, given: Board) -> Iterable[Diagnostic]:
    for name in ("outline_mm", "pitch_mm", "cut", "bridges"):
        if _rounded(getattr(own, name)) != _rounded(getattr(given, name)):
            yield _differs("board", name.removesuffix("_mm"), getattr(own, name), getattr(given, name))
    yield from _table("hole", _each(own.holes.values(), "address"), _each(given.holes.values(), "address"))
    yield from _table("strip", {s.name: _strip(s) for s in own.strips}, {s.name: _strip(s) for s in given.strips})
    yield from _table("keep-out", _each(own.keepouts, "name"), _each(given.keepouts, "name"))


def _each(things: Iterable[object], name: str) -> dict[str, object]:
    """Flat records by name, each as its field values to the precision that a plan file keeps."""
    return {getattr(thing, name): tuple(_rounded(value) for value in vars(thing).values()) for thing in things}


def _rounded(value: object) -> object:
    if isinstance(value, tuple):
        return tuple(_rounded(item) for item in value)
    return round(value, 6) if isinstance(value, float) else value


def _strip(strip: Strip) -> tuple[object, ...]:
    return frozenset(strip.holes), frozenset(frozenset(link) for link in strip.links), strip.cut


def _table(what: str, own: Mapping[str, object], given: Mapping[str, object]) -> Iterable[Diagnostic]:
    """What differs in one kind of thing on the board, told in one line each: boards have holes by the hundred."""
    unequal = list(_unequal(own, given))
    for gist, names in (
        ("in the plan's board only", [name for name, _, theirs in unequal if theirs is None]),
        ("in the board given only", [name for name, mine, _ in unequal if mine is None]),
        ("not the same", [name for name, mine, theirs in unequal if mine is not None and theirs is not None]),
    ):
        if names:
            some = listed(names) if len(names) <= 8 else ", ".join(names[:8]) + f" and {len(names) - 8} more"
            yield fault("board-differs", f"{what}s {gist}: {some}")
