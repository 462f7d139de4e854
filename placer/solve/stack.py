"""Put clusters that were placed one by one onto the board, one beside the other."""

from __future__ import annotations

from collections.abc import Sequence

from placer.packages.model import STEP_UM
from placer.solve.arrays import Places, covered
from placer.solve.claims import Answer
from placer.solve.frame import Frame
from placer.solve.problem import Problem


class _Board:
    """What stands on the board so far."""

    def __init__(self, p: Problem) -> None:
        self.p = p
        self.net_at: dict[int, int] = {}  # hole -> net
        self.net_on: dict[int, int] = {}  # strip -> net
        self.under: set[int] = set()
        self.boxes: list[tuple[int, int, int, int]] = []
        self.places: dict[int, tuple[int, int]] = {}

    def try_all(self, placed: dict[int, tuple[int, int, int]], axis: int, shift: int) -> bool:
        """Add a cluster moved by ``shift`` lines; nothing changes when it does not fit."""
        p = self.p
        net_at: dict[int, int] = {}
        net_on: dict[int, int] = {}
        under: set[int] = set()
        boxes: list[tuple[int, int, int, int]] = []
        places: dict[int, tuple[int, int]] = {}
        for i, (no, line, across) in placed.items():
            item = p.items[i]
            shape = item.shapes[no]
            x, y = (across, line + shift) if axis else (line + shift, across)
            x, y = x + p.x0, y + p.y0
            anchor = p.hole(x, y)
            if anchor < 0 or anchor not in item.ways[no]:
                return False
            for k, (dx, dy) in enumerate(shape.offsets):
                h = p.hole(x + dx, y + dy)
                strip, n = int(p.hstrip[h]), item.nets[k]
                if h in self.net_at or h in net_at or h in self.under or h in under:
                    return False
                if self.net_on.get(strip, n) != n or net_on.get(strip, n) != n:
                    return False
                net_at[h] = n
                net_on[strip] = n
            hidden = {p.hole(x + dx, y + dy) for dx, dy in covered(shape)} - {-1}
            if hidden & (self.net_at.keys() | net_at.keys()):
                return False
            under |= hidden
            for x0, y0, x1, y1 in shape.boxes:
                box = (x * STEP_UM + x0, y * STEP_UM + y0, x * STEP_UM + x1, y * STEP_UM + y1)
                if any(_overlap(box, other) for other in self.boxes):
                    return False
                boxes.append(box)
            places[i] = (no, anchor)
        self.net_at |= net_at
        self.net_on |= net_on
        self.under |= under
        self.boxes += boxes
        self.places |= places
        return True


def _overlap(a: tuple[int, int, int, int], b: tuple[int, int, int, int]) -> bool:
    return a[0] < b[2] and a[2] > b[0] and a[1] < b[3] and a[3] > b[1]


def stack(p: Problem, built: Sequence[tuple[Frame, Answer]]) -> Places | None:
    """Places for all items from the clusters' own, the largest first; None when they do not fit side by side."""
    board = _Board(p)
    for seen, answer in sorted(built, key=lambda b: -len(b[1].places or ())):
        if not answer.possible or answer.places is None:
            return None
        axis = seen.axis
        lines = p.cell.shape[0 if axis else 1]
        low = min(line for _, line, _ in answer.places.values())
        if not any(board.try_all(answer.places, axis, shift - low) for shift in range(-lines, 2 * lines)):
            return None
    if len(board.places) < len(p.items):
        return None
    return tuple(board.places[i] for i in range(len(p.items)))
