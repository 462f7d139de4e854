"""Spacing: the gaps between neighbouring copper of different nets, and across cuts, against the voltage there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from placer.limits import dc, laws
from placer.limits.words import amount, figures
from placer.plan.conductors import CopperMap
from placer.plan.findings import Finding
from placer.plan.model import Plan

SIDE, KNIFE, DRILLED = "strips", "knife", "drilled"


@dataclass(frozen=True)
class Gap:
    """Two holes whose copper is next to each other, apart by ``mm``; ``kind``: between strips, or across a cut."""

    kind: str
    holes: tuple[str, str]
    mm: float


def gaps(plan: Plan, copper: CopperMap) -> Iterator[Gap]:
    """Return every place where copper of two segments comes next to each other."""
    board = plan.board
    drilled_mm = laws.drilled_gap_mm(board.copper.width_mm, board.copper.width_mm + laws.DRILL_OVER_MM)
    for hole in board.holes.values():
        if hole.address not in copper.segment_of:
            continue
        for dx, dy in ((1, 0), (0, 1)):
            near = board.hole_at.get((hole.x + dx, hole.y + dy))
            if near is None:
                continue
            if near.address in copper.drilled:
                far = board.hole_at.get((hole.x + 2 * dx, hole.y + 2 * dy))
                strip = board.strip_of[hole.address]
                if far is not None and far.address in copper.segment_of and board.strip_of[far.address] is strip:
                    yield Gap(DRILLED, (hole.address, far.address), drilled_mm)
            elif copper.segment_of[near.address] != copper.segment_of[hole.address]:
                same = board.strip_of[near.address] is board.strip_of[hole.address]
                mm = laws.KNIFE_MM if same else board.copper.gap_mm
                yield Gap(KNIFE if same else SIDE, (hole.address, near.address), mm)


def spacing_findings(plan: Plan, copper: CopperMap, known: dc.Estimate) -> Iterator[Finding]:
    """Say between which nets the gaps are less than their voltage asks for, the worst place of each kind and pair."""
    owner = _owners(plan, copper)
    worst: dict[tuple[str, str, str], tuple[Gap, float, float, bool]] = {}
    count: dict[tuple[str, str, str], int] = {}
    for gap in gaps(plan, copper):
        one, two = (owner.get(copper.segment_of[hole]) for hole in gap.holes)
        if one is None or two is None or one == two:
            continue
        volts, sure = _between(known, one, two)
        needed = laws.spacing_mm(volts)
        if gap.mm >= needed - 1e-9:
            continue
        key = (gap.kind, min(one, two), max(one, two))
        count[key] = count.get(key, 0) + 1
        if key not in worst or gap.mm < worst[key][0].mm:
            worst[key] = (gap, volts, needed, sure)
    for (kind, one, two), (gap, volts, needed, sure) in worst.items():
        places = count[(kind, one, two)]
        more = f" and at {places - 1} more places" if places > 1 else ""
        what = "the gap between" if kind == SIDE else f"the cut ({kind}) between"
        yield Finding(
            "spacing",
            "warning",
            f"nets {one} and {two} {'are' if sure else 'may be'} {amount(volts, 'V')} apart; {what} {gap.holes[0]} and "
            f"{gap.holes[1]}{more} is {gap.mm:.2f} mm, bare copper wants {needed:.2f} mm",
            (one, two, *gap.holes),
            figures(volts_V=volts, gap_mm=gap.mm, needed_mm=needed, places=places),
            laws.SPACING_SOURCE,
            "leave a strip free between them, or coat the board when it is built and tested",
        )


def _owners(plan: Plan, copper: CopperMap) -> Mapping[int, str]:
    """The net of each segment that carries one."""
    net_of = plan.circuit.net_of
    found: dict[int, str] = {}
    for conductor in copper.conductors:
        nets = [net_of[pin] for pin in conductor.pins if pin in net_of]
        if nets:
            found.update((copper.segment_of[segment.holes[0]], nets[0]) for segment in conductor.segments)
    return found


def _between(known: dc.Estimate, one: str, two: str) -> tuple[float, bool]:
    """The most that two nets are apart (V), and whether both are known better than by the circuit's whole span."""
    a, b = known.volts.get(one), known.volts.get(two)
    if a is None or b is None:
        return 0.0, False
    return max(a.high - b.low, b.high - a.low), dc.BOUNDED not in (a.how, b.how)
