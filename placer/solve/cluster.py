"""Can these parts stand so that these pins share strips? An exact search over places.

A cluster is a few parts with pins that are said to share a short strip, pins said to lie on a long strip, and nets
said to need a wire end on each of their strips. The board is seen from one of the parts (:mod:`placer.solve.frame`), so
the answer holds wherever the cluster stands. Parts outside the cluster are left out: a "no" is a fact about any plan.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from placer.solve import clusterwalk
from placer.solve.arrays import covered
from placer.solve.claims import Answer, Claim, Pin
from placer.solve.clustermodel import ClusterClauses, Places
from placer.solve.clusterwalk import walk
from placer.solve.dive import dive
from placer.solve.frame import LONG, Frame, frame
from placer.solve.layout import Ints
from placer.solve.problem import Problem
from placer.solve.shapes import Shape
from placer.solve.together import SHAPE, Rows32, X, Y
from placer.solve.touching import Touching

MOST_PLACES = 150_000  # candidates in one search; more means: not decided
MOST_CLAUSED = 40_000  # of these, in clauses
MOST_STEPS = 8_000_000  # comparisons of places
HANGS = -1_000  # of pins that a part joins inside: more than pins can want free holes on a strip
MOST_ITEMS = 60  # a refutation's items are bits of one number

SECONDS_A_STEP, SECONDS_A_LOOK, SECONDS_A_CLAIM = 1e-8, 4e-8, 3e-4  # about
STEPS_A_LOOK, LOOKS_A_SECOND = 4, 5_000_000  # how many places are looked at instead of comparisons, and of clauses


@dataclass(frozen=True)
class _Table:
    """Where the places of an item are in the search's rows, and where the index of each of its pins begins."""

    first: int
    last: int
    by: tuple[int, ...]


@dataclass(frozen=True)
class _Asked:
    """A claim by number, [item, pin] each: net, group, whether a wire end is needed, a long strip, a certain strip."""

    n_pins: Ints
    nets: Ints
    groups: Ints
    n_groups: int
    wired: Ints
    longs: Ints
    fixed: Ints

    def told(self, is_long: Ints) -> tuple[Any, ...]:
        """As the searches want it."""
        return self.n_pins, self.nets, self.groups, self.n_groups, self.wired, self.longs, self.fixed, is_long


class Forms:
    """The different shapes of a problem, numbered, with what of them touches what."""

    def __init__(self, p: Problem) -> None:
        number: dict[tuple[object, ...], int] = {}
        shapes: list[Shape] = []
        self.of: dict[int, tuple[int, ...]] = {}
        for item, like in zip(p.items, p.like, strict=True):
            if like in self.of:
                continue
            own = []
            for shape in item.shapes:
                key: tuple[object, ...] = (shape.offsets, shape.boxes, shape.slants)
                if number.get(key, -1) in own:  # told apart by how it is mounted or turned
                    key = (*key, shape.mount, shape.rotation)
                if key not in number:
                    number[key] = len(shapes)
                    shapes.append(shape)
                own.append(number[key])
            self.of[like] = tuple(own)
        self.touching = Touching(shapes)
        covers = [covered(shape) for shape in shapes]
        self.c_at = np.concatenate([[0], np.cumsum([len(c) for c in covers])]).astype(np.int64)
        self.cover = np.array([c for own in covers for c in own], np.int64).reshape(-1, 2)


class Clusters:
    """Answers claims, with the board seen from the largest part of each. ``work``: about how many seconds it took.

    ``rests_on``: the items that the last refutation rests on, as far as is known.
    """

    def __init__(self, p: Problem, stopped: Callable[[], bool]) -> None:
        self.p, self.stopped = p, stopped
        self.rests_on: frozenset[int] | None = None
        self._forms = Forms(p)
        self._frames: dict[int, Frame] = {}
        self._of_moves: dict[tuple[int, tuple[int, ...]], ClusterSearch] = {}
        self._of_anchor: dict[int, ClusterSearch] = {}
        self._answers: dict[Claim, tuple[Answer, tuple[int, float]]] = {}
        self._items_of: dict[int, list[int]] = {}  # of each pin of a net
        for i, item in enumerate(p.items):
            for n in item.nets:
                self._items_of.setdefault(n, []).append(i)
        self.slack = max(0, int(p.slen.max()) - 3)  # holes to spare of a pin alone on its strip, at most

    @property
    def work(self) -> float:
        """About how many seconds have gone into it."""
        return sum(search.work for search in self._of_moves.values())

    def anchor(self, claim: Claim) -> int:
        """The part that a claim is seen from."""
        return max(claim.items, key=lambda i: (len(self.p.items[i].pins), -i))

    def frame(self, claim: Claim) -> Frame:
        """The board seen from that part."""
        anchor = self.anchor(claim)
        if anchor not in self._frames:
            seen = frame(self.p, anchor, like=self._frames.values())
            assert seen is not None  # noqa: S101 - nobody stops it
            self._frames[anchor] = seen
        return self._frames[anchor]

    def telling(self, claim: Claim) -> Claim:
        """The claim without holes to spare that there are whatever its items do: pins elsewhere may have them."""
        told = []
        for spare in claim.spare:
            here = sum([i in claim.items for i in self._items_of[spare.net]])
            if spare.least - self.slack * (spare.pins - here) > -2 * here:
                told.append(spare)
        return claim if len(told) == len(claim.spare) else replace(claim, spare=frozenset(told))

    def ask(self, claim: Claim, steps: int = MOST_STEPS, deep: float = 0.0) -> Answer:
        """Search for places that keep the claim, giving up after so many comparisons.

        ``deep``: work for the clauses when that was not enough.
        """
        if claim.spare:
            claim = self.telling(claim)
        known = self._answers.get(claim)
        self.rests_on = None
        if known is None or (known[0].possible is None and (steps, deep) > known[1]):
            seen = self.frame(claim)
            search = self._of_anchor.get(seen.anchor)
            if search is None:
                key = (seen.axis, seen.moves)
                search = self._of_moves.setdefault(key, ClusterSearch(self.p, self._forms, seen, self.stopped))
                self._of_anchor[seen.anchor] = search
            answer = search.decide(claim, seen, steps, deep)
            self.rests_on = search.rests_on
            known = self._answers[claim] = (answer, (steps, deep))
        return known[0]


class ClusterSearch:
    """Answers claims, with the board seen from anchors whose first pins may take the same lines."""

    def __init__(self, p: Problem, forms: Forms, frame: Frame, stopped: Callable[[], bool]) -> None:
        self.p = p
        self.forms = forms
        self.frame = frame
        self.stopped = stopped
        self.work = 0.0  # about seconds
        self.rests_on: frozenset[int] | None = None  # the items that the last refutation rests on, as far as is known
        self._tables: dict[tuple[object, ...], _Table] = {}
        self._table_of: dict[tuple[int, bool], _Table] = {}  # item, and whether the board is seen from it
        self._width = max(len(i.pins) for i in p.items)
        self._hangs = {pin for i, k, j, m in p.joins for pin in ((i, k), (j, m))}
        self._rows = np.empty((0, 3), np.int64)
        self._on = np.empty((0, self._width), np.int64)
        self._by = np.empty(0, np.int64)
        self._by_rows = np.empty(0, np.int64)
        self._is_long = (frame.room > LONG).astype(np.int64)
        # What a body covers of a strip counts only where the overlay adds no cells to the strip: along a strip that it
        # smears out, a covered cell need not be a hole of the board.
        cells = np.bincount(frame.strip_at[frame.strip_at >= 0], minlength=len(frame.room))
        firm = np.where(np.append(cells <= frame.room, False)[frame.strip_at], frame.strip_at, -1)
        self._grid = np.ascontiguousarray(firm if frame.axis else firm.T)
        self._found = np.zeros(MOST_PLACES, np.int32)

    def _table(self, i: int, f: Frame) -> _Table:
        """The places of an item, those that short its own nets left out."""
        known = self._table_of.get((i, i == f.anchor))
        if known is None:
            known = self._table_of[i, i == f.anchor] = self._make_table(i, f)
        return known

    def _make_table(self, i: int, f: Frame) -> _Table:
        item = self.p.items[i]
        alike = tuple(item.nets.index(n) for n in item.nets)
        key = (self.p.like[i], alike, i == f.anchor)
        if key in self._tables:
            return self._tables[key]
        rows, strips = [np.empty((0, 3), np.int64)], [np.empty((0, len(item.pins)), np.int64)]
        for no, (r, c) in enumerate(f.spots(i)):
            if len(r) == 0:
                continue
            on = f.strips_of(i, no)
            good = np.ones(len(r), dtype=bool)
            for a in range(len(item.nets)):
                for b in range(a + 1, len(item.nets)):
                    if item.nets[a] != item.nets[b]:
                        good &= on[:, a] != on[:, b]
            x, y = (c, r) if f.axis else (r, c)
            form = np.full(int(good.sum()), self.forms.of[self.p.like[i]][no], np.int64)
            rows.append(np.stack([form, x[good], y[good]], axis=1))
            strips.append(on[good])
        on = np.concatenate(strips)
        first, last = len(self._rows), len(self._rows) + len(on)
        padded = np.full((len(on), self._width), -1, np.int64)
        padded[:, : on.shape[1]] = on
        by_at = []
        for k in range(on.shape[1]):
            order = np.argsort(on[:, k], kind="stable") + first
            ends = np.concatenate([[0], np.cumsum(np.bincount(on[:, k], minlength=f.n_strips))])
            by_at.append(len(self._by))
            self._by = np.concatenate([self._by, ends + len(self._by_rows)]).astype(np.int64)
            self._by_rows = np.concatenate([self._by_rows, order])
        self._rows = np.concatenate([self._rows, *rows])
        self._on = np.concatenate([self._on, padded])
        self._tables[key] = _Table(first, last, tuple(by_at))
        return self._tables[key]

    def _ordered(self, claim: Claim, anchor: int) -> list[tuple[int, int]]:
        """(item, its pin that shares a group with an earlier item, or -1), the anchor first."""
        of: dict[int, list[tuple[int, int]]] = {}  # item -> (group, pin)
        for g, group in enumerate(claim.groups):
            for i, k in group:
                of.setdefault(i, []).append((g, k))
        touched = [False] * len(claim.groups)
        tied = dict.fromkeys(sorted(claim.items, key=lambda i: (i != anchor, -len(self.p.items[i].pins), i)), 0)
        found: list[tuple[int, int]] = []
        while tied:
            i = max(tied, key=tied.__getitem__)  # by most groups
            own = of.get(i, ())
            found.append((i, next((k for g, k in own if touched[g]), -1)))
            del tied[i]
            for g, _ in own:
                if not touched[g]:
                    touched[g] = True
                    for j, _ in claim.groups[g]:
                        if j in tied:
                            tied[j] += 1
        return found

    def decide(self, claim: Claim, f: Frame, steps: int, deep: float) -> Answer:
        """As :meth:`Clusters.ask`, with the board as ``f`` sees it."""
        self.rests_on = None
        order = self._ordered(claim, f.anchor)
        n = len(order)
        if n > MOST_ITEMS:
            return Answer(None)
        fixed_to: dict[Pin, int] = {}
        for pin, s in claim.on:
            # Seen from this anchor the strip may have no one place: then nothing is known of it.
            if f.of_board[s] >= 0 and fixed_to.setdefault(pin, int(f.of_board[s])) != f.of_board[s]:
                return Answer(False)
        items = [i for i, _ in order]
        asked = self._asked(claim, items, fixed_to)
        start, count, chosen = (np.zeros(n, np.int64) for _ in range(3))
        report = np.zeros(2, np.int64)
        question: tuple[Any, ...] = (
            *self._board(order, f),
            *asked.told(self._is_long),
            *self._spare(claim, items, asked.groups, f),
            self.forms.touching.at,
            self.forms.touching.bits,
            self.forms.c_at,
            self.forms.cover,
            self._grid,
            f.room,
        )
        found = self._found, start, count, chosen, report
        result = walk(*(*question, MOST_PLACES, steps, *found))
        self.work += SECONDS_A_CLAIM + SECONDS_A_STEP * int(report[0])
        if result == clusterwalk.TOO_MANY:
            looks = steps // STEPS_A_LOOK + int(deep * LOOKS_A_SECOND)
            result = dive(*(*question, looks, chosen, report))
            self.work += SECONDS_A_LOOK * int(report[0])
        if result == clusterwalk.IMPOSSIBLE:
            mask = int(report[1])
            self.rests_on = frozenset(i for t, i in enumerate(items) if mask >> t & 1) if mask >= 0 else None
            return Answer(False)
        if result == clusterwalk.FOUND:
            return Answer(True, {i: self._at(i, int(r)) for i, r in zip(items, chosen, strict=True)})
        if not deep or not 0 < count.sum() <= MOST_CLAUSED:
            return Answer(None)
        return self._as_clauses(
            items, asked, [self._found[a : a + c] for a, c in zip(start, count, strict=True)], f, deep
        )

    def _board(self, order: Sequence[tuple[int, int]], f: Frame) -> tuple[Ints, ...]:
        """Where items may stand, and how each is reached from those before it, as the searches want it."""
        tables = [self._table(i, f) for i, _ in order]
        entries = [table.by[k] if k >= 0 else 0 for table, (_, k) in zip(tables, order, strict=True)]
        return (
            self._rows,
            self._on,
            np.array([(table.first, table.last) for table in tables], np.int64),
            np.array([k for _, k in order], np.int64),
            np.array(entries, np.int64),
            self._by,
            self._by_rows,
        )

    def _asked(self, claim: Claim, items: Sequence[int], fixed_to: Mapping[Pin, int]) -> _Asked:
        """What is claimed of items, by number."""
        p = self.p
        shape = (len(items), self._width)
        nets, groups, fixed = (np.full(shape, -1, np.int64) for _ in range(3))
        wired, longs = (np.zeros(shape, np.int64) for _ in range(2))
        at = {i: t for t, i in enumerate(items)}
        for t, i in enumerate(items):
            own = p.items[i].nets
            nets[t, : len(own)] = own
            if not claim.wired.isdisjoint(own):
                # Copper that hangs by a part needs no hole.
                wired[t, : len(own)] = [
                    (HANGS if (i, k) in self._hangs else 1) * (m in claim.wired) for k, m in enumerate(own)
                ]
        for g, pins in enumerate(claim.groups):
            for i, k in pins:
                if i in at:
                    groups[at[i], k] = g
        for i, k in claim.long:
            if i in at:
                longs[at[i], k] = 1
        for (i, k), s in fixed_to.items():
            if i in at:
                fixed[at[i], k] = s
        self.forms.touching.need({self.forms.of[p.like[i]] for i in items})
        n_pins = np.array([len(p.items[i].pins) for i in items], np.int64)
        return _Asked(n_pins, nets, groups, len(claim.groups), wired, longs, fixed)

    def _as_clauses(self, items: Sequence[int], asked: _Asked, rows: Sequence[Rows32], f: Frame, deep: float) -> Answer:
        """The same question as clauses, ``rows``: the candidates of each item; holes to spare are left out."""
        every = np.concatenate(rows)
        count = np.array([len(own) for own in rows])
        model = ClusterClauses(
            Places(np.repeat(np.arange(len(items)), count), self._rows[every], self._on[every]),
            self.forms.touching.shapes,
            asked.n_pins.tolist(),
            asked.nets,
            asked.groups,
            asked.wired,
            self._grid,
            f.room,
        )
        decision = model.decide(deep, self.stopped)
        self.work += model.work
        if decision.possible:
            chosen = zip(items, decision.chosen, strict=True)
            return Answer(True, {i: self._at(i, int(every[r])) for i, r in chosen})
        if decision.rests_on is not None:
            self.rests_on = frozenset(items[t] for t in decision.rests_on)
        return Answer(decision.possible)

    def _spare(self, claim: Claim, items: Sequence[int], groups: Ints, f: Frame) -> tuple[Ints, Ints, Ints]:
        """Nets with holes to spare as :func:`placer.solve.clusterwalk.enough` wants them."""
        short = max(0, int(f.room[self._is_long == 0].max(initial=0)) - 3)
        most = max(0, int(f.room.max()) - 3)
        nets, pins = [(0, 0)], []
        for n, _, least, counted in sorted(claim.spare):
            own = [(t, k) for t, i in enumerate(items) for k, m in enumerate(self.p.items[i].nets) if m == n]
            pins += own
            nets.append((len(pins), least - most * (counted - len(own))))
        slack = [short if groups[t, k] >= 0 else most for t, k in pins]
        return np.array(nets, np.int64), np.array(pins, np.int64).reshape(-1, 2), np.array(slack, np.int64)

    def _shape_no(self, i: int, r: int) -> int:
        return self.forms.of[self.p.like[i]].index(int(self._rows[r, SHAPE]))

    def _at(self, i: int, r: int) -> tuple[int, int, int]:
        """A row as (shape, line, across)."""
        x, y = int(self._rows[r, X]), int(self._rows[r, Y])
        return (self._shape_no(i, r), *((y, x) if self.frame.axis else (x, y)))
