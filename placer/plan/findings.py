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


def in_order(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings with the gravest first, else in their own order."""
    return sorted(findings, key=lambda finding: SEVERITIES.index(finding.severity))


def over(findings: Iterable[Finding]) -> list[Finding]:
    """Return those that are above a limit: what they speak of is not to be built as it is."""
    return [finding for finding in findings if finding.severity == "error"]


def line(finding: Finding) -> str:
    """Return a finding as one line of text, its mend included."""
    mend = f" ({finding.mend})" if finding.mend else ""
    return f"{finding.severity}: {finding.message}{mend}"


def gist(findings: Iterable[Finding]) -> str:
    """Return how many errors, warnings and notes there are, ``none`` where there is nothing.

    >>> gist([Finding("a", "note", ""), Finding("b", "error", ""), Finding("c", "note", "")])
    '1 error, 2 notes'
    """
    found = [finding.severity for finding in findings]
    counts = [(found.count(severity), severity) for severity in SEVERITIES]
    return ", ".join(f"{n} {word}{'' if n == 1 else 's'}" for n, word in counts if n) or "none"
