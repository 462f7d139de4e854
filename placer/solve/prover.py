"""Bounds and proofs of one problem, a portion of work at a time."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Protocol

import numpy as np

from placer.solve.arrays import Places
from placer.solve.cores import BUILT, DOUBTFUL, IMPOSSIBLE, Cores, Theory
from placer.solve.cutproof import CutTheory
from placer.solve.frame import LONG, Frame, Stopped, frame, pick_anchor, turns_upside_down
from placer.solve.lined import lies_in_lines
from placer.solve.linemodel import clauses
from placer.solve.lines import lines_of
from placer.solve.lineup import can_line_up
from placer.solve.mixing import LEAST_MIXED, MOST_MIXED
from placer.solve.placemodel import MOST_PLACES, PlaceModel, Stand, places_in
from placer.solve.prices import Prices
from placer.solve.problem import Problem
from placer.solve.regroup import Regroup
from placer.solve.reseat import MOST_WHOLE, Reseat
from placer.solve.shares import ShareModel
from placer.solve.sharing import SharingTheory
from placer.solve.strips import Bools

PORTION = 0.25  # about seconds of work of one member at a time
HEAD_START = 1.0  # about seconds of work on proofs before better plans are looked for
PLACING_AFTER, FEW_PLACES = 1.0, 20_000  # about seconds of other proofs, and for how many places of all parts
MOST_PINS_ON_STRIPS = 40_000  # literals; beyond that the clauses that know positions are too many to be of use


class Task(Enum):
    """Bounds and proofs, or cheaper plans near the best one, or both in turns."""

    PROOFS = "proofs"
    NEAR = "near"
    BOTH = "both"


@dataclass(frozen=True)
class Finding:
    """What a portion of work came to.

    ``bound``: no plan costs less. ``places``: worth offering; they may turn out to be no plan. ``impossible``: no plan
    can be. ``ended``: nothing more will come. ``work``: about how many seconds of work it took.
    """

    bound: float
    places: Places | None = None
    impossible: bool = False
    ended: bool = False
    work: float = 0.0


class Way(Protocol):
    """A way to a proof. ``bound`` (units); ``ended``: None before the end; ``places`` then, or ``start`` on the way."""

    bound: int
    ended: str | None
    places: Places | None
    start: Places | None

    @property
    def work(self) -> float:
        """About how many seconds have gone into it."""
        ...


@dataclass
class _Member:
    """A way that is taken. ``work``: what has gone into it; ``start``: near-plans of it that were handed on."""

    way: Way
    steps: Iterator[None]
    work: float = 0.0
    start: Places | None = None


class Prover:
    """The proofs of a problem. The same portions, asked for in the same order, give the same findings.

    ``seed``: where the random parts of the exact searches begin. ``stopped``: asked often; True gives up.
    ``task``: what it works on.
    """

    def __init__(self, p: Problem, seed: int, stopped: Stopped, task: Task = Task.BOTH) -> None:
        self.p, self.seed, self.stopped, self.task = p, seed, stopped, task
        self._prices = Prices.of(p.options.jumper_cost, p.options.cut_cost)
        self._theory: Theory | None = None
        self._ways: list[Way] = []
        self._members: list[_Member] = []
        self._regroup: Regroup | Reseat | None = None
        self._near: _Member | None = None
        self._seen: Frame | None = None
        self._placing = False
        self._proving = 0.0  # work on proofs
        self._ended = p.options.jumper_cost <= 0
        self._bound = 0

    @property
    def work(self) -> float:
        """About how many seconds have gone into it."""
        own = sum(way.work for way in self._ways)
        return own + (0.0 if self._theory is None else self._theory.work)

    @property
    def ways(self) -> tuple[Way, ...]:
        """What it has begun."""
        return tuple(self._ways)

    def advance(self, work: float, best: float, places: Places | None = None, others: Sequence[Places] = ()) -> Finding:
        """Go on for about so many seconds of work.

        ``best``: the cost of the best plan known, infinity without one; ``places``: its places, near which cheaper ones
        are then looked for; ``others``: what other runs of the search have come to.
        """
        if self._ended:
            return Finding(self._cost(self._bound), ended=True)
        if not self._ways:
            self._begin()
            self._ended = not self._ways
        if self._regroup is not None:
            self._regroup.told(places, self._bound, others)
        began = self.work
        near: Places | None = None
        while self.work - began < work and not self.stopped():
            member = self._next()
            if member is None:
                break
            self._turn(member, PORTION)
            way = member.way
            self._bound = max(self._bound, way.bound)
            if way.ended == IMPOSSIBLE:
                self._ended = True
                return Finding(0.0, impossible=True, ended=True, work=self.work - began)
            if way.ended == BUILT:
                near, self._ended = way.places, True
            elif way.start is not member.start:
                near = member.start = way.start
            if way.ended == DOUBTFUL and member is self._near:
                self._near = None
            elif way.ended == DOUBTFUL:
                self._members.remove(member)
            if not self._ended:
                self._place_by_place()
            self._ended |= not (self._members or self._near) or self._cost(self._bound) >= best - 1e-9
            if self._ended or near is not None:
                break
        return Finding(self._cost(self._bound), near, ended=self._ended, work=self.work - began)

    def _next(self) -> _Member | None:
        """Who has the next turn: who is behind has one less often, but has one, for what it finds helps the others.

        Better plans are looked for when proofs have had some time, and then for as long; None when nobody has one.
        """
        proofs = sum(m.work for m in self._members)
        near = self._near if self._regroup is not None and self._regroup.ready else None
        if near is not None and (not self._members or near.work + HEAD_START < proofs):
            return near
        behind = self._prices.jumper
        return min(self._members, key=lambda m: m.work * (1 + (self._bound - m.way.bound) / behind), default=None)

    def _turn(self, member: _Member, work: float) -> None:
        began = self.work
        while member.way.ended is None and self.work - began < work:
            if self.stopped() or next(member.steps, member) is member:
                break
        member.work += self.work - began
        self._proving += 0.0 if member is self._near else self.work - began

    def _cost(self, units: int) -> float:
        """The least cost that whole jumpers and cuts can make of so many units or more."""
        return self._prices.cost(self._prices.attainable(units)) if units else 0.0

    def _begin(self) -> None:
        p = self.p
        seen = frame(p, pick_anchor(p))
        assert seen is not None  # noqa: S101 - nobody stops it
        self._seen = seen
        theory, short = theory_of(p, seen, self.stopped, self.seed)
        self._theory = theory
        few = pins_on_strips(seen) <= MOST_PINS_ON_STRIPS
        if self.task is not Task.NEAR:
            if isinstance(theory, SharingTheory) and names_all_others(seen, short):
                cores = Cores(ShareModel(seen, self._prices, short), theory)
                self._add(cores, itertools.chain(theory.foresee(), cores.run()))
            if not self._members or few:
                cores = Cores(clauses(seen, self._prices, short, half=turns_upside_down(p)), theory)
                self._add(cores, cores.run())
        if self.task is not Task.PROOFS:
            self._look_near(seen, short, few=few)

    def _look_near(self, seen: Frame, short: Bools, *, few: bool) -> None:
        """Begin the search for cheaper plans near the best one, where there is a way to; ``few``: pins on strips."""
        theory = self._theory
        way: Regroup | Reseat | None = None
        if isinstance(theory, SharingTheory) and names_all_others(seen, short):
            way = Regroup(seen, self._prices, short, theory, self.stopped, self.seed)
        lines = isinstance(theory, CutTheory) and lies_in_lines(seen) and few
        most = MOST_MIXED if can_line_up(self.p) else MOST_WHOLE
        if isinstance(theory, CutTheory) and lines and LEAST_MIXED <= len(self.p.items) <= most:
            way = Reseat(seen, self._prices, short, theory, self.stopped, self.seed)
        if way is not None:
            self._regroup = way
            self._ways.append(way)
            self._near = _Member(way, way.run())

    def _place_by_place(self) -> None:
        """The last way to a proof: begun with few parts when the others have had their time, or have come to no end."""
        theory, seen = self._theory, self._seen
        if self._placing or seen is None or self.task is Task.NEAR or not isinstance(theory, SharingTheory):
            return
        places = places_in(seen)
        late = self._proving >= PLACING_AFTER * (places / FEW_PLACES) ** 2
        if (self._members and not late) or places > MOST_PLACES:
            return
        self._placing = True
        model = PlaceModel(seen, self._prices, seen.room <= LONG, half=turns_upside_down(self.p))
        cores = Cores(model, Stand(model, theory.conflicts))
        self._add(cores, cores.run())

    def _add(self, way: Way, steps: Iterator[None]) -> None:
        self._ways.append(way)
        self._members.append(_Member(way, steps))


def names_all_others(seen: Frame, short: Bools) -> bool:
    """True when each strip of the frame on which sharing does not count is one strip of the board."""
    return set(np.flatnonzero(~short).tolist()) <= set(seen.of_board.tolist())


def pins_on_strips(seen: Frame) -> int:
    """How many literals it takes to say which pin is on which strip."""
    return sum(len(np.unique(column)) for i in range(len(seen.p.items)) for column in seen.keys(i).T)


def theory_of(p: Problem, seen: Frame, stopped: Stopped, seed: int) -> tuple[Theory | None, Bools]:
    """Who can tell what can be built on this board, and on which strips of the frame sharing counts.

    None where some strips may be severed and the board is more than lines of equal length.
    """
    if not any(p.severable(s) for s in range(len(p.slen))):
        return SharingTheory(p, seen, stopped), seen.room <= LONG
    lines = lines_of(p)
    every = np.ones(seen.n_strips, dtype=bool)
    return (None if lines is None else CutTheory(p, lines, stopped, seed)), every


def impossible(p: Problem, work: float, stopped: Stopped) -> bool:
    """True when the nets cannot be kept apart on the board at any cost, as far as so much work tells."""
    return Prover(p, 1, stopped).advance(work, math.inf).impossible
