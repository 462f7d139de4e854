"""Wishes as the compiled search prices them, against a plain reckoning; and what the search makes of them."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from placer.boards.catalogue import load_board
from placer.check.case import Case
from placer.check.wanted import times_kept
from placer.circuit.model import Circuit, Force, Net, Owned, Part, PinRef, Place, Preference, Region, Wishes
from placer.errors import PlacerError
from placer.packages.catalogue import lookup
from placer.plan.model import Options, Plan, Proof, Score, SolveInfo
from placer.plan.wanted import Facing
from placer.solve import layout, run
from placer.solve.aims import missed
from placer.solve.api import Request
from placer.solve.arrays import Arrays
from placer.solve.assemble import placements_of
from placer.solve.problem import build
from tests.bench.habits import kept
from tests.check.plans import circuit_of
from tests.solve.engine import faults, short_polish
from tests.solve.test_kernel import WEIGHT as SOME
from tests.solve.test_kernel import Mover, begin, drawn, places_in


@pytest.mark.parametrize("block", range(3))
def test_a_price_is_nought_where_the_wish_is_kept(block: int) -> None:
    """Wire ends aside, which the compiled search does not know."""
    seen: set[tuple[int, bool]] = set()
    for seed in range(700 + 30 * block, 730 + 30 * block):
        try:
            p = build(*drawn(seed))
        except PlacerError:
            continue
        arrays = Arrays(p, liked=True)
        state = begin(arrays, seed)
        wishes = [*p.wishes, *p.preferred]
        if state is None or not wishes:
            continue
        mover = Mover(arrays, random.Random(seed))
        for _ in range(40):
            mover.move(state, SOME, 1e9)
            w, (s, f) = arrays.world, state
            places = places_in(arrays, state)
            prices = s[w[layout.WISH_COST] : w[layout.WISH_COST] + len(wishes)].tolist()
            for wish, price in zip(wishes, prices, strict=True):
                times = missed(p, wish, places, ())
                assert (price > 0) == (times > 0), (seed, wish)
                if wish.force.cost is not None:
                    assert price == round(1000 * times * wish.force.cost)
                seen.add((wish.kind, times > 0))
            raised = sum(price for wish, price in zip(wishes, prices, strict=True) if wish.force.cost is not None)
            assert f[layout.RAISED] == raised
    assert len(seen) >= 10, "most kinds, kept and broken"


@pytest.mark.parametrize("board", ["five-hole-20", "long-strip-12x20"])
def test_facing_is_priced_as_it_is_counted(board: str) -> None:
    """By the compiled search, by the search's own count and by the judge's, in states as they come, legal or not."""
    refs = {"J1": "terminal-2", "J2": "terminal-3", "D1": "do-35", "R1": "axial-0207", "C1": "radial-10"}
    nets = {"A": "J1.1 D1.1 R1.1", "B": "J1.2 J2.1 C1.1", "C": "J2.3 D1.2 C1.2", "D": "J2.2 R1.2"}
    habits = Wishes(habits={"edges": Force(cost=1.0)})
    circuit = replace(circuit_of("gate", refs, nets), wishes=habits)
    p = build(circuit, load_board(board), Options(habits=True))
    faced = {wish.name: (no, wish.aim) for no, wish in enumerate(p.wanted) if isinstance(wish.aim, Facing)}
    assert len(faced) == 2
    arrays = Arrays(p)
    seen: set[tuple[int, bool]] = set()
    for seed in range(30):
        state = begin(arrays, seed)
        assert state is not None
        mover = Mover(arrays, random.Random(seed))
        for _ in range(60):
            mover.move(state, SOME, 1e9)
            places = places_in(arrays, state)
            prices = state[0][arrays.world[layout.WISH_COST] :][: arrays.n_wishes].tolist()
            score, proof = Score(0, 0, 0.0, 0.0), Proof("feasible", 0.0, 0.0)
            stood = placements_of(p, places)
            case = Case(Plan(circuit, p.board, stood, (), (), score, proof, SolveInfo(0.0, 1, 1), p.options))
            for no, aim in faced.values():
                times = missed(p, p.preferred[no], places, ())
                assert prices[no] == 1000 * times
                assert times_kept(case, aim) == 1 - times
                way = aim.places[case.stances[aim.ref].rotations[0]]
                seen.add((times, stood[aim.ref].pins["1"] in way))
    assert {(0, True), (1, False)} <= seen
    assert ((1, True) in seen) == (board == "five-hole-20"), "with something on the rails in front"


def test_terminals_face_edges(monkeypatch: pytest.MonkeyPatch) -> None:
    short_polish(monkeypatch)
    refs = {"J1": "terminal-2", "J2": "terminal-2", "R1": "axial-0207"}
    circuit = circuit_of("gate", refs, {"IN": "J1.1 R1.1", "OUT": "R1.2 J2.1", "GND": "J1.2 J2.2"})
    request = Request(circuit, load_board("long-strip-24x37"), Options(habits=True), seconds=None, effort=3, workers=1)
    plan = run.solve(request, faults).plan
    assert plan is not None
    assert plan.score.cost == 0
    assert [(tally.name, tally.kept) for tally in plan.score.wishes] == [
        ("J1 facing an edge", 1),
        ("J2 facing an edge", 1),
    ]


NONE = Wishes()


def bell(place: Place, wishes: Wishes = NONE) -> Circuit:
    """A timer with a capacitor and a header; the places of the header and the wishes are given."""
    packages = {"U1": "dip-8", "C1": "disc-5", "J1": "header-3", "R1": "axial-0207"}
    nets = {"VCC": "U1.8 U1.4 C1.1 J1.1 R1.1", "GND": "U1.1 C1.2 J1.3", "OUT": "U1.3 J1.2", "SET": "U1.6 R1.2"}
    roles = {"VCC": "supply", "GND": "ground"}
    return Circuit(
        "bell",
        tuple(Part(ref, name, place=place if ref == "J1" else Place()) for ref, name in packages.items()),
        tuple(
            Net(name, tuple(PinRef(*pin.split(".")) for pin in pins.split()), roles.get(name, "signal"))
            for name, pins in nets.items()
        ),
        {name: lookup(name) for name in packages.values()},
        wishes=wishes,
    )


def planned(circuit: Circuit, *, habits: bool = False, effort: int = 3) -> Plan:
    options = Options(allow_cuts=False, habits=habits)
    request = Request(circuit, load_board("five-hole-20"), options, seconds=None, effort=effort, workers=1)
    plan = run.solve(request, faults).plan
    assert plan is not None
    return plan


def test_habits_cost_no_jumper_and_are_told() -> None:
    plain, plan = planned(bell(Place())), planned(bell(Place()), habits=True)
    assert plan.score.cost <= plain.score.cost
    assert plain.score.wishes == ()
    assert {tally.habit for tally in plan.score.wishes} == {"rails", "decoupling", "edges"}
    before, after = kept(plain), kept(plan)
    assert sum(times for times, _ in after.values()) >= sum(times for times, _ in before.values())
    assert sum(times for times, _ in after.values()) == sum(tally.kept for tally in plan.score.wishes) > 0


def test_a_preference_gives_way_to_jumpers_and_a_cost_does_not(monkeypatch: pytest.MonkeyPatch) -> None:
    """The header far from all it serves: in the corner only where that is worth more than the jumpers it takes."""
    short_polish(monkeypatch)
    corner = Place(at={"1": "j1", "3": "j3"})
    best = planned(bell(Place())).score.cost
    liked = planned(bell(Place(prefer=(Preference(corner, Force(weight=5.0)),)))).score
    assert liked.cost == best
    raised = planned(bell(Place(prefer=(Preference(corner, Force(cost=20.0)),))), effort=6).score
    assert raised.raised == 0
    assert raised.cost >= best


def test_the_bound_holds_with_wishes_raised_to_costs(monkeypatch: pytest.MonkeyPatch) -> None:
    short_polish(monkeypatch)
    plan = planned(bell(Place(prefer=(Preference(Place(edge="top"), Force(cost=3.0)),))), effort=6)
    assert plan.proof.lower_bound <= planned(bell(Place())).score.cost + 1e-9
    assert plan.proof.gap == pytest.approx(plan.score.cost - plan.proof.lower_bound)


def test_ground_ends_on_a_rail_that_is_marked_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a rail either sign costs the same; the supply's and the ground's resistors go where they are marked."""
    refs = [f"R{n}" for n in range(1, 13)]
    nets = {
        "VCC": [f"{ref}.1" for ref in refs[:6]],
        "GND": [f"{ref}.1" for ref in refs[6:]],
        **{f"N{n}": [f"R{n}.2", f"R{n + 6}.2"] for n in range(1, 7)},
    }
    packages = dict.fromkeys(refs, "axial-0207")
    circuit = Circuit(
        "dividers",
        tuple(Part(ref, name) for ref, name in packages.items()),
        tuple(Net(name, tuple(PinRef(*pin.split(".")) for pin in pins)) for name, pins in nets.items()),
        {name: lookup(name) for name in packages.values()},
    )
    short_polish(monkeypatch)
    plain, plan = planned(circuit), planned(circuit, habits=True)
    assert plan.score.cost == plain.score.cost
    strip_of = plan.board.strip_of
    net_of = {(pin.part, pin.pin): net for pin, net in circuit.net_of.items()}
    on_rails = {
        (net_of[ref, pin], strip_of[hole].mark)
        for ref, placement in plan.placements.items()
        for pin, hole in placement.pins.items()
        if strip_of[hole].mark and net_of[ref, pin] in ("VCC", "GND")
    }
    assert ("GND", "-") in on_rails
    assert on_rails <= {("GND", "-"), ("VCC", "+")}


@pytest.mark.parametrize("wish", [Region("a1", "zz"), Owned("VCC", "no such strip")])
def test_what_the_board_does_not_have_is_told(wish: Region | Owned) -> None:
    circuit = bell(Place(), Wishes((wish,)))
    outcome = run.solve(Request(circuit, load_board("five-hole-20"), Options(), effort=1, seconds=None), faults)
    assert outcome.plan is None
    assert outcome.proved_impossible
    assert wish.words in outcome.reasons[0].message


def test_same_effort_same_plan_with_habits(monkeypatch: pytest.MonkeyPatch) -> None:
    short_polish(monkeypatch)
    one, two = (planned(bell(Place()), habits=True) for _ in range(2))
    assert replace(one, solve=two.solve) == two
