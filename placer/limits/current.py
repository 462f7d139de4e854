"""Current: strips and jumpers against what their copper takes, and what is lost along supplies and ground."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from placer.circuit.model import Net
from placer.limits import dc, laws
from placer.limits.loads import FED, PARTIAL, NetLoad
from placer.limits.network import JUMPER, STRIP, Flow, Network, Piece, worst_flow
from placer.limits.words import amount, figures, listed
from placer.plan.findings import Finding
from placer.plan.model import Plan

NEAR = 0.8  # of a limit; common practice, no source
LEAST_A = 0.01  # less than this troubles no copper
DROP_SHARE = 0.05  # of the supply; common practice, no source
DROP_LEAST_V = 0.01
HOW = {
    dc.DECLARED: "as declared",
    FED: "as the net that feeds it says",
    dc.ESTIMATED: "estimated from its parts",
    dc.BOUNDED: "at most, by its parts",
    PARTIAL: "by its resistors and diodes alone",
}


def current_findings(
    plan: Plan, networks: Sequence[Network], loads: Mapping[str, NetLoad], known: dc.Estimate
) -> Iterator[Finding]:
    """Say which pieces of copper carry too much, what the worst drops are, and how the currents are known."""
    nets = {net.name: net for net in plan.circuit.nets}
    for network in networks:
        load = loads[network.net]
        if load.load.amps < LEAST_A:
            continue
        flow = worst_flow(network, load.load)
        for kind in (STRIP, JUMPER):
            yield from _too_much(plan, network, flow, load, kind)
        yield from _drop(nets[network.net], flow, load, known)
    yield from _basis(plan, loads)


@dataclass(frozen=True)
class _Worst:
    piece: Piece
    amps: float
    limit: float

    @property
    def share(self) -> float:
        return self.amps / self.limit


def _too_much(plan: Plan, network: Network, flow: Flow, load: NetLoad, kind: str) -> Iterator[Finding]:
    """Strips, or jumpers, of a net that carry more than their copper takes or nearly so, told in one finding."""
    rise = plan.board.copper.rise_k
    worst: dict[str, _Worst] = {}
    for piece, amps in zip(network.pieces, flow.pieces, strict=True):
        if piece.kind == kind and piece.area_mm2 > 0:
            limit = laws.current_limit_a(piece.area_mm2, rise)
            if kind == JUMPER:
                limit = laws.wire_limit_a(laws.JUMPER_AWG, laws.WIRE_RISE_K)
            found = _Worst(piece, amps, limit)
            if piece.name not in worst or found.share > worst[piece.name].share:
                worst[piece.name] = found
    for severity, low, high in (("error", 1.0, float("inf")), ("warning", NEAR, 1.0)):
        over = {name: item for name, item in worst.items() if low < item.share <= high}
        if not over:
            continue
        item = max(over.values(), key=lambda item: item.share)
        code = f"{kind}-current" if severity == "error" else f"{kind}-current-near"
        label = "strips" if kind == STRIP else "jumpers"
        allowed = rise if kind == STRIP else laws.WIRE_RISE_K
        warming = laws.rise_k(item.amps, item.piece.area_mm2)
        if kind == JUMPER:
            warming = laws.wire_rise_k(item.amps, laws.JUMPER_AWG)
        others = f" ({label} {listed(over)})" if len(over) > 1 else ""
        yield Finding(
            code,
            severity,
            f"net {network.net}, {HOW[load.how]}: {_place(item.piece)} may carry {amount(item.amps, 'A')}; "
            f"{_metal(plan, item.piece)} takes {amount(item.limit, 'A')} for {allowed:g} K of warming{others}",
            (network.net, *(name if kind == STRIP else f"jumper {name}" for name in over), *item.piece.ends),
            figures(
                current_A=item.amps,
                limit_A=item.limit,
                rise_K=warming,
                copper_mm2=item.piece.area_mm2,
            ),
            laws.CURRENT_SOURCE if kind == STRIP else f"{laws.WIRE_CURRENT_SOURCE}; {laws.WIRE_SOURCE}",
            _mend(item),
        )


def _place(piece: Piece) -> str:
    ends = f"{piece.ends[0]} and {piece.ends[1]}"
    return f"strip {piece.name} between {ends}" if piece.kind == STRIP else f"jumper {piece.name} between {ends}"


def _metal(plan: Plan, piece: Piece) -> str:
    if piece.kind == JUMPER:
        return f"AWG {laws.JUMPER_AWG} wire"
    copper = plan.board.copper
    narrow = piece.area_mm2 * 1000 / copper.thickness_um
    return f"{narrow:.3g} mm of {copper.thickness_um:g} um copper beside a hole"


def _mend(item: _Worst) -> str:
    gauge = laws.gauge_for(item.amps / NEAR)
    wire = "thicker wire" if gauge is None else f"AWG {gauge} wire"
    if item.piece.kind == JUMPER:
        return f"use {wire} for it"
    return f"solder {wire} along the strip, or keep that current off the board"


def _drop(net: Net, flow: Flow, load: NetLoad, known: dc.Estimate) -> Iterator[Finding]:
    """What a supply or ground loses between its source and the worst pin."""
    if net.role not in ("supply", "ground") or load.how == PARTIAL or flow.drop_v < DROP_LEAST_V:
        return
    supply = max((level.size for level in known.volts.values()), default=0.0)
    if net.role == "supply" and net.name in known.volts:
        supply = known.volts[net.name].size
    far = supply > 0 and flow.drop_v > DROP_SHARE * supply
    share = f", {100 * flow.drop_v / supply:.2g} % of {supply:g} V" if supply > 0 else ""
    yield Finding(
        "voltage-drop",
        "warning" if far else "note",
        f"net {net.name}, {HOW[load.how]}: at most {amount(flow.drop_v, 'V')} are lost between {flow.drop_from} and "
        f"{flow.drop_to}{share}",
        (net.name, str(flow.drop_from), str(flow.drop_to)),
        figures(drop_V=flow.drop_v, current_A=load.load.amps),
        f"{laws.RESISTANCE_SOURCE}; {laws.WIRE_SOURCE}; AWG {laws.JUMPER_AWG} jumpers: common practice, no source",
        "bring the current in nearer to where it goes, or double the copper with wire" if far else "",
    )


def _basis(plan: Plan, loads: Mapping[str, NetLoad]) -> Iterator[Finding]:
    """How the currents are known: one note a plan, so that a plan that was looked at always says so."""
    power = {net.name for net in plan.circuit.nets if net.role in ("supply", "ground")}
    said = []
    for how, words in (
        (dc.DECLARED, "declared for"),
        (FED, "taken from the net that feeds it for"),
        (dc.ESTIMATED, "estimated for"),
        (dc.BOUNDED, "bounded for"),
    ):
        nets = [load.net for load in loads.values() if load.how == how and (how == dc.DECLARED or load.net in power)]
        if nets:
            said.append(f"{words} {listed(nets)}")
    open_ = [name for name, load in loads.items() if load.how == PARTIAL and name in power]
    if open_:
        said.append(f"not known for {listed(open_)}")
    yield Finding(
        "current-basis",
        "note",
        f"currents are {'; '.join(said) or 'known for no supply'}",
        tuple(open_),
        figures(nets=len(loads), unknown_nets=sum(load.how == PARTIAL for load in loads.values())),
        "nodal analysis of resistors, diodes and LEDs; the amps of the circuit file",
        f"say amps: of {listed(open_)}" if open_ else "",
    )
