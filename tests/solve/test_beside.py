"""The proof in a process of its own."""

from __future__ import annotations

import io
import pickle
from types import SimpleNamespace
from typing import Any

import pytest

from placer.solve import child
from placer.solve.beside import FIRST_WORK, Beside, _serve
from placer.solve.problem import Problem, build
from placer.solve.prover import Finding, Task
from tests.bench.boards import made_case


@pytest.mark.parametrize("task", [Task.PROOFS, Task.NEAR])
def test_what_others_ask_of_the_board_meanwhile_does_not_keep_it_from_starting(task: Task) -> None:
    """Board and circuit keep what they have worked out, in the midst of being packed for the other process."""
    made = made_case(40, 1, "five-hole")
    p = build(made.circuit, made.board, made.options)
    beside = Beside(p, 1, lambda: False, task, alone=False)
    assert beside.starts
    # What cannot be packed stands for a dictionary that grows while it is.
    vars(p.board)["hole_at"] = vars(p.circuit)["part_by_ref"] = lambda: None
    try:
        assert not beside.advance(0.1, 100.0, None, None).impossible
        assert not beside.lost
        assert not beside.starts
    finally:
        beside.close()


def hard(seed: int = 1) -> Problem:
    made = made_case(25, seed, "five-hole")
    return build(made.circuit, made.board, made.options)


def test_the_other_process_gets_ready_while_the_first_portions_are_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    started = []

    def start(*args: Any, **given: Any) -> Any:
        started.append(args)
        return child.start(*args, **given)

    monkeypatch.setattr("placer.solve.beside.child", SimpleNamespace(start=start))
    beside = Beside(hard(), 1, lambda: False, Task.PROOFS, alone=False)
    try:
        assert not started
        here = beside.advance(0.05, 100.0, None, None)
        assert here.work > 0
        assert not here.ended
        assert len(started) == 1
        assert not beside.starts
        beside.advance(FIRST_WORK, 100.0, None, None)
        assert beside.starts
        there = beside.advance(0.05, 100.0, None, None)
        assert there.bound >= here.bound
        assert not beside.starts
        assert not beside.lost
        assert len(started) == 1
    finally:
        beside.close()


def test_a_proof_that_ends_here_starts_no_process(monkeypatch: pytest.MonkeyPatch) -> None:
    made = made_case(5, 1, "five-hole")
    monkeypatch.setattr("placer.solve.beside.child", SimpleNamespace(start=pytest.fail))
    beside = Beside(build(made.circuit, made.board, made.options), 1, lambda: False, Task.PROOFS, alone=False)
    assert beside.advance(FIRST_WORK, 100.0, None, None).ended


def test_a_process_that_cannot_be_started_is_a_proof_that_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    def start(*_: Any, **__: Any) -> Any:
        raise OSError("no more processes")

    monkeypatch.setattr("placer.solve.beside.child", SimpleNamespace(start=start))
    beside = Beside(hard(), 1, lambda: False, Task.PROOFS, alone=False)
    here = beside.advance(2 * FIRST_WORK, 100.0, None, None)
    assert not here.ended
    after = beside.advance(1.0, 100.0, None, None)
    assert after.ended
    assert after.bound == here.bound
    assert beside.lost


@pytest.mark.parametrize("asked_before", [True, False])
def test_a_process_that_is_gone_is_a_proof_that_is_lost(*, asked_before: bool) -> None:
    """Ended by the system, say; what is known stays, and nothing breaks when the search ends."""
    beside = Beside(hard(), 1, lambda: False, Task.PROOFS, alone=False)
    known = beside.advance(2 * FIRST_WORK, 100.0, None, None).bound
    if asked_before:
        known = beside.advance(0.05, 100.0, None, None).bound
    assert beside._process is not None
    beside._process.kill()
    beside._process.wait()
    after = beside.advance(0.05, 100.0, None, None)
    assert after.ended
    assert after.bound == known
    assert beside.lost
    beside.close()
    assert beside._process is None


def test_plans_of_other_runs_reach_the_other_process(monkeypatch: pytest.MonkeyPatch) -> None:
    made = made_case(10, 1, "long-strip")
    places = ((0, 1), (2, 3))
    asked = []

    class Spy:
        def __init__(self, *_: object) -> None:
            """Nothing to prove."""

        def advance(self, *args: Any) -> Finding:
            asked.append(args)
            return Finding(7.0)

    monkeypatch.setattr("placer.solve.beside.Prover", Spy)
    questions = [(made.circuit, made.board, made.options, 1, Task.NEAR), (0.5, 9.0, places, (places, places), None)]
    answers = io.BytesIO()
    _serve(io.BytesIO(b"".join(map(pickle.dumps, questions))), answers)
    assert asked == [(0.5, 9.0, places, (places, places))]
    assert pickle.loads(answers.getvalue()) == Finding(7.0)  # noqa: S301 - written above
