"""Boards and frames on which every line of holes is one strip."""

from __future__ import annotations

import math
from collections.abc import Collection

import numpy as np

from placer.packages.model import STEP_UM
from placer.solve.frame import Frame
from placer.solve.lines import lines_of
from placer.solve.problem import Problem


def lies_in_lines(frame: Frame) -> bool:
    """True where every line of the frame is one strip."""
    lines = lines_of(frame.p)
    return lines is not None and lines.axis == frame.axis == 1 - direction(frame.p)


def direction(p: Problem) -> int:
    """0 where most holes of severable strips lie on strips that run in x, 1 where in y."""
    holes = [0, 0]
    for s in range(len(p.slen)):
        own = slice(p.sstart[s], p.sstart[s] + p.slen[s])
        if p.severable(s):
            for along, at in enumerate((p.hy, p.hx)):
                holes[along] += 0 if np.ptp(at[own]) else int(p.slen[s])
    return int(holes[1] > holes[0])


def places_beyond(p: Problem, along: int) -> int:
    """Places of the grid beyond the outermost holes, where a body that stays on the board can reach."""
    at = sorted(hole.y_mm if along else hole.x_mm for hole in p.board.holes.values())
    margins = (at[0], p.board.outline_mm[along] - at[-1])
    return sum(max(0, math.ceil(margin * 1000 / STEP_UM) - 1) for margin in margins)


def lines_of_strips(frame: Frame) -> dict[int, int]:
    """The line of the frame that each strip is."""
    return {int(s): line for line, row in enumerate(frame.strip_at) for s in np.unique(row[row >= 0])}


def straight_strips(frame: Frame, along: int, some: Collection[int]) -> set[int]:
    """Those strips of the frame of which all holes lie in one line along the strips, each beyond the one before."""
    p = frame.p
    across, column = (p.hx, p.hy) if along else (p.hy, p.hx)
    bent = set()
    for s in range(len(p.slen)):
        own = slice(p.sstart[s], p.sstart[s] + p.slen[s])
        steps = np.diff(column[own])
        if np.ptp(across[own]) or not ((steps > 0).all() or (steps < 0).all()):
            bent.add(s)
    return set(some) - {int(row[b]) for row in frame.shifts for b in bent}


def stands(frame: Frame, i: int) -> dict[tuple[int, ...], dict[int, list[int]]]:
    """For each set of strips of an item and each shape on them: the places of the anchor (by number) that allow it.

    The frame must lie in lines. It has room for all places of the anchor at once; the board itself ends with each of
    them at other lines, and a body may reach beyond the lines of its pins.
    """
    p, axis = frame.p, frame.axis
    line = p.hy if axis else p.hx
    strip_of = frame.strip_at.max(axis=1)
    found: dict[tuple[int, ...], dict[int, list[int]]] = {}
    for no, (shape, way) in enumerate(zip(p.items[i].shapes, p.items[i].ways, strict=True)):
        lines = np.unique(line[way])
        for t, move in enumerate(frame.moves):
            own = lines[lines == move] if i == frame.anchor and len(frame.moves) > 1 else lines
            for row in (own - move - frame.origin[0]).tolist():
                key = tuple(int(strip_of[row + o[axis]]) for o in shape.offsets)
                found.setdefault(key, {}).setdefault(no, []).append(t)
    return found
