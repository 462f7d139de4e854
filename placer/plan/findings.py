"""Findings: what the copper, the gaps and the parts of a plan bear, beside what they are asked to; as data.

A finding is no fault: the plan joins what it should. It says that something gets too hot, too close or too weak, or on
what the look at it was based.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

SEVERITIES = ("error", "warning", "note")


@dataclass(frozen=True)
class Finding:
    """One thing that was found. ``severity``: "error" (over a limit), "warning" (near one, or doubtful) or "note".

    ``code`` is a short stable kebab-case id; ``where`` names nets, holes, parts or jumpers, the chief one first;
    ``figures`` are the numbers behind it, each with its unit in its name (``current_A``, ``gap_mm``); ``source`` says
    where the limit comes from, ``mend`` what to do.
    """

    code: str
    severity: str
    message: str
    where: tuple[str, ...] = ()
    figures: Mapping[str, float] = field(default_factory=dict)
    source: str = ""
    mend: str = ""


def findings_to_data(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Return findings as data for JSON, one mapping each, keys in a fixed order."""
    return [
        {
            "code": finding.code,
            "severity": finding.severity,
            "where": list(finding.where),
            "figures": dict(finding.figures),
            "message": finding.message,
            "source": finding.source,
            "mend": finding.mend,
        }
        for finding in findings
    ]


def same_findings(one: Iterable[Finding], other: Iterable[Finding]) -> bool:
    """True when both say the same of the same things; figures may differ by a part in a thousand (rounding)."""

    def key(finding: Finding) -> tuple[str, str, tuple[str, ...], tuple[str, ...]]:
        return finding.code, finding.severity, finding.where, tuple(sorted(finding.figures))

    first, second = sorted(one, key=key), sorted(other, key=key)
    if [key(finding) for finding in first] != [key(finding) for finding in second]:
        return False
    return all(
        abs(a.figures[name] - b.figures[name]) <= 1e-3 * max(abs(a.figures[name]), abs(b.figures[name]), 1e-3)
        for a, b in zip(first, second, strict=True)
        for name in a.figures
    )
