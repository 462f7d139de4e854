"""The first run after installation: a first plan while other processes compile, and nothing else changed by that."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from placer.boards.catalogue import load_board
from placer.circuit.read_yaml import read_circuit
from placer.plan.model import Plan
from placer.solve import cold, compiled, run, warm
from placer.solve.api import Outcome, Progress, Request
from placer.solve.problem import build
from placer.solve.store import Store
from tests.solve.engine import faults, short_polish
from tests.solve.test_determinism import hive_bell, timeless

NETLISTS = Path(__file__).parents[2] / "netlists"
BOARDS = ("five-hole-10", "long-strip-8x14")


class Compilers:
    """Stand-ins that compile nothing: they work until they are told to be done."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.started: list[str] = []
        self.processes: list[subprocess.Popen[bytes]] = []
        patch.setattr(warm, "ready", lambda _parts: False)
        patch.setattr(cold, "_compiler", self.start)

    def start(self, part: str) -> subprocess.Popen[bytes]:
        self.started.append(part)
        waiting = [sys.executable, "-c", "import sys; sys.stdin.read()"]
        self.processes.append(subprocess.Popen(waiting, stdin=subprocess.PIPE))
        return self.processes[-1]

    def be_done(self) -> None:
        for process in self.processes:
            if process.stdin is not None:
                process.stdin.close()
            process.wait()


@pytest.fixture
def compilers(monkeypatch: pytest.MonkeyPatch) -> Iterator[Compilers]:
    made = Compilers(monkeypatch)
    yield made
    made.be_done()


def cold_run(request: Request, compilers: Compilers, stop: threading.Event | None = None) -> tuple[Outcome, Progress]:
    """A run that has to compile, which takes until a first plan is there; with what it said of that plan."""
    said: list[Progress] = []

    def hear(state: Progress) -> None:
        if state.phase == cold.PHASE and state.cost is not None:
            said.append(state)
            if stop is not None:
                stop.set()
            elif set(compilers.started) >= set(warm.STRIPS):
                compilers.be_done()
            else:  # the other half starts once the first plan is there
                threading.Timer(0.5, compilers.be_done).start()

    outcome = run.solve(request, faults, hear, stop)
    return outcome, said[0]


@pytest.mark.parametrize("name", BOARDS)
def test_a_first_plan_comes_while_others_compile(name: str, compilers: Compilers) -> None:
    stop = threading.Event()
    request = Request(hive_bell(), load_board(name), seconds=None, effort=1)
    outcome, said = cold_run(request, compilers, stop)
    assert outcome.interrupted
    plan = outcome.plan
    assert plan is not None
    assert faults(plan) == ()
    assert (plan.score.cost, plan.score.jumpers) == (said.cost, said.jumpers)


@pytest.mark.parametrize("name", ["five-hole-30", "long-strip-24x37"])
def test_so_does_one_of_thirty_parts(name: str, compilers: Compilers) -> None:
    circuit, _ = read_circuit(NETLISTS / "feeder-motor-driver.yaml")
    assert len(circuit.parts) == 30
    outcome, _ = cold_run(Request(circuit, load_board(name)), compilers, threading.Event())
    assert outcome.plan is not None
    assert faults(outcome.plan) == ()


@pytest.mark.parametrize("name", BOARDS)
def test_a_search_by_rounds_gives_the_same_plan_whether_it_compiled_or_not(
    name: str, compilers: Compilers, monkeypatch: pytest.MonkeyPatch
) -> None:
    short_polish(monkeypatch)
    request = Request(hive_bell(), load_board(name), seconds=None, effort=2, seed=3)
    made, _ = cold_run(request, compilers)
    monkeypatch.undo()
    short_polish(monkeypatch)
    again = run.solve(request, faults)
    assert made.plan is not None
    assert again.plan is not None
    assert timeless(made.plan) == timeless(again.plan)


def test_a_stop_before_there_is_a_plan_ends_the_run_at_once(compilers: Compilers) -> None:
    stop = threading.Event()
    stop.set()
    outcome = run.solve(Request(hive_bell(), load_board("five-hole-10")), faults, None, stop)
    assert outcome.interrupted
    assert outcome.plan is None
    assert [d.code for d in outcome.reasons] == ["no-plan-found"]
    assert compilers.processes[0].poll() is None, (
        "what compiles goes on: another search of this process may wait for it"
    )


def test_files_of_the_working_folder_are_not_taken_for_modules(
    compilers: Compilers, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in ("json", "random", "numpy", "placer"):
        (tmp_path / f"{module}.py").write_text("raise SystemExit\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    outcome, _ = cold_run(Request(hive_bell(), load_board("five-hole-10")), compilers, threading.Event())
    assert outcome.plan is not None


def test_without_another_process_the_search_compiles_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: object, **__: object) -> None:
        raise OSError("no processes here")

    short_polish(monkeypatch)
    monkeypatch.setattr(warm, "ready", lambda _parts: False)
    monkeypatch.setattr(cold.child, "start", none)
    cold._compiler.cache_clear()
    outcome = run.solve(Request(hive_bell(), load_board("five-hole-10"), seconds=None, effort=1), faults)
    cold._compiler.cache_clear()
    assert outcome.plan is not None


# --- when the first plan counts ------------------------------------------------------------------------------------


def plans(request: Request) -> tuple[cold.FirstPlan, Store]:
    """A first plan, and the store of a search that has found none."""
    problem = build(request.circuit, request.board, request.options)
    first = cold.FirstPlan(problem, faults)
    maker = cold._Maker(problem, 1, able=True)
    with contextlib.closing(maker):
        while first.store.best is None:
            places = maker.next()
            if places is not None:
                first.store.offer(places, "first")
    return first, Store(problem, faults, None)


REQUEST = Request(hive_bell(), load_board("five-hole-10"), seconds=1.0)
NOTHING = Outcome(None, ())


def better(first: cold.FirstPlan) -> Plan:
    assert first.store.best is not None
    return first.store.best


def test_it_counts_where_the_clock_ends_a_search_without_one_as_good() -> None:
    first, store = plans(REQUEST)
    store.raise_bound(1.0, "test")
    found = first.or_better(REQUEST, store, NOTHING).plan
    assert found is not None
    assert faults(found) == ()
    assert found.score.cost == better(first).score.cost
    assert found.proof.lower_bound == 1.0
    by_effort = replace(REQUEST, seconds=None, effort=3)
    assert first.or_better(by_effort, store, replace(NOTHING, interrupted=True)).plan is not None


def test_it_does_not_where_the_search_ends_by_itself_or_has_one_as_good() -> None:
    first, store = plans(REQUEST)
    assert first.or_better(replace(REQUEST, seconds=None, effort=3), store, NOTHING) is NOTHING
    assert first.or_better(REQUEST, store, impossible := replace(NOTHING, proved_impossible=True)) is impossible
    assert first.store.places is not None
    store.offer(first.store.places, "search")
    assert first.or_better(REQUEST, store, NOTHING) is NOTHING
    dear = Store(store.problem, faults, None)
    dear.best, dear.places, dear.rank = store.best, store.places, (store.rank[0] + 1, 0.0, 0)
    assert first.or_better(REQUEST, dear, NOTHING).plan is not None
    dear.raise_bound(dear.rank[0], "proof")
    assert first.or_better(REQUEST, dear, NOTHING) is NOTHING


def test_it_is_shown_as_long_as_the_search_has_none_as_cheap() -> None:
    first, _ = plans(REQUEST)
    cost = better(first).score.cost
    heard: list[Progress] = []
    tell = first.shown(heard.append)
    assert tell is not None
    for own in (None, cost + 1, cost - 1):
        tell(Progress(1.0, "annealing", own, 0, 0, 0.0))
    assert [state.cost for state in heard] == [cost, cost, cost - 1]
    assert heard[0].jumpers == better(first).score.jumpers
    assert first.shown(None) is None


# --- where compiled code is kept -----------------------------------------------------------------------------------


def folder() -> Path:
    return compiled.cache_folder.__wrapped__()


def test_compiled_code_is_kept_where_numba_is_told_to_or_in_the_users_cache(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "own"))
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    assert folder().is_relative_to(tmp_path / "own")
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "told"))
    assert folder().is_relative_to(tmp_path / "told")


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="this system tells users apart in other ways")
def test_without_a_folder_of_its_own_it_is_kept_where_nobody_else_can_write(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file" / "below"))
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setattr(compiled.tempfile, "tempdir", str(tmp_path))
    first = folder()
    base = first.parents[1]
    assert base.parent == tmp_path
    assert base.stat().st_mode & 0o077 == 0
    base.chmod(0o777)  # code that anyone could have put there is not run
    assert not folder().is_relative_to(base)
    assert folder().is_relative_to(tmp_path)


# --- the real thing ------------------------------------------------------------------------------------------------


def test_a_real_first_run_makes_what_a_later_one_does(tmp_path: Path) -> None:
    """Compiles everything in an empty folder: the longest test of these, some 20 seconds."""
    script = (
        "from tests.solve.test_cold import REQUEST, faults, run, replace, timeless\n"
        "request = replace(REQUEST, seconds=None, effort=1)\n"
        "print(timeless(run.solve(request, faults).plan))\n"
    )
    environment = {**os.environ, "XDG_CACHE_HOME": str(tmp_path)}
    environment.pop("NUMBA_CACHE_DIR", None)
    command = [sys.executable, "-c", script]
    first, later = (
        subprocess.run(command, env=environment, capture_output=True, text=True, check=True, cwd=NETLISTS.parent)
        for _ in range(2)
    )
    assert first.stdout == later.stdout
    (kept,) = (tmp_path / "placer").iterdir()
    assert len(list(kept.glob("*.ready"))) == len(warm.STRIPS)
    # Two processes that compile different parts at once both compile what these have in common.
    common = [p for p in kept.rglob("*.nbc") if p.name.split(".")[0] in ("bodies", "pricing", "moves", "compiled")]
    assert common
    assert [p.name for p in common if not p.name.endswith(".1.nbc")] == [], "compiled in two versions"
