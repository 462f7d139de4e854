"""The results table: every demo circuit planned, its guide and plan written, one line each.

    python -m tests.bench.results --out outputs --seconds 20

Each circuit goes on ``--board`` or, where no plan is found on it, on the next larger five-hole board. The order is
fixed; the figures depend on the seconds, the seed, the workers and the machine, which the table says.
"""

from __future__ import annotations

import argparse
import csv
import io
import os
import sys
from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass, fields, replace
from pathlib import Path

import matplotlib

from placer.boards.catalogue import load_board
from placer.check.judge import judge
from placer.circuit.model import Circuit
from placer.circuit.read_yaml import read_circuit
from placer.guide.write import write_guide
from placer.limits.find import find
from placer.plan.file import write_plan
from placer.plan.model import Options, Plan
from placer.solve.api import Request
from placer.solve.run import solve

matplotlib.use("Agg")
from matplotlib import pyplot

ROOT = Path(__file__).resolve().parents[2]
LARGER = ("five-hole-30", "five-hole-63", "five-hole-twin-45")
NUMBER_WORDS = {1: "one core", 2: "two cores", 4: "four cores", 8: "eight cores"}


@dataclass(frozen=True)
class Row:
    """A line of the table. ``bound``: proved least cost; ``wire_mm``: straight length of all jumpers."""

    circuit: str
    board: str
    parts: int
    nets: int
    jumpers: int
    cuts: int
    cost: float
    bound: float
    proof: str
    wire_mm: float
    seconds: float
    first_plan_seconds: float | None

    @staticmethod
    def of(plan: Plan) -> Row:
        """The figures of a plan."""
        first = plan.solve.first_plan_seconds
        return Row(
            plan.circuit.name,
            plan.board.name,
            len(plan.circuit.parts),
            len(plan.circuit.nets),
            plan.score.jumpers,
            plan.score.cuts,
            round(plan.score.cost, 2),
            round(plan.proof.lower_bound, 2),
            plan.proof.status,
            round(plan.score.jumper_mm, 1),
            round(plan.solve.seconds, 1),
            None if first is None else round(first, 2),
        )


@dataclass(frozen=True)
class Protocol:
    """How the plans are searched."""

    board: str
    seconds: float
    seed: int
    workers: int

    def __str__(self) -> str:
        cores = os.cpu_count() or 1
        machine = NUMBER_WORDS.get(cores, f"{cores} cores")
        workers = "1 worker" if self.workers == 1 else f"{self.workers} workers"
        return (
            f"At most {self.seconds:g} s a circuit, seed {self.seed}, {workers}, on {machine}. "
            f"Board {self.board}, or the next larger five-hole board where no plan was found on it."
        )


def boards_from(first: str) -> tuple[str, ...]:
    """The boards to try in turn: ``first``, then the larger five-hole boards."""
    return (first, *LARGER[LARGER.index(first) + 1 :]) if first in LARGER else (first,)


def plan_on_smallest(circuit: Circuit, protocol: Protocol) -> Plan | None:
    """The plan on the first board that takes the circuit, None when none of them does."""
    for name in boards_from(protocol.board):
        board = load_board(name)
        options = Options(allow_cuts=board.cut_by_default, habits=True)
        request = Request(
            circuit, board, options, seconds=protocol.seconds, seed=protocol.seed, workers=protocol.workers
        )
        outcome = solve(request, lambda plan: judge(plan).faults)
        if outcome.plan is not None:
            return outcome.plan
    return None


def as_csv(rows: Iterable[Row]) -> str:
    """The table for programs."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(field.name for field in fields(Row))
    writer.writerows(astuple(row) for row in rows)
    return text.getvalue()


def as_markdown(rows: Iterable[Row], protocol: Protocol) -> str:
    """The table for people."""
    heads = (
        "circuit",
        "board",
        "parts",
        "nets",
        "jumpers",
        "cuts",
        "cost",
        "bound",
        "proof",
        "wire, mm",
        "s",
        "first plan, s",
    )
    lines = ["# Demo circuits, planned", "", str(protocol), "", f"| {' | '.join(heads)} |"]
    lines.append("| --- | --- |" + " ---: |" * 6 + " --- |" + " ---: |" * 3)
    lines += [f"| {' | '.join(map(_cell, astuple(row)))} |" for row in rows]
    lines += [
        "",
        "cost = jumpers + 0.8 x cuts. bound: no plan of this circuit on this board costs less. proof: `optimal` when",
        "cost and bound meet. Made by `python -m tests.bench.results`.",
        "",
    ]
    return "\n".join(lines)


def _cell(value: object) -> str:
    if value is None:
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)


def picture(rows: Sequence[Row], path: Path) -> None:
    """A bar for each circuit: the proved bound, and what the plan costs beyond it."""
    figure, axes = pyplot.subplots(figsize=(8, 0.3 * len(rows) + 1.2), layout="constrained")
    names = [f"{row.circuit} ({row.parts})" for row in rows]
    axes.barh(names, [row.bound for row in rows], color="#0072B2", label="proved lower bound")
    beyond = [row.cost - row.bound for row in rows]
    bounds = [row.bound for row in rows]
    axes.barh(names, beyond, left=bounds, color="#E69F00", hatch="///", label="cost beyond the bound")
    axes.invert_yaxis()
    axes.set_xlabel("cost (jumpers, and 0.8 a cut)")
    axes.legend(loc="upper right")
    figure.savefig(path, dpi=110, metadata={"Software": None})
    pyplot.close(figure)


def put(path: Path, text: str) -> None:
    """Write a whole file or leave the old one."""
    spare = path.with_name(f".{path.name}.new")
    spare.write_text(text, encoding="utf-8", newline="")
    spare.replace(path)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; returns its exit code: 0, or 3 when a circuit got no plan."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.results", description=__doc__.splitlines()[0])
    parser.add_argument("circuits", nargs="*", type=Path, help="circuit files; default: all of netlists/")
    parser.add_argument("--out", type=Path, default=ROOT / "outputs", help="folder for the results")
    parser.add_argument("--board", default=LARGER[0])
    parser.add_argument("--seconds", type=float, default=20.0, help="limit of each search")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args(arguments)
    protocol = Protocol(given.board, given.seconds, given.seed, given.workers)
    files = given.circuits or sorted((ROOT / "netlists").glob("*.yaml"))
    circuits = sorted((read_circuit(path)[0] for path in files), key=lambda c: (len(c.parts), c.name))
    rows, failed = [], []
    for circuit in circuits:
        plan = plan_on_smallest(circuit, protocol)
        if plan is None:
            failed.append(circuit.name)
            sys.stderr.write(f"{circuit.name}: no plan\n")
            continue
        plan = replace(plan, findings=find(plan))
        folder = given.out / circuit.name
        write_guide(plan, folder)
        write_plan(plan, folder / "plan.json")
        rows.append(Row.of(plan))
        sys.stdout.write(f"{', '.join(str(cell) for cell in astuple(rows[-1]))}\n")
        sys.stdout.flush()
    given.out.mkdir(parents=True, exist_ok=True)
    put(given.out / "results.csv", as_csv(rows))
    put(given.out / "results.md", as_markdown(rows, protocol))
    if rows:
        picture(rows, given.out / "results.png")
    return 3 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
