"""ngspice finds the operating point that arithmetic expects, and a wrong connection shifts it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.circuits.test_demo_circuits import load
from tests.truth.benches import CASES, Case
from tests.truth.netlist import from_circuit, swapped
from tests.truth.spice import differences, elements, operating_point
from tests.truth.test_lvs import reordered

pytestmark = pytest.mark.outside
by_case = pytest.mark.parametrize("case", CASES, ids=lambda c: "-".join(filter(None, (c.circuit, c.about))))


def test_at_least_four_circuits_are_simulated() -> None:
    assert len({case.circuit for case in CASES}) >= 4


@by_case
def test_the_operating_point_is_what_arithmetic_expects(case: Case, tmp_path: Path) -> None:
    volts = operating_point(from_circuit(load(case.circuit)), case.bench, tmp_path / "op.cir")
    seen = {pin: volts[pin] for pin, _, _ in case.expected}
    assert all(least <= seen[pin] <= most for pin, least, most in case.expected), seen


@by_case
def test_the_same_circuit_in_another_order_has_the_same_operating_point(case: Case, tmp_path: Path) -> None:
    netlist = from_circuit(load(case.circuit))
    other = dict(reversed(list(netlist.items())))
    source = operating_point(netlist, case.bench, tmp_path / "source.cir")
    copper = operating_point(other, case.bench, tmp_path / "copper.cir")
    assert (tmp_path / "source.cir").read_text() != (tmp_path / "copper.cir").read_text()
    assert differences(source, copper) == []


@by_case
def test_a_wrong_connection_shifts_the_operating_point(case: Case, tmp_path: Path) -> None:
    netlist = from_circuit(load(case.circuit))
    source = operating_point(netlist, case.bench, tmp_path / "source.cir")
    copper = operating_point(swapped(netlist, *case.mistake), case.bench, tmp_path / "copper.cir")
    assert differences(source, copper) != []


def test_a_part_without_a_model_is_refused() -> None:
    with pytest.raises(KeyError, match="no model for crystal"):
        elements("Y1", "crystal-hc49", "crystal", str)


def test_reordering_keeps_every_part() -> None:
    netlist = from_circuit(load("hive-lantern"))
    assert reordered(netlist, 3).keys() == netlist.keys()


# The astable is left out: it never rests in its direct-current solution.
@pytest.mark.parametrize(
    "case", [c for c in CASES if c.circuit != "varroa-reminder"], ids=lambda c: c.circuit + c.about
)
def test_electrolytics_stand_the_right_way_round_in_operation(case: Case, tmp_path: Path) -> None:
    netlist = from_circuit(load(case.circuit))
    volts = operating_point(netlist, case.bench, tmp_path / "op.cir")
    cans = [ref for ref, device in netlist.items() if device.package.startswith("radial")]
    assert all(volts[f"{ref}.1"] >= volts[f"{ref}.2"] - 1e-3 for ref in cans), {r: volts[f"{r}.1"] for r in cans}
