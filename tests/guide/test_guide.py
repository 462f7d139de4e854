"""Cautions, power-up and the guide as a whole."""

from __future__ import annotations

from dataclasses import replace

import pytest

from placer.circuit.model import Circuit
from placer.guide.build import build_guide
from placer.guide.cautions import build_cautions
from placer.guide.powerup import power_steps
from placer.guide.step import Caution
from placer.guide.wire import wire_pieces
from placer.plan.model import Jumper, Plan
from tests.check.plans import lantern
from tests.guide.built import ALL, built
from tests.guide.plans import generated


def valued(plan: Plan, ref: str, value: str) -> Plan:
    """The plan with another value of one part."""
    parts = tuple(replace(part, value=value) if part.ref == ref else part for part in plan.circuit.parts)
    circuit: Circuit = replace(plan.circuit, parts=parts)
    return replace(plan, circuit=circuit)


def kinds(plan: Plan) -> dict[str, Caution]:
    return {caution.kind: caution for caution in build_cautions(plan)}


@pytest.mark.parametrize("name", ALL)
def test_law_iron_fumes_and_eyes_are_always_told(name: str) -> None:
    told = kinds(built(name))
    assert {"law", "iron", "fumes", "eyes"} <= set(told)
    assert "mains" not in told
    assert "lithium" not in told


def test_cautions_follow_from_the_parts() -> None:
    lantern, fan = kinds(built("hive-lantern")), kinds(built("fan-supply"))
    assert set(lantern["polarity"].refs) == {"D1", "LED1", "LED2"}
    assert "heat" not in lantern
    assert "static" not in lantern
    assert "Q1" in fan["heat"].refs  # a power transistor
    assert kinds(built("gate-blinker"))["static"].refs == ("U1",)
    assert kinds(built("solar-charge-indicator"))["battery"].refs == ("J1",)


@pytest.mark.parametrize("value", ["230 V", "230V AC", "mains", "240 V~", "120 V AC"])
def test_mains_are_refused_first(value: str) -> None:
    first = build_cautions(valued(built("hive-lantern"), "J1", value))[0]
    assert first.kind == "mains"
    assert "do not build" in first.title
    assert "licensed" in first.text


@pytest.mark.parametrize("value", ["Li-ion 3.7 V", "18650", "LiPo", "lithium cell", "CR2032"])
def test_lithium_is_warned_of(value: str) -> None:
    assert kinds(valued(built("hive-lantern"), "J1", value))["lithium"].refs == ("J1",)


@pytest.mark.parametrize("value", ["12 V", "limit", "alive", "22k", "LM317", "1N4007", "L N"])
def test_plain_values_raise_no_alarm(value: str) -> None:
    told = kinds(valued(built("hive-lantern"), "J1", value))
    assert not {"mains", "lithium", "battery", "voltage"} & set(told)


def test_nets_of_the_mains_are_noticed() -> None:
    plan = built("hive-lantern")
    names = {"VIN": "L", "GND": "N"}
    nets = tuple(replace(net, name=names.get(net.name, net.name)) for net in plan.circuit.nets)
    assert "mains" in kinds(replace(plan, circuit=replace(plan.circuit, nets=nets)))


@pytest.mark.parametrize(("volts", "hot"), [(0.0, True), (5.6, False)])
def test_a_resistor_that_gets_hot_is_named(volts: float, hot: bool) -> None:
    """R1 of the fan supply, 470 ohm at 12 V: 0.31 W to ground, 0.09 W to the Zener voltage."""
    plan = built("fan-supply")
    nets = tuple(replace(net, volts=volts) if net.name == "ZEN" else net for net in plan.circuit.nets)
    told = kinds(replace(plan, circuit=replace(plan.circuit, nets=nets)))
    assert ("R1" in told["heat"].refs) == hot


def test_power_comes_with_a_limit_and_without_ics() -> None:
    steps = power_steps(built("gate-blinker"))
    assert steps[0].limit_ma == 50
    assert "set 9 V" in steps[1].text
    assert "J1 pin 1" in steps[1].text
    fitted = next(n for n, step in enumerate(steps) if "Now fit U1" in step.check)
    sockets = [n for n, step in enumerate(steps) if "empty socket of U1" in step.text]
    assert sockets
    assert max(sockets) < fitted < len(steps) - 1
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))


def test_the_limit_with_everything_fitted_follows_from_the_amps() -> None:
    """The activity bar takes 80 mA at most: 130 mA."""
    assert power_steps(built("activity-bar"))[-1].limit_ma == 130


def test_a_circuit_without_supplies_gets_no_power_steps() -> None:
    plan = built("hive-lantern")
    nets = tuple(replace(net, role="signal") for net in plan.circuit.nets)
    assert power_steps(replace(plan, circuit=replace(plan.circuit, nets=nets))) == ()


def test_wire_longer_than_a_spool_and_many_pieces() -> None:
    """Thirty pieces of 100 mm and 15 take more than three spools of 1 m; none holds more than it has."""
    plan = built("hive-lantern")
    wires = tuple(Jumper("VLED", "a1", f"e{n % 30 + 1}", 100.0) for n in range(30))
    pieces = wire_pieces(replace(plan, jumpers=wires))
    used: dict[tuple[str, int], float] = {}
    for piece in pieces:
        used[piece.wire, piece.spool] = used.get((piece.wire, piece.spool), 0.0) + piece.piece_mm
    assert all(length <= 1000 for length in used.values())
    assert len({piece.number for piece in pieces}) == 30


@pytest.mark.parametrize("name", ALL)
def test_the_guide_is_whole_and_the_same_each_time(name: str) -> None:
    plan = built(name)
    guide = build_guide(plan)
    assert guide == build_guide(plan)
    assert guide.summary.parts == len(plan.placements)
    assert sum(group.count for group in guide.parts if group.value != "socket") == len(plan.circuit.parts)
    assert {ref for group in guide.parts for ref in group.refs} == set(plan.placements)
    assert len(guide.wires) == len(plan.jumpers)
    assert len(guide.cuts) == len(plan.cuts)
    assert {step.refs[0] for step in guide.steps if step.refs} == set(plan.placements)


def test_the_cuts_say_what_they_part() -> None:
    cuts = {cut.holes: cut.nets for cut in build_guide(built("gate-blinker-long-strip-16x20")).cuts}
    assert cuts[("D6",)] == ("TIME", "OUT") or cuts[("D6",)] == ("OUT", "TIME")


@pytest.mark.parametrize("board", ["five-hole-63", "long-strip-39x60", "single-pad-30x20", "five-hole-twin-45"])
def test_any_plan_gets_a_guide(board: str) -> None:
    """Plans strewn at random, which connect nothing sensible, with every package there is in the mix."""
    plan = generated(board, 30, seed=5)
    guide = build_guide(plan)
    assert {step.refs[0] for step in guide.steps if step.refs} == set(plan.placements)


def test_rails_that_are_not_as_marked_are_told_of() -> None:
    """VCC on the rail printed -, by a lead or only by a wire, and a signal on one printed +; ground on - is right."""

    def told(*wires: Jumper) -> list[tuple[str, str]]:
        plan = lantern()
        circuit = replace(plan.circuit, nets=tuple(replace(net, role="signal") for net in plan.circuit.nets))
        changed = replace(plan, circuit=circuit, jumpers=(*plan.jumpers, *wires))
        return [(each.where, each.text) for each in build_cautions(changed) if each.kind == "rails"]

    assert told() == told(Jumper("GND", "a10", "L-1", 1.0)) == []
    crossed = told(Jumper("VCC", "a13", "L-1", 1.0), Jumper("KEY", "a15", "R+1", 1.0))
    assert [where for where, _ in crossed] == ["build", "power"]
    assert all(
        text.startswith("The rail printed L- carries VCC; the rail printed R+ carries KEY.") for _, text in crossed
    )
    assert "not by the signs" in crossed[1][1]
    both = told(Jumper("VCC", "a13", "L-1", 1.0), Jumper("VCC", "a13", "R-1", 1.0))
    assert both[0][1].startswith("The rails printed L-, R- carry VCC.")


def test_power_comes_up_where_supplies_are_known_by_name_only() -> None:
    plan = lantern()
    assert {net.role for net in plan.circuit.nets} == {"signal"}
    assert any("VCC: set" in step.text and "its +" in step.text for step in power_steps(plan))


def test_an_alternating_voltage_is_dangerous_sooner() -> None:
    def warned(ac: bool) -> set[str]:
        plan = built("hive-lantern")
        nets = (replace(plan.circuit.nets[0], volts=40.0, ac=ac), *plan.circuit.nets[1:])
        return {caution.kind for caution in build_cautions(replace(plan, circuit=replace(plan.circuit, nets=nets)))}

    assert "voltage" in warned(ac=True)
    assert "voltage" not in warned(ac=False)
