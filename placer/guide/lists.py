"""Lists for the bench as CSV (RFC 4180: commas, double quotes, CRLF, a header line), UTF-8.

A spreadsheet takes a cell that begins with ``=``, ``+``, ``-``, ``@``, a tab or a carriage return for a formula; such a
cell gets an apostrophe in front, unless it is a plain number ("CSV Injection", OWASP; from memory).
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

from placer.plan.links import links
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


def parts_csv(plan: Plan) -> str:
    """One row a part: what it is, how it lies, which pin goes into which hole, and what to mind about its polarity."""
    header = ("ref", "package", "value", "mount", "holes", "pin_names", "note")
    return _table(header, (_part_row(plan, ref) for ref in plan.placements))


def _part_row(plan: Plan, ref: str) -> tuple[str, ...]:
    placement, part = plan.placements[ref], plan.circuit.part_by_ref[ref]
    package = plan.circuit.packages[placement.package]
    holes = " ".join(f"{pin}={address}" for pin, address in placement.pins.items())
    aliases = {**package.pin_names, **part.pin_names}
    names = " ".join(f"{pin}={alias}" for alias, pin in aliases.items())
    return ref, placement.package, part.value, placement.mount, holes, names, package.polarity


def jumpers_csv(plan: Plan) -> str:
    """One row a jumper, numbered as on the drawing; length from hole to hole in mm; why it cannot be bare wire."""
    rows = (
        (str(i), jumper.net, jumper.start, jumper.end, f"{jumper.length_mm:.2f}", link.wire, link.reason)
        for i, (jumper, link) in enumerate(zip(plan.jumpers, links(plan), strict=True), 1)
    )
    return _table(("number", "net", "from", "to", "length_mm", "wire", "note"), rows)


def bridges_csv(plan: Plan) -> str:
    """One row a bridge of solder, numbered in the order of the plan."""
    rows = ((str(i), bridge.net, *bridge.between) for i, bridge in enumerate(plan.bridges, 1))
    return _table(("number", "net", "from", "to"), rows)


def cuts_csv(plan: Plan) -> str:
    """One row a cut, numbered as on the drawing: drilled out at a hole, or by knife between two."""
    rows = (
        (str(i), "drill", cut.at) if cut.at else (str(i), "knife", " ".join(cut.between or ()))
        for i, cut in enumerate(plan.cuts, 1)
    )
    return _table(("number", "kind", "where"), rows)
