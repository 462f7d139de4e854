"""Processes that work beside the search: how they are started, and how they end with it, whatever ends it."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path

SOURCES = Path(__file__).parents[2]


def start(module: str, *arguments: str, environment: dict[str, str]) -> subprocess.Popen[bytes]:
    """Run a module of this package as a program of its own; it must call :func:`end_with_parent`.

    Ctrl-C reaches this process only, which decides what it means. Raises OSError where no process can be started.
    """
    if not sys.executable or getattr(sys, "frozen", False):
        raise OSError("no Python interpreter to start another process with")
    path = os.pathsep.join(filter(None, (str(SOURCES), os.environ.get("PYTHONPATH"))))
    # -P: a file named like a module in the working folder must not be taken for that module.
    return subprocess.Popen(  # noqa: S603 - this interpreter and this package
        [sys.executable, "-P", "-m", module, *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": path, **environment},
        start_new_session=True,
        creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
    )


def end_with_parent() -> None:
    """End this process as soon as its standard input does: when the process that holds the other end is gone."""

    def wait() -> None:
        while os.read(0, 4096):
            pass
        os._exit(1)

    threading.Thread(target=wait, daemon=True).start()
