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
import numpy.typing as npt

F = TypeVar("F", bound=Callable[..., Any])
A = TypeVar("A")
# The first number of a state is where its random numbers have got to. They are linear congruential, modulo 2**64, of
# which the upper bits are used: a fifth of the time that numba's own take. Constants: D. E. Knuth's MMIX, from memory.
RANDOM = 0
MULTIPLIER, INCREMENT = 6364136223846793005, 1442695040888963407
Ints = npt.NDArray[np.int64]
UNCOMPILED = os.environ.get("NUMBA_DISABLE_JIT", "0") not in ("", "0")


@functools.cache
def cache_folder() -> Path:
    """A writable folder for compiled code: where NUMBA_CACHE_DIR says, the user's cache, or one for temporary files."""
    digest = hashlib.sha256()
    for source in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(source.read_bytes())
    given = os.environ.get("NUMBA_CACHE_DIR")
    own = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    user = str(os.getuid()) if hasattr(os, "getuid") else ""
    temporary = Path(tempfile.gettempdir()) / f"placer-cache-{user}"
    for base in (*([Path(given)] if given else []), Path(own), temporary):
        folder = base / "placer" / digest.hexdigest()[:16]
        try:
            if base == temporary:
                base.mkdir(mode=0o700, exist_ok=True)
            folder.mkdir(parents=True, exist_ok=True)
            if os.access(folder, os.W_OK) and (base != temporary or _private(base)):
                return folder
        except OSError:
            continue
    folder = Path(tempfile.mkdtemp(prefix="placer-")) / "placer" / digest.hexdigest()[:16]
    folder.mkdir(parents=True)
    return folder


def _private(folder: Path) -> bool:
    """True when nobody else can put files into a folder: what lies there is loaded and run."""
    found = folder.lstat()
    return not hasattr(os, "getuid") or (found.st_uid == os.getuid() and not found.st_mode & 0o022)


if UNCOMPILED:

    def compiled(function: F) -> F:
        """Leave a function as it is."""
        return function

    inner = compiled

    def raw(array: A) -> A:
        """A view of an array that gives plain numbers, which Python is quicker with; a list as it is."""
        return cast(A, memoryview(array.data)) if isinstance(array, np.ndarray) else array

    def set_chance(s: Ints, seed: int) -> None:  # noqa: ARG001 - the state is for compiled code
        """Start the random numbers."""
        random.seed(seed)

    def chance(s: Ints) -> float:  # noqa: ARG001
        """A random number from 0 up to 1."""
        return random.random()  # noqa: S311 - nothing secret

    def draw(s: Ints, n: int) -> int:  # noqa: ARG001
        """A random whole number from 0 up to n - 1."""
        return int(random.random() * n)  # noqa: S311 - nothing secret

    def lowest(bits: int) -> int:
        """The place of the lowest bit that is set, of a number other than 0."""
        return (bits & -bits).bit_length() - 1

else:
    import numba
    import numba.core.config as numba_config
    from numba import types
    from numba.extending import intrinsic

    setattr(numba_config, "CACHE_DIR", str(cache_folder()))  # noqa: B010 - the module's names are made at run time

    _njit: Any = functools.partial(numba.njit, cache=True, nogil=True, error_model="numpy")

    def compiled(function: F) -> F:
        """Compile a function on its first call.

        Its callers must not give it literals where others give it variables: it would be compiled twice, and two
        processes that compile at once may then take one version on disk for the other.
        """
        return cast(F, _njit(no_cfunc_wrapper=True)(function))

    def inner(function: F) -> F:
        """The same where only compiled functions call: without the way in from Python, which takes time to make."""
        return cast(F, _njit(no_cpython_wrapper=True, no_cfunc_wrapper=True)(function))

    @intrinsic
    def raw(_context: Any, array: Any) -> Any:
        """The bare address of an array's numbers: quicker than the array, which must outlive it."""

        def generate(context: Any, builder: Any, signature: Any, values: Any) -> Any:
            return context.make_array(signature.args[0])(context, builder, values[0]).data

        pointer: Any = types.CPointer
        return pointer(array.dtype)(array), generate

    @intrinsic
    def lowest(_context: Any, _bits: Any) -> Any:
        """The place of the lowest bit that is set, of a number other than 0."""

        def generate(context: Any, builder: Any, _signature: Any, values: Any) -> Any:
            return builder.cttz(values[0], context.get_constant(types.boolean, True))

        return types.int64(types.int64), generate

    @inner
    def set_chance(s: Ints, seed: int) -> None:
        """Start the random numbers of a state."""
        s[RANDOM] = (seed + 1) * MULTIPLIER

    @inner
    def chance(s: Ints) -> float:
        """A random number from 0 up to 1."""
        s[RANDOM] = s[RANDOM] * MULTIPLIER + INCREMENT
        return float((s[RANDOM] >> 11) & 0x1FFFFFFFFFFFFF) * 2.0**-53

    @inner
    def draw(s: Ints, n: int) -> int:
        """A random whole number from 0 up to n - 1; n below 2**31."""
        s[RANDOM] = s[RANDOM] * MULTIPLIER + INCREMENT
        return int(((s[RANDOM] >> 33) & 0x7FFFFFFF) * n >> 31)
