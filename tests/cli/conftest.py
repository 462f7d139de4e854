"""A finished run, made once, and a way to run commands in this process."""

import json
import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest

from placer.cli import main

NETLISTS = Path(__file__).parents[2] / "netlists"
LANTERN = NETLISTS / "hive-lantern.yaml"


@dataclass(frozen=True)
class Ran:
    code: int
    out: str
    err: str

    @property
    def json(self):
        return json.loads(self.out)


@pytest.fixture
def run(capsys, monkeypatch, tmp_path):
    """``run("plan", "x.yaml")`` in an empty folder; no run may ever print a traceback."""
    monkeypatch.chdir(tmp_path)

    def run_command(*arguments: object) -> Ran:
        capsys.readouterr()
        code = main([str(argument) for argument in arguments])
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return Ran(int(code), out, err)

    return run_command


@pytest.fixture(scope="session")
def finished(tmp_path_factory) -> Path:
    """The folder of a finished run of the hive lantern."""
    folder = tmp_path_factory.mktemp("finished") / "plan"
    code = main(["plan", str(LANTERN), "--board", "five-hole-30", "--out", str(folder), "--effort", "1", "--quiet"])
    assert code == 0
    return folder


@pytest.fixture
def earlier(finished, tmp_path) -> Path:
    """An output folder that holds a good earlier plan."""
    folder = tmp_path / "earlier"
    shutil.copytree(finished, folder)
    return folder


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below a folder, hidden ones too."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}
