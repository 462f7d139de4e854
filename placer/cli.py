"""The commands: read, call, print. No logic of their own; each loads what it needs, for the search is slow to load."""

from __future__ import annotations

import functools
import json
import os
import sys
import traceback
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Annotated, Any, Optional

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from placer import __version__
from placer.errors import Diagnostic, Exit, PlacerError
from placer.report import diagnostics_to_data, print_diagnostics

INTERNAL_ERROR = 70  # EX_SOFTWARE of sysexits.h
BROKEN_PIPE = 141  # what a shell reports of a program that SIGPIPE ended

app = typer.Typer(
    name="placer",
    help="Places a circuit on a pre-bussed soldering board with the fewest jumpers and cuts, proves it and checks it.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _command(run: Callable[..., Exit]) -> Callable[..., None]:
    """Turn the exit code that a command returns into the end of the program."""

    @functools.wraps(run)
    def wrapped(*args: Any, **kwargs: Any) -> None:
        try:
            code = run(*args, **kwargs)
        except KeyboardInterrupt:
            _errors().print("interrupted")
            code = Exit.INTERRUPTED
        except PlacerError as err:
            if kwargs.get("as_json"):
                _print_json({"errors": diagnostics_to_data(err.diagnostics)})
            print_diagnostics(err.diagnostics, _errors())
            code = err.exit_code
        raise typer.Exit(int(code))

    return wrapped


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"placer {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    _show_version: Annotated[
        bool, typer.Option("--version", help="Print the version and stop.", callback=_version, is_eager=True)
    ] = False,
) -> None:
    """Take the options that stand before the command."""


Crop = Annotated[bool, typer.Option("--crop", help="Say and draw where to saw the board down to what is used.")]
Margin = Annotated[
    Optional[float],  # noqa: UP045 - evaluated at run time, on any Python that typer knows
    typer.Option(min=0, max=100, help="With --crop: mm to leave around holes and bodies in use. Default: 2.54."),
]


def _crop_margin(crop: bool, margin: float | None) -> float | None:
    """The margin to saw with, None for no sawing."""
    if margin is not None and not crop:
        raise typer.BadParameter("--margin says how much to leave when the board is sawn down: give --crop as well")
    if not crop or margin is not None:
        return margin
    from placer.plan.crop import MARGIN_MM

    return MARGIN_MM


Json = Annotated[bool, typer.Option("--json", help="Print one JSON object on stdout.")]


@app.command()
@_command
def plan(
    circuit: Annotated[Path, typer.Argument(help="The circuit file (YAML).")],
    board: Annotated[
        Optional[str],  # noqa: UP045 - evaluated at run time, on any Python that typer knows
        typer.Option(help="A catalogue name or a board file. Default: the smallest of the catalogue that fits."),
    ] = None,
    out: Annotated[
        Optional[Path],  # noqa: UP045
        typer.Option(help="The folder to write into. Default: CIRCUIT-plan in the working folder."),
    ] = None,
    time: Annotated[
        Optional[float],  # noqa: UP045
        typer.Option(min=0.1, max=1e6, help="Seconds to search. Default: 30 (without --effort)."),
    ] = None,
    effort: Annotated[
        Optional[int],  # noqa: UP045
        typer.Option(min=1, max=10**6, help="Rounds to search instead of seconds: same rounds, same plan."),
    ] = None,
    seed: Annotated[int, typer.Option(min=0, max=2**31 - 1, help="Where the random search starts.")] = 1,
    workers: Annotated[int, typer.Option(min=1, max=256, help="Searches side by side.")] = 2,
    jumper_cost: Annotated[float, typer.Option(min=0, max=1000, help="Cost of a jumper.")] = 1.0,
    cut_cost: Annotated[float, typer.Option(min=0, max=1000, help="Cost of a cut.")] = 0.8,
    bridge_cost: Annotated[
        float, typer.Option(min=0, max=1000, help="Cost of a solder bridge, where the board allows them.")
    ] = 0.1,
    cuts: Annotated[
        Optional[bool],  # noqa: UP045
        typer.Option("--cuts/--no-cuts", help="Allow or forbid cuts. Default: as the board says."),
    ] = None,
    diagonals: Annotated[bool, typer.Option("--diagonals", help="Let two-lead parts lie on a diagonal.")] = False,
    start: Annotated[
        Optional[Path],  # noqa: UP045
        typer.Option("--from", help="An earlier plan file to begin from."),
    ] = None,
    crop: Crop = False,
    margin: Margin = None,
    explain: Annotated[bool, typer.Option("--explain", help="Say why each jumper and each cut is there.")] = False,
    habits: Annotated[
        bool,
        typer.Option(
            "--habits/--no-habits",
            help="Do what builders do without being asked, where it costs no jumper: supplies on rails and so on.",
        ),
    ] = True,
    keep: Annotated[
        Optional[str],  # noqa: UP045
        typer.Option(help="With --from: parts soldered already, which stay (R1,U1; patterns such as R*)."),
    ] = None,
    as_json: Json = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress and no summary.")] = False,
) -> Exit:
    """Find the plan with the fewest jumpers and cuts, prove it, check it and write it."""
    if time is not None and effort is not None:
        raise typer.BadParameter("give one of --time and --effort")
    if keep is not None and start is None:
        raise typer.BadParameter("--keep says which parts stay where an earlier plan has them: give --from as well")
    crop_margin = _crop_margin(crop, margin)
    seconds = 30.0 if time is None and effort is None else time
    from placer.planning import Order, make_plan
    from placer.progress import ProgressLine
    from placer.summary import result_data, result_text

    costs = jumper_cost, cut_cost
    order = Order(
        circuit,
        board,
        out,
        seconds,
        effort,
        seed,
        workers,
        *costs,
        cuts,
        diagonals,
        start,
        crop_margin,
        bridge_cost,
        explain,
        habits,
        tuple(ref.strip() for ref in keep.split(",") if ref.strip()) if keep else (),
    )
    with ProgressLine(_errors(), quiet=quiet) as progress:
        result = make_plan(order, progress)
    print_diagnostics(result.warnings, _errors())
    if as_json:
        _print_json(result_data(result))
    elif not quiet:
        _output().print(Text(result_text(result)), soft_wrap=True)
    return Exit.INTERRUPTED if result.interrupted else Exit.OK


@app.command()
@_command
def check(
    plan: Annotated[Path, typer.Argument(help="The plan file (plan.json).")],
    circuit: Annotated[
        Optional[Path],  # noqa: UP045
        typer.Option(help="Check against this circuit, not only the one that the plan carries."),
    ] = None,
    board: Annotated[
        Optional[str],  # noqa: UP045
        typer.Option(help="Check against this board (name or file), not only the one that the plan carries."),
    ] = None,
    as_json: Json = False,
) -> Exit:
    """Check a plan by every rule, without knowing how it was found; exit code 1 when it has faults."""
    from placer.boards.catalogue import load_board
    from placer.check.against import judge_against
    from placer.circuit.read_yaml import read_circuit
    from placer.plan.file import read_plan
    from placer.summary import verdict_text

    found = read_plan(plan)
    given = read_circuit(circuit)[0] if circuit is not None else None
    report = judge_against(found, given, load_board(board) if board is not None else None)
    if as_json:
        told = {"faults": diagnostics_to_data(report.faults), "warnings": diagnostics_to_data(report.warnings)}
        _print_json({"passed": report.passed, **told})
    else:
        print_diagnostics((*report.faults, *report.warnings), _output())
        _output().print(Text(verdict_text(found, report.faults, report.warnings)), soft_wrap=True)
    return Exit.OK if report.passed else Exit.FAULTS


@app.command()
@_command
def guide(
    plan: Annotated[Path, typer.Argument(help="The plan file (plan.json).")],
    out: Annotated[
        Optional[Path],  # noqa: UP045
        typer.Option(help="The folder to write into. Default: the plan's own."),
    ] = None,
    crop: Crop = False,
    margin: Margin = None,
) -> Exit:
    """Write the drawings and lists of a plan; a plan with faults gets none."""
    crop_margin = _crop_margin(crop, margin)
    from placer.check.judge import judge
    from placer.guide.write import write_guide
    from placer.plan.crop import crop as saw
    from placer.plan.crop import crop_text
    from placer.plan.file import read_plan

    found = read_plan(plan)
    faults = judge(found).faults
    if faults:
        raise PlacerError(*faults, exit_code=Exit.FAULTS)
    sawn = None if crop_margin is None else saw(found, crop_margin)
    for path in write_guide(found, out or plan.parent, sawn):
        typer.echo(str(path))
    if sawn is not None:
        typer.echo(crop_text(sawn, found.board))
    return Exit.OK


@app.command()
@_command
def board(
    name: Annotated[
        Optional[str],  # noqa: UP045
        typer.Argument(help="A catalogue name or a board file; without it the catalogue is listed."),
    ] = None,
    as_json: Json = False,
    svg: Annotated[
        Optional[Path],  # noqa: UP045
        typer.Option(help="Write a drawing of the board's component side to this file."),
    ] = None,
) -> Exit:
    """List the boards, or describe and check one."""
    from placer.boards.catalogue import load_board, names
    from placer.boards.data import board_to_data
    from placer.boards.selfcheck import faults_of
    from placer.summary import board_rows, cuts_text

    if name is None and svg is not None:
        raise typer.BadParameter("--svg draws one board: name it")
    if name is None:
        boards = [load_board(each) for each in names()]
        if as_json:
            _print_json({"boards": [{"name": b.name, "about": b.about, "holes": len(b.holes)} for b in boards]})
        else:
            rows = [(b.name, str(len(b.holes)), str(len(b.strips)), cuts_text(b), b.about) for b in boards]
            _print_table(("board", "holes", "strips", "cuts", "about"), rows)
        return Exit.OK
    found = load_board(name)
    if svg is not None:
        from placer.guide.boardview import board_svg
        from placer.outputs import write_text

        write_text(svg, board_svg(found))
    if as_json:
        _print_json(board_to_data(found))
    elif svg is not None:
        typer.echo(str(svg))
    else:
        _print_rows(board_rows(found))
    faults = faults_of(found)
    print_diagnostics(faults, _errors())
    return Exit.FAULTS if faults else Exit.OK


@app.command()
@_command
def parts(
    name: Annotated[
        Optional[str],  # noqa: UP045
        typer.Argument(help="A package name; without it the catalogue is listed."),
    ] = None,
    as_json: Json = False,
) -> Exit:
    """List the packages, or describe one."""
    from placer.packages.catalogue import UnknownPackageError, lookup, package_to_data
    from placer.packages.show import describe, overview

    if name is None:
        if as_json:
            _print_json({"packages": [{"name": each, "about": about} for each, about in overview()]})
        else:
            _print_table(("package", "about"), overview())
        return Exit.OK
    try:
        package = lookup(name)
    except UnknownPackageError as err:
        raise PlacerError(Diagnostic("unknown-package", str(err), "list the packages with: placer parts")) from None
    if as_json:
        _print_json(package_to_data(package))
    else:
        _print_rows(describe(package))
    return Exit.OK


# --- printing ------------------------------------------------------------------------------------------------------


def _output() -> Console:
    return Console(highlight=False)


def _errors() -> Console:
    return Console(stderr=True, highlight=False)


def _print_json(data: Any) -> None:
    typer.echo(json.dumps(data, indent=2))


def _print_rows(rows: Iterable[tuple[str, str]]) -> None:
    """Print label and text side by side; a text of several lines keeps its shape."""
    found = list(rows)
    width = max(len(label) for label, _ in found) + 2
    for label, text in found:
        for number, line in enumerate(text.split("\n")):
            _output().print(Text(f"{'' if number else label:<{width}}{line}"), soft_wrap=True)


def _print_table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Print a table that fits the terminal; elsewhere each row is one whole line, for other programs to read."""
    console = _output()
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


# --- the entry -----------------------------------------------------------------------------------------------------


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the program and return its exit code; whatever goes wrong is one clear message, never a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")  # a terminal without UTF-8 is no reason to fail
    try:
        app(args=None if arguments is None else list(arguments), prog_name="placer")
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else 0 if end.code is None else INTERNAL_ERROR
    except KeyboardInterrupt:
        return Exit.INTERRUPTED
    except BrokenPipeError:
        # Python would complain once more while it closes stdout.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return BROKEN_PIPE
    except Exception as err:  # the last resort of the program
        if os.environ.get("PLACER_DEBUG"):
            traceback.print_exc()
        where = "; set PLACER_DEBUG=1 to see where" if not os.environ.get("PLACER_DEBUG") else ""
        reason = " ".join(str(err).split())[:300]
        print_diagnostics(
            [Diagnostic("internal-error", f"internal error: {type(err).__name__}: {reason}{where}")], _errors()
        )
        return INTERNAL_ERROR
    return Exit.OK


if __name__ == "__main__":
    sys.exit(main())
