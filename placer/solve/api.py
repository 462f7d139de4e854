"""What the search is asked and what it answers. Data only; importing this does not load the solver."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from placer.boards.model import Board
from placer.circuit.model import Circuit
from placer.errors import Diagnostic
from placer.plan.model import Options, Plan


@dataclass(frozen=True)
class Request:
    """A question to the search. ``seconds`` bounds it by the clock; ``effort`` (rounds of work) bounds it reproducibly.

    ``start``: an earlier plan to begin from. At least one of ``seconds`` and ``effort`` should be set.
    """

    circuit: Circuit
    board: Board
    options: Options = field(default_factory=Options)
    seconds: float | None = 30.0
    effort: int | None = None
    seed: int = 1
    workers: int = 2
    start: Plan | None = None


@dataclass(frozen=True)
class Progress:
    """A line of progress: seconds since the start, what runs, and the best checked cost and bound so far."""

    seconds: float
    phase: str
    cost: float | None
    jumpers: int | None
    cuts: int | None
    bound: float


@dataclass(frozen=True)
class Outcome:
    """The answer. Without a plan, ``reasons`` say what is missing; ``proved_impossible``: no plan can exist at all."""

    plan: Plan | None
    reasons: tuple[Diagnostic, ...] = ()
    proved_impossible: bool = False
    interrupted: bool = False


Judge = Callable[[Plan], Sequence[object]]
"""Returns the faults of a plan; an empty sequence is a pass."""
