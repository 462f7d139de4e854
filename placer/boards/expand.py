"""From a validated board file to the board: every hole, strip and link written out.

What cannot be written out (two holes of one address, a label that is missing) is collected as faults with the place in
the file that caused it; what can be written out but makes no sense is left to the self-check.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from placer.boards.labels import fields_of, fill
from placer.boards.model import Board, Copper, CutRule, Hole, Keepout, MountingHole, Port, Strip
from placer.boards.paths import along_copper
from placer.boards.schema import Block, BoardFile, Cut, Groups, OddStrip, Pieces
from placer.errors import Diagnostic

MAX_HOLES = 20_000
PITCH_MM = 2.54

Loc = tuple[str | int, ...]


@dataclass(frozen=True)
class Misfit:
    """A fault and the place in the file that caused it."""

    diagnostic: Diagnostic
    loc: Loc


@dataclass
class Draft:
    """A board under construction. ``at``: grid position by address; the origins: places in the file."""

    at: dict[str, tuple[int, int]] = field(default_factory=dict)
    hole_mm: dict[str, float] = field(default_factory=dict)
    strips: list[Strip] = field(default_factory=list)
    misfits: list[Misfit] = field(default_factory=list)
    hole_origin: dict[str, Loc] = field(default_factory=dict)
    strip_origin: dict[str, Loc] = field(default_factory=dict)

    def refuse(self, code: str, message: str, help_text: str, loc: Loc) -> None:
        """Note a fault; of one code at one place only the first is kept."""
        if not any(m.diagnostic.code == code and m.loc == loc for m in self.misfits):
            self.misfits.append(Misfit(Diagnostic(code, message, help_text), loc))

    def add_hole(self, address: str, at: tuple[int, int], diameter_mm: float, loc: Loc) -> None:
        """Add a hole, unless its address is taken."""
        if address in self.at:
            message = f"address {address} is given to two holes, at grid {_xy(self.at[address])} and {_xy(at)}"
            self.refuse("address-twice", message, "give each hole an address of its own (labels, address)", loc)
            return
        self.at[address] = at
        self.hole_mm[address] = diameter_mm
        self.hole_origin[address] = loc

    def add_strip(self, strip: Strip, loc: Loc) -> None:
        """Add a strip, unless its name is taken."""
        if strip.name in self.strip_origin:
            help_text = "use fields such as {row}, {column}, {strip}, {section} in name, or another name"
            self.refuse("strip-name-twice", f"two strips are named {strip.name}", help_text, loc)
            return
        self.strips.append(strip)
        self.strip_origin[strip.name] = loc


@dataclass(frozen=True)
class Expanded:
    """The outcome: the board, the faults met on the way, and where in the file each hole and strip comes from."""

    board: Board
    misfits: tuple[Misfit, ...]
    hole_origin: Mapping[str, Loc]
    strip_origin: Mapping[str, Loc]


class LabelMissingError(Exception):
    """A template asks for a label that the axis does not have."""


def expand(file: BoardFile, name: str) -> Expanded:
    """Write a board out. ``name``: the board's name with its parameters filled in."""
    draft = Draft()
    for key, blocks in (("blocks", file.blocks), ("rails", file.rails)):
        for index, block in enumerate(blocks):
            _add_block(draft, file, block, rail=key == "rails", loc=(key, index))
    for index, odd in enumerate(file.strips):
        _add_odd(draft, file, odd, ("strips", index))
    _add_joins(draft, file)
    outline, offset = _frame(file, draft.at.values())
    holes = {
        address: Hole(address, *at, *_at_mm(at, offset), draft.hole_mm[address]) for address, at in draft.at.items()
    }
    gap = file.copper.gap_mm if file.copper.gap_mm is not None else max(0.0, _mm(PITCH_MM - file.copper.width_mm))
    mounting = tuple(MountingHole(n, *m.at_mm, m.diameter_mm) for n, m in file.mounting.items())
    board = Board(
        name=name,
        about=file.about,
        outline_mm=outline,
        holes=holes,
        strips=tuple(draft.strips),
        cut=_rule(file.cut),
        cut_by_default=file.cut.by_default,
        ports=_ports(file),
        keepouts=tuple(_keepouts(file)),
        copper=Copper(file.copper.width_mm, gap, file.copper.thickness_um, file.copper.side, file.copper.rise_k),
        pitch_mm=PITCH_MM,
        column_labels=dict(file.labels.columns),
        row_labels=dict(file.labels.rows),
        sources=dict(file.sources),
        mounting=mounting,
        bridges=file.bridges,
    )
    return Expanded(board, tuple(draft.misfits), draft.hole_origin, draft.strip_origin)


def _add_block(draft: Draft, file: BoardFile, block: Block, *, rail: bool, loc: Loc) -> None:
    count = len(block.strips) * len(block.holes)
    if count + len(draft.at) > MAX_HOLES:
        message = f"the board has more than {MAX_HOLES} holes"
        draft.refuse("board-too-large", message, "check the counts and parameters", loc)
        return
    places = _places(len(block.holes), block.sections, block.groups)
    hole_mm = block.hole_mm or file.hole_mm
    rule = _rule(block.cut) if block.cut is not None else _rule(file.cut)
    for index, strip_label in enumerate(block.strips):
        for section, members in enumerate(places, start=1):
            across = index * block.spacing
            cells = [
                (block.at[0] + along, block.at[1] + across)
                if block.along == "x"
                else (block.at[0] + across, block.at[1] + along)
                for _, along in members
            ]
            values = {"strip": strip_label, "section": str(section)}
            labels = [block.holes[number] for number, _ in members]
            try:
                strip_name, addresses = _spell(file, block.name, block.address, values, cells, labels)
            except LabelMissingError as err:
                help_text = "name it under labels, or give this block an address of its own"
                draft.refuse("label-missing", str(err), help_text, loc)
                return
            for address, cell in zip(addresses, cells, strict=True):
                draft.add_hole(address, cell, hole_mm, loc)
            links = tuple(itertools.pairwise(addresses))
            draft.add_strip(Strip(strip_name, tuple(addresses), links, rule, rail), loc)


def _places(count: int, sections: Pieces | None, groups: Groups | None) -> list[list[tuple[int, int]]]:
    """Return, section by section, (number of the hole from 0, steps along). Groups begin anew with each section."""
    found: list[list[tuple[int, int]]] = []
    number, along = 0, 0
    for size in _pieces(count, sections):
        if found and sections is not None:
            along += sections.gap
        members: list[tuple[int, int]] = []
        for group_size in _pieces(size, groups):
            if members and groups is not None:
                along += groups.gap
            for _ in range(group_size):
                members.append((number, along))
                number, along = number + 1, along + 1
        found.append(members)
    return found


def _pieces(count: int, pieces: Pieces | None) -> Iterator[int]:
    """Yield piece sizes until ``count`` is used up, repeating the last size given."""
    if pieces is None:
        yield count
        return
    index = 0
    while count > 0:
        size = min(count, pieces.of[min(index, len(pieces.of) - 1)])
        yield size
        count -= size
        index += 1


def _spell(
    file: BoardFile,
    name: str,
    address: str | None,
    values: Mapping[str, str],
    cells: Sequence[tuple[int, int]],
    labels: Sequence[str],
) -> tuple[str, list[str]]:
    """Return the name of a strip and the addresses of its holes. Raises LabelMissingError."""
    template = address or file.labels.address
    if "name" in fields_of(template):
        strip_name = fill(name, {**values, **_axis_labels(file, name, cells[0])})
        values = {**values, "name": strip_name}
    addresses = [
        fill(template, {**values, **_axis_labels(file, template, cell), "hole": label})
        for cell, label in zip(cells, labels, strict=True)
    ]
    return fill(name, {**values, **_axis_labels(file, name, cells[0]), "first": addresses[0]}), addresses


def _axis_labels(file: BoardFile, template: str, cell: tuple[int, int]) -> dict[str, str]:
    wanted = fields_of(template)
    found: dict[str, str] = {}
    for word, axis, position in (("column", file.labels.columns, cell[0]), ("row", file.labels.rows, cell[1])):
        if word in wanted:
            if position not in axis:
                letter = "x" if word == "column" else "y"
                raise LabelMissingError(f"the {word} at grid {letter} = {position} has no label")
            found[word] = axis[position]
    return found


def _add_odd(draft: Draft, file: BoardFile, odd: OddStrip, loc: Loc) -> None:
    links: list[tuple[str, str]] = []
    if odd.holes is not None:
        at = dict(odd.holes)
        order = list(at)
        links = list(odd.links) if odd.links is not None else list(itertools.pairwise(order))
    else:
        cells, joints = _runs(odd.runs or [])
        if joints is None or len(cells) + len(draft.at) > MAX_HOLES:
            message = f"strip {odd.name} has a run that is neither level nor upright, or far too long"
            draft.refuse("run-askew", message, "each corner lies straight beside or below the one before", loc)
            return
        template = odd.address or file.labels.address
        try:
            spelled = _spell(
                file,
                "-",
                template.replace("{name}", odd.name),
                {"strip": "1", "section": "1"},
                cells,
                [str(n) for n in range(1, len(cells) + 1)],
            )[1]
        except LabelMissingError as err:
            draft.refuse("label-missing", str(err), "name it under labels, or give the strip an address", loc)
            return
        by_cell = dict(zip(cells, spelled, strict=True))
        at = {by_cell[cell]: cell for cell in cells}
        links = [(by_cell[a], by_cell[b]) for a, b in joints]
    unknown = sorted({end for link in links for end in link if end not in at})
    if unknown:
        message = f"strip {odd.name} links hole {unknown[0]}, which is none of its holes"
        draft.refuse("link-to-nowhere", message, f"its holes are {', '.join(at)}", loc)
        return
    for address, cell in at.items():
        draft.add_hole(address, cell, odd.hole_mm or file.hole_mm, loc)
    draft.add_strip(_strip(odd.name, at, links, odd.cut, _rule(file.cut), rail=odd.rail), loc)


def _runs(
    runs: Sequence[Sequence[tuple[int, int]]],
) -> tuple[list[tuple[int, int]], list[tuple[tuple[int, int], tuple[int, int]]] | None]:
    """Return the holes along the runs and the steps between them; None for the steps when a run is askew."""
    cells: dict[tuple[int, int], None] = {}
    joints: dict[tuple[tuple[int, int], tuple[int, int]], None] = {}
    for run in runs:
        here = run[0]
        cells[here] = None
        for corner in run[1:]:
            dx, dy = corner[0] - here[0], corner[1] - here[1]
            if (dx != 0 and dy != 0) or abs(dx) + abs(dy) > MAX_HOLES:
                return list(cells), None
            while here != corner:
                after = (here[0] + (dx > 0) - (dx < 0), here[1] + (dy > 0) - (dy < 0))
                cells[after] = None
                if (after, here) not in joints:
                    joints[here, after] = None
                here = after
    return list(cells), list(joints)


def _strip(
    name: str,
    at: Mapping[str, tuple[int, int]],
    links: Sequence[tuple[str, str]],
    cut: Cut | None,
    board_rule: CutRule,
    *,
    rail: bool,
    off_grid: tuple[tuple[str, str], ...] = (),
) -> Strip:
    """Make a strip of odd form: in the order of its copper where it is a path, else uncut and in reading order."""
    order = along_copper(tuple(at), links)
    if order is None:
        order = tuple(sorted(at, key=lambda address: (at[address][1], at[address][0])))
        rule = CutRule()
    else:
        links = tuple(itertools.pairwise(order))
        rule = board_rule
    if cut is not None:
        rule = _rule(cut)
    joined = {frozenset(link) for link in off_grid}
    own = tuple(link for link in links if frozenset(link) in joined)
    return Strip(name, order, tuple(links), rule, rail, own)


def _add_joins(draft: Draft, file: BoardFile) -> None:
    """Merge strips that copper off the grid joins. The merged strip may be cut as the strictest of its members."""
    for index, join in enumerate(file.joins):
        loc: Loc = ("joins", index)
        owner = {address: strip for strip in draft.strips for address in strip.holes}
        unknown = [end for link in join.links for end in link if end not in owner]
        if unknown:
            draft.refuse("link-to-nowhere", f"hole {unknown[0]} is not on the board", "give two hole addresses", loc)
            continue
        names = {owner[end].name for link in join.links for end in link}
        members = [strip for strip in draft.strips if strip.name in names]
        at = {address: draft.at[address] for strip in members for address in strip.holes}
        links = [link for strip in members for link in strip.links] + list(join.links)
        rule = CutRule(all(s.cut.at_hole for s in members), all(s.cut.between for s in members))
        off_grid = tuple(link for strip in members for link in strip.off_grid) + tuple(join.links)
        merged = _strip(join.name, at, links, None, rule, rail=all(s.rail for s in members), off_grid=off_grid)
        first = draft.strips.index(members[0])
        draft.strips = [strip for strip in draft.strips if strip.name not in names]
        for strip in members:
            del draft.strip_origin[strip.name]
        draft.add_strip(merged, loc)
        if draft.strips and draft.strips[-1] is merged:
            draft.strips.insert(first, draft.strips.pop())


def _frame(file: BoardFile, cells: Collection[tuple[int, int]]) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the outline and the place of grid (0, 0) in it, mm: one step round the holes, or the holes centred."""
    xs, ys = [x for x, _ in cells] or [0], [y for _, y in cells] or [0]
    size = ((max(xs) - min(xs)) * PITCH_MM, (max(ys) - min(ys)) * PITCH_MM)
    if file.outline_mm is not None:
        outline = file.outline_mm
    elif file.offset_mm is not None:
        # The far margins are one step; the near ones are what the offset makes them.
        outline = (
            _mm(file.offset_mm[0] + (max(xs) + 1) * PITCH_MM),
            _mm(file.offset_mm[1] + (max(ys) + 1) * PITCH_MM),
        )
    else:
        outline = (_mm(size[0] + 2 * PITCH_MM), _mm(size[1] + 2 * PITCH_MM))
    if file.offset_mm is not None:
        return outline, file.offset_mm
    left, top = (outline[0] - size[0]) / 2, (outline[1] - size[1]) / 2
    return outline, (_mm(left - min(xs) * PITCH_MM), _mm(top - min(ys) * PITCH_MM))


def _at_mm(at: tuple[int, int], offset: tuple[float, float]) -> tuple[float, float]:
    return _mm(offset[0] + at[0] * PITCH_MM), _mm(offset[1] + at[1] * PITCH_MM)


def _rule(cut: Cut) -> CutRule:
    return CutRule(cut.at_hole, cut.between)


def _ports(file: BoardFile) -> dict[str, Port]:
    return {
        name: Port(
            name,
            tuple(port.fits),
            {pin: pad.at_mm for pin, pad in port.pads.items()},
            {pin: pad.strip for pin, pad in port.pads.items() if pad.strip is not None},
            port.about,
        )
        for name, port in file.ports.items()
    }


def _keepouts(file: BoardFile) -> Iterator[Keepout]:
    for name, (x0, y0, x1, y1) in file.keepouts.items():
        yield Keepout(name, x0, y0, x1, y1)
    for name, hole in file.mounting.items():
        half = (hole.clear_mm or hole.diameter_mm) / 2
        x, y = hole.at_mm
        yield Keepout(name, _mm(x - half), _mm(y - half), _mm(x + half), _mm(y + half))


def _mm(value: float) -> float:
    """Round to 0.1 um, far below any tolerance here, so that 3 * 2.54 reads 7.62."""
    return round(value, 4)


def _xy(at: tuple[int, int]) -> str:
    return f"({at[0]}, {at[1]})"
