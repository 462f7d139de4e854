"""The guide as data: steps, test sheet, cautions and lists. Paper, screen and files are made of these.

Lengths are mm, resistances ohm, currents mA. Holes are named as on the board.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from placer.plan.findings import Finding

KINDS = ("saw", "cut", "bridge", "jumper", "part", "socket", "ic", "check")
PROBE_KINDS = ("continuity", "isolation", "resistance")


@dataclass(frozen=True)
class Band:
    """One band of a resistor: the colour's name, and the colour for a screen, 0 to 255 each."""

    name: str
    rgb: tuple[int, int, int]


@dataclass(frozen=True)
class Caution:
    """A caution.

    ``kind``: what it is about ("law", "heat", "fumes" ...). ``refs``: the parts it matters for, () for all the work.
    ``where``: "start", "build", "power", or "use", the moment to read it.
    """

    kind: str
    title: str
    text: str
    where: str = "start"
    refs: tuple[str, ...] = ()


@dataclass(frozen=True)
class Step:
    """One small action at the bench.

    ``kind``: one of :data:`KINDS`. ``title``: a few words ("R1: resistor 330 ohm"). ``text``: the instruction, one or
    two short sentences that suffice alone. ``holes`` in the order of the pins (or the two ends). ``pins``: a pair
    (pin, hole) for each pin. ``bands``: the colours of a resistor of four bands, ``bands5``: of five; () where there is
    none of that value. ``code``: the marking of a capacitor. ``span_mm``: between lead centres, None where nothing is
    bent. ``number_in_kind``: the number on the drawing, of jumpers, cuts and bridges; 0 else. ``group``: the headline
    that the step stands under.
    """

    number: int
    kind: str
    title: str
    text: str
    refs: tuple[str, ...] = ()
    holes: tuple[str, ...] = ()
    nets: tuple[str, ...] = ()
    bands: tuple[Band, ...] = ()
    bands5: tuple[Band, ...] = ()
    code: str = ""
    span_mm: float | None = None
    orientation: str = ""
    check: str = ""
    cautions: tuple[str, ...] = ()
    pins: tuple[tuple[str, str], ...] = ()
    value: str = ""
    package: str = ""
    mount: str = ""
    wire: str = ""
    number_in_kind: int = 0
    group: str = ""


@dataclass(frozen=True)
class Probe:
    """One touch of the meter's two probes, before power.

    ``kind``: one of :data:`PROBE_KINDS`. ``from_hole``, ``to_hole``: where; ``from_what``, ``to_what``: what is touched
    there ("R1 pin 2", "jumper 3, the end in c4", "bare copper"). ``expect``: in words. ``low_ohm``, ``high_ohm``: the
    reading is good between these, None for no limit. ``finds``: what a wrong reading means. ``net`` and ``other``: the
    nets at the two ends.
    """

    number: int
    kind: str
    from_hole: str
    to_hole: str
    from_what: str
    to_what: str
    expect: str
    low_ohm: float | None
    high_ohm: float | None
    finds: str
    net: str = ""
    other: str = ""


@dataclass(frozen=True)
class PowerStep:
    """One step of the first power-up. ``limit_ma``: the current limit of the supply, None where none is set anew."""

    number: int
    text: str
    check: str = ""
    limit_ma: float | None = None


@dataclass(frozen=True)
class PartGroup:
    """Equal parts, to buy: value, package, count and references."""

    value: str
    package: str
    about: str
    count: int
    refs: tuple[str, ...]
    bands: tuple[Band, ...] = ()
    code: str = ""


@dataclass(frozen=True)
class WirePiece:
    """A piece of wire to cut.

    ``number``: of the jumper. ``length_mm``: hole to hole. ``piece_mm``: what to cut off the spool, with the ends.
    ``strip_mm``: bare at each end; 0 for bare wire. ``spool``: which spool it comes from, counted from 1, when cut in
    the order listed.
    """

    number: int
    net: str
    start: str
    end: str
    wire: str
    length_mm: float
    piece_mm: float
    strip_mm: float
    note: str = ""
    spool: int = 1


@dataclass(frozen=True)
class CutPlace:
    """A cut: ``kind`` "drill" or "knife", ``holes`` (one or two), the nets either side ("" for none)."""

    number: int
    kind: str
    holes: tuple[str, ...]
    nets: tuple[str, str] = ("", "")


@dataclass(frozen=True)
class Summary:
    """What the guide is of. ``used``: columns x rows of the used rectangle."""

    name: str
    about: str
    board: str
    board_about: str
    parts: int
    jumpers: int
    cuts: int
    bridges: int
    cost: float
    bound: float
    proved: bool
    used: tuple[int, int]
    wire_mm: float


@dataclass(frozen=True)
class Guide:
    """Everything that the guide says.

    ``touch``: how to measure, in words, for the head of the test sheet. ``tools``: what to have at hand. ``findings``:
    what copper, gaps and parts bear, the gravest first; () where nobody looked.
    """

    summary: Summary
    steps: tuple[Step, ...]
    cautions: tuple[Caution, ...]
    probes: tuple[Probe, ...]
    powerup: tuple[PowerStep, ...]
    parts: tuple[PartGroup, ...]
    wires: tuple[WirePiece, ...]
    cuts: tuple[CutPlace, ...]
    touch: tuple[str, ...] = ()
    tools: tuple[str, ...] = field(default=())
    findings: tuple[Finding, ...] = ()
