"""The run: members of the search work in rounds of fixed size, until a proof, the time, or the user ends it.

Rounds are reproducible: in each, every worker has one task of a fixed amount of work, and what a task finds is used
only when the round is over. A search that ends by proof therefore gives the same plan every time. Only where a search
of many parts ends by the clock are a proof's answers taken as they come, and the last runs made to end with it.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any

from placer.errors import Diagnostic, PlacerError
from placer.plan.model import Plan
from placer.solve import bridging
from placer.solve.anneal import MOST_ENDS, Annealer, proposals_a_second
from placer.solve.api import Judge, Outcome, Progress, Request
from placer.solve.arrays import Arrays
from placer.solve.assemble import assemble, places_of, solve_info
from placer.solve.beside import Beside, Ends
from placer.solve.cold import get_ready
from placer.solve.errands import Errand, wait_for_one
from placer.solve.found import Found
from placer.solve.lineup import can_line_up
from placer.solve.mixing import are_mixed
from placer.solve.ownnets import shorted
from placer.solve.polish import polish
from placer.solve.problem import build
from placer.solve.prover import Finding, Task
from placer.solve.room import shortage
from placer.solve.store import Store
from placer.solve.turns import ERRAND_ROUNDS, STARTING, Turns, first_proposals, is_huge, is_large, is_small
from placer.solve.warm import LINES, STRIPS
from placer.solve.wiring import wire

POLISH_SHARE, LONGEST_POLISH = 0.08, 5.0  # of the time; seconds
SPARE_WORK = 0.1  # about seconds of annealing between looks for an answer of the proof


def solve(
    request: Request,
    judge: Judge,
    on_progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
) -> Outcome:
    """Search for the cheapest plan and a proof of it.

    Every plan has passed ``judge`` before it is reported. Raises nothing for circuits that do not fit: the outcome says
    why. ``stop`` ends the search early; the best checked plan so far is returned.
    """
    if request.board.bridges:
        return bridging.solve(request, judge, on_progress, stop)
    try:
        problem = build(request.circuit, request.board, request.options)
    except PlacerError as error:
        return Outcome(None, error.diagnostics, proved_impossible=True)
    missing = shortage(request.circuit, request.board, request.options)
    if missing:
        return Outcome(None, missing, proved_impossible=True)
    never = shorted(problem)
    if never is not None:
        return Outcome(None, (never,), proved_impossible=True)
    stop = stop or threading.Event()
    first = get_ready(problem, request, judge, on_progress, stop, LINES if can_line_up(problem) else STRIPS)
    store = Store(problem, judge, first.shown(on_progress))
    return first.or_better(request, store, _Run(request, store, stop).outcome())


class _Run:
    def __init__(self, request: Request, store: Store, stop: threading.Event) -> None:
        self.request = request
        self.store = store
        self.stop = stop
        self.last = None if request.seconds is None else time.monotonic() + request.seconds
        polish_seconds = min(LONGEST_POLISH, POLISH_SHARE * (request.seconds or 0.0))
        self.deadline = None if self.last is None else self.last - polish_seconds
        self.patient = request.effort is not None or not is_large(store.problem)
        self.arrays = Arrays(store.problem)
        self.impossible = False
        self.aside: list[Found] = []  # each better than the one before; see :meth:`_meanwhile`
        self.phases: list[dict[str, Any]] = []

    def stopped(self) -> bool:
        """True when the user or the clock ends the search."""
        return self.stop.is_set() or (self.deadline is not None and time.monotonic() >= self.deadline)

    def outcome(self) -> Outcome:
        """Run the rounds and put the answer together."""
        store, request = self.store, self.request
        self._rounds()
        interrupted = self.stop.is_set()
        if store.best is None or store.places is None:
            if self.impossible:
                return Outcome(None, (self._proved_none(),), proved_impossible=True)
            return Outcome(None, self._why_none(), interrupted=interrupted)
        wiring = wire(store.problem, store.places)
        assert wiring is not None  # noqa: S101 - the store wired the same places before
        info = solve_info(store.seconds, request.seed, request.workers, self.phases, store.first_seconds)
        plan = assemble(store.problem, store.places, wiring, store.bound, info)
        faults = store.judge(plan)
        if faults:
            raise RuntimeError(f"a plan that had passed the check no longer does: {faults[0]}")
        return Outcome(plan, interrupted=interrupted)

    def _rounds(self) -> None:
        store, request = self.store, self.request
        workers = max(1, request.workers)
        # One more where there are several: it works while an answer of the proof is waited for.
        seeds = [request.seed * 7919 + k for k in range(workers + (workers > 1))]
        last = None if self.patient else self.deadline
        streams = [Annealer(self.arrays, seed, self.stopped, last) for seed in seeds]
        # Plans near the best one are looked for in a process of their own: of many parts because annealing goes on
        # meanwhile, of few because the proof soon ends without. Between, what each of the two finds helps the other.
        apart = workers > 1 and (is_large(store.problem) or is_small(store.problem))
        task = Task.PROOFS if apart else Task.BOTH
        beside = {"proof": Beside(store.problem, request.seed, self.stopped, task, alone=workers == 1)}
        if apart:
            beside["near plans"] = Beside(store.problem, request.seed, self.stopped, Task.NEAR, alone=False)
        if request.start is not None:
            self._begin_from(request.start)
        spare = streams.pop() if workers > 1 else None
        with ThreadPoolExecutor(workers) as pool:
            try:
                self._take_turns(streams, spare, {name: Errand(way, pool) for name, way in beside.items()}, pool)
            finally:
                for way in beside.values():
                    way.close()  # a portion that is still being worked on ends with it
        if spare is not None and not store.proved:
            self._offer(spare, self.aside, "annealing")
        if store.places is not None and not self.stop.is_set():
            self._polish()

    def _take_turns(
        self, streams: list[Annealer], spare: Annealer | None, errands: dict[str, Errand], pool: ThreadPoolExecutor
    ) -> None:
        store, request = self.store, self.request
        turns, rate = Turns(store.problem), proposals_a_second(store.problem)
        huge, mixes = is_huge(store.problem), is_large(store.problem) and are_mixed(store.problem)
        round_no = 0
        while not self.stopped() and (request.effort is None or round_no < request.effort):
            started, rank, bound = store.seconds, store.rank, store.bound
            work = turns.work
            # The first round only makes plans, and with very many parts all do until each has ended a run; later rounds
            # give one worker (of two or more) to the proof.
            if round_no > 0 and (not huge or all(s.runs > 1 for s in streams)):
                self._send(errands, turns, streams)
            away = [name for name, errand in errands.items() if errand.asked is not None]
            share = first_proposals(store.problem) if round_no == 0 else round(work * rate)
            idle = len(away) if len(streams) > 1 else 0
            turn = sorted(streams, key=lambda stream: stream.chunks)[: max(0, len(streams) - idle)]
            runs = [(stream, pool.submit(stream.advance, share, bound)) for stream in turn]
            for stream, run in runs:
                self._offer(stream, run.result(), "annealing")
            _share(streams)
            annealed = store.rank < rank
            if not runs and not self.patient:
                wait_for_one(errands.values())
            for name in away:
                errand = errands[name]
                if errand.comes_back(patient=self.patient) or self.stopped():
                    if spare is not None and self.patient and errand.asked is not None:
                        self._meanwhile(spare, errand.asked, round(SPARE_WORK * rate))
                    finding, rounds = errand.answer()
                    paid = self._take(finding, name)
                    if name == "proof":
                        turns.told(finding, paid=paid, rounds=rounds)
                    else:
                        turns.told_near(finding, paid=paid)
                    self._tell(streams)
            if runs:
                turns.annealed(paid=annealed, ends=len(_ends(streams)) if mixes else 0)
            self.phases.append(
                {
                    "phase": " + ".join([*(["annealing"] if runs else []), *away]),
                    "round": round_no,
                    "seconds": round(store.seconds - started, 3),
                    "work": round(work, 3),
                    "cost": None if store.best is None else store.best.score.cost,
                    "bound": store.bound,
                    "improved": annealed or store.bound > bound or store.rank < rank,
                }
            )
            if store.proved or self.impossible:
                return
            round_no += 1
        for name, errand in errands.items():
            if errand.asked is not None:
                self._take(errand.answer()[0], name)

    def _send(self, errands: dict[str, Errand], turns: Turns, streams: list[Annealer]) -> None:
        """Send those whose turn it is."""
        store = self.store
        for name, errand in errands.items():
            near = name != "proof"
            wanted = turns.near and store.places is not None if near else turns.proof
            if errand.asked is None and wanted:
                work = turns.work if len(errands) == 1 else ERRAND_ROUNDS * turns.work
                rounds = STARTING if errand.beside.starts and self.patient else 1
                errand.send(rounds, work, store.rank[0], store.places, self.deadline, _ends(streams))

    def _offer(self, stream: Annealer, found: list[Found], phase: str) -> None:
        """Offer the best of what a stream has found, or the next best where that is no plan."""
        for state in reversed(found):
            if self.store.offer(state.places, phase) is not None:
                return
            stream.refuse(state)

    def _meanwhile(self, spare: Annealer, asked: Future[Finding], share: int) -> None:
        """Anneal while an answer is waited for.

        What comes of it counts only where the clock ends the search: how much that is depends on the machine, and a
        search that ends by a proof or by effort is the same on all.
        """
        while self.request.effort is None and not asked.done() and not self.stopped():
            for found in spare.advance(share, self.store.bound):
                if not self.aside or (found.cost, found.length) < (self.aside[-1].cost, self.aside[-1].length):
                    self.aside.append(found)

    def _begin_from(self, start: Plan) -> None:
        """Offer an earlier plan of the same circuit and board."""
        places = places_of(self.store.problem, start)
        if places is not None:
            self.store.offer(places, "start")

    def _take(self, finding: Finding, phase: str) -> bool:
        """Take in what the proof has found, or another errand; True when something has come of it."""
        store, before = self.store, (self.store.rank, self.store.bound)
        if finding.impossible and store.best is None:
            self.impossible = True
            return True
        if finding.places is not None:
            store.offer(finding.places, phase)
        store.raise_bound(finding.bound, phase)
        return (store.rank, store.bound) != before

    def _tell(self, streams: list[Annealer]) -> None:
        """Tell all streams of the best plan, whoever has found it."""
        store = self.store
        if store.places is not None:
            for stream in streams:
                stream.take(Found(store.rank[0], store.rank[2], store.places))

    def _polish(self) -> None:
        """Keep what is wished for, where it costs nothing, and shorten the wires.

        A fixed amount of work where the search has ended by a proof or by effort, so that it stays reproducible as long
        as there is time for it.
        """
        store, request = self.store, self.request
        started = store.seconds
        self.deadline = self.last
        last = None if store.proved or request.effort is not None else self.last
        polish(store, request.seed, max(1, request.workers), self.stopped, last)
        self.phases.append({"phase": "polishing", "seconds": round(store.seconds - started, 3)})

    def _proved_none(self) -> Diagnostic:
        return Diagnostic(
            "no-plan-possible",
            f"the parts of {self.request.circuit.name} cannot share board {self.request.board.name} without joining "
            "two nets: there are too few strips where the parts can reach them",
            "Choose a larger board, or relax placement wishes.",
        )

    def _why_none(self) -> tuple[Diagnostic, ...]:
        return (
            Diagnostic(
                "no-plan-found",
                f"no legal plan was found on board {self.store.problem.board.name} in {self.store.seconds:.0f} s; "
                "whether one exists is not known",
                "Give it more time (--time), a larger board (--board), or relax placement wishes.",
            ),
        )


def _ends(streams: list[Annealer]) -> Ends:
    """What runs of all streams have come to, the cheapest first."""
    ends = sorted((end for stream in streams for end in stream.ends), key=lambda found: found.cost)
    return tuple(end.places for end in ends[:MOST_ENDS])


def _share(streams: list[Annealer]) -> None:
    """Tell all streams of the best state that any of them has found."""
    states = [stream.best for stream in streams if stream.best is not None]
    if states:
        best = min(states, key=lambda found: (found.cost, found.length))
        for stream in streams:
            stream.take(best)
