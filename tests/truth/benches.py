"""What stands on the bench for each simulated demo circuit, what to expect there, and a mistake that must show.

``expected``: (pin, least volts, most volts), worked out by hand from Ohm's law and diode drops, see the comments.
``mistake``: two pins whose wires are exchanged.
"""

from __future__ import annotations

from dataclasses import dataclass

from tests.truth.spice import Bench


@dataclass(frozen=True)
class Case:
    """A circuit on its bench."""

    circuit: str
    bench: Bench
    expected: tuple[tuple[str, float, float], ...]
    mistake: tuple[str, str]
    about: str = ""


def supply(volts: float, plus: str = "J1.1", minus: str = "J1.2") -> tuple[str, str, str]:
    """A supply of so many volts."""
    return f"V {volts}", plus, minus


CASES = (
    # 12 V less one rectifier, less two white LEDs of about 3 V.
    Case(
        "hive-lantern", Bench("J1.2", (supply(12),)), (("D1.2", 11.0, 11.5), ("LED2.1", 2.6, 3.6)), ("LED2.1", "LED2.2")
    ),
    # Probe well below freezing, 45k against R1 and 60k of RV1: 1.5 V would be more than two junctions; the LED lights.
    Case(
        "frost-alarm",
        Bench("J1.2", (supply(5), ("R 45000", "J2.1", "J2.2"))),
        (("Q1.1", 0.5, 1.2),),
        ("Q2.1", "Q2.3"),
        "frost",
    ),
    # Probe at 20 degC, 12.5k against 107k: 0.52 V, no current.
    Case(
        "frost-alarm",
        Bench("J1.2", (supply(5), ("R 12500", "J2.1", "J2.2"))),
        (("J2.1", 0.51, 0.53),),
        ("Q1.2", "RV1.1"),
        "mild",
    ),
    # The direct-current solution of an astable: both transistors saturated.
    Case("varroa-reminder", Bench("J1.2", (supply(5),)), (("Q1.3", 0.0, 0.3), ("Q2.3", 0.0, 0.3)), ("Q2.1", "Q2.2")),
    # Base 1.6 V, emitter a junction lower, collector 9 V - 0.9 mA x 4.7k.
    Case(
        "hum-amplifier",
        Bench("J1.2", (supply(9), ("R 20000", "J2.1", "J2.2"))),
        (("Q1.2", 1.4, 1.65), ("Q1.1", 0.75, 1.0), ("Q1.3", 4.4, 6.0), ("J3.1", -0.01, 0.01)),
        ("R2.1", "R3.2"),
    ),
    # 5.6 V less a junction; the fan draws 0.2 A.
    Case("fan-supply", Bench("J1.2", (supply(12), ("R 25", "J2.1", "J2.2"))), (("J2.1", 4.6, 5.1),), ("Q1.1", "Q1.2")),
    # 14.2 V: green on (collector of Q1 low), red off (base of Q3 shunted).
    Case(
        "solar-charge-indicator",
        Bench("J1.2", (supply(14.2),)),
        (("Q1.3", 0, 0.3), ("Q3.2", 0, 0.3)),
        ("D2.1", "D2.2"),
        "full",
    ),
    # 11 V: green off, red on.
    Case(
        "solar-charge-indicator",
        Bench("J1.2", (supply(11),)),
        (("Q1.2", 0, 0.3), ("Q3.3", 0, 0.3)),
        ("Q3.1", "Q3.3"),
        "low",
    ),
    # Input A high: current from MA to MB through 20 ohms of motor.
    Case(
        "feeder-motor-driver",
        Bench("J1.2", (supply(6), supply(5, "J3.1", "J3.3"), supply(0, "J3.2", "J3.3"), ("R 20", "J2.1", "J2.2"))),
        (("J2.1", 5.3, 6.0), ("J2.2", 0.0, 0.5)),
        ("Q3.1", "Q4.1"),
        "forward",
    ),
    # Both inputs high: the interlock holds both drivers off and no current flows through the motor.
    Case(
        "feeder-motor-driver",
        Bench("J1.2", (supply(6), supply(5, "J3.1", "J3.3"), supply(5, "J3.2", "J3.3"), ("R 20", "J2.1", "J2.2"))),
        (("Q5.2", 0.0, 0.3), ("Q6.2", 0.0, 0.3)),
        ("Q7.2", "Q7.1"),
        "both",
    ),
    # A bridge 2 mV out of balance at 2.5 V: gain 1 + 10 + 200k/(470 + 400), about 241, gives 0.48 V.
    Case(
        "scale-amplifier",
        Bench("J1.2", (supply(5), supply(2.499, "J2.4", "J2.2"), supply(2.501, "J2.3", "J2.2"))),
        (("J3.1", 0.45, 0.52),),
        ("J2.3", "J2.4"),
    ),
    # Nest too cold: NTC at 12k gives 2.7 V, above the set point of about 2.24 V: the mat is on.
    Case(
        "queen-incubator-thermostat",
        Bench("J1.2", (supply(12), ("R 24", "J2.1", "J2.2"), ("R 12000", "J3.1", "J3.2"))),
        (("U2.1", 4.9, 5.1), ("J3.1", 2.6, 2.8), ("J2.2", 0.0, 0.3)),
        ("U1.2", "U1.3"),
        "cold",
    ),
    # Nest warm: NTC at 5.6k gives 1.8 V: the mat is off.
    Case(
        "queen-incubator-thermostat",
        Bench("J1.2", (supply(12), ("R 24", "J2.1", "J2.2"), ("R 5600", "J3.1", "J3.2"))),
        (("J3.1", 1.7, 1.9), ("J2.2", 11.5, 12.0)),
        ("R2.1", "R3.2"),
        "warm",
    ),
    # Silence: every stage at mid-rail, the comparator's minus input above it, the LED dark.
    Case(
        "swarm-listener",
        Bench("J1.2", (supply(9), ("R 20000", "J2.1", "J2.2"))),
        (("U1.8", 4.4, 4.6), ("U1.1", 4.4, 4.6), ("U1.7", 4.4, 4.6), ("U1.14", -0.1, 0.6)),
        ("U1.12", "U1.13"),
    ),
)
