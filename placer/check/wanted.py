"""Rules on what is wished for but not binding: the score tells truly how far it is kept."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping

from placer.boards.model import Hole
from placer.check.case import Case
from placer.check.report import fault
from placer.circuit.model import PinRef
from placer.errors import Diagnostic
from placer.packages.model import STEP_UM
from placer.plan.model import Tally
from placer.plan.wanted import Aim, Alike, Compact, Facing, Far, Near, Sole, Wanted, Within, wanted

TINY = 1e-9


def the_score_of_wishes_is_true(case: Case) -> Iterable[Diagnostic]:
    """Each wish and habit that is not binding stands in the score, with how often it is kept."""
    plan = case.plan
    try:
        wishes = wanted(plan.circuit, plan.board, habits=plan.options.habits)
    except KeyError:
        return  # a wish or a part names what is not there: told as such
    told = {(tally.habit, tally.name): tally for tally in plan.score.wishes}
    if len(told) != len(plan.score.wishes):
        yield fault("wrong-wishes", "the score lists a wish twice")
    for wish in wishes:
        tally = told.pop((wish.habit, wish.name), None)
        if tally is None:
            yield fault("wrong-wishes", f"the score says nothing of {_named(wish)}")
            continue
        kept = times_kept(case, wish.aim)
        true = Tally(wish.name, kept, wish.of, wish.force.weight, wish.force.cost, wish.habit)
        if (tally.kept, tally.of) != (kept, wish.of):
            said = f"the score says that {_named(wish)} is kept {tally.kept} of {tally.of} times"
            yield fault("wrong-wishes", f"{said}; it is {kept} of {wish.of}")
        elif not _same(tally.weight, true.weight) or not _same(tally.cost, true.cost):
            yield fault("wrong-wishes", f"the score gives {_named(wish)} a weight or cost that is not the circuit's")
    for habit, name in told:
        yield fault(
            "wrong-wishes", f"the score tells of {habit + ': ' if habit else ''}{name}, which nobody wished for"
        )


def _named(wish: Wanted) -> str:
    return f"{wish.habit}: {wish.name}" if wish.habit else f"wish {wish.name}"


def _same(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, abs_tol=1e-6)


def times_kept(case: Case, aim: Aim) -> int:
    """How often what is aimed at holds in a plan; pins without a hole keep nothing."""
    if isinstance(aim, Alike):
        return _turned_as_most(case, aim)
    return int(_holds(case, aim))


def _holds(case: Case, aim: Aim) -> bool:
    if isinstance(aim, Within):
        there = [case.copper.hole_of.get(pin, "") in aim.holes for pin in aim.pins]
        return all(there) if aim.each else any(there)
    if isinstance(aim, Near):
        return _least(_holes(case, aim.pins), _holes(case, aim.others)) <= aim.steps + TINY
    if isinstance(aim, Far):
        one, other = _holes(case, aim.pins), _holes(case, aim.others)
        if aim.nets is not None:
            ends = wire_ends(case)
            one, other = [*one, *ends.get(aim.nets[0], ())], [*other, *ends.get(aim.nets[1], ())]
        return _least(one, other) >= aim.steps - TINY
    if isinstance(aim, Compact):
        return extent(_holes(case, aim.pins)) <= aim.steps + TINY
    if isinstance(aim, Sole):
        mine = set(aim.pins)
        standing = {pin for pin, hole in case.copper.hole_of.items() if hole in aim.holes}
        return bool(standing & mine) and not standing - mine
    if isinstance(aim, Facing):
        return _faces(case, aim)
    if not isinstance(aim, Alike):
        return _stands(case, aim.ref, aim.rotation, aim.mount)
    raise AssertionError(aim)  # pragma: no cover - counted elsewhere


def _stands(case: Case, ref: str, rotation: int | None, mount: str | None) -> bool:
    placement, stance = case.plan.placements.get(ref), case.stances.get(ref)
    if placement is None or stance is None:
        return False
    return (rotation is None or rotation in stance.rotations) and mount in (None, placement.mount)


def _faces(case: Case, aim: Facing) -> bool:
    """Wires in front do not count: they lie flat, below the openings."""
    package, placement = case.plan.circuit.package_of(aim.ref), case.plan.placements.get(aim.ref)
    if placement is None or aim.ref not in case.stances:
        return False
    first = placement.pins.get(package.pins[0], "")
    ways = [aim.places.get(rotation, {}) for rotation in case.stances[aim.ref].rotations]
    front = next((way[first] for way in ways if first in way), None)
    if front is None or any(use.part not in ("", aim.ref) and use.hole in front for use in case.uses):
        return False
    bodies = [body for ref, stance in case.stances.items() if ref != aim.ref for body in stance.bodies]
    holes = [case.plan.board.holes[address] for address in front]
    return not any(body.covers((hole.x * STEP_UM, hole.y * STEP_UM)) for body in bodies for hole in holes)


def _turned_as_most(case: Case, aim: Alike) -> int:
    """How many parts are turned by the angle that most are."""
    turned = Counter(angle for ref in aim.refs if ref in case.stances for angle in case.stances[ref].rotations)
    return max(turned.values(), default=0)


def _holes(case: Case, pins: Iterable[PinRef]) -> list[Hole]:
    holes = case.plan.board.holes
    return [holes[address] for pin in pins if (address := case.copper.hole_of.get(pin, "")) in holes]


def wire_ends(case: Case) -> Mapping[str, list[Hole]]:
    """The holes that each net's jumpers end in."""
    holes, found = case.plan.board.holes, dict[str, list[Hole]]()
    for jumper in case.plan.jumpers:
        found.setdefault(jumper.net, []).extend(holes[end] for end in (jumper.start, jumper.end) if end in holes)
    return found


def _least(one: Iterable[Hole], other: Iterable[Hole]) -> float:
    there = list(other)
    return min((math.hypot(a.x - b.x, a.y - b.y) for a in one for b in there), default=math.inf)


def extent(holes: Iterable[Hole]) -> int:
    """The longer side of the rectangle round the centres of some holes, in steps."""
    found = list(holes)
    if not found:
        return 0
    xs, ys = [hole.x for hole in found], [hole.y for hole in found]
    return max(max(xs) - min(xs), max(ys) - min(ys))
