"""Why a plan has each of its jumpers and cuts: reasons as data, and the words for them. No search in here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

LOCAL, COUNTING, ELSEWHERE = "local", "counting", "elsewhere"
"""A few parts cannot stand otherwise; counting forbids it; neither was found: doing without it costs elsewhere."""


@dataclass(frozen=True)
class Fact:
    """One of several things that cannot all be.

    ``kind``: "share" (pins on one piece of copper; ``strip`` "short": on one short strip), "apart" (two pins on
    different strips), "wire-end" (net ``net``, in several pieces, has a free hole for a wire on each of its strips
    here), "on" (pin ``pins[0]`` on ``strip``), "taken" (``strip`` belongs to net ``net``), "stands" (``part`` is on
    the board).
    """

    kind: str
    pins: tuple[str, ...] = ()
    strip: str = ""
    net: str = ""
    part: str = ""

    def to_data(self) -> dict[str, Any]:
        """As data, what does not apply left out."""
        every = {"kind": self.kind, "pins": list(self.pins), "strip": self.strip, "net": self.net, "part": self.part}
        return {key: value for key, value in every.items() if value}

    def words(self) -> str:
        """As a clause."""
        if self.kind == "share":
            return f"{listed(self.pins)} share one {'short strip' if self.strip else 'piece of copper'}"
        if self.kind == "apart":
            return f"{listed(self.pins)} are on different strips"
        if self.kind == "wire-end":
            return f"each strip of {self.net} keeps a hole for a wire"
        if self.kind == "on":
            return f"{self.pins[0]} is on {self.strip}"
        if self.kind == "stands":
            return f"{self.part} is on the board"
        return f"{self.strip} belongs to {self.net}"


@dataclass(frozen=True)
class Reason:
    """Why the plan has one jumper or cut.

    ``what``: "jumper" or "cut"; ``number`` counts from 1 as the drawings do; ``where``: two holes, or the one drilled
    out; ``nets``: the jumper's net, or the nets on both sides of the cut. ``cannot_all``: sets of things that
    cannot all be, wherever on the board the parts stand; for pins that cannot be joined, a set for each way in which
    they might (a short strip, each long one). ``smallest``: whatever is dropped from a set, the rest can be, as far as
    these parts are concerned.
    """

    what: str
    number: int
    where: tuple[str, ...]
    nets: tuple[str, ...]
    kind: str
    text: str
    parts: tuple[str, ...] = ()
    cannot_all: tuple[tuple[Fact, ...], ...] = ()
    smallest: bool | None = None

    @property
    def proved(self) -> bool:
        """True when the reason holds for every plan of this circuit on this board."""
        return self.kind in (LOCAL, COUNTING)

    def to_data(self) -> dict[str, Any]:
        """As data."""
        found: dict[str, Any] = {
            "what": self.what,
            "number": self.number,
            "where": list(self.where),
            "nets": list(self.nets),
            "kind": self.kind,
            "proved": self.proved,
            "text": self.text,
            "parts": list(self.parts),
        }
        if self.cannot_all:
            found["cannot_all"] = [[fact.to_data() for fact in facts] for facts in self.cannot_all]
            found["smallest"] = self.smallest
        return found


@dataclass(frozen=True)
class Explanation:
    """The reasons of a plan: every jumper, then every cut. ``complete``: the time sufficed to look at all of them."""

    reasons: tuple[Reason, ...]
    seconds: float
    complete: bool

    def to_data(self) -> dict[str, Any]:
        """As data."""
        return {
            "complete": self.complete,
            "seconds": round(self.seconds, 3),
            "reasons": [reason.to_data() for reason in self.reasons],
        }

    def lines(self) -> list[str]:
        """In words, a line for each jumper and cut; cuts (or jumpers) with the same words take one line."""
        told: dict[tuple[str, str], list[Reason]] = {}
        for reason in self.reasons:
            told.setdefault((reason.what, reason.text), []).append(reason)
        found = []
        for (what, text), some in told.items():
            head = f"{what}{'s' if len(some) > 1 else ''} {_numbers([r.number for r in some])}"
            where = f" ({' to '.join(some[0].where)})" if len(some) == 1 else ""
            found.append(f"{head}{where}: {text}")
        if not self.complete:
            found.append("the time for explaining ran out; with more, more local reasons may be found")
        return found


def _numbers(numbers: Sequence[int]) -> str:
    runs: list[list[int]] = []
    for n in numbers:
        if runs and n == runs[-1][1] + 1:
            runs[-1][1] = n
        else:
            runs.append([n, n])
    return ", ".join(str(a) if a == b else f"{a} to {b}" for a, b in runs)


def listed(words: Sequence[str], most: int = 6, last: str = "and") -> str:
    """Words with commas and an "and" (or another last word); long lists are shortened."""
    some = list(words)
    if len(some) > most:
        some = [*some[: most - 1], f"{len(some) - most + 1} more"]
    return some[0] if len(some) == 1 else f"{', '.join(some[:-1])} {last} {some[-1]}"
