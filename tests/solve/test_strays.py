"""Long strips: parts that no order puts in order, and parts whose bodies reach beyond the lines of their pins."""

from __future__ import annotations

import itertools
import os
import random
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from placer.circuit.model import Circuit, Net, Part, PinRef, Place
from placer.errors import PlacerError
from placer.packages.catalogue import lookup
from placer.packages.model import Rigid, TwoLead
from placer.plan.model import Options
from placer.solve.abreast import keeps_order, spare_holes
from placer.solve.assemble import assemble, solve_info
from placer.solve.cores import BUILT, IMPOSSIBLE, Cores
from placer.solve.cutproof import CutTheory
from placer.solve.frame import Frame, frame, pick_anchor, turns_upside_down
from placer.solve.lined import direction, lies_in_lines, lines_of_strips, stands
from placer.solve.linemodel import LineModel, clauses
from placer.solve.lines import lines_of
from placer.solve.prices import Prices
from placer.solve.problem import Problem, build
from placer.solve.prover import theory_of
from placer.solve.shapes import shapes
from placer.solve.stances import Stance, Stances
from placer.solve.wiring import wire
from tests.bench.boards import made_case
from tests.solve.brute import optimum
from tests.solve.cases import board_of, package
from tests.solve.engine import faults

COUNT = int(os.environ.get("PLACER_CASES", "0")) or 60
PACKAGES = (
    *("axial-0207", "disc-5", "film-10", "radial-10", "led-5", "crystal-hc49", "dip-8", "to-92", "to-220", "trimmer-3"),
    *("relay", "header-3", "terminal-2", "button-6"),
)
POST = replace(lookup("header-1"), name="post", form=Rigid(((0, 0),), (-0.5, -0.5, 0.5, 0.5)))
"""A pin that stands by itself, thin enough for a hole beside a body."""


def pair_on_lines(one: str, other: str, cut: str) -> tuple[Problem, Frame, Stances]:
    """Two parts, all their pins nets of their own, on a board of long strips."""
    board = board_of([[(x, y) for x in range(20)] for y in range(9)], cut=cut)
    packages = {name: POST if name == "post" else lookup(name) for name in (one, other)}
    p = build(Circuit("two", (Part("X1", one), Part("X2", other)), (), packages), board, Options())
    seen, lines = frame(p, pick_anchor(p)), lines_of(p)
    assert seen is not None
    assert lines is not None
    return p, seen, Stances(seen, direction(p), lines_of_strips(seen), lines.gap)


def pairs_of_stances(found: Stances) -> Iterator[tuple[Stance, Stance]]:
    """Every pair of shapes of the two items, every distance across the strips once."""
    seen = set()
    for alike, others in itertools.product(found.of(0).values(), found.of(1).values()):
        for one, other in itertools.product(alike, others):
            what = (one.shape, other.shape, other.line - one.line)
            if what not in seen:
                seen.add(what)
                yield one, other


@pytest.mark.parametrize("cut", ["hole", "knife"])
@pytest.mark.parametrize("one", PACKAGES)
def test_only_parts_with_holes_to_spare_between_their_pins_stray(one: str, cut: str) -> None:
    """The reason for one order of all parts: whatever keeps order stands before or after all that does too."""
    for other in PACKAGES[PACKAGES.index(one) :]:
        p, _, found = pair_on_lines(one, other, cut)
        for a, b in pairs_of_stances(found):
            tidy = [keeps_order(p.items[i].shapes[s.shape], found.along) for i, s in enumerate((a, b))]
            if all(tidy):
                assert found.astray(0, a, 1, b) == [], (one, other, a.shape, b.shape)


def test_a_lead_strays_into_the_hole_between_the_pins_of_a_button() -> None:
    p, _, found = pair_on_lines("button-6", "post", "knife")
    strays = {
        (a.shape, b.line - a.line): columns for a, b in pairs_of_stances(found) if (columns := found.astray(0, a, 1, b))
    }
    for shape in (1, 3):  # on its side: two columns of pins, three lines apart
        lines = {o[1] for o in p.items[0].shapes[shape].offsets}
        assert {shift for no, shift in strays if no == shape} == lines
    assert set(map(tuple, strays.values())) == {(1,)}
    # Where cuts are drilled, a lead of another net beside a pin is too near.
    _, _, drilled = pair_on_lines("button-6", "post", "hole")
    assert not any(drilled.astray(0, a, 1, b) for a, b in pairs_of_stances(drilled))


@pytest.mark.parametrize("cut", ["hole", "knife"])
@pytest.mark.parametrize(
    "pair", [("button-6", "post"), ("button-6", "axial-0207"), ("relay", "post"), ("dip-8", "dip-8")]
)
def test_on_how_many_lines_apart_two_shapes_stray(pair: tuple[str, str], cut: str) -> None:
    _, _, found = pair_on_lines(*pair, cut)
    for a, b in pairs_of_stances(found):
        for (i, one), (j, two) in itertools.permutations(((0, a), (1, b))):
            assert (two.line - one.line in found.shifts_astray(i, one, j, two)) == bool(found.astray(i, one, j, two))


@pytest.mark.parametrize("cut", ["hole", "knife"])
def test_what_is_measured_of_a_pair_is_used_for_others_only_where_it_is_the_same(cut: str) -> None:
    board = board_of([[(x, y) for x in range(20)] for y in range(9)], cut=cut)
    parts = tuple(Part(ref, name) for ref, name in zip("ABCDEF", ["button-6"] * 3 + ["post"] * 3, strict=True))
    nets = (("one", ("A.1", "D.1")), ("two", ("B.3", "E.1")), ("all", ("A.3", "B.1", "C.1", "C.3", "F.1")))
    joined = tuple(Net(name, tuple(PinRef(*pin.split(".")) for pin in pins)) for name, pins in nets)
    p = build(Circuit("six", parts, joined, {"button-6": lookup("button-6"), "post": POST}), board, Options())
    seen, lines = frame(p, pick_anchor(p)), lines_of(p)
    assert seen is not None
    assert lines is not None

    def fresh() -> Stances:
        return Stances(seen, direction(p), lines_of_strips(seen), lines.gap)

    shared = fresh()
    columns: dict[tuple[str, str], list[list[int]]] = {}
    for i, j in itertools.permutations(range(len(p.items)), 2):
        alone, seen_so = fresh(), set()
        for a, b in itertools.product(itertools.chain(*shared.of(i).values()), itertools.chain(*shared.of(j).values())):
            if (a.shape, b.shape, b.line - a.line) not in seen_so:
                seen_so.add((a.shape, b.shape, b.line - a.line))
                astray = alone.astray(i, a, j, b)
                assert shared.astray(i, a, j, b) == astray
                assert shared.between(i, a, j, b) == alone.between(i, a, j, b)
                columns.setdefault((p.items[i].ref, p.items[j].ref), []).append(astray)
    strays = {pair for pair, found in columns.items() if any(found)}
    # Where cuts are drilled, a lead stands in the hole between two pins only if both are on its net.
    buttons_and_posts = set(itertools.product("ABC", "DEF"))
    expected = {("C", "F")} if cut == "hole" else buttons_and_posts
    assert strays & buttons_and_posts == expected
    assert {pair[::-1] for pair in strays} & buttons_and_posts == expected


def test_holes_to_spare_between_the_pins_of_a_line() -> None:
    on_its_side = shapes(lookup("button-6"))[1]
    assert not keeps_order(on_its_side, 0)
    assert spare_holes(on_its_side, 0) == [((2, 1), (0, 1)), ((3, 1), (1, 1))]
    assert all(spare_holes(shape, 0) == [] for name in PACKAGES[:-1] for shape in shapes(lookup(name)))
    # A pin on each side of a narrow body, on two lines: room between each pin and the body.
    body = (2 * 2.54 - 1.5, 1.27 - 1.5, 2 * 2.54 + 1.5, 1.27 + 1.5)
    crooked = shapes(replace(POST, form=Rigid(((0, 0), (4, 1)), body), pins=("1", "2")))[0]
    assert spare_holes(crooked, 0) == [((0, 1), None), (None, (1, 1))]


def proved(p: Problem) -> tuple[Cores, CutTheory, Prices]:
    """The proof by clauses, to its end."""
    seen = frame(p, pick_anchor(p))
    assert seen is not None
    prices = Prices.of(p.options.jumper_cost, p.options.cut_cost)
    theory, shares = theory_of(p, seen, lambda: False, 1)
    assert isinstance(theory, CutTheory)
    cores = Cores(clauses(seen, prices, shares, half=turns_upside_down(p)), theory)
    for _ in cores.run():
        pass
    return cores, theory, prices


@pytest.mark.parametrize("cut", ["hole", "knife"])
@pytest.mark.parametrize("own", [True, False], ids=["own net", "other net"])
def test_a_board_on_which_a_lead_must_stand_between_the_pins_of_a_button(cut: str, own: bool) -> None:
    """Three columns and four lines: two pins fill what the button leaves free, but for the holes between its pins."""
    board = board_of([[(x, y) for x in range(3)] for y in range(4)], cut=cut)
    packages = {"button-6": replace(lookup("button-6"), joined=()), "post": POST}
    parts = (Part("S1", "button-6"), Part("X1", "post"), Part("X2", "post"))
    nets = tuple(Net(f"N{k}", (PinRef("S1", str(k)), PinRef("S1", str(k + 2)))) for k in (1, 2))
    if own:
        nets = tuple(Net(f"N{k}", (*net.pins, PinRef(f"X{k}", "1"))) for k, net in enumerate(nets, 1))
    circuit = Circuit("lid", parts, nets, packages)
    truth = optimum(circuit, board, Options()).cost
    cores, _, prices = proved(build(circuit, board, Options()))
    if truth is None:
        assert cores.ended != BUILT
    else:
        assert prices.cost(prices.attainable(cores.bound)) <= truth + 1e-9
        assert cores.ended == BUILT


@pytest.mark.parametrize("seed", [1, 4])
def test_what_the_clauses_propose_can_be_built(seed: int) -> None:
    """A terminal block wider than its pins, and a button: nothing is left to the arrangement model."""
    made = made_case(10, seed, "long-strip")
    cores, theory, _ = proved(build(made.circuit, made.board, made.options))
    assert cores.ended == BUILT
    assert theory.work == 0


def beside_a_button(dice: random.Random) -> Problem:
    """A few parts that can lie and stand on the same strips, a button mostly on its side, random nets."""
    wide, high = dice.randint(3, 6), dice.randint(4, 6)
    board = board_of(
        [[(x, y) for x in range(wide)] for y in range(high)],
        cut=dice.choice(("knife", "knife", "hole")),
        margin=(3, 3, 3, 3),
    )
    turns = TwoLead((1, 2), (1, 2) if dice.random() < 0.5 else (), 2.0, dice.choice((1.0, 2.5, 5.5)), 2.0)
    own = {
        "button-6": replace(lookup("button-6"), joined=()),
        "rod": package("rod", TwoLead((2,), (2,), 6.0, 6.0, 1.0), 2),
        "bead": package("bead", turns, 2),
        "post": POST,
    }
    names = ["button-6", *dice.choices(("rod", "bead", "bead", "post"), k=dice.randint(1, 4))]
    parts = [Part(f"X{k}", name) for k, name in enumerate(names, 1)]
    if dice.random() < 0.7:
        parts[0] = replace(parts[0], place=Place(rotation=90))
    pins = [PinRef(part.ref, pin) for part in parts for pin in own[part.package].pins]
    dice.shuffle(pins)
    nets = []
    while len(pins) > 1:
        size = min(dice.choice((1, 2, 2, 3, 4)), len(pins))
        if size > 1:
            nets.append(Net(f"N{len(nets)}", tuple(sorted(pins[:size]))))
        del pins[:size]
    packages = {name: own[name] for name in set(names)}
    circuit = Circuit("bench", tuple(parts), tuple(nets), packages)
    return build(circuit, board, Options())


def test_what_is_proposed_beside_a_button_is_a_plan() -> None:
    """Flat and standing on the same strips, after pairs have strayed or not: nothing that is proposed overlaps."""
    plans = strayed = 0
    for seed in range(COUNT):
        try:
            p = beside_a_button(random.Random(seed))
        except PlacerError:
            continue
        seen, prices = frame(p, pick_anchor(p)), Prices.of(p.options.jumper_cost, p.options.cut_cost)
        assert seen is not None
        if not lies_in_lines(seen):
            continue
        model = LineModel(seen, prices, np.ones(seen.n_strips, dtype=bool))
        cores = Cores(model, None)
        for _ in cores.run():
            pass
        theory, _ = theory_of(p, seen, lambda: False, 1)
        assert isinstance(theory, CutTheory)
        places = None if cores.ended == IMPOSSIBLE else theory.on_board(model.proposal().places)
        wiring = None if places is None else wire(p, places)
        if places is not None and wiring is not None:
            plan = assemble(p, places, wiring, 0.0, solve_info(0, 0, 1, (), None))
            assert faults(plan) == (), seed
            assert plan.score.cost >= prices.cost(cores.bound) - 1e-9
            plans += 1
            strayed += bool(model._told)
    assert plans > COUNT / 5
    assert strayed


def test_a_wire_may_end_between_a_pin_and_the_body_of_its_part() -> None:
    """A narrow body between two pins on two lines; the wire of the judged plan stands beside the body."""
    body = (2 * 2.54 - 1.5, 1.27 - 1.5, 2 * 2.54 + 1.5, 1.27 + 1.5)
    crooked = package("crooked", Rigid(((0, 0), (4, 1)), body), 2)
    board = board_of([[(x, y) for x in range(5)] for y in range(2)], cut="hole")
    parts = (
        Part("X1", "crooked", place=Place(at={"1": "a1", "2": "e2"})),
        Part("X2", "header-1", place=Place(at={"1": "a2"})),
        Part("X3", "header-1", place=Place(at={"1": "e1"})),
    )
    nets = (Net("A", (PinRef("X1", "1"), PinRef("X2", "1"))),)
    circuit = Circuit("gate", parts, nets, {"crooked": crooked, "header-1": lookup("header-1")})
    p = build(circuit, board, Options())
    truth = optimum(circuit, board, Options()).cost
    assert truth is not None
    seen, prices = frame(p, pick_anchor(p)), Prices.of(p.options.jumper_cost, p.options.cut_cost)
    assert seen is not None
    model = LineModel(seen, prices, np.ones(seen.n_strips, dtype=bool))
    for _ in model.state():
        pass
    model._end((0, 0))  # what else is stated only where a proposal lacks it
    model.state = lambda: iter(())  # type: ignore[method-assign]  # it has been stated
    cores = Cores(model, None)
    for _ in cores.run():
        pass
    assert cores.ended != IMPOSSIBLE
    assert prices.cost(cores.bound) <= truth + 1e-9


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_where_parts_may_stand_for_each_place_of_the_anchor(seed: int) -> None:
    made = made_case(10, seed, "long-strip")
    p = build(made.circuit, made.board, made.options)
    seen = frame(p, pick_anchor(p))
    assert seen is not None
    assert len(seen.moves) > 1
    line = p.hy if seen.axis else p.hx
    for i, item in enumerate(p.items):
        truth: dict[tuple[int, ...], dict[int, set[int]]] = {}
        for t, move in enumerate(seen.moves):
            for no, (shape, way) in enumerate(zip(item.shapes, item.ways, strict=True)):
                for hole in way.tolist():
                    if i == seen.anchor and line[hole] != move:
                        continue
                    pins = [p.hole(int(p.hx[hole]) + dx, int(p.hy[hole]) + dy) for dx, dy in shape.offsets]
                    key = tuple(int(seen.shifts[t][p.hstrip[h]]) for h in pins)
                    truth.setdefault(key, {}).setdefault(no, set()).add(t)
        found = {key: {no: set(times) for no, times in by.items()} for key, by in stands(seen, i).items()}
        assert found == truth
    assert np.ptp(seen.moves) > 0
