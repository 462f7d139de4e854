"""A package in words and as a small text sketch, for ``placer parts``. Pure functions of the package."""

from __future__ import annotations

from collections.abc import Sequence

from placer.packages.catalogue import families, lookup, names
from placer.packages.fit import arithmetic, enters, poles_table
from placer.packages.model import STEP_UM, Diagonal, Flying, Package, Rigid, TwoLead

STEP_MM = STEP_UM / 1000
USUAL_HOLE_MM = 1.0  # of the boards in the catalogue; common practice, no source
_CELLS = 4  # characters a step in the sketch of a two-lead part


def overview() -> list[tuple[str, str]]:
    """(name, what it is) of the whole catalogue; families stand once, as ``header-N``, with the numbers they have."""
    rows = [(name, lookup(name).about) for name in names()]
    for family in families():
        limits = f"N = {family.first}" if family.first == family.last else f"N = {family.first} to {family.last}"
        rows.append((family.template, f"{family.about} ({limits} {family.means})"))
    return rows


def describe(package: Package) -> list[tuple[str, str]]:
    """(label, text) rows that tell everything the package holds. The text of ``sketch`` has several lines."""
    rows = [("package", package.name)]
    if package.about:
        rows.append(("about", package.about))
    rows.append(("pins", f"{len(package.pins)}: {', '.join(package.pins)}"))
    if package.pin_names:
        rows.append(("names", ", ".join(f"{alias} = {pin}" for alias, pin in package.pin_names.items())))
    if package.joined:
        rows.append(("joined inside", ", ".join("-".join(group) for group in package.joined)))
    rows += _form_rows(package)
    if package.polarity:
        rows.append(("polarity", package.polarity))
    if package.symmetric:
        rows.append(("polarity", "none: either way round is the same"))
    rows.append(("height", f"{_mm(package.height_mm)} above the board"))
    rows.append(("lead", _lead(package)))
    if package.spread_mm and package.shape == "terminal" and isinstance(package.form, Rigid):
        rows.append(("fit", poles_table(package.lead_mm)))
    if not isinstance(package.form, Flying) and not enters(package, USUAL_HOLE_MM):
        rows.append(("fit", f"not on the grid: {arithmetic(package, USUAL_HOLE_MM)}; place: {{flying: true}} wires it"))
    rows.append(("sketch", sketch(package)))
    rows += [(f"source of {field}", text) for field, text in package.sources.items()]
    return rows


def sketch(package: Package) -> str:
    """The pins on the grid, component side, rotation 0: ``.`` is a hole without a pin; one line a grid row."""
    match package.form:
        case Rigid():
            return _grid(dict(zip(package.form.offsets, package.pins, strict=True)))
        case TwoLead():
            return "\n".join(_two_lead_lines(package.form, package.pins))
        case Diagonal():
            return _grid({(0, 0): package.pins[0], (1, 1): package.pins[1]})
        case Flying():
            return "\n".join(f"{pin} ~~~" for pin in package.pins)


def _form_rows(package: Package) -> list[tuple[str, str]]:
    match package.form:
        case Rigid(offsets, body):
            width = max(x for x, _ in offsets) - min(x for x, _ in offsets)
            depth = max(y for _, y in offsets) - min(y for _, y in offsets)
            rows = [("leads", f"rigid, {width} x {depth} steps ({_mm(width * STEP_MM)} x {_mm(depth * STEP_MM)})")]
            if body:
                x0, y0, x1, y1 = body
                rows.append(("body", f"{_size(x1 - x0)} x {_mm(y1 - y0)}"))
                reach = f"{_size(x0)} .. {_size(x1)} across, {_size(y0)} .. {_mm(y1)} down"
                rows.append(("body from pin 1", reach))
            return rows
        case TwoLead(flat, standing, length, width, upright):
            rows = [(name, _spans(spans)) for name, spans in (("flat", flat), ("standing", standing)) if spans]
            rows.append(("body", f"{_size(length)} x {_mm(width)}"))
            if standing:
                rows.append(("body standing", f"{_mm(upright)} wide, from lead to lead and {_mm(upright / 2)} beyond"))
            return rows
        case Diagonal(length, width):
            return [("leads", "rigid, on diagonal neighbour holes"), ("body", f"{_size(length)} x {_mm(width)}")]
        case Flying():
            return [("leads", "wires, each in any hole of its own"), ("body", "none on the board")]


def _spans(spans: Sequence[int]) -> str:
    """Lead distances in steps and mm, such as "4..8 steps (10.16 .. 20.32 mm)"."""
    first, last = spans[0], spans[-1]
    if first == last:
        return f"{first} step{'s' if first > 1 else ''} ({_mm(first * STEP_MM)})"
    unbroken = len(spans) == last - first + 1
    steps = f"{first}..{last}" if unbroken else ", ".join(map(str, spans))
    return f"{steps} steps ({_size(first * STEP_MM)} .. {_mm(last * STEP_MM)})"


def _lead(package: Package) -> str:
    if not package.spread_mm:
        return f"{_mm(package.lead_mm)} (diameter or diagonal)"
    needed = package.lead_mm + package.spread_mm
    off = f"{_size(package.spread_mm)} more for pins off the 2.54 mm grid"
    return f"{_mm(package.lead_mm)} (diameter or diagonal), {off}: holes of {_mm(needed)} or wider"


def _grid(pins: dict[tuple[int, int], str]) -> str:
    wide = max(map(len, pins.values()))
    xs, ys = sorted(x for x, _ in pins), sorted(y for _, y in pins)
    lines = []
    for y in range(ys[0], ys[-1] + 1):
        cells = (pins.get((x, y), ".").rjust(wide) for x in range(xs[0], xs[-1] + 1))
        lines.append(" ".join(cells))
    return "\n".join(lines)


def _two_lead_lines(form: TwoLead, pins: Sequence[str]) -> list[str]:
    """One line a mount at its shortest distance: leads as ``-``, the lying body as ``=``, a standing one as ``o``."""
    lines = []
    if form.flat:
        gap = form.flat[0] * _CELLS - 1
        body = min(gap, max(1, round(form.length / STEP_MM * _CELLS)))
        line = ("=" * body).center(gap, "-")
        lines.append(f"{pins[0]}{line}{pins[1]}  flat, {form.flat[0]} step{'s' if form.flat[0] > 1 else ''}")
    if form.standing:
        line = "o" + "-" * (form.standing[0] * _CELLS - 2)
        steps = f"{form.standing[0]} step{'s' if form.standing[0] > 1 else ''}"
        lines.append(f"{pins[0]}{line}{pins[1]}  standing, {steps}")
    return lines


def _size(mm: float) -> str:
    """A length without its unit, at most three decimals."""
    text = f"{mm:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _mm(mm: float) -> str:
    return f"{_size(mm)} mm"
