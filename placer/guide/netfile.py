"""The plan as an IPC-D-356A netlist test file: every lead and wire end with its net and place.

Columns as in application note AN40, "IPC-D-356A Netlist Format", for parameters and 317 records; the columns of the
379 (adjacency) records are from memory. A lead is a 317 record (through hole); a hole without metal in it is U
(unplated). Units CUST 1: 0.001 mm and degrees. x runs right and y up from the board's lower left corner, seen from the
component side. The file tells of the finished board with its wires in: each point of a net must reach each other one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from placer.circuit.model import PinRef
from placer.guide.joints import Joints
from placer.plan.model import Plan

_NAME = 14  # columns 4 to 17
_REF = 6  # columns 21 to 26
_PIN = 4  # columns 28 to 31
_WIDTH = 80
_OPEN = "N/C"
_WIRES = ("W", "JW", "LK", "WIRE")


def ipc_netlist(plan: Plan) -> str:
    """The whole file as text, ASCII, LF line ends, no line longer than 80 columns."""
    joints = Joints(plan)
    names = _net_names(plan)
    refs = _short_refs(plan)
    head = _head(plan)
    head += [f"P  {alias:<11}{_ascii(net)}"[:_WIDTH] for net, alias in names.items() if alias.startswith("NNAME")]
    head += [f"C  {short} IS {_ascii(ref)}"[:_WIDTH] for ref, short in refs.items() if short != ref]
    body = [*_lead_records(plan, names, refs), *_wire_records(plan, names, refs)]
    return "\n".join((*head, *body, *_adjacency(plan, joints, names), "999")) + "\n"


def _ascii(text: str) -> str:
    return " ".join(text.encode("ascii", "replace").decode("ascii").split())


def _head(plan: Plan) -> list[str]:
    rows = (
        ("JOB", plan.circuit.name),
        ("CODE", "00"),
        ("UNITS", "CUST 1"),
        ("TITLE", f"{plan.circuit.name} on {plan.board.name}"),
        ("NUM", "1"),
        ("REV", "A"),
        ("VER", "IPC-D-356A"),
        ("IMAGE", "PRIMARY"),
    )
    return [f"P  {key:<6}{_ascii(value)}"[:_WIDTH] for key, value in rows]


def _net_names(plan: Plan) -> Mapping[str, str]:
    """Net -> what stands in columns 4 to 17: its name, or an alias where the name does not fit there."""
    found = {}
    for number, net in enumerate(plan.circuit.nets, 1):
        name = net.name
        plain = name.isascii() and name.isprintable() and not any(letter.isspace() for letter in name)
        fits = plain and len(name) <= _NAME and name != _OPEN and not name.upper().startswith("NNAME")
        found[name] = name if fits else f"NNAME{number}"
    return found


def _short_refs(plan: Plan) -> Mapping[str, str]:
    """Reference -> what stands in columns 21 to 26; a made-up one, told in a comment, where it does not fit there."""
    fitting = {
        ref for ref in plan.placements if len(ref) <= _REF and ref.isascii() and " " not in ref and "-" not in ref
    }
    free = (name for number in range(1, 10**5) if (name := f"X{number}") not in fitting)
    return {ref: ref if ref in fitting else next(free) for ref in plan.placements}


def _record(plan: Plan, net: str, ref: str, pin: str, hole: str, *, middle: bool) -> str:
    """One 317 record."""
    place, board = plan.board.holes[hole], plan.board
    access = "01" if board.copper.side == "top" else "02"
    size = min(9999, round(board.copper.width_mm * 1000))
    return (
        f"317{net:<{_NAME}}   {ref:<{_REF}}-{pin:<{_PIN}}{'M' if middle else ' '}"
        f"D{round(place.diameter_mm * 1000):04d}UA{access}"
        f"X{_signed(place.x_mm)}Y{_signed(board.outline_mm[1] - place.y_mm)}X{size:04d}Y0000R000 S0"
    )


def _signed(mm: float) -> str:
    return f"{round(mm * 1000):+07d}"


def _lead_records(plan: Plan, names: Mapping[str, str], refs: Mapping[str, str]) -> Iterator[str]:
    """By net in the order of the circuit, open pins last."""
    order = {net.name: number for number, net in enumerate(plan.circuit.nets)}
    pins = [PinRef(ref, pin) for ref, placement in plan.placements.items() for pin in placement.pins]
    net_of = plan.circuit.net_of
    for pin in sorted(pins, key=lambda pin: order.get(net_of.get(pin, ""), len(order))):
        name = names[net_of[pin]] if pin in net_of else _OPEN
        number = pin.pin
        if len(number) > _PIN or not number.isascii():  # its place among the pins, then
            number = str(plan.circuit.package_of(pin.part).pins.index(number) + 1)
        hole = plan.placements[pin.part].pins[pin.pin]
        yield _record(plan, name, refs[pin.part], number, hole, middle=False)


def _wire_records(plan: Plan, names: Mapping[str, str], refs: Mapping[str, str]) -> Iterator[str]:
    """The ends of jumpers: mid-net points, pins 1 and 2 of wires W1, W2, ..."""
    taken = set(refs.values())
    count = range(1, len(plan.jumpers) + 1)
    prefix = next((word for word in _WIRES if not any(f"{word}{n}" in taken for n in count)), _WIRES[-1])
    for number, jumper in zip(count, plan.jumpers, strict=True):
        for pin, hole in (("1", jumper.start), ("2", jumper.end)):
            yield _record(plan, names[jumper.net], f"{prefix}{number}", pin, hole, middle=True)


def _adjacency(plan: Plan, joints: Joints, names: Mapping[str, str]) -> Iterator[str]:
    """379 records: for each net, the later nets whose copper lies a step away from its own."""
    copper, board, net_of = joints.copper, plan.board, plan.circuit.net_of
    net_at: dict[str, str] = {}
    for conductor in copper.conductors:
        net = next((net_of[pin] for pin in conductor.pins if pin in net_of), None)
        if net is not None:
            net_at |= {hole: net for segment in conductor.segments for hole in segment.holes}
    order = {net.name: number for number, net in enumerate(plan.circuit.nets)}
    near: dict[str, set[str]] = {}
    for address, hole in board.holes.items():
        for dx, dy in ((1, 0), (0, 1)):
            other = board.hole_at.get((hole.x + dx, hole.y + dy))
            pair = (net_at.get(address), net_at.get(other.address)) if other else (None, None)
            if pair[0] and pair[1] and pair[0] != pair[1]:
                first, second = sorted((pair[0], pair[1]), key=order.__getitem__)
                near.setdefault(first, set()).add(second)
    for net in sorted(near, key=order.__getitem__):
        yield from _folded(names[net], [names[other] for other in sorted(near[net], key=order.__getitem__)])


def _folded(net: str, others: Sequence[str]) -> Iterator[str]:
    """A 379 record, continued in 079 records; a continuation begins with a blank, for readers join the lines."""
    line = f"379{net:<{_NAME}}"
    for other in others:
        if len(line) + 1 + len(other) > _WIDTH:
            yield line
            line = "079"
        line += f" {other}"
    yield line
