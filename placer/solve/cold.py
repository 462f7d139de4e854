"""The first run after installation: other processes compile, and one makes a first plan meanwhile.

Nothing of this touches a search whose compiled code is on disk. The first plan is shown and kept, but the search knows
nothing of it, so that it finds what it would have found anyway; see :meth:`FirstPlan.or_better` for when it counts.
"""

from __future__ import annotations

import contextlib
import json
import os
import queue
import subprocess
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from types import TracebackType

import numpy as np

from placer.solve import child, firstplan, warm
from placer.solve.anneal import Annealer
from placer.solve.api import Judge, Outcome, Progress, Request
from placer.solve.arrays import Arrays, Places
from placer.solve.assemble import assemble, solve_info
from placer.solve.compiled import cache_folder
from placer.solve.problem import Problem
from placer.solve.store import Store
from placer.solve.wiring import wire

OnProgress = Callable[[Progress], None] | None

POLL_SECONDS = 0.05
PATIENCE = 4.0  # seconds after which the other half is compiled, with or without a first plan
ORDERS = 8
PHASE = "compiling (only the first run after installation does; its time does not count)"


class FirstPlan:
    """The best checked plan that was made while the search compiled, if any."""

    def __init__(self, problem: Problem, judge: Judge) -> None:
        self.store = Store(problem, judge, None)

    def shown(self, on_progress: OnProgress) -> OnProgress:
        """The same with this plan shown as long as the search has none as cheap."""
        if on_progress is None or self.store.best is None:
            return on_progress
        tell, score = on_progress, self.store.best.score

        def told(state: Progress) -> None:
            if state.cost is None or state.cost > score.cost:
                state = replace(state, cost=score.cost, jumpers=score.jumpers, cuts=score.cuts)
            tell(state)

        return told

    def or_better(self, request: Request, found: Store, outcome: Outcome) -> Outcome:
        """The answer of the search, or this plan.

        A search that ends by a proof or after its rounds gives the same plan whether it had to compile or not, so this
        one counts only where the clock or the user has ended the search before it had one as good.
        """
        store = self.store
        by_itself = found.proved or outcome.proved_impossible
        by_rounds = request.effort is not None and not outcome.interrupted
        if store.places is None or by_itself or by_rounds or store.rank >= found.rank:
            return outcome
        wiring = wire(store.problem, store.places)
        assert wiring is not None  # noqa: S101 - the store wired the same places before
        phases = () if outcome.plan is None else outcome.plan.solve.phases
        info = solve_info(found.seconds, request.seed, request.workers, phases, 0.0)
        return replace(outcome, plan=assemble(store.problem, store.places, wiring, found.bound, info), reasons=())


def get_ready(
    problem: Problem,
    request: Request,
    judge: Judge,
    on_progress: OnProgress,
    stop: threading.Event,
    parts: warm.Parts,
) -> FirstPlan:
    """Have the search compiled before its clock starts; where that takes long, make a first plan meanwhile.

    Returns early when ``stop`` is set: then the search has nothing to run, and must not try.
    """
    first = FirstPlan(problem, judge)
    if not warm.ready(parts):
        _compile_beside(first, request, on_progress, stop, parts)
    if not stop.is_set():
        warm.compile_kernels(parts)
    return first


def _compile_beside(
    first: FirstPlan, request: Request, on_progress: OnProgress, stop: threading.Event, parts: warm.Parts
) -> None:
    began = time.monotonic()

    def tell() -> None:
        if on_progress is not None:
            (first.shown(on_progress) or on_progress)(
                Progress(time.monotonic() - began, PHASE, None, None, None, first.store.bound)
            )

    many = (os.cpu_count() or 1) > 2
    now, later = (parts, ()) if many else (parts[:1], parts[1:])
    running = [_compiler(part) for part in now]
    with _Maker(first.store.problem, request.seed, able=parts != warm.PADS) as maker:
        tell()
        while not stop.is_set():
            if later and (not maker.busy or time.monotonic() - began > PATIENCE or not any(map(_works, running))):
                running += [_compiler(part) for part in later]
                later = ()
            if not later and not any(map(_works, running)):
                return
            places = maker.next()
            if places is not None and first.store.offer(places, PHASE):
                maker.close()
                tell()


@cache
def _compiler(part: str) -> subprocess.Popen[bytes] | None:
    """The process that compiles a part. Started once, for all searches of this process; it ends with this process."""
    folder = {"NUMBA_CACHE_DIR": str(cache_folder().parents[1])}  # for the case that it is a temporary one
    with contextlib.suppress(OSError):
        return child.start(warm.__name__, part, environment=folder)
    return None


def _works(process: subprocess.Popen[bytes] | None) -> bool:
    return process is not None and process.poll() is None


class _Maker:
    """Makes first plans in a process of its own: :mod:`placer.solve.firstplan`. ``able``: it is of use at all."""

    def __init__(self, problem: Problem, seed: int, *, able: bool) -> None:
        self._arrays = Arrays(problem)
        self._places: queue.Queue[Places | None] = queue.Queue()
        self._process: subprocess.Popen[bytes] | None = None
        if not able:
            return
        with contextlib.suppress(OSError):
            self._process = child.start(firstplan.__name__, environment={"NUMBA_DISABLE_JIT": "1"})
            threading.Thread(target=self._talk, args=(self._process, self._question(seed)), daemon=True).start()

    def __enter__(self) -> _Maker:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def busy(self) -> bool:
        """True as long as it looks for plans."""
        return self._process is not None

    def next(self) -> Places | None:
        """The next places found within a moment, if any."""
        try:
            found = self._places.get(timeout=POLL_SECONDS)
        except queue.Empty:
            return None
        if found is None:
            self.close()
        return found

    def close(self) -> None:
        """End the process."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    def _question(self, seed: int) -> bytes:
        annealer = Annealer(self._arrays, seed, lambda: False)
        state, totals = self._arrays.empty()
        question: firstplan.Question = {
            "world": self._arrays.world.tolist(),
            "state": state.tolist(),
            "totals": totals.tolist(),
            "orders": [annealer.order() for _ in range(ORDERS)],
            "weights": annealer.weights(1.0).tolist(),
            "seed": seed,
        }
        return json.dumps(question).encode() + b"\n"

    def _talk(self, process: subprocess.Popen[bytes], question: bytes) -> None:
        assert process.stdin is not None and process.stdout is not None  # noqa: S101, PT018 - pipes
        with contextlib.suppress(OSError, ValueError):
            process.stdin.write(question)
            process.stdin.flush()  # and left open: its end is the end of the process
            for line in process.stdout:
                shape, anchor = (np.array(column, np.int64) for column in json.loads(line))
                self._places.put(self._arrays.places(shape, anchor))
        self._places.put(None)
