"""How many single building faults the test sheet of each demo plan finds.

    python -m tests.bench.coverage

takes every plan of ``outputs/``, builds it wrong in every way there is by one mistake, works out what the lines of its
test sheet read on that board, and prints a table: faults found, of those that change what is joined.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from placer.guide.lists import tests_csv
from placer.guide.probes import build_probes
from placer.plan.file import read_plan
from tests.guide.faults import Bench, alarms, coverage, sheet

ROOT = Path(__file__).resolve().parents[2]
KINDS = (
    "jumper missing",
    "dry joint",
    "lead one hole off",
    "part one hole off",
    "neighbours bridged",
    "cut missing",
    "cut bridged",
    "bridge missing",
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; returns its exit code: 0, or 1 when a fault is missed or a good board fails."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.coverage", description=__doc__.splitlines()[0])
    parser.add_argument("plans", nargs="*", type=Path, help="plan files; default: all of outputs/")
    parser.add_argument("--missed", action="store_true", help="name each fault that is not found")
    given = parser.parse_args(arguments)
    header = ("plan", "lines", "false alarms", *KINDS, "found", "harmless")
    put = sys.stdout.write
    put(f"| {' | '.join(header)} |\n|{' --- |' * len(header)}\n")
    total, hits, wrong = 0, 0, 0
    for path in given.plans or sorted((ROOT / "outputs").glob("*/plan.json")):
        plan = read_plan(path)
        text = tests_csv(build_probes(plan))
        bench = Bench(plan)
        lines = sheet(bench, text)
        told = coverage(plan, text)
        false = len(alarms(bench.good, lines))
        cells = [f"{told[k].found}/{told[k].faults}" if k in told and told[k].faults else "" for k in KINDS]
        faults, found = (sum(getattr(each, key) for each in told.values()) for key in ("faults", "found"))
        share = f"{100 * found / faults:.1f} %" if faults else ""
        harmless = sum(each.harmless for each in told.values())
        put(f"| {' | '.join((path.parent.name, str(len(lines)), str(false), *cells, share, str(harmless)))} |\n")
        if given.missed:
            put("".join(f"  {each.kind}: {name}\n" for each in told.values() for name in each.missed))
        total, hits, wrong = total + faults, hits + found, wrong + false
        sys.stdout.flush()
    put(f"\n{hits} of {total} faults found, {wrong} false alarms\n")
    return 0 if hits == total and not wrong else 1


if __name__ == "__main__":
    sys.exit(main())
