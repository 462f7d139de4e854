"""What a method did on one case: every better plan and bound with its time, and how that is written down."""

from __future__ import annotations

import csv
import json
import threading
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from placer.check.judge import judge
from placer.plan.model import Score
from placer.solve.arrays import Places
from placer.solve.assemble import assemble, solve_info
from placer.solve.problem import Problem
from placer.solve.wiring import wire
from tests.bench.boards import Case

GRACE = 1.05  # of the limit: what comes later than this was not found in the time


@dataclass(frozen=True)
class Point:
    """The best checked plan (None: none yet) and the best bound after some seconds since the method was called."""

    seconds: float
    cost: float | None
    jumpers: int | None
    cuts: int | None
    bound: float


@dataclass(frozen=True)
class Run:
    """One method on one case with one seed. ``limit``: the seconds it was given; ``seconds``: those it took.

    ``note``: what went otherwise than usual, in a few words. ``points`` rise in time.
    """

    method: str
    circuit: str
    kind: str
    board: str
    parts: int
    nets: int
    seed: int
    limit: float
    seconds: float
    note: str
    points: tuple[Point, ...]

    @property
    def case(self) -> tuple[str, str]:
        """What tells cases apart: circuit and kind of board."""
        return self.circuit, self.kind

    @property
    def last(self) -> Point:
        """What it had when its time was up."""
        timely = [point for point in self.points if point.seconds <= GRACE * self.limit]
        return timely[-1] if timely else Point(0.0, None, None, None, 0.0)

    @property
    def first_seconds(self) -> float | None:
        """When the first checked plan was there, even if that was late."""
        return next((point.seconds for point in self.points if point.cost is not None), None)

    def seconds_to(self, cost: float) -> float | None:
        """When a checked plan of no more than this cost was there."""
        return next((p.seconds for p in self.points if p.cost is not None and p.cost <= cost + 1e-9), None)


class Recorder:
    """Takes plans and bounds as they come, from any thread, and notes when something got better."""

    def __init__(self, case: Case, seed: int, limit: float) -> None:
        self.case, self.seed, self.limit = case, seed, limit
        self.points: list[Point] = []
        self._started = time.monotonic()
        self._lock = threading.Lock()

    @property
    def seconds(self) -> float:
        """Seconds since the method was called."""
        return time.monotonic() - self._started

    @property
    def left(self) -> float:
        """Seconds left of the limit."""
        return self.limit - self.seconds

    def up(self) -> bool:
        """True when the time is up."""
        return self.left <= 0

    def note(self, score: Score | None, bound: float) -> bool:
        """Note a checked plan and a bound; True when either is better than before."""
        with self._lock:
            old = self.points[-1] if self.points else Point(0.0, None, None, None, 0.0)
            cost, jumpers, cuts = old.cost, old.jumpers, old.cuts
            if score is not None and (cost is None or score.cost < cost - 1e-9):
                cost, jumpers, cuts = score.cost, score.jumpers, score.cuts
            point = Point(round(self.seconds, 3), cost, jumpers, cuts, max(old.bound, bound))
            if (point.cost, point.bound) == (old.cost, old.bound):
                return False
            self.points.append(point)
            return True

    def offer(self, problem: Problem, places: Places) -> str:
        """Wire places and have them judged, as the engine does with its own; "" when there is a plan, else why not."""
        wiring = wire(problem, places)
        if wiring is None:
            return "cannot be wired"
        plan = assemble(problem, places, wiring, 0.0, solve_info(0, self.seed, 1, (), None))
        faults = judge(plan).faults
        if faults:
            return f"refused: {faults[0].code}"
        self.note(plan.score, 0.0)
        return ""

    def run(self, method: str, note: str = "") -> Run:
        """All of it, when the method is done."""
        case = self.case
        return Run(
            method,
            case.circuit.name,
            case.kind,
            case.board.name,
            case.parts,
            len(case.circuit.nets),
            self.seed,
            self.limit,
            round(self.seconds, 2),
            note,
            tuple(self.points),
        )


# --- files -----------------------------------------------------------------------------------------------------------

HEADS = (
    *(field.name for field in fields(Run) if field.name != "points"),
    "cost",
    "jumpers",
    "cuts",
    "bound",
    "first_seconds",
    "points",
)


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def as_row(run: Run) -> list[str]:
    """A run as a line of the table for programs. ``points``: [seconds, cost, jumpers, cuts, bound] of each, as JSON."""
    last = run.last
    points = json.dumps([[p.seconds, p.cost, p.jumpers, p.cuts, p.bound] for p in run.points], separators=(",", ":"))
    head = [getattr(run, field.name) for field in fields(Run) if field.name != "points"]
    figures = [last.cost, last.jumpers, last.cuts, last.bound, run.first_seconds]
    return [*(_number(v) if isinstance(v, float) else str(v) for v in head), *map(_number, figures), points]


def from_row(row: dict[str, str]) -> Run:
    """A run from its line."""
    points = tuple(Point(*point) for point in json.loads(row["points"]))
    kinds: dict[str, Any] = {"parts": int, "nets": int, "seed": int, "limit": float, "seconds": float}
    head = {f.name: kinds.get(f.name, str)(row[f.name]) for f in fields(Run) if f.name != "points"}
    return Run(**head, points=points)


def write_runs(path: Path, runs: Iterable[Run]) -> None:
    """Write all runs, whole or not at all."""
    spare = path.with_name(f".{path.name}.new")
    with spare.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(HEADS)
        writer.writerows(as_row(run) for run in runs)
    spare.replace(path)


def read_runs(path: Path) -> Sequence[Run]:
    """Read what :func:`write_runs` wrote."""
    csv.field_size_limit(1 << 30)  # the points of a long run make a long field
    with path.open(encoding="utf-8", newline="") as file:
        return [from_row(row) for row in csv.DictReader(file)]
