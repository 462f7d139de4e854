"""The model of the whole problem on long strips, against exhaustive search, and the other bounds against it."""

from __future__ import annotations

import os

import pytest

from placer.errors import PlacerError
from placer.plan.model import Options
from placer.solve.assemble import assemble, solve_info
from placer.solve.cores import BUILT, IMPOSSIBLE, Cores
from placer.solve.cutproof import CutTheory
from placer.solve.frame import frame, pick_anchor, turns_upside_down
from placer.solve.linemodel import clauses
from placer.solve.lines import lines_of
from placer.solve.prices import Prices
from placer.solve.problem import Problem, build
from placer.solve.prover import Prover, theory_of
from placer.solve.wiring import wire
from tests.bench.boards import made_case
from tests.solve.brute import Answer
from tests.solve.cases import Case
from tests.solve.engine import faults
from tests.solve.kinds import KINDS, case
from tests.solve.whole import Whole

COUNT = int(os.environ.get("PLACER_CASES", "0")) or 14
PORTIONS = 4


def whole_of(p: Problem) -> Whole | None:
    """The search, where the board is lines."""
    lines = lines_of(p)
    if lines is None:
        return None
    return Whole(p, lines, Prices.of(p.options.jumper_cost, p.options.cut_cost), lambda: False, 1)


def settled(whole: Whole) -> None:
    """Ask until it is settled, or some questions have been asked."""
    for _, _ in zip(range(PORTIONS), whole.run(), strict=False):
        pass


def cost_of(p: Problem, whole: Whole) -> float:
    """The cost of the plan that was found, which the judge accepts."""
    assert whole.places is not None
    wiring = wire(p, whole.places)
    assert wiring is not None
    plan = assemble(p, whole.places, wiring, 0.0, solve_info(0, 0, 1, (), None))
    assert faults(plan) == ()
    return plan.score.cost


def on_lines() -> list[tuple[Case, Answer, Problem]]:
    """Small problems on boards of lines, with the truth about them."""
    found = []
    for seed in range(COUNT):
        for kind in KINDS:
            drawn, truth = case(kind, seed)
            try:
                p = build(drawn.circuit, drawn.board, drawn.options)
            except PlacerError:
                continue
            if lines_of(p) is not None:
                found.append((drawn, truth, p))
    return found


def plain(p: Problem) -> bool:
    """True where the model leaves nothing out: no wishes, no bodies off the axes."""
    return not p.wishes and not any(shape.slants for item in p.items for shape in item.shapes)


def test_it_finds_the_least_cost_and_never_claims_more() -> None:
    cases = on_lines()
    assert len(cases) >= COUNT // 2
    built = 0
    for drawn, truth, p in cases:
        whole = whole_of(p)
        assert whole is not None
        settled(whole)
        if truth.cost is None:
            assert whole.ended != BUILT, drawn.name
            continue
        assert whole.ended != IMPOSSIBLE, f"{drawn.name}: called impossible; a plan costs {truth.cost}"
        assert whole.prices.cost(whole.bound) <= truth.cost + 1e-9, drawn.name
        if whole.ended == BUILT and plain(p):
            assert cost_of(p, whole) == pytest.approx(truth.cost), drawn.name
            built += 1
    possible = sum(truth.cost is not None and plain(p) for _, truth, p in cases)
    assert built >= 0.8 * possible


def test_told_of_the_best_plan_it_says_that_there_is_none_cheaper() -> None:
    checked = 0
    for drawn, truth, p in on_lines()[:20]:
        if truth.cost is None:
            continue
        whole = whole_of(p)
        assert whole is not None
        whole.told(truth.cost, 0)
        settled(whole)
        assert whole.places is None, drawn.name
        if whole.ended is not None:
            assert whole.prices.cost(whole.prices.attainable(whole.bound)) == pytest.approx(truth.cost), drawn.name
            checked += 1
    assert checked >= 5


def test_the_clauses_build_the_cheapest_plan_too() -> None:
    possible = built = 0
    for drawn, truth, p in on_lines():
        seen = frame(p, pick_anchor(p))
        assert seen is not None
        prices = Prices.of(p.options.jumper_cost, p.options.cut_cost)
        theory, shares = theory_of(p, seen, lambda: False, 1)
        cores = Cores(clauses(seen, prices, shares, half=turns_upside_down(p)), theory)
        for _ in cores.run():
            if cores.work > 2.0:
                break
        if truth.cost is None:
            assert cores.ended != BUILT, drawn.name
            continue
        assert cores.ended != IMPOSSIBLE, f"{drawn.name}: called impossible; a plan costs {truth.cost}"
        assert prices.cost(cores.bound) <= truth.cost + 1e-9, drawn.name
        possible += plain(p)
        built += plain(p) and cores.ended == BUILT and prices.cost(prices.attainable(cores.bound)) == truth.cost
    assert possible >= COUNT // 3
    assert built >= 0.8 * possible


MADE = ((8, 3), (8, 4), (8, 6), (10, 2), (10, 5), (12, 3))
"""Circuits made for measuring. The best plan of (10, 5) has a net in two pieces on one strip, no IC between them."""


@pytest.mark.parametrize(("parts", "seed"), MADE)
def test_clauses_and_what_they_learn_never_claim_more_than_the_best_plan_costs(parts: int, seed: int) -> None:
    made = made_case(parts, seed, "long-strip")
    p = build(made.circuit, made.board, made.options)
    whole = whole_of(p)
    assert whole is not None
    settled(whole)
    assert whole.ended == BUILT
    least = cost_of(p, whole)
    seen = frame(p, pick_anchor(p))
    assert seen is not None
    theory, shares = theory_of(p, seen, lambda: False, 1)
    assert isinstance(theory, CutTheory)
    cores = Cores(clauses(seen, whole.prices, shares, half=turns_upside_down(p)), theory)
    steps = cores.run()
    while cores.ended is None and theory.work + cores.work < 2.5:
        next(steps, None)
    assert whole.prices.cost(cores.bound) <= least + 1e-9
    assert cores.ended != IMPOSSIBLE


@pytest.mark.parametrize(("parts", "seed"), MADE)
def test_the_proof_of_a_small_circuit_ends(parts: int, seed: int) -> None:
    made = made_case(parts, seed, "long-strip")
    p = build(made.circuit, made.board, made.options)
    proof = Prover(p, 1, lambda: False)
    finding = proof.advance(30.0, float("inf"))
    while not finding.ended and finding.places is not None:
        finding = proof.advance(30.0, float("inf"))
    assert finding.ended
    assert finding.places is not None
    wiring = wire(p, finding.places)
    assert wiring is not None
    plan = assemble(p, finding.places, wiring, finding.bound, solve_info(0, 0, 1, (), None))
    assert faults(plan) == ()
    assert plan.score.cost == pytest.approx(finding.bound)


def test_strips_that_cannot_be_cut_are_lines_too() -> None:
    made = made_case(8, 1, "long-strip")
    p = build(made.circuit, made.board, Options(allow_cuts=False))
    whole = whole_of(p)
    assert whole is not None
    settled(whole)
    assert whole.ended == IMPOSSIBLE  # its IC would short its own pins, however it lies
