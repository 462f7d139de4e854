"""What can be built on uncut boards: the clauses propose which pins share strips, the cluster search tries to build it.

Where no cluster of parts can stand as proposed, a smallest set of shares that cannot be is forbidden, for these parts
and for all parts of the same shapes joined in the same way, wherever they stand. When everything proposed can be built,
the clusters are put side by side.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterator
from dataclasses import replace
from typing import Any

import networkx as nx

from placer.solve.chains import chains
from placer.solve.claims import Answer, Claim, Copies, Pin, Spare, connected, joined, only, pieces, without_pin
from placer.solve.cluster import Clusters
from placer.solve.cores import MOST_LEVEL, Verdict
from placer.solve.frame import LONG, Frame, Stopped, half_turn, turns_upside_down
from placer.solve.legal import is_legal
from placer.solve.pool import Pool
from placer.solve.problem import Problem
from placer.solve.proposal import Conflict, Proposal
from placer.solve.stack import stack
from placer.solve.wiring import wire

MOST_COPIES = 400  # conflicts made from one
PIECES = (4, 6, 8)  # parts; sizes of the pieces of a cluster looked at first
LEVELS = ((2_000_000, 0.0), (8_000_000, 1.0), (8_000_000, 4.0))  # comparisons and about seconds, for a whole cluster
SHRINK_STEPS, SHRINK_WORK = 1_000_000, 1.0
FORESIGHT = 2.0  # about seconds
QUICK_STEPS = 300_000  # comparisons when a conflict is made smaller


class SharingTheory:
    """Looks at what the clauses propose. ``work``: about how many seconds it has taken."""

    def __init__(self, p: Problem, seen: Frame, stopped: Stopped) -> None:
        self.p = p
        self.seen = seen
        self.stopped = stopped
        self.clusters = Clusters(p, stopped)
        self.conflicts = Pool()
        self._own_work = 0.0
        self.level = 0
        self._pins_of: dict[int, list[Pin]] = {}
        for i, item in enumerate(p.items):
            for k, n in enumerate(item.nets):
                self._pins_of.setdefault(n, []).append((i, k))
        self._joined = {p.items[i].nets[k] for i, k, _, _ in p.joins}
        self._rests: frozenset[int] | None = None
        # A half turn of the board, where it maps everything onto itself, turns a conflict on long strips along.
        self.turns: list[list[int]] = [list(range(len(p.slen)))]
        if turns_upside_down(p):
            half = half_turn(p)
            assert half is not None  # noqa: S101 - the board turns onto itself
            self.turns.append([int(p.hstrip[half[h]]) for h in p.sstart])
        self._copies = Copies(p)

    @property
    def work(self) -> float:
        """About how many seconds have gone into it."""
        return self._own_work + self.clusters.work

    def foresee(self) -> Iterator[None]:
        """Look at what is likely to be proposed, for about so much work; yields often."""
        limit = self.work + FORESIGHT
        for claim in itertools.chain(self._alone(), chains(self.p)):
            if self.work >= limit or self.stopped():
                return
            if not self._forbidden(claim) and self._refuted(claim):
                self._add(self._shrink(claim))
            yield

    def _alone(self) -> Iterator[Claim]:
        """Claims that a part leaves a hole free for a wire beside each of its pins whose net has others."""
        for i, item in enumerate(self.p.items):
            nets = frozenset(n for n in item.nets if len(self._pins_of[n]) > 1)
            if nets:
                yield Claim(frozenset([i]), (), wired=nets)

    def look(
        self, proposal: Proposal, level: int | None = None, near: Collection[int] | None = None
    ) -> Iterator[Verdict | None]:
        """Look at a proposal: yields None while at it, then a verdict.

        ``level``: how closely, where not as closely as for all others; ``near``: items round which there is something
        new, where the rest is as in a plan, so that no small piece elsewhere need be looked at.
        """
        level = self.level if level is None else level
        before = len(self.conflicts)
        built: list[tuple[Claim, Answer]] = []
        doubtful: Claim | None = None
        refuted: Claim | None = None
        for claim in self._claims(proposal):
            yield None
            exact = claim
            answer = self._ask(claim, level, near)
            if answer.possible is not False:
                exact = self._as_proposed(claim, proposal)
                answer = self._ask(exact, level, near) if exact.on else answer
            if answer.possible is False:
                refuted = exact
                yield from self._refute(exact, near)
            elif answer.possible is None:
                doubtful = exact if doubtful is None else doubtful
            built.append((exact, answer))
        fresh = len(self.conflicts) > before
        if refuted is not None and not fresh:
            doubtful = refuted  # by what was learned while the proposal was on its way
        if fresh or doubtful is not None:
            yield Verdict(fresh, asserted=self._conflict(doubtful) if doubtful is not None else None)
            return
        yield from self._short_of_holes(proposal, built, level)
        if len(self.conflicts) > before:
            yield Verdict(refuted=True)
            return
        if len({i for i, _ in proposal.strip}) < len(self.p.items):
            yield Verdict()  # the rest of the circuit was left out, and there is nothing more to find without it
            return
        places = stack(self.p, [(self.clusters.frame(claim), answer) for claim, answer in built])
        wiring = wire(self.p, places) if places is not None and is_legal(self.p, places) else None
        if wiring is not None and len(wiring.wires) <= self._jumpers(proposal):
            yield Verdict(places=places, asserted=self._whole(proposal))
            return
        yield Verdict(asserted=self._whole(proposal), lasting=True, start=places)

    def _whole(self, proposal: Proposal) -> Conflict:
        """All that a proposal says of sharing."""
        groups = tuple(g for c in self._claims(proposal) for g in c.groups)
        return self._conflict(Claim(frozenset(), groups, spare=self._spare(proposal)))

    def _jumpers(self, proposal: Proposal) -> int:
        """How many jumpers a proposal is to cost."""
        on, p = proposal.strip, self.p
        saved = [p.items[i].nets[k] for i, k, j, m in p.joins if on[i, k] != on[j, m]]
        pieces = sum(max(0, len({on[q] for q in pins}) - 1 - saved.count(n)) for n, pins in self._pins_of.items())
        return pieces + sum(proposal.helped.values())

    def _short_of_holes(self, proposal: Proposal, built: list[tuple[Claim, Answer]], level: int) -> Iterator[None]:
        """Forbid clusters, each of which can stand, that leave nets too few holes for the wires between them.

        Where each can leave its share, ``built`` is put in the places of such an answer.
        """
        most: dict[Spare, dict[int, tuple[int, Claim]]] = {}  # cluster -> holes to spare there, and why no more
        for whole in sorted(self._spare(proposal)):
            own = [len(self._own(whole.net, claim)) for claim, _ in built]
            parts = [c for c, pins in enumerate(own) if pins]
            if len(parts) < 2 or sum(own) < whole.pins:  # or some of it was left out
                continue
            most[whole] = {}
            for c in parts:
                most[whole][c] = self._most_spare(built[c][0], whole)
                yield None
            if sum(spare for spare, _ in most[whole].values()) < whole.least:
                self._add(joined([cause for _, cause in most[whole].values()], [whole[:2]]))
                return
        for c, (claim, _) in enumerate(built):
            # What the other clusters cannot leave, this one must.
            shares = [
                w._replace(least=w.least - sum(of[o][0] for o in of if o != c), pins=len(self._own(w.net, claim)))
                for w, of in most.items()
                if c in of
            ]
            asked = replace(claim, spare=claim.spare.union(shares))
            answer = self._ask(asked, level, None)
            yield None
            if answer.possible:
                built[c] = claim, answer
            elif answer.possible is False:
                short = self._shrink(asked)
                told = {spare[:2] for spare in short.spare}
                others = [of[o][1] for w, of in most.items() if w[:2] in told for o in of if o != c]
                self._add(joined([short, *others], told))
                return

    def _own(self, n: int, claim: Claim) -> list[Pin]:
        return [q for q in self._pins_of[n] if q[0] in claim.items]

    def _most_spare(self, claim: Claim, whole: Spare) -> tuple[int, Claim]:
        """How many holes a net can have to spare on a cluster's strips, and what of the cluster allows no more."""
        pins = self._own(whole.net, claim)
        own = tuple(g for g in claim.groups if not g.isdisjoint(pins))
        alone = len(pins) - sum(len(g) for g in own)
        room = int(self.seen.room.max())
        most = alone * self.clusters.slack + sum(room - len(g) - 2 for g in own)
        cause = Claim(frozenset(i for g in own for i, _ in g), own)
        claim = replace(claim, spare=frozenset())
        while self._refuted_whole(
            asked := replace(claim, spare=frozenset([whole._replace(least=most, pins=len(pins))]))
        ):
            most -= 1
            cause = asked
        return most, self._shrink(cause) if cause.spare else cause

    def _ask(self, claim: Claim, level: int, near: Collection[int] | None) -> Answer:
        """Small pieces of a large cluster first: what refutes a piece refutes the whole, and is found sooner."""
        if self._forbidden(claim) or any(self._refuted_whole(piece) for piece in self._pieces(claim, near)):
            return Answer(False)
        steps, work = LEVELS[min(level, len(LEVELS) - 1)]
        return self.clusters.ask(claim, steps, work * 4 ** max(0, min(level, MOST_LEVEL) - len(LEVELS) + 1))

    def _pieces(self, claim: Claim, near: Collection[int] | None) -> Iterator[Claim]:
        for size in PIECES:
            if len(claim.items) > size:
                yield from pieces(claim, size, near=near)

    def _refute(self, claim: Claim, near: Collection[int] | None) -> Iterator[None]:
        """Forbid what makes a claim impossible: a conflict in each piece of it that is, or else in the whole."""
        for piece in self._pieces(claim, near):
            if not self._forbidden(piece) and self._refuted_whole(piece):
                self._add(self._shrink(piece))
            yield
        if not self._forbidden(claim):
            self._add(self._shrink(claim, SHRINK_STEPS, SHRINK_WORK))
            yield

    def _forbidden(self, claim: Claim) -> bool:
        """True when a known conflict is part of the claim."""
        pairs = frozenset(pair for g in claim.groups for pair in itertools.combinations(sorted(g), 2))
        on = frozenset((pin, int(self.seen.of_board[s])) for pin, s in claim.on)
        return self.conflicts.within(Conflict(pairs, claim.long, claim.wired, on, unhelped=self._helped_least(claim)))

    def _helped_least(self, claim: Claim) -> frozenset[tuple[int, int]]:
        """So many empty strips at most, and therefore more at most."""
        return frozenset((s.net, j) for s in claim.spare for j in range(s.helped, len(self._pins_of[s.net])))

    def _as_proposed(self, claim: Claim, proposal: Proposal) -> Claim:
        """The claim with its long strips as they were proposed."""
        back = {int(s): b for b, s in enumerate(self.seen.of_board) if s >= 0}
        on = frozenset((pin, back[proposal.strip[pin]]) for pin in claim.long if proposal.strip[pin] in back)
        return replace(claim, on=on)

    def _is_long(self, strip: int) -> bool:
        return strip < self.seen.n_strips and bool(self.seen.room[strip] > LONG)

    def _claims(self, proposal: Proposal) -> Iterator[Claim]:
        """The clusters of a proposal: parts tied together by shared short strips."""
        on: dict[tuple[int, int], list[Pin]] = {}
        for (i, k), s in proposal.strip.items():
            on.setdefault((s, self.p.items[i].nets[k]), []).append((i, k))
        spare = self._spare(proposal)
        graph = nx.Graph()
        graph.add_nodes_from(sorted({i for i, _ in proposal.strip}))
        groups = []
        for (s, _), pins in on.items():
            if not self._is_long(s) and len(pins) > 1:
                groups.append(frozenset(pins))
                graph.add_edges_from(itertools.pairwise([i for i, _ in pins]))
        for comp in sorted(nx.connected_components(graph), key=min):
            own = tuple(sorted((g for g in groups if next(iter(g))[0] in comp), key=sorted))
            long = frozenset(pin for pin, s in proposal.strip.items() if pin[0] in comp and self._is_long(s))
            wired = frozenset(n for i in comp for n in self.p.items[i].nets if n in proposal.several)
            yield self.clusters.telling(Claim(frozenset(comp), own, long, wired, spare=spare))

    def _spare(self, proposal: Proposal) -> frozenset[Spare]:
        """What nets need that are wired from strip to strip of their own, and over as few empty ones as proposed."""
        if (self.seen.room > LONG).any():
            return frozenset()  # there are holes enough on a long strip
        strips: dict[int, set[int]] = {}
        for (i, k), s in proposal.strip.items():
            strips.setdefault(self.p.items[i].nets[k], set()).add(s)
        found = []
        for n, own in strips.items():
            helped, pins = proposal.helped.get(n, 0), len(self._pins_of[n])
            if len(own) > 2 and n not in self._joined:
                found.append(Spare(n, helped, -2 - helped * (max(0, int(self.seen.room.max()) - 2)), pins))
        return frozenset(found)

    # Conflicts.

    def _refuted(self, claim: Claim, steps: int = QUICK_STEPS, deep: float = 0.0) -> bool:
        """True when one of the claim's connected parts cannot be; ``_rests`` then tells what that rests on."""
        return any(self._refuted_whole(part, steps, deep) for part in connected(claim))

    def _refuted_whole(self, claim: Claim, steps: int = QUICK_STEPS, deep: float = 0.0) -> bool:
        """The same of a claim that is connected."""
        if self.clusters.ask(claim, steps, deep).possible is False:
            self._rests = self.clusters.rests_on
            return True
        return False

    def _shrink(self, claim: Claim, steps: int = QUICK_STEPS, deep: float = 0.0) -> Claim:
        """A conflict within a refuted claim from which nothing can be dropped (as far as a quick look tells)."""
        none: frozenset[Any] = frozenset()

        def refuted(fewer: Claim) -> bool:
            return self._refuted(fewer, steps)

        def follow(deep: float = 0.0) -> None:
            """As far as the refutations themselves tell what they rest on."""
            nonlocal claim
            while self._rests is not None and self._rests < claim.items:
                hinted = only(claim, self._rests)
                if not hinted.items or not self._refuted(hinted, steps, deep):
                    break
                claim = hinted

        def drop(fewer: Claim) -> None:
            nonlocal claim
            if fewer != claim and fewer.items and refuted(fewer):
                claim = fewer
                follow()

        def narrow() -> None:
            nonlocal claim
            claim = next((part for part in connected(claim) if refuted(part)), claim)

        self._refuted(claim, steps, deep)
        follow(deep)
        narrow()
        drop(replace(claim, spare=none))
        drop(replace(claim, wired=none))
        drop(replace(claim, on=none))
        drop(replace(claim, long=none, on=none))
        for i in sorted(claim.items):
            if i in claim.items:
                drop(only(claim, claim.items - {i}))
        narrow()
        for pin in sorted({q for g in claim.groups for q in g}):
            drop(without_pin(claim, pin))
        narrow()
        for assertion in sorted(claim.on):
            drop(replace(claim, on=claim.on - {assertion}))
        for pin in sorted(claim.long):
            drop(replace(claim, long=claim.long - {pin}))
        for n in sorted(claim.wired):
            drop(replace(claim, wired=claim.wired - {n}))
        for least in sorted(claim.spare):
            drop(replace(claim, spare=claim.spare - {least}))
        return self.clusters.telling(claim)

    def _conflict(self, claim: Claim, pin_map: dict[Pin, Pin] | None = None, turn: int = 0) -> Conflict:
        """What a claim says, of other pins where they are given, and of a turned board."""
        at = pin_map if pin_map is not None else {}
        pairs = set()
        for g in claim.groups:
            first, *rest = sorted(at.get(q, q) for q in g)
            pairs |= {(first, other) for other in rest}
        net = {
            self.p.items[q[0]].nets[q[1]]: self.p.items[image[0]].nets[image[1]] for q, image in (pin_map or {}).items()
        }
        strips = self.turns[turn]
        return Conflict(
            frozenset(pairs),
            frozenset(at.get(q, q) for q in claim.long),
            frozenset(net.get(n, n) for n in claim.wired),
            frozenset((at.get(q, q), int(self.seen.of_board[strips[s]])) for q, s in claim.on),
            unhelped=frozenset((net.get(spare.net, spare.net), spare.helped) for spare in claim.spare),
        )

    def _add(self, claim: Claim) -> None:
        """Forbid a conflict and its copies among parts of the same shapes."""
        for pin_map in itertools.islice(self._copies.of(claim), MOST_COPIES):
            for turn in range(len(self.turns) if claim.on else 1):
                self.conflicts.add(self._conflict(claim, pin_map, turn))
        self._own_work += 2e-3
