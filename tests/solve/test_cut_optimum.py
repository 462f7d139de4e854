"""The engine against the truth where copper is scarce: strips cut at holes, by knife, both ways; open pins; rails.

Each kind has a test of its own that it really brings out its feature. PLACER_CASES sets how many cases of each kind are
drawn.
"""

from __future__ import annotations

import os
from dataclasses import replace

import pytest

from placer.plan.model import Plan
from tests.solve.agree import agree
from tests.solve.brute import optimum
from tests.solve.engine import short_polish
from tests.solve.kinds import KINDS, case, shows

COUNT = int(os.environ.get("PLACER_CASES", "0")) or 42
FEW, MORE = (2, 3, 5, 7), (3, 5, 7)
"""Rounds of work: every third case gets more from the start, so that bounds have more rounds as well."""


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    short_polish(monkeypatch)


@pytest.mark.parametrize("seed", range(COUNT))
@pytest.mark.parametrize("kind", KINDS)
def test_every_claim_is_true_and_the_optimum_is_found(kind: str, seed: int) -> None:
    agree(*case(kind, seed), MORE if seed % 3 == 0 else FEW)


def plans(kind: str) -> list[Plan]:
    """The cheapest plans of a kind, by exhaustion."""
    return [answer.plan for seed in range(COUNT) if (answer := case(kind, seed)[1]).plan is not None]


@pytest.mark.parametrize("kind", KINDS)
def test_most_cases_show_the_feature_of_their_kind(kind: str) -> None:
    assert sum(shows(kind, plan) for plan in plans(kind)) >= 0.5 * COUNT


@pytest.mark.parametrize(("kind", "share"), [(k, 0.3 if k == "rails mixed" else 0.5) for k in KINDS])
def test_a_good_share_has_no_optimum_without_a_cut(kind: str, share: float) -> None:
    needed = 0
    for seed in range(COUNT):
        drawn, truth = case(kind, seed)
        if truth.plan is not None and truth.plan.cuts:
            assert truth.cost is not None
            uncut = optimum(drawn.circuit, drawn.board, replace(drawn.options, allow_cuts=False)).cost
            assert uncut is None or uncut >= truth.cost
            needed += uncut is None or uncut > truth.cost
    assert needed >= share * COUNT


def test_cuts_are_of_the_sorts_that_the_kinds_allow() -> None:
    """Both sorts occur where both may, and in every kind some plans need more than one cut."""
    sorts = {k: {"drill" if c.at else "knife" for p in plans(k) for c in p.cuts} for k in ("at-hole", "knife", "both")}
    assert sorts == {"at-hole": {"drill"}, "knife": {"knife"}, "both": {"drill", "knife"}}
    for kind in KINDS:
        assert sum(len(plan.cuts) > 1 for plan in plans(kind)) >= 0.1 * COUNT


def test_rails_and_strips_have_different_rules_in_many_boards_with_rails() -> None:
    boards = [case("rails mixed", seed)[0].board for seed in range(COUNT)]
    assert all({True, False} == {strip.rail for strip in board.strips} for board in boards)
    rules = [
        [{s.cut for s in b.strips if s.rail is rail and len(s.holes) > 1} for rail in (True, False)] for b in boards
    ]
    assert sum(on_rails != on_strips for on_rails, on_strips in rules) >= 0.8 * COUNT


@pytest.mark.parametrize("kind", KINDS)
def test_parts_in_a_line_small_blocks_and_joined_pins_all_occur(kind: str) -> None:
    packages = [own for seed in range(COUNT) for own in case(kind, seed)[0].circuit.packages.values()]
    assert sum(len(own.pins) == 3 for own in packages) >= 5
    assert sum(len(own.pins) == 4 for own in packages) >= 5
    assert sum(bool(own.joined) for own in packages) >= 5
