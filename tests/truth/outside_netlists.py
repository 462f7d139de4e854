"""Netlists that nobody here wrote, fetched when they are wanted and never kept in the repository; and a plain count.

gnucap's examples (Debian package gnucap, GPL-3) and PySpice's (source archive on the Python package index, GPL-3) are
read where they are reachable. The counting below shares no code with the reader.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tarfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from tests.outside import missing

ROOT = Path(__file__).resolve().parents[2]
CACHE = ROOT / ".pytest_cache" / "outside-netlists"


@cache
def gnucap() -> tuple[Path, ...]:
    """The examples of gnucap; skips the test where they cannot be had."""
    folder = CACHE / "gnucap"
    if not folder.is_dir():
        if shutil.which("apt-get") is None or shutil.which("dpkg-deb") is None:
            missing("the examples of gnucap need apt-get and dpkg-deb")
        CACHE.mkdir(parents=True, exist_ok=True)
        _run(["apt-get", "download", "-q", "gnucap"], "the Debian package gnucap cannot be downloaded")
        package = sorted(CACHE.glob("gnucap_*.deb"))[-1]
        unpacked = CACHE / "gnucap.new"
        _run(["dpkg-deb", "-x", str(package), str(unpacked)], "the Debian package gnucap cannot be unpacked")
        unpacked.rename(folder)
    return tuple(sorted(folder.rglob("*.ckt")))


@cache
def pyspice() -> tuple[Path, ...]:
    """The examples of PySpice 1.5; skips the test where they cannot be had."""
    folder = CACHE / "pyspice"
    if not folder.is_dir():
        CACHE.mkdir(parents=True, exist_ok=True)
        fetch = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--no-binary", ":all:", "PySpice==1.5"]
        _run(fetch, "the source archive of PySpice 1.5 cannot be downloaded")
        unpacked = CACHE / "pyspice.new"
        with tarfile.open(next(CACHE.glob("[Pp]y[Ss]pice-1.5.tar.gz"))) as archive:
            archive.extractall(unpacked, filter="data")
        unpacked.rename(folder)
    return tuple(sorted(folder.rglob("*.cir")))


def _run(command: list[str], otherwise: str) -> None:
    try:
        subprocess.run(command, cwd=CACHE, check=True, capture_output=True, timeout=240)
    except (OSError, subprocess.SubprocessError) as err:
        missing(f"{otherwise}: {err}")


def logical_lines(text: str) -> Iterator[str]:
    """The lines of a netlist as they stand after its title, without comments, scripts, and what follows the end."""
    held: str | None = None
    script = False
    for line in re.split(r"\r\n|\r|\n", text)[1:]:
        plain = re.split(r";|(?:^|\s)\$(?:\s|$)|(?:^|\s)//", line)[0].strip()
        low = plain.lower()
        if script or low == ".control":
            script = low != ".endc"
        elif not plain or plain[0] in "*#'":
            continue
        elif plain[0] == "+":
            held = f"{held} {plain[1:]}" if held is not None else None
        else:
            if held is not None:
                yield held
            if re.match(r"\.end($|\W)", low):
                return
            held = plain
    if held is not None:
        yield held


def count(text: str) -> int:
    """How many elements a netlist states, those of subcircuits each once."""
    return sum(1 for line in logical_lines(text) if line[0] != ".")


def includes(text: str) -> bool:
    """Tell whether a netlist takes in other files or sections."""
    return any(re.match(r"\.(inc|lib)", line.lower()) for line in logical_lines(text))
