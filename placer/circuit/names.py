"""Names from other programs, made fit for lists and drawings, and unique."""

from __future__ import annotations

import re

from placer.circuit.problems import MAX_NAME

# Controls, format characters, blanks, surrogates and what YAML cannot hold.
_STEERING = r"\x7f-\x9f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufeff\ufffe\uffff"
_UNFIT = re.compile(rf"[\x00-\x20\xa0{_STEERING}]+")
_UNFIT_TEXT = re.compile(rf"[\x00-\x1f{_STEERING}]+")


class NameBook:
    """Hands out names, each once."""

    def __init__(self) -> None:
        self._taken: set[str] = set()
        self._next: dict[str, int] = {}

    def take(self, name: str) -> str:
        """Return ``name``, cleaned and shortened where needed, with a number where it is taken already."""
        fit = _UNFIT.sub("_", name) or "_"
        if len(fit) > MAX_NAME:
            fit = f"{fit[: MAX_NAME // 2 - 9]}..{fit[-(MAX_NAME // 2 - 1) :]}"
        found = fit
        while found in self._taken:
            # Counting goes on where it stopped, so that many equal names take no longer each.
            number = self._next[fit] = self._next.get(fit, 1) + 1
            found = f"{fit}_{number}"
        self._taken.add(found)
        return found

    @staticmethod
    def fit(text: str, longest: int = MAX_NAME) -> str:
        """Return a text (a value, a remark) without control characters, one line, not longer than ``longest``."""
        plain = " ".join(_UNFIT_TEXT.sub(" ", text).split(" ")).strip()
        plain = re.sub(r" {2,}", " ", plain)
        return plain if len(plain) <= longest else plain[: longest - 3].rstrip() + "..."
