"""What the user sees when something is wrong: where, what was found, what was expected, how to mend it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum


class Exit(IntEnum):
    """Exit codes of every command."""

    OK = 0
    FAULTS = 1
    BAD_INPUT = 2
    NO_PLAN = 3
    INTERRUPTED = 130


@dataclass(frozen=True)
class Span:
    """A place in a text file. Lines and columns count from 1; ``excerpt`` is the whole source line."""

    file: str
    line: int = 0
    column: int = 0
    length: int = 1
    excerpt: str = ""


@dataclass(frozen=True)
class Diagnostic:
    """One thing that is wrong (or doubtful), as data; renderers turn it into text or JSON.

    ``code`` is a short stable kebab-case id that describes the fault, never the cure; ``message`` says what was
    found and what was expected; ``help`` says how to mend it.
    """

    code: str
    message: str
    help: str = ""
    severity: str = "error"  # "error" | "warning"
    span: Span | None = None


class PlacerError(Exception):
    """A failure that the user can mend. Carries one or more diagnostics and the exit code."""

    def __init__(self, *diagnostics: Diagnostic, exit_code: Exit = Exit.BAD_INPUT) -> None:
        super().__init__("; ".join(d.message for d in diagnostics))
        self.diagnostics = diagnostics
        self.exit_code = exit_code
