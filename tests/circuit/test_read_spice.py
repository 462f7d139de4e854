"""SPICE netlists: what they mean, trap by trap, and what is said of each thing that is wrong.

Conventions: syntax pages of ngspice and gnucap, and what ngspice 39.3 was seen to do; see the readers' own comments.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from placer.circuit.partsmap import PartsMap
from placer.circuit.problems import Problems
from placer.circuit.read import read_circuit_file, read_raw
from placer.circuit.resolve import resolve
from placer.circuit.source import Source
from placer.circuit.spice.read import read_spice
from placer.errors import PlacerError
from tests.circuit.spice_text import codes, nets, packages, read, refused, values, write

HEATER = """\
Hive heater
* the thermistor hangs between the combs
VBAT Vcc 0 DC 12 ; lead acid
RT vcc sense 10k
R1 sense GND 4.7k
+
Q1 coil
* a comment between
+ sense 0 2N3904
D1 coil VCC 1N4148
.model 2N3904 NPN
.model 1N4148 D(is=1n
+ rs=1)
.end
R99 a b 1k
"""


def test_a_plain_netlist(tmp_path: Path) -> None:
    circuit, warnings = read(tmp_path, HEATER)
    assert circuit.name == "hive"
    assert circuit.about == "Hive heater"
    assert nets(circuit) == {
        "Vcc": {"VBAT.1", "RT.1", "D1.2"},
        "0": {"VBAT.2", "R1.2", "Q1.1"},
        "sense": {"RT.2", "R1.1", "Q1.2"},
        "coil": {"Q1.3", "D1.1"},
    }
    assert packages(circuit) == {
        "VBAT": "pad-2", "RT": "axial-0207", "R1": "axial-0207", "Q1": "to-92", "D1": "do-35",
    }  # fmt: skip
    assert values(circuit) == {"VBAT": "12 V", "RT": "10k", "R1": "4k7", "Q1": "2N3904", "D1": "1N4148"}
    assert codes(warnings) == {"assumed-pinout"}
    roles = {net.name: (net.role, net.volts) for net in circuit.nets}
    assert roles["Vcc"] == ("supply", 12.0)
    assert roles["0"] == ("ground", None)
    assert roles["sense"] == ("signal", None)


def test_the_first_line_is_a_title_whatever_it_looks_like(tmp_path: Path) -> None:
    circuit, warnings = read(tmp_path, "R9 a b 1\nR1 a b 1k\nR2 a b 1k\n")
    assert set(values(circuit)) == {"R1", "R2"}
    (warning,) = warnings
    assert (warning.code, warning.span and warning.span.line) == ("title-looks-like-card", 1)


@pytest.mark.parametrize("title", ["'", "", ".title Honey press", "# honey", "* honey", "Übersicht der Bienenstöcke"])
def test_any_title(tmp_path: Path, title: str) -> None:
    assert len(read(tmp_path, f"{title}\nR1 a b 1\nR2 a b 2\n")[0].parts) == 2


def test_a_title_command_gives_the_title(tmp_path: Path) -> None:
    assert read(tmp_path, "x\n.TITLE Honey press\nR1 a b 1\nR2 a b 2\n")[0].about == "Honey press"


@pytest.mark.parametrize(
    "line",
    [
        "R1 a b 1k", "   R1 a b 1k", "\tR1\ta\tb\t1k", "r1 (a b) 1k", "R1 a,b,1k", "R1 a b 1k ; gone",
        "R1 a b 1k $ gone",
        "R1 a b 1k // gone", "R1 a b 1K", "R1 a b 1kOhm", "R1 a b 1000", "R1 a b 1e3", "R1 a b 1.0E+3",
        "R1 a b .001Meg",
        "R1 a b\n+ 1k", "R1 a b\n\n* x\n  + 1k", "R1 a b R=1k", "R1 a b r = 1k", "R1 a b '1k'", "R1 a b {1k}",
        "R1 a b {500+500}", "R1 a b 1k tc1=0.1 tc2 = 0", "R1 a b RMOD 1k", "R1 a b 1k RMOD", "R1 a b 1k tc=1,2",
        "R1 A b 1k", "R1 a b resistance=1k", "'R1 x y 9\nR1 a b 1k", "*>R1 x y 9\nR1 a b 1k", "R1 a b 1k ;+ 3",
        ".param big=1k\nR1 a b {big}", ".param big = {half * 2} half=500\nR1 a b '{big}'", "R1 a b 1k\r",
    ],
)  # fmt: skip
def test_one_resistor_in_many_spellings(tmp_path: Path, line: str) -> None:
    circuit, warnings = read(tmp_path, f"title\nR2 a b 1\n{line}\nR3 b a 1\n.end\n")
    (found,) = (part for part in circuit.parts if part.ref.upper() == "R1")
    assert found.value == "1k"
    assert nets(circuit) == {"a": {"R2.1", f"{found.ref}.1", "R3.2"}, "b": {"R2.2", f"{found.ref}.2", "R3.1"}}
    assert codes(warnings) == set()


@pytest.mark.parametrize(
    ("written", "kind", "shown"),
    [
        ("4.7k", "R", "4k7"), ("2.2", "R", "2R2"), ("0.47", "R", "470m"), ("56Ohms", "R", "56"), ("1.7Meg", "R", "1M7"),
        ("1MEGohm", "R", "1M"), ("10mil", "R", "254u"), ("1t", "R", "1T"), ("1g", "R", "1G"), ("1e-9", "C", "1n"),
        ("1uF", "C", "1u"), ("16NF", "C", "16n"), ("0.1u", "C", "100n"), ("4.7u", "C", "4u7"), ("1000p", "C", "1n"),
        ("10mH", "L", "10m"), ("1.5uH", "L", "1u5"), ("0", "R", "0"), ("-5", "R", "-5"), ("100µ", "C", "100u"),
        ("999.9999999", "R", "1k"), ("1e999", "R", "1e999"), ("1e-30", "C", "1e-30"),
    ],
)  # fmt: skip
def test_values_as_people_write_them(tmp_path: Path, written: str, kind: str, shown: str) -> None:
    circuit, _ = read(tmp_path, f"t\n{kind}1 a b {written}\nR2 a b 1\n")
    assert values(circuit)[f"{kind}1"] == shown


@pytest.mark.parametrize(
    ("written", "kind", "shown", "written_safely"),
    [
        ("4k7", "R", "4k7", "4.7k"), ("2R2", "R", "2R2", "2.2"), ("R47", "R", "470m", "0.47"),
        ("4M7", "R", "4M7", "4.7Meg"), ("4u7", "C", "4u7", "4.7u"), ("2n2F", "C", "2n2", "2.2n"),
    ],
)  # fmt: skip
def test_a_letter_for_the_point_is_read_as_people_mean_it(
    tmp_path: Path, written: str, kind: str, shown: str, written_safely: str
) -> None:
    """ngspice 39 reads 4k7 as 4000: the user has to know."""
    circuit, (warning,) = read(tmp_path, f"t\n{kind}1 a b {written}\nR2 a b 1\n")
    assert values(circuit)[f"{kind}1"] == shown
    assert (warning.code, warning.help) == ("value-with-letter-inside", f"write {written_safely}")
    assert warning.span is not None
    assert warning.span.excerpt[warning.span.column - 1 :][: warning.span.length] == written


@pytest.mark.parametrize(
    ("line", "code", "shown"), [("R1 a b 1M", "value-milli", "1m"), ("C1 a b 1F", "value-femto", "1f")]
)
def test_capital_m_and_f_are_what_spice_says(tmp_path: Path, line: str, code: str, shown: str) -> None:
    circuit, warnings = read(tmp_path, f"t\n{line}\nR2 a b 1\n")
    assert values(circuit)[line[:2]] == shown
    assert codes(warnings) == {code}


@pytest.mark.parametrize(
    ("line", "model", "emitter"),
    [
        ("Q1 c b e MOD", "MOD", "e"), ("Q1 c b e s MOD", "MOD", "e"), ("Q1 c b e s t MOD", "MOD", "e"),
        ("Q1 c b e MOD 2", "MOD", "e"), ("Q1 c b e MOD off", "MOD", "e"), ("Q1 c b e MOD area=2 ic=1,2", "MOD", "e"),
        ("Q1 c b e BC547", "BC547", "e"), ("Q1 c b e 2N3904 1.5", "2N3904", "e"), ("Q1 c b e s BC547", "BC547", "e"),
        ("Q1 1 2 3 2N2222", "2N2222", "3"), ("Q1 1 2 3 0 2N2222", "2N2222", "3"), ("q1 (c b e) mod", "mod", "e"),
    ],
)  # fmt: skip
def test_transistors_with_three_to_five_nodes(tmp_path: Path, line: str, model: str, emitter: str) -> None:
    circuit, _ = read(tmp_path, f"t\n.model mod npn()\n{line}\nR1 {emitter} x 1\nR2 x {emitter} 1\n")
    assert values(circuit)[line[:2]] == model
    assert nets(circuit)[emitter] == {f"{line[:2]}.1", "R1.1", "R2.2"}


def test_a_mosfet_needs_the_map_and_its_bulk_goes_with_the_source(tmp_path: Path) -> None:
    text = "t\nM1 d g s s NMOD l=1u w=2u\nR1 d g 1\nR2 s g 1\nR3 d s 1\n"
    (refusal,) = refused(tmp_path, text)
    assert (refusal.code, refusal.span and refusal.span.line) == ("cannot-be-built", 2)
    assert "models: {NMOD: {package: to-92, pins: [1, 2, 3]}}" in refusal.help
    for pins in ("[3, 2, 1]", "[3, 2, 1, -]", "[3, 2, 1, 1]"):
        circuit, _ = read(tmp_path, text, f"models: {{NMOD: {{package: to-92, pins: {pins}}}}}")
        assert nets(circuit)["s"] == {"M1.1", "R2.1", "R3.2"}
    (fault,) = refused(tmp_path, text.replace("s s", "s b"), "models: {NMOD: {package: to-92, pins: [3, 2, 1]}}")
    assert fault.code == "pins-differ"


SUBCIRCUITS = """\
t
.global vdd
V1 vdd 0 5
X1 in mid DIVIDER params: r=2k
x2 (mid out) divider
R9 in out 1k
.SUBCKT Divider a b r=1k
Rtop a inner {r}
Rbot inner b {2*r}
Rup inner vdd 1
Rdown gnd inner 1
X7 inner 0 inside
.subckt inside p q
C1 p q 100n
.ends inside
.ends DIVIDER
"""


def test_subcircuits_are_laid_out_flat_with_readable_names(tmp_path: Path) -> None:
    circuit, warnings = read(tmp_path, SUBCIRCUITS)
    assert set(values(circuit)) == {
        "V1", "R9", *(f"X1.{n}" for n in ("Rtop", "Rbot", "Rup", "Rdown", "X7.C1")),
        *(f"x2.{n}" for n in ("Rtop", "Rbot", "Rup", "Rdown", "X7.C1")),
    }  # fmt: skip
    found = nets(circuit)
    assert found["mid"] == {"X1.Rbot.2", "x2.Rtop.1"}
    assert found["X1.inner"] == {"X1.Rtop.2", "X1.Rbot.1", "X1.Rup.1", "X1.Rdown.2", "X1.X7.C1.1"}
    assert found["vdd"] == {"V1.1", "X1.Rup.2", "x2.Rup.2"}
    assert found["0"] == {"V1.2", "X1.Rdown.1", "x2.Rdown.1", "X1.X7.C1.2", "x2.X7.C1.2"}
    assert values(circuit)["X1.Rtop"] == "2k"
    assert values(circuit)["x2.Rbot"] == "2k"
    assert warnings == ()


def test_a_cell_defined_inside_another_is_known_only_there(tmp_path: Path) -> None:
    (refusal,) = refused(tmp_path, SUBCIRCUITS + "X3 a b inside\n")
    assert refusal.code == "cannot-be-built"
    assert "inside is not known" in refusal.message


def test_an_instance_named_in_the_map_is_one_part(tmp_path: Path) -> None:
    circuit, _ = read(tmp_path, SUBCIRCUITS, "models: {DIVIDER: {package: header-3, pins: [1, 3]}}")
    assert packages(circuit) == {"V1": "pad-2", "X1": "header-3", "x2": "header-3", "R9": "axial-0207"}
    assert nets(circuit)["mid"] == {"X1.3", "x2.1"}
    circuit, _ = read(tmp_path, SUBCIRCUITS, "elements: {X1: {package: terminal-2, value: tap}}")
    assert packages(circuit)["X1"] == "terminal-2"
    assert values(circuit)["X1"] == "tap"
    assert "x2.Rtop" in packages(circuit)


def test_macros_of_another_dialect(tmp_path: Path) -> None:
    text = "t\n.macro zzz (1 2)\nr1 (1 2) 1k\n.eom\nx1 (a b) zzz\nR2 a b 1\n"
    assert set(values(read(tmp_path, text)[0])) == {"x1.r1", "R2"}


def test_a_file_of_one_subcircuit_is_that_circuit(tmp_path: Path) -> None:
    text = "t\n.subckt lamp a k\nR1 a x 1k\nD1 x k LED\nR2 a k 1\n.ends\n"
    circuit, warnings = read(tmp_path, text)
    assert nets(circuit) == {"a": {"R1.1", "R2.1"}, "x": {"R1.2", "D1.1"}, "k": {"D1.2", "R2.2"}}
    assert codes(warnings) == {"subcircuit-is-circuit", "assumed-package"}  # its diode is called LED


def test_what_cannot_be_built_is_listed_by_name_and_line(tmp_path: Path) -> None:
    odd = ["A1 a b amp", "B1 a b v=1", "E1 a b c d 2", "F1 a b V1 2", "G1 a b c d 2", "H1 a b V1 2", "K1 L1 L2 0.9"]
    odd += ["N1 a b dev", "O1 a b c d line", "P1 a b c line", "S1 a b c d sw", "T1 a b c d z0=50", "U1 a b c urc"]
    odd += ["W1 a b V1 sw", "Y1 a b c d line", "Z1 a b c mes", "J1 a b c jf", "M1 a b c c mos", "X1 a b nothing"]
    found = refused(tmp_path, "t\nV1 a 0 1\n" + "\n".join(odd) + "\n")
    assert [d.span and d.span.line for d in found] == list(range(3, 3 + len(odd)))
    assert {d.code for d in found} == {"cannot-be-built"}
    for line, diagnostic in zip(odd, found, strict=True):
        assert diagnostic.message.startswith(f"{line[:2]}: ")
        assert diagnostic.help


def test_more_than_twenty_problems_are_counted(tmp_path: Path) -> None:
    found = refused(tmp_path, "t\n" + "".join(f"E{n} a b c d 2\n" for n in range(50)))
    assert len(found) == 21
    assert found[-1].message == "30 more problems not shown"


def test_an_element_that_cannot_be_built_may_be_left_out_or_named(tmp_path: Path) -> None:
    text = "t\nE1 a b c d 2\nR1 a b 1\nR2 c d 1\nR3 a c 1\nR4 b d 1\n"
    assert "E1" not in packages(read(tmp_path, text, "elements: {E1: {omit: true}}")[0])
    circuit, _ = read(tmp_path, text, "elements: {E1: {package: dip-4, pins: [4, 3, 1, 2]}}")
    assert {pin for pin in nets(circuit)["a"] if pin.startswith("E1")} == {"E1.4"}


def test_a_subcircuit_with_something_odd_inside_says_what(tmp_path: Path) -> None:
    text = "t\nX1 a b op\nR1 a b 1\n.subckt op p q\nR1 p q 1\nE1 p q p q 1\n.ends\n"
    (refusal,) = refused(tmp_path, text)
    assert refusal.message == "X1: subcircuit op holds E1, a controlled source: it cannot be laid out flat"
    found = refused(tmp_path, text, "flatten: [op]")
    assert [d.message[:6] for d in found] == ["X1.E1:"]


def test_schematic_editors_that_do_not_write_x(tmp_path: Path) -> None:
    text = "t\nU1 o p m vee vcc OPAMP\nJ1 p m m JACK\nR1 o m 1k\nR2 vcc vee 1\nR3 p o 1\n"
    parts = "models: {OPAMP: {package: dip-8, pins: [6, 3, 2, 4, 7]}, JACK: {package: header-3}}"
    circuit, _ = read(tmp_path, text, parts)
    assert nets(circuit)["m"] == {"U1.2", "J1.2", "J1.3", "R1.2"}


def test_control_scripts_and_what_follows_the_end_are_not_read(tmp_path: Path) -> None:
    script = "t\nR1 a b 1\n.CONTROL\nrun\nR7 a b 1\nlet x = y\n.endc\nR2 a b 1\n.END\nR8 a b 1\nnonsense (\n"
    assert set(values(read(tmp_path, script)[0])) == {"R1", "R2"}
    assert set(values(read(tmp_path, "t\nR1 a b 1\nR2 a b 1\n.control\nR9 a b 1\n")[0])) == {"R1", "R2"}


@pytest.mark.parametrize("command", [".tran 1u 1m", ".options reltol=1", ".width out=80", ".print tran v(1)", ".op"])
def test_commands_of_the_simulator_pass(tmp_path: Path, command: str) -> None:
    assert read(tmp_path, f"t\nR1 a b 1\n{command}\nR2 a b 1\n")[1] == ()


def test_commands_that_change_the_circuit_are_told(tmp_path: Path) -> None:
    assert codes(read(tmp_path, "t\nR1 a b 1\n.delete R1\nR2 a b 1\n")[1]) == {"command-changes-circuit"}
    (error,) = refused(tmp_path, "t\nR1 a b 1\n.if (x)\nR2 a b 1\n.endif\n")
    assert error.code == "command-changes-circuit"
    assert codes(read(tmp_path, "t\nR1 a b 1\n.frobnicate\nR2 a b 1\n")[1]) == {"command-unknown"}


@pytest.mark.parametrize(
    ("raw", "node"),
    [
        (b"t\r\nR1 a b 1\r\nR2 a b 1\r\n", "a"),
        (b"t\rR1 a b 1\rR2 a b 1\r", "a"),
        ("t\nR1 Bienenwärme b 1\nR2 bienenwärme b 1\n".encode(), "Bienenwärme"),
        ("t\nR1 wärme b 1\nR2 wärme b 1\n".encode("latin-1"), "wärme"),
        ("\ufefft\nR1 a b 1\nR2 a b 1\n".encode(), "a"),
        ("\ufefft\nR1 a b 1\nR2 a b 1\n".encode("utf-16-le"), "a"),
        (b"t\nR1 15+ b 1\nR2 15+ b 1\n", "15+"),
        (b"t\nR1 +5V b 1\nR2 +5V b 1\n", "+5V"),
        (b"t\nR1 -32 b 1\nR2 -32 b 1\n", "-32"),
        (b"t\nR1 Net-_C1-Pad2_ b 1\nR2 net-_c1-pad2_ b 1\n", "Net-_C1-Pad2_"),
        (b"t\nR1 a\x07b b 1\nR2 a\x07b b 1\n", "a_b"),
        (b"t\nR1 $N_1 b 1\nR2 $n_1 b 1\n", "$N_1"),
    ],
)
def test_encodings_line_ends_and_names_of_nodes(tmp_path: Path, raw: bytes, node: str) -> None:
    assert nets(read(tmp_path, raw)[0])[node] == {"R1.1", "R2.1"}


def test_names_are_made_fit_and_stay_unique(tmp_path: Path) -> None:
    long = "n" * 100
    circuit, _ = read(tmp_path, f"t\nR1 {long}a x 1\nR2 {long}b x 1\nR3 {long}a {long}b 1\nR4 a\x01c a\x02c 1\n")
    names = [net.name for net in circuit.nets]
    assert len(set(names)) == len(names) == 5
    assert all(len(name) <= 64 for name in names)
    assert {"a_c", "a_c_2"} <= set(names)


def test_a_flattened_name_that_is_there_already_gets_a_number(tmp_path: Path) -> None:
    text = "t\nRX1.R1 a X1.n 1\nX1 a b s\nX1.R1 b a s\n.subckt s p q\nR1 p n 1\nR2 n q 1\n.ends\n"
    circuit, _ = read(tmp_path, text)
    assert len({part.ref for part in circuit.parts}) == len(circuit.parts) == 5
    assert len({net.name for net in circuit.nets}) == len(circuit.nets)
    # The net X1.n outside and the node n inside X1 are two nets.
    assert sum(len(net.pins) for net in circuit.nets) == 10
    assert max(len(net.pins) for net in circuit.nets) == 3


BROKEN = [
    ("card-unknown", "t\nR1 a b 1\n!what\n", 3, 1),
    ("nodes-missing", "t\nR1 a\n", 2, 1),
    ("nodes-missing", "t\nQ1 a b\n", 2, 1),
    ("name-twice", "t\nR1 a b 1\nr1 a b 2\n", 3, 1),
    ("name-twice", "t\nX1 a b s\n.subckt s a b\nR1 a b 1\n.ends\n.subckt S a b\nR1 a b 1\n.ends\n", 6, 9),
    ("port-twice", "t\nX1 a b s\n.subckt s p p\nR1 p p 1\n.ends\n", 3, 9),
    ("subcircuit-open", "t\nR1 a b 1\n.subckt s p q\nR1 p q 1\n", 3, 9),
    ("subcircuit-without-name", "t\nR1 a b 1\n.subckt\n.ends\n", 3, 1),
    ("end-of-nothing", "t\nR1 a b 1\n  .ends\n", 3, 3),
    ("ports-differ", "t\nX1 a s\n.subckt s p q\nR1 p q 1\n.ends\n", 2, 1),
    ("cell-inside-itself", "t\nX1 a b s\n.subckt s p q\nX1 p q r\n.ends\n.subckt r p q\nX1 p q s\n.ends\n", 7, 1),
    ("include-missing", 't\n.include "nosuch.lib"\nR1 a b 1\n', 2, 1),
    ("include-outside", "t\n.include ../secret.lib\nR1 a b 1\n", 2, 1),
    ("include-outside", "t\nR1 a b 1\n.lib '/etc/hostname' sec\n", 3, 1),
    ("include-loop", "t\nR1 a b 1\n.include hive.cir\n", 3, 1),
    ("include-without-file", "t\n.include\nR1 a b 1\n", 2, 1),
    ("command-changes-circuit", "t\nR1 a b 1\n.alter\nR1 a b 2\n", 3, 1),
    ("empty-circuit", "title\n* nothing\n.end\n", 1, 1),
    ("empty-circuit", "", 1, 1),
    ("file-not-text", "t\nR1 a b 1\nR2\0 a b 1\n", 3, 3),
]


@pytest.mark.parametrize(("code", "text", "line", "column"), BROKEN, ids=[f"{c[0]}-{n}" for n, c in enumerate(BROKEN)])
def test_each_fault_has_its_place(tmp_path: Path, code: str, text: str, line: int, column: int) -> None:
    found = next(d for d in refused(tmp_path, text) if d.code == code)
    assert found.span is not None
    assert (found.span.line, found.span.column) == (line, column)
    assert found.message


def test_includes_lie_beside_the_netlist(tmp_path: Path) -> None:
    folder = tmp_path / "hive"
    (folder / "größe").mkdir(parents=True)
    write(tmp_path, "R9 a b 1\n", "secret.inc")
    write(folder / "größe", "R2 a b 2\n.include deeper.inc\n.end\nR77 a b 1\n", "inner.inc")
    write(folder / "größe", "R3 a b 3\n", "deeper.inc")
    write(folder, ".lib small\nR4 a b 4\n.endl\n.lib LARGE\nR4 a b 400\n.endl large\n", "two.lib")
    text = "t\nR1 a b 1\n.Include 'größe/inner.inc'\n.lib two.lib large\n.inc größe\\deeper2.inc\n"
    write(folder / "größe", "R5 a b 5\n", "deeper2.inc")
    circuit, _ = read(folder, text)
    assert values(circuit) == {"R1": "1", "R2": "2", "R3": "3", "R4": "400", "R5": "5"}
    outside = write(folder, "t\nR1 a b 1\n.include ../secret.inc\n", "outside.cir")
    with pytest.raises(PlacerError) as caught:
        read_circuit_file(outside)
    assert "--allow-outside" in caught.value.diagnostics[0].help
    assert set(values(read_circuit_file(outside, allow_outside=True)[0])) == {"R1", "R9"}
    assert refused(folder, "t\nR1 a b 1\n.lib two.lib medium\n")[0].code == "section-missing"


def test_a_link_does_not_lead_outside(tmp_path: Path) -> None:
    folder = tmp_path / "hive"
    folder.mkdir()
    write(tmp_path, "R9 a b 1\n", "secret.inc")
    (folder / "inside.inc").symlink_to(tmp_path / "secret.inc")
    assert refused(folder, "t\nR1 a b 1\n.include inside.inc\n")[0].code == "include-outside"


def test_a_folder_or_a_pipe_is_no_file_to_include(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    for name in ("folder", "pipe"):
        assert refused(tmp_path, f"t\nR1 a b 1\n.include {name}\n")[0].code == "include-missing"


def test_a_fault_in_an_included_file_names_that_file(tmp_path: Path) -> None:
    write(tmp_path, "R2 a b 1\nE1 a b c d 1\n", "inner.inc")
    (found,) = refused(tmp_path, "t\nR1 a b 1\n.include inner.inc\n")
    assert found.span is not None
    assert (Path(found.span.file).name, found.span.line) == ("inner.inc", 2)


# --- bounds --------------------------------------------------------------------------------------------------------


def test_a_tower_of_subcircuits_is_not_laid_out(tmp_path: Path) -> None:
    """Ten calls on each of 30 levels would be 10 to the power of 30 parts."""
    cells = "".join(
        f".subckt s{n} a b\n" + "".join(f"X{k} a b s{n + 1}\n" for k in range(10)) + ".ends\n" for n in range(30)
    )
    found = refused(tmp_path, f"t\nX1 a b s0\n{cells}.subckt s30 a b\nR1 a b 1\n.ends\n")
    assert found[0].code == "too-many-parts"


def test_deep_nesting_has_a_limit_and_no_traceback(tmp_path: Path) -> None:
    calls = "".join(f".subckt s{n} a b\nX1 a b s{n + 1}\n.ends\n" for n in range(5000))
    assert refused(tmp_path, f"t\nX1 a b s0\n{calls}")[0].code == "nested-too-deep"
    defined = "".join(f".subckt s{n} a b\n" for n in range(5000)) + ".ends\n" * 5000
    assert refused(tmp_path, f"t\nR1 a b 1\n{defined}")[0].code == "nested-too-deep"
    inner = "{" * 5000 + "1" + "}" * 5000
    assert len(read(tmp_path, f"t\nR1 a b {inner}\nR2 a b {'(' * 5000}1\n")[0].parts) == 2
    assert len(read(tmp_path, f"t\nR1 a b '{'-' * 390}1'\nR2 a b '{'(' * 199}1{')' * 199}'\n")[0].parts) == 2


def test_a_bomb_of_parameters_is_no_sum(tmp_path: Path) -> None:
    lines = [f".param a{n}='{'+'.join([f'a{n + 1}'] * 60)}'" for n in range(60)]
    circuit, _ = read(tmp_path, "t\nR1 a b {a0}\nR2 a b {loop}\n.param loop={loop+1}\n" + "\n".join(lines) + "\n")
    assert len(circuit.parts) == 2


def test_a_bomb_of_includes_is_cut_off(tmp_path: Path) -> None:
    for n in range(20):
        write(tmp_path, f".include i{n + 1}.inc\n" * 10, f"i{n}.inc")
    write(tmp_path, "R1 a b 1\n", "i20.inc")
    assert any(d.code == "includes-too-many" for d in refused(tmp_path, "t\n.include i0.inc\n"))


def test_a_line_of_ten_megabytes(tmp_path: Path) -> None:
    for line in (b"R2 a b 1 " + b"x" * 10_000_000, b"R2 a b 1" + b"\n+ x" * 300_000 + b"x" * 1_000_000):
        (found,) = refused(tmp_path, b"t\nR1 a b 1\n" + line + b"\n")
        assert found.code == "card-too-long"
        assert found.span is not None
        assert (found.span.line, len(found.span.excerpt) < 5000) == (3, True)
    assert read(tmp_path, b"t\nR1 a b 1\nR2 a b 1 ;" + b"x" * 10_000_000 + b"\nR3 a b 1\n")[0].parts


def test_a_line_of_a_hundred_thousand_nodes(tmp_path: Path) -> None:
    (found,) = refused(tmp_path, "t\nR1 a b 1\nX1 " + "n " * 100_000 + "cell\n")
    assert found.code == "element-too-long"


def test_towers_of_empty_cells_and_long_manycost_no_time(tmp_path: Path) -> None:
    calls = "".join(
        f".subckt s{n} a b\n" + "".join(f"X{k} a b s{n + 1}\n" for k in range(10)) + ".ends\n" for n in range(30)
    )
    found = refused(tmp_path, f"t\nX1 a b s0\n{calls}.subckt s30 a b\n.ends\n")
    assert found[0].code == "too-many-parts"
    many = " ".join(f"p{n}=1" for n in range(100_000))
    called = "".join(f"X{n} a b s\n" for n in range(900))
    text = f"t\n.param {many}\n{called}.subckt s a b\nR1 a b {{p7}} {many}\nX1 a b r {many}\n.ends\n"
    circuit, _ = read(tmp_path, f"{text}.subckt r a b\nR1 a b {{p8}}\n.ends\n")
    assert len(circuit.parts) == 1800
    assert values(circuit)["X3.X1.R1"] == "1"


def test_many_warnings_are_counted(tmp_path: Path) -> None:
    _, warnings = read(tmp_path, "t\n" + "".join(f"R{n} a n{n} 1\n" for n in range(100)))
    assert len(warnings) == 21
    assert warnings[-1].message == "80 more of these not shown"


def test_a_file_too_large_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "huge.cir"
    with path.open("wb") as stream:
        stream.truncate(33 * 1024 * 1024)
    with pytest.raises(PlacerError) as caught:
        read_circuit_file(path)
    assert caught.value.diagnostics[0].code == "file-too-large"


# --- properties ----------------------------------------------------------------------------------------------------

NODE = st.sampled_from(["a", "B", "0", "n1", "+5V", "GND", "x"])
VALUE = st.sampled_from(["1k", "4.7k", "100n", "{v}", "1.7Meg", "22"])
ELEMENT = st.tuples(st.sampled_from("RCLDVI"), NODE, NODE, VALUE)


@settings(max_examples=60, deadline=None)
@given(st.lists(ELEMENT, min_size=1, max_size=20), st.randoms(use_true_random=False))
def test_spelling_changes_nothing(elements: list[tuple[str, str, str, str]], random: object) -> None:
    """Case, blanks, comments and continuations are not part of a circuit."""
    lines = [f"{kind}{n} {a} {b} {value}" for n, (kind, a, b, value) in enumerate(elements)]

    def spoilt(line: str) -> str:
        words = line.split(" ")
        draw = random.random  # type: ignore[attr-defined]
        out = words[0] if draw() < 0.5 else "  " + words[0]
        for word in words[1:]:
            gap = " " if draw() < 0.6 else "\t, " if draw() < 0.5 else "\n* note\n\n+ "
            out += gap + (word.swapcase() if draw() < 0.3 and not word.endswith("Meg") else word)
        return out + (" ; note" if draw() < 0.3 else " $ note" if draw() < 0.2 else "")

    plain = raw("t\n.param v=1\n" + "\n".join(lines))
    other = raw("t\n.PARAM v = 1\n" + "\n".join(map(spoilt, lines)) + "\r\n.end\nR1 x y 1")
    assert [(e[0], e[1], e[2]) for e in other] == [(e[0], e[1], e[2]) for e in plain]


def raw(text: str) -> list[tuple[str, tuple[str, ...], str]]:
    problems = Problems()
    found = read_spice(Path("x.cir"), Source("x.cir", text), problems)
    problems.finish()
    assert found is not None
    return [(e.name, tuple(n.lower() for n in e.nodes), e.value.lower()) for e in found.top.elements]


@settings(max_examples=150, deadline=None)
@given(st.text(alphabet="RQXV.+*;$'\"{}()=, \n\t0ab12eEkM\x00\xe9", max_size=200))
def test_any_text_is_read_or_refused(text: str) -> None:
    problems = Problems()
    found = read_spice(Path("x.cir"), Source("x.cir", text), problems)
    assert found is not None
    circuit = None if problems.any else resolve(found, PartsMap(), problems)
    assert (circuit is None) == problems.any


def test_raw_netlists_keep_scopes_and_models(tmp_path: Path) -> None:
    problems = Problems()
    found = read_raw(write(tmp_path, SUBCIRCUITS), problems)
    assert found is not None
    assert found.top.cells["divider"].cells["inside"].ports == ("p", "q")
    assert found.common == {"vdd", "0", "gnd"}
