"""How long reading takes, for netlists of more and more elements: it has to grow in step with them.

    python -m tests.bench.readers

prints processor seconds to read, and to lay out flat with packages, 5,000 and 50,000 elements in SPICE, listed one by
one and in subcircuits, in EDIF and in a pin list.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from placer.circuit.edif import read_edif
from placer.circuit.partsmap import PartsMap
from placer.circuit.problems import Problems
from placer.circuit.raw import RawNetlist
from placer.circuit.read_csv import read_csv_rows
from placer.circuit.resolve import resolve
from placer.circuit.source import Source
from placer.circuit.spice.read import read_spice


def flat(count: int) -> Iterator[str]:
    """A ladder of resistors and capacitors, with a transistor now and then."""
    for n in range(count):
        if n % 10 == 9:
            yield f"Q{n} n{n} n{n - 3} 0 2N3904"
        elif n % 3:
            yield f"R{n} n{n} n{n + 1} {n % 97 + 1}k"
        else:
            yield f"C{n} n{n} 0 100n ; by the way"


def called(count: int) -> Iterator[str]:
    """Calls of a subcircuit of ten elements."""
    yield ".subckt rung a b"
    yield from (f"R{n} {'a' if n == 0 else f'm{n}'} {'b' if n == 9 else f'm{n + 1}'} 1k" for n in range(10))
    yield ".ends"
    yield from (f"X{n} n{n} n{n + 1} rung" for n in range(count // 10))


def edif(count: int) -> Iterator[str]:
    """Pairs of resistors side by side."""
    yield "(edif ladder (edifVersion 2 0 0) (edifLevel 0) (keywordMap (keywordLevel 0)) (library P (edifLevel 0)"
    yield "(cell R (view N (viewType NETLIST) (interface (port &1) (port &2)))) (cell TOP (view N (viewType NETLIST)"
    yield "(interface) (contents"
    for n in range(count):
        yield f'(instance R{n} (viewRef N (cellRef R)) (property PACKAGE (string "axial-0207")))'
    for n in range(count // 2):
        for name, port in (("n", 1), ("m", 2)):
            one, other = (f"(portRef &{port} (instanceRef R{2 * n + each}))" for each in (0, 1))
            yield f"(net {name}{n} (joined {one} {other}))"
    yield "))))(design d (cellRef TOP (libraryRef P))))"


def pin_list(count: int) -> Iterator[str]:
    """The same as a pin list."""
    yield "part,pin,net,package,value"
    for n in range(count):
        yield f"R{n},1,n{n // 2},axial-0207,1k"
        yield f"R{n},2,m{n // 2},axial-0207,1k"


def read_as(what: str, text: str, problems: Problems) -> RawNetlist | None:
    """Read a made netlist."""
    if what == "edif":
        return read_edif(Path("ladder.edf"), text, problems)
    if what == "pin list":
        return read_csv_rows(Path("ladder.csv"), text, problems)
    return read_spice(Path("ladder.cir"), Source("ladder.cir", text), problems)


def measure(lines: Iterator[str], times: int, what: str = "flat") -> tuple[int, float, float]:
    """Parts, and the least of the seconds to read and to resolve."""
    text = "\n".join(lines if what in ("edif", "pin list") else ["ladder", *lines, ".end"])
    reading, resolving, parts = [], [], 0
    for _ in range(times):
        problems = Problems()
        began = time.process_time()
        raw = read_as(what, text, problems)
        middle = time.process_time()
        circuit = resolve(raw, PartsMap(), problems, most=10**7) if raw is not None else None
        resolving.append(time.process_time() - middle)
        reading.append(middle - began)
        problems.finish()
        parts = len(circuit.parts) if circuit is not None else 0
    return parts, min(reading), min(resolving)


MADE = (("flat", flat), ("subcircuits", called), ("edif", edif), ("pin list", pin_list))


def say(line: str) -> None:
    """Print a line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sizes", type=int, nargs="+", default=[5_000, 50_000])
    parser.add_argument("--times", type=int, default=3)
    options = parser.parse_args(arguments)
    measure(flat(20), 1)  # the catalogue of packages is read once
    for what, made in MADE:
        for size in options.sizes:
            parts, reading, resolving = measure(made(size), options.times, what)
            rate = 1e6 * (reading + resolving) / parts
            say(f"{what:12} {parts:7} parts: read {reading:.3f} s, resolved {resolving:.3f} s, {rate:.1f} us a part")
    return 0


if __name__ == "__main__":
    sys.exit(main())
