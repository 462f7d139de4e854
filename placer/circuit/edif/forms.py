"""The text of an EDIF file as nested forms: ``(keyword item item ...)``, with the place of everything.

Syntax: EDIF 2 0 0 (ANSI/EIA-548), from memory. A form opens with a keyword, written in either case; items are forms,
texts in double quotes, and words (identifiers and whole numbers). In a quoted text ``%34 37%`` stands for the
characters of these codes. The tree is built without recursion, and its depth and size are bounded.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass, field

from placer.circuit.source import At, Source
from placer.errors import Diagnostic, PlacerError, Span

MAX_DEPTH = 200
MAX_FORMS = 2_000_000
MAX_WORD = 1_000_000

# A form with its keyword, an end, a quoted text, and whatever else is no blank. A lone quote is a text without an end.
_TOKEN = re.compile(r'\(\s*([^\s()"]*)|(\))|("[^"]*")|("|[^\s()"]+)')
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0e-\x1f\x7f\ud800-\udfff]")
_LINE_END = re.compile(r"\r\n|\r|\n")
_CODES = re.compile(r"%\s*(\d{1,7}(?:\s+\d{1,7})*)\s*%")
_WORD = re.compile(r'[^\s()"]*')


@dataclass(slots=True)
class Word:
    """An identifier, a number or (``quoted``) a text. ``at``: its offset in the file."""

    text: str
    at: int
    quoted: bool = False


@dataclass(slots=True)
class Form:
    """``(keyword items...)``; the keyword in small letters. ``at``: the offset of its bracket."""

    keyword: str
    at: int
    items: list[Form | Word] = field(default_factory=list)

    def forms(self, *keywords: str) -> list[Form]:
        """Return the inner forms with one of these keywords, in order."""
        return [item for item in self.items if isinstance(item, Form) and item.keyword in keywords]

    def first(self, *keywords: str) -> Form | None:
        """Return the first inner form with one of these keywords, or None."""
        return next((item for item in self.items if isinstance(item, Form) and item.keyword in keywords), None)


class Text:
    """A file's text, and the place of an offset in it."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self._starts = [0, *(match.end() for match in _LINE_END.finditer(source.text))]

    def at(self, offset: int, length: int = 0) -> At:
        """Return the place of ``length`` characters; 0: of the word, text or ``(keyword`` that stands there."""
        line = bisect_right(self._starts, offset) - 1
        end = self._starts[line + 1] if line + 1 < len(self._starts) else len(self.source.text)
        length = min(length or self._length(offset), end - offset)
        return At(self.source, line + 1, offset - self._starts[line] + 1, max(1, length))

    def _length(self, offset: int) -> int:
        text = self.source.text
        first = text[offset : offset + 1]
        if first == '"':
            end = text.find('"', offset + 1)
            return (end if end >= 0 else len(text)) - offset + 1
        inner = offset + 1 if first == "(" else offset
        match = _WORD.match(text, inner)
        return (match.end() if match else inner) - offset


def parse_forms(text: Text) -> Form:
    """Return the one outermost form of a file.

    Raises PlacerError, with the place, for a text that is not nested forms or that nests or holds more than the bounds.
    """
    control = _CONTROL.search(text.source.text)
    if control:
        message = f"control character U+{ord(control.group()):04X} is not allowed in EDIF"
        raise _failure(
            "edif-control-character", message, "remove it; an EDIF file is plain text", text, control.start()
        )
    root: Form | None = None
    open_forms: list[Form] = []
    count = 0
    for token in _TOKEN.finditer(text.source.text):
        kind = token.lastindex
        if kind == 2:
            if not open_forms:
                message = "this bracket closes nothing: every form is closed already"
                raise _failure("edif-bracket", message, "remove it, or add the opening one", text, token.start())
            open_forms.pop()
            continue
        if root is not None and not open_forms:
            message = "something stands behind the end of the outermost form"
            raise _failure("edif-bracket", message, "remove it, or a closing bracket before it", text, token.start())
        if kind == 1:
            form = Form(token[1].lower(), token.start())
            if not form.keyword:
                message = "a form begins with a keyword, such as (net ...); found none behind this bracket"
                raise _failure("edif-no-keyword", message, "", text, token.start())
            count += 1
            if count > MAX_FORMS:
                message = f"the file has more than {MAX_FORMS} forms, the most that is read"
                raise _failure("edif-too-large", message, "split the netlist", text, token.start())
            if open_forms:
                open_forms[-1].items.append(form)
            else:
                root = form
            open_forms.append(form)
            if len(open_forms) > MAX_DEPTH:
                message = f"forms are nested more than {MAX_DEPTH} deep"
                hint = "nothing in a netlist nests so deep; look for a missing closing bracket"
                raise _failure("edif-too-deep", message, hint, text, token.start())
            continue
        _check_word(token, text, inside=bool(open_forms))
        quoted = kind == 3
        open_forms[-1].items.append(
            Word(_decode(token[3][1:-1]) if quoted else token[4], token.start(), quoted),
        )
    if open_forms:
        last = open_forms[-1]
        message = f"the form ({last.keyword} is never closed; the file ends inside {len(open_forms)} open forms"
        raise _failure("edif-bracket", message, "add the closing brackets, or get the whole file", text, last.at)
    if root is None:
        message = f"{text.source.file} is empty; an EDIF file begins with (edif"
        raise PlacerError(
            Diagnostic("edif-empty", message, "check that this is the file you meant", span=Span(text.source.file))
        )
    return root


def _check_word(token: re.Match[str], text: Text, *, inside: bool) -> None:
    at = token.start()
    if token[4] == '"':
        message = "this text has no closing quote"
        raise _failure("edif-open-text", message, "close it with a double quote", text, at, 1)
    if not inside:
        message = "an EDIF file is one form, (edif ...); found something before it"
        raise _failure("edif-no-form", message, "check that this is an EDIF file", text, at)
    if token.end() - at > MAX_WORD:
        message = f"a word or text of {token.end() - at} characters; {MAX_WORD} is the most that is read"
        raise _failure("edif-too-large", message, "check that this is an EDIF netlist", text, at)


def _decode(written: str) -> str:
    """Put the characters in place of ``%codes%``, as far as the codes are of characters that can be shown."""
    if "%" not in written:
        return written

    def characters(match: re.Match[str]) -> str:
        codes = [int(code) for code in match[1].split()]
        fit = all(32 <= code < 0x110000 and not 0xD800 <= code < 0xE000 for code in codes)
        return "".join(map(chr, codes)) if fit else match[0]

    return _CODES.sub(characters, written)


def _failure(code: str, message: str, hint: str, text: Text, at: int, length: int = 0) -> PlacerError:
    return PlacerError(Diagnostic(code, message, hint, span=text.at(at, length).span()))
