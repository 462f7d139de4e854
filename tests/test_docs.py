"""What the documents say is so: commands, options, examples, names, paths."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
import typer.main

from placer.boards.catalogue import load_board, names
from placer.boards.loader import read_board
from placer.boards.selfcheck import faults_of
from placer.circuit.model import HABITS, Place
from placer.circuit.read import read_circuit_file
from placer.circuit.read_yaml import read_circuit
from placer.circuit.shared import KEYS
from placer.cli import app
from placer.errors import Exit
from placer.packages.catalogue import lookup
from placer.plan.model import Options
from placer.planning import Checked
from placer.solve.api import Request
from placer.solve.room import shortage
from placer.solve.run import solve

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
DOCUMENTS = {"README.md": README, "DEVELOPERS.md": DEVELOPERS}

COMMANDS = typer.main.get_command(app).commands
ROOMS = ("placer/", "tests/", "netlists/", "outputs/", ".ci/")


def blocks(text: str, language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def spans(text: str) -> list[str]:
    """Everything in backticks, code blocks left out."""
    return re.findall(r"`([^`\n]+)`", re.sub(r"^```.*?^```$", "", text, flags=re.MULTILINE | re.DOTALL))


def shell_lines(text: str) -> list[str]:
    return [line for block in blocks(text, "sh") for line in block.splitlines() if line.strip()]


def placer_calls(text: str) -> list[list[str]]:
    """The arguments of every call of placer in a text: in shell blocks, and in backticks where a command follows."""
    pieces = [part.strip() for line in shell_lines(text) for part in line.split("&&")] + spans(text)
    return [shlex.split(piece)[1:] for piece in pieces if re.match(r"(\S*/)?placer ", piece)]


def options_of(command: str) -> set[str]:
    parameters = COMMANDS[command].params
    return {name for p in parameters for name in (*p.opts, *p.secondary_opts) if name.startswith("--")} - {"--help"}


YAML_EXAMPLES = blocks(README, "yaml")
CIRCUITS = [text for text in YAML_EXAMPLES if text.startswith("circuit:")]
BOARDS = [text for text in YAML_EXAMPLES if text.startswith("board:")]
MAPS = [text for text in YAML_EXAMPLES if text.startswith("elements:")]
SPICE = blocks(README, "spice")


# --- commands ------------------------------------------------------------------------------------------------------


def test_the_job_stands_first_and_the_two_commands_follow() -> None:
    lines = README.splitlines()
    assert lines[0] == "# placer"
    job = README.split("\n\n")[1]
    assert job.startswith("placer takes a circuit")
    run, test = shell_lines(README)[:2]
    for command in (run, test):
        assert command.startswith("python3 -m venv .venv && .venv/bin/python -m pip install ")
    assert " placer plan netlists/" in run.replace(".venv/bin/", " ")
    assert test.endswith(" -m pytest -n 2 --dist loadfile")
    assert README.index(run) < README.index(test) < README.index("![") < README.index("\n## ")


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_call_shown_is_one_that_the_commands_take(name: str) -> None:
    calls = placer_calls(DOCUMENTS[name])
    assert calls
    for command, *arguments in calls:
        if command.startswith("-"):
            assert command in ("--version", "--help")
            continue
        assert command in COMMANDS, command
        # Brackets mark what may be left out.
        words = [word.strip("[]") for word in arguments]
        COMMANDS[command].make_context(command, words or ["X"])


def test_every_option_is_told_and_every_told_option_exists() -> None:
    exist = {option for command in COMMANDS for option in options_of(command)} | {"--version"}
    told = {option for span in spans(README) for option in re.findall(r"(?<![\w-])--[a-z][a-z-]*", span)}
    assert told - exist == set()
    assert exist - told == set()


def test_every_command_has_a_line() -> None:
    assert set(re.findall(r"^\| `placer (\w+)", README, re.MULTILINE)) == set(COMMANDS)


def test_every_exit_code_is_told() -> None:
    told = {int(code) for code in re.findall(r"^\| (\d+) \|", README, re.MULTILINE)}
    assert told == {int(code) for code in Exit} | {70}


def test_the_files_of_a_plan_are_told(tmp_path: Path) -> None:
    from placer.guide.write import write_guide
    from tests.check.bridged import link
    from tests.guide.plans import lantern

    written = {path.name for plan in (lantern(), link()) for path in write_guide(plan, tmp_path)} | {"plan.json"}
    assert set(re.findall(r"^\| `([\w.]+\.(?:json|svg|csv|ipc|html|pdf))` \|", README, re.MULTILINE)) == written


# --- examples ------------------------------------------------------------------------------------------------------


def test_there_are_examples_of_both_kinds() -> None:
    assert len(CIRCUITS) >= 2
    assert len(BOARDS) >= 3
    assert len(CIRCUITS) + len(BOARDS) + len(MAPS) == len(YAML_EXAMPLES)
    assert len(MAPS) == len(SPICE) == 1


def test_the_netlist_example_and_its_map_read_without_a_warning_and_are_the_demo(tmp_path: Path) -> None:
    (tmp_path / "example.cir").write_text(SPICE[0], encoding="utf-8")
    (tmp_path / "map.yaml").write_text(MAPS[0], encoding="utf-8")
    circuit, warnings = read_circuit_file(tmp_path / "example.cir", tmp_path / "map.yaml")
    assert warnings == ()
    demo = ROOT / "netlists" / "hive-heater-driver.cir"
    known, _ = read_circuit_file(demo, demo.with_suffix(".parts.yml"))
    assert (circuit.parts, circuit.nets) == (known.parts, known.nets)


@pytest.mark.parametrize("text", CIRCUITS, ids=lambda text: text.split("\n")[0])
def test_a_circuit_example_reads_without_a_warning_and_has_room(text: str) -> None:
    circuit, warnings = read_circuit(Path("example.yaml"), text=text)
    assert warnings == ()
    assert shortage(circuit, load_board("five-hole-30"), Options(allow_cuts=False)) == ()


@pytest.mark.parametrize("text", CIRCUITS, ids=lambda text: text.split("\n")[0])
def test_a_circuit_example_has_a_plan(text: str) -> None:
    """Wishes included: an example that cannot be built teaches nothing."""
    circuit, _ = read_circuit(Path("example.yaml"), text=text)
    request = Request(circuit, load_board("five-hole-30"), Options(allow_cuts=False), seconds=None, effort=2)
    assert solve(request, Checked()).plan is not None


@pytest.mark.parametrize("text", BOARDS, ids=lambda text: text.split("\n")[0])
def test_a_board_example_is_short_and_sound(text: str) -> None:
    assert len(text.splitlines()) < 30
    assert faults_of(read_board(Path("example.yaml"), text=text)) == ()


def test_the_wishes_told_are_the_ones_there_are() -> None:
    rows = re.findall(r"^\| `(\w+): (.+?)` \|", README.split("## Wishes")[1].split("\n## ")[0], re.MULTILINE)
    assert {name for name, _ in rows} == set(Place.__dataclass_fields__)
    for name, value in rows:
        text = (
            "circuit: c\nparts:\n  REG1: {package: to-220}\n  U1: {package: dip-8}\n"
            f"  R1: {{package: axial-0207, place: {{{name}: {value}}}}}\n"
            "nets: {A: [R1.1, U1.8, REG1.1], B: [R1.2, U1.1, REG1.2]}\n"
        )
        assert read_circuit(Path("wish.yaml"), text=text)[0].part_by_ref["R1"].place != Place()


def test_the_shared_wishes_and_habits_told_are_the_ones_there_are() -> None:
    tables = README.split("## Wishes")[1].split("\n## ")[0].split("\n\n")
    told = [re.findall(r"^\| `(\w+)` \|", table, re.MULTILINE) for table in tables]
    assert list(KEYS) in told
    assert list(HABITS) in told


def test_the_boards_told_are_the_catalogues() -> None:
    table = README.split("## Boards")[1].split("\n\n")[1]
    assert sorted(re.findall(r"`([\w-]+)`", table)) == sorted(names())
    for board in re.findall(r"`((?:five-hole|long-strip|three-hole|single-pad)[\w-]*)`", README):
        load_board(board)


def test_the_packages_told_exist() -> None:
    for call in placer_calls(README):
        if call[0] == "parts" and len(call) > 1 and call[1] != "[NAME]":
            lookup(call[1])
    for name in ("barrel-jack", "pad-3"):
        lookup(name)


@pytest.mark.parametrize("name", DOCUMENTS)
def test_prose_is_wrapped(name: str) -> None:
    prose = re.sub(r"^```.*?^```$", "", DOCUMENTS[name], flags=re.MULTILINE | re.DOTALL).splitlines()
    assert [line for line in prose if len(line) > 120 and not line.startswith(("|", "!["))] == []


# --- paths ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_link_and_picture_leads_to_a_file(name: str) -> None:
    for target in re.findall(r"\]\(([^)#\s]+)\)", DOCUMENTS[name]):
        assert not Path(target).is_absolute()
        assert (ROOT / target).exists(), f"{name} names {target}, which does not exist"


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_path_in_backticks_exists(name: str) -> None:
    for span in spans(DOCUMENTS[name]):
        if span.startswith(ROOMS) and not re.search(r"[*<>{}]|[A-Z]{2}", span):
            assert (ROOT / span).exists(), f"{name} names {span}, which does not exist"


def test_the_map_names_every_module() -> None:
    """DEVELOPERS.md has a line for each module, under the name of its folder."""
    told: set[str] = set()
    for room, table in re.findall(r"^### `placer/([\w/]*?)/?`.*?\n(.*?)(?=^##)", DEVELOPERS, re.MULTILINE | re.DOTALL):
        rows = re.findall(r"^\| (`.+?`) \|", table, re.MULTILINE)
        told |= {f"{room}/{module}".lstrip("/") for row in rows for module in re.findall(r"\w+\.py", row)}
    there = {
        path.relative_to(ROOT / "placer").as_posix()
        for path in (ROOT / "placer").rglob("*.py")
        if path.name != "__init__.py"
    }
    assert sorted(there - told) == [], "these modules have no line in DEVELOPERS.md"
    assert sorted(told - there) == [], "these modules of DEVELOPERS.md are gone"
