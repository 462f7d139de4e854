"""A circuit written as data and read back is the same circuit, through JSON, through YAML and as a circuit file."""

import dataclasses
import json
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from placer.circuit.model import AwayWish, Circuit, NearWish, Net, Part, PinRef, Place
from placer.circuit.rails import roles_of
from placer.circuit.read_yaml import read_circuit
from placer.circuit.write_yaml import circuit_from_data, circuit_to_data
from placer.errors import PlacerError
from placer.packages.catalogue import lookup

HOLES = [f"{c}{n}" for c in "abcdefghij" for n in range(1, 20)]
NAMES = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S")), min_size=1, max_size=12).filter(
    lambda s: "." not in s
)
DISTANCE = st.floats(0.1, 100, allow_nan=False)
PACKAGES = [
    lookup(name) for name in ("axial-0207", "dip-8", "led-5", "button-6", "terminal-3", "pad-2", "terminal-2-3.5")
]


@st.composite
def circuits(draw) -> Circuit:
    own = dataclasses.replace(
        draw(st.sampled_from(PACKAGES)), name="own", about=draw(NAMES), height_mm=draw(DISTANCE), sources={"a": "b"}
    )
    refs = draw(st.lists(NAMES, min_size=2, max_size=6, unique=True))
    chosen = {ref: draw(st.sampled_from([*PACKAGES, own])) for ref in refs}
    pins = [PinRef(ref, pin) for ref, package in chosen.items() for pin in package.pins]
    holes = iter(draw(st.permutations(HOLES)))
    parts = []
    for ref, package in chosen.items():
        others = [pin for pin in pins if pin.part != ref]
        place = Place(
            at={pin: next(holes) for pin in package.pins if draw(st.booleans())},
            edge=draw(st.sampled_from([None, "top", "any"])),
            rotation=draw(st.sampled_from([None, 0, 90, 180, 270])),
            mount=draw(st.sampled_from([None, "flat"])),
            near=tuple(NearWish(pin, draw(DISTANCE)) for pin in draw(st.lists(st.sampled_from(others), max_size=2))),
            away=tuple(
                AwayWish(pin.part, draw(DISTANCE)) for pin in draw(st.lists(st.sampled_from(others), max_size=2))
            ),
            side=draw(st.sampled_from([None, "left", "bottom"])),
            diagonal=draw(st.sampled_from([None, False])),
        )
        aliases = {name: draw(st.sampled_from(package.pins)) for name in draw(st.lists(NAMES, max_size=2))}
        aliases = {name: pin for name, pin in aliases.items() if name not in package.pins}
        parts.append(Part(ref, package.name, draw(st.just("") | NAMES), aliases, place))
    net_names = draw(st.lists(NAMES, min_size=1, max_size=5, unique=True))
    members: dict[str, list[PinRef]] = {name: [] for name in net_names}
    net_of_group: dict[tuple[str, str], str] = {}
    for pin in draw(st.permutations(pins)):
        group = next((g[0] for g in chosen[pin.part].joined if pin.pin in g), pin.pin)
        name = net_of_group.setdefault((pin.part, group), draw(st.sampled_from(net_names)))
        if draw(st.integers(0, 3)):
            members[name].append(pin)
    nets = tuple(
        Net(
            name,
            tuple(found),
            draw(st.sampled_from(["signal", "ground", "supply"])),
            draw(st.none() | st.floats(-60, 60, allow_nan=False)),
            draw(st.none() | st.floats(0, 5, allow_nan=False)),
        )
        for name, found in members.items()
        if found
    ) or (Net("N", (pins[0],)),)
    used = {part.package: chosen[part.ref] for part in parts}
    return Circuit(draw(NAMES), tuple(parts), nets, used, draw(st.just("") | NAMES))


@settings(max_examples=80, deadline=None)
@given(circuits())
def test_the_round_trip_through_json_is_identity(circuit):
    assert circuit_from_data(json.loads(json.dumps(circuit_to_data(circuit)))) == circuit


@settings(max_examples=25, deadline=None)
@given(circuits())
def test_the_data_written_as_yaml_are_a_circuit_file(circuit):
    text = yaml.safe_dump(circuit_to_data(circuit), sort_keys=False, allow_unicode=True)
    assert read_circuit(Path("x.yaml"), text=text)[0] == circuit


@pytest.mark.parametrize("name", ["netlists/hive-lantern.yaml", "netlists/feeder-motor-driver.yaml"])
def test_a_circuit_file_survives_the_round_trip(name):
    circuit, _ = read_circuit(Path(__file__).parents[2] / name)
    assert circuit_from_data(circuit_to_data(circuit)) == circuit


def test_a_signal_that_is_said_to_be_one_stays_so():
    """Only then does the data say so, for others take their role from their name."""
    parts = "parts: {R1: {package: axial-0207}}"
    text = f"circuit: c\n{parts}\nnets: {{VCC: {{pins: [R1.1], role: signal}}, GND: {{pins: [R1.2]}}}}\n"
    circuit, _ = read_circuit(Path("x.yaml"), text=text)
    data = circuit_to_data(circuit)
    assert [net.get("role") for net in data["nets"].values()] == ["signal", None]
    assert circuit_from_data(data) == circuit
    assert roles_of(circuit) == {"VCC": "signal", "GND": "ground"}


def test_the_packages_of_the_data_win_over_the_catalogues():
    data = circuit_to_data(read_circuit(Path(__file__).parents[2] / "netlists/hive-lantern.yaml")[0])
    name = next(iter(data["packages"]))
    data["packages"][name]["height_mm"] = 99.0
    assert circuit_from_data(data).packages[name].height_mm == 99.0


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        (("nets", "A"), {"pins": ["R1.7"]}, "at circuit.data.nets.A"),
        (("parts", "R1", "place"), {"rotation": 45}, "rotation is 45"),
        (("parts", "R1"), None, "no package"),
        (("packages",), [], "packages"),
        (("packages", "axial-0207"), 3, "packages.axial-0207"),
        (("parts",), 7, "parts"),
        (("circuit",), "x" * 65, "65 characters"),
    ],
)
def test_damaged_data_are_refused_with_their_place(path, value, says):
    data = {
        "circuit": "c",
        "parts": {"R1": {"package": "axial-0207"}},
        "nets": {"A": {"pins": ["R1.1"]}},
        "packages": {"axial-0207": {"name": "axial-0207"}} if path[0] == "packages" else {},
    }
    target = data
    for step in path[:-1]:
        target = target[step]
    target[path[-1]] = value
    with pytest.raises(PlacerError) as caught:
        circuit_from_data(data, file="plan.json", base=("circuit", "data"))
    text = " ".join(f"{d.span.file if d.span else ''} {d.message}" for d in caught.value.diagnostics)
    assert says in text
    assert "plan.json" in text


@pytest.mark.parametrize("data", [None, [], 3, "x", {}, {"parts": {}}, {"a": 1}])
def test_data_that_are_no_circuit_are_refused(data):
    with pytest.raises(PlacerError):
        circuit_from_data(data)
