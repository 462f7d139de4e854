"""Cheaper plans near a plan: what is kept is kept as it is, what comes out is built, and no fact is made up."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

import pytest

from placer.solve.anneal import Annealer
from placer.solve.arrays import Arrays, Places
from placer.solve.assemble import assemble, solve_info
from placer.solve.cores import DOUBTFUL, Cores
from placer.solve.found import Found
from placer.solve.frame import frame, pick_anchor
from placer.solve.mixing import Way
from placer.solve.near import strips_of_pins
from placer.solve.prices import Prices
from placer.solve.problem import Problem, build
from placer.solve.prover import Prover, Task, names_all_others, theory_of
from placer.solve.regroup import Regroup
from placer.solve.sat import Counter
from placer.solve.shares import ShareModel
from placer.solve.sharing import SharingTheory
from placer.solve.wiring import wire
from tests.bench.boards import made_case
from tests.bench.demo import demo_case
from tests.solve.engine import faults

WORK = 8.0  # about seconds
CASES = [(8, 3), (12, 2), (15, 5)]


def made(parts: int, seed: int) -> Problem:
    """A made circuit on its five-hole board."""
    own = made_case(parts, seed, "five-hole")
    return build(own.circuit, own.board, own.options)


def jumpers(p: Problem, places: Places) -> int:
    """How many it takes; the plan is judged as well."""
    wiring = wire(p, places)
    assert wiring is not None
    plan = assemble(p, places, wiring, 0.0, solve_info(0, 0, 0, (), None))
    assert not faults(plan)
    return len(wiring.wires)


def first_plan(p: Problem, seed: int = 1) -> Found:
    """The first legal state that annealing comes to."""
    found = Annealer(Arrays(p), seed, lambda: False).advance(400_000, -1.0)
    return next(f for f in found if wire(p, f.places) is not None)


def regroup(p: Problem) -> tuple[Regroup, SharingTheory]:
    """A search near plans, with a theory of its own."""
    seen = frame(p, pick_anchor(p))
    assert seen is not None
    theory, short = theory_of(p, seen, lambda: False, 1)
    assert isinstance(theory, SharingTheory)
    assert names_all_others(seen, short)
    return Regroup(seen, Prices.of(p.options.jumper_cost, p.options.cut_cost), short, theory, lambda: False, 1), theory


def better(p: Problem, near: Regroup, theory: SharingTheory, places: Places, others: Sequence[Places] = ()) -> Places:
    """The best that it finds from a plan on; ``others``: to be mixed with it."""
    steps = near.run()
    near.told(places, 0, others)
    start, began = near.start, near.work + theory.work
    while near.ended is None and near.work + theory.work - began < WORK:
        next(steps, None)
        if near.start is not start and near.start is not None:
            assert jumpers(p, near.start) < jumpers(p, places), "what is handed on is cheaper"
            start = places = near.start
            near.told(places, 0, others)
    return places


@pytest.mark.parametrize(("parts", "seed"), CASES)
def test_a_plan_that_is_kept_as_it_is_costs_what_it_costs(parts: int, seed: int) -> None:
    p = made(parts, seed)
    for again in (1, 2, 3):
        places = first_plan(p, again).places
        own, _ = regroup(p)
        model = own.model
        for _ in model.state():
            pass
        on = strips_of_pins(p, places)
        count = jumpers(p, places) - model.base // Prices.of(p.options.jumper_cost, p.options.cut_cost).jumper
        costs = Counter(model.sat, list(model.costs))
        kept = model.as_it_is(on, frozenset())
        assert model.sat.ask([*kept, -costs.at_least(count + 1)], 100_000)
        assert _partition(model, on) == _partition(model, model.proposal().strip)
        assert model.sat.ask([*kept, -costs.at_least(count)], 100_000) is False


def _partition(model: ShareModel, on: dict[tuple[int, int], int]) -> set[frozenset[tuple[int, int]]]:
    """Which pins of one net are on one strip."""
    groups: dict[tuple[int, int], set[tuple[int, int]]] = {}
    for (i, k), s in on.items():
        groups.setdefault((s, model.p.items[i].nets[k]), set()).add((i, k))
    return set(map(frozenset, groups.values()))


@pytest.mark.parametrize(("parts", "seed"), CASES)
def test_a_first_plan_gets_as_cheap_as_the_proved_optimum(parts: int, seed: int) -> None:
    p = made(parts, seed)
    first = first_plan(p)
    found = better(p, *regroup(p), first.places)
    assert jumpers(p, found) < jumpers(p, first.places)

    prover = Prover(p, 1, lambda: False)
    for _ in range(90):
        finding = prover.advance(1.0, jumpers(p, found), found)
        if finding.ended:
            break
    assert jumpers(p, found) == finding.bound


def some_plans(p: Problem, count: int) -> list[Places]:
    """So many different plans."""
    plans: list[Places] = []
    seed = 1
    while len(plans) < count:
        plans += [places for places in [first_plan(p, seed).places] if places not in plans]
        seed += 1
    return plans


def told_of(p: Problem, plans: list[Places]) -> Regroup:
    """A search near the first of these plans that has stated its clauses; the others are there to be mixed."""
    near, _ = regroup(p)
    near.told(plans[0], 0, tuple(plans[1:]))
    for _ in near.model.state():
        pass
    return near


def sharing(p: Problem, near: Regroup, strip: dict[tuple[int, int], int]) -> set[tuple[object, object]]:
    """Pairs of pins on one short strip, and pins with their long strip; strips as the frame has them."""
    on_long = {pin: s for pin, s in strip.items() if s in near.model.on[pin]}
    found: set[tuple[object, object]] = set(on_long.items())
    for a, b in itertools.combinations(sorted(strip), 2):
        same = p.items[a[0]].nets[a[1]] == p.items[b[0]].nets[b[1]]
        if same and strip[a] == strip[b] and a not in on_long:
            found.add((a, b))
    return found


@pytest.mark.parametrize("name", ["", "gate-blinker", "hum-amplifier"])
def test_items_that_are_mixed_share_as_in_one_of_the_plans(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of few parts there may be but one mixture."""
    case = demo_case(name, "five-hole") if name else made_case(15, 3, "five-hole")
    p = build(case.circuit, case.board, case.options)
    plans = some_plans(p, 4)
    near = told_of(p, plans)
    model, frame_of = near.model, near.model.frame.of_board
    known = []
    for plan in plans:
        strips = {
            pin: int(frame_of[s]) if int(frame_of[s]) in model.on[pin] else model.frame.n_strips + s
            for pin, s in strips_of_pins(p, plan).items()
        }
        known.append(sharing(p, near, strips))
    monkeypatch.setattr("placer.solve.mixing.MIXED", (3,))
    in_all, some = near._mixing.chosen(plans[0], plans[1:])
    assert (set(in_all), set(some)) == (set.intersection(*known), set.union(*known))
    everyone, nobody = frozenset(range(len(p.items))), frozenset[int]()
    asked = model.as_in_some(in_all, some, everyone, nobody)
    for plan in plans:
        as_it_is = model.as_it_is(strips_of_pins(p, plan), nobody)
        assert model.sat.ask([*asked, *as_it_is], 100_000), "each of the plans is one of the mixtures"
    elsewhere = [on for pin, strips in model.on.items() for s, on in strips.items() if (pin, s) not in some]
    assert elsewhere
    assert not any(model.sat.ask([*asked, on], 100_000) for on in elsewhere), "nobody lies on another long strip"
    seen = set()
    for _ in range(8):
        if not model.sat.ask(asked, 100_000):
            break  # no more of them
        while model.mend():
            assert model.sat.ask(asked, 100_000)
        mixture = sharing(p, near, model.proposal().strip)
        assert set(in_all) <= mixture <= set(some)
        seen.add(frozenset(mixture))
        pairs = [model.share(*pair) for pair in mixture - set(in_all) if isinstance(pair[1], tuple)]
        model.sat.add([-lit for lit in pairs])  # another one
    assert len(seen) > (0 if name else 1)


def test_who_stands_beside_may_share_in_any_way() -> None:
    p = made(12, 2)
    plans = some_plans(p, 3)
    near = told_of(p, plans)
    model = near.model
    everyone = frozenset(range(len(p.items)))
    in_all, some = near._mixing.chosen(plans[0], plans[1:])
    beside = frozenset([0, 1, 2])
    for lit in model.as_in_some(in_all, some, everyone - beside, beside):
        assert not any(abs(lit) == on for pin in model.on for on in model.on[pin].values() if pin[0] in beside)
        touched = [two for two, share in model._shared.items() if share == abs(lit)]
        assert not any(a[0] in beside or b[0] in beside for a, b in touched)
    others = everyone - beside
    for a, b in itertools.combinations(sorted(pin for pin in model.on if pin[0] in others), 2):
        if p.items[a[0]].nets[a[1]] == p.items[b[0]].nets[b[1]] and (a, b) not in some:
            asked = model.as_in_some(in_all, some, others, beside)
            assert not model.sat.ask([*asked, model.share(a, b)], 100_000)
            break
    else:
        pytest.fail("some pair shares a strip in none of the plans")


def test_mixing_has_its_turns_and_hands_on_cheaper_plans(monkeypatch: pytest.MonkeyPatch) -> None:
    p = made(20, 2)
    ways: list[Way] = []
    let_go = Regroup._let_go

    def note(self: Regroup, best: Places, plans: list[Places], way: Way) -> tuple[frozenset[int], list[int]]:
        ways.append(way)
        return let_go(self, best, plans, way)

    monkeypatch.setattr(Regroup, "_let_go", note)
    plans = sorted(some_plans(p, 5), key=lambda plan: jumpers(p, plan))
    found = better(p, *regroup(p), plans[0], plans[1:])
    assert jumpers(p, found) < jumpers(p, plans[0])
    assert set(ways) == {Way.PLAIN, Way.MIXED, Way.BESIDE}


def test_what_it_finds_impossible_is_so_in_other_plans_too() -> None:
    """No conflict that is learned on the way is part of any legal plan."""
    p = made(12, 2)
    near, theory = regroup(p)
    better(p, near, theory, first_plan(p).places)
    assert len(theory.conflicts) > 20
    for again in range(2, 8):
        for found in Annealer(Arrays(p), again, lambda: False).advance(300_000, -1.0):
            if wire(p, found.places) is None:
                continue
            fresh, _ = regroup(p)
            for _ in fresh.model.state():
                pass
            for conflict in theory.conflicts:
                fresh.model.forbid(conflict)
            assert fresh.model.sat.ask(fresh.model.as_it_is(strips_of_pins(p, found.places), frozenset()), 100_000)


def test_the_proof_hands_on_a_cheaper_plan_than_it_is_told_of(monkeypatch: pytest.MonkeyPatch) -> None:
    """Even where it can tell nothing itself; what it has begun it does not begin again."""
    p = made(15, 5)
    places = first_plan(p).places
    cost = jumpers(p, places)
    monkeypatch.setattr(Cores, "run", _at_a_loss)
    prover = Prover(p, 1, lambda: False)
    best = cost
    begun = None
    for _ in range(40):
        finding = prover.advance(0.5, best, places)
        if finding.places is not None and wire(p, finding.places) is not None:
            places = finding.places
            best = min(best, jumpers(p, places))
        begun = begun or list(prover.ways)
        assert list(prover.ways) == begun
        assert not finding.ended
        if best < cost:
            break
    assert best < cost
    assert finding.bound == 0


def _at_a_loss(self: Cores) -> Iterator[None]:
    """In the place of a proof: one that ends at once without telling anything."""
    self.ended = DOUBTFUL
    yield


def test_who_looks_near_the_best_plan_alone_proves_nothing_and_who_proves_alone_looks_nowhere() -> None:
    p = made(15, 5)
    places = first_plan(p).places
    cost = jumpers(p, places)
    near, proofs = (Prover(p, 1, lambda: False, task) for task in (Task.NEAR, Task.PROOFS))
    found = [near.advance(0.5, cost, places) for _ in range(40)]
    cheaper = [f.places for f in found if f.places is not None and wire(p, f.places) is not None]
    assert min(jumpers(p, some) for some in cheaper) < cost
    assert {f.bound for f in found} == {0.0}
    for _ in range(40):
        finding = proofs.advance(0.5, cost, places)
        if finding.ended:
            break
        assert finding.places is None  # before the end
    assert 0 < finding.bound < cost
