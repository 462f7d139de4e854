"""Rules on completeness: the plan is as it was written, and places every part of the circuit with every pin."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from placer.check.case import Case
from placer.check.report import fault, listed
from placer.circuit.model import PinRef
from placer.errors import Diagnostic
from placer.plan.conductors import natural_key


def the_file_is_sound(case: Case) -> Iterable[Diagnostic]:
    """What the reader of the plan's file found wrong in it."""
    return case.plan.doubts


def nets_list_pins_that_exist(case: Case) -> Iterable[Diagnostic]:
    """Every pin in a net belongs to a part and its package, and to one net only."""
    circuit = case.plan.circuit
    times = Counter(pin for net in circuit.nets for pin in net.pins)
    for net in circuit.nets:
        for pin in dict.fromkeys(net.pins):
            if pin.part not in circuit.part_by_ref:
                yield fault("unknown-part", f"net {net.name} lists {pin}, but the circuit has no part {pin.part}")
            elif pin not in case.group_of and circuit.part_by_ref[pin.part].package in circuit.packages:
                package = circuit.part_by_ref[pin.part].package
                yield fault("unknown-pin", f"net {net.name} lists {pin}, but package {package} has no pin {pin.pin}")
            if times[pin] > 1:
                nets = listed(other.name for other in circuit.nets if pin in other.pins)
                yield fault("pin-in-two-nets", f"{pin} is listed {times[pin]} times, in {nets}; a pin has one net")


def every_part_is_placed(case: Case) -> Iterable[Diagnostic]:
    """Each part of the circuit has a placement, and each placement a part."""
    circuit = case.plan.circuit
    for part in circuit.parts:
        if part.ref not in case.plan.placements:
            yield fault("part-missing", f"{part.ref} ({part.package}) is in the circuit but not placed")
        if part.package not in circuit.packages:
            yield fault("unknown-package", f"{part.ref} needs package {part.package}, which the circuit does not carry")
    for ref in sorted(case.plan.placements, key=natural_key):
        placement = case.plan.placements[ref]
        if placement.ref != ref:
            yield fault("placement-misnamed", f"the placement of {ref} says it is of {placement.ref}")
        if ref not in circuit.part_by_ref:
            yield fault("unknown-part", f"{ref} ({placement.package}) is placed, but the circuit has no such part")


def every_pin_is_placed(case: Case) -> Iterable[Diagnostic]:
    """A placement gives a hole to every pin of the package, and to no other."""
    for item in case.placed:
        ref, package = item.part.ref, item.package
        for pin in package.pins:
            if pin not in item.placement.pins:
                yield fault("pin-missing", f"{ref}.{pin} ({package.name}) has no hole")
        for pin in sorted(set(item.placement.pins) - set(package.pins), key=natural_key):
            hole = item.placement.pins[pin]
            yield fault("unknown-pin", f"{PinRef(ref, pin)} is placed in {hole}, but {package.name} has no pin {pin}")


def packages_are_the_circuits(case: Case) -> Iterable[Diagnostic]:
    """The package a placement names is the one the circuit gives the part."""
    for item in case.placed:
        if item.placement.package != item.part.package:
            yield fault(
                "wrong-package",
                f"{item.part.ref} is placed as {item.placement.package}; the circuit says {item.part.package}",
            )
