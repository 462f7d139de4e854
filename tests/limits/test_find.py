"""Findings on plans made by hand: over, near and under each limit."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from placer.boards.catalogue import load_board
from placer.boards.model import Board
from placer.circuit.model import Circuit
from placer.errors import Diagnostic
from placer.limits import laws
from placer.limits.find import find, recorded_otherwise
from placer.limits.words import listed
from placer.plan.findings import Finding, gist, in_order, line, over
from placer.plan.model import Cut, Plan
from tests.check.plans import plan_of
from tests.limits.test_dc import circuit


def found(plan: Plan, *codes: str) -> list[Finding]:
    """Findings of these codes; of all but the note on how currents are known, where none is named."""
    return [f for f in find(plan) if (f.code in codes if codes else f.code != "current-basis")]


def heater(amps: float, *, board: Board | None = None) -> Plan:
    """A supply and a load on two terminals, at either end of both rails of one side."""
    what = circuit(
        "J1 terminal-2 12 V; J2 terminal-2 warming mat",
        f"V role=supply volts=12 amps={amps}: J1.1 J2.1; GND role=ground amps={amps}: J1.2 J2.2",
    )
    wires = (("V", "b3", "L+3"), ("V", "b20", "L+20"), ("GND", "b5", "L-5"), ("GND", "b22", "L-22"))
    return plan_of(what, board or load_board("five-hole-30"), {"J1": "a3 a5", "J2": "a20 a22"}, wires=wires)


# --- current ---------------------------------------------------------------------------------------------------------


def test_strips_that_carry_too_much_are_errors() -> None:
    """2.392 A for 10 K beside a hole (1.0 mm x 35 um, IPC-2221): 2.5 A is more, whichever strip they run through."""
    errors = found(heater(2.5), "strip-current")

    assert [(finding.severity, finding.where[0]) for finding in errors] == [("error", "V"), ("error", "GND")]
    assert errors[0].figures["limit_A"] == pytest.approx(2.392, abs=1e-3)
    assert errors[0].figures["current_A"] == pytest.approx(2.5)
    assert errors[0].figures["rise_K"] == pytest.approx(10 * (2.5 / 2.392) ** (1 / 0.44), rel=1e-3)
    assert "L+" in errors[0].where
    assert "wire along the strip" in errors[0].mend


@pytest.mark.parametrize(
    ("amps", "codes"), [(1.9, []), (2.0, ["strip-current-near"] * 2), (2.39, ["strip-current-near"] * 2)]
)
def test_near_is_told_from_four_fifths_on(amps: float, codes: list[str]) -> None:
    plan = heater(amps)
    assert [f.code for f in find(plan) if f.code.startswith("strip")] == codes


def test_a_board_that_may_get_warmer_or_has_more_copper_carries_more() -> None:
    board = load_board("five-hole-30")
    warmer = replace(board, copper=replace(board.copper, rise_k=20.0))
    thicker = replace(board, copper=replace(board.copper, thickness_um=70.0))

    assert found(heater(2.5, board=warmer), "strip-current") == []
    assert found(heater(2.5, board=thicker), "strip-current") == []
    assert found(heater(3.3, board=warmer), "strip-current") != [], "3.244 A for 20 K"


def test_wires_that_carry_too_much() -> None:
    """AWG 24 in still air, 20 K: about 3.5 A."""
    limit = laws.wire_limit_a(24, 20.0)
    assert found(heater(limit * 0.79), "jumper-current", "jumper-current-near") == []
    assert {f.code for f in found(heater(limit * 0.9), "jumper-current-near")} == {"jumper-current-near"}
    over = found(heater(limit * 1.01), "jumper-current")
    assert [f.where[:3] for f in over] == [("V", "jumper 1", "jumper 2"), ("GND", "jumper 3", "jumper 4")]
    assert "AWG 22" in over[0].mend


def test_the_drop_along_rails_and_wires() -> None:
    """Worked by hand at 50 C (40 C air and 10 K): 1 A over a-b, a wire of 3 steps, 17 steps of rail, a wire, b-a.

    1.77 squares x 0.4926 mohm x 1.1179 = 0.9747 mohm a step, 19 of them; AWG 24: 94.14 mohm/m x 2 x 7.62 mm.
    """
    drops = found(heater(1.0), "voltage-drop")
    rail = load_board("five-hole-30").holes
    wire = abs(rail["b3"].x_mm - rail["L+3"].x_mm) / 1000
    other = abs(rail["b5"].x_mm - rail["L-5"].x_mm) / 1000

    assert [f.where for f in drops] == [("V", "J1.1", "J2.1"), ("GND", "J1.2", "J2.2")]
    assert drops[0].figures["drop_V"] == pytest.approx(19 * 0.9747e-3 + 2 * wire * 0.09414, rel=2e-3)
    assert drops[1].figures["drop_V"] == pytest.approx(19 * 0.9747e-3 + 2 * other * 0.09414, rel=2e-3)
    assert {f.severity for f in drops} == {"note"}


def test_a_large_drop_is_a_warning() -> None:
    """2 A lose some 40 mV each way: more than a twentieth of 0.5 V, and less of 12 V."""
    plan = heater(2.0)
    nets = tuple(replace(net, volts=0.5) if net.name == "V" else net for net in plan.circuit.nets)
    weak = replace(plan, circuit=replace(plan.circuit, nets=nets))

    assert {f.severity for f in found(weak, "voltage-drop")} == {"warning"}
    assert {f.severity for f in found(plan, "voltage-drop")} == {"note"}


def test_how_currents_are_known_is_always_said() -> None:
    (basis,) = found(heater(1.0), "current-basis")
    assert "declared for V and GND" in basis.message
    what = circuit("J1 terminal-2; U1 to-92", "V role=supply volts=5: J1.1 U1.1; GND role=ground: J1.2 U1.3")
    (basis,) = found(plan_of(what, load_board("five-hole-30"), {"J1": "a3 a5", "U1": "b3 b4 b5"}), "current-basis")
    assert basis.where == ("V", "GND")
    assert basis.mend == "say amps: of V and GND"


@settings(max_examples=20, deadline=None)
@given(st.floats(0.05, 6.0), st.floats(1.01, 3.0))
def test_more_current_never_gives_milder_findings(amps: float, factor: float) -> None:
    def gravity(plan: Plan) -> int:
        return sum({"error": 100, "warning": 1, "note": 0}[f.severity] for f in find(plan))

    assert gravity(heater(round(amps * factor, 4))) >= gravity(heater(round(amps, 4)))


@settings(max_examples=20, deadline=None)
@given(st.floats(1.2, 2.0), st.floats(0.05, 0.5))
def test_wider_copper_never_gives_graver_findings(width: float, more: float) -> None:
    board = load_board("five-hole-30")

    def over(width_mm: float) -> float:
        wide = replace(board, copper=replace(board.copper, width_mm=width_mm, gap_mm=0.0))
        return sum(f.figures["rise_K"] for f in find(heater(2.0, board=wide)) if f.code.startswith("strip"))

    assert over(width + more) <= over(width)


# --- spacing ---------------------------------------------------------------------------------------------------------


def side_by_side(volts: str, apart: int = 1) -> Plan:
    """Two nets on strips ``apart`` rows from each other."""
    what = circuit("J1 pad-2; R1 axial-0207 100k", f"V volts={volts}: J1.1 R1.1; GND role=ground: J1.2 R1.2")
    far = 5 + apart
    return plan_of(what, load_board("five-hole-30"), {"J1": f"a5 a{far}", "R1": f"b5 b{far}:standing"})


@pytest.mark.parametrize(
    ("volts", "needed"), [("30", None), ("30 ac=true", 0.6), ("31", 0.6), ("60", 0.6), ("110", 0.8)]
)
def test_gaps_between_neighbouring_strips(volts: str, needed: float | None) -> None:
    """The gap of 0.54 mm is enough to 30 V (table 6-1: B2 0.1, A6 0.25), then 0.6 is wanted; 30 V AC is 42.4 V peak."""
    warnings = found(side_by_side(volts), "spacing")

    assert [f.figures["needed_mm"] for f in warnings] == ([] if needed is None else [needed])
    for finding in warnings:
        assert finding.severity == "warning"
        assert finding.where[:2] == ("GND", "V")
        assert finding.figures["gap_mm"] == 0.54


def test_a_free_strip_between_is_room_enough() -> None:
    assert found(side_by_side("48", apart=2), "spacing") == []
    assert found(side_by_side("48", apart=1), "spacing") != []


@pytest.mark.parametrize(
    ("cut", "volts", "gap_mm"),
    [
        # 0.5 mm of knife, too little from 31 V on (table 6-1: 0.6); a cutter 0.5 wider than the strip leaves 1.5 mm,
        # enough for all that is not refused.
        (Cut(between=("C6", "C7")), 30, None),
        (Cut(between=("C6", "C7")), 48, 0.5),
        (Cut(at="C6"), 48, None),
        (Cut(at="C6"), 120, None),
    ],
)
def test_gaps_across_cuts(cut: Cut, volts: float, gap_mm: float | None) -> None:
    what = circuit(
        "J1 pad-2; R1 axial-0207 100k", f"V role=supply volts={volts}: J1.1 R1.1; GND role=ground: J1.2 R1.2"
    )
    plan = plan_of(what, load_board("long-strip-24x37"), {"J1": "C1 C12", "R1": "C4 C8"}, cuts=(cut,))
    warnings = found(plan, "spacing")

    assert [f.figures["gap_mm"] for f in warnings] == ([] if gap_mm is None else [gap_mm])


def test_a_gap_wide_enough_is_not_told() -> None:
    board = load_board("five-hole-30")
    plan = side_by_side("48")
    wide = replace(plan, board=replace(board, copper=replace(board.copper, width_mm=1.8, gap_mm=0.74)))
    assert found(wide, "spacing") == []


# --- heat ------------------------------------------------------------------------------------------------------------


def lamp(package: str, ohms: str, volts: float) -> Plan:
    what = circuit(
        f"J1 terminal-2; R1 {package} {ohms}", f"V role=supply volts={volts}: J1.1 R1.1; GND role=ground: J1.2 R1.2"
    )
    return plan_of(what, load_board("five-hole-30"), {"J1": "a3 a5", "R1": "b3 b5:standing"})


@pytest.mark.parametrize(
    ("package", "ohms", "volts", "code"),
    [
        # P = U^2 / R against 1/8, 1/4 W (facts of the lead-form table). 220 ohm bears 0.25 W at 7.42 V, 10k at 50.0 V.
        ("axial-0207", "220", 6.6, []),
        ("axial-0207", "220", 7.4, ["resistor-power-near"]),
        ("axial-0207", "220", 7.43, ["resistor-power"]),
        ("axial-0207", "10k", 49.9, ["resistor-power-near"]),
        ("axial-0207", "10k", 50.1, ["resistor-power"]),
        ("axial-0204", "220", 5.25, ["resistor-power"]),  # 0.1253 W
        ("axial-0204", "220", 4.6, []),
    ],
)
def test_resistors_against_their_class(package: str, ohms: str, volts: float, code: list[str]) -> None:
    assert [f.code for f in find(lamp(package, ohms, volts)) if f.code.startswith("resistor")] == code


def test_a_larger_resistor_is_named() -> None:
    (hot,) = found(lamp("axial-0207", "100", 6.0), "resistor-power")
    assert hot.figures["power_W"] == pytest.approx(0.36)
    assert "axial-0309" in hot.mend, "0.36 W is below four fifths of 0.5 W"


def regulated(package: str, value: str, volts: float, amps: float | None) -> Plan:
    into, out = ("1", "3") if package == "to-220" else ("3", "1")
    current = "" if amps is None else f" amps={amps}"
    what = circuit(
        f"J1 terminal-2; U1 {package} {value}; J2 terminal-2",
        f"VIN role=supply volts={volts}: J1.1 U1.{into}; V5 role=supply volts=5{current}: U1.{out} J2.1;"
        "GND role=ground: J1.2 U1.2 J2.2",
    )
    rows = "c10 c11 c12" if package == "to-220" else "c12 c11 c10"
    wires = (("VIN", "b3", "b10"), ("GND", "b5", "b11"), ("V5", "b12", "b20"), ("GND", "d11", "b22"))
    return plan_of(what, load_board("five-hole-30"), {"J1": "a3 a5", "U1": rows, "J2": "a20 a22"}, wires=wires)


def test_a_regulator_worked_by_hand() -> None:
    """12 V to 5 V at 0.3 A: 7 x 0.3 + 12 x 0.008 = 2.196 W; TO-220 bears (125 - 40) / 65 = 1.308 W in bare air."""
    (hot,) = found(regulated("to-220", "7805", 12, 0.3), "regulator-heat")
    assert hot.severity == "warning", "a heat sink, which the plan does not know of, would do"
    assert hot.figures["power_W"] == pytest.approx(2.196)
    assert hot.figures["limit_W"] == pytest.approx(1.308, abs=1e-3)
    assert hot.figures["junction_C"] == pytest.approx(40 + 2.196 * 65)
    assert hot.figures["most_A"] == pytest.approx((1.3077 - 0.096) / 7, abs=1e-4)


@pytest.mark.parametrize(
    ("package", "value", "volts", "amps", "expected"),
    [
        ("to-220", "7805", 12, 0.13, []),  # 1.006 W
        ("to-220", "7805", 12, 0.16, [("warning", "regulator-heat-near")]),  # 1.216 W
        ("to-220", "7805", 12, 0.18, [("warning", "regulator-heat")]),  # 1.356 W
        ("to-220", "7805", 24, 1.0, [("error", "regulator-heat")]),  # 19.2 W: more than (125 - 40) / 5 of any heat sink
        ("to-92", "78L05", 12, 0.02, []),  # 0.236 W of 0.425
        ("to-92", "78L05", 12, 0.08, [("error", "regulator-heat")]),  # 0.656 W, and nothing to bolt to
        ("to-220", "7805", 6.5, 0.1, [("warning", "regulator-dropout")]),  # 2 V more than 5 are wanted
        ("to-220", "7805", 7.0, 0.1, []),
        ("to-220", "7805", 12, None, [("note", "regulator-heat-open")]),
    ],
)
def test_regulators(
    package: str, value: str, volts: float, amps: float | None, expected: list[tuple[str, str]]
) -> None:
    plan = regulated(package, value, volts, amps)
    assert [(f.severity, f.code) for f in find(plan) if f.code.startswith("regulator")] == expected


@pytest.mark.parametrize(
    ("value", "out", "amps", "watts"),
    [
        ("LM317T", " volts=12", " amps=0.5", 4.5),  # (21 - 12) V x 0.5 A
        ("LM317T", " volts=12", " amps=0.1", None),  # 0.9 W of 1.31
        ("LM317T", " volts=12", "", None),  # nobody says what it gives
        ("LM317T", "", " amps=0.5", None),  # nor at what voltage
        ("XLM317", " volts=12", " amps=0.5", None),  # another part
    ],
)
def test_an_adjustable_regulator_is_told_by_its_nets(value: str, out: str, amps: str, watts: float | None) -> None:
    """Pins of TO-220: ADJ, OUT, IN (LM317 datasheet)."""
    what = circuit(
        f"J1 terminal-2; U1 to-220 {value}; J2 terminal-2; R1 axial-0207 240; R2 axial-0207 2k",
        f"VIN role=supply volts=21: J1.1 U1.3; VOUT role=supply{out}{amps}: U1.2 J2.1 R1.1; ADJ: U1.1 R1.2 R2.1;"
        "GND role=ground: J1.2 R2.2 J2.2",
    )
    wires = (("VIN", "b3", "b12"), ("VOUT", "b11", "b20"), ("ADJ", "b10", "f1"), ("GND", "b5", "b22"))
    places = {"J1": "a3 a5", "U1": "c10 c11 c12", "J2": "a20 a22", "R1": "d11 g1", "R2": "h1 d22"}
    plan = plan_of(what, load_board("five-hole-30"), places, wires=wires)
    hot = [f.figures["power_W"] for f in find(plan) if f.code.startswith("regulator-heat")]
    assert hot == ([] if watts is None else [pytest.approx(watts)])


@pytest.mark.parametrize(
    ("ohms", "expected"),
    [("330", []), ("150", [("warning", "diode-current")]), ("68", [("error", "diode-current")])],
)
def test_lamps_against_20_milliamperes(ohms: str, expected: list[tuple[str, str]]) -> None:
    """(5 - 1.8) V over 331, 151 and 69 ohm: 9.7, 21.2 and 46.4 mA; 20 mA is common practice, no source."""
    what = circuit(
        f"J1 terminal-2; R1 axial-0207 {ohms}; LED1 led-5 red",
        "V role=supply volts=5: J1.1 R1.1; A: R1.2 LED1.A; GND role=ground: LED1.K J1.2",
    )
    plan = plan_of(what, load_board("five-hole-30"), {"J1": "a3 a7", "R1": "b3 b5:standing", "LED1": "c5 c7"})
    assert [(f.severity, f.code) for f in find(plan) if f.code == "diode-current"] == expected


# --- words, and what a file records ----------------------------------------------------------------------------------

SOME = (Finding("b", "note", "two"), Finding("a", "error", "one", mend="less"))


def test_findings_in_words() -> None:
    assert [f.code for f in in_order(SOME)] == ["a", "b"]
    assert line(SOME[1]) == "error: one (less)"
    assert [f.code for f in over(SOME)] == ["a"]
    assert gist(SOME) == "1 error, 1 note"
    assert gist(()) == "none"
    assert listed(range(12), 3) == "0, 1, 2 and 9 more"


def test_a_file_that_records_other_findings_is_warned_of() -> None:
    plan = heater(1.0)
    now = find(plan)

    assert recorded_otherwise(plan, now) == ()
    assert recorded_otherwise(replace(plan, findings=now), now) == ()
    (warning,) = recorded_otherwise(replace(plan, findings=SOME), now)
    assert isinstance(warning, Diagnostic)
    assert (warning.code, warning.severity) == ("findings-differ", "warning")


def test_every_finding_has_its_source_and_figures_with_units() -> None:
    plans = [heater(5.0), side_by_side("48"), lamp("axial-0207", "100", 6.0), regulated("to-220", "7805", 12, 0.3)]
    everything = [finding for plan in plans for finding in find(plan)]

    assert {f.code for f in everything} >= {"strip-current", "jumper-current", "spacing", "regulator-heat"}
    for finding in everything:
        assert finding.source, finding
        assert finding.mend or finding.severity == "note", finding
        for name in finding.figures:
            assert name.rpartition("_")[2] in {"A", "V", "W", "K", "C", "mm", "mm2", "nets", "places"}, name


def test_same_plan_same_findings() -> None:
    assert find(heater(3.0)) == find(heater(3.0))


def test_circuits_without_voltage_or_current_are_looked_at_too() -> None:
    what: Circuit = circuit("R1 axial-0207 1k; R2 axial-0207 1k", "A: R1.1 R2.1; B: R1.2 R2.2")
    plan = plan_of(what, load_board("five-hole-30"), {"R1": "a1 a5", "R2": "b1 b5"})
    assert [f.code for f in find(plan)] == ["current-basis"]
