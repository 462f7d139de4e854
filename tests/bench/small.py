"""The engine against the truth: small random problems whose least cost is known because everything was tried.

    python -m tests.bench.small 200

draws 200 problems, of all kinds in turn (:mod:`tests.solve.cases`), and holds the engine's plan and bound against the
least cost found by exhaustive search. Each problem is first searched with little effort, then with more. Exit code 1
when the engine claims what is not so (a bound above the least cost, a plan cheaper than it, a proof that is none) or
misses the optimum with all the effort. Plans that need wires to meet on empty copper may be missed, never denied.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass

import pytest

from tests.solve.agree import EFFORTS, claims_are_true
from tests.solve.brute import Answer
from tests.solve.cases import Case
from tests.solve.engine import answer_of, short_polish
from tests.solve.kinds import DRAWS, case

OPTIMUM, MISSED, NONE, FALSE = "optimum", "missed", "no plan exists", "false claim"


@dataclass(frozen=True)
class Small:
    """A problem and what came of it. ``effort``: rounds with which the result was reached; costs None: no plan.

    ``result``: one of the four above; ``claim``: what was false.
    """

    name: str
    kind: str
    result: str
    effort: int
    least: float | None
    cost: float | None
    bound: float
    junctions: bool
    claim: str = ""


def compare(drawn: Case, truth: Answer, kind: str, efforts: Sequence[int] = EFFORTS) -> Small:
    """Search a problem, with more and more effort while the optimum is missed, and judge every claim made."""
    cost, bound, effort = None, 0.0, efforts[0]
    for effort in efforts if truth.cost is not None else efforts[:1]:
        outcome = answer_of(drawn, effort)
        plan = outcome.plan
        cost = None if plan is None else plan.score.cost
        bound = 0.0 if plan is None else plan.proof.lower_bound
        try:
            claims_are_true(outcome, truth)
        except AssertionError as error:
            claim = str(error).split("\n")[0] or "a plan that the judge refuses, or no reason for none"
            return Small(drawn.name, kind, FALSE, effort, truth.cost, cost, bound, truth.junctions, claim)
        if cost == truth.cost:
            break
    result = NONE if truth.cost is None else OPTIMUM if cost == truth.cost else MISSED
    return Small(drawn.name, kind, result, effort, truth.cost, cost, bound, truth.junctions)


def table(found: Sequence[Small]) -> str:
    """Counts of each kind."""
    heads = ("problems", "no plan", "optimum", "at once", "proved", "missed", "false")
    lines = [f"{'kind':12} " + " ".join(f"{head:>8}" for head in heads)]
    groups = [*dict.fromkeys(one.kind for one in found), ""]
    for kind in groups:
        own = [one for one in found if kind in ("", one.kind)]
        best = [one for one in own if one.result == OPTIMUM]
        counts = (
            len(own),
            sum(one.result == NONE for one in own),
            len(best),
            sum(one.effort == EFFORTS[0] for one in best),
            sum(one.least is not None and one.bound >= one.least - 1e-9 for one in best),
            sum(one.result == MISSED for one in own),
            sum(one.result == FALSE for one in own),
        )
        lines.append(f"{kind or 'all':12} " + " ".join(f"{count:8}" for count in counts))
    return "\n".join(lines) + "\n"


def failed(one: Small) -> bool:
    """True when the engine is to blame."""
    return one.result == FALSE or (one.result == MISSED and not one.junctions)


def _say(one: Small) -> None:
    """A line for what went wrong."""
    if one.result in (MISSED, FALSE):
        wires = "; wires must meet on empty copper" if one.junctions else ""
        figures = f"least cost {one.least}, plan {one.cost}, bound {one.bound}{wires}"
        sys.stdout.write(f"{one.name}: {one.result}: {one.claim or figures}\n")
        sys.stdout.flush()


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; returns its exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.small", description=__doc__.splitlines()[0])
    parser.add_argument("count", type=int, help="how many problems")
    parser.add_argument("--from", dest="start", type=int, default=0, help="seed of the first of each kind")
    parser.add_argument("--kinds", nargs="*", choices=list(DRAWS), default=list(DRAWS))
    given = parser.parse_args(arguments)
    found = []
    with pytest.MonkeyPatch.context() as patch:
        short_polish(patch)
        for number in range(given.count):
            again, which = divmod(number, len(given.kinds))
            kind = given.kinds[which]
            found.append(compare(*case(kind, given.start + again), kind))
            _say(found[-1])
    sys.stdout.write(table(found))
    return 1 if any(map(failed, found)) else 0


if __name__ == "__main__":
    sys.exit(main())
