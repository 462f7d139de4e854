"""A bare board as a drawing of its own."""

from __future__ import annotations

from placer.boards.model import Board
from placer.guide.ground import View, ground
from placer.guide.legend import board_rows
from placer.guide.scene import Scene
from placer.guide.sheet import lay_out, print_note, sheet_scene
from placer.guide.svg import write_svg


def board_scene(board: Board) -> Scene:
    """A bare board, component side."""
    rows = list(board_rows(board))
    size = f"Outline {board.outline_mm[0]:g} × {board.outline_mm[1]:g} mm, pitch {board.pitch_mm:g} mm"
    layout = lay_out(board, [print_note(board, rows), size], rows)
    title = f"{board.name} – component side"
    return sheet_scene(layout, title, ground(View(board, False, *layout.board_at)))


def board_svg(board: Board) -> str:
    """A bare board as an SVG document, 1 unit = 1 mm."""
    return write_svg(board_scene(board))
