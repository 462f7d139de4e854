"""The kinds of runs that annealing takes in turn, as the board needs them."""

from __future__ import annotations

from typing import NamedTuple

from placer.solve.problem import Problem


class Kind(NamedTuple):
    """A kind of run.

    ``hot``: temperature at which it begins again from the best state, 0 for a fresh start; ``length``: in units of so
    many proposals an item; ``lenient``: see :meth:`placer.solve.anneal.Annealer.resume`; ``rebuilt``: what it comes to
    is rebuilt.
    """

    hot: float
    length: float
    lenient: bool
    rebuilt: bool


# No one kind is best for all circuits.
UNCUT = (
    Kind(0.0, 0.5, False, True),
    Kind(0.5, 2, True, False),
    Kind(0.0, 0.5, False, True),
    Kind(0.35, 2, False, True),
    Kind(0.0, 0.5, True, True),
    Kind(0.0, 0.5, False, True),
)
# Where strips may be severed, what a run comes to is settled while it is hot: there, all begin afresh.
CUT = (Kind(0.0, 1, False, False), Kind(0.0, 1, False, False), Kind(0.0, 1, True, False))
# Where all of them are lines, a short run only gives what is then rebuilt.
LINED = (Kind(0.0, 0.25, False, True), Kind(0.0, 0.25, False, True), Kind(0.0, 0.25, True, True))


def kinds_of(p: Problem, *, lined: bool) -> tuple[Kind, ...]:
    """The kinds of runs on a board; ``lined``: see :func:`placer.solve.lineup.can_line_up`."""
    if lined:
        return LINED
    return CUT if any(map(p.severable, range(len(p.slen)))) else UNCUT
