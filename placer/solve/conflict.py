"""Where nothing fits: the smallest set of parts and wishes that cannot be placed together, in the user's words.

A set is refuted by the counts and models of the search (each a proof), and shown to be possible by a plan that the
judge passes. Members are dropped one after another as long as the rest is refuted; what is left is smallest when, each
being dropped in turn, the rest has a plan. Both halves say so when the time did not suffice.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from placer.circuit.model import Apart, Circuit, Part, Place, Region, Shared, Together, Wishes
from placer.errors import Diagnostic, PlacerError
from placer.solve.api import Judge, Outcome, Request
from placer.solve.arrays import Places
from placer.solve.assemble import assemble, solve_info
from placer.solve.connectors import CODES
from placer.solve.fitting import fits
from placer.solve.ownnets import SHORTS_ITSELF
from placer.solve.problem import Problem, build
from placer.solve.prover import impossible
from placer.solve.room import TOO_FEW_HOLES, shortage
from placer.solve.walled import CODE
from placer.solve.wiring import wire

WORK = 2.0  # the solver's deterministic time for one question
FIELDS = ("edge", "rotation", "mount", "side")
MOST_NAMED = 8  # members named in a message
Solve = Callable[[Request], Outcome]


@dataclass(frozen=True)
class Wish:
    """One binding wish: of a part, a field of its :class:`Place` and which of several (pin, number in the list).

    ``ref`` "": a wish of the circuit as a whole, ``which`` its number.
    """

    ref: str
    field: str
    which: str = ""

    def words(self, circuit: Circuit) -> str:
        """The wish as the user wrote it."""
        if not self.ref:
            return circuit.wishes.shared[int(self.which)].words
        place = circuit.part_by_ref[self.ref].place
        if self.field == "fixed":
            holes = ", ".join(f"{pin} in {hole}" for pin, hole in place.at.items())
            return f"{self.ref} fixed: {holes}"
        if self.field == "at":
            return f"{self.ref} at: {{{self.which}: {place.at[self.which]}}}"
        if self.field == "near":
            near = place.near[int(self.which)]
            return f"{self.ref} near: [{{pin: {near.pin}, steps: {near.steps:g}}}]"
        if self.field == "away":
            away = place.away[int(self.which)]
            return f"{self.ref} away: [{{part: {away.ref}, mm: {away.mm:g}}}]"
        return f"{self.ref} {self.field}: {getattr(place, self.field)}"


def wishes_of(part: Part) -> list[Wish]:
    """A part's wishes that may stand in the way, one by one."""
    place = part.place
    found = [Wish(part.ref, "fixed")] if place.fixed else [Wish(part.ref, "at", pin) for pin in place.at]
    fields = ("edge", "rotation", "side") if place.fixed else FIELDS
    found += [Wish(part.ref, name) for name in fields if getattr(place, name) is not None]
    found += [Wish(part.ref, "near", str(k)) for k in range(len(place.near))]
    found += [Wish(part.ref, "away", str(k)) for k in range(len(place.away))]
    return found


def shared_wishes(circuit: Circuit) -> list[Wish]:
    """The binding wishes of the circuit as a whole."""
    shared = enumerate(circuit.wishes.shared)
    return [Wish("", "shared", str(k)) for k, wish in shared if isinstance(wish, Region) or wish.force.binding]


def parts_of(circuit: Circuit, wish: Shared) -> frozenset[str]:
    """The parts that must be there for a wish of the circuit to say something."""
    if isinstance(wish, Together):
        return frozenset(wish.parts)
    if isinstance(wish, Region):
        return frozenset()
    names = wish.nets if isinstance(wish, Apart) else (wish.net,)
    return frozenset(pin.part for net in circuit.nets if net.name in names for pin in net.pins)


@dataclass(frozen=True)
class Conflict:
    """Parts that cannot be placed together with these of their wishes kept, whatever the other parts do.

    ``smallest``: each wish, and each part, being dropped in turn, the rest was shown to have a plan.
    """

    parts: tuple[str, ...]
    wishes: tuple[Wish, ...]
    smallest: bool

    def text(self, circuit: Circuit, board: str) -> str:
        """The conflict in words."""
        named = {w.ref for w in self.wishes}
        for wish in self.wishes:
            if not wish.ref:
                shared = circuit.wishes.shared[int(wish.which)]
                named |= set(shared.parts) if isinstance(shared, Together) else set()
        rest = [ref for ref in self.parts if ref not in named]
        told = "; ".join(w.words(circuit) for w in self.wishes)
        if self.wishes:
            many = f"these {len(self.wishes)} wishes cannot all" if len(self.wishes) > 1 else "this wish cannot"
            beside = f" (with {_some(rest)} on the board)" if rest else ""
            text = f"on board {board} {many} be kept{beside}: {told}"
        else:
            together = " together" if len(self.parts) > 1 else ""
            text = f"{_some(list(self.parts))} cannot stand on board {board}{together}"
        if self.smallest:
            one = len(self.wishes) + len(rest) == 1
            return text if one else f"{text}; without any one of them the others can"
        return f"{text}; perhaps fewer are to blame: that was not settled in the time"


def _some(refs: list[str]) -> str:
    more = f" and {len(refs) - MOST_NAMED} more" if len(refs) > MOST_NAMED else ""
    return ", ".join(refs[:MOST_NAMED]) + more


def without(circuit: Circuit, parts: frozenset[str], wishes: frozenset[Wish]) -> Circuit:
    """The circuit with these parts and wishes alone. A wish about a part that is gone goes too."""
    kept = []
    for part in circuit.parts:
        if part.ref not in parts:
            continue
        place, own = part.place, {(w.field, w.which) for w in wishes if w.ref == part.ref}
        fixed = ("fixed", "") in own
        kept.append(
            replace(
                part,
                place=Place(
                    at={pin: hole for pin, hole in place.at.items() if fixed or ("at", pin) in own},
                    edge=place.edge if ("edge", "") in own else None,
                    rotation=place.rotation if ("rotation", "") in own else None,
                    mount=place.mount if fixed or ("mount", "") in own else None,
                    near=tuple(w for k, w in enumerate(place.near) if ("near", str(k)) in own and w.pin.part in parts),
                    away=tuple(w for k, w in enumerate(place.away) if ("away", str(k)) in own and w.ref in parts),
                    side=place.side if ("side", "") in own else None,
                    diagonal=place.diagonal,
                    flying=place.flying,
                    port=place.port,
                    fixed=fixed,
                ),
            )
        )
    nets = (replace(n, pins=tuple(q for q in n.pins if q.part in parts)) for n in circuit.nets)
    numbers = sorted(int(w.which) for w in wishes if not w.ref)
    shared = tuple(s for s in map(circuit.wishes.shared.__getitem__, numbers) if parts_of(circuit, s) <= parts)
    return replace(
        circuit, parts=tuple(kept), nets=tuple(n for n in nets if n.pins), wishes=Wishes(shared, circuit.wishes.habits)
    )


def explain_none(request: Request, outcome: Outcome, judge: Judge, solve: Solve, seconds: float = 8.0) -> Outcome:
    """An outcome without a plan, with the smallest conflict among its reasons where one was found.

    ``solve`` is asked for plans of parts of the circuit, within ``seconds`` altogether.
    """
    # A count of holes, or of places of one part, has said all there is to say: which wish is first to find no room is
    # chance.
    settled = any(r.code in CODES or r.code in (CODE, TOO_FEW_HOLES, SHORTS_ITSELF) for r in outcome.reasons)
    if outcome.plan is not None or outcome.interrupted or settled:
        return outcome
    conflict = smallest_conflict(request, judge, solve, seconds)
    if conflict is None:
        return outcome
    code = "wishes-in-conflict" if conflict.wishes else "parts-in-conflict"
    mend = "Relax or drop one of the wishes" if conflict.wishes else "Leave out one of the parts"
    told = Diagnostic(code, conflict.text(request.circuit, request.board.name), f"{mend}, or choose another board.")
    counted = outcome.reasons if outcome.proved_impossible else ()
    return replace(outcome, reasons=(*counted, told), proved_impossible=True)


def smallest_conflict(request: Request, judge: Judge, solve: Solve, seconds: float = 8.0) -> Conflict | None:
    """The smallest set of parts and wishes without a plan; None where the whole circuit is not refuted."""
    return _Search(request, judge, solve, seconds).conflict()


class _Search:
    def __init__(self, request: Request, judge: Judge, solve: Solve, seconds: float) -> None:
        # What need not be kept makes nothing impossible.
        self.request = replace(request, options=replace(request.options, habits=False))
        self.judge, self.engine = judge, solve
        self.deadline = time.monotonic() + seconds
        self.circuit = request.circuit
        self.known: dict[tuple[frozenset[str], frozenset[Wish]], bool | None] = {}

    def stopped(self) -> bool:
        """True when the time is over."""
        return time.monotonic() >= self.deadline

    def conflict(self) -> Conflict | None:
        """Find a refuted set soon, then drop what can be dropped."""
        for parts, wishes in self._in_order():
            if self.stopped():
                return None
            if self.possible(parts, wishes, quick=True) is False:
                return self._shrink(parts, wishes)
        return None

    def _in_order(self) -> Iterator[tuple[frozenset[str], frozenset[Wish]]]:
        """What to begin with; first what the empty board refuses, for the models of the rest may take all the time."""
        if not self._fit_alone(self.circuit):
            for start in self._starts():
                if self.stopped():
                    return
                if not self._fit_alone(without(self.circuit, *start)):
                    yield start
        yield from self._starts()

    def _starts(self) -> Iterator[tuple[frozenset[str], frozenset[Wish]]]:
        """Parts and wishes to begin with: single parts, those that wishes tie together, all with wishes, all."""
        all_parts = self.circuit.parts
        by_ref = {p.ref: wishes_of(p) for p in all_parts}
        for part in all_parts if not self._fit_alone(self.circuit) else ():
            alone = frozenset(w for w in shared_wishes(self.circuit) if self._about(w) <= {part.ref})
            yield frozenset((part.ref,)), frozenset(by_ref[part.ref]) | alone
        for part in all_parts:
            tied = {part.ref, *(w.pin.part for w in part.place.near), *(w.ref for w in part.place.away)}
            if len(tied) > 1:
                yield frozenset(tied), frozenset(w for ref in tied for w in by_ref[ref])
        shared = shared_wishes(self.circuit)
        for wish in shared:
            about = parts_of(self.circuit, self.circuit.wishes.shared[int(wish.which)])
            if about:
                yield about, frozenset((wish, *(w for ref in about for w in by_ref[ref])))
        wishing = {ref for ref, own in by_ref.items() if own}
        for wish in shared:
            wishing |= parts_of(self.circuit, self.circuit.wishes.shared[int(wish.which)])
        wishing |= {w.pin.part for p in all_parts for w in p.place.near}
        wishing |= {w.ref for p in all_parts for w in p.place.away}
        every = frozenset((*shared, *(w for own in by_ref.values() for w in own)))
        if wishing:
            yield frozenset(wishing), every
        yield frozenset(p.ref for p in all_parts), every

    def _fit_alone(self, circuit: Circuit) -> bool:
        """Every part by itself has a place on the empty board with its wishes kept."""
        try:
            build(circuit, self.request.board, self.request.options)
        except PlacerError:
            return False
        return True

    def _shrink(self, parts: frozenset[str], wishes: frozenset[Wish]) -> Conflict:
        order = [p.ref for p in self.circuit.parts]
        while True:
            certain = True
            for fewer in self._fewer(parts, wishes, order):
                answer = self.possible(*fewer)
                if answer is False:
                    parts, wishes = fewer
                    break
                certain = certain and answer is True
            else:
                listed = [w for p in self.circuit.parts for w in wishes_of(p) if w in wishes]
                listed += [w for w in shared_wishes(self.circuit) if w in wishes]
                return Conflict(tuple(r for r in order if r in parts), tuple(listed), certain)

    def _fewer(
        self, parts: frozenset[str], wishes: frozenset[Wish], order: list[str]
    ) -> Iterator[tuple[frozenset[str], frozenset[Wish]]]:
        if len(parts) > 1:
            # Those without wishes first; many at a time while there are many.
            refs = sorted(parts, key=lambda r: (any(w.ref == r for w in wishes), order.index(r)))
            size = len(refs) // 2
            while size > 1:
                for at in range(0, len(refs), size):
                    yield self._less(parts, wishes, frozenset(refs[at : at + size]))
                size //= 2
            for ref in refs:
                yield self._less(parts, wishes, frozenset((ref,)))
        for wish in sorted(wishes, key=lambda w: (w.ref, w.field, w.which)):
            yield parts, wishes - {wish}

    def _less(
        self, parts: frozenset[str], wishes: frozenset[Wish], gone: frozenset[str]
    ) -> tuple[frozenset[str], frozenset[Wish]]:
        left = parts - gone
        return left, frozenset(w for w in wishes if (not w.ref or w.ref in left) and self._about(w) <= left)

    def _about(self, wish: Wish) -> frozenset[str]:
        """The parts other than its own that a wish is about."""
        if not wish.ref:
            return parts_of(self.circuit, self.circuit.wishes.shared[int(wish.which)])
        place = self.circuit.part_by_ref[wish.ref].place
        if wish.field == "near":
            return frozenset((place.near[int(wish.which)].pin.part,))
        return frozenset((place.away[int(wish.which)].ref,)) if wish.field == "away" else frozenset()

    # Questions.

    def possible(self, parts: frozenset[str], wishes: frozenset[Wish], *, quick: bool = False) -> bool | None:
        """Whether these parts have a plan with these wishes; False and True are proved. ``quick``: refute only."""
        if not parts:
            return True
        key = (parts, wishes)
        if self.known.get(key) is None:
            if self.stopped():
                return None
            circuit = without(self.circuit, parts, wishes)
            answer = self._refuted_or_built(circuit)
            if answer is None and not quick:
                answer = self._by_engine(circuit)
            self.known[key] = answer
        return self.known[key]

    def _refuted_or_built(self, circuit: Circuit) -> bool | None:
        request = self.request
        options = replace(request.options, allow_cuts=request.options.allow_cuts and not request.board.bridges)
        try:
            p = build(circuit, request.board, options)
        except PlacerError:
            return False
        if shortage(circuit, request.board, options):
            return False

        if request.board.bridges:
            # Solder joins what wires cannot: strips say nothing of the nets, and only the engine makes a plan.
            return False if fits(p, WORK, self.stopped).possible is False else None
        answer = fits(p, WORK, self.stopped, lambda places: self._passes(p, places)).possible
        return False if answer is None and impossible(p, WORK, self.stopped) else answer

    def _passes(self, p: Problem, places: Places) -> bool:
        wiring = wire(p, places)
        return wiring is not None and not self.judge(assemble(p, places, wiring, 0.0, solve_info(0.0, 1, 1, (), None)))

    def _by_engine(self, circuit: Circuit) -> bool | None:
        left = self.deadline - time.monotonic()
        if left < 0.2:
            return None
        request = replace(self.request, circuit=circuit, seconds=min(left, 2.0), effort=2, start=None)
        outcome = self.engine(request)
        return True if outcome.plan is not None else False if outcome.proved_impossible else None
