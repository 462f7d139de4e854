"""Can these parts stand so that these pins share strips? An exact search over places.

A cluster is a few parts with pins that are said to share a short strip, pins said to lie on a long strip, and nets
said to need a wire end on each of their strips. The board is seen from one of the parts (:mod:`placer.solve.frame`), so
the answer holds wherever the cluster stands. Parts outside the cluster are left out: a "no" is a fact about any plan.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from placer.solve import clusterwalk
from placer.solve.arrays import covered
from placer.solve.claims import Answer, Claim, Pin
from placer.solve.clustermodel import ClusterClauses, Places
from placer.solve.clusterwalk import walk
from placer.solve.frame import Frame, frame
from placer.solve.problem import Problem
from placer.solve.shapes import Shape
from placer.solve.together import SHAPE, X, Y
from placer.solve.touching import Touching

MOST_PLACES = 150_000  # candidates in one search; more means: not decided
MOST_CLAUSED = 40_000  # of these, in clauses
MOST_STEPS = 8_000_000  # comparisons of places
MOST_ITEMS = 60  # a refutation's items are bits of one number
LONG = 10  # holes; a longer strip is no neighbourhood
SECONDS_A_STEP, SECONDS_A_CLAIM = 1e-8, 3e-4  # about


@dataclass(frozen=True)
class _Table:
    """Where the places of an item are in the search's rows, and where the index of each of its pins begins."""

    first: int
    last: int
    by: tuple[int, ...]


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

    def ask(self, claim: Claim, steps: int = MOST_STEPS, deep: float = 0.0) -> Answer:
        """Search for places that keep the claim, giving up after so many comparisons.

        ``deep``: work for the clauses when that was not enough.
        """
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
        p = self.p
        self.rests_on = None
        order = self._ordered(claim, f.anchor)
        n = len(order)
        if n > MOST_ITEMS:
            return Answer(None)
        tables = [self._table(i, f) for i, _ in order]
        fixed_to: dict[Pin, int] = {}
        for pin, s in claim.on:
            # Seen from this anchor the strip may have no one place: then nothing is known of it.
            if f.of_board[s] >= 0 and fixed_to.setdefault(pin, int(f.of_board[s])) != f.of_board[s]:
                return Answer(False)
        shape = (n, self._width)
        nets, groups, fixed = (np.full(shape, -1, np.int64) for _ in range(3))
        wired, longs = (np.zeros(shape, np.int64) for _ in range(2))
        at = {i: t for t, (i, _) in enumerate(order)}
        for t, (i, _) in enumerate(order):
            own = p.items[i].nets
            nets[t, : len(own)] = own
            if not claim.wired.isdisjoint(own):
                wired[t, : len(own)] = [net in claim.wired for net in own]
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
        self.forms.touching.need({self.forms.of[p.like[i]] for i, _ in order})
        start, count, chosen = (np.zeros(n, np.int64) for _ in range(3))
        report = np.zeros(2, np.int64)
        result = walk(
            self._rows,
            self._on,
            np.array([(t.first, t.last) for t in tables], np.int64),
            np.array([k for _, k in order], np.int64),
            np.array([t.by[k] if k >= 0 else 0 for t, (_, k) in zip(tables, order, strict=True)], np.int64),
            self._by,
            self._by_rows,
            np.array([len(p.items[i].pins) for i, _ in order], np.int64),
            nets,
            groups,
            len(claim.groups),
            wired,
            longs,
            fixed,
            self._is_long,
            self.forms.touching.at,
            self.forms.touching.bits,
            self.forms.c_at,
            self.forms.cover,
            self._grid,
            f.room,
            MOST_PLACES,
            steps,
            self._found,
            start,
            count,
            chosen,
            report,
        )
        self.work += SECONDS_A_CLAIM + SECONDS_A_STEP * int(report[0])
        if result == clusterwalk.IMPOSSIBLE:
            mask = int(report[1])
            self.rests_on = frozenset(i for t, (i, _) in enumerate(order) if mask >> t & 1) if mask >= 0 else None
            return Answer(False)
        if result == clusterwalk.FOUND:
            return Answer(True, {i: self._at(i, int(r)) for (i, _), r in zip(order, chosen, strict=True)})
        if result == clusterwalk.TOO_MANY or not deep or count.sum() > MOST_CLAUSED:
            return Answer(None)
        rows = [self._found[start[t] : start[t] + count[t]] for t in range(n)]
        every = np.concatenate(rows)
        model = ClusterClauses(
            Places(np.repeat(np.arange(n), count), self._rows[every], self._on[every]),
            self.forms.touching.shapes,
            [len(p.items[i].pins) for i, _ in order],
            nets,
            groups,
            wired,
            self._grid,
            f.room,
        )
        decision = model.decide(deep, self.stopped)
        self.work += model.work
        if decision.possible:
            chosen_rows = ((t, int(every[r])) for t, r in enumerate(decision.chosen))
            return Answer(True, {order[t][0]: self._at(order[t][0], r) for t, r in chosen_rows})
        if decision.rests_on is not None:
            self.rests_on = frozenset(order[t][0] for t in decision.rests_on)
        return Answer(decision.possible)

    def _shape_no(self, i: int, r: int) -> int:
        return self.forms.of[self.p.like[i]].index(int(self._rows[r, SHAPE]))

    def _at(self, i: int, r: int) -> tuple[int, int, int]:
        """A row as (shape, line, across)."""
        x, y = int(self._rows[r, X]), int(self._rows[r, Y])
        return (self._shape_no(i, r), *((y, x) if self.frame.axis else (x, y)))
