"""What the commands say at the end, as text and as data. Pure functions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from placer.boards.model import Board
from placer.errors import Diagnostic
from placer.plan.model import Plan
from placer.progress import count, number
from placer.report import diagnostics_to_data

if TYPE_CHECKING:  # only for their types: importing these loads the search, and graphs
    from placer.plan.crop import Crop
    from placer.plan.findings import Finding
    from placer.planning import Result


def result_text(result: Result) -> str:
    """Return the end of a ``plan`` run: the score, what is proved, the times, the wire and the files."""
    plan = result.plan
    score, info = plan.score, plan.solve
    lines = [f"{plan.circuit.name} on {plan.board.name}: {score_text(plan)}, {proof_text(plan)}"]
    if result.choice:
        lines.append(f"board     {plan.board.name} was chosen: {result.choice}")
    first = "" if info.first_plan_seconds is None else f", first plan after {info.first_plan_seconds:.1f} s"
    lines.append(f"search    {info.seconds:.1f} s{first}, seed {info.seed}, {count(info.workers, 'worker')}")
    lines.append(f"wire      {number(score.jumper_mm)} mm of jumpers, hole to hole{bare_text(plan)}")
    lines.append(f"area      {area_text(plan)}")
    lines += wish_lines(plan)
    if result.crop is not None:
        from placer.plan.crop import crop_text

        lines.append(f"saw       {crop_text(result.crop, plan.board)}")
    if result.explanation is not None:
        lines += [f"why       {line}" for line in result.explanation.lines() or [_nothing_to_explain(plan)]]
    lines += findings_text(plan.findings)
    lines.append(f"files     {result.files[0].parent}: {', '.join(file.name for file in result.files)}")
    if result.interrupted:
        lines.append("interrupted: this is the best checked plan so far")
    return "\n".join(lines)


def _nothing_to_explain(plan: Plan) -> str:
    if plan.bridges:
        return f"no jumper, no cut; for its {count(len(plan.bridges), 'bridge')} of solder no reasons are looked for"
    return "no jumper, no cut: nothing to explain"


def findings_text(findings: Sequence[Finding]) -> list[str]:
    """Return what was found of current, voltage and heat, a line each, the gravest first."""
    from placer.plan.findings import in_order, line

    return [f"bears     {line(finding)}" for finding in in_order(findings)]


def wish_lines(plan: Plan) -> list[str]:
    """Return how far is kept what is wished for but not binding, a line for the habits and one for the user's own."""
    lines = []
    for label, habit in (("habits", True), ("wishes", False)):
        own = [tally for tally in plan.score.wishes if bool(tally.habit) == habit]
        if own:
            kept, of = sum(tally.kept for tally in own), sum(tally.of for tally in own)
            broken = [f"{tally.habit + ': ' if habit else ''}{tally.name}" for tally in own if tally.kept < tally.of]
            lines.append(f"{label:<10}{kept} of {of} kept" + (f"; not {', '.join(broken)}" if broken else ""))
    return lines


def bare_text(plan: Plan) -> str:
    """Return how many of a plan's jumpers can be bare wire, "" where there are none."""
    return f"; {bare_count(plan)} of {count(len(plan.jumpers), 'jumper')} can be bare wire" if plan.jumpers else ""


def bare_count(plan: Plan) -> int:
    """Return how many of a plan's jumpers can be bare wire."""
    from placer.plan.links import links

    return sum(link.bare for link in links(plan))


def area_text(plan: Plan) -> str:
    """Return what of the board a plan uses."""
    used = area_data(plan)
    return f"uses {used['columns']} x {used['rows']} holes, {used['width_mm']:.1f} x {used['height_mm']:.1f} mm"


def area_data(plan: Plan) -> dict[str, Any]:
    """Return what of the board a plan uses, as data."""
    from placer.plan.area import size_mm, used_area

    area = used_area(plan)
    width, height = size_mm(area, plan.board)
    return {"columns": area.columns, "rows": area.rows, "width_mm": width, "height_mm": height}


def crop_data(crop: Crop) -> dict[str, Any]:
    """Return where to saw as data: the size that stays, its corner on the board, each saw line, what is lost."""
    width, height = crop.size_mm
    return {
        "width_mm": width,
        "height_mm": height,
        "left_mm": crop.left,
        "top_mm": crop.top,
        "lines": [{"side": line.side, "at_mm": line.at_mm, "where": line.where} for line in crop.lines],
        "lost": list(crop.lost),
    }


def score_text(plan: Plan) -> str:
    """Return what a plan takes, such as ``3 jumpers, 0 cuts, cost 3``; bridges where the board allows them."""
    score = plan.score
    counts = [count(score.jumpers, "jumper"), count(score.cuts, "cut")]
    if plan.board.bridges:
        counts.append(count(score.bridges, "bridge"))
    return f"{', '.join(counts)}, cost {number(score.cost)}"


def proof_text(plan: Plan) -> str:
    """Return what is known of the least cost: ``proved minimal``, or the bound and the gap."""
    proof = plan.proof
    if proof.status == "optimal":
        return f"proved minimal (bound {number(proof.lower_bound)})"
    return f"bound {number(proof.lower_bound)}, gap {number(proof.gap)}: not proved minimal"


def result_data(result: Result) -> dict[str, Any]:
    """Return the end of a ``plan`` run as data."""
    from placer.plan.file import plan_to_data  # describing a board need not load it

    data = plan_to_data(result.plan)
    return {
        "circuit": data["circuit"]["name"],
        "board": data["board"]["name"],
        "board_choice": result.choice,
        "interrupted": result.interrupted,
        "score": data["score"],
        "proof": data["proof"],
        "solve": {key: value for key, value in data["solve"].items() if key != "phases"},
        "bare_jumpers": bare_count(result.plan),
        "area": area_data(result.plan),
        **({"crop": crop_data(result.crop)} if result.crop is not None else {}),
        **({"explanation": result.explanation.to_data()} if result.explanation is not None else {}),
        "files": [str(file) for file in result.files],
        "warnings": diagnostics_to_data(result.warnings),
        "findings": data.get("findings", []),
    }


def verdict_text(
    plan: Plan, faults: Sequence[Diagnostic], warnings: Sequence[Diagnostic], findings: Sequence[Finding] = ()
) -> str:
    """Return the last line of ``check``."""
    name = f"{plan.circuit.name} on {plan.board.name}"
    doubts = f", {count(len(warnings), 'warning')}" if warnings else ""
    if faults:
        return f"{name}: {count(len(faults), 'fault')}{doubts}; do not build this plan"
    over = sum(finding.severity == "error" for finding in findings)
    if over:
        return f"{name}: joins what it should{doubts}, but {count(over, 'limit')} exceeded; do not build it as it is"
    near = sum(finding.severity == "warning" for finding in findings)
    close = f", {count(near, 'limit')} near" if near else ""
    return f"{name}: no faults{doubts}{close}; {score_text(plan)}"


def board_rows(board: Board) -> list[tuple[str, str]]:
    """Return (label, text) rows that describe a board."""
    lengths = sorted({len(strip.holes) for strip in board.strips if not strip.rail})
    rails = [strip for strip in board.strips if strip.rail]
    rows = [
        ("board", board.name),
        ("about", board.about),
        ("outline", f"{number(board.outline_mm[0])} x {number(board.outline_mm[1])} mm"),
        ("holes", f"{len(board.holes)}, {_diameters(board)} mm wide, {board.pitch_mm:g} mm apart"),
        ("strips", f"{len(board.strips) - len(rails)}, of {' or '.join(map(str, lengths))} holes"),
        ("rails", ", ".join(f"{strip.name} ({len(strip.holes)} holes)" for strip in rails)),
        ("cuts", cuts_text(board)),
        ("bridges", "between neighbouring holes" if board.bridges else ""),
        ("ports", ", ".join(f"{port.name} for {' or '.join(port.fits)}" for port in board.ports.values())),
        ("keep-outs", ", ".join(keepout.name for keepout in board.keepouts)),
        (
            "copper",
            f"{board.copper.side} side, {board.copper.width_mm:g} mm wide, {board.copper.gap_mm:g} mm apart, "
            f"{board.copper.thickness_um:g} um thick",
        ),
    ]
    return [(label, text) for label, text in rows if text]


def cuts_text(board: Board) -> str:
    """Return in words how the board's strips may be severed."""
    ways = [way for way, open_ in (("at a hole", board.cut.at_hole), ("between holes", board.cut.between)) if open_]
    if not ways:
        return "none"
    return " or ".join(ways) + ("" if board.cut_by_default else ", on request (--cuts)")


def _diameters(board: Board) -> str:
    return " or ".join(f"{d:g}" for d in sorted({hole.diameter_mm for hole in board.holes.values()}))
