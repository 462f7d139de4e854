"""The electrical lint: each rule objects to one spoiled circuit, and to none that is right."""

from pathlib import Path

import pytest

from placer.circuit.lint import E24, E96, lint
from placer.circuit.read_yaml import read_circuit
from placer.errors import Diagnostic

NETLISTS = sorted((Path(__file__).parents[2] / "netlists").glob("*.yaml"))


def warnings(parts: str, nets: str) -> tuple[Diagnostic, ...]:
    circuit, _ = read_circuit(Path("c.yaml"), text=f"circuit: c\nparts: {{{parts}}}\nnets: {{{nets}}}\n")
    return lint(circuit)


def codes(parts: str, nets: str) -> list[str]:
    return [w.code for w in warnings(parts, nets)]


R = "{package: axial-0207, value: 1k}"
RAILS = "J1: {package: terminal-2}"
VCC = "role: supply, volts: 5"
GND = "role: ground"
IC = "U1: {package: dip-8}, C1: {package: disc-5, value: 100n}"
NAMED = "U1: {package: dip-8, pins: {VCC: 8, GND: 1, IN: 2, OUT: 3}}, C1: {package: disc-5, value: 100n}"


@pytest.mark.parametrize("path", NETLISTS, ids=lambda path: path.stem)
def test_a_demo_circuit_gets_no_warning(path):
    assert lint(read_circuit(path)[0]) == ()


RIGHT_AND_WRONG = [
    # code, parts, nets that are right, nets that are wrong
    ("part-shorted", f"R1: {R}, {RAILS}", "A: [J1.1, R1.1], B: [J1.2, R1.2]", "A: [J1.1, R1.1, R1.2], B: [J1.2]"),
    (
        "part-shorted",
        f"S1: {{package: button-6}}, {RAILS}",
        "A: [J1.1, S1.1], B: [J1.2, S1.3]",
        "A: [J1.1, S1.1, S1.4], B: [J1.2]",
    ),
    (
        "led-without-resistor",
        f"LED1: {{package: led-5}}, R1: {R}, {RAILS}",
        f"V: {{pins: [J1.1, R1.1], {VCC}}}, A: [R1.2, LED1.A], G: {{pins: [J1.2, LED1.K], {GND}}}",
        f"V: {{pins: [J1.1, R1.1, LED1.A], {VCC}}}, G: {{pins: [J1.2, LED1.K, R1.2], {GND}}}",
    ),
    (
        "led-without-resistor",
        f"LED1: {{package: led-5}}, LED2: {{package: led-3}}, S1: {{package: header-2}}, R1: {R}, {RAILS}",
        f"V: {{pins: [J1.1, R1.1], {VCC}}}, A: [R1.2, LED1.A], B: [LED1.K, LED2.A], C: [LED2.K, S1.1], "
        f"G: {{pins: [J1.2, S1.2], {GND}}}",
        f"V: {{pins: [J1.1, LED1.A], {VCC}}}, B: [LED1.K, LED2.A], C: [LED2.K, S1.1], "
        f"G: {{pins: [J1.2, S1.2, R1.1], {GND}}}, D: [R1.2]",
    ),
    (
        "led-without-resistor",
        f"LED1: {{package: led-5}}, R1: {R}, {IC}, {RAILS}",
        f"V: {{pins: [J1.1, U1.8, C1.1], {VCC}}}, O: [U1.3, R1.1], A: [R1.2, LED1.A], "
        f"G: {{pins: [J1.2, U1.1, C1.2, LED1.K], {GND}}}",
        f"V: {{pins: [J1.1, U1.8, C1.1, R1.1], {VCC}}}, X: [R1.2, U1.2], O: [U1.3, LED1.A], "
        f"G: {{pins: [J1.2, U1.1, C1.2, LED1.K], {GND}}}",
    ),
    (
        "ic-without-supply",
        f"{IC}, R1: {R}, {RAILS}",
        f"V: {{pins: [J1.1, U1.8, C1.1], {VCC}}}, G: {{pins: [J1.2, U1.1, C1.2], {GND}}}, O: [U1.3, R1.1]",
        f"V: {{pins: [J1.1, C1.1, R1.2], {VCC}}}, G: {{pins: [J1.2, U1.1, C1.2], {GND}}}, O: [U1.3, R1.1]",
    ),
    (
        "ic-without-supply",
        f"{NAMED}, {RAILS}",
        f"V: {{pins: [J1.1, U1.8, U1.2, C1.1], {VCC}}}, G: {{pins: [J1.2, U1.1, C1.2], {GND}}}",
        f"V: {{pins: [J1.1, U1.7, U1.2, C1.1], {VCC}}}, G: {{pins: [J1.2, U1.1, C1.2], {GND}}}",
    ),
    (
        "ic-without-decoupling",
        f"{IC}, {RAILS}",
        f"V: {{pins: [J1.1, U1.8, C1.1], {VCC}}}, G: {{pins: [J1.2, U1.1, C1.2], {GND}}}",
        f"V: {{pins: [J1.1, U1.8], {VCC}}}, G: {{pins: [J1.2, U1.1, C1.2], {GND}}}, X: [C1.1, U1.5]",
    ),
    (
        "ic-without-decoupling",
        f"{IC}, U2: {{package: dip-14}}, C2: {{package: disc-5, value: 100n}}, {RAILS}",
        f"V: {{pins: [J1.1, U1.8, U2.14, C1.1, C2.1], {VCC}}}, G: {{pins: [J1.2, U1.1, U2.7, C1.2, C2.2], {GND}}}",
        f"V: {{pins: [J1.1, U1.8, U2.14, C1.1], {VCC}}}, G: {{pins: [J1.2, U1.1, U2.7, C1.2, C2.2], {GND}}}",
    ),
    (
        "floating-input",
        f"{NAMED}, R1: {R}, {RAILS}",
        f"V: {{pins: [J1.1, U1.8, C1.1, R1.1], {VCC}}}, I: [U1.2, R1.2], G: {{pins: [J1.2, U1.1, C1.2], {GND}}}",
        f"V: {{pins: [J1.1, U1.8, C1.1, R1.1], {VCC}}}, G: {{pins: [J1.2, U1.1, C1.2], {GND}}}",
    ),
    (
        "floating-input",
        f"{NAMED}, C2: {{package: disc-5, value: 1n}}, {RAILS}, J2: {{package: header-2}}",
        f"V: {{pins: [J1.1, U1.8, C1.1], {VCC}}}, I: [U1.2, C2.1, J2.1], G: {{pins: [J1.2, U1.1, C1.2, C2.2], {GND}}}",
        f"V: {{pins: [J1.1, U1.8, C1.1], {VCC}}}, I: [U1.2, C2.1], G: {{pins: [J1.2, U1.1, C1.2, C2.2], {GND}}}",
    ),
    (
        "supplies-joined",
        f"R1: {{package: axial-0207, value: 0R}}, {RAILS}",
        f"V: {{pins: [J1.1, R1.1], {VCC}}}, W: {{pins: [R1.2], {VCC}}}, G: {{pins: [J1.2], {GND}}}",
        f"V: {{pins: [J1.1, R1.1], {VCC}}}, W: {{pins: [R1.2], role: supply, volts: 12}}, G: {{pins: [J1.2], {GND}}}",
    ),
    (
        "supplies-joined",
        f"S1: {{package: button-6}}, R1: {R}, {RAILS}",
        f"V: {{pins: [J1.1, R1.1], {VCC}}}, A: [R1.2, S1.1], G: {{pins: [J1.2, S1.3], {GND}}}",
        f"V: {{pins: [J1.1, S1.1], {VCC}}}, G: {{pins: [J1.2, S1.3], {GND}}}",
    ),
    (
        "supplies-joined",
        "V1: {package: pad-2, value: 5 V}, V2: {package: pad-2, value: 12 V}",
        "A: [V1.1, V2.1], B: [V1.2], C: [V2.2]",
        "A: [V1.1, V2.1], B: [V1.2, V2.2]",
    ),
    (
        "capacitor-reversed",
        f"C1: {{package: radial-5, value: 10u}}, {RAILS}",
        f"V: {{pins: [J1.1, C1.1], {VCC}}}, G: {{pins: [J1.2, C1.2], {GND}}}",
        f"V: {{pins: [J1.1, C1.2], {VCC}}}, G: {{pins: [J1.2, C1.1], {GND}}}",
    ),
    (
        "capacitor-reversed",
        f"C1: {{package: radial-5, value: 10u}}, {RAILS}",
        f"M: {{pins: [J1.1, C1.2], role: supply, volts: -12}}, G: {{pins: [J1.2, C1.1], {GND}}}",
        f"M: {{pins: [J1.1, C1.1], role: supply, volts: -12}}, G: {{pins: [J1.2, C1.2], {GND}}}",
    ),
    (
        "diode-across-supply",
        f"D1: {{package: do-41}}, {RAILS}",
        f"V: {{pins: [J1.1, D1.K], {VCC}}}, G: {{pins: [J1.2, D1.A], {GND}}}",
        f"V: {{pins: [J1.1, D1.A], {VCC}}}, G: {{pins: [J1.2, D1.K], {GND}}}",
    ),
]


OP_AMPS = "U1: {package: dip-8}, U2: {package: dip-8}, J1: {package: terminal-3}, " + ", ".join(
    f"C{n}: {{package: disc-5, value: 100n}}" for n in range(1, 5)
)
SPLIT = "VCC: [J1.1, U1.8, U2.8, {}], VEE: [J1.3, U1.4, U2.4, {}], GND: [J1.2, {}], X: [U1.1, U2.1, {}]"


@pytest.mark.parametrize(
    ("caps", "told"),
    [
        (("C1.1, C2.1", "C3.1, C4.1", "C1.2, C2.2, C3.2, C4.2", "U1.2"), []),  # each op-amp from each rail to ground
        (("C1.1, C2.1", "C1.2, C2.2", "U1.3", "C3.1, C4.1"), []),  # straight from rail to rail
        (("C1.1, C2.1", "C3.1", "C1.2, C2.2, C3.2", "C4.1, C4.2"), ["2 ICs (U1, U2) between VEE and GND, and 1 small"]),
        (
            ("C1.1, C2.1", "U1.3", "C1.2, C2.2", "C3.1, C4.1"),
            [f"{u}: no capacitor lies between its supply VEE and GND" for u in ("U1", "U2")],
        ),
        (
            ("U1.3", "U2.3", "C1.1, C2.1", "C3.1, C4.1"),
            [f"{u}: no capacitor lies between its supply VCC and VEE" for u in ("U1", "U2")],
        ),
    ],
)
def test_capacitors_from_rail_to_ground_serve_split_supplies(caps, told):
    found = [w.message for w in warnings(OP_AMPS, SPLIT.format(*caps)) if w.code == "ic-without-decoupling"]
    assert len(found) == len(told)
    assert all(message.startswith(begin) for message, begin in zip(found, told, strict=True)), found


def test_what_is_said_to_be_a_signal_is_no_rail():
    nets = "VCC: {{pins: [J1.1, LED1.A]{}}}, GND: [J1.2, LED1.K]"
    assert codes(f"LED1: {{package: led-5}}, {RAILS}", nets.format("")) == ["led-without-resistor"]
    assert codes(f"LED1: {{package: led-5}}, {RAILS}", nets.format(", role: signal")) == []


@pytest.mark.parametrize(
    ("code", "parts", "right", "wrong"), RIGHT_AND_WRONG, ids=[f"{c[0]}-{n}" for n, c in enumerate(RIGHT_AND_WRONG)]
)
def test_a_rule_objects_to_what_is_wrong_and_not_to_what_is_right(code, parts, right, wrong):
    assert codes(parts, right) == []
    found = [w for w in warnings(parts, wrong) if w.code == code]
    assert len(found) == (2 if "LED2" in parts else 1)  # each LED of a chain is named
    assert found[0].severity == "warning"
    assert found[0].help


@pytest.mark.parametrize("value", ["1k", "4k7", "4.7k", "4.75k", "8.2M", "9.76", "0R22", "10", "100k", "976"])
def test_values_of_a_series_are_no_hint(value):
    assert codes(f"R1: {{package: axial-0207, value: {value}}}, {RAILS}", "A: [J1.1, R1.1], B: [J1.2, R1.2]") == []


@pytest.mark.parametrize(("value", "nearest"), [("5k", "5.1k"), ("4.71k", "4.7k"), ("123", "120"), ("9.9M", "10M")])
def test_another_value_is_a_hint_with_the_nearest_one(value, nearest):
    found = warnings(f"R1: {{package: axial-0207, value: {value}}}, {RAILS}", "A: [J1.1, R1.1], B: [J1.2, R1.2]")
    assert [w.code for w in found] == ["hint-odd-resistor"]
    assert found[0].help.endswith(f" {nearest}")


def test_the_series_have_the_numbers_of_values_that_give_them_their_names():
    assert (len(E24), len(E96)) == (24, 96)
    assert {"100", "102", "976"} <= E96


def test_nothing_is_said_of_ics_where_no_net_is_known_to_be_a_supply():
    assert codes(f"{IC}, {RAILS}", "A: [J1.1, U1.8], B: [J1.2, U1.1], C: [C1.1, U1.2]") == []


def test_names_of_rails_speak_where_roles_do_not():
    parts = f"C1: {{package: radial-5, value: 10u}}, {RAILS}"
    assert codes(parts, "VCC: [J1.1, C1.2], GND: [J1.2, C1.1]") == ["capacitor-reversed"]
    assert codes(parts, "+5V: [J1.1, C1.1], GND: [J1.2, C1.2]") == []
    assert codes(parts, "SIG: [J1.1, C1.2], GND: [J1.2, C1.1]") == []
