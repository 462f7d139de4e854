"""The form of ``plan.json``: which fields there are, of which type, and what is said when one is missing or wrong."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from placer.errors import Diagnostic, Span

Number = Annotated[float, Field(allow_inf_nan=False)]


class _Form(BaseModel):
    """Every field known, nothing guessed: text is not read as a number, nor a number as text."""

    model_config = ConfigDict(extra="forbid", strict=True)


class Source(_Form):
    """The circuit or the board that a plan carries whole, with the checksum of its data."""

    name: str
    sha256: str
    data: dict[str, Any]


class PlacementForm(_Form):
    """Where a part goes."""

    package: str
    mount: str
    pins: dict[str, str]


class CutForm(_Form):
    """A cut at a hole or between two."""

    at: str | None = None
    between: Annotated[list[str], Field(min_length=2, max_length=2)] | None = None


class JumperForm(_Form):
    """A jumper."""

    net: str
    start: Annotated[str, Field(alias="from")]
    end: Annotated[str, Field(alias="to")]
    length_mm: Number


class BridgeForm(_Form):
    """A bridge of solder between two neighbouring holes."""

    net: str
    between: Annotated[list[str], Field(min_length=2, max_length=2)]


class _TallyForm(_Form):
    kept: int
    of: int
    weight: Number | None = None
    cost: Number | None = None


class WishForm(_TallyForm):
    """How far a wish of the user's is kept."""

    wish: str


class HabitForm(_TallyForm):
    """How far a habit is kept."""

    what: str


class ScoreForm(_Form):
    """Counts and cost."""

    jumpers: int
    cuts: int
    jumper_mm: Number
    cost: Number
    bridges: int = 0
    wishes: list[WishForm] = []
    habits: dict[str, list[HabitForm]] = {}
    broken: Number = 0.0
    raised: Number = 0.0


class ProofForm(_Form):
    """What is known of the least cost."""

    status: str
    lower_bound: Number
    gap: Number
    scope: str


class SolveForm(_Form):
    """How the plan was found."""

    seconds: Number
    seed: int
    workers: int
    phases: list[dict[str, Any]]
    first_plan_seconds: Number | None = None


class OptionsForm(_Form):
    """What the builder allows and what it costs."""

    jumper_cost: Number = 1.0
    cut_cost: Number = 0.8
    allow_cuts: bool = True
    diagonals: bool = False
    bridge_cost: Number = 0.1
    habits: bool = False


class FindingForm(_Form):
    """What was found of current, voltage or heat."""

    code: str
    severity: Literal["error", "warning", "note"]
    where: list[str] = []
    figures: dict[str, Number] = {}
    message: str
    source: str = ""
    mend: str = ""


class PlanForm(_Form):
    """A plan file."""

    format: str
    version: int
    circuit: Source
    board: Source
    placements: dict[str, PlacementForm]
    cuts: list[CutForm]
    jumpers: list[JumperForm]
    score: ScoreForm
    proof: ProofForm
    solve: SolveForm
    options: OptionsForm | None = None
    bridges: list[BridgeForm] = []
    findings: list[FindingForm] = []


_EXPECTED = {
    "string_type": "text",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "finite_number": "a finite number",
    "bool_type": "true or false",
    "dict_type": "a mapping",
    "model_type": "a mapping",
    "model_attributes_type": "a mapping",
    "list_type": "a list",
    "too_short": "two holes",
    "too_long": "two holes",
    "literal_error": "error, warning or note",
}
_KINDS = ((bool, "true or false"), (int, "a number"), (float, "a number"), (str, "text"), (dict, "a mapping"))


def _kind(value: object) -> str:
    if value is None:
        return "nothing (null)"
    return next((name for kind, name in _KINDS if isinstance(value, kind)), "a list")


def _said(value: object) -> str:
    """A value as a message quotes it: short scalars as they are, the rest by kind."""
    if isinstance(value, str):
        return f'"{value}"' if len(value) <= 40 else f'"{value[:37]}..."'
    if isinstance(value, list) and 0 < len(value) <= 4 and all(isinstance(item, str) for item in value):
        return f"[{', '.join(value)}]"
    return f"{value}" if isinstance(value, int | float) and not isinstance(value, bool) else _kind(value)


def _fields_at(path: tuple[int | str, ...]) -> tuple[str, ...]:
    """Names of the fields that belong at a place of the file; () where names are free."""
    forms: dict[str, type[BaseModel]] = {
        "circuit": Source,
        "board": Source,
        "placements": PlacementForm,
        "cuts": CutForm,
        "jumpers": JumperForm,
        "bridges": BridgeForm,
        "score": ScoreForm,
        "proof": ProofForm,
        "solve": SolveForm,
        "options": OptionsForm,
        "findings": FindingForm,
    }
    form = forms.get(str(path[0])) if path else PlanForm
    return tuple(field.alias or name for name, field in form.model_fields.items()) if form else ()


def diagnostics_of(error: ValidationError, where: str) -> Iterable[Diagnostic]:
    """Say each schema error: the place in the file, what was found and what was expected."""
    for item in error.errors():
        path = tuple(item["loc"])
        place = ".".join(map(str, path)) or "the file"
        span = Span(where)
        if item["type"] == "missing":
            yield Diagnostic("plan-field-missing", f"{place} is missing", "a plan file has all its fields", span=span)
        elif item["type"] == "extra_forbidden":
            near = get_close_matches(str(path[-1]), _fields_at(path[:-1]), n=1)
            cure = f"did you mean {near[0]}?" if near else "leave it out"
            yield Diagnostic("plan-field-unknown", f"{place} is no field of a plan file", cure, span=span)
        else:
            expected = _EXPECTED.get(item["type"], item["msg"])
            found = _said(item["input"])
            yield Diagnostic("plan-field-wrong", f"{place} is {found}; expected {expected}", span=span)
