"""What of the drawing a step is about, in the words that the drawing marks things with."""

from __future__ import annotations

from placer.guide.step import Step

Mark = tuple[str, str]
"""A word and a value: ``("ref", "R1")``, ``("jumper", "3")``, ``("cut", "1")``, ``("bridge", "2")``."""

WORDS = ("ref", "jumper", "cut", "bridge")
COPPER_KINDS = ("cut", "bridge")
"""Kinds of steps that are done on the copper side."""


def marks_of(step: Step) -> frozenset[Mark]:
    """What a step is about: its wire, cut or bridge, else its parts."""
    if step.kind in WORDS:
        return frozenset({(step.kind, str(step.number_in_kind))})
    return frozenset(("ref", ref) for ref in step.refs)
