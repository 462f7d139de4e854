"""Figures as SPICE writes them, as people write them, and the sums between them.

SPICE: a number, a scale suffix, and letters that mean nothing; M is milli, MEG is mega, MIL is 25.4e-6 (SPICE3 user's
manual, from memory; ngspice 39 does so). People: IEC 60062, the letter where the decimal sign would be (4k7, 2R2).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

_SCALE = {"t": 1e12, "g": 1e9, "meg": 1e6, "k": 1e3, "mil": 25.4e-6, "m": 1e-3, "u": 1e-6, "µ": 1e-6, "μ": 1e-6}
_SCALE |= {"n": 1e-9, "p": 1e-12, "f": 1e-15, "a": 1e-18}
_NUMBER = re.compile(r"([+-]?(?:\d{1,40}(?:\.\d{0,40})?|\.\d{1,40})(?:[eE][+-]?\d{1,3})?)([^\W\d_]{0,20}|[^\W\d_]*Ω|%)")
_RKM = re.compile(r"(\d{0,6})([RrKkMmGgUuNnPpFfLlµμ]|[Mm][Ee][Gg])(\d{1,6})([^\W\d_]{0,10})")
_PEOPLE = [(1e12, "T"), (1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, "")]
_PEOPLE += [(1e-3, "m"), (1e-6, "u"), (1e-9, "n"), (1e-12, "p"), (1e-15, "f")]
_TOKEN = re.compile(r"\s*(?:([0-9.](?:[\w.]|(?<=[eE])[+-])*)|([A-Za-z_]\w*)|(\*\*|[-+*/()^]))")
_LONGEST_SUM = 400
_DEEPEST_SUM = 30
_MOST_TOKENS = 1000


def spice_number(text: str) -> float | None:
    """Return what a simulator reads in ``text`` (``1.7Meg``, ``56Ohms``, ``1F`` = 1e-15); None where it is no number.

    ``4k7`` is no number here: see :func:`rkm_number`.
    """
    match = _NUMBER.fullmatch(text)
    if match is None:
        return None
    suffix = match[2].lower()
    scale = 1.0
    for length in (3, 1):
        if suffix[:length] in _SCALE:
            scale = _SCALE[suffix[:length]]
            break
    number = float(match[1]) * scale
    return number if abs(number) < 1e300 else None


def rkm_number(text: str, kind: str = "") -> float | None:
    """Return what people mean by ``4k7``, ``2R2``, ``R47`` or ``4u7`` (IEC 60062); None for other texts.

    A capital M is mega in a resistor (``kind`` R), as people write it, and milli elsewhere, as SPICE reads it.
    """
    match = _RKM.fullmatch(text)
    if match is None or not (match[1] or match[2].lower() == "r"):
        return None
    letter = match[2].lower()
    if letter in ("r", "l"):
        scale = 1.0 if letter == "r" or kind == "L" else None
    elif match[2] == "M" and kind == "R":
        scale = 1e6
    elif letter == "f" and kind == "C":
        scale = 1.0
    else:
        scale = _SCALE[letter]
    return None if scale is None else float(f"{match[1] or 0}.{match[3]}") * scale


def people(number: float, kind: str) -> str:
    """Return a figure as people write it: 4k7, 2R2, 100n, 5 V. ``kind``: R, C, L, V or I, as in SPICE."""
    if number == 0:
        figure, letter = "0", ""
    else:
        size = abs(number) * (1 + 1e-9)
        # Farads below a pico and hundreds of tera are written as they come.
        scale, letter = next(((s, x) for s, x in _PEOPLE if size >= s), _PEOPLE[-1])
        figure = f"{number / scale:.6g}"
    if "e" in figure:
        return f"{number:.6g}"
    if kind in ("V", "I"):
        return f"{figure} {letter}{'V' if kind == 'V' else 'A'}"
    if "." not in figure:
        return figure + letter
    whole, part = figure.split(".")
    if kind == "R":
        letter = letter or "R"
    return f"{whole}{letter}{part}" if letter else figure


class Layered(Mapping[str, str]):
    """Names and what they stand for, looked up in one mapping after the other; nothing is copied."""

    def __init__(self, layers: tuple[Mapping[str, str], ...]) -> None:
        self._layers = layers

    def __getitem__(self, key: str) -> str:
        for layer in self._layers:
            if key in layer:
                return layer[key]
        raise KeyError(key)

    def __iter__(self) -> Iterator[str]:
        return iter(dict.fromkeys(key for layer in self._layers for key in layer))

    def __len__(self) -> int:
        return sum(map(len, self._layers))


def evaluate(text: str, known: Mapping[str, str]) -> float | None:
    """Return the value of a sum such as ``2*r1 + 1k``; None where it is none that this reads.

    ``known``: names in lower case and the texts they stand for.
    """
    return _evaluate(text, known, [_MOST_TOKENS])


def _evaluate(text: str, known: Mapping[str, str], left: list[int]) -> float | None:
    """``left``: how many tokens may still be read, sums that names stand for included."""
    tokens: list[str] = []
    at = 0
    stripped = text.strip().strip("{}'\"").strip()
    if len(stripped) > _LONGEST_SUM:
        return None
    while at < len(stripped):
        match = _TOKEN.match(stripped, at)
        if match is None:
            return None
        tokens.append(match[1] or match[2] or match[3])
        at = match.end()
    left[0] -= len(tokens)
    if not tokens or left[0] < 0:
        return None
    try:
        reader = _Sum(tokens, known, left)
        value = reader.sum(0)
        return value if reader.ended and abs(value) < 1e300 else None
    except (ValueError, ZeroDivisionError, OverflowError):
        return None


def _inner(text: str, known: Mapping[str, str], left: list[int]) -> float | None:
    """Return the value of a name's own sum, which may name others, even itself: each level costs ten tokens."""
    left[0] -= 10
    return _evaluate(text, known, left) if left[0] > 0 else None


class _Sum:
    """Reads a sum by recursive descent; raises ValueError where it is none."""

    def __init__(self, tokens: list[str], known: Mapping[str, str], left: list[int]) -> None:
        self._tokens = tokens
        self._known = known
        self._left = left
        self._at = 0

    @property
    def ended(self) -> bool:
        return self._at == len(self._tokens)

    def sum(self, nesting: int) -> float:
        value = self._product(nesting)
        while self._next() in ("+", "-"):
            sign = self._take()
            term = self._product(nesting)
            value = value + term if sign == "+" else value - term
        return value

    def _product(self, nesting: int) -> float:
        value = self._power(nesting)
        while self._next() in ("*", "/"):
            sign = self._take()
            factor = self._power(nesting)
            value = value * factor if sign == "*" else value / factor
        return value

    def _power(self, nesting: int) -> float:
        base = self._atom(nesting)
        if self._next() in ("**", "^"):
            self._take()
            exponent = self._atom(nesting)
            if base < 0 and exponent != int(exponent):
                raise ValueError
            return float(base**exponent)
        return base

    def _atom(self, nesting: int) -> float:
        if nesting > _DEEPEST_SUM:
            raise ValueError
        sign = self._take()
        if sign in ("+", "-"):
            value = self._atom(nesting + 1)
            return -value if sign == "-" else value
        if sign == "(":
            value = self.sum(nesting + 1)
            if self._take() != ")":
                raise ValueError
            return value
        number: float | None
        if sign[0].isalpha() or sign[0] == "_":
            meant = self._known.get(sign.lower())
            number = None if meant is None else spice_number(meant)
            if number is None and meant is not None:
                number = _inner(meant, self._known, self._left)
        else:
            number = spice_number(sign)
        if number is None:
            raise ValueError
        return number

    def _next(self) -> str:
        return "" if self.ended else self._tokens[self._at]

    def _take(self) -> str:
        if self.ended:
            raise ValueError
        self._at += 1
        return self._tokens[self._at - 1]
