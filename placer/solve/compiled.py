"""How the search is compiled: to machine code by numba, without the interpreter's lock, kept on disk between runs.

The code on disk is filed under a digest of this package's sources. Numba itself only looks at the file that a function
stands in, and would go on using code that was compiled against another file's older layout.

With NUMBA_DISABLE_JIT=1 in the environment the same functions stay plain Python, and numba is not even loaded: see
:mod:`placer.solve.cold`.
"""

from __future__ import annotations

import functools
import hashlib
import os
import random
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numpy as np

F = TypeVar("F", bound=Callable[..., Any])
A = TypeVar("A")
UNCOMPILED = os.environ.get("NUMBA_DISABLE_JIT", "0") not in ("", "0")


@functools.cache
def cache_folder() -> Path:
    """A writable folder for compiled code: where NUMBA_CACHE_DIR says, the user's cache, or one for temporary files."""
    digest = hashlib.sha256()
    for source in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(source.read_bytes())
    name = digest.hexdigest()[:16]
    own = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    bases = [Path(own), Path(tempfile.gettempdir())]
    if os.environ.get("NUMBA_CACHE_DIR"):
        bases.insert(0, Path(os.environ["NUMBA_CACHE_DIR"]))
    for base in bases:
        folder = base / "placer" / name
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError:
            continue
        if os.access(folder, os.W_OK):
            return folder
    return Path(tempfile.mkdtemp(prefix="placer-"))


if UNCOMPILED:

    def compiled(function: F) -> F:
        """Leave a function as it is."""
        return function

    inner = compiled

    def raw(array: A) -> A:
        """A view of an array that gives plain numbers, which Python is quicker with; a list as it is."""
        return cast(A, memoryview(array) if isinstance(array, np.ndarray) else array)

    def set_chance(seed: int) -> None:
        """Start the random numbers."""
        random.seed(seed)

    chance = random.random

    def draw(n: int) -> int:
        """A random whole number from 0 up to n - 1."""
        return int(random.random() * n)

else:
    import numba
    import numba.core.config as numba_config
    from numba import types
    from numba.extending import intrinsic

    setattr(numba_config, "CACHE_DIR", str(cache_folder()))  # noqa: B010 - the module's names are made at run time

    def compiled(function: F) -> F:
        """Compile a function on its first call.

        Its callers must not give it literals where others give it variables: it would be compiled twice, and two
        processes that compile at once may then take one version on disk for the other.
        """
        return cast(F, numba.njit(cache=True, nogil=True, error_model="numpy", no_cfunc_wrapper=True)(function))

    def inner(function: F) -> F:
        """The same for a function that only compiled ones call: no way into it from Python, which takes time to make."""
        options = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
        return cast(F, numba.njit(cache=True, nogil=True, error_model="numpy", **options)(function))

    @intrinsic  # type: ignore[untyped-decorator]
    def raw(_context: Any, array: Any) -> Any:
        """The bare address of an array's numbers: quicker than the array, which must outlive it."""

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
