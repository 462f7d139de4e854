"""Who works in the next round, and how much: time is shared by what has paid so far.

Counted in work, not in seconds, so that the same search always takes the same turns.
"""

from __future__ import annotations

from placer.solve.problem import Problem
from placer.solve.prover import Finding

FIRST_WORK, MOST_WORK, GROWTH = 0.25, 1.0, 1.5  # about seconds, of each worker in a round
PATIENCE = 12.0  # about seconds of work without a result after which a member waits for others
LONGEST_WAIT = 4  # rounds
NEAR_AFTER = 8.0  # about seconds of annealing without a better plan; then others are looked for near the best one
NEAR_AFTER_FEW = 3.0  # the same with few parts
ENOUGH_ENDS, ENOUGH_ENDS_MANY = 10, 6  # of runs, where plans of several are mixed; with many parts runs take longer
ERRAND_ROUNDS = 3  # of many parts, a proof works as long as so many rounds at a time, and so does the other search
FEW_ITEMS = 24  # of no more items a proof soon ends if it has all of its time
MANY_ITEMS = 36  # of so many items a proof to the end is not in reach: nobody waits for it
RESTING_ITEMS = 60  # with so many, annealing does more for the plan than who proves: that rests as long as it works
VERY_MANY_ITEMS = 120  # with so many, the proof begins once plans are good
STARTING = 2  # rounds that go on while the process of the proof gets ready and takes its first turn


def is_huge(p: Problem) -> bool:
    """True where the proof takes longer to begin than a first run of annealing to end."""
    return len(p.items) >= VERY_MANY_ITEMS


def is_large(p: Problem) -> bool:
    """True where the proof will hardly end, so that plans need not be the same in each search that ends by one."""
    return len(p.items) >= MANY_ITEMS


def is_small(p: Problem) -> bool:
    """True where a proof will soon end if nobody takes its time."""
    return len(p.items) <= FEW_ITEMS


def first_proposals(p: Problem) -> int:
    """How many moves a first plan may take before the proof comes in as well."""
    return 36_000 + 2_500 * len(p.items)


class Turns:
    """``work``: about how many seconds the next round takes; ``proof``: whether the proof has a turn in it.

    ``near``: whether plans near the best one have, where somebody else looks for them than the proof.
    """

    def __init__(self, p: Problem) -> None:
        self.work = FIRST_WORK
        self.proof = True
        self._rests = int(len(p.items) >= RESTING_ITEMS)  # as often as it worked
        self._least_wait = self._rests
        self._ended = False
        self._work_of_proof = 0.0
        self._paid_at = 0.0
        self._idle_annealing = 0.0
        self._waited = 0
        self._wait = 0
        self.near = False
        late = NEAR_AFTER if len(p.items) < RESTING_ITEMS else PATIENCE
        self._enough_ends = ENOUGH_ENDS if len(p.items) < RESTING_ITEMS else ENOUGH_ENDS_MANY
        self._near_after = NEAR_AFTER_FEW if is_small(p) else late
        self._near_ended = False
        self._near_idle = 0.0
        self._rounds_since_near = 0

    def told(self, found: Finding, *, paid: bool, rounds: int) -> None:
        """The proof had its turn, of so many rounds; ``paid``: it raised the bound or bettered the plan."""
        if self._rests:
            self._least_wait = self._rests * rounds
        self._ended = found.ended
        self._work_of_proof += found.work
        self._waited = 0
        if paid:
            self._paid_at = self._work_of_proof
            self._wait = 0

    def told_near(self, found: Finding, *, paid: bool) -> None:
        """Plans near the best one were looked for; ``paid``: and found. Annealing has the next rounds."""
        self._near_ended = found.ended
        self._near_idle = 0.0 if paid else self._near_idle + found.work
        self._rounds_since_near = 0
        self.near = False

    def annealed(self, *, paid: bool, ends: int = 0) -> None:
        """A round is over; ``paid``: annealing bettered the plan; ``ends``: of runs, which are there to be mixed."""
        self._idle_annealing = 0.0 if paid else self._idle_annealing + self.work
        self.work = min(MOST_WORK, GROWTH * self.work)
        stalled = self._work_of_proof - self._paid_at > max(PATIENCE, self._paid_at)
        wait = self._least_wait if self._idle_annealing < PATIENCE else min(1, self._least_wait)
        if stalled and self._idle_annealing < PATIENCE:
            # Without results for as long as it took to the last one: now and then, as long as the others do better.
            if self._waited >= self._wait:
                self._wait = min(LONGEST_WAIT, self._wait + 1)
            wait = max(wait, self._wait)
        self._waited += 1
        self.proof = not self._ended and self._waited > wait
        self._rounds_since_near += 1
        rounds = 1 if self._near_idle < PATIENCE else ERRAND_ROUNDS  # then as many as it works itself
        fallow = self._idle_annealing >= self._near_after or ends >= self._enough_ends
        self.near = fallow and not self._near_ended and self._rounds_since_near >= rounds
