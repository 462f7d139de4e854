"""netgen-lvs accepts the same circuit in other words and refuses a spoiled one: only so is its word worth having."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.circuits.test_demo_circuits import NAMES, load
from tests.truth.lvs import class_name, compare, spice
from tests.truth.netlist import Device, Netlist, fingerprint, from_circuit, loosened, revalued, swapped

pytestmark = pytest.mark.outside


def reordered(netlist: Netlist, seed: int) -> Netlist:
    """The same circuit with parts in another order, other node names, and symmetric leads exchanged at random."""
    chance = random.Random(seed)
    devices = {}
    for ref in chance.sample(list(netlist), len(netlist)):
        device = netlist[ref]
        nodes = {pin: f"copper {node}" for pin, node in device.nodes.items()}
        if device.symmetric and chance.random() < 0.5:
            nodes = dict(zip(nodes, reversed(nodes.values()), strict=True))
        devices[ref] = Device(device.package, device.value, nodes, device.symmetric)
    return devices


@pytest.mark.parametrize("name", NAMES)
def test_the_same_circuit_in_another_order_matches(name: str, tmp_path: Path) -> None:
    netlist = from_circuit(load(name))
    verdict = compare(netlist, reordered(netlist, seed=1), tmp_path)
    assert verdict.equal, verdict.text


@pytest.mark.parametrize("name", NAMES)
def test_exchanged_pins_are_refused(name: str, tmp_path: Path) -> None:
    """Random exchanges; one that leaves the same circuit (by colour refinement) is drawn again."""
    netlist = from_circuit(load(name))
    pins = [f"{ref}.{pin}" for ref, device in netlist.items() for pin in device.nodes]
    chance = random.Random(7)
    own = fingerprint(netlist)
    refused = 0
    while refused < 4:
        first, second = chance.sample(pins, 2)
        spoiled = swapped(netlist, first, second)
        if fingerprint(spoiled) == own:
            continue
        verdict = compare(netlist, spoiled, tmp_path)
        assert not verdict.equal, f"{first} and {second} exchanged, yet: {verdict.text}"
        refused += 1


@pytest.mark.parametrize("name", NAMES)
def test_a_loose_pin_and_a_wrong_value_are_refused(name: str, tmp_path: Path) -> None:
    netlist = from_circuit(load(name))
    resistor = next(ref for ref in netlist if ref.startswith("R"))
    assert not compare(netlist, loosened(netlist, f"{resistor}.1"), tmp_path).equal
    assert not compare(netlist, revalued(netlist, resistor, "3.14k"), tmp_path).equal


def test_a_dropped_part_and_a_joined_pair_of_nets_are_refused(tmp_path: Path) -> None:
    netlist = from_circuit(load("gate-blinker"))
    assert not compare(netlist, {ref: d for ref, d in netlist.items() if ref != "C2"}, tmp_path).equal
    joined = {
        ref: Device(d.package, d.value, {p: n.replace("DIS", "TIME") for p, n in d.nodes.items()}, d.symmetric)
        for ref, d in netlist.items()
    }
    assert not compare(netlist, joined, tmp_path).equal


def test_open_pins_have_a_node_each_and_a_buttons_pairs_one() -> None:
    nodes = from_circuit(load("brood-logger"))
    assert nodes["U1"].nodes["2"] != nodes["U1"].nodes["3"]
    assert nodes["SW1"].nodes["1"] == nodes["SW1"].nodes["2"] == "RESET"
    assert nodes["SW1"].nodes["3"] == nodes["SW1"].nodes["4"] == "GND"


def test_values_that_differ_only_by_case_are_different_classes() -> None:
    mega, milli = (Device("axial-0207", value, {"1": "a", "2": "b"}) for value in ("1M", "1m"))
    assert class_name(mega).lower() != class_name(milli).lower()
    assert spice({"R1": mega}, "one").count(class_name(mega)) == 2
