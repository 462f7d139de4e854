"""Things on lines as far to the left as they can be, and the holes that are then free for wire ends."""

from __future__ import annotations

from collections import deque
from collections.abc import Hashable, Iterable, Mapping
from typing import TypeVar

Node = TypeVar("Node", bound=Hashable)
MOST_CHAINS = 12  # of things that do not fit, handed on at once


def pack(
    first: Mapping[Node, int], last: Mapping[Node, int], steps: Iterable[tuple[Node, Node, int]]
) -> dict[Node, int] | list[list[tuple[Node, Node, int]]]:
    """A column for each thing, none before its ``first``; or chains of steps, each too long for its end's ``last``.

    ``steps``: (one, other, columns that the other is beyond it at least). A chain may also be a circle.
    """
    after: dict[Node, list[tuple[Node, int]]] = {}
    for one, other, columns in steps:
        after.setdefault(one, []).append((other, columns))
    at = dict(first)
    came: dict[Node, tuple[Node, int]] = {}
    queue, waiting = deque(at), set(at)
    too_far: dict[Node, None] = {}
    while queue and len(too_far) < MOST_CHAINS:
        node = queue.popleft()
        waiting.discard(node)
        for other, columns in after.get(node, ()):
            if at[node] + columns <= at[other] or other in too_far:
                continue
            at[other] = at[node] + columns
            came[other] = (node, columns)
            if at[other] > last[other]:
                too_far[other] = None
            elif other not in waiting:
                queue.append(other)
                waiting.add(other)
    return [_chain(node, came) for node in too_far] if too_far else at


def _chain(node: Node, came: Mapping[Node, tuple[Node, int]]) -> list[tuple[Node, Node, int]]:
    """The steps that brought a thing where it is."""
    chain = []
    seen = {node}
    while node in came:
        before, columns = came[node]
        chain.append((before, node, columns))
        node = before
        if node in seen:
            break
        seen.add(node)
    return chain


class Rows:
    """Which holes of lines are taken. ``gap``: from a hole to one of another net on its line."""

    def __init__(self, holes: int, gap: int) -> None:
        self.holes, self.gap = holes, gap
        self._taken: dict[int, dict[int, int]] = {}  # line -> column -> net of the pin there, -1 under a body

    def take(self, line: int, column: int, net: int) -> None:
        """A pin of a net is in a hole; or a body hides it (-1)."""
        row = self._taken.setdefault(line, {})
        row[column] = max(net, row.get(column, -1))

    def free(self, net: int, line: int, column: int) -> list[int]:
        """Columns of free holes with no pin of another net between them and a pin of this one."""
        row = self._taken.get(line, {})
        found = []
        for way in (-1, 1):
            c = column + way
            while 0 <= c < self.holes and row.get(c, net) in (net, -1):
                beyond = (row.get(c + way * d, net) for d in range(1, self.gap))
                if c not in row and all(other in (net, -1) for other in beyond):
                    found.append(c)
                c += way
        return found
