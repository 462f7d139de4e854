"""Boards made to measure: enough room for a circuit, by an estimate that anyone can redo, and half as much again.

    python -m tests.bench.boards 40 --seed 3 --kind long-strip

prints the board file for a circuit of :mod:`tests.bench.generate`. Boards are written in the syntax that users write,
and read by the loader that reads theirs.

The estimate counts holes: those under each part where it takes the least room, its pins among them; and for wire ends
and cuts one more for each pin on long strips, one for every second pin on five-hole boards (plans that were found take
0.7 to 0.8 and 0.4). What has two rows of pins (an IC) takes all holes between them on long strips; on five-hole boards
it stands across the channel, where there are none. There strips are counted too: a net needs one for each pin of its
ICs, and at least one for every three of its pins beyond two (s strips hold 5 s leads and wire ends, of which 2 (s - 1)
are wire ends); an open pin needs one. Rails come on top. What is more decides.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from placer.boards.loader import read_board
from placer.boards.model import Board
from placer.circuit.model import Circuit
from placer.packages.model import STEP_UM, Diagonal, Flying, Package, Rigid, TwoLead
from placer.plan.model import Options
from tests.bench.generate import circuit

SPARE = 1.5  # room given, against the estimate
KINDS = ("five-hole", "long-strip")
LONGEST_BANK = 63  # rows; boards of this length are common
BANK_PITCH = 20  # steps from bank to bank: 18 columns with rails and channel, and two to spare
FIVE = 10  # holes of a row of a bank, rails left out


@dataclass(frozen=True)
class Need:
    """What a circuit needs by the estimate.

    ``holes``: on long strips; ``channelled``: on five-hole boards; ``strips`` of five holes; ``tallest``: the longest
    part, in holes.
    """

    holes: int
    channelled: int
    strips: int
    tallest: int


def need(made: Circuit) -> Need:
    """The estimate for a circuit."""
    packages = [made.packages[part.package] for part in made.parts]
    sizes = [_least_size(package) for package in packages]
    pins = sum(len(package.pins) for package in packages)
    holes, channelled = pins, math.ceil(pins / 2)
    for (wide, high), package in zip(sizes, packages, strict=True):
        holes += wide * high
        channelled += len(package.pins) if _two_rows(package) else wide * high
    strips = 0
    for net in made.nets:
        fixed = sum(_two_rows(made.package_of(pin.part)) for pin in net.pins)
        strips += max(fixed, math.ceil((len(net.pins) - 2) / 3), 1)
    listed = set(made.net_of)
    for part, package in zip(made.parts, packages, strict=True):
        mates = {pin: group for group in package.joined for pin in group}
        open_pins = {mates.get(pin, (pin,)) for pin in package.pins}
        strips += sum(not any((part.ref, pin) == (p.part, p.pin) for p in listed for pin in g) for g in open_pins)
    return Need(holes, channelled, strips, max(high for _, high in sizes))


def _two_rows(package: Package) -> bool:
    form = package.form
    return isinstance(form, Rigid) and len({x for x, _ in form.offsets}) > 1 and len({y for _, y in form.offsets}) > 1


def _least_size(package: Package) -> tuple[int, int]:
    """Holes across and along that a package keeps others from, pins among them, where it takes the fewest."""
    form = package.form
    if isinstance(form, Flying):
        return len(package.pins), 1
    if isinstance(form, Diagonal):
        return _covered(form.width), max(2, _covered(form.length))
    if isinstance(form, TwoLead):
        ways = [(_covered(form.width), max(span + 1, _covered(form.length))) for span in form.flat]
        ways += [(_covered(form.upright), span + 1) for span in form.standing]
        return min(ways, key=lambda way: way[0] * way[1])
    xs, ys = [x for x, _ in form.offsets], [y for _, y in form.offsets]
    wide, high = max(xs) - min(xs) + 1, max(ys) - min(ys) + 1
    if form.body is not None:
        wide = max(wide, _covered(form.body[2] - form.body[0]))
        high = max(high, _covered(form.body[3] - form.body[1]))
    return min(wide, high), max(wide, high)


def _covered(mm: float) -> int:
    """Holes in a line that a body as long as this takes up when the line runs through its middle."""
    return max(1, math.ceil(round(mm * 1000) / STEP_UM))


def five_hole_text(made: Circuit) -> str:
    """A five-hole board: banks of at most 63 rows side by side, each a..e, channel, f..j and two rails each side."""
    wanted = need(made)
    rows = max(math.ceil(SPARE * max(wanted.channelled / FIVE, wanted.strips / 2)), wanted.tallest + 2)
    banks = math.ceil(rows / LONGEST_BANK)
    rows = math.ceil(rows / banks)
    columns, blocks, rails = [], [], []
    for bank in range(banks):
        letter, x = _letter(bank), BANK_PITCH * bank
        for side, names, at in (("L", "abcde", x + 3), ("R", "fghij", x + 10)):
            labels = ", ".join(f"{letter}{name}" for name in names)
            columns.append(f"{at}: [{labels}]")
            blocks.append(f'  - {{name: "{letter}{side}{{row}}", at: [{at}, 0], along: x, strips: {rows}, holes: 5}}')
        for name, at in (("L+", x), ("L-", x + 1), ("R-", x + 16), ("R+", x + 17)):
            rails.append(f'  - {{name: "{letter}{name}", at: [{at}, 0], along: y, holes: {rows}}}')
    lines = [
        f"board: {made.name}-five-hole-{banks}x{rows}",
        f"about: {banks} banks of {rows} rows side by side, made to measure",
        f'labels: {{columns: {{{", ".join(columns)}}}, rows: {rows}, address: "{{column}}{{row}}"}}',
        "cut: {between: true, by_default: false}",
        "blocks:",
        *blocks,
        "rails:",
        *rails,
    ]
    return "\n".join(lines) + "\n"


def _letter(bank: int) -> str:
    return chr(ord("A") + bank)


def long_strip_text(made: Circuit) -> str:
    """A long-strip board, half as long again as it is high; strips may be cut."""
    wanted = need(made)
    holes = SPARE * wanted.holes
    strips = max(math.ceil(math.sqrt(holes * 2 / 3)), wanted.tallest + 2)
    along = math.ceil(holes / strips)
    lines = [
        f"board: {made.name}-long-strip-{strips}x{along}",
        "about: long strips, made to measure",
        f'labels: {{columns: {along}, rows: {strips} from A, address: "{{row}}{{column}}"}}',
        "cut: {at_hole: true, between: true}",
        "blocks:",
        f'  - {{name: "{{row}}", at: [0, 0], along: x, strips: {strips}, holes: {along}}}',
    ]
    return "\n".join(lines) + "\n"


def board_for(made: Circuit, kind: str) -> Board:
    """A board for a circuit. ``kind``: one of :data:`KINDS`."""
    text = {"five-hole": five_hole_text, "long-strip": long_strip_text}[kind](made)
    return read_board(Path(f"{made.name}-{kind}.yaml"), text=text)


@dataclass(frozen=True)
class Case:
    """What is measured: a circuit, a board, the options; ``kind`` of board, or the name of a catalogue board."""

    circuit: Circuit
    board: Board
    options: Options
    kind: str

    @property
    def parts(self) -> int:
        """The size of the circuit."""
        return len(self.circuit.parts)

    @property
    def name(self) -> str:
        """Circuit and kind of board."""
        return f"{self.circuit.name} on {self.kind}"


def case_on(made: Circuit, board: Board, kind: str) -> Case:
    """A circuit on a board, cuts as the board has them by default."""
    return Case(made, board, Options(allow_cuts=board.cut_by_default), kind)


def made_case(count: int, seed: int, kind: str) -> Case:
    """The circuit of a size and seed, on a board made for it."""
    made = circuit(count, seed)
    return case_on(made, board_for(made, kind), kind)


def main(arguments: Sequence[str] | None = None) -> int:
    """Print one board file."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.boards", description=__doc__.splitlines()[0])
    parser.add_argument("parts", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kind", choices=KINDS, default=KINDS[0])
    given = parser.parse_args(arguments)
    made = circuit(given.parts, given.seed)
    sys.stdout.write(five_hole_text(made) if given.kind == KINDS[0] else long_strip_text(made))
    return 0


if __name__ == "__main__":
    sys.exit(main())
