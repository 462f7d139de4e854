"""The plain constraint model as a method: stated and solved in the time that the engine has, every plan checked."""

from __future__ import annotations

from collections import Counter

from ortools.sat.python import cp_model

from placer.errors import PlacerError
from placer.solve.problem import build
from tests.bench.boards import Case
from tests.bench.plainmodel import NotStatedError, PlainModel
from tests.bench.record import Recorder, Run

METHOD = "plain exact model"


class _Watch(cp_model.CpSolverSolutionCallback):
    """Wires and judges each solution as it comes."""

    def __init__(self, plain: PlainModel, recorder: Recorder) -> None:
        super().__init__()
        self.plain, self.recorder = plain, recorder
        self.failed: Counter[str] = Counter()

    def on_solution_callback(self) -> None:
        reason = self.recorder.offer(self.plain.p, self.plain.places(lambda lit: bool(self.value(lit))))
        self.failed[reason] += bool(reason)


def run(case: Case, seed: int, seconds: float, workers: int) -> Run:
    """The plain model on a case."""
    recorder = Recorder(case, seed, seconds)
    try:
        plain = PlainModel(build(case.circuit, case.board, case.options), recorder.up)
    except PlacerError as error:
        return recorder.run(METHOD, error.diagnostics[0].code)
    except NotStatedError as error:
        return recorder.run(METHOD, f"not stated: {error}")
    stated = recorder.seconds
    if recorder.up():
        return recorder.run(METHOD, "not stated: time")
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = seed
    solver.parameters.max_time_in_seconds = recorder.left
    solver.parameters.catch_sigint_signal = False
    solver.parameters.max_presolve_iterations = 1  # more rounds take longer than they save, and often all the time

    def on_bound(bound: float) -> None:
        recorder.note(None, plain.cost(bound))

    solver.best_bound_callback = on_bound
    watch = _Watch(plain, recorder)
    status = solver.solve(plain.model, watch)
    notes = [f"stated in {stated:.0f} s"] if stated >= 1 else []
    if status == cp_model.MODEL_INVALID:
        notes.append("failed: the model is not valid")
    elif status == cp_model.INFEASIBLE:
        notes.append("proved impossible")
    elif status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        recorder.note(None, plain.cost(solver.best_objective_bound))
    notes += [f"{count} solutions {reason}" for reason, count in sorted(watch.failed.items()) if reason]
    return recorder.run(METHOD, "; ".join(notes))
