"""The steps: what they say suffices to build the circuit, in an order that can be built."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest

from placer.check.judge import judge
from placer.guide.step import KINDS, Step
from placer.guide.steps import build_steps
from placer.guide.values import farads, ohms
from placer.plan.conductors import CopperMap
from placer.plan.crop import crop
from tests.guide.built import ALL, OTHERS, built
from tests.guide.interpreter import follow, wanted

GOLDEN = Path(__file__).parent / "golden"


@pytest.mark.parametrize("name", OTHERS)
def test_the_plans_on_other_boards_are_good(name: str) -> None:
    assert [fault.message for fault in judge(built(name)).faults if not fault.code.startswith("score")] == []


@pytest.mark.parametrize("name", ALL)
def test_who_follows_the_texts_alone_builds_the_circuit(name: str) -> None:
    plan = built(name)
    made = follow((step.text for step in build_steps(plan)), plan.board, plan.circuit)
    assert made.nets(plan.circuit) == wanted(plan.circuit)
    assert {ref for ref, _ in made.leads} == set(plan.placements)
    assert made.ics == {ref for ref in plan.placements if plan.circuit.package_of(ref).shape == "dip"}


def test_a_wrong_word_in_a_text_shows() -> None:
    """The reader above is not blind: each lead told one hole further makes another circuit, or cannot be built."""
    plan = built("frost-alarm")
    copper = CopperMap(plan)
    texts = [step.text for step in build_steps(plan)]
    tried = 0
    for n, text in enumerate(texts):
        for found in re.finditer(r"into (\w+?)(\d+)\b", text):
            hole, further = found.group(1) + found.group(2), f"{found.group(1)}{int(found.group(2)) + 1}"
            if copper.conductor_at(hole) is copper.conductor_at(further):
                continue  # the same net: as good
            tried += 1
            wrong = (*texts[:n], f"{text[: found.start(1)]}{further}{text[found.end(2) :]}", *texts[n + 1 :])
            try:
                made = follow(wrong, plan.board, plan.circuit)
            except (AssertionError, KeyError):
                continue
            assert made.nets(plan.circuit) != wanted(plan.circuit), f"{hole} told as {further}"
    assert tried > 15


DIGITS = ["black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white"]
SMALL = {"gold": Fraction(1, 10), "silver": Fraction(1, 100), "pink": Fraction(1, 1000)}


def decoded(colours: list[str]) -> Fraction:
    """A resistor's value from its bands, the last of which is the tolerance (IEC 60062)."""
    *figures, multiplier, _ = colours
    number = int("".join(str(DIGITS.index(colour)) for colour in figures))
    return number * (SMALL[multiplier] if multiplier in SMALL else Fraction(10) ** DIGITS.index(multiplier))


@pytest.mark.parametrize("name", ALL)
def test_the_marks_told_are_those_of_the_values(name: str) -> None:
    plan = built(name)
    for step in build_steps(plan):
        if step.kind != "part":
            continue
        value = plan.circuit.part_by_ref[step.refs[0]].value
        for count, colours in re.findall(r"(\d) bands: ([a-z ]+)", step.text):
            assert len(colours.split()) == int(count)
            quantity = ohms(value)
            assert quantity is not None
            assert decoded(colours.split()) == quantity.amount
        if step.refs[0].startswith("R") and not step.refs[0].startswith("RV"):
            assert "bands: " in step.text
        if code := re.search(r"marked (\d\d)(\d)", step.text):
            power = -1 if code.group(2) == "9" else int(code.group(2))
            quantity = farads(value)
            assert quantity is not None
            assert int(code.group(1)) * Fraction(10) ** (power - 12) == quantity.amount


ORDER = ("saw", "cut", "jumper", "part", "bridge", "check", "ic")


@pytest.mark.parametrize("name", ALL)
def test_steps_come_in_the_order_of_soldering(name: str) -> None:
    """Board first, bare wire before insulated, low parts before tall ones, flying wires last, ICs after the tests."""
    plan = built(name)
    steps = build_steps(plan)
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))
    assert all(step.kind in KINDS for step in steps)
    kinds = ["part" if step.kind == "socket" else step.kind for step in steps]
    first_check = kinds.index("check")
    stages = [ORDER.index(kind) for kind in kinds[: first_check + 1]]
    assert stages == sorted(stages)
    assert set(kinds[first_check + 1 :]) <= {"ic", "check"}
    wires = [step for step in steps if step.kind == "jumper"]
    assert [step.wire for step in wires] == sorted(step.wire for step in wires)
    for kind in ("bare", "insulated"):
        spans = [step.span_mm or 0 for step in wires if step.wire == kind]
        assert all(a <= b + 1 for a, b in pairwise(spans))  # cut to whole mm
    flat = [step for step in steps if step.kind == "part" and step.mount == "flat"]
    heights = [plan.circuit.packages[step.package].height_mm for step in flat]
    assert heights == sorted(heights)


@pytest.mark.parametrize("name", ALL)
def test_every_step_says_what_to_look_at(name: str) -> None:
    for step in build_steps(built(name)):
        assert step.title
        assert step.check
        assert step.group
        if step.kind in ("jumper", "cut"):
            assert all(hole in step.check or step.kind == "cut" for hole in step.holes)
            assert "eter " in step.check


def test_a_board_to_saw_is_sawn_first() -> None:
    plan = built("frost-alarm")
    first = build_steps(plan, crop(plan))[0]
    assert first.kind == "saw"
    assert "Saw" in first.text
    assert build_steps(plan)[0].kind != "saw"


def test_a_cut_is_metered_from_side_to_side() -> None:
    """On long strips: drilled at D6, so from D5 to D7, and to the strips beside."""
    plan = built("gate-blinker-long-strip-16x20")
    cuts = {step.holes[0]: step for step in build_steps(plan) if step.kind == "cut"}
    assert "from D5 to D7: no connection" in cuts["D6"].check
    assert "D5 to C5" in cuts["D6"].check
    assert "D7 to E7" in cuts["D6"].check


def as_text(steps: tuple[Step, ...]) -> str:
    return "\n".join(f"{s.number}. {s.title}\n   {s.text}\n   Then: {s.check}" for s in steps) + "\n"


@pytest.mark.parametrize("name", ["gate-blinker-five-hole-30", "gate-blinker-long-strip-16x20"])
def test_the_words_are_those_that_were_read(name: str) -> None:
    """Read through once as a beginner would; set PLACER_UPDATE_GOLDEN=1 to write anew, then read again."""
    plan = built(name)
    text = as_text(build_steps(replace(plan)))
    path = GOLDEN / f"{name}-steps.txt"
    if os.environ.get("PLACER_UPDATE_GOLDEN"):
        path.write_text(text, encoding="utf-8")
    assert text == path.read_text(encoding="utf-8")
