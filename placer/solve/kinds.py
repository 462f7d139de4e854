"""The kinds of runs that annealing takes in turn, as the board needs them."""

from __future__ import annotations

from typing import NamedTuple

from placer.solve.problem import Problem


class Kind(NamedTuple):
    """A kind of run.

    ``hot``: temperature at which it begins again from the best state, 0 for a fresh start; ``length``: in units of so
    many proposals an item; ``lenient``: see :meth:`placer.solve.anneal.Annealer.resume`.
    """

    hot: float
    length: float
    lenient: bool


# No one kind is best for all circuits.
UNCUT = (
    Kind(0.0, 1, False),
    Kind(0.5, 2, True),
    Kind(0.0, 1, False),
    Kind(0.35, 2, False),
    Kind(0.0, 6, True),
    Kind(0.5, 2, False),
)
# Where strips may be severed, what a run comes to is settled while it is hot: there, all begin afresh.
CUT = (Kind(0.0, 1, False), Kind(0.0, 1, False), Kind(0.0, 1, True))
# Where all of them are lines, a short run only gives what is then rebuilt.
LINED = (Kind(0.0, 0.25, False), Kind(0.0, 0.25, False), Kind(0.0, 0.25, True))


def kinds_of(p: Problem, *, lined: bool) -> tuple[Kind, ...]:
    """The kinds of runs on a board; ``lined``: what they come to is rebuilt."""
    if lined:
        return LINED
    return CUT if any(map(p.severable, range(len(p.slen)))) else UNCUT
