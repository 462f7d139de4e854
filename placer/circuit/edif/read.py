"""Reading an EDIF 2 0 0 netlist: from the file's text to elements on nets."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Mapping, Sequence
from pathlib import Path

from placer.circuit.edif.design import read_netlist
from placer.circuit.edif.forms import Text, parse_forms
from placer.circuit.edif.joined import DisjointSets
from placer.circuit.edif.model import CellRef, Instance, Net, Netlist, Pin, View
from placer.circuit.names import NameBook
from placer.circuit.problems import Problems
from placer.circuit.raw import OPEN, NetFacts, RawCell, RawElement, RawNetlist
from placer.circuit.source import Source
from placer.errors import Diagnostic, PlacerError

MAX_PINS = 1_000_000
MAX_ABOUT = 500
MOST = 1e6  # volts and amps, as in a circuit file

_Key = tuple[str, str, str]
_PinKey = tuple[tuple[str, int] | None, str, int]


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
        self._names: dict[_Key, str] = {}
        self._labels: dict[_Key, tuple[tuple[str, int, str], ...]] = {}
        self._through: dict[_Key, list[list[tuple[str, int]]]] = {}
        self._pins = 0

    def netlist(self) -> RawNetlist:
        """Return the whole netlist."""
        top = self._netlist.top
        found = self._reached()
        # The top is among them: a cell that it stands in would else be missed.
        cells = {cell.name: cell for cell in map(self._cell, self._inner_first(found))}
        inner = cells[self._names[_key(top)]]
        self._say_ports(self._netlist.view(top))
        whole = RawCell(inner.name, (), inner.elements, inner.at, cells)
        name = NameBook.fit(self._netlist.name.text) or "circuit"
        about = NameBook.fit(self._netlist.properties.get("about", ""), MAX_ABOUT)
        return RawNetlist(name, whole, facts=self._facts(self._netlist.view(top)), about=about)

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
        node_of = self._nodes(ref, view)
        refs: set[str] = set()
        elements = [
            self._element(key, copy, instance, node_of, refs)
            for key, instance in view.instances.items()
            for copy in range(instance.name.count)
        ]
        at = self._text.at(self._netlist.cell(ref).name.at)
        ports = tuple(label for _, _, label in self._ports(ref))
        return RawCell(self._names[_key(ref)], ports, tuple(elements), at, leaf=not view.has_contents)

    def _nodes(self, ref: CellRef, view: View) -> dict[_PinKey, str]:
        """The node of each pin in a view. A net that reaches ports of the cell is called after the first of them."""
        joined = DisjointSets[_PinKey]()
        for net in view.nets:
            for pin in net.pins:
                joined.join(_pin_key(net.pins[0]), _pin_key(pin))
        for key, instance in view.instances.items():
            for group in self._through.get(_key(instance.of), ()):
                for copy in range(instance.name.count):
                    for port, bit in group[1:]:
                        joined.join(((key, copy), *group[0]), ((key, copy), port, bit))
        ports: dict[_PinKey, list[tuple[str, int]]] = {}
        names: dict[_PinKey, str] = {}
        taken: set[str] = set()
        inside = ref is not self._netlist.top
        for port, bit, label in self._ports(ref):
            if inside:
                taken.add(label)
            if (root := joined.root((None, port, bit))) is not None:
                ports.setdefault(root, []).append((port, bit))
                if inside:
                    names.setdefault(root, label)
        self._through[_key(ref)] = [group for group in ports.values() if len(group) > 1]
        for net in view.nets:
            if net.pins:
                root = joined.root(_pin_key(net.pins[0]))
                if root is not None and root not in names:
                    names[root] = _free((net.label, f"{net.key}[{net.index}]", net.key), taken)
        return {pin: names[root] for pin, root in joined.roots() if root in names}

    def _inner_first(self, found: Sequence[CellRef]) -> list[CellRef]:
        """The cells in an order in which each comes behind those that stand in it; a circle is broken somewhere."""
        order: list[CellRef] = []
        begun: set[_Key] = set()
        stack = [(found[0], False)]
        while stack:
            ref, done = stack.pop()
            if done:
                order.append(ref)
            elif _key(ref) not in begun:
                begun.add(_key(ref))
                stack.append((ref, True))
                stack.extend((each.of, False) for each in self._netlist.view(ref).instances.values())
        return order

    def _element(
        self,
        key: str,
        copy: int,
        instance: Instance,
        node_of: Mapping[_PinKey, str],
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
        model, package = self._names[_key(instance.of)], instance.properties.get("package", "")
        return RawElement(
            name,
            "X" if filled else "",
            nodes,
            at,
            tuple(label for _, _, label in ports),
            # A cell that is called after the package says nothing of the device, which would else be its value.
            "" if package == model else model,
            instance.properties.get("value", ""),
            rest,
            package,
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

    def _facts(self, view: View) -> dict[str, NetFacts]:
        """What nets have as properties; what a circuit may not have is left out."""
        found: dict[str, NetFacts] = {}
        for net in view.nets:
            said = net.properties.get("role", "").lower()
            role = said if said in ("supply", "ground") else "signal"
            volts, amps = (_number(net.properties.get(name, "")) for name in ("volts", "amps"))
            if amps is not None and amps < 0:
                amps = None
            some = volts is not None or amps is not None
            ac = _is_set(net, "ac") and some and role != "ground" and (volts is None or volts >= 0)
            if said in ("supply", "ground", "signal") or some:
                found[net.label] = NetFacts(role, volts, amps, ac, said == "signal" and _is_set(net, "role_given"))
        return found


def _key(ref: CellRef) -> _Key:
    return ref.library, ref.cell, ref.view


def _pin_key(pin: Pin) -> _PinKey:
    return pin.instance, pin.port, pin.bit


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


def _is_set(net: Net, name: str) -> bool:
    return net.properties.get(name, "").lower() == "true"


def _number(text: str) -> float | None:
    try:
        number = float(text)
    except ValueError:
        return None
    return number if math.isfinite(number) and abs(number) <= MOST else None
