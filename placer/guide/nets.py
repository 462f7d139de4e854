"""Which net each hole of a plan carries, worked out from the copper as it would be built."""

from __future__ import annotations

from collections.abc import Mapping

from placer.circuit.model import PinRef
from placer.plan.conductors import CopperMap
from placer.plan.model import Plan


def net_of_pins(plan: Plan) -> Mapping[PinRef, str]:
    """The net of each pin that has one."""
    return {pin: net.name for net in plan.circuit.nets for pin in net.pins}


def nets_of_holes(plan: Plan) -> Mapping[str, str]:
    """The net of each hole whose copper carries one.

    Where a plan has faults and copper joins two nets, the one whose pin comes first in natural order is told.
    """
    named = net_of_pins(plan)
    found: dict[str, str] = {}
    for conductor in CopperMap(plan).conductors:
        net = next((named[pin] for pin in conductor.pins if pin in named), "")
        if net:
            found |= {hole: net for segment in conductor.segments for hole in segment.holes}
    return found
