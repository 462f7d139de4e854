"""Leads against holes, and terminals off the grid: the published arithmetic and what a user is told."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from placer.boards.catalogue import load_board
from placer.circuit.read_yaml import read_circuit
from placer.circuit.write_yaml import circuit_from_data, circuit_to_data
from placer.errors import PlacerError
from placer.packages.catalogue import lookup
from placer.packages.fit import arithmetic, enters, most_poles, needed_mm, on_wires, poles_table
from placer.packages.model import Flying
from placer.packages.rules import package_faults
from placer.packages.show import describe
from placer.plan.model import Options
from placer.solve.problem import build

# floor(1 + (H - d) / 0.08) for a terminal of 5.00 mm pitch with its body centred, worked in decimals.
TABLE = {
    "1.0": (3, 2, 1, 0, 0),
    "1.1": (4, 3, 2, 1, 0),
    "1.2": (6, 4, 3, 2, 1),
    "1.3": (7, 6, 4, 3, 2),
    "1.5": (9, 8, 7, 6, 4),
}


@pytest.mark.parametrize("hole", TABLE)
def test_poles_of_5_00_in_holes_5_08_apart(hole: str) -> None:
    assert tuple(most_poles(hole, lead) for lead in ("0.8", "0.9", "1.0", "1.1", "1.2")) == TABLE[hole]


@pytest.mark.parametrize(("poles", "off_mm"), [(2, 0.08), (3, 0.16), (4, 0.24), (6, 0.40), (8, 0.56), (12, 0.88)])
def test_how_far_a_terminal_is_off_end_to_end(poles: int, off_mm: float) -> None:
    """0.08 x (k - 1)."""
    assert lookup(f"terminal-{poles}-5.0").spread_mm == pytest.approx(off_mm)


@given(st.integers(2, 12), st.sampled_from(["1.0", "1.1", "1.2", "1.3", "1.5"]))
def test_the_catalogue_and_the_formula_agree(poles: int, hole: str) -> None:
    assert enters(lookup(f"terminal-{poles}-5.0"), float(hole)) == (poles <= most_poles(hole, "0.9"))


@pytest.mark.parametrize(
    ("package", "hole", "fits"),
    [
        # Diagonals: 0.64 square 0.905; 0.56 x 0.36 0.666; 0.81 x 0.50 0.952 (tight); 3.50 on a diagonal 0.9 + 0.092.
        ("header-4", 1.0, True),
        ("dip-8", 0.8, True),
        ("to-220", 1.0, True),
        ("to-220", 0.9, False),
        ("terminal-2-3.5", 1.0, True),
        ("terminal-2-3.5", 0.95, False),
        ("do-41", 0.86, True),
    ],
)
def test_leads_and_holes(package: str, hole: float, fits: bool) -> None:
    assert enters(lookup(package), hole) is fits


def test_the_arithmetic_is_told() -> None:
    assert arithmetic(lookup("terminal-3-5.0"), 1.0) == (
        "leads 0.9 mm + 0.16 mm off the grid end to end = 1.06 mm, holes 1 mm"
    )
    assert arithmetic(lookup("header-2"), 0.8) == "leads 0.905 mm, holes 0.8 mm"
    assert needed_mm(lookup("terminal-3-5.0")) == pytest.approx(1.06)
    assert "2 in 1.0 mm" in poles_table(0.9)
    assert "6 in 1.3 mm" in poles_table(0.9)


def test_placer_parts_tells_it_too() -> None:
    rows = [text for label, text in describe(lookup("terminal-6-5.0")) if label == "fit"]
    assert "6 in 1.3 mm" in rows[0]
    assert rows[1].startswith("not on the grid: leads 0.9 mm + 0.4 mm")
    assert not [label for label, _ in describe(lookup("terminal-6")) if label == "fit"]


TEXT = """\
circuit: hive-lid
parts:
  J1: {package: terminal-6-5.0%s}
  R1: {package: axial-0207, value: 1k}
nets:
  A: [J1.1, R1.1]
  B: [J1.6, R1.2]
"""


def test_what_does_not_fit_is_refused_with_the_arithmetic_and_wired_when_the_user_agrees() -> None:
    board = load_board("five-hole-30")
    circuit, _ = read_circuit(Path("lid.yaml"), text=TEXT % "")
    with pytest.raises(PlacerError) as caught:
        build(circuit, board, Options())
    (said,) = caught.value.diagnostics
    assert said.code == "lead-too-thick"
    assert "J1 (terminal-6-5.0)" in said.message
    assert "0.9 mm + 0.4 mm off the grid end to end = 1.3 mm, holes 1 mm" in said.message
    assert "2 in 1.0 mm" in said.message
    assert "flying: true" in said.help

    wired, _ = read_circuit(Path("lid.yaml"), text=TEXT % ", place: {flying: true}")
    assert len(build(wired, board, Options()).items) == 7  # six wires and a resistor
    assert wired.part_by_ref["J1"].package == "terminal-6-5.0-on-wires"
    assert circuit_from_data(circuit_to_data(wired)) == wired


def test_one_part_on_wires_leaves_others_of_its_package_on_the_grid() -> None:
    text = "circuit: c\nparts:\n  J1: {package: terminal-2, place: {flying: true}}\n  J2: {package: terminal-2}\n"
    circuit, _ = read_circuit(Path("lid.yaml"), text=text + "nets: {A: [J1.1, J2.1], B: [J1.2, J2.2]}\n")
    assert [part.package for part in circuit.parts] == ["terminal-2-on-wires", "terminal-2"]
    assert set(circuit.packages) == {"terminal-2-on-wires", "terminal-2"}


@pytest.mark.parametrize("name", ["terminal-8-5.0", "led-5", "dip-14", "relay", "button-6", "barrel-jack"])
def test_any_package_can_be_on_wires(name: str) -> None:
    package = lookup(name)
    wired = on_wires(package)
    assert isinstance(wired.form, Flying)
    assert (wired.pins, wired.pin_names, wired.joined) == (package.pins, package.pin_names, package.joined)
    assert package_faults(wired) == []
    assert on_wires(wired) == wired
