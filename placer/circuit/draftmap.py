"""A first parts map for a netlist: everything that somebody has to decide, with a guess filled in."""

from __future__ import annotations

import re
from collections.abc import Iterable

from placer.circuit.kinds import (
    DEFAULTS,
    MOST_PINS,
    is_large_capacitor,
    is_light,
    kind_of_element,
    package_with,
    refusal,
)
from placer.circuit.partsmap import PartsMap
from placer.circuit.raw import RawElement, RawNetlist
from placer.circuit.scopes import MAX_DEPTH, Cells, Scope

_MANY = 8
_LONGEST_KEY = 200
_UNPRINTED = r"[^\x20-\x7e\xa1-\u2027\u202f-\ud7ff]"
_QUOTED = _UNPRINTED + r'|["\\]'
_HEAD = """\
# Parts map of {name}: which part is what. Check every line against the parts that you have, and the order
# of the pins against their data sheets: pins stand in {order}, - for a node without a lead.
# Packages: placer parts
"""


def draft_map(raw: RawNetlist) -> str:
    """Return a parts map (YAML) that reads without an error, with comments on what it guesses.

    What cannot be guessed stands there as a comment, so that the netlist is refused until somebody decides.
    """
    draft = _Draft(raw)
    draft.walk(Scope(raw.top), "", 0)
    return draft.text()


class _Draft:
    def __init__(self, raw: RawNetlist) -> None:
        self._raw = raw
        self._cells = Cells(raw, PartsMap())
        self._plain: dict[str, list[str]] = {}  # kind -> names of elements
        self._models: dict[str, tuple[str, list[tuple[str, RawElement]]]] = {}  # folded -> spelling, elements
        self._elements: list[tuple[str, RawElement, str]] = []
        self._flat: dict[str, str] = {}
        self._left = 5000  # elements still looked at: a draft of more is no use to anybody

    def walk(self, scope: Scope, prefix: str, depth: int) -> None:
        """Gather what stands in a cell, and in what would be laid out flat inside it."""
        for element in scope.cell.elements:
            self._left -= 1
            if self._left < 0:
                return
            name = prefix + element.name
            if len(name) > _LONGEST_KEY or len(element.model) > _LONGEST_KEY:
                continue  # longer than a key of a map may be
            kind = kind_of_element(element)
            inner = self._cells.inside(element, scope) if depth < MAX_DEPTH else None
            if inner is not None and self._cells.unfit(inner) is None:
                self._flat.setdefault(self._raw.key(element.model), element.model)
                self.walk(inner, f"{name}.", depth + 1)
            elif element.package:
                continue
            elif element.model and (kind in ("Q", "J", "M", "Z", "X", "") or refusal(element)):
                self._models.setdefault(self._raw.key(element.model), (element.model, []))[1].append((name, element))
            elif refusal(element):
                self._elements.append((name, element, ""))
            elif kind == "Q":
                self._elements.append((name, element, _transistor()))
            elif is_light(element, kind):
                self._elements.append((name, element, "{package: led-5}  # if it is an LED: node 1 is the anode"))
            elif is_large_capacitor(element, kind):
                note = f"{{package: radial-5}}  # {_plain(element.value)}, if it is an electrolytic: node 1 is +"
                self._elements.append((name, element, note))
            else:
                self._plain.setdefault(kind, []).append(name)

    def text(self) -> str:
        """Return the map."""
        order = "node order (C B E, D G S, A K)" if self._raw.figures else "port order"
        lines = [_HEAD.format(name=_plain(self._raw.name), order=order)]
        if self._plain:
            lines.append("# These get a package by their letter; write an entry under elements for any that differs:")
            for kind, names in sorted(self._plain.items()):
                lines.append(f"#   {_some(names)}: {DEFAULTS[kind].package}")
        lines += self._section("elements", [self._element(*each) for each in self._elements])
        lines += self._section("models", [self._model(name, found) for name, found in self._models.values()])
        if self._flat:
            lines.append("# Laid out flat, for all inside can be built; named under models each would be one part:")
            lines.append(f"#   {_some(self._flat.values())}")
        return "\n".join(lines).rstrip() + "\n"

    def _section(self, key: str, lines: list[str]) -> list[str]:
        if not lines:
            return []
        return [f"{key}:", *lines]

    def _element(self, name: str, element: RawElement, note: str) -> str:
        if note:
            return f"  {_key(name)}: {note}"
        why = refusal(element)
        what = why.what if why is not None else ""
        return (
            f"  # {_plain(_key(name))}: {{omit: true}}  # {what} cannot be built: leave it out, or say what part it is"
        )

    def _model(self, model: str, found: list[tuple[str, RawElement]]) -> str:
        kind = kind_of_element(found[0][1])
        nodes = len(found[0][1].nodes)
        names = _some(name for name, _ in found)
        if kind == "Q":
            return f"  {_key(model)}: {_transistor()}; {names}"
        if kind in ("J", "M", "Z"):
            tail = ", '-'" * max(0, nodes - 3)
            return f"  {_key(model)}: {{package: to-92, pins: [3, 2, 1{tail}]}}  # a guess, node order D G S; {names}"
        if kind not in ("X", "") and kind not in DEFAULTS:
            package = package_with(nodes)
            return f"  # {_plain(_key(model))}: {{package: {package}}}  # {names}: say what part it is, or omit"
        ports = found[0][1].ports or self._ports(model)
        shown = f"; nodes {_plain(' '.join(ports))}" if ports and len(ports) <= 20 else ""
        if not 0 < nodes <= MOST_PINS:
            return f"  # {_plain(_key(model))}: {{package: ...}}  # {nodes} nodes; {names}{shown}"
        if found[0][1].ports:
            pins = ", ".join(f"{_key(port)}: {index}" for index, port in enumerate(ports, 1))
            return f"  {_key(model)}: {{package: {package_with(nodes)}, pins: {{{pins}}}}}  # a guess; {names}"
        pins = ", ".join(str(index + 1) for index in range(nodes))
        return f"  {_key(model)}: {{package: {package_with(nodes)}, pins: [{pins}]}}  # a guess; {names}{shown}"

    def _ports(self, model: str) -> tuple[str, ...]:
        cell = self._raw.top.cells.get(self._raw.key(model))
        return cell.ports if cell is not None else ()


def _transistor() -> str:
    pins = ", ".join(DEFAULTS["Q"].pins)
    return f"{{package: {DEFAULTS['Q'].package}, pins: [{pins}]}}  # a guess, node order C B E"


def _key(name: str) -> str:
    """Return a name as a key of the map: quoted where YAML would see something else, patterns taken literally."""
    literal = re.sub(r"[*?\[]", r"[\g<0>]", name)
    if re.fullmatch(r"[A-Za-z0-9_][A-Za-z0-9_.+-]*", literal):
        return literal
    return f'"{re.sub(_QUOTED, lambda match: _escape(match[0]), literal)}"'


def _escape(character: str) -> str:
    return f"\\{character}" if character in '"\\' else f"\\U{ord(character):08x}"


def _plain(text: str) -> str:
    """Return a text as it may stand in a comment."""
    return re.sub(_UNPRINTED, "?", text)


def _some(names: Iterable[str]) -> str:
    listed = [_plain(name) for name in names]
    rest = len(listed) - _MANY
    return " ".join(listed[:_MANY]) + (f" and {rest} more" if rest > 0 else "")
