"""The benchmark: engine and baselines side by side on the same circuits and boards, one after another, in one run.

    python -m tests.bench.run                      # everything; some hours
    python -m tests.bench.run --quick              # a look, some minutes
    python -m tests.bench.run --only made-40       # the cases whose name has this in it
    python -m tests.bench.run --redraw             # tables and figures again, from the runs written down

Writes `benchmark.csv` (all runs with their curves) and `benchmark.md` to ``--out`` after every case, so that little is
lost when it is stopped, and at the end `benchmark-anytime.png` and `benchmark-growth.png`. Run it on an idle machine.
"""

from __future__ import annotations

import argparse
import sys
import traceback
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from tests.bench import annealing, engine, exact, figures, relaxed, table
from tests.bench.boards import KINDS, Case, made_case
from tests.bench.demo import BOARDS, demo_case
from tests.bench.generate import SIZES
from tests.bench.machine import machine
from tests.bench.record import Recorder, Run, read_runs, write_runs
from tests.bench.results import ROOT, put

DEMOS = (
    "hive-lantern",
    "frost-alarm",
    "varroa-reminder",
    "hum-speaker",
    "queen-incubator-thermostat",
    "swarm-listener",
    "activity-bar",
)
METHODS = {"engine": engine, "annealing": annealing, "exact": exact, "mip": relaxed}
"""Modules with a METHOD (its name in the tables) and a run(case, seed, seconds, workers)."""
PAGE = "benchmark.md"
EXACT_MOST = 80  # parts: beyond, the plain exact model cannot even be stated in the time
SECONDS_A_PART = 0.0125  # more time for large circuits, as a share of the seconds asked for: 80 parts have all of it


@dataclass(frozen=True)
class Protocol:
    """What is run, and how long."""

    sizes: tuple[int, ...]
    circuits: int
    demos: tuple[str, ...]
    kinds: tuple[str, ...]
    methods: tuple[str, ...]
    seconds: float
    seeds: int
    workers: int
    only: str = ""

    def limit(self, parts: int) -> float:
        """Seconds for a circuit of this size."""
        return round(self.seconds * max(1.0, SECONDS_A_PART * parts), 1)

    def __str__(self) -> str:
        plural = "s" * (self.circuits != 1)
        said = []
        if self.sizes:
            sizes = ", ".join(map(str, self.sizes))
            said.append(
                f"{self.circuits} circuit{plural} each of {sizes} parts, made from seeds (`tests/bench/generate.py`), "
                f"on {' and '.join(self.kinds)} boards with half as much room again as an estimate says they need "
                "(`tests/bench/boards.py`)"
            )
        if self.demos:
            boards = " and ".join(BOARDS[kind] for kind in self.kinds)
            said.append(f"demo circuits {', '.join(self.demos)} on {boards}")
        text = f"{'; '.join(said)}. At most {self.seconds:g} s a run"
        if any(self.limit(size) > self.seconds for size in self.sizes):
            share = self.seconds * SECONDS_A_PART
            text += f" up to {1 / SECONDS_A_PART:g} parts, and {share:g} s a part above that"
        seeds = "seed 1" if self.seeds == 1 else f"seeds 1 to {self.seeds}"
        text += f"; {seeds}; workers: {self.workers}."
        if any(size > EXACT_MOST for size in self.sizes) and "exact" in self.methods:
            text += f" The plain exact model is run up to {EXACT_MOST} parts: larger ones cannot be stated in the time."
        return f"{text} Only cases with `{self.only}` in their names." if self.only else text

    def cases(self) -> Iterator[partial[Case]]:
        """How to make each case, small ones first."""
        for name in self.demos:
            for kind in self.kinds:
                if self.only in f"{name} on {kind}":
                    yield partial(demo_case, name, kind)
        for size in self.sizes:
            for number in range(1, self.circuits + 1):
                for kind in self.kinds:
                    if self.only in f"made-{size}-{number} on {kind}":
                        yield partial(made_case, size, number, kind)

    def jobs(self, case: Case) -> Iterator[tuple[str, int]]:
        """Methods and seeds for a case, taking turns, so that a slow hour of the machine hits all alike."""
        cut = case.options.allow_cuts and any(strip.cut.at_hole or strip.cut.between for strip in case.board.strips)
        for seed in range(1, self.seeds + 1):
            for method in self.methods:
                if method == "exact" and case.parts > EXACT_MOST:
                    continue
                if method == "mip" and (cut or seed > 1):
                    continue
                yield method, seed


QUICK = {"sizes": [10, 20], "circuits": 1, "demos": list(DEMOS[:1]), "seconds": 5.0, "seeds": 1}
"""What a quick look takes in place of the defaults."""


def attempt(method: str, case: Case, seed: int, limit: float, workers: int) -> Run:
    """Run a method. One that breaks down is noted, and does not end the benchmark with it."""
    module = METHODS[method]
    try:
        return module.run(case, seed, limit, workers)
    except Exception as error:
        traceback.print_exc()
        return Recorder(case, seed, limit).run(module.METHOD, f"failed: {type(error).__name__}: {error}")


def redraw(out: Path) -> None:
    """Tables and figures again, from the runs written down; protocol and machine are those of the old page."""
    runs = read_runs(out / "benchmark.csv")
    put(out / PAGE, table.as_markdown(runs, *table.told((out / PAGE).read_text(encoding="utf-8"))))
    draw(runs, out)


def draw(runs: Sequence[Run], out: Path) -> None:
    """Write the figures."""
    figures.anytime(runs, out / "benchmark-anytime.png")
    figures.growth(runs, out / "benchmark-growth.png")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; returns its exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.run", description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=20.0, help="for circuits of up to 80 parts; larger get more")
    parser.add_argument("--seeds", type=int, default=3, help="searches of each case")
    parser.add_argument("--circuits", type=int, default=2, help="circuits made of each size")
    parser.add_argument("--sizes", type=int, nargs="*", default=list(SIZES), help="parts of the circuits made")
    parser.add_argument("--kinds", nargs="*", choices=KINDS, default=list(KINDS), help="kinds of boards")
    parser.add_argument("--methods", nargs="*", choices=list(METHODS), default=list(METHODS))
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--only", default="", help="cases whose name (as printed) has this text in it")
    parser.add_argument("--demos", nargs="*", default=list(DEMOS), help="demo circuits; none with no name after it")
    parser.add_argument("--quick", action="store_true", help="a look: 3 small circuits, 5 s, one seed (unless told)")
    parser.add_argument("--redraw", action="store_true", help="run nothing: tables and figures from benchmark.csv")
    parser.add_argument("--out", type=Path, default=ROOT / "outputs", help="folder for the results")
    given = parser.parse_args(arguments)
    if given.quick:
        parser.set_defaults(**QUICK)
        given = parser.parse_args(arguments)
    protocol = Protocol(
        tuple(given.sizes),
        given.circuits,
        tuple(given.demos),
        tuple(given.kinds),
        tuple(given.methods),
        given.seconds,
        given.seeds,
        given.workers,
        given.only,
    )
    given.out.mkdir(parents=True, exist_ok=True)
    if given.redraw:
        redraw(given.out)
        return 0
    runs: list[Run] = []
    for make in protocol.cases():
        case = make()
        for method, seed in protocol.jobs(case):
            runs.append(attempt(method, case, seed, protocol.limit(case.parts), protocol.workers))
            _say(runs[-1])
        write_runs(given.out / "benchmark.csv", runs)
        put(given.out / PAGE, table.as_markdown(runs, str(protocol), machine()))
    if not runs:
        parser.error("no case is left to run")
    draw(runs, given.out)
    return 0


def _say(run: Run) -> None:
    last = run.last
    cost = "no plan" if last.cost is None else f"cost {last.cost:g} ({last.jumpers} jumpers, {last.cuts} cuts)"
    note = f"; {run.note}" if run.note else ""
    text = f"{run.circuit} on {run.kind}, seed {run.seed}, {run.method}: {cost}, bound {last.bound:g}, "
    first = "" if run.first_seconds is None else f"first after {run.first_seconds:.2f} s, "
    sys.stdout.write(f"{text}{first}ended after {run.seconds:.1f} s{note}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
