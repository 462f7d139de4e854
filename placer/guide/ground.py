"""The board itself on the sheet: outline, copper as light outlined bars, holes, the labels printed along its edges."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from types import MappingProxyType

import networkx as nx

from placer.boards.model import Board, Strip
from placer.guide import style
from placer.guide.metrics import rise, text_box, text_width
from placer.guide.room import Box
from placer.guide.scene import Affine, Circle, Data, Group, Item, Path, Pen, Point, Step, Text, identifier, polyline
from placer.guide.scene import rectangle as rectangle_at
from placer.plan.model import Cut

AXIS_MM = 6.0  # room for the labels around the outline


@dataclass(frozen=True)
class View:
    """A side of a board at a place of the sheet.

    ``mirrored``: the copper side, x -> width - x; texts are placed after the mirror and so stay readable.
    """

    board: Board
    mirrored: bool
    x: float
    y: float

    @property
    def frame(self) -> Affine:
        """From the board's mm to the sheet's."""
        if self.mirrored:
            return Affine(-1.0, 0.0, 0.0, 1.0, self.x + self.board.outline_mm[0], self.y)
        return Affine(e=self.x, f=self.y)

    @property
    def outline(self) -> Box:
        """The board on the sheet."""
        return Box(self.x, self.y, self.x + self.board.outline_mm[0], self.y + self.board.outline_mm[1])

    def at(self, address: str) -> Point:
        """Where a hole, or a port's pad written ``PORT.PAD``, is on the sheet. Raises KeyError for neither."""
        return self.frame.point(*hole_mm(self.board, address))


def hole_mm(board: Board, address: str) -> Point:
    """Where a hole, or a port's pad written ``PORT.PAD``, is on the board, mm. Raises KeyError for neither."""
    hole = board.holes.get(address)
    if hole:
        return hole.x_mm, hole.y_mm
    port, _, pad = address.partition(".")
    return board.ports[port].pads[pad]


# Copper ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Piece:
    """One unbroken piece of a strip's copper: its holes, its links along the grid, and those that run off it."""

    holes: tuple[str, ...]
    links: tuple[tuple[str, str], ...]
    off_grid: tuple[tuple[str, str], ...]


def pieces(strip: Strip, cuts: Sequence[Cut]) -> tuple[Piece, ...]:
    """A strip as its cuts leave it, in the order of its holes.

    A hole that is drilled out keeps its bar on either side, for the circled cross is drawn over it; it is a hole of the
    first of the two.
    """
    severed = {frozenset(cut.between) for cut in cuts if cut.between}
    drilled = {cut.at for cut in cuts if cut.at}
    copper = nx.Graph()
    copper.add_nodes_from((hole, "") for hole in strip.holes)
    ends: dict[tuple[str, str], tuple[tuple[str, str], tuple[str, str]]] = {}
    for a, b in strip.links:
        if frozenset((a, b)) in severed:
            continue
        ends[a, b] = (a, b if a in drilled else ""), (b, a if b in drilled else "")
        copper.add_edge(*ends[a, b])
    order = {hole: place for place, hole in enumerate(strip.holes)}
    found, told = [], set[str]()
    off_grid = {frozenset(pair) for pair in strip.off_grid}
    for nodes in sorted(nx.connected_components(copper), key=lambda nodes: min(order[hole] for hole, _ in nodes)):
        holes = tuple(sorted({hole for hole, _ in nodes} - told, key=order.__getitem__))
        links = [pair for pair, (end, _) in ends.items() if end in nodes]
        if links or any(hole not in drilled for hole in holes):
            told |= set(holes)
            straight = tuple(pair for pair in links if frozenset(pair) not in off_grid)
            found.append(Piece(holes, straight, tuple(pair for pair in links if frozenset(pair) in off_grid)))
    return tuple(found)


def strip_groups(view: View, strip: Strip, cuts: Sequence[Cut], nets: Mapping[str, str]) -> Iterator[Group]:
    """A group for each piece of a strip, named with the net that it carries."""
    found = pieces(strip, cuts)
    word = "rail" if strip.rail else "strip"
    for i, piece in enumerate(found, 1):
        net = next((nets[hole] for hole in piece.holes if hole in nets), "")
        name = f"{word} {strip.name}" + (f", piece {i}" if len(found) > 1 else "") + (f", net {net}" if net else "")
        number = (str(i),) if len(found) > 1 else ()
        data: Data = (("strip", strip.name), *((("net", net),) if net else ()))
        title = f"{name}: {' '.join(piece.holes)}"
        yield Group(identifier("strip", strip.name, *number), title, word, "copper", _bar(view, piece), data)


def _bar(view: View, piece: Piece) -> tuple[Item, ...]:
    """A bar with an outline: a wide line in the edge's colour under a narrower one in the fill's."""
    board = view.board
    steps: list[Step] = []
    joined: set[str] = set()
    for a, b in piece.links:
        steps += [("M", view.at(a)), ("L", view.at(b))]
        joined |= {a, b}
    for address in piece.holes:
        if address not in joined:
            x, y = view.at(address)
            steps += [("M", (x - 0.001, y)), ("L", (x + 0.001, y))]
    near = view.mirrored == (board.copper.side == "bottom")
    edge = Pen(board.copper.width_mm, style.GREY if near else style.COPPER_EDGE, cap="round")
    fill = Pen(board.copper.width_mm - 2 * (0.18 if near else 0.13), style.COPPER_FILL, cap="round")
    items: list[Item] = [Path(tuple(steps), edge), Path(tuple(steps), fill)]
    return (*items, *(polyline((view.at(a), view.at(b)), style.HIDDEN) for a, b in piece.off_grid))


def _holes(view: View, nets: Mapping[str, str]) -> Iterator[Group]:
    items = []
    for hole in view.board.holes.values():
        x, y = view.frame.point(hole.x_mm, hole.y_mm)
        found = identifier("hole", hole.address)
        net = nets.get(hole.address)
        data: Data = (("hole", hole.address), *((("net", net),) if net else ()))
        items.append(Circle(x, y, hole.diameter_mm / 2, style.FINE, style.PAPER, found, data))
    yield Group("holes", f"{len(items)} holes", "holes", "holes", tuple(items))


def _off_grid(view: View) -> Iterator[Group]:
    """Ports, keep-outs and mounting holes."""
    board, frame = view.board, view.frame
    for port in board.ports.values():
        points = [frame.point(*p) for p in port.pads.values()]
        box = Box.around(points).grown(1.6)
        items: list[Item] = [rectangle_at(box.x0, box.y0, box.x1, box.y1, style.KEEPOUT)]
        for pad, (x, y) in zip(port.pads, points, strict=True):
            items += [Circle(x, y, 0.95, style.THIN, style.PAPER, identifier("pad", port.name, pad))]
            items.append(Text(x, y + rise(1.6) / 2, pad, 1.6))
        title = f"port {port.name} for {', '.join(port.fits)}"
        yield Group(identifier("port", port.name), title, "port", "ports", tuple(items))
        name = Text(box.x0, box.y0 - 0.6, port.name, style.AXIS_MM, "start")
        yield Group(identifier("port", port.name, "name"), f"name of {title}", "port-name", "ports", (name,))
    for keepout in board.keepouts:
        (xa, y0), (xb, y1) = frame.point(keepout.x0, keepout.y0), frame.point(keepout.x1, keepout.y1)
        box = Box(min(xa, xb), y0, max(xa, xb), y1)
        shapes = (rectangle_at(box.x0, box.y0, box.x1, box.y1, style.KEEPOUT), *_hatch(box))
        title = f"keep-out {keepout.name}: no part and no lead here"
        yield Group(identifier("keepout", keepout.name), title, "keepout", "keepouts", shapes)
    for screw in board.mounting:
        x, y = frame.point(screw.x_mm, screw.y_mm)
        ring = Circle(x, y, screw.diameter_mm / 2, style.OUTLINE, style.PAPER)
        title = f"mounting hole {screw.name}, {screw.diameter_mm:g} mm"
        yield Group(identifier("mounting", screw.name), title, "mounting", "keepouts", (ring,))


def _hatch(box: Box, pitch: float = 1.8) -> Iterator[Path]:
    """Thin lines at 45 degrees across a box."""
    for i in range(1, math.ceil((box.width + box.height) / pitch)):
        total = i * pitch
        x0, x1 = max(0.0, total - box.height), min(box.width, total)
        points = ((box.x0 + x0, box.y0 + total - x0), (box.x0 + x1, box.y0 + total - x1))
        yield polyline(points, style.FINE)


# Labels along the edges ------------------------------------------------------------------------------------------


def _chosen(labels: Mapping[int, str], lines: Mapping[int, float], wanted: Set[int]) -> dict[float, str]:
    """Which labels to print, by place in mm: all letters; of numbers each fifth, the first, the last, the wanted."""
    shown: dict[float, str] = {}
    known = [i for i in sorted(labels) if i in lines and labels[i]]
    for rank, i in enumerate(known):
        label = labels[i]
        ends = rank in (0, len(known) - 1) or not labels[known[rank - 1]].isdigit()
        if not label.isdigit() or int(label) % 5 == 0 or i in wanted or ends or not labels[known[rank + 1]].isdigit():
            shown[lines[i]] = label
    return shown


def _rail_labels(board: Board, *, vertical: bool) -> tuple[dict[float, str], dict[float, str]]:
    """Names of rails on grid lines that have no label of their own: at the low end and at the high end."""
    known = board.column_labels if vertical else board.row_labels
    ends: dict[float, list[tuple[float, str]]] = {}
    for strip in board.strips:
        holes = [board.holes[a] for a in strip.holes]
        lines = {h.x if vertical else h.y for h in holes}
        if strip.rail and len(lines) == 1 and len(holes) > 1 and lines.isdisjoint(known):
            line = holes[0].x_mm if vertical else holes[0].y_mm
            along = [h.y_mm if vertical else h.x_mm for h in holes]
            ends.setdefault(line, []).append((min(along), strip.name))
    return {at: min(found)[1] for at, found in ends.items()}, {at: max(found)[1] for at, found in ends.items()}


def axis_groups(view: View, cuts: Sequence[Cut] = ()) -> Iterator[Group]:
    """Column labels above and below the board, row labels left and right of it, with a tick at each row's label.

    Where a cut is made, its lines are always labelled: a cut in the wrong place is the dearest mistake.
    """
    board, box = view.board, view.outline
    x_of = {h.x: h.x_mm for h in board.holes.values()}
    y_of = {h.y: h.y_mm for h in board.holes.values()}
    cut_holes = [board.holes[address] for cut in cuts for address in (cut.at, *(cut.between or ())) if address]
    columns = _chosen(board.column_labels, x_of, {hole.x for hole in cut_holes})
    rows = _chosen(board.row_labels, y_of, {hole.y for hole in cut_holes})
    top_rails, bottom_rails = _rail_labels(board, vertical=True)
    left_rails, right_rails = _rail_labels(board, vertical=False)
    if view.mirrored:
        left_rails, right_rails = right_rails, left_rails
    size = style.AXIS_MM
    for name, labels, y in (
        ("top", columns | top_rails, box.y0 - 1.6),
        ("bottom", columns | bottom_rails, box.y1 + 1.6 + rise(size)),
    ):
        fitted = min((_fit(label, size, 2.15) for label in labels.values()), default=size)
        texts = [Text(view.frame.point(x, 0)[0], y, label, fitted) for x, label in sorted(labels.items())]
        yield Group(f"labels-{name}", f"column labels, {name} edge", "axis", "axes", tuple(texts))
    for name, labels, x, anchor, out in (
        ("left", rows | left_rails, box.x0, "end", -1),
        ("right", rows | right_rails, box.x1, "start", 1),
    ):
        items: list[Item] = []
        for y_mm, label in sorted(labels.items()):
            y = view.frame.point(0, y_mm)[1]
            fitted = _fit(label, size, AXIS_MM - 1.6)
            items += [Text(x + 1.4 * out, y + rise(size) / 2, label, fitted, anchor)]
            items.append(polyline(((x, y), (x + 0.9 * out, y)), style.THIN))
        yield Group(f"labels-{name}", f"row labels, {name} edge", "axis", "axes", tuple(items))


def _fit(label: str, size: float, room: float) -> float:
    """A label's font size, reduced where it would touch its neighbour (not below 1.2 mm)."""
    width = text_width(label, size)
    return size if width <= room else max(1.2, size * room / width)


def ground(view: View, cuts: Sequence[Cut] = (), nets: Mapping[str, str] = MappingProxyType({})) -> list[Group]:
    """Everything that is there before a part is: outline, copper, holes, ports, keep-outs, labels.

    ``nets``: the net of each hole whose copper carries one.
    """
    board, box = view.board, view.outline
    about = f"outline of {board.name}, {board.outline_mm[0]:g} x {board.outline_mm[1]:g} mm"
    outline = Group(
        "outline", about, "outline", "outline", (rectangle_at(box.x0, box.y0, box.x1, box.y1, style.OUTLINE),)
    )
    copper = (group for strip in board.strips for group in strip_groups(view, strip, cuts, nets))
    return [outline, *copper, *_holes(view, nets), *_off_grid(view), *axis_groups(view, cuts)]


def text_boxes(groups: Sequence[Group]) -> Iterator[Box]:
    """The box of each text of some groups."""
    for group in groups:
        for item in group.items:
            if isinstance(item, Text):
                width = text_width(item.text, item.size, condense=item.condense, bold=item.bold)
                yield text_box(item.x, item.y, item.text, item.size, item.anchor, item.angle, width)
