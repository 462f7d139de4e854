"""Mutated netlists against the readers: whatever the input, a circuit or diagnostics, soon, and never a traceback.

    python -m tests.bench.fuzz --reader spice --runs 200000

Begins from small files that show every construct, and spoils them: bytes changed, slices dropped, doubled or moved,
words of the language put in. Each result is held to what every circuit must keep. Prints the first inputs that break
something; exit code 1 when there are any. Same seed, same inputs.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

from placer.circuit.draftmap import draft_map
from placer.circuit.model import Circuit
from placer.circuit.partsmap import read_parts_map
from placer.circuit.problems import Problems, name_fault
from placer.circuit.raw import RawNetlist
from placer.circuit.resolve import resolve
from placer.circuit.source import Source, decode
from placer.circuit.spice.read import read_spice
from placer.circuit.write_yaml import circuit_from_data, circuit_to_data
from placer.errors import PlacerError
from placer.report import diagnostic_text

LONGEST_SECONDS = 2.0
SHOWN = 10
THOROUGH = 10
"""Every so many inputs the circuit is also written and read again, and a parts map drafted: that takes most time."""

SPICE = [
    b"""Hive heater
.param res=4.7k big={res*2}
VBAT vcc 0 DC 12 ; supply
RT vcc sense {big}
R1 sense GND 4k7
+ tc1=0.1
Q1 coil sense 0 2N3904
Q2 coil sense 0 sub 2N3904 off
D1 coil vcc 1N4148 area = 2
C1 (vcc 0) 100uF ic=0
M1 a b c c nm l=1u
R4 a b 1
R5 b c 1k
X1 vcc coil part params: r=2k
.subckt part a b r=1k
Rx a mid {r}
Lx mid b 10mH
Xi mid b inner
.subckt inner p q
Cc p q 1n
.ends inner
.ends part
.model 2N3904 NPN(bf=100
+ is=1f)
.global vcc
.include one.inc
.lib two.lib fast
.control
run
.endc
.end
""",
    b"""'
E1 a b c d 10
F1 a b V1 2
K1 L1 L2 0.9
V1 a 0 sin(0 1 1k) ac 1
I1 0 b pulse (0 1 0 1n 1n 1u 2u)
S1 a b c d sw1
T1 a 0 b 0 z0=50
U1 o p m OPAMP
A1 [a b] c gate
.macro zz (1 2)
r1 (1 2) '1+2'
.eom
x1 (a b) zz m=2
""",
]
MAPS = [
    b"""elements: {R7: {package: axial-0309}, "C1?": radial-6.3, E1: {omit: true}}
models:
  nm: {package: to-220, pins: [1, 2, 3]}
  2N3904: {package: to-92, pins: [3, 2, 1], value: "2N3904"}
  OPAMP: {package: dip-8, pins: [6, 3, 2]}
  part: &p {package: terminal-2, pins: {a: 1, b: 2}}
  zz: *p
flatten: [inner, NAND]
packages:
  own: {form: rigid, line: 3, body_mm: [10, 5], height_mm: 9, lead_mm: 0.6, names: {C: 3, B: 1, E: 2}}
""",
    b'{"elements": {"R1": "axial-0207"}, "models": {"o?amp*": {"package": "pad-2", "pins": [1, "-"]}}}',
    b"""elements:
  M*: {package: to-92, pins: [3, 2, 1]}
  "X1": {package: own, pins: [C, E]}
packages:
  own: {form: rigid, line: 3, body_mm: [10, 5], height_mm: 9, lead_mm: 0.6, names: {C: 3, B: 1, E: 2}}
""",
]
EDIFS = [
    b"""(edif demo (edifVersion 2 0 0) (edifLevel 0) (keywordMap (keywordLevel 0))
 (library PARTS (edifLevel 0) (technology (numberDefinition))
  (cell RES (cellType GENERIC) (view NL (viewType NETLIST)
   (interface (port &1 (direction INOUT)) (port &2 (direction INOUT)))))
  (cell (rename LED_R "LED red") (cellType GENERIC) (view NL (viewType NETLIST)
   (interface (port A (direction INOUT)) (port K (direction INOUT)) (port (array (rename D "D[0:3]") 4))))))
 (library BOARDS (edifLevel 0) (technology (numberDefinition))
  (cell TOP (cellType GENERIC) (view NL (viewType NETLIST)
   (interface (port VIN (direction INPUT)) (port RTN (direction INPUT)))
   (contents
    (instance R1 (viewRef NL (cellRef RES (libraryRef PARTS))) (property VALUE (string "1k")))
    (instance D1 (viewRef NL (cellRef LED_R (libraryRef PARTS))))
    (net (rename N_VIN "V+") (joined (portRef VIN) (portRef &1 (instanceRef R1))))
    (net N1 (joined (portRef &2 (instanceRef R1)) (portRef A (instanceRef D1))))
    (net RTN (joined (portRef RTN) (portRef K (instanceRef D1)) (portRef (member D 1) (instanceRef D1))))))))
 (design demo (cellRef TOP (libraryRef BOARDS))))
""",
    b"""(edif gate (edifVersion 2 0 0) (edifLevel 0) (keywordMap (keywordLevel 0))
 (library L (edifLevel 0) (technology (numberDefinition))
  (cell axial (view N (viewType NETLIST) (interface (port &1) (port &2))))
  (cell BANK (view N (viewType NETLIST) (interface (port (array (rename D "D[1:0]") 2)) (port T))
   (contents (instance (array R 2) (viewRef N (cellRef axial)) (property PACKAGE (string "axial-0207")))
    (net (array W 2) (joined (portRef D) (portRef &1 (instanceRef R))))
    (net C (joined (portRef T) (portRef &2 (instanceRef (member R 0))) (portRef &2 (instanceRef (member R 1))))))))
  (cell TOP (view N (viewType NETLIST) (interface)
   (contents (instance X1 (viewRef N (cellRef BANK)))
    (instance I2 (viewRef N (cellRef axial)) (property VALUE (string "4.7k")) (designator "R2"))
    (net (rename A "V+") (joined (portRef (member D 0) (instanceRef X1)) (portRef &1 (instanceRef I2)))
     (property ROLE (string "supply")) (property VOLTS (number (e 5 0))))
    (net B (joined (portRef (member D 1) (instanceRef X1)) (portRef &2 (instanceRef I2))))
    (net GND (joined (portRef T (instanceRef X1))))))))
 (design gate (cellRef TOP (libraryRef L)) (property ABOUT (string "%34%x%34%"))))
""",
]
CSVS = [
    b"part,pin,net,package,value\nR1,1,VCC,axial-0207,10k\nR1,2,OUT,,\nLED1,A,OUT,led-5,red\nLED1,K,GND,,\nU1,8,,dip-8,\n",
    b'pin;part;net\n1;R1;"a ""b"""\n2;R1;c\n1;C1;c\n2;C1;"a ""b"""\n',
]
GIVEN = """elements: {"[EFGHKSTABW]*": {omit: true}}
models: {nm: {package: to-92, pins: [3, 2, 1]}, OPAMP: header-3}
"""
"""The map that netlists are read with, so that many of them become a circuit."""


def _words(text: str) -> list[bytes]:
    return [word.encode("latin-1") for word in text.split("|")]


WORDS = {
    "spice": _words(
        ".subckt x a b|.ends|.end|.include|.lib|.endl|.model|.param|.control|.endc|+|*|;|$ |//|=|{|}|(|)|'|\"|params:"
        "|\nR1 a b 1|\nX9 a b part|\nX1 a b|0|gnd|1e999|4k7|1Meg|\r\n|\t|\xff|\x00|\xc3\xa9|one.inc|../x.inc|/|{r+|}*2"
    ),
    "map": _words(
        "elements:|models:|flatten:|packages:|{|}|[|]|: |, |&a |*a|!!str |- |\n|  |~|null|\"|'|?|omit: true|value: "
        "|package: |pins: [3, 2, 1]|pins: {a: 1}|to-92|header-99999|[[]|**|\xff|\t|<<: *p|1e9|axial-0207|\\"
    ),
    "edif": _words(
        '(|)|(net|(joined|(portRef|(instanceRef|(rename a "b")|"|&1|%10%|(array|(member|(comment|))|((|\xff|\\|'
    ),
    "csv": _words(',|;|\t|"|""|\n|\r\n|part|pin|net|package|value|R1|1|\xff|\x00|,,,,,,|#'),
}


class Fuzz:
    """One reader under fire."""

    def __init__(self, reader: str, folder: Path, seed: int) -> None:
        self.reader = reader
        self.seeds: Sequence[bytes] = {"spice": SPICE, "map": MAPS, "edif": EDIFS, "csv": CSVS}[reader]
        self.random = random.Random(seed)
        self.results: Counter[str] = Counter()
        self.broken: list[tuple[str, bytes]] = []
        self.slowest = 0.0
        self._runs = 0
        (folder / "one.inc").write_text("R8 vcc 0 1\n.include two.inc\n", encoding="utf-8")
        (folder / "two.inc").write_text("R9 vcc 0 1\n", encoding="utf-8")
        (folder / "two.lib").write_text(".lib fast\nR10 vcc 0 1\n.endl\n", encoding="utf-8")
        suffix = {"spice": "cir", "map": "cir", "edif": "edf", "csv": "csv"}[reader]
        self.path = folder / f"hive.{suffix}"
        problems = Problems()
        self._netlist = read_spice(self.path, Source("hive.cir", SPICE[0].decode()), problems)
        self._map = read_parts_map(self.path, problems, text=GIVEN)

    def mutated(self) -> bytes:
        """A seed, spoilt in one to eight places."""
        draw = self.random
        data = bytearray(draw.choice(self.seeds))
        for _ in range(draw.choice((1, 1, 2, 3, 5, 8))):
            at = draw.randrange(len(data) + 1)
            end = min(len(data), at + draw.choice((1, 2, 5, 20, 100)))
            kind = draw.randrange(7)
            if kind == 0:
                data[at:end] = b""
            elif kind == 1:
                data[at:at] = draw.choice(WORDS[self.reader])
            elif kind == 2:
                data[at:at] = data[at:end] * draw.choice((1, 2, 30))
            elif kind == 3:
                other = draw.choice(self.seeds)
                start = draw.randrange(len(other))
                data[at:end] = other[start : start + draw.choice((3, 30, 200))]
            elif kind == 4:
                data[at : at + 1] = bytes([draw.randrange(256)])
            elif kind == 5:
                lines = bytes(data).split(b"\n")
                draw.shuffle(lines)
                data = bytearray(b"\n".join(lines))
            else:
                data[at:end] = draw.choice(WORDS[self.reader]) * draw.choice((1, 1, 40))
        return bytes(data)

    def run(self, data: bytes) -> None:
        """Read one input and hold the result to what it must keep."""
        began = time.process_time()  # other programs on the machine are no fault of the reader
        self._runs += 1
        try:
            self.results[self._read(data)] += 1
        except PlacerError as err:
            fault = next((f for d in err.diagnostics if (f := _unfit(d.code, d.message, diagnostic_text(d).plain))), "")
            if fault:
                self.broken.append((fault, data))
            self.results["refused"] += 1
        except Exception as err:
            self.broken.append((f"{type(err).__name__}: {err}", data))
        took = time.process_time() - began
        self.slowest = max(self.slowest, took)
        if took > LONGEST_SECONDS:
            self.broken.append((f"{took:.1f} s", data))

    def _read(self, data: bytes) -> str:
        problems = Problems()
        text = decode(data, str(self.path))
        parts_map = self._map
        raw: RawNetlist | None
        if self.reader == "map":
            parts_map, raw = read_parts_map(self.path, problems, text=text), self._netlist
        elif self.reader == "spice":
            raw = read_spice(self.path, Source(str(self.path), text), problems)
        elif self.reader == "edif":
            from placer.circuit.edif import read_edif

            raw = read_edif(self.path, text, problems)
        else:
            from placer.circuit.read_csv import read_csv_rows

            raw = read_csv_rows(self.path, text, problems)
        circuit = None
        if raw is not None and not problems.any:
            circuit = resolve(raw, parts_map, problems)
            if self.reader != "map" and self._runs % THOROUGH == 0:
                again = Problems()
                read_parts_map(self.path, again, text=draft_map(raw))
                again.finish()
        problems.finish()
        if circuit is None:
            raise AssertionError("neither a circuit nor an error")
        keep(circuit, written=self._runs % THOROUGH == 0)
        return "read"


def _unfit(code: str, message: str, shown: str) -> str:
    return "" if code and message and shown else "a diagnostic without words"


def keep(circuit: Circuit, *, written: bool = True) -> None:
    """Raise AssertionError where a circuit breaks what every circuit keeps; ``written``: also as data and back."""
    names = [net.name for net in circuit.nets]
    refs = [part.ref for part in circuit.parts]
    pins = [pin for net in circuit.nets for pin in net.pins]
    if len({*names}) < len(names) or len({*refs}) < len(refs) or len({*pins}) < len(pins):
        raise AssertionError("a name or a pin twice")
    for text in (*names, *refs, circuit.name):
        if name_fault(text):
            raise AssertionError(f"{text!r} {name_fault(text)}")
    for pin in pins:
        if pin.pin not in circuit.package_of(pin.part).pins:
            raise AssertionError(f"{pin} is no pin")
    if written and circuit_from_data(circuit_to_data(circuit)) != circuit:
        raise AssertionError("not the same when written and read again")


def main(arguments: Sequence[str] | None = None, say: Callable[[str], object] = sys.stdout.write) -> int:
    """Run the command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--reader", choices=("spice", "map", "edif", "csv"), default="spice")
    parser.add_argument("--runs", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        fuzz = Fuzz(options.reader, Path(folder), options.seed)
        for data in fuzz.seeds:
            fuzz.run(data)
        for _ in range(options.runs):
            fuzz.run(fuzz.mutated())
    told = ", ".join(f"{count} {what}" for what, count in sorted(fuzz.results.items()))
    ends = f"slowest {fuzz.slowest:.2f} s; {len(fuzz.broken)} broken"
    say(f"{options.reader}: {options.runs} inputs, {told}; {ends}\n")
    for why, data in fuzz.broken[:SHOWN]:
        say(f"  {why[:300]}\n    {data!r}\n")
    return 1 if fuzz.broken else 0


if __name__ == "__main__":
    sys.exit(main())
