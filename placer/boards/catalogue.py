"""The boards that come with placer: one YAML file each, a file with parameters for a whole family of sizes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from pathlib import Path

from placer.boards.labels import fill, numbers_in
from placer.boards.loader import read_board, read_head
from placer.boards.model import Board
from placer.errors import Diagnostic, PlacerError
from placer.marked import load_marked

FOLDER = Path(__file__).parent / "catalogue"
_SUFFIXES = (".yaml", ".yml", ".json")


@dataclass(frozen=True)
class _Entry:
    """A file of the catalogue: the template of its names and the sizes it lists."""

    path: Path
    template: str
    sizes: tuple[Mapping[str, int], ...]

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(fill(self.template, {key: str(value) for key, value in size.items()}) for size in self.sizes)


@cache
def _entries() -> tuple[_Entry, ...]:
    found = []
    for path in sorted(FOLDER.glob("*.yaml")):
        head = read_head(load_marked(path))
        defaults = {name: parameter.default for name, parameter in head.parameters.items()}
        sizes = tuple({**defaults, **size} for size in head.sizes) or (defaults,)
        found.append(_Entry(path, head.board, sizes))
    return tuple(found)


def names() -> tuple[str, ...]:
    """Return the names that the catalogue lists, sorted. Families load in other sizes too (``long-strip-10x20``)."""
    return tuple(sorted(name for entry in _entries() for name in entry.names))


def families() -> tuple[str, ...]:
    """Return the name templates of the boards that come in any size, such as ``long-strip-{strips}x{holes}``."""
    return tuple(sorted(entry.template for entry in _entries() if "{" in entry.template))


def load_board(name_or_path: str) -> Board:
    """Return a board of the catalogue by name, or of a file: ``.yaml``, ``.yml``, ``.json`` or any that exists.

    Raises PlacerError for an unknown name (with the nearest), a size beyond the family's limits and a faulty file.
    """
    for entry in _entries():
        numbers = numbers_in(name_or_path, entry.template)
        if numbers is not None:
            return _catalogue_board(entry.path, tuple(sorted(numbers.items())))
    path = Path(name_or_path)
    if path.suffix.lower() in _SUFFIXES or _is_file(path):
        return read_board(path)
    near = get_close_matches(name_or_path, names(), 3, 0.5)
    help_text = f"did you mean {' or '.join(near)}?" if near else f"known boards: {', '.join(names())}"
    message = f"board {name_or_path!r} is neither in the catalogue nor a file"
    raise PlacerError(Diagnostic("board-unknown", message, help_text))


@cache
def _catalogue_board(path: Path, numbers: tuple[tuple[str, int], ...]) -> Board:
    return read_board(path, parameters=dict(numbers))


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):  # a name that no file system would take
        return False
