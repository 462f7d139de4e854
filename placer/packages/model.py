"""A package: where its pins can go and what room its body takes. Data only.

Grid offsets are in steps of 2.54 mm; x runs right and y down, seen from the component side. Dimensions are mm.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

STEP_UM = 2540


@dataclass(frozen=True)
class Rigid:
    """Pins at fixed offsets (steps, pin 1 at (0, 0), rotation 0), turned by quarter turns, never mirrored.

    ``body``: (x0, y0, x1, y1) in mm relative to pin 1 at rotation 0, or None for no body worth blocking.
    """

    offsets: tuple[tuple[int, int], ...]
    body: tuple[float, float, float, float] | None


@dataclass(frozen=True)
class TwoLead:
    """Two flexible leads. Straight-line lead distance in steps must be one of ``flat`` or ``standing``.

    Flat: a body ``length`` x ``width`` mm centred between the leads with its length along them; the straight lead
    between the pins belongs to the body. Standing: the body is upright; it takes the strip from pin to pin,
    ``upright`` mm wide and reaching ``upright / 2`` beyond each pin.
    """

    flat: tuple[int, ...]
    standing: tuple[int, ...]
    length: float
    width: float
    upright: float = 0.0


@dataclass(frozen=True)
class Diagonal:
    """Two rigid pins on diagonal neighbour holes (1 step across and 1 down, any quarter turn); body centred, mm."""

    length: float
    width: float


@dataclass(frozen=True)
class Flying:
    """Flying leads: each pin in any hole of its own; no body on the board."""


Form = Rigid | TwoLead | Diagonal | Flying


@dataclass(frozen=True)
class Package:
    """A package. ``pins`` are the pin numbers in order; ``joined`` lists pins that one piece of metal joins inside.

    ``lead_mm``: largest lead diameter or diagonal. ``height_mm``: above the board. ``polarity``: what marks pin 1 or
    the polarity, in words ("stripe at pin 2 (cathode)"), "" for none. ``symmetric``: both leads equal (turning changes
    nothing). ``spread_mm``: extra hole width that a rigid part off the 2.54 mm grid needs, end to end; it fits a hole
    when ``lead_mm + spread_mm <= diameter``. ``shape``: how to draw it ("dip", "inline", "can", "box", "disc", "axial",
    "diode", "led", "to-92", "to-220", "terminal", "header", "button", "crystal", "trimmer", "relay", "flying").
    ``sources``: field -> where the figure comes from.
    """

    name: str
    about: str
    pins: tuple[str, ...]
    form: Form
    height_mm: float
    lead_mm: float
    shape: str
    spread_mm: float = 0.0
    polarity: str = ""
    symmetric: bool = False
    pin_names: Mapping[str, str] = field(default_factory=dict)  # alias -> pin number
    joined: tuple[tuple[str, ...], ...] = ()
    sources: Mapping[str, str] = field(default_factory=dict)
