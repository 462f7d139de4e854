"""Who works in the next round: by what has paid so far."""

from __future__ import annotations

from placer.solve.problem import build
from placer.solve.prover import Finding
from placer.solve.turns import ENOUGH_ENDS, ENOUGH_ENDS_MANY, ERRAND_ROUNDS, NEAR_AFTER, PATIENCE, Turns
from tests.bench.boards import made_case


def turns_of(parts: int = 40) -> Turns:
    """The turns of a made circuit on long strips."""
    made = made_case(parts, 1, "long-strip")
    return Turns(build(made.circuit, made.board, made.options))


def idle(turns: Turns, work: float) -> None:
    """Anneal for so much work or a little more, for nothing."""
    done = 0.0
    while done < work:
        done += turns.work
        turns.annealed(paid=False)


def rounds_until_near(turns: Turns) -> int:
    """How many rounds annealing has until plans near the best one are looked for again."""
    rounds = 0
    while not turns.near:
        turns.annealed(paid=False)
        rounds += 1
        assert rounds < 100
    return rounds


def test_plans_near_the_best_one_are_looked_for_when_annealing_finds_none() -> None:
    turns = turns_of()
    for _ in range(20):
        turns.annealed(paid=True)
        assert not turns.near
    idle(turns, NEAR_AFTER)
    assert turns.near
    turns.annealed(paid=True)
    assert not turns.near


def test_with_many_parts_annealing_is_waited_for_longer() -> None:
    turns = turns_of(80)
    idle(turns, NEAR_AFTER)
    assert not turns.near
    idle(turns, PATIENCE)
    assert turns.near


def test_where_plans_of_several_runs_are_mixed_nobody_waits_until_annealing_is_idle() -> None:
    for parts, enough in ((40, ENOUGH_ENDS), (80, ENOUGH_ENDS_MANY)):
        turns = turns_of(parts)
        turns.annealed(paid=True, ends=enough - 1)
        assert not turns.near
        turns.annealed(paid=True, ends=enough)
        assert turns.near


def test_annealing_has_a_round_between_and_more_when_nothing_is_found_near_the_best_plan() -> None:
    turns = turns_of()
    idle(turns, NEAR_AFTER)
    turns.told_near(Finding(0.0, work=1.0), paid=True)
    assert not turns.near
    assert rounds_until_near(turns) == 1
    turns.told_near(Finding(0.0, work=PATIENCE), paid=False)
    assert rounds_until_near(turns) == ERRAND_ROUNDS
    turns.told_near(Finding(0.0, work=1.0), paid=True)
    assert rounds_until_near(turns) == 1


def test_who_has_ended_has_no_more_turns() -> None:
    turns = turns_of()
    idle(turns, NEAR_AFTER)
    turns.told_near(Finding(0.0, ended=True), paid=False)
    idle(turns, PATIENCE)
    assert not turns.near
    assert turns.proof
    turns.told(Finding(0.0, ended=True), paid=False, rounds=1)
    turns.annealed(paid=False)
    assert not turns.proof
