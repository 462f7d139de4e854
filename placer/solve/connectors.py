"""Parts whose leads enter no hole, and parts that are wished into a port of the board: their one place."""

from __future__ import annotations

from collections.abc import Iterator

from placer.boards.model import Board
from placer.boards.ports import pad_address, with_ports
from placer.circuit.model import Circuit, Part, PinRef
from placer.errors import Diagnostic, PlacerError
from placer.packages.fit import arithmetic, enters, poles_table
from placer.packages.model import Flying
from placer.solve.shapes import Shape

CODES = frozenset(("lead-too-thick", "port-unknown", "port-misfit", "port-taken", "port-shorts", "port-pad-open"))
"""Codes of what is said here: each names its part and its cause, so that no smaller conflict need be looked for."""


def board_in_use(circuit: Circuit, board: Board) -> Board:
    """Return the board with the pads of the ports that are wished for as holes.

    Raises PlacerError naming every wish for a port that cannot be kept, and every part whose leads enter no hole.
    """
    wished = [part for part in circuit.parts if part.place.port is not None]
    faults = [*_too_thick(circuit, board), *_faults(circuit, board, wished)]
    if faults:
        raise PlacerError(*faults)
    return with_ports(board, [part.place.port for part in wished if part.place.port is not None])


def place_in(part: Part, pins: tuple[str, ...], board: Board) -> tuple[Shape, str]:
    """Return how a part stands in its port (no body on the grid) and the pad of its first pin."""
    pads = [pad_address(part.place.port or "", pin) for pin in pins]
    first = board.holes[pads[0]]
    offsets = tuple((board.holes[pad].x - first.x, board.holes[pad].y - first.y) for pad in pads)
    return Shape(offsets, (), "flat", 0), pads[0]


def _too_thick(circuit: Circuit, board: Board) -> Iterator[Diagnostic]:
    widest = max(hole.diameter_mm for hole in board.holes.values())
    for part in circuit.parts:
        package = circuit.packages[part.package]
        if part.place.port is not None or isinstance(package.form, Flying) or enters(package, widest):
            continue
        table = f"; {poles_table(package.lead_mm)}" if package.shape == "terminal" and package.spread_mm else ""
        text = f"{part.ref} ({part.package}) does not enter board {board.name}: {arithmetic(package, widest)}{table}"
        ports = [port.name for port in board.ports.values() if part.package in port.fits]
        port = f", or use port {ports[0]} (place: {{port: {ports[0]}}})" if ports and not board.bridges else ""
        help_ = (
            f"bring it in on wires (place: {{flying: true}} at {part.ref}){port}, or choose a board with wider holes"
        )
        yield _refusal("lead-too-thick", text, help_)


def _faults(circuit: Circuit, board: Board, wished: list[Part]) -> Iterator[Diagnostic]:
    taken: dict[str, str] = {}
    carries: dict[str, tuple[str, str]] = {}  # strip -> net, pin
    for part in wished:
        name = part.place.port or ""
        port = board.ports.get(name)
        if port is None or board.bridges:
            ports = ", ".join(board.ports) if board.ports and not board.bridges else "none that can be used"
            text = f"{part.ref} is wished into port {name}; board {board.name} has {ports}"
            yield _refusal("port-unknown", text, "name one of them, or drop the wish")
            continue
        package = circuit.packages[part.package]
        if part.package not in port.fits or set(package.pins) != set(port.pads):
            text = f"{part.ref} ({part.package}) does not fit port {name}, which is made for {' or '.join(port.fits)}"
            yield _refusal("port-misfit", text, "use one of these packages, or drop the wish")
            continue
        if name in taken:
            text = f"{part.ref} and {taken[name]} are both wished into port {name}"
            yield _refusal("port-taken", text, "a port takes one part")
            continue
        taken[name] = part.ref
        sizes = {net.name: len(net.pins) for net in circuit.nets}
        for pin in package.pins:
            net = circuit.net_of.get(PinRef(part.ref, pin))
            if pin not in port.strips and net is not None and sizes[net] > 1:
                text = f"{part.ref}.{pin} is in net {net}, but pad {pin} of port {name} joins no strip"
                yield _refusal("port-pad-open", text, "leave that pin open, or bring the part in on wires")
        for pin, strip in port.strips.items():
            net = circuit.net_of.get(PinRef(part.ref, pin))
            mine = f"net {net}" if net is not None else f"{part.ref}.{pin}, in no net"
            other, holder = carries.setdefault(strip, (mine, f"{part.ref}.{pin}"))
            if other != mine:
                text = f"{part.ref}.{pin} ({mine}) and {holder} ({other}) are both joined to {strip}, by port {name}"
                yield _refusal("port-shorts", text, "swap the pins, or bring one of them in elsewhere")


def _refusal(code: str, message: str, help_: str) -> Diagnostic:
    return Diagnostic(code, message, help_)
