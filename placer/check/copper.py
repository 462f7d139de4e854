"""Rules on conductors: every net is one, no two nets share one, open pins touch nothing."""

from __future__ import annotations

from collections.abc import Iterable

from placer.check.case import Case
from placer.check.report import fault, listed, pins_with_holes
from placer.circuit.model import PinRef
from placer.errors import Diagnostic
from placer.plan.conductors import Conductor


def nets_are_in_one_piece(case: Case) -> Iterable[Diagnostic]:
    """All placed pins of a net stand on one conductor. Pins without a hole are told elsewhere."""
    hole_of = case.copper.hole_of
    for net in case.plan.circuit.nets:
        groups: dict[Conductor | PinRef, list[PinRef]] = {}
        for pin in net.pins:
            if hole_of.get(pin) in case.plan.board.holes:
                groups.setdefault(case.copper.conductor_at(hole_of[pin]) or pin, []).append(pin)
        if len(groups) > 1:
            pieces = "; ".join(
                f"{pins_with_holes(pins, hole_of)} on "
                + (_copper_of(case, spot, pins) if isinstance(spot, Conductor) else "no copper")
                for spot, pins in groups.items()
            )
            yield fault(
                "net-apart", f"net {net.name} is in {len(groups)} pieces: {pieces}", "join the pieces with jumpers"
            )


def nets_are_apart(case: Case) -> Iterable[Diagnostic]:
    """No two nets share a conductor."""
    for conductor in case.copper.conductors:
        owners = nets_on(case, conductor)
        if len(owners) > 1:
            carried = "; ".join(f"{net}: {pins_with_holes(pins, case.copper.hole_of)}" for net, pins in owners.items())
            everyone = [pin for pins in owners.values() for pin in pins]
            where = _copper_of(case, conductor, everyone)
            yield fault("nets-shorted", f"nets {listed(owners)} are shorted on {where}; {carried}")


def open_pins_touch_nothing(case: Case) -> Iterable[Diagnostic]:
    """A pin in no net (with the pins metal joins it to inside its part) shares its conductor with no other pin."""
    for conductor in case.copper.conductors:
        for group in dict.fromkeys(case.group_of[pin] for pin in conductor.pins if case.nets_of.get(pin) == ()):
            others = [pin for pin in conductor.pins if pin not in group]
            if others:
                mine = [pin for pin in conductor.pins if pin in group]
                nets = listed(nets_on(case, conductor))
                touched = pins_with_holes(others, case.copper.hole_of) + (f" of net {nets}" if nets else "")
                yield fault(
                    "open-pin-touched",
                    f"{pins_with_holes(mine, case.copper.hole_of)}, in no net, must touch nothing; on "
                    f"{_copper_of(case, conductor, conductor.pins)} it meets {touched}",
                )


def joined_pins_are_of_one_net(case: Case) -> Iterable[Diagnostic]:
    """Metal inside a part never joins two nets."""
    for group in dict.fromkeys(case.group_of.values()):
        nets = case.nets_of[group[0]]
        if len(nets) > 1:
            yield fault(
                "nets-shorted",
                f"nets {listed(nets)} are shorted inside {group[0].part}: {listed(group)} are one piece of metal",
            )


def nets_on(case: Case, conductor: Conductor) -> dict[str, list[PinRef]]:
    """The nets that own pins on a conductor, with those pins; nets in the circuit's order."""
    owners: dict[str, list[PinRef]] = {}
    for pin in conductor.pins:
        for net in case.nets_of.get(pin, ()):
            owners.setdefault(net, []).append(pin)
    return {net.name: owners[net.name] for net in case.plan.circuit.nets if net.name in owners}


def carried(conductor: Conductor, owners: dict[str, list[PinRef]]) -> str:
    """What a conductor carries, in words; ``owners`` as :func:`nets_on` finds them."""
    if owners:
        return f"net {listed(owners)}"
    return f"only {listed(conductor.pins)}, in no net" if conductor.pins else "no pin"


def _copper_of(case: Case, conductor: Conductor, pins: Iterable[PinRef]) -> str:
    """The segments of a conductor that these pins stand on."""
    wanted = set(pins)
    segments = [segment for segment in conductor.segments if wanted.intersection(case.copper.pins_at(segment))]
    return listed(segments)
