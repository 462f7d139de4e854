"""Reads SPICE texts and parts maps as a user's files, for tests."""

from __future__ import annotations

from pathlib import Path

import pytest

from placer.circuit.model import Circuit
from placer.circuit.read import read_circuit_file
from placer.errors import Diagnostic, Exit, PlacerError


def write(folder: Path, text: str | bytes, name: str = "hive.cir") -> Path:
    """Write a file and return its path."""
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def read(folder: Path, text: str | bytes, parts: str | None = None) -> tuple[Circuit, tuple[Diagnostic, ...]]:
    """Read a netlist, with a parts map."""
    return read_circuit_file(write(folder, text), None if parts is None else write(folder, parts, "map.yaml"))


def refused(folder: Path, text: str | bytes, parts: str | None = None) -> tuple[Diagnostic, ...]:
    """Return the diagnostics of a netlist that must be refused as bad input."""
    with pytest.raises(PlacerError) as caught:
        read(folder, text, parts)
    assert caught.value.exit_code == Exit.BAD_INPUT
    assert all(d.span is not None and d.span.file for d in caught.value.diagnostics if d.code != "more-problems")
    return caught.value.diagnostics


def nets(circuit: Circuit) -> dict[str, set[str]]:
    """Return the nets as sets of pins."""
    return {net.name: {str(pin) for pin in net.pins} for net in circuit.nets}


def values(circuit: Circuit) -> dict[str, str]:
    """Return the value of each part."""
    return {part.ref: part.value for part in circuit.parts}


def packages(circuit: Circuit) -> dict[str, str]:
    """Return the package of each part."""
    return {part.ref: part.package for part in circuit.parts}


def codes(warnings: tuple[Diagnostic, ...]) -> set[str]:
    """Return the codes of warnings."""
    return {warning.code for warning in warnings}
