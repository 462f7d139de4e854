"""How a part stands on the grid, found from its pins alone: rotation, bodies, and what its package forbids.

All lengths are micrometres in the grid frame (hole centre = grid position x 2540); x runs right and y down, seen from
the component side. Quarter turns are clockwise: (dx, dy) becomes (-dy, dx).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from placer.boards.model import Hole
from placer.check.rectangle import Rectangle
from placer.check.report import fault, listed
from placer.circuit.model import Part
from placer.errors import Diagnostic
from placer.packages.model import STEP_UM, Diagonal, Flying, Package, Rigid, TwoLead
from placer.plan.model import Placement

Offset = tuple[int, int]
QUARTER_TURNS = (0, 90, 180, 270)


@dataclass(frozen=True)
class Stance:
    """How a part stands.

    ``rotations``: degrees that fit the pins; several for a part that turning does not change, none for one that lies
    off-axis or wrongly.
    """

    rotations: tuple[int, ...] = ()
    bodies: tuple[Rectangle, ...] = ()
    faults: tuple[Diagnostic, ...] = ()


def half_um(size_mm: float) -> int:
    """Half a size, as whole micrometres."""
    return round(size_mm * 1000 / 2)


def turned(offset: Offset, degrees: int) -> Offset:
    """An offset after a clockwise turn as seen from the component side."""
    dx, dy = offset
    for _ in range(degrees // 90):
        dx, dy = -dy, dx
    return dx, dy


def stance_of(part: Part, package: Package, placement: Placement, holes: Mapping[str, Hole], diagonals: bool) -> Stance:
    """Judge one part by the holes its pins stand in; pins in no known hole are left out of the judgement."""
    form = package.form
    # Where the pins of a part in a port are is for the rules on ports to say; its body is not on the grid.
    if isinstance(form, Flying) or part.place.port is not None:
        return Stance(QUARTER_TURNS, (), tuple(_lies_flat(part, placement)))
    if isinstance(form, Rigid):
        return _rigid(part, package, form, placement, holes)
    if len(package.pins) != 2:
        return Stance((), (), (_malformed(package, "2 pins", len(package.pins)),))
    if any(pin not in holes for pin in package.pins):
        return Stance((), (), tuple(_lies_flat(part, placement)) if isinstance(form, Diagonal) else ())
    first, second = (holes[pin] for pin in package.pins)
    if isinstance(form, Diagonal):
        return _diagonal(part, form, placement, first, second)
    return _two_lead(part, package, form, placement, first, second, diagonals)


def _malformed(package: Package, expected: str, found: int) -> Diagnostic:
    return fault("package-malformed", f"package {package.name} lists {found} pins; its form has {expected}")


def _lies_flat(part: Part, placement: Placement) -> Iterable[Diagnostic]:
    """Only parts with two flexible leads can stand; the rest are mounted one way, called flat."""
    if placement.mount != "flat":
        yield fault(
            "wrong-mount",
            f'{part.ref} ({part.package}) is mounted "{placement.mount}"; this package can only be mounted "flat"',
        )


# --- rigid parts -----------------------------------------------------------------------------------------------------


def _rigid(part: Part, package: Package, form: Rigid, placement: Placement, holes: Mapping[str, Hole]) -> Stance:
    faults = list(_lies_flat(part, placement))
    if len(form.offsets) != len(package.pins):
        faults.append(_malformed(package, f"{len(form.offsets)} pin positions", len(package.pins)))
        return Stance((), (), tuple(faults))
    offsets = dict(zip(package.pins, form.offsets, strict=True))
    stood = {pin: (hole.x, hole.y) for pin, hole in holes.items()}
    if not stood:
        return Stance((), (), tuple(faults))
    fits = _fits(offsets, stood)
    rotations = tuple(degrees for degrees, (_, agreed) in fits.items() if agreed == len(stood))
    if rotations:
        wished = part.place.rotation
        degrees = wished if wished is not None and wished in rotations else rotations[0]
        return Stance(rotations, _rigid_bodies(form, fits[degrees][0], degrees), tuple(faults))
    mirrored = {pin: (-dx, dy) for pin, (dx, dy) in offsets.items()}
    for degrees, (anchor, agreed) in _fits(mirrored, stood).items():
        if agreed == len(stood):
            faults.append(_mirrored(part, stood, holes))
            return Stance((), _rigid_bodies(form, anchor, degrees, mirror=True), tuple(faults))
    degrees, (anchor, agreed) = max(fits.items(), key=lambda item: item[1][1])
    faults.append(_misplaced(part, offsets, holes, degrees, anchor, agreed))
    return Stance((), _rigid_bodies(form, anchor, degrees) if agreed > 1 else (), tuple(faults))


def _fits(offsets: Mapping[str, Offset], stood: Mapping[str, Offset]) -> dict[int, tuple[Offset, int]]:
    """For each quarter turn: the place of pin 1's origin that most pins agree on, and how many agree."""
    found = {}
    for degrees in QUARTER_TURNS:
        votes: Counter[Offset] = Counter()
        for pin, (x, y) in stood.items():
            dx, dy = turned(offsets[pin], degrees)
            votes[(x - dx, y - dy)] += 1
        found[degrees] = max(votes.items(), key=lambda item: (item[1], -item[0][1], -item[0][0]))
    return found


def _rigid_bodies(form: Rigid, anchor: Offset, degrees: int, mirror: bool = False) -> tuple[Rectangle, ...]:
    if form.body is None:
        return ()
    x0, y0, x1, y1 = (round(value * 1000) for value in form.body)
    if mirror:
        x0, x1 = -x1, -x0
    corners = [turned(corner, degrees) for corner in ((x0, y0), (x1, y1))]
    xs = sorted(x + anchor[0] * STEP_UM for x, _ in corners)
    ys = sorted(y + anchor[1] * STEP_UM for _, y in corners)
    return (Rectangle.upright(xs[0], ys[0], xs[1], ys[1]),)


def _where(holes: Mapping[str, Hole]) -> str:
    return ", ".join(f"{pin} in {hole.address}" for pin, hole in holes.items())


def _mirrored(part: Part, stood: Mapping[str, Offset], holes: Mapping[str, Hole]) -> Diagnostic:
    return fault(
        "part-mirrored",
        f"{part.ref} ({part.package}) is mirrored: its {len(stood)} pins ({_where(holes)}) run the wrong way round, as "
        "if the part were seen from the copper side",
        "place it as seen from the component side: turn it, never mirror it",
    )


def _misplaced(
    part: Part, offsets: Mapping[str, Offset], holes: Mapping[str, Hole], degrees: int, anchor: Offset, agreed: int
) -> Diagnostic:
    stood = {pin: (hole.x, hole.y) for pin, hole in holes.items()}
    footprint = {turn: sorted(turned(offsets[pin], turn) for pin in stood) for turn in QUARTER_TURNS}
    corner = min(stood.values())
    outline = sorted((x - corner[0], y - corner[1]) for x, y in stood.values())
    for spots in footprint.values():
        if [(x - spots[0][0], y - spots[0][1]) for x, y in spots] == outline:
            return fault(
                "pin-order",
                f"{part.ref} ({part.package}) has its pins in the wrong order: {_where(holes)}; the holes fit the "
                "package, the numbers do not",
            )
    wrong = []
    for pin, hole in holes.items():
        dx, dy = turned(offsets[pin], degrees)
        if (hole.x, hole.y) != (anchor[0] + dx, anchor[1] + dy):
            wrong.append(f"{part.ref}.{pin} in {hole.address}")
    found = listed(wrong) if agreed > 1 else _where(holes)
    return fault(
        "pin-spacing",
        f"{part.ref} ({part.package}) does not fit its holes; off their places, judged from the other pins: {found}",
    )


# --- two pins --------------------------------------------------------------------------------------------------------


def _along(first: Hole, second: Hole) -> tuple[float, float, float]:
    """Unit vector from the first hole to the second, and their distance in steps."""
    dx, dy = second.x - first.x, second.y - first.y
    distance = math.hypot(dx, dy)
    return (dx / distance, dy / distance, distance) if distance else (1.0, 0.0, 0.0)


def _centred(first: Hole, second: Hole, half_along: float, half_across: float) -> Rectangle:
    """A rectangle about the middle between two holes, its length along them."""
    ux, uy, _ = _along(first, second)
    centre = ((first.x + second.x) * STEP_UM / 2, (first.y + second.y) * STEP_UM / 2)
    return Rectangle(centre, (ux, uy), half_along, half_across)


def _diagonal(part: Part, form: Diagonal, placement: Placement, first: Hole, second: Hole) -> Stance:
    faults = list(_lies_flat(part, placement))
    offset = (second.x - first.x, second.y - first.y)
    rotations = tuple(degrees for degrees in QUARTER_TURNS if turned((1, 1), degrees) == offset)
    if not rotations:
        faults.append(
            fault(
                "pin-spacing",
                f"{part.ref} ({part.package}) has its pins in {first.address} and {second.address}; it fits diagonal "
                "neighbours only, 1 step across and 1 step along",
            )
        )
    body = _centred(first, second, half_um(form.length), half_um(form.width))
    return Stance(rotations, (body,), tuple(faults))


def _two_lead(
    part: Part, package: Package, form: TwoLead, placement: Placement, first: Hole, second: Hole, diagonals: bool
) -> Stance:
    dx, dy = second.x - first.x, second.y - first.y
    faults = list(_span(part, form, placement, first, second, diagonals))
    rotations = tuple(
        degrees for degrees in QUARTER_TURNS if turned((abs(dx) + abs(dy), 0), degrees) == (dx, dy) != (0, 0)
    )
    _, _, distance = _along(first, second)
    if placement.mount == "standing":
        half = half_um(form.upright)
        return Stance(rotations, (_centred(first, second, distance * STEP_UM / 2 + half, half),), tuple(faults))
    body = _centred(first, second, half_um(form.length), half_um(form.width))
    lead = _centred(first, second, distance * STEP_UM / 2, half_um(package.lead_mm))
    return Stance(rotations, (body, lead), tuple(faults))


def _span(
    part: Part, form: TwoLead, placement: Placement, first: Hole, second: Hole, diagonals: bool
) -> Iterable[Diagnostic]:
    """The leads of a two-lead part span a distance that its mount allows, on one grid line unless diagonals may be."""
    name = f"{part.ref} ({part.package})"
    if placement.mount not in ("flat", "standing"):
        yield fault("wrong-mount", f'{name} is mounted "{placement.mount}"; expected "flat" or "standing"')
        return
    allowed = form.flat if placement.mount == "flat" else form.standing
    way = "lie flat" if placement.mount == "flat" else "stand"
    if not allowed:
        yield fault("wrong-mount", f'{name} is mounted "{placement.mount}"; this package cannot {way}')
        return
    dx, dy = abs(second.x - first.x), abs(second.y - first.y)
    holes = f"{first.address} to {second.address}"
    spans = f"{way} over {listed_steps(allowed)}"
    if 0 in (dx, dy):
        if dx + dy not in allowed:
            yield fault("wrong-span", f"{name} spans {dx + dy} steps, {holes}; it can {spans}")
        return
    if not (diagonals if part.place.diagonal is None else part.place.diagonal):
        yield fault(
            "off-axis",
            f"{name} lies on a diagonal, {holes}; diagonals are not allowed for it",
            f"put both leads on one grid line, or allow it with place: {{diagonal: true}} on {part.ref}",
        )
    if not min(allowed) ** 2 <= dx * dx + dy * dy <= max(allowed) ** 2:
        yield fault("wrong-span", f"{name} spans {math.hypot(dx, dy):.2f} steps on a diagonal, {holes}; it can {spans}")


def listed_steps(spans: tuple[int, ...]) -> str:
    """Lead distances in words: ``4 to 8 steps`` or ``1 or 2 steps``."""
    ordered = sorted(spans)
    if len(ordered) > 2 and ordered == list(range(ordered[0], ordered[-1] + 1)):
        return f"{ordered[0]} to {ordered[-1]} steps"
    return " or ".join(str(span) for span in ordered) + (" step" if ordered == [1] else " steps")
