"""What a proof builds is a plan: wishes of several parts kept, bodies off the axes apart."""

from __future__ import annotations

import math
import random

import pytest

from placer.boards.catalogue import load_board
from placer.circuit.model import AwayWish, Circuit, Net, Part, PinRef, Place
from placer.packages.catalogue import lookup
from placer.plan.model import Options
from placer.solve.assemble import assemble, solve_info
from placer.solve.legal import is_legal
from placer.solve.problem import Item, build
from placer.solve.prover import Prover, Task
from placer.solve.wiring import Wiring
from tests.solve.cases import board_of
from tests.solve.circuits import catalogue_circuit
from tests.solve.engine import faults


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


@pytest.mark.parametrize("seed", range(4))
def test_bodies_off_the_axes_meet_where_the_judge_says_so(seed: int) -> None:
    """Parts thrown onto the board: where the judge finds bodies that overlap, and nowhere else, they are refused."""
    dice = random.Random(f"thrown {seed}")
    p = build(catalogue_circuit(dice, 3), load_board("long-strip-10x16"), Options(allow_cuts=True, diagonals=True))
    met = 0
    for _ in range(150):
        places = tuple(_thrown(dice, item) for item in p.items)
        plan = assemble(p, places, Wiring((), (), (), 0.0), 0.0, solve_info(0, 0, 1, (), None))
        overlap = "bodies-overlap" in {fault.code for fault in faults(plan)}
        assert is_legal(p, places) is not overlap
        met += overlap
    assert 5 < met < 145


def _thrown(dice: random.Random, item: Item) -> tuple[int, int]:
    no = dice.choice([no for no, way in enumerate(item.ways) if len(way)])
    return no, int(dice.choice(item.ways[no]))
