"""What habits wish for, circuit by circuit, found by reading the netlists; and how the plan file tells it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from placer.boards.catalogue import load_board
from placer.boards.model import Strip
from placer.circuit.model import HABITS, Force, Place, Wishes
from placer.circuit.read_yaml import read_circuit
from placer.errors import PlacerError
from placer.plan.file import plan_from_data, plan_to_data
from placer.plan.keep import soldered
from placer.plan.model import Plan, Tally
from placer.plan.wanted import Facing, Near, Wanted, Within, wanted
from tests.check.plans import circuit_of, lantern, wishing

NETLISTS = Path(__file__).resolve().parents[2] / "netlists"

EDGED = ("J1", "J2", "J3", "J4", "J5", "SW1")  # J1 and J4 are screw terminals
EXPECTED = {
    # V5 and GND (VIN has two pins only); C3 and C4 for the two supply pins, C7 and C8 are the regulator's.
    "brood-logger": {
        "rails": ["GND on a rail", "V5 on a rail", "VIN on no - rail", "V5 on no - rail", "GND on no + rail"],
        "decoupling": ["C3 by U1.7", "C4 by U1.20"],
        "edges": [f"{ref} {'facing' if ref in ('J1', 'J4') else 'at'} an edge" for ref in EDGED],
        "crystals": ["Y1.1 by U1.9", "Y1.2 by U1.10"],
    },
    "honey-warmer-timer": {
        "rails": ["V12 on a rail", "GND on a rail", "V12 on no - rail", "GND on no + rail"],
        "decoupling": ["C3 by U1.8"],
        "edges": ["J1 facing an edge", "J2 facing an edge", "SW1 at an edge"],
    },
}


def found(name: str, board: str = "five-hole-30", **habits: Force | None) -> list[Wanted]:
    circuit, _ = read_circuit(NETLISTS / f"{name}.yaml")
    circuit = replace(circuit, wishes=Wishes(habits=habits))
    return list(wanted(circuit, load_board(board), habits=True))


@pytest.mark.parametrize("name", list(EXPECTED))
def test_habits_are_found_in_the_netlist(name: str) -> None:
    names: dict[str, list[str]] = {}
    for wish in found(name):
        names.setdefault(wish.habit, []).append(wish.name)
        assert wish.force == Force(weight=0.5 if " on no " in wish.name else 1.0)
        assert wish.of == 1
    assert names == EXPECTED[name]


def test_a_capacitor_is_held_by_its_supply_lead() -> None:
    aim = next(wish.aim for wish in found("honey-warmer-timer") if wish.habit == "decoupling")
    assert isinstance(aim, Near)
    assert ([str(pin) for pin in aim.pins], [str(pin) for pin in aim.others], aim.steps) == (["C3.1"], ["U1.8"], 4.0)


def test_boards_without_rails_ask_for_none() -> None:
    assert "rails" not in {wish.habit for wish in found("brood-logger", "long-strip-39x60")}


def test_each_habit_can_be_turned_off_or_raised() -> None:
    for habit in EXPECTED["brood-logger"]:
        assert habit not in {wish.habit for wish in found("brood-logger", **{habit: None})}
        raised = found("brood-logger", **{habit: Force(cost=1.0)})
        forces = {wish.force for wish in raised if wish.habit == habit}
        assert forces == {Force(cost=1.0), *([Force(cost=0.5)] if habit == "rails" else [])}, "signs count half"
    circuit, _ = read_circuit(NETLISTS / "brood-logger.yaml")
    assert wanted(circuit, load_board("five-hole-30"), habits=False) == ()
    assert set(HABITS) >= set(EXPECTED["brood-logger"])


@pytest.mark.parametrize(
    ("place", "expected"),
    [
        (Place(), ["J1 facing an edge"]),
        (Place(side="left"), ["J1 facing an edge"]),
        (Place(edge="any"), ["J1 facing an edge"]),
        (Place(edge="top"), ["J1 facing the top edge"]),
        (Place(at={"1": "a2"}), []),
        (Place(edge="top", at={"1": "a2"}), []),
        (Place(rotation=90), []),
        (Place(fixed=True), []),
    ],
)
def test_a_terminal_faces_the_edge_it_is_wished_to(place: Place, expected: list[str]) -> None:
    circuit = circuit_of("door", {"J1": "terminal-2", "R1": "axial-0207"}, {"A": "J1.1 R1.1"}, {"J1": place})
    wishes = wanted(circuit, load_board("long-strip-24x37"), habits=True)
    assert [wish.name for wish in wishes] == expected
    for wish in wishes:
        assert isinstance(wish.aim, Facing)
        assert wish.aim.places[0]
        assert bool(wish.aim.places[90]) == (place.edge != "top")


def test_joined_pins_count_for_their_net() -> None:
    circuit, _ = read_circuit(NETLISTS / "honey-warmer-timer.yaml")
    ground = next(wish.aim for wish in wanted(circuit, load_board("five-hole-30"), habits=True) if "GND" in wish.name)
    assert isinstance(ground, Within)
    assert {"SW1.3", "SW1.4"} <= {str(pin) for pin in ground.pins}


# --- roles and signs -------------------------------------------------------------------------------------------------

PARTS = "U1: {package: dip-8}, U2: {package: dip-8}, J1: {package: terminal-3, place: {edge: any}}"


def of_text(nets: str, *more: str, wishes: str = "", board: str = "five-hole-20") -> dict[str, list[Wanted]]:
    """What is wished for by habit in a circuit of two ICs, a terminal and disc capacitors ``more``; by habit."""
    parts = ", ".join((PARTS, *(f"{ref}: {{package: disc-5, value: 100n}}" for ref in more)))
    text = f"circuit: c\nparts: {{{parts}}}\nnets: {{{nets}}}\n{wishes}"
    circuit, _ = read_circuit(Path("c.yaml"), text=text)
    found: dict[str, list[Wanted]] = {}
    for wish in wanted(circuit, load_board(board), habits=True):
        found.setdefault(wish.habit, []).append(wish)
    return found


def named(wishes: dict[str, list[Wanted]], habit: str) -> list[str]:
    return [wish.name for wish in wishes.get(habit, ())]


FED = "pins: [J1.1, U1.8, U2.8, C1.1]"
BACK = "pins: [J1.2, U1.4, U2.4, C1.2]"


@pytest.mark.parametrize(
    ("vcc", "gnd"),
    [
        ("", ""),
        (", role: supply", ", role: ground"),
        (", role: supply", ""),
        ("", ", role: ground"),
        (", volts: 5", ""),
    ],
)
def test_a_role_that_is_not_given_is_taken_from_the_name(vcc: str, gnd: str) -> None:
    found = of_text(f"VCC: {{{FED}{vcc}}}, GND: {{{BACK}{gnd}}}", "C1")
    assert named(found, "rails") == ["VCC on a rail", "GND on a rail", "VCC on no - rail", "GND on no + rail"]
    assert named(found, "decoupling") == ["C1 by U1.8"]


def test_a_role_that_is_given_counts_for_more_than_the_name() -> None:
    """VCC said to be a signal is none; what is called GND but said to be a supply is one."""
    found = of_text(f"VCC: {{{FED}, role: signal}}, GND: {{{BACK}}}", "C1")
    assert named(found, "rails") == ["GND on a rail", "GND on no + rail"]
    assert "decoupling" not in found
    found = of_text(f"V: {{{FED}, role: ground}}, GND: {{{BACK}, role: supply}}", "C1")
    assert named(found, "rails") == ["V on a rail", "GND on a rail", "V on no + rail", "GND on no - rail"]


def test_negative_supplies_go_with_the_minus_and_alternating_ones_anywhere() -> None:
    nets = "VEE: [J1.1, U1.4, U2.4], V1: {pins: [U1.8, U2.8], role: supply, volts: -5}"
    assert named(of_text(nets), "rails") == ["VEE on a rail", "VEE on no + rail", "V1 on no + rail"]
    nets = "A: {pins: [J1.1, U1.8, U2.8], role: supply, volts: 9, ac: true}"
    assert named(of_text(nets), "rails") == ["A on a rail"]


def test_the_holes_of_a_sign_are_all_but_those_of_the_other() -> None:
    wish = of_text(f"VCC: {{{FED}}}, GND: {{{BACK}}}", "C1")["rails"][3]
    assert isinstance(wish.aim, Within)
    assert wish.aim.each
    assert {hole[:2] for hole in load_board("five-hole-20").holes if hole not in wish.aim.holes} == {"L+", "R+"}


def test_who_wishes_a_net_on_a_rail_means_it() -> None:
    found = of_text(f"VCC: {{{FED}}}, GND: {{{BACK}}}", "C1", wishes="wishes: {rails: {VCC: L-}}\n")
    assert named(found, "rails") == ["VCC on a rail", "GND on a rail", "GND on no + rail"]


def test_rails_without_a_sign_ask_for_none() -> None:
    board = load_board("five-hole-20")
    plain = replace(
        board, strips=tuple(replace(s, name=s.name.replace("+", "p").replace("-", "m")) for s in board.strips)
    )
    assert {strip.mark for strip in board.strips} == {"+", "-", ""}
    assert {strip.mark for strip in plain.strips} == {""}
    circuit, _ = read_circuit(NETLISTS / "brood-logger.yaml")
    rails = [wish for wish in wanted(circuit, plain, habits=True) if wish.habit == "rails"]
    assert [(wish.name, wish.force.weight) for wish in rails] == [("GND on a rail", 1.0), ("V5 on a rail", 1.0)]


@pytest.mark.parametrize(
    ("name", "rail", "mark"),
    [
        ("L+", True, "+"),
        ("P- 3", True, "-"),
        ("M\N{MINUS SIGN}", True, "-"),
        ("bus-2", True, ""),
        ("bus", True, ""),
        ("A+", False, ""),
    ],
)
def test_the_sign_of_a_rail_is_what_its_name_ends_in(name: str, rail: bool, mark: str) -> None:
    assert Strip(name, ("a1",), (), rail=rail).mark == mark


SPLIT = "VCC: [J1.1, U1.8, U2.8, {}], VEE: [J1.2, U1.4, U2.4, {}], GND: [J1.3, {}]"


def test_split_supplies_have_their_capacitors() -> None:
    """From each supply to ground, where the ICs have no ground pin; or straight from one to the other."""
    nets = SPLIT.format("C1.1, C2.1", "C3.1, C4.1", "C1.2, C2.2, C3.2, C4.2")
    found = named(of_text(nets, "C1", "C2", "C3", "C4"), "decoupling")
    assert found == ["C1 by U1.8", "C2 by U2.8", "C3 by U1.4", "C4 by U2.4"]
    nets = SPLIT.format("C1.1, C2.1", "C1.2, C2.2", "U1.3")
    assert named(of_text(nets, "C1", "C2"), "decoupling") == ["C1 by U1.8", "C2 by U2.8"]


def test_an_ic_that_is_on_a_supply_only_has_no_capacitor() -> None:
    """As an optocoupler that pulls a line up: neither ground nor a supply of the other sign."""
    assert "decoupling" not in of_text("VCC: [J1.1, U1.8, C1.1], GND: [J1.2, C1.2], X: [U1.4, U2.4]", "C1")


# --- the plan file ---------------------------------------------------------------------------------------------------


def told() -> Plan:
    tallies = (
        Tally("J1 edge: top", 0, 1, weight=2.0),
        Tally("R1 side: left", 0, 1, cost=0.5),
        Tally("ICs turned alike", 2, 3, weight=1.0, habit="alike"),
    )
    return replace(lantern(), score=replace(lantern().score, wishes=tallies))


def test_the_file_shows_each_wish_and_habit() -> None:
    data = plan_to_data(told())
    assert data["score"]["wishes"] == [
        {"wish": "J1 edge: top", "kept": 0, "of": 1, "weight": 2.0},
        {"wish": "R1 side: left", "kept": 0, "of": 1, "cost": 0.5},
    ]
    assert data["score"]["habits"] == {"alike": [{"what": "ICs turned alike", "kept": 2, "of": 3, "weight": 1.0}]}
    assert (data["score"]["broken"], data["score"]["raised"]) == (3.0, 0.5)
    assert plan_from_data(data, "x").score.wishes == told().score.wishes


def test_sums_that_do_not_fit_are_told() -> None:
    data = plan_to_data(told())
    data["score"]["broken"] = 1.0
    assert [doubt.code for doubt in plan_from_data(data, "x").doubts] == ["wrong-wishes"]


# --- parts soldered already ------------------------------------------------------------------------------------------


def test_parts_that_are_kept_are_wished_where_they_stand() -> None:
    plan = lantern()
    circuit = soldered(plan.circuit, plan, ("R*",))
    place = circuit.part_by_ref["R2"].place
    assert (place.fixed, place.at, place.mount) == (True, {"1": "j11", "2": "j12"}, "standing")
    assert [part.ref for part in circuit.parts if part.place.fixed] == ["R1", "R2"]
    assert soldered(circuit, None, ()) == circuit, "a circuit from a plan says itself where they are"


@pytest.mark.parametrize("code", ["unknown-part", "fixed-without-plan", "fixed-elsewhere", "wish-contradiction"])
def test_what_cannot_be_kept_is_told(code: str) -> None:
    plan = lantern()
    fixed = wishing(plan, "R1", replace(plan.circuit.part_by_ref["R1"].place, fixed=True)).circuit
    at = wishing(plan, "R1", replace(plan.circuit.part_by_ref["R1"].place, at={"1": "a1"})).circuit
    gone = replace(plan, placements={ref: p for ref, p in plan.placements.items() if ref != "R1"})
    cases = {
        "unknown-part": (plan.circuit, plan, ("R9",)),
        "fixed-without-plan": (fixed, None, ()),
        "fixed-elsewhere": (fixed, gone, ()),
        "wish-contradiction": (at, plan, ("R1",)),
    }
    with pytest.raises(PlacerError) as caught:
        soldered(*cases[code])
    assert [d.code for d in caught.value.diagnostics] == [code]
