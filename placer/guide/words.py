"""What a part is called at the bench, how it turns, and where its leads are found."""

from __future__ import annotations

import re
from collections.abc import Mapping

from placer.boards.model import Board
from placer.circuit.model import Part
from placer.guide.codes import both_bands, capacitor_code, spelled
from placer.guide.step import Band
from placer.guide.values import farads, ohms
from placer.packages.model import Package, Rigid, TwoLead

_REGULATOR = re.compile(r"(?:78|79)[LM]?\d\d\b|LM317|LM337|regulator", re.IGNORECASE)
_MOSFET = re.compile(r"MOS|IRF|IRL|2N7000|BS170", re.IGNORECASE)
_BY_SHAPE = {
    "can": "capacitor",
    "crystal": "crystal",
    "button": "push button",
    "trimmer": "trimmer",
    "relay": "relay",
    "led": "LED",
    "terminal": "screw terminal",
    "header": "pin header",
    "flying": "wires",
    "inline": "part with its pins in one row",
    "box": "part",
}
_EDGES = {(1, 0): "right", (-1, 0): "left", (0, 1): "bottom", (0, -1): "top"}


def letters(ref: str) -> str:
    """The class letters of a reference designator: ``LED`` of ``LED12``."""
    found = re.match(r"[A-Za-z]+", ref)
    return found.group().upper() if found else ""


def is_resistor(part: Part, package: Package) -> bool:
    """True for a fixed resistor of a known value."""
    return package.shape == "axial" and letters(part.ref) not in ("L", "F", "FB", "C", "D") and bool(ohms(part.value))


def is_regulator(part: Part, package: Package) -> bool:
    """True for what its value calls a voltage regulator."""
    return package.shape in ("to-92", "to-220") and bool(_REGULATOR.search(part.value))


def is_mosfet(part: Part, package: Package) -> bool:
    """True for what its value calls a MOSFET."""
    return package.shape in ("to-92", "to-220") and bool(_MOSFET.search(part.value))


def is_polarised_can(package: Package) -> bool:
    """True for an electrolytic capacitor."""
    return package.shape == "can" and bool(package.polarity)


def socketed(package: Package) -> bool:
    """True for ICs that go into a socket: everything dual in-line."""
    return package.shape == "dip"


def noun(part: Part, package: Package) -> str:
    """What the part is, in a word or two."""
    kind = letters(part.ref)
    if package.shape == "dip":
        return "IC"
    if package.shape == "axial":
        return {"L": "coil", "F": "fuse", "FB": "ferrite bead", "C": "capacitor", "D": "diode"}.get(kind, "resistor")
    if package.shape == "diode":
        return "diode"
    if package.shape in ("to-92", "to-220"):
        if is_regulator(part, package):
            return "voltage regulator"
        return "transistor" if kind in ("Q", "T", "VT") else f"part in a {package.shape.upper()} case"
    if kind == "C" and package.shape in ("disc", "box"):
        return "ceramic capacitor" if package.shape == "disc" else "film capacitor"
    if is_polarised_can(package):
        return "electrolytic capacitor"
    return _BY_SHAPE.get(package.shape, "part")


def colours(part: Part, package: Package) -> tuple[tuple[Band, ...], tuple[Band, ...]]:
    """The bands of a resistor, of four and of five; ((), ()) for anything else."""
    value = ohms(part.value) if is_resistor(part, package) else None
    return both_bands(value.amount, value.percent) if value else ((), ())


def marking(part: Part, package: Package) -> str:
    """The three-digit code on a small capacitor, "" for anything else."""
    value = farads(part.value) if package.shape in ("disc", "box") and letters(part.ref) == "C" else None
    return capacitor_code(value.amount) if value else ""


def described(part: Part, package: Package) -> str:
    """The part in words, with what is printed on it: ``R1, resistor 330 (4 bands: orange orange brown gold)``."""
    four, five = colours(part, package)
    seen = [f"{len(found)} bands: {spelled(found)}" for found in (four, five) if found]
    seen = ["1 band: black"] if len(four) == 1 else seen
    code = marking(part, package)
    seen += [f"marked {code}"] if code else []
    words = f"{part.ref}, {noun(part, package)}{' ' + part.value if part.value else ''}"
    return words + (f" ({'; or '.join(seen)})" if seen else "")


def build_height_mm(package: Package, mount: str) -> float:
    """How high the part stands while it is soldered.

    A standing body stands on its lead; a dual in-line part is there only as its socket (4.5: common practice, no
    source).
    """
    if socketed(package):
        return 4.5
    if mount == "standing" and isinstance(package.form, TwoLead):
        return package.form.length + 2.0  # and the bend of the lead: common practice, no source
    return package.height_mm


def edge_towards(dx: int, dy: int) -> str:
    """The edge of the component side in a direction on the grid, for a direction along x or y."""
    length = max(abs(dx), abs(dy)) or 1
    return _EDGES.get((round(dx / length), round(dy / length)), "")


def flat_side(package: Package, pins: Mapping[str, str], board: Board) -> str:
    """Towards which edge a flat or printed face looks: pins read 1, 2, 3 from left to right when it faces you.

    From above, the reader's right is the direction of the pins, so the reader, and the face, are a quarter turn
    clockwise from it.
    """
    if not isinstance(package.form, Rigid) or len(package.pins) < 2:
        return ""
    first, last = (board.holes[pins[package.pins[index]]] for index in (0, -1))
    dx, dy = last.x - first.x, last.y - first.y
    return edge_towards(-dy, dx)
