"""What is printed on parts: the colour bands of resistors and the three-digit code of capacitors.

Colours: IEC 60062, from a public chart. The tolerances of orange, yellow and grey differ between charts and are not
used. Three-digit code: from memory; two figures and the number of noughts, in pF, a last digit 9 standing for x 0.1.
"""

from __future__ import annotations

from fractions import Fraction

from placer.guide.step import Band

# The colours on a screen are near what is painted on parts: common practice, no source.
_COLOURS = {
    "black": (20, 20, 20),
    "brown": (121, 68, 33),
    "red": (204, 32, 32),
    "orange": (240, 130, 20),
    "yellow": (245, 215, 40),
    "green": (30, 140, 60),
    "blue": (35, 80, 180),
    "violet": (130, 60, 160),
    "grey": (135, 135, 135),
    "white": (250, 250, 250),
    "gold": (190, 150, 50),
    "silver": (190, 195, 200),
    "pink": (240, 150, 180),
}
_DIGITS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
_SMALL = {-1: "gold", -2: "silver", -3: "pink"}
_TOLERANCES = {
    Fraction(1): "brown",
    Fraction(2): "red",
    Fraction(5): "gold",
    Fraction(10): "silver",
    Fraction(1, 2): "green",
    Fraction(1, 4): "blue",
    Fraction(1, 10): "violet",
}


def bands(ohm: Fraction, figures: int, percent: Fraction) -> tuple[Band, ...]:
    """The bands of a resistor: ``figures`` digits (2 or 3), multiplier, tolerance; () where the code has none.

    >>> [band.name for band in bands(Fraction(4700), 2, Fraction(5))]
    ['yellow', 'violet', 'red', 'gold']
    """
    if percent not in _TOLERANCES:
        return ()
    if ohm == 0:  # a wire in a resistor's coat: one black band; common practice, no source
        return (_band("black"),)
    power = 0
    number = ohm
    while number >= 10**figures:
        number /= 10
        power += 1
    while number < 10 ** (figures - 1):
        number *= 10
        power -= 1
    if number.denominator != 1 or not -3 <= power <= 9:
        return ()
    multiplier = _DIGITS[power] if power >= 0 else _SMALL[power]
    return tuple(_band(name) for name in (*(_DIGITS[int(d)] for d in str(number)), multiplier, _TOLERANCES[percent]))


def _band(name: str) -> Band:
    return Band(name, _COLOURS[name])


def both_bands(ohm: Fraction, percent: Fraction | None) -> tuple[tuple[Band, ...], tuple[Band, ...]]:
    """The bands with two and with three figures; where the tolerance is not known, of 5 % and of 1 %."""
    return bands(ohm, 2, percent or Fraction(5)), bands(ohm, 3, percent or Fraction(1))


def capacitor_code(farad: Fraction) -> str:
    """The three-digit code of a capacitance, "" where there is none.

    >>> capacitor_code(Fraction(1, 10**7)), capacitor_code(Fraction(47, 10**13))
    ('104', '479')
    """
    picofarad = farad * 10**12
    if picofarad < 1:
        return ""
    figures, noughts = picofarad, 0
    while figures >= 100:
        figures /= 10
        noughts += 1
    if figures < 10:
        figures, noughts = figures * 10, 9
    if figures.denominator != 1 or (noughts > 7 and noughts != 9):
        return ""
    return f"{figures.numerator}{noughts}"


def spelled(colours: tuple[Band, ...]) -> str:
    """The names of the bands in order."""
    return " ".join(band.name for band in colours)
