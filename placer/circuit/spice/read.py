"""Reading a SPICE netlist: cards sorted into cells first, elements made of them when every model is known."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from placer.circuit.names import NameBook
from placer.circuit.problems import Problems
from placer.circuit.raw import RawCell, RawElement, RawNetlist
from placer.circuit.source import At, Source
from placer.circuit.spice.cards import Card, Files
from placer.circuit.spice.elements import element_of
from placer.circuit.spice.roles import supplies
from placer.circuit.spice.tokens import at_token, split_settings, tokens_of

MAX_NESTING = 40
LONGEST_CARD = 1_000_000
GROUND = frozenset({"0", "gnd"})

# Commands that say how to simulate, or how to print: nothing of them is built. From the manuals' lists of commands.
_QUIET_WORDS = (
    ".ac .alarm .backanno .clear .csparam .dc .disto .end .eval .exp .fanout .four .fourier .func .gen .generator .get "
    ".help .hb .ic .else .endif .list .measure .meas .net .nodeset .noise .op .option .options .opt .plot "
    ".print .probe .protect .unprotect .pss .pz .save .sens .sp .stat .status .step .store .temp .tf .title .tr .tran "
    ".unfault .vsource .isource .wave .width .echo .load .log .ends .eom .endc .control .data .enddata .verilog "
    ".distribution .dout .stimulus .savebias .loadbias .mc .wcase .tcap .vcg .vcr .vccap .ccr .cccs"
)
_QUIET = frozenset(_QUIET_WORDS.split())
# Commands that change what the circuit is.
_CHANGING = frozenset({".alter", ".connect", ".delete", ".del_lib", ".fault", ".merge", ".modify", ".if", ".elseif"})


@dataclass
class _Cell:
    """A cell while it is read."""

    name: str
    ports: tuple[str, ...]
    at: At
    outer: _Cell | None = None
    params: dict[str, str] = field(default_factory=dict)
    models: dict[str, str] = field(default_factory=dict)
    cells: dict[str, _Cell] = field(default_factory=dict)
    cards: list[Card] = field(default_factory=list)

    def knows_model(self, name: str) -> bool:
        """Tell whether a model of this name is defined here or around here."""
        key, here = name.lower(), self
        while key not in here.models:
            if here.outer is None:
                return False
            here = here.outer
        return True

    def knows_cell(self, name: str) -> bool:
        """Tell whether a subcircuit of this name is defined here or around here."""
        key, here = name.lower(), self
        while key not in here.cells:
            if here.outer is None:
                return False
            here = here.outer
        return True


def read_spice(path: Path, source: Source, problems: Problems, *, allow_outside: bool = False) -> RawNetlist | None:
    """Read a netlist; what is wrong in it is recorded, and the rest is read all the same.

    ``path`` and ``source``: the file and what it holds; included files are looked for beside it.
    """
    reader = _Reader(source, problems)
    for card in Files(path, problems, allow_outside=allow_outside).cards(path, source, first=1):
        reader.take(card)
    return reader.netlist(path)


class _Reader:
    def __init__(self, source: Source, problems: Problems) -> None:
        self._problems = problems
        self._source = source
        self._top = _Cell("", (), At(source, 1))
        self._here = self._top
        self._too_deep = 0
        self._common: set[str] = set()
        self._title = _title(source.lines[0])
        self._warned: set[str] = set()
        self._warn_of_title(source)

    def take(self, card: Card) -> None:
        """Put a card where it belongs."""
        if sum(len(text) for _, _, text in card.pieces) > LONGEST_CARD:
            message = f"one line with its continuations is longer than {LONGEST_CARD} characters, the most that is read"
            line, column, _ = card.pieces[0]
            at = At(card.source, line, column + 1)
            self._problems.error("card-too-long", message, at.span(), hint="check that this is a netlist")
            return
        word = card.word
        if not word.startswith("."):
            if not self._too_deep:
                self._here.cards.append(card)
        elif word in (".subckt", ".macro"):
            self._begin(card)
        elif word in (".ends", ".eom"):
            self._end(card)
        elif word == ".model":
            self._model(card)
        elif word in (".param", ".params", ".parameter", ".parameters"):
            _, settings = split_settings(tokens_of(card)[1:])
            self._here.params.update(settings)
        elif word == ".global":
            self._common.update(token.text.lower() for token in tokens_of(card)[1:])
        elif word == ".title":
            self._title = _title(card.text.strip()[len(word) :]) or self._title
        else:
            self._command(card)

    def netlist(self, path: Path) -> RawNetlist | None:
        """Return what was read."""
        here = self._here
        while here.outer is not None:
            message = f"subcircuit {here.name} has no end"
            self._problems.error("subcircuit-open", message, here.at.span(), hint="end it with .ends")
            here = here.outer
        top = self._finished(self._top)
        if not top.elements:
            top = self._only_cell(top)
        return RawNetlist(
            NameBook.fit(path.stem) or "netlist",
            top,
            fold=True,
            common=frozenset(self._common) | GROUND,
            ground=GROUND,
            facts=supplies(top, GROUND),
            figures=True,
            about=self._title,
        )

    # --- cards that begin with a dot -------------------------------------------------------------------------------

    def _begin(self, card: Card) -> None:
        words, settings = split_settings(tokens_of(card)[1:])
        if self._too_deep or self._depth() >= MAX_NESTING:
            if not self._too_deep:
                message = f"subcircuits are defined more than {MAX_NESTING} deep in each other"
                self._problems.error("nested-too-deep", message, card.at.span(), hint="define them side by side")
            self._too_deep += 1
            return
        if not words:
            message = f"{card.word} names no subcircuit"
            self._problems.error("subcircuit-without-name", message, card.at.span(), hint="such as .subckt NAME a b c")
        name = words[0].text if words else "?"
        at = at_token(card, words[0]) if words else card.at
        cell = _Cell(name, tuple(word.text for word in words[1:]), at, self._here, dict(settings))
        times = Counter(port.lower() for port in cell.ports)
        twice = next((port for port, count in times.items() if count > 1), None)
        if twice is not None:
            message = f"subcircuit {name} has the port {twice} twice"
            self._problems.error("port-twice", message, at.span(), hint="each port needs a name of its own")
        first = self._here.cells.get(name.lower())
        if first is not None:
            message = f"subcircuit {name} is defined already on line {first.at.line} of {first.at.source.file}"
            self._problems.error("name-twice", message, at.span(), hint="take one of the two out")
        self._here.cells[name.lower()] = cell
        self._here = cell

    def _end(self, card: Card) -> None:
        if self._too_deep:
            self._too_deep -= 1
            return
        words = tokens_of(card)[1:]
        if self._here.outer is None:
            message = f"{card.word} ends nothing: no subcircuit is open here"
            self._problems.error("end-of-nothing", message, card.at.span(), hint="take it out, or add the .subckt line")
            return
        if words and words[0].text.lower() != self._here.name.lower():
            message = f"{card.word} {words[0].text} ends subcircuit {self._here.name}, which is the one that is open"
            self._problems.warning("end-of-another", message, at_token(card, words[0]).span(), hint="check the names")
        self._here = self._here.outer

    def _model(self, card: Card) -> None:
        words = tokens_of(card)[1:3]
        if not words:
            self._problems.warning("model-without-name", ".model names no model", card.at.span())
            return
        kind = words[1].text.lower() if len(words) > 1 else ""
        self._here.models[words[0].text.lower()] = kind if kind.isalnum() else ""

    def _command(self, card: Card) -> None:
        word = card.word
        if word in _CHANGING:
            message = f"{word} changes the circuit, which is not followed here"
            hint = "write the netlist as it is to be built"
            if word in (".if", ".elseif", ".connect", ".alter"):
                self._problems.error("command-changes-circuit", message, card.at.span(), hint=hint)
            elif word not in self._warned:
                self._problems.warning("command-changes-circuit", message, card.at.span(), hint=hint)
        elif word not in _QUIET and word not in self._warned:
            message = f"{word} is not known here, and is passed over"
            self._problems.warning("command-unknown", message, card.at.span(), hint="check that it changes no part")
        self._warned.add(word)

    def _depth(self) -> int:
        depth, here = 0, self._here
        while here.outer is not None:
            depth, here = depth + 1, here.outer
        return depth

    # --- elements --------------------------------------------------------------------------------------------------

    def _finished(self, cell: _Cell) -> RawCell:
        elements: list[RawElement] = []
        seen: dict[str, RawElement] = {}
        for card in cell.cards:
            if not re.match(r"\s*[A-Za-z]", card.pieces[0][2]):
                message = f"{card.text.strip()[:20]!r} is neither an element nor a command"
                hint = "an element begins with a letter, a command with a full stop, a comment with *"
                self._problems.error("card-unknown", message, card.at.span(), hint=hint)
                continue
            element = element_of(card, cell.knows_model, cell.knows_cell, self._problems)
            if element is None:
                continue
            first = seen.setdefault(element.name.lower(), element)
            if first is not element:
                where = f" of {first.at.source.file}" if first.at.source is not element.at.source else ""
                message = f"{element.name} is there already on line {first.at.line}{where}; capitals do not count"
                self._problems.error("name-twice", message, element.at.span(), hint="rename or remove one of the two")
                continue
            elements.append(element)
        return RawCell(
            cell.name,
            cell.ports,
            tuple(elements),
            cell.at,
            {key: self._finished(inner) for key, inner in cell.cells.items()},
            cell.models,
            cell.params,
        )

    def _only_cell(self, top: RawCell) -> RawCell:
        """Return the one subcircuit that nothing calls where the file holds subcircuits only, else the top as it is."""
        called = {element.model.lower() for cell in top.cells.values() for element in cell.elements}
        left = [cell for key, cell in top.cells.items() if key not in called]
        if len(left) != 1:
            return top
        cell = left[0]
        message = f"the netlist holds no element outside subcircuits: subcircuit {cell.name} is taken for the circuit"
        self._problems.warning(
            "subcircuit-is-circuit", message, cell.at.span(), hint="add an X line if another one is meant"
        )
        return RawCell(
            cell.name,
            (),
            cell.elements,
            cell.at,
            {**top.cells, **cell.cells},
            {**top.models, **cell.models},
            {**top.params, **cell.params},
        )

    def _warn_of_title(self, source: Source) -> None:
        line = source.lines[0]
        element = re.match(r"\s*([RCLVIDQXM]\d+)\s+\S+\s+\S+\s+\S", line, re.IGNORECASE)
        command = re.match(r"\s*\.(subckt|macro|include|inc|lib|model|param|global)\b", line, re.IGNORECASE)
        found = element or command
        if found:
            message = "line 1 of a SPICE netlist is its title, whatever it looks like: this line is not read"
            hint = "put a title line above it"
            at = At(source, 1, found.start() + 1, len(found.group().strip()))
            self._problems.warning("title-looks-like-card", message, at.span(), hint=hint)


def _title(line: str) -> str:
    """Return the title as one clean line."""
    text = line.strip()
    if text[:6].lower() == ".title":
        text = text[6:]
    return NameBook.fit(text.strip().lstrip("*'#").strip(), 200)
