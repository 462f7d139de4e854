"""Netlists from outside are read whole or refused with a reason and a place; none ends in a traceback."""

from __future__ import annotations

from pathlib import Path

import pytest

from placer.circuit.problems import Problems
from placer.circuit.raw import RawCell
from placer.circuit.read import read_circuit_file, read_raw
from placer.errors import Exit, PlacerError
from placer.report import diagnostic_text
from tests.bench.fuzz import keep
from tests.truth.outside_netlists import count, gnucap, includes, pyspice

pytestmark = pytest.mark.outside

COLLECTIONS = {"gnucap": (gnucap, 460, 140), "pyspice": (pyspice, 15, 8)}
"""How to get each, how many files it has, and how many of them at least hold only what can be built."""


def elements(cell: RawCell) -> int:
    return len(cell.elements) + sum(map(elements, cell.cells.values()))


def told(path: Path) -> str:
    """ "read", or why not: every reason must have a code, words, a file and a line."""
    refusal = None
    try:
        keep(read_circuit_file(path)[0])
    except PlacerError as err:
        refusal = err
    if refusal is None:
        return "read"
    assert refusal.exit_code == Exit.BAD_INPUT
    for diagnostic in refusal.diagnostics:
        assert diagnostic_text(diagnostic).plain
        if diagnostic.code != "more-problems":
            assert diagnostic.span is not None
            assert (diagnostic.span.file, diagnostic.span.line > 0) == (str(path), True)
    return refusal.diagnostics[0].code


@pytest.mark.parametrize("name", COLLECTIONS)
def test_every_file_is_read_or_refused_with_a_place(name: str) -> None:
    files, total, buildable = COLLECTIONS[name]
    results = [told(path) for path in files()]
    assert len(results) >= total
    assert results.count("read") >= buildable


@pytest.mark.parametrize("name", COLLECTIONS)
def test_as_many_elements_are_read_as_an_independent_count_finds(name: str) -> None:
    compared = 0
    for path in COLLECTIONS[name][0]():
        text = path.read_text(encoding="latin-1")
        problems = Problems()
        raw = read_raw(path, problems)
        if problems.any or raw is None or includes(text):
            continue
        # A file of nothing but one subcircuit is taken for that circuit, its elements then stand twice.
        found = elements(raw.top) if not raw.top.name else count(text)
        assert found == count(text), path.name
        compared += 1
    assert compared >= COLLECTIONS[name][2]
