"""From the text of SPICE files to cards: comments gone, lines continued, files included, command scripts skipped.

Conventions (syntax pages of ngspice and gnucap, and what both were seen to do): ``*`` begins a comment line, ``;``, a
``$`` with a blank behind it and ``//`` end one, ``+`` continues a card also after blank and comment lines, ``.control``
to ``.endc`` is a script, what follows ``.end`` is not read. A line that begins with ``'`` or ``#`` is a comment.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from placer.circuit.problems import Problems
from placer.circuit.source import MAX_BYTES, At, Source, read_source
from placer.errors import PlacerError

MAX_FILES = 500
MAX_INCLUDED = 2 * MAX_BYTES
MAX_DEPTH = 30

_COMMENT_LINE = ("*", "#", "'", "$", ";", "//")
_TAIL = re.compile(r";|(?<=[\s,])\$(?=\s|$)|(?<=\s)//")
_WORD = re.compile(r"\s*(\S+)")


@dataclass(frozen=True, slots=True)
class Card:
    """One card. ``pieces``: the line number, the column where the text begins (from 0) and the text of each line."""

    source: Source
    pieces: tuple[tuple[int, int, str], ...]

    @property
    def word(self) -> str:
        """The first word, in lower case."""
        match = _WORD.match(self.pieces[0][2])
        return match[1].lower() if match else ""

    @property
    def text(self) -> str:
        """The whole text on one line."""
        return " ".join(text for _, _, text in self.pieces)

    @property
    def at(self) -> At:
        """Where its first word stands."""
        line, column, text = self.pieces[0]
        lead = len(text) - len(text.lstrip())
        return At(self.source, line, column + lead + 1, max(1, len(self.word)))


def cards_of(source: Source, *, first: int = 0) -> Iterator[Card]:
    """Yield the cards of one file, without following what it includes. ``first``: index of the first line to read."""
    pieces: list[tuple[int, int, str]] = []
    script = False
    for index in range(first, len(source.lines)):
        line = source.lines[index]
        stripped = line.lstrip()
        if script:
            script = not stripped[:5].lower().startswith(".endc")
            continue
        if not stripped or stripped.startswith(_COMMENT_LINE):
            continue
        if any(sign in line for sign in ";$/"):
            tail = _TAIL.search(line)
            if tail is not None:
                line = line[: tail.start()]
                if not line.strip():
                    continue
        if stripped[0] == "+":
            if pieces:
                at = line.index("+") + 1
                pieces.append((index + 1, at, line[at:]))
            continue
        if pieces:
            yield Card(source, tuple(pieces))
            pieces = []
        lowered = stripped[:8].lower()
        if lowered == ".control":
            script = True
        elif re.match(r"\.end(?![a-z0-9_])", lowered):
            return
        else:
            pieces = [(index + 1, 0, line)]
    if pieces:
        yield Card(source, tuple(pieces))


class Files:
    """Follows ``.include`` and ``.lib``, within the folder of the netlist unless more is allowed, and within bounds."""

    def __init__(self, main: Path, problems: Problems, *, allow_outside: bool) -> None:
        self._main = main.parent
        self._problems = problems
        self._allow = allow_outside
        self._sources: dict[Path, Source | None] = {}
        self._files = 0
        self._bytes = 0
        self._full = False

    def cards(self, path: Path, source: Source, *, first: int) -> Iterator[Card]:
        """Yield every card of the main file, those of included files in their place."""
        self._bytes = len(source.text)
        key = (_real(path), "")
        yield from self._follow(cards_of(source, first=first), path, (key,))

    def _follow(self, cards: Iterator[Card], path: Path, stack: tuple[tuple[Path, str], ...]) -> Iterator[Card]:
        for card in cards:
            word = card.word
            if word in (".include", ".inc", ".incl"):
                yield from self._include(card, path, stack, "")
            elif word == ".lib":
                names = _arguments(card)
                if len(names) >= 2:
                    yield from self._include(card, path, stack, names[1].lower())
                elif names and _looks_like_file(names[0], card.text):
                    yield from self._include(card, path, stack, "")
                else:
                    # A section that nobody asked for here: skipped to its end.
                    _skip_section(cards)
            elif word == ".endl":
                continue
            else:
                yield card

    def _include(self, card: Card, path: Path, stack: tuple[tuple[Path, str], ...], section: str) -> Iterator[Card]:
        names = _arguments(card)
        if not names:
            self._problems.error(
                "include-without-file",
                f"{card.word} names no file",
                card.at.span(),
                hint='such as .include "parts.lib"',
            )
            return
        found = self._find(names[0], card, path)
        if found is None:
            return
        key = (_real(found), section)
        if key in stack:
            message = f"{names[0]} includes itself, at last: it is being read already"
            self._problems.error("include-loop", message, card.at.span(), hint="take one of the lines out")
            return
        source = self._source(found, card)
        if source is None or not self._room(source, card, len(stack)):
            return
        cards = cards_of(source)
        if section:
            cards = self._section(cards, section, names[0], card)
        yield from self._follow(cards, found, (*stack, key))

    def _find(self, name: str, card: Card, path: Path) -> Path | None:
        """Return the file that is meant: beside the file that includes it, or beside the netlist."""
        names = [name] if "\\" not in name else [name, name.replace("\\", "/")]
        outside = False
        for folder in (path.parent, self._main):
            for each in names:
                try:
                    candidate = folder / each
                    real = _real(candidate)
                    if not self._allow and not real.is_relative_to(_real(self._main)):
                        outside = True
                    elif real.is_file():
                        return candidate
                except (OSError, ValueError, RuntimeError):
                    continue
        if outside:
            message = f"{name} lies outside the folder of the netlist and is not read"
            hint = "if you trust the netlist, allow it with --allow-outside; or copy the file beside the netlist"
            self._problems.error("include-outside", message, card.at.span(), hint=hint)
        else:
            message = f"{card.word}: file {name} does not exist"
            hint = "put it beside the netlist; or take the line out, where the file holds only models"
            self._problems.error("include-missing", message, card.at.span(), hint=hint)
        return None

    def _source(self, path: Path, card: Card) -> Source | None:
        real = _real(path)
        if real not in self._sources:
            try:
                self._sources[real] = read_source(path, what="included file")
            except PlacerError as err:
                for diagnostic in err.diagnostics:
                    self._problems.take(diagnostic)
                message = f"{card.word} names a file that cannot be read"
                self._problems.error("include-unreadable", message, card.at.span())
                self._sources[real] = None
        return self._sources[real]

    def _room(self, source: Source, card: Card, depth: int) -> bool:
        self._files += 1
        self._bytes += len(source.text)
        if depth < MAX_DEPTH and self._files <= MAX_FILES and self._bytes <= MAX_INCLUDED:
            return True
        if not self._full:
            self._full = True
            limit = f"{MAX_FILES} files, {MAX_INCLUDED // 1024 // 1024} MiB or {MAX_DEPTH} files in one another"
            message = f"more is included than {limit}, the most that are read"
            self._problems.error("includes-too-many", message, card.at.span(), hint="check which files are needed")
        return False

    def _section(self, cards: Iterator[Card], section: str, name: str, call: Card) -> Iterator[Card]:
        found = inside = False
        for card in cards:
            arguments = _arguments(card) if card.word in (".lib", ".endl") else ()
            if card.word == ".lib" and len(arguments) == 1 and not _looks_like_file(arguments[0], card.text):
                inside = arguments[0].lower() == section
                found = found or inside
            elif card.word == ".endl":
                inside = False
            elif inside:
                yield card
        if not found:
            message = f"{name} has no section {section}"
            self._problems.error("section-missing", message, call.at.span(), hint="a section begins with .lib NAME")


def _skip_section(cards: Iterator[Card]) -> None:
    for card in cards:
        if card.word == ".endl":
            return


def _arguments(card: Card) -> tuple[str, ...]:
    """Return what follows the first word, quotes taken off."""
    rest = card.text.strip()[len(card.word) :]
    return tuple(a or b or c for a, b, c in re.findall(r"\"([^\"]+)\"|'([^']+)'|([^\s\"']+)", rest))


def _looks_like_file(name: str, text: str) -> bool:
    return any(sign in name for sign in "./\\") or any(quote in text for quote in "\"'")


def _real(path: Path) -> Path:
    return path.resolve()
