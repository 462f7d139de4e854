"""What the lines and signs of a sheet mean: only those that stand on it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import takewhile

from placer.boards.model import Board
from placer.circuit.rails import roles_of
from placer.guide import style, wires
from placer.guide.planview import drill_items, flying_items, knife_items
from placer.guide.scene import Circle, Item, Path, Pen, polyline, rectangle
from placer.guide.sheet import Row
from placer.guide.solder import bridge_items
from placer.packages.model import Flying
from placer.plan.links import links
from placer.plan.model import Plan

_TWO = (3.73, 6.27)  # two pads a step apart, mm
_CLASS_WORDS = {"supply": "supply net", "ground": "ground net", "signal": "signal net"}


def board_rows(board: Board) -> Iterator[Row]:
    """Rows that explain a bare board."""
    yield Row("Legend", head=True, height=5.0)
    yield Row(f"copper: holes in one bar are joined ({board.copper.width_mm:g} mm wide)", _bar())
    if any(strip.off_grid for strip in board.strips):
        yield Row("joined by copper that runs off the grid", (polyline(((0.5, 0), (9.5, 0)), style.HIDDEN),))
    if board.ports:
        yield Row("port for a connector off the grid", (rectangle(1.5, -1.4, 8.5, 1.4, style.KEEPOUT),))
    if board.keepouts:
        hatch = tuple(polyline(((x, 1.4), (x + 2.8, -1.4)), style.FINE) for x in (1.5, 3.5, 5.5))
        yield Row("keep-out: no part, no lead", (rectangle(1.5, -1.4, 8.5, 1.4, style.KEEPOUT), *hatch))


def plan_rows(plan: Plan, *, mirrored: bool, sawn: bool = False) -> Iterator[Row]:
    """Rows that explain a plan's sheet, then its jumpers and cuts in short."""
    yield from board_rows(plan.board)
    packages = [plan.circuit.packages[p.package] for p in plan.placements.values()]
    dot = Circle(5, 0, style.LEAD_R, None, style.INK)
    h = style.PIN1_HALF
    square = rectangle(5 - h, -h, 5 + h, h, None, style.INK)
    yield Row("solder a lead here" if mirrored else "lead of a part", (dot,))
    if any(not p.symmetric and not isinstance(p.form, Flying) for p in packages):
        yield Row("square: pin 1 (diode, LED: anode; capacitor: +)", (square,))
    if mirrored:
        yield Row("outline of a part on the other side", (rectangle(2, -1.1, 8, 1.1, style.HIDDEN),))
    else:
        yield from _mark_rows({p.shape for p in packages if p.polarity or p.shape in ("dip", "to-92", "to-220")})
    if any(isinstance(p.form, Flying) for p in packages) and not mirrored:
        yield Row("diamond: end of a free wire that leaves the board", (*flying_items(5, 0), dot))
    yield from _jumper_rows(plan, mirrored=mirrored)
    yield from _bridge_rows(plan, mirrored=mirrored)
    yield from _cut_rows(plan, mirrored=mirrored)
    if sawn:
        yield Row("saw line: what lies beyond comes off", (polyline(((0.0, 0.0), (10.0, 0.0)), style.SAW),))
    yield from _lists(plan)


def sign_rows(plan: Plan, *, sawn: bool = False) -> list[Row]:
    """Rows that explain the signs of both sides, each once; no lists."""
    found: dict[str, Row] = {}
    for mirrored in (False, True):
        rows = plan_rows(plan, mirrored=mirrored, sawn=sawn)
        for row in takewhile(lambda row: row.sample or row.text == "Legend", rows):
            found.setdefault(row.text, row)
    return list(found.values())


def _bar() -> tuple[Item, ...]:
    line = (("M", (1.5, 0.0)), ("L", (8.5, 0.0)))
    holes = (Circle(x, 0, 0.5, style.FINE, style.PAPER) for x in (2.46, 5.0, 7.54))
    return (
        Path(line, Pen(2.0, style.COPPER_EDGE, cap="round")),
        Path(line, Pen(1.74, style.COPPER_FILL, cap="round")),
        *holes,
    )


def _mark_rows(shapes: set[str]) -> Iterator[Row]:
    body = rectangle(2, -1.1, 8, 1.1, style.OUTLINE, style.PAPER)
    if "dip" in shapes:
        notch = Path((("M", (2, -0.7)), ("A", (0.7, 0, 1, 2, 0.7))), style.OUTLINE)
        yield Row("notch and dot: pin 1 end of an IC", (body, notch, Circle(2.7, 0.75, 0.25, None, style.INK)))
    if shapes & {"diode"}:
        yield Row("bar: cathode", (body, rectangle(6.8, -1.1, 7.35, 1.1, None, style.INK)))
    if "can" in shapes:
        stripe = Path((("M", (6.1, -1.0)), ("A", (1.5, 0, 1, 6.1, 1.0)), ("Z", ())), style.OUTLINE, style.INK)
        plus = Path((("M", (3.8, -0.4)), ("L", (4.6, -0.4)), ("M", (4.2, -0.8)), ("L", (4.2, 0.0))), style.MARK)
        yield Row("+ side; filled side: minus", (Circle(5, 0, 1.5, style.OUTLINE, style.PAPER), stripe, plus))
    if "led" in shapes:
        rim = Path((("M", (6.1, -1.0)), ("A", (1.5, 1, 0, 6.1, 1.0)), ("Z", ())), style.OUTLINE, style.PAPER)
        yield Row("LED: flat side is the cathode, + the anode", (rim, polyline(((6.1, -1), (6.1, 1)), style.MARK)))
    if "to-92" in shapes:
        dee = Path((("M", (3.2, 0.9)), ("A", (1.9, 1, 1, 6.8, 0.9)), ("Z", ())), style.OUTLINE, style.PAPER)
        yield Row("three-lead part: the flat side as drawn", (dee,))
    if "to-220" in shapes:
        tab = rectangle(2, -1.1, 8, -0.4, style.OUTLINE)
        hatch = tuple(polyline(((x, -0.4), (x + 0.7, -1.1)), style.THIN) for x in (2.5, 3.7, 4.9, 6.1))
        yield Row("hatched: metal tab", (body, tab, *hatch))


def _jumper_rows(plan: Plan, *, mirrored: bool) -> Iterator[Row]:
    roles = roles_of(plan.circuit)
    used = {roles.get(j.net, "signal") for j in plan.jumpers}
    for role, words in _CLASS_WORDS.items():
        if role in used:
            pen = wires.line_class(role)
            ends = (*wires.end_items((1.2, 0), pen), *wires.end_items((8.8, 0), pen))
            line = () if mirrored else (polyline(((1.2, 0), (8.8, 0)), pen),)
            yield Row(f"jumper, {words}" + (": ends" if mirrored else ""), (*line, *ends))
    if not mirrored and any(link.bare for link in links(plan)):
        run = (("M", (1.2, 0.0)), ("L", (8.8, 0.0)))
        pen = wires.line_class("signal")
        ends = (*wires.end_items((1.2, 0), pen), *wires.end_items((8.8, 0), pen))
        yield Row("thin, a line through the dashes: bare wire", (*wires.line_items(run, pen, bare=True), *ends))
    if used:
        yield Row("number of a jumper", wires.Disc(5, 0, 1).items(Pen(0.25)))


def _bridge_rows(plan: Plan, *, mirrored: bool) -> Iterator[Row]:
    if plan.bridges:
        near = mirrored == (plan.board.copper.side == "bottom")
        pads = [Circle(x, 0, 1.0, Pen(0.13, style.COPPER_EDGE), style.COPPER_FILL) for x in _TWO]
        holes = [Circle(x, 0, 0.5, style.FINE, style.PAPER) for x in _TWO]
        words = "bridge: join the two pads with solder" if near else "bridge of solder on the other side"
        bar = bridge_items((_TWO[0], 0.0), (_TWO[1], 0.0), near=near)
        yield Row(f"{words} ({len(plan.bridges)})", (*pads, *holes, *bar))


def _cut_rows(plan: Plan, *, mirrored: bool) -> Iterator[Row]:
    """A drill must be wider than the bar, or a sliver of copper stays on either side of the hole."""
    width = plan.board.copper.width_mm
    where = "cut" if mirrored else "cut on the copper side"
    if any(cut.at for cut in plan.cuts):
        yield Row(f"{where}: drill, wider than {width:g} mm", drill_items(5, 0))
    if any(cut.between for cut in plan.cuts):
        yield Row(f"{where}: knife, across the bar", (*_bar()[:2], *knife_items((5, 0), (9, 0), 2.0)))
    if plan.cuts:
        yield Row("number of a cut", wires.Disc(5, 0, 1, square=True).items(Pen(0.25)))


def _lists(plan: Plan) -> Iterator[Row]:
    """Jumpers and cuts in one line each."""
    if plan.jumpers:
        yield Row("Jumpers", head=True, height=6.0)
    for i, (jumper, link) in enumerate(zip(plan.jumpers, links(plan), strict=True), 1):
        wire = "bare" if link.bare else "insul."
        cells = (str(i), f"{jumper.start} – {jumper.end}", f"{jumper.length_mm:.1f} mm", wire, jumper.net)
        yield Row("\t".join(cells), height=3.2)
    if plan.cuts:
        yield Row("Cuts", head=True, height=6.0)
    for i, cut in enumerate(plan.cuts, 1):
        where = f"drill out {cut.at}" if cut.at else "knife between {} and {}".format(*(cut.between or ("", "")))
        yield Row(f"{i}  {where}", height=3.2)
    if plan.jumpers:
        yield Row(style.PALETTE_NOTE, height=5.0)
