"""Writes drawings, lists and tests of a plan into a folder."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from placer.errors import Diagnostic, PlacerError
from placer.files import replace_file
from placer.guide import lists
from placer.guide.build import build_guide
from placer.guide.drawing import plan_scenes
from placer.guide.netfile import ipc_netlist
from placer.guide.paper import DEFAULT_PAPER
from placer.guide.svg import write_svg
from placer.plan.crop import Crop
from placer.plan.model import Plan


def guide_files(plan: Plan, crop: Crop | None = None, paper: str = DEFAULT_PAPER) -> Mapping[str, str | bytes]:
    """Every file of a plan's guide by name: text (UTF-8) or bytes. A pure function of what it is given.

    ``paper``: the size of the PDF's pages, a key of :data:`placer.guide.paper.PAPERS`.
    """
    # Page and PDF need libraries that only they need, and no command waits for them before it writes.
    from placer.guide.html import guide_html
    from placer.guide.pdf import guide_pdf

    guide = build_guide(plan, crop)
    scenes = plan_scenes(plan, crop)
    files: dict[str, str | bytes] = {
        "guide.html": guide_html(plan, guide, scenes),
        "guide.pdf": guide_pdf(plan, guide, scenes, paper),
        **{f"{side}.svg": write_svg(scene) for side, scene in scenes.items()},
        "parts.csv": lists.parts_csv(guide.parts),
        "placements.csv": lists.placements_csv(plan),
        "jumpers.csv": lists.jumpers_csv(guide.wires),
        "wire.csv": lists.wire_csv(guide.wires),
        "cuts.csv": lists.cuts_csv(guide.cuts),
        "tests.csv": lists.tests_csv(guide.probes),
        "tests.ipc": ipc_netlist(plan),
    }
    if plan.bridges:
        files["bridges.csv"] = lists.bridges_csv(plan)
    return files


def write_guide(plan: Plan, folder: Path, crop: Crop | None = None, paper: str = DEFAULT_PAPER) -> list[Path]:
    """Write the guide, drawings, lists and tests of a plan (:func:`guide_files`); return their paths.

    ``crop``: where to saw the board down, drawn on both sides; None draws no saw lines. The folder is made when
    missing. All is made before the first file is touched, and each file appears whole or not at all. Raises
    PlacerError when the folder cannot be written.
    """
    files = guide_files(plan, crop, paper)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return [replace_file(folder / name, content) for name, content in files.items()]
    except OSError as err:
        message = f"{folder}: cannot be written ({err.strerror or err})"
        raise PlacerError(Diagnostic("folder-not-writable", message, "choose a folder that you may write to")) from err
