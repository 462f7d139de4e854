"""Ports in use: what a board is electrically while connectors stand in some of its ports.

A pad of a port is addressed as ``PORT.PAD`` (``P1.2``). In use it is a hole of the strip that the board says it joins,
or a piece of copper of its own where the board says none.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from placer.boards.model import Board, CutRule, Hole, Port, Strip


def pad_address(port: str, pad: str) -> str:
    """Return how a port's pad is written."""
    return f"{port}.{pad}"


def port_at(board: Board, address: str) -> tuple[Port, str] | None:
    """Return the port and the pad that an address means, None for an address that is no pad of the board."""
    name, _, pad = address.partition(".")
    port = board.ports.get(name)
    return None if port is None or pad not in port.pads else (port, pad)


def with_ports(board: Board, used: Iterable[str]) -> Board:
    """Return the board with the pads of the ports in use as holes; ports it does not have are passed over.

    A pad stands at the free grid position next to where it truly is, so that what reckons in steps is off by a step at
    most; in mm it is where it is. It joins its strip at the hole next to it, by copper off the grid, and a strip with a
    pad in use is not cut: where its copper runs there is not known.
    """
    ports = [board.ports[name] for name in dict.fromkeys(used) if name in board.ports]
    if not ports:
        return board
    holes = dict(board.holes)
    taken = set(board.hole_at)
    strips = {strip.name: strip for strip in board.strips}
    first = next(iter(board.holes.values()))
    origin = (first.x_mm - first.x * board.pitch_mm, first.y_mm - first.y * board.pitch_mm)
    widest = max(hole.diameter_mm for hole in board.holes.values())
    for port in ports:
        for pad, (x_mm, y_mm) in port.pads.items():
            true = (x_mm - origin[0]) / board.pitch_mm, (y_mm - origin[1]) / board.pitch_mm
            x, y = _free_place(true, taken)
            taken.add((x, y))
            address = pad_address(port.name, pad)
            holes[address] = Hole(address, x, y, x_mm, y_mm, widest)
            joined = strips.get(port.strips.get(pad, ""))
            if joined is None:
                strips[address] = Strip(address, (address,), ())
                continue
            nearest = min(joined.holes, key=lambda one: math.hypot(holes[one].x_mm - x_mm, holes[one].y_mm - y_mm))
            link = (nearest, address)
            strips[joined.name] = replace(
                joined,
                holes=(*joined.holes, address),
                links=(*joined.links, link),
                off_grid=(*joined.off_grid, link),
                cut=CutRule(),
            )
    return replace(board, holes=holes, strips=tuple(strips.values()))


def _free_place(true: tuple[float, float], taken: set[tuple[int, int]]) -> tuple[int, int]:
    """The grid position nearest to a point where no hole is."""
    x, y = round(true[0]), round(true[1])
    reach = 0
    while True:
        around = [(x + dx, y + dy) for dx in range(-reach, reach + 1) for dy in range(-reach, reach + 1)]
        free = [place for place in around if place not in taken]
        if free:
            return min(free, key=lambda place: (math.hypot(place[0] - true[0], place[1] - true[1]), place))
        reach += 1
