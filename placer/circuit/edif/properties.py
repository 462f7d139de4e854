"""Properties in EDIF forms: ``(property VALUE (string "10k"))``, ``(property LOAD (number (e 47 -1)))``."""

from __future__ import annotations

from collections.abc import Mapping

from placer.circuit.edif.forms import Form, Word
from placer.circuit.edif.names import Names

_HOLD_A_TEXT = ("string", "integer", "number", "boolean", "stringdisplay", "designator")


def properties_of(form: Form, names: Names) -> Mapping[str, str]:
    """Return the properties that stand in a form: names in small letters to texts, the first of equal names."""
    found: dict[str, str] = {}
    for each in form.forms("property"):
        name = names.defined(each)
        if name is not None:
            found.setdefault(name.text.lower(), text_of(each.items[1] if len(each.items) > 1 else None))
    return found


def text_of(item: Form | Word | None) -> str:
    """Return a value as text: a word, ``(string "x")``, ``(number (e 47 -1))``, ``(boolean (true))``; "" for others."""
    if item is None:
        return ""
    if isinstance(item, Word):
        return item.text
    if item.keyword == "e":
        words = [each.text for each in item.items if isinstance(each, Word)]
        return "e".join(words) if len(words) == 2 else ""
    if item.keyword in ("true", "false"):
        return item.keyword
    inner = item.items[0] if item.items else None
    if item.keyword not in _HOLD_A_TEXT or (isinstance(inner, Form) and inner.keyword in _HOLD_A_TEXT):
        return ""
    return text_of(inner)
