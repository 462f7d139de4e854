"""A board of lone pads as the compiled search sees it: a virtual board, and annealing runs on it.

On a board that allows bridges every lead fills its pad, and neighbouring pads are what strips are elsewhere. So the
parts are placed on a *virtual board*, where pads in a row count as strips that may be severed anywhere: hole addresses,
and with them places, are the same on both.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from placer.boards.model import Board, CutRule
from placer.plan.model import Options
from placer.solve.anneal import Annealer
from placer.solve.arrays import Arrays, Places
from placer.solve.layout import ANCHOR, OLD_TOTALS, OVERLAPS, SHAPE, SHORTS, WISHES, Ints
from placer.solve.problem import Problem, build
from placer.solve.rebuilder import State
from placer.solve.spans import anneal_spans

RUN = 8  # pads in a row that count as one strip; what the moves of the search take for "near"
CHUNKS = 25  # looks at the clock in a run from a fresh start
HOT, COLD = 4.0, 0.15  # temperatures, in steps of solder
LOOSE, STRICT = 1.5, 8.0  # penalty of a fault, in steps, from the beginning of a run to its end
LIKING = 0.3  # steps that a weight of 1 counts for, of what is liked and broken
KEPT = 2  # places of a run that are routed


def virtual_board(board: Board, along: str) -> Board:
    """The board with lone pads in a row made strips of up to RUN holes, severable between any two; no other cuts."""
    lone = {s.holes[0]: s for s in board.strips if len(s.holes) == 1}
    strips = [replace(s, cut=CutRule()) for s in board.strips if s.holes[0] not in lone]

    def line(address: str) -> tuple[int, int]:
        hole = board.holes[address]
        return (hole.y, hole.x) if along == "x" else (hole.x, hole.y)

    def alike(one: str, other: str) -> bool:
        return replace(lone[one], name="", holes=()) == replace(lone[other], name="", holes=())

    runs: list[list[str]] = []
    for address in sorted(lone, key=line):
        across, place = line(address)
        last = runs[-1] if runs else []
        if 0 < len(last) < RUN and line(last[-1]) == (across, place - 1) and alike(last[-1], address):
            last.append(address)
        else:
            runs.append([address])
    for run in runs:
        links = tuple(pairwise(run))
        strips.append(replace(lone[run[0]], holes=tuple(run), links=links, cut=CutRule(between=True)))
    return replace(board, strips=tuple(strips), cut=CutRule(between=True), bridges=False)


@dataclass(frozen=True)
class PadView:
    """A virtual board's problem, and what the compiled search needs to know of the real one.

    ``to_real`` and ``from_real``: hole numbers; ``group``, ``strip`` and ``neighbour``: see
    :mod:`placer.solve.spans`.
    """

    arrays: Arrays
    to_real: tuple[int, ...]
    from_real: tuple[int, ...]
    group: Ints
    strip: Ints
    neighbour: Ints
    cap: float
    raised: float  # what costs as much as a jumper of 1, in steps of solder

    @classmethod
    def of(cls, real: Problem, board: Board, options: Options) -> PadView:
        """The view of a problem by way of a virtual board."""
        p = build(real.circuit, board, options, named=real.board)
        number = {a: h for h, a in enumerate(real.addresses)}
        to_real = tuple(number[a] for a in p.addresses)
        from_real = [0] * len(to_real)
        for h, r in enumerate(to_real):
            from_real[r] = h
        by_net: list[list[tuple[int, int]]] = [[] for _ in p.net_names]
        for i, item in enumerate(p.items):
            for k, n in enumerate(item.nets):
                by_net[n].append((i, k))
        flat = [pin for pins in by_net for pin in pins]
        group = {pin: t for t, pin in enumerate(flat)}
        for i, k, j, m in p.joins:
            old, new = group[i, k], group[j, m]
            group = {pin: new if g == old else g for pin, g in group.items()}
        around = ((1, 0), (-1, 0), (0, 1), (0, -1))
        beside = [p.hole(int(x) + dx, int(y) + dy) for x, y in zip(p.hx, p.hy, strict=True) for dx, dy in around]
        step = real.options.bridge_cost
        # A jumper ends in pads of its own, a bridge away from the pins.
        cap = (real.options.jumper_cost + 2 * step) / step if step > 0 else 1e6
        return cls(
            Arrays(p, liked=True),
            to_real,
            tuple(from_real),
            np.array([group[pin] for pin in flat], np.int64),
            np.array([real.hstrip[r] for r in to_real], np.int64),
            np.array(beside, np.int64),
            max(1.0, cap),
            1 / step if step > 0 else 1e6,
        )

    def real(self, places: Places) -> Places:
        """Places in the real problem's numbers. Shapes are numbered alike: both boards have the same holes."""
        return tuple((shape, self.to_real[anchor]) for shape, anchor in places)

    def fresh(self, stream: Annealer, proposals: int, crowded: float) -> list[Places]:
        """One run from a fresh start; the best places it came by, best last."""
        state = stream.start()
        if state is None:
            return []
        shape, anchor = (np.zeros(self.arrays.n_items, np.int64) for _ in range(2))
        found: list[Places] = []
        best = math.inf
        for c in range(CHUNKS):
            if stream.stopped():
                break
            before, t = best, c / CHUNKS
            heat = HOT * (COLD / HOT) ** t, HOT * (COLD / HOT) ** (t + 1 / CHUNKS)
            penalty = LOOSE + (STRICT - LOOSE) * t
            best = self._anneal(stream, state, proposals // CHUNKS, heat, (shape, anchor), penalty, crowded, best)
            if best < before:
                found.append(self.real(self.arrays.places(shape, anchor)))
        return found[-KEPT:]

    def shaken(self, stream: Annealer, proposals: int, hot: float, crowded: float, start: Places) -> Places | None:
        """Places that a short run from others ends with; None where they are not legal."""
        state = stream.resume(tuple((shape, self.from_real[anchor]) for shape, anchor in start))
        if state is None:
            return None
        n, w, s = self.arrays.n_items, self.arrays.world, state[0]
        kept = np.zeros(n, np.int64), np.zeros(n, np.int64)
        self._anneal(stream, state, proposals, (hot, COLD), kept, STRICT, crowded, -math.inf)
        if state[1][OVERLAPS] + state[1][SHORTS] + state[1][WISHES] > 0.5:
            return None
        shape, anchor = (s[w[table] : w[table] + n] for table in (SHAPE, ANCHOR))
        return self.real(self.arrays.places(shape, anchor))

    def _anneal(
        self,
        stream: Annealer,
        state: State,
        proposals: int,
        heat: tuple[float, float],
        kept: tuple[Ints, Ints],
        penalty: float,
        crowded: float,
        best: float,
    ) -> float:
        span = np.zeros(len(self.arrays.problem.net_names))
        seed = int(stream.rng.integers(2**31))
        real = self.group, self.strip, self.neighbour
        world, none = self.arrays.world, np.zeros(OLD_TOTALS)
        return anneal_spans(
            world,
            *state,
            proposals,
            *heat,
            seed,
            self.cap,
            *real,
            span,
            *kept,
            penalty,
            crowded,
            best,
            none,
            np.array([1e-3 * LIKING, 1e-3 * self.raised]),
        )
