"""Source and copper have one operating point: outside netlists as they are, and with their nodes read from the copper.

The source deck is the outside file itself. The copper deck is the same file with the nodes of every element replaced
by the conductors that the plan's holes lead to. ngspice is asked for both; see :mod:`tests.truth.spice` for its traps.
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Mapping
from pathlib import Path

import pytest

from placer.boards.catalogue import load_board
from placer.check.judge import judge
from placer.circuit.read import read_circuit_file
from placer.errors import PlacerError
from placer.plan.model import Options, Plan
from placer.plan.readback import readback
from placer.solve.api import Request
from placer.solve.run import solve
from tests.outside import need
from tests.truth.outside_netlists import gnucap, includes, logical_lines, pyspice
from tests.truth.spice import differences

pytestmark = [pytest.mark.outside, pytest.mark.timeout(600)]

# Node order and the pins that the defaults of this project give them (README, "From a schematic editor or simulator").
PINS = {"R": "12", "C": "12", "L": "12", "D": "12", "V": "12", "I": "12", "Q": "321"}
ENOUGH = 12
LEAST_PARTS = 3
TAIL = (
    ".options reltol=1e-9 abstol=1e-15 vntol=1e-11 gmin=1e-12 itl1=1000",
    *(".control", "set numdgt=12", "op", "print all", "quit", ".endc", ".end", ""),
)


def nodes_of(line: str) -> tuple[str, list[str], str]:
    """Name, nodes and the rest of an element line; the file's own parentheses and commas count as blanks."""
    words = re.sub(r"[(),]", " ", line).split()
    count = len(PINS[words[0][0].upper()])
    if words[0][0].upper() == "Q" and len(words) > 5 and not re.fullmatch(r"(?i)[\d.]+|off|area.*", words[5]):
        count = 4  # a substrate; no lead of a transistor in a can
    return words[0], words[1 : 1 + count], " ".join(words[1 + count :])


def usable(text: str) -> bool:
    """Tell whether a file is plain enough for the replacement above: no subcircuits, nothing that only gnucap knows."""
    lines = list(logical_lines(text))
    elements = [line for line in lines if line[0] != "."]
    return (
        not includes(text)
        and len(elements) >= LEAST_PARTS
        and all(line[0].upper() in PINS and "=" not in line.split(" ic")[0] for line in elements)
        and any(line[0].upper() in "VI" for line in elements)
        and not re.search(r"(?i)generator|complex|\bgen\b|pulse|'", "\n".join(elements))
    )


def deck(text: str, conductors: Mapping[str, str] | None) -> tuple[str, dict[str, str]]:
    """The deck, and the node at each pin. ``conductors``: pin to conductor; None: the file's own nodes."""
    lines = ["operating point"]
    at: dict[str, str] = {}
    ground = ""
    if conductors is not None:
        grounded = [
            f"{name}.{PINS[name[0].upper()][index]}"
            for name, nodes, _ in map(nodes_of, (e for e in logical_lines(text) if e[0] != "."))
            for index, node in enumerate(nodes[:3])
            if node.lower() in ("0", "gnd") and index < len(PINS[name[0].upper()])
        ]
        (ground,) = {conductors[pin] for pin in grounded}
    for line in logical_lines(text):
        if line[0] == ".":
            if re.match(r"(?i)\.(model|param)\b", line):
                lines.append(line)
            continue
        name, nodes, rest = nodes_of(line)
        placed = []
        for index, node in enumerate(nodes):
            if index >= len(PINS[name[0].upper()]):
                placed.append("0")
                continue
            pin = f"{name}.{PINS[name[0].upper()][index]}"
            here = node.lower() if conductors is None else conductors[pin]
            here = "0" if here in ("0", "gnd", ground) else here
            placed.append(here)
            at[pin] = here
        lines.append(f"{name} {' '.join(placed)} {rest}")
    return "\n".join([*lines, *TAIL]), at


def volts(text: str, at: Mapping[str, str], file: Path) -> Mapping[str, float] | None:
    """Volts at each pin; None where ngspice finds no operating point or grumbles."""
    file.write_text(text, encoding="latin-1")
    run = subprocess.run(
        [need("ngspice"), "-b", file.name], cwd=file.parent, stdin=subprocess.DEVNULL, capture_output=True,
        timeout=20, check=False,
    )  # fmt: skip
    said = run.stdout.decode("latin-1") + run.stderr.decode("latin-1")
    if run.returncode or re.search(r"(?i)error|singular|abort|unknown|can't|unrecognized|warning", said):
        return None
    found = {m[1]: float(m[2]) for m in re.finditer(r"^(\S+) = (\S+)$", said, re.MULTILINE)} | {"0": 0.0}
    # ngspice shows a node that is no plain word as V(node).
    found |= {key[2:-1].lower(): value for key, value in found.items() if key.lower().startswith("v(")}
    return {pin: found[node] for pin, node in at.items() if node in found} or None


def planned(path: Path) -> Plan | None:
    """A checked plan of a file that can be built as it stands; None where there is none soon."""
    try:
        circuit, _ = read_circuit_file(path)
    except PlacerError:
        return None
    for name in ("five-hole-30", "five-hole-63"):
        board = load_board(name)
        request = Request(circuit, board, Options(allow_cuts=False), seconds=10, effort=1, workers=1)
        plan = solve(request, lambda plan: judge(plan).faults).plan
        if plan is not None:
            return plan
    return None


def test_source_and_copper_have_the_same_operating_point(tmp_path: Path) -> None:
    compared = []
    # The largest first: small files of one collection repeat each other.
    files = sorted((*gnucap(), *pyspice()), key=lambda path: (-len(path.read_bytes()) // 500, path.name))
    seen = set()
    for path in files:
        text = path.read_text(encoding="latin-1")
        body = tuple(line for line in logical_lines(text) if line[0] != ".")
        if len(compared) == ENOUGH or not usable(text) or body in seen:
            continue
        seen.add(body)
        source_deck, at = deck(text, None)
        source = volts(source_deck, at, tmp_path / "source.cir")
        plan = planned(path) if source is not None and any(abs(v) > 1e-3 for v in source.values()) else None
        if plan is None or source is None:
            continue
        conductors = {str(pin): f"w{n}" for n, net in enumerate(readback(plan), 1) for pin in net.pins}
        copper_deck, at = deck(text, conductors)
        copper = volts(copper_deck, at, tmp_path / "copper.cir")
        assert copper is not None, path.name
        assert differences(source, copper) == [], path.name
        compared.append(path.name)
    assert len(compared) >= 10, compared


def test_a_wrong_connection_is_noticed(tmp_path: Path) -> None:
    text = "t\nV1 a 0 5\nR1 a b 1k\nR2 b 0 2k\nR3 b 0 3k\n"
    wires = {
        "V1.1": "w1",
        "V1.2": "w2",
        "R1.1": "w1",
        "R1.2": "w3",
        "R2.1": "w3",
        "R2.2": "w2",
        "R3.1": "w3",
        "R3.2": "w2",
    }
    source_deck, at = deck(text, None)
    source = volts(source_deck, at, tmp_path / "source.cir")
    good_deck, at = deck(text, wires)
    good = volts(good_deck, at, tmp_path / "good.cir")
    bad_deck, at = deck(text, wires | {"R3.1": "w1"})
    bad = volts(bad_deck, at, tmp_path / "bad.cir")
    assert source is not None
    assert good is not None
    assert bad is not None
    assert source["R2.1"] == pytest.approx(5 * 1.2 / 2.2)  # 2k beside 3k is 1.2k
    assert differences(source, good) == []
    assert differences(source, bad) != []
