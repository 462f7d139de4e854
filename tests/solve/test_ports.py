"""Connectors in ports: the search puts them there, the judge sees to it, and what cannot be is said."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from placer.boards.catalogue import load_board
from placer.boards.loader import read_board
from placer.boards.model import Board, CutRule
from placer.boards.ports import pad_address, port_at, with_ports
from placer.check.judge import judge
from placer.circuit.model import Circuit
from placer.circuit.read_yaml import read_circuit
from placer.guide.drawing import plan_svg
from placer.guide.lists import placements_csv
from placer.limits.find import find
from placer.plan.area import used_area
from placer.plan.crop import crop
from placer.plan.file import plan_from_data, plan_to_data
from placer.plan.model import Jumper, Options, Plan
from placer.plan.ports import mounted
from placer.plan.readback import readback
from placer.solve.api import Outcome, Request
from placer.solve.run import solve

BOARD = """\
board: hive-entrance
labels: {columns: {0: a..e}, rows: 4}
cut: {between: true, by_default: false}
offset_mm: [5, 20]
outline_mm: [40, 40]
blocks:
  - {name: "L{row}", at: [0, 0], strips: 4, holes: 5}
ports:
  P1: {fits: [terminal-2-5.0], pads: {1: {at_mm: [8, 5], strip: L1}, 2: {at_mm: [13, 5], strip: L3}}}
  P2: {fits: [usb-b], pads: {1: {at_mm: [20, 5], strip: L1}, 2: {at_mm: [20, 7]}, 3: {at_mm: [22.5, 7]},
       4: {at_mm: [22.5, 5], strip: L3}, 5: {at_mm: [28, 10]}}}
"""


def board() -> Board:
    return read_board(Path("entrance.yaml"), text=BOARD)


def circuit(connector: str = "package: terminal-2-5.0, place: {port: P1}", more: str = "", nets: str = "") -> Circuit:
    text = f"circuit: lamp\nparts:\n  J1: {{{connector}}}\n  R1: {{package: axial-0207, value: 1k}}\n{more}"
    text += "nets:\n  V: {pins: [J1.1, R1.1], role: supply, volts: 5}\n  G: {pins: [J1.2, R1.2], role: ground}\n"
    return read_circuit(
        Path("lamp.yaml"), text=text.replace("J1.2", "J1.4") + nets if "usb-b" in connector else text + nets
    )[0]


def solved(what: Circuit, on: Board, *, cuts: bool = False) -> Outcome:
    request = Request(what, on, Options(allow_cuts=cuts), seconds=None, effort=2, workers=1)
    return solve(request, lambda plan: judge(plan).faults)


def good() -> Plan:
    """R1 stands on end from L1 to L3, which the port joins to both pins."""
    plan = solved(circuit(), board()).plan
    assert plan is not None
    return plan


def codes(plan: Plan) -> set[str]:
    return {fault.code for fault in judge(plan).faults}


def test_a_connector_in_a_port_needs_no_hole_and_no_wire() -> None:
    plan = good()

    assert plan.placements["J1"].pins == {"1": "P1.1", "2": "P1.2"}
    assert (plan.score.jumpers, plan.proof.status) == (0, "optimal")
    assert plan.board == board(), "the plan is on the board as it is bought"
    assert judge(plan).passed


def test_a_port_may_leave_pads_open() -> None:
    plan = solved(circuit("package: usb-b, place: {port: P2}"), board()).plan

    assert plan is not None
    assert plan.placements["J1"].pins == {pin: f"P2.{pin}" for pin in "12345"}
    assert judge(plan).passed


@pytest.mark.parametrize(
    ("package", "port"), [("terminal-2", "P2"), ("terminal-2-5.0", "P2"), ("barrel-jack", "P1"), ("usb-b", "P3")]
)
def test_the_ports_of_the_catalogue_take_what_they_are_made_for(package: str, port: str) -> None:
    what = circuit(f"package: {package}, place: {{port: {port}}}")
    plan = solved(what, load_board("five-hole-twin-45")).plan

    assert plan is not None
    assert judge(plan).passed
    assert plan.placements["J1"].pins["1"] == f"{port}.1"


def test_what_follows_from_a_plan_knows_of_its_ports() -> None:
    plan = good()
    back = plan_from_data(plan_to_data(plan), "plan.json")

    assert judge(back).passed
    assert {net.name: set(net.pins) for net in readback(plan)} == {n.name: set(n.pins) for n in plan.circuit.nets}
    assert "1=P1.1 2=P1.2" in placements_csv(plan)
    assert "port P1" in plan_svg(plan)
    assert [f.code for f in find(plan)] == ["current-basis"]
    area = used_area(plan)
    assert area.off_grid, "copper to a port leaves the grid: nothing is sawn off"
    assert crop(plan, 2.54).lines == ()


# --- the judge, by itself --------------------------------------------------------------------------------------------


def with_pins(plan: Plan, ref: str, **pins: str) -> Plan:
    placed = plan.placements[ref]
    moved = replace(placed, pins={**placed.pins, **{pin.strip("_"): hole for pin, hole in pins.items()}})
    return replace(plan, placements={**plan.placements, ref: moved})


def test_the_judge_wants_every_pin_in_its_own_pad() -> None:
    plan = good()
    assert "port-missed" in codes(with_pins(plan, "J1", _1="P1.2", _2="P1.1"))
    assert "port-missed" in codes(with_pins(plan, "J1", _2="e4"))
    assert "port-missed" in codes(with_pins(plan, "J1", _1="P2.1", _2="P2.2"))
    assert "unknown-hole" in codes(with_pins(plan, "J1", _2="P9.2"))


def test_the_judge_lets_nothing_else_into_a_port() -> None:
    plan = good()
    assert {"port-not-wished", "hole-shared"} <= codes(with_pins(plan, "R1", _1="P1.1"))
    wire = Jumper("V", "a1", "P1.1", 1.0)
    assert {"wire-in-port", "hole-shared"} <= codes(replace(plan, jumpers=(wire,)))


def test_the_judge_knows_what_a_port_is_made_for() -> None:
    plan = good()
    port = replace(plan.board.ports["P1"], fits=("terminal-2",))
    assert codes(replace(plan, board=replace(plan.board, ports={"P1": port}))) == {"port-misfit"}
    assert "port-unknown" in codes(replace(plan, board=replace(plan.board, ports={})))


def test_the_judge_follows_the_copper_of_a_port() -> None:
    """The same connector where the port joins other strips."""
    plan = good()
    swapped = replace(plan.board.ports["P1"], strips={"1": "L3", "2": "L1"})
    assert "nets-shorted" in codes(replace(plan, board=replace(plan.board, ports={"P1": swapped})))
    apart = replace(plan.board.ports["P1"], strips={})
    assert "net-apart" in codes(replace(plan, board=replace(plan.board, ports={"P1": apart})))


# --- what cannot be --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("connector", "more", "nets", "code", "says"),
    [
        ("package: terminal-2-5.0, place: {port: P9}", "", "", "port-unknown", "board hive-entrance has P1, P2"),
        ("package: terminal-2, place: {port: P1}", "", "", "port-misfit", "which is made for terminal-2-5.0"),
        (
            "package: terminal-2-5.0, place: {port: P1}",
            "  J2: {package: terminal-2-5.0, place: {port: P1}}\n",
            "  W: [J2.1]\n",
            "port-taken",
            "J2 and J1 are both wished into port P1",
        ),
        (
            "package: terminal-2-5.0, place: {port: P1}",
            "  J2: {package: usb-b, place: {port: P2}}\n",
            "  W: [J2.1]\n",
            "port-shorts",
            "J2.1 (net W) and J1.1 (net V) are both joined to L1, by port P2",
        ),
        (
            "package: terminal-2-5.0, place: {port: P1}",
            "  J2: {package: usb-b, place: {port: P2}}\n  R2: {package: axial-0207}\n",
            "  W: [J2.2, R2.1]\n",
            "port-pad-open",
            "pad 2 of port P2 joins no strip",
        ),
    ],
)
def test_wishes_for_ports_that_cannot_be_kept_are_told(
    connector: str, more: str, nets: str, code: str, says: str
) -> None:
    outcome = solved(circuit(connector, more, nets), board())
    assert outcome.plan is None
    assert [says in reason.message for reason in outcome.reasons if reason.code == code].count(True) == 1


def test_a_part_that_does_not_fit_is_shown_its_port() -> None:
    small = replace(board(), holes={name: replace(hole, diameter_mm=0.95) for name, hole in board().holes.items()})
    outcome = solved(circuit("package: terminal-2-5.0"), small)
    assert [reason.code for reason in outcome.reasons] == ["lead-too-thick"]
    assert "0.9 mm + 0.08 mm off the grid end to end = 0.98 mm, holes 0.95 mm" in outcome.reasons[0].message
    assert "place: {port: P1}" in outcome.reasons[0].help


# --- the board in use ------------------------------------------------------------------------------------------------


def test_pads_in_use_are_holes_of_their_strips() -> None:
    plain, used = board(), with_ports(board(), ["P2", "P2", "nowhere"])

    assert with_ports(plain, []) is plain
    assert set(used.holes) - set(plain.holes) == {f"P2.{pin}" for pin in "12345"}
    # (20 - 5) / 2.54 = 5.9, (5 - 20) / 2.54 = -5.9.
    assert (used.holes["P2.1"].x, used.holes["P2.1"].y, used.holes["P2.1"].x_mm) == (6, -6, 20.0)
    first = used.strip_of["P2.1"]
    assert (first.name, first.cut, first.off_grid) == ("L1", CutRule(), (("e1", "P2.1"),))
    assert used.strip_of["P2.2"].holes == ("P2.2",)
    assert len(used.hole_at) == len(used.holes), "no two holes share a place"
    assert used.strip_of["a2"] == plain.strip_of["a2"]


def test_addresses_of_pads() -> None:
    assert pad_address("P1", "2") == "P1.2"
    found = port_at(board(), "P1.2")
    assert found is not None
    assert (found[0].name, found[1]) == ("P1", "2")
    assert port_at(board(), "P1.9") is port_at(board(), "a1") is port_at(board(), "P1") is None


def test_a_plan_without_ports_stays_as_it_is() -> None:
    plan = solved(circuit("package: terminal-2"), board()).plan
    assert plan is not None
    assert mounted(plan) is plan
