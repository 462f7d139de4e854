"""Every bound and every refusal of the proofs against the truth, with no good plan at hand that could hide a mistake.

In a run a bound above the optimum would go unnoticed wherever the best plan is found first. Here the proofs are told of
a plan that is worse than the best, or of none.
"""

from __future__ import annotations

import math
import os

import pytest

from placer.errors import PlacerError
from placer.solve.problem import build
from placer.solve.prover import Prover
from placer.solve.room import shortage
from placer.solve.wiring import wire
from tests.solve.kinds import DRAWS, case

COUNT = int(os.environ.get("PLACER_CASES", "0")) or 12
PORTIONS, PORTION = 4, 1.0  # of about so many seconds of work
WORSE = (2.6, math.inf)
"""How much more than the optimum the best plan known costs."""


@pytest.mark.parametrize("worse", WORSE)
@pytest.mark.parametrize("seed", range(COUNT))
@pytest.mark.parametrize("kind", DRAWS)
def test_no_proof_claims_more_than_is_so(kind: str, seed: int, worse: float) -> None:
    drawn, truth = case(kind, seed)
    least = math.inf if truth.cost is None else truth.cost
    missing = shortage(drawn.circuit, drawn.board, drawn.options)
    assert not missing or truth.cost is None, f"called impossible by counting; a plan costs {least}"
    try:
        problem = build(drawn.circuit, drawn.board, drawn.options)
    except PlacerError:
        assert truth.cost is None, f"called impossible by wishes; a plan costs {least}"
        return
    if missing:
        return
    proof = Prover(problem, seed, lambda: False)
    for _ in range(PORTIONS):
        finding = proof.advance(PORTION, least + worse)
        assert not finding.impossible or truth.cost is None, f"called impossible; a plan costs {least}"
        assert finding.bound <= least + 1e-9, f"a bound of {finding.bound}; the least cost is {least}"
        if finding.places is not None and wire(problem, finding.places) is not None:
            assert truth.cost is not None, "places that can be wired where no plan exists"
        if finding.ended:
            break
