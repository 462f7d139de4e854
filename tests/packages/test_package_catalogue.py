"""Every name of the contract loads, every figure has a source, and what no package may break holds for all of them."""

from __future__ import annotations

from importlib.resources import files

import pytest
import yaml

from placer.errors import PlacerError
from placer.packages.catalogue import PackageError, UnknownPackageError, families, lookup, names
from placer.packages.model import STEP_UM, Diagonal, Flying, Package, Rigid, TwoLead
from placer.packages.rules import package_faults

# fmt: off
CONTRACT = [
    "dip-4", "dip-6", "dip-8", "dip-10", "dip-12", "dip-14", "dip-16", "dip-18", "dip-20", "dip-28", "dip-24-wide",
    "dip-28-wide", "dip-40-wide", "sip-2", "sip-9", "to-92", "to-220", "axial-0204", "axial-0207", "axial-0309",
    "do-35", "do-41", "disc-2.5", "disc-5", "film-5", "film-10", "film-15", "radial-5", "radial-6.3", "radial-8",
    "radial-10", "radial-13", "led-3", "led-5", "crystal-hc49", "header-1", "header-40", "header-2x1", "header-2x20",
    "terminal-2", "terminal-3", "terminal-24", "terminal-2-5.0", "terminal-12-5.0", "terminal-2-3.5", "trimmer-3",
    "button-6", "relay", "barrel-jack", "usb-b", "pad-1", "pad-2", "pad-40",
]
# fmt: on


def every_package() -> list[Package]:
    numbered = [family.name(n) for family in families() for n in range(family.first, family.last + 1)]
    return [lookup(name) for name in (*names(), *numbered)]


ALL = every_package()
FIXED = [lookup(name) for name in names()] + [lookup(family.name(family.first)) for family in families()]
SAMPLE = FIXED + [lookup(family.name(family.last)) for family in families() if family.last > family.first]
RIGID = [p for p in SAMPLE if isinstance(p.form, Rigid)]


@pytest.mark.parametrize("name", CONTRACT)
def test_every_name_of_the_contract_loads(name: str) -> None:
    assert lookup(name).name == name


def test_no_package_breaks_a_rule() -> None:
    assert {p.name: package_faults(p) for p in ALL if package_faults(p)} == {}
    assert all(p.about for p in ALL)


def test_no_row_of_the_catalogue_is_written_twice() -> None:
    """YAML keeps the last of two equal keys without a word, so the text itself is looked at."""
    root = yaml.compose(files("placer.packages").joinpath("catalogue.yaml").read_text(encoding="utf-8"))
    waiting = [root]
    seen = 0
    while waiting:
        node = waiting.pop()
        if isinstance(node, yaml.SequenceNode):
            waiting += node.value
        if isinstance(node, yaml.MappingNode):
            keys = [key.value for key, _ in node.value]
            assert len(keys) == len(set(keys)), f"line {node.start_mark.line + 1}: {keys}"
            seen += len(keys)
            waiting += [value for _, value in node.value]
    assert seen > 400


# --- sources -----------------------------------------------------------------------------------------------------


def figures(package: Package) -> set[str]:
    """The figures that the package states, by their names in the YAML syntax; "layout" for every layout field."""
    stated = {"lead_mm", "height_mm"}
    match package.form:
        case Rigid(_, body):
            stated |= {"layout"} | ({"body_mm"} if body else set())
        case TwoLead(flat, standing):
            stated |= {"body_mm"} | ({"flat"} if flat else set()) | ({"standing", "upright_mm"} if standing else set())
        case Diagonal():
            stated |= {"body_mm"}
        case Flying():
            stated |= {"pins"}
    optional = {
        "spread_mm": package.spread_mm,
        "names": package.pin_names,
        "joined": package.joined,
        "polarity": package.polarity,
    }
    return stated | {field for field, value in optional.items() if value}


@pytest.mark.parametrize("package", FIXED, ids=lambda p: p.name)
def test_every_figure_has_a_source_and_no_source_lacks_its_figure(package: Package) -> None:
    layouts = {"rows", "line", "dual", "zigzag"}
    sourced = {"layout" if field in layouts else field for field in package.sources} - {"apart", "pitch"}

    assert sourced == figures(package)
    assert all(len(text) >= 10 for text in package.sources.values() if text != "this project")


def test_the_source_of_an_assumption_says_so() -> None:
    """What is known from memory only is not dressed up as read."""
    for name, field in (("button-6", "joined"), ("crystal-hc49", "flat"), ("terminal-2", "lead_mm"), ("relay", "rows")):
        assert "from memory" in lookup(name).sources[field]


def test_unlike_leads_are_told_where_the_typical_lead_is_catalogued() -> None:
    assert "1.180 and does not enter a 1.0 hole" in lookup("to-220").sources["lead_mm"]
    assert "need holes of 1.3" in lookup("terminal-2").sources["lead_mm"]


# --- what holds for every package --------------------------------------------------------------------------------


def covered(package: Package) -> set[tuple[int, int]]:
    """Hole places strictly inside the body of a rigid package, in steps from pin 1, by the geometry's integer um."""
    assert isinstance(package.form, Rigid)
    if package.form.body is None:
        return set()
    x0, y0, x1, y1 = (round(edge * 1000) for edge in package.form.body)
    reach = range(-60, 180)
    xs = [k for k in reach if x0 < k * STEP_UM < x1]
    ys = [k for k in reach if y0 < k * STEP_UM < y1]
    return {(x, y) for x in xs for y in ys}


@pytest.mark.parametrize("package", [p for p in RIGID if p.shape == "dip"], ids=lambda p: p.name)
def test_a_dual_in_line_body_lies_between_its_rows_and_leaves_every_lead_outside(package: Package) -> None:
    """E1 max is below the row spacing at the lead in MS-001 and MS-011, so no pin and no hole beyond is covered."""
    assert isinstance(package.form, Rigid)
    inside = covered(package)

    assert not inside & set(package.form.offsets)
    columns = {x for x, _ in package.form.offsets}
    assert {x for x, _ in inside} == set(range(min(columns) + 1, max(columns)))


@pytest.mark.parametrize("package", RIGID, ids=lambda p: p.name)
def test_a_rigid_body_is_centred_on_the_pins_and_reaches_every_lead(package: Package) -> None:
    assert isinstance(package.form, Rigid)
    body = package.form.body
    assert body is not None
    for axis in (0, 1):
        places = [offset[axis] for offset in package.form.offsets]
        low, high = body[axis], body[axis + 2]
        assert low + high == pytest.approx((min(places) + max(places)) * 2.54)
        # A lead leaves the body at its side: never further from it than the 1.0 that a spread or splayed lead bridges.
        assert low <= min(places) * 2.54 + 1.0
        assert high >= max(places) * 2.54 - 1.0


@pytest.mark.parametrize("name", [f"header-{n}" for n in (1, 2, 8)] + ["header-2x5", "sip-9", "terminal-4"])
def test_parts_with_a_whole_number_of_places_stand_end_to_end(name: str) -> None:
    """Derived: N x pitch long, so the next part of the kind continues the row and the bodies touch without overlap."""
    package = lookup(name)
    assert isinstance(package.form, Rigid)
    assert package.form.body is not None
    axis = 1 if "2x" in name else 0
    places = [offset[axis] for offset in package.form.offsets]
    pitch = 2 if "terminal" in name else 1
    length = round(package.form.body[axis + 2] * 1000) - round(package.form.body[axis] * 1000)

    assert length == (max(places) - min(places) + pitch) * STEP_UM


@pytest.mark.parametrize("package", SAMPLE, ids=lambda p: p.name)
def test_every_lead_enters_the_usual_hole_or_the_terminal_needs_more(package: Package) -> None:
    """Common practice, no source: holes of 1.0 are usual; only 5.00 terminals beyond two poles ask for more."""
    needs = round(package.lead_mm * 1000) + round(package.spread_mm * 1000)

    assert (needs > 1000) == (package.name.endswith("-5.0") and len(package.pins) > 2)


def test_symmetric_parts_are_those_without_polarity() -> None:
    symmetric = {p.name for p in FIXED if p.symmetric}
    two_lead = {p.name for p in FIXED if isinstance(p.form, TwoLead)}
    polar = {p.name for p in FIXED if p.shape in ("diode", "led", "can")}

    assert symmetric == two_lead - polar
    assert all(lookup(name).polarity and lookup(name).pin_names for name in polar)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("do-35", {"A": "1", "K": "2"}),
        ("led-5", {"A": "1", "K": "2"}),
        ("radial-10", {"+": "1", "-": "2", "P": "1", "N": "2"}),
        ("trimmer-3", {"W": "2"}),
        ("barrel-jack", {"TIP": "1", "SLEEVE": "2", "SWITCH": "3"}),
        # USB 1.1 specification, Table 6-1: 1 VBUS, 2 D-, 3 D+, 4 GND, shell.
        ("usb-b", {"VBUS": "1", "D-": "2", "D+": "3", "GND": "4", "SHELL": "5"}),
        ("to-92", {}),
    ],
)
def test_pin_names(name: str, expected: dict[str, str]) -> None:
    assert dict(lookup(name).pin_names) == expected


# --- names that do not load --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "close"),
    [("DIP-8", "dip-8"), ("dip8", "dip-8"), ("axial_0207", "axial-0207"), ("headr-4", "header-N"), ("led5", "led-5")],
)
def test_an_unknown_name_is_told_with_the_name_it_may_be_meant_for(name: str, close: str) -> None:
    with pytest.raises(KeyError) as caught:
        lookup(name)

    assert isinstance(caught.value, UnknownPackageError)
    assert close in caught.value.close
    assert str(caught.value).startswith(f"no package is called '{name}'; did you mean ")


@pytest.mark.parametrize("name", ["", "N", "header-N", "header-04", "header-4x", "pad--1", "header-" + "9" * 5000])
def test_a_name_that_only_looks_like_a_family_is_unknown(name: str) -> None:
    with pytest.raises(UnknownPackageError):
        lookup(name)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("terminal-1", "2 to 24 poles; found 1"),
        ("terminal-25-5.0", "2 to 24 poles; found 25"),
        ("header-0", "1 to 40 pins; found 0"),
        ("header-2x41", "1 to 40 pairs of pins; found 41"),
        ("pad-41", "1 to 40 leads; found 41"),
    ],
)
def test_a_number_that_does_not_exist_is_told_with_the_limits(name: str, said: str) -> None:
    with pytest.raises(PlacerError) as caught:
        lookup(name)

    assert said in str(caught.value)
    assert caught.value.diagnostics[0].help


def test_a_longer_3_50_terminal_is_refused_with_the_arithmetic() -> None:
    """Derived: 3.50 is 0.96 off one step and 1.58 off two; the diagonal neighbour is 3.592 away."""
    with pytest.raises(PackageError) as caught:
        lookup("terminal-3-3.5")

    for figure in (f"{3.50 - 2.54:.2f}", f"{5.08 - 3.50:.2f}", f"{2.54 * 2**0.5:.3f}", f"{2.54 * 2**0.5 - 3.5:.3f}"):
        assert figure in str(caught.value)
    assert "terminal-N" in caught.value.diagnostics[0].help
