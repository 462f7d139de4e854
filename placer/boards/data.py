"""A board as plain data: what ``placer board NAME --json`` prints and a plan embeds.

The contract's keys come first; what they cannot say (rails, cut rules of single strips, labels ...) follows in keys of
its own, each of which may be missing when data are read back.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field, ValidationError

from placer.boards.model import Board, Copper, CutRule, Hole, Keepout, MountingHole, Port, Strip
from placer.boards.paths import along_copper
from placer.boards.schema import diagnostics_of
from placer.boards.selfcheck import Fault, find_faults
from placer.errors import Diagnostic, PlacerError, Span

FORMAT = "placer-board"
VERSION = 1
MAX_DIAGNOSTICS = 20

Number = Annotated[float, Field(allow_inf_nan=False)]
Link = tuple[str, str]
SpanOf = Callable[[tuple[str | int, ...], bool], Span | None]


class _Hole(BaseModel):
    x_mm: Number
    y_mm: Number
    diameter_mm: Number
    x: int | None = None
    y: int | None = None


class _Cut(BaseModel):
    at_hole: bool = False
    between: bool = False


class _Pad(BaseModel):
    x_mm: Number
    y_mm: Number
    strip: str | None = None


class _Port(BaseModel):
    fits: list[str] = []
    pads: dict[str, _Pad] = {}
    about: str = ""


class _Keepout(BaseModel):
    name: str
    x0_mm: Number
    y0_mm: Number
    x1_mm: Number
    y1_mm: Number


class _Mounting(BaseModel):
    name: str
    x_mm: Number
    y_mm: Number
    diameter_mm: Number


class _Copper(BaseModel):
    width_mm: Number = 2.0
    gap_mm: Number = 0.54
    thickness_um: Number = 35.0
    side: str = "bottom"
    rise_k: Number = 10.0


class _Labels(BaseModel):
    columns: dict[int, str] = {}
    rows: dict[int, str] = {}


class _Data(BaseModel):
    format: Literal["placer-board"]
    version: Literal[1]
    name: str
    pitch_mm: Number = 2.54
    outline_mm: tuple[Number, Number]
    holes: dict[str, _Hole]
    links: list[Link] = []
    cut: _Cut = _Cut()
    strips: dict[str, list[str]]
    ports: dict[str, _Port] = {}
    keepouts: list[_Keepout] = []
    about: str = ""
    rails: list[str] = []
    strip_cuts: dict[str, _Cut] = {}
    off_grid: list[Link] = []
    cut_by_default: bool = True
    copper: _Copper = _Copper()
    labels: _Labels = _Labels()
    mounting: list[_Mounting] = []
    sources: dict[str, str] = {}
    bridges: bool = False


def board_to_data(board: Board) -> dict[str, Any]:
    """Return the board as data for JSON; :func:`board_from_data` gives the same board back.

    ``bridges`` stands there only where it is true: the data of all other boards, and their checksums in plan files,
    are what they were before there were bridges.
    """
    data = _board_data(board)
    return {**data, "bridges": True} if board.bridges else data


def _board_data(board: Board) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "version": VERSION,
        "name": board.name,
        "pitch_mm": board.pitch_mm,
        "outline_mm": list(board.outline_mm),
        "holes": {
            address: {"x_mm": h.x_mm, "y_mm": h.y_mm, "diameter_mm": h.diameter_mm, "x": h.x, "y": h.y}
            for address, h in board.holes.items()
        },
        "links": [list(link) for strip in board.strips for link in strip.links],
        "cut": _cut_data(board.cut),
        "strips": {strip.name: list(strip.holes) for strip in board.strips},
        "ports": {name: _port_data(port) for name, port in board.ports.items()},
        "keepouts": [
            {"name": k.name, "x0_mm": k.x0, "y0_mm": k.y0, "x1_mm": k.x1, "y1_mm": k.y1} for k in board.keepouts
        ],
        "about": board.about,
        "rails": [strip.name for strip in board.strips if strip.rail],
        "strip_cuts": {strip.name: _cut_data(strip.cut) for strip in board.strips if strip.cut != board.cut},
        "off_grid": [list(link) for strip in board.strips for link in strip.off_grid],
        "cut_by_default": board.cut_by_default,
        "copper": {
            "width_mm": board.copper.width_mm,
            "gap_mm": board.copper.gap_mm,
            "thickness_um": board.copper.thickness_um,
            "side": board.copper.side,
            **({"rise_k": board.copper.rise_k} if board.copper.rise_k != Copper.rise_k else {}),
        },
        "labels": {
            "columns": {str(x): label for x, label in board.column_labels.items()},
            "rows": {str(y): label for y, label in board.row_labels.items()},
        },
        "mounting": [
            {"name": m.name, "x_mm": m.x_mm, "y_mm": m.y_mm, "diameter_mm": m.diameter_mm} for m in board.mounting
        ],
        "sources": dict(board.sources),
    }


def _cut_data(rule: CutRule) -> dict[str, bool]:
    return {"at_hole": rule.at_hole, "between": rule.between}


def _port_data(port: Port) -> dict[str, Any]:
    pads: dict[str, Any] = {}
    for pin, (x, y) in port.pads.items():
        pads[pin] = {"x_mm": x, "y_mm": y}
        if pin in port.strips:
            pads[pin]["strip"] = port.strips[pin]
    return {"fits": list(port.fits), "pads": pads, "about": port.about}


def board_from_data(data: Any, *, span: SpanOf | None = None) -> Board:
    """Return the self-checked board that ``data`` describe; unknown keys are passed over.

    ``span``: finds the place of a value in the file the data came from, if any.
    Raises PlacerError for data of another form and for a faulty board.
    """
    if isinstance(data, dict) and data.get("format") == FORMAT and data.get("version") not in (VERSION, None):
        message = f"the board is of version {data['version']}, expected {VERSION}"
        where = span(("version",), False) if span else None
        raise PlacerError(Diagnostic("board-version-unknown", message, "write it anew with this version", span=where))
    try:
        read = _Data.model_validate(data)
    except ValidationError as err:
        raise PlacerError(*diagnostics_of(err, span or (lambda _loc, _key: None))) from None
    holes = _holes(read)
    board = Board(
        name=read.name,
        about=read.about,
        outline_mm=read.outline_mm,
        holes=holes,
        strips=_strips(read),
        cut=CutRule(read.cut.at_hole, read.cut.between),
        cut_by_default=read.cut_by_default,
        ports={name: _port(name, port) for name, port in read.ports.items()},
        keepouts=tuple(Keepout(k.name, k.x0_mm, k.y0_mm, k.x1_mm, k.y1_mm) for k in read.keepouts),
        copper=Copper(
            read.copper.width_mm, read.copper.gap_mm, read.copper.thickness_um, read.copper.side, read.copper.rise_k
        ),
        pitch_mm=read.pitch_mm,
        column_labels=dict(read.labels.columns),
        row_labels=dict(read.labels.rows),
        sources=dict(read.sources),
        mounting=tuple(MountingHole(m.name, m.x_mm, m.y_mm, m.diameter_mm) for m in read.mounting),
        bridges=read.bridges,
    )
    faults = find_faults(board)
    if faults:
        raise PlacerError(*(_in_place(fault, span) for fault in faults[:MAX_DIAGNOSTICS]))
    return board


def _in_place(fault: Fault, span: SpanOf | None) -> Diagnostic:
    if span is None:
        return fault.diagnostic
    keys = {"hole": "holes", "strip": "strips", "port": "ports", "keepout": "keepouts"}
    loc = (keys[fault.kind], fault.subject) if fault.kind in keys else ()
    return replace(fault.diagnostic, span=span(loc, True))


def _holes(read: _Data) -> dict[str, Hole]:
    """Return the holes; a grid position that is missing follows from the mm, with the first hole's corner at 0."""
    if not read.holes:
        return {}
    pitch = read.pitch_mm or 2.54
    # Where positions are given at all, they say where the grid begins; else it begins at the outermost hole.
    known = next((h for h in read.holes.values() if h.x is not None and h.y is not None), None)
    if known is not None and known.x is not None and known.y is not None:
        x0, y0 = known.x_mm - known.x * pitch, known.y_mm - known.y * pitch
    else:
        x0, y0 = min(h.x_mm for h in read.holes.values()), min(h.y_mm for h in read.holes.values())
    return {
        address: Hole(
            address,
            round((h.x_mm - x0) / pitch) if h.x is None else h.x,
            round((h.y_mm - y0) / pitch) if h.y is None else h.y,
            h.x_mm,
            h.y_mm,
            h.diameter_mm,
        )
        for address, h in read.holes.items()
    }


def _strips(read: _Data) -> tuple[Strip, ...]:
    """Return the strips with their links. Raises PlacerError for a link between strips."""
    owner = {address: name for name, members in read.strips.items() for address in members}
    links: dict[str, list[Link]] = {name: [] for name in read.strips}
    for link in read.links:
        names = {owner.get(end) for end in link}
        name = names.pop()
        if names or name is None:
            message = f"link {link[0]} to {link[1]} does not join two holes of one strip"
            raise PlacerError(Diagnostic("link-to-nowhere", message, "copper that meets is one strip"))
        links[name].append(link)
    off_grid = set(read.off_grid)
    unknown = sorted((set(read.rails) | set(read.strip_cuts)) - set(read.strips))
    unknown += sorted(f"{one} to {other}" for one, other in off_grid - set(read.links))
    if unknown:
        message = f"rails, strip_cuts or off_grid speak of {unknown[0]}, which the board lacks"
        raise PlacerError(Diagnostic("strip-unknown", message))
    found = []
    for name, members in read.strips.items():
        order = tuple(members)
        given = read.strip_cuts.get(name)
        if given is not None:
            rule = CutRule(given.at_hole, given.between)
        elif along_copper(order, links[name]) is None:
            rule = CutRule()
        else:
            rule = CutRule(read.cut.at_hole, read.cut.between)
        own = tuple(link for link in links[name] if link in off_grid)
        found.append(Strip(name, order, tuple(links[name]), rule, name in read.rails, own))
    return tuple(found)


def _port(name: str, port: _Port) -> Port:
    return Port(
        name,
        tuple(port.fits),
        {pin: (pad.x_mm, pad.y_mm) for pin, pad in port.pads.items()},
        {pin: pad.strip for pin, pad in port.pads.items() if pad.strip is not None},
        port.about,
    )
