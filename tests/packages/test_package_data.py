"""Packages as JSON data: nothing is lost, and data that no package could have written are refused."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from placer.packages.catalogue import (
    PackageError,
    families,
    lookup,
    names,
    package_from_data,
    package_to_data,
)
from placer.packages.model import Diagonal, Flying, Form, Package, Rigid, TwoLead
from placer.packages.rules import package_faults


def test_the_whole_catalogue_survives_json() -> None:
    known = [*names(), *(f.name(n) for f in families() for n in (f.first, f.last))]
    for package in map(lookup, known):
        assert package_from_data(json.loads(json.dumps(package_to_data(package)))) == package


mm = st.floats(0.01, 300, allow_nan=False)
words = st.text(max_size=12)
spans = st.sets(st.integers(1, 30), max_size=5).map(lambda s: tuple(sorted(s)))


@st.composite
def packages(draw: st.DrawFn) -> Package:
    count = draw(st.integers(1, 6))
    form: Form
    match draw(st.sampled_from(["rigid", "two-lead", "diagonal", "flying"])):
        case "rigid":
            place = st.tuples(st.integers(-9, 9), st.integers(-9, 9)).filter(any)
            others = draw(st.lists(place, min_size=count - 1, max_size=count - 1, unique=True))
            x, y = draw(mm), draw(mm)
            form = Rigid(((0, 0), *others), draw(st.sampled_from([None, (-x, -y, x, y)])))
        case "two-lead":
            count = 2
            form = TwoLead(draw(spans.filter(bool)), draw(spans), draw(mm), draw(mm), draw(mm))
        case "diagonal":
            count = 2
            form = Diagonal(draw(mm), draw(mm))
        case _:
            form = Flying()
    pins = tuple(str(k + 1) for k in range(count))
    return Package(
        name=draw(st.text(min_size=1, max_size=9)),
        about=draw(words),
        pins=pins,
        form=form,
        height_mm=draw(mm),
        lead_mm=draw(mm),
        shape=draw(st.sampled_from(["box", "dip"])),
        spread_mm=draw(mm | st.just(0.0)),
        polarity=draw(words),
        pin_names=dict.fromkeys(draw(st.sets(st.sampled_from(["A", "K", "+", "D-"]))), pins[0]),
        joined=(pins[:2],) if count > 1 and draw(st.booleans()) else (),
        sources=draw(st.dictionaries(words, words, max_size=2)),
    )


@given(packages())
def test_any_sound_package_survives_json_exactly(package: Package) -> None:
    assert package_faults(package) == []

    assert package_from_data(json.loads(json.dumps(package_to_data(package)))) == package


def broken(name: str, *path: str | int, value: Any) -> dict[str, Any]:
    """The data of a catalogue package with one value replaced."""
    data = copy.deepcopy(package_to_data(lookup(name)))
    at: Any = data
    for key in path[:-1]:
        at = at[key]
    at[path[-1]] = value
    return data


@pytest.mark.parametrize(
    ("data", "loc", "said"),
    [
        (broken("dip-8", "form", "kind", value="bent"), ("form",), "no form of this kind is known"),
        (broken("dip-8", "form", "offsets", 1, value=[0, "1"]), ("form", "offsets", 1, 1), "found '1'"),
        (broken("dip-8", "form", "offsets", 1, value=[0, 0]), (), "2 pins share the place (0, 0)"),
        (broken("dip-8", "form", "offsets", 0, value=[0, 9]), (), "the first pin is at (0, 9), expected (0, 0)"),
        (broken("dip-8", "form", "body", value=[1, 2, 3]), ("form", "body"), "found [1, 2, 3]"),
        (broken("dip-8", "form", "body", value=[5, 0, 1, 9]), (), "has no area"),
        (broken("dip-8", "pins", value=["1", "2"]), (), "2 pins but 8 places"),
        (broken("dip-8", "pins", 0, value=1), ("pins", 0), "found 1"),
        (broken("dip-8", "lead_mm", value=float("nan")), ("lead_mm",), "found nan"),
        (broken("dip-8", "lead_mm", value="0.5"), ("lead_mm",), "found '0.5'"),
        (broken("dip-8", "symmetric", value=True), (), "only a two-lead part can be symmetric"),
        (broken("dip-8", "extra", value=1), ("extra",), "extra is no field here"),
        (broken("do-35", "pins", value=["1", "2", "3"]), (), "this form has two pins; found 3"),
        (broken("do-35", "form", "flat", value=[8, 3]), (), "rising order"),
        (broken("do-35", "form", "flat", value=[]), None, ""),  # standing remains: still a package
        (broken("do-35", "form", "upright", value=0.0), (), "a standing part needs a width"),
        (broken("do-35", "pin_names", "A", value="7"), (), "A stands for pin 7"),
        (broken("button-6", "joined", 0, value=["1"]), (), "two pins or more"),
    ],
)
def test_data_that_no_package_could_have_written(data: Any, loc: tuple[str | int, ...] | None, said: str) -> None:
    if loc is None:
        assert package_from_data(data).form == TwoLead((), (1, 2), 4.25, 2.28, 2.28)
        return
    with pytest.raises(PackageError) as caught:
        package_from_data(data)

    assert {f.loc: f.message for f in caught.value.faults}.get(loc, "").count(said) == 1


@pytest.mark.parametrize("field", sorted(package_to_data(lookup("dip-8"))))
def test_every_field_is_needed(field: str) -> None:
    data = package_to_data(lookup("dip-8"))
    del data[field]

    with pytest.raises(PackageError, match=f"the field {field} is missing"):
        package_from_data(data)


@pytest.mark.parametrize("data", [None, [], "dip-8", {}, {1: 2}])
def test_other_data_are_refused(data: Any) -> None:
    with pytest.raises(PackageError):
        package_from_data(data)
