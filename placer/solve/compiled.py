"""How the search is compiled: to machine code by numba, without the interpreter's lock, kept on disk between runs.

The code on disk is filed under a digest of this package's sources. Numba itself only looks at the file that a function
stands in, and would go on using code that was compiled against another file's older layout.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
import numba.core.config as numba_config
import numpy as np
from numba import types
from numba.extending import intrinsic

F = TypeVar("F", bound=Callable[..., Any])


def cache_folder() -> Path:
    """A writable folder for compiled code: the user's cache folder, or one for temporary files."""
    digest = hashlib.sha256()
    for source in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(source.read_bytes())
    own = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    for base in (Path(own), Path(tempfile.gettempdir())):
        folder = base / "placer" / digest.hexdigest()[:16]
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError:
            continue
        if os.access(folder, os.W_OK):
            return folder
    return Path(tempfile.mkdtemp(prefix="placer-"))


if not getattr(numba_config, "CACHE_DIR", ""):
    setattr(numba_config, "CACHE_DIR", str(cache_folder()))  # noqa: B010 - the module's names are made at run time


def compiled(function: F) -> F:
    """Compile a function on its first call."""
    return cast(F, numba.njit(cache=True, nogil=True, error_model="numpy", no_cfunc_wrapper=True)(function))


def inner(function: F) -> F:
    """Compile a function that only compiled ones call: there is no way into it from Python, which takes time to make."""
    options = {"cache": True, "nogil": True, "error_model": "numpy"}
    return cast(F, numba.njit(no_cpython_wrapper=True, no_cfunc_wrapper=True, **options)(function))


@intrinsic  # type: ignore[untyped-decorator]
def raw(_context: Any, array: Any) -> Any:
    """The bare address of an array's numbers."""

    def generate(context: Any, builder: Any, signature: Any, values: Any) -> Any:
        return context.make_array(signature.args[0])(context, builder, values[0]).data

    return types.CPointer(array.dtype)(array), generate


@inner
def set_chance(seed: int) -> None:
    """Start the random numbers of this thread."""
    np.random.seed(seed)


@inner
def chance() -> float:
    """A random number from 0 up to 1."""
    return float(np.random.random())


@inner
def draw(n: int) -> int:
    """A random whole number from 0 up to n - 1."""
    return int(np.random.randint(n))
