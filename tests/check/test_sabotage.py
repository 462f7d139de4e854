"""Good plans spoiled in every way there is: each fault is told by its own code, and names what is concerned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from placer.boards.model import Keepout
from placer.check.judge import judge
from placer.circuit.model import AwayWish, NearWish, PinRef, Place
from placer.packages.catalogue import lookup
from placer.plan.model import Cut, Jumper, Options, Placement, Plan
from tests.check.plans import (
    cut,
    lantern,
    moved,
    netted,
    placed,
    repacked,
    scale,
    scored,
    wired,
    wishing,
)

Spoil = Callable[[], Plan]
Case = tuple[Spoil, dict[str, tuple[str, ...]]]
"""How to spoil a plan, and the fault codes to come of it, each with words its message must hold."""


def _without_part(plan: Plan, ref: str) -> Plan:
    return replace(plan, placements={r: p for r, p in plan.placements.items() if r != ref})


def _without_pin(plan: Plan, ref: str, pin: str) -> Plan:
    old = plan.placements[ref]
    kept = {name: hole for name, hole in old.pins.items() if name != pin}
    return replace(plan, placements={**plan.placements, ref: replace(old, pins=kept)})


def _extra(plan: Plan, item: Placement) -> Plan:
    return replace(plan, placements={**plan.placements, item.ref: item})


def _kept_out(plan: Plan, *corners_mm: float) -> Plan:
    return replace(plan, board=replace(plan.board, keepouts=(Keepout("screw NW", *corners_mm),)))


def _around(plan: Plan, hole: str, half_mm: float) -> tuple[float, float, float, float]:
    at = plan.board.holes[hole]
    return at.x_mm - half_mm, at.y_mm - half_mm, at.x_mm + half_mm, at.y_mm + half_mm


def _shortened(plan: Plan) -> Plan:
    """The plan on a board that ends 1 mm below the terminal's lower pin, whose body reaches 2.54 mm."""
    width, bottom = plan.board.outline_mm[0], plan.board.holes["a27"].y_mm + 1.0
    return replace(plan, board=replace(plan.board, outline_mm=(width, bottom)))


def _options(plan: Plan, **changes: object) -> Plan:
    return replace(plan, options=replace(plan.options, **changes))  # type: ignore[arg-type]


def _score(plan: Plan, **changes: object) -> Plan:
    return replace(plan, score=replace(plan.score, **changes))  # type: ignore[arg-type]


def _proof(plan: Plan, **changes: object) -> Plan:
    return replace(plan, proof=replace(plan.proof, **changes))  # type: ignore[arg-type]


def _jumpers(plan: Plan, number: int, **changes: object) -> Plan:
    jumpers = list(plan.jumpers)
    jumpers[number] = replace(jumpers[number], **changes)  # type: ignore[arg-type]
    return replace(plan, jumpers=tuple(jumpers))


PLACEMENT: dict[str, Case] = {
    "a pin moved to another strip": (
        lambda: moved(lantern(), "R1", p2="c16"),
        {
            "net-apart": ("net KEY", "R1.2 (c16) on strip L16", "S1.1 (e20)", "P1.1 (h20)"),
            "jumper-off-net": ("jumper 6 of net KEY", "d15", "no pin"),
        },
    ),
    "two pins of a resistor swapped": (
        lambda: placed(lantern(), "R1", "c15 c11"),
        {
            "nets-shorted": ("TRIG and KEY", "strip L11", "R1.2 (c11)", "U1.2 (e11)"),
            "net-apart": ("net TRIG", "R1.1 (c15)"),
            "jumper-off-net": ("jumper 6 of net KEY", "d15", "net TRIG"),
        },
    ),
    "two pins of an IC swapped": (
        lambda: moved(lantern(), "U1", p2="e12", p3="e11"),
        {
            "pin-order": ("U1 (dip-8)", "2 in e12", "3 in e11"),
            "nets-shorted": ("TRIG", "OUT", "L12"),
            "net-apart": ("U1.2 (e12)",),
            "jumper-off-net": ("jumper 7 of net OUT", "d12", "net TRIG"),
        },
    ),
    "an IC mirrored": (
        lambda: placed(lantern(), "U1", "f10 f11 f12 f13 e13 e12 e11 e10"),
        {
            "part-mirrored": ("U1 (dip-8)", "1 in f10", "mirrored"),
            "nets-shorted": ("U1.8",),
            "net-apart": ("U1.1 (f10)",),
            "jumper-off-net": ("jumper 7 of net OUT", "d12", "net THR"),
            "open-pin-touched": ("U1.5 (e13)", "C1.2 (a13)"),
        },
    ),
    "an IC turned half round": (
        lambda: placed(lantern(), "U1", "f13 f12 f11 f10 e10 e11 e12 e13"),
        {
            "nets-shorted": ("U1.",),
            "net-apart": ("net GND", "U1.1 (f13)"),
            "jumper-off-net": ("jumper 7 of net OUT", "d12"),
            "open-pin-touched": ("U1.5 (e10)", "C1.1 (a10)", "strip L10"),
        },
    ),
    "a pin of an IC out of line": (
        lambda: moved(lantern(), "U1", p8="g10"),
        {"pin-spacing": ("U1 (dip-8)", "U1.8 in g10")},
    ),
    "a resistor lying over three steps": (
        lambda: moved(lantern(), "R1", p2="c14"),
        {
            "wrong-span": ("R1 (axial-0207)", "3 steps", "c11 to c14", "4 to 8 steps"),
            "net-apart": ("net KEY", "R1.2 (c14)"),
            "jumper-off-net": ("jumper 6 of net KEY", "d15", "no pin"),
        },
    ),
    "a resistor standing over four steps": (
        lambda: placed(lantern(), "R1", "c11 c15", "standing"),
        {"wrong-span": ("R1 (axial-0207)", "4 steps", "stand over 1 or 2 steps")},
    ),
    "a resistor on a diagonal": (
        lambda: moved(lantern(), "R1", p1="b11"),
        {"off-axis": ("R1 (axial-0207)", "b11 to c15", "diagonal")},
    ),
    "a transistor with a gap": (
        lambda: moved(lantern(), "Q1", p3="g19"),
        {"pin-spacing": ("Q1 (to-92)", "Q1.3 in g19")},
    ),
    "an IC said to stand": (
        lambda: placed(lantern(), "U1", "e10 e11 e12 e13 f13 f12 f11 f10", "standing"),
        {"wrong-mount": ("U1 (dip-8)", "standing", "flat")},
    ),
    "flying leads said to stand": (
        lambda: placed(lantern(), "P1", "h20 h12", "standing"),
        {"wrong-mount": ("P1 (pad-2)", "standing", "flat")},
    ),
    "a disc capacitor said to stand": (
        lambda: placed(lantern(), "C1", "a10 a13", "standing"),
        {"wrong-mount": ("C1 (disc-5)", "cannot stand")},
    ),
    "a mount no one knows": (
        lambda: placed(lantern(), "R1", "c11 c15", "askew"),
        {"wrong-mount": ("R1 (axial-0207)", "askew")},
    ),
    "two leads in one hole": (
        lambda: moved(lantern(), "P1", p2="j12"),
        {
            "hole-shared": ("hole j12", "R2.2", "P1.2"),
            "lead-under-body": ("P1.2 in j12", "R2 (axial-0207)"),
        },
    ),
    "both pins of a part in one hole": (
        lambda: placed(lantern(), "R2", "j11 j11", "standing"),
        {
            "hole-shared": ("hole j11", "R2.1", "R2.2"),
            "wrong-span": ("R2 (axial-0207)", "0 steps"),
            "nets-shorted": ("DIS", "THR", "strip R11"),
            "net-apart": ("net THR", "R2.2 (j11)"),
        },
    ),
    "a lead under a body": (
        lambda: moved(lantern(), "P1", p1="c13"),
        {
            "lead-under-body": ("P1.1 in c13", "under the body of R1 (axial-0207)"),
            "nets-shorted": ("KEY", "VCC"),
            "net-apart": ("net KEY", "P1.1 (c13)"),
        },
    ),
    "a body on a body": (
        lambda: placed(lantern(), "Q1", "h16 h17 h18"),
        {
            "bodies-overlap": ("D1 (led-5)", "Q1 (to-92)", "h16, h17, h18"),
            "hole-shared": ("hole h17", "Q1.2", "jumper 7"),
            "lead-under-body": ("Q1.1 in h16", "D1 (led-5)"),
            "wire-under-body": ("jumper 7 in h17", "Q1 (to-92)"),
        },
    ),
    "a pin in a hole the board lacks": (
        lambda: moved(lantern(), "P1", p2="z99"),
        {"unknown-hole": ("P1.2", "z99", "five-hole-30")},
    ),
    "a part left out": (
        lambda: _without_part(lantern(), "R2"),
        {"part-missing": ("R2 (axial-0207)",)},
    ),
    "a part too many": (
        lambda: _extra(lantern(), Placement("R9", "axial-0207", "flat", {"1": "h3", "2": "h7"})),
        {"unknown-part": ("R9 (axial-0207)",)},
    ),
    "a placement that belongs to another part": (
        lambda: replace(
            lantern(), placements={**lantern().placements, "R1": replace(lantern().placements["R1"], ref="R7")}
        ),
        {"placement-misnamed": ("R1", "R7")},
    ),
    "a pin left out": (
        lambda: _without_pin(lantern(), "R1", "2"),
        {"pin-missing": ("R1.2", "axial-0207"), "jumper-off-net": ("jumper 6 of net KEY", "d15", "no pin")},
    ),
    "a pin too many": (
        lambda: moved(lantern(), "R1", p3="c30"),
        {"unknown-pin": ("R1.3", "c30", "axial-0207")},
    ),
    "another package than the circuit's": (
        lambda: _extra(lantern(), replace(lantern().placements["R1"], package="axial-0309")),
        {"wrong-package": ("R1", "axial-0309", "axial-0207")},
    ),
    "a package the circuit does not carry": (
        lambda: replace(
            lantern(),
            circuit=replace(
                lantern().circuit,
                packages={n: p for n, p in lantern().circuit.packages.items() if n != "led-5"},
            ),
        ),
        {
            "unknown-package": ("D1", "led-5"),
            "jumper-off-net": ("jumper 3 of net GND", "g15", "D1.2"),
        },
    ),
    "a body over the edge": (
        lambda: _shortened(wishing(lantern(), "J1", Place())),
        {"over-the-edge": ("J1 (terminal-2)", "a25, a27", "five-hole-30")},
    ),
    "a body in a keep-out": (
        lambda: _kept_out(lantern(), *_around(lantern(), "c13", 0.3)),
        {"in-keepout": ("R1 (axial-0207)", "screw NW")},
    ),
    "a lead in a keep-out": (
        lambda: _kept_out(lantern(), *_around(lantern(), "h12", 0.3)),
        {"in-keepout": ("P1.2 in h12", "screw NW")},
    ),
    "a wire end in a keep-out": (
        lambda: _kept_out(lantern(), *_around(lantern(), "c22", 0.3)),
        {"in-keepout": ("jumper 1 in c22", "screw NW")},
    ),
    "a lead too thick": (
        lambda: repacked(lantern(), "axial-0207", lead_mm=1.2),
        {"lead-too-thick": ("R1.1", "c11", "axial-0207", "1.2 mm", "hole is 1 mm")},
    ),
    "a lead spread too far": (
        lambda: repacked(lantern(), "terminal-2", spread_mm=0.2),
        {"lead-too-thick": ("J1.1", "a25", "0.9 mm", "0.2 mm off the grid")},
    ),
    "pins and positions of a package that do not pair": (
        lambda: repacked(lantern(), "to-92", form=replace(lookup("to-92").form, offsets=((0, 0), (1, 0)))),
        {"package-malformed": ("to-92", "3 pins", "2 pin positions")},
    ),
    "a net that lists a part there is not": (
        lambda: netted(lantern(), DIS="U1.7 R2.1 R8.1"),
        {"unknown-part": ("net DIS", "R8.1")},
    ),
    "a net that lists a pin there is not": (
        lambda: netted(lantern(), DIS="U1.7 R2.1 R2.5"),
        {"unknown-pin": ("net DIS", "R2.5", "axial-0207")},
    ),
    "a pin in two nets": (
        lambda: netted(lantern(), DIS="U1.7 R2.1 Q1.3", SPARE="Q1.3"),
        {"pin-in-two-nets": ("Q1.3", "DIS and SPARE"), "net-apart": ("net DIS", "Q1.3 (g18)")},
    ),
}

COPPER: dict[str, Case] = {
    "a jumper left out": (
        lambda: wired(lantern(), drop=(6,)),
        {"net-apart": ("net OUT", "U1.3 (e12) on strip L12", "Q1.2 (g17) on strip R17")},
    ),
    "a jumper that ends on another net": (
        lambda: wired(lantern(), ("OUT", "d12", "i11"), drop=(6,)),
        {
            "jumper-off-net": ("jumper 7 of net OUT", "i11", "net DIS", "strip R11"),
            "nets-shorted": ("OUT", "DIS", "U1.3 (e12)", "U1.7 (f11)"),
            "net-apart": ("net OUT", "Q1.2 (g17)"),
        },
    ),
    "a jumper that ends on bare copper": (
        lambda: wired(lantern(), ("OUT", "d12", "h29"), drop=(6,)),
        {
            "jumper-off-net": ("jumper 7 of net OUT", "h29", "no pin", "strip R29"),
            "net-apart": ("net OUT", "Q1.2 (g17)"),
        },
    ),
    "a jumper that ends on an open pin": (
        lambda: wired(lantern(), ("OUT", "b12", "h18")),
        {
            "jumper-off-net": ("jumper 8 of net OUT", "h18", "only Q1.3", "strip R18"),
            "open-pin-touched": ("Q1.3 (g18)", "net OUT", "U1.3 (e12)", "strip R18"),
        },
    ),
    "a jumper in an occupied hole": (
        lambda: wired(lantern(), ("OUT", "d12", "g17"), drop=(6,)),
        {"hole-shared": ("hole g17", "Q1.2", "jumper 7"), "wire-under-body": ("jumper 7 in g17", "Q1")},
    ),
    "two wire ends in one hole": (
        lambda: wired(lantern(), ("GND", "d10", "c27"), drop=(1,)),
        {"hole-shared": ("hole d10", "jumper 1", "jumper 7")},
    ),
    "a jumper under a body": (
        lambda: wired(lantern(), ("VCC", "c13", "c25"), drop=(3,)),
        {"wire-under-body": ("jumper 7 in c13", "R1 (axial-0207)")},
    ),
    "a jumper to a hole the board lacks": (
        lambda: wired(lantern(), ("OUT", "d12", "q17"), drop=(6,)),
        {"unknown-hole": ("jumper 7", "q17", "five-hole-30"), "net-apart": ("net OUT",)},
    ),
    "a jumper of no length": (
        lambda: wired(lantern(), ("OUT", "b12", "b12")),
        {"jumper-no-length": ("jumper 8 of net OUT", "b12")},
    ),
    "a jumper of a net there is not": (
        lambda: _jumpers(lantern(), 6, net="OUTPUT"),
        {"unknown-net": ("jumper 7", "d12 to h17", "OUTPUT")},
    ),
    "a jumper of the wrong net": (
        lambda: _jumpers(lantern(), 6, net="DIS"),
        {"jumper-off-net": ("jumper 7 of net DIS", "net OUT")},
    ),
    "a rail that joins two nets": (
        lambda: wired(lantern(), ("TRIG", "b11", "L+3"), ("OUT", "b12", "L+5")),
        {
            "jumper-off-net": ("jumper 8 of net TRIG", "L+3", "net OUT"),
            "nets-shorted": ("TRIG", "OUT", "U1.2 (e11)", "U1.3 (e12)"),
        },
    ),
    "two nets on one strip": (
        lambda: moved(lantern(), "P1", p2="h11"),
        {
            "nets-shorted": ("DIS and THR", "strip R11", "R2.1 (j11)", "P1.2 (h11)"),
            "net-apart": ("net THR", "P1.2 (h11) on strip R11"),
        },
    ),
    "an open pin that meets a net": (
        lambda: moved(lantern(), "P1", p2="h13"),
        {
            "open-pin-touched": ("U1.5 (f13)", "strip R13", "P1.2 (h13) of net THR"),
            "net-apart": ("net THR", "P1.2 (h13)"),
        },
    ),
    "two open pins that meet": (
        lambda: netted(moved(lantern(), "P1", p2="h13"), THR="U1.6 R2.2"),
        {"open-pin-touched": ("U1.5 (f13)", "P1.2 (h13)", "strip R13")},
    ),
    "a net on an unlisted pin that metal joins to another": (
        lambda: moved(lantern(), "P1", p2="h22"),
        {
            "nets-shorted": ("GND and THR", "P1.2 (h22)", "S1.4 (f22)", "strip R22"),
            "net-apart": ("net THR", "P1.2 (h22)"),
        },
    ),
    "open pins joined inside, one of them touched": (
        lambda: netted(lantern(), KEY="R1.2 P1.1"),
        {
            "open-pin-touched": ("S1.1 (e20)", "S1.2 (f20)", "net KEY", "P1.1 (h20)"),
        },
    ),
    "two nets on pins that metal joins": (
        lambda: netted(lantern(), KEY="R1.2 S1.1", BELL="S1.2 P1.1"),
        {"nets-shorted": ("KEY and BELL", "S1.1 and S1.2")},
    ),
    "a cut where the builder wants none": (
        lambda: cut(lantern(), Cut(None, ("h17", "g17"))),
        {
            "cut-not-wanted": ("cut between h17 and g17",),
            "net-apart": ("net OUT", "Q1.2 (g17) on strip R17 from f17 to g17"),
            "jumper-off-net": ("jumper 7 of net OUT", "h17", "no pin"),
        },
    ),
    "a cut at a hole where only a knife is allowed": (
        lambda: cut(_options(lantern(), allow_cuts=True), Cut("b3")),
        {"cut-not-allowed": ("cut at b3", "strip L3", "at a hole")},
    ),
    "a cut by knife where only drilling is allowed": (
        lambda: replace(
            scale(),
            board=replace(
                scale().board,
                strips=tuple(replace(s, cut=replace(s.cut, between=False)) for s in scale().board.strips),
            ),
        ),
        {"cut-not-allowed": ("cut between F11 and F12", "strip F", "between holes")},
    ),
    "a cut in a strip that branches": (
        lambda: replace(
            scale(),
            board=replace(
                scale().board,
                strips=tuple(
                    replace(s, links=(*s.links, ("F1", "F3"))) if s.name == "F" else s for s in scale().board.strips
                ),
            ),
        ),
        {"cut-not-allowed": ("cut between F11 and F12", "strip F", "branches")},
    ),
    "the same cut twice": (
        lambda: cut(scale(), Cut("C11")),
        {"cut-twice": ("cut at C11",)},
    ),
    "the same knife cut twice, told backwards": (
        lambda: cut(scale(), Cut(None, ("F12", "F11"))),
        {"cut-twice": ("cut between F12 and F11",)},
    ),
    "a cut between holes that are no neighbours": (
        lambda: cut(scale(), Cut(None, ("F11", "F13")), drop=(3,)),
        {
            "cut-off-copper": ("cut between F11 and F13",),
            "open-pin-touched": ("U1.4 (F10)", "U1.5 (F13)", "strip F"),
        },
    ),
    "a cut between two strips": (
        lambda: cut(scale(), Cut(None, ("H11", "I11"))),
        {"cut-off-copper": ("cut between H11 and I11",)},
    ),
    "a cut at a hole the board lacks": (
        lambda: cut(scale(), Cut("C99")),
        {"unknown-hole": ("cut at C99", "long-strip-24x37")},
    ),
    "a cut that is none": (lambda: cut(scale(), Cut()), {"cut-malformed": ("either at a hole or between",)}),
    "a cut both ways at once": (
        lambda: cut(scale(), Cut("F11", ("F11", "F12")), drop=(3,)),
        {"cut-malformed": ("F11",)},
    ),
    "a pin in a drilled hole": (
        lambda: cut(scale(), Cut("D5")),
        {"drilled-hole-used": ("C1.1 is in D5",), "net-apart": ("net IN", "C1.1 (D5) on no copper")},
    ),
    "a wire end in a drilled hole": (
        lambda: cut(scale(), Cut("D16")),
        {
            "drilled-hole-used": ("jumper 1 is in D16",),
            "net-apart": ("net OUT", "U1.7 (D13) on strip D from D12 to D15"),
        },
    ),
    "a cut left out": (
        lambda: cut(scale(), drop=(0,)),
        {"nets-shorted": ("GND and VCC", "strip C", "U1.1 (C10)", "U1.8 (C13)")},
    ),
    "a cut at the wrong place": (
        lambda: cut(scale(), Cut("C15"), drop=(0,)),
        {
            "nets-shorted": ("GND and VCC", "strip C from C1 to C14", "U1.1 (C10)", "U1.8 (C13)"),
            "net-apart": ("net VCC", "U1.8 (C13)", "R2.1 (C20) on strip C from C16 to C37"),
        },
    ),
    "a cut through a net": (
        lambda: cut(scale(), Cut("G10")),
        {"net-apart": ("net MID", "R1.2 (G3) on strip G from G1 to G9", "R2.2 (G20) on strip G from G11 to G37")},
    ),
}

WISHES: dict[str, Case] = {
    "at": (
        lambda: wishing(lantern(), "R1", Place(at={"1": "b11"})),
        {"wish-at": ("at: {1: b11}", "R1.1 is in c11")},
    ),
    "edge": (
        lambda: wishing(lantern(), "J1", Place(edge="right")),
        {"wish-edge": ("edge: right", "J1.1 is in a25", "J1.2 is in a27")},
    ),
    "any edge": (
        lambda: wishing(lantern(), "R1", Place(edge="any")),
        {"wish-edge": ("edge: any", "R1.1 is in c11")},
    ),
    "rotation": (
        lambda: wishing(lantern(), "U1", Place(rotation=90)),
        {"wish-rotation": ("rotation: 90", "of U1", "turned by 0", "U1.1 is in e10")},
    ),
    "rotation of two leads": (
        lambda: wishing(lantern(), "R1", Place(rotation=270)),
        {"wish-rotation": ("rotation: 270", "of R1", "turned by 90")},
    ),
    "mount": (
        lambda: wishing(lantern(), "R2", Place(mount="flat")),
        {"wish-mount": ("mount: flat", "of R2", "standing")},
    ),
    "near": (
        lambda: wishing(lantern(), "J1", Place(edge="left", near=(NearWish(PinRef("U1", "8"), 6.0),))),
        {"wish-near": ("near: [U1.8]", "of J1", "U1.8 (f10)", "allowed 6", "J1.1 is in a25")},
    ),
    "near a pin there is not": (
        lambda: wishing(lantern(), "R1", Place(near=(NearWish(PinRef("U1", "9")),))),
        {"wish-near": ("near: [U1.9]", "of R1", "no pin U1.9")},
    ),
    "away": (
        lambda: wishing(lantern(), "R1", Place(away=(AwayWish("U1", 10.0),))),
        {"wish-away": ("away: [U1]", "R1.1 (c11) is 5.08 mm from U1.2 (e11)", "10 mm")},
    ),
    "away from a part there is not": (
        lambda: wishing(lantern(), "R1", Place(away=(AwayWish("U7"),))),
        {"wish-away": ("away: [U7]", "of R1", "no part U7")},
    ),
    "side": (
        lambda: wishing(lantern(), "R1", Place(side="right")),
        {"wish-side": ("side: right", "R1.2 is in c15", "other half")},
    ),
    "no diagonal": (
        lambda: wishing(moved(_options(lantern(), diagonals=True), "R1", p1="b11"), "R1", Place(diagonal=False)),
        {"off-axis": ("R1 (axial-0207)",), "wish-diagonal": ("diagonal: false", "R1.1 is in b11")},
    ),
}

FIGURES: dict[str, Case] = {
    "jumpers miscounted": (lambda: _score(lantern(), jumpers=6), {"wrong-score": ("6 jumpers", "has 7")}),
    "cuts miscounted": (lambda: _score(scale(), cuts=3), {"wrong-score": ("3 cuts", "has 4")}),
    "wire mismeasured": (lambda: _score(lantern(), jumper_mm=150.0), {"wrong-score": ("150.00 mm", "165.73 mm")}),
    "one wire mismeasured": (
        lambda: _jumpers(lantern(), 0, length_mm=31.0),
        {"wrong-length": ("jumper 1 of net GND", "31.00 mm", "d10", "c22", "30.59 mm")},
    ),
    "a length that is no number": (
        lambda: _jumpers(lantern(), 0, length_mm=float("nan")),
        {"wrong-length": ("jumper 1 of net GND",)},
    ),
    "cost miscounted": (
        lambda: _proof(_score(lantern(), cost=6.0), lower_bound=6.0),
        {"wrong-cost": ("cost 6", "7 jumpers at 1", "cost 7")},
    ),
    "cost at another price": (
        lambda: _options(lantern(), jumper_cost=2.0),
        {"wrong-cost": ("cost 7", "7 jumpers at 2", "cost 14")},
    ),
    "a price below zero": (lambda: _options(lantern(), cut_cost=-1.0), {"wrong-cost": ("cut cost is -1",)}),
    "optimal with a gap": (
        lambda: _proof(lantern(), lower_bound=6.0, gap=1.0),
        {"wrong-proof": ('"optimal"', "bound 6", "cost 7")},
    ),
    "a gap that is not the difference": (
        lambda: _proof(lantern(), status="feasible", lower_bound=6.0, gap=0.0),
        {"wrong-proof": ("gap 0", "cost 7 less bound 6 is 1")},
    ),
    "a bound above the cost": (
        lambda: _proof(lantern(), status="feasible", lower_bound=8.0, gap=-1.0),
        {"wrong-proof": ("bound 8", "above the cost 7")},
    ),
    "a bound below zero": (
        lambda: _proof(lantern(), status="feasible", lower_bound=-1.0, gap=8.0),
        {"wrong-proof": ("bound -1", "below zero")},
    ),
    "a bound that is no number": (
        lambda: _proof(lantern(), status="feasible", lower_bound=float("nan")),
        {"wrong-proof": ("nan",)},
    ),
    "a status no one knows": (lambda: _proof(lantern(), status="best"), {"wrong-proof": ('"best"', '"optimal"')}),
}

ALL = {**PLACEMENT, **COPPER, **{f"wish broken: {name}": case for name, case in WISHES.items()}, **FIGURES}


@pytest.mark.parametrize("plan", [lantern(), scale()], ids=lambda plan: plan.circuit.name)
def test_a_good_plan_has_nothing_against_it(plan: Plan) -> None:
    report = judge(plan)

    assert report.faults == ()
    assert report.warnings == ()


@pytest.mark.parametrize("name", ALL)
def test_each_way_to_spoil_a_plan_is_told_and_named(name: str) -> None:
    spoil, expected = ALL[name]
    faults = judge(spoil()).faults

    assert {fault.code for fault in faults} == set(expected), [fault.message for fault in faults]
    for code, words in expected.items():
        messages = [fault.message for fault in faults if fault.code == code]
        missing = {message: [word for word in words if word not in message] for message in messages}
        assert [] in missing.values(), missing


@pytest.mark.parametrize("name", ALL)
def test_the_same_plan_gets_the_same_report_in_the_same_order(name: str) -> None:
    plan = ALL[name][0]()
    backwards = replace(plan, placements=dict(reversed(plan.placements.items())))

    assert judge(plan) == judge(backwards)


def test_all_faults_are_told_not_the_first() -> None:
    plan = _score(wired(moved(placed(lantern(), "R1", "c11 c14"), "P1", p2="h13"), drop=(6,)), cuts=2)

    codes = {fault.code for fault in judge(plan).faults}

    assert {"wrong-span", "open-pin-touched", "net-apart", "wrong-score"} <= codes


def test_a_jumper_that_joins_what_is_joined_is_doubtful_not_wrong() -> None:
    report = judge(wired(lantern(), ("OUT", "b12", "i17")))

    assert report.faults == ()
    assert {warning.code for warning in report.warnings} == {"needless-jumper"}
    assert any("jumper 8 of net OUT" in w.message and "b12 and i17" in w.message for w in report.warnings)


def test_an_empty_strip_may_be_a_junction() -> None:
    report = judge(wired(lantern(), ("OUT", "d12", "c3"), ("OUT", "d3", "h17"), drop=(6,)))

    assert report.faults == ()
    assert report.warnings == ()


@pytest.mark.parametrize(
    "item", [Cut("H9"), Cut("G1"), Cut(None, ("C30", "C31"))], ids=["bare strip", "end of a net", "beside a net"]
)
def test_a_cut_for_nothing_is_doubtful_not_wrong(item: Cut) -> None:
    report = judge(cut(scale(), item))

    assert report.faults == ()
    assert [warning.code for warning in report.warnings] == ["idle-cut"]
    assert (item.at or "C30") in report.warnings[0].message


def test_a_wish_that_says_nothing_is_doubtful_not_wrong() -> None:
    turned = judge(wishing(lantern(), "P1", Place(rotation=90)))
    slanted = judge(wishing(lantern(), "U1", Place(diagonal=True)))

    assert (turned.faults, slanted.faults) == ((), ())
    assert "rotation: 90" in turned.warnings[0].message
    assert "diagonal: true" in slanted.warnings[0].message


@pytest.mark.parametrize(
    "ref_and_place",
    [
        ("R1", Place(at={"1": "c11", "2": "c15"}, rotation=90, mount="flat", side="left", diagonal=False)),
        ("R1", Place(side="top")),  # rows 11 and 15 of 30
        ("U1", Place(rotation=0)),
        ("C1", Place(edge="left", near=(NearWish(PinRef("U1", "1"), 4.0),))),
        ("J1", Place(edge="any", side="bottom", away=(AwayWish("U1", 30.0),))),
    ],
    ids=str,
)
def test_a_wish_that_is_kept_is_no_fault(ref_and_place: tuple[str, Place]) -> None:
    assert judge(wishing(lantern(), *ref_and_place)).faults == ()


def test_a_part_wished_to_an_edge_may_overhang() -> None:
    assert judge(_shortened(lantern())).faults == ()


def test_options_without_cuts_forbid_every_cut() -> None:
    faults = judge(replace(scale(), options=Options(allow_cuts=False))).faults

    assert [fault.code for fault in faults] == ["cut-not-wanted"] * 4


def test_a_jumper_given_to_a_hundredth_of_a_millimetre_is_true_enough() -> None:
    plan = lantern()
    rounded = tuple(replace(jumper, length_mm=round(jumper.length_mm, 2)) for jumper in plan.jumpers)
    total = round(sum(jumper.length_mm for jumper in rounded), 1)

    assert judge(_score(replace(plan, jumpers=rounded), jumper_mm=total)).faults == ()


def test_an_unfinished_proof_is_no_fault() -> None:
    assert judge(scored(lantern(), bound=5.5)).faults == ()


def test_the_judge_takes_a_plan_that_holds_nothing() -> None:
    faults = judge(replace(lantern(), placements={}, jumpers=(Jumper("GND", "", "", 0.0),))).faults

    assert {"part-missing", "unknown-hole", "jumper-no-length"} <= {fault.code for fault in faults}
