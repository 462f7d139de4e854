"""What holds for every package, however it was written: the catalogue's, a user's own, or one read from a plan."""

from __future__ import annotations

from collections import Counter

from placer.packages.faults import PackageFault
from placer.packages.model import Diagonal, Flying, Package, Rigid, TwoLead


def package_faults(package: Package) -> list[PackageFault]:
    """Every rule that the package breaks; an empty list is a pass. ``loc`` uses the field names of the YAML syntax."""
    return [*_pins(package), *_form(package), *_names(package), *_joined(package), *_sides(package)]


def _pins(package: Package) -> list[PackageFault]:
    faults = []
    for pin, times in Counter(package.pins).items():
        if times > 1:
            faults.append(PackageFault(("pins",), f"pin {pin} is listed {times} times", "list each pin once"))
        if not pin or any(c.isspace() or c == "." for c in pin):
            faults.append(PackageFault(("pins",), f"'{pin}' cannot be a pin", "no spaces and no full stop"))
    return faults


def _form(package: Package) -> list[PackageFault]:
    form, count = package.form, len(package.pins)
    faults: list[PackageFault] = []
    match form:
        case Rigid():
            if len(form.offsets) != count:
                faults.append(PackageFault(("rows",), f"{count} pins but {len(form.offsets)} places for them"))
            elif form.offsets[0] != (0, 0):
                faults.append(PackageFault(("rows",), f"the first pin is at {form.offsets[0]}, expected (0, 0)"))
            for place, times in Counter(form.offsets).items():
                if times > 1:
                    faults.append(PackageFault(("rows",), f"{times} pins share the place {place}"))
            if form.body and not (form.body[0] < form.body[2] and form.body[1] < form.body[3]):
                faults.append(PackageFault(("body_mm",), f"the body {form.body} has no area"))
        case TwoLead():
            if not form.flat and not form.standing:
                help_ = "lead distances in steps of 2.54 mm, such as flat: 4..8"
                faults.append(PackageFault((), "neither flat nor standing says how far apart the leads are", help_))
            for field, spans in (("flat", form.flat), ("standing", form.standing)):
                if list(spans) != sorted(set(spans)) or any(span < 1 for span in spans):
                    message = f"{spans} are not lead distances in rising order from 1 step"
                    faults.append(PackageFault((field,), message))
            if form.standing and form.upright <= 0:
                faults.append(PackageFault(("upright_mm",), "a standing part needs a width"))
        case Diagonal() | Flying():
            pass
    if isinstance(form, TwoLead | Diagonal) and count != 2:
        faults.append(PackageFault(("pins",), f"this form has two pins; found {count}"))
    return faults


def _names(package: Package) -> list[PackageFault]:
    faults = []
    for alias, pin in package.pin_names.items():
        if pin not in package.pins:
            help_ = f"the pins are {', '.join(package.pins)}"
            faults.append(PackageFault(("names", alias), f"{alias} stands for pin {pin}, which is not there", help_))
        if alias in package.pins and alias != pin:
            help_ = "choose a name that is no pin"
            faults.append(PackageFault(("names", alias), f"{alias} is a pin and cannot name pin {pin} too", help_))
        if not alias or any(c.isspace() or c == "." for c in alias):
            faults.append(PackageFault(("names", alias), f"'{alias}' cannot name a pin", "no spaces and no full stop"))
    return faults


def _joined(package: Package) -> list[PackageFault]:
    faults = []
    seen: set[str] = set()
    for index, group in enumerate(package.joined):
        if len(set(group)) < 2:
            faults.append(PackageFault(("joined", index), "a joined group needs two pins or more"))
            continue
        for pin in group:
            if pin not in package.pins:
                help_ = f"the pins are {', '.join(package.pins)}"
                faults.append(PackageFault(("joined", index), f"pin {pin} is not there", help_))
            elif pin in seen:
                faults.append(PackageFault(("joined", index), f"pin {pin} is listed twice", "write one larger group"))
            seen.add(pin)
    return faults


def _sides(package: Package) -> list[PackageFault]:
    if not package.symmetric:
        return []
    if not isinstance(package.form, TwoLead):
        return [PackageFault(("symmetric",), "only a two-lead part can be symmetric")]
    if package.polarity or package.pin_names:
        help_ = "take out symmetric, or polarity and names"
        return [PackageFault(("symmetric",), "a part with a polarity or pin names is not symmetric", help_)]
    return []
