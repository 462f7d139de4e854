"""The machine in general terms, as far as it bears on times."""

from __future__ import annotations

import os
import platform
from functools import cache
from importlib.metadata import PackageNotFoundError, version

LIBRARIES = ("ortools", "numba", "numpy", "highspy")


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _memory_gb() -> int | None:
    try:
        return round(os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1024**3)
    except (AttributeError, OSError, ValueError):
        return None


def _version(name: str) -> str | None:
    try:
        return version(name)
    except PackageNotFoundError:
        return None


@cache
def machine() -> str:
    """A sentence: cores, memory, and what runs there."""
    cores, memory = _cores(), _memory_gb()
    hardware = f"{cores} core{'s' * (cores > 1)} ({platform.machine()})"
    if memory is not None:
        hardware += f", {memory} GB of memory"
    found = [f"{name} {number}" for name in LIBRARIES if (number := _version(name)) is not None]
    return f"Machine: {hardware}; Python {platform.python_version()}, {', '.join(found)}."
