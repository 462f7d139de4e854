"""Random circuits of catalogue packages, as large as real ones."""

from __future__ import annotations

import random

from placer.circuit.model import Circuit, Net, Part, PinRef
from placer.packages.catalogue import lookup

SMALL = ("axial-0207", "axial-0204", "disc-5", "disc-2.5", "do-35", "led-5", "radial-5", "film-5", "to-92", "to-92")
LARGE = ("dip-8", "dip-8", "dip-14", "header-3", "header-2x3", "button-6", "terminal-2", "trimmer-3")


def catalogue_circuit(dice: random.Random, count: int, *, without: tuple[str, ...] = ()) -> Circuit:
    """``count`` parts, about one in four with several pins; nets over random pins, some pins open."""
    names = []
    for _ in range(count):
        some = LARGE if dice.random() < 0.25 else SMALL
        names.append(dice.choice([name for name in some if name not in without]))
    parts = tuple(Part(f"X{i + 1}", name) for i, name in enumerate(names))
    packages = {name: lookup(name) for name in names}
    pins = []
    for part in parts:
        package = packages[part.package]
        mates = {pin for group in package.joined for pin in group[1:]}
        pins += [PinRef(part.ref, pin) for pin in package.pins if pin not in mates]
    dice.shuffle(pins)
    nets = []
    while pins:
        size = min(len(pins), dice.choice((1, 2, 2, 2, 3, 3, 4, 6)))
        chosen, pins = pins[:size], pins[size:]
        if size > 1 or dice.random() < 0.3:
            nets.append(Net(f"N{len(nets) + 1}", tuple(sorted(chosen))))
    return Circuit("trial", parts, tuple(nets), packages)
