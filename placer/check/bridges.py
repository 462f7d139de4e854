"""Rules on bridges: allowed, between neighbouring holes of two strips, each once, each for its own net."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from placer.check.case import Case
from placer.check.copper import carried, nets_on
from placer.check.report import fault, listed, warning
from placer.errors import Diagnostic
from placer.plan.model import Bridge


def bridge_name(number: int) -> str:
    """What messages call a bridge; numbered from 1 in the order of the plan."""
    return f"bridge {number + 1}"


def _told(case: Case) -> Iterator[tuple[int, Bridge, str]]:
    """Each bridge with its number and how messages begin."""
    for number, bridge in enumerate(case.plan.bridges):
        yield number, bridge, f"{bridge_name(number)} of net {bridge.net}"


def _known(case: Case, bridge: Bridge) -> bool:
    return all(hole in case.plan.board.holes for hole in bridge.between)


def bridges_are_allowed(case: Case) -> Iterable[Diagnostic]:
    """No bridges on a board that allows none."""
    board = case.plan.board
    if not board.bridges:
        for _, bridge, name in _told(case):
            yield fault(
                "bridge-not-allowed", f"{name} joins {listed(bridge.between)}; board {board.name} allows no bridges"
            )


def bridges_name_a_net(case: Case) -> Iterable[Diagnostic]:
    """A bridge belongs to a net of the circuit."""
    nets = {net.name for net in case.plan.circuit.nets}
    for number, bridge, _ in _told(case):
        if bridge.net not in nets:
            yield fault(
                "unknown-net",
                f"{bridge_name(number)} ({listed(bridge.between)}) is for net {bridge.net}; the circuit has no such "
                "net",
            )


def bridges_join_neighbours(case: Case) -> Iterable[Diagnostic]:
    """A bridge joins two holes the board has, one step apart along the grid."""
    board = case.plan.board
    for _, bridge, name in _told(case):
        for hole in dict.fromkeys(bridge.between):
            if hole not in board.holes:
                yield fault("unknown-hole", f"{name} is at {hole}, but board {board.name} has no such hole")
        if _known(case, bridge):
            one, other = (board.holes[hole] for hole in bridge.between)
            if abs(one.x - other.x) + abs(one.y - other.y) != 1:
                yield fault(
                    "bridge-too-far",
                    f"{name} joins {one.address} and {other.address}, which are not next to each other along the grid",
                )


def bridges_join_two_strips(case: Case) -> Iterable[Diagnostic]:
    """A bridge never joins two holes of one strip: there is copper, or a cut that is there for a reason."""
    strip_of = case.plan.board.strip_of
    for _, bridge, name in _told(case):
        one, other = bridge.between
        if _known(case, bridge) and one != other and strip_of[one] is strip_of[other]:
            yield fault("bridge-within-strip", f"{name} joins {one} and {other}, both on strip {strip_of[one].name}")


def bridges_are_on_copper(case: Case) -> Iterable[Diagnostic]:
    """Neither hole of a bridge is drilled out: there would be no pad for the solder."""
    for _, bridge, name in _told(case):
        for hole in dict.fromkeys(bridge.between):
            if hole in case.copper.drilled:
                yield fault("drilled-hole-used", f"{name} is at {hole}, which a cut drills out")


def bridges_are_made_once(case: Case) -> Iterable[Diagnostic]:
    """No two bridges join the same two holes."""
    seen = set()
    for _, bridge, name in _told(case):
        key = frozenset(bridge.between)
        if key in seen:
            yield fault("bridge-twice", f"{name} joins {listed(bridge.between)}, which another bridge joins already")
        seen.add(key)


def bridges_join_their_own_net(case: Case) -> Iterable[Diagnostic]:
    """Without the bridge, the copper at each of its ends already belongs to the bridge's net."""
    nets = {net.name for net in case.plan.circuit.nets}
    for number, bridge, name in _told(case):
        if bridge.net not in nets:
            continue
        for hole in dict.fromkeys(bridge.between):
            reached = case.copper.reach_without_bridge(number, hole)
            if reached is None:
                continue
            owners = nets_on(case, reached)
            if bridge.net not in owners:
                yield fault(
                    "bridge-off-net",
                    f"{name} is at {hole}, on copper that carries {carried(reached, owners)} ({reached.segments[0]})",
                )


def bridges_are_needed(case: Case) -> Iterable[Diagnostic]:
    """A bridge whose ends are joined without it is solder for nothing."""
    seen = set()
    for number, bridge, name in _told(case):
        one, other = bridge.between
        reached = case.copper.reach_without_bridge(number, one)
        doubled = frozenset(bridge.between) in seen  # told as made twice
        seen.add(frozenset(bridge.between))
        if one != other and not doubled and reached and any(other in piece.holes for piece in reached.segments):
            yield warning(
                "needless-bridge", f"{name} joins {one} and {other}, which are joined without it", "leave it out"
            )
