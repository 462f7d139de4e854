"""Operating points from ngspice, for netlists whose parts all have a model.

ngspice 39 reads ``4k7`` as 4000 without a word and takes ``1M`` for a thousandth, so values are written out.
Its exit status is 0 for some failures: standard error is read too.
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from tests.circuits.lint import number
from tests.outside import need
from tests.truth.netlist import Netlist

LIBRARY = Path(__file__).with_name("models") / "generic.lib"


@dataclass(frozen=True)
class Bench:
    """What is connected on the bench. ``ground``: the pin taken as 0 V; ``elements``: (kind and value, pin, pin).

    Kinds: ``V 12`` is a voltage source (plus pin first), ``I 1m`` a current source, ``R 100`` a resistor.
    """

    ground: str
    elements: tuple[tuple[str, str, str], ...] = field(default=())


DIODES: Mapping[str, str] = {
    "1N4001": "D1N4001",
    "1N4148": "D1N4148",
    "zener 5.6V": "DZ5V6",
    "zener 10V": "DZ10V",
    "zener 12V": "DZ12V",
    "red": "LEDRED",
    "green": "LEDGREEN",
    "yellow": "LEDYELLOW",
    "warm white": "LEDWHITE",
}
TRANSISTORS: Mapping[str, tuple[str, str]] = {
    # value -> model, pins in the order collector, base, emitter. Pinouts: TO-92 and TO-220 datasheets, from memory.
    "2N3904": ("Q2N3904", "321"),
    "BC547": ("QBC547", "123"),
    "TIP31": ("QTIP31", "213"),
    "TIP32": ("QTIP32", "213"),
}


def elements(ref: str, package: str, value: str, node: Callable[[str], str]) -> list[str]:
    """SPICE lines of one part; connectors and open switches give none. Raises KeyError for a part without a model."""
    kind = re.match(r"[A-Z]+", ref)
    letters = kind[0] if kind else ""
    amount = number(value)
    match letters:
        case "R" if amount is not None:
            return [f"R{ref} {node('1')} {node('2')} {amount!r}"]
        case "C" if amount is not None:
            return [f"C{ref} {node('1')} {node('2')} {amount!r}"]
        case "RV" if amount is not None:
            # Not in the middle, so that a turned trimmer is noticed.
            return [
                f"R{ref}a {node('1')} {node('2')} {amount * 0.4!r}",
                f"R{ref}b {node('2')} {node('3')} {amount * 0.6!r}",
            ]
        case "D" | "LED":
            return [f"D{ref} {node('1')} {node('2')} {DIODES[value]}"]
        case "Q" if value == "logic-level n-MOSFET":
            return [f"M{ref} {node('2')} {node('1')} {node('3')} {node('3')} MLOGIC"]
        case "Q":
            model, pins = TRANSISTORS[value]
            return [f"Q{ref} {' '.join(node(pin) for pin in pins)} {model}"]
        case "U" if value == "dual op-amp":
            return _op_amps(ref, ("1 2 3", "7 6 5"), "4 8", node)
        case "U" if value == "quad op-amp":
            return _op_amps(ref, ("1 2 3", "7 6 5", "8 9 10", "14 13 12"), "11 4", node)
        case "U" if value == "78L05":
            return [f"X{ref} {node('3')} {node('2')} {node('1')} REG5"]
        case "J" | "SW":
            return []
    raise KeyError(f"{ref}: no model for {value} in {package}")


def _op_amps(ref: str, sections: tuple[str, ...], supply: str, node: Callable[[str], str]) -> list[str]:
    """One op-amp for each section (pins out, minus, plus) on the supply pins (minus, plus)."""
    pins = [f"{section} {supply}".split() for section in sections]
    return [f"X{ref}{index} {' '.join(map(node, p))} OPAMP" for index, p in enumerate(pins)]


def _node(node_of: Mapping[str, str], ref: str, pin: str) -> str:
    return node_of[f"{ref}.{pin}"]


def deck(netlist: Netlist, bench: Bench) -> tuple[str, Mapping[str, str]]:
    """The deck, and the node of each pin in it. Nodes are numbered as they come, so two netlists give two decks."""
    ref, pin = bench.ground.split(".")
    names = {netlist[ref].nodes[pin]: "0"}
    node_of: dict[str, str] = {}
    lines = ["operating point"]
    for name, device in netlist.items():
        for number_, wire in device.nodes.items():
            node_of[f"{name}.{number_}"] = names.setdefault(wire, f"n{len(names)}")
    for name, device in netlist.items():
        lines += elements(name, device.package, device.value, partial(_node, node_of, name))
    for index, (what, plus, minus) in enumerate(bench.elements):
        letter, value = what.split()
        lines.append(f"{letter}bench{index} {node_of[plus]} {node_of[minus]} {value}")
    lines.append(f".include {LIBRARY}")
    # The tolerances are far below the 1e-6 by which two operating points are compared. rshunt stands for a voltmeter of
    # 1 Gohm at each node: without it the leakage of two transistors that are off decides, and that is noise.
    lines.append(".options reltol=1e-9 abstol=1e-15 vntol=1e-11 gmin=1e-12 rshunt=1e9 itl1=1000")
    lines += [".control", "set numdgt=12", "op", "print all", "quit", ".endc", ".end", ""]
    return "\n".join(lines), node_of


def operating_point(netlist: Netlist, bench: Bench, file: Path) -> Mapping[str, float]:
    """Volts at each pin that touches a modelled part. Skips the test without ngspice; fails it when ngspice fails."""
    program = need("ngspice")
    text, node_of = deck(netlist, bench)
    file.write_text(text, encoding="ascii")
    run = subprocess.run(
        [program, "-b", file.name],
        cwd=file.parent,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=20,
        check=False,
    )
    # A stepping method that fails is no trouble as long as the next one succeeds; "op" says so when none does.
    trouble = [line for line in run.stderr.splitlines() if re.search(r"(?i)error|singular|abort|unknown", line)]
    assert run.returncode == 0, run.stdout + run.stderr
    assert not trouble, trouble
    volts = {m[1]: float(m[2]) for m in re.finditer(r"^(n\d+) = (\S+)$", run.stdout, re.MULTILINE)} | {"0": 0.0}
    assert len(volts) > 2, run.stdout + run.stderr
    return {pin: volts[node] for pin, node in node_of.items() if node in volts}


def differences(source: Mapping[str, float], copper: Mapping[str, float], relative: float = 1e-6) -> list[str]:
    """Pins whose voltage differs by more than ``relative`` (floor 1 nV), or that only one side knows."""
    out = [f"{pin}: only on one side" for pin in sorted(source.keys() ^ copper.keys())]
    for pin in sorted(source.keys() & copper.keys()):
        a, b = source[pin], copper[pin]
        if abs(a - b) > max(relative * max(abs(a), abs(b)), 1e-9):
            out.append(f"{pin}: {a!r} V against {b!r} V")
    return out
