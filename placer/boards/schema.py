"""The shape of a board file. Validation resolves parameters, so that the validated file holds plain numbers and labels.

Lengths whose key ends in ``_mm`` are mm, in ``_um`` micrometres; everything on the grid is in steps.
The validation context is the mapping of parameter values.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from difflib import get_close_matches
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationError,
    ValidationInfo,
    field_validator,
    model_validator,
)
from pydantic_core import PydanticCustomError

from placer.boards.labels import MAX_LABELS, check_template, evaluate, fields_of, label_sequence
from placer.errors import Diagnostic, Span

# The name becomes part of file names and headings; braces are its parameters.
_BOARD_NAME = re.compile(r"[\w{}][\w{}+\-. ]{0,79}")
NAME_FIELDS = frozenset({"column", "row", "strip", "section", "first"})
ADDRESS_FIELDS = frozenset({"column", "row", "strip", "section", "hole", "name"})


def _parameters(info: ValidationInfo) -> Mapping[str, int]:
    return info.context or {}


def _int(value: Any, info: ValidationInfo) -> int:
    return evaluate(value, _parameters(info))


def _labels(value: Any, info: ValidationInfo) -> tuple[str, ...]:
    return label_sequence(value, _parameters(info))


def _axis(value: Any, info: ValidationInfo) -> dict[int, str]:
    """Labels along one axis by grid position; a bare sequence begins at 0."""
    parts = value if isinstance(value, dict) else {"0": value}
    found: dict[int, str] = {}
    for start, sequence in parts.items():
        at = evaluate(start, _parameters(info))
        for offset, label in enumerate(label_sequence(sequence, _parameters(info))):
            if at + offset in found:
                raise ValueError(f"grid position {at + offset} is labelled twice, {found[at + offset]!r} and {label!r}")
            found[at + offset] = label
    return found


def _name(value: Any) -> str:
    return check_template(value, NAME_FIELDS)


def _address(value: Any) -> str:
    return check_template(value, ADDRESS_FIELDS)


def _number(value: Any) -> Any:
    if value is None or isinstance(value, list | dict):
        raise ValueError("expected a number")
    return value


Int = Annotated[int, BeforeValidator(_int)]
Count = Annotated[int, BeforeValidator(_int), Field(ge=1)]
Gap = Annotated[int, BeforeValidator(_int), Field(ge=0)]
Mm = Annotated[float, BeforeValidator(_number), Field(ge=-10_000, le=10_000, allow_inf_nan=False)]
Size = Annotated[float, BeforeValidator(_number), Field(gt=0, le=10_000, allow_inf_nan=False)]
Labels = Annotated[tuple[str, ...], BeforeValidator(_labels)]
Axis = Annotated[dict[int, str], BeforeValidator(_axis)]
NameTemplate = Annotated[str, BeforeValidator(_name)]
AddressTemplate = Annotated[str, BeforeValidator(_address)]
Point = tuple[Int, Int]
PointMm = tuple[Mm, Mm]
Text = Annotated[str, Field(min_length=1)]


class Strict(BaseModel):
    """A mapping whose keys are all known; unknown ones are reported each with its nearest known key."""

    model_config = ConfigDict(extra="ignore", frozen=True)

    @model_validator(mode="before")
    @classmethod
    def _known_keys(cls, value: Any) -> Any:
        _refuse_unknown(value, cls.model_fields)
        return value


def _refuse_unknown(value: Any, known: Collection[str]) -> None:
    if isinstance(value, dict):
        unknown = [key for key in value if key not in known]
        if unknown:
            raise PydanticCustomError("unknown_keys", "unknown keys", {"unknown": unknown, "known": list(known)})


class Parameter(Strict):
    """A whole number that the board's name may carry."""

    default: Count
    min: Count = 1
    max: Count = MAX_LABELS

    @model_validator(mode="before")
    @classmethod
    def _short_form(cls, value: Any) -> Any:
        return value if isinstance(value, dict) else {"default": value}


class Cut(Strict):
    """How copper may be severed. The word ``none`` stands for not at all."""

    at_hole: bool = False
    between: bool = False

    @model_validator(mode="before")
    @classmethod
    def _none(cls, value: Any) -> Any:
        return {} if value == "none" else value


class BoardCut(Cut):
    """The board's own rule, and whether plans cut without being asked to."""

    by_default: bool = True


class CopperSpec(Strict):
    """The copper as made. The gap defaults to what the width leaves of a step."""

    width_mm: Size = 2.0
    gap_mm: Size | None = None
    thickness_um: Size = 35.0
    side: Literal["bottom", "top", "both"] = "bottom"
    rise_k: Annotated[float, Field(ge=1, le=60, allow_inf_nan=False)] = 10.0


class LabelSpec(Strict):
    """What is printed along the axes, by grid position, and how an address is put together from it."""

    columns: Axis = {}
    rows: Axis = {}
    address: AddressTemplate = "{column}{row}"


class Pieces(Strict):
    """A strip's holes in pieces of ``of`` holes (the last count repeats), ``gap`` steps without a hole between them."""

    of: tuple[Count, ...]
    gap: Gap = 0

    @model_validator(mode="before")
    @classmethod
    def _short_form(cls, value: Any) -> Any:
        given = dict(value) if isinstance(value, dict) else {"of": value}
        if "of" in given and not isinstance(given["of"], list | tuple):
            given["of"] = [given["of"]]
        if given.get("of") == []:
            raise ValueError("found an empty list, expected a count of holes or a list of counts")
        return given


class Groups(Pieces):
    """Holes in groups with bare copper between them."""

    gap: Gap = 1


class Block(Strict):
    """Equal straight strips side by side. ``at``: the first hole of the first strip; ``spacing``: strip to strip."""

    name: NameTemplate = "{first}"
    at: Point
    along: Literal["x", "y"] = "x"
    strips: Labels = ("1",)
    holes: Labels
    spacing: Count = 1
    address: AddressTemplate | None = None
    sections: Pieces | None = None
    groups: Groups | None = None
    hole_mm: Size | None = None
    cut: Cut | None = None

    @model_validator(mode="after")
    def _not_circular(self) -> Block:
        if self.address and "name" in fields_of(self.address) and "first" in fields_of(self.name):
            raise ValueError("the name is made from an address and the address from the name; give one of them in full")
        return self


class Rail(Block):
    """Long strips meant for power, with addresses of their own."""

    name: NameTemplate
    along: Literal["x", "y"] = "y"
    address: AddressTemplate | None = "{name}{hole}"


class OddStrip(Strict):
    """A strip of any form: ``runs`` of corners with a hole at every step, or single holes with ``links``."""

    name: Text
    runs: list[Annotated[list[Point], Field(min_length=1)]] | None = None
    holes: dict[str, Point] | None = None
    links: list[tuple[str, str]] | None = None
    address: AddressTemplate | None = None
    rail: bool = False
    hole_mm: Size | None = None
    cut: Cut | None = None

    @model_validator(mode="after")
    def _one_way(self) -> OddStrip:
        if (self.runs is None) == (self.holes is None):
            raise ValueError("give the strip either runs (corner positions) or holes (address: [x, y])")
        if self.links is not None and self.runs is not None:
            raise ValueError("links go with holes; runs say themselves what they join")
        return self


class Join(Strict):
    """Strips joined by copper that runs off the grid (round the edge, say) from hole to hole."""

    name: Text
    links: Annotated[list[tuple[str, str]], Field(min_length=1)]


class Pad(Strict):
    """A pad of a port, and the strip it joins, if any."""

    at_mm: PointMm
    strip: Text | None = None


class PortSpec(Strict):
    """A place for a connector off the grid."""

    fits: Annotated[list[str], Field(min_length=1)]
    pads: Annotated[dict[str, Pad], Field(min_length=1)]
    about: str = ""


class Mounting(Strict):
    """A mounting hole; nothing may stand within the square of side ``clear_mm`` around it."""

    at_mm: PointMm
    diameter_mm: Size
    clear_mm: Size | None = None


class BoardFile(Strict):
    """A whole board file."""

    board: Text
    about: str = ""
    parameters: dict[str, Parameter] = {}
    sizes: list[dict[str, Count]] = []
    hole_mm: Size = 1.0
    copper: CopperSpec = CopperSpec()
    cut: BoardCut = BoardCut()
    bridges: bool = False
    labels: LabelSpec = LabelSpec()
    blocks: list[Block] = []
    rails: list[Rail] = []
    strips: list[OddStrip] = []
    joins: list[Join] = []
    outline_mm: tuple[Size, Size] | None = None
    offset_mm: PointMm | None = None
    ports: dict[str, PortSpec] = {}
    keepouts: dict[str, tuple[Mm, Mm, Mm, Mm]] = {}
    mounting: dict[str, Mounting] = {}
    sources: dict[str, str] = {}


class Head(BaseModel):
    """The part of a file that must be read before its expressions can be. ``sizes``: those the catalogue lists."""

    parameters: dict[Annotated[str, Field(pattern="^[a-z][a-z_]{1,20}$")], Parameter] = {}
    board: Text
    sizes: list[dict[str, Count]] = []

    @model_validator(mode="before")
    @classmethod
    def _known_keys(cls, value: Any) -> Any:
        _refuse_unknown(value, BoardFile.model_fields)
        return value

    @field_validator("board")
    @classmethod
    def _fields_are_parameters(cls, value: str, info: ValidationInfo) -> str:
        if "parameters" in info.data:  # else they are at fault themselves, and said so
            check_template(value, info.data["parameters"])
        if not _BOARD_NAME.fullmatch(value):
            raise ValueError(f"found {value!r}, expected letters, digits, blanks and any of + - _ .")
        return value

    @field_validator("sizes")
    @classmethod
    def _sizes_are_parameters(cls, value: list[dict[str, int]], info: ValidationInfo) -> list[dict[str, int]]:
        known = info.data.get("parameters", {})
        unknown = [name for size in value for name in size if name not in known]
        if unknown:
            raise ValueError(f"found {unknown[0]!r}, expected one of the parameters: {', '.join(known) or 'none'}")
        return value


_EXPECTED = {
    "bool_parsing": "true or false",
    "bool_type": "true or false",
    "float_parsing": "a number",
    "float_type": "a number",
    "int_parsing": "a whole number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "finite_number": "a finite number",
    "string_type": "text",
    "string_too_short": "text",
    "list_type": "a list",
    "tuple_type": "a list",
    "dict_type": "a mapping",
    "model_type": "a mapping",
    "model_attributes_type": "a mapping",
}


_LIMITS = {
    "greater_than": ("gt", "more than"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "less than"),
    "less_than_equal": ("le", "at most"),
}


def diagnostics_of(
    error: ValidationError, span: Callable[[tuple[str | int, ...], bool], Span | None]
) -> tuple[Diagnostic, ...]:
    """Turn a failed validation into diagnostics. ``span(loc, key)`` finds the place of a value or of its key."""
    found: list[Diagnostic] = []
    for item in error.errors(include_url=False):
        loc = tuple(step for step in item["loc"] if step != "[key]")
        context = item.get("ctx", {})
        if item["type"] == "unknown_keys":
            found += [_unknown_key(str(key), context["known"], span((*loc, key), True)) for key in context["unknown"]]
        elif item["type"] == "missing":
            what = str(loc[-1]) if loc else "?"
            where = span(loc[:-1], False)
            if isinstance(loc[-1], int):
                found.append(Diagnostic("value-missing", f"{_path(loc[:-1])} is too short", _too_few(loc), span=where))
            else:
                message = f"key {what!r} is missing{_of(loc[:-1])}"
                found.append(Diagnostic("key-missing", message, f"add {what}:", span=where))
        else:
            message = f"{_path(loc)}: {_fault(item)}"
            found.append(Diagnostic("value-not-understood", message, span=span(loc, item["loc"][-1:] == ("[key]",))))
    return tuple(found)


def _unknown_key(key: str, known: list[str], span: Span | None) -> Diagnostic:
    near = get_close_matches(key, known, 1, 0.5)
    message = f"key {key!r} is not known here, expected one of {', '.join(known)}"
    return Diagnostic("key-unknown", message, f"did you mean {near[0]}?" if near else "remove it", span=span)


def _fault(item: Any) -> str:
    """Say what was found and what is expected instead."""
    kind, context = item["type"], item.get("ctx", {})
    if kind == "value_error":
        return str(context["error"])
    value = item["input"]
    found = (
        "nothing"
        if value is None
        else ("a mapping" if value else "an empty mapping")
        if isinstance(value, dict)
        else repr(value)
    )
    if isinstance(value, list):
        found = f"a list of {len(value)}"
    if kind in _EXPECTED:
        return f"found {found}, expected {_EXPECTED[kind]}"
    if kind == "literal_error":
        return f"found {found}, expected {str(context['expected']).replace(chr(39), '')}"
    if kind in ("too_long", "too_short"):
        limit = context.get("max_length", context.get("min_length"))
        return f"found {found}, expected {'at most' if kind == 'too_long' else 'at least'} {limit} values"
    if kind == "string_pattern_mismatch":
        return f"found {found}, expected a name of 2 or more small letters or underscores"
    if kind in _LIMITS:
        key, words = _LIMITS[kind]
        return f"found {found}, expected {words} {context[key]:g}"
    return f"found {found}: {item['msg']}"


def _path(loc: tuple[str | int, ...]) -> str:
    """Spell a place in the file as the user would say it, such as ``blocks 1 holes`` (items count from 1)."""
    return " ".join(str(step + 1) if isinstance(step, int) else step for step in loc) or "the file"


def _of(loc: tuple[str | int, ...]) -> str:
    return f" in {_path(loc)}" if loc else ""


def _too_few(loc: tuple[str | int, ...]) -> str:
    return f"value {int(loc[-1]) + 1} is missing"
