"""A text file as netlist readers see it: decoded whatever its encoding, bounded, with places that cost nothing."""

from __future__ import annotations

import codecs
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from placer.errors import Diagnostic, PlacerError, Span
from placer.marked import read_bytes, split_lines

MAX_BYTES = 32 * 1024 * 1024
LONGEST_EXCERPT = 2000
_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))


@dataclass(frozen=True, eq=False)
class Source:
    """A file that was read. ``file``: its path as messages show it."""

    file: str
    text: str

    @cached_property
    def lines(self) -> list[str]:
        """The lines, without their ends."""
        return split_lines(self.text)

    def span(self, line: int, column: int = 1, length: int = 1) -> Span:
        """Return a place; lines and columns count from 1. Very long lines come without their text."""
        excerpt = self.lines[line - 1] if 0 < line <= len(self.lines) else ""
        return Span(self.file, line, column, max(1, length), excerpt if len(excerpt) <= LONGEST_EXCERPT else "")


@dataclass(frozen=True, slots=True)
class At:
    """A place in a source, cheap to keep by the thousand; :meth:`span` turns it into what a diagnostic carries."""

    source: Source
    line: int
    column: int = 1
    length: int = 1

    def span(self) -> Span:
        """Return the place with its source line."""
        return self.source.span(self.line, self.column, self.length)


def read_source(path: Path, *, what: str = "netlist", most: int = MAX_BYTES) -> Source:
    """Read a text file of any usual encoding: UTF-8, UTF-16 with its mark, else Latin-1.

    Raises PlacerError where the file is missing, a folder, not readable, larger than ``most`` bytes, or holds zero
    bytes, as no text does.
    """
    return Source(str(path), decode(read_bytes(path, what=what, most=most), str(path), what=what))


def decode(raw: bytes, file: str, *, what: str = "netlist") -> str:
    """Return the bytes of ``file`` as text. Raises PlacerError where they hold zero bytes."""
    encoding = next((name for mark, name in _MARKS if raw.startswith(mark)), "utf-8")
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError:
        # Every byte is a character of Latin-1; old files hold micro and ohm signs and names in it.
        text = raw.decode("latin-1")
    at = text.find("\0")
    if at >= 0:
        lines = split_lines(text[:at])
        source = Source(file, text)
        message = f"{file} is no text: a zero byte stands here"
        hint = f"check that this is the {what} you meant, saved as plain text"
        raise PlacerError(Diagnostic("file-not-text", message, hint, span=source.span(len(lines), len(lines[-1]) + 1)))
    return text
