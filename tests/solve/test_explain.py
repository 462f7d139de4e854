"""Why not better: every jumper and cut has its reason, and what is said to be impossible is, by trying everything."""

from __future__ import annotations

import itertools
import json
import random
import re
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from placer.boards.catalogue import load_board
from placer.circuit.model import Circuit, Net, Part, PinRef
from placer.cli import main
from placer.packages.catalogue import lookup
from placer.plan.file import read_plan
from placer.plan.model import Options, Plan
from placer.solve import run
from placer.solve.api import Request
from placer.solve.conflict import Wish, wishes_of, without
from placer.solve.counting import nets_and_strips, own_cuts, pieces_needed
from placer.solve.explain import explain
from placer.solve.problem import build
from placer.solve.reasons import COUNTING, ELSEWHERE, LOCAL, Explanation, Fact, Reason
from tests.solve import brute
from tests.solve.cases import Case, any_circuit, board_of
from tests.solve.engine import answer_of, faults, short_polish
from tests.solve.kinds import case
from tests.solve.poses import Pose
from tests.solve.wires import TooLargeError

OUTPUTS = Path(__file__).resolve().parents[2] / "outputs"
LONG = 10  # holes; longer strips are called rails or long strips in reasons


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    short_polish(monkeypatch)


# --- the truth -------------------------------------------------------------------------------------------------------


class Truth:
    """Tries every way in which some parts of a plan can stand on its board."""

    def __init__(self, plan: Plan, refs: Sequence[str]) -> None:
        wishes = frozenset(w for p in plan.circuit.parts for w in wishes_alone(p))
        circuit = without(plan.circuit, frozenset(refs), wishes)
        self.board = plan.board
        # Nets are numbered in the whole circuit, so that open pins of the parts keep apart as well.
        self.net_of, _ = brute._nets(plan.circuit)
        search = brute._Search(circuit, plan.board, plan.options, 1_000_000, ())
        search._tables()
        self.search, self.ground, self.options = search, search.ground, plan.options
        self.strip = [s for s in plan.board.strips for _ in s.holes]

    def standings(self) -> Iterator[dict[PinRef, int]]:
        """Pin -> hole of every legal way to stand."""
        search = self.search
        chosen: list[int] = []

        def extend() -> Iterator[dict[PinRef, int]]:
            k = len(chosen)
            if k == len(search.parts):
                at: dict[PinRef, int] = {}
                for part, number in zip(search.parts, chosen, strict=True):
                    pose: Pose = search.flat[number]
                    pins = search.circuit.packages[part.package].pins
                    at |= {PinRef(part.ref, pin): h for pin, h in zip(pins, pose.holes, strict=True)}
                if self._copper(at):
                    yield at
                return
            for number in range(int(search.start[k]), int(search.start[k + 1])):
                if all(search.agree[number, other] for other in chosen):
                    chosen.append(number)
                    yield from extend()
                    chosen.pop()

        yield from extend()

    def _copper(self, at: dict[PinRef, int]) -> bool:
        pin_in = {h: pin for pin, h in at.items()}
        for a, b in itertools.pairwise(sorted(pin_in)):
            strip = self.strip[a]
            if strip is not self.strip[b] or self.net_of[pin_in[a]] == self.net_of[pin_in[b]]:
                continue
            allowed = self.options.allow_cuts and strip.is_path
            if not (allowed and (strip.cut.between or (strip.cut.at_hole and b - a > 1))):
                return False
        return True

    def holds(self, fact: Fact, at: dict[PinRef, int]) -> bool:
        """Is a fact true of the parts as they stand? "wire-end" is asked of whole strips: less than what is meant."""
        holes = {str(pin): h for pin, h in at.items()}
        if fact.kind == "share":
            mine = sorted(holes[pin] for pin in fact.pins)
            strips = {self.strip[h].name for h in mine}
            if len(strips) > 1 or (fact.strip == "short" and len(self.strip[mine[0]].holes) > LONG):
                return False
            net = self.net_of[next(pin for pin, h in at.items() if h == mine[0])]
            return all(self.net_of[pin] == net for pin, h in at.items() if mine[0] < h < mine[-1])
        if fact.kind == "apart":
            return self.strip[holes[fact.pins[0]]] is not self.strip[holes[fact.pins[1]]]
        if fact.kind == "on":
            return fact.strip.split()[1] == self.strip[holes[fact.pins[0]]].name
        if fact.kind == "stands":
            return True
        assert fact.kind == "wire-end"
        nets = [net.name for net in self.search.circuit.nets]
        if fact.net not in nets:
            return True
        taken = set(at.values())
        for part, holes_of in itertools.groupby(at.items(), key=lambda e: e[0].part):
            stood = tuple(h for _, h in holes_of)
            k = next(k for k, p in enumerate(self.search.parts) if p.ref == part)
            pose = next(p for p in self.search.poses[k] if p.holes == stood)
            taken |= pose.covers
        pins = next(net.pins for net in self.search.circuit.nets if net.name == fact.net)
        for pin in pins:
            strip = self.strip[at[pin]]
            if all(h in taken for h in range(len(self.strip)) if self.strip[h] is strip):
                return False
        return True

    def possible(self, facts: Sequence[Fact]) -> bool:
        """Is there a way to stand in which all of these are true?"""
        return any(all(self.holds(fact, at) for fact in facts) for at in self.standings())


def wishes_alone(part: Part) -> list[Wish]:
    return [w for w in wishes_of(part) if w.field not in ("near", "away")]


def parts_in(circuit: Circuit, facts: Sequence[Fact]) -> list[str]:
    named = {pin.rpartition(".")[0] for fact in facts for pin in fact.pins} | {fact.part for fact in facts}
    return [p.ref for p in circuit.parts if p.ref in named]


# --- reasons are true ------------------------------------------------------------------------------------------------


def explained(one: Case) -> tuple[Plan, Explanation] | None:
    plan = answer_of(one, 3).plan
    return None if plan is None else (plan, explain(plan, 20.0))


def check_counts(plan: Plan, explanation: Explanation) -> None:
    """Every jumper and cut has one reason, in the plan's order."""
    jumpers = [r for r in explanation.reasons if r.what == "jumper"]
    cuts = [r for r in explanation.reasons if r.what == "cut"]
    assert [r.where for r in jumpers] == [(j.start, j.end) for j in plan.jumpers]
    assert [r.nets for r in jumpers] == [(j.net,) for j in plan.jumpers]
    assert [r.where for r in cuts] == [(c.at,) if c.at else c.between for c in plan.cuts]
    assert [r.number for r in (*jumpers, *cuts)] == [*range(1, len(jumpers) + 1), *range(1, len(cuts) + 1)]
    assert all(r.text and r.kind in (LOCAL, COUNTING, ELSEWHERE) for r in explanation.reasons)


def check_truth(plan: Plan, reason: Reason) -> int:
    """The number of sets that were tried out."""
    tried = 0
    for facts in reason.cannot_all:
        if any(fact.kind == "taken" for fact in facts):
            continue
        refs = parts_in(plan.circuit, facts)
        if len(refs) > 3:
            continue
        truth = Truth(plan, refs)
        assert not truth.possible(facts), (reason.text, facts)
        tried += 1
    return tried


KINDS = [("uncut", range(30), 15), ("cut", range(40), 4), ("rows", range(25), 15)]
"""Kind of case, seeds, and how many sets must have been tried out for the test to mean something."""


def cases(kind: str, seed: int) -> Case:
    if kind != "rows":
        return case(kind, seed)[0]
    dice = random.Random(f"rows {seed}")
    cut = dice.choice(("hole", "both", "none"))
    board = board_of(
        [[(x, y) for x in range(dice.choice((6, 7)))] for y in range(4)] if False else lines(dice), cut=cut
    )
    forms = ("two", "two", "row", "square", "corner")
    return Case(f"rows {seed}", any_circuit(dice, board, 3, wishes=0.0, forms=forms), board, Options())


def lines(dice: random.Random) -> list[list[tuple[int, int]]]:
    wide = dice.choice((5, 6, 7))
    return [[(x, y) for x in range(wide)] for y in range(dice.choice((3, 4, 5)))]


@pytest.mark.parametrize(("kind", "seeds", "least"), KINDS)
def test_what_cannot_be_cannot(kind: str, seeds: range, least: int) -> None:
    tried = 0
    for seed in seeds:
        try:
            one = cases(kind, seed)
            found = explained(one)
            if found is None:
                continue
            check_counts(*found)
            for reason in found[1].reasons:
                if reason.kind == LOCAL:
                    tried += check_truth(found[0], reason)
                if reason.kind == LOCAL and not reason.cannot_all:
                    check_own_cuts(found[0], reason)
        except TooLargeError:
            continue
    assert tried >= least


def check_own_cuts(plan: Plan, reason: Reason) -> None:
    """A part's own cuts: every way in which it can stand has as many nets that change along a strip."""
    (ref,) = reason.parts
    told = int(re.search(r"at least (\d+)", reason.text)[1])  # type: ignore[index]
    truth = Truth(plan, [ref])
    fewest = min(
        sum(
            truth.strip[a] is truth.strip[b] and truth.net_of[pins[a]] != truth.net_of[pins[b]]
            for a, b in itertools.pairwise(sorted(pins))
        )
        for pins in ({h: pin for pin, h in at.items()} for at in truth.standings())
    )
    assert fewest == told > 0


def test_the_judge_of_this_test_can_say_no() -> None:
    """A fact that can be is found to be: the trial is no rubber stamp."""
    one = case("uncut", 3)[0]
    plan = answer_of(one, 2).plan
    assert plan is not None
    part = plan.circuit.parts[0]
    pin = plan.circuit.packages[part.package].pins[0]
    strip = next(s for s in plan.board.strips if plan.placements[part.ref].pins[pin] in s.holes)
    truth = Truth(plan, [part.ref])
    assert truth.possible([Fact("on", (f"{part.ref}.{pin}",), f"strip {strip.name}")])


# --- the demo plans --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["fan-supply", "scale-amplifier", "hum-speaker", "hive-counter", "hive-lantern"])
def test_demo_plans_are_explained(name: str) -> None:
    plan = read_plan(OUTPUTS / name / "plan.json")
    found = explain(plan, 10.0)
    check_counts(plan, found)
    assert found.complete
    proved = sum(r.proved for r in found.reasons)
    assert 2 * proved >= len(found.reasons)
    again = explain(plan, 10.0)
    assert again.to_data()["reasons"] == found.to_data()["reasons"]


def test_proved_reasons_say_what_cannot_be_and_others_do_not() -> None:
    plans = [read_plan(path) for path in sorted(OUTPUTS.glob("*/plan.json"))]
    reasons = [r for plan in plans if len(plan.circuit.parts) <= 25 for r in explain(plan, 10.0).reasons]
    assert {LOCAL, ELSEWHERE} <= {r.kind for r in reasons}
    for reason in reasons:
        if reason.kind not in (LOCAL, ELSEWHERE):
            continue
        assert bool(reason.cannot_all) == reason.proved
        assert reason.to_data()["proved"] == reason.proved
        if not reason.proved:
            assert "no local reason" in reason.text
            assert "bound is" in reason.text or "proved minimal" in reason.text


def test_no_time_is_said() -> None:
    found = explain(read_plan(OUTPUTS / "hum-speaker" / "plan.json"), 0.0)
    assert not found.complete
    assert not any(r.kind == LOCAL and r.smallest for r in found.reasons)
    assert "time for explaining ran out" in found.lines()[-1]


def test_where_solder_joins_pads_no_reason_is_made_up() -> None:
    plan = read_plan(OUTPUTS / "fan-supply" / "plan.json")
    request = Request(plan.circuit, load_board("single-pad-30x20"), Options(), seconds=None, effort=1, workers=1)
    found = run.solve(request, faults).plan
    assert found is not None
    told = explain(found, 5.0)
    check_counts(found, told)
    assert all(r.kind == ELSEWHERE for r in told.reasons)


def test_the_command_tells_the_reasons(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source = OUTPUTS.parent / "netlists" / "solar-charge-indicator.yaml"
    arguments = ["plan", str(source), "--board", "five-hole-30", "--effort", "2", "--out", str(tmp_path / "out")]
    assert main([*arguments, "--explain", "--json", "--quiet"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert len(told["explanation"]["reasons"]) == told["score"]["jumpers"] + told["score"]["cuts"] > 0
    for reason in told["explanation"]["reasons"]:
        assert reason["proved"] == (reason["kind"] in ("local", "counting"))
    check_counts(read_plan(tmp_path / "out" / "plan.json"), explain(read_plan(tmp_path / "out" / "plan.json")))


# --- counting, worked by hand ----------------------------------------------------------------------------------------


def timer(strips: list[list[tuple[int, int]]], cut: str) -> Case:
    """A dip-8 with every pin in a net of its own."""
    package = lookup("dip-8")
    nets = tuple(Net(f"N{k}", (PinRef("U1", str(k)),)) for k in range(1, 9))
    circuit = Circuit("timer", (Part("U1", "dip-8"),), nets, {package.name: package})
    return Case("timer", circuit, board_of(strips, cut=cut), Options())


def test_a_dip_across_long_strips_forces_a_cut_for_each_pair() -> None:
    one = timer([[(x, y) for x in range(9)] for y in range(6)], "hole")
    p = build(one.circuit, one.board, one.options)
    assert own_cuts(p, 0) == 4  # across: 4 strips, two nets on each; along: 2 strips with 4 nets, 6 cuts
    assert nets_and_strips(p) == (8, 6)
    plan = run.solve(Request(one.circuit, one.board, one.options, seconds=None, effort=3, workers=1), faults).plan
    assert plan is not None
    found = explain(plan)
    assert len(plan.cuts) == 4
    assert all(r.kind == LOCAL and r.parts == ("U1",) for r in found.reasons)
    assert len(found.lines()) == 1


def test_pieces_of_a_net_by_hand() -> None:
    dice = random.Random(5)
    board = board_of([[(x, y) for x in range(5)] for y in range(8)])
    circuit = any_circuit(dice, board, 5, wishes=0.0, forms=("two",), sizes=(9,))
    p = build(circuit, board, Options())
    net = max(range(len(p.net_names)), key=lambda n: sum(i.nets.count(n) for i in p.items))
    need = pieces_needed(p, net)
    # 9 pins on strips of 5: 2 strips have 10 holes, 9 pins and 2 wire ends take 11; 3 strips have 15, 13 are taken.
    assert (need.pins, need.longest, need.least, need.jumpers) == (9, 5, 3, 2)
