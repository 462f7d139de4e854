"""Two strips change places with all that stands on them."""

from __future__ import annotations

from pathlib import Path

import pytest

from placer.boards.catalogue import load_board
from placer.circuit.read_yaml import read_circuit
from placer.plan.model import Options
from placer.solve import polish
from placer.solve.arrays import Places
from placer.solve.exchange import exchanges
from placer.solve.problem import Problem, build
from placer.solve.store import Store
from tests.solve.engine import faults

CIRCUIT = """\
circuit: swapped
parts:
  J1: {package: terminal-2}
  R1: {package: axial-0207, value: 10k}
  R2: {package: axial-0207, value: 10k}
nets:
  VCC: {pins: [J1.1, R1.1], role: supply, volts: 5}
  GND: {pins: [J1.2, R2.1], role: ground}
  OUT: {pins: [R1.2, R2.2]}
"""
# VCC on the rail marked -, GND on that marked +; J1 has no lead on either.
WRONG = {"J1": ("c2", "c4"), "R1": ("L-8", "d8"), "R2": ("L+12", "d12")}
RIGHT = {"J1": ("c2", "c4"), "R1": ("L+8", "d8"), "R2": ("L-12", "d12")}


def problem(tmp_path: Path, *, habits: bool = True) -> Problem:
    path = tmp_path / "circuit.yaml"
    path.write_text(CIRCUIT, encoding="utf-8")
    circuit, _ = read_circuit(path)
    return build(circuit, load_board("five-hole-30"), Options(allow_cuts=False, habits=habits))


def places_at(p: Problem, holes: dict[str, tuple[str, ...]]) -> Places:
    """The places at which all pins are in the holes given."""
    found = []
    for item in p.items:
        wanted = [p.addresses.index(hole) for hole in holes[item.ref]]
        for s, shape in enumerate(item.shapes):
            x, y = p.hx[wanted[0]] - shape.offsets[0][0], p.hy[wanted[0]] - shape.offsets[0][1]
            if [p.hole(int(x) + dx, int(y) + dy) for dx, dy in shape.offsets] == wanted:
                found.append((s, p.hole(int(x), int(y))))
                break
    assert len(found) == len(p.items)
    return tuple(found)


def holes_of(p: Problem, places: Places) -> dict[str, tuple[str, ...]]:
    found = {}
    for item, (s, a) in zip(p.items, places, strict=True):
        x, y = int(p.hx[a]), int(p.hy[a])
        found[item.ref] = tuple(p.addresses[p.hole(x + dx, y + dy)] for dx, dy in item.shapes[s].offsets)
    return found


def test_all_on_two_rails_changes_and_nothing_else(tmp_path: Path) -> None:
    p = problem(tmp_path)
    found = [holes_of(p, swapped) for swapped in exchanges(p, places_at(p, WRONG))]
    assert found == [RIGHT], "to the other side no resistor reaches"


def test_where_nothing_is_on_a_rail_nothing_changes(tmp_path: Path) -> None:
    p = problem(tmp_path)
    assert not list(exchanges(p, places_at(p, {"J1": ("c2", "c4"), "R1": ("c8", "c12"), "R2": ("c16", "c20")})))


@pytest.mark.parametrize("habits", [True, False])
def test_polishing_exchanges_for_the_sake_of_signs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, habits: bool
) -> None:
    monkeypatch.setattr(polish, "STEPS", ())
    monkeypatch.setattr(polish, "LIKING_STEPS", ())
    monkeypatch.setattr(polish, "TIGHTEN_PROPOSALS", 1)
    p = problem(tmp_path, habits=habits)
    store = Store(p, faults, None)
    assert store.offer(places_at(p, WRONG), "start")
    before = store.rank
    polish.polish(store, 1, 1, lambda: False, None)
    assert store.places is not None
    assert store.rank[0] == before[0]
    assert (holes_of(p, store.places) == RIGHT) is habits
    assert (store.rank[1] < before[1]) is habits
