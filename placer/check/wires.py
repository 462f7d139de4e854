"""Rules on jumpers: both ends on copper of the wire's own net, and each wire needed."""

from __future__ import annotations

from collections.abc import Iterable

from placer.check.case import Case, jumper_name
from placer.check.copper import carried, nets_on
from placer.check.report import fault, warning
from placer.errors import Diagnostic


def jumpers_name_a_net(case: Case) -> Iterable[Diagnostic]:
    """A jumper belongs to a net of the circuit."""
    nets = {net.name for net in case.plan.circuit.nets}
    for number, jumper in enumerate(case.plan.jumpers):
        if jumper.net not in nets:
            yield fault(
                "unknown-net",
                f"{jumper_name(number)} ({jumper.start} to {jumper.end}) is for net {jumper.net}; the circuit has no "
                "such net",
            )


def jumpers_have_two_ends(case: Case) -> Iterable[Diagnostic]:
    """A jumper leads from one hole to another."""
    for number, jumper in enumerate(case.plan.jumpers):
        if jumper.start == jumper.end:
            yield fault(
                "jumper-no-length",
                f"{jumper_name(number)} of net {jumper.net} starts and ends in the same hole, {jumper.start}",
            )


def jumpers_join_their_own_net(case: Case) -> Iterable[Diagnostic]:
    """Without the jumper, the copper at each of its ends already belongs to the jumper's net."""
    nets = {net.name for net in case.plan.circuit.nets}
    for number, jumper in enumerate(case.plan.jumpers):
        if jumper.net not in nets:
            continue
        for hole in dict.fromkeys((jumper.start, jumper.end)):
            reached = case.copper.reach_without(number, hole)
            if reached is None:
                continue
            owners = nets_on(case, reached)
            if jumper.net not in owners:
                yield fault(
                    "jumper-off-net",
                    f"{jumper_name(number)} of net {jumper.net} ends in {hole}, on copper that carries "
                    f"{carried(reached, owners)} ({reached.segments[0]})",
                )


def jumpers_are_needed(case: Case) -> Iterable[Diagnostic]:
    """A jumper whose ends are joined without it is wire for nothing."""
    for number, jumper in enumerate(case.plan.jumpers):
        reached = case.copper.reach_without(number, jumper.start)
        if jumper.start != jumper.end and reached and any(jumper.end in piece.holes for piece in reached.segments):
            yield warning(
                "needless-jumper",
                f"{jumper_name(number)} of net {jumper.net} joins {jumper.start} and {jumper.end}, which are joined "
                "without it",
                "leave it out",
            )
