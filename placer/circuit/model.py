"""The circuit: frozen, validated data. Readers build it; nothing changes it afterwards."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from placer.packages.model import Package

SIDES = ("top", "bottom", "left", "right")


@dataclass(frozen=True, order=True)
class PinRef:
    """A pin of a part. ``pin`` is always the pin *number* (a string such as ``"8"``), never its alias."""

    part: str
    pin: str

    def __str__(self) -> str:
        return f"{self.part}.{self.pin}"


@dataclass(frozen=True)
class NearWish:
    """At least one pin of the part lies within ``steps`` of ``pin`` (straight-line hole distance, in steps)."""

    pin: PinRef
    steps: float = 4.0


@dataclass(frozen=True)
class AwayWish:
    """Every pin of the part lies at least ``mm`` from every pin of part ``ref`` (straight-line hole distance)."""

    ref: str
    mm: float = 10.0


@dataclass(frozen=True)
class Force:
    """How much a wish binds. Neither figure: it is binding, a plan that breaks it is refused by the judge.

    ``weight``: broken, it counts so much in the second rank, below jumpers and cuts. ``cost``: broken, it counts like
    so much cost in jumpers and cuts.
    """

    weight: float | None = None
    cost: float | None = None

    @property
    def binding(self) -> bool:
        """True when a plan must keep the wish."""
        return self.weight is None and self.cost is None


BINDING = Force()


@dataclass(frozen=True)
class Place:
    """A part's placement wishes. All but those of ``prefer`` are binding: a plan that breaks one is refused.

    ``at``: pin number -> hole address.
    ``edge``: one of :data:`SIDES` or ``"any"``: at least one pin lies in a hole of ``Board.edge_holes(side)``.
    ``rotation``: degrees clockwise seen from the component side (0, 90, 180, 270); 0 is the package as the
    catalogue draws it (pin 1 top left; two-lead parts: pin 1 left, pin 2 right).
    ``mount``: ``"flat"``, ``"standing"`` or None (any).
    ``side``: one of :data:`SIDES`: every pin lies in that half of the holes' bounding box.
    ``diagonal``: True allows a two-lead part to lie on a diagonal; None follows the command's default.
    ``flying``: True for a part on wires; its package is flying already, so that nothing else follows from it.
    ``port``: the port of the board that the part stands in; such a part has no other wish about itself.
    ``fixed``: the part is soldered already, where ``at`` and ``mount`` say (from an earlier plan).
    ``prefer``: wishes that need not be kept; each of their fields is a wish of its own.
    """

    at: Mapping[str, str] = field(default_factory=dict)
    edge: str | None = None
    rotation: int | None = None
    mount: str | None = None
    near: tuple[NearWish, ...] = ()
    away: tuple[AwayWish, ...] = ()
    side: str | None = None
    diagonal: bool | None = None
    flying: bool | None = None
    port: str | None = None
    fixed: bool = False
    prefer: tuple[Preference, ...] = ()

    @property
    def free(self) -> bool:
        """True when no binding wish says where or how the part stands."""
        return replace(self, prefer=()) == Place()


@dataclass(frozen=True)
class Preference:
    """Wishes of a part that need not be kept. ``place``: without ``diagonal``, ``fixed`` and ``prefer``."""

    place: Place
    force: Force = Force(weight=1.0)


@dataclass(frozen=True)
class Together:
    """All pins of these parts lie in a square of ``steps`` by ``steps`` (so many steps from first hole to last)."""

    parts: tuple[str, ...]
    steps: float
    force: Force = BINDING

    @property
    def words(self) -> str:
        """As the user writes it."""
        return f"together: {{parts: [{', '.join(self.parts)}], steps: {self.steps:g}}}"


@dataclass(frozen=True)
class Region:
    """A keep-out: no lead, no wire end and no body in the rectangle of holes with these corners.

    Each hole stands for its cell, half a step to all sides; a body may touch the outline of those cells.
    """

    start: str
    end: str

    @property
    def words(self) -> str:
        """As the user writes it."""
        return f"keepout: {{from: {self.start}, to: {self.end}}}"


@dataclass(frozen=True)
class Owned:
    """A strip that is a net's own: a lead of the net stands on it, and no lead that is not of the net."""

    net: str
    strip: str
    force: Force = BINDING

    @property
    def words(self) -> str:
        """As the user writes it."""
        return f"rails: {{{self.net}: {self.strip}}}"


@dataclass(frozen=True)
class Short:
    """All leads of a net lie in a square of ``mm`` by ``mm``, hole centre to hole centre."""

    net: str
    mm: float
    force: Force = BINDING

    @property
    def words(self) -> str:
        """As the user writes it."""
        return f"short: {{net: {self.net}, mm: {self.mm:g}}}"


@dataclass(frozen=True)
class Apart:
    """Every lead and wire end of one net is at least ``mm`` from every one of the other (straight, hole to hole)."""

    nets: tuple[str, str]
    mm: float
    force: Force = BINDING

    @property
    def words(self) -> str:
        """As the user writes it."""
        return f"apart: {{nets: [{', '.join(self.nets)}], mm: {self.mm:g}}}"


Shared = Together | Region | Owned | Short | Apart
"""A wish that is not one part's own."""

HABITS = ("rails", "decoupling", "edges", "crystals", "alike")
"""What experienced builders do without being asked; see :mod:`placer.plan.wanted`."""


@dataclass(frozen=True)
class Wishes:
    """The wishes of the circuit as a whole. ``habits``: those of a weight or cost of their own; None: not wanted."""

    shared: tuple[Shared, ...] = ()
    habits: Mapping[str, Force | None] = field(default_factory=dict)


@dataclass(frozen=True)
class Part:
    """A part: reference designator, package name (a key of ``Circuit.packages``), value, aliases, wishes."""

    ref: str
    package: str
    value: str = ""
    pin_names: Mapping[str, str] = field(default_factory=dict)  # alias -> pin number, of this part only
    place: Place = field(default_factory=Place)


@dataclass(frozen=True)
class Net:
    """A net. ``pins`` in the order of the source, each at most once in the whole circuit.

    ``volts`` and ``amps``: the most it has against ground and carries. ``ac``: both are r.m.s. values of alternating
    current. ``plain``: the source itself says ``role: signal``, so that its name is not taken for that of a supply.
    """

    name: str
    pins: tuple[PinRef, ...]
    role: str = "signal"  # "supply" | "ground" | "signal"
    volts: float | None = None
    amps: float | None = None
    ac: bool = False
    plain: bool = False


@dataclass(frozen=True)
class Circuit:
    """Parts and nets in source order, with every package that the parts use."""

    name: str
    parts: tuple[Part, ...]
    nets: tuple[Net, ...]
    packages: Mapping[str, Package]
    about: str = ""
    wishes: Wishes = Wishes()

    @cached_property
    def part_by_ref(self) -> Mapping[str, Part]:
        """Parts by reference designator."""
        return {p.ref: p for p in self.parts}

    @cached_property
    def net_of(self) -> Mapping[PinRef, str]:
        """Net name of each connected pin; open pins are absent."""
        return {pin: net.name for net in self.nets for pin in net.pins}

    def package_of(self, ref: str) -> Package:
        """The package of a part. Raises KeyError for an unknown reference."""
        return self.packages[self.part_by_ref[ref].package]
