"""Reading EDIF 2 0 0: what a file means, what is said about each thing that is wrong, and that no file does harm."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from placer.circuit.edif import read_edif
from placer.circuit.partsmap import PartsMap
from placer.circuit.problems import Problems
from placer.circuit.raw import OPEN, NetFacts, RawNetlist
from placer.circuit.resolve import resolve
from placer.circuit.write_yaml import circuit_from_data, circuit_to_data
from placer.errors import Diagnostic, PlacerError

HERE = Path("hive.edf")
HEAD = "(edif t (edifVersion 2 0 0) (edifLevel 0) (keywordMap (keywordLevel 0))\n"
PARTS = """\
 (library PARTS (edifLevel 0) (technology (numberDefinition))
  (cell TWO (cellType GENERIC) (view N (viewType NETLIST)
   (interface (port &1 (direction INOUT)) (port &2 (direction INOUT)))))
  (cell BUS (cellType GENERIC) (view N (viewType NETLIST)
   (interface (port (array (rename D "D[3:0]") 4) (direction INPUT)) (port Q)))))
"""
R1 = "(instance R1 (viewRef N (cellRef TWO (libraryRef PARTS))))"
U1 = "(instance U1 (viewRef N (cellRef BUS (libraryRef PARTS))))"
R2 = "(instance R2 (viewRef N (cellRef TWO (libraryRef PARTS))))"


def board(contents: str, ports: str = "") -> str:
    """A whole file whose design has these contents."""
    return (
        HEAD
        + PARTS
        + f" (library B (edifLevel 0)\n  (cell TOP (view N (viewType NETLIST) (interface {ports})\n"
        + f"   (contents {contents}))))\n (design d (cellRef TOP (libraryRef B))))\n"
    )


def read(text: str) -> tuple[RawNetlist, tuple[Diagnostic, ...]]:
    problems = Problems()
    return read_edif(HERE, text, problems), problems.finish()


def refused(text: str) -> tuple[Diagnostic, ...]:
    with pytest.raises(PlacerError) as caught:
        read(text)
    return caught.value.diagnostics


def nets(raw: RawNetlist) -> dict[str, set[str]]:
    """Net name to ``R1.port`` of the top."""
    found: dict[str, set[str]] = {}
    for element in raw.top.elements:
        for port, node in zip(element.ports, element.nodes, strict=True):
            found.setdefault(node, set()).add(f"{element.name}.{port}")
    return found


def test_names_ports_and_nets_of_a_small_file():
    text = board(
        f'{R1} (instance (rename I2 "R2+") (viewRef n (cellRef two (libraryRef parts))) (property value (string "1k")))'
        '(net (rename N1 "V+") (joined (portRef &1 (instanceRef R1)) (portRef &1 (instanceRef i2))))'
        "(net OUT (joined (portRef &2 (instanceRef r1))))"
    )
    raw, warnings = read(text)
    assert warnings == ()
    assert raw.name == "d"
    assert nets(raw) == {"V+": {"R1.1", "R2+.1"}, "OUT": {"R1.2"}, OPEN: {"R2+.2"}}
    assert [(e.name, e.model, e.value) for e in raw.top.elements] == [("R1", "TWO", ""), ("R2+", "TWO", "1k")]


def test_the_small_file_of_the_format_gives_the_nets_that_another_reader_found():
    """The file and its nets: own example, parsed by spydrnet to V+ {VIN, R1.1}, N1 {R1.2, D1.A}, RTN {RTN, D1.K}."""
    text = """(edif demo (edifVersion 2 0 0) (edifLevel 0) (keywordMap (keywordLevel 0))
     (status (written (timeStamp 2026 1 1 0 0 0)))
     (library PARTS (edifLevel 0) (technology (numberDefinition))
      (cell TWO_LEAD (cellType GENERIC) (view NL (viewType NETLIST)
       (interface (port &1 (direction INOUT)) (port &2 (direction INOUT)))))
      (cell LED (cellType GENERIC) (view NL (viewType NETLIST)
       (interface (port A (direction INOUT)) (port K (direction INOUT))))))
     (library BOARDS (edifLevel 0) (technology (numberDefinition))
      (cell TOP (cellType GENERIC) (view NL (viewType NETLIST)
       (interface (port VIN (direction INPUT)) (port RTN (direction INPUT)))
       (contents
        (instance R1 (viewRef NL (cellRef TWO_LEAD (libraryRef PARTS))) (property VALUE (string "1k")))
        (instance D1 (viewRef NL (cellRef LED (libraryRef PARTS))))
        (net (rename N_VIN "V+") (joined (portRef VIN) (portRef &1 (instanceRef R1))))
        (net N1 (joined (portRef &2 (instanceRef R1)) (portRef A (instanceRef D1))))
        (net RTN (joined (portRef RTN) (portRef K (instanceRef D1))))))))
     (design demo (cellRef TOP (libraryRef BOARDS))))"""
    raw, warnings = read(text)
    assert nets(raw) == {"V+": {"R1.1"}, "N1": {"R1.2", "D1.A"}, "RTN": {"D1.K"}}
    assert [w.code for w in warnings] == ["edif-top-ports"]
    assert "VIN, RTN" in warnings[0].message


def test_members_and_arrays_are_joined_bit_by_bit():
    bus = "(instance U1 (viewRef N (cellRef BUS (libraryRef PARTS))))"
    text = board(
        f"{bus} (instance U2 (viewRef N (cellRef BUS (libraryRef PARTS))))"
        "(net (array W 4) (joined (portRef D (instanceRef U1)) (portRef D (instanceRef U2))))"
        "(net ONE (joined (portRef Q (instanceRef U1))))"
    )
    raw, _ = read(text)
    # D[3:0]: the first member is D[3]; W, without a range in its name, counts from nought.
    assert nets(raw)["W[0]"] == {"U1.D[3]", "U2.D[3]"}
    assert nets(raw)["W[3]"] == {"U1.D[0]", "U2.D[0]"}
    raw, _ = read(
        board(f"{bus} {R1} (net A (joined (portRef (member D 1) (instanceRef U1)) (portRef &1 (instanceRef R1))))")
    )
    assert nets(raw)["A"] == {"U1.D[2]", "R1.1"}


def test_an_array_of_instances_is_that_many_parts():
    text = board(
        "(instance (array R 3) (viewRef N (cellRef TWO (libraryRef PARTS))))"
        "(net (array A 3) (joined (portRef &1 (instanceRef R))))"
        "(net X (joined (portRef &2 (instanceRef (member R 1)))))"
    )
    raw, _ = read(text)
    assert [e.name for e in raw.top.elements] == ["R[0]", "R[1]", "R[2]"]
    assert nets(raw) == {
        "A[0]": {"R[0].1"},
        "A[1]": {"R[1].1"},
        "A[2]": {"R[2].1"},
        "X": {"R[1].2"},
        OPEN: {"R[0].2", "R[2].2"},
    }


def test_the_designator_is_the_parts_name():
    raw, _ = read(board('(instance I7 (viewRef N (cellRef TWO (libraryRef PARTS))) (designator "R12"))'))
    assert [e.name for e in raw.top.elements] == ["R12"]


def test_cells_with_an_inside_are_laid_out_flat_and_ports_on_one_net_join_the_nets_outside():
    text = HEAD + (
        PARTS.rstrip().removesuffix(")")
        + """
  (cell PAIR (view N (viewType NETLIST) (interface (port IN) (port OUT) (port THRU))
   (contents (instance R1 (viewRef N (cellRef TWO))) (instance R2 (viewRef N (cellRef TWO)))
    (net A (joined (portRef IN) (portRef THRU) (portRef &1 (instanceRef R1))))
    (net B (joined (portRef &2 (instanceRef R1)) (portRef &1 (instanceRef R2))))
    (net C (joined (portRef OUT) (portRef &2 (instanceRef R2)))))))
  (cell TOP (view N (viewType NETLIST) (interface)
   (contents (instance X1 (viewRef N (cellRef PAIR))) (instance R3 (viewRef N (cellRef TWO)))
    (instance R4 (viewRef N (cellRef TWO)))
    (net P (joined (portRef IN (instanceRef X1)) (portRef &1 (instanceRef R3))))
    (net Q (joined (portRef THRU (instanceRef X1)) (portRef &1 (instanceRef R4))))
    (net GND (joined (portRef OUT (instanceRef X1)) (portRef &2 (instanceRef R3)) (portRef &2 (instanceRef R4))))))))
 (design d (cellRef TOP (libraryRef PARTS))))"""
    )
    raw, _ = read(text)
    circuit = resolve(raw, PartsMap(), Problems())
    assert circuit is not None
    found = {net.name: {str(pin) for pin in net.pins} for net in circuit.nets}
    assert found == {
        "P": {"X1.R1.1", "R3.1", "R4.1"},
        "X1.B": {"X1.R1.2", "X1.R2.1"},
        "GND": {"X1.R2.2", "R3.2", "R4.2"},
    }
    assert next(net for net in circuit.nets if net.name == "GND").role == "ground"


def test_codes_in_texts_are_characters_and_other_percent_signs_stay():
    raw, _ = read(
        board('(instance R1 (viewRef N (cellRef TWO (libraryRef PARTS))) (property VALUE (string "%34 65%b 5% c")))')
    )
    assert raw.top.elements[0].value == '"Ab 5% c'


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ('(string "4.7k")', "4.7k"),
        ("(integer 47)", "47"),
        ("(number (e 47 -1))", "47e-1"),
        ("(boolean (true))", "true"),
        ('"x"', "x"),
        ("(point 1 2)", ""),
        ("", ""),
    ],
)
def test_values_of_properties(written, meant):
    raw, _ = read(board(f"(instance R1 (viewRef N (cellRef TWO (libraryRef PARTS))) (property VALUE {written}))"))
    assert raw.top.elements[0].value == meant


NET = "(net A (joined (portRef &1 (instanceRef R1))))"
FAULTS = [
    ("", "edif-empty", ""),
    ("hello", "edif-no-form", "hello"),
    ("(edif", "edif-bracket", "(edif"),
    ("(edif t))", "edif-bracket", ")"),
    ("(edif t) x", "edif-bracket", "x"),
    ("(net t)", "edif-no-form", "(net"),
    ("(edif t ())", "edif-no-keyword", "("),
    ('(edif t "abc', "edif-open-text", '"'),
    ("(edif t \0)", "edif-control-character", "\0"),
    ("(edif t)", "edif-version", "(edif"),
    ("(edif t (edifVersion 3 0 0))", "edif-version", "(edifVersion"),
    ("(edif t (edifVersion 4 0 0) (edifLevel 0))", "edif-version", "(edifVersion"),
    ("(edif t (edifVersion 2 0 0) (edifLevel 1))", "edif-level", "(edifLevel"),
    ("(edif t (edifVersion 2 0 0) (keywordMap (keywordLevel 1)))", "edif-keyword-level", "(keywordLevel"),
    (
        "(edif t (edifVersion 2 0 0) (keywordMap (keywordLevel 0) (keywordAlias n net)))",
        "edif-keyword-level",
        "(keywordAlias",
    ),
    (HEAD + ")", "edif-no-design", "(edif"),
    (HEAD + "(design d))", "edif-no-design", "(design"),
    (HEAD + "(design d (cellRef TOP (libraryRef B))))", "edif-unknown-cell", "TOP"),
    (HEAD + "(design d (cellRef A)) (design e (cellRef A)))", "edif-two-designs", "(design"),
    (HEAD + "(libary L (edifLevel 0)))", "edif-unknown-form", "(libary"),
    (HEAD + "(library L (edifLevel 2)))", "edif-level", "(edifLevel"),
    (HEAD + "(library L) (library l))", "edif-name-twice", "l"),
    (board(f"{R1} {R1}"), "edif-name-twice", "R1"),
    (board(f"{R1} {NET} {NET}"), "edif-name-twice", "A"),
    (board(f"{R1} {NET} (net B (joined (portRef &1 (instanceRef R1))))"), "pin-in-two-nets", "(portRef"),
    (board(f"{R1} (net A (joined (portRef &3 (instanceRef R1))))"), "edif-unknown-port", "&3"),
    (board(f"{R1} (net A (joined (portRef &1 (instanceRef R9))))"), "edif-unknown-instance", "R9"),
    (board(f"{R1} (net A (joined (portRef VIN)))"), "edif-unknown-port", "VIN"),
    (board("(instance R1 (viewRef N (cellRef TOW (libraryRef PARTS))))"), "edif-unknown-cell", "TOW"),
    (board("(instance R1 (viewRef N (cellRef TWO (libraryRef NONE))))"), "edif-unknown-cell", "TWO"),
    (board("(instance R1 (viewRef M (cellRef TWO (libraryRef PARTS))))"), "edif-unknown-cell", "TWO"),
    (board("(instance R1)"), "edif-no-cell", "(instance"),
    (board("(instance R1 (viewRef N))"), "edif-no-cell", "(viewRef"),
    (board("(instance)"), "edif-no-name", "(instance"),
    (board('(instance "R1")'), "edif-no-name", '"R1"'),
    (board("(instnace R1)"), "edif-unknown-form", "(instnace"),
    (board("(instance (array R 0) (viewRef N (cellRef TWO (libraryRef PARTS))))"), "edif-bad-array", "(array"),
    (board("(instance (array R 99999999) (viewRef N (cellRef TWO (libraryRef PARTS))))"), "edif-bad-array", "(array"),
    (board(f"{R1} (net A (joined (portRef (member &1 x) (instanceRef R1))))"), "edif-bad-member", "(member"),
    (board(f"{R1} (net A (joined (portRef (member &1 1) (instanceRef R1))))"), "edif-bad-member", "&1"),
    (board(U1 + "(net A (joined (portRef D (instanceRef U1))))"), "edif-width", "(portRef"),
    (board(f"{R1} (net A (joined &1))"), "edif-no-port", "&1"),
    (board(f"{R1} (net A (joined (portList (portRef &1 (instanceRef R1)))))"), "edif-not-read", "(portList"),
    (board(f"{R1} (net A (joined (globalPortRef GND)))"), "edif-not-read", "(globalPortRef"),
    (board(f"{R1} (page P {R2})"), "edif-pages", "(page"),
    (board("", "(portBundle B (listOfPorts (port A)))"), "edif-not-read", "(portBundle"),
    (board("", "(port A) (port a)"), "edif-name-twice", "a"),
    (
        board(R1).replace("(view N (viewType NETLIST) (interface )", "(view N (viewType SYMBOLIC) (interface )"),
        "edif-view-type",
        "(view",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("text", "code", "marked"), FAULTS, ids=[f"{c}-{n}" for n, (_, c, _) in enumerate(FAULTS)])
def test_a_faulty_file_is_refused_at_its_place(text, code, marked):
    found = next(d for d in refused(text) if d.code == code)
    assert found.severity == "error"
    assert found.span is not None
    if marked:
        lines = text.splitlines()
        assert found.span.excerpt == lines[found.span.line - 1]
        assert found.span.excerpt[found.span.column - 1 :][: found.span.length] == marked


def test_a_near_name_is_offered():
    found = refused(board(f"{R1} (net A (joined (portRef &1 (instanceRef RR1))))"))
    assert found[0].help == "did you mean R1?"
    assert refused(board("(instnace R1)"))[0].help == "did you mean (instance ...)?"


@pytest.mark.parametrize("name", ["ga\x8dte", "x" * 162, "%10%" * 40, "two  words", "\u202egate"])
def test_what_a_name_and_a_remark_may_not_hold_is_taken_out(name):
    """Found by mutated files: names and remarks that no circuit file can hold."""
    text = board(f"{R1} {NET}").replace(
        "(design d ", f'(design (rename d "{name}") (property ABOUT (string "a\n\t {name}")) '
    )
    circuit = resolve(read(text)[0], PartsMap(), Problems())
    assert circuit is not None
    assert circuit_from_data(circuit_to_data(circuit)) == circuit


@pytest.mark.parametrize(
    ("volts", "meant"), [("5", 5.0), ("(number (e 5 9))", None), ('"nan"', None), ('"1e999"', None)]
)
def test_volts_of_a_net_are_a_figure_that_a_circuit_may_have(volts, meant):
    net = f"(net A (joined (portRef &1 (instanceRef R1))) (property VOLTS {volts}) (property ROLE supply))"
    raw, _ = read(board(f"{R1} {net}"))
    assert raw.facts == {"A": NetFacts("supply", meant)}


@pytest.mark.parametrize(
    ("properties", "meant"),
    [
        ("(property AMPS (number (e 25 -2)))", NetFacts(amps=0.25)),
        ("(property AMPS -1) (property ROLE signal)", NetFacts()),
        ("(property AMPS 1) (property AC (boolean (true)))", NetFacts(amps=1.0, ac=True)),
        ("(property AMPS 1) (property AC (boolean (false)))", NetFacts(amps=1.0)),
        ("(property ROLE signal) (property AC (boolean (true)))", NetFacts()),
        ("(property VOLTS -5) (property AC (boolean (true)))", NetFacts(volts=-5.0)),
        ("(property ROLE ground) (property VOLTS 0) (property AC (boolean (true)))", NetFacts("ground", 0.0)),
        ("(property ROLE signal) (property ROLE_GIVEN (boolean (true)))", NetFacts(plain=True)),
        ("(property ROLE supply) (property ROLE_GIVEN (boolean (true)))", NetFacts("supply")),
    ],
)
def test_what_a_net_is_said_to_be_is_kept_as_far_as_a_circuit_may_say_it(properties, meant):
    raw, _ = read(board(f"{R1} (net A (joined (portRef &1 (instanceRef R1))) {properties})"))
    assert raw.facts == {"A": meant}
    circuit = resolve(raw, PartsMap(), Problems())
    assert circuit is not None
    assert circuit_from_data(circuit_to_data(circuit)) == circuit


def test_every_fault_is_told_not_only_the_first():
    found = refused(board("(instance) (net) (instance R1 (viewRef N (cellRef TOW (libraryRef PARTS))))"))
    assert [d.code for d in found] == ["edif-no-name", "edif-no-name", "edif-unknown-cell"]


def test_a_form_of_another_kind_is_left_out_with_a_warning_and_remarks_without():
    _, warnings = read(board(f'{R1} (userData (x)) (comment "x") (wombat 1 2) (wombat 3)'))
    assert [w.code for w in warnings] == ["edif-unknown-form"]


def test_without_a_design_the_cell_that_no_other_uses_is_taken():
    text = board(R1)
    text = text[: text.index(" (design")] + ")"
    raw, warnings = read(text)
    assert raw.top.name == "TOP"
    assert [w.code for w in warnings] == ["edif-no-design"]


def test_a_cell_that_stands_in_itself_is_refused_without_going_round_for_ever():
    text = board("(instance X1 (viewRef N (cellRef TOP (libraryRef B))))")
    raw, _ = read(text)
    problems = Problems()
    assert resolve(raw, PartsMap(), problems) is None
    with pytest.raises(PlacerError) as caught:
        problems.finish()
    assert caught.value.diagnostics[0].code == "cell-inside-itself"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("(" * 300_000, "edif-no-keyword"),
        ("(a " * 1_000_000, "edif-too-deep"),
        ("(a)" * 300_000, "edif-bracket"),
        ("(a " + "(b)" * 2_500_000 + ")", "edif-too-large"),
        ("(edif " + "x" * 10_000_000 + ")", "edif-too-large"),
        ('(edif "' + "x" * 10_000_000 + '")', "edif-too-large"),
        ('(edif "' + "x" * 10_000_000, "edif-open-text"),
        ('(edif t (edifVersion 2 0 0) ' + '"%' * 400_000 + ")", "edif-no-design"),
        (HEAD + "(library L " + "(cell c " * 150 + ")" * 151 + ")", "edif-no-design"),
        (board("(net (array N 10000) (joined (portRef P)))" , "(port (array P 10000))" + "(x)" * 10), "edif-nothing"),
    ],
    ids=range(10),
)  # fmt: skip
def test_hostile_files_cost_no_more_than_reading_them(text, code):
    try:
        read(text)
    except PlacerError as err:
        assert code in [d.code for d in err.diagnostics]  # noqa: PT017 - some of these are read
    else:
        assert code == "edif-nothing"


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_a_damaged_file_is_read_or_refused(data):
    text = board(f"{R1} {R2} {NET} (net B (joined (portRef &2 (instanceRef R1)) (portRef &1 (instanceRef R2))))")
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(at, min(len(text), at + 30)))
        text = text[:at] + data.draw(st.text('()"& \n0N%', max_size=4)) + text[end:]
    try:
        read(text)
    except PlacerError as err:
        assert all(d.message for d in err.diagnostics)  # noqa: PT017 - either is right
