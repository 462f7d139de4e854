"""A user's own packages: what the syntax means, and what is said where it is broken."""

from __future__ import annotations

from typing import Any

import pytest
import yaml

from placer.errors import Exit, PlacerError
from placer.packages.catalogue import PackageError, PackageFault, lookup, parse_package
from placer.packages.model import Diagonal, Flying, Rigid, TwoLead


def read(text: str, name: str = "hive-part") -> Any:
    return parse_package(name, yaml.safe_load(text))


def faults(text: str, name: str = "hive-part") -> dict[tuple[str | int, ...], str]:
    """loc -> message of every fault; the text must be refused."""
    with pytest.raises(PackageError) as caught:
        read(text, name)
    assert caught.value.exit_code == Exit.BAD_INPUT
    return {fault.loc: fault.message for fault in caught.value.faults}


RIGID = "form: rigid\nlead_mm: 0.6\nheight_mm: 5.0\n"
TWO = "form: two-lead\nlead_mm: 0.6\nheight_mm: 5.0\nbody_mm: [6.5, 2.5]\n"

# --- what is right -----------------------------------------------------------------------------------------------


def test_a_picture_of_the_grid_gives_the_places_from_pin_1() -> None:
    package = read(RIGID + "rows: ['. 4 .', '3 . 1', '. 2 .']\nbody_mm: [6.0, 7.0]\nshift_mm: [0.5, -1.0]\n")

    assert package.pins == ("1", "2", "3", "4")
    assert package.form.offsets == ((0, 0), (-1, 1), (-2, 0), (-1, -1))
    assert package.form.body == pytest.approx((-2.54 - 3.0 + 0.5, -3.5 - 1.0, -2.54 + 3.0 + 0.5, 3.5 - 1.0))


def test_numbered_pins_come_by_number_and_named_ones_as_they_are_read() -> None:
    package = read(RIGID + "rows: ['OUT 10 2', 'IN . 1']\n")

    assert package.pins == ("1", "2", "10", "OUT", "IN")
    assert package.form.offsets == ((0, 0), (0, -1), (-1, -1), (-2, -1), (-2, 0))


@pytest.mark.parametrize(
    ("layout", "catalogued"),
    [
        ("dual: 14", "dip-14"),
        ("dual: 40\napart: 6", "dip-40-wide"),
        ("line: 5", "header-5"),
        ("line: 4\npitch: 2", "terminal-4"),
        ("zigzag: 10", "header-2x5"),
        ("rows: ['1 . . 8', '2 . . 7', '3 . . 6', '4 . . 5']", "dip-8"),
    ],
)
def test_the_layouts_mean_the_same_as_in_the_catalogue(layout: str, catalogued: str) -> None:
    own, known = read(RIGID + layout), lookup(catalogued)
    assert isinstance(own.form, Rigid)
    assert isinstance(known.form, Rigid)

    assert (own.pins, own.form.offsets) == (known.pins, known.form.offsets)
    assert own.form.body is None


@pytest.mark.parametrize(
    ("spans", "expected"),
    [("4", (4,)), ("4..6", (4, 5, 6)), ("' 4 .. 6 '", (4, 5, 6)), ("[7, 4, 4]", (4, 7)), ("'12'", (12,))],
)
def test_lead_distances(spans: str, expected: tuple[int, ...]) -> None:
    form = read(f"{TWO}flat: {spans}").form

    assert form == TwoLead(expected, (), 6.5, 2.5, 0.0)


def test_a_standing_part_is_as_wide_as_its_body_unless_said() -> None:
    assert read(TWO + "standing: 1..2").form == TwoLead((), (1, 2), 6.5, 2.5, 2.5)
    assert read(TWO + "standing: 1\nupright_mm: 3.0").form.upright == 3.0


def test_flying_and_diagonal_forms() -> None:
    common = "lead_mm: 0.8\nheight_mm: 10\n"
    assert read(f"form: flying\n{common}pins: 3").pins == ("1", "2", "3")
    named = read(f"form: flying\n{common}pins: [TIP, 7]\nnames: {{T: TIP}}")
    assert (named.form, named.pins, named.pin_names) == (Flying(), ("TIP", "7"), {"T": "TIP"})
    assert read(f"form: diagonal\n{common}body_mm: [7, 8]").form == Diagonal(7.0, 8.0)


def test_everything_a_package_can_say_arrives() -> None:
    package = read(
        RIGID
        + """
about: weighing cell amplifier
line: 4
names: {VCC: 1, GND: 4}
joined: [[2, 3]]
polarity: dot at pin 1
shape: box
spread_mm: 0.05
sources: {lead_mm: measured}
"""
    )

    assert (package.name, package.about, package.height_mm, package.lead_mm) == (
        "hive-part",
        "weighing cell amplifier",
        5.0,
        0.6,
    )
    assert package.pin_names == {"VCC": "1", "GND": "4"}
    assert package.joined == (("2", "3"),)
    assert (package.polarity, package.shape, package.spread_mm) == ("dot at pin 1", "box", 0.05)
    assert package.sources == {"lead_mm": "measured"}
    assert read(TWO + "flat: 4\nsymmetric: true").symmetric


# --- what is wrong -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "loc", "said"),
    [
        ("{}", (), "the field form is missing"),
        ("[1, 2]", (), "a package is a mapping of fields; found [1, 2]"),
        ("form: bent", ("form",), "form is 'bent'"),
        ("form: [rigid]", ("form",), "form is ['rigid']"),
        ("form: rigid\nline: 3\nheight_mm: 5", (), "the field lead_mm is missing"),
        (RIGID + "lines: 3", ("lines",), "lines is no field here"),
        (RIGID + "7: 3\nline: 2", (), "7 is no field here"),
        (RIGID, (), "no layout of the pins is given"),
        (RIGID + "line: 3\ndual: 4", ("dual",), "line and dual are both given"),
        (RIGID + "line: 3\napart: 4", ("apart",), "apart says nothing without dual"),
        (RIGID + "dual: 4\npitch: 2", ("pitch",), "pitch says nothing without line"),
        (RIGID + "line: 3\nshift_mm: [1, 1]", ("shift_mm",), "shift_mm says nothing without body_mm"),
        (RIGID + "dual: 7", ("dual",), "two rows need an even number of pins; found 7"),
        (RIGID + "zigzag: 3", ("zigzag",), "two rows need an even number of pins; found 3"),
        (RIGID + "line: 0", ("line",), "greater than or equal to 1; found 0"),
        (RIGID + "line: true", ("line",), "found True"),
        (RIGID + "line: '3'", ("line",), "found '3'"),
        (RIGID + "line: 100000000", ("line",), "less than or equal to 200"),
        (RIGID + "rows: ['1 2', '3']", ("rows", 1), "row 2 has 1 cells; the first has 2"),
        (RIGID + "rows: ['1 2', '1 3']", ("rows", 1), "pin 1 stands twice"),
        (RIGID + "rows: ['. .']", ("rows",), "the picture holds no pin"),
        (RIGID + "rows: ['']", ("rows", 0), "row 1 has 0 cells"),
        (RIGID + "rows: ['1 A.B']", ("pins",), "'A.B' cannot be a pin"),
        (RIGID + "line: 2\nbody_mm: [5.0]", ("body_mm",), "found [5.0]"),
        (RIGID + "line: 2\nbody_mm: [5.0, -1]", ("body_mm", 1), "greater than 0; found -1"),
        (RIGID + "line: 2\nbody_mm: [5.0, .inf]", ("body_mm", 1), "found inf"),
        (RIGID + "line: 2\nbody_mm: [5.0, .nan]", ("body_mm", 1), "found nan"),
        (RIGID + "line: 2\nnames: {A: 3}", ("names", "A"), "A stands for pin 3, which is not there"),
        (RIGID + "line: 2\nnames: {1: 2}", ("names", "1"), "1 is a pin and cannot name pin 2 too"),
        (RIGID + "line: 2\nnames: {T: NO}", ("names", "T"), "put the pin in quotes; found False"),
        (RIGID + "line: 2\njoined: [[ON, 1]]", ("joined", 0, 0), "put the pin in quotes; found True"),
        (RIGID + "line: 2\nnames: {A B: 2}", ("names", "A B"), "'A B' cannot name a pin"),
        (RIGID + "line: 4\njoined: [[1, 9]]", ("joined", 0), "pin 9 is not there"),
        (RIGID + "line: 4\njoined: [[1, 2], [2, 3]]", ("joined", 1), "pin 2 is listed twice"),
        (RIGID + "line: 4\njoined: [[1, 1]]", ("joined", 0), "a joined group needs two pins or more"),
        (RIGID + "line: 2\nsymmetric: true", ("symmetric",), "symmetric is no field here"),
        (RIGID + "line: 2\nshape: blob", ("shape",), "found 'blob'"),
        (TWO, (), "neither flat nor standing says how far apart the leads are"),
        (TWO + "flat: 8..4", ("flat",), "the range 8..4 runs backwards"),
        (TWO + "flat: 1..9999", ("flat",), "at most 100 steps"),
        (TWO + "flat: far", ("flat",), "lead distances are written as 4, '4..8' or [4, 5]; found 'far'"),
        (TWO + "flat: [0]", ("flat", 0), "greater than or equal to 1; found 0"),
        (TWO + "flat: 2.5", ("flat",), "found 2.5"),
        (TWO + "flat: true", ("flat",), "whole number of steps; found True"),
        (TWO + "flat: 4\nupright_mm: 2.0", ("upright_mm",), "upright_mm is given but no standing distance"),
        (TWO + "flat: 4\nsymmetric: true\npolarity: stripe", ("symmetric",), "is not symmetric"),
        (TWO + "flat: 4\nnames: {A: 1, K: 2}\nsymmetric: true", ("symmetric",), "is not symmetric"),
        ("form: flying\nlead_mm: 0.8\nheight_mm: 9\npins: 0", ("pins",), "1 to 200 pins; found 0"),
        ("form: flying\nlead_mm: 0.8\nheight_mm: 9\npins: [A, A]", ("pins",), "pin A is listed 2 times"),
    ],
)
def test_a_fault_is_told_at_its_place(text: str, loc: tuple[str | int, ...], said: str) -> None:
    found = faults(text)

    assert loc in found
    assert said in found[loc]


def test_all_wrong_fields_are_told_at_once() -> None:
    found = faults("form: two-lead\nlead_mm: thick\nheight_mm: 0\nbody_mm: [1, 2, 3]\nflatt: 4")

    assert set(found) == {("lead_mm",), ("height_mm",), ("body_mm",), ("flatt",)}


@pytest.mark.parametrize("name", ["", "two words", "-x", "a/b", "größe", "a\nb"])
def test_a_name_that_no_netlist_could_carry_is_refused(name: str) -> None:
    assert "cannot be a package name" in faults(RIGID + "line: 2", name)[()]


def test_help_says_how_to_mend() -> None:
    with pytest.raises(PlacerError) as caught:
        read(TWO + "flatt: 4")

    (diagnostic,) = caught.value.diagnostics
    assert diagnostic.code == "bad-package"
    assert diagnostic.message == "package hive-part, flatt: flatt is no field here"
    assert diagnostic.help == "did you mean flat?"


def test_a_path_reads_like_the_file() -> None:
    error = PackageError("p", [PackageFault(("joined", 0, 1), "wrong"), PackageFault((), "no")])

    assert [d.message for d in error.diagnostics] == ["package p, joined[0][1]: wrong", "package p: no"]
