"""What can be wrong with a package, as data that the caller can tie to a place in its own file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from placer.errors import Diagnostic, PlacerError


@dataclass(frozen=True)
class PackageFault:
    """One fault. ``loc``: the path in the package's data (keys and list places), () for the package as a whole."""

    loc: tuple[str | int, ...]
    message: str
    help: str = ""


class PackageError(PlacerError):
    """A package that cannot be used; ``faults`` lists every fault that was found, one diagnostic each."""

    def __init__(self, name: str, faults: Sequence[PackageFault]) -> None:
        self.name = name
        self.faults = tuple(faults)
        super().__init__(*(_diagnostic(name, fault) for fault in self.faults))


def _diagnostic(name: str, fault: PackageFault) -> Diagnostic:
    path = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in fault.loc).lstrip(".")
    where = f"package {name}, {path}" if path else f"package {name}"
    return Diagnostic("bad-package", f"{where}: {fault.message}", fault.help)
