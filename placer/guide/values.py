"""What the value of a part says: ohms and farads, exact, read as the trade writes them.

``4.7k``, ``4k7``, ``4,7 kohm``, ``330``, ``R47``, ``10k 1 %``, ``2.2u``, ``2u2``, ``100 nF``: a number with a letter
behind it or in the place of the decimal point (RKM code, IEC 60062; from memory), then what else is known. Anything
else has no number here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

_OHM_LETTERS = {"": 0, "R": 0, "r": 0, "k": 3, "K": 3, "M": 6, "G": 9, "m": -3, "L": -3}
_FARAD_LETTERS = {"p": -12, "n": -9, "u": -6, "\u00b5": -6, "\u03bc": -6, "m": -3}
_NUMBER = re.compile(r"(\d*)(?:[.,](\d+))?(?: ?([a-zA-Z\u00b5\u03bc])(\d*))?")
_OHM_WORDS = re.compile(r" ?(?:ohms?|\u03a9|\u2126)(?![a-zA-Z])", re.IGNORECASE)
_REST = re.compile(r"(?:[ ,;/].*)?", re.DOTALL)
_PERCENT = re.compile(r"(\d+(?:[.,]\d+)?) ?%")
_VARIES = re.compile(r"\b(?:NTC|PTC|LDR|VDR)\b", re.IGNORECASE)  # no fixed resistance
_WATT = re.compile(r"(\d+(?:[.,]\d+)?) ?W\b")


@dataclass(frozen=True)
class Quantity:
    """A value in ohm or farad. ``percent``: its tolerance, ``watts``: its power, where the text says so."""

    amount: Fraction
    percent: Fraction | None = None
    watts: Fraction | None = None


def ohms(text: str) -> Quantity | None:
    """The resistance that a value states, or None.

    >>> ohms("4k7").amount, ohms("330 ohm 1 %").percent, ohms("NTC 10k")
    (Fraction(4700, 1), Fraction(1, 1), None)
    """
    return _quantity(_OHM_WORDS.sub("", text.strip(), count=1), _OHM_LETTERS)


def farads(text: str) -> Quantity | None:
    """The capacitance that a value states, or None; a number without a letter states none (it may be a code).

    >>> farads("100n").amount == Fraction(1, 10**7), farads("104")
    (True, None)
    """
    return _quantity(text.strip(), _FARAD_LETTERS, unit="F")


def _quantity(text: str, letters: dict[str, int], unit: str = "") -> Quantity | None:
    found = _NUMBER.match(text)
    if found is None:
        return None
    whole, part, letter, behind = (group or "" for group in found.groups())
    rest = text[found.end() :]
    if unit and rest.startswith(unit):
        rest = rest[len(unit) :]
    if letter not in letters or (behind and (part or not letter)) or not (whole or behind):
        return None
    if not _REST.fullmatch(rest) or _VARIES.search(rest):
        return None
    amount = Fraction(f"{whole or 0}.{part or behind or 0}") * Fraction(10) ** letters[letter]
    return Quantity(amount, _figure(_PERCENT, rest), _figure(_WATT, rest))


def _figure(pattern: re.Pattern[str], text: str) -> Fraction | None:
    found = pattern.search(text)
    return Fraction(found.group(1).replace(",", ".")) if found else None


def ohm_text(amount: Fraction | float) -> str:
    """A resistance in three figures at most.

    >>> ohm_text(330), ohm_text(4700), ohm_text(0.47), ohm_text(1234567)
    ('330 ohm', '4.7 kohm', '0.47 ohm', '1.23 Mohm')
    """
    number = float(amount)
    for size, word in ((1e6, "Mohm"), (1e3, "kohm")):
        if number >= 0.9995 * size:
            return f"{_three(number / size)} {word}"
    return f"{_three(number)} ohm"


def _three(number: float) -> str:
    text = f"{number:.3g}"
    return f"{float(text):.0f}" if "e" in text else text
