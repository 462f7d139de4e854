"""Random plans, legal by construction, and random single mutations of them, against a small oracle of the test's own.

The oracle shares nothing with the judge: it joins holes by union-find, lists the legal footprints of each package and
compares upright rectangles in micrometres.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable
from dataclasses import replace
from itertools import combinations, pairwise

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from placer.boards.catalogue import load_board
from placer.check.judge import judge
from placer.circuit.model import Net, PinRef
from placer.packages.model import Rigid, TwoLead
from placer.plan.model import Cut, Options, Placement, Plan
from placer.plan.readback import readback
from tests.check.plans import circuit_of, jumper, plan_of, scored

BOARD = load_board("five-hole-30")
TURNS = ((1, 0, 0, 1), (0, -1, 1, 0), (-1, 0, 0, -1), (0, 1, -1, 0))
Mutation = Callable[[random.Random, Plan], Plan]
Rect = tuple[float, float, float, float]


# --- legal plans -----------------------------------------------------------------------------------------------------


def legal_plan(dice: random.Random) -> Plan:
    """Parts in columns of their own that no neighbour's body reaches; nets are what the copper makes of them."""
    holes: dict[str, str] = {}
    parts: dict[str, str] = {}
    row = dice.randint(2, 8)
    parts["U1"] = "dip-8"
    holes["U1"] = " ".join([f"e{row + i}" for i in range(4)] + [f"f{row + 3 - i}" for i in range(4)])
    if dice.random() < 0.7:
        row = dice.randint(row + 6, 26)
        parts["Q1"] = "to-92"
        holes["Q1"] = " ".join(f"e{row + i}" for i in (dice.choice([(0, 1, 2), (2, 1, 0)])))
    for column in "achj":
        row = 1 + dice.randint(0, 3)
        while row < 24 and dice.random() < 0.8:
            standing = dice.random() < 0.3
            span = dice.randint(1, 2) if standing else dice.randint(4, 6)
            ends = [f"{column}{row}", f"{column}{row + span}"]
            dice.shuffle(ends)
            ref = f"R{len(parts)}"
            parts[ref] = "axial-0207"
            holes[ref] = " ".join(ends) + (":standing" if standing else "")
            row += span + 1 + dice.randint(0, 2)
    draft = circuit_of("comb", parts, {})
    plan = plan_of(draft, BOARD, holes, options=Options(allow_cuts=True))
    return _with_nets(dice, plan)


def _with_nets(dice: random.Random, plan: Plan) -> Plan:
    on: dict[str, list[PinRef]] = {}
    for ref, item in plan.placements.items():
        for pin, hole in item.pins.items():
            on.setdefault(BOARD.strip_of[hole].name, []).append(PinRef(ref, pin))
    strips = sorted(on)
    dice.shuffle(strips)
    nets, wires = [], []
    while strips:
        count = min(len(strips), dice.choice((1, 1, 1, 2, 3)))
        chain, strips = strips[:count], strips[count:]
        pins = tuple(pin for strip in chain for pin in on[strip])
        if len(pins) == 1 and dice.random() < 0.5:
            continue  # an open pin
        name = f"N{len(nets) + 1}"
        nets.append(Net(name, pins))
        # Columns b, d, g and i hold no pins and no bodies: two free holes on every strip.
        for one, other in pairwise(chain):
            wires.append(jumper(BOARD, name, _free(one, 0), _free(other, 1)))
    return scored(replace(plan, circuit=replace(plan.circuit, nets=tuple(nets)), jumpers=tuple(wires)))


def _free(strip: str, which: int) -> str:
    hole = next(s for s in BOARD.strips if s.name == strip).holes[0]
    return ("bd" if hole[0] in "abcde" else "gi")[which] + hole[1:]


# --- mutations -------------------------------------------------------------------------------------------------------


def _set_pin(plan: Plan, ref: str, pin: str, hole: str) -> Plan:
    item = plan.placements[ref]
    return replace(plan, placements={**plan.placements, ref: replace(item, pins={**item.pins, pin: hole})})


def _any_pin(dice: random.Random, plan: Plan) -> tuple[str, str]:
    ref = dice.choice(sorted(plan.placements))
    return ref, dice.choice(sorted(plan.placements[ref].pins))


def move_a_pin(dice: random.Random, plan: Plan) -> Plan:
    return _set_pin(plan, *_any_pin(dice, plan), dice.choice(sorted(BOARD.holes)))


def move_a_pin_along_its_strip(dice: random.Random, plan: Plan) -> Plan:
    ref, pin = _any_pin(dice, plan)
    return _set_pin(plan, ref, pin, dice.choice(BOARD.strip_of[plan.placements[ref].pins[pin]].holes))


def swap_two_pins(dice: random.Random, plan: Plan) -> Plan:
    (ref, pin), (other, other_pin) = _any_pin(dice, plan), _any_pin(dice, plan)
    hole, other_hole = plan.placements[ref].pins[pin], plan.placements[other].pins[other_pin]
    return _set_pin(_set_pin(plan, ref, pin, other_hole), other, other_pin, hole)


def move_a_part(dice: random.Random, plan: Plan) -> Plan:
    ref = dice.choice(sorted(plan.placements))
    dx, dy = dice.randint(-3, 3), dice.choice((0, 0, dice.randint(-3, 3)))
    item = plan.placements[ref]
    spots = {pin: (BOARD.holes[hole].x + dx, BOARD.holes[hole].y + dy) for pin, hole in item.pins.items()}
    if not all(spot in BOARD.hole_at for spot in spots.values()):
        return plan
    pins = {pin: BOARD.hole_at[spot].address for pin, spot in spots.items()}
    return replace(plan, placements={**plan.placements, ref: replace(item, pins=pins)})


def mirror_a_part(dice: random.Random, plan: Plan) -> Plan:
    ref = dice.choice(sorted(plan.placements))
    item = plan.placements[ref]
    xs = [BOARD.holes[hole].x for hole in item.pins.values()]
    spots = {pin: (min(xs) + max(xs) - BOARD.holes[hole].x, BOARD.holes[hole].y) for pin, hole in item.pins.items()}
    pins = {pin: BOARD.hole_at[spot].address for pin, spot in spots.items()}
    return replace(plan, placements={**plan.placements, ref: replace(item, pins=pins)})


def change_a_mount(dice: random.Random, plan: Plan) -> Plan:
    ref = dice.choice(sorted(plan.placements))
    item = plan.placements[ref]
    mount = "flat" if item.mount == "standing" else "standing"
    return replace(plan, placements={**plan.placements, ref: replace(item, mount=mount)})


def drop_a_jumper(dice: random.Random, plan: Plan) -> Plan:
    left = list(plan.jumpers)
    if left:
        left.pop(dice.randrange(len(left)))
    return scored(replace(plan, jumpers=tuple(left)))


def move_a_wire_end(dice: random.Random, plan: Plan) -> Plan:
    wires = list(plan.jumpers)
    if wires:
        number = dice.randrange(len(wires))
        old = wires[number]
        near = dice.random() < 0.5
        hole = dice.choice(BOARD.strip_of[old.end].holes if near else sorted(BOARD.holes))
        wires[number] = jumper(BOARD, old.net, old.start, hole)
    return scored(replace(plan, jumpers=tuple(wires)))


def rename_a_wire(dice: random.Random, plan: Plan) -> Plan:
    wires = list(plan.jumpers)
    if wires:
        number = dice.randrange(len(wires))
        wires[number] = replace(wires[number], net=dice.choice(plan.circuit.nets).name)
    return replace(plan, jumpers=tuple(wires))


def add_a_wire(dice: random.Random, plan: Plan) -> Plan:
    net = dice.choice(plan.circuit.nets).name
    wire = jumper(BOARD, net, *dice.sample(sorted(BOARD.holes), 2))
    return scored(replace(plan, jumpers=(*plan.jumpers, wire)))


def add_a_cut(dice: random.Random, plan: Plan) -> Plan:
    strip = dice.choice(BOARD.strips)
    one, other = dice.choice(strip.links)
    return scored(replace(plan, cuts=(Cut(None, (one, other)),)))


MUTATIONS = (
    move_a_pin,
    move_a_pin_along_its_strip,
    swap_two_pins,
    move_a_part,
    mirror_a_part,
    change_a_mount,
    drop_a_jumper,
    move_a_wire_end,
    rename_a_wire,
    add_a_wire,
    add_a_cut,
)


# --- the oracle ------------------------------------------------------------------------------------------------------


def groups(plan: Plan, without: int | None = None) -> dict[str, frozenset[str]]:
    """The holes joined to each hole, by merging sets."""
    joined = {hole: frozenset((hole,)) for hole in BOARD.holes}
    knives = {frozenset(item.between or ()) for item in plan.cuts}
    pairs = [link for strip in BOARD.strips for link in strip.links if frozenset(link) not in knives]
    pairs += [(wire.start, wire.end) for number, wire in enumerate(plan.jumpers) if number != without]
    for one, other in pairs:
        if joined[one] is not joined[other]:
            both = joined[one] | joined[other]
            for hole in both:
                joined[hole] = both
    return joined


def wired_right(plan: Plan) -> bool:
    """Pins are joined as the nets say, and each wire's ends reach its net without it."""
    hole_of = {PinRef(ref, pin): hole for ref, item in plan.placements.items() for pin, hole in item.pins.items()}
    joined = groups(plan)
    found: dict[frozenset[str], set[PinRef]] = {}
    for pin, hole in hole_of.items():
        found.setdefault(joined[hole], set()).add(pin)
    listed = [set(net.pins) for net in plan.circuit.nets]
    wanted = listed + [{pin} for pin in hole_of if not any(pin in net for net in listed)]
    if sorted(map(sorted, found.values())) != sorted(map(sorted, wanted)):
        return False
    by_name = {net.name: net.pins for net in plan.circuit.nets}
    for number, wire in enumerate(plan.jumpers):
        apart = groups(plan, without=number)
        for end in (wire.start, wire.end):
            if not any(hole_of[pin] in apart[end] for pin in by_name[wire.net]):
                return False
    return True


def footprint_legal(plan: Plan, item: Placement) -> bool:
    package = plan.circuit.package_of(item.ref)
    at = [(BOARD.holes[item.pins[pin]].x, BOARD.holes[item.pins[pin]].y) for pin in package.pins]
    shifted = [(x - at[0][0], y - at[0][1]) for x, y in at]
    if isinstance(package.form, Rigid):
        legal = [[(a * x + b * y, c * x + d * y) for x, y in package.form.offsets] for a, b, c, d in TURNS]
        return item.mount == "flat" and shifted in legal
    assert isinstance(package.form, TwoLead)
    spans = package.form.flat if item.mount == "flat" else package.form.standing
    return shifted[1] in [(a * span, c * span) for a, _, c, _ in TURNS for span in spans]


def room(plan: Plan, item: Placement) -> list[Rect]:
    """Rectangles that a legally placed part takes (um)."""
    package = plan.circuit.package_of(item.ref)
    (x, y), *_, (x2, y2) = [(BOARD.holes[h].x * 2540, BOARD.holes[h].y * 2540) for h in item.pins.values()]
    if isinstance(package.form, Rigid):
        second = BOARD.holes[item.pins["2"]]
        (p, q), step = package.form.offsets[1], (second.x - x // 2540, second.y - y // 2540)
        a, b, c, d = next(turn for turn in TURNS if (turn[0] * p + turn[1] * q, turn[2] * p + turn[3] * q) == step)
        x0, y0, x1, y1 = (round(value * 1000) for value in package.form.body or (0, 0, 0, 0))
        corners = [(x + a * p + b * q, y + c * p + d * q) for p, q in ((x0, y0), (x1, y1))]
        return [_rect(corners[0], corners[1])]
    assert isinstance(package.form, TwoLead)
    form, level = package.form, y == y2
    if item.mount == "standing":
        half = round(form.upright * 500)
        return [_rect((min(x, x2) - half, min(y, y2) - half), (max(x, x2) + half, max(y, y2) + half))]
    length, width, lead = (round(size * 500) for size in (form.length, form.width, package.lead_mm))
    mx, my = (x + x2) / 2, (y + y2) / 2
    dx, dy = (length, width) if level else (width, length)
    lx, ly = (0, lead) if level else (lead, 0)
    return [
        _rect((mx - dx, my - dy), (mx + dx, my + dy)),
        _rect((min(x, x2) - lx, min(y, y2) - ly), (max(x, x2) + lx, max(y, y2) + ly)),
    ]


def _rect(one: tuple[float, float], other: tuple[float, float]) -> Rect:
    return min(one[0], other[0]), min(one[1], other[1]), max(one[0], other[0]), max(one[1], other[1])


def fits(plan: Plan) -> bool:
    """One thing a hole, every footprint legal, nothing under or in a body, all on the board."""
    uses = [(hole, ref) for ref, item in plan.placements.items() for hole in item.pins.values()]
    uses += [(hole, "") for wire in plan.jumpers for hole in (wire.start, wire.end)]
    if len({hole for hole, _ in uses}) < len(uses):
        return False
    if not all(footprint_legal(plan, item) for item in plan.placements.values()):
        return False
    rooms = {ref: room(plan, item) for ref, item in plan.placements.items()}
    first = next(iter(BOARD.holes.values()))
    left, top = first.x_mm * 1000 - first.x * 2540, first.y_mm * 1000 - first.y * 2540
    right, bottom = BOARD.outline_mm[0] * 1000 - left, BOARD.outline_mm[1] * 1000 - top
    for rects in rooms.values():
        for x0, y0, x1, y1 in rects:
            if x0 < -left - 0.01 or y0 < -top - 0.01 or x1 > right + 0.01 or y1 > bottom + 0.01:
                return False
    for one, other in combinations(rooms, 2):
        if any(a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3] for a in rooms[one] for b in rooms[other]):
            return False
    for hole, owner in uses:
        x, y = BOARD.holes[hole].x * 2540, BOARD.holes[hole].y * 2540
        for ref, rects in rooms.items():
            if ref != owner and any(x0 < x < x1 and y0 < y < y1 for x0, y0, x1, y1 in rects):
                return False
    return True


def net_sets(nets: Iterable[Net]) -> set[frozenset[PinRef]]:
    return {frozenset(net.pins) for net in nets}


# --- the properties --------------------------------------------------------------------------------------------------

quick = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)


@quick
@given(st.integers(0, 10**9))
def test_a_plan_legal_by_construction_is_faultless_and_reads_back_as_its_circuit(seed: int) -> None:
    plan = legal_plan(random.Random(seed))

    assert fits(plan)
    assert wired_right(plan)
    assert judge(plan).faults == ()
    assert net_sets(readback(plan)) == net_sets(plan.circuit.nets)
    assert {net.name for net in readback(plan)} == {net.name for net in plan.circuit.nets}


@settings(quick, max_examples=150)
@given(st.integers(0, 10**9), st.sampled_from(MUTATIONS))
def test_a_mutation_is_refused_unless_geometry_and_wiring_are_still_right(
    seed: int, mutate: Callable[[random.Random, Plan], Plan]
) -> None:
    dice = random.Random(seed)
    plan = legal_plan(dice)
    for _ in range(3):
        changed = mutate(dice, plan)
        right = fits(changed) and wired_right(changed)

        assert (judge(changed).faults == ()) == right, [fault.message for fault in judge(changed).faults]


def test_mutations_are_both_refused_and_let_through() -> None:
    """The property above means something: it meets both answers, and each kind of mutation is refused somewhere."""
    dice = random.Random(11)
    answers: dict[str, set[bool]] = {mutate.__name__: set() for mutate in MUTATIONS}
    for _ in range(30):
        plan = legal_plan(dice)
        for mutate in MUTATIONS:
            changed = mutate(dice, plan)
            if changed != plan:
                answers[mutate.__name__].add(judge(changed).faults == ())

    assert all(False in seen for seen in answers.values()), answers
    assert any(True in seen for seen in answers.values()), answers
