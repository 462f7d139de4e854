"""The copper of a plan is the source circuit: by name, by an independent comparer, and by its operating point."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from placer.plan.model import Plan
from placer.plan.readback import readback
from tests.circuits.test_demo_circuits import NAMES, load
from tests.truth.benches import CASES, Case
from tests.truth.lvs import compare
from tests.truth.netlist import from_circuit, from_plan
from tests.truth.plans import planned
from tests.truth.spice import differences, operating_point

LONG_STRIPS = "long-strip-39x60"
LONE_PADS = "single-pad-30x20"


def without_jumper(plan: Plan, index: int) -> Plan:
    return replace(plan, jumpers=plan.jumpers[:index] + plan.jumpers[index + 1 :])


def turned(plan: Plan, ref: str) -> Plan:
    """The plan with a two-lead part turned round in its own holes."""
    old = plan.placements[ref]
    first, second = old.pins
    pins = {first: old.pins[second], second: old.pins[first]}
    return replace(plan, placements={**plan.placements, ref: replace(old, pins=pins)})


@pytest.mark.parametrize("name", NAMES)
def test_every_net_is_one_conductor_by_name(name: str) -> None:
    """Our own names are known on both sides, so this comparison needs no guessing and is the proof."""
    plan, circuit = planned(name), load(name)
    assert {net.name: frozenset(net.pins) for net in readback(plan)} == {
        n.name: frozenset(n.pins) for n in circuit.nets
    }


@pytest.mark.outside
@pytest.mark.parametrize("name", NAMES)
def test_an_independent_comparer_finds_copper_and_source_equal(name: str, tmp_path: Path) -> None:
    verdict = compare(from_circuit(load(name)), from_plan(planned(name)), tmp_path)
    assert verdict.equal, verdict.text


@pytest.mark.outside
@pytest.mark.parametrize("name", ["gate-blinker", "hum-speaker", "honey-warmer-timer"])
def test_cuts_keep_nets_apart_for_the_comparer_too(name: str, tmp_path: Path) -> None:
    plan = planned(name, LONG_STRIPS)
    assert plan.cuts
    source = from_circuit(load(name))
    assert compare(source, from_plan(plan), tmp_path).equal
    for index in range(len(plan.cuts)):
        whole = replace(plan, cuts=plan.cuts[:index] + plan.cuts[index + 1 :])
        assert not compare(source, from_plan(whole), tmp_path).equal, f"without cut {plan.cuts[index]}"


@pytest.mark.outside
@pytest.mark.parametrize("name", ["hive-lantern", "frost-alarm", "gate-blinker", "queen-incubator-thermostat"])
def test_bridges_of_solder_make_the_source_circuit_and_each_is_needed(name: str, tmp_path: Path) -> None:
    plan, source = planned(name, LONE_PADS), from_circuit(load(name))
    assert plan.bridges
    verdict = compare(source, from_plan(plan), tmp_path)
    assert verdict.equal, verdict.text
    for index in range(0, len(plan.bridges), 6):
        less = replace(plan, bridges=plan.bridges[:index] + plan.bridges[index + 1 :])
        assert not compare(source, from_plan(less), tmp_path).equal, f"without {plan.bridges[index]}"


@pytest.mark.outside
@pytest.mark.parametrize("name", NAMES)
def test_the_comparer_notices_a_jumper_that_is_left_out(name: str, tmp_path: Path) -> None:
    plan = planned(name)
    for index in range(0, len(plan.jumpers), 4):
        verdict = compare(from_circuit(load(name)), from_plan(without_jumper(plan, index)), tmp_path)
        assert not verdict.equal, f"{plan.jumpers[index]} left out, yet: {verdict.text}"


@pytest.mark.outside
@pytest.mark.parametrize("name", NAMES)
def test_the_comparer_objects_to_a_polarised_part_turned_round(name: str, tmp_path: Path) -> None:
    plan = planned(name)
    polarised = [ref for ref, device in from_plan(plan).items() if len(device.nodes) == 2 and not device.symmetric]
    ref = next(ref for ref in sorted(polarised) if not ref.startswith("J"))
    verdict = compare(from_circuit(load(name)), from_plan(turned(plan, ref)), tmp_path)
    assert not verdict.equal, f"{ref} turned round, yet: {verdict.text}"


@pytest.mark.outside
@pytest.mark.parametrize("case", CASES, ids=lambda c: "-".join(filter(None, (c.circuit, c.about))))
def test_copper_and_source_have_one_operating_point(case: Case, tmp_path: Path) -> None:
    source = operating_point(from_circuit(load(case.circuit)), case.bench, tmp_path / "source.cir")
    copper = operating_point(from_plan(planned(case.circuit)), case.bench, tmp_path / "copper.cir")
    assert (tmp_path / "source.cir").read_text() != (tmp_path / "copper.cir").read_text()
    assert differences(source, copper) == []


@pytest.mark.outside
@pytest.mark.parametrize("case", CASES, ids=lambda c: "-".join(filter(None, (c.circuit, c.about))))
def test_the_simulator_notices_a_wrong_connection_on_the_board(case: Case, tmp_path: Path) -> None:
    """Two leads exchanged in their holes, as a tired builder would."""
    plan = planned(case.circuit)
    (ref_a, pin_a), (ref_b, pin_b) = (pin.split(".") for pin in case.mistake)
    hole_a, hole_b = plan.placements[ref_a].pins[pin_a], plan.placements[ref_b].pins[pin_b]
    placements = dict(plan.placements)
    for ref, pin, hole in ((ref_a, pin_a, hole_b), (ref_b, pin_b, hole_a)):
        placements[ref] = replace(placements[ref], pins={**placements[ref].pins, pin: hole})
    source = operating_point(from_circuit(load(case.circuit)), case.bench, tmp_path / "source.cir")
    copper = operating_point(from_plan(replace(plan, placements=placements)), case.bench, tmp_path / "copper.cir")
    assert differences(source, copper) != []
