"""Plans for the drawing's tests: two set by hand, and any number made at random. What they connect is of no matter."""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import replace

from placer.boards.catalogue import load_board
from placer.boards.model import Board
from placer.circuit.model import Circuit, Net, Part, PinRef
from placer.guide.bodies import part_art
from placer.guide.room import Box
from placer.packages.catalogue import lookup
from placer.packages.model import Diagonal, Flying, Package, Rigid, TwoLead
from placer.plan.findings import Finding
from placer.plan.model import Cut, Jumper, Placement, Plan, Proof, Score, SolveInfo

Spec = tuple[str, str, str, str, Mapping[str, str]]  # ref, package, value, mount, pins


def make_plan(
    name: str,
    board: Board,
    specs: Sequence[Spec],
    nets: Mapping[str, str] | None = None,
    jumpers: Sequence[tuple[str, str, str]] = (),
    cuts: Sequence[Cut] = (),
) -> Plan:
    """A plan from rows; ``nets``: name -> role. Each net takes one pin, for a net must have some."""
    parts = tuple(Part(ref, package, value) for ref, package, value, _, _ in specs)
    packages = {package: lookup(package) for _, package, _, _, _ in specs}
    pins = iter([PinRef(ref, pin) for ref, _, _, _, places in specs for pin in places])
    circuit_nets = tuple(Net(net, (next(pins),), role) for net, role in (nets or {}).items())
    placements = {ref: Placement(ref, package, mount, dict(places)) for ref, package, _, mount, places in specs}
    wires = tuple(Jumper(net, a, b, _distance(board, a, b)) for net, a, b in jumpers)
    return Plan(
        Circuit(name, parts, circuit_nets, packages),
        board,
        placements,
        tuple(cuts),
        wires,
        Score(len(wires), len(cuts), sum(w.length_mm for w in wires), len(wires) + 0.8 * len(cuts)),
        Proof("feasible", 0.0, 0.0),
        SolveInfo(0.0, 1, 1),
    )


def _distance(board: Board, a: str, b: str) -> float:
    p, q = board.holes[a], board.holes[b]
    return math.hypot(p.x_mm - q.x_mm, p.y_mm - q.y_mm)


def lantern() -> Plan:
    """Ten parts on the small five-hole board: a timer that blinks two LEDs."""
    return make_plan(
        "hive-lantern",
        load_board("five-hole-30"),
        [
            ("U1", "dip-8", "timer", "flat", _dip(8, 10)),
            ("R1", "axial-0207", "10k", "flat", {"1": "a5", "2": "e5"}),
            ("R2", "axial-0207", "470k", "flat", {"1": "a6", "2": "e6"}),
            ("R3", "axial-0207", "330", "flat", {"1": "f17", "2": "f21"}),
            ("C1", "radial-6.3", "10u", "flat", {"1": "b13", "2": "b14"}),
            ("C2", "disc-2.5", "100n", "flat", {"1": "h12", "2": "j12"}),
            ("D1", "led-5", "amber", "flat", {"1": "h22", "2": "h23"}),
            ("D2", "do-35", "1N4148", "flat", {"1": "d20", "2": "d24"}),
            ("J1", "terminal-2", "3 V", "flat", {"1": "c28", "2": "e28"}),
            ("R4", "axial-0207", "330", "standing", {"1": "j18", "2": "j19"}),
        ],
        {"VCC": "supply", "GND": "ground", "OUT": "signal"},
        [
            ("VCC", "a10", "L+10"),
            ("VCC", "j10", "R+10"),
            ("GND", "i13", "R-13"),
            ("OUT", "b11", "c17"),
            ("OUT", "b7", "g5"),
            ("VCC", "b28", "L+28"),
            ("GND", "b20", "L-20"),
            ("OUT", "g11", "g17"),
        ],
        [Cut(between=("L+14", "L+15"))],
    )


def _dip(pins: int, row: int) -> dict[str, str]:
    """A DIP across the channel from column e to f, notch up, pin 1 in e<row>."""
    half = pins // 2
    left = {str(i + 1): f"e{row + i}" for i in range(half)}
    return left | {str(half + i + 1): f"f{row + half - 1 - i}" for i in range(half)}


MIX = (
    ("U", "dip-8", ("timer", "dual op amp")),
    ("U", "dip-14", ("hex inverter",)),
    ("R", "axial-0207", ("10k", "4k7", "470k", "100", "2M2")),
    ("R", "axial-0207", ("22k", "47k", "1k", "220")),
    ("R", "axial-0207", ("22k", "47k", "1k", "220")),
    ("C", "disc-2.5", ("100n", "22p")),
    ("C", "disc-5", ("100n", "4n7")),
    ("C", "radial-5", ("10u", "1u")),
    ("C", "radial-8", ("470u",)),
    ("D", "do-35", ("1N4148",)),
    ("D", "do-41", ("1N4007",)),
    ("D", "led-5", ("red", "green")),
    ("Q", "to-92", ("BC547", "2N7000")),
    ("Q", "to-220", ("7805",)),
    ("J", "terminal-2", ("9 V in",)),
    ("J", "header-4", ("sensor",)),
    ("S", "button-6", ("start",)),
    ("P", "pad-2", ("battery",)),
    ("RV", "trimmer-3", ("10k",)),
)


def generated(board_name: str, count: int, seed: int, jumpers: int = 10, cuts: int = 0) -> Plan:
    """Parts strewn at random so that no two bodies or leads meet, with jumpers and cuts where there is room."""
    rng, board = random.Random(seed), load_board(board_name)
    taken: set[str] = set()
    hulls: list[Box] = []
    specs: list[Spec] = []
    numbers: dict[str, int] = {}
    for i in range(count):
        letter, name, values = MIX[i % len(MIX)]
        package = lookup(name)
        for _ in range(3000):
            mount, pins = _pose(package, board, rng)
            if pins and _fits(package, mount, pins, board, taken, hulls):
                numbers[letter] = numbers.get(letter, 0) + 1
                specs.append((f"{letter}{numbers[letter]}", name, rng.choice(values), mount, pins))
                taken |= set(pins.values())
                hull = _hull(package, mount, pins, board)
                hulls += [hull] if hull else []
                break
    free = [h for h in sorted(board.holes) if h not in taken and not _covered(board, h, hulls)]
    rng.shuffle(free)
    rows = []
    for net in ("VCC", "GND", "SENSE", "OUT", "VCC", "GND", "N7", "N8", "N9", "N10")[:jumpers]:
        a = free.pop()
        far = [(_distance(board, a, h) + 30 * rng.random(), h) for h in free if _distance(board, a, h) > 5]
        b = min(far)[1]
        free.remove(b)
        rows.append((net, a, b))
    severed = [Cut(at=free.pop()) if i % 2 else _knife(board, rng) for i in range(cuts)]
    roles = {"VCC": "supply", "GND": "ground"}
    nets = {net: roles.get(net, "signal") for net, _, _ in rows}
    return make_plan(f"strewn-{seed}", board, specs, nets, rows, severed)


def _knife(board: Board, rng: random.Random) -> Cut:
    strip = rng.choice([s for s in board.strips if len(s.holes) > 1])
    return Cut(between=rng.choice(strip.links))


def _pose(package: Package, board: Board, rng: random.Random) -> tuple[str, dict[str, str]]:
    first = board.holes[rng.choice(sorted(board.holes))]
    form, turn, mount = package.form, rng.randrange(4), "flat"
    if isinstance(form, Rigid):
        offsets = form.offsets
    elif isinstance(form, TwoLead):
        mount = "standing" if form.standing and rng.random() < 0.3 else "flat"
        offsets = ((0, 0), (rng.choice(form.standing if mount == "standing" else form.flat), 0))
    elif isinstance(form, Diagonal):
        offsets = ((0, 0), (1, 1))
    else:
        assert isinstance(form, Flying)
        places = rng.sample(sorted(board.holes), len(package.pins))
        return mount, dict(zip(package.pins, places, strict=True))
    pins = {}
    for pin, (dx, dy) in zip(package.pins, offsets, strict=True):
        x, y = ((dx, dy), (-dy, dx), (-dx, -dy), (dy, -dx))[turn]
        hole = board.hole_at.get((first.x + x, first.y + y))
        if hole is None:
            return mount, {}
        pins[pin] = hole.address
    return mount, pins


def _hull(package: Package, mount: str, pins: Mapping[str, str], board: Board) -> Box | None:
    art = part_art(package, mount, {p: (board.holes[a].x_mm, board.holes[a].y_mm) for p, a in pins.items()})
    return Box.around(art.hull) if art else None


def _covered(board: Board, address: str, hulls: Sequence[Box]) -> bool:
    hole = board.holes[address]
    return any(h.x0 < hole.x_mm < h.x1 and h.y0 < hole.y_mm < h.y1 for h in hulls)


def _fits(
    package: Package, mount: str, pins: Mapping[str, str], board: Board, taken: set[str], hulls: Sequence[Box]
) -> bool:
    if taken & set(pins.values()) or any(_covered(board, a, hulls) for a in pins.values()):
        return False
    hull = _hull(package, mount, pins, board)
    if hull is None:
        return True
    outline = Box(0, 0, *board.outline_mm)
    return (
        outline.holds(hull)
        and not any(hull.meets(h) for h in hulls)
        and not any(_covered(board, a, [hull]) for a in taken)
    )


def hostile() -> Plan:
    """Names that try to be markup, that do not end, and that run from right to left."""
    board = load_board("five-hole-30")
    script = "<script>harmed=1</script>"
    quotes = "\"'`><img src=x onerror=harmed=1>&amp;]]>"
    rtl = "\u202e\u05d0\u05d1\u05d2 evil"
    long = "R" + "9" * 120
    plan = make_plan(
        f"</title>{script}",
        board,
        [
            (script, "axial-0207", quotes, "flat", {"1": "a5", "2": "e5"}),
            (quotes, "radial-5", script, "flat", {"1": "b13", "2": "b14"}),
            (rtl, "dip-8", rtl, "flat", _dip(8, 18)),
            (long, "led-5", "w" * 200, "flat", {"1": "h22", "2": "h23"}),
            ("#include", "pad-2", '#eval("1") $x$ *bold* @ref \\u{41}', "flat", {"1": "L+1", "2": "L-1"}),
        ],
        {script: "supply", quotes: "ground", rtl: "signal", "N" * 150: "signal"},
        [(script, "a8", "j8"), (quotes, "b10", "g10"), ("N" * 150, "c12", "h12")],
        [Cut(between=("L+14", "L+15"))],
    )
    findings = (
        Finding("resistor-power-near", "warning", f"{quotes} is warm", (quotes, rtl), {}, script, '#eval("1") *mend*'),
        Finding("resistor-power", "error", f"{script} is hot", (script, long, "a5", "jumper 1"), {}, rtl, quotes),
        Finding("current-basis", "note", f"{rtl} and {'N' * 150} are not known"),
    )
    return replace(plan, findings=findings)
