"""The benchmark command runs what its protocol says, and publishes it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.bench import annealing
from tests.bench.boards import made_case
from tests.bench.record import read_runs
from tests.bench.run import METHODS, Protocol, attempt, main
from tests.bench.table import Tables

PROTOCOL = Protocol((10, 150), 2, ("hive-lantern",), ("five-hole", "long-strip"), tuple(METHODS), 20.0, 3, 2)


def test_cases_come_by_size_on_every_kind_of_board() -> None:
    names = [make().name for make in PROTOCOL.cases()]
    assert names[:4] == [f"{name} on {kind}" for name in ("hive-lantern", "made-10-1") for kind in PROTOCOL.kinds]
    assert len(names) == 2 * (1 + 2 * 2)


def test_each_method_is_run_where_it_applies() -> None:
    small, large = made_case(10, 1, "five-hole"), made_case(150, 1, "five-hole")
    jobs = list(PROTOCOL.jobs(small))
    assert jobs[:4] == [("engine", 1), ("annealing", 1), ("exact", 1), ("mip", 1)], "they take turns"
    assert len(jobs) == 3 * 3 + 1
    assert ("exact", 1) not in list(PROTOCOL.jobs(large))
    assert all(method != "mip" for method, _ in PROTOCOL.jobs(made_case(10, 1, "long-strip")))


def test_large_circuits_get_more_time() -> None:
    assert [PROTOCOL.limit(parts) for parts in (10, 80, 160, 400)] == [20, 20, 40, 100]
    text = str(PROTOCOL)
    assert "At most 20 s a run up to 80 parts, and 0.25 s a part above that; seeds 1 to 3; workers: 2." in text
    assert "demo circuits hive-lantern on five-hole-63 and long-strip-39x60" in text


def test_the_command_runs_publishes_and_draws_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    few = ["--quick", "--demos", "--sizes", "10", "--only", "five-hole", "--workers", "1"]
    assert main([*few, "--seconds", "1", "--methods", "engine", "annealing", "mip", "--out", str(tmp_path)]) == 0
    runs = read_runs(tmp_path / "benchmark.csv")
    assert [run.method for run in runs] == ["engine", "plain annealing", "MIP of the relaxation"]
    assert runs[0].last.cost is not None
    assert runs[1].last.cost is not None
    assert runs[2].last.bound <= min(runs[0].last.cost, runs[1].last.cost)
    said = [line for line in capsys.readouterr().out.splitlines() if line.startswith("made-10-1 on five-hole, seed 1")]
    assert len(said) == 3
    page = (tmp_path / "benchmark.md").read_text(encoding="utf-8")
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {"benchmark.csv", "benchmark.md", "benchmark-anytime.png", "benchmark-growth.png"}
    assert main(["--redraw", "--out", str(tmp_path)]) == 0
    assert (tmp_path / "benchmark.md").read_text(encoding="utf-8") == page


def test_a_method_that_breaks_down_is_noted(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("out of paper")

    monkeypatch.setattr(annealing, "run", broken)
    run = attempt("annealing", made_case(10, 1, "five-hole"), 1, 5.0, 1)
    assert (run.method, run.note, run.last.cost) == ("plain annealing", "failed: RuntimeError: out of paper", None)
    assert "out of paper" in capsys.readouterr().err
    assert Tables([run]).broken() == [
        "- plain annealing, made-10-1 on five-hole, seed 1: failed: RuntimeError: out of paper"
    ]


def test_nothing_to_run_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(SystemExit):
        main(["--only", "no such case", "--out", str(tmp_path)])
