"""From copper to conductors, and the netlist read back: hand-made plans with what their copper must make of them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from placer.circuit.model import Net, PinRef
from placer.plan.conductors import CopperMap, natural_key
from placer.plan.model import Cut, Plan
from placer.plan.readback import readback
from tests.check.plans import cut, lantern, moved, netted, pins, scale, wired


def by_name(plan: Plan) -> dict[str, set[str]]:
    return {net.name: {str(pin) for pin in net.pins} for net in readback(plan)}


def test_cuts_part_a_strip_into_segments_in_its_own_order() -> None:
    copper = CopperMap(cut(scale(), Cut("C20"), Cut(None, ("C21", "C22"))))
    found = {str(segment): len(segment.holes) for segment in copper.segments if segment.strip == "C"}

    assert found == {
        "strip C from C1 to C10": 10,
        "strip C from C12 to C19": 8,
        "strip C at C21": 1,
        "strip C from C22 to C37": 16,
    }
    assert copper.drilled == {"C11", "C20", "D11", "E12"}
    assert "C20" not in copper.segment_of
    assert str(next(s for s in copper.segments if s.strip == "H")) == "strip H"


def test_every_hole_is_on_one_segment_unless_drilled() -> None:
    for plan in (lantern(), scale()):
        copper = CopperMap(plan)
        on = [hole for segment in copper.segments for hole in segment.holes]

        assert sorted(on) == sorted(set(plan.board.holes) - copper.drilled)


def test_jumpers_and_metal_inside_parts_join_segments() -> None:
    copper = CopperMap(lantern())
    ground = copper.conductor_at("a10")
    key = copper.conductor_at("d15")

    assert ground is not None
    assert {segment.strip for segment in ground.segments} == {"L10", "L22", "L27", "R15", "R22"}
    assert key is not None
    assert key.pins == pins("P1.1 R1.2 S1.1 S1.2")
    assert copper.conductor_at("z99") is None


def test_a_conductor_can_be_seen_without_one_jumper() -> None:
    copper = CopperMap(lantern())
    reached = copper.reach_without(0, "d10")  # GND, d10 to c22
    whole = copper.conductor_at("d10")

    assert reached is not None
    assert whole is not None
    assert reached.pins == pins("C1.1 U1.1")
    assert len(whole.pins) == 6  # with S1.4, which metal joins to S1.3


@pytest.mark.parametrize("plan", [lantern(), scale()], ids=lambda plan: plan.circuit.name)
def test_the_netlist_of_a_good_plan_is_its_circuits(plan: Plan) -> None:
    assert readback(plan) == plan.circuit.nets


def test_role_volts_and_amps_come_along() -> None:
    circuit = lantern().circuit
    nets = tuple(replace(net, role="supply", volts=9.0) if net.name == "VCC" else net for net in circuit.nets)

    assert readback(replace(lantern(), circuit=replace(circuit, nets=nets))) == nets


def test_a_net_in_two_pieces_reads_back_as_two_under_made_up_names() -> None:
    found = by_name(wired(lantern(), drop=(6,)))

    assert "OUT" not in found
    assert found["copper-1"] == {"U1.3"}
    assert found["copper-2"] == {"Q1.2"}


def test_two_shorted_nets_read_back_as_one() -> None:
    found = by_name(cut(scale(), drop=(0,)))

    assert found["copper-1"] == {"U1.1", "U1.8", "R1.1", "R2.1"}
    assert not {"GND", "VCC"} & set(found)


def test_a_made_up_name_is_never_one_the_circuit_uses() -> None:
    plan = netted(wired(lantern(), drop=(6,)), **{"copper-1": "Q1.3"})

    assert [net.name for net in readback(plan)].count("copper-1") == 1
    assert by_name(plan)["copper-1"] == {"Q1.3"}
    assert by_name(plan)["copper-2"] == {"U1.3"}


def test_an_open_pin_alone_is_no_net_but_one_that_is_touched_is() -> None:
    assert not any(PinRef("U1", "5") in net.pins for net in readback(lantern()))
    assert {"U1.5", "P1.2"} in by_name(moved(lantern(), "P1", p2="h13")).values()


def test_pins_joined_inside_a_part_are_told_once_unless_the_circuit_lists_both() -> None:
    both = netted(lantern(), KEY="R1.2 S1.1 S1.2 P1.1")
    neither = netted(lantern(), KEY="R1.2")
    neither = replace(neither, placements={**neither.placements, "P1": moved(neither, "P1", p1="h2").placements["P1"]})
    neither = wired(neither, drop=(5,))

    assert by_name(lantern())["KEY"] == {"R1.2", "S1.1", "P1.1"}
    assert by_name(both)["KEY"] == {"R1.2", "S1.1", "S1.2", "P1.1"}
    assert not any("S1.2" in found or "S1.1" in found for found in by_name(neither).values())


def test_a_net_of_one_pin_reads_back() -> None:
    assert Net("SPARE", pins("Q1.3")) in readback(netted(lantern(), SPARE="Q1.3"))


def test_names_sort_as_people_count() -> None:
    assert sorted(["R10", "R2", "r1", "R", "R2a"], key=natural_key) == ["R", "R2", "R2a", "R10", "r1"]
