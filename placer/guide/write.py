"""Writes drawings and lists of a plan into a folder."""

from __future__ import annotations

from pathlib import Path

from placer.errors import Diagnostic, PlacerError
from placer.files import replace_file
from placer.guide.drawing import plan_svg
from placer.guide.lists import bridges_csv, cuts_csv, jumpers_csv, parts_csv
from placer.plan.crop import Crop
from placer.plan.model import Plan


def write_guide(plan: Plan, folder: Path, crop: Crop | None = None) -> list[Path]:
    """Write ``board.svg``, ``copper.svg``, ``parts.csv``, ``jumpers.csv`` and ``cuts.csv``; return their paths.

    ``bridges.csv`` comes with them where the plan has bridges. ``crop``: where to saw the board down, drawn on both
    sides; None draws no saw lines. The folder is made when missing. All is drawn before the first file is touched, and
    each file appears whole or not at all. Raises PlacerError when the folder cannot be written.
    """
    texts = {
        "board.svg": plan_svg(plan, crop=crop),
        "copper.svg": plan_svg(plan, copper_side=True, crop=crop),
        "parts.csv": parts_csv(plan),
        "jumpers.csv": jumpers_csv(plan),
        "cuts.csv": cuts_csv(plan),
    }
    if plan.bridges:
        texts["bridges.csv"] = bridges_csv(plan)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return [replace_file(folder / name, text) for name, text in texts.items()]
    except OSError as err:
        message = f"{folder}: cannot be written ({err.strerror or err})"
        raise PlacerError(Diagnostic("folder-not-writable", message, "choose a folder that you may write to")) from err
