"""A good plan with bridges, made by hand: two headers on a board of lone pads."""

from __future__ import annotations

from dataclasses import replace

from placer.boards.catalogue import load_board
from placer.plan.model import Bridge, Plan, Proof, Score
from tests.check.plans import circuit_of, plan_of

CIRCUIT = circuit_of("hive-link", {"H1": "header-2", "H2": "header-2"}, {"A": "H1.1 H2.1", "B": "H1.2 H2.2"})


def bridged(plan: Plan, *bridges: tuple[str, str, str]) -> Plan:
    """The plan with these bridges (net and two holes) and a score to match."""
    o = plan.options
    made = tuple(Bridge(net, (a, b)) for net, a, b in bridges)
    cost = len(plan.jumpers) * o.jumper_cost + len(plan.cuts) * o.cut_cost + len(made) * o.bridge_cost
    score = Score(len(plan.jumpers), len(plan.cuts), sum(j.length_mm for j in plan.jumpers), cost, len(made))
    return replace(plan, bridges=made, score=score, proof=Proof("feasible", 0.0, cost))


def bare() -> Plan:
    """The headers two steps apart, nothing joined."""
    return plan_of(CIRCUIT, load_board("single-pad-6x5"), {"H1": "a2 a3", "H2": "c2 c3"})


LINKS = (("A", "a2", "b2"), ("A", "b2", "c2"), ("B", "a3", "b3"), ("B", "b3", "c3"))


def link() -> Plan:
    """The headers joined pin to pin by two bridges each."""
    return bridged(bare(), *LINKS)
