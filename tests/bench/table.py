"""The benchmark's tables: figures of many runs, put side by side. Pure functions of the runs."""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from tests.bench import annealing, engine, exact, relaxed
from tests.bench.record import GRACE, Run

PLANNERS = (engine.METHOD, annealing.METHOD, exact.METHOD)
BOUNDERS = (engine.METHOD, exact.METHOD, relaxed.METHOD)
NEAR = 1.10  # of the best cost known: close enough to be called near
DEMO = "demo"
CaseKey = tuple[str, str]
Group = tuple[str, str]


def group_of(run: Run) -> Group:
    """The line of a table that a run belongs to: number of parts (or demo circuit) and kind of board."""
    return (str(run.parts) if run.circuit.startswith("made-") else DEMO), run.kind


def groups_of(runs: Iterable[Run]) -> list[Group]:
    """All groups, demo circuits first, then by size; five-hole boards before long strips of the same size."""
    return sorted({group_of(run) for run in runs}, key=lambda g: (g[0] != DEMO, int(g[0]) if g[0] != DEMO else 0, g[1]))


@dataclass(frozen=True)
class Figures:
    """What the runs of one method on one case come to. Times count only the runs that got there."""

    runs: int
    costs: tuple[float, ...]
    bounds: tuple[float, ...]
    first: tuple[float, ...]
    near: tuple[float, ...]

    @property
    def cost(self) -> float | None:
        """Mean cost over the seeds that have a plan."""
        return statistics.mean(self.costs) if self.costs else None

    @property
    def bound(self) -> float:
        """Mean bound over the seeds."""
        return statistics.mean(self.bounds)


def best_costs(runs: Iterable[Run]) -> dict[CaseKey, float]:
    """The least cost of each case that any method found with any seed, late plans too."""
    best: dict[CaseKey, float] = {}
    for run in runs:
        for point in run.points:
            if point.cost is not None:
                best[run.case] = min(best.get(run.case, math.inf), point.cost)
    return best


def figures_of(runs: Sequence[Run]) -> dict[tuple[CaseKey, str], Figures]:
    """Figures by case and method."""
    best = best_costs(runs)
    by: dict[tuple[CaseKey, str], list[Run]] = {}
    for run in runs:
        by.setdefault((run.case, run.method), []).append(run)
    found = {}
    for (case, method), own in by.items():
        near = [run.seconds_to(NEAR * best[case]) for run in own] if case in best else []
        found[case, method] = Figures(
            len(own),
            tuple(run.last.cost for run in own if run.last.cost is not None),
            tuple(run.last.bound for run in own),
            tuple(run.first_seconds for run in own if run.first_seconds is not None),
            tuple(seconds for seconds in near if seconds is not None),
        )
    return found


def ratios(
    figures: Mapping[tuple[CaseKey, str], Figures], cases: Iterable[CaseKey], method: str, against: str = engine.METHOD
) -> list[float]:
    """Mean cost of a method over that of the engine, for each case on which both have plans."""
    found = []
    for case in cases:
        one, other = figures.get((case, method)), figures.get((case, against))
        if one is None or other is None or one.cost is None or other.cost is None:
            continue
        found.append(one.cost / other.cost if other.cost else (1.0 if not one.cost else math.inf))
    return found


# --- text ------------------------------------------------------------------------------------------------------------


def _lines(heads: Sequence[str], rows: Iterable[Sequence[str]], words: int = 2) -> list[str]:
    """A table; all but the first ``words`` columns to the right."""
    rule = ["---"] * words + ["---:"] * (len(heads) - words)
    return [f"| {' | '.join(row)} |" for row in (heads, rule, *rows)]


def _name(group: Group, cases: Sequence[Run]) -> str:
    if group[0] != DEMO:
        return group[0]
    sizes = [run.parts for run in cases]
    return f"demo, {min(sizes)} to {max(sizes)}" if min(sizes) < max(sizes) else f"demo, {sizes[0]}"


def _ratio(ratios_of: Sequence[float]) -> str:
    values = [value for value in ratios_of if math.isfinite(value)]
    if not values:
        return ""
    middle = statistics.median(values)
    if len(values) == 1 or min(values) == max(values):
        return f"{middle:.2f}"
    return f"{middle:.2f} ({min(values):.2f} to {max(values):.2f})"


def _seconds(values: Sequence[float], runs: int) -> str:
    """The median, and how many got there where not all did."""
    if not values:
        return f"none of {runs}" if runs else ""
    text = f"{statistics.median(values):.2f}" if statistics.median(values) < 10 else f"{statistics.median(values):.0f}"
    return text if len(values) == runs else f"{text} ({len(values)} of {runs})"


class Tables:
    """All tables of a set of runs."""

    def __init__(self, runs: Sequence[Run]) -> None:
        self.runs = runs
        self.figures = figures_of(runs)
        self.best = best_costs(runs)
        self.groups = groups_of(runs)
        self.of_group = {group: [run for run in runs if group_of(run) == group] for group in self.groups}

    def cases(self, group: Group) -> list[CaseKey]:
        """The cases of a group."""
        return list(dict.fromkeys(run.case for run in self.of_group[group]))

    def every(self, group: Group, method: str) -> list[Figures]:
        """The figures of a method on all cases of a group that it was run on."""
        return [self.figures[case, method] for case in self.cases(group) if (case, method) in self.figures]

    def _both(self, group: Group) -> list[str]:
        return [_name(group, self.of_group[group]), group[1]]

    def costs(self) -> list[str]:
        """Mean costs, side by side."""
        heads = ["parts", "board", *PLANNERS, *(f"{method} / engine" for method in PLANNERS[1:]), "cheapest"]
        rows = []
        for group in self.groups:
            cells = [self._cost_cell(self.every(group, method)) for method in PLANNERS]
            against = [_ratio(ratios(self.figures, self.cases(group), method)) for method in PLANNERS[1:]]
            rows.append([*self._both(group), *cells, *against, self.cheapest(group)])
        return _lines(heads, rows)

    def _cost_cell(self, figures: Sequence[Figures]) -> str:
        runs, plans = sum(f.runs for f in figures), sum(len(f.costs) for f in figures)
        if not figures:
            return "not run"
        if not plans:
            return f"none of {runs}"
        mean = statistics.mean(f.cost for f in figures if f.cost is not None)
        spread = statistics.mean(max(f.costs) - min(f.costs) for f in figures if f.costs)
        some = "" if plans == runs else f", {plans} of {runs}"
        return f"{mean:.1f} ({spread:.1f}{some})"

    def cheapest(self, group: Group) -> str:
        """The method with the most plans, then the least costs against the engine; bold where that is a baseline."""

        def rank(method: str) -> tuple[float, float]:
            found = ratios(self.figures, self.cases(group), method)
            share = sum(len(f.costs) for f in self.every(group, method))
            return -share, statistics.mean(found) if found else (1.0 if method == engine.METHOD else math.inf)

        ran = [method for method in PLANNERS if any(f.costs for f in self.every(group, method))]
        if not ran:
            return ""
        least = min(map(rank, ran))
        # Alike to the third decimal is alike.
        first = [m for m in ran if rank(m)[0] == least[0] and rank(m)[1] <= least[1] + 5e-4]
        return " and ".join(first) if engine.METHOD in first else f"**{' and '.join(first)}**"

    def bounds(self) -> list[str]:
        """Mean bounds, side by side, against the best cost known."""
        heads = ["parts", "board", "best cost known", *BOUNDERS, "engine / best", "highest"]
        rows = []
        for group in self.groups:
            known = [self.best[case] for case in self.cases(group) if case in self.best]
            mean = {m: statistics.mean(f.bound for f in own) for m in BOUNDERS if (own := self.every(group, m))}
            closed = [
                self.figures[case, engine.METHOD].bound / self.best[case] if self.best[case] else 1.0
                for case in self.cases(group)
                if case in self.best and (case, engine.METHOD) in self.figures
            ]
            highest = [m for m in mean if mean[m] >= max(mean.values()) - 1e-9]
            winner = " and ".join(highest) if engine.METHOD in highest else f"**{' and '.join(highest)}**"
            cells = [f"{mean[m]:.1f}" if m in mean else "not run" for m in BOUNDERS]
            best = f"{statistics.mean(known):.1f}" if known else ""
            rows.append([*self._both(group), best, *cells, _ratio(closed), winner])
        return _lines(heads, rows)

    def times(self) -> list[str]:
        """Median times to the first plan and to one near the best, and how far the engine runs over its time."""
        heads = ["parts", "board", *(f"first, {m}" for m in PLANNERS), *(f"near best, {m}" for m in PLANNERS)]
        heads.append("longest engine run / limit")
        rows = []
        for group in self.groups:
            cells = []
            kinds: tuple[Callable[[Figures], tuple[float, ...]], ...] = (lambda f: f.first, lambda f: f.near)
            for of in kinds:
                for method in PLANNERS:
                    own = self.every(group, method)
                    cells.append(_seconds([s for f in own for s in of(f)], sum(f.runs for f in own)))
            over = [run.seconds / run.limit for run in self.of_group[group] if run.method == engine.METHOD]
            rows.append([*self._both(group), *cells, f"{max(over):.2f}" if over else ""])
        return _lines(heads, rows)

    def each(self) -> list[str]:
        """Every case by itself."""
        heads = ["circuit", "board", "parts", "nets", "limit, s", *(f"{m}: cost" for m in PLANNERS), "best known"]
        heads += ["best bound", "by"]
        rows = []
        for case in dict.fromkeys(run.case for group in self.groups for run in self.of_group[group]):
            own = [run for run in self.runs if run.case == case]
            cells = []
            for method in PLANNERS:
                figures = self.figures.get((case, method))
                cells.append("not run" if figures is None else "no plan" if figures.cost is None else _costs(figures))
            top = max(own, key=lambda run: (run.last.bound, run.method == engine.METHOD))
            best = f"{self.best[case]:g}" if case in self.best else ""
            head = [case[0], own[0].board if case[0] not in own[0].board else case[1], str(own[0].parts)]
            row = [*head, str(own[0].nets), f"{own[0].limit:g}", *cells, best, f"{top.last.bound:g}"]
            rows.append([*row, top.method if top.last.bound > 0 else ""])
        return _lines(heads, rows)

    def lost(self) -> list[str]:
        """Where a baseline beats the engine, in words."""
        found = []
        for group in self.groups:
            where = "{} parts, {}".format(*self._both(group))
            for method in PLANNERS[1:]:
                values = ratios(self.figures, self.cases(group), method)
                if values and statistics.mean(values) < 1 - 5e-4:
                    less = f"{100 * (1 - statistics.mean(values)):.1f} % cheaper, mean of {len(values)} cases"
                    found.append(f"- {where}: {method} is {less}.")
                own, other = self.every(group, engine.METHOD), self.every(group, method)
                plans, others = (sum(len(f.costs) for f in some) for some in (own, other))
                if own and others > plans:
                    found.append(f"- {where}: {method} has {others} plans in time, the engine {plans}.")
            mean = {m: statistics.mean(f.bound for f in own) for m in BOUNDERS if (own := self.every(group, m))}
            for method in BOUNDERS[1:]:
                if method in mean and mean[method] > mean.get(engine.METHOD, math.inf) + 1e-9:
                    figures = f"{mean[method]:.1f} against {mean[engine.METHOD]:.1f}"
                    found.append(f"- {where}: {method} has the better bound, {figures}.")
        return found or ["Nowhere, in these runs."]

    def broken(self) -> list[str]:
        """Runs that broke down, and plans that could not be wired or were refused."""
        words = ("failed", "refused", "cannot be wired")
        found = [run for run in self.runs if any(word in run.note for word in words)]
        return [f"- {run.method}, {run.circuit} on {run.kind}, seed {run.seed}: {run.note}" for run in found] or [
            "None."
        ]

    def summary(self) -> list[str]:
        """All cases in a few lines."""
        cases = list(dict.fromkeys(run.case for run in self.runs))
        found = []
        for method in PLANNERS[1:]:
            values = ratios(self.figures, cases, method)
            if values:
                counts = [sum(v > 1 + 5e-4 for v in values), sum(abs(v - 1) <= 5e-4 for v in values)]
                counts.append(len(values) - sum(counts))
                found.append(
                    f"- {method} / engine, cost: median {_ratio(values)} over {len(values)} cases; the engine is "
                    f"cheaper in {counts[0]}, equal in {counts[1]}, dearer in {counts[2]}."
                )
        ran = [run for run in self.runs if run.method == engine.METHOD]
        proved = sum(run.last.cost is not None and run.last.bound >= run.last.cost - 1e-9 for run in ran)
        none = sum(run.last.cost is None for run in ran)
        late = sum(run.last.cost is None and run.first_seconds is not None for run in ran)
        found.append(
            f"- The engine: {len(ran)} runs, {proved} ended with a proof, {none} without a plan in time"
            f"{f' ({late} of them had one late)' if late else ''}."
        )
        return found


def _costs(figures: Figures) -> str:
    few = "" if len(figures.costs) == figures.runs else f", {len(figures.costs)} of {figures.runs}"
    low, high = min(figures.costs), max(figures.costs)
    return f"{figures.cost:.1f}{f' ({low:g} to {high:g})' if low < high else ''}{few}"


PROTOCOL, MACHINE = "**Protocol.** ", "Machine: "


def told(page: str) -> tuple[str, str]:
    """Protocol and machine as a page tells them. Raises StopIteration for a page that is not of this command."""
    lines = page.splitlines()
    protocol = next(line for line in lines if line.startswith(PROTOCOL))
    return protocol.removeprefix(PROTOCOL), next(line for line in lines if line.startswith(MACHINE))


def as_markdown(runs: Sequence[Run], protocol: str, machine: str) -> str:
    """The whole page."""
    tables = Tables(runs)
    late = round(100 * (GRACE - 1))
    lines = [
        "# Benchmark",
        "",
        f"{PROTOCOL}{protocol}",
        "",
        machine,
        "",
        "**Methods**, one after another on every case and seed, each with the same cores and seconds, and each plan",
        "wired and judged: the *engine*; *plain annealing*, the same compiled moves in plain restarts on all cores; a",
        "*plain exact model* in CP-SAT, a Boolean for each part, shape and hole, stating included in its time; and,",
        "for the bound on boards that are not cut, a *MIP of the relaxation* solved by HiGHS (one seed). Compiling is",
        "left out.",
        "",
        "**Figures.** Cost is jumpers + 0.8 x cuts. Means are over the seeds of a case, then over the cases of a line.",
        "A ratio is taken case by case, where both have plans; its median is shown with the least and the greatest;",
        "where the engine's plan costs nothing and the other's does, there is none.",
        f"What comes more than {late} % after the limit does not count in costs and bounds. `4 of 6`: so many of the",
        "runs got there.",
        "**Bold**: a baseline wins.",
        "",
        *tables.summary(),
        "",
        "## Cost",
        "",
        "Mean, and in brackets the mean spread from the best to the worst seed.",
        "",
        *tables.costs(),
        "",
        "## Bound",
        "",
        "Mean of the proved lower bounds; *engine / best*: how much of the best cost known the engine's bound reaches.",
        "",
        *tables.bounds(),
        "",
        "## Time",
        "",
        "Median seconds to the first checked plan, and to one *near best*: within",
        f"{round(100 * NEAR - 100)} % of the best cost known. Late plans are counted here.",
        "",
        *tables.times(),
        "",
        "![Cost and bound against time](benchmark-anytime.png)",
        "",
        "![Time against number of parts](benchmark-growth.png)",
        "",
        "## Where a baseline wins",
        "",
        *tables.lost(),
        "",
        "## Runs that broke down, and plans that were refused",
        "",
        *tables.broken(),
        "",
        "## Each case",
        "",
        "Mean cost, and in brackets from the best to the worst seed.",
        "",
        *tables.each(),
        "",
        "Made by `python -m tests.bench.run`; all runs with their curves are in `benchmark.csv`.",
        "",
    ]
    return "\n".join(lines)
