"""The engine against the truth: random small cases whose least cost is known because everything was tried.

PLACER_CASES sets how many cases of each kind are drawn (1000, say); the standard number keeps the suite quick. Plans
that need wires to meet on empty copper may be missed by the search, never denied by a proof.
"""

from __future__ import annotations

import os

import pytest

from tests.solve.agree import agree
from tests.solve.engine import short_polish
from tests.solve.kinds import case

COUNT = int(os.environ.get("PLACER_CASES", "0"))
UNCUT = range(COUNT or 110)
CUT = range(COUNT or 90)


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    short_polish(monkeypatch)


@pytest.mark.parametrize("seed", UNCUT)
def test_on_copper_that_is_not_cut(seed: int) -> None:
    agree(*case("uncut", seed))


@pytest.mark.parametrize("seed", CUT)
def test_on_copper_that_may_be_cut(seed: int) -> None:
    agree(*case("cut", seed))
