"""A file of another kind than was asked for is told as that, not key by key; a file with mistakes is none."""

from __future__ import annotations

from pathlib import Path

import pytest

from placer.boards.data import board_to_data
from placer.boards.loader import read_board
from placer.circuit.partsmap import read_parts_map
from placer.circuit.problems import Problems
from placer.circuit.read_yaml import read_circuit
from placer.errors import PlacerError
from placer.filekinds import BOARD, CIRCUIT, PARTS_MAP, PLAN, kind_of_file
from placer.marked import load_marked

ROOT = Path(__file__).resolve().parents[1]
CIRCUITS = sorted((ROOT / "netlists").glob("*.yaml"))
BOARDS = sorted((ROOT / "placer/boards/catalogue").glob("*.yaml"))
MAPS = sorted((ROOT / "netlists").glob("*.parts.yml"))
PLANS = sorted((ROOT / "outputs").glob("*/plan.json"))[:3]
FILES = [(CIRCUIT, p) for p in CIRCUITS] + [(BOARD, p) for p in BOARDS] + [(PARTS_MAP, p) for p in MAPS]
FILES += [(PLAN, p) for p in PLANS]

READERS = {
    CIRCUIT: read_circuit,
    BOARD: read_board,
    PARTS_MAP: lambda path: read_parts_map(path, Problems()),
}


@pytest.mark.parametrize(("kind", "path"), FILES, ids=[path.parent.name + "/" + path.name for _, path in FILES])
def test_each_of_our_files_is_told_for_what_it_is(kind: str, path: Path) -> None:
    assert kind_of_file(load_marked(path).data) == kind


def test_there_are_files_of_each_kind() -> None:
    assert {kind for kind, _ in FILES} == {CIRCUIT, BOARD, PARTS_MAP, PLAN}


def test_a_board_as_json_is_a_board() -> None:
    assert kind_of_file(board_to_data(read_board(BOARDS[0]))) == BOARD


@pytest.mark.parametrize("asked", READERS)
@pytest.mark.parametrize("given", [CIRCUIT, BOARD, PARTS_MAP, PLAN])
def test_one_message_says_what_the_file_is_and_where_it_is_named(asked: str, given: str) -> None:
    path = next(p for kind, p in FILES if kind == given)
    if asked == given:
        READERS[asked](path)
        return
    with pytest.raises(PlacerError) as caught:
        READERS[asked](path)
    (found,) = caught.value.diagnostics
    assert found.code == "another-kind-of-file"
    assert found.message == f"{path} is a {given}, expected a {asked}"
    assert found.span is not None
    assert found.span.file == str(path)
    word = {CIRCUIT: "placer plan CIRCUIT", BOARD: "--board", PARTS_MAP: "--parts", PLAN: "placer check"}[given]
    assert word in found.help


@pytest.mark.parametrize(
    "data",
    [
        None,
        [],
        "board",
        {},
        {"circuit": "lamp"},
        {"parts": {}, "board": "five-hole-30"},  # a circuit that names its board: the key is what is wrong
        {"parts": {}},
        {"nets": {}, "elements": {}},
        {"circuit": "lamp", "elements": {}},
        {"format": "placer-something"},
        {"packages": {}},
    ],
)
def test_what_may_be_a_file_with_mistakes_is_read_as_the_one_asked_for(data: object) -> None:
    assert kind_of_file(data) is None
