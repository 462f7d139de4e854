"""A board checks itself: whatever the drawing, the search and the judge take for granted is looked at here, once."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from placer.boards.model import Board, CutRule, Strip
from placer.boards.paths import along_copper
from placer.errors import Diagnostic

# A letter first, so that an address is never taken for a number; no blanks, dots or commas, which separate things.
ADDRESS = re.compile(r"[^\W\d_][\w+\-]*")
TOLERANCE_MM = 0.01
PITCH_MM = 2.54
BRIDGE_GAP_MM = 1.27  # half a step; solder does not hold across more (common practice, no source)
SIDES = ("bottom", "top", "both")


@dataclass(frozen=True)
class Fault:
    """A diagnostic and what it is about: kind ("hole", "strip", "port", "keepout", a field of the board) and name."""

    diagnostic: Diagnostic
    kind: str
    subject: str = ""


def faults_of(board: Board) -> tuple[Diagnostic, ...]:
    """Return everything that is wrong with a board; an empty tuple for a sound one."""
    return tuple(fault.diagnostic for fault in find_faults(board))


def find_faults(board: Board) -> tuple[Fault, ...]:
    """As :func:`faults_of`, each with its subject, so that a reader of files can point at the cause."""
    found: list[Fault] = [fault for rule in _HOLE_RULES for fault in rule(board)]
    if found:
        return tuple(found)  # the rules on copper take sound holes for granted
    found = [fault for rule in _STRIP_RULES for fault in rule(board)]
    if not any(fault.diagnostic.code in ("strip-hole-unknown", "link-to-nowhere") for fault in found):
        found += _crossings(board)
    found += [fault for rule in _BOARD_RULES for fault in rule(board)]
    return tuple(found)


def _fault(kind: str, subject: str, code: str, message: str, help_text: str = "") -> Fault:
    return Fault(Diagnostic(code, message, help_text), kind, subject)


# --- holes ---------------------------------------------------------------------------------------------------------


def _has_holes(board: Board) -> Iterator[Fault]:
    if not board.holes:
        yield _fault("board", "", "board-without-holes", "the board has no holes", "add blocks, rails or strips")


def _address_resolves(board: Board) -> Iterator[Fault]:
    for address, hole in board.holes.items():
        if hole.address != address:
            yield _fault("hole", address, "address-misleads", f"address {address} leads to hole {hole.address}")


def _address_parses(board: Board) -> Iterator[Fault]:
    for address in board.holes:
        if not ADDRESS.fullmatch(address):
            message = f"address {address!r} is not a letter followed by letters, digits, + or -"
            yield _fault("hole", address, "address-malformed", message, "change the labels or the address template")


def _one_hole_a_place(board: Board) -> Iterator[Fault]:
    at: dict[tuple[int, int], str] = {}
    for address, hole in board.holes.items():
        other = at.setdefault((hole.x, hole.y), address)
        if other != address:
            message = f"holes {other} and {address} are both at grid ({hole.x}, {hole.y})"
            yield _fault("hole", address, "holes-on-one-place", message, "shift one of the blocks")


def _mm_agrees_with_grid(board: Board) -> Iterator[Fault]:
    if not board.holes:
        return
    if abs(board.pitch_mm - PITCH_MM) > 1e-9:
        message = f"the pitch is {board.pitch_mm} mm, only {PITCH_MM} mm is known"
        yield _fault("board", "", "pitch-unknown", message, "boards of another pitch cannot be planned")
        return
    first = next(iter(board.holes.values()))
    x0, y0 = first.x_mm - first.x * PITCH_MM, first.y_mm - first.y * PITCH_MM
    for address, hole in board.holes.items():
        dx, dy = hole.x_mm - hole.x * PITCH_MM - x0, hole.y_mm - hole.y * PITCH_MM - y0
        if not math.hypot(dx, dy) <= TOLERANCE_MM:
            place = f"({x0 + hole.x * PITCH_MM:.2f}, {y0 + hole.y * PITCH_MM:.2f})"
            message = f"hole {address} is at ({hole.x_mm:g}, {hole.y_mm:g}) mm, its grid position says {place} mm"
            yield _fault("hole", address, "hole-off-grid", message)


def _hole_inside_outline(board: Board) -> Iterator[Fault]:
    width, height = board.outline_mm
    for address, hole in board.holes.items():
        r = hole.diameter_mm / 2
        if not 0 < hole.diameter_mm < PITCH_MM:
            message = f"hole {address} is {hole.diameter_mm:g} mm wide, expected more than 0 and less than {PITCH_MM}"
            yield _fault("hole", address, "hole-diameter", message)
        elif not (r <= hole.x_mm <= width - r and r <= hole.y_mm <= height - r):
            message = (
                f"hole {address} at ({hole.x_mm:g}, {hole.y_mm:g}) mm reaches beyond the outline of "
                f"{width:g} x {height:g} mm"
            )
            yield _fault("hole", address, "hole-outside-outline", message, "enlarge outline_mm or change offset_mm")


def _hole_outside_keepouts(board: Board) -> Iterator[Fault]:
    for keepout in board.keepouts:
        for address, hole in board.holes.items():
            if keepout.x0 < hole.x_mm < keepout.x1 and keepout.y0 < hole.y_mm < keepout.y1:
                message = f"hole {address} is inside keep-out {keepout.name}"
                yield _fault("keepout", keepout.name, "hole-in-keepout", message, "shrink it or leave the hole out")
                break


# --- copper --------------------------------------------------------------------------------------------------------


def _strip_holes_exist(board: Board) -> Iterator[Fault]:
    names: set[str] = set()
    owner: dict[str, str] = {}
    for strip in board.strips:
        if strip.name in names:
            yield _fault("strip", strip.name, "strip-name-twice", f"two strips are named {strip.name}")
        names.add(strip.name)
        if strip.name != strip.name.strip() or not strip.name:
            yield _fault("strip", strip.name, "strip-name-blank", f"strip name {strip.name!r} is blank at an end")
        if not strip.holes:
            yield _fault("strip", strip.name, "strip-without-holes", f"strip {strip.name} has no holes")
        for address in strip.holes:
            if address not in board.holes:
                message = f"strip {strip.name} holds {address}, which is no hole of the board"
                yield _fault("strip", strip.name, "strip-hole-unknown", message)
            elif address in owner:
                message = f"hole {address} is in strip {owner[address]} and in strip {strip.name}"
                yield _fault("strip", strip.name, "hole-in-two-strips", message, "copper that meets is one strip")
            owner[address] = strip.name
    for address in board.holes:
        if address not in owner:
            message = f"hole {address} is in no strip"
            yield _fault("hole", address, "hole-without-strip", message, "a lone pad is a strip of one hole")


def _links_join_neighbours(board: Board) -> Iterator[Fault]:
    for strip in board.strips:
        members = set(strip.holes)
        for link in strip.links:
            one, other = link
            stray = next((end for end in link if end not in members), None)
            if stray is not None:
                message = f"strip {strip.name} links hole {stray}, which is none of its holes"
                yield _fault("strip", strip.name, "link-to-nowhere", message)
            elif one not in board.holes or other not in board.holes:
                continue  # said already of the strip
            elif one == other:
                yield _fault("strip", strip.name, "link-to-itself", f"strip {strip.name} links {one} to itself")
            elif link in strip.off_grid:
                continue
            elif not _straight(board, link):
                message = f"strip {strip.name} links {one} to {other}, neither level with it nor above or below"
                yield _fault("strip", strip.name, "link-askew", message, "link the holes on the way, or use joins")
            else:
                across = [board.hole_at[at].address for at in _passed(board, link) if at in board.hole_at]
                if across:
                    message = f"strip {strip.name} links {one} to {other} across hole {across[0]}"
                    yield _fault("strip", strip.name, "link-across-hole", message, "link each hole to the next")
        for link in strip.off_grid:
            if link not in strip.links:
                message = f"strip {strip.name} has copper off the grid from {link[0]} to {link[1]} that is no link"
                yield _fault("strip", strip.name, "off-grid-not-a-link", message)


def _straight(board: Board, link: tuple[str, str]) -> bool:
    one, other = board.holes[link[0]], board.holes[link[1]]
    return one.x == other.x or one.y == other.y


def _passed(board: Board, link: tuple[str, str]) -> Iterator[tuple[int, int]]:
    """Yield the grid positions strictly between the ends of a straight link."""
    one, other = board.holes[link[0]], board.holes[link[1]]
    if one.x == other.x:
        yield from ((one.x, y) for y in range(min(one.y, other.y) + 1, max(one.y, other.y)))
    elif one.y == other.y:
        yield from ((x, one.y) for x in range(min(one.x, other.x) + 1, max(one.x, other.x)))


def _strip_connected(board: Board) -> Iterator[Fault]:
    for strip in board.strips:
        reached = {strip.holes[0]} if strip.holes else set()
        beside: dict[str, list[str]] = {}
        for one, other in strip.links:
            beside.setdefault(one, []).append(other)
            beside.setdefault(other, []).append(one)
        todo = list(reached)
        while todo:
            for near in beside.get(todo.pop(), ()):
                if near not in reached:
                    reached.add(near)
                    todo.append(near)
        loose = [address for address in strip.holes if address not in reached]
        if loose:
            message = f"no copper joins {loose[0]} to {strip.holes[0]}, both of strip {strip.name}"
            yield _fault("strip", strip.name, "strip-in-pieces", message, "add the link, or make two strips of it")


def _cut_strips_are_paths(board: Board) -> Iterator[Fault]:
    for strip in board.strips:
        if _may_cut(strip) and not strip.is_path:
            ordered = along_copper(strip.holes, strip.links) is not None
            reason = "lists its holes in another order than its copper" if ordered else "branches or closes on itself"
            message = f"strip {strip.name} may be cut, but {reason}"
            yield _fault("strip", strip.name, "cut-strip-not-a-path", message, "give it  cut: none")
        if (strip.cut.at_hole and not board.cut.at_hole) or (strip.cut.between and not board.cut.between):
            message = (
                f"strip {strip.name} may be cut {_ways(strip.cut)}, but the board's own rule is: {_ways(board.cut)}"
            )
            yield _fault("strip", strip.name, "cut-beyond-board", message, "allow it under the board's own cut")


def _may_cut(strip: Strip) -> bool:
    return strip.cut.at_hole or strip.cut.between


def _ways(rule: CutRule) -> str:
    ways = [word for word, allowed in (("at a hole", rule.at_hole), ("between holes", rule.between)) if allowed]
    return " and ".join(ways) or "not at all"


def _crossings(board: Board) -> Iterator[Fault]:
    """Copper of two strips on one grid position between holes. Straight links meet nowhere else."""
    passing: dict[tuple[int, int], str] = {}
    for strip in board.strips:
        for link in strip.links:
            if link in strip.off_grid:
                continue
            for at in _passed(board, link):
                if at in board.hole_at:
                    continue  # said already: a link across a hole
                other = passing.setdefault(at, strip.name)
                if other != strip.name:
                    message = f"copper of strips {other} and {strip.name} meets at grid ({at[0]}, {at[1]})"
                    yield _fault("strip", strip.name, "copper-crosses", message, "make one strip of them or move one")


# --- the rest ------------------------------------------------------------------------------------------------------


def _copper_fits_pitch(board: Board) -> Iterator[Fault]:
    copper = board.copper
    if not (copper.width_mm > 0 and copper.gap_mm >= 0 and copper.thickness_um > 0 and copper.side in SIDES):
        yield _fault("copper", "", "copper-malformed", f"copper {copper} needs sizes above 0 and a side of {SIDES}")
    elif not copper.rise_k > 0:
        yield _fault("copper", "", "copper-malformed", f"copper may get {copper.rise_k:g} K warmer; above 0 expected")
    elif copper.width_mm + copper.gap_mm > PITCH_MM + TOLERANCE_MM:
        message = f"a strip {copper.width_mm:g} wide and a gap of {copper.gap_mm:g} exceed the pitch of {PITCH_MM} mm"
        yield _fault("copper", "", "copper-wider-than-pitch", message, "width_mm + gap_mm is at most 2.54")


def _bridges_have_a_place(board: Board) -> Iterator[Fault]:
    if not board.bridges:
        return
    if board.copper.gap_mm > BRIDGE_GAP_MM:
        message = f"bridges are allowed, but the gap of {board.copper.gap_mm:g} mm is too wide for a blob of solder"
        help_text = f"at most {BRIDGE_GAP_MM:g} mm; or leave bridges out"
        yield _fault("bridges", "", "bridge-gap-too-wide", message, help_text)
    owner = {address: strip.name for strip in board.strips for address in strip.holes}
    beside = (
        (hole, board.hole_at.get(at))
        for hole in board.holes.values()
        for at in ((hole.x + 1, hole.y), (hole.x, hole.y + 1))
    )
    if not any(other and owner.get(hole.address) != owner.get(other.address) for hole, other in beside):
        message = "bridges are allowed, but no two strips have holes side by side"
        yield _fault("bridges", "", "bridges-nowhere", message, "leave bridges out")


def _ports_fit(board: Board) -> Iterator[Fault]:
    strips = {strip.name for strip in board.strips}
    width, height = board.outline_mm
    for name, port in board.ports.items():
        if port.name != name or not ADDRESS.fullmatch(name):
            yield _fault("port", name, "port-name", f"port name {name!r} is not a letter followed by letters or digits")
        for pin, strip in port.strips.items():
            if pin not in port.pads:
                yield _fault("port", name, "port-pad-unknown", f"port {name} joins pad {pin}, which it does not have")
            if strip not in strips:
                message = f"pad {pin} of port {name} joins strip {strip}, which the board does not have"
                yield _fault("port", name, "port-strip-unknown", message, "give the name of a strip or rail")
        for pin, (x, y) in port.pads.items():
            if not (0 <= x <= width and 0 <= y <= height):
                message = f"pad {pin} of port {name} at ({x:g}, {y:g}) mm is outside the outline"
                yield _fault("port", name, "port-outside-outline", message, "positions are mm from the top left corner")


def _keepouts_are_rectangles(board: Board) -> Iterator[Fault]:
    for keepout in board.keepouts:
        if not (keepout.x0 < keepout.x1 and keepout.y0 < keepout.y1):
            message = f"keep-out {keepout.name} has no area"
            yield _fault("keepout", keepout.name, "keepout-empty", message, "give [left, top, right, bottom] in mm")


_Rule = Callable[[Board], Iterator[Fault]]
_HOLE_RULES: tuple[_Rule, ...] = (
    _has_holes,
    _address_resolves,
    _address_parses,
    _one_hole_a_place,
    _mm_agrees_with_grid,
    _hole_inside_outline,
    _hole_outside_keepouts,
)
_STRIP_RULES: tuple[_Rule, ...] = (
    _strip_holes_exist,
    _links_join_neighbours,
    _strip_connected,
    _cut_strips_are_paths,
)
_BOARD_RULES: tuple[_Rule, ...] = (_copper_fits_pitch, _bridges_have_a_place, _ports_fit, _keepouts_are_rectangles)
