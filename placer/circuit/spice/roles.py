"""Which nets are supplies: those that a source of direct voltage, and of nothing else, holds against ground."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from placer.circuit.raw import NetFacts, RawCell
from placer.circuit.values import evaluate, spice_number


def supplies(top: RawCell, ground: Collection[str]) -> Mapping[str, NetFacts]:
    """Return role and volts of the supply nets of the top cell, by name in lower case. A guess that changes no plan."""
    facts: dict[str, NetFacts] = {}
    for element in top.elements:
        if element.kind != "V" or element.model or set(element.params) - {"dc", "value"}:
            continue
        volts = spice_number(element.value)
        if volts is None:
            volts = evaluate(element.value, top.params)
        plus, minus = (node.lower() for node in element.nodes)
        if volts is None or volts == 0 or abs(volts) > 1e6 or (plus in ground) == (minus in ground):
            continue
        if minus in ground:
            facts.setdefault(plus, NetFacts("supply", volts))
        else:
            facts.setdefault(minus, NetFacts("supply", -volts))
    return facts
