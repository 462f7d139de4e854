"""The guide on screen: one page that holds everything it needs, for a browser without a network.

The drawings are the same as in the files, with an id, a class and data attributes on all that a page wants to find.
Text from the circuit is escaped by the template engine; the page forbids every script and style but its own.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator, Mapping
from importlib import resources
from typing import Any

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from placer.circuit.rails import role_of
from placer.guide.marks import marks_of
from placer.guide.picture import picture_of
from placer.guide.scene import Scene
from placer.guide.step import Guide, Step
from placer.guide.svg import number, write_svg
from placer.plan.file import checksum, plan_to_data
from placer.plan.findings import Finding, gist
from placer.plan.model import Plan

_SECTIONS = (
    ("steps", "Steps"),
    ("parts", "Parts"),
    ("jumpers", "Jumpers"),
    ("cuts", "Cuts"),
    ("tests", "Tests"),
    ("power", "Power-up"),
    ("findings", "Limits"),
    ("cautions", "Cautions"),
)


def guide_html(plan: Plan, guide: Guide, scenes: Mapping[str, Scene]) -> str:
    """The guide as one HTML document. ``scenes``: the two drawings of the plan, "board" and "copper"."""
    style, script = _file("guide.css"), _file("guide.js")
    lists = {"jumpers": guide.wires, "cuts": guide.cuts, "findings": guide.findings}
    empty = {name for name, rows in lists.items() if not rows}
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    return environment.from_string(_file("guide.html.j2")).render(
        guide=guide,
        sections=[(name, title) for name, title in _SECTIONS if name not in empty],
        nets=plan.circuit.nets,
        abouts=[sorted(marks_of(step)) for step in guide.steps],
        keys=list(_step_keys(guide.steps)),
        over=[caution for caution in guide.cautions if caution.kind == "limit" and caution.where == "start"],
        findings_gist=gist(guide.findings),
        pointers=[list(_pointers(plan, finding)) for finding in guide.findings],
        placed={ref: list(placement.pins.values()) for ref, placement in plan.placements.items()},
        strip_mm=max((wire.strip_mm for wire in guide.wires), default=0.0),
        drawings=[_drawing(side, scene) for side, scene in scenes.items()],
        data={"plan": plan_key(plan), "nets": _nets(plan)},
        style=Markup(style),  # noqa: S704 - our own file, not text from a circuit
        script=Markup(script),  # noqa: S704 - as above
        style_hash=_digest(style),
        script_hash=_digest(script),
    )


def plan_key(plan: Plan) -> str:
    """What tells the marks of one plan from those of another: what is built, not how it was found."""
    data = plan_to_data(plan)
    told = ("score", "proof", "solve", "options", "findings")
    return checksum({key: value for key, value in data.items() if key not in told})


def _step_keys(steps: tuple[Step, ...]) -> Iterator[str]:
    """A name for each step's mark that outlasts another order of the steps."""
    for step in steps:
        yield f"{step.kind}:{step.number_in_kind or '+'.join(step.refs) or step.title}"


def _pointers(plan: Plan, finding: Finding) -> Iterator[dict[str, Any]]:
    """What of a finding can be shown on the board: its nets, parts, jumpers, pins and holes.

    A name that may mean two things (part D6, hole D6) is left to the message: nothing wrong is to be shown.
    """
    nets = {net.name for net in plan.circuit.nets}
    pins = {f"{ref}.{pin}": hole for ref, placed in plan.placements.items() for pin, hole in placed.pins.items()}
    wires = {f"jumper {number}": (number, wire) for number, wire in enumerate(plan.jumpers, 1)}
    for name in finding.where:
        if sum(name in names for names in (nets, plan.placements, wires, pins, plan.board.holes)) != 1:
            continue
        if name in nets:
            yield {"net": name}
        elif name in plan.placements:
            holes = list(plan.placements[name].pins.values())
            yield {"label": name, "holes": holes, "marks": [["ref", name]]}
        elif name in wires:
            number, wire = wires[name]
            yield {"label": name, "holes": [wire.start, wire.end], "marks": [["jumper", str(number)]]}
        else:
            yield {"label": name, "holes": [pins.get(name, name)], "marks": []}


def _drawing(side: str, scene: Scene) -> dict[str, Any]:
    picture = picture_of(scene)
    svg = write_svg(picture.scene, prefix=f"{side}-", window=picture.window).partition("\n")[2]
    _, _, width, height = picture.window
    # The writer of drawings escapes text itself.
    found = Markup(svg)  # noqa: S704 - as above
    return {"side": side, "svg": found, "title": scene.title, "width": number(width), "height": number(height)}


def _nets(plan: Plan) -> dict[str, str]:
    """What a traced net joins, in words."""
    found = {}
    for net in plan.circuit.nets:
        pins = [
            f"{pin.part}.{pin.pin} in {plan.placements[pin.part].pins[pin.pin]}"
            for pin in net.pins
            if pin.part in plan.placements and pin.pin in plan.placements[pin.part].pins
        ]
        role = f" ({role_of(net)})" if role_of(net) != "signal" else ""
        found[net.name] = f"Net {net.name}{role}: {', '.join(pins)}"
    return found


def _file(name: str) -> str:
    return resources.files("placer.guide").joinpath("page", name).read_text(encoding="utf-8")


def _digest(text: str) -> str:
    """A digest as a Content-Security-Policy names an inline script or style."""
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
