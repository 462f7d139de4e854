"""How long it takes until the first checked plan is there, and how often there is one.

    python -m tests.bench.first --seconds 60

searches each case until its first plan and prints a line for it, then the medians of each size. Cases are all demo
circuits, on a five-hole board and on long strips of the catalogue, and circuits and boards made for measuring
(:mod:`tests.bench.generate`, :mod:`tests.bench.boards`): 70 up to 150 parts, 8 of 300 and 430. The tables
`first-plan.csv` and `first-plan.md` are written to ``--out``.
"""

from __future__ import annotations

import argparse
import csv
import io
import statistics
import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import astuple, dataclass, fields
from functools import partial
from pathlib import Path

from tests.bench import engine
from tests.bench.boards import KINDS, Case, made_case
from tests.bench.demo import demo_case, demo_names
from tests.bench.generate import SIZES
from tests.bench.machine import machine
from tests.bench.record import Recorder
from tests.bench.results import ROOT, put

SEEDS = {size: 7 if size <= 150 else 2 for size in SIZES}
"""Circuits of each size."""


@dataclass(frozen=True)
class First:
    """A case and its first plan. ``group``: a number of parts, or the demo circuits.

    ``search_seconds``: by the engine's clock, which starts when circuit and board are read and the tables are laid out;
    ``seconds``: from the call on; ``ended_seconds``: until the search had come back. None where there was no plan.
    """

    group: str
    circuit: str
    kind: str
    board: str
    parts: int
    search_seconds: float | None
    seconds: float | None
    ended_seconds: float
    note: str


def first_plan(case: Case, group: str, seconds: float, workers: int) -> First:
    """Search a case until its first plan."""
    engine.warm_up()
    recorder = Recorder(case, 1, seconds)
    outcome = engine.search(recorder, workers, until_first=True)
    ended, plan = recorder.seconds, outcome.plan
    own = None if plan is None else plan.solve.first_plan_seconds
    note = "" if plan is not None else "; ".join(reason.code for reason in outcome.reasons)
    first = recorder.run(engine.METHOD).first_seconds
    return First(group, case.circuit.name, case.kind, case.board.name, case.parts, own, first, round(ended, 2), note)


def cases(sizes: Sequence[int], seeds: int | None, only: str, *, demos: bool) -> Iterator[tuple[str, partial[Case]]]:
    """Groups and how to make their cases, small ones first. ``seeds``: circuits of each size, None for the usual."""
    for name in demo_names() if demos else ():
        for kind in KINDS:
            if only in f"{name} on {kind}":
                yield "demo", partial(demo_case, name, kind)
    for size in sizes:
        for seed in range(1, 1 + (seeds or SEEDS.get(size, 7))):
            for kind in KINDS:
                if only in f"made-{size}-{seed} on {kind}":
                    yield str(size), partial(made_case, size, seed, kind)


def as_csv(rows: Iterable[First]) -> str:
    """The table for programs."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(field.name for field in fields(First))
    writer.writerows(astuple(row) for row in rows)
    return text.getvalue()


def as_markdown(rows: Sequence[First], seconds: float, workers: int) -> str:
    """Medians and counts of each size, and what failed."""
    lines = [
        "# Time to the first checked plan",
        "",
        f"Each case is searched until its first plan, for at most {seconds:g} s, seed 1, workers: {workers}.",
        machine(),
        "Compiling, once after an installation, is left out. *search*: by the engine's own clock; *all*: from the call",
        "on, laying out tables included; *longest*: of those found. Demo circuits are on boards of the catalogue, the",
        "others on boards that have half as much room again as an estimate says they need.",
        "",
        "| parts | board | cases | with a plan | search, median s | all, median s | all, longest s |",
        "| --- | --- | ---: | ---: | ---: | ---: | ---: |",
    ]
    groups = list(dict.fromkeys((row.group, row.kind) for row in rows))
    for group, kind in groups:
        own = [row for row in rows if (row.group, row.kind) == (group, kind)]
        inner = [row.search_seconds for row in own if row.search_seconds is not None]
        outer = [row.seconds for row in own if row.seconds is not None]
        size = group
        if group == "demo":
            size = f"demo, {min(row.parts for row in own)} to {max(row.parts for row in own)}"
        figures = [_median(inner), _median(outer), "" if not outer else f"{max(outer):.2f}"]
        lines.append(f"| {size} | {kind} | {len(own)} | {len(outer)} | {' | '.join(figures)} |")
    failed = [row for row in rows if row.seconds is None]
    if failed:
        lines += ["", "Without a plan:", ""]
        lines += [f"- {row.circuit} on {row.board}: {row.note} ({row.ended_seconds:.0f} s)" for row in failed]
    lines += ["", "Made by `python -m tests.bench.first`.", ""]
    return "\n".join(lines)


def _median(values: Sequence[float]) -> str:
    return f"{statistics.median(values):.2f}" if values else ""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; returns its exit code: 0, or 3 when a case got no plan."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.first", description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=60.0, help="limit of each search")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--sizes", type=int, nargs="*", default=list(SIZES), help="parts of the circuits made")
    parser.add_argument("--seeds", type=int, help="circuits of each size; default 7, and 2 above 150 parts")
    parser.add_argument("--only", default="", help="cases whose name (as printed) has this text in it")
    parser.add_argument("--no-demos", action="store_true", help="leave the demo circuits out")
    parser.add_argument("--quick", action="store_true", help="a look: sizes 10 and 20, one circuit each, no demos")
    parser.add_argument("--out", type=Path, default=ROOT / "outputs", help="folder for the tables")
    given = parser.parse_args(arguments)
    sizes, seeds, demos = given.sizes, given.seeds, not given.no_demos
    if given.quick:
        sizes, seeds, demos = (10, 20), 1, False
    rows = []
    for group, make in cases(sizes, seeds, given.only, demos=demos):
        case = make()
        row = first_plan(case, group, given.seconds, given.workers)
        rows.append(row)
        found = "no plan" if row.seconds is None else f"{row.search_seconds} s, in all {row.seconds} s"
        sys.stdout.write(f"{case.name}: {found}; ended after {row.ended_seconds} s {row.note}\n")
        sys.stdout.flush()
    text = as_markdown(rows, given.seconds, given.workers)
    sys.stdout.write(f"\n{text}")
    given.out.mkdir(parents=True, exist_ok=True)
    put(given.out / "first-plan.csv", as_csv(rows))
    put(given.out / "first-plan.md", text)
    return 3 if any(row.seconds is None for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main())
