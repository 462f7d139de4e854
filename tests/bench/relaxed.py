"""The bound by integer programming: which net owns which strip, columns and bodies left out, solved by HiGHS.

Seen from the anchored frame (``placer/solve/frame.py``), as the engine's own bound is: each part takes one class of
places, told by the strips of its pins; a strip has one net at most; what a net owns beyond its first strip costs a
jumper, less the joins that parts make inside. On boards that are not cut no plan costs less.
"""

from __future__ import annotations

import io
import math
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import IO

import numpy as np

from placer.errors import PlacerError
from placer.solve.frame import frame, pick_anchor
from placer.solve.problem import Problem, build
from tests.bench.boards import Case
from tests.bench.record import Recorder, Run

METHOD = "MIP of the relaxation"
ROOT = Path(__file__).resolve().parents[2]
EARLY = 0.4  # seconds for the process to start and to come back
PATIENCE = 2.0  # seconds beyond its time that the solver may take to come back
SAID = {"solved": "solved", "infeasible": "proved impossible"}


def classes_of(problem: Problem) -> list[list[list[int]]]:
    """For each item the different lists of strips, one a pin, that it can be on, seen from the anchored frame."""
    seen = frame(problem, pick_anchor(problem))
    assert seen is not None, "nobody asked it to stop"
    return [seen.keys(i).tolist() for i in range(len(problem.items))]


class Relaxation:
    """The model; ``feasible`` is False when some part has no class of places that keeps its nets apart.

    ``up`` is asked while it is stated whether the time is over; then ``given_up`` is True.
    """

    def __init__(self, problem: Problem, up: Callable[[], bool]) -> None:
        self.p = problem
        self.up = up
        self.feasible, self.given_up = True, False
        self.cost: list[float] = []
        self.whole = 0
        self.rows: list[tuple[float, float, list[int], list[float]]] = []
        self._state(classes_of(problem))

    def _column(self, cost: float = 0.0) -> int:
        self.cost.append(cost)
        return len(self.cost) - 1

    def _row(self, low: float, high: float, terms: list[tuple[int, float]]) -> None:
        self.rows.append((low, high, [c for c, _ in terms], [v for _, v in terms]))

    def _state(self, every: list[list[list[int]]]) -> None:
        p = self.p
        own: dict[tuple[int, int], int] = {}
        for item, own_classes in zip(p.items, every, strict=True):
            classes = [key for key in own_classes if _apart(item.nets, key)]
            if not classes:
                self.feasible = False
                return
            if self.up():
                self.given_up = True
                return
            on = self._pins(classes) if len(item.pins) == 2 else self._part(classes)
            for n, by_strip in zip(item.nets, on, strict=True):
                for s, some in by_strip.items():
                    if (n, s) not in own:
                        own[n, s] = self._column()
                    self._row(-math.inf, 0, [*((c, 1.0) for c in some), (own[n, s], -1.0)])
        self.whole = len(self.cost)
        rivals: dict[int, list[int]] = {}
        by_net: dict[int, list[int]] = {}
        for (n, s), c in own.items():
            rivals.setdefault(s, []).append(c)
            by_net.setdefault(n, []).append(c)
        for columns in rivals.values():
            if len(columns) > 1:
                self._row(-math.inf, 1, [(c, 1.0) for c in columns])
        _, joins = p.pins_and_joins()
        for n, columns in by_net.items():
            extra = self._column(p.options.jumper_cost)
            self._row(-math.inf, 1 + joins[n], [*((c, 1.0) for c in columns), (extra, -1.0)])

    def _part(self, classes: Sequence[Sequence[int]]) -> list[dict[int, list[int]]]:
        """A part takes one class. Returns for each pin the columns that put it on each strip."""
        taken = [self._column() for _ in classes]
        self._row(1, 1, [(c, 1.0) for c in taken])
        on: list[dict[int, list[int]]] = [{} for _ in classes[0]]
        for key, c in zip(classes, taken, strict=True):
            for by_strip, s in zip(on, key, strict=True):
                by_strip.setdefault(s, []).append(c)
        return on

    def _pins(self, classes: Sequence[Sequence[int]]) -> list[dict[int, list[int]]]:
        """Two leads take a strip each, the other within reach: far fewer columns than classes, and quicker."""
        on = [{s: [self._column()] for s in sorted({key[k] for key in classes})} for k in (0, 1)]
        for by_strip in on:
            self._row(1, 1, [(c, 1.0) for (c,) in by_strip.values()])
        for a, b in ((0, 1), (1, 0)):
            reach: dict[int, set[int]] = {}
            for key in classes:
                reach.setdefault(key[a], set()).add(key[b])
            for s, others in reach.items():
                if len(others) < len(on[b]):
                    self._row(-math.inf, 0, [(on[a][s][0], 1.0), *((on[b][t][0], -1.0) for t in sorted(others))])
        return on

    def arrays(self) -> bytes:
        """The model as an archive of arrays, for :mod:`tests.bench.highschild`."""
        columns = [c for *_, cs, _ in self.rows for c in cs]
        values = [v for *_, vs in self.rows for v in vs]
        file = io.BytesIO()
        np.savez(
            file,
            cost=np.array(self.cost),
            whole=np.array(self.whole),
            low=np.array([low for low, *_ in self.rows], dtype=float),
            high=np.array([high for _, high, *_ in self.rows], dtype=float),
            start=np.cumsum([0, *(len(c) for *_, c, _ in self.rows)]).astype(np.int32),
            index=np.array(columns, dtype=np.int32),
            value=np.array(values, dtype=float),
        )
        return file.getvalue()

    def bound(self, dual: float) -> float:
        """A bound of the objective as a bound of the cost: jumpers are whole."""
        unit = self.p.options.jumper_cost
        if math.isinf(dual) or unit <= 0:
            return 0.0
        return max(0.0, round(math.ceil(dual / unit - 1e-6) * unit, 6))


def _apart(nets: tuple[int, ...], key: list[int]) -> bool:
    """True when no two nets of a part come to lie on one strip."""
    on: dict[int, int] = {}
    return all(on.setdefault(s, n) == n for n, s in zip(nets, key, strict=True))


def run(case: Case, seed: int, seconds: float, workers: int) -> Run:
    """The bound of a case that is not cut."""
    recorder = Recorder(case, seed, seconds)
    try:
        problem = build(case.circuit, case.board, case.options)
    except PlacerError as error:
        return recorder.run(METHOD, error.diagnostics[0].code)
    assert not any(map(problem.severable, range(len(problem.slen)))), "the relaxation knows nothing of cuts"
    relaxation = Relaxation(problem, recorder.up)
    if not relaxation.feasible:
        return recorder.run(METHOD, "proved impossible")
    model = b"" if relaxation.given_up else relaxation.arrays()
    if recorder.up():
        return recorder.run(METHOD, "not stated: time")
    notes = [f"stated in {recorder.seconds:.0f} s"] if recorder.seconds >= 1 else []
    return recorder.run(METHOD, "; ".join(notes + _solve(relaxation, model, recorder, workers)))


def _solve(relaxation: Relaxation, model: bytes, recorder: Recorder, workers: int) -> list[str]:
    """Have the model solved in a process of its own, noting its bounds. Returns what is to be said of it."""
    given = [f"{max(0.1, recorder.left - EARLY):.2f}", str(workers), str(recorder.seed)]
    command = [sys.executable, "-m", "tests.bench.highschild", *given]
    notes: list[str] = []

    def listen(lines: IO[bytes]) -> None:
        for raw in lines:
            word, _, number = raw.decode().strip().partition(" ")
            if word == "dual":
                recorder.note(None, relaxation.bound(float(number)))
            elif word in SAID:
                notes.append(SAID[word])

    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=ROOT) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        listener = threading.Thread(target=listen, args=(process.stdout,))
        listener.start()
        process.stdin.write(model)
        process.stdin.close()
        try:
            failed = process.wait(timeout=max(0.1, recorder.left) + PATIENCE) != 0
        except subprocess.TimeoutExpired:
            process.kill()
            failed = False
            notes.append("ended by force after its time")
        listener.join()
    return [*notes, "failed: the solver broke down"] if failed else notes
