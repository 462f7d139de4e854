"""The IPC-D-356A file, read back by other people's readers, field for field."""

from __future__ import annotations

import importlib
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import pytest

from placer.circuit.model import Circuit, Net, PinRef
from placer.guide.netfile import ipc_netlist
from placer.plan.model import Plan
from tests.guide.built import ALL, built


@dataclass(frozen=True)
class Record:
    """A test record as a reader sees it; lengths in mm, net None for a point in no net."""

    net: str | None
    ref: str
    pin: str
    hole_mm: float
    plated: bool
    access: int
    x_mm: float
    y_mm: float
    middle: bool


def _by_gerbonara(text: str) -> tuple[list[Record], set[frozenset[str]], dict[str, str]]:
    module = importlib.import_module("gerbonara.ipc356")
    found = module.Netlist.from_string(text, "tests.ipc")
    records = [
        Record(r.net_name, r.ref_des, r.pin, r.hole_dia, r.is_plated, r.access_layer, r.x, r.y, r.is_middle)
        for r in found.test_records
    ]
    return records, {frozenset((net, o)) for net, others in found.adjacency.items() for o in others}, found.params


def _by_pcb_tools(text: str) -> tuple[list[Record], set[frozenset[str]], dict[str, str]]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it is written for older Pythons
        module = pytest.importorskip("gerber.ipc356")
    found = module.loads(text)
    layers = {"both": 0, "top": 1, "layer2": 2}
    records = [
        Record(
            None if r.net_name == "N/C" else r.net_name,
            r.id,
            r.pin,
            r.hole_diameter,
            r.plated,
            layers[r.access],
            r.x_coord,
            r.y_coord,
            r.location == "middle",
        )
        for r in found.test_records
    ]
    near = {frozenset((a.net, other)) for a in found.adjacency_records for other in a.adjacent_nets}
    return records, near, {p.parameter: p.value for p in found.parameters}


READERS = [pytest.param(_by_gerbonara, id="gerbonara"), pytest.param(_by_pcb_tools, id="pcb-tools")]


def expected(plan: Plan) -> Iterator[Record]:
    """Every lead and every wire end. y runs up from the lower edge; the copper is on the solder side."""
    height = plan.board.outline_mm[1]

    def record(net: str | None, ref: str, pin: str, hole: str, *, middle: bool) -> Record:
        at = plan.board.holes[hole]
        x, y = round(at.x_mm, 3), round(height - at.y_mm, 3)
        return Record(net, ref, pin, at.diameter_mm, False, 2, x, y, middle)

    for ref, placement in plan.placements.items():
        for pin, hole in placement.pins.items():
            yield record(plan.circuit.net_of.get(PinRef(ref, pin)), ref, pin, hole, middle=False)
    for number, jumper in enumerate(plan.jumpers, 1):
        yield record(jumper.net, f"W{number}", "1", jumper.start, middle=True)
        yield record(jumper.net, f"W{number}", "2", jumper.end, middle=True)


def _rounded(record: Record) -> Record:
    return replace(
        record, hole_mm=round(record.hole_mm, 3), x_mm=round(record.x_mm, 3) + 0.0, y_mm=round(record.y_mm, 3) + 0.0
    )


def _key(record: Record) -> Any:
    return record.ref, record.pin


@pytest.mark.parametrize("read", READERS)
@pytest.mark.parametrize("name", ALL)
def test_every_field_comes_back(name: str, read: Any) -> None:
    plan = built(name)
    records, near, params = read(ipc_netlist(plan))
    assert sorted(map(_rounded, records), key=_key) == sorted(map(_rounded, expected(plan)), key=_key)
    assert params.get("UNITS", "CUST 1") == "CUST 1"  # one reader turns it into lengths and forgets it
    assert params["JOB"] == plan.circuit.name
    # Nets on neighbouring holes, from the plan's own placements: each such pair is told.
    holes = {(plan.board.holes[h].x, plan.board.holes[h].y): n for n, h in _held(plan)}
    touching = {
        frozenset((net, holes[x + dx, y + dy]))
        for (x, y), net in holes.items()
        for dx, dy in ((1, 0), (0, 1))
        if holes.get((x + dx, y + dy), net) != net
    }
    assert touching <= near
    assert {net for pair in near for net in pair} <= {net.name for net in plan.circuit.nets}


def _held(plan: Plan) -> Iterator[tuple[str, str]]:
    for ref, placement in plan.placements.items():
        for pin, hole in placement.pins.items():
            if PinRef(ref, pin) in plan.circuit.net_of:
                yield plan.circuit.net_of[PinRef(ref, pin)], hole


def renamed(plan: Plan, names: dict[str, str]) -> Plan:
    """The plan with other names of nets."""
    circuit = plan.circuit
    nets = tuple(Net(names.get(n.name, n.name), n.pins, n.role, n.volts, n.amps) for n in circuit.nets)
    changed: Circuit = replace(circuit, nets=nets)
    jumpers = tuple(replace(jumper, net=names.get(jumper.net, jumper.net)) for jumper in plan.jumpers)
    return replace(plan, circuit=changed, jumpers=jumpers)


@pytest.mark.parametrize("read", READERS)
def test_names_that_do_not_fit_come_back_whole(read: Any) -> None:
    """Fourteen columns, no blanks: longer names, names with blanks, and names the format keeps for itself."""
    names = {"VCC": "HONEY_HOUSE_SUPPLY", "GND": "0 V", "TIME": "N/C", "OUT": "NNAME7"}
    plan = renamed(built("gate-blinker"), names)
    text = ipc_netlist(plan)
    records, _, _ = read(text)
    assert {record.net for record in records} - {None} >= set(names.values()) - {"N/C"}
    assert sum(record.net == "HONEY_HOUSE_SUPPLY" for record in records) == 6 + 2 * sum(
        jumper.net == "HONEY_HOUSE_SUPPLY" for jumper in plan.jumpers
    )


@pytest.mark.parametrize("name", ALL)
def test_lines_keep_to_the_columns(name: str) -> None:
    """No line over 80 columns; the columns of a 317 record as application note AN40 has them."""
    lines = ipc_netlist(built(name)).splitlines()
    assert lines[-1] == "999"
    for line in lines:
        assert line.isascii()
        assert len(line) <= 80
        if line.startswith("317"):
            assert (line[26], line[32], line[37], line[38], line[41], line[49]) == ("-", "D", "U", "A", "X", "Y")
            assert (line[57], line[62], line[67], line[72]) == ("X", "Y", "R", "S")
            assert line[17:20] == "   "
            assert line[31] in " M"
