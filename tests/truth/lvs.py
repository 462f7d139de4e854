"""Asks netgen-lvs, an independent netlist comparer, whether two netlists are the same circuit.

What its answers are worth was measured on Debian's netgen-lvs 1.5.133: the exit status is always 0, so only its text
counts; each part is an element of a class ``package_value`` and is never looked into (``-blackbox``), lest unequal
classes be flattened away; and the circuit stands in ``top`` twice, for on small circuits a single copy let some
exchanged pins pass. It compares up to renaming; that each part has its own pins is checked elsewhere, by name.
"""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass
from pathlib import Path

from tests.outside import need
from tests.truth.netlist import Device, Netlist

MATCH = "Result: Circuits match uniquely."


@dataclass(frozen=True)
class Verdict:
    """``equal``: the comparer's answer; ``text``: all that it said."""

    equal: bool
    text: str


def class_name(device: Device) -> str:
    """A class for package and value. The comparer ignores case, so capitals and signs are written as their code."""
    return re.sub(r"[^a-z0-9]", lambda m: f"_{ord(m[0]):x}_", f"{device.package} {device.value}")


def spice(netlist: Netlist, title: str) -> str:
    """The netlist as ``.subckt top``, written twice inside without common nodes."""
    numbers: dict[str, int] = {}
    for device in netlist.values():
        for node in device.nodes.values():
            numbers.setdefault(node, len(numbers) + 1)
    lines = [f"* {title}", ".subckt top"]
    for copy in "ab":
        for index, device in enumerate(netlist.values(), start=1):
            nodes = " ".join(f"n{numbers[node]}{copy}" for node in device.nodes.values())
            lines.append(f"X{index}{copy} {nodes} {class_name(device)}")
    return "\n".join([*lines, ".ends", ""])


def setup(*netlists: Netlist) -> str:
    """The comparer's set-up: parallel parts stay apart, and leads of symmetric parts may be exchanged."""
    classes = {class_name(d) for netlist in netlists for d in netlist.values() if d.symmetric}
    lines = ["property parallel none"]
    for name in sorted(classes):
        lines += [f'permute "-circuit{side} {name}" 1 2' for side in (1, 2)]
    return "\n".join([*lines, ""])


def compare(source: Netlist, copper: Netlist, folder: Path) -> Verdict:
    """Run the comparer in ``folder``. Skips the test where the program is missing."""
    program = need("netgen-lvs")
    (folder / "source.sp").write_text(spice(source, "source"), encoding="ascii")
    (folder / "copper.sp").write_text(spice(copper, "copper"), encoding="ascii")
    (folder / "setup.tcl").write_text(setup(source, copper), encoding="ascii")
    report = folder / "report.txt"
    report.unlink(missing_ok=True)
    run = subprocess.run(
        [program, "-batch", "lvs", "source.sp top", "copper.sp top", "setup.tcl", report.name, "-blackbox"],
        cwd=folder,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    text = run.stdout + run.stderr
    results = [line.strip() for line in text.splitlines() if line.startswith("Result:")]
    equal = results == [MATCH] and "roperty errors" not in text and report.exists()
    return Verdict(equal, text)
