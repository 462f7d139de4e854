"""Figures, amounts and lists as findings tell them."""

from __future__ import annotations

from collections.abc import Iterable

DIGITS = 6


def figures(**named: float) -> dict[str, float]:
    """Return figures as a finding holds them: rounded as the plan file rounds them."""
    return {name: round(float(value), DIGITS) + 0.0 for name, value in named.items()}


def amount(value: float, unit: str) -> str:
    """Return an amount with three digits and a fitting prefix.

    >>> amount(0.0153, "A"), amount(2.392, "A"), amount(0.0, "V"), amount(1500, "W"), amount(0.9996, "A")
    ('15.3 mA', '2.39 A', '0 V', '1500 W', '1 A')
    """
    size = abs(value)
    if size == 0 or size >= 0.9995:
        return f"{value:.4g} {unit}" if size >= 1000 else f"{value:.3g} {unit}"
    for scale, prefix in ((1e-3, "m"), (1e-6, "u")):
        if size >= scale * 0.9995:
            return f"{value / scale:.3g} {prefix}{unit}"
    return f"{value / 1e-9:.3g} n{unit}"


def listed(names: Iterable[object], most: int = 8) -> str:
    """Return names as a reader wants them: ``a``, ``a and b``, ``a, b and c``; many of them cut short."""
    words = [str(name) for name in names]
    if len(words) > most:
        words = [*words[:most], f"{len(words) - most} more"]
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)
