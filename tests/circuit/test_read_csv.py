"""Reading pin lists: what a file means, what is said about each thing that is wrong, and that no file does harm."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from placer.circuit.problems import Problems
from placer.circuit.raw import OPEN, RawNetlist
from placer.circuit.read_csv import read_csv_rows
from placer.errors import Diagnostic, PlacerError

HERE = Path("hive.csv")


def read(text: str) -> tuple[RawNetlist | None, tuple[Diagnostic, ...]]:
    problems = Problems()
    raw = read_csv_rows(HERE, text, problems)
    return raw, problems.finish()


def refused(text: str) -> tuple[Diagnostic, ...]:
    with pytest.raises(PlacerError) as caught:
        read(text)
    return caught.value.diagnostics


def pins(text: str) -> dict[str, str]:
    raw, _ = read(text)
    assert raw is not None
    return {f"{e.name}.{p}": n for e in raw.top.elements for p, n in zip(e.ports, e.nodes, strict=True)}


def test_a_pin_list_with_packages_and_values():
    raw, warnings = read("part,pin,net,package,value\nR1,1,A,axial-0207,10k\nR1,2,,,\nU1,VCC,A,dip-8,timer\n")
    assert warnings == ()
    assert raw is not None
    assert raw.name == "hive"
    assert [(e.name, e.ports, e.nodes, e.package, e.value) for e in raw.top.elements] == [
        ("R1", ("1", "2"), ("A", OPEN), "axial-0207", "10k"),
        ("U1", ("VCC",), ("A",), "dip-8", "timer"),
    ]


@pytest.mark.parametrize(
    "text",
    [
        "part,pin,net\nR1,1,A\nR1,2,B",
        "part;pin;net\r\nR1;1;A\r\nR1;2;B\r\n",
        "part\tpin\tnet\nR1\t1\tA\nR1\t2\tB\n",
        "\ufeffpart,pin,net\rR1,1,A\rR1,2,B\r",
        "Net,PIN,Part\nA,1,R1\nB,2,R1\n",
        "\n\npart,pin,net\n\nR1,1,A\n\n,,\nR1,2,B\n",
        '"part","pin","net"\n"R1","1","A"\n"R1", "2" ,"B"\n',
        " part , pin , net \n R1 , 1 , A \n R1 , 2 , B \n",
        "part,remark,pin,net\nR1,x,1,A\nR1,y,2,B\n",
        '"part";"pin";"net"\nR1;1;A\nR1;2;B\n',
    ],
)
def test_the_same_list_in_other_clothes(text):
    assert pins(text) == {"R1.1": "A", "R1.2": "B"}


def test_quoted_fields_hold_delimiters_quotes_and_line_ends():
    assert pins('part,pin,net\n"R,1",1,"say ""hum"""\n"a\nb",2,x\n') == {"R,1.1": 'say "hum"', "a\nb.2": "x"}


def test_a_comma_in_the_quoted_first_column_name_does_not_part_the_fields():
    assert [d.code for d in refused('"part,or so";pin;net\nR1;1;A\n')] == ["csv-column-missing"]


FAULTS = [
    ("", "csv-empty", ""),
    ("part,pin,net\n", "csv-empty", "p"),
    ("part,pin\nR1,1\n", "csv-column-missing", "part,pin"),
    ("part,pin,nett\nR1,1,A\n", "csv-column-missing", "nett"),
    ("part,pin,net,NET\nR1,1,A,B\n", "csv-column-twice", "NET"),
    ("part,pin,net\nR1,1\n", "csv-short-line", "R1,1"),
    ("part,pin,net\n,1,A\n", "csv-no-part", ",1,A"),
    ("part,pin,net\nR1,,A\n", "csv-no-pin", "R1,,A"),
    ("part,pin,net\nR1,1,A\nR1,1,A\n", "pin-twice", "1"),
    ("part,pin,net\nR1,1,A\nR1,1,B\n", "pin-in-two-nets", "B"),
    ("part,pin,net\nR1,1,A\nR1,1,\n", "pin-in-two-nets", ""),
    ("part,pin,net,package\nR1,1,A,do-35\nR1,2,B,do-41\n", "csv-package-differs", "do-41"),
    ("part,pin,net,value\nR1,1,A,1k\nR1,2,B, 2k \n", "csv-value-differs", "2k"),
    ('part,pin,net\nR1,1,"A\nR1,2,B\n', "csv-open-quote", '"'),
    ('part,pin,net\nR1,1,"A"B\n', "csv-after-quote", "B"),
    ("part,pin,net\nR1,1,A\0\n", "csv-control-character", "\0"),
    ("part,pin,net\nR1,1," + "x" * 200_000, "csv-too-long", "x"),
    ("part,pin,net" + "," * 100 + "\n", "csv-too-long", ""),
]


@pytest.mark.parametrize(("text", "code", "marked"), FAULTS, ids=[code for _, code, _ in FAULTS])
def test_a_faulty_list_is_refused_at_its_place(text, code, marked):
    found = next(d for d in refused(text) if d.code == code)
    assert found.span is not None
    assert found.span.file == "hive.csv"
    if marked and found.span.excerpt:
        assert found.span.excerpt[found.span.column - 1 :][: found.span.length] == marked


def test_a_misspelt_column_gets_the_right_name():
    assert refused("part,pin,nett\nR1,1,A\n")[0].help == "did you mean net?"
    _, warnings = read("part,pin,net,valeu\nR1,1,A,1k\n")
    assert [(w.code, w.help) for w in warnings] == [("csv-column-unknown", "did you mean value?")]


def test_a_pin_named_twice_tells_the_line_of_the_first():
    assert "on line 3" in refused("part,pin,net\nR2,1,A\nR1,1,A\nR1,1,B\n")[0].message


def test_large_hostile_lists_are_refused_or_read():
    for text in ('"' * 500_000, "," * 500_000, "part,pin,net\n" + '""' * 300_000, "\n" * 500_000):
        assert refused(text)


@settings(max_examples=200, deadline=None)
@given(st.text('partine,;\t"\n\r 12ABR', max_size=60), st.integers(0, 40))
def test_any_text_is_read_or_refused(rest, cut):
    try:
        read("part,pin,net\nR1,1,A\nR1,2,B\n"[:cut] + rest)
    except PlacerError as err:
        assert all(d.message for d in err.diagnostics)  # noqa: PT017 - either is right
