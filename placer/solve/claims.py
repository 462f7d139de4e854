"""Claims about clusters of parts, and what can be done with them: take parts out, break them up, copy them."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import networkx as nx

from placer.solve.problem import Problem

MOST_STEPS = 1_000  # in the search for copies of one conflict

Pin = tuple[int, int]
"""(item, pin index)."""


class Spare(NamedTuple):
    """That ``pins`` pins of a net are on strips with ``least`` free holes in all beyond two each.

    A net in k pieces needs 2 (k - 1) free holes, two less than two each, where no strip of its own that is empty helps;
    each that does gives some. ``helped``: so many empty strips.
    """

    net: int
    helped: int
    least: int
    pins: int


@dataclass(frozen=True)
class Claim:
    """What is asserted of a cluster.

    ``groups``: pins that share a short strip, or one segment of a strip that may be severed; ``long``: pins on a long
    strip; ``wired``: nets that need a free hole on each strip or segment, but where a part joins their pins inside;
    ``spare``: what :class:`Spare` says of nets; ``on``: pins on a certain long strip of the board (one that looks the
    same from wherever the anchor is); ``apart``: pairs of pins on different strips.
    """

    items: frozenset[int]
    groups: tuple[frozenset[Pin], ...]
    long: frozenset[Pin] = frozenset()
    wired: frozenset[int] = frozenset()
    on: frozenset[tuple[Pin, int]] = frozenset()
    apart: frozenset[tuple[Pin, Pin]] = frozenset()
    spare: frozenset[Spare] = frozenset()


@dataclass(frozen=True)
class Answer:
    """``possible``: True, False, or None when the search was cut short. ``places``: item -> (shape, line, across)."""

    possible: bool | None
    places: dict[int, tuple[int, int, int]] | None = None


def only(claim: Claim, items: frozenset[int], least: int = 2) -> Claim:
    """What a claim says of some of its items; groups of fewer than ``least`` pins say nothing."""
    # Plain lists: this is asked tens of thousands of times.
    pins = [[q for q in g if q[0] in items] for g in claim.groups]
    kept = tuple([frozenset(own) for own in pins if len(own) >= least])
    long = frozenset([q for q in claim.long if q[0] in items])
    on = frozenset([a for a in claim.on if a[0][0] in items])
    return _tidy(Claim(items, kept, long, claim.wired, on, claim.apart, claim.spare))


def without_pin(claim: Claim, pin: Pin, least: int = 2) -> Claim:
    """A claim that says nothing of a pin's group."""
    groups = tuple(g for g in (g - {pin} for g in claim.groups) if len(g) >= least)
    return _tidy(replace(claim, groups=groups))


def _tidy(claim: Claim) -> Claim:
    """Pairs that are apart need both pins in a group; another pin of the group stands in for one that is gone."""
    if not claim.apart:
        return claim
    present = {q for g in claim.groups for q in g}
    return replace(claim, apart=frozenset(pair for pair in claim.apart if present.issuperset(pair)))


def joined(claims: Sequence[Claim], helped: Collection[tuple[int, int]]) -> Claim:
    """What some claims say together, and that nets are helped by so many empty strips at most."""
    return Claim(
        frozenset[int]().union(*(claim.items for claim in claims)),
        tuple(g for claim in claims for g in claim.groups),
        frozenset[Pin]().union(*(claim.long for claim in claims)),
        frozenset[int]().union(*(claim.wired for claim in claims)),
        frozenset[tuple[Pin, int]]().union(*(claim.on for claim in claims)),
        spare=frozenset(Spare(n, j, 0, 0) for n, j in helped),
    )


def ties(claim: Claim) -> nx.Graph:
    """The claim's items, tied where they share a group."""
    graph = nx.Graph()
    graph.add_nodes_from(sorted(claim.items))
    for g in claim.groups:
        graph.add_edges_from(itertools.combinations(sorted({i for i, _ in g}), 2))
    return graph


def connected(claim: Claim, least: int = 2) -> list[Claim]:
    """A claim's parts that hang together by its groups."""
    graph = nx.Graph()
    graph.add_nodes_from(claim.items)
    for g in claim.groups:
        graph.add_edges_from(itertools.pairwise({i for i, _ in g}))
    return [only(claim, frozenset(comp), least) for comp in sorted(nx.connected_components(graph), key=min)]


def pieces(claim: Claim, size: int, least: int = 2, near: Collection[int] | None = None) -> Iterator[Claim]:
    """Connected pieces of a cluster, grown breadth first round each part (of ``near``, where given)."""
    graph = ties(claim)
    seen = set()
    for i in sorted(claim.items if near is None else claim.items.intersection(near)):
        keep = frozenset([i, *(b for _, b in itertools.islice(nx.bfs_edges(graph, i), size - 1))])
        if keep not in seen:
            seen.add(keep)
            yield only(claim, keep, least)


def unbound(p: Problem) -> list[bool]:
    """For each item: no wish holds it, so that it stands for any other of its shapes, its pins in any order."""
    own = set(p.owner.tolist()) - {-1}
    return [p.circuit.part_by_ref[item.ref].place.free and own.isdisjoint(item.nets) for item in p.items]


class Copies:
    """Maps conflicts onto other parts of the same shapes and freedom."""

    def __init__(self, p: Problem) -> None:
        self.p = p
        self._slack = int(p.slen.max()) > 3
        self._plain = unbound(p)
        self._left = 0
        # Parts that differ in what they join inside are not alike: copper hangs by the one and not by the other.
        inside: dict[int, set[int]] = {}
        for i, k, j, m in p.joins:
            inside.setdefault(i, set()).add(k)
            inside.setdefault(j, set()).add(m)
        self._kind = [(like, frozenset(inside.get(i, ()))) for i, like in enumerate(p.like)]
        self._alike: dict[tuple[int, frozenset[int]], list[int]] = {}
        self._pins: dict[int, list[Pin]] = {}
        self._joined = {p.items[i].nets[k] for i, k, _, _ in p.joins}
        for i, item in enumerate(p.items):
            self._alike.setdefault(self._kind[i], []).append(i)
            for k, n in enumerate(item.nets):
                self._pins.setdefault(n, []).append((i, k))

    def of(self, conflict: Claim) -> Iterator[dict[Pin, Pin]]:
        """Ways to map the pins of a conflict's items, the conflict itself among them; nets that differ stay apart."""
        order = _linked_order(conflict)
        group_of = {q: g for g, pins in enumerate(conflict.groups) for q in pins}
        self._left = MOST_STEPS
        yield {(i, k): (i, k) for i in order for k in range(len(self.p.items[i].pins))}
        nets = {spare.net for spare in conflict.spare}
        for done in self._extend(order, 0, group_of, conflict.wired | nets, _Mapping()):
            if all(self._stands_for(done.wired_net.get(n, n), n) for n in nets):
                yield done.pins

    def _stands_for(self, image: int, n: int) -> bool:
        """True when a net has no more free holes than another by what is not mapped: pins elsewhere, joins in parts."""
        more = len(self._pins[image]) - len(self._pins[n])
        return image not in self._joined and (more <= 0 or not self._slack)

    def _extend(
        self, order: Sequence[int], at: int, group_of: dict[Pin, int], wired: frozenset[int], done: _Mapping
    ) -> Iterator[_Mapping]:
        if at == len(order):
            yield done
            return
        p, i = self.p, order[at]
        pins = range(len(p.items[i].pins))
        turns = [tuple(pins)]
        if len(pins) == 2 and self._plain[i]:
            turns.append((1, 0))
        tied = next((k for k in pins if group_of.get((i, k), -1) in done.group_net), None)
        if tied is None:
            others = self._alike[self._kind[i]]
        else:
            there = self._pins.get(done.group_net[group_of[i, tied]], ())
            others = sorted({j for j, _ in there if self._kind[j] == self._kind[i]})
        for j in others:
            self._left -= 1
            if self._left < 0:
                return
            if j in done.used or (j != i and not (self._plain[i] and self._plain[j])):
                continue
            for turn in turns:
                further = done.with_item(p, i, j, turn, group_of, wired)
                if further is not None:
                    yield from self._extend(order, at + 1, group_of, wired, further)


class _Mapping:
    """Pins mapped so far, and what follows for the nets."""

    def __init__(self) -> None:
        self.pins: dict[Pin, Pin] = {}
        self.used: frozenset[int] = frozenset()
        self.old_of: dict[int, int] = {}  # net of the image -> net that it stands for
        self.group_net: dict[int, int] = {}  # group -> net of its image
        self.wired_net: dict[int, int] = {}  # net in several pieces -> net of its image

    def with_item(
        self, p: Problem, i: int, j: int, turn: tuple[int, ...], group_of: dict[Pin, int], wired: frozenset[int]
    ) -> _Mapping | None:
        """The mapping with item i standing for j, its pins turned; None where nets would not agree."""
        for k, m in enumerate(turn):
            old, image = p.items[i].nets[k], p.items[j].nets[m]
            if (
                self.old_of.get(image, old) != old
                or self.group_net.get(group_of.get((i, k), -1), image) != image
                or self.wired_net.get(old, image) != image
            ):
                return None
        new = _Mapping()
        new.pins, new.old_of = dict(self.pins), dict(self.old_of)
        new.group_net, new.wired_net = dict(self.group_net), dict(self.wired_net)
        new.used = self.used | {j}
        for k, m in enumerate(turn):
            old, image = p.items[i].nets[k], p.items[j].nets[m]
            if new.old_of.setdefault(image, old) != old:
                return None
            g = group_of.get((i, k))
            if g is not None and new.group_net.setdefault(g, image) != image:
                return None
            if old in wired and new.wired_net.setdefault(old, image) != image:
                return None
            new.pins[i, k] = (j, m)
        return new


def _linked_order(claim: Claim) -> list[int]:
    """The claim's items, each (after the first) sharing a group with an earlier one where possible."""
    order: list[int] = []
    left = set(claim.items)
    while left:
        linked = [i for i in left if any(q[0] == i and any(r[0] in order for r in g) for g in claim.groups for q in g)]
        nxt = min(linked or left)
        order.append(nxt)
        left.discard(nxt)
    return order
