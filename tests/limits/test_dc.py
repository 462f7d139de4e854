"""Voltages and currents from the netlist, against circuits worked by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from placer.circuit.model import Circuit
from placer.circuit.read_yaml import read_circuit
from placer.limits import dc, values
from placer.limits.loads import net_loads
from placer.packages.catalogue import lookup


def circuit(parts: str, nets: str) -> Circuit:
    """A circuit of parts ``R1 axial-0207 4.7k; ...`` and nets ``VCC=9 supply: R1.1 J1.1; ...``."""
    listed = []
    for text in parts.split(";"):
        ref, package, *value = text.split()
        listed.append(f"  {ref}: {{package: {package}, value: '{' '.join(value)}'}}")
    joined = []
    for text in nets.split(";"):
        head, pins = text.split(":")
        name, *more = head.split()
        fields = [f"pins: [{', '.join(pins.split())}]", *(word.replace("=", ": ") for word in more)]
        joined.append(f"  {name}: {{{', '.join(fields)}}}")
    text = "circuit: hive\nparts:\n" + "\n".join(listed) + "\nnets:\n" + "\n".join(joined)
    return read_circuit(Path("hive.yaml"), text=text)[0]


def milliamps(known: dc.Estimate, ref: str) -> tuple[float, float]:
    return 1000 * known.amps[ref].low, 1000 * known.amps[ref].high


def test_a_divider() -> None:
    """9 V over 1k and 2k: 3 mA, 6 V between them."""
    known = dc.estimate(
        circuit(
            "J1 terminal-2; R1 axial-0207 1k; R2 axial-0207 2k",
            "V role=supply volts=9: J1.1 R1.1; MID: R1.2 R2.1; GND role=ground: R2.2 J1.2",
        )
    )
    assert known.volts["MID"] == dc.Level(pytest.approx(6.0), pytest.approx(6.0), dc.ESTIMATED)
    assert milliamps(known, "R1") == pytest.approx((3.0, 3.0))


def test_a_bridge_of_five_resistors() -> None:
    """Unbalanced bridge, by hand with Kirchhoff's laws.

    10 V; R1 1k and R2 2k from the top, R3 2k and R4 1k to ground, R5 1k across. By symmetry Va + Vb = 10; at node a
    (10 - Va)/1 = Va/2 + (Va - Vb)/1, so 10 - Va = Va/2 + 2 Va - 10: Va = 20/3.5 = 5.714, Vb = 4.286; R5 carries 1.429.
    """
    known = dc.estimate(
        circuit(
            "J1 terminal-2; R1 axial-0207 1k; R2 axial-0207 2k; R3 axial-0207 2k; R4 axial-0207 1k; R5 axial-0207 1k",
            "V role=supply volts=10: J1.1 R1.1 R2.1; A: R1.2 R3.1 R5.1; B: R2.2 R4.1 R5.2;"
            "GND role=ground: R3.2 R4.2 J1.2",
        )
    )
    assert known.volts["A"].low == pytest.approx(20 / 3.5)
    assert milliamps(known, "R5") == pytest.approx((10 / 7, 10 / 7))


@pytest.mark.parametrize(
    ("value", "drop"), [("red", 1.8), ("warm white", 3.1), ("blue", 3.1), ("green", 2.0), ("", 2.0), ("IR", 1.3)]
)
def test_a_lamp_behind_a_resistor(value: str, drop: float) -> None:
    """(5 - drop) / (330 + 1): drops by colour, common practice."""
    known = dc.estimate(
        circuit(
            f"J1 terminal-2; R1 axial-0207 330; LED1 led-5 {value}",
            "V role=supply volts=5: J1.1 R1.1; A: R1.2 LED1.A; GND role=ground: LED1.K J1.2",
        )
    )
    assert milliamps(known, "LED1")[1] == pytest.approx(1000 * (5 - drop) / 331, rel=1e-6)


def test_a_lamp_the_wrong_way_round_gets_nothing() -> None:
    known = dc.estimate(
        circuit(
            "J1 terminal-2; R1 axial-0207 330; LED1 led-5 red",
            "V role=supply volts=5: J1.1 R1.1; A: R1.2 LED1.K; GND role=ground: LED1.A J1.2",
        )
    )
    assert milliamps(known, "LED1") == pytest.approx((0.0, 0.0), abs=1e-6)


def test_a_zener_holds_its_voltage() -> None:
    """12 V, 470 ohm, 5.6 V: (12 - 5.6) / 471 = 13.6 mA; it carries them backwards."""
    known = dc.estimate(
        circuit(
            "J1 terminal-2; R1 axial-0207 470; D1 do-35 zener 5.6V",
            "V role=supply volts=12: J1.1 R1.1; Z: R1.2 D1.K; GND role=ground: D1.A J1.2",
        )
    )
    assert known.volts["Z"].low == pytest.approx(5.6, abs=0.02)
    assert milliamps(known, "D1") == pytest.approx((-13.588, -13.588), rel=1e-3)


def test_an_unknown_zener_is_no_diode() -> None:
    nets = "V role=supply volts=12: J1.1 R1.1; Z: R1.2 D1.K; GND role=ground: D1.A J1.2"
    known = dc.estimate(circuit("J1 terminal-2; R1 axial-0207 470; D1 do-35 zener", nets))
    assert known.volts["Z"].how == dc.BOUNDED
    assert milliamps(known, "R1") == pytest.approx((0.0, 1000 * 12 / 470))


def test_the_lantern_gets_what_its_file_says() -> None:
    """The circuit's own remark: (12 V - 0.8 V - 2 x 3.1 V) / 330 ohm, about 15 mA."""
    found, _ = read_circuit(Path(__file__).resolve().parents[2] / "netlists" / "hive-lantern.yaml")
    known = dc.estimate(found)
    assert milliamps(known, "R1")[1] == pytest.approx(15.2, abs=0.3)
    assert known.amps["R1"].how == dc.ESTIMATED


def test_what_hangs_on_an_ic_is_bounded_by_the_ics_supply() -> None:
    """The output of a logic IC on 5 V drives a lamp, whatever the 24 V beside it: at most (5 - 1.8) / 331."""
    known = dc.estimate(
        circuit(
            "J1 terminal-3; U1 dip-8; R1 axial-0207 330; LED1 led-5 red",
            "V24 role=supply volts=24: J1.1; V5 role=supply volts=5: J1.3 U1.8; OUT: U1.3 R1.1; A: R1.2 LED1.A;"
            "GND role=ground: LED1.K J1.2 U1.1",
        )
    )
    assert known.amps["LED1"].how == dc.BOUNDED
    assert milliamps(known, "LED1") == pytest.approx((0.0, 1000 * 3.2 / 331), abs=1e-6)


def test_volts_of_a_signal_are_the_most_it_has() -> None:
    known = dc.estimate(
        circuit(
            "J1 terminal-3; R1 axial-0207 1k; R2 axial-0207 1k",
            "V role=supply volts=12: J1.1 R1.1; S volts=6: J1.3 R1.2 R2.1; GND role=ground: R2.2 J1.2",
        )
    )
    assert known.volts["S"] == dc.Level(0.0, 6.0, dc.DECLARED)
    assert milliamps(known, "R1") == pytest.approx((6.0, 12.0))
    assert milliamps(known, "R2") == pytest.approx((0.0, 6.0))


def test_diodes_and_regulators_hand_voltages_on() -> None:
    """12 V behind a silicon diode is 11.3 V; a 7805 makes 5 V of it; a 78L05 has its pins the other way round."""
    nets = "VIN role=supply volts=12: J1.1 D1.A; RAW: D1.K U1.{0} C1.1; OUT: U1.{1} R1.1;"
    nets += "GND role=ground: U1.2 R1.2 J1.2 C1.2"
    for package, value, into, out in (("to-220", "7805", 1, 3), ("to-92", "78L05", 3, 1)):
        parts = f"J1 terminal-2; D1 do-41 1N4001; U1 {package} {value}; R1 axial-0207 1k; C1 disc-5 330n"
        known = dc.estimate(circuit(parts, nets.format(into, out)))
        assert known.volts["RAW"].low == pytest.approx(11.3)
        assert known.volts["OUT"].low == pytest.approx(5.0)
        assert milliamps(known, "R1")[1] == pytest.approx(5.0)
        assert [(feed.ref, feed.target) for feed in known.feeds] == [("D1", "RAW"), ("U1", "OUT")]


def test_a_regulator_whose_middle_pin_is_not_on_ground_is_none() -> None:
    nets = "VIN role=supply volts=12: J1.1 U1.1; X: U1.2 R1.1; OUT: U1.3; GND role=ground: R1.2 J1.2"
    assert dc.estimate(circuit("J1 terminal-2; U1 to-220 7805; R1 axial-0207 1k", nets)).feeds == ()


def test_nothing_is_known_where_no_voltage_is() -> None:
    known = dc.estimate(circuit("J1 terminal-2; R1 axial-0207 1k", "V: J1.1 R1.1; GND role=ground: R1.2 J1.2"))
    assert (known.amps, known.span) == ({}, None)


@given(st.floats(1.0, 100.0), st.floats(10.0, 1e6), st.floats(10.0, 1e6))
def test_currents_follow_ohms_law(volts: float, first: float, second: float) -> None:
    known = dc.estimate(
        circuit(
            f"J1 terminal-2; R1 axial-0207 {first:.3f}; R2 axial-0207 {second:.3f}",
            f"V role=supply volts={volts:.6f}: J1.1 R1.1; M: R1.2 R2.1; GND role=ground: R2.2 J1.2",
        )
    )
    assert known.amps["R1"].low == pytest.approx(volts / (first + second), rel=1e-3)


@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5), st.sampled_from("RDL")), min_size=1, max_size=12))
def test_kirchhoff_holds_at_every_net_that_was_solved(edges: list[tuple[int, int, str]]) -> None:
    """Random nets of resistors, diodes and lamps between 9 V (net 0) and ground (net 1)."""
    kinds = {"R": "axial-0207 220", "D": "do-35 1N4148", "L": "led-5 red"}
    refs = {"R": "R", "D": "D", "L": "LED"}
    parts, pins = ["J1 terminal-2"], {0: ["J1.1"], 1: ["J1.2"]}
    for number, (a, b, kind) in enumerate(edges):
        if a != b:
            ref = f"{refs[kind]}{number + 1}"
            parts.append(f"{ref} {kinds[kind]}")
            pins.setdefault(a, []).append(f"{ref}.1")
            pins.setdefault(b, []).append(f"{ref}.2")
    roles = {0: "role=supply volts=9", 1: "role=ground"}
    nets = ";".join(f"N{net} {roles.get(net, '')}: {' '.join(own)}" for net, own in pins.items())
    known = dc.estimate(circuit("; ".join(parts), nets))
    for net in pins:
        if net > 1 and known.volts[f"N{net}"].how == dc.ESTIMATED:
            own = [b for b in known.branches.values() if f"N{net}" in b.nets]
            total = sum(known.amps[b.ref].low * (1 if b.nets[1] == f"N{net}" else -1) for b in own)
            assert total == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "ohms"),
    [
        # IEC 60062 marking (from memory), and how the trade writes it.
        *(("4k7", 4700), ("4K7", 4700), ("R47", 0.47), ("0R27", 0.27), ("4R7", 4.7), ("47R", 47), ("470", 470)),
        *(("1M", 1e6), ("2.2k", 2200), ("10 ohm", 10), ("10k 1%", 10_000), ("1.5 k", 1500), ("5L0", 0.005)),
        *(("NTC 10k", None), ("", None), ("k", None), ("100n", None), ("ten", None), ("1N4148", None)),
    ],
)
def test_values_in_ohms(text: str, ohms: float | None) -> None:
    assert values.ohms_of(text) == (None if ohms is None else pytest.approx(ohms))


@pytest.mark.parametrize(("text", "volts"), [("zener 5.6V", 5.6), ("5V6", 5.6), ("12 V", 12), ("BZX55", None)])
def test_values_in_volts(text: str, volts: float | None) -> None:
    assert values.volts_of(text) == volts


@pytest.mark.parametrize(
    ("text", "volts"),
    [
        *(("7805", 5), ("LM7812CT", 12), ("78L05", 5), ("L7815", 15), ("79L12", -12), ("7905", -5)),
        *(("LM317", None), ("17805", None), ("78051", None), ("7803", None), ("timer", None)),
    ],
)
def test_fixed_regulators(text: str, volts: float | None) -> None:
    one = circuit(f"U1 to-220 {text}", "A: U1.1").parts[0]
    found = values.regulator_of(one, lookup("to-220"))
    assert (None if found is None else found.volts) == volts


# --- what nets carry -------------------------------------------------------------------------------------------------


def test_a_net_carries_what_the_circuit_says_or_its_parts_take() -> None:
    found = circuit(
        "J1 terminal-2; R1 axial-0207 1k; R2 axial-0207 2k; C1 disc-5 100n; D1 do-41 1N4001; J2 terminal-2",
        "VIN role=supply volts=9 amps=0.4: J1.1 D1.A; RAW: D1.K J2.1; V role=supply volts=6: R1.1 C1.1 J2.2;"
        "MID: R1.2 R2.1; GND role=ground: R2.2 C1.2 J1.2",
    )
    loads = net_loads(found, dc.estimate(found))
    assert {name: (load.how, round(load.load.amps, 6)) for name, load in loads.items()} == {
        "VIN": ("declared", 0.4),
        "RAW": ("fed", 0.4),  # through D1
        "V": ("estimated", 0.002),  # all its parts but one tell: 6 V over 3k
        "MID": ("estimated", 0.002),
        "GND": ("estimated", 0.002),
    }


def test_nets_with_several_silent_parts_are_not_known() -> None:
    found = circuit(
        "J1 terminal-2; U1 dip-8; R1 axial-0207 1k",
        "V role=supply volts=9: J1.1 U1.8 R1.1; X: R1.2 U1.3; GND role=ground: J1.2 U1.4",
    )
    loads = net_loads(found, dc.estimate(found))
    assert {name for name, load in loads.items() if load.how == "partial"} == {"V", "GND"}


@pytest.mark.parametrize("value", ["0", "0R000001", "1e400", "10G", "k" * 50, "-5"])
def test_odd_values_are_no_error(value: str) -> None:
    """Parts on nets that nothing holds at a voltage, of resistances far out of the way."""
    known = dc.estimate(
        circuit(
            f"J1 terminal-2; R1 axial-0207 {value}; R2 axial-0207 {value}; RV1 trimmer-3 {value}; LED1 led-5",
            "V role=supply volts=1000000: J1.1; A: R1.1 R2.1 RV1.1; B: R1.2 R2.2 RV1.3; C: LED1.1 RV1.2;"
            "GND role=ground: J1.2 LED1.2",
        )
    )
    assert all(level.low <= level.high for level in (*known.volts.values(), *known.amps.values()))
