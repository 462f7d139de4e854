"""Why can these pins not share copper? The smallest set of things about a few parts that cannot all be.

A question is put to the exact searches of the proofs (:mod:`placer.solve.cluster`, :mod:`placer.solve.arrange`): first
of the parts with these pins alone, then with parts round them whose present sharing is kept, until it is refuted.
Then everything that can be dropped is. The parts stand anywhere in the question, so a refutation is a fact about every
plan of the circuit on the board.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import networkx as nx

from placer.solve.arrange import ArrangeSearch
from placer.solve.claims import Claim, Pin, connected, only, unbound, without_pin
from placer.solve.cluster import Clusters
from placer.solve.frame import LONG
from placer.solve.lines import Lines
from placer.solve.problem import Problem
from placer.solve.scene import Scene

MOST_PARTS = 7
STEPS = 300_000  # comparisons of places for one question
WORK = 0.25  # the solver's deterministic time for one question
MOST_QUESTIONS = 60  # of one conflict that is made smaller
MOST_WIDE = 12  # pins to look at together


@dataclass(frozen=True)
class Refuted:
    """A claim that cannot be; ``smallest``: whatever is dropped from it, the rest can be."""

    claim: Claim
    smallest: bool


class Asker:
    """The exact searches behind one question: can these parts stand like this? None: not decided."""

    def __init__(self, p: Problem, lines: Lines | None, stopped: Callable[[], bool]) -> None:
        self.p, self.lines, self.stopped = p, lines, stopped
        self.least = 2
        self.plain = unbound(p)
        self._arrange = ArrangeSearch(p, lines, stopped, 1) if lines is not None else None
        self._clusters = Clusters(p, stopped) if lines is None else None
        self._reach: dict[Pin, frozenset[int]] = {}
        self._known: dict[Claim, bool | None] = {}

    def possible(self, claim: Claim) -> bool | None:
        """Whether a claim can be: False is certain."""
        if claim not in self._known:
            if self.stopped():
                return None
            self._known[claim] = self._ask(claim)
        return self._known[claim]

    def _ask(self, claim: Claim) -> bool | None:
        if self._arrange is not None:
            found = self._arrange.ask(claim, WORK)
            if found.possible and not all(self.plain[i] for i in claim.items):
                found = self._arrange.ask(claim, WORK, on_board=True)
            return found.possible
        answers = [self._in_cluster(part) for part in connected(claim)]
        if False not in answers and len(answers) > 1:
            answers.append(self._in_cluster(claim))
        if False in answers:
            return False
        return True if answers[-1] else None

    def _in_cluster(self, claim: Claim) -> bool | None:
        assert self._clusters is not None  # noqa: S101 - there are no lines
        if any(self._clusters.frame(claim).of_board[s] < 0 for _, s in claim.on):
            return None  # from this part the strip does not look the same everywhere
        return self._clusters.ask(claim, STEPS).possible

    def reach(self, pin: Pin) -> frozenset[int]:
        """The strips that a pin can be on at all."""
        if pin not in self._reach:
            p, (i, k) = self.p, pin
            found: set[int] = set()
            for shape, way in zip(p.items[i].shapes, p.items[i].ways, strict=True):
                dx, dy = shape.offsets[k]
                found.update(p.hstrip[p.cell[p.hy[way] - p.y0 + dy, p.hx[way] - p.x0 + dx]].tolist())
            self._reach[pin] = frozenset(found)
        return self._reach[pin]


class WhyNot:
    """Looks for small conflicts round a plan's jumpers and cuts."""

    def __init__(self, scene: Scene, asker: Asker) -> None:
        self.scene, self.asker, self.p = scene, asker, scene.p
        on_lines = asker.lines is not None
        self.groups = [
            frozenset(pins)
            for piece, pins in sorted(scene.pins_on.items())
            if len(pins) > 1 and (on_lines or self.p.slen[scene.strip_of[piece]] <= LONG)
        ]

    def share(self, pins: frozenset[Pin], wired: frozenset[int]) -> Refuted | None:
        """Why the pins cannot share one piece of copper (on an uncut board: one short strip)."""
        return self._grow(Claim(frozenset(i for i, _ in pins), (pins,), wired=wired), pins)

    def on_strip(self, pins: frozenset[Pin], strip: int) -> Refuted | None:
        """Why the pins cannot all be on one long strip of the board."""
        for q in sorted(pins, key=lambda q: (-len(self.p.items[q[0]].pins), q)):
            if strip not in self.asker.reach(q):
                return Refuted(Claim(frozenset((q[0],)), (), on=frozenset(((q, strip),))), smallest=True)
        on = frozenset((q, strip) for q in pins)
        return self._grow(Claim(frozenset(i for i, _ in pins), (), on=on), pins)

    def apart(self, one: Pin, other: Pin) -> Refuted | None:
        """Why two pins cannot be on different strips."""
        pair = (min(one, other), max(one, other))
        groups = tuple(self._group_of(q) for q in pair)
        items = frozenset(i for g in groups for i, _ in g)
        return self._grow(Claim(items, groups, apart=frozenset((pair,))), frozenset(pair))

    def _group_of(self, pin: Pin) -> frozenset[Pin]:
        return next((g for g in self.groups if pin in g), frozenset((pin,)))

    def _grow(self, target: Claim, pins: frozenset[Pin]) -> Refuted | None:
        """Ask with more and more of the parts round the target; what refutes it first is made smaller."""
        if len(target.items) > MOST_WIDE:
            return None
        for claim in self._wider(target, pins):
            if self.asker.stopped():
                return None
            if self.asker.possible(claim) is False:
                return self._shrink(claim)
        return None

    def _wider(self, target: Claim, pins: frozenset[Pin]) -> Iterator[Claim]:
        nets = {self.scene.net(q) for q in pins}
        own = frozenset(q for g in target.groups for q in g)
        taken: set[int] = nets | {self.scene.net(q) for q in own}
        kept: list[frozenset[Pin]] = []
        # Of each net one piece of copper: two might be one in another plan, which the claim does not say.
        for g in sorted(self.groups, key=lambda g: (-len(g), sorted(g))):
            n = self.scene.net(min(g))
            if n not in taken and not g & own:
                taken.add(n)
                kept.append(g)
        yield replace(target, wired=frozenset())
        if target.wired:
            yield target
        graph = nx.Graph()
        graph.add_nodes_from(range(len(self.p.items)))
        for g in kept:
            graph.add_edges_from(itertools.combinations(sorted({i for i, _ in g}), 2))
        wired = target.wired | (self.scene.wired - nets)
        items = set(target.items)
        near = dict.fromkeys(target.items, 0)
        for start in sorted(target.items):
            for i, d in nx.single_source_shortest_path_length(graph, start).items():
                near[i] = min(near.get(i, d), d)
        most = max(MOST_PARTS, len(target.items) + 2)
        last: Claim | None = None
        for i in (None, *sorted((i for i in near if i not in target.items), key=lambda i: (near[i], i))):
            if i is not None:
                items.add(i)
            groups = (*target.groups, *kept)
            claim = only(replace(target, items=frozenset(items), groups=groups), frozenset(items), 1)
            claim = replace(claim, groups=tuple(g for g in claim.groups if len(g) > 1 or g <= own), wired=wired)
            if claim != last:
                yield claim
            last = claim
            if len(items) >= most:
                return

    def _shrink(self, claim: Claim) -> Refuted:
        """Drop what can be dropped; once all that is left is needed, the conflict is smallest."""
        questions = 0
        least = 1 if claim.apart else 2

        def steps(now: Claim) -> Iterator[Claim]:
            if now.wired:
                yield replace(now, wired=frozenset())
            for i in sorted(now.items, key=lambda i: (len(self.p.items[i].pins), i)):
                yield only(now, now.items - {i}, least)
            for n in sorted(now.wired):
                yield replace(now, wired=now.wired - {n})
            for pair in sorted(now.apart):
                yield replace(now, apart=now.apart - {pair})
            for one in sorted(now.on):
                yield replace(now, on=now.on - {one})
            for pin in sorted({q for g in now.groups for q in g}):
                if not any(pin in pair for pair in now.apart):
                    yield without_pin(now, pin, least)

        claim = self._tidy(claim, least)
        while True:
            certain = True
            for fewer in steps(claim):
                if fewer == claim or not fewer.items:
                    continue
                questions += 1
                answer = None if questions > MOST_QUESTIONS else self.asker.possible(fewer)
                if answer is False:
                    claim = self._tidy(fewer, least)
                    break
                certain = certain and answer is True
            else:
                return Refuted(claim, certain)

    def _tidy(self, claim: Claim, least: int) -> Claim:
        """The claim without what says nothing: nets in no group, items in no group or pair."""
        groups = tuple(g for g in claim.groups if len(g) >= least)
        nets = {self.scene.net(q) for g in groups for q in g}
        nets |= {self.scene.net(q) for q, _ in claim.on}
        return replace(claim, groups=groups, wired=claim.wired & nets)
