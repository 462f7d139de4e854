"""The benchmark's figures: what is found when, and how times grow with the circuit. Pure functions of the runs.

Colours are of a palette that colour-blind readers tell apart; line style and marker say the same in black and white.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np

from tests.bench import annealing, engine, exact, relaxed
from tests.bench.record import GRACE, Run
from tests.bench.table import DEMO, NEAR, best_costs, group_of

matplotlib.use("Agg")
from matplotlib import pyplot
from matplotlib.ticker import FuncFormatter

LOOKS: dict[str, dict[str, Any]] = {
    engine.METHOD: {"color": "#0072B2", "marker": "o"},
    annealing.METHOD: {"color": "#D55E00", "marker": "^"},
    exact.METHOD: {"color": "#009E73", "marker": "s"},
    relaxed.METHOD: {"color": "#CC79A7", "marker": "D"},
}
LINES = {engine.METHOD: "-", annealing.METHOD: "--", exact.METHOD: "-.", relaxed.METHOD: ":"}
EARLIEST = 0.05  # seconds, left end of the time axis
MOST_PANELS = 16
PLAIN = FuncFormatter(lambda value, _: f"{value:g}")


def median_curve(runs: Sequence[Run], times: Sequence[float], of: Callable[[Any], float | None]) -> list[float]:
    """For each time the median over runs of what they had then; NaN while half of them or more have nothing."""
    curve = []
    for at in times:
        had = []
        for run in runs:
            past = [point for point in run.points if point.seconds <= at]
            value = of(past[-1]) if past else None
            had.append(math.inf if value is None else value)
        middle = statistics.median_high(had)
        curve.append(math.nan if math.isinf(middle) else middle)
    return curve


def anytime(runs: Sequence[Run], path: Path) -> None:
    """A panel for a circuit of each size, and the largest demo circuit: median cost and bound (dotted) against time."""
    chosen: dict[tuple[str, str], tuple[str, str]] = {}
    for run in sorted(runs, key=lambda run: -run.parts):
        chosen.setdefault(group_of(run), run.case)
    sizes = sorted({g for g, _ in chosen}, key=lambda g: (g != DEMO, int(g) if g != DEMO else 0))
    kinds = sorted({kind for _, kind in chosen})
    sizes = sizes[: MOST_PANELS // len(kinds)]
    shape = (len(sizes), len(kinds))
    figure, grid = pyplot.subplots(
        *shape, figsize=(4.6 * shape[1] + 0.4, 2.5 * shape[0] + 0.9), layout="constrained", squeeze=False
    )
    for row, size in enumerate(sizes):
        for column, kind in enumerate(kinds):
            axes = grid[row][column]
            if (size, kind) not in chosen:
                axes.set_axis_off()
                continue
            _panel(axes, [run for run in runs if run.case == chosen[size, kind]])
            if column == 0:
                axes.set_ylabel("cost, bound")
            if row == len(sizes) - 1:
                axes.set_xlabel("seconds")
    handles = [
        pyplot.Line2D([], [], **look, linestyle=LINES[m], label=m)
        for m, look in LOOKS.items()
        if any(run.method == m for run in runs)
    ]
    handles.append(pyplot.Line2D([], [], color="black", linestyle=":", marker="o", mfc="white", label="bound (hollow)"))
    figure.legend(handles=handles, loc="outside upper center", ncols=1 + len(kinds), frameon=False)
    figure.savefig(path, dpi=110, metadata={"Software": None})
    pyplot.close(figure)


def _panel(axes: Any, runs: Sequence[Run]) -> None:
    end = GRACE * max(run.limit for run in runs)
    times = np.geomspace(EARLIEST, end, 60).tolist()
    top = 0.0
    for number, (method, look) in enumerate(LOOKS.items()):
        own = [run for run in runs if run.method == method]
        if not own:
            continue
        marks = (2 * number, 8)
        if method != relaxed.METHOD:
            cost = median_curve(own, times, lambda point: point.cost)
            axes.step(times, cost, where="post", **look, linestyle=LINES[method], markevery=marks, markersize=5)
            top = max([top, *(c for c in cost if not math.isnan(c))])
        if method != annealing.METHOD:
            bound = median_curve(own, times, lambda point: point.bound)
            axes.step(times, bound, where="post", **look, mfc="white", markevery=marks, markersize=5, linestyle=":")
    axes.set_xscale("log")
    axes.set_xlim(EARLIEST, end)
    axes.xaxis.set_major_formatter(PLAIN)
    axes.set_ylim(bottom=0, top=1.08 * top if top else None)
    axes.grid(visible=True, color="#DDDDDD", linewidth=0.6)
    axes.set_title(f"{runs[0].circuit} ({runs[0].parts} parts), {runs[0].kind}", fontsize=9)


def exponent(sizes: Sequence[float], seconds: Sequence[float]) -> float | None:
    """The power of the size that times grow with: least squares on the logarithms; None for fewer than two sizes."""
    if len(set(sizes)) < 2:
        return None
    return float(np.polyfit(np.log(sizes), np.log(seconds), 1)[0])


def growth(runs: Sequence[Run], path: Path) -> None:
    """Times to the first plan and to one near the best, against parts; a panel for each kind of board."""
    best = best_costs(runs)
    made = [run for run in runs if group_of(run)[0] != DEMO]
    kinds = sorted({run.kind for run in made})
    figure, grid = pyplot.subplots(
        1, max(1, len(kinds)), figsize=(5.2 * max(1, len(kinds)), 4.6), layout="constrained", squeeze=False, sharey=True
    )
    for axes, kind in zip(grid[0], kinds, strict=False):
        for method in (engine.METHOD, annealing.METHOD):
            own = [run for run in made if (run.kind, run.method) == (kind, method)]
            first = [(run.parts, run.first_seconds) for run in own]
            near = [(run.parts, run.seconds_to(NEAR * best[run.case]) if run.case in best else None) for run in own]
            name = f"within {round(100 * NEAR - 100)} % of best"
            for what, found, line in (("first plan", first, "-"), (name, near, "--")):
                _growing(axes, [(n, s) for n, s in found if s], len(found), f"{method}, {what}", line, LOOKS[method])
        axes.set(xscale="log", yscale="log", xlabel="parts", title=f"{kind} boards")
        sizes = sorted({run.parts for run in made})
        axes.set_xticks(sizes, [str(n) for n in sizes])
        axes.minorticks_off()
        axes.grid(visible=True, color="#DDDDDD", linewidth=0.6)
        axes.yaxis.set_major_formatter(PLAIN)
        if axes.get_legend_handles_labels()[0]:
            axes.legend(fontsize=8, loc="upper center", bbox_to_anchor=(0.5, -0.14), frameon=False)
    grid[0][0].set_ylabel("seconds (dots: runs; lines: medians)")
    figure.savefig(path, dpi=110, metadata={"Software": None})
    pyplot.close(figure)


def _growing(
    axes: Any, found: Sequence[tuple[int, float]], runs: int, label: str, line: str, look: dict[str, Any]
) -> None:
    if not found:
        return
    sizes, seconds = [n for n, _ in found], [max(s, 1e-3) for _, s in found]
    power = exponent(sizes, seconds)
    by_size: dict[int, list[float]] = {}
    for n, s in sorted(zip(sizes, seconds, strict=True)):
        by_size.setdefault(n, []).append(s)
    medians = [statistics.median(own) for own in by_size.values()]
    grows = "" if power is None else f": parts^{power:.1f}"
    few = "" if len(found) == runs else f" ({len(found)} of {runs} runs)"
    hollow = "white" if line == "--" else look["color"]
    axes.plot(sizes, seconds, linestyle="", **look, markersize=3, alpha=0.4)
    axes.plot(list(by_size), medians, **look, mfc=hollow, markersize=6, linestyle=line, label=label + grows + few)
