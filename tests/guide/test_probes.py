"""The test sheet: it finds every single fault, passes a good board, and does so with few continuity lines."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import redirect_stdout
from dataclasses import replace
from itertools import combinations, pairwise

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from placer.boards.catalogue import load_board
from placer.guide import lists
from placer.guide.joints import Joints
from placer.guide.probes import build_probes
from placer.guide.step import PROBE_KINDS
from placer.plan.model import Plan
from tests.bench.coverage import main as coverage_command
from tests.guide.built import ALL, ROOT, built
from tests.guide.faults import Bench, alarms, coverage, sheet


@pytest.mark.parametrize("name", ALL)
def test_every_single_fault_is_found(name: str) -> None:
    """Missing jumpers, dry joints, leads and parts one hole off, missing and bridged cuts, bridged neighbours."""
    plan = built(name)
    told = coverage(plan, lists.tests_csv(build_probes(plan)))
    assert {kind: each.missed for kind, each in told.items() if each.missed} == {}
    assert told["dry joint"].found >= len(plan.placements)
    if name == "gate-blinker":  # where parts stand wide apart no two nets are neighbours
        assert told["neighbours bridged"].found > 0


@pytest.mark.parametrize("name", ALL)
def test_a_good_board_passes(name: str) -> None:
    plan = built(name)
    bench = Bench(plan)
    assert alarms(bench.good, sheet(bench, lists.tests_csv(build_probes(plan)))) == []


def test_the_faults_are_seen_without_the_lines_that_find_them() -> None:
    """The simulation is not blind: without continuity lines opens are missed, without the others shorts are."""
    plan = built("gate-blinker")
    probes = build_probes(plan)
    opens = coverage(plan, lists.tests_csv([probe for probe in probes if probe.kind != "continuity"]))
    assert opens["dry joint"].missed
    shorts = coverage(plan, lists.tests_csv([probe for probe in probes if probe.kind == "continuity"]))
    assert shorts["neighbours bridged"].missed


def test_the_command_prints_a_table() -> None:
    out = io.StringIO()
    with redirect_stdout(out):
        assert coverage_command([str(ROOT / "outputs" / "hive-lantern" / "plan.json")]) == 0
    lines = len(build_probes(built("hive-lantern")))
    assert f"| hive-lantern | {lines} | 0 |" in out.getvalue()
    assert "100.0 %" in out.getvalue()


@pytest.mark.parametrize("name", ALL)
def test_continuity_takes_half_as_many_lines_as_there_are_leads(name: str) -> None:
    """Each lead of a net must be touched, and a line touches two: no sheet can do with fewer lines than this."""
    plan = built(name)
    lines = [probe for probe in build_probes(plan) if probe.kind == "continuity"]
    metals: dict[str, set[str]] = {}
    bench = Bench(plan)
    for net in plan.circuit.nets:
        ends = {str(bench.metal(pin.part, pin.pin)) for pin in net.pins}
        metals[net.name] = ends if len(ends) > 1 else set()
    # Pins that a part joins inside are one piece of metal with two joints, and need not be touched.
    through = [pin for net in plan.circuit.nets for pin in net.pins if plan.circuit.package_of(pin.part).joined]
    assert len(lines) <= sum((len(ends) + 1) // 2 for ends in metals.values())
    if not through:
        assert len(lines) == sum((len(ends) + 1) // 2 for ends in metals.values())


@pytest.mark.parametrize("name", ALL)
def test_lines_are_complete(name: str) -> None:
    plan = built(name)
    probes = build_probes(plan)
    assert [probe.number for probe in probes] == list(range(1, len(probes) + 1))
    kinds = [PROBE_KINDS.index("continuity") if probe.kind == "continuity" else 1 for probe in probes]
    assert kinds == sorted(kinds)
    for probe in probes:
        assert probe.kind in PROBE_KINDS
        assert {probe.from_hole, probe.to_hole} <= set(plan.board.holes)
        assert probe.from_hole != probe.to_hole
        assert probe.expect
        assert probe.finds
    supplies = [net.name for net in plan.circuit.nets if net.role in ("supply", "ground")]
    told = {frozenset((probe.net, probe.other)) for probe in probes if probe.kind != "continuity"}
    assert {frozenset(pair) for pair in combinations(supplies, 2)} <= told


def test_every_resistor_has_a_line() -> None:
    plan = built("hum-amplifier")
    told = [{probe.net, probe.other} for probe in build_probes(plan) if probe.kind == "resistance"]
    for part in plan.circuit.parts:
        if part.package == "axial-0207":
            assert {net.name for net in plan.circuit.nets for pin in net.pins if pin.part == part.ref} in told


# --- the fewest probes ----------------------------------------------------------------------------------------------


@st.composite
def trees(draw: st.DrawFn) -> Plan:
    """A plan whose one net is a random tree of strips and jumpers on lone strips, with leads where there is room."""
    count = draw(st.integers(1, 6))
    parents = [draw(st.integers(0, n - 1)) for n in range(1, count)]
    leads = [draw(st.integers(1, 3)) for _ in range(count)]
    return _tree_plan(parents, leads)


def _tree_plan(parents: list[int], leads: list[int]) -> Plan:
    from placer.circuit.model import Circuit, Net, Part, PinRef
    from placer.packages.catalogue import lookup
    from placer.plan.model import Jumper, Placement

    board = load_board(f"long-strip-{len(leads)}x14")
    free: list[Iterator[str]] = [iter(strip.holes) for strip in board.strips]
    jumpers = tuple(
        Jumper("HUM", next(free[child]), next(free[parent]), 2.54) for child, parent in enumerate(parents, 1)
    )
    places = [next(free[strip]) for strip, number in enumerate(leads) for _ in range(number)]
    package = lookup("pad-1")
    refs = [f"P{n}" for n in range(len(places))]
    circuit = Circuit(
        "tree",
        tuple(Part(ref, "pad-1") for ref in refs),
        (Net("HUM", tuple(PinRef(ref, "1") for ref in refs)),),
        {"pad-1": package},
    )
    placements = {ref: Placement(ref, "pad-1", "flat", {"1": hole}) for ref, hole in zip(refs, places, strict=True)}
    return replace(built("hive-lantern"), circuit=circuit, board=board, placements=placements, jumpers=jumpers, cuts=())


@given(trees())
def test_the_fewest_lines_prove_every_joint_of_any_tree(plan: Plan) -> None:
    """Each joint and jumper lies on the way of a line, and the lines are half as many as the leads, rounded up."""
    graph = nx.Graph()
    for ref, placement in plan.placements.items():
        graph.add_edge(ref, ("strip", plan.board.strip_of[placement.pins["1"]].name))
    for n, jumper in enumerate(plan.jumpers):
        for hole in (jumper.start, jumper.end):
            graph.add_edge(("wire", n), ("strip", plan.board.strip_of[hole].name))
    lines = list(Joints(plan).paths())
    if len(plan.placements) < 2:
        assert lines == []
        return
    proved: set[frozenset[object]] = set()
    for line in lines:
        assert line.start.pin is not None
        assert line.end.pin is not None
        way = nx.shortest_path(graph, line.start.pin.part, line.end.pin.part)
        proved |= {frozenset(edge) for edge in pairwise(way)}
    assert proved == {frozenset(edge) for edge in graph.edges}
    assert len(lines) == (len(plan.placements) + 1) // 2
