"""The progress line: what it says, and where it is printed."""

import io
import time

import pytest
from rich.console import Console

from placer.progress import ProgressLine, count, number, progress_text
from placer.solve.api import Progress


@pytest.mark.parametrize(
    ("progress", "text"),
    [
        (None, "c on b: 3 s"),
        (Progress(3, "annealing", None, None, None, 1.0), "c on b: 3 s, annealing, no plan yet, bound 1"),
        (Progress(3, "exact", 3.8, 3, 1, 2.0), "c on b: 3 s, exact, cost 3.8 (3 jumpers, 1 cut), bound 2, gap 1.8"),
    ],
)
def test_the_line_says_cost_bound_and_gap(progress, text):
    assert progress_text("c on b", 3.2, progress) == text


def test_numbers_and_counts():
    assert [number(v) for v in (3.0, 0.8, 12.345, 100.0, 0.0)] == ["3", "0.8", "12.35", "100", "0"]
    assert [count(n, "cut") for n in (0, 1, 2)] == ["0 cuts", "1 cut", "2 cuts"]


def test_plain_lines_come_at_intervals_where_there_is_no_terminal():
    out = io.StringIO()
    with ProgressLine(Console(file=out), plain_seconds=0.02) as line:
        line.begin("c on b")
        line.update(Progress(1, "exact", 1.0, 1, 0, 1.0))
        deadline = time.monotonic() + 5
        while out.getvalue().count("\n") < 2 and time.monotonic() < deadline:
            time.sleep(0.01)
    assert out.getvalue().count("cost 1 (1 jumper, 0 cuts), bound 1, gap 0\n") >= 2


def test_a_terminal_gets_a_live_line():
    out = io.StringIO()
    with ProgressLine(Console(file=out, force_terminal=True, width=100)) as line:
        line.begin("c on b")
        line.update(Progress(1, "exact", 1.0, 1, 0, 1.0))
    assert "c on b" in out.getvalue()


def test_quiet_says_nothing():
    out = io.StringIO()
    with ProgressLine(Console(file=out), quiet=True, plain_seconds=0.01) as line:
        line.begin("c on b")
        line.say("hello")
        time.sleep(0.05)
    assert out.getvalue() == ""
