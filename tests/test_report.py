"""Diagnostics as text (golden) and as data."""

import io
import json

import pytest
from rich.console import Console

from placer.errors import Diagnostic, Span
from placer.report import EXCERPT_CELLS, diagnostics_to_data, print_diagnostics


def printed(*diagnostics: Diagnostic) -> str:
    out = io.StringIO()
    print_diagnostics(diagnostics, Console(file=out, width=60))
    return out.getvalue()


def caret_marks(text: str) -> str:
    """What of the excerpt stands above the carets."""
    line, caret = text.splitlines()[1:3]
    return line[caret.index("^") : caret.rindex("^") + 1]


def test_text_shows_place_excerpt_caret_and_help():
    span = Span("hive.yaml", 4, 17, 9, "  R1: {package: axial-207}")
    assert printed(
        Diagnostic("unknown-package", "package 'axial-207' is not known", "did you mean axial-0207?", span=span)
    ) == (
        "hive.yaml:4:17: error: package 'axial-207' is not known [unknown-package]\n"
        "    R1: {package: axial-207}\n"
        "                  ^^^^^^^^^\n"
        "  help: did you mean axial-0207?\n"
    )


def test_text_without_a_line_or_without_a_place():
    assert printed(Diagnostic("a", "b", severity="warning")) == "warning: b [a]\n"
    assert printed(Diagnostic("a", "b", span=Span("f.yaml"))) == "f.yaml: error: b [a]\n"


def test_a_long_line_is_cut_around_the_place():
    line = "start " + "x" * 5000 + " HERE " + "y" * 5000
    text = printed(Diagnostic("a", "b", span=Span("f", 1, line.index("HERE") + 1, 4, line)))
    assert caret_marks(text) == "HERE"
    assert len(text.splitlines()[1]) <= EXCERPT_CELLS + 12


def test_a_place_longer_than_the_window_is_marked_within_it():
    text = printed(Diagnostic("a", "b", span=Span("f", 1, 1, 9000, "z" * 9000)))
    assert all(len(line) <= EXCERPT_CELLS + 12 for line in text.splitlines())


@pytest.mark.parametrize(("column", "length"), [(1, 1), (500, 9), (4, 0), (0, 0)])
def test_a_place_outside_its_line_does_no_harm(column, length):
    assert "^" in printed(Diagnostic("a", "b", span=Span("f", 1, column, length, "abc")))


def test_carets_stand_under_wide_characters():
    line = "名前: ABC"
    caret = printed(Diagnostic("a", "b", span=Span("f", 1, 5, 3, line))).splitlines()[2]
    assert caret == "    " + " " * 6 + "^^^"  # each of the two wide characters takes two cells


def test_nothing_in_a_message_steers_the_terminal_or_the_markup():
    text = printed(Diagnostic("a", "[red]\x1b[31m\u202e :bee:", "\x9b1m", span=Span("f\x1b", 1, 1, 1, "\x1b]0;x\x07")))
    assert "[red]" in text
    assert ":bee:" in text
    assert not set("\x1b\x9b\x07\u202e") & set(text)


def test_data_can_be_written_as_json():
    full = Diagnostic("a", "b", "c", "warning", Span("f", 1, 2, 3, "excerpt"))
    data = diagnostics_to_data([full, Diagnostic("d", "e"), Diagnostic("g", "h", span=Span("f"))])
    assert json.loads(json.dumps(data)) == [
        {
            "severity": "warning",
            "code": "a",
            "message": "b",
            "help": "c",
            "file": "f",
            "line": 1,
            "column": 2,
            "length": 3,
        },
        {"severity": "error", "code": "d", "message": "e"},
        {"severity": "error", "code": "g", "message": "h", "file": "f"},
    ]
