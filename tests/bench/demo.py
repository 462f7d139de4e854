"""The demo circuits as cases to measure: on the larger five-hole board of the catalogue, and on its long strips."""

from __future__ import annotations

from pathlib import Path

from placer.boards.catalogue import load_board
from placer.circuit.read_yaml import read_circuit
from tests.bench.boards import Case, case_on

NETLISTS = Path(__file__).resolve().parents[2] / "netlists"
BOARDS = {"five-hole": "five-hole-63", "long-strip": "long-strip-39x60"}


def demo_names() -> list[str]:
    """All demo circuits, small ones first."""
    sizes = {path.stem: len(read_circuit(path)[0].parts) for path in NETLISTS.glob("*.yaml")}
    return sorted(sizes, key=lambda name: (sizes[name], name))


def demo_case(name: str, kind: str) -> Case:
    """A demo circuit on the catalogue's board of a kind."""
    return case_on(read_circuit(NETLISTS / f"{name}.yaml")[0], load_board(BOARDS[kind]), kind)
