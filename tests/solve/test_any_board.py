"""Boards that nobody has seen: drawn by lot or written here, read from text, planned on, judged and read back."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, note, settings
from hypothesis import strategies as st

from placer.boards.catalogue import families, names
from placer.boards.loader import read_board
from placer.boards.model import Board, Strip
from placer.check.judge import judge
from placer.circuit.model import Circuit
from placer.circuit.read_yaml import read_circuit
from placer.plan.model import Options, Plan
from placer.plan.readback import readback
from placer.solve.api import Outcome
from tests.outside import need
from tests.solve.agree import claims_are_true
from tests.solve.brute import Answer, optimum
from tests.solve.cases import Case
from tests.solve.drawn import board_texts, circuit_texts
from tests.solve.engine import answer_of, short_polish
from tests.solve.wires import TooLargeError
from tests.truth.lvs import compare
from tests.truth.netlist import from_circuit, from_plan

SLOW = [HealthCheck.too_slow, HealthCheck.filter_too_much]


@pytest.fixture(autouse=True, scope="module")
def _quick():  # type: ignore[no-untyped-def]
    with pytest.MonkeyPatch.context() as patch:
        short_polish(patch)
        yield


def case_of(board: str, circuit: str, *, cuts: bool | None = None, diagonals: bool = False) -> Case:
    """A case from the texts of its files. ``cuts``: None follows the board, as the command does."""
    on = read_board(Path("drawn.yaml"), text=board)
    allow = on.cut_by_default if cuts is None else cuts
    return Case("drawn", read_circuit(Path("c.yaml"), text=circuit)[0], on, Options(1.0, 0.8, allow, diagonals))


def truth_of(case: Case) -> Answer | None:
    """The least cost by exhaustion; None where that takes too long."""
    try:
        return optimum(case.circuit, case.board, case.options, most_nodes=300_000)
    except TooLargeError:
        return None


def connections(circuit: Circuit) -> set[tuple[str, frozenset[str]]]:
    return {(net.name, frozenset(map(str, net.pins))) for net in circuit.nets}


def plan_is_right(plan: Plan, case: Case) -> None:
    """Judged, and the netlist read back from the copper is that of the source, name by name."""
    report = judge(plan)
    assert report.faults == ()
    assert {(net.name, frozenset(map(str, net.pins))) for net in readback(plan)} == connections(case.circuit)
    assert plan.board == case.board
    assert set(plan.placements) == {part.ref for part in case.circuit.parts}


def answer_is_honest(outcome: Outcome, case: Case) -> None:
    """A right plan, or a refusal that gives reasons."""
    if outcome.plan is not None:
        plan_is_right(outcome.plan, case)
        return
    assert outcome.reasons
    assert all(reason.message and reason.help and reason.severity == "error" for reason in outcome.reasons)


@given(board_texts(16, 12), circuit_texts(6), st.sampled_from((True, None, False)), st.booleans())
@settings(max_examples=50, deadline=None, suppress_health_check=SLOW)
def test_on_any_board_there_is_a_right_plan_or_an_honest_refusal(
    board: str, circuit: str, cuts: bool | None, diagonals: bool
) -> None:
    note(board)
    note(circuit)
    case = case_of(board, circuit, cuts=cuts, diagonals=diagonals)
    answer_is_honest(answer_of(case, 1), case)


@given(board_texts(8, 6), circuit_texts(3), st.sampled_from((True, None, False)), st.booleans())
@settings(max_examples=80, deadline=None, suppress_health_check=SLOW)
def test_on_a_tiny_board_every_claim_is_borne_out_by_exhaustion(
    board: str, circuit: str, cuts: bool | None, diagonals: bool
) -> None:
    note(board)
    note(circuit)
    case = case_of(board, circuit, cuts=cuts, diagonals=diagonals)
    truth = truth_of(case)
    assume(truth is not None)
    assert truth is not None
    outcome = answer_of(case, 2)
    answer_is_honest(outcome, case)
    claims_are_true(outcome, truth)
    if truth.plan is not None:
        plan_is_right(truth.plan, case)


@pytest.mark.outside
def test_an_independent_comparer_agrees_on_plans_for_any_board() -> None:
    """A sample: the comparer is slower than the search."""
    need("netgen-lvs")
    compared = []

    @given(board_texts(16, 12), circuit_texts(5))
    @settings(max_examples=25, deadline=None, suppress_health_check=SLOW)
    def agree(board: str, circuit: str) -> None:
        note(board)
        note(circuit)
        case = case_of(board, circuit, cuts=True)
        plan = answer_of(case, 1).plan
        if plan is None:
            return
        with tempfile.TemporaryDirectory() as folder:
            verdict = compare(from_circuit(case.circuit), from_plan(plan), Path(folder))
        assert verdict.equal, verdict.text
        compared.append(plan)

    agree()
    assert len(compared) >= 5


# --- a board written here ------------------------------------------------------------------------------------------

FOURS = """
board: queen-ladder
about: pads in fours, three in a row, between the rungs of a ladder of rails
hole_mm: 1.3
labels: {columns: a..o, rows: 21}
cut: {between: true, by_default: false}
blocks:
  - {name: "A{row}-{section}", at: [1, 1], strips: 4, holes: 12, sections: 4}
  - {name: "B{row}-{section}", at: [1, 6], strips: 4, holes: 12, sections: 4}
  - {name: "C{row}-{section}", at: [1, 11], strips: 4, holes: 12, sections: 4}
  - {name: "D{row}-{section}", at: [1, 16], strips: 4, holes: 12, sections: 4}
rails:
  - {name: outer, at: [14, 0], holes: 21, address: "{column}{row}", cut: none}
strips:
  - name: ladder
    rail: true
    cut: none
    address: "{column}{row}"
    runs:
      - [[0, 0], [0, 20]]
      - [[13, 0], [13, 20]]
      - [[0, 0], [13, 0]]
      - [[0, 5], [13, 5]]
      - [[0, 10], [13, 10]]
      - [[0, 15], [13, 15]]
      - [[0, 20], [13, 20]]
"""


def test_a_board_of_a_pattern_in_no_catalogue_is_planned_on() -> None:
    board = read_board(Path("queen-ladder.yaml"), text=FOURS)
    assert board.name not in names()
    assert not any("ladder" in name or "four" in name for name in families())
    assert sorted(len(s.holes) for s in board.strips) == [4] * 48 + [21, 2 * 21 + 5 * 12]
    for name in ("hive-lantern", "gate-blinker"):
        circuit, _ = read_circuit(Path(__file__).parents[2] / "netlists" / f"{name}.yaml")
        case = Case(name, circuit, board, Options(allow_cuts=False))
        plan = answer_of(case, 3).plan
        assert plan is not None
        plan_is_right(plan, case)


def test_copper_that_runs_round_in_rings_joins_its_far_ends() -> None:
    """Pins on both rails of the ladder and on its rungs need no wire; one beside it on other copper needs one."""
    for hole, jumpers in (("f1", 0), ("o21", 1)):
        circuit = f"""
circuit: rungs
parts:
  P1: {{package: pad-1, place: {{at: {{1: a21}}}}}}
  P2: {{package: pad-1, place: {{at: {{1: n1}}}}}}
  P3: {{package: pad-1, place: {{at: {{1: h11}}}}}}
  P4: {{package: pad-1, place: {{at: {{1: {hole}}}}}}}
nets:
  A: [P1.1, P2.1, P3.1, P4.1]
"""
        case = case_of(FOURS, circuit)
        plan = answer_of(case, 4).plan
        assert plan is not None
        plan_is_right(plan, case)
        assert (len(plan.jumpers), plan.proof.status) == (jumpers, "optimal")


def test_boards_drawn_by_lot_have_every_feature() -> None:
    """What the tests above are worth: none of these is left to chance."""
    boards: list[Board] = []

    @given(board_texts(16, 12))
    @settings(max_examples=60, deadline=None, derandomize=True, database=None, suppress_health_check=SLOW)
    def draw(text: str) -> None:
        boards.append(read_board(Path("drawn.yaml"), text=text))

    draw()
    strips = [strip for board in boards for strip in board.strips]

    def ways(strip: Strip, board: Board) -> set[str]:
        first, last = board.holes[strip.holes[0]], board.holes[strip.holes[-1]]
        return {"across" if first.y == last.y else "down"} if len(strip.holes) > 1 else set()

    both_ways = [b for b in boards if set().union(*(ways(s, b) for s in b.strips)) == {"across", "down"}]
    features = {
        "strips both ways": len(both_ways),
        "rails": sum(any(s.rail for s in b.strips) for b in boards),
        "branching copper": sum(not s.is_path for s in strips),
        "copper round the edge": sum(bool(s.off_grid) for s in strips),
        "keep-outs": sum(len(b.keepouts) > len(b.mounting) for b in boards),
        "mounting holes": sum(bool(b.mounting) for b in boards),
        "strips of different rules": sum(len({s.cut for s in b.strips if len(s.holes) > 1}) > 1 for b in boards),
    }
    rules = {(b.cut.at_hole, b.cut.between) for b in boards}
    assert len(rules) == 4
    assert min(features.values()) >= 4, features
    assert len({len(s.holes) for s in strips}) >= 8
