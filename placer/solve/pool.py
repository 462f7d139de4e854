"""The conflicts known so far, found again quickly."""

from __future__ import annotations

from collections.abc import Iterator

from placer.solve.claims import Pin
from placer.solve.proposal import Conflict


class Pool:
    """Conflicts in the order in which they came. A conflict is kept once."""

    def __init__(self) -> None:
        self.every: list[Conflict] = []
        self._known: set[Conflict] = set()
        self._by_pair: dict[tuple[Pin, Pin] | None, list[Conflict]] = {}

    def __len__(self) -> int:
        return len(self.every)

    def __iter__(self) -> Iterator[Conflict]:
        return iter(self.every)

    def add(self, conflict: Conflict) -> None:
        """Take a conflict in."""
        if conflict not in self._known:
            self._known.add(conflict)
            self.every.append(conflict)
            self._by_pair.setdefault(min(conflict.pairs, default=None), []).append(conflict)

    def since(self, count: int) -> list[Conflict]:
        """Those that came after the first so many."""
        return self.every[count:]

    def within(self, claimed: Conflict) -> bool:
        """True when what is claimed (all of it at once) has a conflict in it."""
        for pair in (None, *claimed.pairs):
            for c in self._by_pair.get(pair, ()):
                if (
                    c.pairs <= claimed.pairs
                    and c.several <= claimed.several
                    and c.long <= claimed.long
                    and c.on <= claimed.on
                    and c.apart <= claimed.apart
                    and c.unhelped <= claimed.unhelped
                ):
                    return True
        return False
