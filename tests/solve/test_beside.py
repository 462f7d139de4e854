"""The proof in a process of its own."""

from __future__ import annotations

import io
import pickle
from typing import Any

import pytest

from placer.solve.beside import Beside, _serve
from placer.solve.problem import build
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
