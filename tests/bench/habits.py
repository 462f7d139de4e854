"""What the habits of builders cost on the demo circuits: each planned with and without them, side by side.

    python -m tests.bench.habits

Every circuit is planned on the smallest five-hole board of the table in outputs/results.md by rounds of work, so that
the figures are the same every time. For each habit: how often it is kept of how often it is wished for, in the plan
without habits and in the one with them. ``--worth 2`` plans a third time, each habit worth so many jumpers, and says
what those that are not kept for nothing would cost.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace

from placer.boards.catalogue import load_board
from placer.check.case import Case
from placer.check.judge import judge
from placer.check.wanted import times_kept
from placer.circuit.model import HABITS, Force, Wishes
from placer.circuit.read_yaml import read_circuit
from placer.plan.model import Options, Plan
from placer.plan.wanted import wanted
from placer.solve.api import Request
from placer.solve.run import solve
from tests.bench.demo import NETLISTS, demo_names

EFFORT = 12
LARGER = ("activity-bar", "four-hive-mixer")
Kept = dict[str, tuple[int, int]]
"""For each habit: how often kept, of how many."""


@dataclass(frozen=True)
class Habits:
    """A circuit planned twice."""

    name: str
    without: Plan
    plan: Plan
    raised: Plan | None = None  # each habit worth jumpers

    @property
    def extra(self) -> float:
        """What the habits cost in jumpers and cuts."""
        return round(self.plan.score.cost - self.without.score.cost, 6)


def planned(name: str, effort: int, seed: int, *, habits: bool, worth: float | None = None) -> Plan:
    """A demo circuit on a five-hole board. Raises AssertionError where there is no plan."""
    circuit, _ = read_circuit(NETLISTS / f"{name}.yaml")
    if worth is not None:
        circuit = replace(circuit, wishes=Wishes(habits=dict.fromkeys(HABITS, Force(cost=worth))))
    board = load_board("five-hole-63" if name in LARGER else "five-hole-30")
    request = Request(circuit, board, Options(allow_cuts=False, habits=habits), seconds=None, effort=effort, seed=seed)
    plan = solve(request, lambda plan: judge(plan).faults).plan
    assert plan is not None, f"no plan of {name}"
    return plan


def kept(plan: Plan) -> Kept:
    """How far each habit is kept in a plan, whether it was made for it or not; by the judge's reckoning."""
    case = Case(replace(plan, options=replace(plan.options, habits=True)))
    found = dict.fromkeys(HABITS, (0, 0))
    for wish in wanted(plan.circuit, plan.board, habits=True):
        if wish.habit:
            times, of = found[wish.habit]
            found[wish.habit] = times + times_kept(case, wish.aim), of + wish.of
    return found


def table(found: Sequence[Habits]) -> str:
    """A line for each circuit, and the sums."""
    heads = [f"{habit:>16}" for habit in HABITS]
    lines = [f"{'circuit':28}{'cost without':>13}{'with':>6}{'mm without':>12}{'with':>7}" + "".join(heads)]
    sums: dict[str, list[int]] = {habit: [0, 0, 0] for habit in HABITS}
    for one in found:
        before, after = kept(one.without), kept(one.plan)
        cells = ""
        for habit in HABITS:
            of = after[habit][1]
            cells += f"{f'{before[habit][0]} -> {after[habit][0]} of {of}' if of else '':>16}"
            for place, count in enumerate((before[habit][0], after[habit][0], of)):
                sums[habit][place] += count
        first, second = one.without.score, one.plan.score
        lines.append(
            f"{one.name:28}{first.cost:13g}{second.cost:6g}{first.jumper_mm:12.0f}{second.jumper_mm:7.0f}{cells}"
        )
    cells = "".join(f"{f'{sums[h][0]} -> {sums[h][1]} of {sums[h][2]}':>16}" for h in HABITS)
    cost = [sum(plan.score.cost for plan in plans) for plans in zip(*((o.without, o.plan) for o in found), strict=True)]
    wire = [sum(p.score.jumper_mm for p in plans) for plans in zip(*((o.without, o.plan) for o in found), strict=True)]
    for one in found:
        if one.raised is not None:
            score = one.raised.score
            broken = sum(tally.of - tally.kept for tally in score.wishes)
            said = "all habits kept" if not broken else f"{broken} habits broken"
            lines.append(f"{one.name:28}each worth jumpers: cost {score.cost:g} in jumpers, {said}")
    lines.append(f"{'all':28}{cost[0]:13g}{cost[1]:6g}{wire[0]:12.0f}{wire[1]:7.0f}{cells}")
    return "\n".join(lines) + "\n"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; returns its exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.habits", description=__doc__.splitlines()[0])
    parser.add_argument("--effort", type=int, default=EFFORT, help="rounds of each search")
    parser.add_argument("--seed", type=int, default=1, help="where the random search starts")
    parser.add_argument("--only", nargs="*", choices=demo_names(), default=demo_names(), help="some circuits")
    parser.add_argument("--worth", type=float, help="plan once more, each habit worth so many jumpers")
    given = parser.parse_args(arguments)
    found = []
    for name in given.only:
        plans = [planned(name, given.effort, given.seed, habits=habits) for habits in (False, True)]
        if given.worth is not None:
            plans.append(planned(name, given.effort, given.seed, habits=True, worth=given.worth))
        found.append(Habits(name, *plans))
        sys.stderr.write(f"{name} ")
        sys.stderr.flush()
    sys.stdout.write("\n" + table(found))
    return 0


if __name__ == "__main__":
    sys.exit(main())
