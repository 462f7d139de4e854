"""Clauses and a solver that keeps what it has learned from one question to the next."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence

from pysat.card import CardEnc, EncType, ITotalizer
from pysat.solvers import Cadical195

PAIRWISE = 5  # literals; up to so many, "at most one" is stated pair by pair
SECONDS_A_CONFLICT, SECONDS_A_PROPAGATION = 2e-5, 1e-7  # about
SECONDS_A_CALL, SECONDS_A_CLAUSE = 1e-3, 2e-6


class Sat:
    """A growing set of clauses over numbered variables (literal -v: not v), and questions about it.

    ``work``: about how many seconds it has taken on a machine of 2024, counted in conflicts, propagations and clauses,
    so that it is the same on every machine.
    """

    def __init__(self) -> None:
        self._solver = Cadical195()
        self.variables = 0
        self.clauses = 0
        self.work = 0.0
        self._counted = (0, 0)
        self._model: Sequence[int] = ()
        self._core: list[int] = []

    def new(self) -> int:
        """A new variable."""
        self.variables += 1
        return self.variables

    def new_many(self, count: int) -> int:
        """The first of so many new variables, which follow each other."""
        self.variables += count
        return self.variables - count + 1

    def add(self, clause: Sequence[int]) -> None:
        """At least one of these literals holds."""
        self._solver.add_clause(clause)
        self.clauses += 1
        self.work += SECONDS_A_CLAUSE

    def add_all(self, clauses: Sequence[Sequence[int]]) -> None:
        """The same for many."""
        self._solver.append_formula(clauses)
        self.clauses += len(clauses)
        self.work += SECONDS_A_CLAUSE * len(clauses)

    def any_of(self, ways: Iterable[Sequence[int]]) -> int:
        """A new literal that holds at least where all literals of one of these ways do."""
        literal = self.new()
        self.add_all([[literal, *(-lit for lit in way)] for way in ways])
        return literal

    def at_most_one(self, literals: Iterable[int]) -> None:
        """No two of these literals hold (pairs, four at a time with a literal that stands for the four)."""
        left = list(literals)
        while len(left) > PAIRWISE:
            four, left = left[:4], left[4:]
            either = self.new()
            for a, b in itertools.combinations(four, 2):
                self.add([-a, -b])
            for a in four:
                self.add([-a, either])
            left.append(either)
        for a, b in itertools.combinations(left, 2):
            self.add([-a, -b])

    def at_most(self, literals: Sequence[int], most: int) -> None:
        """At most so many of these literals hold."""
        if len(literals) > most:
            self._encode(CardEnc.atmost(literals, most, top_id=self.variables, encoding=EncType.seqcounter).clauses)

    def at_least(self, literals: Sequence[int], least: int, unless: Sequence[int] = ()) -> None:
        """At least so many of these literals hold, unless one of others does."""
        if least > len(literals):
            self.add(list(unless))
        elif least > 0:
            found = CardEnc.atleast(literals, least, top_id=self.variables, encoding=EncType.seqcounter)
            self._encode([[*clause, *unless] for clause in found.clauses])

    def _encode(self, clauses: Iterable[Sequence[int]]) -> None:
        for clause in clauses:
            self.variables = max(self.variables, max(map(abs, clause), default=0))
            self.add(clause)

    def ask(self, assumptions: Sequence[int], conflicts: int) -> bool | None:
        """Whether everything holds together with the assumptions; None when undecided after so many conflicts."""
        self._solver.conf_budget(conflicts)
        answer: bool | None = self._solver.solve_limited(assumptions=assumptions)
        stats = self._solver.accum_stats()
        now = (int(stats["conflicts"]), int(stats["propagations"]))
        self.work += SECONDS_A_CALL + SECONDS_A_CONFLICT * (now[0] - self._counted[0])
        self.work += SECONDS_A_PROPAGATION * (now[1] - self._counted[1])
        self._counted = now
        # Taken at once: the library ends the process when it is asked after the clauses have changed.
        self._model = self._solver.get_model() if answer else ()
        self._core = list(self._solver.get_core() or ()) if answer is False else []
        return answer

    def prefer(self, literals: Sequence[int]) -> None:
        """Try these literals first, wherever a value is guessed."""
        self._solver.set_phases(list(literals))

    def holds(self, variable: int) -> bool:
        """True when a variable held in the last answer."""
        return variable <= len(self._model) and self._model[variable - 1] > 0

    def core(self) -> list[int]:
        """Assumptions of the last question that cannot hold together."""
        return self._core


class Counter:
    """Counts how many of some literals hold: ``at_least(k)`` is true at least where k or more do."""

    def __init__(self, sat: Sat, literals: Sequence[int]) -> None:
        self.sat = sat
        self.size = len(literals)
        self._totalizer = ITotalizer(list(literals), ubound=1, top_id=sat.variables)
        self._take(self._totalizer.cnf.clauses)

    def _take(self, clauses: Iterable[Sequence[int]]) -> None:
        self.sat.variables = max(self.sat.variables, self._totalizer.top_id)
        for clause in clauses:
            self.sat.add(clause)

    def at_least(self, k: int) -> int:
        """The literal of k or more (2 <= k <= the number of literals)."""
        t = self._totalizer
        if k > len(t.rhs):
            t.increase(ubound=k - 1, top_id=self.sat.variables)
            self._take(t.cnf.clauses[-t.nof_new :] if t.nof_new else ())
        literal: int = t.rhs[k - 1]
        return literal


def unsaved(sat: Sat, pieces: Sequence[int], saves: Sequence[int]) -> list[int]:
    """Literals of which as many hold, at least, as there are more of ``pieces`` that hold than of ``saves``."""
    found = []
    extra = Counter(sat, pieces) if len(pieces) > 1 else None
    for k in range(1, len(pieces) + 1):
        there = extra.at_least(k) if extra is not None else pieces[0]
        paid = sat.new()
        found.append(paid)
        if k > len(saves):
            sat.add([-there, paid])
        elif k == 1:
            sat.add([-there, *saves, paid])
        else:
            enough = sat.new()
            sat.at_least(saves, k, [-enough])
            sat.add([-there, enough, paid])
    return found
