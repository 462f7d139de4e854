"""How commands print: tables, rows, JSON."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text


def output() -> Console:
    """Return what stands for stdout."""
    return Console(highlight=False)


def errors() -> Console:
    """Return what stands for stderr."""
    return Console(stderr=True, highlight=False)


def print_json(data: Any) -> None:
    """Print one JSON value on stdout."""
    typer.echo(json.dumps(data, indent=2))


def print_rows(rows: Iterable[tuple[str, str]]) -> None:
    """Print label and text side by side; a text of several lines keeps its shape."""
    found = list(rows)
    width = max(len(label) for label, _ in found) + 2
    for label, text in found:
        for number, line in enumerate(text.split("\n")):
            output().print(Text(f"{'' if number else label:<{width}}{line}"), soft_wrap=True)


def print_table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Print a table that fits the terminal; elsewhere each row is one whole line, for other programs to read."""
    console = output()
    found = [tuple(head), *(tuple(row) for row in rows)]
    if console.is_terminal:
        table = Table(*found[0], box=None, pad_edge=False, header_style="bold")
        for row in found[1:]:
            table.add_row(*(Text(cell) for cell in row))
        console.print(table)
        return
    widths = [max(len(row[column]) for row in found) for column in range(len(head))]
    for row in found:
        typer.echo("  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip())
