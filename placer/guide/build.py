"""From a plan to its guide: the one call that pages and files are made from."""

from __future__ import annotations

from placer.circuit.model import Part
from placer.guide import words
from placer.guide.cautions import build_cautions
from placer.guide.powerup import power_steps
from placer.guide.probes import TOUCH, build_probes
from placer.guide.step import Guide, PartGroup, Summary
from placer.guide.steps import build_steps
from placer.guide.wire import cut_places, wire_pieces
from placer.plan.area import used_area
from placer.plan.conductors import natural_key
from placer.plan.crop import Crop
from placer.plan.findings import in_order
from placer.plan.model import Plan


def build_guide(plan: Plan, crop: Crop | None = None) -> Guide:
    """The whole guide of a plan without faults. ``crop``: where to saw the board down; None for not at all."""
    return Guide(
        _summary(plan),
        build_steps(plan, crop),
        build_cautions(plan),
        build_probes(plan),
        power_steps(plan),
        part_groups(plan),
        wire_pieces(plan),
        cut_places(plan),
        TOUCH,
        _tools(plan, crop),
        tuple(in_order(plan.findings)),
    )


def _summary(plan: Plan) -> Summary:
    area = used_area(plan)
    score, proof = plan.score, plan.proof
    return Summary(
        plan.circuit.name,
        plan.circuit.about,
        plan.board.name,
        plan.board.about,
        len(plan.placements),
        score.jumpers,
        score.cuts,
        score.bridges,
        score.cost,
        proof.lower_bound,
        proof.status == "optimal",
        (area.columns, area.rows),
        score.jumper_mm,
    )


def part_groups(plan: Plan) -> tuple[PartGroup, ...]:
    """Equal parts together, to buy; a socket for each IC among them. In the order of references."""
    circuit = plan.circuit
    groups: dict[tuple[str, str, str], list[Part]] = {}
    for part in sorted(circuit.parts, key=lambda part: natural_key(part.ref)):
        kind = words.noun(part, circuit.packages[part.package])
        groups.setdefault((part.value, part.package, kind), []).append(part)
    found = [_group(plan, parts) for parts in groups.values()]
    sockets: dict[str, list[str]] = {}
    for ref in sorted(plan.placements, key=natural_key):
        if words.socketed(circuit.package_of(ref)):
            sockets.setdefault(circuit.package_of(ref).name, []).append(ref)
    found += [PartGroup("socket", name, "IC socket", len(refs), tuple(refs)) for name, refs in sockets.items()]
    return tuple(found)


def _group(plan: Plan, parts: list[Part]) -> PartGroup:
    first, package = parts[0], plan.circuit.packages[parts[0].package]
    four, five = words.colours(first, package)
    refs = tuple(part.ref for part in parts)
    about = words.noun(first, package)
    return PartGroup(first.value, package.name, about, len(parts), refs, four or five, words.marking(first, package))


def _tools(plan: Plan, crop: Crop | None) -> tuple[str, ...]:
    found = ["soldering iron and stand", "solder with flux", "side cutters", "meter", "glasses"]
    found += ["wire stripper"] if plan.jumpers else []
    found += ["drill bit"] if any(cut.at is not None for cut in plan.cuts) else []
    found += ["sharp knife"] if any(cut.between is not None for cut in plan.cuts) else []
    found += ["fine saw", "file", "dust mask"] if crop is not None and crop.lines else []
    return (*found, "supply with a current limit")
