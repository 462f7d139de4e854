"""Packages as plain data that JSON can hold, complete and exact both ways. The plan's file uses it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from placer.packages.faults import PackageError, PackageFault
from placer.packages.model import Diagonal, Flying, Form, Package, Rigid, TwoLead
from placer.packages.rules import package_faults
from placer.packages.schema import faults_of

Number = Annotated[float, Field(strict=True, ge=-10_000, le=10_000, allow_inf_nan=False)]  # mm
Positive = Annotated[float, Field(strict=True, gt=0, le=10_000, allow_inf_nan=False)]  # mm
NotNegative = Annotated[float, Field(strict=True, ge=0, le=10_000, allow_inf_nan=False)]  # mm
Offset = Annotated[int, Field(strict=True, ge=-10_000, le=10_000)]  # steps
Steps = Annotated[int, Field(strict=True, ge=1, le=10_000)]
Text = Annotated[str, Field(strict=True)]
Pin = Annotated[str, Field(strict=True, min_length=1)]


class _Data(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class _Rigid(_Data):
    kind: Literal["rigid"]
    offsets: list[Annotated[list[Offset], Field(min_length=2, max_length=2)]]
    body: Annotated[list[Number], Field(min_length=4, max_length=4)] | None


class _TwoLead(_Data):
    kind: Literal["two-lead"]
    flat: list[Steps]
    standing: list[Steps]
    length: Positive
    width: Positive
    upright: NotNegative


class _Diagonal(_Data):
    kind: Literal["diagonal"]
    length: Positive
    width: Positive


class _Flying(_Data):
    kind: Literal["flying"]


class _Package(_Data):
    name: Pin
    about: Text
    pins: Annotated[list[Pin], Field(min_length=1)]
    form: Annotated[_Rigid | _TwoLead | _Diagonal | _Flying, Field(discriminator="kind")]
    height_mm: NotNegative
    lead_mm: Positive
    shape: Text
    spread_mm: NotNegative
    polarity: Text
    symmetric: Annotated[bool, Field(strict=True)]
    pin_names: dict[Text, Pin]
    joined: list[list[Pin]]
    sources: dict[Text, Text]


def package_to_data(package: Package) -> dict[str, Any]:
    """The package as dicts, lists, texts and numbers; nothing is left out, also where it is the default."""
    return {
        "name": package.name,
        "about": package.about,
        "pins": list(package.pins),
        "form": _form_to_data(package.form),
        "height_mm": package.height_mm,
        "lead_mm": package.lead_mm,
        "shape": package.shape,
        "spread_mm": package.spread_mm,
        "polarity": package.polarity,
        "symmetric": package.symmetric,
        "pin_names": dict(package.pin_names),
        "joined": [list(group) for group in package.joined],
        "sources": dict(package.sources),
    }


def _form_to_data(form: Form) -> dict[str, Any]:
    match form:
        case Rigid():
            body = list(form.body) if form.body else None
            return {"kind": "rigid", "offsets": [list(offset) for offset in form.offsets], "body": body}
        case TwoLead():
            spans = {"flat": list(form.flat), "standing": list(form.standing)}
            return {"kind": "two-lead", **spans, "length": form.length, "width": form.width, "upright": form.upright}
        case Diagonal():
            return {"kind": "diagonal", "length": form.length, "width": form.width}
        case Flying():
            return {"kind": "flying"}


def package_from_data(data: Mapping[str, Any]) -> Package:
    """The package that :func:`package_to_data` wrote.

    Raises PackageError, which names every field that is wrong with its path (``loc``) in ``data``.
    """
    if not isinstance(data, Mapping):
        raise PackageError("?", [PackageFault((), f"a package is a mapping of fields; found {data!r:.60}")])
    name = str(data.get("name", "?"))
    if not all(isinstance(key, str) for key in data):
        raise PackageError(name, [PackageFault((), "a field's name is a text; found another key")])
    try:
        read = _Package.model_validate(dict(data))
    except ValidationError as error:
        raise PackageError(name, [_without_tag(f) for f in faults_of(error, _Package.model_fields)]) from None
    package = Package(
        name=read.name,
        about=read.about,
        pins=tuple(read.pins),
        form=_form_from_data(read.form),
        height_mm=read.height_mm,
        lead_mm=read.lead_mm,
        shape=read.shape,
        spread_mm=read.spread_mm,
        polarity=read.polarity,
        symmetric=read.symmetric,
        pin_names=read.pin_names,
        joined=tuple(tuple(group) for group in read.joined),
        sources=read.sources,
    )
    faults = package_faults(package)
    if faults:
        # The rules speak of the YAML syntax's fields; here the whole package is the place.
        raise PackageError(name, [PackageFault((), fault.message, fault.help) for fault in faults])
    return package


def _without_tag(fault: PackageFault) -> PackageFault:
    """The checker puts the form's kind into the path, which the data do not hold at that place."""
    if len(fault.loc) > 1 and fault.loc[0] == "form":
        return PackageFault((fault.loc[0], *fault.loc[2:]), fault.message)
    # The help speaks of the YAML syntax, where the same names mean other things.
    return PackageFault(fault.loc, fault.message)


def _form_from_data(form: _Rigid | _TwoLead | _Diagonal | _Flying) -> Form:
    match form:
        case _Rigid():
            offsets = tuple((x, y) for x, y in form.offsets)
            body = (form.body[0], form.body[1], form.body[2], form.body[3]) if form.body else None
            return Rigid(offsets, body)
        case _TwoLead():
            return TwoLead(tuple(form.flat), tuple(form.standing), form.length, form.width, form.upright)
        case _Diagonal():
            return Diagonal(form.length, form.width)
        case _Flying():
            return Flying()
