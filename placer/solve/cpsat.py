"""Questions to the constraint solver that can be given up."""

from __future__ import annotations

import threading
from collections.abc import Callable

from ortools.sat.python import cp_model


def run_stoppable(
    solver: cp_model.CpSolver, model: cp_model.CpModel, stop: Callable[[], bool]
) -> cp_model.CpSolverStatus:
    """Solve, asking ``stop`` ten times a second whether to give up."""
    done = threading.Event()

    def watch() -> None:
        while not done.wait(0.1):
            if stop():
                solver.stop_search()

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        return solver.solve(model)
    finally:
        done.set()
        watcher.join()


def easy_solver(seed: int, work: float) -> cp_model.CpSolver:
    """A solver for a model that is solved many times over, each time easily: long presolving does not pay.

    ``work``: the most deterministic time of one solution.
    """
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.catch_sigint_signal = False
    solver.parameters.max_presolve_iterations = 1
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.symmetry_level = 0
    solver.parameters.linearization_level = 0
    solver.parameters.max_deterministic_time = work
    return solver
