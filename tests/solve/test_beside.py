"""The proof in a process of its own."""

from __future__ import annotations

import pytest

from placer.solve.beside import Beside
from placer.solve.problem import build
from placer.solve.prover import Task
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
