"""A plan judged by a circuit or board from elsewhere: every difference is named."""

from __future__ import annotations

from dataclasses import replace

from placer.boards.catalogue import load_board
from placer.boards.model import Keepout
from placer.check.against import judge_against
from placer.check.judge import judge
from placer.circuit.model import Circuit, Place
from placer.errors import Diagnostic
from placer.packages.catalogue import lookup
from placer.plan.file import plan_from_data, plan_to_data
from tests.check.plans import lantern, netted, scale


def said(faults: tuple[Diagnostic, ...], code: str) -> str:
    return "\n".join(fault.message for fault in faults if fault.code == code)


def test_the_plans_own_circuit_and_board_make_no_difference() -> None:
    plan = lantern()
    twin = plan_from_data(plan_to_data(plan), "plan.json")

    assert judge_against(plan) == judge(plan)
    assert judge_against(twin, plan.circuit, load_board("five-hole-30")).faults == ()
    assert judge_against(plan, twin.circuit, twin.board).faults == ()


def test_the_order_of_parts_nets_and_pins_makes_no_difference() -> None:
    circuit = lantern().circuit
    shuffled = replace(
        circuit,
        parts=tuple(reversed(circuit.parts)),
        nets=tuple(replace(net, pins=tuple(reversed(net.pins))) for net in reversed(circuit.nets)),
        about="told anew",
    )

    assert judge_against(lantern(), shuffled).faults == ()


def test_a_changed_value_is_told() -> None:
    parts = tuple(replace(part, value="10k") if part.ref == "R1" else part for part in lantern().circuit.parts)
    faults = judge_against(lantern(), replace(lantern().circuit, parts=parts)).faults

    assert [fault.code for fault in faults] == ["circuit-differs"]
    assert 'value of R1: the plan was made for "", the circuit given says 10k' in faults[0].message


def test_a_new_part_is_told_and_missed() -> None:
    circuit = lantern().circuit
    grown = replace(circuit, parts=(*circuit.parts, replace(circuit.parts[1], ref="R3")))
    faults = judge_against(lantern(), grown).faults

    assert "part R3 is in the circuit given" in said(faults, "circuit-differs")
    assert "R3 (axial-0207)" in said(faults, "part-missing")


def test_a_part_gone_is_told_and_found_too_many() -> None:
    circuit = netted(lantern(), DIS="U1.7", THR="U1.6 P1.2").circuit
    shrunk = replace(circuit, parts=tuple(part for part in circuit.parts if part.ref != "R2"))
    faults = judge_against(lantern(), shrunk).faults

    assert "part R2 is in what the plan was made for" in said(faults, "circuit-differs")
    assert "R2 (axial-0207)" in said(faults, "unknown-part")


def test_a_net_changed_is_told_pin_by_pin_and_the_copper_judged_by_it() -> None:
    faults = judge_against(lantern(), netted(lantern(), DIS="U1.7", THR="U1.6 R2.2 P1.2 Q1.3").circuit).faults
    differences = said(faults, "circuit-differs")

    assert "net DIS: the plan was made with R2.1 on it" in differences
    assert "net THR: the plan was made without Q1.3 on it" in differences
    assert "net THR is in 2 pieces" in said(faults, "net-apart")
    assert "R2.1 (j11)" in said(faults, "open-pin-touched")


def test_a_net_renamed_is_two_differences() -> None:
    circuit = lantern().circuit
    nets = tuple(replace(net, name="DISCHARGE") if net.name == "DIS" else net for net in circuit.nets)
    differences = said(judge_against(lantern(), replace(circuit, nets=nets)).faults, "circuit-differs")

    assert "net DIS is in what the plan was made for" in differences
    assert "net DISCHARGE is in the circuit given" in differences


def test_role_voltage_wishes_names_and_package_data_count() -> None:
    circuit = lantern().circuit

    def told(changed: Circuit) -> str:
        return said(judge_against(lantern(), changed).faults, "circuit-differs")

    live = tuple(replace(net, role="supply", volts=9.0) if net.name == "VCC" else net for net in circuit.nets)
    wished = tuple(replace(p, place=Place(rotation=90)) if p.ref == "R1" else p for p in circuit.parts)
    named = tuple(replace(p, pin_names={"OUT": "3"}) if p.ref == "U1" else p for p in circuit.parts)
    longer = {**circuit.packages, "axial-0207": replace(lookup("axial-0207"), lead_mm=0.7)}
    reworded = {**circuit.packages, "axial-0207": replace(lookup("axial-0207"), about="other words")}

    assert "role of net VCC" in told(replace(circuit, nets=live))
    assert "volts of net VCC: the plan was made for None, the circuit given says 9.0" in told(
        replace(circuit, nets=live)
    )
    assert "placement wishes of R1" in told(replace(circuit, parts=wished))
    assert "pin names of U1" in told(replace(circuit, parts=named))
    assert "package axial-0207" in told(replace(circuit, packages=longer))
    assert "lead_mm" in told(replace(circuit, packages=longer))
    assert told(replace(circuit, packages=reworded)) == ""


def test_another_board_is_told_in_a_few_lines() -> None:
    faults = judge_against(lantern(), board=load_board("long-strip-24x37")).faults
    differences = said(faults, "board-differs").splitlines()

    assert any("holes in the plan's board only: L+1, L+2" in line for line in differences)
    assert any("strips in the board given only: A, B" in line for line in differences)
    assert len(differences) < 12
    assert "U1.1 is in e10, but board long-strip-24x37 has no such hole" in said(faults, "unknown-hole")


def test_copper_holes_cut_rules_and_keepouts_of_the_board_count() -> None:
    board = scale().board

    def told(**changes: object) -> str:
        return said(judge_against(scale(), board=replace(board, **changes)).faults, "board-differs")  # type: ignore[arg-type]

    parted = tuple(replace(s, links=s.links[1:]) if s.name == "H" else s for s in board.strips)
    narrow = {**board.holes, "H3": replace(board.holes["H3"], diameter_mm=0.8)}

    assert "strips not the same: H" in told(strips=parted)
    assert "holes not the same: H3" in told(holes=narrow)
    assert "keep-outs in the board given only: screw" in told(keepouts=(Keepout("screw", 0, 0, 1, 1),))
    assert "outline" in told(outline_mm=(200.0, 100.0))
    assert "cut" in told(cut=replace(board.cut, between=False))
    assert told(about="other words", sources={}) == ""
