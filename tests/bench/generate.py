"""Circuits of any size from a seed, for measuring: a realistic mix of packages, joined up as circuits are.

    python -m tests.bench.generate 40 --seed 3

prints the circuit file of forty parts. The same number and seed give the same text everywhere.

A circuit is made of clusters: an IC or a transistor stage, and the small parts about it. Each pin of the middle is a
node; small parts go from node to node, to the supplies, or to a new node. Nodes that few pins have taken are preferred,
so most signal nets end up with two to four pins. A few nets run through several clusters (a clock, a bias: five to ten
pins), and two nets feed everything. What is left over of an IC stays open. The shares of parts and nets are close to
those of the demo circuits; they are a choice of this project.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from placer.circuit.model import Circuit
from placer.circuit.read_yaml import read_circuit

SIZES = (10, 20, 40, 80, 150, 300, 430)
"""Parts of the circuits that are measured."""

SHARES = {
    "ic": 0.10,
    "transistor": 0.09,
    "diode": 0.06,
    "led": 0.04,
    "ceramic": 0.17,
    "electrolytic": 0.06,
    "connector": 0.05,
    "trimmer": 0.02,
    "button": 0.01,
}
"""Of all parts; the rest are resistors."""

LETTERS = {
    "ic": "U",
    "transistor": "Q",
    "diode": "D",
    "led": "LED",
    "ceramic": "C",
    "electrolytic": "C",
    "connector": "J",
    "trimmer": "RV",
    "button": "SW",
    "resistor": "R",
}
ICS = ((8, 38), (14, 24), (16, 18), (18, 4), (20, 6), (24, 4), (28, 6))
"""Pins of an IC, and how often."""
PACKAGES = {
    "transistor": (("to-92", 9), ("to-220", 1)),
    "diode": (("do-35", 3), ("do-41", 1)),
    "led": (("led-5", 2), ("led-3", 1)),
    "ceramic": (("disc-2.5", 5), ("disc-5", 3), ("film-5", 2)),
    "electrolytic": (("radial-5", 5), ("radial-6.3", 3), ("radial-8", 1)),
    "connector": (("terminal-2", 3), ("header-2", 1), ("header-3", 2), ("header-4", 2), ("header-6", 1)),
    "trimmer": (("trimmer-3", 1),),
    "button": (("button-6", 1),),
    "resistor": (("axial-0207", 9), ("axial-0204", 1)),
}
DECADE = ("10", "12", "15", "18", "22", "27", "33", "39", "47", "56", "68", "82")
NAMES = {"ic": "IC", "diode": "1N4148", "led": "red", "connector": "", "button": "push"}
MANY = 5  # pins from which a net counts as one that runs through several clusters
MOST_PINS = 10
SUPPLY, GROUND = 0, 1


@dataclass
class _Part:
    ref: str
    kind: str
    package: str
    value: str


@dataclass
class _Draft:
    """A circuit in the making. A net is a list of pins, each a part and a pin number."""

    dice: random.Random
    parts: list[_Part] = field(default_factory=list)
    nets: list[list[tuple[int, int]]] = field(default_factory=lambda: [[], []])
    cluster_of: list[int] = field(default_factory=lambda: [-1, -1])

    def node(self, cluster: int) -> int:
        """A new net of a cluster."""
        self.nets.append([])
        self.cluster_of.append(cluster)
        return len(self.nets) - 1

    def join(self, part: int, pin: int, net: int) -> None:
        self.nets[net].append((part, pin))

    def pick(self, cluster: int | None, avoid: Sequence[int] = ()) -> int:
        """A net of a cluster (None: of any), most likely one that has found few pins yet."""
        own = [
            n
            for n in range(2, len(self.nets))
            if n not in avoid and cluster in (None, self.cluster_of[n]) and 0 < len(self.nets[n]) < MOST_PINS
        ]
        if not own:
            return self.node(0 if cluster is None else cluster)
        weights = [(6.0, 4.0, 2.0, 0.2)[min(len(self.nets[n]), 4) - 1] for n in own]
        return self.dice.choices(own, weights)[0]

    def end(self, cluster: int, supply: float, ground: float, fresh: float, avoid: Sequence[int]) -> int:
        """Where a lead goes: to a supply net, a new node, or one of the cluster's."""
        roll = self.dice.random()
        for net, share in ((SUPPLY, supply), (GROUND, ground)):
            if roll < share and net not in avoid:
                return net
            roll -= share
        return self.node(cluster) if 0 <= roll < fresh else self.pick(cluster, avoid)


def _drawn(dice: random.Random, table: Sequence[tuple[str, int]]) -> str:
    return dice.choices([name for name, _ in table], [often for _, often in table])[0]


def _counts(dice: random.Random, count: int) -> dict[str, int]:
    """How many parts of each kind; every circuit has an IC and a connector for its supply."""
    found = {}
    for kind, share in SHARES.items():
        whole, rest = divmod(share * count, 1)
        found[kind] = int(whole) + (dice.random() < rest)
    found["ic"], found["connector"] = max(1, found["ic"]), max(1, found["connector"])
    found["ceramic"] = max(1, found["ceramic"])
    found["resistor"] = max(0, count - sum(found.values()))
    return found


def _value(dice: random.Random, kind: str, pins: int) -> str:
    if kind in ("resistor", "trimmer"):
        return dice.choice(DECADE if kind == "resistor" else ("10", "22", "47")) + dice.choice(("", "0", "k", "0k"))
    if kind == "ceramic":
        return dice.choice(DECADE[::3]) + dice.choice(("p", "0p", "n", "0n"))
    if kind == "electrolytic":
        return dice.choice(("1", "10", "22", "47", "100", "220")) + "u"
    if kind == "ic":
        return f"IC of {pins}"
    if kind == "transistor":
        return dice.choice(("NPN", "PNP", "N-channel"))
    return NAMES[kind]


def _parts(draft: _Draft, count: int) -> None:
    dice = draft.dice
    numbers: dict[str, int] = {}
    # A large IC in a small circuit would be little else than open pins.
    ics = [(f"dip-{pins}", often) for pins, often in ICS if pins <= max(8, min(28, count // 2 + 4))]
    for kind, times in _counts(dice, count).items():
        for again in range(times):
            letter = LETTERS[kind]
            numbers[letter] = numbers.get(letter, 0) + 1
            package = _drawn(dice, ics if kind == "ic" else PACKAGES[kind])
            if kind == "connector" and again == 0:
                package = "terminal-2"
            value = _value(dice, kind, int(package.split("-")[1]) if kind == "ic" else 0)
            draft.parts.append(_Part(f"{letter}{numbers[letter]}", kind, package, value))


def _middles(draft: _Draft) -> list[int]:
    """Wire up what clusters are about, and return for each cluster how much it draws small parts."""
    weights: list[int] = []
    dice = draft.dice
    for number, part in enumerate(draft.parts):
        if part.kind == "ic":
            pins, cluster = int(part.package.split("-")[1]), len(weights)
            weights.append(pins)
            # Supply in the last corner, ground in the opposite one, as most logic and many timers have them.
            draft.join(number, pins, SUPPLY)
            draft.join(number, pins // 2, GROUND)
            own: list[int] = []
            for pin in range(1, pins):
                if pin == pins // 2:
                    continue
                roll = dice.random()
                if roll < 0.10:
                    draft.join(number, pin, GROUND if roll < 0.06 else SUPPLY)
                elif roll < 0.18 and own:
                    draft.join(number, pin, dice.choice(own))  # wired back to another pin of its own
                else:
                    own.append(draft.node(cluster))
                    draft.join(number, pin, own[-1])
        elif part.kind == "transistor":
            alone = dice.random() < 0.5 or not weights
            cluster = len(weights) if alone else dice.randrange(len(weights))
            if alone:
                weights.append(4)
            base = draft.node(cluster) if alone else draft.pick(cluster)
            draft.join(number, 2, base)
            collector = draft.end(cluster, 0.15, 0.0, 0.5, [base])
            draft.join(number, 1, collector)
            draft.join(number, 3, draft.end(cluster, 0.1, 0.6, 0.2, [base, collector]))
    return weights


ENDS = {
    # kind: chances of the second lead to go to supply, to ground, to a new node
    "resistor": (0.22, 0.20, 0.10),
    "ceramic": (0.03, 0.45, 0.05),
    "electrolytic": (0.05, 0.55, 0.05),
    "diode": (0.15, 0.20, 0.10),
    "led": (0.25, 0.60, 0.05),
}


def _satellites(draft: _Draft, weights: Sequence[int]) -> None:
    """Small parts about the middles; the first capacitors are for decoupling, one an IC."""
    dice = draft.dice
    undecoupled = sum(part.kind == "ic" for part in draft.parts)
    order = [i for i, part in enumerate(draft.parts) if part.kind not in ("ic", "transistor")]
    dice.shuffle(order)
    for number in order:
        kind = draft.parts[number].kind
        cluster = dice.choices(range(len(weights)), weights)[0]
        if kind == "ceramic" and undecoupled:
            undecoupled -= 1
            draft.join(number, 1, SUPPLY)
            draft.join(number, 2, GROUND)
        elif kind == "electrolytic" and dice.random() < 0.4:
            draft.join(number, 1, SUPPLY)
            draft.join(number, 2, GROUND)
        elif kind == "connector":
            _connector(draft, number)
        elif kind == "trimmer":
            wiper = draft.pick(cluster)
            draft.join(number, 2, wiper)
            top = draft.end(cluster, 0.6, 0.0, 0.0, [wiper])
            draft.join(number, 1, top)
            draft.join(number, 3, draft.end(cluster, 0.0, 0.7, 0.0, [wiper, top]))
        elif kind == "button":  # pins 1 and 2, and 3 and 4, are joined inside
            pressed = draft.pick(cluster)
            draft.join(number, 1, pressed)
            draft.join(number, 3, draft.end(cluster, 0.1, 0.9, 0.0, [pressed]))
        else:
            first = draft.pick(cluster)
            draft.join(number, 1, first)
            draft.join(number, 2, draft.end(cluster, *ENDS[kind], [first]))


def _connector(draft: _Draft, number: int) -> None:
    pins = int(draft.parts[number].package.split("-")[1])
    first = number == next(i for i, part in enumerate(draft.parts) if part.kind == "connector")
    taken = [SUPPLY, GROUND]
    for pin in range(1, pins + 1):
        if first or (pin <= 2 and pins > 2 and draft.dice.random() < 0.6) or (pin == 2 and draft.dice.random() < 0.5):
            draft.join(number, pin, SUPPLY if pin == 1 else GROUND)
            continue
        taken.append(draft.pick(None, taken))
        draft.join(number, pin, taken[-1])


def _may_merge(draft: _Draft, a: int, b: int) -> bool:
    """True when joining two nets shorts no small part and makes no net too large."""
    if a == b or len(draft.nets[a]) + len(draft.nets[b]) > MOST_PINS:
        return False
    shared = {part for part, _ in draft.nets[a]} & {part for part, _ in draft.nets[b]}
    return all(draft.parts[part].kind == "ic" for part in shared)


def _merge(draft: _Draft, a: int, b: int) -> None:
    draft.nets[a] += draft.nets[b]
    draft.nets[b] = []


def _busses(draft: _Draft, count: int) -> None:
    """A few nets that run through several clusters."""
    dice = draft.dice
    for _ in range((count + 15) // 30):
        small = [n for n in range(2, len(draft.nets)) if 2 <= len(draft.nets[n]) < MANY]
        if not small:
            return
        bus, wanted = dice.choice(small), dice.randint(MANY, MOST_PINS - 2)
        for _ in range(60):
            if len(draft.nets[bus]) >= wanted:
                break
            other = dice.choice(small)
            if _may_merge(draft, bus, other):
                _merge(draft, bus, other)


def _loose_ends(draft: _Draft) -> None:
    """Join nets of a single pin to each other; an IC may keep some pins open, other parts may not."""
    dice = draft.dice
    loose = [n for n in range(2, len(draft.nets)) if len(draft.nets[n]) == 1]
    dice.shuffle(loose)
    while loose:
        own = loose.pop()
        part, _ = draft.nets[own][0]
        if draft.parts[part].kind == "ic" and dice.random() < 0.5:
            draft.nets[own] = []
            continue
        near = [n for n in loose if draft.cluster_of[n] == draft.cluster_of[own]]
        for other in [*near[:4], *loose[:8]]:
            if _may_merge(draft, own, other):
                _merge(draft, own, other)
                loose.remove(other)
                break
        else:
            others = [
                n for n in range(2, len(draft.nets)) if 2 <= len(draft.nets[n]) <= 3 and _may_merge(draft, n, own)
            ]
            if others:
                _merge(draft, dice.choice(others), own)
            elif draft.parts[part].kind == "ic":
                draft.nets[own] = []
            else:
                shorted = any(p == part for p, _ in draft.nets[GROUND])
                _merge(draft, SUPPLY if shorted else GROUND, own)


def circuit_text(count: int, seed: int) -> str:
    """The circuit file of ``count`` parts (at least 10)."""
    draft = _Draft(random.Random(f"{count} parts, seed {seed}"))
    _parts(draft, count)
    _satellites(draft, _middles(draft))
    _busses(draft, count)
    _loose_ends(draft)
    lines = [f"circuit: {name_of(count, seed)}", f"about: {count} parts, made for measuring", "parts:"]
    for part in draft.parts:
        value = f', value: "{part.value}"' if part.value else ""
        lines.append(f"  {part.ref}: {{package: {part.package}{value}}}")
    lines.append("nets:")
    number = 0
    for net, pins in enumerate(draft.nets):
        if not pins:
            continue
        listed = ", ".join(f"{draft.parts[part].ref}.{pin}" for part, pin in sorted(pins))
        if net in (SUPPLY, GROUND):
            name, role = (("V5", "supply, volts: 5"), ("GND", "ground"))[net]
            lines.append(f"  {name}: {{pins: [{listed}], role: {role}}}")
        else:
            number += 1
            lines.append(f"  N{number}: [{listed}]")
    return "\n".join(lines) + "\n"


def name_of(count: int, seed: int) -> str:
    """The name of a circuit, which says how to make it again."""
    return f"made-{count}-{seed}"


def circuit(count: int, seed: int) -> Circuit:
    """The circuit, read as any circuit file is."""
    return read_circuit(Path(f"{name_of(count, seed)}.yaml"), text=circuit_text(count, seed))[0]


def main(arguments: Sequence[str] | None = None) -> int:
    """Print one circuit file."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.generate", description=__doc__.splitlines()[0])
    parser.add_argument("parts", type=int)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args(arguments)
    sys.stdout.write(circuit_text(given.parts, given.seed))
    return 0


if __name__ == "__main__":
    sys.exit(main())
