"""The package catalogue: looks packages up by name. The data, with a source for each figure, are in catalogue.yaml."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from importlib.resources import files
from typing import Any

import yaml

from placer.packages.data import package_from_data, package_to_data
from placer.packages.faults import PackageError, PackageFault
from placer.packages.model import Package
from placer.packages.schema import parse_package

__all__ = [
    "Family",
    "PackageError",
    "PackageFault",
    "UnknownPackageError",
    "families",
    "lookup",
    "names",
    "package_from_data",
    "package_to_data",
    "parse_package",
]

_DIGITS = 4  # a longer number in a name is no count; keeps int() off endless digit strings


class UnknownPackageError(KeyError):
    """No package has this name. ``str()`` is the text for the user, ``close`` the names it may have been meant for."""

    def __init__(self, name: str, close: tuple[str, ...]) -> None:
        super().__init__(name)
        self.name = name
        self.close = close

    def __str__(self) -> str:
        meant = f"; did you mean {' or '.join(self.close)}?" if self.close else ""
        return f"no package is called '{self.name}'{meant}"


@dataclass(frozen=True)
class Family:
    """Packages that differ by a number in their name, such as ``header-N``.

    ``first`` and ``last``: the numbers that exist; ``means``: what the number counts; ``why`` and ``help``: what to
    tell the user about a number that does not exist.
    """

    template: str
    about: str
    first: int
    last: int
    means: str
    why: str = ""
    help: str = ""

    def name(self, number: int) -> str:
        """The name of one member: ``name(4)`` of ``header-N`` is ``header-4``."""
        return self.template.replace("N", str(number))

    def number(self, name: str) -> int | None:
        """The number in ``name``, or None where the name belongs to no member of this family, existing or not."""
        before, after = self.template.split("N")
        match = re.fullmatch(rf"{re.escape(before)}(0|[1-9]\d{{0,{_DIGITS - 1}}}){re.escape(after)}", name)
        return int(match[1]) if match else None


@cache
def _rows() -> tuple[Mapping[str, Any], Mapping[str, Any]]:
    """The catalogue's rows as written: packages and families."""
    text = files("placer.packages").joinpath("catalogue.yaml").read_text(encoding="utf-8")
    data = yaml.safe_load(text)
    return data["packages"], data["families"]


@cache
def families() -> tuple[Family, ...]:
    """The families of packages with a number in their name, in the order of the catalogue."""
    found = []
    for template, row in _rows()[1].items():
        count = row["count"]
        limits = (count["from"], count["to"], count["means"], count.get("why", ""), count.get("help", ""))
        found.append(Family(template, row["about"], *limits))
    return tuple(found)


def names() -> tuple[str, ...]:
    """The names without a free number, in the order of the catalogue; :func:`families` lists the rest."""
    return tuple(_rows()[0])


@cache
def lookup(name: str) -> Package:
    """The package of this name.

    Raises UnknownPackageError (a KeyError) where there is none, and PackageError (a PlacerError) where the family
    exists but not with this number.
    """
    fixed, numbered = _rows()
    if name in fixed:
        return parse_package(name, fixed[name])
    for family in families():
        number = family.number(name)
        if number is None:
            continue
        if not family.first <= number <= family.last:
            raise PackageError(name, [_no_such_number(family, number)])
        row = {key: value for key, value in numbered[family.template].items() if key != "count"}
        return parse_package(name, _numbered(row, number))
    raise UnknownPackageError(name, _close(name))


def _no_such_number(family: Family, number: int) -> PackageFault:
    limits = f"{family.first}" if family.first == family.last else f"{family.first} to {family.last}"
    why = f": {family.why}" if family.why else ""
    message = f"{family.template} exists with {limits} {family.means}; found {number}{why}"
    nearest = family.name(min(max(number, family.first), family.last))
    return PackageFault((), message, family.help or f"use {nearest}, or several parts")


def _close(name: str) -> tuple[str, ...]:
    """Up to three names that ``name`` may have been meant for."""
    known = [*names(), *(family.template for family in families())]
    folded = name.strip().lower().replace("_", "-").replace(" ", "-")
    generic = re.sub(r"\d+", "N", folded, count=1)
    if folded != name:
        try:
            return (lookup(folded).name,)
        except (KeyError, PackageError):
            pass
    similar = difflib.get_close_matches(folded, known, 2) + difflib.get_close_matches(generic, known, 1)
    return tuple(dict.fromkeys(similar))


def _numbered(value: Any, number: int) -> Any:
    """``value`` with the number put in: "N" itself, {each: a, less: b} as a x (number - b), and N in texts."""
    match value:
        case "N":
            return number
        case {"each": int() | float() as each}:
            # Decimal, since 0.08 x 3 in binary floats is not 0.24 and the fit in a hole is compared exactly.
            total = Decimal(str(each)) * (number - int(value.get("less", 0)))
            return int(total) if isinstance(each, int) else float(total)
        case str():
            return re.sub(r"\bN\b", str(number), value)
        case dict():
            return {key: _numbered(item, number) for key, item in value.items()}
        case list():
            return [_numbered(item, number) for item in value]
        case _:
            return value
