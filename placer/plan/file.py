"""The plan file, ``plan.json``: a plan with its whole circuit and board, written and read back."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from numbers import Integral, Real
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from placer.boards.data import board_from_data, board_to_data
from placer.boards.model import Board
from placer.circuit.write_yaml import circuit_from_data, circuit_to_data
from placer.errors import Diagnostic, PlacerError, Span
from placer.files import replace_file
from placer.plan.conductors import natural_key
from placer.plan.findings import Finding, findings_to_data
from placer.plan.model import Bridge, Cut, Jumper, Options, Placement, Plan, Proof, Score, SolveInfo, Tally
from placer.plan.schema import OptionsForm, PlanForm, ScoreForm, Source, diagnostics_of

FORMAT = "placer-plan"
VERSION = 1
DIGITS = 6  # 1 nm in mm, a microsecond in seconds
TINY = 1e-6
MAX_BYTES = 64 * 1024 * 1024


# --- writing ---------------------------------------------------------------------------------------------------------


def plan_to_data(plan: Plan) -> dict[str, Any]:
    """Return the plan as data for JSON: fixed order of keys, floats rounded to six digits."""
    order = {part.ref: number for number, part in enumerate(plan.circuit.parts)}
    refs = sorted(plan.placements, key=lambda ref: (order.get(ref, len(order)), natural_key(ref)))
    data = {
        "format": FORMAT,
        "version": VERSION,
        "circuit": _source(plan.circuit.name, circuit_to_data(plan.circuit)),
        "board": _source(plan.board.name, board_to_data(plan.board)),
        "placements": {ref: _placement(plan.placements[ref]) for ref in refs},
        "cuts": [_cut(cut) for cut in plan.cuts],
        "jumpers": [
            {"net": jumper.net, "from": jumper.start, "to": jumper.end, "length_mm": jumper.length_mm}
            for jumper in plan.jumpers
        ],
        "score": {
            "jumpers": plan.score.jumpers,
            "cuts": plan.score.cuts,
            "jumper_mm": plan.score.jumper_mm,
            "cost": plan.score.cost,
            **_wishes(plan.score),
        },
        "proof": {
            "status": plan.proof.status,
            "lower_bound": plan.proof.lower_bound,
            "gap": plan.proof.gap,
            "scope": plan.proof.scope,
        },
        "solve": {
            "seconds": plan.solve.seconds,
            "first_plan_seconds": plan.solve.first_plan_seconds,
            "seed": plan.solve.seed,
            "workers": plan.solve.workers,
            "phases": [_without_infinities(phase) for phase in plan.solve.phases],
        },
        "options": {
            "jumper_cost": plan.options.jumper_cost,
            "cut_cost": plan.options.cut_cost,
            "allow_cuts": plan.options.allow_cuts,
            "diagonals": plan.options.diagonals,
            **({"habits": True} if plan.options.habits else {}),
        },
    }
    if plan.findings:
        data["findings"] = findings_to_data(plan.findings)
    plain: dict[str, Any] = _plain(_with_bridges(data, plan) if plan.board.bridges or plan.bridges else data)
    return plain


def _with_bridges(data: dict[str, Any], plan: Plan) -> dict[str, Any]:
    """The fields of a plan on a board that allows bridges; plans on other boards have none of them."""
    bridges = [{"net": bridge.net, "between": list(bridge.between)} for bridge in plan.bridges]
    found: dict[str, Any] = {}
    for key, value in data.items():
        found[key] = value
        if key == "jumpers":
            found["bridges"] = bridges
    found["score"] = {**found["score"], "bridges": plan.score.bridges}
    found["options"] = {**found["options"], "bridge_cost": plan.options.bridge_cost}
    return found


def _wishes(score: Score) -> dict[str, Any]:
    """What is wished for and how far it is kept; plans without such wishes have none of these fields."""
    own: list[dict[str, Any]] = []
    habits: dict[str, list[dict[str, Any]]] = {}
    for tally in score.wishes:
        force = {"weight": tally.weight, "cost": tally.cost}
        entry = {"kept": tally.kept, "of": tally.of, **{k: v for k, v in force.items() if v is not None}}
        if tally.habit:
            habits.setdefault(tally.habit, []).append({"what": tally.name, **entry})
        else:
            own.append({"wish": tally.name, **entry})
    found: dict[str, Any] = {**({"wishes": own} if own else {}), **({"habits": habits} if habits else {})}
    return {**found, "broken": score.broken, "raised": score.raised} if found else {}


def write_plan(plan: Plan, path: Path | str) -> None:
    """Write a plan file; the old file stays until the new one is whole.

    Raises PlacerError where the file cannot be written.
    """
    path = Path(path)
    text = json.dumps(plan_to_data(plan), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    try:
        replace_file(path, text)
    except OSError as error:
        raise _failed("plan-not-written", f"cannot write {path}: {error.strerror or error}", str(path)) from None


def checksum(data: Any) -> str:
    """SHA-256 of data as canonical JSON: keys sorted, no blanks, UTF-8, whole numbers without a decimal point."""
    text = json.dumps(_canonical(data), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _source(name: str, data: Any) -> dict[str, Any]:
    plain = _plain(data)
    return {"name": name, "sha256": checksum(plain), "data": plain}


def _placement(placement: Placement) -> dict[str, Any]:
    pins = {pin: placement.pins[pin] for pin in sorted(placement.pins, key=natural_key)}
    return {"package": placement.package, "mount": placement.mount, "pins": pins}


def _cut(cut: Cut) -> dict[str, Any]:
    at = {} if cut.at is None else {"at": cut.at}
    return at if cut.between is None else {**at, "between": list(cut.between)}


def _plain(value: Any) -> Any:
    """Data of plain JSON types (solver libraries bring numbers of their own), floats rounded."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Real):
        return round(float(value), DIGITS) + 0.0  # + 0.0 turns -0.0 into 0.0
    return str(value)


def _without_infinities(value: Any) -> Any:
    """A phase may know no cost or bound yet; JSON has no word for infinity, so that is null."""
    if isinstance(value, Mapping):
        return {key: _without_infinities(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_without_infinities(item) for item in value]
    return None if isinstance(value, Real) and not math.isfinite(value) else value


def _canonical(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _canonical(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_canonical(item) for item in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value


NAME_IT = "name the plan.json that placer plan wrote"

# --- reading ---------------------------------------------------------------------------------------------------------


def read_plan(path: Path | str) -> Plan:
    """Read a plan file. Raises PlacerError with everything that keeps it from being read."""
    where = str(path)
    try:
        with Path(path).open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except OSError as error:
        message = f"cannot read {where}: {error.strerror or error}"
        mend = NAME_IT if Path(path).is_dir() else ""
        raise PlacerError(Diagnostic("plan-not-read", message, mend, span=Span(where))) from None
    if len(raw) > MAX_BYTES:
        raise _failed("plan-too-large", f"{where} is larger than {MAX_BYTES // 1024 // 1024} MiB", where)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _failed("plan-not-utf8", f"{where} is not UTF-8 text (byte {error.start})", where) from None
    try:
        data = json.loads(text, object_pairs_hook=_once, parse_constant=_no_constant)
        # Text that cannot be written again (half a surrogate pair) must not come in.
        json.dumps(data, ensure_ascii=False).encode("utf-8")
    except json.JSONDecodeError as error:
        line = text.splitlines()[error.lineno - 1] if error.lineno <= len(text.splitlines()) else ""
        span = Span(where, error.lineno, error.colno, 1, line[:200])
        raise PlacerError(
            Diagnostic("plan-not-json", f"{where} is not JSON: {error.msg}", NAME_IT, span=span)
        ) from None
    except UnicodeEncodeError:
        raise _failed("plan-not-json", f"{where} holds half a surrogate pair, which is no text", where) from None
    except (ValueError, RecursionError) as error:
        reason = "it is nested too deeply" if isinstance(error, RecursionError) else str(error)
        raise _failed("plan-not-json", f"{where} is not JSON that can be read: {reason}", where) from None
    return plan_from_data(data, where)


def plan_from_data(data: Any, where: str) -> Plan:
    """Return the plan that ``data`` describe; ``where`` names their source in messages.

    What can be judged although it is wrong (a checksum, say) comes through in ``Plan.doubts``.
    Raises PlacerError for data of another form, and for a circuit or board that is faulty in itself.
    """
    if not isinstance(data, dict):
        raise _failed("plan-not-a-plan", f"{where} does not hold a mapping; expected a plan file", where)
    if data.get("format") != FORMAT:
        found = json.dumps(data.get("format"))[:40]
        raise _failed("plan-not-a-plan", f'{where} has format {found}; expected "{FORMAT}"', where)
    version = data.get("version")
    if version != VERSION or isinstance(version, bool):
        raise _failed("plan-version", f"{where} is of version {json.dumps(version)[:40]}; expected {VERSION}", where)
    try:
        form = PlanForm.model_validate(data)
    except ValidationError as error:
        raise PlacerError(*diagnostics_of(error, where)) from None
    circuit = circuit_from_data(form.circuit.data, file=where, base=("circuit", "data"))
    board = board_from_data(form.board.data, span=lambda loc, _key: _span_of(where, ("board", "data", *loc)))
    return Plan(
        circuit=circuit,
        board=board,
        placements={
            ref: Placement(ref, item.package, item.mount, dict(item.pins)) for ref, item in form.placements.items()
        },
        cuts=tuple(Cut(cut.at, None if cut.between is None else (cut.between[0], cut.between[1])) for cut in form.cuts),
        jumpers=tuple(Jumper(item.net, item.start, item.end, item.length_mm) for item in form.jumpers),
        score=_score(form.score),
        proof=Proof(form.proof.status, form.proof.lower_bound, form.proof.gap, form.proof.scope),
        solve=SolveInfo(
            form.solve.seconds,
            form.solve.seed,
            form.solve.workers,
            tuple(form.solve.phases),
            form.solve.first_plan_seconds,
        ),
        options=_options(form.options, board),
        doubts=(
            *_doubts("circuit", form.circuit, circuit.name),
            *_doubts("board", form.board, board.name),
            *_wrong_sums(form.score),
        ),
        bridges=tuple(Bridge(item.net, (item.between[0], item.between[1])) for item in form.bridges),
        findings=tuple(
            Finding(f.code, f.severity, f.message, tuple(f.where), dict(f.figures), f.source, f.mend)
            for f in form.findings
        ),
    )


def _score(form: ScoreForm) -> Score:
    own = [Tally(item.wish, item.kept, item.of, item.weight, item.cost) for item in form.wishes]
    habits = [
        Tally(item.what, item.kept, item.of, item.weight, item.cost, habit)
        for habit, items in form.habits.items()
        for item in items
    ]
    return Score(form.jumpers, form.cuts, form.jumper_mm, form.cost, form.bridges, (*own, *habits))


def _wrong_sums(form: ScoreForm) -> list[Diagnostic]:
    """The sums of broken wishes, which the plan works out of its entries, against what the file gives."""
    score = _score(form)
    return [
        Diagnostic("wrong-wishes", f"the score gives {given:g} as {name}; its entries come to {found:g}")
        for name, given, found in (("broken", form.broken, score.broken), ("raised", form.raised, score.raised))
        if abs(given - found) > TINY
    ]


def _options(form: OptionsForm | None, board: Board) -> Options:
    """The options a plan was made under; a plan that names none was made under the board's defaults."""
    if form is None:
        return Options(allow_cuts=board.cut_by_default)
    return Options(form.jumper_cost, form.cut_cost, form.allow_cuts, form.diagonals, form.bridge_cost, form.habits)


def _doubts(what: str, source: Source, name: str) -> list[Diagnostic]:
    doubts = []
    if source.name != name:
        message = f'the plan says its {what} is "{source.name}"; the {what} it carries is "{name}"'
        doubts.append(Diagnostic(f"{what}-misnamed", message))
    if source.sha256.lower() != checksum(source.data):
        message = f"the {what} that the plan carries was changed: its data do not have the checksum stated"
        doubts.append(Diagnostic(f"{what}-changed", message, f"make the plan anew from the {what}"))
    return doubts


def _span_of(where: str, path: tuple[str | int, ...]) -> Span:
    return Span(f"{where} at {'.'.join(map(str, path))}")


def _failed(code: str, message: str, where: str) -> PlacerError:
    return PlacerError(Diagnostic(code, message, span=Span(where)))


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """A mapping whose keys all differ; JSON readers otherwise drop all but the last silently."""
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise ValueError(f'the key "{key}" occurs twice in one mapping')
        found[key] = value
    return found


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is not a JSON number")
