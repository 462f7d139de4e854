"""Parts that join two of their own nets wherever they stand."""

from __future__ import annotations

import itertools

import numpy as np

from placer.circuit.model import Part, Region
from placer.errors import Diagnostic
from placer.solve.problem import Bools, Item, Problem

SHORTS_ITSELF = "part-shorts-itself"


def shorted(p: Problem) -> Diagnostic | None:
    """Name a part of which every place puts pins of two nets on one strip that is not cut.

    Nothing is said where there are wishes that may be the cause: other checks tell which of them.
    """
    if any(isinstance(wish, Region) or wish.force.binding for wish in p.circuit.wishes.shared):
        return None
    whole = np.array([not p.severable(strip) for strip in range(len(p.slen))])
    for item in p.items:
        part = p.circuit.part_by_ref[item.ref]
        if part.place.free and not _stands_apart(p, item, whole):
            return _told(p, part)
    return None


def _stands_apart(p: Problem, item: Item, whole: Bools) -> bool:
    for shape, way in zip(item.shapes, item.ways, strict=True):
        good = np.ones(len(way), dtype=bool)
        at = [p.hstrip[p.cell[p.hy[way] + dy - p.y0, p.hx[way] + dx - p.x0]] for dx, dy in shape.offsets]
        for (a, one), (b, other) in itertools.combinations(zip(item.nets, at, strict=True), 2):
            if a != b:
                good &= (one != other) | ~whole[one]
        if good.any():
            return True
    return False


def _told(p: Problem, part: Part) -> Diagnostic:
    cuts = any((strip.cut.at_hole or strip.cut.between) and strip.is_path for strip in p.board.strips)
    may_cut = cuts and not p.options.allow_cuts
    return Diagnostic(
        SHORTS_ITSELF,
        f"wherever {part.ref} ({part.package}) stands on board {p.board.name}, a strip joins two of its pins that "
        "belong to different nets",
        f"{'Allow cuts (--cuts), or choose' if may_cut else 'Choose'} another board or package, or let it stand off "
        "the board, on wires (place: {flying: true}).",
    )
