"""Why not better: for each jumper and each cut of a plan, the reason why it is there.

Three kinds, told apart: a proved local reason (a few things that cannot all be), a proved count, and none found (then
the plan's bound says whether doing without must cost elsewhere). The same plan gets the same reasons, as long as the
time suffices.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from placer.plan.model import Plan
from placer.solve.claims import Claim, Pin
from placer.solve.counting import nets_and_strips, own_cuts, pieces_needed
from placer.solve.frame import LONG
from placer.solve.lines import lines_of
from placer.solve.problem import Problem, build
from placer.solve.reasons import COUNTING, ELSEWHERE, LOCAL, Explanation, Fact, Reason, listed
from placer.solve.scene import Scene
from placer.solve.whynot import Asker, WhyNot

UNASKED = "local reasons are looked for on boards without bridges that have no cuts, or long strips alone"
Facts = tuple[Fact, ...]
"""A set of things that cannot all be."""


def explain(plan: Plan, seconds: float = 10.0, stop: threading.Event | None = None) -> Explanation:
    """The reason for each jumper and cut, in the plan's order. ``seconds`` bounds it; ``stop`` ends it early.

    Raises PlacerError or ValueError only for a plan that no judge would pass.
    """
    began = time.monotonic()

    def stopped() -> bool:
        return (stop is not None and stop.is_set()) or time.monotonic() - began >= seconds

    p = build(plan.circuit, plan.board, plan.options)
    return _Explainer(p, Scene(p, plan), stopped).explanation(began)


class _Explainer:
    def __init__(self, p: Problem, scene: Scene, stopped: Callable[[], bool]) -> None:
        self.p, self.scene, self.plan, self.stopped = p, scene, scene.plan, stopped
        lines = lines_of(p)
        severable = any(p.severable(s) for s in range(len(p.slen)))
        # Neither uncut nor a board of lines, or solder joins strips: there the exact searches have no question to ask.
        asks = not p.board.bridges and (not severable or lines is not None)
        self.why = WhyNot(scene, Asker(p, lines, stopped)) if asks else None
        self.on_lines = lines is not None
        # Where there are long strips as well, the cluster search speaks of short ones alone.
        self._short = "short" if lines is None and any(n > LONG for n in p.slen) else ""
        self.closed = frozenset(
            s for s, n in scene.owner.items() if not p.severable(s) and (not self.on_lines) and p.slen[s] > LONG
        )

    def explanation(self, began: float) -> Explanation:
        reasons = [self._jumper(number) for number in range(len(self.plan.jumpers))]
        reasons += [self._cut(number) for number in range(len(self.plan.cuts))]
        return Explanation(tuple(reasons), time.monotonic() - began, not self.stopped())

    # Jumpers.

    def _jumper(self, number: int) -> Reason:
        jumper = self.plan.jumpers[number]
        n = self.scene.wires[number][2]

        def reason(kind: str, text: str, *sets: Facts, smallest: bool | None = None) -> Reason:
            where = (jumper.start, jumper.end)
            parts = self._parts(sets)
            return Reason("jumper", number + 1, where, (jumper.net,), kind, text, parts, sets, smallest)

        count = self._count(n)
        if count is not None and count[1]:
            return reason(COUNTING, count[0], *self._taken(n))
        sides = self.scene.sides(number)
        if sides is not None and self.why is not None:
            found = self._not_joined(n, frozenset(sides[0]) | frozenset(sides[1]))
            if found is not None:
                sets, text, smallest = found
                return reason(LOCAL, text, *sets, smallest=smallest)
        if count is not None:
            return reason(COUNTING, count[0], *self._taken(n))
        if self.why is None:
            return reason(ELSEWHERE, f"{UNASKED}; {self._bound()}")
        if sides is None:
            return reason(
                ELSEWHERE,
                f"the wires of {jumper.net} meet on copper of their own, where its strips are short of free holes; "
                f"{self._bound()}",
            )
        one, other = (listed([self.scene.name(q) for q in side]) for side in sides)
        return reason(ELSEWHERE, f"no local reason was found why {one} could not join {other}; {self._bound()}")

    def _count(self, n: int) -> tuple[str, bool] | None:
        """The words for a net that needs several pieces whatever the parts do; True when that explains all jumpers."""
        if self.p.board.bridges:
            return None  # solder makes one piece of copper of many
        has = self.scene.jumpers_of[n]
        name = self.p.net_names[n]
        free = pieces_needed(self.p, n)
        closed = frozenset(s for s in self.closed if self.scene.owner[s] != n)
        need = pieces_needed(self.p, n, closed) if free.jumpers < has else free
        if need.jumpers <= 0:
            return None
        given = ""
        if need.jumpers > free.jumpers and closed:
            given = f" ({', '.join(self._owned(s) for s in sorted(closed))})"
        text = (
            f"{name} has {need.pins} pins, and a strip holds {need.longest} leads and wire ends at most{given}: "
            f"{need.least} pieces of copper, so at least {need.jumpers} of its {has} jumpers"
        )
        return text, need.jumpers >= has

    def _taken(self, n: int) -> tuple[Facts, ...]:
        """The long strips that other nets have, where the count leans on that."""
        free, closed = pieces_needed(self.p, n), [s for s in sorted(self.closed) if self.scene.owner[s] != n]
        if free.jumpers >= self.scene.jumpers_of[n]:
            return ()
        if pieces_needed(self.p, n, frozenset(closed)).jumpers <= free.jumpers:
            return ()
        name = self.p.net_names[n]
        others = [Fact("taken", (), self.scene.strip_name(s), self.p.net_names[self.scene.owner[s]]) for s in closed]
        pins = tuple(self.scene.name(q) for q in self.scene.hole if self.scene.net(q) == n)
        return ((Fact("share", pins, net=name), *others),)

    def _owned(self, s: int) -> str:
        return f"{self.scene.strip_name(s)} belongs to {self.p.net_names[self.scene.owner[s]]}"

    def _not_joined(self, n: int, pins: frozenset[Pin]) -> tuple[list[Facts], str, bool] | None:
        """Why the pins on both sides of a jumper cannot be on one piece of copper: each way refuted."""
        assert self.why is not None  # noqa: S101 - the caller looked
        scene = self.scene
        wired = frozenset((n,)) if n in scene.wired and scene.pieces_with_pins(n) > 2 else frozenset()
        if self.on_lines:
            found = self.why.share(pins, wired)
            return None if found is None else ([self._facts(found.claim)], self._told(found.claim), found.smallest)
        on_short = self._on_short(pins, wired)
        if on_short is None:
            return None
        sets, words, smallest = on_short
        on_long = self._on_long(n, pins)
        if on_long is None:
            return None
        return [*sets, *on_long[0]], "; ".join([*words, *on_long[1]]), smallest and on_long[2]

    def _on_short(self, pins: frozenset[Pin], wired: frozenset[int]) -> tuple[list[Facts], list[str], bool] | None:
        """Why the pins cannot share a short strip."""
        assert self.why is not None  # noqa: S101 - the caller looked
        most = max((int(v) for v in self.p.slen if v <= LONG), default=0)
        names = tuple(self.scene.name(q) for q in sorted(pins))
        if most and len(pins) + len(wired) <= most:
            found = self.why.share(pins, wired)
            if found is None:
                return None
            return [self._facts(found.claim)], [self._told(found.claim)], found.smallest
        head = f"{listed(names)} cannot share a strip"
        if most:
            ends = " and a wire end" if wired else ""
            head += f": {len(pins)} leads{ends} are more than the {most} holes of a short strip"
        ends_too = tuple(Fact("wire-end", net=self.p.net_names[m]) for m in wired)
        return [(Fact("share", names, self._short), *ends_too)] if most else [], [head], False

    def _on_long(self, n: int, pins: frozenset[Pin]) -> tuple[list[Facts], list[str], bool] | None:
        """Why the pins cannot all be on a long strip, one strip after another."""
        assert self.why is not None  # noqa: S101 - the caller looked
        scene, p = self.scene, self.p
        sets: list[Facts] = []
        refused: dict[tuple[str, str], list[str]] = {}
        taken: dict[str, list[str]] = {}
        smallest = True
        for s in [s for s in range(len(p.slen)) if p.slen[s] > LONG]:
            name, holder = scene.strip_name(s), scene.owner.get(s)
            if holder is not None and holder != n:
                first = scene.name(min(pins))
                sets.append((Fact("on", (first,), name), Fact("taken", (), name, p.net_names[holder])))
                taken.setdefault(p.net_names[holder], []).append(name)
                continue
            there = self.why.on_strip(pins, s)
            if there is None:
                return None
            smallest = smallest and there.smallest
            facts = self._facts(there.claim)
            sets.append(facts)
            reached = [f.pins[0] for f in facts if f.kind == "on"]
            others = [f.words() for f in facts if f.kind != "on"]
            unless = f" as long as {' and '.join(others)}" if others else ""
            both = " together" if len(reached) > 1 else ""
            refused.setdefault((f"{listed(reached)} cannot be{both} on", unless), []).append(name)
        words = [f"{head} {listed(strips, last='or')}{unless}" for (head, unless), strips in refused.items()]
        words += [f"{listed(s)} {'belong' if len(s) > 1 else 'belongs'} to {net}" for net, s in taken.items()]
        return sets, words, smallest

    def _told(self, claim: Claim) -> str:
        """The words of a refuted share; its first group is the pins that cannot."""
        facts = self._facts(claim)
        if not facts:
            return f"{listed(sorted({self.p.items[i].ref for i in claim.items}))} cannot stand like this"
        names = sorted({self.p.items[i].ref for i in claim.items})
        text = f"{listed(facts[0].pins)} can share no {'short strip' if self._short else 'strip'}"
        if len(facts) > 1:
            return f"{text} as long as {' and '.join(f.words() for f in facts[1:])}"
        if len(names) == 1:
            return f"{text}, whichever way {names[0]} lies"
        return f"{text}, wherever {names[0]} and {names[1]} stand" if len(names) == 2 else text

    def _facts(self, claim: Claim) -> Facts:
        scene = self.scene
        found = [
            Fact("share", tuple(scene.name(q) for q in sorted(g)), self._short) for g in claim.groups if len(g) > 1
        ]
        found += [Fact("on", (scene.name(q),), scene.strip_name(s)) for q, s in sorted(claim.on)]
        found += [Fact("apart", (scene.name(a), scene.name(b))) for a, b in sorted(claim.apart)]
        found += [Fact("wire-end", net=self.p.net_names[n]) for n in sorted(claim.wired)]
        pins = {pin for fact in found for pin in fact.pins}
        refs = {self.p.items[q[0]].ref for q in scene.hole if scene.name(q) in pins}
        rest = sorted({self.p.items[i].ref for i in claim.items} - refs)
        found += [Fact("stands", part=ref) for ref in rest]
        return tuple(found)

    def _parts(self, sets: tuple[Facts, ...]) -> tuple[str, ...]:
        pins = [pin for facts in sets for fact in facts for pin in fact.pins]
        names = {self.scene.name(q): self.p.items[q[0]].ref for q in self.scene.hole}
        standing = [fact.part for facts in sets for fact in facts if fact.part]
        return tuple(dict.fromkeys([*(names[pin] for pin in pins), *standing]))

    # Cuts.

    def _cut(self, number: int) -> Reason:
        cut, at = self.plan.cuts[number], self.scene.cuts[number]
        scene, p = self.scene, self.p
        where = (cut.at,) if cut.at is not None else (cut.between or ())
        ends = [q for q in (at.before, at.after) if q is not None]
        nets = tuple(p.net_names[scene.net(q)] for q in ends)

        def reason(
            kind: str, text: str, *sets: Facts, parts: tuple[str, ...] = (), smallest: bool | None = None
        ) -> Reason:
            return Reason("cut", number + 1, where, nets, kind, text, parts or self._parts(sets), sets, smallest)

        if len(ends) < 2:
            return reason(ELSEWHERE, f"it gives copper of its own to wires; {self._bound()}")
        before, after = ends
        own = self._own_cut(number, at.strip)
        if own is not None:
            item, least = own
            ref = p.items[item].ref
            text = (
                f"whichever way {ref} lies, its pins are on shared strips: at least "
                f"{least} {'cuts part' if least > 1 else 'cut parts'} them"
            )
            return reason(LOCAL, text, parts=(ref,), smallest=True)
        used, strips = nets_and_strips(p)
        least = used - strips
        counted = f"{used} nets and open pins on {strips} strips: at least {least} of the {len(self.plan.cuts)} cuts"
        if least >= len(self.plan.cuts):
            return reason(COUNTING, counted)
        if self.why is not None and nets[0] != nets[1]:
            found = self.why.apart(before, after)
            if found is not None:
                facts = self._facts(found.claim)
                one, other = scene.name(before), scene.name(after)
                others = [f.words() for f in facts if f.kind != "apart"]
                text = f"{one} and {other} must be on one strip"
                text += f" as long as {' and '.join(others)}" if others else ""
                return reason(LOCAL, text, facts, smallest=found.smallest)
        if least > 0:
            return reason(COUNTING, counted)
        if nets[0] == nets[1]:
            return reason(ELSEWHERE, f"it leaves {nets[0]} in two pieces; {self._bound()}")
        if self.why is None:
            return reason(ELSEWHERE, f"{UNASKED}; {self._bound()}")
        text = f"no local reason was found why {scene.name(before)} and {scene.name(after)} share a strip"
        return reason(ELSEWHERE, f"{text}; {self._bound()}")

    def _own_cut(self, number: int, strip: int) -> tuple[int, int] | None:
        """The item whose own pins this cut parts, and how often that must happen, where it happens no more often."""
        cut = self.plan.cuts[number]
        names = {a: h for h, a in enumerate(self.p.addresses)}
        first = names[cut.at] if cut.at is not None else min(names[a] for a in cut.between or ())
        for i in range(len(self.p.items)):
            changes = self.scene.own_changes(i)
            if any(s == strip and a <= first < b for s, a, b in changes):
                least = own_cuts(self.p, i)
                if least and least == len(changes):
                    return i, least
        return None

    def _bound(self) -> str:
        proof = self.plan.proof
        if proof.status == "optimal":
            return "doing without it costs as much or more elsewhere, for the plan is proved minimal"
        return (
            f"whether a cheaper plan exists is not known: the bound is {proof.lower_bound:g}, "
            f"the plan costs {self.plan.score.cost:g}"
        )
