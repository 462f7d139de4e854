"""Rules on cuts: only where board, strip and builder allow, each once, and each for something."""

from __future__ import annotations

from collections.abc import Iterable

from placer.boards.model import Strip
from placer.check.case import Case
from placer.check.copper import nets_on
from placer.check.report import fault, warning
from placer.errors import Diagnostic
from placer.plan.model import Cut


def cut_name(cut: Cut) -> str:
    """What messages call a cut."""
    if cut.at is not None and cut.between is None:
        return f"cut at {cut.at}"
    if cut.between is not None and cut.at is None:
        return f"cut between {cut.between[0]} and {cut.between[1]}"
    return f"cut at {cut.at}, between {cut.between}"


def _holes(cut: Cut) -> tuple[str, ...]:
    return (*((cut.at,) if cut.at is not None else ()), *(cut.between or ()))


def _strip_of(case: Case, cut: Cut) -> Strip | None:
    """The one strip that a cut severs; None for a cut that is wrong in itself, which other rules tell."""
    strips = {case.plan.board.strip_of.get(hole) for hole in _holes(cut)}
    return strips.pop() if len(strips) == 1 else None


def cuts_are_allowed_at_all(case: Case) -> Iterable[Diagnostic]:
    """No cuts where the builder wants none."""
    if not case.plan.options.allow_cuts:
        for cut in case.plan.cuts:
            yield fault("cut-not-wanted", f"{cut_name(cut)}: this plan's options allow no cuts")


def cuts_are_of_one_kind(case: Case) -> Iterable[Diagnostic]:
    """A cut is at a hole or between two holes, not both and not neither."""
    for cut in case.plan.cuts:
        if (cut.at is None) == (cut.between is None):
            yield fault("cut-malformed", f"{cut_name(cut)}: a cut is either at a hole or between two holes")


def cuts_are_on_the_board(case: Case) -> Iterable[Diagnostic]:
    """A cut names holes the board has; a knife goes between two neighbours on one strip."""
    board = case.plan.board
    links = {frozenset(link) for strip in board.strips for link in strip.links}
    for cut in case.plan.cuts:
        unknown = [hole for hole in _holes(cut) if hole not in board.holes]
        for hole in unknown:
            yield fault("unknown-hole", f"{cut_name(cut)}: board {board.name} has no hole {hole}")
        if cut.between is not None and not unknown and frozenset(cut.between) not in links:
            yield fault("cut-off-copper", f"{cut_name(cut)}: no copper joins these two holes directly")


def strips_may_be_cut(case: Case) -> Iterable[Diagnostic]:
    """Board and strip allow this kind of cut, and the strip is a plain run of holes."""
    board = case.plan.board
    for cut in case.plan.cuts:
        strip = _strip_of(case, cut)
        if strip is None:
            continue
        if not strip.is_path:
            yield fault("cut-not-allowed", f"{cut_name(cut)}: strip {strip.name} branches and cannot be cut")
        if cut.at is not None and not (strip.cut.at_hole and board.cut.at_hole):
            yield fault("cut-not-allowed", f"{cut_name(cut)}: strip {strip.name} may not be cut at a hole")
        if cut.between is not None and not (strip.cut.between and board.cut.between):
            yield fault("cut-not-allowed", f"{cut_name(cut)}: strip {strip.name} may not be cut between holes")


def cuts_are_made_once(case: Case) -> Iterable[Diagnostic]:
    """No cut is listed twice."""
    seen = set()
    for cut in case.plan.cuts:
        key = (cut.at, frozenset(cut.between or ()))
        if key in seen:
            yield fault("cut-twice", f"{cut_name(cut)} is listed twice")
        seen.add(key)


def cuts_separate_something(case: Case) -> Iterable[Diagnostic]:
    """A cut has copper on both sides that must stay apart: of two nets, or of a net and an open pin."""
    for cut in case.plan.cuts:
        strip = _strip_of(case, cut)
        if strip is None:
            continue
        if cut.at is not None:
            place = strip.holes.index(cut.at)
            sides = [strip.holes[i] for i in (place - 1, place + 1) if 0 <= i < len(strip.holes)]
        else:
            sides = list(_holes(cut))
        owners = [_owner(case, hole) for hole in sides]
        if len(owners) < 2 or not all(owners) or owners[0] == owners[1]:
            yield warning(
                "idle-cut", f"{cut_name(cut)} separates nothing that must be apart (strip {strip.name})", "leave it out"
            )


def _owner(case: Case, hole: str) -> frozenset[object]:
    """What the copper at a hole belongs to: nets, and groups of open pins; empty for bare copper or none."""
    conductor = case.copper.conductor_at(hole)
    if conductor is None:
        return frozenset()
    opens = (case.group_of[pin] for pin in conductor.pins if case.nets_of.get(pin) == ())
    return frozenset((*nets_on(case, conductor), *opens))
