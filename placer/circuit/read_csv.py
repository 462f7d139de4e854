"""Reading a pin list: a CSV file with a line for each pin, ``part,pin,net[,package,value]``.

The first line names the columns, in any order and in any capitals; columns of other names are left out. Fields are
parted by commas, semicolons or tabs, whichever the first line has, and may stand in double quotes, two of which inside
are one (RFC 4180, from memory). An empty net is an open pin. Package and value of a part need to be said once.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from placer.circuit.names import NameBook
from placer.circuit.problems import Problems
from placer.circuit.raw import OPEN, RawCell, RawElement, RawNetlist
from placer.circuit.source import At, Source

COLUMNS = ("part", "pin", "net", "package", "value")
NEEDED = ("part", "pin", "net")
MAX_FIELD = 100_000
MAX_FIELDS = 64
_LINE_END = re.compile(r"\r\n|\r|\n")
_LINE_ENDS = re.compile(r"[\r\n]+")  # empty lines say nothing
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_HEADS = {
    delimiter: re.compile(rf'[ \t]*(?:"[^"]*(?:""[^"]*)*"|[^"{delimiter}\r\n]*)(?P<delimiter>{delimiter})')
    for delimiter in (",", ";", "\t")
}


@dataclass(frozen=True, slots=True)
class _Field:
    text: str
    start: int
    end: int


@dataclass
class _Part:
    name: str
    at: int
    length: int
    nodes: dict[str, str] = field(default_factory=dict)
    lines: dict[str, int] = field(default_factory=dict)
    package: str = ""
    value: str = ""


class _CannotGoOnError(Exception):
    """The rest of the file cannot be told apart; the reason is recorded."""


def read_csv_rows(path: Path, text: str, problems: Problems) -> RawNetlist | None:
    """Return the netlist that a pin list tells, or None with errors recorded.

    ``text``: the file's content; ``path`` names it in messages, and the circuit.
    """
    return _Reader(path, text, problems).netlist()


class _Reader:
    def __init__(self, path: Path, text: str, problems: Problems) -> None:
        self._name = NameBook.fit(path.stem) or "circuit"
        self._text = text.removeprefix("\ufeff")
        self._source = Source(str(path), self._text)
        self._problems = problems
        self._starts = [0, *(match.end() for match in _LINE_END.finditer(self._text))]
        self._parts: dict[str, _Part] = {}

    def netlist(self) -> RawNetlist | None:
        rows = self._rows(self._delimiter())
        try:
            head = next(rows, None)
            columns = self._columns(head) if head is not None else None
            if head is None:
                message = "the file is empty; a pin list begins with a line such as part,pin,net"
                self._problems.error("csv-empty", message, self._at(0, 1).span(), hint="check that this is the file")
            if columns is None:
                return None
            for row in rows:
                self._row(row, columns)
        except _CannotGoOnError:
            return None
        if not self._parts and not self._problems.any:
            message = "the pin list names no pin"
            self._problems.error("csv-empty", message, self._at(0, 1).span(), hint="list a pin on each line")
        if self._problems.any:
            return None
        elements = tuple(self._element(part) for part in self._parts.values())
        return RawNetlist(self._name, RawCell(self._name, (), elements, self._at(0, 1)))

    # --- lines and fields ------------------------------------------------------------------------------------------

    def _delimiter(self) -> str:
        """Return what parts the fields of the first line that is not empty: the first such sign outside quotes."""
        start = re.compile(r"[\r\n ]*").match(self._text)
        at = start.end() if start else 0
        found = [(m.start("delimiter"), each) for each, head in _HEADS.items() if (m := head.match(self._text, at))]
        return min(found, default=(0, ","))[1]

    def _rows(self, delimiter: str) -> Iterator[list[_Field]]:
        """Yield the fields of each line; empty lines are left out."""
        text = self._text
        control = _CONTROL.search(text)
        if control:
            message = f"control character U+{ord(control.group()):04X} is not allowed in a pin list"
            self._problems.error(
                "csv-control-character", message, self._at(control.start(), 1).span(), hint="remove it"
            )
            raise _CannotGoOnError
        plain = re.compile(rf"[^{delimiter}\r\n]*")
        quoted = re.compile(r'[ ]*"([^"]*(?:""[^"]*)*)"[ ]*')
        at = 0
        row: list[_Field] = []
        while at < len(text):
            match = quoted.match(text, at)
            if match is not None:
                item = _Field(match[1].replace('""', '"').strip(), match.start(), match.end())
            else:
                match = plain.match(text, at)
                end = match.end() if match else at
                item = _Field(text[at:end].strip(), at, end)
                if item.text.startswith('"'):
                    self._fail("csv-open-quote", "this quote is never closed", at + text[at:end].index('"'), 1)
            at = item.end
            if len(item.text) > MAX_FIELD:
                self._fail("csv-too-long", f"a field of more than {MAX_FIELD} characters", item.start, 1)
            row.append(item)
            if len(row) > MAX_FIELDS:
                self._fail("csv-too-long", f"a line of more than {MAX_FIELDS} fields", item.start, 1)
            if at < len(text) and text[at] == delimiter:
                at += 1
                if at == len(text) or text[at] in "\r\n":
                    row.append(_Field("", at, at))
                if at < len(text) and text[at] not in "\r\n":
                    continue
            elif at < len(text) and text[at] not in "\r\n":
                self._fail("csv-after-quote", "something stands between a closing quote and the next field", at, 1)
            end_of_line = _LINE_ENDS.match(text, at)
            at = end_of_line.end() if end_of_line else at
            if any(each.text for each in row):
                yield row
            row = []

    def _fail(self, code: str, message: str, at: int, length: int) -> None:
        hint = "a field with quotes is written whole in quotes, each quote inside doubled"
        self._problems.error(code, message, self._at(at, length).span(), hint=hint)
        raise _CannotGoOnError

    # --- what they mean --------------------------------------------------------------------------------------------

    def _columns(self, head: Sequence[_Field]) -> dict[str, int] | None:
        """Return the place of each column that is known."""
        columns: dict[str, int] = {}
        strange = []
        for index, each in enumerate(head):
            name = each.text.casefold()
            if name in columns:
                message = f"column {each.text} is there twice"
                self._problems.error("csv-column-twice", message, self._of(each).span(), hint="keep one of the two")
            elif name in COLUMNS:
                columns[name] = index
            else:
                strange.append(each)
        missing = [name for name in NEEDED if name not in columns]
        for name in missing:
            near = next((each for each in strange if self._problems.nearest(each.text.casefold(), (name,))), None)
            if near is not None:
                message, at = f"column {near.text!r} is not known, and there is no column {name}", self._of(near)
                hint = f"did you mean {name}?"
            else:
                message, at = f"the first line names no column {name}", self._at(head[0].start, head[-1].end)
                hint = f"the first line names the columns, at least {', '.join(NEEDED)}; also {', '.join(COLUMNS[3:])}"
            self._problems.error("csv-column-missing", message, at.span(), hint=hint)
        if missing:
            return None
        for each in strange:
            near_name = self._problems.nearest(each.text.casefold(), COLUMNS[3:]) if each.text else ""
            if near_name and near_name not in columns:
                message = f"column {each.text!r} is not known, and left out"
                hint = f"did you mean {near_name}?"
                self._problems.warning("csv-column-unknown", message, self._of(each).span(), hint=hint)
        return columns

    def _row(self, row: Sequence[_Field], columns: dict[str, int]) -> None:
        told = {name: row[index] for name, index in columns.items() if index < len(row)}
        for name in NEEDED:
            if name not in told:
                message = f"this line has {len(row)} fields, and none for {name}"
                hint = "an open pin has an empty net: end the line with the delimiter"
                self._problems.error("csv-short-line", message, self._at(row[0].start, row[-1].end).span(), hint=hint)
                return
        for name in ("part", "pin"):
            if not told[name].text:
                message = f"this line names no {name}"
                self._problems.error(f"csv-no-{name}", message, self._at(row[0].start, row[-1].end).span())
                return
        ref, pin, net = (told[name].text for name in NEEDED)
        at = told["part"]
        part = self._parts.setdefault(ref, _Part(ref, at.start, at.end - at.start))
        if pin in part.nodes:
            line = bisect_right(self._starts, part.lines[pin])
            if part.nodes[pin] == net:
                message = f"pin {ref}.{pin} stands already on line {line}"
                self._problems.error("pin-twice", message, self._of(told["pin"]).span(), hint="keep one of the two")
            else:
                other = part.nodes[pin] or "open"
                message = f"pin {ref}.{pin} is {other} already on line {line}; a pin is in one net at most"
                hint = "keep one of the two, or make the two nets one"
                self._problems.error("pin-in-two-nets", message, self._of(told["net"]).span(), hint=hint)
            return
        part.nodes[pin] = net
        part.lines[pin] = at.start
        part.package = self._once(part.package, told.get("package"), ref, "package")
        part.value = self._once(part.value, told.get("value"), ref, "value")

    def _once(self, known: str, told: _Field | None, ref: str, what: str) -> str:
        """Return a part's package or value; the lines of a part may leave it out, but not differ."""
        if told is None or not told.text:
            return known
        if known and told.text != known:
            message = f"part {ref} has the {what} {told.text} here, and {known} on an earlier line"
            self._problems.error(f"csv-{what}-differs", message, self._of(told).span(), hint="write it the same")
        return known or told.text

    def _element(self, part: _Part) -> RawElement:
        nodes = tuple(net or OPEN for net in part.nodes.values())
        at = self._at(part.at, part.at + part.length)
        return RawElement(part.name, "", nodes, at, tuple(part.nodes), value=part.value, package=part.package)

    # --- places ----------------------------------------------------------------------------------------------------

    def _of(self, each: _Field) -> At:
        """The place of a field, without the blanks about it."""
        written = self._text[each.start : each.end]
        lead = len(written) - len(written.lstrip())
        return self._at(each.start + lead, each.end - (len(written.rstrip()) < len(written)))

    def _at(self, start: int, end: int) -> At:
        line = bisect_right(self._starts, start) - 1
        line_end = self._starts[line + 1] if line + 1 < len(self._starts) else len(self._text)
        return At(self._source, line + 1, start - self._starts[line] + 1, max(1, min(end, line_end) - start))
