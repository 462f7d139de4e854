"""Which parts a conflict is copied to, and what a theory says where it has not looked at everything."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import pytest

from placer.circuit.model import Circuit, Net, Part, PinRef
from placer.packages.model import TwoLead
from placer.plan.model import Options
from placer.solve.claims import Answer, Claim, Copies, Spare
from placer.solve.frame import frame, pick_anchor
from placer.solve.problem import Problem, build
from placer.solve.proposal import Proposal
from placer.solve.prover import Prover
from placer.solve.sharing import SharingTheory
from tests.solve.cases import board_of, package
from tests.solve.kinds import case

BEADS = TwoLead((1, 2), (), 2.0, 2.0)


def problem(nets: dict[str, str], *, joined: str = "") -> Problem:
    """Two-lead parts on strips of five holes; ``nets``: name -> pins; ``joined``: parts whose leads are one."""
    pins = {name: tuple(PinRef(*pin.split(".")) for pin in own.split()) for name, own in nets.items()}
    refs = sorted({pin.part for own in pins.values() for pin in own})
    packages = {"plain": package("plain", BEADS, 2), "bead": package("bead", BEADS, 2, joined=(("1", "2"),))}
    parts = tuple(Part(ref, "bead" if ref in joined.split() else "plain") for ref in refs)
    board = board_of([[(x, 5 * y + k) for k in range(5)] for y in range(3) for x in range(8)])
    circuit = Circuit("trial", parts, tuple(Net(name, tuple(sorted(own))) for name, own in pins.items()), packages)
    return build(circuit, board, Options())


def images(p: Problem, claim: Claim) -> set[frozenset[str]]:
    """The parts that a conflict is copied to."""
    return {frozenset(p.items[j].ref for j, _ in of.values()) for of in Copies(p).of(claim)}


@pytest.mark.parametrize(("joined", "expected"), [("", {"A", "B"}), ("B", {"A"})])
def test_what_needs_a_wire_is_not_said_of_a_part_that_joins_its_pins(joined: str, expected: set[str]) -> None:
    p = problem({"N": "A.1 A.2 C.1", "M": "B.1 B.2 C.2"}, joined=joined)
    at = [item.ref for item in p.items]
    i = at.index("A")
    assert p.like[i] == p.like[at.index("B")]
    found = images(p, Claim(frozenset([i]), (), wired=frozenset([p.net_names.index("N")])))
    assert {ref for own in found for ref in own} == expected


def test_holes_to_spare_are_not_said_of_a_net_with_more_pins_elsewhere() -> None:
    """A pin elsewhere, alone on its strip of five, leaves a net two holes more than its wires take."""
    p = problem({"N": "A.1 B.1 X.1", "M": "C.1 D.1 X.2", "L": "E.1 F.1 Y.1 Y.2"})
    at = {item.ref: i for i, item in enumerate(p.items)}
    group = frozenset([(at["A"], 0), (at["B"], 0)])
    claim = Claim(frozenset([at["A"], at["B"]]), (group,), spare=frozenset([Spare(p.net_names.index("N"), 0, -2, 3)]))
    found = images(p, claim)
    assert frozenset("CD") in found
    assert not any(own <= set("EFY") for own in found)
    assert any(own <= set("EFY") for own in images(p, replace(claim, spare=frozenset())))


def test_clusters_that_were_not_looked_at_are_not_left_out_of_the_count(monkeypatch: pytest.MonkeyPatch) -> None:
    """One of the clusters was forbidden while the proposal was on its way; the others alone are short of holes."""
    names = "ABCDEFGHIJKL"
    p = problem({"N": " ".join(f"{ref}.1" for ref in names) + " X.1", "M": "X.2 Y.1", "L": "Y.2 Z.1"})
    seen = frame(p, pick_anchor(p))
    assert seen is not None
    theory = SharingTheory(p, seen, lambda: False)
    at = {item.ref: i for i, item in enumerate(p.items)}
    strip = {(i, k): 100 + 10 * i + k for i, item in enumerate(p.items) for k in range(len(item.pins))}
    for number, four in enumerate(("ABCD", "EFGH", "IJKL")):
        strip |= {(at[ref], 0): number for ref in four}
    proposal = Proposal(strip, frozenset([p.net_names.index("N")]))
    ask = theory._ask
    gone: list[Claim] = []

    def asked(claim: Claim, level: int, _near: object) -> Answer:
        if at["X"] in claim.items:
            gone.append(claim)
            return Answer(False)
        return ask(claim, level, None)

    def refute(_claim: Claim, _near: object) -> Iterator[None]:
        """Nothing is learned of it."""
        yield None

    monkeypatch.setattr(theory, "_ask", asked)
    monkeypatch.setattr(theory, "_refute", refute)
    verdict = [one for one in theory.look(proposal) if one is not None][-1]
    assert gone
    assert not theory.conflicts.every
    assert not verdict.refuted
    assert verdict.asserted is not None
    assert verdict.places is None


def test_where_no_empty_strip_ever_helps_a_proof_ends() -> None:
    """Strips of two holes: what a net of three pins lacks there no empty strip gives, however often that is said."""
    drawn, truth = case("uncut", 607)
    assert max(len(strip.holes) for strip in drawn.board.strips) == 2
    proof = Prover(build(drawn.circuit, drawn.board, drawn.options), 0, lambda: False)
    for _ in range(100):
        finding = proof.advance(1.0, math.inf)
        if finding.ended:
            break
    assert finding.ended
    assert finding.impossible or truth.cost is not None
    assert truth.cost is None or finding.bound <= truth.cost
