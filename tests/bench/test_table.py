"""Tables and figures of the benchmark from runs that are written out here, so that every figure can be worked out."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from PIL import Image

from tests.bench import annealing, engine, exact, figures, relaxed
from tests.bench.figures import exponent, median_curve
from tests.bench.record import Point, Run, read_runs, write_runs
from tests.bench.table import Tables, as_markdown, best_costs, told

Found = tuple[float, float | None, float]


def run_of(method: str, circuit: str, seed: int, *points: Found, kind: str = "five-hole") -> Run:
    """A run limited to 10 s. ``points``: seconds, cost, bound."""
    parts = int(circuit.split("-")[1]) if circuit.startswith("made-") else 12
    made = tuple(Point(s, c, None if c is None else int(c), 0, b) for s, c, b in points)
    return Run(method, circuit, kind, f"{circuit}-board", parts, 8, seed, 10.0, 10.0, "", made)


ENGINE, PLAIN, EXACT, MIP = engine.METHOD, annealing.METHOD, exact.METHOD, relaxed.METHOD
RUNS = [
    # Costs of the engine 20 and 22, mean 21; plain annealing 20 and 18, mean 19; the best known is 18.
    run_of(ENGINE, "made-40-1", 1, (0.5, 30, 0), (2.0, 20, 4), (9.0, 20, 6)),
    run_of(PLAIN, "made-40-1", 1, (0.25, 24, 0), (4.0, 20, 0)),
    run_of(EXACT, "made-40-1", 1),
    run_of(MIP, "made-40-1", 1, (1.0, None, 7)),
    run_of(ENGINE, "made-40-1", 2, (0.75, 22, 2), (8.0, 22, 4)),
    run_of(PLAIN, "made-40-1", 2, (0.26, 19, 0), (5.0, 18, 0)),
    run_of(EXACT, "made-40-1", 2, (9.5, 40, 1)),
    # 10 for both; the engine's proof.
    run_of(ENGINE, "made-40-2", 1, (0.25, 12, 0), (1.0, 10, 10)),
    run_of(PLAIN, "made-40-2", 1, (0.5, 10, 0)),
    # A demo circuit: the engine has its plan too late, the exact model its own in time.
    run_of(ENGINE, "smoker-lamp", 1, (14.0, 5, 0), kind="long-strip"),
    run_of(EXACT, "smoker-lamp", 1, (6.0, 6, 2), kind="long-strip"),
]
TABLES = Tables(RUNS)


def cells(lines: list[str], start: str) -> list[str]:
    (line,) = (line for line in lines if line.startswith(f"| {start} "))
    return [cell.strip() for cell in line.strip("|").split("|")]


def test_costs_are_means_of_seeds_and_then_of_cases() -> None:
    row = cells(TABLES.costs(), "40")
    # Engine: (21 + 10) / 2, spread (2 + 0) / 2. Plain annealing: (19 + 10) / 2, spread 1. Exact: 40, one of two runs.
    # Ratios of plain annealing: 19 / 21 = 0.905 and 1, median 0.95; of the exact model 40 / 21 = 1.90.
    assert row[2:5] == ["15.5 (1.0)", "14.5 (1.0)", "40.0 (0.0, 1 of 2)"]
    assert row[5:] == ["0.95 (0.90 to 1.00)", "1.90", "**plain annealing**"]


def test_what_comes_too_late_is_no_plan() -> None:
    assert cells(TABLES.costs(), "demo, 12")[2:] == [
        "none of 1",
        "not run",
        "6.0 (0.0)",
        "",
        "",
        "**plain exact model**",
    ]
    assert best_costs(RUNS)["smoker-lamp", "long-strip"] == 5, "but it is known that there is such a plan"
    assert "- The engine: 4 runs, 1 ended with a proof, 1 without a plan in time (1 of them had one late)." in (
        TABLES.summary()
    )


def test_bounds_are_told_against_the_best_cost_known() -> None:
    # Best known: (18 + 10) / 2. Engine: ((6 + 4) / 2 + 10) / 2. Engine / best: 5 / 18 and 10 / 10, median 0.64.
    row = cells(TABLES.bounds(), "40")
    assert row[2:] == ["14.0", "7.5", "0.5", "7.0", "0.64 (0.28 to 1.00)", "engine"]
    assert cells(TABLES.bounds(), "demo, 12")[-1] == "**plain exact model**"


def test_times_are_medians_and_say_how_many_got_there() -> None:
    row = cells(TABLES.times(), "40")
    # First plans of the engine after 0.25, 0.5 and 0.75 s. Near the best: no more than 19.8, and 11.
    assert row[2:5] == ["0.50", "0.26", "9.50 (1 of 2)"]
    assert row[5:8] == ["1.00 (1 of 3)", "0.38 (2 of 3)", "none of 2"]
    assert row[8] == "1.00"


def test_a_plan_that_costs_nothing_gives_no_ratio_but_wins() -> None:
    free = [run_of(ENGINE, "made-10-1", 1, (1.0, 0, 0)), run_of(PLAIN, "made-10-1", 1, (1.0, 5, 0))]
    assert cells(Tables(free).costs(), "10")[5:] == ["", "", "engine"]
    assert Tables(free).summary()[0].endswith("over 1 cases; the engine is cheaper in 1, equal in 0, dearer in 0.")


def test_defeats_are_told_in_words() -> None:
    assert TABLES.lost() == [
        "- demo, 12 parts, long-strip: plain exact model has 1 plans in time, the engine 0.",
        "- demo, 12 parts, long-strip: plain exact model has the better bound, 2.0 against 0.0.",
        "- 40 parts, five-hole: plain annealing is 4.8 % cheaper, mean of 2 cases.",
    ]
    assert Tables(RUNS[7:9]).lost() == ["Nowhere, in these runs."]


def test_every_table_has_a_cell_for_every_head() -> None:
    for lines in (TABLES.costs(), TABLES.bounds(), TABLES.times(), TABLES.each()):
        assert len({line.count("|") for line in lines}) == 1
    assert cells(TABLES.each(), "made-40-1")[4:] == [
        *("10", "21.0 (20 to 22)", "19.0 (18 to 20)", "40.0, 1 of 2", "18", "7", "MIP of the relaxation")
    ]


def test_the_page_keeps_protocol_and_machine() -> None:
    page = as_markdown(RUNS, "Two circuits.", "Machine: 2 cores.")
    assert told(page) == ("Two circuits.", "Machine: 2 cores.")
    assert page == as_markdown(RUNS, *told(page))


def test_runs_come_back_from_the_file_as_they_were(tmp_path: Path) -> None:
    write_runs(tmp_path / "runs.csv", RUNS)
    assert list(read_runs(tmp_path / "runs.csv")) == RUNS


def test_a_median_curve_has_no_value_while_half_of_the_runs_have_none() -> None:
    three = [run_of(ENGINE, "made-10-1", k, *points) for k, points in enumerate((((1, 9, 0),), ((2, 5, 0),), ()))]
    curve = median_curve(three, [0.5, 1.5, 2.5], lambda point: point.cost)
    assert math.isnan(curve[0])
    assert math.isnan(curve[1])
    assert curve[2] == 9


def test_the_exponent_is_that_of_the_power() -> None:
    sizes = [10, 20, 40, 80]
    assert exponent(sizes, [0.01 * n**1.5 for n in sizes]) == pytest.approx(1.5)
    assert exponent([40, 40], [1.0, 2.0]) is None


def test_both_figures_are_drawn_also_of_runs_without_plans(tmp_path: Path) -> None:
    for name, runs in (("all", RUNS), ("none", [run_of(ENGINE, "made-40-1", 1)])):
        figures.anytime(runs, tmp_path / f"{name}-anytime.png")
        figures.growth(runs, tmp_path / f"{name}-growth.png")
    for path in tmp_path.glob("*.png"):
        with Image.open(path) as image:
            assert min(image.size) > 200


def test_methods_differ_in_more_than_colour() -> None:
    looks = [(look["marker"], figures.LINES[method]) for method, look in figures.LOOKS.items()]
    assert len({marker for marker, _ in looks}) == len({line for _, line in looks}) == len(looks)
