"""Rules on ports: a connector stands in a port of the board only as wished, made for it, and alone."""

from __future__ import annotations

from collections.abc import Iterable

from placer.boards.ports import port_at
from placer.check.case import Case
from placer.check.report import fault
from placer.errors import Diagnostic


def parts_are_in_the_ports_wished(case: Case) -> Iterable[Diagnostic]:
    """A part that is wished into a port has every pin in the pad of that number; no other part stands in a port."""
    board = case.plan.board
    for item in case.placed:
        ref, wished = item.part.ref, item.part.place.port
        for pin, address in item.placement.pins.items():
            found = port_at(board, address)
            if wished is not None and (found is None or (found[0].name, found[1]) != (wished, pin)):
                yield fault("port-missed", f"{ref}.{pin} is in {address}, but {ref} is wished into port {wished}")
            elif wished is None and found is not None:
                yield fault("port-not-wished", f"{ref}.{pin} is in {address}, a port that {ref} is not wished into")


def parts_fit_their_ports(case: Case) -> Iterable[Diagnostic]:
    """A port takes the packages it is made for, with a pad for each of their pins."""
    ports = case.plan.board.ports
    for item in case.placed:
        port = ports.get(item.part.place.port or "")
        if item.part.place.port is not None and port is None:
            yield fault(
                "port-unknown", f"{item.part.ref} is wished into port {item.part.place.port}; the board has none"
            )
        elif port is not None and (item.package.name not in port.fits or set(item.package.pins) != set(port.pads)):
            made_for = " or ".join(port.fits)
            yield fault(
                "port-misfit", f"port {port.name} is made for {made_for}, not for {item.part.ref} ({item.package.name})"
            )


def wires_stay_out_of_ports(case: Case) -> Iterable[Diagnostic]:
    """No wire end and no other lead goes into a pad."""
    for use in case.uses:
        if not use.part and port_at(case.plan.board, use.hole) is not None:
            yield fault("wire-in-port", f"{use.name} ends in {use.hole}, a pad of a port")
