"""The sheet around the drawing: title, notes, scale bar, legend and short lists.

A sheet is kept within A4 less 10 mm margins (190 x 277 mm) where the board allows it: the legend stands beside the
board if that fits, else below it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

from placer.boards.model import Board
from placer.guide import style
from placer.guide.ground import AXIS_MM
from placer.guide.metrics import rise, shorten, text_width
from placer.guide.scene import Affine, Group, Item, Scene, Text, polyline

SHEET_MM = (190.0, 277.0)  # A4 (ISO 216: 210 x 297, from memory) less 10 mm all round
MARGIN = 4.0
COLUMN_MM = 58.0
BAR_LENGTH_MM = 100
_LEAST_WIDTH_MM = 116.0  # the scale bar with its last figure
_GUTTER = 4.0
_BAR_MM = 9.0
_SAMPLE_MM = 10.0
_MORE_MM = 3.0
_ROW_MM = 4.2
_TABS = (0.0, 5.0, 24.0, 35.0, 42.0)  # where the columns of a list begin


@dataclass(frozen=True)
class Row:
    """A row of the legend: a text (tabs part the columns of a list) and a sample drawn about (5, 0), 10 mm wide."""

    text: str
    sample: tuple[Item, ...] = ()
    head: bool = False
    height: float = 4.0


@dataclass(frozen=True)
class Column:
    """Rows of the legend from (x, y) down."""

    x: float
    y: float
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Layout:
    """Where things go on a sheet, mm. ``board_at``: the board's corner; ``columns``: the legend and the lists."""

    width: float
    height: float
    notes: tuple[str, ...]
    title_bottom: float
    board_at: tuple[float, float]
    bar_y: float
    columns: tuple[Column, ...]


def lay_out(board: Board, notes: Sequence[str], rows: Sequence[Row]) -> Layout:
    """Chooses the sheet's size and the places on it.

    As many whole blocks of rows as fit stand beside the board, the others below it.
    """
    board_w, board_h = board.outline_mm
    width = _sheet_width(board)
    wrapped = tuple(line for note in notes for line in _wrapped(note, width - 2 * MARGIN))
    top = MARGIN + style.TITLE_MM + 1.5 + len(wrapped) * (style.NOTE_MM + 1.0) + 1.5
    block_h = board_h + 2 * AXIS_MM
    beside: list[Row] = []
    blocks = _blocks(rows)
    while blocks and _beside(board) and (not beside or _height([*beside, *blocks[0]]) + 3.0 <= block_h):
        beside += blocks.pop(0)
    bar_y = top + max(block_h, 3.0 + _height(beside)) + 2.0
    below_y = bar_y + _BAR_MM + 2.0
    columns = [Column(MARGIN + board_w + 2 * AXIS_MM + _GUTTER, top + 3.0, tuple(beside))] if beside else []
    count = max(1, int((width - 2 * MARGIN + _GUTTER) // (COLUMN_MM + _GUTTER)))
    for i, dealt in enumerate(_dealt(blocks, count)):
        columns.append(Column(MARGIN + i * (COLUMN_MM + _GUTTER), below_y, tuple(dealt)))
    lowest = max((c.y + _height(c.rows) for c in columns if c.rows), default=0.0)
    height = max(bar_y + _BAR_MM, min(lowest, max(SHEET_MM[1] - MARGIN, below_y + 4 * _MORE_MM))) + MARGIN
    return Layout(width, height, wrapped, top, (MARGIN + AXIS_MM, top + AXIS_MM), bar_y, tuple(columns))


def _beside(board: Board) -> bool:
    """True when the legend fits beside the board."""
    return 2 * MARGIN + board.outline_mm[0] + 2 * AXIS_MM + _GUTTER + COLUMN_MM <= SHEET_MM[0]


def _sheet_width(board: Board) -> float:
    block = board.outline_mm[0] + 2 * AXIS_MM
    return max(_LEAST_WIDTH_MM, 2 * MARGIN + block + (_GUTTER + COLUMN_MM if _beside(board) else 0.0))


def _wrapped(text: str, room: float) -> list[str]:
    """A note in lines that fit the sheet."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and text_width(longer, style.NOTE_MM) > room:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _height(rows: Sequence[Row]) -> float:
    return sum(row.height for row in rows)


def _blocks(rows: Sequence[Row]) -> list[list[Row]]:
    """Rows in blocks that each begin with a heading."""
    starts = [i for i, row in enumerate(rows) if row.head or i == 0]
    return [list(rows[a:b]) for a, b in pairwise([*starts, len(rows)])]


def _dealt(blocks: Sequence[Sequence[Row]], count: int) -> list[list[Row]]:
    """Whole blocks in order in at most ``count`` columns, so that the tallest is as low as can be."""

    def columns(breaks: Sequence[int]) -> list[list[Row]]:
        return [[row for block in blocks[a:b] for row in block] for a, b in pairwise((0, *breaks, len(blocks)))]

    ways = (columns(breaks) for n in range(count) for breaks in combinations(range(1, len(blocks)), n))
    return min(ways, key=lambda way: max(_height(column) for column in way))


def print_note(board: Board, rows: Sequence[Row]) -> str:
    """How to print the sheet, and what to do when it is larger than A4."""
    layout = lay_out(board, [""], rows)
    too_large = layout.width > SHEET_MM[0] or layout.height > SHEET_MM[1]
    paper = " Larger than A4: print on A3 or in tiles." if too_large else ""
    return f"Print at 100 % (actual size): the bar below must measure {BAR_LENGTH_MM} mm.{paper}"


def title_group(layout: Layout, title: str) -> Group:
    """Title line and notes, with a thin line below."""
    room = layout.width - 2 * MARGIN
    y = MARGIN + rise(style.TITLE_MM)
    items: list[Item] = [
        Text(MARGIN, y, shorten(title, style.TITLE_MM, room, bold=True), style.TITLE_MM, "start", bold=True)
    ]
    y += 1.5
    for note in layout.notes:
        y += style.NOTE_MM + 1.0
        items.append(Text(MARGIN, y, shorten(note, style.NOTE_MM, room), style.NOTE_MM, "start"))
    line_y = layout.title_bottom - 0.6
    items.append(polyline(((MARGIN, line_y), (layout.width - MARGIN, line_y)), style.THIN))
    return Group("title", title, "title", "sheet", tuple(items))


def bar_group(layout: Layout) -> Group:
    """A bar to check the print's scale with."""
    length = BAR_LENGTH_MM
    x, y = MARGIN + 2.0, layout.bar_y + 3.0
    items: list[Item] = [polyline(((x, y), (x + length, y)), style.OUTLINE)]
    for i in range(length // 10 + 1):
        reach = 1.8 if i % 5 == 0 else 1.0
        items.append(polyline(((x + 10 * i, y - reach), (x + 10 * i, y)), style.THIN))
    for mark in range(0, length + 1, 50):
        text = f"{mark} mm" if mark == length else str(mark)
        items.append(Text(x + mark, y + 1.0 + rise(2.0), text, 2.0))
    return Group("scale-bar", f"scale bar, {length} mm", "scale", "sheet", tuple(items))


def legend_group(layout: Layout) -> Group:
    """Legend and lists; a list too long for the sheet ends with a word about the rest."""
    items: list[Item] = []
    limit = layout.height - MARGIN + 1e-6
    for column in layout.columns:
        y = column.y
        for i, row in enumerate(column.rows):
            if y + _height(column.rows[i:]) > limit and y + row.height + _MORE_MM > limit:
                more = f"and {len(column.rows) - i} more rows: see the lists"
                items.append(Text(column.x, y + rise(2.0), more, 2.0, "start"))
                break
            items += _row_items(row, column.x, y + row.height / 2)
            y += row.height
    return Group("legend", "legend", "legend", "sheet", tuple(items))


def legend_scene(rows: Sequence[Row], width: float) -> Scene:
    """Rows of a legend alone, side by side in as many columns as ``width`` mm allow, without their headings."""
    kept = [row for row in rows if not row.head]
    count = max(1, int((width + _GUTTER) // (COLUMN_MM + _GUTTER)))
    each = -(-len(kept) // count)
    items: list[Item] = []
    for i, row in enumerate(kept):
        column, place = divmod(i, each)
        items += _row_items(row, column * (COLUMN_MM + _GUTTER), (place + 0.5) * _ROW_MM)
    size = count * (COLUMN_MM + _GUTTER) - _GUTTER, each * _ROW_MM
    return Scene(*size, "legend", "What the signs mean.", (Group("legend", "legend", "legend", "sheet", tuple(items)),))


def _row_items(row: Row, x: float, y: float) -> Iterable[Item]:
    size = 2.3 if row.head else 2.0
    indent = 0.0 if row.head or not row.sample else _SAMPLE_MM + 1.5
    yield from (moved(item, x, y) for item in row.sample)
    cells = row.text.split("\t")
    starts = (indent,) if len(cells) == 1 else _TABS
    ends = (*starts[1:], COLUMN_MM + 1.0)
    for cell, start, end in zip(cells, starts, ends, strict=False):
        text = shorten(cell, size, end - start - 1.0, bold=row.head)
        yield Text(x + start, y + rise(size) / 2, text, size, "start", bold=row.head)


def moved(item: Item, dx: float, dy: float) -> Item:
    """An item moved by (dx, dy)."""
    if isinstance(item, Text):
        return replace(item, x=item.x + dx, y=item.y + dy)
    return Affine(e=dx, f=dy).shape(item)


def sheet_scene(layout: Layout, title: str, groups: Sequence[Group]) -> Scene:
    """Everything together."""
    around = (title_group(layout, title), bar_group(layout), legend_group(layout))
    about = "One unit of the drawing is one millimetre. " + " ".join(layout.notes)
    return Scene(layout.width, layout.height, title, about, (*around, *groups))
