"""The cluster question as clauses, for clusters that plain search does not decide.

Bodies are kept apart at the points of a half-step lattice; what slips through is found by looking at the places that
come out, forbidden, and solved again. A "no" is therefore always right, and a "yes" has been looked at. Each item and
each shared group can be switched off, so that a refutation tells which of them it rests on.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from placer.packages.model import STEP_UM
from placer.solve.arrays import covered
from placer.solve.layout import Ints
from placer.solve.sat import Sat
from placer.solve.shapes import Shape
from placer.solve.together import SHAPE, X, Y
from placer.solve.touching import touches

LATTICE = STEP_UM // 2
SLICE = 2_000  # conflicts between looks at the clock


@dataclass(frozen=True)
class Places:
    """Candidate places of the items of a cluster: which item (by its order), the row of the places, strips of pins."""

    item: Ints
    rows: Ints  # [place, (SHAPE, X, Y)]
    on: Ints  # [place, pin]


@dataclass(frozen=True)
class Decision:
    """``possible``: None when cut short. ``chosen``: places, one an item. ``rests_on``: items that a "no" rests on."""

    possible: bool | None
    chosen: tuple[int, ...] = ()
    rests_on: frozenset[int] | None = None


class ClusterClauses:
    """One cluster, stated once. ``work``: about how many seconds went into it."""

    def __init__(
        self,
        places: Places,
        shapes: Sequence[Shape],
        n_pins: Sequence[int],
        nets: Ints,
        groups: Ints,
        wired: Ints,
        grid: Ints,
        room: Ints,
    ) -> None:
        """``nets``, ``groups`` and ``wired``: [item, pin] as in :mod:`placer.solve.clusterwalk`."""
        self.places, self.shapes, self.n_pins = places, shapes, n_pins
        self.sat = Sat()
        self.groups = groups
        n = len(n_pins)
        self.lits = [self.sat.new() for _ in range(len(places.item))]
        self.there = [self.sat.new() for _ in range(n)]
        self._one_place_an_item()
        occupied = self._points()
        owner = self._strips(nets)
        self._group_strips()
        self._free_holes(occupied, owner, nets, wired, grid, room)

    @property
    def work(self) -> float:
        """About how many seconds went into it."""
        return self.sat.work + 2e-6 * self.sat.clauses

    def _one_place_an_item(self) -> None:
        for t, there in enumerate(self.there):
            own = [self.lits[r] for r in np.flatnonzero(self.places.item == t).tolist()]
            self.sat.add([-there, *own])
            self.sat.at_most_one(own)

    def _points(self) -> dict[tuple[int, int], dict[int, int]]:
        """Two items never take one point of the lattice; the literal of each item at each point."""
        takes = {f: np.array(points_of(self.shapes[f]), np.int64) for f in set(self.places.rows[:, SHAPE].tolist())}
        occupied: dict[tuple[int, int], dict[int, int]] = {}
        rows, lits = self.places.rows, np.array(self.lits, np.int64)
        for t in range(len(self.n_pins)):
            own = np.flatnonzero(self.places.item == t)
            points, who = [], []
            for f in set(rows[own, SHAPE].tolist()):
                some = own[rows[own, SHAPE] == f]
                at = takes[f][None, :, :] + 2 * rows[some][:, None, [X, Y]]
                points.append(at.reshape(-1, 2))
                who.append(np.repeat(lits[some], len(takes[f])))
            every, which = np.unique(np.concatenate(points), axis=0, return_inverse=True)
            first = self.sat.new_many(len(every))
            self.sat.add_all(np.stack([-np.concatenate(who), which.reshape(-1) + first], axis=1).tolist())
            for number, (x, y) in enumerate(every.tolist(), first):
                occupied.setdefault((x, y), {})[t] = number
        self.sat.add_all(
            [[-a, -b] for by_item in occupied.values() for a, b in itertools.combinations(by_item.values(), 2)]
        )
        return occupied

    def _strips(self, nets: Ints) -> dict[int, dict[int, int]]:
        """A strip holds one net; the literal of each strip and net."""
        pairs = [
            (np.flatnonzero(self.places.item == t), k, int(nets[t, k]))
            for t in range(len(self.n_pins))
            for k in range(self.n_pins[t])
        ]
        return self._marked(pairs, self.places.on)

    def _group_strips(self) -> None:
        """The pins of a group are on one strip."""
        pairs = [
            (np.flatnonzero(self.places.item == t), k, int(self.groups[t, k]))
            for t in range(len(self.n_pins))
            for k in range(self.n_pins[t])
            if self.groups[t, k] >= 0
        ]
        by_strip = self._marked(pairs, self.places.on, alone=False)
        by_group: dict[int, list[int]] = {}
        for marks in by_strip.values():
            for g, lit in marks.items():
                by_group.setdefault(g, []).append(lit)
        for some in by_group.values():
            self.sat.at_most_one(some)

    def _marked(
        self, pairs: Sequence[tuple[Ints, int, int]], on: Ints, *, alone: bool = True
    ) -> dict[int, dict[int, int]]:
        """Literals of (strip, mark), implied by the places (first) whose pin (second) is there; ``alone``: one mark."""
        marks: dict[int, dict[int, int]] = {}
        lits = np.array(self.lits, np.int64)
        for places, k, mark in pairs:
            strips, which = np.unique(on[places, k], return_inverse=True)
            known = []
            for s in strips.tolist():
                own = marks.setdefault(s, {})
                if mark not in own:
                    own[mark] = self.sat.new()
                known.append(own[mark])
            self.sat.add_all(np.stack([-lits[places], np.array(known)[which.reshape(-1)]], axis=1).tolist())
        if alone:
            for own in marks.values():
                self.sat.at_most_one(own.values())
        return marks

    def _free_holes(
        self,
        occupied: dict[tuple[int, int], dict[int, int]],
        owner: dict[int, dict[int, int]],
        nets: Ints,
        wired: Ints,
        grid: Ints,
        room: Ints,
    ) -> None:
        """A strip of a net that needs a wire end keeps a hole free."""
        wanting = set(nets[wired > 0].tolist()) - set(nets[wired < 0].tolist())
        cells: dict[int, list[tuple[int, int]]] = {}
        for s in owner:
            if wanting & owner[s].keys():
                ys, xs = np.nonzero(grid == s)
                if len(ys) == room[s]:
                    cells[s] = list(zip(xs.tolist(), ys.tolist(), strict=True))
        for s, holes in cells.items():
            taken = []
            for x, y in holes:
                by_item = occupied.get((2 * x, 2 * y))
                if by_item is None:
                    break
                some = self.sat.new()
                for lit in by_item.values():
                    self.sat.add([-lit, some])
                taken.append(-some)
            if len(taken) == len(holes):
                for net in sorted(wanting & owner[s].keys()):
                    self.sat.add([-owner[s][net], *taken])

    def decide(self, work: float, stopped: Callable[[], bool]) -> Decision:
        """Look for places, giving up after about so many seconds' work."""
        limit = self.work + work
        while self.work < limit and not stopped():
            answer = self.sat.ask(self.there, SLICE)
            if answer is False:
                core = set(self.sat.core())
                return Decision(False, rests_on=frozenset(t for t, a in enumerate(self.there) if a in core))
            if answer:
                chosen = [r for r, lit in enumerate(self.lits) if self.sat.holds(lit)]
                clash = [(a, b) for a, b in itertools.combinations(chosen, 2) if self._touch(a, b)]
                if not clash:
                    return Decision(True, tuple(chosen))
                for a, b in clash:
                    self.sat.add([-self.lits[a], -self.lits[b]])
        return Decision(None)

    def _touch(self, a: int, b: int) -> bool:
        one, other = self.places.rows[a], self.places.rows[b]
        return touches(
            self.shapes[one[SHAPE]], self.shapes[other[SHAPE]], int(other[X] - one[X]), int(other[Y] - one[Y])
        )


def points_of(shape: Shape) -> list[tuple[int, int]]:
    """Points of the half-step lattice that a shape takes: strictly inside its body, and its pins' holes.

    Of a body off the axes, only holes that it really covers.
    """
    found = {(2 * x, 2 * y) for x, y in (*shape.offsets, *covered(shape))}
    for x0, y0, x1, y1 in () if shape.slants else shape.boxes:
        for gx in range(-(-(x0 + 1) // LATTICE), (x1 - 1) // LATTICE + 1):
            for gy in range(-(-(y0 + 1) // LATTICE), (y1 - 1) // LATTICE + 1):
                found.add((gx, gy))
    return sorted(found)
