"""Values read and marks told, against published tables.

Colours: the public chart of IEC 60062. Codes of capacitors and the letters of the RKM code: from memory of IEC 60062
and of what is printed on parts.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from placer.circuit.model import Part
from placer.guide.codes import bands, capacitor_code, spelled
from placer.guide.values import farads, ohm_text, ohms
from placer.guide.words import colours, described, marking
from placer.packages.catalogue import lookup

FOUR = {
    # value, tolerance in %: bands
    ("100", "5"): "brown black brown gold",
    ("1k", "5"): "brown black red gold",
    ("4k7", "5"): "yellow violet red gold",
    ("22k", "5"): "red red orange gold",
    ("33", "5"): "orange orange black gold",
    ("1M", "5"): "brown black green gold",
    ("1R0", "5"): "brown black gold gold",
    ("R27", "5"): "red violet silver gold",
    ("5.6M", "10"): "green blue green silver",
    ("82k", "2"): "grey red orange red",
}
FIVE = {
    ("1k", "1"): "brown black black brown brown",
    ("4.7k", "1"): "yellow violet black brown brown",
    ("10k", "1"): "brown black black red brown",
    ("22k", "1"): "red red black red brown",
    ("10", "1"): "brown black black gold brown",
    ("249k", "1"): "red yellow white orange brown",
    ("9.31k", "0.5"): "white orange brown brown green",
}


@pytest.mark.parametrize(("value", "percent"), FOUR)
def test_four_bands(value: str, percent: str) -> None:
    quantity = ohms(value)
    assert quantity is not None
    assert spelled(bands(quantity.amount, 2, Fraction(percent))) == FOUR[value, percent]


@pytest.mark.parametrize(("value", "percent"), FIVE)
def test_five_bands(value: str, percent: str) -> None:
    quantity = ohms(value)
    assert quantity is not None
    assert spelled(bands(quantity.amount, 3, Fraction(percent))) == FIVE[value, percent]


def test_a_value_of_three_figures_has_no_four_bands() -> None:
    resistor = Part("R1", "axial-0207", "249k")
    four, five = colours(resistor, lookup("axial-0207"))
    assert four == ()
    assert spelled(five) == "red yellow white orange brown"


def test_a_known_tolerance_is_used() -> None:
    four, five = colours(Part("R1", "axial-0207", "4k7 1 %"), lookup("axial-0207"))
    assert four[-1].name == five[-1].name == "brown"


@given(st.integers(10, 99), st.integers(-2, 7))
def test_bands_decode_to_the_value(figures: int, power: int) -> None:
    ohm = figures * Fraction(10) ** power
    names = [band.name for band in bands(ohm, 2, Fraction(5))]
    digits = ["black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white"]
    small = {"gold": -1, "silver": -2}
    multiplier = small[names[2]] if names[2] in small else digits.index(names[2])
    assert (10 * digits.index(names[0]) + digits.index(names[1])) * Fraction(10) ** multiplier == ohm


CODES = {
    "10p": "100",
    "22p": "220",
    "100p": "101",
    "1n": "102",
    "2.2n": "222",
    "4n7": "472",
    "10n": "103",
    "22n": "223",
    "100n": "104",
    "0.1u": "104",
    "470n": "474",
    "1u": "105",
    "10u": "106",
    "4p7": "479",
}


@pytest.mark.parametrize("value", CODES)
def test_capacitor_codes(value: str) -> None:
    quantity = farads(value)
    assert quantity is not None
    assert capacitor_code(quantity.amount) == CODES[value]
    assert marking(Part("C1", "disc-5", value), lookup("disc-5")) == CODES[value]


def test_only_small_capacitors_bear_codes() -> None:
    assert marking(Part("C1", "radial-5", "10u"), lookup("radial-5")) == ""
    assert "marked 104" in described(Part("C1", "film-5", "100n"), lookup("film-5"))
    assert "bands" not in described(Part("L1", "axial-0309", "10u"), lookup("axial-0309"))


OHMS = {
    "330": Fraction(330),
    "4.7k": Fraction(4700),
    "4k7": Fraction(4700),
    "4,7 kohm": Fraction(4700),
    "R47": Fraction(47, 100),
    "1R0": Fraction(1),
    "47R": Fraction(47),
    "10M": Fraction(10**7),
    "1.5 k\u03a9": Fraction(1500),
    "470 ohm 0.5 W": Fraction(470),
}


@pytest.mark.parametrize("value", OHMS)
def test_resistances_read(value: str) -> None:
    quantity = ohms(value)
    assert quantity is not None
    assert quantity.amount == OHMS[value]


@pytest.mark.parametrize(
    "value", ["", "NTC 10k", "10k NTC", "16 MHz", "green", "12 V", "2N3904", "k", "1k2k", "100 nF"]
)
def test_what_is_no_resistance_is_none(value: str) -> None:
    assert ohms(value) is None


@pytest.mark.parametrize("value", ["104", "", "12 V", "47", "100 ohm", "4.7.1u"])
def test_what_is_no_capacitance_is_none(value: str) -> None:
    assert farads(value) is None


@given(st.text(max_size=12))
def test_no_text_breaks_the_reading(text: str) -> None:
    for read in (ohms, farads):
        quantity = read(text)
        assert quantity is None or quantity.amount >= 0


@pytest.mark.parametrize(
    ("ohm", "text"),
    [(0.47, "0.47 ohm"), (330, "330 ohm"), (999.9, "1 kohm"), (4700, "4.7 kohm"), (68000, "68 kohm"), (1e7, "10 Mohm")],
)
def test_resistances_in_words(ohm: float, text: str) -> None:
    assert ohm_text(ohm) == text
