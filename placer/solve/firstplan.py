"""A first plan while the first run compiles: the local search as plain Python, in a process of its own.

Started with NUMBA_DISABLE_JIT=1. It takes one line of JSON (:class:`Question`), and answers with a line of JSON for
each legal state, as it comes upon them: the shapes and the anchors of all items. It goes on until it is ended.

Plain Python is fifty times slower than compiled code, but a legal state asks for a few thousand moves only: a state
built from what shares most nets, then annealed at a low temperature while the penalties of what is wrong with it grow.
"""

from __future__ import annotations

import itertools
import json
import sys
from collections.abc import Iterator
from typing import Any, TypedDict

from placer.solve import kernel, layout
from placer.solve.child import end_with_parent

TRIES = (120, 480)  # places an item is tried at; more where that does not do
CHUNK = 500  # proposals between looks at what is still wrong
HOT, COLD = 0.35, 0.1
STRICT, LAX = 2.0, 0.25  # weight of penalties, and of jumpers and cuts: any legal state will do
GROWTH, CAP = 1.08, 8.0  # of a penalty while there is something to it
PENALTIES = (layout.SHORTS, layout.OVERLAPS, layout.WIRELESS, layout.DEFICIT, layout.WISHES)
# Uncompiled, they take lists as well as arrays, and are five times as fast with them.
_construct: Any = kernel.construct
_search: Any = kernel.search


class Question(TypedDict):
    """What there is to place. ``state`` and ``totals``: of the empty board; ``orders`` of items are taken by turns.

    ``weights``: of the totals, all penalties at their least; ``world``: see :mod:`placer.solve.layout`.
    """

    world: list[int]
    state: list[int]
    totals: list[float]
    orders: list[list[int]]
    weights: list[float]
    seed: int


Answer = tuple[list[int], list[int]]
"""Of each item: its shape, and the hole of its first pin."""


def answers(question: Question) -> Iterator[Answer]:
    """Legal states, each from a fresh start. Endless: it may look for one in vain."""
    for attempt in itertools.count():
        found = _attempt(question, question["orders"][attempt % len(question["orders"])], question["seed"] + attempt)
        if found is not None:
            yield found


def _attempt(question: Question, order: list[int], seed: int) -> Answer | None:
    world = question["world"]
    least = [STRICT * weight if term in PENALTIES else LAX * weight for term, weight in enumerate(question["weights"])]
    strict = [2 * weight if term in PENALTIES else weight for term, weight in enumerate(least)]
    for tries in TRIES:
        state, totals = question["state"].copy(), question["totals"].copy()
        if _construct(world, state, totals, order, tries, order, order, strict, seed):
            break
    else:
        return None
    n = len(order)
    shape, anchor, best = [0] * n, [0] * n, [1e18, 1e18, 1e18]
    weights = least.copy()
    chunks = n + 10
    for c in range(chunks):
        heat = HOT * (COLD / HOT) ** (c / chunks)
        _search(world, state, totals, CHUNK, heat, heat, weights, seed + c, shape, anchor, best, 1e17)
        if best[0] < 1e17:
            return shape, anchor
        for term in PENALTIES:
            if totals[term] > 0.5:
                weights[term] = min(CAP * least[term], GROWTH * weights[term])
    return None


if __name__ == "__main__":
    asked: Question = json.loads(sys.stdin.buffer.readline())
    end_with_parent()
    for answer in answers(asked):
        print(json.dumps(answer), flush=True)  # noqa: T201 - the answer to who started this process
