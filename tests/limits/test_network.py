"""The most that runs through each piece of copper, against arithmetic and against plain enumeration."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from placer.boards.catalogue import load_board
from placer.circuit.model import PinRef
from placer.limits import laws
from placer.limits.network import JUMPER, METAL, STRIP, Flow, Load, Network, Piece, networks, worst_flow
from placer.plan.conductors import CopperMap
from placer.plan.model import Cut
from tests.check.plans import circuit_of, lantern, plan_of


def pin(number: int) -> PinRef:
    return PinRef("J1", str(number))


def chain(*ohms: float) -> Network:
    """Holes h0, h1, ... in a row, a pin in each."""
    pieces = tuple(Piece(STRIP, "S", (f"h{i}", f"h{i + 1}"), r, 0.035) for i, r in enumerate(ohms))
    return Network("V", pieces, {pin(i): f"h{i}" for i in range(len(ohms) + 1)})


def test_currents_add_up_towards_the_source() -> None:
    """Pins take 1, 2 and 3 A: 6, 5 and 3 A in the pieces; drops 6 x 1, + 5 x 2, + 3 x 4 = 28 mV."""
    most = {pin(0): 6.0, pin(1): 1.0, pin(2): 2.0, pin(3): 3.0}
    flow = worst_flow(chain(1e-3, 2e-3, 4e-3), Load(6.0, most, (pin(0),)))

    assert flow.pieces == pytest.approx((6.0, 5.0, 3.0))
    assert (flow.drop_v, flow.drop_from, flow.drop_to) == (pytest.approx(0.028), pin(0), pin(3))


def test_a_load_that_is_declared_caps_what_pins_could_take() -> None:
    """Each pin could take all 2 A: each piece may carry them; the last pin with all of them drops 14 mV."""
    most = {pin(i): 2.0 for i in range(4)}
    flow = worst_flow(chain(1e-3, 2e-3, 4e-3), Load(2.0, most, (pin(0),)))

    assert flow.pieces == pytest.approx((2.0, 2.0, 2.0))
    assert flow.drop_v == pytest.approx(0.014)


def test_what_carries_nothing_asks_for_nothing() -> None:
    """A capacitor at the end of the row."""
    most = {pin(0): 2.0, pin(1): 2.0, pin(2): 0.0}
    assert worst_flow(chain(1e-3, 1e-3), Load(2.0, most, (pin(0),))).pieces == pytest.approx((2.0, 0.0))


def test_a_source_in_the_middle_feeds_both_ways() -> None:
    most = {pin(0): 1.0, pin(1): 3.0, pin(2): 2.0}
    assert worst_flow(chain(1e-3, 1e-3), Load(3.0, most, (pin(1),))).pieces == pytest.approx((1.0, 2.0))


def test_where_nobody_knows_the_source_each_is_tried() -> None:
    most = {pin(0): 1.0, pin(1): 1.0, pin(2): 1.0}
    load = Load(1.0, most, tuple(most))
    assert worst_flow(chain(1e-3, 1e-3), load).pieces == pytest.approx((1.0, 1.0))


def test_two_ways_share_by_their_resistance() -> None:
    """A ring: 3 A from h0 to h1, directly over 1 mohm or over h2, 1 + 1 mohm: 2 A and 1 A; drop 2 mV."""
    ring = [("h0", "h1"), ("h1", "h2"), ("h2", "h0")]
    network = Network("V", tuple(Piece(STRIP, "S", ends, 1e-3, 0.035) for ends in ring), {pin(0): "h0", pin(1): "h1"})
    flow = worst_flow(network, Load(3.0, {pin(0): 3.0, pin(1): 3.0}, (pin(0),)))

    assert flow.pieces == pytest.approx((2.0, 1.0, 1.0))
    assert flow.drop_v == pytest.approx(0.002)


def test_two_pins_that_meet_on_no_copper_are_no_error() -> None:
    network = Network("V", (Piece(STRIP, "S", ("h0", "h1"), 1e-3, 0.035),), {pin(0): "h0", pin(1): "elsewhere"})
    assert worst_flow(network, Load(1.0, {pin(0): 1.0, pin(1): 1.0}, (pin(0),))).drop_v >= 0


def test_nothing_runs_in_a_net_without_copper_or_load() -> None:
    assert worst_flow(Network("V", (), {pin(0): "h0"}), Load(1.0, {pin(0): 1.0}, (pin(0),))) == Flow(())
    assert worst_flow(chain(1e-3), Load(0.0, {}, ())).pieces == (0.0,)


def brute(network: Network, load: Load) -> list[float]:
    """Every way in which pins take nothing, their most, or what is left, one after another; solved by least squares."""
    holes = sorted({hole for piece in network.pieces for hole in piece.ends})
    place = {hole: number for number, hole in enumerate(holes)}
    step = np.zeros((len(network.pieces), len(holes)))
    for row, piece in enumerate(network.pieces):
        step[row, place[piece.ends[0]]], step[row, place[piece.ends[1]]] = 1.0, -1.0
    siemens = np.diag([1 / piece.ohms for piece in network.pieces])
    worst = np.zeros(len(network.pieces))
    for source in load.sources:
        others = [one for one in network.holes if one != source]
        for order in itertools.permutations(others):
            for many in range(len(order) + 1):
                left, into = load.amps, np.zeros(len(holes))
                for one in order[:many]:
                    share = min(left, load.most[one])
                    left -= share
                    into[place[network.holes[one]]] -= share
                    into[place[network.holes[source]]] += share
                volts = np.linalg.lstsq(step.T @ siemens @ step, into, rcond=None)[0]
                worst = np.maximum(worst, np.abs(siemens @ step @ volts))
    return worst.tolist()


@given(st.data())
def test_the_worst_share_is_that_of_enumeration(data: st.DataObject) -> None:
    """Random copper of five holes, with loops or without, and four pins of random appetite."""
    tree = [(data.draw(st.integers(0, i - 1)), i) for i in range(1, 5)]
    extra = data.draw(
        st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4)).filter(lambda e: e[0] != e[1]), max_size=2)
    )
    pieces = tuple(
        Piece(STRIP, "S", (f"h{a}", f"h{b}"), data.draw(st.sampled_from([1e-3, 2e-3, 5e-3])), 0.035)
        for a, b in tree + extra
    )
    network = Network("V", pieces, {pin(i): f"h{i}" for i in range(4)})
    most = {one: data.draw(st.sampled_from([0.5, 1.0, 2.0])) for one in network.holes}
    load = Load(data.draw(st.sampled_from([1.0, 2.5])), most, (pin(0),))

    assert list(worst_flow(network, load).pieces) == pytest.approx(brute(network, load), abs=1e-6)


@given(st.floats(0.1, 5.0), st.floats(1.0, 3.0))
def test_more_current_never_runs_less(amps: float, factor: float) -> None:
    most = {pin(i): 10.0 for i in range(3)}
    one = worst_flow(chain(1e-3, 2e-3), Load(amps, most, (pin(0),)))
    more = worst_flow(chain(1e-3, 2e-3), Load(amps * factor, most, (pin(0),)))
    assert all(b >= a - 1e-9 for a, b in zip(one.pieces, more.pieces, strict=True))
    assert more.drop_v >= one.drop_v


# --- from a plan -----------------------------------------------------------------------------------------------------


def test_the_network_of_a_rail_and_a_wire() -> None:
    """Two strips of five holes and a wire between them: 4 + 4 pieces of copper, 1 of wire of its own length."""
    board = load_board("five-hole-30")
    circuit = circuit_of("hive", {"R1": "axial-0207", "R2": "axial-0207"}, {"A": "R1.1 R2.1", "B": "R1.2 R2.2"})
    plan = plan_of(circuit, board, {"R1": "a5 a9", "R2": "j5 j9"}, wires=(("A", "e5", "f5"), ("B", "e9", "f9")))
    net = networks(plan, CopperMap(plan))[0]

    assert sorted(piece.kind for piece in net.pieces) == [JUMPER, *[STRIP] * 8]
    wire = next(piece for piece in net.pieces if piece.kind == JUMPER)
    # e to f: 3 steps. AWG 24 at 50 C: 84.21 mohm/m x (1 + 0.00393 x 30).
    assert wire.ohms == pytest.approx(0.00762 * 0.08421 * (1 + 0.00393 * 30), rel=1e-3)
    copper = next(piece for piece in net.pieces if piece.kind == STRIP)
    # 2.0 mm of copper less a hole of 1.0 leaves 1.0 mm x 35 um.
    assert copper.area_mm2 == pytest.approx(0.035)
    assert copper.ohms == pytest.approx(1.77 * 0.4926e-3 * (1 + 0.00393 * 30), rel=1e-3)
    assert {str(one): hole for one, hole in net.holes.items()} == {"R1.1": "a5", "R2.1": "j5"}


def test_metal_inside_a_part_is_part_of_the_network() -> None:
    plan = lantern()
    kinds = {piece.kind for net in networks(plan, CopperMap(plan)) for piece in net.pieces}
    assert METAL in kinds


def test_severed_copper_carries_nothing() -> None:
    board = load_board("long-strip-24x37")
    circuit = circuit_of("hive", {"R1": "axial-0207", "R2": "axial-0207"}, {"A": "R1.1 R2.1", "B": "R1.2", "C": "R2.2"})
    plan = plan_of(circuit, board, {"R1": "C5 C9", "R2": "C3 C13"}, cuts=(Cut(at="C7"),))
    pieces = [piece for net in networks(plan, CopperMap(plan)) for piece in net.pieces]

    assert not [piece for piece in pieces if "C7" in piece.ends]
    assert laws.drilled_gap_mm(2.0, 2.5) == pytest.approx(1.5)
