"""The quick look for places of a cluster, and holes to spare, against every way to put a few parts on a small board."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator

import pytest

from placer.errors import PlacerError
from placer.plan.model import Options
from placer.solve import cluster, clusterwalk
from placer.solve.arrays import covered
from placer.solve.claims import Claim, Pin, Spare
from placer.solve.cluster import Clusters
from placer.solve.problem import Problem, build
from placer.solve.touching import touches
from tests.solve.cases import any_circuit, board_of
from tests.solve.kinds import case

SEEDS = range(40)
MOST = 60_000  # ways to put the parts of a claim that are tried one by one


def claims_of(p: Problem, dice: random.Random) -> Iterator[Claim]:
    """Claims about two or three parts that share strips, with and without holes to spare."""
    pins: dict[int, list[Pin]] = {}
    for i, item in enumerate(p.items):
        for k, n in enumerate(item.nets):
            pins.setdefault(n, []).append((i, k))
    shared = [n for n, own in pins.items() if len({i for i, _ in own}) > 1]
    for _ in range(8 if shared else 0):
        n = dice.choice(shared)
        group = frozenset(dice.sample(pins[n], 2))
        others = dice.sample(range(len(p.items)), min(len(p.items), 3))
        items = frozenset([*(i for i, _ in group), *others][:3])
        m = dice.choice(list(pins))
        here = sum(i in items for i, _ in pins[m])
        wired = frozenset([m]) if dice.random() < 0.3 else frozenset[int]()
        spare = frozenset([Spare(m, 0, dice.randint(-2 * here, 0), here)]) if here else frozenset[Spare]()
        yield Claim(items, (group,), wired=wired, spare=spare)


def claim_of_all(p: Problem, dice: random.Random) -> Claim:
    """A claim about all parts, in which most pins share a strip."""
    groups = []
    for n in sorted({n for item in p.items for n in item.nets}):
        pins = [(i, k) for i, item in enumerate(p.items) for k, m in enumerate(item.nets) if m == n]
        dice.shuffle(pins)
        size = dice.choice((2, 2, 3))
        groups += [frozenset(pins[at : at + size]) for at in range(0, len(pins) - 1, size)]
    return Claim(frozenset(range(len(p.items))), tuple(g for g in groups if len(g) > 1))


def can_be(p: Problem, claim: Claim) -> bool | None:
    """Whether a claim can be, by trying every way; None where there are too many."""
    items = sorted(claim.items)
    ways = [[(no, int(a)) for no, way in enumerate(p.items[i].ways) for a in way] for i in items]
    count = 1
    for own in ways:
        count *= len(own)
    if count > MOST:
        return None
    return any(_keeps(p, claim, dict(zip(items, choice, strict=True))) for choice in itertools.product(*ways))


def _keeps(p: Problem, claim: Claim, at: dict[int, tuple[int, int]]) -> bool:
    strip: dict[Pin, int] = {}
    taken: dict[int, set[int]] = {}
    for i, (no, anchor) in at.items():
        shape = p.items[i].shapes[no]
        x, y = int(p.hx[anchor]), int(p.hy[anchor])
        holes = [p.hole(x + dx, y + dy) for dx, dy in shape.offsets]
        strip |= {(i, k): int(p.hstrip[h]) for k, h in enumerate(holes)}
        taken[i] = {h for h in (*holes, *(p.hole(x + dx, y + dy) for dx, dy in covered(shape))) if h >= 0}
    net = {(i, k): p.items[i].nets[k] for i, k in strip}
    for a, b in itertools.combinations(strip, 2):
        if strip[a] == strip[b] and net[a] != net[b]:
            return False
    for (i, (no, a)), (j, (other, b)) in itertools.combinations(at.items(), 2):
        if taken[i] & taken[j] & {int(h) for h in _leads(p, at, i) | _leads(p, at, j)}:
            return False
        dx, dy = int(p.hx[b] - p.hx[a]), int(p.hy[b] - p.hy[a])
        if touches(p.items[i].shapes[no], p.items[j].shapes[other], dx, dy):
            return False
    if any(len({strip[q] for q in group}) > 1 for group in claim.groups):
        return False
    used = set().union(*taken.values())
    free = {s: sum(h not in used for h in range(p.sstart[s], p.sstart[s] + p.slen[s])) for s in set(strip.values())}
    if any(free[s] < 1 for q, s in strip.items() if net[q] in claim.wired):
        return False
    return all(
        sum(free[s] - 2 for s in {strip[q] for q in strip if net[q] == spare.net}) >= spare.least
        for spare in claim.spare
    )


def _leads(p: Problem, at: dict[int, tuple[int, int]], i: int) -> set[int]:
    no, anchor = at[i]
    return {p.hole(int(p.hx[anchor]) + dx, int(p.hy[anchor]) + dy) for dx, dy in p.items[i].shapes[no].offsets}


@pytest.mark.parametrize("quick", [False, True])
def test_what_can_be_is_never_denied_and_what_cannot_is_mostly_seen(
    monkeypatch: pytest.MonkeyPatch, quick: bool
) -> None:
    if quick:  # as where parts have too many places to compare them all
        monkeypatch.setattr(cluster, "walk", lambda *_: clusterwalk.TOO_MANY)
    seen = {True: 0, False: 0}
    for seed in SEEDS:
        dice = random.Random(seed)
        drawn, _ = case("few holes", seed)
        try:
            p = build(drawn.circuit, drawn.board, drawn.options)
        except PlacerError:
            continue
        clusters = Clusters(p, lambda: False)
        for claim in claims_of(p, dice):
            truth = can_be(p, claim)
            answer = clusters.ask(claim)
            assert answer.possible is not None
            if truth is not None:
                # The board is seen from one part, wherever that stands: what cannot be on it may be thought possible.
                assert answer.possible or not truth, f"seed {seed}: {claim} can be"
                seen[answer.possible] += 1
    assert min(seen.values()) > 20, seen


def test_both_searches_say_the_same() -> None:
    told = []
    for seed in range(120):
        dice = random.Random(seed)
        board = board_of([[(x, 3 * y + k) for k in range(3)] for y in range(2) for x in range(5)])
        circuit = any_circuit(dice, board, 6, wishes=0, forms=("two", "two", "link", "row"), sizes=(2, 3, 4))
        try:
            p = build(circuit, board, Options())
        except PlacerError:
            continue
        claims = [claim_of_all(p, dice) for _ in range(6)]
        slow = [Clusters(p, lambda: False).ask(claim).possible for claim in claims]
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(cluster, "walk", lambda *_: clusterwalk.TOO_MANY)
            quick = [Clusters(p, lambda: False).ask(claim).possible for claim in claims]
        told += [(a, b) for a, b in zip(quick, slow, strict=True) if a is not None and b is not None]
    assert all(a == b for a, b in told), told
    assert min(told.count((True, True)), told.count((False, False))) > 20, told
