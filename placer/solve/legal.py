"""What the clauses do not see to in the places that they propose: bodies off the axes, wishes of several parts."""

from __future__ import annotations

import itertools

from placer.solve.aims import missed
from placer.solve.arrays import Places
from placer.solve.problem import Problem
from placer.solve.touching import touches


def is_legal(p: Problem, places: Places) -> bool:
    """True when no two bodies meet and every binding wish is kept, as far as wires do not come into it."""
    shapes = [item.shapes[no] for item, (no, _) in zip(p.items, places, strict=True)]
    at = [(int(p.hx[anchor]), int(p.hy[anchor])) for _, anchor in places]
    pairs = itertools.combinations(range(len(places)), 2)
    if any(touches(shapes[i], shapes[j], at[j][0] - at[i][0], at[j][1] - at[i][1]) for i, j in pairs):
        return False
    return not any(missed(p, wish, places, ()) for wish in p.wishes)
