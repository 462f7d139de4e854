"""Wishes of the circuit as a whole, and what need not be kept: a broken wish and a false score are each told."""

from __future__ import annotations

from dataclasses import replace

import pytest

from placer.boards.catalogue import load_board
from placer.check.case import Case
from placer.check.judge import judge
from placer.check.wanted import times_kept
from placer.circuit.model import (
    Apart,
    Force,
    Owned,
    Place,
    Preference,
    Region,
    Shared,
    Short,
    Together,
    Wishes,
)
from placer.plan.model import Plan, Tally
from placer.plan.wanted import wanted
from tests.check.plans import circuit_of, lantern, plan_of, wishing

KEPT: tuple[Shared, ...] = (
    Together(("R1", "C1"), 5),  # columns a to c, rows 10 to 15
    Region("a1", "e9"),
    Region("d16", "d18"),
    Owned("TRIG", "L11"),  # U1.2 in e11, R1.1 in c11
    Owned("KEY", "R20"),  # S1.2, which metal joins to S1.1, and P1.1
    Short("TRIG", 5.08),
    Apart(("KEY", "VCC"), 5.08),
)

BROKEN: dict[str, tuple[Shared, tuple[str, ...]]] = {
    "together": (Together(("R1", "C1"), 4), ("steps: 4", "C1.1 (a10)", "R1.2 (c15)", "5 steps apart along y")),
    "keepout": (Region("b11", "c11"), ("from: b11, to: c11", "R1.1 is in c11")),
    "keepout of a wire": (Region("d10", "d10"), ("jumper 1 is in d10",)),
    "keepout of a body": (Region("c12", "c13"), ("the body of R1 reaches",)),
    "keepout off the board": (Region("a1", "z1"), ("no hole z1",)),
    "rails without the net": (Owned("VCC", "L+"), ("rails: {VCC: L+}", "no lead of VCC")),
    "rails with another net": (Owned("OUT", "L12"), ("no lead",)),
    "rails with a second net": (Owned("GND", "L13"), ("U1.4 in e13 stands on it too",)),
    "rails off the board": (Owned("VCC", "X"), ("no strip X",)),
    "short": (Short("TRIG", 5.0), ("short: {net: TRIG, mm: 5}", "2 steps apart along x")),
    "apart": (Apart(("TRIG", "DIS"), 8.0), ("U1.2 (e11) is 7.62 mm from U1.7 (f11)",)),
    "apart in the wires": (Apart(("KEY", "VCC"), 6.0), ("jumper 6 (d15) is 5.08 mm from jumper 4 (d13)",)),
}


def with_wishes(*wishes: Shared) -> Plan:
    plan = lantern()
    return replace(plan, circuit=replace(plan.circuit, wishes=Wishes(wishes)))


def test_wishes_that_are_kept_are_no_fault() -> None:
    assert judge(with_wishes(*KEPT)).faults == ()


@pytest.mark.parametrize("name", [name for name in BROKEN if name != "rails with another net"])
def test_a_broken_wish_is_told_by_its_own_code(name: str) -> None:
    wish, words = BROKEN[name]
    faults = judge(with_wishes(wish)).faults
    assert {fault.code for fault in faults} == {"wish-" + name.split()[0]}
    told = " ".join(fault.message for fault in faults)
    assert all(word in told for word in words), told


def test_a_strip_with_its_own_net_on_it_is_owned() -> None:
    assert judge(with_wishes(Owned("OUT", "L12"))).faults == ()


MILD = Force(weight=2.0)


@pytest.mark.parametrize("name", list(BROKEN))
def test_a_wish_that_need_not_be_kept_is_no_fault_but_counts(name: str) -> None:
    wish, _ = BROKEN[name]
    if isinstance(wish, Region):
        return  # always binding
    plan = with_wishes(replace(wish, force=MILD))
    kept = int(name == "rails with another net")
    tally = Tally(wish.words, kept, 1, weight=2.0)
    assert judge(scored_with(plan, tally)).faults == ()
    false = judge(scored_with(plan, replace(tally, kept=1 - kept))).faults
    assert [fault.code for fault in false] == ["wrong-wishes"]


def scored_with(plan: Plan, *tallies: Tally) -> Plan:
    return replace(plan, score=replace(plan.score, wishes=tallies))


# Each preference of R1 (c11, c15: turned by 90, flat, on the left and in the top half), and whether it is kept.
PREFERENCES = {
    "R1 at: {1: c11}": (Place(at={"1": "c11"}), 1),
    "R1 at: {1: b11}": (Place(at={"1": "b11"}), 0),
    "R1 edge: any": (Place(edge="any"), 0),
    "R1 rotation: 90": (Place(rotation=90), 1),
    "R1 rotation: 270": (Place(rotation=270), 0),
    "R1 mount: standing": (Place(mount="standing"), 0),
    "R1 side: left": (Place(side="left"), 1),
    "R1 side: right": (Place(side="right"), 0),
}


@pytest.mark.parametrize("name", list(PREFERENCES))
def test_the_score_of_a_preference_is_recounted(name: str) -> None:
    place, kept = PREFERENCES[name]
    plan = wishing(lantern(), "R1", Place(prefer=(Preference(place, Force(cost=0.5)),)))
    true = Tally(name, kept, 1, cost=0.5)
    assert judge(scored_with(plan, true)).faults == ()
    for false in (
        (),
        (replace(true, kept=1 - kept),),
        (replace(true, cost=1.0),),
        (replace(true, cost=None, weight=0.5),),
        (true, true),
        (true, replace(true, name="R2 edge: any")),
    ):
        faults = judge(scored_with(plan, *false)).faults
        assert {fault.code for fault in faults} == {"wrong-wishes"}, false


def test_habits_are_recounted() -> None:
    """The key and the flying leads stand inside, VCC and GND off the rails; J1 faces its edge."""
    plan = lantern()
    plan = replace(plan, options=replace(plan.options, habits=True))
    rails = [Tally(f"{net} on a rail", 0, 1, 1.0, None, "rails") for net in ("GND", "VCC")]
    rails += [Tally(f"{net} rail", 1, 1, 0.5, None, "rails") for net in ("GND on no +", "VCC on no -")]
    near = Tally("C1 by U1.4", 1, 1, 1.0, None, "decoupling")
    edges = [Tally(f"{ref} at an edge", 0, 1, 1.0, None, "edges") for ref in ("S1", "P1")]
    edges.append(Tally("J1 facing the left edge", 1, 1, 1.0, None, "edges"))
    tallies = [*edges, *rails, near]
    assert judge(scored_with(plan, *tallies)).faults == ()
    assert judge(scored_with(plan, replace(tallies[0], kept=1), *tallies[1:])).faults
    for turned in range(len(tallies)):
        false = [replace(each, kept=each.kept ^ (turned == number)) for number, each in enumerate(tallies)]
        assert [fault.code for fault in judge(scored_with(plan, *false)).faults] == ["wrong-wishes"]
    assert judge(plan).faults, "a score that is silent about habits"
    assert judge(scored_with(lantern(), *tallies)).faults, "habits that nobody wished for"


# A terminal, a diode and a can on rails along the left edge: the holes in front of a25 and a27 are L+ and L-, 25 to 27.
FACING = {
    "J1 along the edge": ({"J1": "a25 a27"}, 1),
    "the other way round": ({"J1": "a27 a25"}, 1),
    "a line further in, over the outermost": ({"J1": "b25 b27"}, 1),
    "two lines further in": ({"J1": "c25 c27"}, 0),
    "across the edge": ({"J1": "a25 c25"}, 0),
    "a lead on the rail in front": ({"J1": "a25 a27", "D1": "L+26 L+20"}, 0),
    "no more than a lead on the rail in front": ({"J1": "a25 a27", "D1": "L+25 L+19"}, 0),
    "a lead on the rail beside": ({"J1": "a25 a27", "D1": "L+24 L+20"}, 1),
    "a body over the rail in front": ({"J1": "a25 a27", "C1": "L+24 L+28"}, 0),
    "a diode over the rail in front": ({"J1": "a25 a27", "D1": "L+23 L+29"}, 0),
    "a wire in front, which lies flat": ({"J1": "a25 a27", "wire": "L-26 L-20"}, 1),
    "along the end of the board": ({"J1": "L-2 a2"}, 1),
    "a row further in, where the first row is in front": ({"J1": "L-3 a3"}, 0),
}


@pytest.mark.parametrize("name", list(FACING))
def test_a_terminal_faces_an_edge_where_nothing_is_in_front(name: str) -> None:
    holes, kept = FACING[name]
    ends = holes.get("wire", "").split()
    stood = {"D1": "j1 j7", "C1": "h20 h22"} | {ref: where for ref, where in holes.items() if ref != "wire"}
    parts = {"J1": "terminal-2", "D1": "do-41", "C1": "film-10"}
    circuit = circuit_of("gate", parts, {"A": "J1.1 D1.1", "B": "J1.2 D1.2"})
    board = load_board("five-hole-30")
    plan = plan_of(circuit, board, stood, wires=(("A", *ends),) if ends else ())
    aim = next(w.aim for w in wanted(circuit, board, habits=True) if w.name == "J1 facing an edge")
    assert times_kept(Case(plan), aim) == kept


def test_a_terminal_faces_the_edge_that_it_is_wished_to() -> None:
    """Over the edge, which only such a wish allows; facing another edge is not what was wished for."""
    for edge, holes, kept in (("left", "C1 E1", 1), ("left", "C2 E2", 1), ("top", "A1 A3", 1), ("left", "A1 A3", 0)):
        circuit = circuit_of("gate", {"J1": "terminal-2"}, {}, {"J1": Place(edge=edge)})
        board = load_board("long-strip-24x37")
        (wish,) = wanted(circuit, board, habits=True)
        assert times_kept(Case(plan_of(circuit, board, {"J1": holes})), wish.aim) == kept
