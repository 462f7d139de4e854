"""The line that tells how the search goes: alive on a terminal, a plain line every few seconds elsewhere."""

from __future__ import annotations

import threading
import time
from types import TracebackType

from rich.console import Console
from rich.live import Live
from rich.text import Text

from placer.solve.api import Progress

PLAIN_SECONDS = 5.0


class ProgressLine:
    """A context manager; :meth:`update` may be called from any thread. Prints nothing where ``quiet``."""

    def __init__(self, console: Console, *, quiet: bool = False, plain_seconds: float = PLAIN_SECONDS) -> None:
        self._console = console
        self._quiet = quiet
        self._every = plain_seconds
        self._what = "searching"
        self._began = time.monotonic()
        self._last: Progress | None = None
        self._done = threading.Event()
        self._live: Live | None = None
        self._thread: threading.Thread | None = None

    def __enter__(self) -> ProgressLine:
        if self._quiet:
            return self
        if self._console.is_terminal:
            self._live = Live(
                get_renderable=self._line, console=self._console, refresh_per_second=4, transient=True
            ).__enter__()
        else:
            self._thread = threading.Thread(target=self._tick, name="progress", daemon=True)
            self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._done.set()
        if self._live is not None:
            self._live.__exit__(kind, error, trace)
        if self._thread is not None:
            self._thread.join()

    def begin(self, what: str) -> None:
        """Say what is searched from now on, such as ``hive-lantern on five-hole-30``; the clock starts anew."""
        self._what, self._last, self._began = what, None, time.monotonic()

    def update(self, progress: Progress) -> None:
        """Take the latest state of the search."""
        self._last = progress

    def say(self, text: str) -> None:
        """Print a line of its own (above the live line)."""
        if not self._quiet:
            self._console.print(Text(text), soft_wrap=True)

    def _tick(self) -> None:
        while not self._done.wait(self._every):
            self._console.print(self._line(), soft_wrap=True)

    def _line(self) -> Text:
        return Text(progress_text(self._what, time.monotonic() - self._began, self._last))


def progress_text(what: str, seconds: float, progress: Progress | None) -> str:
    """Return the line: what is searched, the time, and the best checked cost, the bound and the gap where known."""
    start = f"{what}: {seconds:.0f} s"
    if progress is None:
        return start
    if progress.cost is None:
        return f"{start}, {progress.phase}, no plan yet, bound {number(progress.bound)}"
    return (
        f"{start}, {progress.phase}, cost {number(progress.cost)} ({count(progress.jumpers or 0, 'jumper')}, "
        f"{count(progress.cuts or 0, 'cut')}), bound {number(progress.bound)}, "
        f"gap {number(max(0.0, progress.cost - progress.bound))}"
    )


def number(value: float) -> str:
    """Return a cost or length with at most two decimals, none where it is whole."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def count(how_many: int, what: str) -> str:
    """Return ``1 jumper``, ``2 jumpers``."""
    return f"{how_many} {what}{'' if how_many == 1 else 's'}"
