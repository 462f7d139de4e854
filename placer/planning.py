"""One run of ``placer plan``: read, choose a board, search, write. Prints nothing itself."""

from __future__ import annotations

import functools
import threading
import time
from dataclasses import dataclass, replace
from pathlib import Path

from placer.boards.catalogue import load_board
from placer.boards.model import Board
from placer.check.judge import judge
from placer.choose import Choice, choose_board
from placer.circuit.lint import lint
from placer.circuit.model import Circuit
from placer.circuit.read import read_circuit_file
from placer.errors import Diagnostic, Exit, PlacerError
from placer.guide.paper import DEFAULT_PAPER
from placer.guide.write import write_guide
from placer.interrupt import Interrupts
from placer.limits.find import find
from placer.limits.voltage import refusals
from placer.outputs import Staging, default_folder, staging
from placer.plan.crop import Crop, crop
from placer.plan.file import read_plan
from placer.plan.keep import soldered
from placer.plan.model import Options, Plan, SolveInfo
from placer.progress import ProgressLine
from placer.solve.api import Outcome, Progress, Request
from placer.solve.reasons import Explanation
from placer.solve.run import solve

SHORT_SECONDS = 5.0
SHORT_EFFORT = 2
EXPLAIN_SECONDS = 10.0


@dataclass(frozen=True)
class Order:
    """What the user asks for. ``seconds`` and ``effort`` bound the search; ``cuts``: None follows the board.

    ``crop_margin``: how much board (mm) to leave around what is used when it is sawn down; None saws nothing.
    ``explain``: say why each jumper and cut is there. ``parts_map``: of a netlist that knows no packages, which may
    include files outside its folder where ``allow_outside``. ``paper``: the size of the guide's pages.
    ``explain``: say why each jumper and cut is there. ``habits``: wish for what builders do without being asked.
    ``keep``: the parts (shell patterns) that are soldered already where the plan ``start`` has them.
    """

    circuit: Path
    board: str | None = None
    out: Path | None = None
    seconds: float | None = 30.0
    effort: int | None = None
    seed: int = 1
    workers: int = 2
    jumper_cost: float = 1.0
    cut_cost: float = 0.8
    cuts: bool | None = None
    diagonals: bool = False
    start: Path | None = None
    crop_margin: float | None = None
    bridge_cost: float = Options.bridge_cost
    explain: bool = False
    parts_map: Path | None = None
    allow_outside: bool = False
    paper: str = DEFAULT_PAPER
    habits: bool = True
    keep: tuple[str, ...] = ()

    def options(self, board: Board) -> Options:
        """Return the rules of the plan on this board."""
        allow = board.cut_by_default if self.cuts is None else self.cuts
        solder = self.bridge_cost if board.bridges else Options.bridge_cost
        return Options(self.jumper_cost, self.cut_cost, allow, self.diagonals, solder, self.habits)


@dataclass(frozen=True)
class Result:
    """What came of it. ``choice``: why this board, "" when the user named it.

    ``crop``: where to saw, and ``explanation``: why not better; if wanted.
    """

    plan: Plan
    files: tuple[Path, ...]
    warnings: tuple[Diagnostic, ...]
    choice: str
    interrupted: bool
    crop: Crop | None = None
    explanation: Explanation | None = None


class Checked:
    """The judge as the search calls it; keeps the best plan that passed, for a search that is ended by force."""

    def __init__(self) -> None:
        self.best: Plan | None = None
        self._lock = threading.Lock()

    def __call__(self, plan: Plan) -> tuple[Diagnostic, ...]:
        """Return the faults of a plan."""
        faults = judge(plan).faults
        if not faults:
            with self._lock:
                if self.best is None or _rank(plan) < _rank(self.best):
                    self.best = plan
        return faults


def _rank(plan: Plan) -> tuple[float, float, float]:
    score = plan.score
    return score.cost + score.raised, score.broken, score.jumper_mm


def make_plan(order: Order, progress: ProgressLine) -> Result:
    """Carry out an order.

    Raises PlacerError for bad input (before the search begins, also for a folder that cannot be written, and for a
    circuit of more than extra-low voltage), with exit code NO_PLAN when there is no plan to be had, and INTERRUPTED
    when the user stopped before there was one.
    """
    circuit, warnings = read_circuit_file(order.circuit, order.parts_map, allow_outside=order.allow_outside)
    refused = refusals(circuit)
    if refused:
        raise PlacerError(*refused)
    start = read_plan(order.start) if order.start is not None else None
    circuit = soldered(circuit, start, order.keep)
    board = load_board(order.board) if order.board is not None else None
    with staging(order.out or default_folder(circuit.name)) as stage:
        said = "stopping; the best plan so far will be written"
        with Interrupts(lambda: progress.say(said)) as interrupts:
            began = time.monotonic()
            choice = Choice(board, "") if board is not None else _choose(circuit, order, progress, interrupts)
            if order.seconds is not None:
                used = time.monotonic() - began
                order = replace(order, seconds=max(1.0, order.seconds - used))
            plan, interrupted = _search(circuit, choice.board, order, start, progress, interrupts)
            interrupts.hold()
            plan = replace(plan, findings=find(plan))
            sawn = None if order.crop_margin is None else crop(plan, order.crop_margin)
            why = _why(plan, interrupts) if order.explain else None
            files = _write(plan, stage, sawn, order.paper)
    found = judge(plan).warnings
    return Result(plan, tuple(files), (*warnings, *lint(circuit), *found), choice.reason, interrupted, sawn, why)


def _why(plan: Plan, interrupts: Interrupts) -> Explanation:
    from placer.solve.explain import explain  # here, as below: it loads a solver that few plans need

    return explain(plan, EXPLAIN_SECONDS, interrupts.stop)


def _write(plan: Plan, stage: Staging, sawn: Crop | None, paper: str) -> list[Path]:
    guide = functools.partial(write_guide, crop=sawn, paper=paper)
    return stage.write(plan, guide, lambda written: judge(written).faults)


def _request(circuit: Circuit, board: Board, order: Order) -> Request:
    return Request(
        circuit,
        board,
        order.options(board),
        seconds=order.seconds,
        effort=order.effort,
        seed=order.seed,
        workers=order.workers,
    )


def _choose(circuit: Circuit, order: Order, progress: ProgressLine, interrupts: Interrupts) -> Choice:
    """Choose a board by short searches, each ended by its first plan, which together take at most half of the time."""
    deadline = None if order.seconds is None else time.monotonic() + order.seconds / 2

    def short_search(board: Board) -> Outcome:
        left = SHORT_SECONDS if deadline is None else min(SHORT_SECONDS, max(0.5, deadline - time.monotonic()))
        enough = interrupts.link()

        def on_progress(state: Progress) -> None:
            progress.update(state)
            if state.cost is not None:
                enough.set()

        progress.begin(f"{circuit.name}, trying {board.name}")
        request = replace(_request(circuit, board, order), seconds=left, effort=SHORT_EFFORT)
        return replace(solve(request, Checked(), on_progress, enough), interrupted=interrupts.stop.is_set())

    return choose_board(circuit, order.options, short_search)


def _search(
    circuit: Circuit, board: Board, order: Order, start: Plan | None, progress: ProgressLine, interrupts: Interrupts
) -> tuple[Plan, bool]:
    checked = Checked()
    progress.begin(f"{circuit.name} on {board.name}")
    request = replace(_request(circuit, board, order), start=start)
    began = time.monotonic()
    try:
        outcome = solve(request, checked, progress.update, interrupts.stop)
    except KeyboardInterrupt:  # the second Ctrl-C: what the search knows of the bound is lost, the plan is not
        info = SolveInfo(time.monotonic() - began, order.seed, order.workers)
        outcome = Outcome(checked.best and replace(checked.best, solve=info), interrupted=True)
    if outcome.plan is not None:
        return outcome.plan, outcome.interrupted
    if outcome.interrupted:
        message = "interrupted before a plan was found; nothing is written"
        raise PlacerError(Diagnostic("interrupted", message), exit_code=Exit.INTERRUPTED)
    from placer.solve.conflict import explain_none

    outcome = explain_none(request, outcome, Checked(), lambda part: solve(part, Checked(), None, interrupts.stop))
    if outcome.proved_impossible:
        message = f"circuit {circuit.name} has no plan on board {board.name}, whatever the time:"
        headline = Diagnostic("no-plan-possible", message)
    else:
        message = f"no plan for circuit {circuit.name} on board {board.name} was found:"
        headline = Diagnostic("no-plan-found-yet", message)
    raise PlacerError(headline, *outcome.reasons, exit_code=Exit.NO_PLAN)
