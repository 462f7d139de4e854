"""Random boards: what the syntax can say without a clash is sound, survives a round trip, and says what was asked."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from placer.boards.data import board_from_data, board_to_data
from placer.boards.loader import read_board
from placer.boards.model import Board
from placer.boards.selfcheck import faults_of

PITCH = 2.54


@st.composite
def board_files(draw: st.DrawFn) -> dict[str, Any]:
    """A board file of blocks, rails and odd strips, each in a band of rows of its own, so that nothing can clash."""
    rule = {"at_hole": draw(st.booleans()), "between": draw(st.booleans())}
    blocks, rails, odd = [], [], []
    top = draw(st.integers(-20, 20))
    for number in range(draw(st.integers(1, 5))):
        letter = "pqrst"[number]
        kind = draw(st.sampled_from(["block", "rail", "odd"]))
        left, strips, holes = draw(st.integers(-9, 30)), draw(st.integers(1, 6)), draw(st.integers(1, 9))
        along = draw(st.sampled_from("xy"))
        cut = draw(st.sampled_from([None, "none", rule]))
        if kind == "odd":
            arm = draw(st.integers(1, 4))
            runs = [[[left, top], [left + arm, top], [left + arm, top + arm]]]
            if draw(st.booleans()):
                runs.append([[left + arm, top], [left + arm + 2, top]])
            odd.append(
                {"name": f"odd {letter}", "runs": runs, "address": letter + "{hole}", "rail": draw(st.booleans())}
            )
            top += arm + 1
            continue
        entry: dict[str, Any] = {
            "name": letter + "{strip}s{section}",
            "at": [left, top],
            "along": along,
            "strips": strips,
            "holes": holes,
            "spacing": draw(st.integers(1, 3)),
            "address": letter + "{strip}-{hole}",
        }
        if draw(st.booleans()):
            sizes, gap = draw(st.lists(st.integers(1, 4), min_size=1, max_size=2)), draw(st.integers(0, 2))
            entry["sections"] = {"of": sizes, "gap": gap}
        if draw(st.booleans()):
            entry["groups"] = {"of": draw(st.integers(1, 4)), "gap": draw(st.integers(0, 2))}
        if cut is not None:
            entry["cut"] = cut
        (blocks if kind == "block" else rails).append(entry)
        top += strips * 3 + holes * 3 + 1
    file: dict[str, Any] = {"board": "random", "cut": {**rule, "by_default": draw(st.booleans())}, "blocks": blocks}
    file |= {"rails": rails, "strips": odd, "sources": {"counts": "drawn by lot"}}
    if draw(st.booleans()):
        file["copper"] = {"width_mm": draw(st.sampled_from([1.0, 1.8, 2.0])), "thickness_um": 70}
    if draw(st.booleans()):
        file["offset_mm"] = [draw(st.integers(30, 60)) + 0.25, 60.5]
    return file


def board_of(file: dict[str, Any]) -> Board:
    return read_board(Path("random.yaml"), text=json.dumps(file))


@given(board_files())
@settings(max_examples=60, deadline=None)
def test_a_board_without_clashes_is_sound_and_survives_a_round_trip(file: dict[str, Any]) -> None:
    board = board_of(file)
    data = board_to_data(board)

    assert faults_of(board) == ()
    assert board_from_data(json.loads(json.dumps(data))) == board
    assert board_to_data(board_from_data(data)) == data


@given(board_files())
@settings(max_examples=60, deadline=None)
def test_every_hole_that_was_asked_for_is_there_once(file: dict[str, Any]) -> None:
    board = board_of(file)
    straight = [*file["blocks"], *file["rails"]]

    counted = Counter(address[0] for address in board.holes)
    for entry in straight:
        assert counted[entry["address"][0]] == entry["strips"] * entry["holes"]
    assert sorted(a for s in board.strips for a in s.holes) == sorted(board.holes)
    assert {s.name for s in board.strips if s.rail} >= {
        s.name for s in board.strips if s.name[0] in _rail_letters(file)
    }


def _rail_letters(file: dict[str, Any]) -> set[str]:
    return {entry["address"][0] for entry in file["rails"]}


@given(board_files())
@settings(max_examples=40, deadline=None)
def test_holes_stay_a_step_inside_the_outline_and_on_the_pitch(file: dict[str, Any]) -> None:
    board = board_of(file)
    width, height = board.outline_mm
    some = next(iter(board.holes.values()))

    for hole in board.holes.values():
        assert abs((hole.x_mm - some.x_mm) - (hole.x - some.x) * PITCH) < 1e-3
        assert abs((hole.y_mm - some.y_mm) - (hole.y - some.y) * PITCH) < 1e-3
    assert abs(width - max(h.x_mm for h in board.holes.values()) - PITCH) < 1e-3
    assert abs(height - max(h.y_mm for h in board.holes.values()) - PITCH) < 1e-3


@given(board_files(), st.data())
@settings(max_examples=60, deadline=None)
def test_a_sound_board_with_one_thing_spoiled_is_refused(file: dict[str, Any], data: st.DataObject) -> None:
    board = board_of(file)
    address = data.draw(st.sampled_from(sorted(board.holes)))
    hole = board.holes[address]
    spoiled = [
        replace(board, holes={a: h for a, h in board.holes.items() if a != address}),
        replace(board, holes={**board.holes, address: replace(hole, address="zz9")}),
        replace(board, holes={**board.holes, address: replace(hole, x_mm=hole.x_mm - 0.1)}),
        replace(board, holes={**board.holes, "zz9": replace(hole, address="zz9")}),
        replace(board, strips=board.strips[1:]),
        replace(board, strips=(*board.strips, board.strips[0])),
        replace(board, outline_mm=(board.outline_mm[0], max(h.y_mm for h in board.holes.values()))),
    ]
    if len(board.holes) == 1:
        del spoiled[2]  # a lone hole is on its own grid wherever it is
    linked = next((s for s in board.strips if s.links), None)
    if linked is not None:
        cut_off = replace(linked, links=linked.links[1:])
        spoiled.append(replace(board, strips=tuple(cut_off if s is linked else s for s in board.strips)))

    assert all(faults_of(bad) for bad in spoiled)
