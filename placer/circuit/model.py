"""The circuit: frozen, validated data. Readers build it; nothing changes it afterwards."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
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
class Place:
    """A part's placement wishes. All are hard: a plan that breaks one is refused by the judge.

    ``at``: pin number -> hole address.
    ``edge``: one of :data:`SIDES` or ``"any"``: at least one pin lies in a hole of ``Board.edge_holes(side)``.
    ``rotation``: degrees clockwise seen from the component side (0, 90, 180, 270); 0 is the package as the
    catalogue draws it (pin 1 top left; two-lead parts: pin 1 left, pin 2 right).
    ``mount``: ``"flat"``, ``"standing"`` or None (any).
    ``side``: one of :data:`SIDES`: every pin lies in that half of the holes' bounding box.
    ``diagonal``: True allows a two-lead part to lie on a diagonal; None follows the command's default.
    ``flying``: True for a part on wires; its package is flying already, so that nothing else follows from it.
    ``port``: the port of the board that the part stands in; such a part has no other wish about itself.
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
    current.
    """

    name: str
    pins: tuple[PinRef, ...]
    role: str = "signal"  # "supply" | "ground" | "signal"
    volts: float | None = None
    amps: float | None = None
    ac: bool = False


@dataclass(frozen=True)
class Circuit:
    """Parts and nets in source order, with every package that the parts use."""

    name: str
    parts: tuple[Part, ...]
    nets: tuple[Net, ...]
    packages: Mapping[str, Package]
    about: str = ""

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
