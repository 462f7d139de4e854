"""A plan file spoiled anywhere at random is refused with diagnostics or judged; nothing else may happen."""

from __future__ import annotations

import copy
import random
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from placer.check.against import judge_against
from placer.check.judge import judge
from placer.errors import Diagnostic, PlacerError
from placer.plan.file import plan_from_data, plan_to_data
from placer.plan.readback import readback
from tests.check.plans import lantern, scale

GOOD = [plan_to_data(plan) for plan in (lantern(), scale())]
SCALARS: tuple[Any, ...] = (
    *(None, True, 0, 1, -1, 1.5, 1e308, 10**400, [], {}, ["a1", "a1"]),
    *("", "a1", "C11", "R1", "U1.1", "GND", "flat", "\x00", "µ" * 300),
)


def spoil(dice: random.Random, data: Any) -> Any:
    """Replace, remove, rename or add something at a random place, most often near the top."""
    here, path = data, 0
    while isinstance(here, dict | list) and here:
        keys = list(here) if isinstance(here, dict) else list(range(len(here)))
        key = dice.choice(keys)
        path += 1
        if not (isinstance(here[key], dict | list) and here[key]) or dice.random() < 0.15 * (path > 1):
            deed = dice.choice(("replace", "replace", "replace", "remove", "add", "swap"))
            if deed == "replace":
                here[key] = copy.deepcopy(dice.choice(SCALARS))
            elif deed == "remove":
                del here[key]
            elif deed == "swap":
                other = dice.choice(keys)
                here[key], here[other] = here[other], here[key]
            elif isinstance(here, dict):
                here[dice.choice(("x", "1", "a1", "R99"))] = copy.deepcopy(dice.choice((here[key], *SCALARS)))
            else:
                here.append(copy.deepcopy(dice.choice((here[key], *SCALARS))))
            return data
        here = here[key]
    return data


def judged(data: dict[str, Any]) -> tuple[Diagnostic, ...] | None:
    """The faults of a plan file's data; None where they are refused."""
    try:
        plan = plan_from_data(data, "hive.json")
    except PlacerError as error:
        told = error.diagnostics
    else:
        readback(plan)
        judge_against(plan, lantern().circuit, lantern().board)
        return judge(plan).faults
    assert told
    return None


def what_is_built(data: dict[str, Any]) -> tuple[object, ...]:
    """What of a plan's data a builder would see."""
    return (
        data["circuit"],
        data["board"],
        data["placements"],
        data["score"],
        sorted((sorted((wire["from"], wire["to"])), wire["net"]) for wire in data["jumpers"]),
        sorted(sorted((cut.get("at") or "", *(cut.get("between") or ()))) for cut in data["cuts"]),
    )


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.integers(0, 10**9), st.sampled_from(GOOD), st.integers(1, 3))
def test_a_spoiled_file_is_refused_or_judged_never_a_traceback(seed: int, good: dict[str, Any], times: int) -> None:
    dice = random.Random(seed)
    data = copy.deepcopy(good)
    for _ in range(times):
        spoil(dice, data)
    faults = judged(data)

    if faults == () and data != good:
        # Only what a verdict cannot depend on may differ unseen: how the plan was found, its bound, its options, the
        # order of cuts and jumpers, which end of a wire comes first.
        assert what_is_built(data) == what_is_built(good)


def test_spoiled_files_are_both_refused_and_judged() -> None:
    """The property above means something: it meets files refused, files judged faulty and files let through."""
    dice = random.Random(4)
    answers = {True: 0, False: 0, None: 0}
    for number in range(80):
        data = copy.deepcopy(GOOD[number % 2])
        spoil(dice, data)
        faults = judged(data)
        answers[None if faults is None else bool(faults)] += 1

    assert min(answers.values()) > 0, answers
