"""The laws that limits are reckoned by: copper, gaps, heat. Each with its source; mm, um, A, V, W, K and ohms.

``from memory`` says that the standard's own text was not opened.
"""

from __future__ import annotations

import math

# --- current ---------------------------------------------------------------------------------------------------------

CURRENT_SOURCE = "IPC-2221, conductors on the outside: I = 0.048 x dT^0.44 x A^0.725, A in square mils (reprints)"
K_OUTER = 0.048
RISE_EXPONENT = 0.44
AREA_EXPONENT = 0.725
MIL_MM = 0.0254


def current_limit_a(area_mm2: float, rise_k: float) -> float:
    """Return the current (A) that makes an outer conductor ``rise_k`` warmer than its surroundings (IPC-2221).

    >>> round(current_limit_a(2.0 * 0.035, 10.0), 3)
    3.953
    """
    mils = area_mm2 / MIL_MM**2
    return float(K_OUTER * rise_k**RISE_EXPONENT * mils**AREA_EXPONENT)


def rise_k(current_a: float, area_mm2: float) -> float:
    """Return how much warmer (K) a current makes an outer conductor: the same law, solved for the rise."""
    mils = area_mm2 / MIL_MM**2
    return float((current_a / (K_OUTER * mils**AREA_EXPONENT)) ** (1 / RISE_EXPONENT))


def narrow_mm(width_mm: float, hole_mm: float) -> float:
    """Return how much copper (mm) is left beside a hole of a strip, both sides together; 0 where there is none."""
    return max(0.0, width_mm - hole_mm)


# --- resistance ------------------------------------------------------------------------------------------------------

RESISTANCE_SOURCE = "annealed copper, 1/58 ohm mm2/m at 20 C, +0.393 %/K (IEC 60028, from memory)"
RESISTIVITY = 1.0 / 58.0  # ohm mm2/m at 20 C
PER_KELVIN = 0.00393
AIR_C = 40.0  # the air in a closed box in summer: common practice, no source


def resistivity(celsius: float) -> float:
    """Return the resistivity of annealed copper (ohm mm2/m)."""
    return RESISTIVITY * (1 + PER_KELVIN * (celsius - 20.0))


def sheet_ohm(thickness_um: float, celsius: float = 20.0) -> float:
    """Return the resistance (ohm) of a square of copper of this thickness, whatever its side."""
    return resistivity(celsius) / thickness_um  # ohm mm2/m over um is ohm


def strip_ohm(length_mm: float, width_mm: float, thickness_um: float, celsius: float = 20.0) -> float:
    """Return the resistance (ohm) of plain copper."""
    return sheet_ohm(thickness_um, celsius) * length_mm / width_mm


def pitch_ohm(pitch_mm: float, width_mm: float, hole_mm: float, thickness_um: float, celsius: float = 20.0) -> float:
    """Return at most the resistance (ohm) from one hole of a strip to the next.

    Over the length of a hole the copper counts as wide as beside its middle, so that the true figure, a little less
    even before solder fills the hole, is not exceeded. Without copper beside the hole the strip is taken as whole.
    """
    narrow = narrow_mm(width_mm, hole_mm)
    if narrow <= 0 or hole_mm >= pitch_mm:
        return strip_ohm(pitch_mm, width_mm, thickness_um, celsius)
    return strip_ohm(pitch_mm - hole_mm, width_mm, thickness_um, celsius) + strip_ohm(
        hole_mm, narrow, thickness_um, celsius
    )


WIRE_SOURCE = "wire diameters: ASTM B258, 0.127 x 92^((36-n)/39) mm (from memory)"
JUMPER_AWG = 24  # solid hook-up wire, 0.51 mm: common practice, no source


def wire_mm(awg: int) -> float:
    """Return the diameter (mm) of a wire gauge.

    >>> round(wire_mm(24), 4)
    0.5106
    """
    return float(0.127 * 92 ** ((36 - awg) / 39))


def wire_mm2(awg: int) -> float:
    """Return the cross-section (mm2) of a wire gauge."""
    return math.pi / 4 * wire_mm(awg) ** 2


def wire_ohm(length_mm: float, awg: int, celsius: float = 20.0) -> float:
    """Return the resistance (ohm) of a wire."""
    return resistivity(celsius) * length_mm / 1000 / wire_mm2(awg)


WIRE_RISE_K = (
    20.0  # gives the 3.5 A that tables of hook-up wire name for AWG 24 in free air: common practice, no source
)
WIRE_CURRENT_SOURCE = (
    "a wire in still air, lying: Churchill and Chu 1975 for heat that a horizontal cylinder sheds (from memory); the "
    "law for strips would allow a round wire too much, for it has less surface"
)
AIR_CONDUCTIVITY = 0.0275  # W/(m K), air at 45 C: from memory, as the two below
AIR_VISCOSITY = 1.75e-5  # m2/s
AIR_PRANDTL = 0.71
GRAVITY = 9.81


def wire_limit_a(awg: int, rise: float, air_c: float = AIR_C) -> float:
    """Return the current (A) that makes a bare wire in still air ``rise`` K warmer than the air."""
    metres = wire_mm(awg) / 1000
    film_k = 273.15 + air_c + rise / 2
    rayleigh = GRAVITY / film_k * rise * metres**3 * AIR_PRANDTL / AIR_VISCOSITY**2
    prandtl = (1 + (0.559 / AIR_PRANDTL) ** (9 / 16)) ** (8 / 27)
    nusselt = (0.60 + 0.387 * rayleigh ** (1 / 6) / prandtl) ** 2
    watts_a_metre = nusselt * AIR_CONDUCTIVITY * math.pi * rise
    return math.sqrt(watts_a_metre / wire_ohm(1000.0, awg, air_c + rise))


def wire_rise_k(current_a: float, awg: int, air_c: float = AIR_C) -> float:
    """Return how much warmer (K, at most 1000) than the air a current makes a bare wire: the same law, by halving."""
    low, high = 0.0, 1000.0
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if wire_limit_a(awg, middle, air_c) < current_a else (low, middle)
    return (low + high) / 2


def gauge_for(current_a: float) -> int | None:
    """Return the thinnest even gauge from 30 to 10 that takes a current; None where none does."""
    return next((awg for awg in range(30, 8, -2) if wire_limit_a(awg, WIRE_RISE_K) >= current_a), None)


# --- spacing ---------------------------------------------------------------------------------------------------------

SPACING_SOURCE = "IPC-2221 table 6-1, bare outer copper to 3050 m (B2) and bare leads (A6), the larger (reprints)"
# (up to volts DC or peak, B2 mm, A6 mm)
SPACING = (
    (15.0, 0.1, 0.13),
    (30.0, 0.1, 0.25),
    (50.0, 0.6, 0.4),
    (100.0, 0.6, 0.5),
    (150.0, 0.6, 0.8),
    (170.0, 1.25, 0.8),
    (250.0, 1.25, 0.8),
    (300.0, 1.25, 0.8),
    (500.0, 2.5, 1.5),
)
SPACING_PER_VOLT = (0.005, 0.00305)  # above 500 V; the row from memory


def spacing_mm(volts: float) -> float:
    """Return the least gap (mm) between bare copper for a voltage (DC, or the peak of AC); functional, not for safety.

    >>> spacing_mm(30), spacing_mm(31), spacing_mm(101)
    (0.25, 0.6, 0.8)
    """
    for most, copper, leads in SPACING:
        if abs(volts) <= most:
            return max(copper, leads)
    return max(SPACING[-1][1], SPACING[-1][2]) + (abs(volts) - SPACING[-1][0]) * max(SPACING_PER_VOLT)


KNIFE_MM = 0.5  # two knife cuts, the sliver lifted: common practice, no source
DRILL_OVER_MM = 0.5  # a cutter this much wider than the strip: common practice, no source


def drilled_gap_mm(width_mm: float, cutter_mm: float) -> float:
    """Return the gap (mm) that a round cutter over a hole leaves at the edges of a strip; 0 where it is too small.

    >>> round(drilled_gap_mm(2.04, 2.5), 3)
    1.445
    """
    half = (cutter_mm / 2) ** 2 - (width_mm / 2) ** 2
    return 2 * math.sqrt(half) if half > 0 else 0.0


# --- voltage ---------------------------------------------------------------------------------------------------------

ROOT_2 = math.sqrt(2.0)
WARN_DC, WARN_AC = 60.0, 30.0
WARN_SOURCE = "touchable: 60 V DC, 30 V r.m.s. AC (IEC 62368-1, ES1, from memory)"
REFUSE_DC, REFUSE_AC = 120.0, 50.0
REFUSE_SOURCE = "extra-low voltage: 120 V DC, 50 V r.m.s. AC (IEC 61140, as a note in IEC 61347-2-2 quotes it)"

# --- heat ------------------------------------------------------------------------------------------------------------

RESISTOR_SOURCE = "power class of the body at 70 C, falling to nothing at 155 C (film resistor datasheets, from memory)"
# Power at 70 C by package (W): 1/8, 1/4 and 1/2 W classes of the published lead-form table; 0204 from memory.
RESISTOR_W = {"axial-0204": 0.125, "axial-0207": 0.25, "axial-0309": 0.5, "axial-0414": 1.0}


def resistor_limit_w(rated_w: float, celsius: float) -> float:
    """Return what a resistor may dissipate (W) in air of this temperature.

    >>> round(resistor_limit_w(0.25, 85.0), 4)
    0.2059
    """
    if celsius <= 70.0:
        return rated_w
    return rated_w * max(0.0, (155.0 - celsius) / (155.0 - 70.0))


CASE_KELVIN_PER_WATT = {"to-220": 5.0}  # junction to case: L7800 series datasheet, Nov 2004, table 2
JUNCTION_C = 125.0  # the most that regulator datasheets give (from memory)
REGULATOR_SOURCE = "junction to air without a heat sink: TO-220 65 K/W (KA78xx data), TO-92 200 K/W (from memory)"
KELVIN_PER_WATT = {"to-220": 65.0, "to-92": 200.0}
DROPOUT_V = 2.0  # L7805 parameter table: 2 V at most
QUIESCENT_A = 0.008  # L7805 parameter table: 8 mA at most
DROPOUT_SOURCE = "L7805 parameter table: dropout 2 V, quiescent current 8 mA, at most"


def package_limit_w(kelvin_per_watt: float, air_c: float = AIR_C, junction_c: float = JUNCTION_C) -> float:
    """Return what a package without a heat sink may dissipate (W).

    >>> round(package_limit_w(50.0), 2), round(package_limit_w(65.0), 3)
    (1.7, 1.308)
    """
    return (junction_c - air_c) / kelvin_per_watt


LED_A = 0.020
LED_SOURCE = "20 mA for an indicator LED (common practice, no source)"
DIODE_A = {"do-35": 0.15, "do-41": 1.0}
DIODE_SOURCE = "signal diode in DO-35 150 mA, rectifier in DO-41 1 A (from memory)"
