"""The parts map: what it means, what is said of each thing that is wrong in it, and the draft of one."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from placer.circuit.draftmap import draft_map
from placer.circuit.partsmap import MAX_PATTERNS, read_parts_map
from placer.circuit.problems import Problems
from placer.circuit.raw import RawCell, RawElement, RawNetlist
from placer.circuit.read import read_circuit_file, read_raw
from placer.circuit.resolve import resolve
from placer.circuit.source import At, Source
from placer.errors import PlacerError
from tests.circuit.spice_text import codes, nets, packages, read, refused, values, write

TEXT = """\
brood lamp
V1 vcc 0 5
R1 vcc led 330
R7 vcc out 1k
C12 vcc 0 100u
D1 led out RED
Q1 out in 0 2N3904
Q2 in out 0 BC547
"""


def test_an_element_wins_over_a_model_and_a_model_over_the_default(tmp_path: Path) -> None:
    parts = """\
elements: {R7: {package: axial-0309}, "C1?": radial-6.3, q2: {package: to-92, pins: [1, 2, 3], value: BC547B}}
models: {2n3904: {package: to-92, pins: [3, 2, 1]}, bc547: to-220, "R*": led-5}
"""
    circuit, warnings = read(tmp_path, TEXT, parts)
    assert packages(circuit) == {
        "V1": "pad-2", "R1": "axial-0207", "R7": "axial-0309", "C12": "radial-6.3", "D1": "led-5", "Q1": "to-92",
        "Q2": "to-92",
    }  # fmt: skip
    assert nets(circuit)["0"] == {"V1.2", "C12.2", "Q1.1", "Q2.3"}
    assert values(circuit)["Q2"] == "BC547B"
    assert codes(warnings) == {"unused-entry"}
    assert [w.message.split()[1] for w in warnings] == ["bc547"]


def test_a_plain_name_wins_over_a_pattern_and_an_earlier_pattern_over_a_later(tmp_path: Path) -> None:
    parts = 'elements: {"R*": axial-0309, R1: axial-0204, "R?": axial-0207, "[QV]*": {omit: true}}'
    circuit, warnings = read(tmp_path, TEXT, parts)
    assert packages(circuit) == {"R1": "axial-0204", "R7": "axial-0309", "C12": "disc-5", "D1": "do-35"}
    assert "unused-entry" in codes(warnings)


def test_pins_by_name_and_by_port(tmp_path: Path) -> None:
    parts = "models: {RED: {package: led-5, pins: [A, K]}, '2N3904': {package: to-92, pins: {1: 2, 2: 3, 3: 1}}}"
    circuit, _ = read(tmp_path, TEXT, parts)
    found = nets(circuit)
    assert "D1.2" in found["out"]
    assert {"Q1.2"} <= found["out"]
    assert {"Q1.1"} <= found["0"]


def test_own_packages_in_the_map_and_beside_the_netlist(tmp_path: Path) -> None:
    own = "{form: rigid, line: 3, body_mm: [10, 5], height_mm: 9, lead_mm: 0.6, names: {C: 3, B: 1, E: 2}}"
    parts = f"packages: {{comb: {own}}}\nmodels: {{BC547: comb}}"
    circuit, _ = read(tmp_path, TEXT, parts)
    # The package names its pins as a transistor's nodes are named, so that their order is known.
    assert "Q2.3" in nets(circuit)["in"]
    assert {"Q2.2"} <= nets(circuit)["0"]
    write(tmp_path, f"comb: {own}", "hive.packages.yaml")
    assert packages(read(tmp_path, TEXT, "models: {BC547: comb}")[0])["Q2"] == "comb"


def test_an_assumed_pinout_is_told_once_for_each_device(tmp_path: Path) -> None:
    _, warnings = read(tmp_path, TEXT + "Q3 led in 0 bc547\n")
    assumed = [w for w in warnings if w.code == "assumed-pinout"]
    assert [w.message.split(":")[0] for w in assumed] == ["Q1", "Q2"]
    assert "E-B-C" in assumed[0].message
    assert "models: {2N3904: {package: to-92, pins: [3, 2, 1]}}" in assumed[0].help
    assert "assumed-pinout" not in codes(
        read(tmp_path, TEXT, "models: {'*': {package: to-92, pins: [3, 2, 1]}, RED: do-35}")[1]
    )


DOUBTFUL = """* doubtful
V1 in 0 9
C1 in 0 470u
C2 in 0 100n
C3 in 0 1.0u
D1 in a LEDRED
D2 in b ledred
D3 in c 1N4148
R1 a 0 1k
R2 b 0 1k
R3 c 0 1k
.end
"""


def test_a_part_that_is_likely_another_than_its_letter_says_is_told(tmp_path: Path) -> None:
    circuit, warnings = read(tmp_path, DOUBTFUL)
    told = [w for w in warnings if w.code == "assumed-package"]
    assert [w.message.split(":")[0] for w in told] == ["C1", "C3", "D1"], "of a model once"
    assert "elements: {C1: {package: radial-5}}, node 1 is +" in told[0].help
    assert "models: {LEDRED: {package: led-5}}" in told[2].help
    assert {part.ref: part.package for part in circuit.parts}["C1"] == "disc-5"


def test_what_the_hint_says_is_the_mend(tmp_path: Path) -> None:
    told = "elements: {C1: {package: radial-5}, C3: disc-5}\nmodels: {LEDRED: {package: led-5}}"
    circuit, warnings = read(tmp_path, DOUBTFUL, told)
    assert "assumed-package" not in codes(warnings)
    packages = {part.ref: part.package for part in circuit.parts}
    assert (packages["C1"], packages["C3"], packages["D1"], packages["D2"]) == ("radial-5", "disc-5", "led-5", "led-5")


BROKEN = [
    ("wrong-type", "[a, b]", 1, 1),
    ("unknown-key", "element: {R1: axial-0207}", 1, 1),
    ("wrong-type", "elements: [R1]", 1, 11),
    ("wrong-type", "flatten: {a: b}", 1, 10),
    ("wrong-type", "flatten: [[a]]", 1, 11),
    ("wrong-type", "packages: 3", 1, 11),
    ("unknown-package", "elements: {R1: axial-0270}", 1, 16),
    ("unknown-package", "elements:\n  R1: {package: axial-0270}", 2, 17),
    ("unknown-key", "elements:\n  R1: {package: axial-0207, pinns: [1, 2]}", 2, 29),
    ("key-missing", "elements:\n  R1: {pins: [1, 2]}", 2, 3),
    ("key-missing", "elements:\n  R1: {}", 2, 3),
    ("wrong-type", "elements:\n  R1:", 2, 6),
    ("wrong-type", "elements:\n  R1: [a]", 2, 7),
    ("bad-value", "elements:\n  R1: {package: [a]}", 2, 17),
    ("map-contradiction", "elements:\n  R1: {package: axial-0207, omit: true}", 2, 3),
    ("unknown-pin", "models:\n  2N3904: {package: to-92, pins: [3, 2, 4]}", 2, 41),
    ("unknown-pin", "models:\n  2N3904: {package: to-92, pins: {c: X}}", 2, 38),
    ("unknown-pin", "models:\n  2N3904: {package: to-92, pins: [3, [2], 1]}", 2, 38),
    ("wrong-type", "models:\n  2N3904: {package: to-92, pins: 321}", 2, 34),
    ("name-twice", "elements: {R1: axial-0207, r1: axial-0309}", 1, 28),
    ("bad-name", "elements: {R1: {package: axial-0207, value: ' x'}}", 1, 45),
    ("yaml-tag", "elements: !!python/object:os.system {}", 1, 11),
    ("bad-package", "packages: {p: {form: odd}}", 1, 22),
]  # fmt: skip


@pytest.mark.parametrize(("code", "text", "line", "column"), BROKEN, ids=[f"{c[0]}-{n}" for n, c in enumerate(BROKEN)])
def test_each_fault_of_a_map_has_its_place(tmp_path: Path, code: str, text: str, line: int, column: int) -> None:
    found = next(d for d in refused(tmp_path, TEXT, text) if d.code == code)
    assert found.span is not None
    assert Path(found.span.file).name == "map.yaml"
    assert (found.span.line, found.span.column) == (line, column)


def test_faults_of_netlist_and_map_come_together(tmp_path: Path) -> None:
    found = refused(tmp_path, TEXT + "R9 a\n", "elements: {R1: axial-0270}\nmodels: {RED: nosuch}")
    assert {d.code for d in found} == {"nodes-missing", "unknown-package"}
    assert len(found) == 3


USES = [
    ("pins-not-told", "models: {2N3904: dip-8}", 7),
    ("pins-differ", "models: {2N3904: {package: dip-8, pins: [1, 2]}}", 7),
    ("pins-differ", "models: {RED: {package: dip-8, pins: [1, 2, 3]}}", 6),
    ("pin-in-two-nets", "elements: {R1: {package: axial-0207, pins: [1, 1]}}", 3),
    ("pin-in-two-nets", "elements: {R1: {package: button-6, pins: [1, 2]}}", 3),
]  # fmt: skip


@pytest.mark.parametrize(("code", "text", "line"), USES, ids=[f"{c[0]}-{n}" for n, c in enumerate(USES)])
def test_a_map_that_does_not_fit_the_netlist(tmp_path: Path, code: str, text: str, line: int) -> None:
    (found,) = refused(tmp_path, TEXT, text)
    assert (found.code, found.span and found.span.line) == (code, line)
    assert found.help


@pytest.mark.parametrize(
    ("entry", "advice"),
    [
        ("elements: {C21: disc-5}", "did you mean C12? Else remove it"),
        ("elements: {RR7: axial-0309}", "did you mean R7? Else remove it"),
        ("models: {2N3094: {package: to-92, pins: [3, 2, 1]}}", "did you mean 2N3904? Else remove it"),
        # It has an entry already.
        ("elements: {C21: disc-5, C12: disc-5}", "check the name, or remove it"),
        ("models: {2N3094: led-5, 2N3904: {package: to-92}}", "check the name, or remove it"),
        # What it names is there, and has been settled by another entry.
        ("elements: {R7: axial-0309, R1: axial-0204, 'R[17]': axial-0207}", "check the name, or remove it"),
        ("models: {ZZZZZZ: led-5}", "check the name, or remove it"),
    ],
)
def test_an_entry_for_nothing_says_what_may_be_meant(tmp_path: Path, entry: str, advice: str) -> None:
    (unused,) = [w for w in read(tmp_path, TEXT, entry)[1] if w.code == "unused-entry"]
    assert unused.help == advice


def test_what_is_not_known_says_which_entry_may_be_meant_and_has_room_for_its_pins(tmp_path: Path) -> None:
    nodes = " ".join(f"p{n}" for n in range(16))
    (found,) = refused(tmp_path, TEXT + f"X1 {nodes} SHIFTER\n", "models: {SHIFTRE: {package: dip-16}}")
    assert found.code == "cannot-be-built"
    assert "the parts map has SHIFTRE under models: should that be SHIFTER?" in found.help
    pins = ", ".join(str(n + 1) for n in range(16))
    assert f"models: {{SHIFTER: {{package: dip-16, pins: [{pins}]}}}}" in found.help
    (found,) = refused(tmp_path, TEXT + "X1 a b c d e OPAMP\n", "models: {RELAY: {package: dip-16}}")
    assert "RELAY" not in found.help
    assert "package: dip-8, pins: [1, 2, 3, 4, 5]" in found.help
    # What is used is no slip, however near; a pattern is none either.
    used = "models: {SHIFTRE: {package: dip-16}, 'SHIFT?': {package: dip-8}}"
    text = TEXT + f"X1 {nodes} SHIFTER\nX2 {nodes} shiftre\n"
    (found,) = refused(tmp_path, text, used)
    assert "should that be" not in found.help
    many = " ".join(f"p{n}" for n in range(41))
    (found,) = refused(tmp_path, TEXT + f"X1 {many} ARRAY\n", "models: {}")
    assert "models: {ARRAY: {package: ...}}" in found.help


def test_flattening_what_is_not_there(tmp_path: Path) -> None:
    (found,) = refused(tmp_path, TEXT + "X1 vcc out NAND\n", "flatten: [NAND]")
    assert found.code == "cell-unknown"
    assert codes(read(tmp_path, TEXT, "flatten: [NAND]")[1]) >= {"unused-entry"}


def test_the_map_is_bounded(tmp_path: Path) -> None:
    many = "elements:\n" + "".join(f'  "R{n}*": axial-0207\n' for n in range(MAX_PATTERNS + 1))
    (found,) = refused(tmp_path, TEXT, many)
    assert found.code == "too-many-patterns"
    bomb = "a: &a [x]\n" + "".join(f"b{n}: &b{n} [{', '.join([f'*b{n - 1}' if n else '*a'] * 9)}]\n" for n in range(12))
    assert refused(tmp_path, TEXT, bomb)[0].code == "yaml-too-many-values"
    stars = "elements: {'" + "*a" * 300 + "b': axial-0207}"
    circuit, _ = read(tmp_path, TEXT + "R" + "a" * 900 + " vcc out 1\n", stars)
    assert len(circuit.parts) == 8


def test_a_map_with_a_circuit_file_is_told_to_be_idle(tmp_path: Path) -> None:
    circuit = write(tmp_path, "circuit: c\nparts: {R1: {package: axial-0207}}\nnets: {a: [R1.1]}\n", "c.yaml")
    _, warnings = read_circuit_file(circuit, write(tmp_path, "{}", "m.yaml"))
    assert "map-not-used" in codes(warnings)


def test_a_missing_map_is_bad_input(tmp_path: Path) -> None:
    with pytest.raises(PlacerError) as caught:
        read_circuit_file(write(tmp_path, TEXT), tmp_path / "nosuch.yaml")
    assert caught.value.diagnostics[0].code == "file-missing"


# --- netlists with ports and packages of their own -----------------------------------------------------------------

HERE = At(Source("pins.csv", "part,pin,net\n"), 1)


def listed(*elements: RawElement, cells: dict[str, RawCell] | None = None) -> RawNetlist:
    return RawNetlist("n", RawCell("", (), elements, HERE, cells or {}))


def part(name: str, pins: dict[str, str], **more: str) -> RawElement:
    return RawElement(name, more.pop("kind", ""), tuple(pins.values()), HERE, tuple(pins), **more)  # type: ignore[arg-type]


def test_pin_lists_name_pins_and_packages() -> None:
    raw = listed(
        part("U1", {"1": "GND", "8": "VCC", "3": ""}, package="dip-8"),
        part("LED1", {"A": "VCC", "K": "N1"}, package="led-5", value="red"),
        part("R1", {"1": "N1", "2": "GND"}),
    )
    problems = Problems()
    circuit = resolve(raw, read_parts_map(Path("m"), problems, text="{}"), problems)
    problems.finish()
    assert circuit is not None
    assert nets(circuit) == {"GND": {"U1.1", "R1.2"}, "VCC": {"U1.8", "LED1.1"}, "N1": {"LED1.2", "R1.1"}}
    assert packages(circuit) == {"U1": "dip-8", "LED1": "led-5", "R1": "axial-0207"}
    assert {net.name: net.role for net in circuit.nets}["GND"] == "ground"


def test_capitals_count_where_the_format_says_so() -> None:
    raw = listed(part("R1", {"1": "a", "2": "A"}), part("r1", {"1": "a", "2": "A"}))
    problems = Problems()
    circuit = resolve(raw, read_parts_map(Path("m"), problems, text="{}"), problems)
    assert circuit is not None
    assert nets(circuit) == {"a": {"R1.1", "r1.1"}, "A": {"R1.2", "r1.2"}}


def test_instances_by_ports_are_laid_out_by_name() -> None:
    inner = RawCell("half", ("P", "Q"), (part("R1", {"1": "P", "2": "m"}), part("R2", {"1": "m", "2": "Q"})), HERE)
    leaf = RawCell("chip", ("IN", "OUT"), (), HERE, leaf=True)
    raw = listed(
        part("A1", {"Q": "y", "P": "x"}, kind="X", model="half"),
        part("A2", {"OUT": "x", "IN": "y"}, kind="X", model="chip"),
        cells={"half": inner, "chip": leaf},
    )
    problems = Problems()
    parts = "models: {chip: {package: dip-8, pins: {IN: 2, OUT: 7}}}"
    circuit = resolve(raw, read_parts_map(Path("m"), problems, text=parts), problems)
    problems.finish()
    assert circuit is not None
    assert nets(circuit) == {"x": {"A1.R1.1", "A2.7"}, "y": {"A1.R2.2", "A2.2"}, "A1.m": {"A1.R1.2", "A1.R2.1"}}


def test_a_pin_that_the_package_does_not_have() -> None:
    problems = Problems()
    resolve(listed(part("U1", {"99": "a"}, package="dip-8")), read_parts_map(Path("m"), problems, text="{}"), problems)
    with pytest.raises(PlacerError) as caught:
        problems.finish()
    assert caught.value.diagnostics[0].code == "unknown-pin"
    assert "{package: dip-8, pins: {99: 1}}" in caught.value.diagnostics[0].help


# --- the draft -----------------------------------------------------------------------------------------------------


def test_the_draft_names_what_needs_a_decision_and_works_as_it_is(tmp_path: Path) -> None:
    text = TEXT + "X1 vcc out in REG\nM1 out in 0 0 NMOD\nX2 vcc out s\n.subckt s a b\nR1 a b 1\n.ends\n"
    problems = Problems()
    raw = read_raw(write(tmp_path, text), problems)
    assert raw is not None
    draft = draft_map(raw)
    circuit, warnings = read(tmp_path, text, draft)
    found = packages(circuit)
    assert (found["X1"], found["M1"], found["C12"], found["X2.R1"]) == ("header-3", "to-92", "radial-5", "axial-0207")
    assert codes(warnings) <= {"net-with-one-pin"}
    for name in ("2N3904", "BC547", "REG", "NMOD", "C12", "R1", "V1"):
        assert name in draft


def test_the_draft_leaves_open_what_nobody_can_guess(tmp_path: Path) -> None:
    text = TEXT + "E1 vcc out in 0 10\n"
    raw = read_raw(write(tmp_path, text), Problems())
    assert raw is not None
    assert "E1: {omit: true}" in draft_map(raw)
    assert [d.message[:3] for d in refused(tmp_path, text, draft_map(raw))] == ["E1:"]
    decided = draft_map(raw).replace("# E1:", "E1:")
    assert "E1" not in packages(read(tmp_path, text, decided)[0])


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.text(min_size=1, max_size=8), min_size=1, max_size=6, unique_by=str.casefold),
    st.sampled_from(["Q", "X", "E"]),
)
def test_a_draft_is_always_a_map(names: list[str], kind: str) -> None:
    elements = tuple(RawElement(n, kind, ("a", "b", "c"), HERE, model=n, value=n) for n in names)
    problems = Problems()
    draft = draft_map(RawNetlist("n", RawCell("", (), elements, HERE)))
    found = read_parts_map(Path("m"), problems, text=draft)
    problems.finish()
    assert len(found.models.entries()) == (0 if kind == "E" else len(names))
