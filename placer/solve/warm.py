"""Compile the search before its clock starts, part by part; what is compiled stays on disk for the next run.

Run as a program (``python -m placer.solve.warm search``) this compiles the parts named, for another process to load:
see :mod:`placer.solve.cold`. Imports stand inside: a process loads only what its part needs.
"""

from __future__ import annotations

import contextlib
import hashlib
import sys
from collections.abc import Callable, Iterator
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import IO

import numpy as np

from placer.boards.model import Board, Hole, Strip
from placer.circuit.model import Circuit, Net, Part, PinRef
from placer.packages.model import Package, TwoLead
from placer.plan.model import Options
from placer.solve import kernel
from placer.solve.anneal import Annealer
from placer.solve.arrays import Arrays
from placer.solve.child import end_with_parent
from placer.solve.compiled import UNCOMPILED, cache_folder
from placer.solve.polish import Polisher
from placer.solve.problem import build
from placer.solve.putback import put_back

Parts = tuple[str, ...]
STRIPS: Parts = ("search", "proof")
"""What the search needs on a board of strips."""
LINES: Parts = (*STRIPS, "lines")
"""What it needs where they are lines that may be cut."""
PADS: Parts = ("pads",)
"""What it needs on a board that allows bridges."""


def compile_kernels(parts: Parts) -> None:
    """Have every compiled function of some parts ready to run; later calls return at once."""
    for part in parts:
        _compile(part)


def ready(parts: Parts) -> bool:
    """True when all that compiling makes is on disk, or nothing is to be compiled at all."""
    return UNCOMPILED or all(_marker(part).exists() for part in parts)


@cache
def _compile(part: str) -> None:
    if UNCOMPILED:
        return
    with contextlib.nullcontext() if ready((part,)) else _alone(part):
        _PARTS[part]()
    with contextlib.suppress(OSError):
        _marker(part).touch()


@cache
def _marker(part: str) -> Path:
    """The file that says that a part is compiled, by this Python and numba for this processor."""
    from llvmlite import binding

    machine = binding.get_process_triple(), binding.get_host_cpu_name(), binding.get_host_cpu_features().flatten()
    known = repr((sys.version, version("numba"), version("llvmlite"), machine))
    return cache_folder() / f"{part}-{hashlib.sha256(known.encode()).hexdigest()[:16]}.ready"


@contextlib.contextmanager
def _alone(part: str) -> Iterator[None]:
    """Wait until no other process compiles this part: twice is no use, and numba's files do not bear it."""
    with contextlib.ExitStack() as stack:
        with contextlib.suppress(OSError):  # a folder or a system without locks: then without
            _lock(stack.enter_context((cache_folder() / f"{part}.lock").open("a+b")))
        yield  # closing the file gives it free, and so does the end of the process


def _lock(file: IO[bytes]) -> None:
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(file.fileno(), msvcrt.LK_LOCK, 1)
    else:
        import fcntl

        fcntl.flock(file.fileno(), fcntl.LOCK_EX)


def _small(*, pads: bool = False) -> tuple[Circuit, Board]:
    """Two parts, and a board of four strips or of as many lone pads."""
    package = Package("warm", "", ("1", "2"), TwoLead((1, 2), (), 2.0, 2.0), 1.0, 0.5, "box")
    parts = (Part("A", "warm"), Part("B", "warm"))
    nets = (
        Net("N", (PinRef("A", "1"), PinRef("B", "1"))),
        Net("M", (PinRef("A", "2"), PinRef("B", "2"))),
    )
    holes = {
        f"{s}{i}": Hole(f"{s}{i}", i, y, 2.54 * i, 2.54 * y, 1.0) for y, s in enumerate("abcd", 1) for i in (1, 2, 3)
    }
    strips = tuple(Strip(s, (f"{s}1", f"{s}2", f"{s}3"), ((f"{s}1", f"{s}2"), (f"{s}2", f"{s}3"))) for s in "abcd")
    if pads:
        strips = tuple(Strip(hole, (hole,), ()) for hole in holes)
    board = Board("warm", "", (12.7, 15.24), holes, strips, bridges=pads)
    return Circuit("warm", parts, nets, {"warm": package}), board


def _never() -> bool:
    return False


def _search() -> None:
    arrays = Arrays(build(*_small(), Options()))
    annealer = Annealer(arrays, 1, _never)
    state = annealer.start()
    assert state is not None  # noqa: S101 - the two parts fit
    kernel.mend(arrays.world, *state, 1, annealer.weights(1.0), 0, force=False)
    annealer.advance(1, -1.0)
    weights, kept = annealer.weights(1.0), np.zeros(2, np.int64)
    put_back(arrays.world, *state, 1, 0.1, 0.1, weights, 0, kept, kept.copy(), np.array([1e18, 1e18, 1e18]), -1.0)
    for found in annealer.run(state, 1):
        annealer.resume(found.places)


def _proof() -> None:
    from placer.solve.claims import Claim
    from placer.solve.cluster import Clusters

    problem = build(*_small(), Options())
    group = (frozenset({(0, 0), (1, 0)}),)
    Clusters(problem, _never).ask(Claim(frozenset({0, 1}), group))
    arrays = Arrays(problem)
    # On an empty board, so that this part does without the functions of the other.
    places = tuple((0, int(item.ways[0][0])) for item in problem.items)
    list(Polisher(arrays, 1, _never).tighter_from(arrays.empty(), places, 0))


def _lines() -> None:
    from placer.solve.lineup import Lineup

    circuit, board = _small()
    problem = build(circuit, board, Options())
    places = tuple((0, int(item.ways[0][0])) for item in problem.items)
    lineup = Lineup(problem)
    list(lineup.rebuilt(lineup.state(places), 1, 0.1, 0.1, lambda: 0))


def _pads() -> None:
    from placer.solve.padview import PadView, virtual_board

    circuit, board = _small(pads=True)
    real = build(circuit, board, Options(allow_cuts=False))
    view = PadView.of(real, virtual_board(board, "x"), Options(cut_cost=0.0, allow_cuts=True))
    view.fresh(Annealer(view.arrays, 0, _never), 25, 0.0)


_PARTS: dict[str, Callable[[], None]] = {"search": _search, "proof": _proof, "lines": _lines, "pads": _pads}


if __name__ == "__main__":
    end_with_parent()
    compile_kernels(tuple(sys.argv[1:]))
