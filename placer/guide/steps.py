"""The plan as small actions in the order people solder: saw, cuts, jumpers, parts from low to tall, tests, ICs.

Each text can be followed alone, without the drawing: holes by address, every lead named by what is seen on the part.
Solder bridges come after the leads, for solder closes the holes of the pads that it joins.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from placer.circuit.model import Part, PinRef
from placer.guide import words
from placer.guide.step import Step, WirePiece
from placer.guide.way import leads_below, parts_above
from placer.guide.wire import END_MM, cut_sides, wire_pieces
from placer.packages.model import Flying, Package, TwoLead
from placer.plan.conductors import natural_key
from placer.plan.crop import Crop, crop_text
from placer.plan.model import Cut, Placement, Plan
from placer.plan.openings import outward

MOST_NAMED = 6  # holes on the way of a wire
_JOINTS = "Every joint shines, and no solder reaches a neighbouring strip."


def build_steps(plan: Plan, crop: Crop | None = None) -> tuple[Step, ...]:
    """All steps, numbered from 1."""
    made: list[Step] = []
    if crop is not None and crop.lines:
        made.append(_saw(plan, crop))
    made += [_cut(plan, number, cut) for number, cut in enumerate(plan.cuts, 1)]
    made += list(_jumpers(plan))
    made += list(_parts(plan))
    made += list(_bridges(plan))
    ics = [ref for ref in sorted(plan.placements, key=natural_key) if words.socketed(_package(plan, ref))]
    made.append(_test(with_ics=bool(ics)))
    made += [_ic(plan, ref) for ref in ics]
    if ics:
        made.append(_last_power())
    return tuple(replace(step, number=number) for number, step in enumerate(made, 1))


def _package(plan: Plan, ref: str) -> Package:
    return plan.circuit.packages[plan.placements[ref].package]


def _listed(items: list[str]) -> str:
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"


# Board ---------------------------------------------------------------------------------------------------------------


def _saw(plan: Plan, crop: Crop) -> Step:
    return Step(
        0,
        "saw",
        "Saw the board",
        f"{crop_text(crop, plan.board)} The holes keep their names.",
        check="Count the rows and columns that are left; smooth the edges, and no copper sliver crosses a gap.",
        cautions=("Glass-fibre dust harms lungs and eyes: saw wet or outdoors, with mask and glasses.",),
        group="Saw",
    )


def _cut(plan: Plan, number: int, cut: Cut) -> Step:
    before, after = cut_sides(plan, cut)
    if cut.at is not None:
        holes: tuple[str, ...] = (cut.at,)
        text = (
            f"Cut {number}: from the copper side, turn {_drill(plan)} by hand in hole {cut.at} until no copper is left "
            f"around it. Nothing is soldered into {cut.at}."
        )
    else:
        holes = (before, after)
        text = (
            f"Cut {number}: on the copper side, sever the copper between holes {before} and {after} with a knife: "
            "two cuts side by side right across the strip, then lift out the sliver."
        )
    checks = [f"Meter from {before} to {after}: no connection."] if before and after else []
    near = [f"{hole} to {other}" for hole in (before, after) if hole for other in _beside(plan, hole)]
    checks += [f"No copper whisker: meter {_listed(near)}, no connection."] if near else []
    return Step(
        0,
        "cut",
        f"Cut {number} at {holes[0]}" if cut.at is not None else f"Cut {number} between {holes[0]} and {holes[1]}",
        text,
        holes=holes,
        check=" ".join(checks) or "No copper is left around the hole.",
        cautions=(
            "The copper side is the mirror image of the component side: push a pin through the hole to be sure.",
        ),
        number_in_kind=number,
        group="Cuts",
    )


def _drill(plan: Plan) -> str:
    """A drill bit that takes the whole width of the strip and spares its neighbours, a pitch less half a width away."""
    width, pitch = plan.board.copper.width_mm, plan.board.pitch_mm
    fitting = [size for size in (2.5, 3.0, 3.5, 4.0) if (width**2 + 0.25) ** 0.5 <= size < 2 * pitch - width]
    return f"a drill bit of {fitting[0]:g} mm" if fitting else "a drill bit a little wider than the strip"


def _beside(plan: Plan, address: str) -> list[str]:
    """Holes one step away on other strips."""
    hole, board = plan.board.holes[address], plan.board
    places = ((hole.x + dx, hole.y + dy) for dx, dy in ((-1, 0), (1, 0), (0, -1), (0, 1)))
    near = [board.hole_at[place].address for place in places if place in board.hole_at]
    return [other for other in near if board.strip_of[other] is not board.strip_of[address]]


def _jumpers(plan: Plan) -> Iterator[Step]:
    for piece in wire_pieces(plan):
        wire = "bare wire, straight" if piece.wire == "bare" else f"insulated wire and strip {END_MM:g} mm at each end"
        yield Step(
            0,
            "jumper",
            f"Jumper {piece.number}: {piece.start} to {piece.end}",
            f"Jumper {piece.number}, net {piece.net}: cut {piece.piece_mm:.0f} mm of {wire}. "
            f"Push one end into {piece.start} and the other into {piece.end}.{_way(plan, piece)} Solder both, clip the "
            "ends.",
            holes=(piece.start, piece.end),
            nets=(piece.net,),
            span_mm=piece.length_mm,
            check=f"Meter from the wire's end in {piece.start} to its end in {piece.end}: under 2 ohm.",
            wire=piece.wire,
            number_in_kind=piece.number,
            group="Jumpers",
        )


def _way(plan: Plan, piece: WirePiece) -> str:
    """How an insulated wire is laid, where leads and bodies come on its straight way later."""
    if piece.wire == "bare":
        return ""
    leads = list(leads_below(plan, piece.start, piece.end))
    more = len(leads) - MOST_NAMED
    if more > 0:
        leads = [*leads[:MOST_NAMED], f"{more} more {'hole' if more == 1 else 'holes'} on the way"]
    stay = "stays" if len(leads) == 1 else "stay"
    said = f" Lay it in a bow: {_listed(leads)} {stay} free for leads." if leads else ""
    parts = list(parts_above(plan, piece.start, piece.end))
    if parts:
        said += f" {_listed(parts)} will stand on its straight way: lead it round, or flat on the board."
    return said


def _bridges(plan: Plan) -> Iterator[Step]:
    for number, bridge in enumerate(plan.bridges, 1):
        first, second = bridge.between
        yield Step(
            0,
            "bridge",
            f"Bridge {number}: {first} and {second}",
            f"Bridge {number}, net {bridge.net}: on the copper side, join the pads of {first} and {second} with a blob "
            "of solder.",
            holes=bridge.between,
            nets=(bridge.net,),
            check=f"Meter from {first} to {second}: under 2 ohm. No solder reaches any other pad.",
            cautions=("The copper side is the mirror image of the component side.",),
            number_in_kind=number,
            group="Bridges",
        )


# Parts ---------------------------------------------------------------------------------------------------------------


def _parts(plan: Plan) -> Iterator[Step]:
    def height(ref: str) -> tuple[object, ...]:
        placement, package = plan.placements[ref], _package(plan, ref)
        flying = isinstance(package.form, Flying)
        return flying, words.build_height_mm(package, placement.mount), package.name, natural_key(ref)

    for ref in sorted(plan.placements, key=height):
        yield _socket(plan, ref) if words.socketed(_package(plan, ref)) else _part(plan, ref)


def _common(plan: Plan, ref: str) -> Step:
    """What is known of a part's step whatever it is."""
    part, placement, package = plan.circuit.part_by_ref[ref], plan.placements[ref], _package(plan, ref)
    pins = tuple((pin, placement.pins[pin]) for pin in package.pins)
    nets = tuple(dict.fromkeys(net for pin, _ in pins if (net := plan.circuit.net_of.get(PinRef(ref, pin)))))
    four, five = words.colours(part, package)
    return Step(
        0,
        "part",
        f"{ref}: {words.noun(part, package)} {part.value}".rstrip(),
        "",
        refs=(ref,),
        holes=tuple(hole for _, hole in pins),
        nets=nets,
        bands=four,
        bands5=five,
        code=words.marking(part, package),
        pins=pins,
        value=part.value,
        package=package.name,
        mount=placement.mount,
        check=_JOINTS,
        cautions=tuple(_cautions(part, package)),
        group="Parts, from low to tall",
    )


def _cautions(part: Part, package: Package) -> Iterator[str]:
    """What to mind with this part while it is soldered."""
    if words.is_polarised_can(package):
        yield "The wrong way round it can burst."
    if package.shape in ("to-92", "to-220"):
        yield "The order of its pins differs from maker to maker: look yours up."
    if words.is_mosfet(part, package):
        yield "Touch something earthed first: static electricity destroys it."


def _part(plan: Plan, ref: str) -> Step:
    part, placement, package = plan.circuit.part_by_ref[ref], plan.placements[ref], _package(plan, ref)
    step = _common(plan, ref)
    name = words.described(part, package)
    if isinstance(package.form, TwoLead):
        return _two_lead(plan, step, name, placement, package)
    if isinstance(package.form, Flying):
        each = [f"wire {_named(part, package, pin)} into {hole}" for pin, hole in step.pins]
        text = f"{name}: strip 5 mm at the end of each wire. Push {_listed(each)}. Solder, clip."
        return replace(step, text=text, check="Tug each wire: it holds. Leave the far ends open until the tests pass.")
    side, orientation = _orientation(plan, placement, package)
    each = [f"{_named(part, package, pin)} into {hole}" for pin, hole in step.pins]
    middle = ""
    if package.shape == "trimmer":  # what the test sheet expects, and a safe place to begin from
        middle = " turn its screw until the meter shows the same from pin 2 to pin 1 as from pin 2 to pin 3. Then"
    if package.joined:
        groups = [f"pins {_listed(list(group))}" for group in package.joined]
        middle += f" find {_listed(groups)} with the meter, each joined inside. Then"
    text = f"{name}:{middle}{side} {_listed(each)}. Solder one pin, straighten the part, solder the others."
    check = f"{orientation[0].upper()}{orientation[1:]}. {_JOINTS}" if orientation else _JOINTS
    return replace(step, text=text, orientation=orientation, check=check)


def _named(part: Part, package: Package, pin: str) -> str:
    """``pin 1`` or ``pin 1 (TIP)``."""
    names = [name for name, number in {**package.pin_names, **part.pin_names}.items() if number == pin]
    return f"pin {pin}{f' ({names[0]})' if names else ''}"


def _orientation(plan: Plan, placement: Placement, package: Package) -> tuple[str, str]:
    """The words for the text, and for the field: how a rigid part turns."""
    pins = placement.pins
    if package.shape in ("to-92", "to-220"):
        face = "flat face" if package.shape == "to-92" else "printed face"
        tab = "" if package.shape == "to-92" else ", the metal tab the other way"
        said = f"{face} towards the {words.flat_side(package, pins, plan.board)} edge of the board{tab}"
        return f" {said},", said
    if package.shape == "terminal":
        side = outward([plan.board.holes[address] for address in pins.values()], plan.board)
        said = f"openings for the wires towards the {side} edge"
        return f" {said},", said
    first = package.pins[0]
    mark = f" ({package.polarity})" if package.polarity else ""
    return "", f"pin {first} in {pins[first]}{mark}"


def _two_lead(plan: Plan, step: Step, name: str, placement: Placement, package: Package) -> Step:
    (one, first), (two, second) = step.pins
    a, b = plan.board.holes[first], plan.board.holes[second]
    span = ((a.x_mm - b.x_mm) ** 2 + (a.y_mm - b.y_mm) ** 2) ** 0.5
    leads, orientation = _leads(package, one, two, first, second)
    if placement.mount == "standing":
        how = f"Stand it upright with its body over {first}, the upper lead folded down to {second}"
    else:
        how = f"Bend its leads to {span:.1f} mm apart"
    text = f"{name}: {how[0].lower()}{how[1:]}. Push {leads}. Solder both, clip the ends."
    check = f"{orientation[0].upper()}{orientation[1:]}. {_JOINTS}" if orientation else _JOINTS
    return replace(step, text=text, span_mm=round(span, 2), orientation=orientation, check=check)


def _leads(package: Package, one: str, two: str, first: str, second: str) -> tuple[str, str]:
    """Which lead goes where, and what to look at afterwards."""
    if package.symmetric:
        return f"one lead into {first} and the other into {second}, either way round", ""
    if package.shape == "diode":
        return (
            f"the cathode lead, at the stripe (pin {two}), into {second} and the anode lead (pin {one}) into {first}",
            f"stripe towards {second}",
        )
    if package.shape == "led":
        return (
            f"the longer lead, anode (pin {one}), into {first} and the shorter, cathode (pin {two}), into {second}",
            f"flat on the rim towards {second}",
        )
    if words.is_polarised_can(package):
        return (
            f"the longer lead, + (pin {one}), into {first} and the lead at the stripe, - (pin {two}), into {second}",
            f"+ lead in {first}, stripe towards {second}",
        )
    mark = f" ({package.polarity})" if package.polarity else ""
    return f"pin {one} into {first} and pin {two} into {second}{mark}", f"pin {one} in {first}{mark}"


# ICs -----------------------------------------------------------------------------------------------------------------


def _corners(step: Step) -> list[tuple[str, str]]:
    """The pins at the four corners: first and last of each row."""
    half = len(step.pins) // 2
    return list(dict.fromkeys((step.pins[0], step.pins[half - 1], step.pins[half], step.pins[-1])))


def _socket(plan: Plan, ref: str) -> Step:
    step = _common(plan, ref)
    corners = _corners(step)
    notch = f"notch at the end of {corners[0][1]} and {corners[-1][1]}"
    each = _listed([f"pin {pin} into {hole}" for pin, hole in corners])
    return replace(
        step,
        kind="socket",
        title=f"{ref}: socket with {len(step.pins)} pins",
        text=f"Socket with {len(step.pins)} pins for {ref}: {notch}, {each}. Solder two opposite corners, press it "
        "flat, solder the others. The IC stays out.",
        orientation=f"{notch}, pin 1 in {corners[0][1]}",
        check=f"The {notch}. {_JOINTS}",
    )


def _ic(plan: Plan, ref: str) -> Step:
    part, package, step = plan.circuit.part_by_ref[ref], _package(plan, ref), _common(plan, ref)
    corners = _corners(step)
    notch = f"notch at the end of {corners[0][1]} and {corners[-1][1]}"
    each = _listed([f"pin {pin} at {hole}" for pin, hole in corners])
    return replace(
        step,
        kind="ic",
        text=f"Power off. {words.described(part, package)}: bend its rows straight on the table, then press it into "
        f"its socket, {notch}, {each}.",
        orientation=f"{notch}, pin 1 at {corners[0][1]}",
        check="No pin is bent under the IC or stands beside its contact.",
        cautions=("Touch something earthed first: static electricity destroys ICs.",),
        group="ICs",
    )


def _test(*, with_ics: bool) -> Step:
    sockets = ", sockets empty," if with_ics else ""
    return Step(
        0,
        "check",
        "Test before power",
        f"With nothing connected{sockets} work through the test sheet from top to bottom. Then power up as it says.",
        check="Every reading is as expected. Mend what is not, and measure that line again, before power comes on.",
        group="Test",
    )


def _last_power() -> Step:
    return Step(
        0,
        "check",
        "Power up with the ICs",
        "Power up again with the current limit of the test sheet, and touch nothing that is hot.",
        check="The current is as expected and nothing smells or gets hot. If not, power off at once.",
        group="ICs",
    )
