"""What can be built on boards of severable strips: the clauses propose segments, the arrangement model builds them.

As in :mod:`placer.solve.sharing`, what cannot be built is narrowed down to a smallest conflict, which is forbidden for
these parts and for all parts of the same shapes joined in the same way.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import networkx as nx

from placer.solve.arrays import Places
from placer.solve.claims import Claim, Copies, Pin, connected, only, pieces, ties, without_pin
from placer.solve.cores import Verdict
from placer.solve.frame import Stopped
from placer.solve.legal import is_legal
from placer.solve.lines import Lines
from placer.solve.pool import Pool
from placer.solve.problem import Problem
from placer.solve.proposal import Conflict, Proposal
from placer.solve.wiring import wire

QUICK, WHOLE = 0.1, 2.0  # the solver's deterministic time for one question
PATIENCE, SMALL = 8, 6  # so many questions about more than so many parts may stay open before no more are asked
PIECES = (2, 3, 5, 8)  # parts; sizes of the pieces of a cluster looked at first
MOST_COPIES = 300


class CutTheory:
    """Looks at what the clauses propose."""

    def __init__(self, p: Problem, lines: Lines, stopped: Stopped, seed: int) -> None:
        # Here, for the solver takes a third of a second to load, and only boards with strips to sever need it.
        from placer.solve.arrange import ArrangeSearch

        self.p, self.lines, self.stopped = p, lines, stopped
        self.search = ArrangeSearch(p, lines, stopped, seed)
        self.conflicts = Pool()
        self._copies = Copies(p)
        self._patience = PATIENCE
        self.level = 0

    @property
    def work(self) -> float:
        """About how many seconds have gone into it."""
        return self.search.work

    def look(self, proposal: Proposal) -> Iterator[Verdict | None]:
        """Look at a proposal: yields None while at it, then a verdict."""
        claim = self._claim(proposal)
        before = len(self.conflicts)
        placed: Places | None = None
        if proposal.places is not None:
            placed = self.on_board(proposal.places)
            if placed is not None and self._wired(placed, proposal):
                yield Verdict(places=placed)
                return
            yield None
        places: Places | None = None
        for last in self._try(claim, whole=proposal.places is not None):
            places = last
            yield None
        if len(self.conflicts) > before:
            yield Verdict(True)
        elif places is None:
            yield Verdict(asserted=self._conflict(claim), start=placed)
        elif self._wired(places, proposal):
            yield Verdict(places=places)
        else:
            yield Verdict(asserted=self._conflict(claim), lasting=True, start=places)

    def _wired(self, places: Places, proposal: Proposal) -> bool:
        """The parts can be wired as they stand, with no more jumpers and cuts than were proposed."""
        p = self.p
        wiring = wire(p, places) if is_legal(p, places) else None
        if wiring is None:
            return False
        of = {pin: group for group in proposal.segments for pin in group}
        saved = sum(of[i, k] != of[j, m] for i, k, j, m in p.joins)
        jumpers = len(proposal.segments) - len({p.items[i].nets[k] for i, k in of}) - saved
        cuts = len(proposal.segments) - len(set(proposal.strip.values()))
        made = len(wiring.drilled) + len(wiring.severed)
        return len(wiring.wires) <= jumpers and made <= cuts

    def _claim(self, proposal: Proposal) -> Claim:
        """What is proposed, said without positions."""
        first = sorted(map(min, proposal.segments))
        on = proposal.strip
        apart = frozenset((a, b) for a, b in itertools.combinations(first, 2) if on[a] != on[b])
        groups = tuple(sorted(proposal.segments, key=min))
        return Claim(frozenset(range(len(self.p.items))), groups, wired=proposal.several, apart=apart)

    def _try(self, claim: Claim, *, whole: bool) -> Iterator[Places | None]:
        """Places for all parts as claimed, last, or None; conflicts found on the way are recorded.

        ``whole``: what is in doubt is not in any small piece.
        """
        before = len(self.conflicts)
        for _ in () if whole else self._look(claim):
            yield None
        if len(self.conflicts) > before or self.stopped():
            return
        work = WHOLE * 4**self.level
        answer = self.search.ask(claim, work)
        yield None
        if answer.possible is False:
            self._add(self._shrink(claim))
            return
        places = self.on_board(answer.places)
        if answer.possible and places is None:
            answer = self.search.ask(claim, work, on_board=True)
            if answer.possible is False:
                self._add(claim, as_they_are=True)
            places = self.on_board(answer.places)
        yield places

    def _look(self, claim: Claim) -> Iterator[None]:
        """Record conflicts in the pieces of a claim, small pieces first."""
        plain = replace(claim, apart=self._same_net(claim))
        self._patience = PATIENCE
        for version, sizes in ((plain, PIECES), (claim, PIECES[1:])):
            for size in sizes:
                before = len(self.conflicts)
                for cluster in connected(version, 1):
                    for piece in pieces(cluster, size, 1):
                        yield
                        if self.stopped():
                            return
                        if not self._known(piece) and self._refuted(piece):
                            self._add(self._shrink(piece))
                if len(self.conflicts) > before:
                    return

    def _same_net(self, claim: Claim) -> frozenset[tuple[Pin, Pin]]:
        """The pairs of a claim that keep two segments of one net from being one."""
        net = self.p.items
        return frozenset((a, b) for a, b in claim.apart if net[a[0]].nets[a[1]] == net[b[0]].nets[b[1]])

    def _known(self, claim: Claim) -> bool:
        pairs = frozenset(pair for g in claim.groups for pair in itertools.combinations(sorted(g), 2))
        return self.conflicts.within(Conflict(pairs, several=claim.wired, apart=claim.apart))

    def _refuted(self, claim: Claim) -> bool:
        """True when one of the claim's clusters cannot be, as far as a quick look tells; such looks are rationed."""
        for part in self._parts(claim):
            if len(part.items) > SMALL and self._patience <= 0:
                continue
            answer = self.search.ask(part, QUICK)
            if answer.possible is False:
                return True
            self._patience -= answer.possible is None
        return False

    def _parts(self, claim: Claim) -> list[Claim]:
        """Clusters of a claim, those that are kept apart from one another taken together."""
        graph = ties(claim)
        graph.add_edges_from((a[0], b[0]) for a, b in claim.apart)
        return [only(claim, frozenset(c), 1) for c in sorted(nx.connected_components(graph), key=min)]

    def _shrink(self, claim: Claim) -> Claim:
        """A conflict within a refuted claim from which nothing can be dropped (as far as a quick look tells)."""
        self._patience = PATIENCE

        def drop(fewer: Claim) -> bool:
            nonlocal claim
            if fewer != claim and fewer.items and self._refuted(fewer):
                claim = fewer
                return True
            return False

        def thin(things: list[Any], without: Callable[[frozenset[Any]], Claim]) -> None:
            """Drop as many of some things as can be, many at a time first."""
            size = len(things) // 2
            while size > 0:
                for at in range(0, len(things), size):
                    drop(without(frozenset(things[at : at + size])))
                things = [t for t in things if without(frozenset([t])) != claim]
                size = min(size // 2, len(things))

        drop(replace(claim, wired=frozenset()))
        drop(replace(claim, apart=self._same_net(claim)))
        thin(
            sorted(claim.items, key=lambda i: (len(self.p.items[i].pins), i)), lambda x: only(claim, claim.items - x, 1)
        )
        claim = next((part for part in self._parts(claim) if self._refuted(part)), claim)
        thin(sorted(claim.apart - self._same_net(claim)), lambda x: replace(claim, apart=claim.apart - x))
        for pin in sorted({q for g in claim.groups for q in g}):
            if any(pin in g for g in claim.groups):
                drop(self._unclaimed(claim, pin))
        for n in sorted(claim.wired):
            drop(replace(claim, wired=claim.wired - {n}))
        used = {p for p in claim.wired if any(self.p.items[q[0]].nets[q[1]] == p for g in claim.groups for q in g)}
        return replace(claim, wired=frozenset(used))

    def _unclaimed(self, claim: Claim, pin: Pin) -> Claim:
        """The claim without a pin; another of its group takes its part in what is apart."""
        group = next(g for g in claim.groups if pin in g)
        others = sorted(group - {pin})
        if others:
            swap = {pin: others[0]}
            moved = frozenset(
                (min(x, y), max(x, y)) for x, y in ((swap.get(a, a), swap.get(b, b)) for a, b in claim.apart)
            )
            claim = replace(claim, apart=moved)
        return without_pin(claim, pin, 1)

    def _conflict(self, claim: Claim, pin_map: dict[Pin, Pin] | None = None) -> Conflict:
        """What a claim says, of other pins where they are given."""
        at, items = pin_map or {}, self.p.items
        net = {items[q[0]].nets[q[1]]: items[image[0]].nets[image[1]] for q, image in at.items()}
        pairs = set()
        for g in claim.groups:
            first, *rest = sorted(at.get(q, q) for q in g)
            pairs |= {(first, other) for other in rest}
        apart = ((at.get(a, a), at.get(b, b)) for a, b in claim.apart)
        return Conflict(
            frozenset(pairs),
            several=frozenset(net.get(n, n) for n in claim.wired),
            apart=frozenset((min(a, b), max(a, b)) for a, b in apart),
        )

    def _add(self, claim: Claim, *, as_they_are: bool = False) -> None:
        """Forbid a conflict and its copies among parts of the same shapes."""
        if as_they_are:
            self.conflicts.add(self._conflict(claim))
            return
        for pin_map in itertools.islice(self._copies.of(claim), MOST_COPIES):
            self.conflicts.add(self._conflict(claim, pin_map))

    def on_board(self, found: dict[int, tuple[int, int, int]] | None) -> Places | None:
        """Places of an arrangement, moved to where every part may stand; None where there is no such move."""
        if found is None or len(found) < len(self.p.items):
            return None
        p, axis = self.p, self.lines.axis
        allowed = [[set(way.tolist()) for way in item.ways] for item in p.items]
        for shift in sorted(
            itertools.product(
                range(-self.lines.count, self.lines.count + 1), range(-self.lines.holes, self.lines.holes + 1)
            ),
            key=lambda d: abs(d[0]) + abs(d[1]),
        ):
            places = []
            for i in range(len(p.items)):
                no, line, along = found[i]
                y, x = (line + shift[0], along + shift[1]) if axis else (along + shift[1], line + shift[0])
                h = p.hole(x + p.x0, y + p.y0)
                if h < 0 or h not in allowed[i][no]:
                    break
                places.append((no, h))
            else:
                return tuple(places)
        return None
