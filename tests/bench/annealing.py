"""Plain annealing as a method: the engine's compiled moves, restarted again and again, and nothing else.

Every core runs by itself: construct a state, cool it over a fixed number of moves, begin anew, until the time is up.
No bound, no proof, no mixture of runs, no polishing. Every plan is wired and judged.
"""

from __future__ import annotations

from collections import Counter
from concurrent.futures import ThreadPoolExecutor

from placer.errors import PlacerError
from placer.solve.anneal import Annealer
from placer.solve.arrays import Arrays
from placer.solve.problem import Problem, build
from tests.bench import engine
from tests.bench.boards import Case
from tests.bench.record import Recorder, Run

METHOD = "plain annealing"
PROPOSALS_AN_ITEM = 20_000


def run(case: Case, seed: int, seconds: float, workers: int) -> Run:
    """Plain annealing on a case."""
    engine.warm_up()
    recorder = Recorder(case, seed, seconds)
    try:
        problem = build(case.circuit, case.board, case.options)
    except PlacerError as error:
        return recorder.run(METHOD, error.diagnostics[0].code)
    arrays = Arrays(problem)
    streams = [Annealer(arrays, seed * 7919 + k, recorder.up) for k in range(workers)]
    failed: Counter[str] = Counter()
    with ThreadPoolExecutor(workers) as pool:
        for task in [pool.submit(_restarts, stream, problem, recorder) for stream in streams]:
            failed += task.result()
    notes = [f"{count} states {reason}" for reason, count in sorted(failed.items()) if reason]
    return recorder.run(METHOD, "; ".join(notes))


def _restarts(stream: Annealer, problem: Problem, recorder: Recorder) -> Counter[str]:
    """One core: run after run until the time is up. Returns how many states failed to become plans, and why."""
    failed: Counter[str] = Counter()
    best = float("inf")
    while not recorder.up():
        state = stream.start()
        if state is None:
            failed["not constructed"] += 1
            continue
        for found in stream.run(state, PROPOSALS_AN_ITEM * max(10, len(problem.items)), penalty=1.0):
            if found.cost < best - 1e-9:
                reason = recorder.offer(problem, found.places)
                failed[reason] += 1
                if not reason:
                    best = found.cost
    return failed
