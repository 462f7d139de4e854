"""The small language of board files: whole-number expressions, label sequences and templates.

An expression holds whole numbers, parameter names, ``+ - * //`` and brackets. A label sequence is a count (``30``
stands for 1 to 30), a range (``a..e``, ``30..1``), a count with a start (``24 from A``, ``12 from A + 12``) or a list.
Letters go on after Z as AA, AB. A template is text with fields in braces (``L{row}``).

All functions raise ValueError with a message for the user.
"""

from __future__ import annotations

import ast
import operator
import re
from collections.abc import Callable, Collection, Mapping
from typing import Any

MAX_LABELS = 2000
_LIMIT = 100_000
_LETTERS = re.compile(r"[A-Z]{1,3}|[a-z]{1,3}")
_COUNTED = re.compile(r"(.+?)\s+from\s+(.+)")
_FROM_LETTER = re.compile(r"([A-Za-z]+)\s*(?:\+(.+))?")
_FIELD = re.compile(r"\{([a-z_]+)\}")
_OPERATORS: Mapping[type[ast.operator], Callable[[int, int], int]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.FloorDiv: operator.floordiv,
}


def evaluate(value: Any, parameters: Mapping[str, int]) -> int:
    """Return the whole number that an expression stands for.

    >>> evaluate("rows + 1", {"rows": 40})
    41
    """
    if isinstance(value, bool) or not isinstance(value, int | str):
        raise ValueError(f"found {_kind(value)}, expected a whole number or an expression of parameters")
    text = str(value).strip()
    if len(text) > 80:
        raise ValueError(f"the expression is {len(text)} characters long, at most 80 are read")
    try:
        tree = ast.parse(text, mode="eval").body
    except (SyntaxError, ValueError, MemoryError, RecursionError):
        raise ValueError(_not_a_number(text, parameters)) from None
    result = _walk(tree, text, parameters)
    if abs(result) > _LIMIT:
        raise ValueError(f"{text} makes {result}, expected at most {_LIMIT} either way")
    return result


def _walk(node: ast.expr, text: str, parameters: Mapping[str, int]) -> int:
    if isinstance(node, ast.Constant) and type(node.value) is int:
        return node.value
    if isinstance(node, ast.Name):
        if node.id not in parameters:
            raise ValueError(_not_a_number(text, parameters))
        return parameters[node.id]
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        return -_walk(node.operand, text, parameters)
    if isinstance(node, ast.BinOp) and type(node.op) in _OPERATORS:
        left, right = _walk(node.left, text, parameters), _walk(node.right, text, parameters)
        if isinstance(node.op, ast.FloorDiv) and right == 0:
            raise ValueError(f"{text!r} divides by zero")
        return _OPERATORS[type(node.op)](left, right)
    raise ValueError(_not_a_number(text, parameters))


def _not_a_number(text: str, parameters: Mapping[str, int]) -> str:
    known = f"of {', '.join(sorted(parameters))}" if parameters else "(this file has no parameters)"
    return f"found {text!r}, expected a whole number or an expression {known}"


def letters(index: int, *, upper: bool) -> str:
    """Return the label that stands at ``index`` (from 0) of A..Z, AA, AB ...

    >>> letters(25, upper=True), letters(26, upper=True), letters(702, upper=False)
    ('Z', 'AA', 'aaa')
    """
    text = ""
    index += 1
    while index > 0:
        index, digit = divmod(index - 1, 26)
        text = chr(ord("A") + digit) + text
    return text if upper else text.lower()


def letter_index(label: str) -> int:
    """Return the index (from 0) of a label of letters: the inverse of :func:`letters`."""
    index = 0
    for letter in label.upper():
        index = index * 26 + ord(letter) - ord("A") + 1
    return index - 1


def label_sequence(value: Any, parameters: Mapping[str, int]) -> tuple[str, ...]:
    """Return the labels that a sequence stands for.

    >>> label_sequence("a..e", {})
    ('a', 'b', 'c', 'd', 'e')
    >>> label_sequence("3 from Y", {})
    ('Y', 'Z', 'AA')
    """
    if isinstance(value, list | tuple):
        labels = tuple(str(item) for item in value if not isinstance(item, list | dict) and item is not None)
        if len(labels) != len(value) or not labels:
            raise ValueError("found a list with something else than labels, expected a list of plain labels")
        return _bounded(labels)
    text = str(value).strip() if isinstance(value, int | str) else ""
    if ".." in text:
        return _range(text, parameters)
    counted = _COUNTED.fullmatch(text)
    if counted:
        count = evaluate(counted[1], parameters)
        first, spell = _start(counted[2].strip(), parameters)
        return _spelled(range(first, first + _count(count)), spell)
    try:
        count = evaluate(value, parameters)
    except ValueError as err:
        hint = "; or labels such as a..e, 30..1, 24 from A, [p, q, r]" if str(err).startswith("found") else ""
        raise ValueError(f"{err}{hint}") from None
    return tuple(str(n) for n in range(1, _count(count) + 1))


def _range(text: str, parameters: Mapping[str, int]) -> tuple[str, ...]:
    first_text, _, last_text = text.partition("..")
    first, spell = _start(first_text.strip(), parameters)
    last, spell_last = _start(last_text.strip(), parameters)
    if spell is not spell_last:
        raise ValueError(f"the range {text!r} goes from one kind of label to another, expected 1..30, a..e or A..X")
    step = 1 if last >= first else -1
    _count(abs(last - first) + 1)
    return _spelled(range(first, last + step, step), spell)


def _start(text: str, parameters: Mapping[str, int]) -> tuple[int, Callable[[int], str]]:
    """Return where a sequence begins and how its labels are spelled."""
    letter = _FROM_LETTER.fullmatch(text)
    if letter and letter[1] not in parameters and _LETTERS.fullmatch(letter[1]):
        shift = evaluate(letter[2], parameters) if letter[2] else 0
        return letter_index(letter[1]) + shift, _upper if letter[1].isupper() else _lower
    return evaluate(text, parameters), str


def _upper(index: int) -> str:
    return letters(index, upper=True)


def _lower(index: int) -> str:
    return letters(index, upper=False)


def _spelled(indexes: range, spell: Callable[[int], str]) -> tuple[str, ...]:
    if indexes and min(indexes) < 0:
        raise ValueError("the labels would begin before 0 or A")
    return tuple(spell(i) for i in indexes)


def _count(count: int) -> int:
    if not 1 <= count <= MAX_LABELS:
        raise ValueError(f"found a count of {count}, expected 1 to {MAX_LABELS}")
    return count


def _bounded(labels: tuple[str, ...]) -> tuple[str, ...]:
    _count(len(labels))
    twice = sorted({label for label in labels if labels.count(label) > 1})
    if twice:
        raise ValueError(f"label {twice[0]!r} stands twice in the list")
    return labels


def check_template(text: Any, fields: Collection[str]) -> str:
    """Return a template unchanged when all its fields are known."""
    if not isinstance(text, str) or not text.strip():
        raise ValueError(
            f"found {_kind(text)}, expected text{f' with fields such as {{{min(fields)}}}' if fields else ''}"
        )
    if "{" in _FIELD.sub("", text) or "}" in _FIELD.sub("", text):
        raise ValueError(f"the braces in {text!r} do not pair up around a field name")
    unknown = [name for name in _FIELD.findall(text) if name not in fields]
    if unknown:
        known = ", ".join(f"{{{name}}}" for name in sorted(fields))
        raise ValueError(f"field {{{unknown[0]}}} is not known here, expected {'one of ' + known if known else 'none'}")
    return text


def fields_of(template: str) -> frozenset[str]:
    """Return the names of a template's fields."""
    return frozenset(_FIELD.findall(template))


def fill(template: str, values: Mapping[str, str]) -> str:
    """Return the template with its fields replaced. ``values`` holds at least the fields that the template uses."""
    return _FIELD.sub(lambda match: values[match[1]], template)


def numbers_in(name: str, template: str) -> Mapping[str, int] | None:
    """Return the parameter values that turn a template into ``name``, or None when none do.

    >>> numbers_in("long-strip-24x37", "long-strip-{strips}x{holes}")
    {'strips': 24, 'holes': 37}
    """
    pattern, end = "", 0
    for match in _FIELD.finditer(template):
        pattern += re.escape(template[end : match.start()]) + f"(?P<{match[1]}>[1-9][0-9]{{0,4}})"
        end = match.end()
    found = re.fullmatch(pattern + re.escape(template[end:]), name)
    return None if found is None else {key: int(text) for key, text in found.groupdict().items()}


def _kind(value: Any) -> str:
    if value is None or value == "":
        return "nothing"
    if isinstance(value, dict):
        return "a mapping"
    return "a list" if isinstance(value, list | tuple) else repr(value)
