"""Is there room at all? Counts that no plan can beat: holes, strips, and steps."""

from __future__ import annotations

from placer.boards.model import Board
from placer.circuit.model import Circuit
from placer.errors import Diagnostic
from placer.packages.model import Rigid
from placer.plan.model import Options

TOO_FEW_HOLES = "too-few-holes"


def shortage(circuit: Circuit, board: Board, options: Options) -> tuple[Diagnostic, ...]:
    """Why no plan can exist on this board, by counting alone; empty when counting finds nothing.

    Leads against holes; nets and open pins against strips (a strip that may be severed counts once per hole); each
    rigid part's own extent against the board's.
    """
    found = []
    on_grid = [p for p in circuit.parts if p.place.port is None]  # a port has pads of its own
    leads = sum(len(circuit.packages[p.package].pins) for p in on_grid)
    if leads > len(board.holes):
        found.append(
            Diagnostic(
                TOO_FEW_HOLES,
                f"the parts have {leads} leads; board {board.name} has {len(board.holes)} holes: "
                f"{leads - len(board.holes)} are missing",
                "Choose a larger board.",
            )
        )
    nets = sum(1 for n in circuit.nets if n.pins) + _open_groups(circuit)
    pieces = 0
    for strip in board.strips:
        rule = strip.cut
        length = len(strip.holes)
        if options.allow_cuts and strip.is_path and rule.between:
            pieces += length
        elif options.allow_cuts and strip.is_path and rule.at_hole:
            pieces += (length + 1) // 2
        else:
            pieces += 1
    if nets > pieces:
        found.append(
            Diagnostic(
                "too-few-strips",
                f"{nets} nets and open pins each need copper of their own; board {board.name} has "
                f"{pieces} strips{' even when cut as far as they may be' if pieces > len(board.strips) else ''}: "
                f"{nets - pieces} are missing",
                "Choose a larger board, or one whose strips may be cut.",
            )
        )
    xs, ys = [h.x for h in board.holes.values()], [h.y for h in board.holes.values()]
    wide, high = max(xs) - min(xs), max(ys) - min(ys)
    for part in on_grid:
        form = circuit.packages[part.package].form
        if isinstance(form, Rigid):
            w = max(o[0] for o in form.offsets) - min(o[0] for o in form.offsets)
            h = max(o[1] for o in form.offsets) - min(o[1] for o in form.offsets)
            if not ((w <= wide and h <= high) or (h <= wide and w <= high)):
                found.append(
                    Diagnostic(
                        "part-too-large",
                        f"{part.ref} ({part.package}) spans {w} x {h} steps; the holes of board {board.name} span "
                        f"{wide} x {high}",
                        "Choose a larger board.",
                    )
                )
    return tuple(found)


def _open_groups(circuit: Circuit) -> int:
    """Open pins, a group joined inside a part counted once."""
    count = 0
    for part in circuit.parts:
        if part.place.port is not None:
            continue
        package = circuit.packages[part.package]
        listed = {pin.pin for pin in circuit.net_of if pin.part == part.ref}
        grouped = {p for g in package.joined for p in g}
        count += sum(1 for g in package.joined if not listed.intersection(g))
        count += sum(1 for p in package.pins if p not in grouped and p not in listed)
    return count
