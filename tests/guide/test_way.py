"""What lies on the straight way of a wire: holes that leads need later, and what stands on the board itself."""

from __future__ import annotations

import pytest

from placer.boards.catalogue import load_board
from placer.guide.steps import build_steps
from placer.guide.way import leads_below, parts_above
from placer.plan.model import Plan
from tests.guide.plans import make_plan


def plan_of(*wires: tuple[str, str]) -> Plan:
    """A chip across the channel and a resistor beside it."""
    board = load_board("five-hole-30")
    chip = {str(n): f"e{4 + n}" for n in range(1, 5)} | {str(n): f"f{13 - n}" for n in range(5, 9)}
    return make_plan(
        "ways",
        board,
        [
            ("U1", "dip-8", "NE555", "flat", chip),
            ("R1", "axial-0207", "10k", "flat", {"1": "b12", "2": "b16"}),
        ],
        {"A": "signal"},
        [("A", a, b) for a, b in wires],
    )


@pytest.mark.parametrize(
    ("start", "end", "leads", "parts"),
    [
        ("a12", "c12", ("b12",), ()),  # over one lead of the resistor, beside its body
        ("a14", "c14", (), ()),  # below the resistor, which has room for it
        ("d6", "g6", ("e6", "f6"), ("U1",)),  # across the chip, over two of its pins
        ("g6", "d6", ("f6", "e6"), ("U1",)),  # the same the other way
        ("d4", "d10", (), ()),  # beside the chip's pins
        ("a11", "c13", ("b12",), ()),  # at an angle, through the middle of a hole
        ("a20", "j20", (), ()),  # nothing there
        ("c12", "e12", (), ()),  # the lead is in line, before the wire begins
        ("c12", "a11", ("b12",), ()),  # past the middle of a hole, 1.14 mm from it
        ("d11", "b13", (), ()),  # 0.7 steps from it
        ("e5", "e8", ("e6", "e7"), ("U1",)),  # from lead to lead: its own ends do not count
    ],
)
def test_what_is_on_the_straight_way(start: str, end: str, leads: tuple[str, ...], parts: tuple[str, ...]) -> None:
    plan = plan_of()
    assert leads_below(plan, start, end) == leads
    assert parts_above(plan, start, end) == parts


def test_the_step_says_so_where_the_wire_is_insulated() -> None:
    texts = [step.text for step in build_steps(plan_of(("d6", "g6"), ("a12", "c12"), ("a20", "e20"), ("a3", "c1")))]
    said = {text.split(":")[0]: text for text in texts if text.startswith("Jumper")}
    assert (
        "Lay it in a bow: e6 and f6 stay free for leads. U1 will stand on its straight way" in said["Jumper 1, net A"]
    )
    assert "bow: b12 stays free" in said["Jumper 2, net A"]
    assert "bow" not in said["Jumper 3, net A"], "bare wire is straight and touches nothing"
    assert "bow" not in said["Jumper 4, net A"]
    assert "straight way" not in said["Jumper 4, net A"]


def test_of_many_holes_the_first_are_named() -> None:
    plan = plan_of(("b11", "b19"), ("e4", "e10"))
    assert leads_below(plan, "b11", "b19") == ("b12", "b16")
    chips = {str(n): f"b{n + 1}" for n in range(1, 9)} | {str(n): f"i{18 - n}" for n in range(9, 17)}
    wide = make_plan("wide", plan.board, [("U1", "dip-16", "X", "flat", chips)], {"A": ""}, [("A", "b1", "b12")])
    (text,) = [step.text for step in build_steps(wide) if step.kind == "jumper"]
    assert "b2, b3, b4, b5, b6, b7 and 2 more holes on the way stay free for leads" in text
