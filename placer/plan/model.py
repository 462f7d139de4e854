"""The plan: frozen data. All that crosses from the search to the judge and the guide."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from placer.boards.model import Board
from placer.circuit.model import Circuit
from placer.errors import Diagnostic
from placer.plan.findings import Finding


@dataclass(frozen=True)
class Options:
    """What the builder allows and what it costs; recorded in the plan, so that the judge applies the same rules."""

    jumper_cost: float = 1.0
    cut_cost: float = 0.8
    allow_cuts: bool = True
    diagonals: bool = False
    # A bridge takes seconds of soldering: no wire to cut, strip and bend (0.1; common practice, no source).
    bridge_cost: float = 0.1
    # Whether the habits of builders (placer.plan.wanted) are wished for.
    habits: bool = False


@dataclass(frozen=True)
class Placement:
    """Where a part goes: pin number -> hole address. ``mount``: "flat" or "standing" (rigid parts and cans: "flat")."""

    ref: str
    package: str
    mount: str
    pins: Mapping[str, str]


@dataclass(frozen=True)
class Cut:
    """A severed strip: ``at`` a hole (drilled), or ``between`` two neighbouring holes (knife). Exactly one is set."""

    at: str | None = None
    between: tuple[str, str] | None = None


@dataclass(frozen=True)
class Jumper:
    """A wire between two free holes of one net. ``length_mm``: straight hole-to-hole distance."""

    net: str
    start: str
    end: str
    length_mm: float


@dataclass(frozen=True)
class Bridge:
    """A blob of solder that joins two orthogonally neighbouring holes of different strips, of one net."""

    net: str
    between: tuple[str, str]


@dataclass(frozen=True)
class Tally:
    """How far something wished for is kept: ``kept`` times ``of`` so many. ``habit``: its name, "" for the user's own.

    ``weight`` or ``cost``: what each time that it is broken counts, in the second rank or like jumpers and cuts.
    """

    name: str
    kept: int
    of: int
    weight: float | None = None
    cost: float | None = None
    habit: str = ""

    @property
    def broken_weight(self) -> float:
        """What it adds to the second rank."""
        return (self.of - self.kept) * (self.weight or 0.0)

    @property
    def broken_cost(self) -> float:
        """What it adds to the cost by which plans are ranked first."""
        return (self.of - self.kept) * (self.cost or 0.0)


@dataclass(frozen=True)
class Score:
    """Counts and lengths of a plan. cost = jumpers x jumper cost + cuts x cut cost + bridges x bridge cost.

    ``wishes``: how far is kept what is wished for but not binding.
    """

    jumpers: int
    cuts: int
    jumper_mm: float
    cost: float
    bridges: int = 0
    wishes: tuple[Tally, ...] = ()

    @property
    def raised(self) -> float:
        """What broken wishes count like cost, where the user has raised them to that."""
        return round(math.fsum(tally.broken_cost for tally in self.wishes), 6)

    @property
    def broken(self) -> float:
        """The weights of all that is wished for and not kept."""
        return round(math.fsum(tally.broken_weight for tally in self.wishes), 6)


@dataclass(frozen=True)
class Proof:
    """What is known of the least cost. ``gap`` = cost - lower_bound; ``status``: "optimal" or "feasible"."""

    status: str
    lower_bound: float
    gap: float
    scope: str = "jumpers and cuts"


@dataclass(frozen=True)
class SolveInfo:
    """How the plan was found. ``phases``: one record per phase (name, seconds, cost, bound ...)."""

    seconds: float
    seed: int
    workers: int
    phases: tuple[Mapping[str, Any], ...] = ()
    first_plan_seconds: float | None = None


@dataclass(frozen=True)
class Plan:
    """A plan with the whole circuit and board, so that the judge and the guide need nothing else.

    ``doubts``: what the reader of a plan file found wrong without being kept from reading it (a checksum that does not
    fit, say); the judge tells them as faults. Empty for a plan that was not read from a file.
    ``findings``: what was found of current, voltage and heat; empty where nobody looked.
    """

    circuit: Circuit
    board: Board
    placements: Mapping[str, Placement]
    cuts: tuple[Cut, ...]
    jumpers: tuple[Jumper, ...]
    score: Score
    proof: Proof
    solve: SolveInfo
    options: Options = field(default_factory=Options)
    doubts: tuple[Diagnostic, ...] = ()
    bridges: tuple[Bridge, ...] = ()
    findings: tuple[Finding, ...] = ()
