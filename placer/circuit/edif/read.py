"""Reading an EDIF 2 0 0 netlist: from the file's text to elements on nets."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Mapping, Sequence
from pathlib import Path

from placer.circuit.edif.design import read_netlist
from placer.circuit.edif.forms import Text, parse_forms
from placer.circuit.edif.model import CellRef, Instance, Netlist, View
from placer.circuit.problems import Problems
from placer.circuit.raw import OPEN, RawCell, RawElement, RawNetlist
from placer.circuit.source import Source
from placer.errors import Diagnostic, PlacerError

MAX_PINS = 1_000_000


def read_edif(path: Path, text: str, problems: Problems) -> RawNetlist:
    """Return the netlist that an EDIF file tells.

    ``text``: the file's content; ``path`` names it in messages. Instances of cells whose inside the file does not tell
    are parts; ``PACKAGE`` and ``VALUE`` properties of an instance are taken as such. Warnings go to ``problems``.
    Raises PlacerError with every problem found.
    """
    place = Text(Source(str(path), text))
    netlist = read_netlist(parse_forms(place), place, problems)
    if netlist is None or problems.any:
        problems.finish()
        raise PlacerError(Diagnostic("edif-no-design", f"{path} holds no netlist"))  # pragma: no cover
    raw = _Raw(netlist, place, problems).netlist()
    if problems.any:
        problems.finish()
    return raw


class _Raw:
    """Turns libraries of cells into cells by name, those that the top needs."""

    def __init__(self, netlist: Netlist, text: Text, problems: Problems) -> None:
        self._netlist = netlist
        self._text = text
        self._problems = problems
        self._names: dict[tuple[str, str, str], str] = {}
        self._labels: dict[tuple[str, str, str], tuple[tuple[str, int, str], ...]] = {}
        self._pins = 0

    def netlist(self) -> RawNetlist:
        """Return the whole netlist."""
        top = self._netlist.top
        found = self._reached()
        cells = {}
        for ref in found[1:]:
            cell = self._cell(ref)
            cells[cell.name] = cell
        inner = self._cell(top)
        self._say_ports(self._netlist.view(top))
        whole = RawCell(inner.name, (), inner.elements, inner.at, cells)
        name, about = self._netlist.name.text, self._netlist.properties.get("about", "")
        return RawNetlist(name, whole, roles=self._roles(self._netlist.view(top)), about=about)

    def _reached(self) -> list[CellRef]:
        """The top and every cell below it, each once; says what keeps one from being read."""
        found: list[CellRef] = []
        taken: set[str] = set()
        waiting = deque([self._netlist.top])
        while waiting:
            ref = waiting.popleft()
            key = _key(ref)
            if key in self._names:
                continue
            view, cell = self._netlist.view(ref), self._netlist.cell(ref)
            text = cell.name.text
            options = (text, f"{ref.library}/{text}", f"{ref.library}/{text}/{ref.view}")
            self._names[key] = _free(options, taken)
            for refusal in view.refusals:
                if view.has_contents or refusal.code != "edif-view-type":
                    message = f"cell {text}: {refusal.message}"
                    self._problems.error(refusal.code, message, self._text.at(refusal.at).span(), hint=refusal.hint)
            found.append(ref)
            waiting.extend(instance.of for instance in view.instances.values())
        return found

    def _cell(self, ref: CellRef) -> RawCell:
        view = self._netlist.view(ref)
        node_of: dict[tuple[tuple[str, int] | None, str, int], str] = {}
        taken: set[str] = set()
        for net in view.nets:
            label = _free((net.label, f"{net.key}[{net.index}]", net.key), taken)
            for pin in net.pins:
                node_of[pin.instance, pin.port, pin.bit] = label
        ports = []
        for port, bit, label in self._ports(ref):
            node = node_of.get((None, port, bit))
            ports.append(_free((label,), taken) if node is None else node)
        elements = []
        refs: set[str] = set()
        for key, instance in view.instances.items():
            for copy in range(instance.name.count):
                elements.append(self._element(key, copy, instance, node_of, refs))
        at = self._text.at(self._netlist.cell(ref).name.at)
        return RawCell(self._names[_key(ref)], tuple(ports), tuple(elements), at, leaf=not view.has_contents)

    def _element(
        self,
        key: str,
        copy: int,
        instance: Instance,
        node_of: Mapping[tuple[tuple[str, int] | None, str, int], str],
        refs: set[str],
    ) -> RawElement:
        at = self._text.at(instance.name.at)
        ports = self._ports(instance.of)
        self._pins += len(ports)
        if self._pins > MAX_PINS:
            message = f"the parts have more than {MAX_PINS} pins, the most that is read"
            raise PlacerError(Diagnostic("edif-too-large", message, "split the netlist", span=at.span()))
        marked = instance.designator if not instance.name.size else ""
        name = _free((marked, instance.name.label(copy), f"{key}[{copy}]", key), refs)
        nodes = tuple(node_of.get(((key, copy), port, bit), OPEN) for port, bit, _ in ports)
        filled = self._netlist.view(instance.of).has_contents
        rest = {name: text for name, text in instance.properties.items() if name not in ("value", "package")}
        return RawElement(
            name,
            "X" if filled else "",
            nodes,
            at,
            tuple(label for _, _, label in ports),
            self._names[_key(instance.of)],
            instance.properties.get("value", ""),
            rest,
            instance.properties.get("package", ""),
        )

    def _ports(self, ref: CellRef) -> Sequence[tuple[str, int, str]]:
        """Every bit of the ports of a cell: key of the port, index, and name."""
        key = _key(ref)
        if key not in self._labels:
            ports = self._netlist.view(ref).ports
            if sum(name.count for name in ports.values()) > MAX_PINS:
                message = f"the cell has more than {MAX_PINS} pins, the most that is read"
                span = self._text.at(self._netlist.cell(ref).name.at).span()
                raise PlacerError(Diagnostic("edif-too-large", message, "split the netlist", span=span))
            self._labels[key] = tuple(
                (port, bit, name.label(bit)) for port, name in ports.items() for bit in range(name.count)
            )
        return self._labels[key]

    def _say_ports(self, view: View) -> None:
        joined = dict.fromkeys(pin.port for net in view.nets for pin in net.pins if pin.instance is None)
        if not joined:
            return
        names = [view.ports[port].text for port in joined]
        shown = ", ".join(names[:8]) + (" ..." if len(names) > 8 else "")
        at = self._text.at(view.ports[next(iter(joined))].at)
        message = f"the design has ports of its own ({shown}); no part stands for them on the board"
        hint = "add a connector to the netlist where wires must come in"
        self._problems.warning("edif-top-ports", message, at.span(), hint=hint)

    def _roles(self, view: View) -> dict[str, tuple[str, float | None]]:
        """Roles and voltages that nets have as properties."""
        found: dict[str, tuple[str, float | None]] = {}
        for net in view.nets:
            role = net.properties.get("role", "").lower()
            volts = _number(net.properties.get("volts", ""))
            if role in ("supply", "ground") or volts is not None:
                found[net.label] = (role if role in ("supply", "ground") else "signal", volts)
        return found


def _key(ref: CellRef) -> tuple[str, str, str]:
    return ref.library, ref.cell, ref.view


def _free(options: Sequence[str], taken: set[str]) -> str:
    """Return the first name that is not taken yet, and take it; a number is put behind when all are."""
    wanted = [each for each in options if each]
    name = next((each for each in wanted if each not in taken), "")
    number = 2
    while not name:
        if f"{wanted[-1]}_{number}" not in taken:
            name = f"{wanted[-1]}_{number}"
        number += 1
    taken.add(name)
    return name


def _number(text: str) -> float | None:
    try:
        number = float(text)
    except ValueError:
        return None
    return number if math.isfinite(number) else None
