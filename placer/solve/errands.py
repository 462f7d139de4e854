"""Work that goes on beside the rounds of a search: sent in one of them, back some rounds later."""

from __future__ import annotations

from collections.abc import Iterable
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait

from placer.solve.arrays import Places
from placer.solve.beside import Beside, Ends
from placer.solve.prover import Finding


class Errand:
    """One who works beside the rounds. ``asked``: what it is at; None when it has nothing to do."""

    def __init__(self, beside: Beside, pool: ThreadPoolExecutor) -> None:
        self.beside = beside
        self.asked: Future[Finding] | None = None
        self._pool = pool
        self._due = 0  # rounds until its answer is waited for
        self._rounds = 0

    def send(
        self, due: int, work: float, best: float, places: Places | None, last: float | None, others: Ends = ()
    ) -> None:
        """Ask :meth:`Beside.advance`; the answer is due after so many rounds."""
        self._due, self._rounds = due, 0
        self.asked = self._pool.submit(self.beside.advance, work, best, places, last, others)

    def comes_back(self, *, patient: bool) -> bool:
        """A round is over: True when the answer is to be taken. ``patient``: whether it is there or not."""
        self._due -= 1
        self._rounds += 1
        return self._due <= 0 and (patient or (self.asked is not None and self.asked.done()))

    def answer(self) -> tuple[Finding, int]:
        """Wait for the answer; the rounds that it took comes with it."""
        assert self.asked is not None  # noqa: S101 - it was sent
        finding, self.asked = self.asked.result(), None
        return finding, self._rounds


def wait_for_one(errands: Iterable[Errand]) -> None:
    """Wait until one of those who were sent has its answer."""
    wait([errand.asked for errand in errands if errand.asked is not None], return_when=FIRST_COMPLETED)
