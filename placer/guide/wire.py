"""What wire the jumpers take, and what the cuts part. Both keep the numbers of the drawing everywhere.

The allowances are common practice, no source: 5 mm at each end go through the board (1.6), are soldered and clipped;
insulated wire gets 5 mm more, for it seldom lies quite straight.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from placer.guide.step import CutPlace, WirePiece
from placer.plan.conductors import CopperMap
from placer.plan.links import links
from placer.plan.model import Cut, Plan

END_MM = 5.0
SLACK_MM = 5.0
SPOOL_MM = 1000.0  # a short spool; wire is cut from it longest piece first


def wire_pieces(plan: Plan) -> tuple[WirePiece, ...]:
    """A piece for each jumper, in the order of building: bare before insulated, short before long."""
    pieces: list[WirePiece] = []
    for number, (jumper, link) in enumerate(zip(plan.jumpers, links(plan), strict=True), 1):
        slack = 0.0 if link.bare else SLACK_MM
        piece = float(math.ceil(round(jumper.length_mm + 2 * END_MM + slack, 6)))
        strip = 0.0 if link.bare else END_MM
        pieces.append(
            WirePiece(
                number, jumper.net, jumper.start, jumper.end, link.wire, jumper.length_mm, piece, strip, link.reason
            )
        )
    spools = {kind: _spools([p for p in pieces if p.wire == kind]) for kind in ("bare", "insulated")}
    pieces = [replace(piece, spool=spools[piece.wire][piece.number]) for piece in pieces]
    return tuple(sorted(pieces, key=lambda piece: (piece.wire != "bare", piece.piece_mm, piece.number)))


def _spools(pieces: list[WirePiece]) -> dict[int, int]:
    """Which spool each piece comes from, by jumper number: the longest first, from the first spool with enough left."""
    left: list[float] = []
    found = {}
    for piece in sorted(pieces, key=lambda piece: (-piece.piece_mm, piece.number)):
        spool = next((number for number, rest in enumerate(left) if rest >= piece.piece_mm), len(left))
        if spool == len(left):
            left.append(SPOOL_MM)
        left[spool] -= piece.piece_mm
        found[piece.number] = spool + 1
    return found


def cut_places(plan: Plan) -> tuple[CutPlace, ...]:
    """Each cut with its holes and the nets of the copper on its two sides."""
    copper = CopperMap(plan)
    net_of = plan.circuit.net_of
    found = []
    for number, cut in enumerate(plan.cuts, 1):
        sides = cut_sides(plan, cut)
        conductors = [copper.conductor_at(hole) if hole else None for hole in sides]
        nets = ["/".join(sorted({net_of[p] for p in c.pins if p in net_of})) if c else "" for c in conductors]
        holes = (cut.at,) if cut.at is not None else tuple(cut.between or ())
        found.append(CutPlace(number, "drill" if cut.at is not None else "knife", holes, (nets[0], nets[1])))
    return tuple(found)


def cut_sides(plan: Plan, cut: Cut) -> tuple[str, str]:
    """A hole with copper on either side of a cut, "" where the copper ends there."""
    if cut.between is not None:
        return cut.between
    if cut.at is None or cut.at not in plan.board.strip_of:
        return "", ""
    drilled = {other.at for other in plan.cuts}
    beside = [hole for hole in _linked(plan, cut.at) if hole not in drilled]
    order = plan.board.strip_of[cut.at].holes.index
    before = [hole for hole in beside if order(hole) < order(cut.at)]
    after = [hole for hole in beside if order(hole) > order(cut.at)]
    return (before or [""])[0], (after or [""])[0]


def _linked(plan: Plan, hole: str) -> Iterator[str]:
    for first, second in plan.board.strip_of[hole].links:
        if hole in (first, second):
            yield second if hole == first else first
