"""No false alarm on the demo circuits: every finding above a note was looked at, and stands here with its reason."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from placer.circuit.read_yaml import read_circuit
from placer.limits.find import find
from placer.limits.voltage import refusals, voltage_findings
from placer.plan.file import read_plan

ROOT = Path(__file__).resolve().parents[2]
CIRCUITS = sorted(path.stem for path in (ROOT / "netlists").glob("*.yaml"))

# circuit -> (code, first of where) -> why it is right.
JUSTIFIED = {
    "fan-supply": {
        ("regulator-heat-near", "Q1"): "(11.3 - 5) V x 0.2 A = 1.26 W in TO-220; the circuit itself warns of 1.3 W",
    },
}
NOTES = {
    "brood-logger": {("regulator-heat-open", "U2"): "a 7805, and nobody says what the 5 V side takes"},
    "fan-supply": {("resistor-power-open", "R1"): "470 ohm to a Zener whose net a transistor shares: 0.09 W in truth"},
    "queen-incubator-thermostat": {
        ("resistor-power-open", "R6"): "100 ohm to a gate, which takes nothing for long; the netlist does not tell",
    },
}

# How currents are known is always said; drops are noted from 10 mV on (the ground of the mixer, both of the warmer).
ALWAYS = ("current-basis", "voltage-drop")


@pytest.mark.parametrize("name", CIRCUITS)
def test_findings_of_the_demo_plans_are_those_looked_at(name: str) -> None:
    findings = find(read_plan(ROOT / "outputs" / name / "plan.json"))
    told = {(f.code, f.where[0] if f.where else "") for f in findings if f.severity != "note"}
    notes = {(f.code, f.where[0]) for f in findings if f.severity == "note" and f.code not in ALWAYS}

    assert told == set(JUSTIFIED.get(name, {}))
    assert notes == set(NOTES.get(name, {}))
    # 1 A at most runs in any of them, over no more than three rails of 39 mohm one after another with their wires.
    assert all(f.figures["drop_V"] < 0.15 for f in findings if f.code == "voltage-drop")


@pytest.mark.parametrize("name", CIRCUITS)
def test_no_demo_circuit_is_refused_or_warned_of_for_its_voltage(name: str) -> None:
    circuit, _ = read_circuit(ROOT / "netlists" / f"{name}.yaml")
    assert refusals(circuit) == ()
    assert list(voltage_findings(circuit)) == []


def test_the_circuits_of_the_readme_are_not_refused() -> None:
    blocks = re.findall(r"```yaml\n(circuit:.*?)```", (ROOT / "README.md").read_text("utf-8"), re.S)
    assert blocks
    for text in blocks:
        assert refusals(read_circuit(Path("readme.yaml"), text=text)[0]) == ()
