"""The cheapest cuts and jumpers for parts that have their places, by exhaustion.

Part of the exhaustive search that the tests hold against the engine. Everything a judge would accept is tried: every
place for every cut, more cuts than pins need, and empty copper as a junction of several wires.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from placer.boards.model import Strip
from tests.solve.poses import Ground


class TooLargeError(Exception):
    """The case has more to try than a test may take."""


class Meter:
    """Counts what has been tried in one case."""

    def __init__(self, most: int) -> None:
        self.left = most

    def spend(self, steps: int) -> None:
        """Raise TooLargeError when the case has used up its steps."""
        self.left -= steps
        if self.left < 0:
            raise TooLargeError


@dataclass(frozen=True)
class Severing:
    """One way to sever a strip: drilled holes, knife cuts (first hole of the two), and the pieces that remain."""

    drilled: tuple[int, ...]
    knifed: tuple[int, ...]
    pieces: tuple[tuple[int, ...], ...]

    @property
    def cuts(self) -> int:
        """How many cuts this is."""
        return len(self.drilled) + len(self.knifed)


@dataclass(frozen=True)
class Network:
    """Cuts, and for each net the pieces of free holes that its wires must join (junctions last)."""

    cost: float
    jumpers: int
    cuts: int
    severings: tuple[Severing, ...]
    groups: dict[int, list[list[int]]] = field(compare=False, hash=False, default_factory=dict)
    junctions: dict[int, int] = field(compare=False, hash=False, default_factory=dict)  # net -> how many of its groups

    def wires(self) -> list[tuple[int, int, int]]:
        """(net, hole, hole) of a tree for each net."""
        return [
            (net, a, b)
            for net, groups in sorted(self.groups.items())
            for a, b in _tree(groups, self.junctions.get(net, 0))
        ]


@dataclass(frozen=True)
class Standing:
    """Parts in their places: net of each hole (-1: no pin), holes that take a wire end, joins made inside parts."""

    owner: tuple[int, ...]
    open_hole: tuple[bool, ...]
    joins: tuple[tuple[int, int], ...]


def severable(strip: Strip, *, allow_cuts: bool) -> tuple[bool, bool]:
    """Whether a strip may be cut (at a hole, between holes)."""
    if not (allow_cuts and strip.is_path):
        return False, False
    return strip.cut.at_hole, strip.cut.between


def cheapest(
    ground: Ground,
    at: Standing,
    budget: float,
    meter: Meter,
    *,
    jumper_cost: float,
    cut_cost: float,
    allow_cuts: bool,
) -> Network | None:
    """The cheapest network that costs no more than ``budget``; None when there is none.

    Raises TooLargeError when ``meter`` runs out.
    """
    first = 0
    bounds = []
    for strip in ground.board.strips:
        bounds.append((first, first + len(strip.holes), *severable(strip, allow_cuts=allow_cuts)))
        first += len(strip.holes)
    least = [_changes(at.owner[a:b]) for a, b, _, _ in bounds]
    base = sum(least)
    best: Network | None = None
    ways: dict[tuple[int, int], list[Severing]] = {}
    most_extra = sum(b - a for a, b, hole, knife in bounds if hole or knife)
    for extra in range(most_extra + 1):
        ceiling = budget if best is None else min(budget, best.cost - 1e-9)
        # A cut more than the pins need can only make junctions: each of those costs one jumper as well.
        if cut_cost * (base + extra) + (jumper_cost if extra else 0.0) > ceiling + 1e-9:
            break
        for spread in _spreads(extra, [b - a if hole or knife else 0 for a, b, hole, knife in bounds]):
            options: list[list[Severing]] = []
            for s, more in enumerate(spread):
                a, b, hole, knife = bounds[s]
                if (s, more) not in ways:
                    meter.spend(math.comb((b - a) * (hole + knife), least[s] + more) // 8)
                    ways[s, more] = list(_severings(at, a, b, least[s] + more, hole=hole, knife=knife))
                options.append(ways[s, more])
            size = 1
            for some in options:
                size *= len(some)
            meter.spend(1 + size)
            for choice in itertools.product(*options):
                ceiling = budget if best is None else min(budget, best.cost - 1e-9)
                found = _joined(at, choice, ceiling, jumper_cost, cut_cost)
                if found is not None:
                    best = found
    return best


def _changes(owners: Sequence[int]) -> int:
    stood = [n for n in owners if n >= 0]
    return sum(a != b for a, b in itertools.pairwise(stood))


def _spreads(total: int, room: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Every way to give ``total`` extra cuts to the strips."""
    if not room:
        if total == 0:
            yield ()
        return
    for here in range(min(total, room[0]) + 1):
        for rest in _spreads(total - here, room[1:]):
            yield (here, *rest)


def _severings(at: Standing, a: int, b: int, cuts: int, *, hole: bool, knife: bool) -> Iterator[Severing]:
    """Ways to sever the strip of holes a..b-1 with so many cuts; of those that leave the same, one."""
    sites: list[tuple[str, int]] = []
    if hole:
        sites += [("hole", h) for h in range(a, b) if at.owner[h] < 0]
    if knife:
        sites += [("knife", h) for h in range(a, b - 1)]
    seen = set()
    for chosen in itertools.combinations(sites, cuts):
        drilled = tuple(h for kind, h in chosen if kind == "hole")
        knifed = tuple(h for kind, h in chosen if kind == "knife")
        pieces: list[list[int]] = [[]]
        for h in range(a, b):
            if h in drilled:
                pieces.append([])
                continue
            pieces[-1].append(h)
            if h in knifed:
                pieces.append([])
        kept = tuple(tuple(piece) for piece in pieces if piece)
        owners = [{at.owner[h] for h in piece if at.owner[h] >= 0} for piece in kept]
        if any(len(some) > 1 for some in owners):
            continue
        mark = tuple(
            (tuple(h for h in piece if at.owner[h] >= 0), sum(at.open_hole[h] for h in piece)) for piece in kept
        )
        if mark not in seen:
            seen.add(mark)
            yield Severing(drilled, knifed, kept)


def _joined(
    at: Standing, choice: Sequence[Severing], ceiling: float, jumper_cost: float, cut_cost: float
) -> Network | None:
    """The fewest jumpers for one way of severing, when that costs no more than ``ceiling``."""
    cuts = sum(s.cuts for s in choice)
    pieces = [piece for s in choice for piece in s.pieces]
    piece_of = {h: i for i, piece in enumerate(pieces) for h in piece}
    lead = list(range(len(pieces)))

    def root(i: int) -> int:
        while lead[i] != i:
            i = lead[i]
        return i

    for a, b in at.joins:
        lead[root(piece_of[a])] = root(piece_of[b])
    groups: dict[int, dict[int, list[int]]] = {}
    empty: list[list[int]] = []
    for i, piece in enumerate(pieces):
        owners = [at.owner[h] for h in piece if at.owner[h] >= 0]
        free = [h for h in piece if at.open_hole[h]]
        if owners:
            groups.setdefault(owners[0], {}).setdefault(root(i), []).extend(free)
        elif len(free) > 2:  # a junction of two wires is one wire with a detour
            empty.append(free)
    need: dict[int, int] = {}
    jumpers = 0
    for net, parts in groups.items():
        if len(parts) > 1:
            jumpers += len(parts) - 1
            if any(not free for free in parts.values()):
                return None
            need[net] = 2 * (len(parts) - 1) - sum(map(len, parts.values()))
    if jumper_cost * jumpers + cut_cost * cuts > ceiling + 1e-9:
        return None
    extra = _junctions([(net, want) for net, want in sorted(need.items()) if want > 0], empty)
    if extra is None:
        return None
    jumpers += sum(map(len, extra.values()))
    cost = jumper_cost * jumpers + cut_cost * cuts
    if cost > ceiling + 1e-9:
        return None
    joined = {n: [*groups[n].values(), *extra.get(n, [])] for n in need}
    return Network(cost, jumpers, cuts, tuple(choice), joined, {n: len(j) for n, j in extra.items()})


def _junctions(wants: list[tuple[int, int]], empty: list[list[int]]) -> dict[int, list[list[int]]] | None:
    """The fewest empty pieces that make up for missing wire-end holes: one of f free holes wins f - 2."""
    if not wants:
        return {}
    (net, want), rest = wants[0], wants[1:]
    best: dict[int, list[list[int]]] | None = None
    for count in range(1, len(empty) + 1):
        for taken in itertools.combinations(range(len(empty)), count):
            if sum(len(empty[i]) - 2 for i in taken) < want:
                continue
            others = _junctions(rest, [e for i, e in enumerate(empty) if i not in taken])
            if others is None:
                continue
            found = {net: [empty[i] for i in taken], **others}
            if best is None or sum(map(len, found.values())) < sum(map(len, best.values())):
                best = found
    return best


def _tree(groups: list[list[int]], junctions: int) -> list[tuple[int, int]]:
    """A tree of wires over groups of free holes; each group has a hole for each of its wires."""
    k = len(groups)
    degree = [1] * (k - junctions) + [2] * junctions
    spare = 2 * (k - 1) - sum(degree)
    for i in sorted(range(k), key=lambda i: i < k - junctions):
        more = min(spare, len(groups[i]) - degree[i])
        degree[i] += more
        spare -= more
    assert spare == 0, "too few holes for a tree"
    left = [list(group) for group in groups]
    wires = []
    for _ in range(k - 1):
        leaf = min((i for i in range(k) if degree[i] == 1), default=-1)
        mate = max((i for i in range(k) if i != leaf), key=lambda i: degree[i])
        wires.append((left[leaf].pop(), left[mate].pop()))
        degree[leaf] -= 1
        degree[mate] -= 1
    return wires
