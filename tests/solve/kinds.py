"""The kinds of small problems that are drawn, and the truth about each."""

from __future__ import annotations

import itertools
import random
from collections import Counter
from collections.abc import Callable, Mapping
from functools import cache

from placer.boards.model import Board
from placer.circuit.model import Circuit, PinRef
from placer.plan.model import Options, Plan
from tests.solve.brute import Answer, optimum
from tests.solve.cases import Case, Cell, any_board, any_circuit, board_of, long_strips, odd_strips, short_strips
from tests.solve.wires import TooLargeError


def _uncut(dice: random.Random) -> tuple[Circuit, Board, Options]:
    board = any_board(dice, "none")
    circuit = any_circuit(dice, board, dice.choice((2, 3, 3, 4)))
    return circuit, board, Options(diagonals=dice.random() < 0.15)


def _cut(dice: random.Random) -> tuple[Circuit, Board, Options]:
    board = any_board(dice, dice.choice(("hole", "knife", "both")))
    circuit = any_circuit(dice, board, dice.choice((2, 2, 3, 3, 4)))
    jumper_cost, cut_cost = dice.choice(((1.0, 0.8), (1.0, 0.8), (1.0, 1.5), (0.5, 0.7), (2.0, 0.5)))
    return circuit, board, Options(jumper_cost, cut_cost, allow_cuts=dice.random() < 0.85)


# --- kinds that bring out one feature of copper each -----------------------------------------------------------------

IN_LINE = ("two", "two", "row", "row", "link", "square", "corner")
"""Parts in a line, small ICs, and parts with joined pins: what makes copper scarce."""


def _severed(dice: random.Random, rule: str) -> tuple[Circuit, Board, Options]:
    """Fewer strips than nets want, all (or most) of which may be severed by one rule."""
    layout = dice.choice(("long", "long", "long", "short", "odd"))
    rails: frozenset[int] = frozenset()
    if layout == "long":
        strips = long_strips(dice, dice.randint(1, 3), dice.randint(5, 8))
    elif layout == "short":
        strips, rails = short_strips(dice, dice.randint(1, 2), dice.randint(3, 5))
    else:
        strips = odd_strips(dice, dice.randint(4, 6), 3)
    if dice.random() < 0.3:
        strips = [[(y, x) for x, y in strip] for strip in strips]
    cuts = {dice.randrange(len(strips)): "none"} if len(strips) > 2 and dice.random() < 0.3 else {}
    board = board_of(strips, cut=rule, rails=rails, cuts=cuts)
    circuit = any_circuit(
        dice, board, dice.choice((2, 2, 3, 3)), wishes=0.1, forms=IN_LINE, sizes=(1, 2, 2, 2, 3), left_open=0.4
    )
    return circuit, board, Options(*dice.choice(COSTS))


def _open_pins(dice: random.Random) -> tuple[Circuit, Board, Options]:
    """Most pins in no net, on strips too few to give each its own."""
    rule = dice.choice(("hole", "knife", "both", "both"))
    strips = long_strips(dice, dice.randint(2, 4), dice.randint(5, 7))
    board = board_of(strips, cut=rule, cuts={0: "none"} if dice.random() < 0.3 else {})
    forms = ("row", "row", "square", "square", "corner", "two", "link", "link", "flying")
    circuit = any_circuit(
        dice, board, dice.choice((2, 2, 3)), wishes=0.1, forms=forms, sizes=(1, 1, 1, 2, 3), left_open=0.9
    )
    return circuit, board, Options(*dice.choice(COSTS))


def _rails_mixed(dice: random.Random) -> tuple[Circuit, Board, Options]:
    """Short strips with rails across their ends, along them and in the channel, whole or in two, each cut its way."""
    wide, rows = dice.choice((3, 4, 5)), dice.choice((1, 2, 2, 3))
    strips = [[(x, y) for x in range(wide)] for y in range(rows)]
    if dice.random() < 0.3:
        strips += [[(wide + 2 + x, y) for x in range(wide)] for y in range(rows)]
        inside = range(-dice.randint(0, 1), rows + dice.randint(0, 1))
        places = [[(wide + k, y) for y in inside] for k in range(dice.randint(1, 2))]
    else:
        places = [[(-1, y) for y in range(rows)], [(wide, y) for y in range(rows)], [(x, -1) for x in range(wide)]]
        places = dice.sample(places, dice.randint(1, 2))
    rails: list[list[Cell]] = []
    for rail in places:
        split = dice.randint(2, len(rail) - 2) if len(rail) > 3 and dice.random() < 0.3 else len(rail)
        rails += [piece for piece in (rail[:split], rail[split:]) if piece]
    first = len(strips)
    on_strips, on_rails = dice.choice(
        (("none", "both"), ("none", "hole"), ("none", "knife"), ("knife", "none"), ("hole", "knife"), ("knife", "both"))
    )
    numbers = frozenset(range(first, first + len(rails)))
    board = board_of(
        strips + rails,
        cut=on_strips,
        rails=numbers,
        cuts=dict.fromkeys(numbers, on_rails),
    )
    forms = ("two", "two", "row", "row", "square", "link")
    circuit = any_circuit(
        dice, board, dice.choice((2, 3, 3, 4)), wishes=0.1, forms=forms, sizes=(1, 1, 2, 2, 3, 4), left_open=0.5
    )
    return circuit, board, Options(*dice.choice(COSTS))


def _few_holes(dice: random.Random) -> tuple[Circuit, Board, Options]:
    """Strips of two to four holes, each as long as the others, and nets with more pins than those hold with wires."""
    holes, columns, rows = dice.choice(((2, 5, 3), (3, 4, 2), (3, 5, 2), (3, 3, 3), (3, 4, 3), (4, 4, 2), (4, 5, 2)))
    strips = [[(x, holes * y + k) for k in range(holes)] for y in range(rows) for x in range(columns)]
    board = board_of(strips)
    forms = ("two", "two", "two", "row", "link")
    circuit = any_circuit(
        dice, board, dice.choice((3, 4, 4)), wishes=0.05, forms=forms, sizes=(1, 3, 4, 5, 6), left_open=0.9
    )
    return circuit, board, Options()


COSTS = ((1.0, 0.8), (1.0, 0.8), (1.0, 0.8), (1.0, 1.5), (0.5, 0.7), (2.0, 0.5))
"""Costs of a jumper and a cut."""

DRAWS: Mapping[str, Callable[[random.Random], tuple[Circuit, Board, Options]]] = {
    "uncut": _uncut,
    "cut": _cut,
    "at-hole": lambda dice: _severed(dice, "hole"),
    "knife": lambda dice: _severed(dice, "knife"),
    "both": lambda dice: _severed(dice, "both"),
    "open pins": _open_pins,
    "rails mixed": _rails_mixed,
    "few holes": _few_holes,
}
KINDS = ("at-hole", "knife", "both", "open pins", "rails mixed")
"""Those that bring out one feature each."""


@cache
def case(kind: str, seed: int) -> tuple[Case, Answer]:
    """The case of a seed, with the truth about it. ``kind``: one of :data:`DRAWS`.

    Draws that take too long to try out are drawn again, and so are most of those that no plan exists for, that need
    neither jumper nor cut, or that show nothing of the feature of their kind.
    """
    for again in itertools.count():
        dice = random.Random(f"{kind} {seed} {again}")
        circuit, board, options = DRAWS[kind](dice)
        try:
            answer = optimum(circuit, board, options)
        except TooLargeError:
            continue
        drawn = Case(f"{kind}-{seed}", circuit, board, options)
        if kind in (*KINDS, "few holes"):
            keep = (
                0.05 if answer.plan is None else 1.0 if shows(kind, answer.plan) else 0.1 if answer.cost == 0 else 0.25
            )
        else:
            keep = 0.2 if answer.cost is None else 0.4 if answer.cost == 0 else 1.0
        if dice.random() < keep:
            return drawn, answer
    raise AssertionError("unreachable")


def shows(kind: str, plan: Plan) -> bool:
    """Does a plan show the feature of its kind?"""
    copper = plan.board.strip_of
    if kind == "few holes":  # three strips of a net or more, so that some strip is to hold two wire ends
        return max(Counter(wire.net for wire in plan.jumpers).values(), default=0) > 1
    at = {PinRef(ref, pin): hole for ref, item in plan.placements.items() for pin, hole in item.pins.items()}
    severed = {copper[cut.at or cut.between[0]].name for cut in plan.cuts if cut.at or cut.between}
    if kind in ("at-hole", "knife", "both"):
        return bool(severed)
    if kind == "open pins":  # on copper severed for its sake or another's
        return any(copper[hole].name in severed for pin, hole in at.items() if pin not in plan.circuit.net_of)
    used = [*at.values(), *(end for wire in plan.jumpers for end in (wire.start, wire.end))]
    return bool(plan.cuts or plan.jumpers) and len({copper[hole].rail for hole in used}) == 2
