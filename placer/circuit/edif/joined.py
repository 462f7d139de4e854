"""Things that are joined step by step, and which of them ended up together."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Generic, TypeVar

T = TypeVar("T")


class DisjointSets(Generic[T]):
    """Sets that are joined two at a time."""

    def __init__(self) -> None:
        self._parent: dict[T, T] = {}

    def join(self, first: T, second: T) -> None:
        """Put two things, and all that is joined to either, into one set."""
        one, other = self._find(first), self._find(second)
        if one != other:
            self._parent[other] = one

    def root(self, item: T) -> T | None:
        """Return what stands for the set of a thing, None for a thing that was never joined."""
        return self._find(item) if item in self._parent else None

    def roots(self) -> Iterator[tuple[T, T]]:
        """Yield every thing with what stands for its set."""
        for item in tuple(self._parent):
            yield item, self._find(item)

    def _find(self, item: T) -> T:
        self._parent.setdefault(item, item)
        root = item
        while self._parent[root] != root:
            root = self._parent[root]
        while self._parent[item] != root:
            self._parent[item], item = root, self._parent[item]
        return root
