"""Every diagnostic of board files and of the self-check, each on a tiny broken board with the expected text."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from placer.boards import selfcheck
from placer.boards.catalogue import load_board
from placer.boards.data import board_from_data, board_to_data
from placer.boards.loader import MAX_DIAGNOSTICS, read_board
from placer.boards.model import Board, Copper, CutRule, Hole, Keepout, Port, Strip
from placer.boards.selfcheck import faults_of
from placer.errors import Diagnostic, PlacerError

CASES = (Path(__file__).parent / "broken_boards.txt").read_text(encoding="utf-8").rstrip("\n").split("\n---\n")


def told(diagnostic: Diagnostic) -> str:
    """A diagnostic as the cases write it: ``#> line:column+length code: message`` and ``#  help``."""
    span = diagnostic.span
    assert span is not None, diagnostic
    assert span.file == "board.yaml"
    text = f"#> {span.line}:{span.column}+{span.length} {diagnostic.code}: {diagnostic.message}"
    return f"{text}\n#  {diagnostic.help}" if diagnostic.help else text


@pytest.mark.parametrize("case", CASES, ids=[str(n) for n in range(1, len(CASES) + 1)])
def test_a_broken_file_is_refused_with_its_place_and_the_cure(case: str) -> None:
    lines = case.split("\n")
    start = next(i for i, line in enumerate(lines) if line.startswith("#>"))
    text, expected = "\n".join(lines[:start]) + "\n", "\n".join(lines[start:])

    with pytest.raises(PlacerError) as caught:
        read_board(Path("board.yaml"), text=text)

    assert "\n".join(told(d) for d in caught.value.diagnostics) == expected
    for diagnostic in caught.value.diagnostics:
        assert diagnostic.span is not None
        assert diagnostic.span.excerpt == text.split("\n")[diagnostic.span.line - 1]


def test_a_flood_of_faults_is_cut_short() -> None:
    blocks = "".join(f"  - {{at: [0, {n}], holes: 2, hols: 3}}\n" for n in range(50))
    with pytest.raises(PlacerError) as caught:
        read_board(Path("board.yaml"), text="board: x\nblocks:\n" + blocks)

    assert len(caught.value.diagnostics) == MAX_DIAGNOSTICS + 1
    assert caught.value.diagnostics[-1].message == "and 30 more faults of the same file"


def test_an_unknown_parameter_asked_for_is_refused() -> None:
    with pytest.raises(PlacerError) as caught:
        read_board(
            Path("b.yaml"), text="board: x\nrails:\n  - {name: A, at: [0, 0], holes: 2}\n", parameters={"rows": 3}
        )

    assert caught.value.diagnostics[0].code == "parameter-unknown"


# --- the self-check on boards that no file could make ----------------------------------------------------------------


def small(**changes: Any) -> Board:
    """Two strips of two holes, 2.54 mm apart: A1-A2 above B1-B2."""
    at = {"A1": (0, 0), "A2": (1, 0), "B1": (0, 1), "B2": (1, 1)}
    holes = {a: Hole(a, x, y, 2.54 * (x + 1), 2.54 * (y + 1), 1.0) for a, (x, y) in at.items()}
    strips = (Strip("A", ("A1", "A2"), (("A1", "A2"),)), Strip("B", ("B1", "B2"), (("B1", "B2"),)))
    return replace(Board("small", "", (7.62, 7.62), holes, strips), **changes)


def with_hole(**changes: Any) -> Board:
    board = small()
    return replace(board, holes={**board.holes, "A1": replace(board.holes["A1"], **changes)})


def with_strip(*strips: Strip) -> Board:
    return small(strips=strips)


A, B = small().strips

FAULTY: dict[str, tuple[Callable[[], Board], str]] = {
    "address-misleads": (lambda: with_hole(address="A9"), "address A1 leads to hole A9"),
    "holes-on-one-place": (lambda: with_hole(x=1, x_mm=5.08), "holes A1 and A2 are both at grid (1, 0)"),
    "hole-off-grid": (
        lambda: small(holes={**small().holes, "B2": Hole("B2", 1, 1, 5.2, 5.08, 1.0)}),
        "hole B2 is at (5.2, 5.08) mm, its grid position says (5.08, 5.08) mm",
    ),
    "hole-diameter": (
        lambda: with_hole(diameter_mm=0.0),
        "hole A1 is 0 mm wide, expected more than 0 and less than 2.54",
    ),
    "pitch-unknown": (lambda: small(pitch_mm=2.5), "the pitch is 2.5 mm, only 2.54 mm is known"),
    "strip-name-twice": (lambda: with_strip(A, replace(B, name="A")), "two strips are named A"),
    "strip-without-holes": (lambda: with_strip(A, B, Strip("C", (), ())), "strip C has no holes"),
    "strip-hole-unknown": (
        lambda: with_strip(A, Strip("B", ("B1", "B2", "B3"), (("B1", "B2"), ("B2", "B3")))),
        "strip B holds B3, which is no hole of the board",
    ),
    "hole-in-two-strips": (
        lambda: with_strip(A, Strip("B", ("A2", "B2", "B1"), (("A2", "B2"), ("B2", "B1")))),
        "hole A2 is in strip A and in strip B",
    ),
    "hole-without-strip": (lambda: with_strip(A, Strip("B", ("B1",), ())), "hole B2 is in no strip"),
    "link-to-nowhere": (
        lambda: with_strip(A, replace(B, links=(("B1", "B2"), ("B2", "A2")))),
        "strip B links hole A2, which is none of its holes",
    ),
    "off-grid-not-a-link": (
        lambda: with_strip(A, replace(B, off_grid=(("B2", "B1"),))),
        "strip B has copper off the grid from B2 to B1 that is no link",
    ),
    "strip-in-pieces": (lambda: with_strip(A, replace(B, links=())), "no copper joins B2 to B1, both of strip B"),
    "cut-strip-not-a-path": (
        lambda: small(
            cut=CutRule(at_hole=True),
            strips=(
                Strip(
                    "R",
                    ("A1", "A2", "B1", "B2"),
                    (("A1", "A2"), ("A2", "B2"), ("B2", "B1"), ("B1", "A1")),
                    CutRule(at_hole=True),
                ),
            ),
        ),
        "strip R may be cut, but branches or closes on itself",
    ),
    "cut-beyond-board": (
        lambda: with_strip(A, replace(B, cut=CutRule(between=True))),
        "strip B may be cut between holes, but the board's own rule is: not at all",
    ),
    "copper-malformed": (
        lambda: small(copper=Copper(width_mm=0.0)),
        "copper Copper(width_mm=0.0, gap_mm=0.54, thickness_um=35.0, side='bottom', rise_k=10.0) needs sizes above 0 "
        "and a side of ('bottom', 'top', 'both')",
    ),
    "port-pad-unknown": (
        lambda: small(ports={"P1": Port("P1", ("usb-b",), {"1": (1.0, 1.0)}, {"2": "A"})}),
        "port P1 joins pad 2, which it does not have",
    ),
    "port-name": (
        lambda: small(ports={"P1": Port("P2", ("usb-b",), {"1": (1.0, 1.0)}, {})}),
        "port name 'P1' is not a letter followed by letters or digits",
    ),
    "keepout-empty": (lambda: small(keepouts=(Keepout("k", 1.0, 1.0, 1.0, 2.0),)), "keep-out k has no area"),
}


def test_the_small_board_is_sound() -> None:
    assert faults_of(small()) == ()


@pytest.mark.parametrize("code", sorted(FAULTY))
def test_the_self_check_names_each_fault_and_no_other(code: str) -> None:
    make, message = FAULTY[code]

    assert [(d.code, d.message) for d in faults_of(make())] == [(code, message)]


def test_every_fault_that_the_self_check_knows_has_its_case() -> None:
    source = Path(selfcheck.__file__).read_text(encoding="utf-8")
    codes = set(re.findall(r'_fault\(\s*"[a-z]+",[^"]*(?:"",)?\s*"([a-z-]+)"', source))
    shown = set(FAULTY) | set(re.findall(r"^#> \S+ ([a-z0-9-]+):", "\n".join(CASES), re.MULTILINE))

    assert len(codes) > 20
    assert codes - shown == set()


def test_holes_listed_in_another_order_than_the_copper_cannot_be_cut() -> None:
    at = {"A1": 0, "A2": 1, "A3": 2}
    holes = {a: Hole(a, x, 0, 2.54 * (x + 1), 2.54, 1.0) for a, x in at.items()}
    strip = Strip("A", ("A2", "A1", "A3"), (("A1", "A2"), ("A2", "A3")), CutRule(between=True))
    board = Board("b", "", (10.16, 5.08), holes, (strip,), cut=CutRule(between=True))

    assert [d.message for d in faults_of(board)] == [
        "strip A may be cut, but lists its holes in another order than its copper"
    ]


# --- JSON -------------------------------------------------------------------------------------------------------------


def test_the_contract_keys_alone_make_the_same_holes_strips_and_links() -> None:
    board = load_board("five-hole-30")
    data = board_to_data(board)
    contract = (
        "format",
        "version",
        "name",
        "pitch_mm",
        "outline_mm",
        "holes",
        "links",
        "cut",
        "strips",
        "ports",
        "keepouts",
    )
    bare = {key: data[key] for key in contract}
    bare["holes"] = {a: {key: h[key] for key in ("x_mm", "y_mm", "diameter_mm")} for a, h in data["holes"].items()}

    read = board_from_data(json.loads(json.dumps(bare)))

    assert read.holes == board.holes
    assert [(s.name, s.holes, s.links, s.cut) for s in read.strips] == [
        (s.name, s.holes, s.links, s.cut) for s in board.strips
    ]
    assert list(data)[: len(contract)] == list(contract)


def test_contract_data_of_the_five_hole_board() -> None:
    data = board_to_data(load_board("five-hole-30"))

    assert (data["format"], data["version"], data["pitch_mm"]) == ("placer-board", 1, 2.54)
    assert data["outline_mm"] == [48.26, 78.74]
    assert data["links"][:2] == [["a1", "b1"], ["b1", "c1"]]
    assert data["strips"]["L1"] == ["a1", "b1", "c1", "d1", "e1"]
    assert data["cut"] == {"at_hole": False, "between": True}
    assert (data["ports"], data["keepouts"]) == ({}, [])


def test_a_board_file_may_be_json(tmp_path: Path) -> None:
    board = load_board("five-hole-twin-45")
    path = tmp_path / "twin.json"
    path.write_text(json.dumps(board_to_data(board)), encoding="utf-8")

    assert load_board(str(path)) == board


def bad_json(**changes: Any) -> str:
    return json.dumps({**board_to_data(small()), **changes}, indent=1)


@pytest.mark.parametrize(
    ("text", "code", "message", "excerpt"),
    [
        (bad_json(version=2), "board-version-unknown", "the board is of version 2, expected 1", '"version": 2'),
        (
            bad_json(format="other"),
            "value-not-understood",
            "format: found 'other', expected placer-board",
            '"format": "other"',
        ),
        (bad_json(outline_mm=[3]), "value-missing", "outline_mm is too short", '"outline_mm": ['),
        (
            bad_json(strips={"A": 7, "B": ["B1", "B2"]}),
            "value-not-understood",
            "strips A: found 7, expected a list",
            '"A": 7',
        ),
        (bad_json(links=[["A1", "B1"]]), "link-to-nowhere", "link A1 to B1 does not join two holes of one strip", ""),
        (bad_json(rails=["C"]), "strip-unknown", "rails, strip_cuts or off_grid speak of C, which the board lacks", ""),
        (bad_json(strips={"A": ["A1", "A2"]}, links=[]), "hole-without-strip", "hole B1 is in no strip", '"B1": {'),
    ],
)
def test_bad_json_is_refused_in_place(text: str, code: str, message: str, excerpt: str) -> None:
    with pytest.raises(PlacerError) as caught:
        read_board(Path("board.json"), text=text)

    assert (code, message) in [(d.code, d.message) for d in caught.value.diagnostics]
    found = next(d for d in caught.value.diagnostics if d.code == code)
    assert found.span is not None or not excerpt
    assert excerpt in (found.span.excerpt if found.span else "")


@pytest.mark.parametrize("data", [None, [], "board", 3, {}, {"format": "placer-board", "version": 1, "holes": []}])
def test_data_of_another_form_are_refused(data: Any) -> None:
    with pytest.raises(PlacerError):
        board_from_data(data)
