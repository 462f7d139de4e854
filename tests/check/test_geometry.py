"""How parts stand: rectangles at any angle, turns, diagonals, bodies. Figures by arithmetic from the package data."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from placer.boards.catalogue import load_board
from placer.check.judge import judge
from placer.check.rectangle import Rectangle
from placer.circuit.model import Place
from placer.packages.catalogue import lookup
from placer.packages.model import Diagonal, Package, Rigid
from placer.plan.model import Options, Plan
from tests.check.plans import circuit_of, plan_of

PADS = load_board("single-pad-30x20")
AT = {(hole.x, hole.y): hole.address for hole in PADS.holes.values()}

Corners = list[tuple[float, float]]


def corners(box: Rectangle) -> Corners:
    (cx, cy), (ux, uy), (vx, vy) = box.centre, box.along, box.across
    return [
        (
            cx + a * box.half_length * ux + b * box.half_width * vx,
            cy + a * box.half_length * uy + b * box.half_width * vy,
        )
        for a, b in ((1, 1), (1, -1), (-1, -1), (-1, 1))
    ]


def shared_area(one: Rectangle, other: Rectangle) -> float:
    """Area two rectangles share (um2): the one clipped by each side of the other, then the shoelace sum."""
    shape = corners(one)
    (cx, cy), fence = other.centre, corners(other)
    for i, (x1, y1) in enumerate(fence):
        x2, y2 = fence[(i + 1) % 4]
        inward = (y1 - y2, x2 - x1)
        if (cx - x1) * inward[0] + (cy - y1) * inward[1] < 0:
            inward = (-inward[0], -inward[1])
        depth = [(x - x1) * inward[0] + (y - y1) * inward[1] for x, y in shape]
        clipped: Corners = []
        for k, (point, d) in enumerate(zip(shape, depth, strict=True)):
            following, e = shape[(k + 1) % len(shape)], depth[(k + 1) % len(shape)]
            if d >= 0:
                clipped.append(point)
            if d * e < 0:
                t = d / (d - e)
                clipped.append((point[0] + t * (following[0] - point[0]), point[1] + t * (following[1] - point[1])))
        shape = clipped
        if not shape:
            return 0.0
    return abs(sum(x * shape[i - 1][1] - y * shape[i - 1][0] for i, (x, y) in enumerate(shape))) / 2


steps = st.integers(-4, 4)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(steps, steps, steps, steps, st.integers(300, 9000), st.integers(300, 9000))
def test_rectangles_overlap_exactly_where_they_share_an_area(
    dx: int, dy: int, ux: int, uy: int, length: int, width: int
) -> None:
    tilt = math.hypot(ux, uy) or 1.0
    along = (ux / tilt, uy / tilt) if (ux, uy) != (0, 0) else (1.0, 0.0)
    one = Rectangle.upright(-3175, -1250, 3175, 1250)
    other = Rectangle((dx * 1270, dy * 1270), along, length, width)
    area = shared_area(one, other)

    assert one.overlaps(other) == other.overlaps(one)
    if not 0 < area < 100:  # a sliver of rounding decides nothing
        assert one.overlaps(other) == (area > 0)


def test_rectangles_that_touch_do_not_overlap() -> None:
    left, right = Rectangle.upright(0, 0, 2540, 2540), Rectangle.upright(2540, 0, 5080, 2540)
    tilted = Rectangle((2540 + 1000 * math.sqrt(2), 1270), (math.sqrt(0.5), math.sqrt(0.5)), 1000, 1000)

    assert not left.overlaps(right)
    assert not left.overlaps(tilted)
    assert left.overlaps(replace(tilted, centre=(tilted.centre[0] - 1, tilted.centre[1])))
    assert left.covers((1, 1))
    assert not left.covers((0, 1270))


def on_pads(
    parts: dict[str, str], spots: dict[str, str], own: dict[str, Package] | None = None, **options: bool
) -> Plan:
    """Parts without nets on a board of single pads; spots as ``"x,y x,y"``, a mount after a colon."""
    holes = {}
    for ref, text in spots.items():
        where, _, mount = text.partition(":")
        named = " ".join(AT[tuple(map(int, spot.split(",")))] for spot in where.split())  # type: ignore[index]
        holes[ref] = f"{named}:{mount}" if mount else named
    return plan_of(circuit_of("pads", parts, {}, own=own), PADS, holes, options=Options(**options))


def codes(plan: Plan) -> list[str]:
    return sorted({fault.code for fault in judge(plan).faults})


def turned_spots(package: str, turn: int, mirror: bool = False) -> str:
    form = lookup(package).form
    assert isinstance(form, Rigid)
    spots = []
    for x, y in form.offsets:
        dx, dy = (-x, y) if mirror else (x, y)
        for _ in range(turn // 90):
            dx, dy = -dy, dx
        spots.append(f"{14 + dx},{10 + dy}")
    return " ".join(spots)


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("package", ["dip-8", "dip-16", "to-92", "button-6", "header-2x3", "terminal-3", "header-1"])
def test_a_rigid_part_may_be_turned_and_its_turn_is_known(package: str, turn: int) -> None:
    plan = on_pads({"U1": package}, {"U1": turned_spots(package, turn)})

    def wished(degrees: int) -> list[str]:
        (part,) = plan.circuit.parts
        return codes(
            replace(plan, circuit=replace(plan.circuit, parts=(replace(part, place=Place(rotation=degrees)),)))
        )

    assert codes(plan) == []
    assert wished(turn) == []
    # A part of one pin has no turn that its pin could tell.
    assert wished((turn + 90) % 360) == ([] if package == "header-1" else ["wish-rotation"])


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("package", ["dip-8", "dip-16", "button-6", "relay"])
def test_a_mirrored_part_is_called_mirrored(package: str, turn: int) -> None:
    faults = judge(on_pads({"U1": package}, {"U1": turned_spots(package, turn, mirror=True)})).faults

    assert [fault.code for fault in faults] == ["part-mirrored"]
    assert f"U1 ({package})" in faults[0].message


@pytest.mark.parametrize(("dx", "dy"), [(4, 0), (0, 8), (3, 3), (3, 4), (7, 3), (-5, 4), (4, -1)])
def test_two_leads_within_the_span_may_lie_at_any_angle_where_diagonals_are_allowed(dx: int, dy: int) -> None:
    spots = {"R1": f"14,9 {14 + dx},{9 + dy}"}
    on_axis = 0 in (dx, dy)

    assert codes(on_pads({"R1": "axial-0207"}, spots, diagonals=True)) == []
    assert codes(on_pads({"R1": "axial-0207"}, spots)) == ([] if on_axis else ["off-axis"])


@pytest.mark.parametrize(("dx", "dy"), [(3, 0), (0, 9), (3, 2), (8, 1), (6, 6), (2, 3)])
def test_two_leads_beyond_the_span_are_refused_at_any_angle(dx: int, dy: int) -> None:
    plan = on_pads({"R1": "axial-0207"}, {"R1": f"14,9 {14 + dx},{9 + dy}"}, diagonals=True)

    assert codes(plan) == ["wrong-span"]


def test_a_part_may_be_allowed_or_denied_its_own_diagonal() -> None:
    def with_wish(diagonal: bool, everyone: bool) -> list[str]:
        plan = on_pads({"R1": "axial-0207"}, {"R1": "10,5 13,9"}, diagonals=everyone)
        parts = (replace(plan.circuit.parts[0], place=Place(diagonal=diagonal)),)
        return codes(replace(plan, circuit=replace(plan.circuit, parts=parts)))

    assert with_wish(True, everyone=False) == []
    assert with_wish(False, everyone=True) == ["off-axis", "wish-diagonal"]


def test_a_standing_part_may_lie_on_the_neighbouring_diagonal() -> None:
    spots = {"R1": "10,5 11,6:standing"}

    assert codes(on_pads({"R1": "axial-0207"}, spots, diagonals=True)) == []
    assert codes(on_pads({"R1": "axial-0207"}, {"R1": "10,5 12,6:standing"}, diagonals=True)) == ["wrong-span"]


def test_a_body_on_a_diagonal_covers_what_lies_under_it_and_no_more() -> None:
    """From (10, 5) to (14, 9): the middle (12, 7) is under the body; (13, 7), 1.80 mm off the line, is not (1.25)."""
    resistor = {"R1": "axial-0207", "P1": "pad-1"}

    assert codes(on_pads(resistor, {"R1": "10,5 14,9", "P1": "12,7"}, diagonals=True)) == ["lead-under-body"]
    assert codes(on_pads(resistor, {"R1": "10,5 14,9", "P1": "13,7"}, diagonals=True)) == []


def test_a_bare_lead_counts_as_body() -> None:
    """At 8 steps a 6.5 mm body leaves bare lead over the second hole; two such leads may not cross either."""
    assert codes(on_pads({"R1": "axial-0207", "P1": "pad-1"}, {"R1": "5,5 13,5", "P1": "6,5"})) == ["lead-under-body"]
    crossing = {"R1": "5,5 13,5", "R2": "6,1 6,9"}
    assert codes(on_pads({"R1": "axial-0207", "R2": "axial-0207"}, crossing)) == ["bodies-overlap"]


def test_standing_bodies_reach_half_their_width_beyond_their_pins() -> None:
    """2.5 mm wide: 1.25 mm beyond each pin, so neighbours one step apart (2.54) clear each other by 0.04 mm."""
    two = {"R1": "axial-0207", "R2": "axial-0207"}

    assert codes(on_pads(two, {"R1": "5,5 6,5:standing", "R2": "7,5 8,5:standing"})) == []
    wide = {"axial-0207": replace(lookup("axial-0207"), form=replace(lookup("axial-0207").form, upright=2.6))}
    plan = on_pads(two, {"R1": "5,5 6,5:standing", "R2": "7,5 8,5:standing"}, own=wide)
    assert codes(plan) == ["bodies-overlap"]


def test_parts_side_by_side_clear_each_other_by_their_width() -> None:
    """Two discs 2.54 mm wide fit side by side one step apart, touching; a hair more does not."""
    two = {"C1": "disc-2.5", "C2": "disc-2.5"}
    spots = {"C1": "5,5 6,5", "C2": "5,6 6,6"}
    thicker = replace(lookup("disc-2.5"), form=replace(lookup("disc-2.5").form, width=2.542))

    assert codes(on_pads(two, spots)) == []
    assert codes(on_pads(two, spots, own={"disc-2.5": thicker})) == ["bodies-overlap"]


@pytest.mark.parametrize(("second", "turn"), [("11,6", 0), ("9,6", 90), ("9,4", 180), ("11,4", 270)])
def test_a_part_for_diagonal_neighbours_fits_all_four(second: str, turn: int) -> None:
    plan = on_pads({"J1": "terminal-2-3.5"}, {"J1": f"10,5 {second}"}, own={"terminal-2-3.5": _thin_terminal()})
    wish = replace(plan.circuit.parts[0], place=Place(rotation=turn))

    assert isinstance(lookup("terminal-2-3.5").form, Diagonal)
    assert codes(replace(plan, circuit=replace(plan.circuit, parts=(wish,)))) == []


@pytest.mark.parametrize("second", ["11,5", "10,6", "12,7", "12,6"])
def test_a_part_for_diagonal_neighbours_fits_nothing_else(second: str) -> None:
    plan = on_pads({"J1": "terminal-2-3.5"}, {"J1": f"10,5 {second}"}, own={"terminal-2-3.5": _thin_terminal()})

    assert codes(plan) == ["pin-spacing"]


def test_the_body_on_diagonal_neighbours_lies_along_its_pins() -> None:
    """Beside the pins of (10, 5) and (11, 6) lies (11, 5), 1.80 mm from the line through them."""
    parts, spots = {"J1": "terminal-2-3.5", "P1": "pad-1"}, {"J1": "10,5 11,6", "P1": "11,5"}

    def body(length: float, width: float) -> dict[str, Package]:
        return {"terminal-2-3.5": replace(_thin_terminal(), form=Diagonal(length, width))}

    assert codes(on_pads(parts, spots, own=body(9.0, 3.5))) == []
    assert codes(on_pads(parts, spots, own=body(9.0, 3.7))) == ["lead-under-body"]


def _thin_terminal() -> Package:
    """The catalogue's terminal with a lead that any hole takes."""
    return replace(lookup("terminal-2-3.5"), lead_mm=0.5)
