"""What the values and packages of parts say of their electrical kind: ohms, forward drops, regulators."""

from __future__ import annotations

import re
from dataclasses import dataclass

from placer.circuit.model import Circuit, Part
from placer.packages.model import Package, TwoLead

DROP_SOURCE = "nominal forward drops: silicon 0.7 V, Schottky 0.3 V, LEDs by colour 1.8 to 3.1 V (common practice)"
SILICON_V, SCHOTTKY_V, LED_V = 0.7, 0.3, 2.0
LED_DROPS = (
    (re.compile(r"\b(?:infra-?red|ir)\b", re.I), 1.3),
    (re.compile(r"\b(?:white|blue|uv|violet)\b", re.I), 3.1),
    (re.compile(r"\b(?:green|yellow|amber|orange)\b", re.I), 2.0),
    (re.compile(r"\bred\b", re.I), 1.8),
)
SCHOTTKY = re.compile(r"schottky|\b1N58\d\d|\bBAT\d|\bSB\d", re.I)
ZENER = re.compile(r"\bzener\b|\bBZX|\b1N47\d\d|\b1N52\d\d", re.I)
VOLTS = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?)\s*V\b|(?<![\w.])(\d+)V(\d+)\b", re.I)

_SCALE = {"": 1.0, "R": 1.0, "r": 1.0, "L": 1e-3, "m": 1e-3, "k": 1e3, "K": 1e3, "M": 1e6, "G": 1e9, "MEG": 1e6}
# IEC 60062 (from memory): a letter for the decimal point (4k7, R47), or after the number (4.7k); ohm may follow.
_OHMS = re.compile(r"(\d*)(?:([.,])(\d+))?\s*(MEG|[RrLmkKMG]?)(\d*)\s*(?:ohms?|Ω|Ohms?)?(?![\w.])")


def ohms_of(value: str) -> float | None:
    """Return the resistance that a value says, None where it says none.

    >>> [ohms_of(text) for text in ("4k7", "4.7k", "R47", "330", "10 ohm", "1M", "NTC 10k", "100n")]
    [4700.0, 4700.0, 0.47, 330.0, 10.0, 1000000.0, None, None]
    """
    match = _OHMS.match(value.strip())
    if match is None:
        return None
    whole, point, fraction, letter, after = match.groups()
    if not (whole or after or fraction) or (after and (point or not letter)) or not (whole or letter in "RrL"):
        return None
    number = float(f"{whole or 0}.{(fraction or after) or 0}")
    return number * _SCALE[letter]


def volts_of(value: str) -> float | None:
    """Return the voltage that a value names (``zener 5.6V``, ``5V6``), None where it names none."""
    match = VOLTS.search(value)
    if match is None:
        return None
    return float(match[1]) if match[1] else float(f"{match[2]}.{match[3]}")


@dataclass(frozen=True)
class Regulator:
    """A three-terminal regulator: what it puts out against its ground pin (V), above or below."""

    volts: float


# 78L05, LM7805, 7805CT, 79M12: the two last digits are the output voltage.
_FIXED = re.compile(r"(?<![\dA-Z])(?:[A-Z]{1,3})?(78|79)(?:L|M|S|H|HC)?(05|06|08|09|10|12|15|18|20|24)(?!\d)", re.I)


def regulator_of(part: Part, package: Package) -> Regulator | None:
    """Return what a part is as a fixed three-terminal regulator, None where it is none."""
    match = _FIXED.search(part.value) if len(package.pins) == 3 else None
    return None if match is None else Regulator(float(match[2]) * (1 if match[1] == "78" else -1))


# LM317, LM317T, LM337, LM350: set by two resistors, so that only the nets tell what they put out.
_ADJUSTABLE = re.compile(r"(?<![\dA-Z])LM(317|337|338|350)(?!\d)", re.I)


def is_adjustable(part: Part, package: Package) -> bool:
    """True for a three-terminal regulator that is set by resistors."""
    return len(package.pins) == 3 and _ADJUSTABLE.search(part.value) is not None


def is_capacitor(part: Part, package: Package) -> bool:
    """True for a part that lets no direct current through."""
    return package.shape in ("can", "disc", "box", "crystal") or (
        bool(re.match(r"[CY]\d", part.ref)) and len(package.pins) == 2
    )


def is_connector(part: Part, package: Package) -> bool:
    """True for a part by which current comes in from outside or goes out."""
    return package.shape in ("terminal", "header", "flying") or bool(re.match(r"(?:J|P|X|CN|CON|BT|TB)\d", part.ref))


def resistance_of(part: Part, package: Package) -> float | None:
    """Return the ohms of a resistor with two leads, None for anything else."""
    if not re.match(r"R\d", part.ref.rsplit(".", 1)[-1]) or len(package.pins) != 2:
        return None
    if not isinstance(package.form, TwoLead):
        return None
    ohms = ohms_of(part.value)
    return ohms if ohms is not None and ohms > 0 else None


def drop_of(part: Part, package: Package) -> float | None:
    """Return the nominal forward drop of a diode or LED (pin 1 the anode), None for anything else."""
    if package.shape == "led":
        return next((drop for word, drop in LED_DROPS if word.search(part.value)), LED_V)
    if package.shape == "diode" and len(package.pins) == 2:
        return SCHOTTKY_V if SCHOTTKY.search(part.value) else SILICON_V
    return None


def zener_of(part: Part, package: Package) -> float | None:
    """Return the voltage at which a Zener diode conducts backwards; None for other parts and unknown voltages."""
    if package.shape != "diode" or not ZENER.search(part.value):
        return None
    return volts_of(part.value)


def is_blocked_backwards(part: Part, package: Package) -> bool:
    """False for a Zener diode whose voltage is not known: nothing can be said of it."""
    return not ZENER.search(part.value) or zener_of(part, package) is not None


def package_of(circuit: Circuit, part: Part) -> Package:
    """The package of a part."""
    return circuit.packages[part.package]
