"""Arguments and options that several commands take, and what they mean together."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated, Optional

import typer

Crop = Annotated[bool, typer.Option("--crop", help="Say and draw where to saw the board down to what is used.")]
Margin = Annotated[
    Optional[float],  # noqa: UP045 - evaluated at run time, on any Python that typer knows
    typer.Option(min=0, max=100, help="With --crop: mm to leave around holes and bodies in use. Default: 2.54."),
]


def crop_margin_of(crop: bool, margin: float | None) -> float | None:
    """The margin to saw with, None for no sawing."""
    if margin is not None and not crop:
        raise typer.BadParameter("--margin says how much to leave when the board is sawn down: give --crop as well")
    if not crop or margin is not None:
        return margin
    from placer.plan.crop import MARGIN_MM

    return MARGIN_MM


PartsMap = Annotated[
    Optional[Path],  # noqa: UP045
    typer.Option("--parts", metavar="MAP", help="The parts map of a netlist: which package is which element or model."),
]
AllowOutside = Annotated[
    bool, typer.Option("--allow-outside", help="A netlist may include files that lie outside its own folder.")
]


class Format(StrEnum):
    """The formats that a netlist is written in."""

    SPICE = "spice"
    EDIF = "edif"
    CSV = "csv"
    YAML = "yaml"


class PaperName(StrEnum):
    """The sizes that ``--paper`` takes."""

    A4 = "a4"
    LETTER = "letter"


Paper = Annotated[PaperName, typer.Option(help="The paper size of guide.pdf.")]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON object on stdout.")]
