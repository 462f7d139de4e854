"""The laws against published figures and arithmetic. Each value names where it comes from."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from placer.limits import laws

STANDARD = "IPC-2221 formula for outer conductors, k = 0.048 (reprints), worked by hand in square mils"


@pytest.mark.parametrize(
    ("width_mm", "thickness_um", "rise", "amps"),
    [
        # I = 0.048 x dT^0.44 x A^0.725, A in square mils: 2.0 x 0.035 mm2 = 108.500 square mils, and so on.
        (2.0, 35, 10, 3.953),
        (2.0, 35, 20, 5.363),
        (1.5, 35, 10, 3.209),
        (1.5, 35, 20, 4.353),
        (1.0, 35, 10, 2.392),
        (1.0, 35, 20, 3.244),
        (0.8, 35, 10, 2.034),
        (0.8, 35, 20, 2.760),
        (0.5, 35, 10, 1.447),
        (0.5, 35, 20, 1.963),
        (2.0, 70, 10, 6.534),
        (1.04, 35, 10, 2.461),  # what is left of a strip of 2.04 beside a hole of 1.0
    ],
)
def test_current_of_outer_copper(width_mm: float, thickness_um: float, rise: float, amps: float) -> None:
    assert laws.current_limit_a(width_mm * thickness_um / 1000, rise) == pytest.approx(amps, abs=6e-4), STANDARD


@pytest.mark.parametrize(("amps", "width_mm"), [(0.5, 0.116), (1.0, 0.300), (2.0, 0.781), (3.0, 1.367), (5.0, 2.766)])
def test_width_that_a_current_needs_for_10_k_at_35_um(amps: float, width_mm: float) -> None:
    """The same formula turned round, by hand: A = (I / (k dT^0.44))^(1/0.725)."""
    assert laws.rise_k(amps, width_mm * 0.035) == pytest.approx(10.0, rel=0.01)


@pytest.mark.parametrize(
    ("width_mm", "hole_mm", "left_mm"), [(2.0, 1.0, 1.0), (2.04, 1.0, 1.04), (2.0, 1.3, 0.7), (1.0, 1.3, 0.0)]
)
def test_copper_beside_a_hole(width_mm: float, hole_mm: float, left_mm: float) -> None:
    assert laws.narrow_mm(width_mm, hole_mm) == pytest.approx(left_mm)


@pytest.mark.parametrize(
    ("length_mm", "width_mm", "celsius", "milliohm"),
    [
        # 0.017241 ohm mm2/m at 20 C, +0.393 %/K (IEC 60028, from memory): R = rho l / (w t), by hand.
        (1.0, 1.0, 20, 0.4926),  # one square of 35 um
        (50.0, 2.0, 20, 12.315),
        (50.0, 2.0, 40, 13.283),
        (2.54, 2.0, 20, 0.626),
        (10.16, 2.0, 20, 2.502),
        (157.48, 2.0, 20, 38.79),  # a rail of 63 holes as if it had none
        (157.48, 1.0, 20, 77.57),  # the same as narrow everywhere as beside its holes
    ],
)
def test_resistance_of_35_um_copper(length_mm: float, width_mm: float, celsius: float, milliohm: float) -> None:
    assert 1000 * laws.strip_ohm(length_mm, width_mm, 35, celsius) == pytest.approx(milliohm, rel=1e-3)


def test_resistance_from_hole_to_hole_lies_between_whole_and_narrow_copper() -> None:
    """By hand: 1.54 mm of 2.0 and 1.0 mm of 1.0, 1.77 squares of 0.4926 mohm."""
    assert 1000 * laws.pitch_ohm(2.54, 2.0, 1.0, 35) == pytest.approx(0.872, abs=5e-4)
    rail = 62 * laws.pitch_ohm(2.54, 2.0, 1.0, 35)
    assert 0.03879 < rail < 0.07757
    # The true figure: copper as wide as the strip less the hole's chord, integrated over the pitch.
    steps = 20_000
    squares = sum(
        2.54 / steps / (2.0 - 2 * math.sqrt(max(0.0, 0.25 - ((i + 0.5) * 2.54 / steps - 1.27) ** 2)))
        for i in range(steps)
    )
    assert squares * laws.sheet_ohm(35) < laws.pitch_ohm(2.54, 2.0, 1.0, 35) < 1.15 * squares * laws.sheet_ohm(35)


@pytest.mark.parametrize(
    ("awg", "diameter_mm", "area_mm2", "milliohm_a_metre"),
    [
        # d = 0.127 x 92^((36-n)/39) mm (ASTM B258, from memory); resistance from 0.017241 ohm mm2/m, by hand.
        (20, 0.8118, 0.5176, 33.31),
        (22, 0.6438, 0.3255, 52.96),
        (23, 0.5733, None, 66.78),
        (24, 0.5106, 0.2047, 84.21),
        (26, 0.4049, 0.1288, 133.90),
        (28, 0.3211, 0.0810, 212.92),
        (30, 0.2546, 0.0509, 338.55),
    ],
)
def test_wires(awg: int, diameter_mm: float, area_mm2: float | None, milliohm_a_metre: float) -> None:
    assert laws.wire_mm(awg) == pytest.approx(diameter_mm, abs=6e-5)
    assert area_mm2 is None or laws.wire_mm2(awg) == pytest.approx(area_mm2, abs=6e-5)
    assert 1000 * laws.wire_ohm(1000, awg) == pytest.approx(milliohm_a_metre, rel=2e-4)


def test_a_jumper_of_50_mm() -> None:
    assert 1000 * laws.wire_ohm(50, 24) == pytest.approx(4.211, abs=2e-3), "84.21 mohm/m x 0.05 m"


def test_current_of_hook_up_wire_agrees_with_the_trade() -> None:
    """3.5 A for AWG 24 and 2.2 A for AWG 26 in free air stand in many tables (common practice, no source)."""
    assert laws.wire_limit_a(24, laws.WIRE_RISE_K) == pytest.approx(3.5, rel=0.05)
    assert 2.2 < laws.wire_limit_a(26, laws.WIRE_RISE_K) < 3.0
    assert laws.wire_rise_k(laws.wire_limit_a(22, 15.0), 22) == pytest.approx(15.0, rel=1e-3)
    assert laws.gauge_for(3.5) == 24
    assert laws.gauge_for(3.6) == 22
    assert laws.gauge_for(1000.0) is None


def test_a_wire_sheds_heat_as_worked_by_hand() -> None:
    """Churchill and Chu, AWG 24, 10 K over air of 40 C.

    Ra = 9.81/318.15 x 10 x (0.5106e-3)^3 x 0.71 / (1.75e-5)^2 = 0.0952; root of Nu = 0.60 + 0.387 x 0.6757 / 1.2045 =
    0.8171, Nu = 0.6677; q = 0.6677 x 0.0275 x pi x 10 = 0.5768 W/m; R = 84.2 mohm x 1.1179 = 94.1 mohm/m at 50 C.
    """
    assert laws.wire_limit_a(24, 10.0) == pytest.approx(math.sqrt(0.5768 / 0.0941), rel=2e-3)


@pytest.mark.parametrize(
    ("volts", "millimetres"),
    [
        # IPC-2221 table 6-1, the larger of B2 and A6 (reprints that agree).
        (5, 0.13),
        (15, 0.13),
        (16, 0.25),
        (30, 0.25),
        (31, 0.6),
        (50, 0.6),
        (100, 0.6),
        (101, 0.8),
        (150, 0.8),
        (170, 1.25),
        (300, 1.25),
        (500, 2.5),
        (508, 2.54),  # 2.5 + 8 x 0.005 (row above 500 V from memory)
        (-48, 0.6),
    ],
)
def test_spacing(volts: float, millimetres: float) -> None:
    assert laws.spacing_mm(volts) == pytest.approx(millimetres)


def test_a_gap_of_half_a_millimetre_is_enough_up_to_30_volts_only() -> None:
    assert laws.spacing_mm(30.0) <= 0.5 < laws.spacing_mm(30.1)


@pytest.mark.parametrize(("cutter_mm", "gap_mm"), [(2.2, 0.824), (2.5, 1.445), (3.0, 2.200), (2.0, 0.0)])
def test_gap_at_the_edges_of_a_drilled_strip_of_2_04(cutter_mm: float, gap_mm: float) -> None:
    """2 x sqrt((D/2)^2 - (w/2)^2), by hand."""
    assert laws.drilled_gap_mm(2.04, cutter_mm) == pytest.approx(gap_mm, abs=6e-4)


@pytest.mark.parametrize(("celsius", "watts"), [(40, 0.25), (70, 0.25), (85, 0.2059), (100, 0.1618), (125, 0.0882)])
def test_resistors_bear_less_in_hot_air(celsius: float, watts: float) -> None:
    """P70 x (155 - T) / 85 (curve in film resistor datasheets, from memory), by hand."""
    assert laws.resistor_limit_w(0.25, celsius) == pytest.approx(watts, abs=6e-5)
    assert laws.resistor_limit_w(0.25, 155) == laws.resistor_limit_w(0.25, 200) == 0


@pytest.mark.parametrize(("kelvin", "watts"), [(50.0, 1.70), (65.0, 1.308), (200.0, 0.425), (5.0, 17.0)])
def test_packages_in_air_of_40_degrees(kelvin: float, watts: float) -> None:
    """(125 - 40) / Rth: TO-220 50 (L7800 series datasheet) or 65 K/W (KA78xx data); TO-92 from memory."""
    assert laws.package_limit_w(kelvin) == pytest.approx(watts, abs=6e-4)


def test_bounds_of_voltage() -> None:
    """IEC 61140 as quoted in a note of IEC 61347-2-2: 50 V r.m.s., 120 V DC; IEC 62368-1 ES1, from memory: 30, 60."""
    assert (laws.REFUSE_AC, laws.REFUSE_DC, laws.WARN_AC, laws.WARN_DC) == (50, 120, 30, 60)


positive = st.floats(0.01, 50.0)


@given(positive, positive, st.floats(1.01, 5.0))
def test_more_copper_or_more_warmth_takes_more_current(area: float, rise: float, factor: float) -> None:
    assert laws.current_limit_a(area * factor, rise) > laws.current_limit_a(area, rise)
    assert laws.current_limit_a(area, rise * factor) > laws.current_limit_a(area, rise)
    assert laws.rise_k(factor, area) > laws.rise_k(1.0, area)
    assert laws.rise_k(laws.current_limit_a(area, rise), area) == pytest.approx(rise)


@given(st.floats(0, 900), st.floats(0, 900))
def test_spacing_never_shrinks_with_voltage(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert laws.spacing_mm(low) <= laws.spacing_mm(high)


@given(st.integers(10, 30), st.floats(1.0, 60.0))
def test_thicker_wire_and_warmer_wire_takes_more(awg: int, rise: float) -> None:
    assert laws.wire_limit_a(awg, rise) > laws.wire_limit_a(awg + 1, rise)
    assert laws.wire_limit_a(awg, rise + 1) > laws.wire_limit_a(awg, rise)
