"""Cheaper plans near a plan on long strips; things packed on lines."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest

from placer.solve.anneal import Annealer
from placer.solve.arrays import Arrays, Places
from placer.solve.assemble import assemble, solve_info
from placer.solve.claims import Pin
from placer.solve.cutproof import CutTheory
from placer.solve.found import Found
from placer.solve.frame import frame, pick_anchor
from placer.solve.linemodel import LineModel
from placer.solve.lineup import Lineup
from placer.solve.mixing import Way
from placer.solve.near import holes_of_pins
from placer.solve.packing import Rows, pack
from placer.solve.prices import Prices
from placer.solve.problem import Problem, build
from placer.solve.prover import theory_of
from placer.solve.refit import Refit
from placer.solve.reseat import Reseat
from placer.solve.stances import Edge, apart
from placer.solve.wiring import wire
from tests.bench.boards import made_case
from tests.solve.engine import faults

WORK = 12.0  # about seconds
MODULE = "placer.solve.reseat"


def cost_of(p: Problem, places: Places) -> float:
    """What a plan costs; it is judged as well."""
    wiring = wire(p, places)
    assert wiring is not None
    plan = assemble(p, places, wiring, 0.0, solve_info(0, 0, 0, (), None))
    assert faults(plan) == ()
    return plan.score.cost


def reseat(p: Problem) -> Reseat:
    """A search near plans."""
    seen = frame(p, pick_anchor(p))
    assert seen is not None
    theory, shares = theory_of(p, seen, lambda: False, 1)
    assert isinstance(theory, CutTheory)
    return Reseat(seen, Prices.of(p.options.jumper_cost, p.options.cut_cost), shares, theory, lambda: False, 1)


@pytest.mark.parametrize(("parts", "seed", "least"), [(8, 4, 8.2), (10, 5, 8.8), (12, 1, 7.0), (15, 3, 13.4)])
def test_from_the_first_plan_it_comes_to_the_cheapest(parts: int, seed: int, least: float) -> None:
    made = made_case(parts, seed, "long-strip")
    p = build(made.circuit, made.board, made.options)
    first = next(f for f in Annealer(Arrays(p), 1, lambda: False).advance(400_000, -1.0) if wire(p, f.places))
    near = reseat(p)
    near.told(first.places, 0)
    places, cost = first.places, cost_of(p, first.places)
    start, steps = near.start, near.run()
    while near.ended is None and near.work < WORK and cost > least + 1e-9:
        next(steps, None)
        if near.start is not start and near.start is not None:
            start = places = near.start
            assert cost_of(p, places) < cost, "what is handed on is cheaper"
            cost = cost_of(p, places)
            near.told(places, 0)
    assert cost == pytest.approx(least)  # proved in tests/solve/test_whole.py and by the engine


def ends_of(p: Problem, runs: int) -> list[Found]:
    """What some runs come to, the cheapest first."""
    stream = Annealer(Arrays(p), 1, lambda: False)
    while len(stream.ends) < runs:
        stream.advance(30_000, -1.0)
    return [end for end in stream.ends if wire(p, end.places) is not None]


def worst_first(p: Problem, near: Reseat, ends: list[Found]) -> list[float]:
    """The costs of what is handed on, from the dearest of some plans on; all of them are there to be mixed."""
    places, others = ends[-1].places, tuple(end.places for end in ends)
    costs = [cost_of(p, places)]
    near._mixing.spent[False] = 1.0  # so that nothing else has a turn
    near.told(places, 0, others)
    start, steps = near.start, near.run()
    while near.ended is None and near.work < WORK / 2:
        next(steps, None)
        if near.start is not start and near.start is not None:
            start = near.start
            costs.append(cost_of(p, start))
            near.told(start, 0, others)
    return costs


@pytest.mark.parametrize("whole", [True, False])
@pytest.mark.parametrize(("parts", "seed", "least"), [(10, 5, 8.8), (12, 1, 7.0)])
def test_mixed_plans_are_cheaper_each_time(
    *, parts: int, seed: int, least: float, whole: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(f"{MODULE}.MIXING", 1e9)
    monkeypatch.setattr(f"{MODULE}.PLANS_ANEW", 2)
    if not whole:
        monkeypatch.setattr(f"{MODULE}.MOST_WHOLE", 0)
    made = made_case(parts, seed, "long-strip")
    p = build(made.circuit, made.board, made.options)
    ends = ends_of(p, 8)
    costs = worst_first(p, reseat(p), ends)
    assert costs == sorted(set(costs), reverse=True)
    assert len(costs) > 1
    assert least - 1e-9 <= costs[-1] <= ends[0].cost + 1e-9


def shared_in(p: Problem, places: Places) -> frozenset[tuple[Pin, Pin]]:
    """Pairs of pins with no pin of another net between them on their line, told from columns."""
    lines: dict[int, list[tuple[int, int, Pin]]] = {}
    along, across = (p.hy, p.hx) if np.ptp(p.hx[p.hstrip == 0]) == 0 else (p.hx, p.hy)
    for pin, hole in holes_of_pins(p, places).items():
        lines.setdefault(int(across[hole]), []).append((int(along[hole]), p.items[pin[0]].nets[pin[1]], pin))
    found = set()
    for pins in lines.values():
        for (a, net, one), (b, other, two) in itertools.combinations(sorted(pins), 2):
            if net == other and not any(a < c < b and n != net for c, n, _ in pins):
                found.add((min(one, two), max(one, two)))
    return frozenset(found)


def test_word_of_another_best_plan_may_come_at_any_time() -> None:
    made = made_case(15, 3, "long-strip")
    p = build(made.circuit, made.board, made.options)
    best, other, *_ = [end.places for end in ends_of(p, 4)]
    assert best != other
    for late in (
        0,
        1,
        20,
        60,
    ):  # steps: clauses are still being stated, or the first one is looked at
        near = reseat(p)
        near.told(other, 0)
        steps = near.run()
        for _ in range(late):
            next(steps)
        near.told(best, 0)
        near.stopped = lambda: True
        for _ in range(2_000):
            next(steps)
            if near._paid is not None:
                break
        jumpers, cuts = near._paid or (0, 0)
        assert jumpers * near.prices.jumper + cuts * near.prices.cut + near.model.base >= near._cost_of(best)
        assert near._segments == near._segments_of(best)


def looked_at(runs: int) -> tuple[Reseat, list[Places]]:
    """A search that has seen what the best of some plans pays for; and the plans, the best first."""
    made = made_case(15, 3, "long-strip")
    p = build(made.circuit, made.board, made.options)
    plans = [end.places for end in ends_of(p, runs)]
    near = reseat(p)
    near.told(plans[0], 0, tuple(plans[1:]))
    steps = near.run()
    while near._paid is None:
        next(steps)
    return near, plans


def joined_in_the_last_answer(model: LineModel) -> tuple[list[tuple[Pin, Pin]], set[tuple[Pin, Pin]]]:
    """Who joins whose segment, and the pairs that share one."""
    joined = [two for two, joins in model._joins.items() if model.sat.holds(joins)]
    hosts = {host for _, host in joined}
    groups = [[host, *(pin for pin, at in joined if at == host)] for host in hosts]
    return joined, {pair for group in groups for pair in itertools.combinations(sorted(group), 2)}


@pytest.mark.parametrize("whole", [True, False])
def test_who_shares_a_segment_does_so_in_one_of_the_plans_that_are_mixed(
    *, whole: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not whole:
        monkeypatch.setattr(f"{MODULE}.MOST_WHOLE", 0)
    near, (best, *others) = looked_at(6)
    p = near.p
    near._sizes[Way.MIXED] = len(p.items)
    known = [near._pairs_of(plan) for plan in (best, *others)]
    assert known == [shared_in(p, plan) for plan in (best, *others)]
    monkeypatch.setattr("placer.solve.mixing.MIXED", (len(others),))
    free, asked = near._let_go(best, others, Way.MIXED)
    assert free == frozenset(range(len(p.items)))
    seen, model = set(), near.model
    for _ in range(8):
        assert model.sat.ask(asked, 100_000)
        joined, shared = joined_in_the_last_answer(model)
        assert shared <= frozenset().union(*known)
        assert shared >= known[0].intersection(*known[1:])
        seen.add(frozenset(shared))
        model.sat.add([-model._joins[two] for two in joined])  # another one: not all of these again
    assert len(seen) > 1


def test_a_few_items_besides_share_segments_in_any_way(monkeypatch: pytest.MonkeyPatch) -> None:
    near, (best, *others) = looked_at(6)
    p = near.p
    known = [near._pairs_of(plan) for plan in (best, *others)]
    monkeypatch.setattr("placer.solve.mixing.MIXED", (len(others),))
    beside = frozenset([3, 9, 11, 13])
    everyone = frozenset(range(len(p.items)))
    monkeypatch.setattr(f"{MODULE}.linked", lambda _, count, __: beside if count == len(beside) else everyone)
    near._sizes |= {Way.MIXED: len(p.items), Way.BESIDE: len(beside)}
    free, asked = near._let_go(best, others, Way.BESIDE)
    assert free == everyone
    model = near.model
    some, in_all = frozenset[tuple[Pin, Pin]]().union(*known), known[0].intersection(*known[1:])
    barred = {(min(two), max(two)) for two, joins in model._joins.items() if -joins in asked}
    assert barred
    assert barred == {
        (min(two), max(two)) for two in model._joins if beside.isdisjoint(pin[0] for pin in two)
    }.difference(some)
    kept = {pair for pair, together in near._shared.items() if together in asked}
    assert kept == {pair for pair in in_all if beside.isdisjoint(pin[0] for pin in pair)} != in_all
    for _ in range(12):
        assert model.sat.ask(asked, 100_000)
        joined, shared = joined_in_the_last_answer(model)
        new = shared - some
        assert all({a[0], b[0]} & beside for a, b in new)
        assert all({a[0], b[0]} & beside for a, b in in_all - shared)
        model.sat.add([-model._joins[two] for two in joined])
    others = (two for two in model._joins if (min(two), max(two)) not in some and {two[0][0], two[1][0]} & beside)
    assert any(model.sat.ask([*asked, model._joins[two]], 100_000) for two in others)


@pytest.mark.parametrize(
    ("way", "answers", "more"),
    [
        (Way.PLAIN, False, 1),
        (Way.MIXED, False, 1),
        (Way.BESIDE, False, 1),
        (Way.PLAIN, None, 0),
        (Way.MIXED, None, -1),
        (Way.BESIDE, None, -1),
    ],
)
def test_more_is_let_go_where_it_is_soon_settled_and_less_where_it_is_not(
    way: Way, *, answers: bool | None, more: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    near, (best, *others) = looked_at(4)
    near._sizes = {Way.PLAIN: 8, Way.MIXED: 9, Way.BESIDE: 7}
    free, asked = near._let_go(best, others, way)
    monkeypatch.setattr(near.model.sat, "ask", lambda *_: answers)
    for _ in near._near(best, free, asked, way):
        pass
    before = {Way.PLAIN: 8, Way.MIXED: 9, Way.BESIDE: 7}
    assert near._sizes == before | {way: before[way] + more}


def test_proposals_are_made_to_fit() -> None:
    made = made_case(15, 3, "long-strip")
    p = build(made.circuit, made.board, made.options)
    plan = ends_of(p, 1)[0]
    refit, lineup = Refit(p, 1), Lineup(p)
    line, column = (p.hx, p.hy) if lineup.along else (p.hy, p.hx)
    lie = {i: (no, int(line[hole])) for i, (no, hole) in enumerate(plan.places)}
    order = sorted(lie, key=lambda i: (column[plan.places[i][1]] + lineup.leads[lineup.first_form[i] + lie[i][0]], i))
    fitted = refit.fit(lie, order)
    assert fitted is not None
    assert cost_of(p, fitted) <= plan.cost + 1e-9
    assert refit.work > 0
    # Lines may be counted from anywhere; where no such lines are on the board there is nothing.
    moved = {i: (no, line + 7) for i, (no, line) in lie.items()}
    here, there = lineup.ordered(lie, order), lineup.ordered(moved, order)
    assert here is not None
    assert there is not None
    assert (here == there).all()
    apart = {i: (no, line + (99 if i == 0 else 0)) for i, (no, line) in lie.items()}
    assert lineup.ordered(apart, order) is None
    assert refit.fit(apart, order) is None
    # The other way round along the strips it need not fit as it is; what comes of it is a plan all the same.
    back = refit.fit(lie, order[::-1])
    assert back is not None
    assert cost_of(p, back) > 0


def test_it_ends_where_nothing_can_be_cheaper() -> None:
    made = made_case(8, 1, "long-strip")
    p = build(made.circuit, made.board, made.options)
    near = reseat(p)
    found = Annealer(Arrays(p), 1, lambda: False).advance(400_000, -1.0)[-1]
    near.told(found.places, round(found.cost * near.prices.unit))
    for _ in near.run():
        pass
    assert near.ended is not None
    assert near.start is None


def test_it_comes_back_when_the_search_is_stopped() -> None:
    made = made_case(8, 4, "long-strip")
    p = build(made.circuit, made.board, made.options)
    near = reseat(p)
    near.told(Annealer(Arrays(p), 1, lambda: False).advance(400_000, -1.0)[0].places, 0)
    steps = near.run()
    while not near._paid:
        next(steps)
    near.stopped = lambda: True
    for _ in range(5):
        assert next(steps, near) is None


@pytest.mark.parametrize("seed", range(20))
def test_what_is_packed_stands_as_far_to_the_left_as_can_be(seed: int) -> None:
    dice = random.Random(seed)
    count = dice.randint(2, 9)
    steps = [(a, b, dice.randint(1, 4)) for a in range(count) for b in range(a + 1, count) if dice.random() < 0.4]
    first = {a: dice.randint(0, 3) for a in range(count)}
    last = dict.fromkeys(range(count), dice.randint(6, 14))
    at = pack(first, last, steps)
    if isinstance(at, dict):
        for a in range(count):
            assert at[a] == max([first[a], *(at[b] + d for b, c, d in steps if c == a)])
            assert at[a] <= last[a]
        return
    for chain in at:
        assert all(step in steps for step in chain)
        end = chain[0][1]
        assert first[chain[-1][0]] + sum(d for _, _, d in chain) > last[end]


def test_a_circle_of_steps_is_told() -> None:
    chains = pack({"a": 0, "b": 0}, {"a": 9, "b": 9}, [("a", "b", 1), ("b", "a", 1)])
    assert isinstance(chains, list)
    assert set(chains[0]) == {("a", "b", 1), ("b", "a", 1)}


def test_parts_beside_each_other_keep_their_bodies_and_pins_apart() -> None:
    pin, wide = Edge(None, 0, 1), Edge(1300, None, -1)
    assert apart(pin, Edge(None, 0, 1), 2) == 1  # two pins of one net: the next hole
    assert apart(pin, Edge(None, 0, 2), 2) == 2  # of two nets, with a hole to drill between
    assert apart(wide, Edge(-1240, None, -1), 2) == 1  # 1.30 and 1.24 mm are just a step
    assert apart(wide, Edge(-1250, None, -1), 2) == 2


def test_free_holes_lie_between_the_pins_of_other_nets() -> None:
    rows = Rows(10, 2)
    for column, net in ((3, 7), (5, -1), (8, 9), (0, 9)):
        rows.take(4, column, net)
    # 1 is too near the pin in 0 to be cut off from it, 5 is under a body, 7 too near that in 8.
    assert sorted(rows.free(7, 4, 3)) == [2, 4, 6]
