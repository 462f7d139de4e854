"""The SPICE that is written, before outside judges: ngspice parses it, netgen-lvs finds circuit and copper equal."""

from __future__ import annotations

import re
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from placer.circuit.model import Circuit
from placer.circuit.write_spice import circuit_to_spice
from placer.plan.file import read_plan
from placer.plan.readback import readback
from tests.circuits.test_demo_circuits import NAMES, load
from tests.outside import need
from tests.truth.lvs import MATCH

pytestmark = pytest.mark.outside
PLANS = Path(__file__).resolve().parents[2] / "outputs"


@pytest.mark.parametrize("name", NAMES)
def test_ngspice_parses_it(name: str, tmp_path: Path) -> None:
    program = need("ngspice")
    text = circuit_to_spice(load(name))
    # listing expand prints what was understood, without a simulation.
    deck = text.replace("\n.end\n", "\n.control\nlisting expand\nquit\n.endc\n.end\n")
    (tmp_path / "c.cir").write_text(deck, encoding="utf-8")
    run = subprocess.run(
        [program, "-b", "c.cir"], cwd=tmp_path, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60,
        check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stdout + run.stderr
    assert not re.search(r"(?i)error|unknown|warning", run.stderr), run.stderr
    for line in text.splitlines():
        if re.match(r"[RCD]\w+ ", line):
            understood = re.sub(r"\bgnd\b", "0", line.lower())  # the two names of one node
            assert understood in run.stdout.lower()


def twice(circuit: Circuit) -> tuple[str, list[str]]:
    """The written elements twice inside ``top``, as the comparer needs it, and the classes whose leads may turn."""
    names: dict[str, str] = {}
    lines = []
    turns = []
    for part, line in zip(circuit.parts, re.findall(r"^[A-Z]\S* .*$", body(circuit), re.MULTILINE), strict=True):
        _, *nodes, tail = line.split(" ")
        package = circuit.package_of(part.ref)
        cell = re.sub(r"\W", lambda m: f"_{ord(m[0]):x}_", f"{part.package}_{tail}")
        turns += [cell] if package.symmetric else []
        for copy in "ab":
            shown = " ".join(f"{names.setdefault(node.lower(), f'n{len(names)}')}{copy}" for node in nodes)
            lines.append(f"X{len(lines)}{copy} {shown} {cell}")
    return "\n".join(["* netlist", ".subckt top", *lines, ".ends", ""]), turns


def body(circuit: Circuit) -> str:
    lines = circuit_to_spice(circuit).splitlines()[1:]
    return "\n".join(line for line in lines if line[:1] not in ("*", "."))


def equal(one: Circuit, other: Circuit, folder: Path) -> bool:
    program = need("netgen-lvs")
    (first, turns), (second, more) = twice(one), twice(other)
    (folder / "a.sp").write_text(first, encoding="utf-8")
    (folder / "b.sp").write_text(second, encoding="utf-8")
    setup = ["property parallel none"]
    for cell in sorted({*turns, *more}):
        setup += [f'permute "-circuit{side} {cell}" 1 2' for side in (1, 2)]
    (folder / "setup.tcl").write_text("\n".join([*setup, ""]), encoding="utf-8")
    run = subprocess.run(
        [program, "-batch", "lvs", "a.sp top", "b.sp top", "setup.tcl", "out.txt", "-blackbox"],
        cwd=folder, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    results = [line.strip() for line in run.stdout.splitlines() if line.startswith("Result:")]
    return results == [MATCH] and "roperty errors" not in run.stdout


@pytest.mark.parametrize("name", NAMES)
def test_the_written_netlist_of_the_copper_is_the_circuits(name: str, tmp_path: Path) -> None:
    path = PLANS / name / "plan.json"
    plan = read_plan(path)
    copper = replace(plan.circuit, nets=tuple(reversed(readback(plan))))
    assert equal(plan.circuit, copper, tmp_path)
    wrong = tuple(replace(net, pins=net.pins[1:]) if n == 0 else net for n, net in enumerate(plan.circuit.nets))
    assert not equal(plan.circuit, replace(copper, nets=wrong), tmp_path)
