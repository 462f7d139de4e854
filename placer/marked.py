"""Safe YAML loading that remembers where everything stood, so that an error can point at its place.

Scalars come through as the text that was written (``1e3``, ``4k7``, ``012``, ``on`` stay text, whatever an older YAML
would make of them), and keys are always text. A plain empty value, ``~`` or ``null`` is None. A schema then converts
what it wants as a number or a yes/no; :attr:`Document.typed` offers the same tree with plain scalars resolved by YAML
1.2's core schema (https://yaml.org/spec/1.2.2/#103-core-schema) for readers without a schema. JSON is read too, as the
subset of YAML it is.

The tree is built from parser events, never by recursion and never by constructing objects, and its size, depth and
expansion by aliases are bounded while it grows: a hostile file costs no more than reading it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import yaml

from placer.errors import Diagnostic, PlacerError, Span

MAX_BYTES = 8 * 1024 * 1024
MAX_DEPTH = 60
MAX_NODES = 300_000
MAX_NODES_WITH_ALIASES = 200_000
MAX_PROBLEMS = 20

# The C parser is several times faster; both give the same events.
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_CORE_TAGS = tuple(f"tag:yaml.org,2002:{name}" for name in ("str", "int", "float", "bool", "null", "map", "seq"))
# The characters that YAML 1.2.2 (production c-printable) leaves out.
_UNPRINTABLE = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_NULL = re.compile(r"~|null|Null|NULL|")
_BOOL = re.compile(r"true|True|TRUE|false|False|FALSE")
_INT = re.compile(r"[-+]?[0-9]{1,30}")
_OCTAL_HEX = re.compile(r"0o[0-7]{1,30}|0x[0-9a-fA-F]{1,30}")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")

Loc = tuple[str | int, ...]


@dataclass(slots=True)
class _Node:
    """A node of the tree. ``start`` and ``end``: (line, column) from 0. ``size`` counts nodes with aliases expanded."""

    kind: str  # "scalar" | "list" | "dict"
    start: tuple[int, int]
    end: tuple[int, int]
    text: str = ""
    plain: bool = False
    items: list[_Node] = field(default_factory=list)
    entries: dict[str, tuple[_Node, _Node]] = field(default_factory=dict)
    size: int = 1
    depth: int = 1
    key: _Node | None = None  # of a dict under construction: the key that waits for its value


@dataclass(frozen=True)
class Document:
    """A loaded file: its data and the place of each piece of it."""

    file: str
    text: str
    _root: _Node

    @cached_property
    def data(self) -> Any:
        """Dicts, lists and scalars as text; None for a plain empty or null value. Do not change it."""
        return _build(self._root, {}, typed=False)

    @cached_property
    def typed(self) -> Any:
        """As :attr:`data`, with plain scalars turned into int, float or bool by YAML 1.2's core schema."""
        return _build(self._root, {}, typed=True)

    @cached_property
    def _lines(self) -> list[str]:
        return split_lines(self.text)

    def span(self, loc: Loc = (), *, key: bool = False) -> Span:
        """Return the place of the value at ``loc`` (``key=True``: of its key), or of the nearest ancestor there is.

        The step 0 at what is no list stays there: a schema may accept one value where a list is expected.
        """
        node = self._root
        key_node: _Node | None = None
        for step in loc:
            if node.kind == "dict" and str(step) in node.entries:
                key_node, node = node.entries[str(step)]
            elif node.kind == "list" and isinstance(step, int) and 0 <= step < len(node.items):
                key_node, node = None, node.items[step]
            elif step == 0 and node.kind != "list":
                continue
            else:
                # A mapping's own key names it better than the whole of what it holds.
                return self._span_of(node if key_node is None or node.kind == "scalar" else key_node)
        return self._span_of(key_node if key and key_node is not None else node)

    def _span_of(self, node: _Node) -> Span:
        (line, column), (end_line, end_column) = node.start, node.end
        excerpt = self._lines[line] if line < len(self._lines) else ""
        length = end_column - column if end_line == line else len(excerpt.rstrip()) - column
        return Span(self.file, line + 1, column + 1, max(1, length), excerpt)

    def span_within(self, loc: Loc, start: int, length: int) -> Span:
        """Return the place of ``length`` characters from ``start`` of the plain text at ``loc`` (else of all of it)."""
        whole = self.span(loc)
        value = whole.excerpt[whole.column - 1 : whole.column - 1 + whole.length]
        shift = 1 if value[:1] in ("'", '"') else 0
        if start + length + shift > len(value):
            return whole
        return Span(whole.file, whole.line, whole.column + shift + start, max(1, length), whole.excerpt)


def split_lines(text: str) -> list[str]:
    """Split as YAML counts lines: at line feed, carriage return or both, and at nothing else."""
    return re.split(r"\r\n|\r|\n", text)


def read_text(path: Path, *, what: str = "file") -> str:
    """Read a text file, UTF-8 with or without a byte order mark.

    Raises PlacerError when it is missing, a folder, not readable, larger than :data:`MAX_BYTES` or not UTF-8.
    """
    file = str(path)
    raw = read_bytes(path, what=what)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as err:
        # With a byte order mark the codec counts from behind it.
        at = err.start + (3 if raw.startswith(b"\xef\xbb\xbf") else 0)
        before = raw[:at]
        line = before.count(b"\n") + 1
        start = before.rfind(b"\n") + 1
        column = len(before[start:].decode("utf-8", "replace")) + 1
        excerpt = raw[start:].split(b"\n", 1)[0][:500].decode("utf-8", "replace").rstrip("\r")
        raise PlacerError(
            Diagnostic(
                "file-not-utf8",
                f"{file} is not UTF-8 text: byte 0x{raw[at]:02x} at offset {at} cannot be decoded",
                "save the file as UTF-8",
                span=Span(file, line, column, 1, excerpt),
            )
        ) from None


def read_bytes(path: Path, *, what: str = "file", most: int = MAX_BYTES) -> bytes:
    """Read a file. Raises PlacerError when it is missing, a folder, not readable, or larger than ``most`` bytes."""
    file = str(path)
    try:
        with path.open("rb") as stream:
            raw = stream.read(most + 1)
    except FileNotFoundError:
        raise _failure("file-missing", f"{what} {file} does not exist", _nearest_file(path), file) from None
    except IsADirectoryError:
        message = f"{file} is a folder, a {what} is expected"
        raise _failure("file-is-folder", message, "give the path of the file itself", file) from None
    except (OSError, ValueError) as err:
        reason = err.strerror if isinstance(err, OSError) and err.strerror else str(err)
        message = f"{what} {file} cannot be read: {reason}"
        raise _failure("file-unreadable", message, "check the path and its permissions", file) from None
    if len(raw) > most:
        message = f"{file} is larger than {most // 1024 // 1024} MiB, the most that is read"
        raise _failure("file-too-large", message, f"check that this is the {what} you meant", file)
    return raw


def load_marked(path: Path, *, text: str | None = None) -> Document:
    """Load one YAML document (or JSON) with the place of everything in it.

    ``text``: the content, when it is at hand already; ``path`` then only names it in messages.
    Raises PlacerError (bad input) with a span for everything that is wrong with the file as YAML.
    """
    if text is None:
        text = read_text(path)
    elif len(text) > MAX_BYTES:
        raise _failure("file-too-large", f"{path} is larger than {MAX_BYTES} characters", "", str(path))
    return Document(str(path), text, _Composer(str(path), text).compose())


class _Composer:
    """Builds the tree from the parser's events, with every limit checked as it grows."""

    def __init__(self, file: str, text: str) -> None:
        self._file = file
        self._text = text
        self._lines = split_lines(text)
        self._anchors: dict[str, _Node | None] = {}  # None: still under construction
        self._open: list[tuple[_Node, str | None]] = []
        self._root: _Node | None = None
        self._nodes = 0  # with aliases expanded
        self._aliases = False
        self._duplicates: list[Diagnostic] = []

    def compose(self) -> _Node:
        self._refuse_unprintable()
        try:
            for event in yaml.parse(self._text, Loader=_LOADER):
                self._take(event)
        except yaml.MarkedYAMLError as err:
            raise self._syntax(err) from None
        except yaml.YAMLError as err:
            raise PlacerError(
                Diagnostic("yaml-syntax", f"not YAML: {err}", span=Span(self._file, 1, 1, 1, self._lines[0]))
            ) from None
        if self._duplicates:
            raise PlacerError(*self._duplicates[:MAX_PROBLEMS])
        return self._root or _Node("scalar", (0, 0), (0, 0), plain=True)

    def _take(self, event: yaml.Event) -> None:
        if isinstance(event, yaml.DocumentStartEvent) and self._root is not None:
            start = _mark(event.start_mark)
            self._fail("yaml-second-document", "a second document begins here", "keep one document", start)
        elif isinstance(event, yaml.AliasEvent):
            self._alias(event)
        elif isinstance(event, yaml.NodeEvent):
            self._node(event)
        elif isinstance(event, yaml.CollectionEndEvent):
            node, anchor = self._open.pop()
            node.end = _mark(event.end_mark)
            if anchor is not None:
                self._anchors[anchor] = node
            self._attach(node)

    def _node(self, event: Any) -> None:
        start, end = _mark(event.start_mark), _mark(event.end_mark)
        if event.tag is not None and event.tag not in (*_CORE_TAGS, "!"):
            self._fail("yaml-tag", f"tag {event.tag} is not known here", "remove the tag", start)
        anchor = event.anchor
        if isinstance(event, yaml.ScalarEvent):
            node = _Node("scalar", start, end, event.value, plain=not event.style and event.tag is None)
            if anchor is not None:
                self._anchors[anchor] = node
            self._count(1, start)
            self._attach(node)
            return
        if len(self._open) >= MAX_DEPTH:
            self._too_deep(start)
        self._count(1, start)
        if anchor is not None:
            self._anchors[anchor] = None
        self._open.append((_Node("dict" if isinstance(event, yaml.MappingStartEvent) else "list", start, end), anchor))

    def _alias(self, event: yaml.AliasEvent) -> None:
        start = _mark(event.start_mark)
        name = str(event.anchor)
        if name not in self._anchors:
            self._fail("yaml-unknown-alias", f"alias *{name} has no anchor &{name} before it", "", start)
        target = self._anchors[name]
        if target is None:
            self._fail("yaml-alias-loop", f"alias *{name} stands inside what it names", "write the value out", start)
            return
        self._aliases = True
        if len(self._open) + target.depth > MAX_DEPTH:
            self._too_deep(start)
        self._count(target.size, start)
        self._attach(target)

    def _count(self, nodes: int, start: tuple[int, int]) -> None:
        self._nodes += nodes
        limit = MAX_NODES_WITH_ALIASES if self._aliases else MAX_NODES
        if self._nodes > limit:
            what = "with its aliases written out the file" if self._aliases else "the file"
            self._fail("yaml-too-many-values", f"{what} has more than {limit} values", "shorten the file", start)

    def _attach(self, node: _Node) -> None:
        if not self._open:
            self._root = node
            return
        parent = self._open[-1][0]
        if parent.kind == "list":
            parent.items.append(node)
        elif parent.key is None:
            if node.kind != "scalar":
                message = f"a {node.kind} stands where a key is expected; keys are plain text"
                self._fail("yaml-key-not-text", message, "quote the key if it holds brackets or braces", node.start)
            parent.key = node
        else:
            self._enter(parent, parent.key, node)
            parent.key = None
        parent.size += node.size
        parent.depth = max(parent.depth, node.depth + 1)

    def _enter(self, parent: _Node, key: _Node, node: _Node) -> None:
        first = parent.entries.get(key.text)
        if first is None:
            parent.entries[key.text] = (key, node)
            return
        self._duplicates.append(
            Diagnostic(
                "yaml-duplicate-key",
                f"key {key.text!r} on line {key.start[0] + 1} stands already on line {first[0].start[0] + 1}",
                "keep one of the two, or rename one",
                span=self._span(key.start, key.end),
            )
        )

    def _refuse_unprintable(self) -> None:
        found = _UNPRINTABLE.search(self._text)
        if found:
            before = split_lines(self._text[: found.start()])
            message = f"control character U+{ord(found.group()):04X} is not allowed in YAML"
            self._fail("yaml-control-character", message, "remove it", (len(before) - 1, len(before[-1])))

    def _syntax(self, err: yaml.MarkedYAMLError) -> PlacerError:
        mark = err.problem_mark or err.context_mark
        if err.context_mark is not None and mark is not None and not self._line(mark.line).strip():
            mark = err.context_mark  # the file ends inside something: its beginning says more than the empty end
        line, column = _mark(mark) if mark is not None else (0, 0)
        excerpt = self._line(line)
        indent = excerpt[: len(excerpt) - len(excerpt.lstrip())]
        problem = str(err.problem or err.context or "unreadable")
        if "nesting depth" in problem:  # the parser's own limit, on the way to the event that would break ours
            return PlacerError(_deep(self._span((line, column), (line, column))))
        span = Span(self._file, line + 1, column + 1, 1, excerpt)
        if "\t" in indent or excerpt[column : column + 1] == "\t":
            at = indent.find("\t") if "\t" in indent else column
            span = Span(self._file, line + 1, at + 1, 1, excerpt)
            return PlacerError(
                Diagnostic("yaml-tab", "a tab stands where YAML wants spaces", "indent with spaces only", span=span)
            )
        context = f" ({err.context} on line {err.context_mark.line + 1})" if err.context and err.context_mark else ""
        help_text = "check colons, indentation, quotes and brackets on this line and the one before"
        return PlacerError(Diagnostic("yaml-syntax", f"not YAML: {problem}{context}", help_text, span=span))

    def _too_deep(self, start: tuple[int, int]) -> None:
        raise PlacerError(_deep(self._span(start, start)))

    def _fail(self, code: str, message: str, help_text: str, at: tuple[int, int]) -> None:
        raise PlacerError(Diagnostic(code, message, help_text, span=self._span(at, at)))

    def _span(self, start: tuple[int, int], end: tuple[int, int]) -> Span:
        length = end[1] - start[1] if end[0] == start[0] else 1
        return Span(self._file, start[0] + 1, start[1] + 1, max(1, length), self._line(start[0]))

    def _line(self, number: int) -> str:
        return self._lines[number] if number < len(self._lines) else ""


def _deep(span: Span) -> Diagnostic:
    message = f"values are nested more than {MAX_DEPTH} deep"
    return Diagnostic("yaml-too-deep", message, "nothing that is meant here nests so deep", span=span)


def _mark(mark: Any) -> tuple[int, int]:
    return (int(mark.line), int(mark.column))


def _build(node: _Node, done: dict[int, Any], *, typed: bool) -> Any:
    """Turn a node into plain data (depth is bounded by MAX_DEPTH). Aliases share what they name."""
    if node.kind == "scalar":
        return _scalar(node, typed=typed)
    if id(node) not in done:
        if node.kind == "list":
            done[id(node)] = [_build(item, done, typed=typed) for item in node.items]
        else:
            done[id(node)] = {name: _build(item, done, typed=typed) for name, (_, item) in node.entries.items()}
    return done[id(node)]


def _scalar(node: _Node, *, typed: bool) -> Any:
    text = node.text
    if not node.plain:
        return text
    if _NULL.fullmatch(text):
        return None
    if not typed:
        return text
    if _BOOL.fullmatch(text):
        return text.lower() == "true"
    if _INT.fullmatch(text):
        return int(text)
    if _OCTAL_HEX.fullmatch(text):
        return int(text, 0)
    if _FLOAT.fullmatch(text):
        return float(text)
    if text.lower().lstrip("+-") == ".inf":
        return float("-inf") if text.startswith("-") else float("inf")
    return float("nan") if text in (".nan", ".NaN", ".NAN") else text


def _nearest_file(path: Path) -> str:
    """Say what would be nearest to a missing file."""
    import difflib  # rarely needed

    try:
        there = sorted(p.name for p in path.parent.iterdir())[:2000] if path.parent.is_dir() else None
    except OSError:
        there = []
    if there is None:
        return f"the folder {path.parent} does not exist"
    near = difflib.get_close_matches(path.name, there, 1)
    return f"did you mean {path.parent / near[0]}?" if near else "check the path"


def _failure(code: str, message: str, help_text: str, file: str) -> PlacerError:
    return PlacerError(Diagnostic(code, message, help_text, span=Span(file)))
