"""The fuzzer finds nothing in a short run, and would say so if there were something; the reader's measure measures."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from placer.circuit.read_yaml import read_circuit
from tests.bench.fuzz import Fuzz, keep, main
from tests.bench.readers import called, flat, measure

SMALL = """\
circuit: c
parts: {R1: {package: axial-0207}, R2: {package: axial-0207}}
nets: {a: [R1.1, R2.1], b: [R1.2, R2.2]}
"""


@pytest.mark.parametrize("reader", ["spice", "map"])
def test_a_short_run_finds_nothing(reader: str, tmp_path: Path) -> None:
    fuzz = Fuzz(reader, tmp_path, 7)
    for data in (*fuzz.seeds, *(fuzz.mutated() for _ in range(150))):
        fuzz.run(data)
    assert fuzz.broken == []
    assert fuzz.results["read"] > 0
    assert fuzz.results["refused"] > 0


def test_a_traceback_and_a_broken_circuit_are_noticed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fuzz = Fuzz("spice", tmp_path, 7)
    monkeypatch.setattr("tests.bench.fuzz.resolve", lambda *_: 1 / 0)
    fuzz.run(fuzz.seeds[0])
    assert [why for why, _ in fuzz.broken] == ["ZeroDivisionError: division by zero"]
    circuit, _ = read_circuit(Path("c.yaml"), text=SMALL)
    keep(circuit)
    a, b = circuit.nets
    for nets in ((a, replace(b, name="a")), (a, replace(b, pins=a.pins)), (a, replace(b, name=" b"))):
        with pytest.raises(AssertionError):
            keep(replace(circuit, nets=nets))


def test_the_command_says_what_it_did() -> None:
    said: list[str] = []
    assert main(["--reader", "map", "--runs", "5"], said.append) == 0
    assert said[0].startswith("map: 5 inputs, ")


def test_the_measure_counts_parts() -> None:
    assert measure(flat(50), 1)[0] == 50
    assert measure(called(50), 1)[0] == 50
