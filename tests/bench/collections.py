"""How much of the netlists from outside is read, why the rest is refused, and how much of it gets a checked plan.

    python -m tests.bench.collections --seconds 10

reads every file of the collections that :mod:`tests.truth.outside_netlists` can get, and plans each that could be read
on the first of a few boards of the catalogue that takes it, with so many seconds a board. ``--parts MAP`` reads them
all with a parts map; ``--list`` prints a line for each file.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import pytest

from placer.boards.catalogue import load_board
from placer.check.judge import judge
from placer.circuit.model import Circuit
from placer.circuit.read import read_circuit_file
from placer.errors import PlacerError
from placer.plan.model import Options
from placer.solve.api import Request
from placer.solve.run import solve
from tests.truth.outside_netlists import gnucap, pyspice

BOARDS = ("five-hole-30", "five-hole-63", "five-hole-twin-45", "long-strip-39x60")


def planned(circuit: Circuit, seconds: float) -> str:
    """The board that a checked plan was found on, or "no plan"."""
    for name in BOARDS:
        board = load_board(name)
        options = Options(allow_cuts=board.cut_by_default)
        request = Request(circuit, board, options, seconds=seconds, effort=1, workers=1)
        plan = solve(request, lambda plan: judge(plan).faults).plan
        if plan is not None and judge(plan).passed:
            return name
    return "no plan"


def say(line: str) -> None:
    """Print a line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--parts", type=Path)
    parser.add_argument("--list", action="store_true")
    parser.add_argument("--no-plans", action="store_true")
    options = parser.parse_args(arguments)
    for name, files in (("gnucap", gnucap), ("pyspice", pyspice)):
        try:
            paths = files()
        except (pytest.skip.Exception, pytest.fail.Exception) as skipped:
            say(f"{name}: {skipped}")
            continue
        results: Counter[str] = Counter()
        boards: Counter[str] = Counter()
        seconds: list[float] = []
        sizes: list[int] = []
        for path in paths:
            began = time.perf_counter()
            said = "read"
            try:
                circuit, _ = read_circuit_file(path, options.parts)
            except PlacerError as err:
                said = err.diagnostics[0].code
            seconds.append(time.perf_counter() - began)
            results[said] += 1
            if said == "read":
                sizes.append(len(circuit.parts))
                if not options.no_plans:
                    said = planned(circuit, options.seconds)
                    boards[said] += 1
            if options.list:
                say(f"  {said:20} {path.name}")
        told = ", ".join(f"{number} {what}" for what, number in results.most_common())
        median = statistics.median(seconds)
        say(f"{name}: {len(paths)} files: {told}; slowest {max(seconds):.2f} s, median {median:.4f} s")
        if boards:
            told = ", ".join(f"{number} {what}" for what, number in boards.most_common())
            say(f"  of {sum(boards.values())} circuits ({min(sizes)} to {max(sizes)} parts): {told}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
