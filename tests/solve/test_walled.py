"""Parts whose bodies take every hole of a strip that one of their pins is on."""

from __future__ import annotations

from dataclasses import replace

import pytest

from placer.boards.catalogue import load_board
from placer.circuit.model import Circuit, Net, Part, PinRef, Place
from placer.errors import PlacerError
from placer.packages.catalogue import lookup
from placer.packages.model import Rigid
from placer.plan.model import Options
from placer.solve.api import Request
from placer.solve.arrays import covered
from placer.solve.problem import build
from placer.solve.run import solve
from placer.solve.walled import CODE, unwalled
from tests.solve.cases import board_of, package


def circuit_of(*, place: Place | None = None, joined: bool = True) -> Circuit:
    """A can as wide as four holes, and a resistor on both its pins (or on one of them)."""
    parts = (Part("C1", "radial-10", place=place or Place()), Part("R1", "axial-0207"))
    nets = [Net("A", (PinRef("C1", "1"), PinRef("R1", "1")))]
    if joined:
        nets.append(Net("B", (PinRef("C1", "2"), PinRef("R1", "2"))))
    return Circuit("can", parts, tuple(nets), {name: lookup(name) for name in ("radial-10", "axial-0207")})


def test_a_can_that_covers_three_hole_strips_is_named_with_its_pins() -> None:
    outcome = solve(Request(circuit_of(), load_board("three-hole-20x30"), Options()), lambda _: ())
    assert outcome.plan is None
    assert outcome.proved_impossible
    assert [reason.code for reason in outcome.reasons] == [CODE]
    message = outcome.reasons[0].message
    assert "C1 (radial-10)" in message
    assert "C1.1 of A or C1.2 of B" in message


def test_wishes_are_mentioned() -> None:
    with pytest.raises(PlacerError, match="stands on board three-hole-20x30 with its wishes kept"):
        build(circuit_of(place=Place(rotation=0)), load_board("three-hole-20x30"), Options())


def test_a_pin_that_nothing_is_joined_to_may_be_covered() -> None:
    build(circuit_of(joined=False), load_board("three-hole-20x30"), Options())


def test_lone_pads_that_solder_bridges_are_left_alone() -> None:
    build(circuit_of(), load_board("single-pad-30x20"), Options())


@pytest.mark.parametrize("board", ["five-hole-30", "five-hole-inner-40", "long-strip-24x37", "three-hole-20x30"])
def test_places_within_reach_are_those_that_leave_a_hole(board: str) -> None:
    p = build(circuit_of(joined=False), load_board(board), Options())
    seen = set()
    for shape, way in zip(p.items[0].shapes, p.items[0].ways, strict=True):
        for outside in ((True, True), (True, False), (False, False)):
            at = p.hx - p.x0, p.hy - p.y0, p.cell
            told = unwalled(shape, way, outside, (False, False), at, p.hstrip, p.barred)
            for h, open_ in zip(way.tolist(), told.tolist(), strict=True):
                x, y = int(p.hx[h]), int(p.hy[h])
                pins = [p.hole(x + dx, y + dy) for dx, dy in shape.offsets]
                taken = {*pins, *(p.hole(x + dx, y + dy) for dx, dy in covered(shape))}
                strips = [p.hstrip[pin] for pin, out in zip(pins, outside, strict=True) if out]
                free = (any(g not in taken for g in range(p.sstart[s], p.sstart[s] + p.slen[s])) for s in strips)
                assert open_ == all(free), (shape.rotation, p.addresses[h], outside)
                seen.add((open_, outside[0]))
    assert {(True, True), (True, False)} <= seen or board == "three-hole-20x30"
    assert ((False, True) in seen) == (board != "long-strip-24x37"), seen


def test_copper_that_the_part_itself_joins_is_reached() -> None:
    """Pins 1 and 2 fill a strip, and 2 is joined to 3 inside, to which another part comes."""
    board = board_of([[(x, 2 * y), (x, 2 * y + 1)] for y in range(3) for x in range(3)])
    row, post = Rigid(((0, 0), (0, 1), (0, 2)), None), Rigid(((0, 0),), None)
    packages = {"row": package("row", row, 3, joined=(("2", "3"),)), "post": package("post", post, 1)}
    place = Place(rotation=0, at={"1": "a1"})
    net = Net("A", (PinRef("S", "1"), PinRef("S", "2"), PinRef("S", "3"), PinRef("T", "1")))
    circuit = Circuit("row", (Part("S", "row", place=place), Part("T", "post")), (net,), packages)
    p = build(circuit, board, Options())
    assert p.items[0].ref == "S"
    with pytest.raises(PlacerError, match=r"takes every hole of the strip that S\.1 of A or S\.2 of A"):
        build(replace(circuit, packages={**packages, "row": package("row", row, 3)}), board, Options())
