"""From the tokens of a card to an element: how many of them are nodes, which is the model, which the value.

Node orders: SPICE3 user's manual (from memory; resistors to diodes, transistors and couplings checked against ngspice
39 and gnucap examples).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from placer.circuit.problems import Problems
from placer.circuit.raw import RawElement
from placer.circuit.spice.cards import Card
from placer.circuit.spice.tokens import Token, at_token, split_settings, tokens_of
from placer.circuit.values import rkm_number, spice_number

MAX_NODES = 1000
LONGEST_NAME = 1000

Known = Callable[[str], bool]
"""Tells whether a name is that of a model (or of a subcircuit) where the element stands."""

_FIXED_NODES = dict.fromkeys("RCLDVIBFHW", 2) | dict.fromkeys("STO", 4) | dict.fromkeys("JZ", 3)
_LEAST_NODES = {**_FIXED_NODES, "Q": 3, "M": 3, "E": 2, "G": 2, "K": 0}
_VALUE_KEYS = {
    "R": ("r", "res", "resistance", "value"),
    "C": ("c", "cap", "capacitance", "value"),
    "L": ("l", "ind", "inductance", "value"),
    "V": ("dc", "value"),
    "I": ("dc", "value"),
}
# What a value begins with when it is a function rather than a figure.
_FUNCTION_WORDS = (
    "complex cond exp fit generator poly posy pulse pwl sffm sin table tanh semi laplace freq value vol cur am"
)
_FUNCTIONS = frozenset(_FUNCTION_WORDS.split())
_MORE = {"Q": (3, 5), "M": (3, 7), "D": (2, 3)}


def element_of(card: Card, is_model: Known, is_cell: Known, problems: Problems) -> RawElement | None:
    """Return the element of a card, or None with an error recorded."""
    tokens = tokens_of(card)
    name = tokens[0]
    kind = name.text[0].upper()
    words, settings = split_settings(tokens[1:])
    if kind in ("R", "C", "L", "D", "J", "Z", "Q", "M", "V", "I", "K"):
        nodes, rest = _nodes(kind, words, is_model)
    elif kind in ("E", "G"):
        function = len(words) > 2 and words[2].text.lower() in _FUNCTIONS | {"vcvs", "vccs"}
        nodes, rest = _split(words, 2 if function or len(words) < 4 else 4)
    elif kind in _FIXED_NODES:
        nodes, rest = _split(words, _FIXED_NODES[kind])
    else:
        nodes, rest = _by_last(words)
        if kind != "X" and rest and is_cell(rest[0].text):
            kind = "X"  # as some schematic editors write it: the letter says how the symbol is called
    least = _LEAST_NODES.get(kind, 1)
    if len(nodes) < least:
        message = f"{name.text}: {len(nodes)} node{'s' if len(nodes) != 1 else ''}, at least {least} expected"
        hint = "an element line is a name, its nodes, then model or value; line 1 of a netlist is its title"
        problems.error("nodes-missing", message, at_token(card, name).span(), hint=hint)
        return None
    model, value = _model_and_value(kind, rest, settings, card, is_model)
    if len(nodes) > MAX_NODES or max(map(len, (name.text, model, *(node.text for node in nodes)))) > LONGEST_NAME:
        message = f"{name.text[:40]}: more than {MAX_NODES} nodes, or a name of more than {LONGEST_NAME} characters"
        problems.error("element-too-long", message, at_token(card, name).span(), hint="check that this is a netlist")
        return None
    element = RawElement(
        name.text,
        kind,
        tuple(node.text for node in nodes),
        at_token(card, name),
        model=model,
        value=value.plain[:LONGEST_NAME] if value is not None else "",
        params=settings,
    )
    if value is not None:
        _warn_of_value(element, value, card, problems)
    _warn_of_multiple(element, card, problems)
    return element


def _split(words: Sequence[Token], count: int) -> tuple[Sequence[Token], Sequence[Token]]:
    return words[:count], words[count:]


def _by_last(words: Sequence[Token]) -> tuple[Sequence[Token], Sequence[Token]]:
    """All are nodes but the last, which names what the element is."""
    return (words[:-1], words[-1:]) if words else ((), ())


def _nodes(kind: str, words: Sequence[Token], is_model: Known) -> tuple[Sequence[Token], Sequence[Token]]:
    """Part nodes from the rest. Transistors may have more nodes than three: the model's name tells."""
    if kind == "K":
        return (), words
    if kind not in _MORE:
        return _split(words, _FIXED_NODES[kind])
    least, most = _MORE[kind]
    for index in range(least, min(most, len(words) - 1) + 1):
        if is_model(words[index].text):
            return _split(words, index)
    if kind == "D":
        return _split(words, 2)
    # No model of this file: the last word that is no figure and no flag names it.
    last = len(words) - 1
    while last > least and (spice_number(words[last].text) is not None or words[last].text.lower() in ("off", "ic")):
        last -= 1
    return _split(words, min(max(last, least), most))


def _model_and_value(
    kind: str, rest: Sequence[Token], settings: Mapping[str, str], card: Card, is_model: Known
) -> tuple[str, Token | None]:
    """Return the model's name and the value."""
    if kind in ("V", "I"):
        return "", _source_value(rest, settings, card)
    if kind not in ("R", "C", "L"):
        if kind in ("B", "E", "F", "G", "H", "K", "T"):
            return "", _joined(rest) if rest else None
        word = rest[1 if kind == "W" and len(rest) > 1 else 0] if rest else None
        return (word.plain if word is not None else ""), None
    keyed = next((settings[key] for key in _VALUE_KEYS[kind] if settings.get(key)), None)
    value = None if keyed is None else Token(keyed, card.at.line, card.at.column)
    model = ""
    for index, word in enumerate(rest[:2]):
        if word.text.lower() in _FUNCTIONS and not is_model(word.text):
            return "", _joined(rest[index:])
        if value is None and _is_figure(word.text, kind) and not is_model(word.text):
            value = word
        elif not model and not _is_figure(word.text, kind) and word.text.lower() not in ("ic", "off", "dc"):
            model = word.plain
    return model, value


def _is_figure(text: str, kind: str) -> bool:
    return text[0] in "{'\"" or spice_number(text) is not None or rkm_number(text, kind) is not None


def _joined(words: Sequence[Token]) -> Token:
    return Token(" ".join(word.text for word in words), words[0].line, words[0].column)


def _source_value(rest: Sequence[Token], settings: Mapping[str, str], card: Card) -> Token | None:
    """Return what a source gives: its direct voltage where it is nothing else, else the words as they stand."""
    words = [word for word in rest if word.text.lower() != "dc"]
    if not words:
        keyed = next((settings[key] for key in _VALUE_KEYS["V"] if settings.get(key)), None)
        return None if keyed is None else Token(keyed, card.at.line, card.at.column)
    return words[0] if len(words) == 1 else _joined(words)


# --- what people and simulators read differently -------------------------------------------------------------------


def _warn_of_value(element: RawElement, value: Token, card: Card, problems: Problems) -> None:
    text = value.text
    if element.kind not in ("R", "C", "L"):
        return
    if rkm_number(text, element.kind) is not None and spice_number(text) is None:
        message = f"{element.name}: {text} is read as people mean it; simulators ignore what follows the letter"
        head = text.lstrip("0123456789")
        hint = f"write the figure with a decimal point, such as {text[: len(text) - len(head)] or 0}.{head[1:]}"
        unit = "" if head[:1] in "RrLl" else head[:1]
        digits = "".join(c for c in head[1:] if c.isdigit())
        if digits:
            hint = f"write {text[: len(text) - len(head)] or 0}.{digits}{'Meg' if unit == 'M' else unit}"
        problems.warning("value-with-letter-inside", message, at_token(card, value).span(), hint=hint)
        return
    letters = text.lstrip("+-.0123456789")
    if element.kind == "R" and letters[:1] == "M" and letters[:3].lower() not in ("meg", "mil"):
        message = f"{element.name}: {text} is milliohms in SPICE, where capitals do not count"
        problems.warning(
            "value-milli", message, at_token(card, value).span(), hint="write Meg where a million is meant"
        )
    elif element.kind == "C" and letters[:1] in ("F", "f") and spice_number(text):
        message = f"{element.name}: {text} is femtofarads in SPICE: F is a thousandth of a pico"
        problems.warning("value-femto", message, at_token(card, value).span(), hint="leave the unit out")


def _warn_of_multiple(element: RawElement, card: Card, problems: Problems) -> None:
    times = element.params.get("m", "")
    if times and spice_number(times) not in (None, 1.0) and element.kind in ("R", "C", "L", "D", "Q", "M", "J", "X"):
        message = f"{element.name}: m={times} stands for {times} in parallel; one is built"
        problems.warning("multiple-ignored", message, card.at.span(), hint="write each of them out where that is meant")
