"""Values as people write them."""

from decimal import Decimal

import pytest

from placer.circuit.quantities import Value, read_value, spice_value
from placer.circuit.values import spice_number


@pytest.mark.parametrize(
    ("text", "number", "unit"),
    [
        ("4k7", "4700", ""), ("4.7k", "4700", ""), ("4K7", "4700", ""), ("330", "330", ""), ("R47", "0.47", "ohm"),
        ("0R22", "0.22", "ohm"), ("2R2", "2.2", "ohm"), ("47R", "47", "ohm"), ("1M", "1e6", ""), ("1m", "1e-3", ""),
        ("1Meg", "1e6", ""), ("1MEG", "1e6", ""), ("2meg2", "2.2e6", ""), ("10 kohm", "1e4", "ohm"),
        ("10k\u03a9", "1e4", "ohm"), ("100n", "1e-7", ""), ("100nF", "1e-7", "F"), ("4u7", "4.7e-6", ""),
        ("4\u00b57", "4.7e-6", ""), ("4.7\u03bcF", "4.7e-6", "F"), ("1F", "1", "F"), ("22pF", "22e-12", "F"),
        ("10mH", "0.01", "H"), ("5 V", "5", "V"), ("-5V", "-5", "V"), ("16 MHz", "16e6", "Hz"), ("1e3", "1000", ""),
        ("10k 1%", "1e4", ""), ("100u/25V", "1e-4", ""), ("0", "0", ""), (".5", "0.5", ""),
    ],
)  # fmt: skip
def test_what_people_write(text, number, unit):
    value = read_value(text)
    assert value is not None
    assert (value.number, value.unit) == (Decimal(number), unit)


@pytest.mark.parametrize(
    "text", ["", "timer", "1N4148", "2N3904", "NTC 10k", "zener 5.6V", "9..12 V", "k", "1E", "78L05"]
)
def test_what_is_no_value(text):
    assert read_value(text) is None


def test_the_whole_text_may_be_asked_for():
    assert read_value("10k 1%", whole=True) is None
    assert read_value("10k", whole=True) == Value(Decimal("1E+4"))


@pytest.mark.parametrize(
    "text", ["4700", "1e6", "1e-7", "330", "2.5e-16", "123456789", "0.47", "-5", "9.99e14", "1e-3"]
)
def test_a_spice_value_reads_back_as_it_was(text):
    assert spice_number(spice_value(Decimal(text))) == pytest.approx(float(text), rel=1e-12)
