"""Diagnostics on paper: as text for people (file, line, column, excerpt, caret, help) and as data for programs."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from typing import Any

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from placer.errors import Diagnostic, Span

EXCERPT_CELLS = 100
_STYLES = {"error": "bold red", "warning": "bold yellow"}


def print_diagnostics(diagnostics: Iterable[Diagnostic], console: Console) -> None:
    """Print each diagnostic; long lines are left to the terminal, so that the text can be searched."""
    for diagnostic in diagnostics:
        console.print(diagnostic_text(diagnostic), soft_wrap=True, highlight=False)


def diagnostic_text(diagnostic: Diagnostic) -> Text:
    """Return a diagnostic as text: the headline, the source line with a caret under the place, and the help."""
    text = Text()
    span = diagnostic.span
    if span is not None:
        text.append(_printable(_place(span)) + ": ", style="bold")
    text.append(f"{diagnostic.severity}: ", style=_STYLES.get(diagnostic.severity, "bold"))
    text.append(_printable(diagnostic.message, keep_lines=True))
    text.append(f" [{diagnostic.code}]", style="dim")
    if span is not None and span.line > 0 and span.excerpt.strip():
        line, caret = _excerpt(span)
        text.append(f"\n    {line}\n    ")
        text.append(caret, style=_STYLES.get(diagnostic.severity, "bold"))
    if diagnostic.help:
        text.append("\n  help: ", style="bold cyan")
        text.append(_printable(diagnostic.help, keep_lines=True))
    return text


def diagnostics_to_data(diagnostics: Iterable[Diagnostic]) -> list[dict[str, Any]]:
    """Return diagnostics as plain data: severity, code, message, and help, file, line, column, length where known."""
    found = []
    for diagnostic in diagnostics:
        record: dict[str, Any] = {
            "severity": diagnostic.severity,
            "code": diagnostic.code,
            "message": diagnostic.message,
        }
        if diagnostic.help:
            record["help"] = diagnostic.help
        if diagnostic.span is not None:
            record["file"] = diagnostic.span.file
            if diagnostic.span.line > 0:
                record |= {name: getattr(diagnostic.span, name) for name in ("line", "column", "length")}
        found.append(record)
    return found


def _place(span: Span) -> str:
    return f"{span.file}:{span.line}:{span.column}" if span.line > 0 else span.file


def _excerpt(span: Span) -> tuple[str, str]:
    """Return the source line, cut to a window around the place, and the caret line below it."""
    line = _printable(span.excerpt)
    start = min(max(0, span.column - 1), len(line))
    length = max(1, min(span.length, len(line) - start))
    first = 0
    if len(line) > EXCERPT_CELLS:
        first = max(0, min(start - EXCERPT_CELLS // 4, len(line) - EXCERPT_CELLS))
        length = min(length, max(1, first + EXCERPT_CELLS - start))
    shown = line[first : first + EXCERPT_CELLS]
    before = shown[: start - first]
    lead = len(before) - len(before.lstrip())
    if not first:
        # The indentation says nothing here; a caret below a short line is found more easily.
        lead = min(lead, len(shown) - len(shown.lstrip()))
        shown, before = shown[lead:], before[lead:]
    head = "... " if first else ""
    tail = " ..." if first + EXCERPT_CELLS < len(line) else ""
    marked = line[start : start + length] or " "
    return f"{head}{shown.rstrip()}{tail}", " " * cell_len(head + before) + "^" * max(1, cell_len(marked))


def _printable(text: str, *, keep_lines: bool = False) -> str:
    """Replace what would steer a terminal (control characters, tabs too), one character for one."""
    return "".join(c if c == "\n" and keep_lines else " " if c == "\t" else "\ufffd" if _steers(c) else c for c in text)


def _steers(character: str) -> bool:
    """Tell whether a character is a control, format (direction overrides among them) or surrogate character."""
    return unicodedata.category(character) in ("Cc", "Cf", "Cs", "Zl", "Zp")
