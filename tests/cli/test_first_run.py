"""A first run after installation that is ended while it compiles leaves no process behind."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from placer.cli import main

ROOT = Path(__file__).parents[2]
LANTERN = ROOT / "netlists" / "hive-lantern.yaml"

pytestmark = pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="children are looked up in /proc")


def children(pid: int) -> list[int]:
    return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii").split()]


def alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGKILL, -9)])
def test_a_first_run_that_is_ended_leaves_no_process_behind(tmp_path, number, code):
    environment = {**os.environ, "XDG_CACHE_HOME": str(tmp_path / "cache"), "PYTHONPATH": str(ROOT)}
    environment.pop("NUMBA_CACHE_DIR", None)
    command = ["plan", str(LANTERN), "--board", "five-hole-30", "--out", str(tmp_path / "x")]
    process = subprocess.Popen(
        [sys.executable, "-m", "placer.cli", *command],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment,
        cwd=tmp_path,
    )
    if code == 130:
        assert any("compiling" in line and "cost" in line for line in process.stderr), "no first plan while it compiles"
    while not (left := children(process.pid)):
        assert process.poll() is None, "nothing compiles beside the run"
    process.send_signal(number)
    out, err = process.communicate(timeout=60)
    assert process.returncode == code
    assert "Traceback" not in err
    if code == 130:
        assert "best checked plan so far" in out
        assert main(["check", str(tmp_path / "x" / "plan.json")]) == 0
    for _ in range(200):
        if not any(map(alive, left)):
            return
        time.sleep(0.05)
    pytest.fail("processes outlive the run that started them")
