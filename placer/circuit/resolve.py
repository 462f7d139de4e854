"""From a netlist without packages, and a parts map, to the circuit: subcircuits laid out flat, a package for each part.

A subcircuit's instance is one part where the map names the instance or the subcircuit; else it is laid out flat where
the map says so (``flatten``) or where everything inside can be built. Parts inside are called X1.R3, nets X1.n5.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from placer.circuit.build import MAX_PARTS
from placer.circuit.kinds import MOST_PINS, Refusal, kind_of_element, package_with, refusal
from placer.circuit.leads import Leads
from placer.circuit.model import Circuit, Net, Part, PinRef
from placer.circuit.names import NameBook
from placer.circuit.partsmap import Entry, PartsMap, Table
from placer.circuit.problems import MAX_SHOWN, Problems
from placer.circuit.raw import OPEN, NetFacts, RawElement, RawNetlist
from placer.circuit.scopes import MAX_DEPTH, Cells, Scope
from placer.circuit.source import At
from placer.circuit.values import Layered, evaluate, people, rkm_number, spice_number
from placer.packages.model import Package

GROUND_NAMES = frozenset({"0", "gnd", "gnd!", "ground"})


@dataclass
class _NetUnderWay:
    name: str
    at: At
    pins: list[PinRef] = field(default_factory=list)


@dataclass(frozen=True)
class _Frame:
    """An instance that is laid out. ``prefix``: what stands before its names; ``nets``: port key to net key."""

    scope: Scope
    prefix: str
    nets: Mapping[str, str]
    params: Mapping[str, str]
    depth: int


def resolve(
    raw: RawNetlist, parts_map: PartsMap, problems: Problems, *, most: int = MAX_PARTS, map_given: bool = True
) -> Circuit | None:
    """Return the circuit, or None with at least one error recorded.

    ``most``: the most parts; ``map_given``: False where the user gave no map, which changes the advice only.
    """
    return _Resolver(raw, parts_map, problems, most, map_given=map_given).circuit()


class _Resolver:
    def __init__(self, raw: RawNetlist, parts_map: PartsMap, problems: Problems, most: int, *, map_given: bool) -> None:
        self._raw = raw
        self._map = parts_map
        self._problems = problems
        self._most = most
        self._leads = Leads(parts_map.own, problems)
        self._refs = NameBook()
        self._net_names = NameBook()
        self._parts: list[Part] = []
        self._places: dict[str, At] = {}
        self._packages: dict[str, Package] = {}
        self._nets: dict[str, _NetUnderWay] = {}
        self._used: set[int] = set()  # ids of entries
        self._names: dict[str, None] = {}  # of elements and models that were met, in their order
        self._models: dict[str, None] = {}
        self._counts: dict[int, int | None] = {}  # id of cell -> flat elements; None: being counted
        self._cells = Cells(raw, parts_map)
        self._hint = "in the parts map" if map_given else "in a parts map (--parts)"

    def circuit(self) -> Circuit | None:
        """Lay everything out and gather the circuit."""
        top = Scope(self._raw.top)
        if self._count(top, 0) > self._most:
            message = f"laid out flat the netlist has more than {self._most} elements, the most that are read"
            hint = "name subcircuits that are one part under models in the parts map, or split the circuit over boards"
            self._problems.error("too-many-parts", message, self._raw.top.at.span(), hint=hint)
        if self._problems.any:
            return None
        self._lay_out(_Frame(top, "", {}, self._raw.top.params, 0))
        self._warn_unused()
        if not self._parts and not self._problems.any:
            message = "the netlist holds nothing that can be built"
            self._problems.error("empty-circuit", message, self._raw.top.at.span(), hint="check that it is complete")
        nets = tuple(self._net(key, net) for key, net in self._nets.items() if net.pins)
        if self._problems.any:
            return None
        self._warn(nets)
        return Circuit(self._raw.name, tuple(self._parts), nets, self._packages, self._raw.about)

    # --- what an element stands for --------------------------------------------------------------------------------

    def _entry(self, name: str, element: RawElement) -> Entry | None:
        self._names[name] = self._models[element.model] = None
        entry = self._map.elements.find(name)
        if entry is None:
            entry = self._by_model(element)
        if entry is not None:
            self._used.add(id(entry))
        return entry

    def _by_model(self, element: RawElement) -> Entry | None:
        return self._map.models.find(element.model) if element.model else None

    def _count(self, scope: Scope, depth: int) -> int:
        """Return how many elements a cell has when laid out, at most one more than are allowed."""
        key = id(scope.cell)
        known = self._counts.get(key)
        if known is not None:
            return known
        self._counts[key] = None
        total = 0
        for element in scope.cell.elements:
            inner = self._cells.inside(element, scope)
            named = self._by_model(element) or (None if depth else self._map.elements.find(element.name))
            if inner is None or named is not None:
                total += 1
            elif id(inner.cell) in self._counts and self._counts[id(inner.cell)] is None:
                message = f"{element.name}: subcircuit {inner.cell.name} stands inside itself"
                self._problems.error("cell-inside-itself", message, element.at.span(), hint="break the circle")
            elif depth >= MAX_DEPTH:
                message = f"{element.name}: subcircuits stand more than {MAX_DEPTH} deep in each other"
                self._problems.error("nested-too-deep", message, element.at.span(), hint="lay some out by hand")
            else:
                # At least one: calls of empty cells multiply as well.
                total += max(1, self._count(inner, depth + 1))
            if total > self._most:
                total = self._most + 1
                break
        self._counts[key] = total
        return total

    # --- laying out ------------------------------------------------------------------------------------------------

    def _lay_out(self, frame: _Frame) -> None:
        for element in frame.scope.cell.elements:
            name = frame.prefix + element.name
            entry = self._entry(name, element)
            if entry is None:
                inner = self._cells.inside(element, frame.scope)
                flat = self._map.flatten.find(element.model) if element.kind == "X" else None
                if flat is not None:
                    self._used.add(id(flat))
                    if inner is None:
                        message = f"{name}: subcircuit {element.model} is to be laid out flat, but is not defined here"
                        hint = f"name it under models {self._hint} instead, or add its definition"
                        self._problems.error("cell-unknown", message, element.at.span(), hint=hint)
                        continue
                if inner is not None and (flat is not None or self._cells.unfit(inner) is None):
                    self._enter(element, name, inner, frame)
                    continue
                why = self._cells.unfit(inner) if inner is not None else None if element.package else refusal(element)
                if why is not None:
                    self._refuse(name, element, why, inside=inner is not None)
                    continue
            elif entry.package is None:
                continue
            self._part(name, element, entry, frame)

    def _refuse(self, name: str, element: RawElement, why: Refusal, *, inside: bool) -> None:
        if inside:
            message = f"{name}: subcircuit {element.model} holds {why.element}, {why.what}: it cannot be laid out flat"
        elif element.kind == "X":
            message = f"{name}: {element.model or 'what it stands for'} is not known: no part and no definition"
        else:
            message = f"{name}: {why.what} cannot be built"
        nodes = len(element.nodes)
        sized = 0 < nodes <= MOST_PINS
        hint = why.hint.format(
            map=self._hint,
            model=element.model or "NAME",
            name=name,
            package=package_with(nodes) if sized else "...",
            pins=f", pins: [{', '.join(str(n + 1) for n in range(nodes))}]" if sized else "",
        )
        # An entry that something in the netlist is named by is no slip of the pen.
        idle = [entry.name for key, entry in self._map.models.plain.items() if key not in self._named]
        near = self._problems.nearest(element.model, idle) if element.model else ""
        if near:
            hint = f"the parts map has {near} under models: should that be {element.model}? Else {hint}"
        self._problems.error("cannot-be-built", message, element.at.span(), hint=hint)

    def _enter(self, element: RawElement, name: str, inner: Scope, frame: _Frame) -> None:
        """Lay out an instance: its ports are the nets outside."""
        cell = inner.cell
        nets: dict[str, str] = {}
        if element.ports:
            by_port = dict(zip(map(self._raw.key, element.ports), element.nodes, strict=True))
            for port in cell.ports:
                node = by_port.get(self._raw.key(port), OPEN)
                if node != OPEN:
                    nets[self._raw.key(port)] = self._net_key(node, frame, element.at)
        elif len(element.nodes) != len(cell.ports):
            message = f"{name} has {len(element.nodes)} nodes, subcircuit {cell.name} has {len(cell.ports)} ports"
            hint = f"the ports are {' '.join(cell.ports[:20]) or 'none'} (line {cell.at.line})"
            self._problems.error("ports-differ", message, element.at.span(), hint=hint)
            return
        else:
            for port, node in zip(cell.ports, element.nodes, strict=True):
                nets[self._raw.key(port)] = self._net_key(node, frame, element.at)
        # Only what the cell knows, and nothing copied: both may be long, and are needed again for every instance.
        told = (key for key in cell.params if key in element.params)
        given = {key: self._settled(element.params[key], frame.params) for key in told}
        params = Layered((given, cell.params, self._raw.top.params))
        self._lay_out(_Frame(inner, f"{name}.", nets, params, frame.depth + 1))

    def _settled(self, text: str, params: Mapping[str, str]) -> str:
        value = evaluate(text, params) if params else None
        return text if value is None else repr(value)

    def _net_key(self, node: str, frame: _Frame, at: At) -> str:
        """Return the key of the net at a node, and remember the net when it is new."""
        key = self._raw.key(node)
        if key in self._raw.ground:
            key = "0"
        if key in frame.nets:
            return frame.nets[key]
        shown = node
        if frame.prefix and key not in self._raw.common and not (key == "0" and self._raw.ground):
            key, shown = self._raw.key(frame.prefix) + key, frame.prefix + node
        if key not in self._nets:
            self._nets[key] = _NetUnderWay(self._net_names.take(shown), at)
        return key

    def _part(self, written: str, element: RawElement, entry: Entry | None, frame: _Frame) -> None:
        ref = self._refs.take(written)
        keys = tuple(None if node == OPEN else self._net_key(node, frame, element.at) for node in element.nodes)
        kind = kind_of_element(element)
        found = self._leads.of(written, element, kind, keys, entry)
        if found is None:
            return
        package, pins = found
        self._packages[package.name] = package
        for pin, key in pins.items():
            self._nets[key].pins.append(PinRef(ref, pin))
        self._parts.append(Part(ref, package.name, self._value(element, entry, kind, frame)))
        self._places[ref] = element.at

    def _value(self, element: RawElement, entry: Entry | None, kind: str, frame: _Frame) -> str:
        if entry is not None and entry.value is not None:
            return entry.value
        text = element.value or element.model
        if self._raw.figures and kind in ("R", "C", "L", "V", "I"):
            known = frame.params
            number = spice_number(text)
            if number is None:
                number = rkm_number(text, kind)
            if number is None and (text[:1] in ("{", "'", '"') or text.lower() in known):
                number = evaluate(text, known)
            if number is not None:
                return people(number, kind)
            text = text.strip("{}'\"")
        return NameBook.fit(text)

    # --- nets and warnings -----------------------------------------------------------------------------------------

    def _net(self, key: str, net: _NetUnderWay) -> Net:
        ground = key == "0" if self._raw.ground else key.lower() in GROUND_NAMES
        told = self._raw.facts.get(key, NetFacts("ground" if ground else "signal"))
        return Net(net.name, tuple(net.pins), told.role, told.volts, told.amps, told.ac, told.plain)

    def _warn_unused(self) -> None:
        advised = 0  # more are not shown, and looking names up takes time
        tables = (("elements", self._map.elements), ("models", self._map.models), ("flatten", self._map.flatten))
        for key, table in tables:
            for entry in table.entries():
                if id(entry) not in self._used:
                    message = f"{key}: {entry.name} is the name of nothing that the netlist builds"
                    advised += 1
                    met = self._names if key == "elements" else self._models
                    hint = self._meant(entry.name, met, table) if advised <= MAX_SHOWN else ""
                    hint = hint or "check the name, or remove it"
                    self._problems.warning("unused-entry", message, entry.span, hint=hint)

    def _meant(self, name: str, met: Iterable[str], table: Table) -> str:
        """Which name without an entry of its own an entry may be for that is not used; "" where none is near.

        What it names may be there, and have been settled by another entry.
        """
        if any(sign in name for sign in "*?[") or name.casefold() in map(str.casefold, met):
            return ""
        meant = self._problems.did_you_mean(name, (other for other in met if other.casefold() not in table.plain))
        return meant and f"{meant} Else remove it"

    @cached_property
    def _named(self) -> frozenset[str]:
        """The models of all elements of the netlist, wherever they stand; capitals do not count."""
        found: set[str] = set()
        cells = [self._raw.top]
        while cells:
            cell = cells.pop()
            found.update(element.model.casefold() for element in cell.elements)
            cells += cell.cells.values()
        return frozenset(found)

    def _warn(self, nets: tuple[Net, ...]) -> None:
        connected: set[str] = set()
        for net in nets:
            connected.update(pin.part for pin in net.pins)
            if len(net.pins) == 1:
                message = f"net {net.name} has one pin only, {net.pins[0]}: it joins nothing"
                self._problems.warning("net-with-one-pin", message, self._places[net.pins[0].part].span())
        for part in self._parts:
            if part.ref not in connected:
                message = f"part {part.ref} has no pin in any net"
                self._problems.warning("part-unconnected", message, self._places[part.ref].span())
