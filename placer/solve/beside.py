"""The proof beside the search: in a process of its own, where it would hold the interpreter's lock most of the time.

Small proofs end before a process has started, so the first portions of work are done here; where the first of them is
not enough, the other process starts meanwhile. It begins anew: what it finds depends on the portions asked for alone,
not on when it was started.
"""

from __future__ import annotations

import contextlib
import pickle
import queue
import subprocess
import sys
import threading
import time
import traceback
from dataclasses import replace
from typing import IO, Any

from placer.boards.model import Board
from placer.circuit.model import Circuit
from placer.plan.model import Options
from placer.solve import child
from placer.solve.arrays import Places
from placer.solve.frame import Stopped
from placer.solve.problem import Problem, build
from placer.solve.prover import Finding, Prover, Task
from placer.solve.turns import MANY_ITEMS

FIRST_WORK = 0.4  # about seconds, done here before another process takes over
POLL_SECONDS = 0.05

Ends = tuple[Places, ...]
"""What runs of the search have come to."""

Question = tuple[float, float, Places | None, Ends, float | None]
"""Work, the best cost known, its places, other states, and the seconds after which to give up (None: never)."""


class Beside:
    """A proof that may go on in another process. ``alone``: it is never started, all work is done here.

    ``stopped`` is asked while waiting; a proof that is given up says what it knew before. :meth:`close` ends the other
    process. A proof whose process is lost (ended by the system, say) has ended: ``lost`` is then True.
    """

    def __init__(self, p: Problem, seed: int, stopped: Stopped, task: Task = Task.BOTH, *, alone: bool) -> None:
        self.p, self.seed, self.stopped, self.task, self.alone = p, seed, stopped, task, alone
        self.lost = False
        # Of many parts even the first portion takes seconds, in which nothing else would get on.
        many = not alone and len(p.items) >= MANY_ITEMS
        self._here: Prover | None = None if many else Prover(p, seed, stopped, task)
        self._done_here = 0.0
        self._asked = False
        # At once: board and circuit keep what is asked of them, so other threads would change them while it is packed.
        self._given = b"" if alone else pickle.dumps((p.circuit, p.board, p.options, seed, task))
        self._process: subprocess.Popen[bytes] | None = None
        self._answers: queue.Queue[Any] = queue.Queue()
        self._known = Finding(0.0)
        self._changing = threading.Lock()
        self._closed = False

    @property
    def starts(self) -> bool:
        """True when the next portion of work is the first of the other process, which takes some time to be ready."""
        return not self._asked and self._here is None and not self.lost

    def advance(
        self, work: float, best: float, places: Places | None, last: float | None, others: Ends = ()
    ) -> Finding:
        """As :meth:`Prover.advance`. ``last``: when (on the monotonic clock) the search ends by itself; None: never."""
        if self._here is not None:
            found = self._here.advance(work if self.alone else min(work, FIRST_WORK), best, places, others)
            self._done_here += found.work
            if not self.alone and not found.ended:
                self._get_ready()
                if self._done_here >= FIRST_WORK:
                    self._here = None
            return self._keep(found)
        left = None if last is None else max(0.0, last - time.monotonic())
        return self._keep(self._ask((work, best, places, others, left)))

    def _keep(self, found: Finding) -> Finding:
        """Another process knows less at first: the bound stays."""
        self._known = replace(found, bound=max(found.bound, self._known.bound))
        return self._known

    def _get_ready(self) -> None:
        """Start the other process, without waiting for it. One that cannot be started is lost when it is asked."""
        with self._changing:
            if self._process is None and not self._closed:
                with contextlib.suppress(OSError):
                    self._start()

    def _ask(self, question: Question) -> Finding:
        self._get_ready()
        first, self._asked = not self._asked, True
        with self._changing:
            if self._process is None:
                return self._end()
            assert self._process.stdin is not None  # noqa: S101 - a pipe
            try:
                if first:
                    self._process.stdin.write(self._given)
                _send(self._process.stdin, question)
            except OSError:
                return self._end()
        while not self.stopped():
            try:
                answer = self._answers.get(timeout=POLL_SECONDS)
            except queue.Empty:
                continue
            if answer is None:
                return self._end()
            if isinstance(answer, str):
                raise RuntimeError(f"the proof failed in its process:\n{answer}")
            assert isinstance(answer, Finding)  # noqa: S101 - there is nothing else
            return answer
        return Finding(self._known.bound)

    def _end(self) -> Finding:
        self.lost = True
        return Finding(self._known.bound, ended=True)

    def _start(self) -> None:
        self._process = child.start(__name__, environment={})
        assert self._process.stdout is not None  # noqa: S101 - a pipe
        reader = threading.Thread(target=_read, args=(self._process.stdout, self._answers), daemon=True)
        reader.start()

    def close(self) -> None:
        """End the other process, and with it what it is asked."""
        with self._changing:
            self._closed = True
            if self._process is not None:
                self._process.kill()
                self._process.wait()
                for pipe in (self._process.stdin, self._process.stdout):
                    if pipe is not None:
                        with contextlib.suppress(OSError):  # what a process never read is still to be written
                            pipe.close()
                self._process = None


def _send(pipe: IO[bytes], what: object) -> None:
    pickle.dump(what, pipe)
    pipe.flush()


def _read(pipe: IO[bytes], answers: queue.Queue[Any]) -> None:
    """Take answers from the other process as they come; None at its end."""
    try:
        while True:
            answers.put(pickle.load(pipe))  # noqa: S301 - written by this module, in a process started by it
    except (EOFError, OSError, ValueError, pickle.UnpicklingError):
        answers.put(None)


def _serve(incoming: IO[bytes], outgoing: IO[bytes]) -> None:
    """The other process: take the problem, then answer one question after another until there are no more."""
    until: list[float | None] = [None]

    def stopped() -> bool:
        return until[0] is not None and time.monotonic() >= until[0]

    try:
        given: tuple[Circuit, Board, Options, int, Task] = pickle.load(incoming)  # noqa: S301 - from the search itself
        circuit, board, options, seed, task = given
        prover = Prover(build(circuit, board, options), seed, stopped, task)
        while True:
            work, best, places, others, left = pickle.load(incoming)  # noqa: S301 - as above
            until[0] = None if left is None else time.monotonic() + left
            _send(outgoing, prover.advance(work, best, places, others))
    except (EOFError, BrokenPipeError):
        return
    except Exception:  # the search tells what went wrong
        _send(outgoing, traceback.format_exc())


if __name__ == "__main__":
    answers, sys.stdout = sys.stdout.buffer, sys.stderr
    _serve(sys.stdin.buffer, answers)
