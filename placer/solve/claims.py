"""Claims about clusters of parts, and what can be done with them: take parts out, break them up, copy them."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import networkx as nx

from placer.circuit.model import Place
from placer.solve.problem import Problem

Pin = tuple[int, int]
"""(item, pin index)."""


@dataclass(frozen=True)
class Claim:
    """What is asserted of a cluster.

    ``groups``: pins that share a short strip, or one segment of a strip that may be severed; ``long``: pins on a long
    strip; ``wired``: nets that need a free hole on each strip or segment; ``on``: pins on a certain long strip of the
    board (one that looks the same from wherever the anchor is); ``apart``: pairs of pins on different strips.
    """

    items: frozenset[int]
    groups: tuple[frozenset[Pin], ...]
    long: frozenset[Pin] = frozenset()
    wired: frozenset[int] = frozenset()
    on: frozenset[tuple[Pin, int]] = frozenset()
    apart: frozenset[tuple[Pin, Pin]] = frozenset()


@dataclass(frozen=True)
class Answer:
    """``possible``: True, False, or None when the search was cut short. ``places``: item -> (shape, line, across)."""

    possible: bool | None
    places: dict[int, tuple[int, int, int]] | None = None


def only(claim: Claim, items: frozenset[int], least: int = 2) -> Claim:
    """What a claim says of some of its items; groups of fewer than ``least`` pins say nothing."""
    groups = (frozenset(q for q in g if q[0] in items) for g in claim.groups)
    kept = tuple(g for g in groups if len(g) >= least)
    return _tidy(
        Claim(
            items,
            kept,
            frozenset(q for q in claim.long if q[0] in items),
            claim.wired,
            frozenset(a for a in claim.on if a[0][0] in items),
            claim.apart,
        )
    )


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


def ties(claim: Claim) -> nx.Graph:
    """The claim's items, tied where they share a group."""
    graph = nx.Graph()
    graph.add_nodes_from(sorted(claim.items))
    for g in claim.groups:
        graph.add_edges_from(itertools.combinations(sorted({i for i, _ in g}), 2))
    return graph


def connected(claim: Claim, least: int = 2) -> list[Claim]:
    """A claim's parts that hang together by its groups."""
    return [only(claim, frozenset(comp), least) for comp in sorted(nx.connected_components(ties(claim)), key=min)]


def pieces(claim: Claim, size: int, least: int = 2) -> Iterator[Claim]:
    """Connected pieces of a cluster, grown breadth first round each part."""
    graph = ties(claim)
    seen = set()
    for i in sorted(claim.items):
        keep = frozenset([i, *(b for _, b in nx.bfs_edges(graph, i))][:size])
        if keep not in seen:
            seen.add(keep)
            yield only(claim, keep, least)


def unbound(p: Problem) -> list[bool]:
    """For each item: no wish holds it, so that it stands for any other of its shapes."""
    return [p.circuit.part_by_ref[item.ref].place == Place() for item in p.items]


def copies(
    p: Problem, item_shape: Sequence[int], plain: Sequence[bool], conflict: Claim
) -> Iterator[tuple[dict[Pin, Pin], dict[int, int]]]:
    """Ways to map a conflict onto parts of the same shapes and freedom; nets that differ stay apart."""
    order = _linked_order(conflict)
    group_of = {q: g for g, pins in enumerate(conflict.groups) for q in pins}

    def fits(pin_map: dict[Pin, Pin], old: Pin, new: Pin) -> bool:
        old_net, new_net = p.items[old[0]].nets[old[1]], p.items[new[0]].nets[new[1]]
        for q, image in pin_map.items():
            q_net, image_net = p.items[q[0]].nets[q[1]], p.items[image[0]].nets[image[1]]
            if q_net != old_net and image_net == new_net:
                return False
            if (
                (q in group_of and group_of.get(q) == group_of.get(old))
                or (q_net == old_net and old_net in conflict.wired)
            ) and image_net != new_net:
                return False
        return True

    def extend(at: int, pin_map: dict[Pin, Pin], used: frozenset[int]) -> Iterator[dict[Pin, Pin]]:
        if at == len(order):
            yield dict(pin_map)
            return
        i = order[at]
        item = p.items[i]
        for j in range(len(p.items)):
            same = j == i
            if j in used or item_shape[j] != item_shape[i]:
                continue
            if not same and not (plain[i] and plain[j]):
                continue
            turns = [tuple(range(len(item.pins)))]
            if len(item.pins) == 2 and plain[i] and plain[j]:
                turns.append((1, 0))
            for turn in turns:
                added: dict[Pin, Pin] = {}
                good = True
                for k in range(len(item.pins)):
                    both = {**pin_map, **added}
                    if not fits(both, (i, k), (j, turn[k])):
                        good = False
                        break
                    added[i, k] = (j, turn[k])
                if good:
                    yield from extend(at + 1, {**pin_map, **added}, used | {j})

    for pin_map in extend(0, {}, frozenset()):
        net_map = {p.items[q[0]].nets[q[1]]: p.items[image[0]].nets[image[1]] for q, image in pin_map.items()}
        yield pin_map, net_map


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
