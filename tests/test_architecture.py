"""The rules of the house, read from the source itself: who may import whom, what stays out, what lies where."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from placer.boards.catalogue import families, load_board, names
from placer.boards.model import Board
from placer.check.judge import judge
from placer.circuit.model import Place
from placer.circuit.read_yaml import read_circuit
from placer.plan.model import Options, Plan
from placer.solve.api import Request
from placer.solve.run import solve
from tests.outside import need

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "placer"
MODULES = sorted(PACKAGE.rglob("*.py"))

LAYERS = (
    ("errors",),
    ("files", "marked", "report"),
    ("filekinds", "packages"),
    ("boards", "circuit"),
    ("plan",),
    ("check", "guide", "limits", "solve"),
    ("arguments", "choose", "interrupt", "netlist", "outputs", "progress"),
    ("guiding", "planning"),
    ("printing", "summary"),
    ("cli",),
    ("__main__",),
)
"""Rooms from the ground up. A room imports what lies below its layer; rooms of one layer know nothing of each other."""

SOLVERS = {"ortools", "numba"}
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "placer", "netlists", "tests", "outputs"}
LONGEST = 450
# Longer, with the reason. Nothing else may grow beyond LONGEST.
LONG: dict[str, str] = {}


def id_of(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


def room_of(module: str) -> str:
    """The room of a dotted module name: ``placer.check.fit`` is in ``check``, ``placer`` itself in ``errors``."""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else LAYERS[0][0]


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def imports_of(path: Path) -> Iterator[tuple[int, str]]:
    """Line and dotted name of everything imported anywhere in a module, inside functions too."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{id_of(path)}:{node.lineno}: imports are written in full"
            assert node.module is not None
            if node.module == "placer":
                yield from (
                    (node.lineno, f"placer.{alias.name}") for alias in node.names if alias.name != "__version__"
                )
            else:
                yield node.lineno, node.module


def tracked() -> list[str]:
    if not (ROOT / ".git").exists():
        pytest.skip("not a clone: which files belong to the project is not known")
    command = [need("git"), "-c", f"safe.directory={ROOT}", "ls-files", "-z"]
    listed = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    return [name for name in listed.stdout.split("\0") if name]


# --- imports -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", MODULES, ids=id_of)
def test_imports_go_down_only(path: Path) -> None:
    height = {room: layer for layer, rooms in enumerate(LAYERS) for room in rooms}
    own = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    if own == "__init__":
        assert not any(name.startswith("placer") for _, name in imports_of(path))
        return
    assert own in height, f"{own} has no layer: give it one in LAYERS"
    for line, name in imports_of(path):
        if name.split(".")[0] == "placer" and room_of(name) != own:
            assert height[room_of(name)] < height[own], f"{id_of(path)}:{line} imports {name}, which is not below it"


@pytest.mark.parametrize("path", MODULES, ids=id_of)
def test_only_the_search_imports_solvers(path: Path) -> None:
    found = {name.split(".")[0] for _, name in imports_of(path)} & SOLVERS
    assert not found or path.is_relative_to(PACKAGE / "solve")


def loaded_by(code: str) -> set[str]:
    """Top-level names of what is loaded after running ``code`` in a fresh interpreter."""
    shown = f"import sys\n{code}\nprint('\\nLOADED', *sorted({{name.split('.')[0] for name in sys.modules}}))"
    done = subprocess.run([sys.executable, "-c", shown], capture_output=True, text=True, check=True, cwd=ROOT)
    return set(done.stdout.split("LOADED")[1].split())


def test_help_loads_no_solver() -> None:
    loaded = loaded_by("from placer.cli import main\nassert main(['--help']) == 0")
    assert "placer" in loaded
    assert loaded & SOLVERS == set()


def test_planning_loads_no_constraint_solver_before_it_asks_one() -> None:
    """It takes a third of a second, and most boards have no strips to sever."""
    loaded = loaded_by("import placer.planning, placer.solve.beside, placer.solve.prover")
    assert "numba" in loaded
    assert "ortools" not in loaded


def test_judge_guide_and_all_below_load_no_solver() -> None:
    rooms = {room for layer in LAYERS[:6] for room in layer} - {"solve"}
    below = [p for p in MODULES if p.relative_to(PACKAGE).parts[0].removesuffix(".py") in rooms]
    assert len(below) > 40
    dotted = [".".join(("placer", *p.relative_to(PACKAGE).with_suffix("").parts)) for p in below]
    assert loaded_by("\n".join(f"import {name.removesuffix('.__init__')}" for name in dotted)) & SOLVERS == set()


# --- the engine and the judge take any board -----------------------------------------------------------------------


def board_words() -> set[str]:
    """What a special case would be recognised by: the names of the catalogue's families, without their numbers."""
    words = {re.sub(r"[-{\d].*", "", re.sub(r"-(?=[a-z])", "_", name)) for name in (*names(), *families())}
    return {word for word in words if "_" in word}


def code_words(path: Path) -> Iterator[tuple[int, str]]:
    """Identifiers and texts of a module's code; comments and docstrings may speak of what they like."""
    tree = tree_of(path)
    docstrings = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Name):
            yield node.lineno, node.id
        elif isinstance(node, ast.Attribute):
            yield node.lineno, node.attr
        elif isinstance(node, ast.arg):
            yield node.lineno, node.arg
        elif isinstance(node, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            yield node.lineno, node.name
        elif isinstance(node, ast.keyword) and node.arg:
            yield node.lineno, node.arg
        elif isinstance(node, ast.MatchClass):
            yield from ((node.lineno, word) for word in node.kwd_attrs)
        elif isinstance(node, ast.Import | ast.ImportFrom):
            named = [word for alias in node.names for word in (alias.name, alias.asname or "")]
            yield from ((node.lineno, word) for word in (*named, getattr(node, "module", None) or ""))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docstrings:
            yield node.lineno, node.value


ENGINE = [path for path in MODULES if id_of(path).startswith(("solve/", "check/"))]


def test_the_words_looked_for_are_those_of_the_catalogue() -> None:
    assert {"five_hole", "long_strip", "three_hole", "single_pad"} <= board_words()


def kinds_named(path: Path) -> list[str]:
    """Places of a module where its code names a kind of board, or asks whether a strip is called a rail."""
    kinds = board_words()
    return [
        f"line {line}: {word!r}"
        for line, word in code_words(path)
        if (plain := re.sub(r"(?<=[a-z])(?=[A-Z])|-", "_", word).lower().strip("_")) == "rail"
        or any(kind in plain for kind in kinds)
    ]


@pytest.mark.parametrize("path", ENGINE, ids=id_of)
def test_engine_and_judge_name_no_kind_of_board(path: Path) -> None:
    assert kinds_named(path) == []


SPECIAL_CASES = (
    'if board.name == "five-hole-30":\n    pass',
    'if board.name.startswith(f"long-strip-{rows}x"):\n    pass',
    "def cut_long_strip(board):\n    pass",
    "class ThreeHole:\n    pass",
    'match board.name:\n    case "single-pad-30x20":\n        pass',
    'limits = {"five-hole-63": 3}',
    "solve(board, five_hole=True)",
    "from tables import five_hole as table",
    "costs = [1 for strip in board.strips if strip.rail]",
    'getattr(strip, "rail")',
    "match strip:\n    case Strip(rail=True):\n        pass",
)


@pytest.mark.parametrize("code", SPECIAL_CASES)
def test_a_special_case_would_be_noticed(code: str, tmp_path: Path) -> None:
    module = tmp_path / "special.py"
    module.write_text(code + "\n", encoding="utf-8")
    assert kinds_named(module)
    module.write_text(f'"""{code.splitlines()[0].translate({34: 39})}"""\n', encoding="utf-8")
    tree_of.cache_clear()
    assert kinds_named(module) == [], "prose may speak of kinds of boards"


def plan_on(board: Board, circuit_name: str = "gate-blinker", *, cuts: bool = False) -> Plan:
    circuit, _ = read_circuit(ROOT / "netlists" / f"{circuit_name}.yaml")
    # Without wishes: which holes are at an edge does depend on what is a rail, and says so.
    circuit = replace(circuit, parts=tuple(replace(part, place=Place()) for part in circuit.parts))
    request = Request(circuit, board, Options(allow_cuts=cuts), seconds=None, effort=1, workers=1)
    plan = solve(request, lambda plan: judge(plan).faults).plan
    assert plan is not None
    return plan


@pytest.mark.parametrize("name", ["five-hole-30", "five-hole-inner-40", "long-strip-railed-24x37"])
def test_names_of_board_and_rails_do_not_steer_the_search(name: str) -> None:
    """The same copper under another name, its rails called strips and the others rails, gets the same plan."""
    board = load_board(name)
    strips = tuple(replace(strip, name=f"S{n}", rail=not strip.rail) for n, strip in enumerate(board.strips))
    renamed = replace(board, name="hive-lid", about="", strips=strips)
    first, second = plan_on(board, cuts=True), plan_on(renamed, cuts=True)
    assert first.placements == second.placements
    assert first.jumpers == second.jumpers
    assert first.cuts == second.cuts


# --- what lies where -----------------------------------------------------------------------------------------------


def test_the_top_level_holds_what_it_should() -> None:
    top = {name.split("/")[0] for name in tracked()}
    assert {name for name in top if not name.startswith(".")} <= TOP_LEVEL
    assert {"README.md", "DEVELOPERS.md", "pyproject.toml"} <= top


@pytest.mark.parametrize("path", MODULES, ids=id_of)
def test_modules_stay_small(path: Path) -> None:
    lines = len(path.read_text(encoding="utf-8").splitlines())
    assert lines < LONGEST or id_of(path) in LONG, f"{lines} lines: split it where it has two reasons to change"


def test_long_modules_are_still_long() -> None:
    for name in LONG:
        assert len((PACKAGE / name).read_text(encoding="utf-8").splitlines()) >= LONGEST, f"{name} needs no exception"


def test_the_version_stands_in_one_place() -> None:
    import placer

    version = re.escape(placer.__version__)
    holders = [name for name in tracked() if name.endswith((".py", ".toml")) and "tests/" not in name]
    found = [n for n in holders if re.search(rf"version\w*\s*=\s*[\"']{version}[\"']", (ROOT / n).read_text("utf-8"))]
    assert found == ["placer/__init__.py"]


# Put together from pieces, so that this file does not hold them.
LEFTOVERS = {
    "unfinished work": r"\b(?:TO" r"DO|FIX" r"ME|X" r"XX)\b",
    "a path of one machine": r"(?:^|[\s\"'`(=])/(?:wor" r"k|hom" r"e|roo" r"t|User" r"s|tm" r"p)/\w",
    "a debugger": r"\bbreak" r"point\(\)|\bpd" r"b\.set_trace",
    "a merge that was not finished": r"^(?:<{7}|>{7}) ",
}
# Addresses that are names, not places to fetch from: XML namespaces, and the published text of a standard.
ADDRESSES = ("http://www.w3.org/", "https://yaml.org/spec/")


def test_no_leftovers_and_no_addresses() -> None:
    found = []
    for name in tracked():
        path = ROOT / name
        if not path.is_file() or name.startswith("outputs/"):
            continue
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            found += [f"{name}:{number}: {what}" for what, sign in LEFTOVERS.items() if re.search(sign, line)]
            for address in re.findall(r"https?://[^\s\"'<>)`]+", line):
                if not address.startswith(ADDRESSES):
                    found.append(f"{name}:{number}: an address, {address}")
    assert found == []
