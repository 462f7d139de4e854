"""Resistances between nets, against exact arithmetic of fractions."""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from placer.circuit.model import Circuit, Net, Part, PinRef
from placer.guide.meter import JUNCTION_OHM, Network
from placer.packages.catalogue import lookup


def circuit(parts: Mapping[str, tuple[str, str, str]]) -> Circuit:
    """Parts as reference: (package, value, nets of its pins in order); "" for an open pin."""
    nets: dict[str, list[PinRef]] = {}
    for ref, (package, _, names) in parts.items():
        for pin, name in zip(lookup(package).pins, names.split(), strict=True):
            if name != "-":
                nets.setdefault(name, []).append(PinRef(ref, pin))
    return Circuit(
        "hive",
        tuple(Part(ref, package, value) for ref, (package, value, _) in parts.items()),
        tuple(Net(name, tuple(pins)) for name, pins in nets.items()),
        {package: lookup(package) for package, _, _ in parts.values()},
    )


R = "axial-0207"


def test_series_parallel_and_bridge() -> None:
    """100 + 220 = 320; 100 || 220 = 22000/320 = 68.75; five equal ones as a bridge show one of them."""
    series = Network(circuit({"R1": (R, "100", "A B"), "R2": (R, "220", "B C")}))
    assert series.between("A", "C").named == pytest.approx(320)
    parallel = Network(circuit({"R1": (R, "100", "A B"), "R2": (R, "220", "B A")}))
    assert parallel.between("A", "B").named == pytest.approx(float(Fraction(22000, 320)))
    arms = {"R1": "A C", "R2": "A D", "R3": "C B", "R4": "D B", "R5": "C D"}
    bridge = Network(circuit({ref: (R, "1k", ends) for ref, ends in arms.items()}))
    assert bridge.between("A", "B").named == pytest.approx(1000)
    assert bridge.between("C", "D").named == pytest.approx(500)  # 1k || 2k || 2k


def test_limits_are_ten_percent_either_way() -> None:
    reading = Network(circuit({"R1": (R, "100", "A B"), "R2": (R, "220", "B C")})).between("A", "C")
    assert (reading.low, reading.high) == (pytest.approx(288), pytest.approx(352))


def test_what_a_meter_cannot_tell_is_left_open() -> None:
    """A diode conducts or not; an IC is out of its socket; a connector joins nothing; a pressed button neither."""
    network = Network(
        circuit(
            {
                "D1": ("do-35", "1N4148", "A B"),
                "U1": ("dip-8", "timer", "A B C D E F G H"),
                "J1": ("header-2", "", "C D"),
                "SW1": ("button-6", "", "E E F F"),
            }
        )
    )
    assert network.between("A", "B").low == JUNCTION_OHM
    assert math.isinf(network.between("A", "B").high)
    for one, two in (("C", "D"), ("E", "F"), ("G", "H"), ("A", "C")):
        assert math.isinf(network.between(one, two).low)


def test_a_trimmer_in_its_middle_and_a_capacitor_that_charges() -> None:
    network = Network(circuit({"RV1": ("trimmer-3", "10k", "A W B"), "C1": ("radial-5", "10u", "A B")}))
    assert network.between("A", "W").named == pytest.approx(5000)
    assert network.between("A", "B").named == pytest.approx(10000)
    assert network.capacitors("B", "A") == ("C1",)
    assert network.capacitors("A", "W") == ()


def exact(edges: list[tuple[int, int, int]], size: int) -> list[list[Fraction | None]]:
    """Resistances between all nodes by elimination in fractions; None for no way."""
    result: list[list[Fraction | None]] = [[None] * size for _ in range(size)]
    for start in range(size):
        for end in range(size):
            result[start][end] = Fraction(0) if start == end else _one(edges, size, start, end)
    return result


def _one(edges: list[tuple[int, int, int]], size: int, start: int, end: int) -> Fraction | None:
    """Star-mesh: nodes other than the two are taken out one by one; what is left is one branch."""
    siemens: dict[frozenset[int], Fraction] = {}

    def add(a: int, b: int, value: Fraction) -> None:
        if a != b:
            key = frozenset((a, b))
            siemens[key] = siemens.get(key, Fraction(0)) + value

    for a, b, ohm in edges:
        add(a, b, Fraction(1, ohm))
    for node in set(range(size)) - {start, end}:
        arms = {next(iter(key - {node})): siemens.pop(key) for key in list(siemens) if node in key}
        total = sum(arms.values(), Fraction(0))
        for a in arms:
            for b in arms:
                if a < b:
                    add(a, b, arms[a] * arms[b] / total)
    left = siemens.get(frozenset((start, end)))
    return None if left is None else 1 / left


@given(
    st.integers(2, 6).flatmap(
        lambda size: st.tuples(
            st.just(size),
            st.lists(
                st.tuples(st.integers(0, size - 1), st.integers(0, size - 1), st.integers(1, 10**6)),
                min_size=1,
                max_size=10,
            ),
        )
    )
)
def test_any_network_agrees_with_exact_arithmetic(case: tuple[int, list[tuple[int, int, int]]]) -> None:
    size, edges = case
    edges = [edge for edge in edges if edge[0] != edge[1]]
    parts = {f"R{n}": (R, str(ohm), f"N{a} N{b}") for n, (a, b, ohm) in enumerate(edges)}
    if not parts:
        return
    network = Network(circuit(parts))
    wanted = exact(edges, size)
    for a in range(size):
        for b in range(size):
            reading = network.between(f"N{a}", f"N{b}")
            value = wanted[a][b]
            if value is None:
                assert math.isinf(reading.named)
            else:
                assert reading.named == pytest.approx(float(value), rel=1e-6, abs=1e-6)
                assert reading.low <= reading.named * (1 + 1e-9)
                assert reading.high >= reading.named * (1 - 1e-9)
