"""The commands: read, call, print. No logic of their own; each loads what it needs, for the search is slow to load."""

from __future__ import annotations

import functools
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Annotated, Any, Optional

import typer
from rich.text import Text

from placer import __version__
from placer.arguments import AllowOutside, Crop, Format, Json, Margin, Paper, PaperName, PartsMap, crop_margin_of
from placer.errors import Diagnostic, Exit, PlacerError
from placer.printing import errors, output, print_json, print_rows, print_table
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
            errors().print("interrupted")
            code = Exit.INTERRUPTED
        except PlacerError as err:
            if kwargs.get("as_json"):
                print_json({"errors": diagnostics_to_data(err.diagnostics)})
            print_diagnostics(err.diagnostics, errors())
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


@app.command()
@_command
def plan(
    circuit: Annotated[Path, typer.Argument(help="The circuit: a YAML file, or a netlist in SPICE, EDIF or CSV.")],
    parts_map: PartsMap = None,
    allow_outside: AllowOutside = False,
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
    paper: Paper = PaperName.A4,
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
    crop_margin = crop_margin_of(crop, margin)
    seconds = 30.0 if time is None and effort is None else time
    from placer.plan.findings import over
    from placer.planning import Order, make_plan
    from placer.progress import ProgressLine
    from placer.summary import findings_text, result_data, result_text

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
        parts_map,
        allow_outside,
        paper.value,
        habits,
        tuple(ref.strip() for ref in keep.split(",") if ref.strip()) if keep else (),
    )
    with ProgressLine(errors(), quiet=quiet) as progress:
        result = make_plan(order, progress)
    print_diagnostics(result.warnings, errors())
    if as_json:
        print_json(result_data(result))
    elif not quiet:
        output().print(Text(result_text(result)), soft_wrap=True)
    exceeded = over(result.plan.findings)
    if quiet:
        for line in findings_text(exceeded):
            errors().print(Text(line), soft_wrap=True)
    if result.interrupted:
        return Exit.INTERRUPTED
    return Exit.FAULTS if exceeded else Exit.OK


@app.command()
@_command
def check(
    plan: Annotated[Path, typer.Argument(help="The plan file (plan.json).")],
    circuit: Annotated[
        Optional[Path],  # noqa: UP045
        typer.Option(help="Check against this circuit, not only the one that the plan carries."),
    ] = None,
    parts_map: PartsMap = None,
    allow_outside: AllowOutside = False,
    board: Annotated[
        Optional[str],  # noqa: UP045
        typer.Option(help="Check against this board (name or file), not only the one that the plan carries."),
    ] = None,
    as_json: Json = False,
) -> Exit:
    """Check a plan by every rule, without knowing how it was found; exit code 1 when it has faults or is overloaded."""
    from placer.boards.catalogue import load_board
    from placer.check.against import judge_against
    from placer.circuit.read import read_circuit_file
    from placer.limits.find import find, recorded_otherwise
    from placer.plan.file import read_plan
    from placer.plan.findings import findings_to_data, over
    from placer.summary import findings_text, verdict_text

    found = read_plan(plan)
    given = None
    if circuit is not None:
        given = read_circuit_file(circuit, parts_map, allow_outside=allow_outside)[0]
    elif parts_map is not None:
        raise typer.BadParameter("--parts belongs to a netlist: give it with --circuit")
    report = judge_against(found, given, load_board(board) if board is not None else None)
    findings = find(found) if report.passed else ()  # where nets are in pieces nothing can be said of currents
    warnings = (*report.warnings, *recorded_otherwise(found, findings))
    bears = not over(findings)
    if as_json:
        told = {"faults": diagnostics_to_data(report.faults), "warnings": diagnostics_to_data(warnings)}
        print_json({"passed": report.passed and bears, **told, "findings": findings_to_data(findings)})
    else:
        print_diagnostics((*report.faults, *warnings), output())
        for line in findings_text(findings):
            output().print(Text(line), soft_wrap=True)
        output().print(Text(verdict_text(found, report.faults, warnings, findings)), soft_wrap=True)
    return Exit.OK if report.passed and bears else Exit.FAULTS


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
    paper: Paper = PaperName.A4,
) -> Exit:
    """Write the guide, drawings and lists of a plan; a plan with faults gets none."""
    crop_margin = crop_margin_of(crop, margin)
    from placer.guiding import make_guide
    from placer.plan.crop import crop_text
    from placer.plan.findings import over
    from placer.summary import findings_text

    made = make_guide(plan, out, crop_margin, paper.value)
    print_diagnostics(made.warnings, errors())
    for line in findings_text(over(made.plan.findings)):
        errors().print(Text(line), soft_wrap=True)
    for path in made.files:
        typer.echo(str(path))
    if made.crop is not None:
        typer.echo(crop_text(made.crop, made.plan.board))
    return Exit.OK


@app.command()
@_command
def netlist(
    source: Annotated[
        Path,
        typer.Argument(
            metavar="CIRCUIT_OR_PLAN",
            help="A circuit (YAML, SPICE, EDIF or CSV), or a plan, whose netlist is then read back from its copper.",
        ),
    ],
    to: Annotated[
        Optional[Format],  # noqa: UP045
        typer.Option("--to", help="The format to write.", case_sensitive=False),
    ] = None,
    out: Annotated[
        Optional[Path],  # noqa: UP045
        typer.Option(help="The file to write. Default: stdout."),
    ] = None,
    parts_map: PartsMap = None,
    draft: Annotated[
        Optional[Path],  # noqa: UP045
        typer.Option("--draft-map", metavar="MAP", help="Write a first parts map of this netlist to a new file."),
    ] = None,
    allow_outside: AllowOutside = False,
    as_json: Json = False,
) -> Exit:
    """Write a circuit, or what the copper of a plan makes, as a netlist; or begin a parts map for one."""
    from placer.netlist import write_draft, write_netlist
    from placer.outputs import write_new, write_text

    if (to is None) == (draft is None):
        raise typer.BadParameter("say with --to which format to write, or with --draft-map where the parts map goes")
    if draft is not None and (out is not None or parts_map is not None):
        raise typer.BadParameter("--draft-map begins a parts map and writes nothing else: leave out --out and --parts")
    if draft is not None:
        written = write_draft(source, allow_outside=allow_outside)
        write_new(draft, written.text)
    else:
        written = write_netlist(source, str(to.value if to else ""), parts_map, allow_outside=allow_outside)
        if out is not None:
            write_text(out, written.text)
    print_diagnostics(written.warnings, errors())
    file = draft or out
    if as_json:
        told = {"format": to.value if to else "parts-map", "file": None if file is None else str(file)}
        print_json({**told, "text": written.text, "warnings": diagnostics_to_data(written.warnings)})
    else:
        typer.echo(str(file) if file is not None else written.text, nl=file is not None)
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
            print_json({"boards": [{"name": b.name, "about": b.about, "holes": len(b.holes)} for b in boards]})
        else:
            rows = [(b.name, str(len(b.holes)), str(len(b.strips)), cuts_text(b), b.about) for b in boards]
            print_table(("board", "holes", "strips", "cuts", "about"), rows)
        return Exit.OK
    found = load_board(name)
    if svg is not None:
        from placer.guide.boardview import board_svg
        from placer.outputs import write_text

        write_text(svg, board_svg(found))
    if as_json:
        print_json(board_to_data(found))
    elif svg is not None:
        typer.echo(str(svg))
    else:
        print_rows(board_rows(found))
    faults = faults_of(found)
    print_diagnostics(faults, errors())
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
            print_json({"packages": [{"name": each, "about": about} for each, about in overview()]})
        else:
            print_table(("package", "about"), overview())
        return Exit.OK
    try:
        package = lookup(name)
    except UnknownPackageError as err:
        raise PlacerError(Diagnostic("unknown-package", str(err), "list the packages with: placer parts")) from None
    if as_json:
        print_json(package_to_data(package))
    else:
        print_rows(describe(package))
    return Exit.OK


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
            [Diagnostic("internal-error", f"internal error: {type(err).__name__}: {reason}{where}")], errors()
        )
        return INTERNAL_ERROR
    return Exit.OK


if __name__ == "__main__":
    sys.exit(main())
