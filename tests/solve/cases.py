"""Random small circuits and boards, sound by the rules of circuits, packages and boards, from a seed."""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from placer.boards.model import Board, CutRule, Hole, Keepout, Strip
from placer.boards.selfcheck import faults_of
from placer.circuit.model import SIDES, AwayWish, Circuit, NearWish, Net, Part, PinRef, Place
from placer.packages.model import Diagonal, Flying, Form, Package, Rigid, TwoLead
from placer.packages.rules import package_faults
from placer.plan.model import Options

STEP_MM = 2.54
Cell = tuple[int, int]
RULES = {
    "none": CutRule(),
    "hole": CutRule(at_hole=True),
    "knife": CutRule(between=True),
    "both": CutRule(at_hole=True, between=True),
}


@dataclass(frozen=True)
class Case:
    """A circuit, a board and the builder's options."""

    name: str
    circuit: Circuit
    board: Board
    options: Options

    def __str__(self) -> str:
        return self.name


# --- boards ----------------------------------------------------------------------------------------------------------


def board_of(
    strips: list[list[Cell]],
    *,
    cut: str = "none",
    rails: frozenset[int] = frozenset(),
    margin: tuple[float, float, float, float] = (2.54, 2.54, 2.54, 2.54),
    keepouts: tuple[tuple[float, float, float, float], ...] = (),
    thin: frozenset[Cell] = frozenset(),
    cuts: Mapping[int, str] | None = None,
) -> Board:
    """A board of straight strips given by their cells (steps).

    ``margin``: mm from the outermost hole centres to the outline (left, top, right, bottom). ``keepouts``: corners in
    steps. ``thin``: cells whose holes are 0.6 mm wide, the others are 1.0. ``cuts``: rules of single strips.
    """
    left, top = min(x for s in strips for x, _ in s), min(y for s in strips for _, y in s)
    right, bottom = max(x for s in strips for x, _ in s), max(y for s in strips for _, y in s)

    def mm(x: float, y: float) -> tuple[float, float]:
        return margin[0] + (x - left) * STEP_MM, margin[1] + (y - top) * STEP_MM

    named = {cell: f"{chr(97 + cell[0] - left)}{cell[1] - top + 1}" for strip in strips for cell in strip}
    holes = {
        address: Hole(address, x, y, round(mm(x, y)[0], 6), round(mm(x, y)[1], 6), 0.6 if (x, y) in thin else 1.0)
        for (x, y), address in named.items()
    }
    rule = RULES[cut]
    made = []
    for number, strip in enumerate(strips):
        names = tuple(named[cell] for cell in strip)
        own = RULES[(cuts or {}).get(number, cut)] if len(strip) > 1 else CutRule()
        made.append(Strip(f"S{number + 1}", names, tuple(itertools.pairwise(names)), own, number in rails))
    for own in made:
        rule = CutRule(rule.at_hole or own.cut.at_hole, rule.between or own.cut.between)
    areas = tuple(
        Keepout(f"K{i + 1}", *(round(v, 3) for v in (*mm(k[0], k[1]), *mm(k[2], k[3])))) for i, k in enumerate(keepouts)
    )
    size = (
        round(margin[0] + margin[2] + (right - left) * STEP_MM, 3),
        round(margin[1] + margin[3] + (bottom - top) * STEP_MM, 3),
    )
    board = Board("trial", "a board of the tests", size, holes, tuple(made), cut=rule, keepouts=areas)
    faults = [fault.message for fault in faults_of(board)]
    assert not faults, faults
    return board


def short_strips(dice: random.Random, rows: int, wide: int) -> tuple[list[list[Cell]], frozenset[int]]:
    """Two banks of short strips with a channel between, and perhaps rails down the sides."""
    gap = dice.choice((2, 3))
    strips = []
    for y in range(rows):
        strips.append([(x, y) for x in range(wide)])
        strips.append([(wide - 1 + gap + x, y) for x in range(wide if dice.random() < 0.9 else wide - 1)])
    rails = set()
    if dice.random() < 0.5:
        rails.add(len(strips))
        strips.append([(-2, y) for y in range(rows)])
        if dice.random() < 0.3:
            rails.add(len(strips))
            strips.append([(-3, y) for y in range(rows)])
    if dice.random() < 0.25:
        rails.add(len(strips))
        strips.append([(2 * wide + gap, y) for y in range(rows)])
    return strips, frozenset(rails)


def long_strips(dice: random.Random, count: int, holes: int) -> list[list[Cell]]:
    """Parallel long strips, some of them in two pieces."""
    strips = []
    for y in range(count):
        if dice.random() < 0.2 and holes > 4:
            split = dice.randint(2, holes - 2)
            strips += [[(x, y) for x in range(split)], [(x, y) for x in range(split, holes)]]
        else:
            strips.append([(x, y) for x in range(holes)])
    return strips


def odd_strips(dice: random.Random, wide: int, high: int) -> list[list[Cell]]:
    """A grid with holes left out, cut up into straight strips of random length, across or down."""
    left = {(x, y) for x in range(wide) for y in range(high) if dice.random() < 0.93}
    strips = []
    while left:
        x, y = min(left)
        dx, dy = dice.choice(((1, 0), (0, 1)))
        strip = []
        for _ in range(dice.randint(1, 5)):
            if (x, y) not in left:
                break
            strip.append((x, y))
            left.discard((x, y))
            x, y = x + dx, y + dy
        strips.append(strip)
    dice.shuffle(strips)
    return strips


def any_board(dice: random.Random, cut: str) -> Board:
    """A small board of any of the kinds."""
    rails: frozenset[int] = frozenset()
    kind = (
        dice.choice(("short", "short", "short", "odd", "long"))
        if cut == "none"
        else dice.choice(("long", "long", "short", "odd"))
    )
    if kind == "short":
        strips, rails = short_strips(
            dice, dice.randint(2, 4), dice.choice((2, 3, 3, 4) if cut == "none" else (3, 4, 5))
        )
    elif kind == "long":
        strips = long_strips(dice, dice.randint(2, 6 if cut == "none" else 4), dice.randint(4, 7))
    else:
        strips = odd_strips(dice, dice.randint(3, 6), dice.randint(3, 4))
    if dice.random() < 0.3:
        strips = [[(y, x) for x, y in strip] for strip in strips]
    cells = [cell for strip in strips for cell in strip]
    keepouts: tuple[tuple[float, float, float, float], ...] = ()
    if dice.random() < 0.2:
        x, y = dice.choice(cells)
        keepouts = ((x + 0.1, y + 0.1, x + dice.choice((0.7, 0.9)), y + 0.9),)
    thin = frozenset(cell for cell in cells if dice.random() < 0.06) if dice.random() < 0.3 else frozenset()
    margin = tuple(dice.choice((1.27, 1.27, 1.6, 2.54, 5.0)) for _ in range(4))
    cuts = {}
    if cut != "none" and dice.random() < 0.4:
        cuts = {number: dice.choice(tuple(RULES)) for number in range(len(strips))}
    return board_of(strips, cut=cut, rails=rails, margin=margin, keepouts=keepouts, thin=thin, cuts=cuts)


# --- packages --------------------------------------------------------------------------------------------------------


def package(
    name: str, form: Form, pins: int, *, joined: tuple[tuple[str, ...], ...] = (), lead: float = 0.5
) -> Package:
    """A package of the tests' own."""
    made = Package(name, "of the tests", tuple(str(i + 1) for i in range(pins)), form, 5.0, lead, "box", joined=joined)
    assert not package_faults(made)
    return made


FORMS = ("two", "two", "two", "two", "row", "row", "corner", "square", "pair", "slant", "flying", "link")


def any_package(dice: random.Random, name: str, forms: Sequence[str] = FORMS) -> Package:
    """A small package of any form, its body tight."""
    kind = dice.choice(forms)
    grow = dice.choice((0.6, 1.0, 1.27, 1.27, 1.5, 2.0))
    lead = dice.choice((0.5, 0.5, 0.8))
    if kind in ("two", "link"):
        low = dice.randint(1, 3)
        flat = tuple(range(low, low + dice.randint(1, 2))) if dice.random() < 0.85 else ()
        standing = (1,) if not flat or dice.random() < 0.3 else ()
        form: Form = TwoLead(
            flat,
            standing,
            dice.choice((1.0, 2.0, 3.6, 6.0)),
            dice.choice((1.0, 2.5, 2.6, 3.5)),
            dice.choice((2.0, 3.0)),
        )
        return package(name, form, 2, joined=(("1", "2"),) if kind == "link" else (), lead=lead)
    if kind == "slant":
        return package(name, Diagonal(dice.choice((3.0, 5.0)), dice.choice((2.0, 4.0))), 2, lead=lead)
    if kind == "flying":
        count = dice.randint(1, 2)
        return package(
            name, Flying(), count, joined=(("1", "2"),) if count == 2 and dice.random() < 0.2 else (), lead=lead
        )
    offsets: tuple[Cell, ...]
    joined: tuple[tuple[str, ...], ...] = ()
    if kind == "row":
        offsets = tuple((0, i) for i in range(dice.choice((2, 3, 3, 4))))
    elif kind == "corner":  # differs from its mirror image
        offsets = dice.choice((((0, 0), (1, 0), (1, 2)), ((0, 0), (0, 1), (2, 1)), ((0, 0), (2, 0), (1, 1))))
    elif kind == "pair":
        offsets = ((0, 0), (dice.choice((1, 2)), dice.choice((0, 1))))
    else:
        wide = dice.choice((1, 2, 3))
        offsets = ((0, 0), (0, 1), (wide, 1), (wide, 0))
        joined = dice.choice(((), (), (("1", "4"), ("2", "3")), (("1", "2"),)))
    xs, ys = [x for x, _ in offsets], [y for _, y in offsets]
    body = None
    if dice.random() < 0.9:
        body = (
            round(min(xs) * STEP_MM - grow, 3),
            round(min(ys) * STEP_MM - dice.choice((0.3, 1.0, grow)), 3),
            round(max(xs) * STEP_MM + grow, 3),
            round(max(ys) * STEP_MM + dice.choice((0.3, 1.0, grow)), 3),
        )
    return package(name, Rigid(offsets, body), len(offsets), joined=joined, lead=lead)


# --- circuits --------------------------------------------------------------------------------------------------------


def any_circuit(
    dice: random.Random,
    board: Board,
    count: int,
    *,
    wishes: float = 0.15,
    forms: Sequence[str] = FORMS,
    sizes: Sequence[int] = (1, 2, 2, 3, 3, 4),
    left_open: float = 0.6,
) -> Circuit:
    """Parts of a few packages of their own; nets over random pins, some of them left open.

    ``sizes``: how many pins (or joined groups) a net may have. ``left_open``: the share of the single ones in no net.
    """
    packages = {f"own-{i + 1}": any_package(dice, f"own-{i + 1}", forms) for i in range(dice.randint(1, min(3, count)))}
    parts = [Part(f"X{i + 1}", dice.choice(sorted(packages))) for i in range(count)]
    packages = {name: packages[name] for name in {part.package for part in parts}}
    groups: list[tuple[PinRef, ...]] = []
    for part in parts:
        own = packages[part.package]
        joined = {pin for group in own.joined for pin in group}
        groups += [tuple(PinRef(part.ref, pin) for pin in group) for group in own.joined]
        groups += [(PinRef(part.ref, pin),) for pin in own.pins if pin not in joined]
    dice.shuffle(groups)
    nets: list[Net] = []
    while groups:
        size = min(len(groups), dice.choice(sizes))
        chosen, groups = groups[:size], groups[size:]
        pins: list[PinRef] = []
        for group in chosen:
            pins += group if dice.random() < 0.5 else [dice.choice(group)]
        if size == 1 and dice.random() < left_open:
            continue
        nets.append(Net(f"N{len(nets) + 1}", tuple(sorted(pins))))
    for i, part in enumerate(parts):
        if dice.random() < wishes:
            parts[i] = replace(part, place=_any_wish(dice, board, part, parts, packages))
    return Circuit("trial", tuple(parts), tuple(nets), packages)


def _any_wish(
    dice: random.Random, board: Board, part: Part, parts: list[Part], packages: Mapping[str, Package]
) -> Place:
    own = packages[part.package]
    others = [other for other in parts if other.ref != part.ref]
    kinds = ["at", "edge", "rotation", "side"]
    if others:
        kinds += ["near", "away"]
    if isinstance(own.form, TwoLead):
        kinds += ["mount", "diagonal"]
    kind = dice.choice(kinds)
    if kind == "at":
        return Place(at={dice.choice(own.pins): dice.choice(sorted(board.holes))})
    if kind == "edge":
        return Place(edge=dice.choice((*SIDES, "any")))
    if kind == "rotation":
        return Place(rotation=dice.choice((0, 90, 180, 270)))
    if kind == "side":
        return Place(side=dice.choice(SIDES))
    if kind == "mount":
        return Place(mount="standing" if isinstance(own.form, TwoLead) and own.form.standing else "flat")
    if kind == "diagonal":
        return Place(diagonal=True)
    other = dice.choice(others)
    if kind == "near":
        pin = PinRef(other.ref, dice.choice(packages[other.package].pins))
        return Place(near=(NearWish(pin, dice.choice((1.0, 1.5, 2.0))),))
    return Place(away=(AwayWish(other.ref, dice.choice((5.0, 7.62, 8.0))),))
