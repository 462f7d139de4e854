"""One run of ``placer guide``: read a plan, judge it, look at what it bears, write its guide."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from placer.check.judge import judge
from placer.errors import Diagnostic, Exit, PlacerError
from placer.guide.paper import DEFAULT_PAPER
from placer.guide.write import write_guide
from placer.limits.find import find, recorded_otherwise
from placer.limits.voltage import refusals
from placer.plan.crop import Crop, crop
from placer.plan.file import read_plan
from placer.plan.model import Plan


@dataclass(frozen=True)
class Guided:
    """What was written, and of which plan: its findings are those found now."""

    plan: Plan
    files: tuple[Path, ...]
    warnings: tuple[Diagnostic, ...]
    crop: Crop | None = None


def make_guide(
    path: Path, out: Path | None = None, crop_margin: float | None = None, paper: str = DEFAULT_PAPER
) -> Guided:
    """Write the guide of a plan file into ``out``, its own folder where None is given.

    ``crop_margin``: mm to leave around what the plan uses when the board is sawn, None for no saw lines. What the file
    records of findings is not relied on: an older one holds none. Raises PlacerError for a file that cannot be read, a
    plan with faults (exit code FAULTS), a circuit that is refused and a folder that cannot be written.
    """
    plan = read_plan(path)
    faults = judge(plan).faults
    if faults:
        raise PlacerError(*faults, exit_code=Exit.FAULTS)
    refused = refusals(plan.circuit)
    if refused:
        raise PlacerError(*refused)
    findings = find(plan)
    warnings = recorded_otherwise(plan, findings)
    plan = replace(plan, findings=findings)
    sawn = None if crop_margin is None else crop(plan, crop_margin)
    return Guided(plan, tuple(write_guide(plan, out or path.parent, sawn, paper)), warnings, sawn)
