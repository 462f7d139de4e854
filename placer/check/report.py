"""What the judge says: faults and warnings, as data."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from placer.circuit.model import PinRef
from placer.errors import Diagnostic


@dataclass(frozen=True)
class Report:
    """Everything that is wrong with a plan (``faults``) or doubtful in it (``warnings``), in a fixed order."""

    faults: tuple[Diagnostic, ...]
    warnings: tuple[Diagnostic, ...]

    @property
    def passed(self) -> bool:
        """True when the plan has no fault."""
        return not self.faults

    @staticmethod
    def of(diagnostics: Iterable[Diagnostic]) -> Report:
        """Sort diagnostics into faults and warnings, each said once, order kept."""
        said = tuple(dict.fromkeys(diagnostics))
        return Report(
            tuple(item for item in said if item.severity != "warning"),
            tuple(item for item in said if item.severity == "warning"),
        )


def fault(code: str, message: str, cure: str = "") -> Diagnostic:
    """A fault: the plan must not be built as it is."""
    return Diagnostic(code, message, cure)


def warning(code: str, message: str, cure: str = "") -> Diagnostic:
    """A warning: the plan works, but something in it is doubtful or wasteful."""
    return Diagnostic(code, message, cure, severity="warning")


def listed(names: Iterable[object]) -> str:
    """Names as a reader wants them: ``a``, ``a and b``, ``a, b and c``."""
    words = [str(name) for name in names]
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)


def pins_with_holes(pins: Iterable[PinRef], hole_of: Mapping[PinRef, str]) -> str:
    """Pins with the holes they stand in: ``R1.1 (c4) and U1.8 (e9)``."""
    return listed(f"{pin} ({hole_of[pin]})" if pin in hole_of else str(pin) for pin in pins)
