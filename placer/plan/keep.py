"""Parts that are soldered already: their places taken over from an earlier plan, as wishes that bind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fnmatch import fnmatchcase

from placer.circuit.model import Circuit, Part
from placer.errors import Diagnostic, PlacerError
from placer.plan.model import Plan


def soldered(circuit: Circuit, plan: Plan | None, keep: Sequence[str]) -> Circuit:
    """The circuit with the parts that stay where an earlier plan has them: those that say so, and those of ``keep``.

    ``keep``: references or shell patterns (``R*``). Raises PlacerError where there is no such part, no plan, or the
    plan has the part nowhere or in another package.
    """
    refs = [part.ref for part in circuit.parts]
    idle = [pattern for pattern in keep if not any(fnmatchcase(ref, pattern) for ref in refs)]
    if idle:
        message = f"--keep {idle[0]}: the circuit has no such part"
        raise PlacerError(Diagnostic("unknown-part", message, "name parts, or patterns such as R*"))
    parts = tuple(
        _fixed(part, plan) if part.place.fixed or any(fnmatchcase(part.ref, pattern) for pattern in keep) else part
        for part in circuit.parts
    )
    return replace(circuit, parts=parts)


def _fixed(part: Part, plan: Plan | None) -> Part:
    if plan is None:
        if part.place.at:
            return part  # as a plan carries it: the holes stand there already
        message = f"{part.ref} is soldered already; where, an earlier plan must say"
        raise PlacerError(Diagnostic("fixed-without-plan", message, "name the plan: --from PLAN"))
    stood = plan.placements.get(part.ref)
    if stood is None or stood.package != part.package:
        found = "does not place it" if stood is None else f"has it as {stood.package}, the circuit as {part.package}"
        message = f"{part.ref} is to stay where it is, but the earlier plan {found}"
        raise PlacerError(Diagnostic("fixed-elsewhere", message, "name the plan it was built from, or let it move"))
    moved = [f"{pin} in {hole}" for pin, hole in part.place.at.items() if stood.pins.get(pin) != hole]
    if moved:
        message = f"{part.ref} is soldered with its pins elsewhere than wished for: {', '.join(moved)}"
        raise PlacerError(Diagnostic("wish-contradiction", message, "drop one of the two wishes"))
    return replace(part, place=replace(part.place, at=dict(stood.pins), mount=stood.mount, fixed=True))
