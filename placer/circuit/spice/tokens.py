"""From a card to tokens: blanks, commas and parentheses part them; quoted and braced texts stay whole."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from placer.circuit.source import At
from placer.circuit.spice.cards import Card

# A brace or quote that is not closed is a character like any other.
_TOKEN = re.compile(r"""=|\{[^{}]*\}|'[^']*'|"[^"]*"|[^\s,()={}'"][^\s,()=]*|[{}'"]""")


@dataclass(frozen=True, slots=True)
class Token:
    """A word of a card and where it stands (column from 1)."""

    text: str
    line: int
    column: int

    @property
    def plain(self) -> str:
        """The text without quotes."""
        return self.text[1:-1] if len(self.text) > 1 and self.text[0] in "'\"" else self.text


def tokens_of(card: Card) -> list[Token]:
    """Return the tokens of a card in order."""
    return [
        Token(match.group(), line, start + match.start() + 1)
        for line, start, text in card.pieces
        for match in _TOKEN.finditer(text)
    ]


def at_token(card: Card, token: Token) -> At:
    """Return the place of a token."""
    return At(card.source, token.line, token.column, len(token.text))


def split_settings(tokens: Sequence[Token]) -> tuple[list[Token], Mapping[str, str]]:
    """Return the tokens before and between settings, and the settings (``name = value``), names in lower case.

    ``params:`` and its like only say that settings follow.
    """
    words: list[Token] = []
    settings: dict[str, str] = {}
    index = 0
    while index < len(tokens):
        token = tokens[index]
        if index + 1 < len(tokens) and tokens[index + 1].text == "=" and token.text != "=":
            value = tokens[index + 2].text if index + 2 < len(tokens) else ""
            settings.setdefault(token.text.lower(), "" if value == "=" else value)
            index += 3
            continue
        if token.text != "=" and token.text.lower() not in ("params:", "param:", "optional:"):
            words.append(token)
        index += 1
    return words, settings
