"""Names in EDIF forms: ``R1``, ``&1``, ``(rename N_VIN "V+")``, ``(array D 8)``, ``(member D 3)``."""

from __future__ import annotations

from collections.abc import Iterable
from math import prod

from placer.circuit.edif.forms import Form, Text, Word
from placer.circuit.edif.model import Name
from placer.circuit.problems import Problems

MAX_ARRAY = 10_000
_DIGITS = 9


class Names:
    """Reads names and records what is wrong with them."""

    def __init__(self, text: Text, problems: Problems) -> None:
        self.text = text
        self._problems = problems

    def error(self, code: str, message: str, at: int, hint: str = "") -> None:
        """Record an error with its place."""
        self._problems.error(code, message, self.text.at(at).span(), hint=hint)

    def warn(self, code: str, message: str, at: int, hint: str = "") -> None:
        """Record a warning with its place."""
        self._problems.warning(code, message, self.text.at(at).span(), hint=hint)

    def nearest(self, name: str, known: Iterable[str]) -> str:
        """Return the known name nearest to a misspelt one, "" for none."""
        return self._problems.nearest(name, known)

    def defined(self, form: Form) -> Name | None:
        """Return the name that a form gives to what it defines, its first item; None with an error recorded."""
        item = form.items[0] if form.items else None
        size = 0
        if isinstance(item, Form) and item.keyword == "array":
            sizes = [self.number(each) for each in item.items[1:]]
            if not sizes or None in sizes or not 0 < prod(known := [n or 0 for n in sizes]) <= MAX_ARRAY:
                message = f"an array has a name and sizes that multiply to at most {MAX_ARRAY}"
                self.error("edif-bad-array", message, item.at, "such as (array D 8)")
                return None
            size = prod(known)
            item = item.items[0] if item.items else None
        text = None
        if isinstance(item, Form) and item.keyword == "rename":
            shown = item.items[1] if len(item.items) > 1 else None
            if isinstance(shown, Form) and shown.keyword == "stringdisplay":
                shown = shown.items[0] if shown.items else None
            text = shown.text if isinstance(shown, Word) else None
            item = item.items[0] if item.items else None
        if isinstance(item, Form) and item.keyword == "name":
            item = item.items[0] if item.items else None
        if not isinstance(item, Word) or item.quoted:
            at = item.at if item is not None else form.at
            self.error("edif-no-name", f"({form.keyword} ...) has no name; expected an identifier", at)
            return None
        return Name(item.text.lower(), text or _plain(item.text), item.at, size)

    def used(self, form: Form) -> tuple[Name, tuple[int, ...]] | None:
        """Return the name that a reference such as ``(portRef ...)`` begins with, and the indices of a member."""
        item = form.items[0] if form.items else None
        indices: tuple[int, ...] = ()
        if isinstance(item, Form) and item.keyword == "member":
            found = [self.number(each) for each in item.items[1:]]
            indices = tuple(n for n in found if n is not None)
            if not found or len(indices) != len(found):
                self.error("edif-bad-member", "a member has a name and indices", item.at, "such as (member D 3)")
                return None
            item = item.items[0] if item.items else None
        if isinstance(item, Form) and item.keyword == "name":
            item = item.items[0] if item.items else None
        if not isinstance(item, Word) or item.quoted:
            at = item.at if item is not None else form.at
            self.error("edif-no-name", f"({form.keyword} ...) names nothing; expected an identifier", at)
            return None
        return Name(item.text.lower(), _plain(item.text), item.at), indices

    def number(self, item: Form | Word | None) -> int | None:
        """Return a whole number of up to nine digits, None for anything else."""
        if isinstance(item, Word) and not item.quoted and item.text.isascii():
            digits = item.text.removeprefix("-").removeprefix("+")
            if digits.isdigit() and len(digits) <= _DIGITS:
                return int(item.text)
        return None


def _plain(identifier: str) -> str:
    """An identifier that would begin with a digit is written with ``&`` before it."""
    return identifier[1:] if identifier.startswith("&") and len(identifier) > 1 else identifier
