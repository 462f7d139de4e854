"""The case before the judge: a plan with what several rules need to know, derived once from circuit and board data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from placer.boards.model import Hole
from placer.check.shape import Stance, stance_of
from placer.circuit.model import Part, PinRef
from placer.packages.model import Package
from placer.plan.conductors import CopperMap, group_of_pins, natural_key
from placer.plan.model import Placement, Plan


@dataclass(frozen=True)
class Use:
    """Something that stands in a hole: a pin (``R1.2``) or a wire end (``jumper 3``). ``part`` is "" for wire ends."""

    hole: str
    name: str
    part: str = ""


@dataclass(frozen=True)
class Placed:
    """A part of the circuit that the plan places, with its package and the pins that stand in holes the board has."""

    part: Part
    package: Package
    placement: Placement
    holes: Mapping[str, Hole]  # pin number -> hole


def jumper_name(number: int) -> str:
    """What messages call a jumper; numbered from 1 in the order of the plan."""
    return f"jumper {number + 1}"


@dataclass(frozen=True)
class Case:
    """A plan under judgement; its board has the pads of ports in use among its holes (see ``mounted``)."""

    plan: Plan

    @cached_property
    def copper(self) -> CopperMap:
        """Segments and conductors as built."""
        return CopperMap(self.plan)

    @cached_property
    def placed(self) -> tuple[Placed, ...]:
        """Known parts of known package that the plan places, in natural order of their references."""
        circuit, board = self.plan.circuit, self.plan.board
        found = []
        for ref in sorted(self.plan.placements, key=natural_key):
            part = circuit.part_by_ref.get(ref)
            package = circuit.packages.get(part.package) if part else None
            if part is None or package is None:
                continue
            placement = self.plan.placements[ref]
            holes = {
                pin: board.holes[placement.pins[pin]] for pin in package.pins if placement.pins.get(pin) in board.holes
            }
            found.append(Placed(part, package, placement, holes))
        return tuple(found)

    @cached_property
    def stances(self) -> Mapping[str, Stance]:
        """How each placed part stands: rotation, bodies and what is wrong with its geometry, by reference."""
        return {
            item.part.ref: stance_of(item.part, item.package, item.placement, item.holes, self.plan.options.diagonals)
            for item in self.placed
        }

    @cached_property
    def uses(self) -> tuple[Use, ...]:
        """Every pin and wire end of the plan with the hole it claims, known or not, in natural order."""
        pins = [
            Use(hole, f"{ref}.{pin}", ref)
            for ref in sorted(self.plan.placements, key=natural_key)
            for pin, hole in sorted(self.plan.placements[ref].pins.items(), key=lambda item: natural_key(item[0]))
        ]
        ends = [
            Use(hole, jumper_name(number))
            for number, jumper in enumerate(self.plan.jumpers)
            for hole in (jumper.start, jumper.end)
        ]
        return tuple(pins + ends)

    @cached_property
    def group_of(self) -> Mapping[PinRef, tuple[PinRef, ...]]:
        """Pins that metal inside a part joins to each pin, itself included."""
        return group_of_pins(self.plan.circuit)

    @cached_property
    def nets_of(self) -> Mapping[PinRef, tuple[str, ...]]:
        """Nets that own each pin: its own, or those of the pins that metal inside the part joins to it; () for open."""
        own = self.plan.circuit.net_of
        return {
            pin: tuple(dict.fromkeys(own[mate] for mate in group if mate in own))
            for pin, group in self.group_of.items()
        }
