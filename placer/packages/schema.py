"""Packages written as YAML data: the syntax, its checks, and the way to :class:`placer.packages.model.Package`.

The catalogue and a user's own packages share one syntax. Every package says ``form`` and the fields of that form:

``form: rigid``, pins that cannot be bent, in exactly one of four layouts (steps of 2.54 mm, component side up):

* ``rows: ["1 . 4", "2 . 3"]``: a picture of the grid, one text a row, ``.`` where there is no pin;
* ``line: 4`` with ``pitch: 2`` (default 1): pins 1..4 left to right, ``pitch`` steps apart;
* ``dual: 14`` with ``apart: 3``: pins 1..7 down the left row, 8..14 back up the right row, ``apart`` steps away;
* ``zigzag: 10``: two columns side by side, 1 and 2 opposite each other, 3 and 4 below them;

``body_mm: [across, down]`` is centred on the pins, ``shift_mm: [right, down]`` moves it; no ``body_mm``: no body.

``form: two-lead``, two flexible leads: ``flat`` and ``standing`` are the allowed lead distances in steps (``4``,
``"4..8"`` or ``[4, 5]``), ``body_mm: [length along the leads, width]``, ``upright_mm`` the width when standing
(default: the width).

``form: diagonal``, two rigid pins on diagonal neighbour holes: ``body_mm: [length, width]``.

``form: flying``, ``pins: 3`` or ``pins: [TIP, SLEEVE]``: leads that each reach any hole; no body.

All forms: ``lead_mm`` (largest diameter or diagonal), ``height_mm``; optional ``about``, ``names`` (alias: pin),
``joined`` (groups of pins that are one inside), ``polarity`` (what marks pin 1, in words), ``symmetric`` (two-lead
only: either way round is the same), ``shape`` (how to draw it), ``spread_mm``, ``sources`` (field: where the figure
comes from).
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from placer.packages.faults import PackageError, PackageFault
from placer.packages.model import STEP_UM, Diagonal, Flying, Form, Package, Rigid, TwoLead
from placer.packages.rules import package_faults

STEP_MM = STEP_UM / 1000
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._+-]*")
MAX_PINS = 200
MAX_STEPS = 100

Shape = Literal[
    "dip", "inline", "can", "box", "disc", "axial", "diode", "led", "to-92", "to-220", "terminal", "header", "button",
    "crystal", "trimmer", "relay", "flying",
]  # fmt: skip


def _as_text(value: object) -> object:
    """Pins are written as plain numbers in YAML and kept as text. Raises ValueError for what YAML took for a truth."""
    if isinstance(value, bool):
        raise ValueError("YAML reads NO, YES, ON and OFF as false or true: put the pin in quotes")
    return str(value) if isinstance(value, int) else value


def _as_spans(value: object) -> object:
    """``4``, ``"4..8"`` and ``[4, 5]`` to a list of step counts. Raises ValueError where it is none of them."""
    if isinstance(value, bool):
        raise ValueError("a lead distance is a whole number of steps")
    if isinstance(value, int):
        return [value]
    if isinstance(value, str):
        match = re.fullmatch(r"\s*(\d{1,4})\s*(?:\.\.\s*(\d{1,4})\s*)?", value)
        if not match:
            raise ValueError("lead distances are written as 4, '4..8' or [4, 5]")
        first, last = int(match[1]), int(match[2] or match[1])
        if last < first:
            raise ValueError(f"the range {value.strip()} runs backwards")
        if last > MAX_STEPS:
            raise ValueError(f"a lead distance is at most {MAX_STEPS} steps")
        return list(range(first, last + 1))
    return value


def _as_pins(value: object) -> object:
    """``3`` to pins 1, 2, 3; a list stays a list."""
    if isinstance(value, int) and not isinstance(value, bool):
        if not 1 <= value <= MAX_PINS:
            raise ValueError(f"a package has 1 to {MAX_PINS} pins")
        return [str(i) for i in range(1, value + 1)]
    return value


Pin = Annotated[str, BeforeValidator(_as_text), Field(min_length=1, max_length=20)]
Size = Annotated[float, Field(strict=True, gt=0, le=300, allow_inf_nan=False)]  # mm
Shift = Annotated[float, Field(strict=True, ge=-300, le=300, allow_inf_nan=False)]  # mm
Steps = Annotated[int, Field(strict=True, ge=1, le=MAX_STEPS)]
Count = Annotated[int, Field(strict=True, ge=1, le=MAX_PINS)]
Spans = Annotated[list[Steps], BeforeValidator(_as_spans)]
Area = Annotated[list[Size], Field(min_length=2, max_length=2)]


class _Common(BaseModel):
    """What every package says."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    about: str = ""
    lead_mm: Size
    height_mm: Size
    names: dict[Pin, Pin] = {}
    joined: list[list[Pin]] = []
    polarity: str = ""
    shape: Shape | None = None
    spread_mm: Annotated[float, Field(strict=True, ge=0, le=10, allow_inf_nan=False)] = 0.0
    sources: dict[str, str] = {}


class _Rigid(_Common):
    form: Literal["rigid"]
    rows: Annotated[list[str], Field(min_length=1, max_length=MAX_STEPS)] | None = None
    line: Count | None = None
    pitch: Steps = 1
    dual: Count | None = None
    apart: Steps = 3
    zigzag: Count | None = None
    body_mm: Area | None = None
    shift_mm: Annotated[list[Shift], Field(min_length=2, max_length=2)] = [0.0, 0.0]


class _TwoLead(_Common):
    form: Literal["two-lead"]
    flat: Spans = []
    standing: Spans = []
    body_mm: Area
    upright_mm: Size | None = None
    symmetric: bool = False


class _Diagonal(_Common):
    form: Literal["diagonal"]
    body_mm: Area


class _Flying(_Common):
    form: Literal["flying"]
    pins: Annotated[list[Pin], BeforeValidator(_as_pins), Field(min_length=1, max_length=MAX_PINS)]


FORMS: Mapping[str, type[_Common]] = {
    "rigid": _Rigid,
    "two-lead": _TwoLead,
    "diagonal": _Diagonal,
    "flying": _Flying,
}

FIELD_HELP: Mapping[str, str] = {
    "form": f"form is one of {', '.join(FORMS)}",
    "rows": 'a picture of the grid, one text a row: rows: ["1 . 4", "2 . 3"], with . where there is no pin',
    "line": "the number of pins in one row, such as line: 4",
    "dual": "the number of pins in two rows, even, such as dual: 14 with apart: 3",
    "zigzag": "the number of pins in two columns, even, such as zigzag: 10",
    "pitch": "whole steps of 2.54 mm between neighbouring pins",
    "apart": "whole steps of 2.54 mm between the two rows",
    "body_mm": "two sizes in mm, such as body_mm: [6.5, 2.5]",
    "shift_mm": "two distances in mm, right and down, such as shift_mm: [0, 1.5]",
    "flat": "lead distances in steps of 2.54 mm, such as flat: 4..8",
    "standing": "lead distances in steps of 2.54 mm, such as standing: 1..2",
    "upright_mm": "the width of the standing part in mm",
    "lead_mm": "the largest lead diameter or diagonal in mm, such as lead_mm: 0.6",
    "height_mm": "the height above the board in mm, such as height_mm: 8.0",
    "spread_mm": "extra hole width in mm that pins off the 2.54 mm grid need, end to end",
    "pins": "a count or a list, such as pins: 3 or pins: [TIP, SLEEVE]",
    "names": "other names of pins, such as names: {A: 1, K: 2}",
    "joined": "groups of pins that are one piece of metal inside, such as joined: [[1, 2], [3, 4]]",
    "symmetric": "true or false",
    "shape": f"shape is one of {', '.join(Shape.__args__)}",  # type: ignore[attr-defined]
    "sources": "field: where its figure comes from, as texts",
}


def parse_package(name: str, data: Mapping[str, object]) -> Package:
    """A package from its YAML data (see the module's text for the syntax).

    Raises PackageError, which names every field that is wrong with its path (``loc``) in ``data``.
    """
    if not NAME.fullmatch(name):
        help_ = "begin with a letter or digit; then letters, digits, and . _ + -"
        raise PackageError(name, [PackageFault((), f"'{name}' cannot be a package name", help_)])
    if not isinstance(data, Mapping):
        found = f"a package is a mapping of fields; found {_found(data)}"
        raise PackageError(name, [PackageFault((), found, "write form, lead_mm, height_mm and the pins")])
    if not all(isinstance(key, str) for key in data):
        stray = [PackageFault((), f"{_found(key)} is no field here") for key in data if not isinstance(key, str)]
        raise PackageError(name, stray)
    form = data.get("form")
    if not isinstance(form, str) or form not in FORMS:
        found = "the field form is missing" if form is None else f"form is {_found(form)}"
        raise PackageError(name, [PackageFault(("form",) if "form" in data else (), found, FIELD_HELP["form"])])
    try:
        text = FORMS[form].model_validate(dict(data))
    except ValidationError as error:
        raise PackageError(name, faults_of(error, FORMS[form].model_fields)) from None
    package = _package(name, text)
    faults = package_faults(package)
    if faults:
        raise PackageError(name, faults)
    return package


def faults_of(error: ValidationError, fields: Mapping[str, object]) -> list[PackageFault]:
    """The faults that a schema found, in words that name what stands there; ``fields``: the names that are known."""
    faults = []
    for item in error.errors(include_url=False):
        loc = tuple(part for part in item["loc"] if part != "[key]")
        field = str(loc[0]) if loc else ""
        help_ = FIELD_HELP.get(field, "")
        if item["type"] == "missing":
            message = f"the field {loc[-1]} is missing"
            loc = loc[:-1]
        elif item["type"] == "extra_forbidden":
            message = f"{loc[-1]} is no field here"
            near = difflib.get_close_matches(str(loc[-1]), list(fields), 1)
            help_ = f"did you mean {near[0]}?" if near else f"known fields: {', '.join(fields)}"
        elif item["type"] in ("union_tag_invalid", "union_tag_not_found"):
            kinds = item["ctx"].get("expected_tags", "")
            message = f"no form of this kind is known; found {_found(item['input'])}" + (
                f"; known: {kinds}" if kinds else ""
            )
        elif item["type"] == "value_error":
            message = f"{item['msg'].removeprefix('Value error, ')}; found {_found(item['input'])}"
        else:
            message = f"{item['msg'][:1].lower()}{item['msg'][1:]}; found {_found(item['input'])}"
        faults.append(PackageFault(loc, message, help_))
    return faults


def _found(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _package(name: str, text: _Common) -> Package:
    form, pins, shape = _form(name, text)
    return Package(
        name=name,
        about=text.about,
        pins=pins,
        form=form,
        height_mm=float(text.height_mm),
        lead_mm=float(text.lead_mm),
        shape=text.shape or shape,
        spread_mm=float(text.spread_mm),
        polarity=text.polarity,
        symmetric=text.symmetric if isinstance(text, _TwoLead) else False,
        pin_names=dict(text.names),
        joined=tuple(tuple(group) for group in text.joined),
        sources=dict(text.sources),
    )


def _form(name: str, text: _Common) -> tuple[Form, tuple[str, ...], str]:
    """The form, its pins in order, and the shape to draw unless the package names one."""
    match text:
        case _Rigid():
            return _rigid(name, text)
        case _TwoLead():
            length, width = map(float, text.body_mm)
            upright = float(text.upright_mm or width) if text.standing else 0.0
            spans = tuple(sorted(set(text.flat))), tuple(sorted(set(text.standing)))
            if text.upright_mm and not text.standing:
                found = "upright_mm is given but no standing distance"
                raise PackageError(name, [PackageFault(("upright_mm",), found, FIELD_HELP["standing"])])
            return TwoLead(*spans, length, width, upright), ("1", "2"), "axial"
        case _Diagonal():
            return Diagonal(*map(float, text.body_mm)), ("1", "2"), "terminal"
        case _Flying():
            return Flying(), tuple(text.pins), "flying"
        case _:  # pragma: no cover - FORMS lists every form above
            raise TypeError(type(text).__name__)


def _rigid(name: str, text: _Rigid) -> tuple[Rigid, tuple[str, ...], str]:
    chosen = [key for key in ("rows", "line", "dual", "zigzag") if getattr(text, key) is not None]
    if len(chosen) != 1:
        found = f"{' and '.join(chosen)} are both given" if chosen else "no layout of the pins is given"
        help_ = "give exactly one of rows, line, dual and zigzag"
        raise PackageError(name, [PackageFault((chosen[1],) if chosen else (), found, help_)])
    layout = chosen[0]
    owners = {"pitch": "line", "apart": "dual", "shift_mm": "body_mm"}
    given = text.model_fields_set
    stray = [key for key, owner in owners.items() if key in given and getattr(text, owner) is None]
    if stray:
        faults = [PackageFault((key,), f"{key} says nothing without {owners[key]}", "take it out") for key in stray]
        raise PackageError(name, faults)
    if layout in ("dual", "zigzag") and getattr(text, layout) % 2:
        fault = PackageFault((layout,), f"two rows need an even number of pins; found {getattr(text, layout)}", "")
        raise PackageError(name, [fault])
    places: dict[str, tuple[int, int]]
    if text.rows is not None:
        places = _picture(name, text.rows)
    elif text.line is not None:
        places = {str(k + 1): (k * text.pitch, 0) for k in range(text.line)}
    elif text.dual is not None:
        half = text.dual // 2
        places = {str(k + 1): (0, k) for k in range(half)}
        places |= {str(half + k + 1): (text.apart, half - 1 - k) for k in range(half)}
    else:
        places = {str(k + 1): (k % 2, k // 2) for k in range(text.zigzag or 0)}
    first = next(iter(places.values()))
    offsets = tuple((x - first[0], y - first[1]) for x, y in places.values())
    body = _body(offsets, text.body_mm, text.shift_mm) if text.body_mm else None
    shape = {"rows": "box", "line": "inline", "dual": "dip", "zigzag": "header"}[layout]
    return Rigid(offsets, body), tuple(places), shape


def _picture(name: str, rows: list[str]) -> dict[str, tuple[int, int]]:
    """Pin -> grid place. Numbered pins come in the order of their numbers, named ones after them as they are read."""
    places: dict[str, tuple[int, int]] = {}
    faults = []
    cells = [row.split() for row in rows]
    for y, row in enumerate(cells):
        if len(row) != len(cells[0]) or not row:
            message = f"row {y + 1} has {len(row)} cells; the first has {len(cells[0])}"
            faults.append(PackageFault(("rows", y), message, "write . for a grid place without a pin"))
        for x, cell in enumerate(row):
            if cell == ".":
                continue
            if cell in places:
                help_ = "give each pin a number of its own; say joined where two are one inside"
                faults.append(PackageFault(("rows", y), f"pin {cell} stands twice", help_))
            places[cell] = (x, y)
    if not places and not faults:
        faults.append(PackageFault(("rows",), "the picture holds no pin", FIELD_HELP["rows"]))
    if faults:
        raise PackageError(name, faults)

    def rank(pin: str) -> tuple[bool, int]:
        return (not pin.isdecimal(), int(pin) if pin.isdecimal() else 0)

    return {pin: places[pin] for pin in sorted(places, key=rank)}


def _body(
    offsets: tuple[tuple[int, int], ...], size: list[float], shift: list[float]
) -> tuple[float, float, float, float]:
    """A rectangle of ``size`` (mm) about the middle of the pins, moved by ``shift``, rounded to um."""
    edges: list[float] = []
    for axis in (0, 1):
        places = [offset[axis] for offset in offsets]
        middle = (min(places) + max(places)) / 2 * STEP_MM + shift[axis]
        edges += [round(middle - size[axis] / 2, 4), round(middle + size[axis] / 2, 4)]
    x0, x1, y0, y1 = edges
    return (x0, y0, x1, y1)


def schema_fields(form: str) -> tuple[str, ...]:
    """The fields that a package of this form may have. Raises KeyError for an unknown form."""
    return tuple(FORMS[form].model_fields)


def json_schema() -> dict[str, Any]:
    """The syntax as JSON Schema, one entry a form, for editors."""
    return {form: model.model_json_schema() for form, model in FORMS.items()}
