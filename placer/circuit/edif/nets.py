"""From net forms to nets: which bits of which ports each joins."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from placer.circuit.edif.forms import Form
from placer.circuit.edif.model import CellRef, Instance, Name, Net, Pin, Refusal, View
from placer.circuit.edif.names import Names
from placer.circuit.edif.properties import properties_of
from placer.errors import Diagnostic, PlacerError

MAX_PINS = 1_000_000


class NetReader:
    """Reads the nets of views, once all cells and their ports are known.

    ``ports_of``: the ports of what an instance is of, None where that is not there.
    """

    def __init__(self, names: Names, ports_of: Callable[[CellRef], Mapping[str, Name] | None]) -> None:
        self._names = names
        self._ports_of = ports_of
        self._pins = 0
        self._instances: Mapping[str, Name] = {}

    def read(self, view: View, forms: Sequence[Form]) -> tuple[tuple[Net, ...], tuple[Refusal, ...]]:
        """Return the nets of a view, each line of an array by itself, and why they cannot be read, if so."""
        refusals: list[Refusal] = []
        nets: list[Net] = []
        self._instances = {key: each.name for key, each in view.instances.items()}
        keys: set[str] = set()
        owner: dict[Pin, Net] = {}
        for form in _single(forms):
            name = self._names.defined(form)
            if name is None:
                continue
            if name.key in keys:
                message = f"net {name.text} is in the contents twice; names are equal whatever their capitals"
                self._names.error("edif-name-twice", message, name.at, "rename one of the two")
                continue
            keys.add(name.key)
            nets += self._net(form, name, view, refusals)
        for net in nets:
            for pin in net.pins:
                first = owner.setdefault(pin, net)
                if first is not net:
                    message = (
                        f"net {net.label}: this port is in net {first.label} already; a port is in one net at most"
                    )
                    self._names.error("pin-in-two-nets", message, pin.at, "keep it in one, or make the two nets one")
        return tuple(nets), tuple(refusals)

    def _net(self, form: Form, name: Name, view: View, refusals: list[Refusal]) -> list[Net]:
        lines: list[dict[Pin, None]] = [{} for _ in range(name.count)]
        for each in form.forms("net", "netbundle"):
            what = f"net {name.text} holds further nets, which are not read"
            refusals.append(Refusal("edif-not-read", what, "write the file with plain nets", each.at))
        for reference in (item for joined in form.forms("joined") for item in joined.items):
            if not isinstance(reference, Form):
                self._names.error("edif-no-port", "expected (portRef ...)", reference.at)
            elif reference.keyword != "portref":
                what = f"({reference.keyword} ...) in a net is not read; (portRef ...) is"
                refusals.append(Refusal("edif-not-read", what, "write the file with plain nets", reference.at))
            else:
                pins = self._port(reference, view, refusals)
                if pins and len(pins) != name.count:
                    message = f"net {name.text} has {_lines(name.count)}, the port joined to it {_lines(len(pins))}"
                    self._names.error("edif-width", message, reference.at, "join them line by line, with (member ...)")
                    continue
                for line, pin in zip(lines, pins, strict=False):
                    line[pin] = None
        properties = properties_of(form, self._names)
        return [Net(name.label(n), name.key, n, tuple(line), name.at, properties) for n, line in enumerate(lines)]

    def _port(self, form: Form, view: View, refusals: list[Refusal]) -> list[Pin]:
        """Return the bits that ``(portRef PORT (instanceRef INSTANCE))`` means; none with a problem recorded."""
        if form.first("portref") is not None:
            what = "a port within a port is not read"
            refusals.append(Refusal("edif-not-read", what, "write the file with single ports or arrays", form.at))
            return []
        port = self._names.used(form)
        if port is None:
            return []
        reference = form.first("instanceref")
        if reference is None:
            bits = self._bits(port, view.ports, "port", f"cell view {view.name.text}")
            return self._counted([Pin(None, port[0].key, bit, form.at) for bit in bits], form)
        if reference.first("instanceref") is not None:
            what = "a port of an instance inside another is not read"
            refusals.append(Refusal("edif-not-read", what, "write the file with ports of the cell's own", form.at))
            return []
        used = self._names.used(reference)
        if used is None:
            return []
        copies = self._bits(used, self._instances, "instance", "the contents")
        instance: Instance | None = view.instances.get(used[0].key)
        if not copies or instance is None:
            return []
        ports = self._ports_of(instance.of)
        if ports is None:
            return []
        bits = self._bits(port, ports, "port", f"the cell of instance {instance.name.text}")
        key = used[0].key
        return self._counted([Pin((key, copy), port[0].key, bit, form.at) for copy in copies for bit in bits], form)

    def _bits(
        self, used: tuple[Name, tuple[int, ...]], known: Mapping[str, Name], what: str, where: str
    ) -> Sequence[int]:
        """Return which of an array are meant: all, or one member; none with an error recorded."""
        name, indices = used
        found = known.get(name.key)
        if found is None:
            message = f"{where} has no {what} {name.text}"
            near = self._names.nearest(name.key, known)
            hint = f"did you mean {known[near].text}?" if near else ""
            self._names.error(f"edif-unknown-{what}", message, name.at, hint)
            return ()
        if not indices:
            return range(found.count)
        if len(indices) > 1:
            self._names.error("edif-bad-member", "arrays of more than one dimension are not read", name.at)
            return ()
        if not found.size or not 0 <= indices[0] < found.size:
            there = f"0 to {found.size - 1}" if found.size else "none: it is no array"
            message = f"{what} {found.text} has no member {indices[0]}; its members are {there}"
            self._names.error("edif-bad-member", message, name.at)
            return ()
        return indices

    def _counted(self, pins: list[Pin], form: Form) -> list[Pin]:
        self._pins += len(pins)
        if self._pins > MAX_PINS:
            message = f"the nets join more than {MAX_PINS} pins, the most that is read"
            span = self._names.text.at(form.at).span()
            raise PlacerError(Diagnostic("edif-too-large", message, "split the netlist", span=span))
        return pins


def _single(forms: Sequence[Form]) -> Iterator[Form]:
    """Yield nets, those of bundles among them: a bundle only gives several nets a name together."""
    for form in forms:
        if form.keyword == "net":
            yield form
        else:
            for inner in form.forms("listofnets"):
                yield from inner.forms("net")


def _lines(count: int) -> str:
    return "1 line" if count == 1 else f"{count} lines"
