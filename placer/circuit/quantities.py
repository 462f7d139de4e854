"""Values of parts as people write them: ``4.7k``, ``4k7``, ``100n``, ``R47``, ``10 kohm``, ``1M``; exact, as decimals.

``4k7`` with its letter in the place of the point: IEC 60062, from memory. ``m`` is a thousandth and ``M`` a million;
``Meg``, as SPICE has it, is a million too. SPICE itself takes ``M`` for a thousandth and ``4k7`` for 4000: its values
are written with :func:`spice_value` and read by its own reader.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

_EXPONENTS = {
    "f": -15, "p": -12, "n": -9, "u": -6, "m": -3, "": 0, "r": 0, "k": 3, "M": 6, "G": 9, "T": 12,
}  # fmt: skip
_SPICE = {-15: "f", -12: "p", -9: "n", -6: "u", -3: "m", 0: "", 3: "k", 6: "Meg", 9: "G", 12: "T"}
_UNITS = {
    "": "", "ohm": "ohm", "ohms": "ohm", "\u03a9": "ohm", "\u2126": "ohm", "\u03c9": "ohm",
    "f": "F", "farad": "F", "h": "H", "henry": "H", "v": "V", "volt": "V", "volts": "V", "a": "A", "hz": "Hz", "w": "W",
}  # fmt: skip
_PREFIX = "[mM][eE][gG]|[fpnu\u00b5\u03bcmkKMGTRrEL]"
# The longer of two that begin alike stands first.
_UNIT = "ohms?|Ohms?|OHMS?|\u03a9|\u2126|[Ff]arad|[Ff]|[Hh]enry|[Hh]z|[Hh]|[Vv]olts?|[Vv]|A|W"
_FIGURE = r"([+-]?[0-9]{1,30}(?:\.[0-9]{0,30})?|[+-]?\.[0-9]{1,30})(?:[eE]([+-]?[0-9]{1,3}))?"
_PLAIN = re.compile(rf"{_FIGURE} ?({_PREFIX})?({_UNIT})?")
_LETTER_POINT = re.compile(rf"([0-9]{{0,30}})({_PREFIX})([0-9]{{1,30}})({_UNIT})?")
# What may follow a value: tolerance, rated voltage and the like.
_TAIL = re.compile(r"(?:[ ,;/].*)?", re.DOTALL)
_NOTHING = re.compile("")


@dataclass(frozen=True)
class Value:
    """A figure and its unit: ``ohm``, ``F``, ``H``, ``V``, ``A``, ``Hz``, ``W``, or "" where none is written."""

    number: Decimal
    unit: str = ""


def read_value(text: str, *, whole: bool = False) -> Value | None:
    """Return the value that a text begins with, None when it begins with no value.

    What follows a blank, a comma or a slash is left out: ``10k 1%``, ``100u/25V``; with ``whole`` nothing may follow.

    >>> read_value("4k7"), read_value("100nF 50V"), read_value("timer")
    (Value(number=Decimal('4.7E+3'), unit=''), Value(number=Decimal('1.00E-7'), unit='F'), None)
    """
    text = text.strip()
    tail = _NOTHING if whole else _TAIL
    match = _LETTER_POINT.match(text)
    if match is not None and match[2] != "E" and tail.fullmatch(text, match.end()):
        figure = Decimal(f"{match[1] or '0'}.{match[3]}")
        return _value(figure, match[2], match[4] or "")
    match = _PLAIN.match(text)
    if match is None or not tail.fullmatch(text, match.end()):
        return None
    return _value(Decimal(match[1]).scaleb(int(match[2] or 0)), match[3] or "", match[4] or "")


def _value(figure: Decimal, prefix: str, unit: str) -> Value | None:
    if prefix in ("E", "L"):  # E alone is no prefix; L is IEC 60062's milliohm, which nothing here is made of
        return None
    plain = "M" if prefix.lower() == "meg" else "u" if prefix in ("\u00b5", "\u03bc") else prefix
    plain = plain.lower() if plain in ("K", "R") else plain
    found = _UNITS[unit.lower()]
    if plain == "r":
        found = found or "ohm"
    return Value(figure.scaleb(_EXPONENTS[plain]), found)


def spice_value(number: Decimal) -> str:
    """Return a figure as every SPICE reads it: ``4.7k``, ``1Meg``, ``100n``, never ``4k7`` or ``1M``.

    >>> [spice_value(Decimal(text)) for text in ("4700", "1e6", "1e-7", "0", "330", "2.5e-16")]
    ['4.7k', '1Meg', '100n', '0', '330', '0.25f']
    """
    if not number:
        return "0"
    exponent = min(12, max(-15, number.adjusted() // 3 * 3))
    figure = number.scaleb(-exponent).normalize()
    text = format(figure, "f")
    return f"{text}{_SPICE[exponent]}"
