"""Lists for the bench as CSV (RFC 4180: commas, double quotes, CRLF, a header line), UTF-8.

A spreadsheet takes a cell that begins with ``=``, ``+``, ``-``, ``@``, a tab or a carriage return for a formula; such a
cell gets an apostrophe in front, unless it is a plain number ("CSV Injection", OWASP; from memory).
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence

from placer.guide.codes import spelled
from placer.guide.step import CutPlace, PartGroup, Probe, WirePiece
from placer.guide.wire import SPOOL_MM
from placer.plan.model import Plan

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")


def harmless(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula.

    >>> harmless("=HIVE()"), harmless("-5"), harmless("L+4")
    ("'=HIVE()", '-5', 'L+4')
    """
    if cell.startswith(_FORMULA) and not _NUMBER.fullmatch(cell):
        return "'" + cell
    return cell


def _table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows([harmless(cell) for cell in row] for row in rows)
    return text.getvalue()


def parts_csv(groups: Iterable[PartGroup]) -> str:
    """One row for equal parts, to buy: how many, which, and what is printed on them."""
    header = ("value", "package", "count", "refs", "what", "marking")
    return _table(
        header,
        (
            (group.value, group.package, str(group.count), " ".join(group.refs), group.about, _marking(group))
            for group in groups
        ),
    )


def _marking(group: PartGroup) -> str:
    return group.code or spelled(group.bands)


def placements_csv(plan: Plan) -> str:
    """One row a part: what it is, how it lies, which pin goes into which hole, and what to mind about its polarity."""
    header = ("ref", "package", "value", "mount", "holes", "pin_names", "note")
    return _table(header, (_placement_row(plan, ref) for ref in plan.placements))


def _placement_row(plan: Plan, ref: str) -> tuple[str, ...]:
    placement, part = plan.placements[ref], plan.circuit.part_by_ref[ref]
    package = plan.circuit.packages[placement.package]
    holes = " ".join(f"{pin}={address}" for pin, address in placement.pins.items())
    aliases = {**package.pin_names, **part.pin_names}
    names = " ".join(f"{pin}={alias}" for alias, pin in aliases.items())
    return ref, placement.package, part.value, placement.mount, holes, names, package.polarity


def jumpers_csv(pieces: Iterable[WirePiece]) -> str:
    """One row a jumper, the shortest first, numbered as on the drawing; length from hole to hole in mm.

    ``piece_mm``: what to cut, with the ends; ``sum_mm``: of all pieces of this kind of wire so far, so that the last
    row of a kind has its total. ``note``: why it cannot be bare wire.
    """
    header = ("number", "net", "from", "to", "length_mm", "wire", "note", "piece_mm", "strip_mm", "sum_mm")
    return _table(header, _jumper_rows(pieces))


def _jumper_rows(pieces: Iterable[WirePiece]) -> Iterator[tuple[str, ...]]:
    used: dict[str, float] = {}
    for piece in sorted(pieces, key=lambda piece: (piece.length_mm, piece.number)):
        used[piece.wire] = used.get(piece.wire, 0.0) + piece.piece_mm
        where = (str(piece.number), piece.net, piece.start, piece.end, f"{piece.length_mm:.2f}")
        sizes = (f"{piece.piece_mm:.0f}", f"{piece.strip_mm:.0f}", f"{used[piece.wire]:.0f}")
        yield *where, piece.wire, piece.note, *sizes


def wire_csv(pieces: Iterable[WirePiece]) -> str:
    """The wire to cut, in the order of cutting: spool by spool, the longest piece first, and what is left of each."""
    return _table(("wire", "spool", "order", "jumper", "piece_mm", "left_mm", "spool_mm"), _wire_rows(pieces))


def _wire_rows(pieces: Iterable[WirePiece]) -> Iterator[tuple[str, ...]]:
    left: dict[tuple[str, int], float] = {}
    ordered = sorted(pieces, key=lambda piece: (piece.wire, piece.spool, -piece.piece_mm, piece.number))
    for order, piece in enumerate(ordered, 1):
        spool = piece.wire, piece.spool
        whole = max(SPOOL_MM, piece.piece_mm)  # a piece longer than a spool needs one of its own
        left[spool] = left.get(spool, whole) - piece.piece_mm
        sizes = (f"{piece.piece_mm:.0f}", f"{left[spool]:.0f}", f"{SPOOL_MM:.0f}")
        yield piece.wire, str(piece.spool), str(order), str(piece.number), *sizes


def bridges_csv(plan: Plan) -> str:
    """One row a bridge of solder, numbered in the order of the plan."""
    rows = ((str(i), bridge.net, *bridge.between) for i, bridge in enumerate(plan.bridges, 1))
    return _table(("number", "net", "from", "to"), rows)


def cuts_csv(cuts: Iterable[CutPlace]) -> str:
    """One row a cut, numbered as on the drawing: drilled out at a hole, or by knife between two; the nets it parts."""
    rows = ((str(cut.number), cut.kind, " ".join(cut.holes), *cut.nets) for cut in cuts)
    return _table(("number", "kind", "where", "net", "other_net"), rows)


def tests_csv(probes: Iterable[Probe]) -> str:
    """The test sheet, one row a measurement. Limits in ohm, empty for none."""
    header = (
        *("number", "kind", "from_hole", "from", "to_hole", "to", "expect", "low_ohm", "high_ohm"),
        *("finds", "net", "other_net"),
    )
    return _table(header, (_probe_row(probe) for probe in probes))


def _probe_row(probe: Probe) -> tuple[str, ...]:
    limits = ("" if limit is None else f"{limit:.6g}" for limit in (probe.low_ohm, probe.high_ohm))
    ends = probe.from_hole, probe.from_what, probe.to_hole, probe.to_what
    return str(probe.number), probe.kind, *ends, probe.expect, *limits, probe.finds, probe.net, probe.other
