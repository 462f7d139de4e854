"""The bound, raised one conflict of costs after another.

A solver is asked whether all costs can be nought at once. Where they cannot, it names a few that cannot (a *core*): one
of them is paid, the bound rises by the least of them, and the question goes on with a count of how many of them are.
When they can, what is proposed goes to a *theory*, which knows more than the clauses: it adds conflicts, or builds a
plan at the bound. All that has been learned is kept from one question to the next.

Core-guided search with incremental cardinality literals is due to Andres, Kaufmann, Matheis and Schaub,
"Unsatisfiability-based optimization in clasp", ICLP 2012, and Morgado, Dodaro and Marques-Silva, "Core-guided MaxSAT
with soft cardinality constraints", CP 2014 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

from placer.solve.arrays import Places
from placer.solve.pool import Pool
from placer.solve.proposal import Chain, Conflict, Proposal
from placer.solve.sat import Counter, Sat

SLICE = 4_000  # conflicts between looks at the clock
TRIM = 3
TRY, MOST_TRIED = 200, 40  # conflicts spent on dropping a literal from a core, and how large a core is looked at
MOST_DOUBTS = 400
MOST_LEVEL = 20  # how often what was set aside is looked at more closely

BUILT, IMPOSSIBLE, DOUBTFUL = "built", "impossible", "doubtful"


@dataclass(frozen=True)
class Verdict:
    """What a theory says of a proposal: conflicts, or places for all parts, or neither (then it cannot tell).

    ``refuted``: it has found conflicts. ``asserted``: what the proposal claims, for a theory that cannot tell (or of
    places that turn out to be no plan): it is set aside. ``lasting``: a closer look will not tell either. ``start``:
    places that may be worth starting from, though they are no plan.
    """

    refuted: bool = False
    places: Places | None = None
    asserted: Conflict | None = None
    lasting: bool = False
    start: Places | None = None


class Model(Protocol):
    """Clauses of what a plan costs: ``costs`` (literal -> units when it holds) and ``base`` (what every plan costs).

    ``shy``: literals that are held to be false at first; where a bound leaves nothing else, they may hold.
    """

    sat: Sat
    costs: dict[int, int]
    shy: list[int]
    chains: dict[int, Chain]
    base: int
    impossible: bool

    def state(self) -> Iterator[None]:
        """State the clauses, in portions."""
        ...

    def mend(self) -> bool:
        """State more where the last answer is not consistent; True where it was not."""
        ...

    def proposal(self) -> Proposal:
        """What the last answer proposes."""
        ...

    def forbid(self, conflict: Conflict, unless: int | None = None) -> None:
        """State a conflict (that holds unless a literal does)."""
        ...


class Theory(Protocol):
    """Knows what cannot be built. ``level``: how closely it looks; ``conflicts``: what it has found so far."""

    level: int
    conflicts: Pool

    @property
    def work(self) -> float:
        """About how many seconds have gone into it."""
        ...

    def look(self, proposal: Proposal) -> Iterator[Verdict | None]:
        """Look at a proposal: yields None while at it, then a verdict."""
        ...


class Cores:
    """Raises ``bound`` (units), and says when it can go no further.

    ``ended``: BUILT when ``places`` are proposed at the bound and built (wiring may still fail), DOUBTFUL when the
    theory could not tell, IMPOSSIBLE when no plan can be; None before the end.
    """

    def __init__(self, model: Model, theory: Theory | None) -> None:
        self.model, self.theory = model, theory
        self.bound = 0
        self.ended: str | None = None
        self.places: Places | None = None
        self.rounds = 0
        self._left: dict[int, int] = {}  # assumption -> units that it carries
        self._chains: dict[int, Chain] = {}
        self._doubts: list[int] = []
        self._lasting: list[int] = []
        self.start: Places | None = None
        self._learned = 0

    @property
    def work(self) -> float:
        """About how many seconds have gone into it, those of the theory left out."""
        return self.model.sat.work

    def run(self) -> Iterator[None]:
        """Go on until the end, yielding often."""
        for _ in self.model.state():
            self.bound = self.model.base
            yield
        if self.model.impossible:
            self.ended = IMPOSSIBLE
            return
        self.bound = self.model.base
        self._left = {-literal: units for literal, units in self.model.costs.items()}
        self._chains = {-literal: chain for literal, chain in self.model.chains.items()}
        sat = self.model.sat
        least = max(self._left.values(), default=1)
        shy = self.model.shy
        while True:
            self._learn()
            own = [a for a, units in self._left.items() if units >= least]
            answer = sat.ask([*own, *(-d for d in (*shy, *self._doubts, *self._lasting))], SLICE)
            yield
            if answer is None:
                continue
            if answer is False:
                core = sat.core()
                if not core:
                    self.ended = IMPOSSIBLE
                    return
                if any(-a in shy for a in core if a not in own):
                    shy = []
                    continue
                if any(-a in self._doubts for a in core) and self._look_closer():
                    continue
                if any(-a in (*self._doubts, *self._lasting) for a in core):
                    self.ended = DOUBTFUL
                    return
                for _ in self._raise(core):
                    yield
                shy = self.model.shy
                if self.ended is not None:
                    return
                continue
            if len(own) < sum(1 for units in self._left.values() if units):
                # Small costs come into it once the large ones agree.
                least = max(u for u in self._left.values() if u < least)
                continue
            if self.model.mend():
                continue
            if self.theory is None:
                self.ended = DOUBTFUL
                return
            self.rounds += 1
            for verdict in self.theory.look(self.model.proposal()):
                if verdict is not None and self._take(verdict):
                    return
                yield

    def _learn(self) -> None:
        """Take in the conflicts that are new, whoever asked for them."""
        if self.theory is not None:
            for conflict in self.theory.conflicts.since(self._learned):
                self.model.forbid(conflict)
            self._learned = len(self.theory.conflicts)

    def _take(self, verdict: Verdict) -> bool:
        """Take in what the theory says; True at the end."""
        if verdict.places is not None:
            self.places, self.ended = verdict.places, BUILT
            return True
        if verdict.refuted:
            return False
        if verdict.start is not None:
            self.start = verdict.start
        if verdict.asserted is None or len(self._lasting) >= MOST_DOUBTS:
            self.ended = DOUBTFUL
            return True
        # It may be or not: looked at no more, as long as there is something else at this cost.
        doubt = self.model.sat.new()
        self.model.forbid(verdict.asserted, unless=doubt)
        (self._lasting if verdict.lasting else self._doubts).append(doubt)
        if len(self._doubts) >= MOST_DOUBTS and not self._look_closer():
            self.ended = DOUBTFUL
        return self.ended is not None

    def _look_closer(self) -> bool:
        """Nothing else is left at this cost: what has been set aside is proposed again, and looked at more closely.

        False where nobody looks any closer.
        """
        if self.theory is None or self.theory.level >= MOST_LEVEL:
            return False
        self.theory.level += 1
        for doubt in self._doubts:
            self.model.sat.add([doubt])
        self._doubts.clear()
        return True

    def _raise(self, core: list[int]) -> Iterator[None]:
        """One of the core is paid: raise the bound, and count the rest."""
        sat = self.model.sat
        for _ in range(TRIM):
            if sat.ask(core, SLICE) is not False:
                break
            smaller = sat.core()
            if len(smaller) >= len(core):
                break
            core = smaller
            yield
        if len(core) <= MOST_TRIED:
            at = 0
            while at < len(core):
                if sat.ask(core[:at] + core[at + 1 :], TRY) is False:
                    kept = set(sat.core())
                    core = [a for a in core[:at] + core[at + 1 :] if a in kept]
                else:
                    at += 1
                yield
        if not core:
            self.ended = IMPOSSIBLE
            return
        units = min(self._left[a] for a in core)
        self.bound += units
        for a in core:
            self._left[a] -= units
            if a in self._chains:
                self._follow(self._chains[a], units)
        sat.add([-a for a in core])
        if len(core) > 1:
            counter = Counter(sat, [-a for a in core])
            self._pay(counter, 2, units)

    def _follow(self, chain: Chain, units: int) -> None:
        if chain.count < chain.counter.size:
            self._pay(chain.counter, chain.count + 1, units)

    def _pay(self, counter: Counter, count: int, units: int) -> None:
        assumption = -counter.at_least(count)
        self._left[assumption] = self._left.get(assumption, 0) + units
        self._chains[assumption] = Chain(counter, count)
