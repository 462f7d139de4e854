"""Bodies: to scale, turned and never mirrored, with the mark of pin 1 or of the polarity where it belongs."""

from __future__ import annotations

import math

import pytest

from placer.guide.bodies import Art, extent, part_art
from placer.guide.room import Box
from placer.guide.scene import Circle
from placer.packages.catalogue import lookup, names
from placer.packages.model import Diagonal, Flying, Package, Rigid, TwoLead

TURNS = [(1, 0), (0, 1), (-1, 0), (0, -1)]


def turned(package: Package, turn: int, span: int | None = None) -> dict[str, tuple[float, float]]:
    """Pins of a package at (50, 50) after quarter turns clockwise: (x, y) -> (-y, x) each."""
    form = package.form
    if isinstance(form, Rigid):
        offsets: tuple[tuple[int, int], ...] = form.offsets
    elif isinstance(form, Diagonal):
        offsets = ((0, 0), (1, 1))
    else:
        assert isinstance(form, TwoLead)
        offsets = ((0, 0), (span or form.flat[0], 0))
    places = {}
    for pin, (x, y) in zip(package.pins, offsets, strict=True):
        for _ in range(turn):
            x, y = -y, x
        places[pin] = (50 + 2.54 * x, 50 + 2.54 * y)
    return places


def art_of(
    name: str, turn: int = 0, mount: str = "flat", span: int | None = None
) -> tuple[Art, dict[str, tuple[float, float]]]:
    package = lookup(name)
    pins = turned(package, turn, span)
    art = part_art(package, mount, pins)
    assert art is not None
    return art, pins


@pytest.mark.parametrize("turn", range(4))
@pytest.mark.parametrize("name", ["dip-8", "dip-14", "dip-40-wide", "to-220", "terminal-2", "header-4", "button-6"])
def test_rigid_outline_is_the_package_body_turned(name: str, turn: int) -> None:
    form = lookup(name).form
    assert isinstance(form, Rigid)
    assert form.body is not None
    x0, y0, x1, y1 = form.body
    corners = [(x0, y0), (x1, y1)]
    for _ in range(turn):
        corners = [(-y, x) for x, y in corners]
    box = Box.around([(50 + x, 50 + y) for x, y in corners])
    art, _ = art_of(name, turn)

    hull = Box.around(art.hull)
    assert (hull.x0, hull.y0, hull.x1, hull.y1) == pytest.approx((box.x0, box.y0, box.x1, box.y1), abs=1e-9)


@pytest.mark.parametrize("turn", range(4))
@pytest.mark.parametrize("name", ["dip-4", "dip-8", "dip-16", "dip-28-wide"])
def test_dip_dot_stands_at_pin_1_and_notch_between_first_and_last_pin(name: str, turn: int) -> None:
    art, pins = art_of(name, turn)
    notch, dot = art.marks
    assert isinstance(dot, Circle)
    assert min(pins, key=lambda p: math.dist(pins[p], (dot.x, dot.y))) == "1"
    first, last = pins["1"], pins[lookup(name).pins[-1]]
    middle = (first[0] + last[0]) / 2, (first[1] + last[1]) / 2
    at = extent(notch).centre
    far = [math.dist(((pins[a][0] + pins[b][0]) / 2, (pins[a][1] + pins[b][1]) / 2), at) for a, b in _faces(name)]
    assert math.dist(middle, at) == pytest.approx(min(far))


def _faces(name: str) -> list[tuple[str, str]]:
    """Opposite pins: k faces n + 1 - k."""
    pins = lookup(name).pins
    return [(pins[i], pins[-1 - i]) for i in range(len(pins) // 2)]


@pytest.mark.parametrize("turn", range(4))
@pytest.mark.parametrize("span", [4, 6, 8])
def test_diode_bar_is_at_the_cathode(turn: int, span: int) -> None:
    art, pins = art_of("do-41", turn, span=span)
    bar = extent(art.marks[0])
    assert math.dist(bar.centre, pins["2"]) < math.dist(bar.centre, pins["1"])


@pytest.mark.parametrize("turn", range(4))
@pytest.mark.parametrize(
    ("name", "span"), [("radial-5", 1), ("radial-5", 2), ("radial-8", 2), ("led-3", 1), ("led-5", 2)]
)
def test_plus_is_at_pin_1_and_the_other_mark_at_pin_2(name: str, span: int, turn: int) -> None:
    art, pins = art_of(name, turn, span=span)
    minus, plus = (extent(mark) for mark in art.marks)
    assert math.dist(plus.centre, pins["1"]) < math.dist(plus.centre, pins["2"])
    assert math.dist(minus.centre, pins["2"]) < math.dist(minus.centre, pins["1"])
    body = Box.around(art.hull)
    assert body.grown(0.01).holds(plus)
    assert math.dist(plus.centre, pins["1"]) > 0.6  # not under the lead's dot


@pytest.mark.parametrize("turn", range(4))
def test_to92_flat_faces_the_reader_when_1_2_3_run_left_to_right(turn: int) -> None:
    """Flat facing you, leads down: 1, 2, 3 from left to right (package guide page on TO-92)."""
    art, pins = art_of("to-92", turn)
    flat = extent(art.shapes[-1]).centre
    (x1, y1), (x3, y3) = pins["1"], pins["3"]
    cross = (x3 - x1) * (flat[1] - y1) - (y3 - y1) * (flat[0] - x1)
    assert cross > 0  # y runs down: the flat lies to the right hand of the way from 1 to 3


@pytest.mark.parametrize("turn", range(4))
def test_axial_body_is_centred_between_its_leads(turn: int) -> None:
    art, pins = art_of("axial-0207", turn, span=6)
    hull = Box.around(art.hull)
    middle = tuple((a + b) / 2 for a, b in zip(pins["1"], pins["2"], strict=True))
    assert hull.centre == pytest.approx(middle)
    assert sorted((hull.width, hull.height)) == pytest.approx([2.5, 6.5])


def test_standing_part_takes_the_strip_from_pin_to_pin() -> None:
    art, _ = art_of("axial-0207", 0, "standing", span=2)
    hull = Box.around(art.hull)
    assert (hull.width, hull.height) == pytest.approx((2 * 2.54 + 2.5, 2.5))


def test_part_on_a_diagonal_is_turned_as_a_whole() -> None:
    package = lookup("axial-0207")
    art = part_art(package, "flat", {"1": (10, 10), "2": (10 + 3 * 2.54, 10 + 4 * 2.54)})
    assert art is not None
    sides = sorted(math.dist(a, b) for a, b in zip(art.hull, (*art.hull[1:], art.hull[0]), strict=True))
    assert sides == pytest.approx([2.5, 2.5, 6.5, 6.5])


@pytest.mark.parametrize("name", [n for n in names() if "N" not in n])
def test_every_package_can_be_drawn_and_stays_within_its_outline(name: str) -> None:
    package = lookup(name)
    if isinstance(package.form, Flying):
        assert part_art(package, "flat", {p: (2.54 * i, 0) for i, p in enumerate(package.pins)}) is None
        return
    art, pins = art_of(name)
    reach = Box.around([*art.hull, *pins.values()]).grown(1.7)
    assert all(reach.holds(extent(s)) for s in (*art.shapes, *art.marks))
