"""Writing a file so that it appears whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


def replace_file(path: Path, content: str | bytes) -> Path:
    """Write beside, then move into place: a reader sees the old file or the new one, never a part of it.

    Text goes as UTF-8, with line ends as they are in it. Raises OSError (ValueError for an impossible name) when it
    cannot be written; nothing is left beside then.
    """
    with _beside(path, content) as spare:
        spare.replace(path)
    return path


def create_file(path: Path, text: str) -> Path:
    """As :func:`replace_file`, but never in place of a file that is there already: raises FileExistsError."""
    with _beside(path, text) as spare:
        try:
            path.hardlink_to(spare)  # fails where the name is taken, whoever takes it meanwhile
        except FileExistsError:
            raise
        except OSError:  # a file system without hard links
            with path.open("x", encoding="utf-8", newline="") as file:
                file.write(text)
    return path


@contextmanager
def _beside(path: Path, content: str | bytes) -> Iterator[Path]:
    """A file with the content in the same folder, gone in the end if nobody moved it."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    spare = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content if isinstance(content, bytes) else content.encode("utf-8"))
        spare.chmod(0o666 & ~_umask())
        yield spare
    finally:
        spare.unlink(missing_ok=True)


def _umask() -> int:
    """The permissions that new files must not get; mkstemp gives fewer than the user expects of an output file."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
