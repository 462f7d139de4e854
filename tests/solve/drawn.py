"""Boards in no catalogue and circuits for them, drawn by hypothesis and written as the text a user would write."""

from __future__ import annotations

from typing import Any

import yaml
from hypothesis import strategies as st

STEP_MM = 2.54
OFFSET_MM = 5.08  # of grid (0, 0) from the outline's corner
Cell = tuple[int, int]
RULES = ((False, False), (True, False), (False, True), (True, True))
SMALL = ("disc-2.5", "disc-5", "film-5", "do-35", "axial-0204", "axial-0207", "led-3", "radial-5", "header-2", "pad-2")
LARGER = ("to-92", "to-92", "sip-3", "sip-4", "header-3", "header-2x2", "dip-4", "dip-6", "button-6", "terminal-2")


class _Sheet:
    """A grid on which each hole is given away once."""

    def __init__(self, wide: int, high: int) -> None:
        self.left = {(x, y) for x in range(wide) for y in range(high)}

    def take(self, cells: list[Cell]) -> bool:
        """Take all cells, or none when one of them is taken."""
        if len(set(cells)) < len(cells) or not self.left.issuperset(cells):
            return False
        self.left.difference_update(cells)
        return True

    def room(self, start: Cell, along: str) -> int:
        """How many holes in a row are left from ``start`` on."""
        count = 0
        while _line(*start, along, count + 1)[-1] in self.left:
            count += 1
        return count


def _line(x: int, y: int, along: str, length: int) -> list[Cell]:
    return [(x + i, y) if along == "x" else (x, y + i) for i in range(length)]


def _cut(draw: st.DrawFn, board: tuple[bool, bool]) -> dict[str, Any]:
    """The rule of one strip: the board's own (nothing is written), none, or a part of the board's."""
    kind = draw(st.sampled_from(("own", "own", "none", "part")))
    if kind == "none":
        return {"cut": "none"}
    if kind == "part":
        at_hole, between = draw(st.sampled_from(RULES))
        return {"cut": {"at_hole": at_hole and board[0], "between": between and board[1]}}
    return {}


@st.composite
def board_texts(draw: st.DrawFn, most_wide: int, most_high: int) -> str:
    """A board file: strips of random lengths either way, rails, copper that branches or has gaps, keep-outs, screws."""
    wide, high = draw(st.integers(most_wide // 2, most_wide)), draw(st.integers(most_high // 2, most_high))
    rule = draw(st.sampled_from(RULES[::-1]))
    scarce = draw(st.booleans())  # few long strips: circuits do without cuts where they can
    sheet = _Sheet(wide, high)
    blocks: list[dict[str, Any]] = []
    rails: list[dict[str, Any]] = []
    odd: list[dict[str, Any]] = []
    loose: list[str] = []  # ends of straight strips that are never cut

    def start() -> Cell:
        return draw(st.sampled_from(sorted(sheet.left)))

    def straight(kind: str, number: int) -> None:
        x, y = min(sheet.left) if scarce else start()
        along = "x" if scarce and kind == "strip" else draw(st.sampled_from("xxy"))
        room = sheet.room((x, y), along)
        holes = room - (0 if scarce else draw(st.integers(0, room - min(room, 4 if kind == "strip" else 6))))
        side_by_side = 1 if kind == "rail" or scarce else draw(st.integers(1, 4))
        gap = draw(st.sampled_from((0, 0, 0, 1))) if holes > 1 else 0
        rows = [_line(x, y + i, along, holes + gap) if along == "x" else _line(x + i, y, along, holes + gap)
                for i in range(side_by_side)]  # fmt: skip
        while rows and not sheet.take([cell for row in rows for cell in row]):
            rows.pop()
        if not rows:
            return
        side_by_side = len(rows)
        entry: dict[str, Any] = {"at": [x, y], "along": along, "strips": side_by_side, "holes": holes}
        entry |= {"name": f"{kind}{number}-{{strip}}-{{section}}", "address": "{column}{row}"}
        entry |= _cut(draw, rule)
        if gap:  # bare copper in the middle of the strip
            entry["groups"] = {"of": [(holes + 1) // 2, holes], "gap": gap}
        elif holes > 3 and draw(st.integers(0, 3)) == 0:
            entry["sections"] = {"of": draw(st.integers(2, holes - 1))}
        elif entry.get("cut") == "none":
            loose.append(_address(rows[0][0]))
        (rails if kind == "rail" else blocks).append(entry)

    def branching(number: int) -> None:
        x, y = start()
        bar, stem = _line(x, y, "x", 3), (x + 1, y + 1)
        if sheet.take([*bar, stem]):
            runs = [[list(bar[0]), list(bar[2])], [list(bar[1]), list(stem)]]
            odd.append({"name": f"tee{number}", "runs": runs, "address": "{column}{row}", "cut": "none"})

    def bent(number: int) -> None:
        x, y = start()
        if sheet.take([(x, y), (x + 1, y), (x + 1, y + 1)]):
            runs = [[[x, y], [x + 1, y], [x + 1, y + 1]]]
            rail = draw(st.booleans())
            odd.append({"name": f"bend{number}", "runs": runs, "address": "{column}{row}", "rail": rail})
            odd[-1] |= _cut(draw, rule)

    for number in range(draw(st.integers(2, most_high // 2) if scarce else st.integers(most_high, 2 * most_high))):
        if not sheet.left:
            break
        kind = draw(st.sampled_from(("strip", "strip", "strip", "strip", "strip", "rail", "rail", "tee", "bend")))
        if kind == "tee":
            branching(number)
        elif kind == "bend":
            bent(number)
        else:
            straight(kind, number)
    if (not scarce and draw(st.integers(0, 3)) == 3) or not (blocks or rails or odd):
        odd += [
            {"name": f"pad{i}", "runs": [[list(cell)]], "address": "{column}{row}"}
            for i, cell in enumerate(sorted(sheet.left))
        ]
        sheet.left.clear()
    file: dict[str, Any] = {
        "board": "drawn",
        "hole_mm": draw(st.sampled_from((0.9, 1.0, 1.0, 1.3))),
        "offset_mm": [OFFSET_MM, OFFSET_MM],
        "labels": {"columns": [chr(97 + x) for x in range(wide + 3)], "rows": high + 3},
        "cut": {"at_hole": rule[0], "between": rule[1], "by_default": draw(st.booleans())},
        "blocks": blocks,
        "rails": rails,
        "strips": odd,
    }
    if len(loose) > 1 and draw(st.integers(0, 2)) == 0:
        file["joins"] = [{"name": "edge", "links": [loose[:2]]}]
    if draw(st.integers(0, 2)) == 0:  # between holes, where bodies would like to be
        x, y = draw(st.integers(0, wide - 1)), draw(st.integers(0, high - 1))
        file["keepouts"] = {"K": [_mm(x + 0.1), _mm(y + 0.1), _mm(x + 0.9), _mm(y + 0.9)]}
    if sheet.left and draw(st.booleans()):
        some = draw(st.lists(st.sampled_from(sorted(sheet.left)), min_size=1, max_size=3, unique=True))
        file["mounting"] = {
            f"M{i + 1}": {"at_mm": [_mm(x), _mm(y)], "diameter_mm": 2.0, "clear_mm": draw(st.sampled_from((3.0, 4.5)))}
            for i, (x, y) in enumerate(some)
        }
    return str(yaml.safe_dump(file, sort_keys=False))


def _address(cell: Cell) -> str:
    return f"{chr(97 + cell[0])}{cell[1] + 1}"


def _mm(steps: float) -> float:
    return round(OFFSET_MM + steps * STEP_MM, 3)


@st.composite
def circuit_texts(draw: st.DrawFn, most_parts: int) -> str:
    """A circuit file: catalogue parts, nets of one to four pins, and pins in no net."""
    parts: dict[str, Any] = {}
    pins: list[str] = []
    for number in range(draw(st.integers(most_parts // 2, most_parts))):
        package = draw(st.sampled_from(SMALL + LARGER))
        parts[f"X{number + 1}"] = {"package": package, "value": f"v{number + 1}"}
        own = [draw(st.sampled_from(group)) for group in JOINED.get(package, ())] or range(1, _PINS.get(package, 2) + 1)
        pins += [f"X{number + 1}.{pin}" for pin in own]
    mixed = draw(st.permutations(pins))
    nets: dict[str, Any] = {}
    while mixed:
        size = draw(st.sampled_from((2, 3, 1, 4)))
        chosen, mixed = mixed[:size], mixed[size:]
        if len(chosen) > 1 or not nets or draw(st.booleans()):
            nets[f"N{len(nets) + 1}"] = sorted(chosen)
    return str(yaml.safe_dump({"circuit": "drawn", "parts": parts, "nets": nets}, sort_keys=False))


_PINS = {"to-92": 3, "sip-3": 3, "sip-4": 4, "header-3": 3, "header-2x2": 4, "dip-4": 4, "dip-6": 6}
JOINED = {"button-6": ((1, 2), (3, 4))}
"""Pins joined inside: one of each group goes into a net."""
