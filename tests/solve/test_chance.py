"""The random numbers of compiled code: spread evenly, one not told by the one before, the same again from one seed."""

from __future__ import annotations

import numpy as np
import pytest

from placer.solve.compiled import chance, compiled, draw, set_chance
from placer.solve.layout import Floats, Ints

COUNT = 70_000
# Of the mean of so many numbers even over 0 to 1 the standard deviation is 1 / sqrt(12 n).
DEVIATION = 1 / (12 * COUNT) ** 0.5


@compiled
def drawn(state: Ints, seed: int, most: int, numbers: Ints) -> None:
    set_chance(state, seed)
    for k in range(len(numbers)):
        numbers[k] = draw(state, most)


@compiled
def chanced(state: Ints, seed: int, numbers: Floats) -> None:
    set_chance(state, seed)
    for k in range(len(numbers)):
        numbers[k] = chance(state)


def fractions(seed: int) -> Floats:
    numbers = np.zeros(COUNT)
    chanced(np.zeros(1, np.int64), seed, numbers)
    return numbers


def whole(seed: int, most: int) -> Ints:
    numbers = np.zeros(COUNT, np.int64)
    drawn(np.zeros(1, np.int64), seed, most, numbers)
    return numbers


@pytest.mark.parametrize("seed", [0, 1, 2**31 - 1])
def test_fractions_are_spread_evenly(seed: int) -> None:
    numbers = fractions(seed)
    assert numbers.min() >= 0
    assert numbers.max() < 1
    assert abs(numbers.mean() - 0.5) < 4 * DEVIATION
    counts = np.histogram(numbers, 50, (0, 1))[0]
    chi = float(((counts - COUNT / 50) ** 2 / (COUNT / 50)).sum())
    assert 20 < chi < 90, "49 degrees of freedom: between these with more than 99.9 of 100"


@pytest.mark.parametrize("most", [1, 2, 3, 7, 64, 1_000])
def test_whole_numbers_are_spread_evenly(most: int) -> None:
    counts = np.bincount(whole(5, most), minlength=most)
    assert len(counts) == most, "none is as large as the limit"
    expected = COUNT / most
    chi = float(((counts - expected) ** 2 / expected).sum())
    assert abs(chi - (most - 1)) <= 4 * (2 * (most - 1)) ** 0.5, "mean and deviation of chi squared"


@pytest.mark.parametrize("apart", [1, 2, 3, 10])
def test_none_is_told_by_an_earlier_one(apart: int) -> None:
    numbers = fractions(3) - 0.5
    correlation = float((numbers[apart:] * numbers[:-apart]).mean()) * 12
    assert abs(correlation) < 4 / COUNT**0.5
    pairs = whole(3, 8)
    table = np.bincount(8 * pairs[apart:] + pairs[:-apart], minlength=64)
    expected = len(pairs[apart:]) / 64
    chi = float(((table - expected) ** 2 / expected).sum())
    assert 25 < chi < 115, "63 degrees of freedom: between these with more than 99.9 of 100"


def test_a_seed_tells_all_of_them_and_the_next_seed_others() -> None:
    assert (fractions(4) == fractions(4)).all()
    one, other = fractions(4) - 0.5, fractions(5) - 0.5
    assert abs(float((one * other).mean()) * 12) < 4 / COUNT**0.5
