"""The clauses with a literal for each place, against the truth of small cases."""

from __future__ import annotations

import math
import os

import pytest

from placer.circuit.model import AwayWish, Circuit, Net, Part, PinRef, Place
from placer.errors import PlacerError
from placer.packages.catalogue import lookup
from placer.plan.model import Options
from placer.solve.assemble import assemble, solve_info
from placer.solve.cores import BUILT, DOUBTFUL, IMPOSSIBLE, Cores
from placer.solve.frame import frame, pick_anchor, turns_upside_down
from placer.solve.legal import is_legal
from placer.solve.placemodel import PlaceModel, Stand
from placer.solve.pool import Pool
from placer.solve.prices import Prices
from placer.solve.problem import Problem, build
from placer.solve.prover import Prover, Task, theory_of
from placer.solve.wiring import wire
from tests.bench.boards import made_case
from tests.solve.cases import board_of, case
from tests.solve.engine import faults

COUNT = int(os.environ.get("PLACER_CASES", "0")) or 60


def by_places(p: Problem) -> Cores:
    """The clauses alone, taken to their end."""
    seen = frame(p, pick_anchor(p))
    assert seen is not None
    _, short = theory_of(p, seen, lambda: False, 1)
    prices = Prices.of(p.options.jumper_cost, p.options.cut_cost)
    model = PlaceModel(seen, prices, short, half=turns_upside_down(p))
    cores = Cores(model, Stand(model, Pool()))
    for _ in cores.run():
        pass
    return cores


@pytest.mark.parametrize("seed", range(COUNT))
def test_places_tell_the_least_cost(seed: int) -> None:
    drawn, truth = case("uncut", seed)
    try:
        p = build(drawn.circuit, drawn.board, drawn.options)
    except PlacerError:
        assert truth.cost is None
        return
    cores = by_places(p)
    cost = Prices.of(p.options.jumper_cost, p.options.cut_cost).cost(cores.bound)
    if truth.cost is None:
        assert cores.ended in (IMPOSSIBLE, DOUBTFUL)
        return
    assert cost <= truth.cost + 1e-9
    if cores.ended == BUILT:
        assert cores.places is not None
        wiring = wire(p, cores.places)
        assert wiring is not None
        plan = assemble(p, cores.places, wiring, cost, solve_info(0, 0, 1, (), None))
        assert faults(plan) == ()
        assert plan.score.cost == pytest.approx(truth.cost)
    else:  # a strip that only wires meet on is counted, not placed
        assert cores.ended == DOUBTFUL
        assert any(cores.model.sat.holds(lit) for lit in cores.model.shy)


def test_a_bank_of_short_strips_is_proved_place_by_place() -> None:
    """What strips and clusters leave open: whether the clusters fit side by side. The plain exact model says 7 too."""
    drawn = made_case(10, 1, "five-hole")
    p = build(drawn.circuit, drawn.board, drawn.options)
    prover = Prover(p, 1, lambda: False, Task.PROOFS)
    while not (found := prover.advance(30.0, math.inf)).ended:
        pass
    assert found.places is not None
    wiring = wire(p, found.places)
    assert wiring is not None
    assert found.bound == len(wiring.wires) == 7
    assert any(isinstance(getattr(way, "model", None), PlaceModel) for way in prover.ways)


def test_a_wish_about_two_parts_is_kept_where_a_proof_builds() -> None:
    """Two parts that would share a strip, but are to be far from each other."""
    apart = Place(away=(AwayWish("R2", 25.0),))
    circuit = Circuit(
        "apart",
        (Part("R1", "axial-0207", place=apart), Part("R2", "axial-0207")),
        (Net("A", (PinRef("R1", "1"), PinRef("R2", "1"))),),
        {"axial-0207": lookup("axial-0207")},
    )
    board = board_of([[(x, y) for x in range(5)] for y in range(18)])
    p = build(circuit, board, Options(allow_cuts=False))
    prover = Prover(p, 1, lambda: False, Task.PROOFS)
    while not (found := prover.advance(30.0, math.inf)).ended:
        pass  # places to start from come before the end
    assert found.bound == 1
    assert found.places is not None
    assert is_legal(p, found.places)
