"""Ctrl-C while a plan is sought: the first ends the search in order, the second at once; neither loses a plan."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable
from types import FrameType, TracebackType
from typing import Any

_SIGNALS = (signal.SIGINT, signal.SIGTERM)


class Interrupts:
    """A context manager that turns interrupts into :attr:`stop`. Outside the main thread it changes nothing.

    The first interrupt sets ``stop``; from the second on, KeyboardInterrupt is raised as well, unless :meth:`hold` has
    said that what is under way (writing files) is short and must be whole.
    """

    def __init__(self, on_first: Callable[[], None]) -> None:
        self.stop = threading.Event()
        self._linked: list[threading.Event] = []
        self._on_first = on_first
        self._held = False
        self._before: dict[signal.Signals, Any] = {}

    def __enter__(self) -> Interrupts:
        if threading.current_thread() is threading.main_thread():
            self._before = {number: signal.signal(number, self._handle) for number in _SIGNALS}
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for number, handler in self._before.items():
            signal.signal(number, handler)

    def link(self) -> threading.Event:
        """Return a new event that an interrupt sets too, for a piece of work that may also be ended by itself."""
        event = threading.Event()
        self._linked.append(event)
        if self.stop.is_set():
            event.set()
        return event

    def hold(self) -> None:
        """From now on interrupts are noted, nothing more."""
        self._held = True

    def _handle(self, _number: int, _frame: FrameType | None) -> None:
        again = self.stop.is_set()
        self.stop.set()
        for event in self._linked:
            event.set()
        if self._held:
            return
        if again:
            raise KeyboardInterrupt
        self._on_first()
