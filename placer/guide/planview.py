"""A plan on the sheet: the component side, and the copper side as it lies before the one who solders."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from placer.circuit.model import PinRef
from placer.circuit.rails import roles_of
from placer.guide import labels, solder, style, wires
from placer.guide.bodies import Art, extent, part_art
from placer.guide.ground import AXIS_MM, View, ground, hole_mm, text_boxes
from placer.guide.metrics import rise, text_width
from placer.guide.nets import net_of_pins, nets_of_holes
from placer.guide.room import Box, Room
from placer.guide.saw import saw_groups
from placer.guide.scene import Circle, Data, Group, Item, Pen, Point, Text, identifier, polyline, rectangle
from placer.plan.crop import Crop
from placer.plan.links import links
from placer.plan.model import Cut, Jumper, Plan

_DIAMOND = 1.15  # half a diagonal of the sign about a free wire's hole


@dataclass(frozen=True)
class Placed:
    """A part on the sheet: its drawing (None for flying leads) and where its pins are.

    ``oriented``: it matters which lead is which, so that pin 1 (``first``) is marked. ``nets``: the net of each pin
    that has one.
    """

    ref: str
    value: str
    title: str
    art: Art | None
    pins: Mapping[str, Point]
    first: str
    oriented: bool
    nets: Mapping[str, str]

    @property
    def data(self) -> Data:
        """What marks everything on the sheet that belongs to this part."""
        return (("ref", self.ref),)

    def pin_data(self, pin: str) -> Data:
        """What marks one lead, and the net it is in."""
        net = self.nets.get(pin)
        return (("pin", pin), *((("net", net),) if net else ()))


def plan_groups(plan: Plan, view: View, crop: Crop | None = None) -> list[Group]:
    """Board, parts, cuts, bridges, jumpers, saw lines and labels of one side, in drawing order."""
    back = [*ground(view, plan.cuts, nets_of_holes(plan)), *solder.bridge_groups(plan, view)]
    named = net_of_pins(plan)
    parts = [_placed(plan, view, ref, named) for ref in plan.placements]
    room = Room(view.outline.grown(AXIS_MM - 0.2))
    for box in text_boxes(back):
        room.block(box)
    _note_ground(room, view, plan, parts)
    solder.note_bridges(room, plan, view)
    cut_points = [_cut_point(view, cut) for cut in plan.cuts]
    for (x, y), cut in zip(cut_points, plan.cuts, strict=True):
        room.block(Box.about(x, y, style.DRILL_R if cut.at else 0.8))
    saw = saw_groups(room, view, crop) if crop else []
    draw = _copper_side if view.mirrored else _component_side
    return [*back, *saw, *draw(plan, view, room, parts, cut_points)]


# What is where ---------------------------------------------------------------------------------------------------


def _placed(plan: Plan, view: View, ref: str, named: Mapping[PinRef, str]) -> Placed:
    placement, part = plan.placements[ref], plan.circuit.part_by_ref[ref]
    package = plan.circuit.packages[placement.package]
    on_board = {pin: hole_mm(plan.board, address) for pin, address in placement.pins.items()}
    art = part_art(package, placement.mount, on_board, plan.board.pitch_mm)
    where = ", ".join(f"{pin} in {address}" for pin, address in placement.pins.items())
    title = f"{', '.join(w for w in (ref, part.value, placement.package, placement.mount) if w)}: {where}"
    pins = {pin: view.frame.point(*p) for pin, p in on_board.items()}
    drawn = art.moved(view.frame) if art else None
    nets = {pin: named[PinRef(ref, pin)] for pin in pins if PinRef(ref, pin) in named}
    return Placed(ref, part.value, title, drawn, pins, package.pins[0], bool(art) and not package.symmetric, nets)


def _cut_point(view: View, cut: Cut) -> Point:
    if cut.at:
        return view.at(cut.at)
    a, b = (view.at(address) for address in cut.between or ())
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def _note_ground(room: Room, view: View, plan: Plan, parts: Sequence[Placed]) -> None:
    """Tells the room what labels had better not cover, and what they must not."""
    used = {address for placement in plan.placements.values() for address in placement.pins.values()}
    for hole in plan.board.holes.values():
        if hole.address not in used:
            x, y = view.at(hole.address)
            room.note(Box.about(x, y, hole.diameter_mm / 2), "hole")
    o = view.outline
    corners = ((o.x0, o.y0), (o.x1, o.y0), (o.x1, o.y1), (o.x0, o.y1), (o.x0, o.y0))
    room.note_line(corners, 0.2, "edge")
    for part in parts:
        for x, y in part.pins.values():
            room.block(Box.about(x, y, style.PIN1_HALF if part.art else _DIAMOND), part.ref)
        if part.art:
            for corner_a, corner_b in zip(part.art.hull, (*part.art.hull[1:], part.art.hull[0]), strict=True):
                room.note_line((corner_a, corner_b), 0.2, "body", part.ref)
            for mark in () if view.mirrored else part.art.marks:
                room.block(extent(mark).grown(0.15))
    for i, jumper in enumerate(plan.jumpers, 1):
        for address in (jumper.start, jumper.end):
            room.block(Box.about(*view.at(address), style.END_R + 0.2), f"jumper {i}")


def _lead_items(part: Placed) -> Iterator[Item]:
    """A dot in each hole; pin 1's is square where it matters which pin is which."""
    for pin, (x, y) in part.pins.items():
        yield Circle(x, y, style.PIN1_HALF + 0.1, None, style.PAPER)
        if pin == part.first and part.oriented:
            h = style.PIN1_HALF
            yield replace(rectangle(x - h, y - h, x + h, y + h, None, style.INK), data=part.pin_data(pin))
        else:
            yield Circle(x, y, style.LEAD_R, None, style.INK, data=part.pin_data(pin))


def _leads(parts: Sequence[Placed]) -> list[Group]:
    return [
        Group(identifier("leads", p.ref), f"leads of {p.ref}", "leads", "leads", tuple(_lead_items(p)), p.data)
        for p in parts
    ]


# Component side --------------------------------------------------------------------------------------------------


def _component_side(
    plan: Plan, view: View, room: Room, parts: Sequence[Placed], cut_points: Sequence[Point]
) -> list[Group]:
    roles = roles_of(plan.circuit)
    straight = [(view.at(j.start), view.at(j.end)) for j in plan.jumpers]
    bare = [link.bare for link in links(plan)]
    for i, line in enumerate(straight, 1):
        room.note_line(line, 0.3, "jumper", f"jumper {i}")
    inside = {p.ref: _label_inside(room, p, p.art) for p in parts if p.art}
    for label, _ in inside.values():
        if label:
            labels.take(room, label)
    routes = []
    for i, (start, end) in enumerate(straight, 1):
        route = wires.straight(start, end) if bare[i - 1] else wires.find_route(room, start, end, f"jumper {i}")
        room.note_line(route.points(), 0.3, "jumper", f"jumper {i}")
        routes.append(route)
    pens = [wires.line_class(roles.get(j.net, "signal")) for j in plan.jumpers]
    discs = [wires.take(room, wires.place_disc(room, r, i, f"jumper {i}"), "") for i, r in enumerate(routes, 1)]
    tags = _cut_tags(room, plan.cuts, cut_points)
    hulls = {p.ref: Box.around(p.art.hull) for p in parts if p.art}
    outside = [group for p in parts for group in _label_outside(room, p, inside.get(p.ref), hulls)]
    found = [_part_group(p) for p in parts]
    found += [
        Group(
            identifier("jumper", str(i)),
            f"jumper {i}, {j.net}: {j.start} to {j.end}, {j.length_mm:.1f} mm, {'bare' if b else 'insulated'} wire",
            f"jumper {roles.get(j.net, 'signal')}",
            "jumpers",
            wires.wire_items(route, pen, bare=b),
            _wire_data(i, j),
        )
        for i, (j, route, pen, b) in enumerate(zip(plan.jumpers, routes, pens, bare, strict=True), 1)
    ]
    found += [*_cut_groups(plan, view, cut_points), *_leads(parts)]
    for part in parts:
        label = inside[part.ref][0] if part.art else None
        if label:
            items = label.items(backed=True)
            title = f"label of {part.ref}"
            found.append(Group(identifier("label", part.ref), title, "label", "labels", items, part.data))
    numbers = _number_groups(discs, pens, [_wire_data(i, j) for i, j in enumerate(plan.jumpers, 1)])
    return [*found, *outside, *numbers, *tags]


def _wire_data(number: int, jumper: Jumper) -> Data:
    return (("jumper", str(number)), ("net", jumper.net))


def _part_group(part: Placed) -> Group:
    if part.art:
        shapes: tuple[Item, ...] = (*part.art.shapes, *part.art.marks)
    else:
        shapes = tuple(item for x, y in part.pins.values() for item in flying_items(x, y))
    return Group(identifier("part", part.ref), part.title, "part", "parts", shapes, part.data)


def flying_items(x: float, y: float) -> tuple[Item, ...]:
    """A diamond about the hole of a wire that leaves the board."""
    r = _DIAMOND
    return (polyline(((x - r, y), (x, y - r), (x + r, y), (x, y + r)), Pen(0.25), style.PAPER, closed=True),)


def _label_inside(room: Room, part: Placed, art: Art) -> tuple[labels.Label | None, str]:
    """A label inside the outline and what is left to say outside: nothing, the value, or everything."""
    whole = labels.forms(part.ref, part.value)
    label = labels.place_inside(room, art.hull, whole, part.ref)
    if label:
        return label, ""
    if part.value:
        label = labels.place_inside(room, art.hull, labels.forms(part.ref, ""), part.ref)
        if label:
            return label, "value"
    return None, "all"


def _label_outside(
    room: Room, part: Placed, inside: tuple[labels.Label | None, str] | None, hulls: Mapping[str, Box]
) -> Iterator[Group]:
    """What did not fit inside, beside the part; flying leads are labelled each on its own."""
    others = [box for ref, box in hulls.items() if ref != part.ref]
    title = f"label of {part.ref}"
    if inside is None:
        for pin, (x, y) in part.pins.items():
            name = f"{part.ref}.{pin}" if len(part.pins) > 1 else part.ref
            choices = labels.forms(name, part.value if pin == part.first else "")
            near = [Box.about(*p, _DIAMOND) for q, p in part.pins.items() if q != pin]
            label = labels.place_beside(room, Box.about(x, y, _DIAMOND), [*others, *near], choices, part.ref)
            items = labels.take(room, label).items(backed=True)
            name = f"{title}, lead {pin}"
            yield Group(identifier("label", part.ref, pin), name, "label", "labels", items, part.data)
        return
    left = inside[1]
    if not left:
        return
    choices = labels.forms(part.ref, part.value) if left == "all" else labels.value_forms(part.value)
    label = labels.place_beside(room, hulls[part.ref], others, choices, part.ref, nameless=left == "value")
    items = labels.take(room, label).items(backed=True)
    name = "label" if left == "all" else "value"
    yield Group(identifier(name, part.ref), f"{name} of {part.ref}", "label", "labels", items, part.data)


# Cuts and numbers ------------------------------------------------------------------------------------------------


def _cut_groups(plan: Plan, view: View, points: Sequence[Point]) -> list[Group]:
    found = []
    for i, (cut, (x, y)) in enumerate(zip(plan.cuts, points, strict=True), 1):
        if cut.at:
            items = drill_items(x, y)
            where = f"drill out hole {cut.at}"
        else:
            a, b = cut.between or ("", "")
            items = knife_items((x, y), view.at(a), plan.board.copper.width_mm)
            where = f"knife between {a} and {b}"
        found.append(Group(identifier("cut", str(i)), f"cut {i}: {where}", "cut", "cuts", items, (("cut", str(i)),)))
    return found


def drill_items(x: float, y: float) -> tuple[Item, ...]:
    """A circled cross on paper: the bar ends at the circle."""
    r = style.DRILL_R
    d = r * math.sqrt(0.5)
    return (
        Circle(x, y, r, Pen(0.25), style.PAPER),
        polyline(((x - d, y - d), (x + d, y + d)), Pen(0.25)),
        polyline(((x - d, y + d), (x + d, y - d)), Pen(0.25)),
    )


def knife_items(middle: Point, toward: Point, width: float) -> tuple[Item, ...]:
    """A double stroke across the bar."""
    length = math.dist(middle, toward) or 1.0
    ux, uy = (toward[0] - middle[0]) / length, (toward[1] - middle[1]) / length
    reach = width / 2 + 0.15
    strokes: list[Item] = []
    for side in (-1, 1):
        x, y = middle[0] + ux * 0.32 * side, middle[1] + uy * 0.32 * side
        strokes.append(polyline(((x - uy * reach, y + ux * reach), (x + uy * reach, y - ux * reach)), style.KNIFE))
    gap = polyline(
        ((middle[0] - ux * 0.32, middle[1] - uy * 0.32), (middle[0] + ux * 0.32, middle[1] + uy * 0.32)),
        Pen(2 * reach, style.PAPER),
    )
    return (gap, *strokes)


def _cut_tags(room: Room, cuts: Sequence[Cut], points: Sequence[Point]) -> list[Group]:
    found = []
    for i, (cut, point) in enumerate(zip(cuts, points, strict=True), 1):
        clear = style.DRILL_R if cut.at else 0.8
        disc = wires.take(room, wires.place_number(room, point, i, "", clear=clear, square=True))
        name, items = identifier("cut", str(i), "number"), disc.items(Pen(0.25))
        found.append(Group(name, f"number of cut {i}", "number", "numbers", items, (("cut", str(i)),)))
    return found


def _number_groups(discs: Sequence[wires.Disc], pens: Sequence[Pen], data: Sequence[Data]) -> list[Group]:
    return [
        Group(
            identifier("jumper", str(d.number), "number"),
            f"number of jumper {d.number}",
            "number",
            "numbers",
            d.items(pen),
            belongs,
        )
        for d, pen, belongs in zip(discs, pens, data, strict=True)
    ]


# Copper side -----------------------------------------------------------------------------------------------------


def _copper_side(
    plan: Plan, view: View, room: Room, parts: Sequence[Placed], cut_points: Sequence[Point]
) -> list[Group]:
    roles = roles_of(plan.circuit)
    found = [_hidden_part(p) for p in parts]
    found += [*_cut_groups(plan, view, cut_points), *_leads(parts)]
    numbers: list[Group] = []
    for i, jumper in enumerate(plan.jumpers, 1):
        pen = wires.line_class(roles.get(jumper.net, "signal"))
        points = [view.at(jumper.start), view.at(jumper.end)]
        items = tuple(item for p in points for item in wires.end_items(p, pen))
        title = f"jumper {i}, {jumper.net}: ends in {jumper.start} and {jumper.end}"
        found.append(Group(identifier("jumper", str(i)), title, "jumper", "jumpers", items, _wire_data(i, jumper)))
    inside = [_ref_inside(room, p) for p in parts]
    names = [group for group in inside if group]
    for i, jumper in enumerate(plan.jumpers, 1):
        pen = wires.line_class(roles.get(jumper.net, "signal"))
        for end, address in enumerate((jumper.start, jumper.end), 1):
            disc = wires.place_number(room, view.at(address), i, f"jumper {i}", clear=style.END_R + 0.2)
            wires.take(room, disc)
            title = f"number of jumper {i} at {address}"
            name = identifier("jumper", str(i), "end", str(end))
            numbers.append(Group(name, title, "number", "numbers", disc.items(pen), _wire_data(i, jumper)))
    tags = _cut_tags(room, plan.cuts, cut_points)
    hulls = {p.ref: Box.around(p.art.hull) for p in parts if p.art}
    outside: list[Group] = []
    for part, done in zip(parts, inside, strict=True):
        if not part.art:
            outside += _label_outside(room, _no_value(part), None, hulls)
        elif not done:
            outside += _label_outside(room, _no_value(part), (None, "all"), hulls)
    pins = [group for p in parts if p.art for group in _pin_labels(room, p, parts)]
    return [*found, *names, *outside, *pins, *numbers, *tags]


def _no_value(part: Placed) -> Placed:
    return replace(part, value="")


def _hidden_part(part: Placed) -> Group:
    """The outline of what stands on the other side, as a hidden line."""
    shapes: list[Item] = []
    if part.art:
        shapes.append(polyline(part.art.hull, style.HIDDEN, closed=True))
    else:
        shapes += [item for x, y in part.pins.values() for item in flying_items(x, y)]
    return Group(identifier("part", part.ref), part.title, "part", "parts", tuple(shapes), part.data)


def _ref_inside(room: Room, part: Placed) -> Group | None:
    if not part.art:
        return None
    label = labels.place_inside(room, part.art.hull, labels.forms(part.ref, ""), part.ref)
    if not label:
        return None
    labels.take(room, label)
    items = label.items(backed=True)
    return Group(identifier("label", part.ref), f"label of {part.ref}", "label", "labels", items, part.data)


def _pin_labels(room: Room, part: Placed, parts: Sequence[Placed]) -> Iterator[Group]:
    """The number of each lead beside it, with the part's reference where there is room for both."""
    others = [p for q in parts for p in q.pins.values()]
    for pin, (x, y) in part.pins.items():
        long = f"{part.ref}.{pin}"
        for text in (long, pin) if len(part.pins) < 4 else (pin,):
            size = style.PIN_MM
            width, height = text_width(text, size, condense=0.85), rise(size)
            best: tuple[float, float, float] | None = None
            for sx, sy in ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1)):
                px = x + sx * (width / 2 + style.PIN1_HALF + 0.42)
                py = y + sy * (height / 2 + style.PIN1_HALF + 0.42)
                box = Box.about(px, py, width / 2, height / 2)
                if not room.free(box.grown(0.4)) or not _nearest(box, (x, y), others):
                    continue
                cost = room.price(box, {"hole": 0.5, "body": 0.4, "edge": 3.0}, "") + 0.2 * abs(sx * sy)
                if best is None or cost < best[0]:
                    best = cost, px, py
            if best:
                _, px, py = best
                room.block(Box.about(px, py, width / 2, height / 2).grown(0.1))
                b = Box.about(px, py, width / 2, height / 2).grown(0.12)
                paper = rectangle(b.x0, b.y0, b.x1, b.y1, None, style.PAPER)
                items = (
                    paper,
                    Text(px, py + height / 2, text, size, condense=0.85, colour=style.INK),
                )
                yield Group(identifier("pin", part.ref, pin), f"lead {long}", "pin", "labels", items, part.data)
                break


def _nearest(box: Box, own: Point, others: Sequence[Point]) -> bool:
    """True when no other lead is nearly as near to the label as its own."""

    def gap(p: Point) -> float:
        return math.dist(box.nearest(*p), p)

    return all(gap(p) > gap(own) + 0.4 for p in others if p != own)
