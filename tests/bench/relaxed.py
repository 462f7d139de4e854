"""The bound by integer programming: which net owns which strip, columns and bodies left out, solved by HiGHS.

Seen from the anchored frame (``placer/solve/frame.py``), as the engine's own bound is: each part takes one class of
places, told by the strips of its pins; a strip has one net at most; what a net owns beyond its first strip costs a
jumper, less the joins that parts make inside. On boards that are not cut no plan costs less.
"""

from __future__ import annotations

import math
from typing import Any

import highspy
import numpy as np

from placer.errors import PlacerError
from placer.solve.frame import frame, pick_anchor
from placer.solve.problem import Problem, build
from tests.bench.boards import Case
from tests.bench.record import Recorder, Run

METHOD = "MIP of the relaxation"


def classes_of(problem: Problem) -> list[list[list[int]]]:
    """For each item the different lists of strips, one a pin, that it can be on, seen from the anchored frame."""
    seen = frame(problem, pick_anchor(problem))
    assert seen is not None, "nobody asked it to stop"
    return [seen.keys(i).tolist() for i in range(len(problem.items))]


class Relaxation:
    """The model; ``feasible`` is False when some part has no class of places that keeps its nets apart."""

    def __init__(self, problem: Problem) -> None:
        self.p = problem
        self.highs = highspy.Highs()
        self.highs.setOptionValue("output_flag", False)
        self.feasible = True
        self.cost: list[float] = []
        self.whole = 0
        self.rows: list[tuple[float, float, list[int], list[float]]] = []
        self._state(classes_of(problem))
        self._pass_on()

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
            taken = [self._column() for _ in classes]
            self._row(1, 1, [(c, 1.0) for c in taken])
            for k, n in enumerate(item.nets):
                on: dict[int, list[int]] = {}
                for key, c in zip(classes, taken, strict=True):
                    on.setdefault(key[k], []).append(c)
                for s, some in on.items():
                    if (n, s) not in own:
                        own[n, s] = self._column()
                    self._row(-math.inf, 0, [*((c, 1.0) for c in some), (own[n, s], -1.0)])
        self.whole = len(self.cost)
        by_strip: dict[int, list[int]] = {}
        by_net: dict[int, list[int]] = {}
        for (n, s), c in own.items():
            by_strip.setdefault(s, []).append(c)
            by_net.setdefault(n, []).append(c)
        for columns in by_strip.values():
            if len(columns) > 1:
                self._row(-math.inf, 1, [(c, 1.0) for c in columns])
        _, joins = p.pins_and_joins()
        for n, columns in by_net.items():
            extra = self._column(p.options.jumper_cost)
            self._row(-math.inf, 1 + joins[n], [*((c, 1.0) for c in columns), (extra, -1.0)])

    def _pass_on(self) -> None:
        """Hand the model over: places and owners are binary, jumpers follow from them."""
        count = len(self.cost)
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = count, len(self.rows)
        lp.col_cost_ = np.array(self.cost)
        lp.col_lower_ = np.zeros(count)
        lp.col_upper_ = np.array([1.0] * self.whole + [highspy.kHighsInf] * (count - self.whole))
        lp.row_lower_ = np.array([max(low, -highspy.kHighsInf) for low, *_ in self.rows])
        lp.row_upper_ = np.array([high for _, high, *_ in self.rows], dtype=float)
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.cumsum([0, *(len(c) for *_, c, _ in self.rows)]).astype(np.int32)
        lp.a_matrix_.index_ = np.array([c for *_, cs, _ in self.rows for c in cs], dtype=np.int32)
        lp.a_matrix_.value_ = np.array([v for *_, vs in self.rows for v in vs], dtype=float)
        kinds = [highspy.HighsVarType.kInteger] * self.whole
        lp.integrality_ = kinds + [highspy.HighsVarType.kContinuous] * (count - self.whole)
        self.highs.passModel(lp)

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
    relaxation = Relaxation(problem)
    if not relaxation.feasible:
        return recorder.run(METHOD, "proved impossible")
    stated = recorder.seconds
    if recorder.up():
        return recorder.run(METHOD, "not stated: time")
    highs = relaxation.highs
    highs.setOptionValue("threads", workers)
    highs.setOptionValue("random_seed", seed)
    highs.setOptionValue("time_limit", recorder.left)

    def on_log(event: Any) -> None:
        recorder.note(None, relaxation.bound(event.data_out.mip_dual_bound))

    highs.cbMipLogging += on_log
    highs.run()
    notes = [f"stated in {stated:.0f} s"] if stated >= 1 else []
    status = highs.getModelStatus()
    if status == highspy.HighsModelStatus.kInfeasible:
        notes.append("proved impossible")
    else:
        recorder.note(None, relaxation.bound(highs.getInfo().mip_dual_bound))
    if status == highspy.HighsModelStatus.kOptimal:
        notes.append("solved")
    return recorder.run(METHOD, "; ".join(notes))
