"""What the pins of the demo circuits' active parts do, as far as a lint needs to know.

Functions of the pins: from the makers' published data for these generic parts, from memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Pinout:
    """``supply``: pairs of (supply pin, ground pin), each to be decoupled. ``inputs`` must not float.

    ``outputs`` must not be joined to one another. ``may_open``: pins that may stay unconnected.
    ``op_amps``: (output, inverting, non-inverting) of each section.
    """

    supply: tuple[tuple[str, str], ...]
    inputs: frozenset[str] = frozenset()
    outputs: frozenset[str] = frozenset()
    may_open: frozenset[str] = frozenset()
    op_amps: tuple[tuple[str, str, str], ...] = field(default=())


def _op_amps(supply: tuple[str, str], *sections: tuple[str, str, str]) -> Pinout:
    inputs = frozenset(pin for _, minus, plus in sections for pin in (minus, plus))
    return Pinout((supply,), inputs, frozenset(out for out, _, _ in sections), op_amps=sections)


_PORTS = frozenset(str(n) for n in (*range(2, 7), *range(11, 20), *range(23, 29)))

PINOUTS: Mapping[tuple[str, str], Pinout] = {
    ("dip-8", "timer"): Pinout((("8", "1"),), frozenset("246"), frozenset("3")),
    ("dip-8", "audio amplifier"): Pinout((("6", "4"),), frozenset("23"), frozenset("5")),
    ("dip-8", "dual op-amp"): _op_amps(("8", "4"), ("1", "2", "3"), ("7", "6", "5")),
    ("dip-14", "quad op-amp"): _op_amps(
        ("4", "11"), ("1", "2", "3"), ("7", "6", "5"), ("8", "9", "10"), ("14", "13", "12")
    ),
    ("dip-16", "decade counter"): Pinout(
        (("16", "8"),),
        frozenset({"13", "14", "15"}),
        frozenset({"1", "2", "3", "4", "5", "6", "7", "9", "10", "11", "12"}),
        frozenset({"12"}),
    ),
    ("dip-16", "shift register"): Pinout(
        (("16", "8"),),
        frozenset({"10", "11", "12", "13", "14"}),
        frozenset({"1", "2", "3", "4", "5", "6", "7", "9", "15"}),
        frozenset({"9"}),
    ),
    # Port pins that stay open are made outputs by the firmware, so they do not float.
    ("dip-28", "microcontroller"): Pinout((("7", "8"), ("20", "22")), frozenset({"1"}), frozenset(), _PORTS),
}

# Input, ground, output. 78L05: the LM78Lxx datasheet as quoted in a public page; 7805: TO-220 pinout pages.
REGULATORS: Mapping[tuple[str, str], tuple[str, str, str]] = {
    ("to-92", "78L05"): ("3", "2", "1"),
    ("to-220", "7805"): ("1", "2", "3"),
}

LOADS_THAT_KICK = ("motor", "fan", "heating mat", "warming mat")
"""Connector values behind which a coil may hang; loudspeakers are driven through a capacitor and not switched."""
