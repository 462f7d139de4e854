"""EDIF files of other programs: our nets are those of an independent reader, spydrnet 1.12.0 (BSD-3-Clause).

Its wheel brings the files (``spydrnet/support_files/EDIF_netlists``); they are read from there and not copied.
"""

from __future__ import annotations

import zipfile
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from placer.circuit.edif import read_edif
from placer.circuit.edif.design import read_netlist
from placer.circuit.edif.forms import Text, parse_forms
from placer.circuit.problems import Problems
from placer.circuit.source import Source
from tests.outside import missing

HOW_MANY = 32


def folder() -> Path | None:
    try:
        import spydrnet
    except ImportError:
        return None
    return Path(spydrnet.__file__).parent / "support_files" / "EDIF_netlists"


FOLDER = folder()
FILES = sorted(FOLDER.glob("*.zip")) if FOLDER is not None else []
Pins = frozenset[tuple[str | None, str, int]]


def text_of(path: Path) -> str:
    with zipfile.ZipFile(path) as archive:
        return archive.read(archive.namelist()[0]).decode()


def identifier(thing: Any) -> str:
    # Its elements are no mappings: there is no get.
    named = "EDIF.identifier" in thing
    return str(thing["EDIF.identifier"] if named else thing.name).lower()


def theirs(path: Path) -> dict[tuple[str, str], tuple[Counter[Pins], int]]:
    """The nets (those that join anything) and the number of instances of every cell, as spydrnet reads them."""
    import spydrnet

    found = {}
    for library in spydrnet.parse(str(path)).libraries:
        for cell in library.definitions:
            nets: Counter[Pins] = Counter()
            for wire in (wire for cable in cell.cables for wire in cable.wires if wire.pins):
                pins = []
                for pin in wire.pins:
                    outer = isinstance(pin, spydrnet.OuterPin)
                    inner = pin.inner_pin if outer else pin
                    bit = inner.port.pins.index(inner)
                    pins.append((identifier(pin.instance) if outer else None, identifier(inner.port), bit))
                nets[frozenset(pins)] += 1
            found[identifier(library), identifier(cell)] = nets, len(cell.children)
    return found


def ours(text: str) -> dict[tuple[str, str], tuple[Counter[Pins], int]]:
    place = Text(Source("file", text))
    netlist = read_netlist(parse_forms(place), place, Problems())
    assert netlist is not None
    found = {}
    for library_key, library in netlist.libraries.items():
        for cell_key, cell in library.cells.items():
            nets: Counter[Pins] = Counter()
            for net in (net for view in cell.views.values() for net in view.nets if net.pins):
                nets[frozenset((p.instance[0] if p.instance else None, p.port, p.bit) for p in net.pins)] += 1
            found[library_key, cell_key] = nets, sum(len(view.instances) for view in cell.views.values())
    return found


def test_the_files_are_there() -> None:
    if FOLDER is None:
        missing("spydrnet is not installed (it is in the extra test)")
    assert len(FILES) == HOW_MANY


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name.split(".")[0])
def test_nets_and_instances_are_those_that_the_other_reader_finds(path: Path) -> None:
    assert ours(text_of(path)) == theirs(path)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name.split(".")[0])
def test_the_file_becomes_a_netlist_without_an_error(path: Path) -> None:
    problems = Problems()
    raw = read_edif(path, text_of(path), problems)
    assert {warning.code for warning in problems.finish()} <= {"edif-top-ports"}
    assert all(len(e.nodes) == len(e.ports) for e in raw.top.elements)
