"""What a circuit file may hold, as pydantic schemas, and their errors in our own words.

All scalars reach the schemas as the text that was written (see :mod:`placer.marked`); a schema says which are numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails

from placer.circuit.problems import Problems
from placer.errors import Span

Loc = tuple[str | int, ...]
Locate = Callable[..., Span]
"""``locate(loc, key=False)``: the place of a value, or of its key, in the source."""


def _empty_if_none(value: Any) -> Any:
    return "" if value is None else value


def _none_to_dict(value: Any) -> Any:
    return {} if value is None else value


def _items(short: str) -> Callable[[Any], Any]:
    """Accept one value where a list is expected, and text where a mapping with the key ``short`` is expected."""

    def convert(value: Any) -> Any:
        if value is None:
            return []
        values = value if isinstance(value, list) else [value]
        return [{short: item} if isinstance(item, str) else item for item in values]

    return convert


def _one_or_more(value: Any) -> Any:
    if value is None:
        return []
    return value if isinstance(value, list) else [value]


class _Schema(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


Distance = Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)]


class NearSchema(_Schema):
    """``U1.8`` or ``{pin: U1.8, steps: 3}``."""

    pin: str
    steps: Distance = 4.0


class AwaySchema(_Schema):
    """``REG1`` or ``{part: REG1, mm: 15}``."""

    part: str
    mm: Distance = 10.0


class WishSchema(_Schema):
    """Wishes that may be binding or not."""

    at: Annotated[dict[str, str], BeforeValidator(_none_to_dict)] = {}
    edge: Literal["top", "bottom", "left", "right", "any"] | None = None
    rotation: Literal["0", "90", "180", "270"] | None = None
    mount: Literal["flat", "standing", "any"] | None = None
    near: Annotated[list[NearSchema], BeforeValidator(_items("pin"))] = []
    away: Annotated[list[AwaySchema], BeforeValidator(_items("part"))] = []
    side: Literal["top", "bottom", "left", "right"] | None = None


Weight = Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)]


class PreferSchema(WishSchema):
    """Wishes that need not be kept."""

    weight: Weight | None = None
    cost: Weight | None = None


class PlaceSchema(WishSchema):
    """The wishes of a part."""

    diagonal: bool | None = None
    flying: bool | None = None
    port: str | None = None
    fixed: bool = False
    prefer: Any = None  # checked entry by entry


class TogetherSchema(_Schema):
    """``{parts: [U1, C1], steps: 10}``."""

    parts: Annotated[list[str], BeforeValidator(_one_or_more)]
    steps: Distance
    weight: Weight | None = None
    cost: Weight | None = None


class RegionSchema(_Schema):
    """``{from: c3, to: e9}``."""

    start: Annotated[str, Field(alias="from")]
    end: Annotated[str, Field(alias="to")]


class OwnedSchema(_Schema):
    """``L+`` or ``{strip: L+, weight: 2}``."""

    strip: str
    weight: Weight | None = None
    cost: Weight | None = None


class ShortSchema(_Schema):
    """``{net: CLK, mm: 30}``."""

    net: str
    mm: Distance
    weight: Weight | None = None
    cost: Weight | None = None


class ApartSchema(_Schema):
    """``{nets: [CLK, SENSE], mm: 10}``."""

    nets: Annotated[list[str], BeforeValidator(_one_or_more)]
    mm: Distance = 10.0
    weight: Weight | None = None
    cost: Weight | None = None


class HabitSchema(_Schema):
    """``{weight: 3}`` or ``{cost: 0.5}``."""

    weight: Weight | None = None
    cost: Weight | None = None


class PartSchema(_Schema):
    """A part; its ``place`` is a :class:`PlaceSchema`."""

    package: str
    value: Annotated[str, BeforeValidator(_empty_if_none)] = ""
    pins: Annotated[dict[str, str], BeforeValidator(_none_to_dict)] = {}
    place: Any = None  # checked by itself: a wish in error hides nothing else of the part


class NetSchema(_Schema):
    """A net, long form."""

    pins: Annotated[list[str], BeforeValidator(_one_or_more)]
    role: Literal["supply", "ground", "signal"] = "signal"
    volts: Annotated[float, Field(allow_inf_nan=False, ge=-1e6, le=1e6)] | None = None
    amps: Annotated[float, Field(allow_inf_nan=False, ge=0, le=1e6)] | None = None
    ac: bool = False


S = TypeVar("S", bound=BaseModel)


def validate(schema: type[S], data: Any, loc: Loc, locate: Locate, problems: Problems, what: str) -> S | None:
    """Return the data as ``schema``. ``what`` names it, such as ``part R1``.

    Every error is recorded. Faulty keys are then left out, so that what the others say is still checked; None where the
    data are beyond that.
    """
    if not isinstance(data, Mapping):
        keys = ", ".join(_keys(schema, ()))
        found = f"{what}: expected a mapping with the keys {keys}, found {kind_of(data)}"
        problems.error("wrong-type", found, locate(loc))
        return None
    try:
        return schema.model_validate(data)
    except ValidationError as err:
        details = err.errors(include_url=False)
    for detail in details:
        _explain(detail, schema, loc, locate, problems, what)
    faulty = {detail["loc"][0] for detail in details if detail["loc"]}
    try:
        return schema.model_validate({key: value for key, value in data.items() if key not in faulty})
    except ValidationError:  # a key is missing
        return None


def _explain(
    detail: ErrorDetails, schema: type[BaseModel], loc: Loc, locate: Locate, problems: Problems, what: str
) -> None:
    inner: Loc = tuple(detail["loc"])
    at, kind, found = loc + inner, detail["type"], detail["input"]
    name = ".".join(str(step) for step in inner if isinstance(step, str))
    context = detail.get("ctx", {})
    if kind == "extra_forbidden":
        known = _keys(schema, inner[:-1])
        hint = problems.did_you_mean(str(inner[-1]), known) or f"known keys: {', '.join(known)}"
        problems.error("unknown-key", f"{what}: key {name} is not known", locate(at, key=True), hint=hint)
    elif kind == "missing":
        code = "part-without-package" if schema is PartSchema and inner == ("package",) else "key-missing"
        problems.error(code, f"{what} has no {name}", locate(loc + inner[:-1], key=True), hint=f"add the key {name}")
    elif kind == "literal_error":
        expected = str(context.get("expected", "")).replace("'", "")
        choices = expected.replace(" or ", ", ").split(", ")
        hint = problems.did_you_mean(found, choices) if isinstance(found, str) else ""
        shown = found if isinstance(found, str) else kind_of(found)
        problems.error(f"bad-{inner[-1]}", f"{what}: {name} is {shown}, expected {expected}", locate(at), hint=hint)
    else:
        expected = _EXPECTED.get(kind, "").format(**context) or detail["msg"]
        shown = found if isinstance(found, str) else kind_of(found)
        problems.error("bad-value", f"{what}: {name} is {shown}, expected {expected}", locate(at))


_EXPECTED = {
    "string_type": "text",
    "float_parsing": "a number",
    "float_type": "a number",
    "finite_number": "a finite number",
    "greater_than": "a number above {gt:g}",
    "greater_than_equal": "a number of at least {ge:g}",
    "less_than_equal": "a number of at most {le:g}",
    "bool_parsing": "true or false",
    "bool_type": "true or false",
    "list_type": "a list",
    "dict_type": "a mapping",
    "model_type": "a mapping",
    "model_attributes_type": "a mapping",
}


def _keys(schema: type[BaseModel], inner: Loc) -> tuple[str, ...]:
    """Return the keys that the schema knows at an inner place."""
    nested: dict[str, type[BaseModel]] = {"near": NearSchema, "away": AwaySchema}
    for step in inner:
        schema = nested.get(str(step), schema)
    return tuple(known.alias or name for name, known in schema.model_fields.items())


def kind_of(value: Any) -> str:
    """Say in words what a piece of data is."""
    if value is None:
        return "nothing"
    if isinstance(value, Mapping):
        return "a mapping"
    return "a list" if isinstance(value, list) else f"the text {value!r}"
