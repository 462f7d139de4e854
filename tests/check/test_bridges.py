"""Bridges: a good plan passes, and each way to spoil one is told by its own code."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from placer.boards.catalogue import load_board
from placer.check.against import judge_against
from placer.check.judge import judge
from placer.plan.model import Cut, Plan
from tests.check.bridged import CIRCUIT, LINKS, bare, bridged, link
from tests.check.plans import plan_of

A, B = LINKS[:2], LINKS[2:]


def threes(*bridges: tuple[str, str, str], cuts: tuple[Cut, ...] = ()) -> Plan:
    """The headers on strips of three, which join them already, on a board that allows bridges."""
    board = replace(load_board("three-hole-4x6"), bridges=True)
    plan = plan_of(CIRCUIT, board, {"H1": "a1 b1", "H2": "a3 b3"}, cuts=cuts)
    return bridged(replace(plan, options=replace(plan.options, allow_cuts=True)), *bridges)


def drilled() -> Plan:
    """Two bridges from strip A to strip B, one of them at a hole that is drilled out."""
    board = replace(load_board("long-strip-4x9"), bridges=True)
    plan = plan_of(CIRCUIT, board, {"H1": "A1 B1", "H2": "A5 B5"}, cuts=(Cut(at="A3"),))
    return bridged(plan, ("A", "A3", "B3"))


def test_a_good_plan_with_bridges_has_no_fault_and_no_warning() -> None:
    report = judge(link())
    assert (report.faults, report.warnings) == ((), ())
    assert judge(threes()).faults == ()


SPOILT: dict[str, tuple[Callable[[], Plan], dict[str, str]]] = {
    "board without": (
        lambda: replace(link(), board=replace(link().board, bridges=False)),
        {"bridge-not-allowed": "bridge 1 of net A joins a2 and b2"},
    ),
    "no such net": (
        lambda: bridged(bare(), ("Z", "a2", "b2"), A[1], *B),
        {"unknown-net": "bridge 1 (a2 and b2) is for net Z"},
    ),
    "no such hole": (
        lambda: bridged(bare(), *LINKS, ("A", "c2", "c99")),
        {"unknown-hole": "bridge 5 of net A is at c99"},
    ),
    "two steps": (lambda: bridged(bare(), ("A", "a2", "c2"), *B), {"bridge-too-far": "joins a2 and c2"}),
    "on the slant": (
        lambda: bridged(bare(), ("A", "a2", "b1"), ("A", "b1", "c2"), *B),
        {"bridge-too-far": "joins a2 and b1"},
    ),
    "to itself": (lambda: bridged(bare(), *LINKS, ("A", "b2", "b2")), {"bridge-too-far": "joins b2 and b2"}),
    "twice": (
        lambda: bridged(bare(), *LINKS, ("A", "b2", "a2")),
        {"bridge-twice": "bridge 5 of net A joins b2 and a2"},
    ),
    "to a bare pad": (
        lambda: bridged(bare(), *LINKS, ("A", "c2", "d2")),
        {"bridge-off-net": "bridge 5 of net A is at d2, on copper that carries no pin"},
    ),
    "to another net": (
        lambda: bridged(bare(), *LINKS, ("A", "b2", "b3")),
        {"nets-shorted": "nets A and B", "bridge-off-net": "bridge 5 of net A is at b3, on copper that carries net B"},
    ),
    "of the other net": (
        lambda: bridged(bare(), ("B", "a2", "b2"), A[1], *B),
        {"bridge-off-net": "bridge 1 of net B is at a2, on copper that carries net A"},
    ),
    "left out": (lambda: bridged(bare(), A[0], *B), {"net-apart": "net A", "bridge-off-net": "is at b2"}),
    "within a strip": (lambda: threes(("A", "a1", "a2")), {"bridge-within-strip": "a1 and a2, both on strip a1"}),
    "over a cut": (
        lambda: threes(("A", "a2", "a3"), cuts=(Cut(between=("a2", "a3")),)),
        {"bridge-within-strip": "a2 and a3"},
    ),
    "not counted": (
        lambda: replace(link(), score=replace(link().score, bridges=3)),
        {"wrong-score": "counts 3 bridges; the plan has 4"},
    ),
    "not paid": (
        lambda: replace(link(), score=replace(link().score, cost=0.0), proof=replace(link().proof, gap=0.0)),
        {"wrong-cost": "4 bridges at 0.1 cost 0.4"},
    ),
    "a price below zero": (
        lambda: replace(link(), options=replace(link().options, bridge_cost=-0.1)),
        {"wrong-cost": "bridge cost is -0.1"},
    ),
}


@pytest.mark.parametrize("name", SPOILT)
def test_a_spoilt_bridge_is_told_by_its_own_code(name: str) -> None:
    make, expected = SPOILT[name]
    faults = judge(make()).faults
    assert {fault.code for fault in faults} == set(expected)
    for code, words in expected.items():
        assert any(words in fault.message for fault in faults if fault.code == code)


def test_a_bridge_at_a_drilled_hole_is_refused() -> None:
    told = [fault.message for fault in judge(drilled()).faults if fault.code == "drilled-hole-used"]
    assert told == ["bridge 1 of net A is at A3, which a cut drills out"]


def test_a_ring_of_bridges_is_a_warning_not_a_fault() -> None:
    report = judge(bridged(bare(), *LINKS, ("A", "a2", "a1"), ("A", "a1", "b1"), ("A", "b1", "b2")))
    assert report.faults == ()
    assert {warning.code for warning in report.warnings} == {"needless-bridge"}


def test_a_jumper_may_end_in_a_pad_that_a_bridge_joins_to_its_net() -> None:
    wired = plan_of(CIRCUIT, bare().board, {"H1": "a2 a3", "H2": "e2 e3"}, wires=(("A", "b2", "d2"),))
    lower = [("B", f"{a}3", f"{b}3") for a, b in ("ab", "bc", "cd", "de")]
    assert judge(bridged(wired, ("A", "a2", "b2"), ("A", "d2", "e2"), *lower)).faults == ()
    alone = bridged(wired, ("A", "a2", "b2"), *lower)
    assert {fault.code for fault in judge(alone).faults} == {"net-apart", "jumper-off-net", "bridge-off-net"}


def test_a_board_that_allows_none_differs_from_the_plans_board() -> None:
    without = replace(link().board, bridges=False)
    assert {fault.code for fault in judge_against(link(), board=without).faults} == {
        "board-differs",
        "bridge-not-allowed",
    }
