"""The folder that a run writes into: tried before the search, filled file by file, and only by a run that succeeds."""

from __future__ import annotations

import re
import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from placer.errors import Diagnostic, PlacerError, Span
from placer.files import create_file, replace_file
from placer.plan.file import read_plan, write_plan
from placer.plan.model import Plan

PLAN_FILE = "plan.json"


def write_text(path: Path, text: str) -> None:
    """Write a file beside and move it into place. Raises PlacerError when it cannot be written."""
    try:
        replace_file(path, text)
    except (OSError, ValueError) as err:
        reason = err.strerror if isinstance(err, OSError) and err.strerror else str(err)
        raise PlacerError(Diagnostic("file-not-written", f"{path} cannot be written: {reason}")) from None


def write_new(path: Path, text: str) -> None:
    """Write a file that is not there yet. Raises PlacerError when it is, or when it cannot be written."""
    try:
        create_file(path, text)
    except FileExistsError:
        message = f"{path} is there already, and is not written over"
        raise PlacerError(Diagnostic("file-exists", message, "choose another name, or remove the file")) from None
    except (OSError, ValueError) as err:
        reason = err.strerror if isinstance(err, OSError) and err.strerror else str(err)
        raise PlacerError(Diagnostic("file-not-written", f"{path} cannot be written: {reason}")) from None


def default_folder(circuit_name: str) -> Path:
    """Return ``<circuit name>-plan`` in the working folder, with what a file name should not hold replaced."""
    safe = re.sub(r"[^\w.+-]+", "-", circuit_name).strip("-.")
    return Path(f"{safe or 'circuit'}-plan")


class Staging:
    """A temporary folder inside the output folder; files move from here into place at the very end."""

    def __init__(self, folder: Path, inner: Path) -> None:
        self.folder = folder
        self._inner = inner

    def write(
        self,
        plan: Plan,
        write_guide: Callable[[Plan, Path], Sequence[Path]],
        judge: Callable[[Plan], Sequence[Diagnostic]],
    ) -> list[Path]:
        """Write plan and guide, judge the plan as it stands in the file, and move all into the folder.

        A guide that fails does not lose the plan: it is put in place before the failure is passed on.
        Raises PlacerError when the folder cannot be written, and RuntimeError when the file does not pass the check.
        """
        path = self._inner / PLAN_FILE
        write_plan(plan, path)
        faults = judge(read_plan(path))
        if faults:
            raise RuntimeError(f"the written plan does not pass the check: {faults[0].message}")
        try:
            write_guide(plan, self._inner)
        except Exception:
            self._move([path])
            raise
        return self._move([path, *sorted(p for p in self._inner.iterdir() if p != path)])

    def _move(self, files: Sequence[Path]) -> list[Path]:
        moved = []
        for file in files:
            target = self.folder / file.name
            try:
                file.replace(target)
            except OSError as err:
                raise _not_writable(target, err) from None
            moved.append(target)
        return moved


@contextmanager
def staging(folder: Path) -> Iterator[Staging]:
    """Open the output folder, made when missing; a folder that this made and that stayed empty is removed again.

    Raises PlacerError at once when the folder cannot be written.
    """
    made = [p for p in (folder, *folder.parents) if not p.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        inner = Path(tempfile.mkdtemp(dir=folder, prefix=".placer-"))
    except (OSError, ValueError) as err:
        _remove(made)
        raise _not_writable(folder, err) from None
    try:
        if (folder / PLAN_FILE).is_dir():
            message = f"{folder / PLAN_FILE} is a folder, the plan cannot be written there"
            raise PlacerError(Diagnostic("folder-not-writable", message, "choose another folder with --out"))
        yield Staging(folder, inner)
    finally:
        shutil.rmtree(inner, ignore_errors=True)
        _remove(made)


def _remove(folders: list[Path]) -> None:
    for folder in folders:
        with suppress(OSError):  # not empty: the run succeeded
            folder.rmdir()


def _not_writable(path: Path, err: Exception) -> PlacerError:
    reason = err.strerror if isinstance(err, OSError) and err.strerror else str(err)
    if isinstance(err, FileExistsError):
        reason = "a file of this name is in the way"
    message = f"output folder {path} cannot be written: {reason}"
    return PlacerError(
        Diagnostic("folder-not-writable", message, "choose another folder with --out", span=Span(str(path)))
    )
