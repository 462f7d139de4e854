"""Plans of demo circuits to try the guide on: those of ``outputs/``, and some on boards of every other family.

``data/`` holds the latter in short: circuit, board, where each pin is, cuts, jumpers, bridges.
"""

from __future__ import annotations

import json
import math
from functools import cache
from pathlib import Path

from placer.boards.catalogue import load_board
from placer.circuit.read_yaml import read_circuit
from placer.plan.file import read_plan
from placer.plan.model import Bridge, Cut, Jumper, Placement, Plan, Proof, Score, SolveInfo

ROOT = Path(__file__).resolve().parents[2]
DATA = Path(__file__).parent / "data"
DEMOS = sorted(path.parent.name for path in (ROOT / "outputs").glob("*/plan.json"))
OTHERS = sorted(path.stem for path in DATA.glob("*.json"))
ALL = [*DEMOS, *OTHERS]


@cache
def built(name: str) -> Plan:
    """A plan by name: of a demo circuit, or of a file in ``data/``."""
    return read_plan(ROOT / "outputs" / name / "plan.json") if name in DEMOS else _short(DATA / f"{name}.json")


def _short(path: Path) -> Plan:
    data = json.loads(path.read_text(encoding="utf-8"))
    circuit, _ = read_circuit(ROOT / "netlists" / f"{data['circuit']}.yaml")
    board = load_board(data["board"])
    placements = {
        ref: Placement(ref, circuit.part_by_ref[ref].package, mount, pins)
        for ref, (mount, pins) in data["placements"].items()
    }
    cuts = tuple(
        Cut(at=cut.get("at"), between=tuple(cut["between"]) if "between" in cut else None) for cut in data["cuts"]
    )
    jumpers = []
    for net, start, end in data["jumpers"]:
        a, b = board.holes[start], board.holes[end]
        jumpers.append(Jumper(net, start, end, math.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm)))
    bridges = tuple(Bridge(net, (a, b)) for net, a, b in data["bridges"])
    cost = len(jumpers) + 0.8 * len(cuts) + 0.1 * len(bridges)
    length = sum(jumper.length_mm for jumper in jumpers)
    score = Score(len(jumpers), len(cuts), length, cost, len(bridges))
    proof, solve = Proof("feasible", 0.0, cost), SolveInfo(0.0, 1, 1)
    return Plan(circuit, board, placements, cuts, tuple(jumpers), score, proof, solve, bridges=bridges)
