"""Compile the search before the clock starts: the first run after installation takes some tens of seconds for it."""

from __future__ import annotations

from functools import cache

import numpy as np

from placer.boards.model import Board, Hole, Strip
from placer.circuit.model import Circuit, Net, Part, PinRef
from placer.packages.model import Package, TwoLead
from placer.plan.model import Options
from placer.solve.anneal import Annealer
from placer.solve.arrays import Arrays
from placer.solve.claims import Claim
from placer.solve.cluster import ClusterSearch, Forms
from placer.solve.frame import frame
from placer.solve.problem import build


@cache
def compile_kernels() -> None:
    """Run every compiled function once on a circuit of two parts; later calls return at once."""
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
    board = Board("warm", "", (12.7, 15.24), holes, strips)
    problem = build(Circuit("warm", parts, nets, {"warm": package}), board, Options())
    arrays = Arrays(problem)
    annealer = Annealer(arrays, 1, lambda: False)
    state = annealer.start()
    if state is not None:
        list(annealer.run(state, 1, stop_cost=np.inf))
        for found in annealer.run(state, 1):
            list(annealer.polish(found.places, 1, 0.1, 0.1))
            list(annealer.tighten(found.places, 1))
    seen = frame(problem, 0)
    if seen is not None:
        group = (frozenset({(0, 0), (1, 0)}),)
        ClusterSearch(problem, Forms(problem), seen, lambda: False).ask(Claim(frozenset({0, 1}), group))
