"""Circuits written as netlists and read back: nothing is lost that the format can hold."""

import csv
import io
import re
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from placer.circuit.edif import read_edif
from placer.circuit.model import Circuit, Net, Part, PinRef
from placer.circuit.partsmap import PartsMap, read_parts_map
from placer.circuit.problems import Problems
from placer.circuit.read_csv import read_csv_rows
from placer.circuit.read_yaml import read_circuit
from placer.circuit.resolve import resolve
from placer.circuit.source import Source
from placer.circuit.spice.read import read_spice
from placer.circuit.values import rkm_number, spice_number
from placer.circuit.write_csv import circuit_to_csv
from placer.circuit.write_edif import circuit_to_edif
from placer.circuit.write_spice import circuit_to_spice
from placer.circuit.write_yaml import circuit_to_yaml
from placer.packages.catalogue import lookup

NETLISTS = sorted((Path(__file__).parents[2] / "netlists").glob("*.yaml"))
PACKAGES = {name: lookup(name) for name in ("axial-0207", "dip-8", "led-5", "button-6", "terminal-3", "pad-2", "do-35")}
# Blanks are left out: readers of netlists put _ in their place.
LETTERS = st.characters(codec="utf-8", categories=("L", "N", "P", "S"))
NAMES = st.text(LETTERS, min_size=1, max_size=10)
REFS = st.from_regex(r"[RCDLUVQX][0-9A-Za-z_+.%\"-]{0,5}", fullmatch=True) | NAMES
VALUES = st.sampled_from(["", "10k", "4k7", "1M", "100n", "timer", "50%", 'a "b"', "5 V", "\u00b5", "1N4148"]) | NAMES


@st.composite
def net_of(draw, name: str, pins: list[PinRef]) -> Net:
    """A net as a circuit may have it."""
    role = draw(st.sampled_from(["signal", "supply", "ground"]))
    volts = draw(st.none() | st.floats(-60, 60, allow_nan=False))
    amps = draw(st.none() | st.floats(0, 10, allow_nan=False))
    may_alternate = role != "ground" and (volts is not None or amps is not None) and (volts or 0) >= 0
    return Net(
        name,
        tuple(pins),
        role,
        volts,
        amps,
        may_alternate and draw(st.booleans()),
        role == "signal" and draw(st.booleans()),
    )


@st.composite
def circuits(draw) -> Circuit:
    refs = draw(st.lists(REFS, min_size=1, max_size=7, unique=True))
    chosen = {ref: PACKAGES[draw(st.sampled_from(sorted(PACKAGES)))] for ref in refs}
    parts = tuple(Part(ref, package.name, draw(VALUES)) for ref, package in chosen.items())
    pins = [PinRef(ref, pin) for ref, package in chosen.items() for pin in package.pins]
    names = draw(st.lists(NAMES | st.sampled_from(["gnd", "GND", "0", "A", "a"]), min_size=1, max_size=6, unique=True))
    members: dict[str, list[PinRef]] = {name: [] for name in names}
    net_of_group: dict[tuple[str, str], str] = {}
    for pin in pins:
        group = next((g[0] for g in chosen[pin.part].joined if pin.pin in g), pin.pin)
        name = net_of_group.setdefault((pin.part, group), draw(st.sampled_from(names)))
        if draw(st.integers(0, 3)):
            members[name].append(pin)
    nets = tuple(draw(net_of(name, found)) for name, found in members.items() if found) or (Net("N", (pins[0],)),)
    return Circuit(draw(NAMES), parts, nets, {p.package: PACKAGES[p.package] for p in parts}, draw(st.just("") | NAMES))


def told(circuit: Circuit, *, roles: bool) -> object:
    """What a netlist holds: parts in order, and nets without an order."""
    facts = [(n.role, n.volts, n.amps, n.ac, n.plain) if roles else () for n in circuit.nets]
    nets = {(net.name, frozenset(net.pins), *own) for net, own in zip(circuit.nets, facts, strict=True)}
    return [(part.ref, part.package, part.value) for part in circuit.parts], nets


def read_back(text: str, kind: str) -> Circuit:
    problems = Problems()
    path = Path(f"back.{kind}")
    raw = read_edif(path, text, problems) if kind == "edf" else read_csv_rows(path, text, problems)
    circuit = resolve(raw, PartsMap(), problems) if raw is not None else None
    problems.finish()
    assert circuit is not None
    return circuit


@settings(max_examples=60, deadline=None)
@given(circuits())
def test_edif_gives_back_parts_and_all_of_nets(circuit):
    back = read_back(circuit_to_edif(circuit), "edf")
    assert told(back, roles=True) == told(circuit, roles=True)
    assert (back.name, back.about) == (circuit.name, circuit.about)


@settings(max_examples=60, deadline=None)
@given(circuits())
def test_a_pin_list_gives_back_parts_and_nets(circuit):
    assert told(read_back(circuit_to_csv(circuit), "csv"), roles=False) == told(circuit, roles=False)


@pytest.mark.parametrize("path", NETLISTS, ids=lambda path: path.stem)
def test_a_demo_circuit_comes_back_from_every_format(path):
    circuit, _ = read_circuit(path)
    assert told(read_back(circuit_to_edif(circuit), "edf"), roles=True) == told(circuit, roles=True)
    assert told(read_back(circuit_to_csv(circuit), "csv"), roles=False) == told(circuit, roles=False)
    assert read_circuit(Path("back.yaml"), text=circuit_to_yaml(circuit))[0] == circuit


def test_a_pin_list_has_a_line_for_every_pin():
    circuit, _ = read_circuit(next(path for path in NETLISTS if path.stem == "brood-logger"))
    rows = list(csv.reader(io.StringIO(circuit_to_csv(circuit))))
    assert rows[0] == ["part", "pin", "net", "package", "value"]
    assert len(rows) - 1 == sum(len(circuit.package_of(part.ref).pins) for part in circuit.parts)
    assert ["U1", "5", "", "dip-28", "microcontroller"] in rows


def test_yaml_keeps_the_users_own_packages_and_leaves_out_the_catalogues():
    text = (
        "circuit: c\npackages: {gate: {form: rigid, line: 2, body_mm: [5, 2], height_mm: 3, lead_mm: 0.5}}\n"
        "parts: {G1: {package: gate}, R1: {package: axial-0207, place: {edge: any}}}\nnets: {A: [G1.1, R1.1]}\n"
    )
    circuit, _ = read_circuit(Path("c.yaml"), text=text)
    written = circuit_to_yaml(circuit)
    assert "gate:" in written
    assert "axial-0207:" not in written
    assert read_circuit(Path("d.yaml"), text=written)[0] == circuit


# --- SPICE ---------------------------------------------------------------------------------------------------------

UNIT = {"R": "axial-0207", "C": "disc-5", "L": "axial-0309"}


def spice_of(ref: str, package: str, value: str) -> str:
    part = Part(ref, package, value)
    pins = lookup(package).pins
    nets = tuple(Net(f"n{pin}", (PinRef(ref, pin),)) for pin in pins)
    return circuit_to_spice(Circuit("c", (part,), nets, {package: lookup(package)}))


@pytest.mark.parametrize(
    ("ref", "value", "line"),
    [
        ("R1", "4k7", "R1 n1 n2 4.7k"),
        ("R1", "1M", "R1 n1 n2 1Meg"),
        ("R1", "1m", "R1 n1 n2 1m"),
        ("R1", "R47", "R1 n1 n2 470m"),
        ("R1", "2R2", "R1 n1 n2 2.2"),
        ("R1", "10 kohm", "R1 n1 n2 10k"),
        ("C1", "4u7", "C1 n1 n2 4.7u"),
        ("C1", "1F", "C1 n1 n2 1"),
        ("C1", "100nF", "C1 n1 n2 100n"),
        ("L1", "10mH", "L1 n1 n2 10m"),
        ("R1", "NTC 10k", "XR1 n1 n2 axial_0207_NTC_10k"),
        ("R1", "10k 1%", "XR1 n1 n2 axial_0207_10k_1_25_"),
        ("R1", "100n", "R1 n1 n2 100n"),
        ("C1", "10k ohm", "XC1 n1 n2 disc_5_10k_ohm"),
        ("RV1", "10k", "XRV1 n1 n2 axial_0207_10k"),
        ("R1", "", "XR1 n1 n2 axial_0207"),
    ],
)
def test_values_are_written_as_a_simulator_reads_them(ref, value, line):
    assert line in spice_of(ref, UNIT.get(ref[0], "axial-0207"), value).splitlines()


@pytest.mark.parametrize(
    ("value", "line"),
    [
        ("5 V", "V1 n1 n2 5"),
        ("-12", "V1 n1 n2 -12"),
        ("SIN(0 1 1k)", "V1 n1 n2 SIN(0 1 1k)"),
        ("DC 5", "V1 n1 n2 DC 5"),
    ],
)
def test_a_source_keeps_its_wave(value, line):
    assert line in spice_of("V1", "pad-2", value).splitlines()


def test_diodes_get_a_model_each_and_anode_first():
    lines = spice_of("LED3", "led-5", "red").splitlines()
    assert "DLED3 n1 n2 red" in lines
    assert ".model red D" in lines


def test_what_has_no_element_is_an_instance_of_a_declared_empty_subcircuit():
    text = spice_of("U1", "dip-8", "timer")
    assert ".subckt dip_8_timer p1 p2 p3 p4 p5 p6 p7 p8\n.ends\n" in text
    assert "XU1 n1 n2 n3 n4 n5 n6 n7 n8 dip_8_timer\n" in text


def test_unsafe_names_are_written_otherwise_and_told_in_the_comments():
    part = Part("R1", "axial-0207", "1k"), Part("r1", "axial-0207", "1k"), Part("R 2", "axial-0207", "1k")
    nets = (
        Net("+5V", (PinRef("R1", "1"), PinRef("r1", "1"))),
        Net("earth", (PinRef("R1", "2"),), "ground"),
        Net("gnd", (PinRef("r1", "2"),)),
        Net("out(1)", (PinRef("R 2", "1"),)),
    )
    lines = circuit_to_spice(Circuit("c", part, nets, {"axial-0207": lookup("axial-0207")})).splitlines()
    assert "R1 n_2b_5V 0 1k" in lines
    assert "r1_2 n_2b_5V gnd_2 1k" in lines
    assert "R_2 out_28_1_29_ open_R_2_2 1k" in lines
    assert {
        "* net n_2b_5V is +5V",
        "* net 0 is earth",
        "* net gnd_2 is gnd",
        "* part r1_2 is r1, axial-0207 1k",
    } <= set(lines)


def nodes_of(circuit: Circuit, refs: dict[str, str]) -> set[frozenset[str]]:
    return {frozenset(f"{refs[pin.part]}.{pin.pin}" for pin in net.pins) for net in circuit.nets if len(net.pins) > 1}


@settings(max_examples=60, deadline=None)
@given(circuits())
def test_spice_with_the_packages_in_a_map_gives_back_the_nets(circuit):
    """Names of parts come back through the table in the comments; open pins and pins joined inside by their nodes."""
    text = circuit_to_spice(circuit)
    assert text.splitlines()[0]
    names = [match[1] for match in re.finditer(r"^\* part (\S+) is ", text, re.MULTILINE)]
    assert len({name.lower() for name in names}) == len(circuit.parts)
    entries = []
    for name, part in zip(names, circuit.parts, strict=True):
        pins = circuit.packages[part.package].pins
        entries.append(f"  {name!r}: {{package: {part.package}, pins: {list(pins)}}}")
    problems = Problems()
    parts_map = read_parts_map(Path("m.yaml"), problems, text="elements:\n" + "\n".join(entries) + "\n")
    raw = read_spice(Path("c.cir"), Source("c.cir", text), problems)
    back = resolve(raw, parts_map, problems) if raw is not None else None
    problems.finish()
    assert back is not None
    assert [part.ref for part in back.parts] == names
    as_copper = []
    for net in circuit.nets:
        pins = set(net.pins)
        for pin in net.pins:
            group = next((g for g in circuit.package_of(pin.part).joined if pin.pin in g), ())
            pins |= {PinRef(pin.part, mate) for mate in group}
        as_copper.append(frozenset(f"{pin.part}.{pin.pin}" for pin in pins))
    written = {part.ref: name for name, part in zip(names, circuit.parts, strict=True)}
    wanted = {frozenset(f"{written[p.rsplit('.', 1)[0]]}.{p.rsplit('.', 1)[1]}" for p in net) for net in as_copper}
    found = {frozenset(map(str, net.pins)) for net in back.nets}
    assert {net for net in wanted if len(net) > 1} <= found


@pytest.mark.parametrize("path", NETLISTS, ids=lambda path: path.stem)
def test_the_values_of_a_demo_circuit_survive_spice(path):
    circuit, _ = read_circuit(path)
    text = circuit_to_spice(circuit)
    for part in circuit.parts:
        line = re.search(rf"^{re.escape(part.ref)} \S+ \S+ (\S+)$", text, re.MULTILINE)
        if line is not None and part.ref[0] in "RC":
            meant = rkm_number(part.value, "R") or spice_number(part.value.replace("M", "Meg"))
            assert meant is not None
            assert abs(Decimal(spice_number(line[1]) or 0) / Decimal(meant) - 1) < Decimal("1e-9")
