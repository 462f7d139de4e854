"""The ways to lay a package against an enumeration of their own, for every package of the catalogue."""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import replace

import pytest

from placer.boards.model import Hole
from placer.check.rectangle import Rectangle
from placer.packages.catalogue import families, lookup, names
from placer.packages.model import STEP_UM, Diagonal, Flying, Package, Rigid, TwoLead
from placer.solve.arrays import covered
from placer.solve.shapes import Shape, shapes
from placer.solve.touching import touches
from tests.solve.cases import package
from tests.solve.poses import PITCH, Oblong, between, half_um

ALL = [lookup(name) for name in names()]
for family in families():
    ALL += [
        lookup(family.name(n)) for n in sorted({family.first, min(family.first + 2, family.last), min(8, family.last)})
    ]
OWN = [
    package("thin", TwoLead((2, 3), (1, 2), 4.1, 1.3, 2.7), 2),
    package("slant", Diagonal(5.0, 2.0), 2),
    package("fat-slant", Diagonal(6.35, 6.35), 2),
    package("corner", Rigid(((0, 0), (1, 0), (1, 2)), (-0.7, -1.1, 3.9, 6.3)), 3),
    package("bare", Rigid(((0, 0), (3, 1)), None), 2),
]
PLANE = [complex(x, y) for x in range(-20, 21) for y in range(-20, 21) if x or y]
BODIES = ("axial-0207", "film-10", "radial-5", "dip-8", "to-92")


def turned(point: complex, degrees: int) -> complex:
    """x right, y down: a quarter turn clockwise as seen is a factor of i."""
    return point * 1j ** (degrees // 90)


def laid(own: Package, *, diagonals: bool) -> set[tuple[object, ...]]:
    """(pin places, mount, rotation of those on the axes) of every way to lay a package, pin 1 at the origin."""
    form = own.form
    found: set[tuple[object, ...]] = set()
    if isinstance(form, Rigid):
        for degrees in (0, 90, 180, 270):
            found.add((tuple(turned(complex(*o), degrees) for o in form.offsets), "flat", degrees))
    elif isinstance(form, Diagonal):
        for degrees in (0, 90, 180, 270):
            found.add(((0j, turned(1 + 1j, degrees)), "flat", degrees))
    elif isinstance(form, TwoLead):
        for mount, spans in (("flat", form.flat), ("standing", form.standing)):
            for point in PLANE:
                if 0 in (point.real, point.imag):
                    if abs(point) in spans:
                        degrees = next(d for d in (0, 90, 180, 270) if turned(1 + 0j, d) * abs(point) == point)
                        found.add(((0j, point), mount, degrees))
                elif diagonals and spans and min(spans) ** 2 <= point.real**2 + point.imag**2 <= max(spans) ** 2:
                    found.add(((0j, point), mount, None))
    return found


def bodies(own: Package, pins: tuple[complex, ...], mount: str, degrees: int | None) -> list[Oblong]:
    """The rectangles that a package takes, worked out from the rules."""
    form = own.form
    if isinstance(form, Rigid):
        if form.body is None:
            return []
        corners = [turned(complex(*(round(v * 1000) for v in c)), degrees or 0) for c in (form.body[:2], form.body[2:])]
        middle, reach = sum(corners) / 2, corners[1] - corners[0]
        return [Oblong(middle.real, middle.imag, 1.0, 0.0, abs(reach.real) / 2, abs(reach.imag) / 2)]
    ends = [Hole("", int(p.real), int(p.imag), 0.0, 0.0, 1.0) for p in pins]
    if isinstance(form, Diagonal):
        return [between(*ends, half_um(form.length), half_um(form.width))]
    assert isinstance(form, TwoLead)
    reach_um = abs(pins[1]) * PITCH / 2
    if mount == "standing":
        radius = half_um(form.upright)
        return [between(*ends, reach_um + radius, radius)]
    return [between(*ends, half_um(form.length), half_um(form.width)), between(*ends, reach_um, half_um(own.lead_mm))]


@pytest.mark.parametrize("diagonals", [False, True])
@pytest.mark.parametrize("own", [*ALL, *OWN], ids=lambda own: own.name)
def test_every_way_and_no_other(own: Package, diagonals: bool) -> None:
    found = set()
    for shape in shapes(own, diagonals=diagonals):
        # Flexible leads off the axes are at no quarter turn.
        turn = None if isinstance(own.form, TwoLead) and 0 not in shape.offsets[1] else shape.rotation
        found.add((tuple(complex(*o) for o in shape.offsets), shape.mount, turn))
    if isinstance(own.form, Flying):
        assert not found
        return
    expected = laid(own, diagonals=diagonals)
    if isinstance(own.form, Rigid) and len(own.form.offsets) == 1:
        assert {key[:2] for key in found} == {key[:2] for key in expected}  # turning one pin changes nothing
        return
    assert found == expected


@pytest.mark.parametrize("own", [*ALL, *OWN], ids=lambda own: own.name)
def test_holes_under_the_body_are_those_under_its_rectangles(own: Package) -> None:
    """Exactly: one hole too many would hide plans and raise bounds, one too few would pass what cannot be built."""
    for shape in shapes(own, diagonals=True):
        pins = tuple(complex(*o) for o in shape.offsets)
        mine = bodies(own, pins, shape.mount, shape.rotation)
        under = {
            (int(p.real), int(p.imag))
            for p in (*PLANE, 0j)
            if any(b.holds(p.real * PITCH, p.imag * PITCH) for b in mine)
        }
        far = {(x, y) for x, y in covered(shape) if max(abs(x), abs(y)) > 20}
        assert set(covered(shape)) - far == under - set(shape.offsets), shape.offsets


@pytest.mark.parametrize("own", [own for own in (*ALL, *OWN) if isinstance(own.form, Rigid)], ids=lambda own: own.name)
def test_never_a_mirror_image(own: Package) -> None:
    """The way round that three pins run in is the package's own in every shape."""
    assert isinstance(own.form, Rigid)

    def way_round(offsets: tuple[tuple[int, int], ...]) -> list[float]:
        points = [complex(*o) for o in offsets]
        return [((b - points[0]).conjugate() * (c - points[0])).imag for b, c in itertools.pairwise(points[1:])]

    for shape in shapes(own):
        assert way_round(shape.offsets) == way_round(own.form.offsets)
        apart = [math.dist(a, b) for a, b in zip(shape.offsets, shape.offsets[1:], strict=False)]
        assert apart == [math.dist(a, b) for a, b in zip(own.form.offsets, own.form.offsets[1:], strict=False)]


def rectangles(shape: Shape) -> list[Rectangle]:
    """The bodies of a shape as the judge has them."""
    boxes = [((x0 + x1) / 2, (y0 + y1) / 2, 1.0, 0.0, (x1 - x0) / 2, (y1 - y0) / 2) for x0, y0, x1, y1 in shape.boxes]
    return [Rectangle((cx, cy), (ux, uy), *half) for cx, cy, ux, uy, *half in shape.slants or boxes]


@pytest.mark.parametrize(("one", "other"), [*itertools.combinations_with_replacement(BODIES, 2)])
def test_bodies_meet_where_the_judge_says_so(one: str, other: str) -> None:
    dice = random.Random(f"{one} {other}")
    some, others = (shapes(lookup(name), diagonals=True) for name in (one, other))
    met = 0
    for _ in range(400):
        a, b = dice.choice(some), dice.choice(others)
        x, y = (dice.randint(-5, 5) for _ in range(2))
        moved = [replace(r, centre=(r.centre[0] + x * STEP_UM, r.centre[1] + y * STEP_UM)) for r in rectangles(b)]
        meet = any(r.overlaps(q) for r in rectangles(a) for q in moved)
        assert touches(a, b, x, y) is meet
        met += meet
    assert 20 < met < 380
