"""Random circuits with random wishes: does every plan keep them, and is every refusal right?

    python -m tests.bench.wishes 300

Two problems of three are small: the truth about them is found by trying everything (:mod:`tests.solve.brute`). The
others are circuits of catalogue packages on catalogue boards, where only the judge speaks. Exit code 1 when a plan is
faulty, a refusal or a bound is not so, or no plan was found of a small problem that has one without wires that must
keep their distance.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Sequence
from dataclasses import dataclass

import pytest

from placer.boards.catalogue import load_board
from placer.circuit.model import Apart, Circuit
from placer.plan.model import Options
from placer.solve import run
from placer.solve.api import Request
from tests.solve.brute import Answer, optimum
from tests.solve.cases import Case, any_board, any_circuit
from tests.solve.circuits import catalogue_circuit
from tests.solve.engine import faults, short_polish
from tests.solve.wires import TooLargeError
from tests.solve.wishing import wishful

PLAN, REFUSED, OPEN, FALSE = "plan", "refused", "not known", "false claim"
EFFORTS = (2, 6, 12)
BOARDS = ("five-hole-20", "five-hole-30", "long-strip-12x20", "single-pad-24x16")


@dataclass(frozen=True)
class Wished:
    """A problem and what came of it. ``truth``: None where it is not known. ``claim``: what was false."""

    name: str
    kind: str
    result: str
    cost: float | None
    truth: Answer | None
    claim: str = ""
    broken: int = 0  # wishes that need not be kept, and are not
    wished: int = 0


def small(number: int) -> tuple[Case, Answer]:
    """A small problem with wishes, and the truth about it; every second one has a plan without its wishes."""
    for again in range(1000):
        dice = random.Random(f"wished {number} {again}")
        board = any_board(dice, dice.choice(("none", "none", "hole", "both")))
        circuit = wishful(dice, board, any_circuit(dice, board, dice.choice((2, 3, 3)), wishes=0.4))
        options = Options(habits=dice.random() < 0.5)
        try:
            truth = optimum(circuit, board, options)
        except TooLargeError:
            continue
        if truth.plan is not None or dice.random() < 0.5:
            return Case(f"small-{number}", circuit, board, options), truth
    raise AssertionError("unreachable")


def larger(number: int) -> Case:
    """A circuit of catalogue packages with wishes on a catalogue board."""
    dice = random.Random(f"wished larger {number}")
    board = load_board(BOARDS[number % len(BOARDS)])
    circuit = catalogue_circuit(dice, dice.randint(4, 9), without=("header-2x3",))
    circuit = wishful(dice, board, circuit, roomy=4)
    return Case(f"larger-{number}", circuit, board, Options(allow_cuts=board.cut_by_default, habits=True))


def look(case: Case, truth: Answer | None, kind: str) -> Wished:
    """Search a problem and hold what is said against the judge, and the truth where it is known."""
    efforts = EFFORTS if truth is None or truth.plan is not None else EFFORTS[:1]
    for effort in efforts:
        request = Request(case.circuit, case.board, case.options, seconds=None, effort=effort, workers=1)
        outcome = run.solve(request, faults)
        if outcome.plan is not None or outcome.proved_impossible:
            break
    plan = outcome.plan
    if plan is None:
        if outcome.proved_impossible and truth is not None and truth.plan is not None:
            return Wished(case.name, kind, FALSE, None, truth, f"refused: {outcome.reasons[0].message}")
        return Wished(case.name, kind, REFUSED if outcome.proved_impossible else OPEN, None, truth)
    claims = [fault.message for fault in faults(plan)]
    if truth is not None:
        least = truth.cost
        if least is None:
            claims.append("a plan where none exists")
        elif plan.score.cost < least - 1e-9:
            claims.append(f"cheaper than the least cost, {least}")
        elif plan.proof.lower_bound > least + 1e-9:
            claims.append(f"the bound {plan.proof.lower_bound} is above the least cost, {least}")
    broken = sum(tally.of - tally.kept for tally in plan.score.wishes)
    wished = sum(tally.of for tally in plan.score.wishes)
    result = FALSE if claims else PLAN
    return Wished(case.name, kind, result, plan.score.cost, truth, "; ".join(claims), broken, wished)


def loose(circuit: Circuit) -> bool:
    """True where the exhaustive search says less than the judge: it does not keep wires of two nets apart."""
    return any(isinstance(wish, Apart) and wish.force.binding for wish in circuit.wishes.shared)


def missed(one: Wished, circuit: Circuit) -> bool:
    """True where a plan exists and none was found."""
    return one.result == OPEN and one.truth is not None and one.truth.plan is not None and not loose(circuit)


def table(found: Sequence[Wished], lost: int) -> str:
    """Counts of each kind."""
    heads = ("problems", "plans", "optimal", "refused", "not known", "false", "wished", "broken")
    lines = [f"{'kind':8} " + " ".join(f"{head:>9}" for head in heads)]
    for kind in (*dict.fromkeys(one.kind for one in found), ""):
        own = [one for one in found if kind in ("", one.kind)]
        counts = (
            len(own),
            sum(one.result == PLAN for one in own),
            sum(one.result == PLAN and one.truth is not None and one.cost == one.truth.cost for one in own),
            sum(one.result == REFUSED for one in own),
            sum(one.result == OPEN for one in own),
            sum(one.result == FALSE for one in own),
            sum(one.wished for one in own),
            sum(one.broken for one in own),
        )
        lines.append(f"{kind or 'all':8} " + " ".join(f"{count:9}" for count in counts))
    return "\n".join(lines) + f"\nplans that exist and were not found: {lost}\n"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; returns its exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.wishes", description=__doc__.splitlines()[0])
    parser.add_argument("count", type=int, help="how many problems")
    parser.add_argument("--from", dest="start", type=int, default=0, help="number of the first")
    given = parser.parse_args(arguments)
    found, lost = [], 0
    with pytest.MonkeyPatch.context() as patch:
        short_polish(patch)
        for number in range(given.start, given.start + given.count):
            case, truth = small(number) if number % 3 else (larger(number // 3), None)
            found.append(look(case, truth, "small" if number % 3 else "larger"))
            gone = missed(found[-1], case.circuit)
            lost += gone
            if gone or found[-1].claim:
                sys.stdout.write(f"{case.name}: {found[-1].claim or 'no plan was found, and there is one'}\n")
                sys.stdout.flush()
    sys.stdout.write(table(found, lost))
    return 1 if lost or any(one.result == FALSE for one in found) else 0


if __name__ == "__main__":
    sys.exit(main())
