"""Which plans are mixed, and what of them."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from placer.solve.arrays import Places
from placer.solve.mixing import MIXED, Mixing, Way, are_mixed
from placer.solve.problem import build
from tests.bench.boards import made_case

PLANS: list[Places] = [((0, k), (0, 100 + k % 2), (0, 200)) for k in range(30)]


def mixing(share: float = 3.0) -> tuple[Mixing[tuple[int, int]], list[Places]]:
    """Facts of a plan are its places; and the plans whose facts were asked for."""
    asked: list[Places] = []

    def facts(plan: Places) -> frozenset[tuple[int, int]]:
        asked.append(plan)
        return frozenset(plan)

    return Mixing(facts, random.Random(1), share), asked


def test_what_is_true_of_all_and_of_any_of_the_chosen_plans_is_told() -> None:
    own, _ = mixing()
    sizes = set()
    for _ in range(60):
        in_all, some = own.chosen(PLANS[0], PLANS[1:])
        assert (0, 200) in in_all
        assert (0, 0) in some, "the best plan is one of them"
        assert in_all <= some
        first = {place[1] for place in some if place[1] < 100}
        assert ((0, 100) in in_all) == all(k % 2 == 0 for k in first)
        sizes.add(len(first) - 1)
    assert sizes == set(MIXED)


def test_fewer_plans_than_wanted_are_all_mixed() -> None:
    own, _ = mixing()
    for _ in range(10):
        assert own.chosen(PLANS[0], PLANS[1:3])[1] == frozenset(PLANS[0] + PLANS[1] + PLANS[2])


def test_facts_are_asked_for_once_as_long_as_a_plan_is_there() -> None:
    own, asked = mixing()
    assert own.plans(PLANS[0], [PLANS[1], PLANS[0], PLANS[2], PLANS[1]]) == [PLANS[1], PLANS[2]]
    for _ in range(3):
        own.chosen(PLANS[0], PLANS[1:3])
    assert sorted(asked) == PLANS[:3]
    own.plans(PLANS[0], [PLANS[2], PLANS[3]])
    own.chosen(PLANS[0], PLANS[1:3])
    assert sorted(asked) == sorted([*PLANS[:3], PLANS[1]])


def test_mixing_has_its_share_of_the_work_and_no_turn_without_plans() -> None:
    own, _ = mixing(3.0)
    assert own.way(PLANS[:2]) is not Way.PLAIN
    assert own.way(PLANS[:1]) is Way.PLAIN
    own.spent[True] = 1.0
    assert own.way(PLANS) is Way.PLAIN
    own.spent[False] = 0.4
    assert {own.way(PLANS) for _ in range(20)} == {Way.MIXED, Way.BESIDE}
    own.spent[True] = 1.3
    assert own.way(PLANS) is Way.PLAIN


@pytest.mark.parametrize(
    ("parts", "kind", "cuts", "mixed"),
    [
        (20, "long-strip", True, False),
        (40, "long-strip", True, True),
        (118, "long-strip", True, False),
        (40, "five-hole", False, False),
        (40, "five-hole", True, False),
    ],
)
def test_where_many_runs_are_wanted(parts: int, kind: str, cuts: bool, mixed: bool) -> None:
    made = made_case(parts, 1, kind)
    assert are_mixed(build(made.circuit, made.board, replace(made.options, allow_cuts=cuts))) is mixed
