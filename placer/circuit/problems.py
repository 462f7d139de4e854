"""Gathers what is wrong with an input, so that a reader can go on and report everything at once."""

from __future__ import annotations

import difflib
import re
from collections import Counter
from collections.abc import Iterable

from placer.errors import Diagnostic, PlacerError, Span

MAX_SHOWN = 20
MAX_NAME = 64
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")


class Problems:
    """The errors and warnings found so far. Errors beyond ``MAX_SHOWN`` are only counted."""

    def __init__(self) -> None:
        self._errors: list[Diagnostic] = []
        self._warnings: list[Diagnostic] = []
        self._unshown = 0

    @property
    def any(self) -> bool:
        """True when an error was found."""
        return bool(self._errors)

    def error(self, code: str, message: str, span: Span, *, hint: str = "") -> None:
        """Record an error."""
        self.take(Diagnostic(code, message, hint, span=span))

    def take(self, diagnostic: Diagnostic) -> None:
        """Record a diagnostic that stands already."""
        if diagnostic.severity == "warning":
            self._warnings.append(diagnostic)
        elif len(self._errors) < MAX_SHOWN:
            self._errors.append(diagnostic)
        else:
            self._unshown += 1

    def warning(self, code: str, message: str, span: Span, *, hint: str = "") -> None:
        """Record a warning."""
        self.take(Diagnostic(code, message, hint, "warning", span))

    def nearest(self, name: str, known: Iterable[str]) -> str:
        """Return the known name nearest to a misspelt one, or "" when none is near."""
        # Looking up is slow on long lists; what is no longer shown needs no advice.
        return "" if self._unshown else nearest(name, known)

    def did_you_mean(self, name: str, known: Iterable[str]) -> str:
        """Return the advice ``did you mean X?``, or "" when no known name is near."""
        found = self.nearest(name, known)
        return f"did you mean {found}?" if found else ""

    def finish(self) -> tuple[Diagnostic, ...]:
        """Return the warnings; raise PlacerError with every error (in the order of the file) when there is one."""
        if not self._errors:
            return _shortened(sorted(self._warnings, key=_place))
        shown = sorted(self._errors, key=_place)
        if self._unshown:
            message = f"{self._unshown} more problem{'s' if self._unshown > 1 else ''} not shown"
            shown.append(Diagnostic("more-problems", message, "mend those above first"))
        raise PlacerError(*shown)


def _shortened(warnings: list[Diagnostic]) -> tuple[Diagnostic, ...]:
    """Return the first ``MAX_SHOWN`` warnings of each kind, and how many more there are of it."""
    shown: list[Diagnostic] = []
    times = Counter[str]()
    for warning in warnings:
        times[warning.code] += 1
        if times[warning.code] <= MAX_SHOWN:
            shown.append(warning)
    more = {code: count - MAX_SHOWN for code, count in times.items() if count > MAX_SHOWN}
    shown += [Diagnostic(code, f"{count} more of these not shown", "", "warning") for code, count in more.items()]
    return tuple(shown)


def _place(diagnostic: Diagnostic) -> tuple[str, int, int]:
    span = diagnostic.span
    return (span.file, span.line, span.column) if span is not None else ("", 0, 0)


def nearest(name: str, known: Iterable[str]) -> str:
    """Return the known name nearest to a misspelt one, or "". Capitals do not count; a pattern's N takes a number."""
    by_fold: dict[str, str] = {}
    number = re.search(r"\d+$", name)
    for candidate in known:
        by_fold.setdefault(candidate.casefold(), candidate)
        if number and candidate.endswith("N"):
            filled = candidate[:-1] + number.group()
            by_fold.setdefault(filled.casefold(), filled)
    likeness = 0.5 if len(name) <= 3 else 0.6  # one of two characters of U9 is enough to mean U1
    found = difflib.get_close_matches(name.casefold(), list(by_fold), 1, likeness)
    return by_fold[found[0]] if found else ""


def name_fault(name: str, *, longest: int = MAX_NAME, empty_allowed: bool = False) -> str:
    """Say what makes a name unfit for lists and drawings, or "" when it is fit."""
    if not name:
        return "" if empty_allowed else "is empty"
    if len(name) > longest:
        return f"is {len(name)} characters long, {longest} is the most"
    if _CONTROL.search(name):
        return "holds a control character"
    if name != name.strip():
        return "begins or ends with a blank"
    return ""
