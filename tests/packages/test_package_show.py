"""What ``placer parts`` says of a package."""

from __future__ import annotations

import pytest

from placer.packages.catalogue import families, lookup, names, parse_package
from placer.packages.show import describe, overview, sketch


def test_the_overview_lists_every_package_and_every_family_once() -> None:
    listed = [name for name, _ in overview()]

    assert listed == [*names(), *(family.template for family in families())]
    assert dict(overview())["terminal-N"].endswith("(N = 2 to 24 poles)")


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("dip-8", "1 . . 8\n2 . . 7\n3 . . 6\n4 . . 5"),
        ("button-6", "1 . . 2\n. . . .\n3 . . 4"),
        ("terminal-3", "1 . 2 . 3"),
        ("terminal-2-3.5", "1 .\n. 2"),
        ("header-2x5", " 1  2\n 3  4\n 5  6\n 7  8\n 9 10"),
        ("axial-0207", "1---==========--2  flat, 4 steps\n1o--2  standing, 1 step"),
        ("pad-2", "1 ~~~\n2 ~~~"),
    ],
)
def test_the_sketch_shows_the_pins_on_the_grid(name: str, expected: str) -> None:
    assert sketch(lookup(name)) == expected


@pytest.mark.parametrize("name", ["dip-28", "to-92", "relay", "sip-12", "header-2x20", "terminal-9-5.0"])
def test_a_rigid_sketch_read_back_as_a_picture_is_the_same_layout(name: str) -> None:
    package = lookup(name)
    data = {"form": "rigid", "rows": sketch(package).splitlines(), "lead_mm": 0.6, "height_mm": 5.0}
    again = parse_package("again", data)

    offsets = dict(zip(again.pins, getattr(again.form, "offsets", ()), strict=True))
    assert offsets == dict(zip(package.pins, getattr(package.form, "offsets", ()), strict=True))


@pytest.mark.parametrize(
    ("name", "label", "text"),
    [
        ("dip-8", "body", "7.11 x 10.16 mm"),
        ("dip-8", "leads", "rigid, 3 x 3 steps (7.62 mm x 7.62 mm)"),
        ("dip-8", "body from pin 1", "0.255 .. 7.365 across, -1.27 .. 8.89 mm down"),
        ("do-35", "names", "A = 1, K = 2"),
        ("do-35", "flat", "3..8 steps (7.62 .. 20.32 mm)"),
        ("film-5", "flat", "2 steps (5.08 mm)"),
        ("button-6", "joined inside", "1-2, 3-4"),
        ("terminal-3-5.0", "lead", "0.9 mm (diameter or diagonal), 0.16 more for pins off the 2.54 mm grid: "
                                   "holes of 1.06 mm or wider"),
        ("usb-b", "body", "none on the board"),
        ("axial-0207", "polarity", "none: either way round is the same"),
        ("axial-0207", "source of standing", "common practice, no source"),
    ],
)  # fmt: skip
def test_a_description_tells(name: str, label: str, text: str) -> None:
    assert (label, text) in describe(lookup(name))


def test_a_description_gives_every_source() -> None:
    for name in ("dip-8", "do-41", "terminal-2-3.5", "pad-3"):
        package = lookup(name)
        told = {label: text for label, text in describe(package) if label.startswith("source of ")}
        assert told == {f"source of {field}": text for field, text in package.sources.items()}


def test_broken_runs_of_distances_are_listed_one_by_one() -> None:
    data = {"form": "two-lead", "flat": [2, 5], "body_mm": [4.0, 2.0], "lead_mm": 0.6, "height_mm": 3.0}

    assert ("flat", "2, 5 steps (5.08 .. 12.7 mm)") in describe(parse_package("own", data))
