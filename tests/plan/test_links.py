"""Bare links: no wire that is called bare touches anything, and no larger set of such wires exists.

The geometry here is the test's own: exact fractions, every pair looked at, every subset tried. Bodies are those of the
judge, which shares no code with the module under test.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from placer.boards.catalogue import load_board
from placer.boards.model import Copper, Keepout
from placer.check.case import Case
from placer.plan.links import WIRE_MM, links
from placer.plan.model import Jumper, Plan
from tests.guide.plans import generated, make_plan

Point = tuple[Fraction, Fraction]
Segment = tuple[Point, Point]
Rect = tuple[Fraction, Fraction, Fraction, Fraction]
PITCH = Fraction(254, 100)


# --- the oracle ------------------------------------------------------------------------------------------------------


def segment(plan: Plan, jumper: Jumper) -> Segment:
    a, b = (plan.board.holes[address] for address in (jumper.start, jumper.end))
    return (PITCH * a.x, PITCH * a.y), (PITCH * b.x, PITCH * b.y)


def side(a: Point, b: Point, c: Point) -> Fraction:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def within(a: Point, b: Point, c: Point) -> bool:
    """True when c, known to lie on the line through a and b, lies between them or on one of them."""
    return min(a[0], b[0]) <= c[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= c[1] <= max(a[1], b[1])


def touch(one: Segment, other: Segment) -> bool:
    """True when two segments share a point."""
    (a, b), (c, d) = one, other
    sides = side(a, b, c), side(a, b, d), side(c, d, a), side(c, d, b)
    if sides[0] * sides[1] < 0 and sides[2] * sides[3] < 0:
        return True
    ends = ((a, b, c), (a, b, d), (c, d, a), (c, d, b))
    return any(not turn and within(*three) for turn, three in zip(sides, ends, strict=True))


def bodies(plan: Plan) -> list[Rect]:
    """The judge's rectangles, all of them upright here, in exact mm."""
    found = []
    for stance in Case(plan).stances.values():
        for body in stance.bodies:
            assert 0 in body.along
            (x, y), half = body.centre, (body.reach((1.0, 0.0)), body.reach((0.0, 1.0)))
            cx, cy, rx, ry = (Fraction(round(value)) / 1000 for value in (x, y, *half))
            found.append((cx - rx, cy - ry, cx + rx, cy + ry))
    return found


def clear(plan: Plan, jumper: Jumper, rects: Sequence[Rect]) -> bool:
    """True when a wire alone is straight and lies on nothing but empty holes."""
    (ax, ay), (bx, by) = line = segment(plan, jumper)
    if (ax == bx) == (ay == by):
        return False
    filled = [hole for item in plan.placements.values() for hole in item.pins.values()]
    filled += [hole for other in plan.jumpers for hole in (other.start, other.end)]
    for address in filled:
        hole = plan.board.holes[address]
        point = (PITCH * hole.x, PITCH * hole.y)
        if point not in line and not side(*line, point) and within(*line, point):
            return False
    half = Fraction(str(WIRE_MM)) / 2
    dx, dy = (Fraction(0), half) if ay == by else (half, Fraction(0))
    x0, y0, x1, y1 = min(ax, bx) - dx, min(ay, by) - dy, max(ax, bx) + dx, max(ay, by) + dy
    return not any(x0 < r[2] and r[0] < x1 and y0 < r[3] and r[1] < y1 for r in rects)


def most(lines: Sequence[Segment]) -> int:
    """The size of a largest set of segments no two of which touch, by trying all sets."""
    clash = {frozenset(pair) for pair in combinations(range(len(lines)), 2) if touch(*(lines[i] for i in pair))}
    for size in range(len(lines), 0, -1):
        for chosen in combinations(range(len(lines)), size):
            if not any(frozenset(pair) in clash for pair in combinations(chosen, 2)):
                return size
    return 0


# --- random plans ----------------------------------------------------------------------------------------------------


def wired(seed: int, parts: int, wires: int) -> Plan:
    """Parts strewn on a small board and wires between free holes, most of them along a line of holes."""
    dice = random.Random(seed)
    plan = generated("long-strip-14x18", parts, seed % 25, jumpers=0)
    board = plan.board
    bodied = bodies(plan)
    taken = {hole for item in plan.placements.values() for hole in item.pins.values()}

    def open_(address: str) -> bool:
        x, y = PITCH * board.holes[address].x, PITCH * board.holes[address].y
        return address not in taken and not any(r[0] < x < r[2] and r[1] < y < r[3] for r in bodied)

    free = [address for address in board.holes if open_(address)]
    rows = []
    for _ in range(wires):
        a = dice.choice(free)
        x, y = board.holes[a].x, board.holes[a].y
        aslant = dice.random() < 0.15
        ends = [b for b in free if b != a and (aslant or board.holes[b].x == x or board.holes[b].y == y)]
        if ends:
            b = dice.choice(ends)
            rows.append(Jumper("N", a, b, 0.0))
            free = [hole for hole in free if hole not in (a, b)]
    return replace(plan, jumpers=tuple(rows))


@settings(max_examples=150, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 10**9), st.sampled_from((1, 5, 9)), st.integers(1, 11))
def test_bare_wires_touch_nothing_and_there_are_as_many_as_can_be(seed: int, parts: int, wires: int) -> None:
    plan = wired(seed, parts, wires)
    rects = bodies(plan)
    able = [jumper for jumper in plan.jumpers if clear(plan, jumper, rects)]
    found = links(plan)

    assert len(found) == len(plan.jumpers)
    bare = [jumper for jumper, link in zip(plan.jumpers, found, strict=True) if link.bare]
    assert all(jumper in able for jumper in bare)
    lines = [segment(plan, jumper) for jumper in bare]
    assert not any(touch(one, other) for one, other in combinations(lines, 2))
    assert len(bare) == most([segment(plan, jumper) for jumper in able])
    assert links(plan) == found


def test_random_plans_meet_every_case() -> None:
    """The property above means something: its plans hold bare wires and every reason why one cannot be bare."""
    reasons = {link.reason.split(" in ")[0].rstrip("0123456789.") for s in range(60) for link in links(wired(s, 9, 11))}
    starts = ("does not run along", "passes over lead", "passes over the end", "meets the body", "crosses bare jumper")
    assert "" in reasons
    assert all(any(reason.startswith(start) for reason in reasons) for start in starts), reasons


# --- one case each ---------------------------------------------------------------------------------------------------

STRIPS = load_board("long-strip-12x20")
FIVE = load_board("five-hole-30")


def crossing(*wires: tuple[str, str]) -> Plan:
    return make_plan("x", STRIPS, [], {}, [("N", a, b) for a, b in wires])


def test_the_wires_that_cross_least_are_the_bare_ones() -> None:
    """One long wire across three: three bare, not one, although the long one is listed first."""
    found = links(crossing(("F1", "F12"), ("A2", "H2"), ("A5", "H5"), ("A8", "H8")))
    assert [link.wire for link in found] == ["insulated", "bare", "bare", "bare"]
    assert found[0].reason == "crosses bare jumper 2"


def test_an_insulated_wire_may_cross_a_bare_one_but_not_end_on_it() -> None:
    assert [link.bare for link in links(crossing(("F1", "F12"), ("A2", "H3")))] == [True, False]
    found = links(crossing(("F1", "F12"), ("F4", "H9")))
    assert [link.reason for link in found] == [
        "passes over the end of jumper 2 in F4",
        "does not run along one line of holes",
    ]


@pytest.mark.parametrize(
    ("wire", "reason"),
    [
        (("B3", "B9"), "passes over lead R1.1 in B5"),
        (("A9", "H9"), "meets the body of R1"),  # its bare lead: the holes below it are empty
        (("C3", "C9"), ""),
        (("A4", "H4"), ""),
    ],
)
def test_a_flat_part_is_in_the_way_with_its_leads(wire: tuple[str, str], reason: str) -> None:
    plan = make_plan("x", STRIPS, [("R1", "axial-0207", "", "flat", {"1": "B5", "2": "B13"})], {}, [("N", *wire)])
    assert links(plan)[0].reason == reason


def test_a_part_on_a_diagonal_is_in_the_way_where_it_lies() -> None:
    """Pins 4 across and 4 down: the wire along the diagonal's middle row meets it, the one past its corner does not."""
    plan = make_plan("x", STRIPS, [("R1", "axial-0207", "", "flat", {"1": "B4", "2": "F8"})], {}, [])
    wires = [Jumper("N", *ends, 0.0) for ends in (("D2", "D12"), ("B6", "B12"), ("F2", "F5"))]
    assert [link.reason for link in links(replace(plan, jumpers=tuple(wires)))] == ["meets the body of R1", "", ""]


def test_keepouts_and_copper_above_rule_bare_wire_out() -> None:
    wires = [("N", "a2", "a8"), ("N", "j2", "j8")]
    x, y = FIVE.holes["a5"].x_mm, FIVE.holes["a5"].y_mm
    screw = replace(FIVE, keepouts=(Keepout("M1", x - 1, y - 1, x + 0.2, y + 1),))
    assert [link.reason for link in links(make_plan("x", screw, [], {}, wires))] == ["meets keep-out M1", ""]
    above = replace(FIVE, copper=Copper(side="both"))
    assert {link.reason for link in links(make_plan("x", above, [], {}, wires))} == {
        "there is copper on the component side"
    }


def test_a_plan_without_jumpers_has_no_links() -> None:
    assert links(make_plan("x", STRIPS, [], {}, [])) == ()
