"""Reading circuit files: what they mean, and what is said about each thing that is wrong."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from placer.circuit.model import AwayWish, Circuit, NearWish, PinRef
from placer.circuit.problems import nearest
from placer.circuit.read_yaml import read_circuit
from placer.circuit.write_yaml import circuit_from_data, circuit_to_data
from placer.errors import Diagnostic, Exit, PlacerError
from placer.packages.catalogue import lookup

HERE = Path("hive.yaml")

LANTERN = """\
circuit: hive-lantern
about: one line
parts:
  R1: {package: axial-0207, value: 10k}
  U1: {package: dip-8, value: timer, pins: {VCC: 8, OUT: 3}}
  D1: {package: led-5, place: {edge: top, rotation: 90, mount: any, near: U1.OUT, away: R1, side: left, diagonal: true}}
  J1:
    package: terminal-2
    place: {at: {1: c12}, near: [U1.VCC, {pin: R1.1, steps: 3}], away: [{part: R1, mm: 15}, D1]}
nets:
  VCC: [U1.VCC, U1.4, R1.1, J1.1]
  GND: {pins: [U1.1, J1.2], role: ground, volts: 0, amps: 0.5}
  OUT: [U1.OUT, D1.A]
  LED: [D1.K, R1.2]
"""


def read(text: str) -> tuple[Circuit, tuple[Diagnostic, ...]]:
    return read_circuit(HERE, text=text)


def refused(text: str) -> tuple[Diagnostic, ...]:
    with pytest.raises(PlacerError) as caught:
        read(text)
    assert caught.value.exit_code == Exit.BAD_INPUT
    return caught.value.diagnostics


def test_a_whole_circuit_is_read():
    circuit, warnings = read(LANTERN)
    assert warnings == ()
    assert (circuit.name, circuit.about) == ("hive-lantern", "one line")
    assert [(p.ref, p.package, p.value) for p in circuit.parts][:2] == [
        ("R1", "axial-0207", "10k"),
        ("U1", "dip-8", "timer"),
    ]
    assert circuit.packages["dip-8"] == lookup("dip-8")
    assert circuit.nets[0].pins == (PinRef("U1", "8"), PinRef("U1", "4"), PinRef("R1", "1"), PinRef("J1", "1"))
    assert [(n.name, n.role, n.volts, n.amps) for n in circuit.nets][:2] == [
        ("VCC", "signal", None, None),
        ("GND", "ground", 0.0, 0.5),
    ]


def test_wishes_in_short_and_long_form():
    circuit, _ = read(LANTERN)
    led, terminal = circuit.part_by_ref["D1"].place, circuit.part_by_ref["J1"].place
    assert (led.edge, led.rotation, led.mount, led.side, led.diagonal) == ("top", 90, None, "left", True)
    assert led.near == (NearWish(PinRef("U1", "3")),)
    assert led.away == (AwayWish("R1"),)
    assert terminal.at == {"1": "c12"}
    assert terminal.near == (NearWish(PinRef("U1", "8")), NearWish(PinRef("R1", "1"), 3.0))
    assert terminal.away == (AwayWish("R1", 15.0), AwayWish("D1"))


def test_a_net_may_be_of_alternating_voltage():
    circuit, _ = read(BASE + NETS + "  C: {pins: [U1.3, U1.4], volts: 9, ac: true}\n")
    assert [net.ac for net in circuit.nets] == [False, False, True]
    assert circuit_from_data(circuit_to_data(circuit)) == circuit


def test_names_of_pins_from_the_package_and_the_part_become_numbers():
    anode = lookup("led-5").pin_names["A"]
    circuit, _ = read(LANTERN)
    assert circuit.net_of[PinRef("D1", anode)] == "OUT"


def test_the_parts_own_pin_name_wins_over_the_packages():
    text = "circuit: c\nparts:\n  D1: {package: led-5, pins: {A: 2, K: 1}}\nnets: {X: [D1.A, D1.K]}"
    assert read(text)[0].nets[0].pins == (PinRef("D1", "2"), PinRef("D1", "1"))


def test_values_keys_and_names_that_look_like_numbers_stay_text():
    text = (
        "circuit: 1e3\nparts:\n  1: {package: axial-0207, value: 012}\n  on: {package: axial-0207, value: 1e3}\n"
        "nets: {5: [1.1, on.1]}"
    )
    circuit, _ = read(text)
    assert circuit.name == "1e3"
    assert [(p.ref, p.value) for p in circuit.parts] == [("1", "012"), ("on", "1e3")]
    assert (circuit.nets[0].name, circuit.nets[0].pins) == ("5", (PinRef("1", "1"), PinRef("on", "1")))


def test_references_and_pin_names_may_hold_dots():
    text = (
        "circuit: c\nparts:\n  X1.R3: {package: axial-0207}\n  X1: {package: dip-8, pins: {3.3V: 8}}\n"
        "nets: {A: [X1.R3.1, X1.3.3V]}"
    )
    assert read(text)[0].nets[0].pins == (PinRef("X1.R3", "1"), PinRef("X1", "8"))


def test_a_single_pin_may_stand_without_a_list():
    circuit, warnings = read("circuit: c\nparts: {R1: {package: axial-0207}}\nnets: {A: R1.1, B: {pins: R1.2}}")
    assert [n.pins for n in circuit.nets] == [(PinRef("R1", "1"),), (PinRef("R1", "2"),)]
    assert [w.code for w in warnings] == ["net-with-one-pin", "net-with-one-pin"]


def test_the_file_names_a_circuit_without_a_name():
    assert read("parts: {R1: {package: axial-0207}}\nnets: {A: [R1.1, R1.2]}")[0].name == "hive"


def test_a_part_in_no_net_is_warned_of():
    _, (warning,) = read(LANTERN.replace("nets:", "  C9: {package: disc-5}\nnets:"))
    assert (warning.code, warning.severity, warning.span.line) == ("part-unconnected", "warning", 10)


def test_joined_pins_in_one_net_or_only_one_listed_are_fine():
    for pins in ("S1.1, S1.2", "S1.1, S1.3", "S1.2, S1.4"):
        nets = f"nets: {{A: [{pins}, R1.1]}}"
        read("circuit: c\nparts: {S1: {package: button-6}, R1: {package: axial-0207}}\n" + nets)


# --- own packages --------------------------------------------------------------------------------------------------

BUZZER = "{form: rigid, line: 2, pitch: 3, body_mm: [12, 12], lead_mm: 0.6, height_mm: 9.5}"
USES_BUZZER = "circuit: c\nparts: {B1: {package: buzzer}}\nnets: {A: [B1.1, B1.2]}\n"


def test_own_packages_in_the_file():
    circuit, _ = read(USES_BUZZER + f"packages:\n  buzzer: {BUZZER}\n")
    assert circuit.packages["buzzer"].form.offsets == ((0, 0), (3, 0))


@pytest.mark.parametrize("wrapped", [True, False])
def test_own_packages_in_a_file_beside(tmp_path, wrapped):
    content = f"packages:\n  buzzer: {BUZZER}\n" if wrapped else f"buzzer: {BUZZER}\n"
    circuit_file = tmp_path / "hive.yaml"
    (tmp_path / "hive.packages.yaml").write_text(content)
    circuit_file.write_text(USES_BUZZER)
    assert read_circuit(circuit_file)[0].packages["buzzer"].height_mm == 9.5

    (tmp_path / "hive.packages.yaml").rename(tmp_path / "bee-parts.yaml")
    circuit_file.write_text(USES_BUZZER + "packages: bee-parts.yaml\n")
    assert read_circuit(circuit_file)[0].packages["buzzer"].height_mm == 9.5


def test_a_parts_file_must_stand_beside(tmp_path):
    circuit_file = tmp_path / "hive.yaml"
    for name, code in (
        ("other.yaml", "file-missing"),
        ("../other.yaml", "parts-file-elsewhere"),
        ("/etc/passwd", "parts-file-elsewhere"),
    ):
        circuit_file.write_text(USES_BUZZER + f"packages: {name}\n")
        with pytest.raises(PlacerError) as caught:
            read_circuit(circuit_file)
        assert code in [d.code for d in caught.value.diagnostics]


def test_a_faulty_own_package_is_told_at_its_place_and_not_as_unknown():
    (found,) = refused(USES_BUZZER + "packages:\n  buzzer: {form: rigid, line: x, lead_mm: 0.6, height_mm: 9.5}\n")
    assert (found.code, found.span.line, found.span.column) == ("bad-package", 5, 31)


def test_a_fault_in_the_parts_file_is_told_with_that_file(tmp_path):
    (tmp_path / "hive.packages.yaml").write_text("buzzer:\n  form: rigd\n")
    (tmp_path / "hive.yaml").write_text(USES_BUZZER)
    with pytest.raises(PlacerError) as caught:
        read_circuit(tmp_path / "hive.yaml")
    (found,) = caught.value.diagnostics
    assert found.span.file.endswith("hive.packages.yaml")
    assert found.span.line == 2


# --- what is wrong -------------------------------------------------------------------------------------------------

BASE = "circuit: c\nparts:\n  R1: {package: axial-0207}\n  U1: {package: dip-8}\n  S1: {package: button-6}\n"
NETS = "nets:\n  A: [R1.1, U1.1]\n  B: [R1.2, U1.2, S1.1]\n"


def part(place: str) -> str:
    return BASE + f"  D1: {{package: led-5, place: {place}}}\n" + NETS


@pytest.mark.parametrize(
    ("text", "code", "marked", "says"),
    [
        (BASE.replace("axial-0207", "axial-207") + NETS, "unknown-package", "axial-207", "did you mean axial-0207?"),
        (BASE.replace("dip-8", "header-9x4") + NETS, "unknown-package", "header-9x4", ""),
        (BASE.replace("dip-8", "haeder-4") + NETS, "unknown-package", "haeder-4", "did you mean header-4?"),
        (BASE.replace("{package: dip-8}", "{value: 5}") + NETS, "part-without-package", "U1", "part U1 has no package"),
        (BASE.replace("{package: dip-8}", "") + NETS, "part-without-package", "U1", "part U1 has no package"),
        (BASE.replace("{package: dip-8}", "dip-8") + NETS, "wrong-type", "dip-8", "expected a mapping"),
        (
            BASE.replace("package: dip-8", "package: dip-8, valeu: 3") + NETS,
            "unknown-key",
            "valeu",
            "did you mean value?",
        ),
        (BASE.replace("package: dip-8", "package: [dip-8]") + NETS, "bad-value", "[dip-8]", "expected text"),
        (BASE + NETS + "  C: [U9.1]\n", "unknown-part", "U9.1", "did you mean U1?"),
        (BASE + NETS + "  C: [U1.99]\n", "unknown-pin", "U1.99", "dip-8 has the pins 1, 2, 3, 4, 5, 6, 7, 8"),
        (BASE + NETS + "  C: U1.3, R1.2\n", "unknown-pin", "U1.3, R1.2", "several pins are a list: [U1.3, R1.2]"),
        (BASE + NETS + "  C: [U1]\n", "pin-malformed", "U1", "a pin is REF.PIN"),
        (BASE + NETS + "  C: [U1.]\n", "unknown-pin", "U1.", "has no pin ''"),
        (BASE + NETS + "  C: [U1.3, U1.3]\n", "pin-twice", "U1.3", "stands in it already on line 9"),
        (BASE + NETS + "  C: [U1.3, R1.1]\n", "pin-in-two-nets", "R1.1", "is in net A already on line 7"),
        (BASE + NETS + "  C: [U1.3, S1.2]\n", "joined-pins-in-two-nets", "S1.2", "B and C: they would be shorted"),
        (BASE + NETS + "  C:\n", "net-without-pins", "C", "found nothing"),
        (BASE + NETS + "  C: []\n", "net-without-pins", "C", "net C has no pins"),
        (BASE + NETS + "  C: {role: ground}\n", "key-missing", "C", "net C has no pins"),
        (BASE + NETS + "  C: {pins: [U1.3], role: groud}\n", "bad-role", "groud", "did you mean ground?"),
        (BASE + NETS + "  C: {pins: [U1.3], volts: 5V}\n", "bad-value", "5V", "expected a number"),
        (BASE + NETS + "  C: {pins: [U1.3], amps: -1}\n", "bad-value", "-1", "at least 0"),
        (BASE + NETS + "  C: {pins: [U1.3], volts: .nan}\n", "bad-value", ".nan", "expected a"),
        (BASE + NETS + "  C: {pins: [{a: 1}]}\n", "bad-value", "{a: 1}", "expected text"),
        (BASE + NETS + "  C: {pins: [U1.3], ac: true}\n", "ac-without-volts", "true", "neither volts nor amps"),
        (BASE + NETS + "  C: {pins: [U1.3], volts: -9, ac: true}\n", "ac-below-zero", "-9", "leave the sign out"),
        (BASE + NETS + "  C: {pins: [U1.3], role: ground, volts: 0, ac: true}\n", "ac-ground", "true", "leave ac out"),
        (BASE + NETS + "  C: {pins: [U1.3], volts: 9, ac: often}\n", "bad-value", "often", "expected true or false"),
        (BASE + NETS + "netz: {}\n", "unknown-key", "netz", "did you mean nets?"),
        (BASE + NETS + "packages: 3.yaml/x\n", "parts-file-elsewhere", "3.yaml/x", "beside"),
        (BASE + NETS + "packages: [a]\n", "wrong-type", "[a]", "found a list"),
        (BASE, "empty-circuit", "circuit", "the circuit has no nets"),
        ("circuit: c\n" + NETS, "empty-circuit", "circuit", "the circuit has no parts"),
        ("", "empty-circuit", "", "found nothing"),
        ("- a\n", "wrong-type", "- a", "found a list"),
        ("circuit: c\nparts: [R1]\nnets: {A: [R1.1]}", "wrong-type", "[R1]", "expected a mapping"),
        (part("{rotation: 45}"), "bad-rotation", "45", "expected 0, 90, 180 or 270"),
        (part("{edge: tpo}"), "bad-edge", "tpo", "did you mean top?"),
        (part("{side: any}"), "bad-side", "any", "expected top, bottom, left or right"),
        (part("{mount: standng}"), "bad-mount", "standng", "did you mean standing?"),
        (part("{diagonal: perhaps}"), "bad-value", "perhaps", "true or false"),
        (part("{port: P1, edge: top}"), "wish-contradiction", "edge", "place has both port and edge"),
        (part("{port: ''}"), "bad-name", "''", "ports are listed by"),
        (part("{neer: R1.1}"), "unknown-key", "neer", "did you mean near?"),
        (part("{near: R1}"), "pin-malformed", "R1", "a pin is REF.PIN"),
        (part("{near: R1.7}"), "unknown-pin", "R1.7", "has the pins 1, 2"),
        (part("{near: [U1.1, R8.1]}"), "unknown-part", "R8.1", "did you mean R1?"),
        (part("{near: D1.1}"), "near-itself", "D1.1", "own pin"),
        (part("{near: {pin: R1.1, steps: 0}}"), "bad-value", "0", "a number above 0"),
        (part("{near: {pin: R1.1, step: 2}}"), "unknown-key", "step", "did you mean steps?"),
        (part("{near: {steps: 2}}"), "key-missing", "near", "has no near.pin"),
        (part("{away: D1}"), "away-from-itself", "D1", "the part itself"),
        (part("{away: [{part: U2, mm: 5}]}"), "unknown-part", "U2", "did you mean U1?"),
        (part("{away: {part: U1, mm: far}}"), "bad-value", "far", "a number"),
        (part("{at: {3: c4}}"), "unknown-pin", "3", "has the pins 1, 2"),
        (part("{at: {1: c4, A: c5}}"), "wish-contradiction", "A", "two holes"),
        (part("{at: {1: c4, 2: c4}}"), "wish-contradiction", "c4", "which D1.1 wants too"),
        (part("{at: c4}"), "bad-value", "c4", "expected a mapping"),
        (part("top"), "wrong-type", "top", "expected a mapping with the keys at, edge"),
        (BASE.replace("dip-8", "dip-8, place: {mount: standing}") + NETS, "impossible-mount", "standing", "flat only"),
        (BASE.replace("dip-8", "dip-8, place: {diagonal: true}") + NETS, "impossible-diagonal", "true", "flexible"),
        (BASE.replace("dip-8", "dip-8, pins: {VCC: 9}") + NETS, "unknown-pin", "9", "stands for pin 9"),
        (BASE.replace("dip-8", "dip-8, pins: {1: 8}") + NETS, "ambiguous-pin-name", "1", "number of another pin"),
        (BASE.replace("circuit: c", 'circuit: "a\\x1bb"') + NETS, "bad-name", '"a\\x1bb"', "control character"),
        (BASE.replace("R1:", '"":') + NETS.replace("R1", "U1").replace("U1.1", "U1.5"), "bad-name", '""', "is empty"),
        (BASE + NETS + f"  {'n' * 65}: [U1.3]\n", "bad-name", "n" * 65, "65 characters long, 64 is the most"),
        (BASE.replace("dip-8", 'dip-8, value: "a\\nb"') + NETS, "bad-name", '"a\\nb"', "control character"),
        (BASE + NETS + '  " C": [U1.3]\n', "bad-name", '" C"', "begins or ends with a blank"),
    ],
)
def test_each_fault_is_named_at_its_place(text, code, marked, says):
    found = next((d for d in refused(text) if d.code == code), None)
    assert found is not None, refused(text)
    assert says in f"{found.message} | {found.help}"
    assert found.span.file == "hive.yaml"
    assert found.span.excerpt == (text.splitlines() or [""])[found.span.line - 1]
    assert found.span.excerpt[found.span.column - 1 :].startswith(marked)
    assert not marked or found.span.length >= len(marked)


def test_all_problems_are_told_at_once_in_the_order_of_the_file():
    text = part("{rotation: 45, near: [D1.1], at: {7: c1}}").replace("dip-8", "dip-9") + "  C: [R1.1, Q1.1]\nx: 1\n"
    found = refused(text)
    assert [d.code for d in found] == [
        "unknown-package",
        "bad-rotation",
        "near-itself",
        "unknown-pin",
        "pin-in-two-nets",
        "unknown-part",
        "unknown-key",
    ]


def test_what_follows_from_another_fault_is_not_told():
    assert [d.code for d in refused(BASE.replace("dip-8", "dip-9") + NETS)] == ["unknown-package"]


def test_twenty_problems_are_shown_and_the_rest_counted():
    found = refused(BASE + NETS + "".join(f"  N{i}: [Q{i}.1]\n" for i in range(1000)))
    assert len(found) == 21
    assert found[-1].message == "980 more problems not shown"


def test_too_many_parts_are_refused():
    parts = "".join(f"  R{i}: {{package: axial-0207}}\n" for i in range(2001))
    assert refused("circuit: c\nparts:\n" + parts + "nets: {A: [R1.1, R2.1]}")[0].code == "too-many-parts"


def test_two_thousand_parts_are_read():
    parts = "".join(f"  R{i}: {{package: axial-0207}}\n" for i in range(2000))
    nets = "".join(f"  N{i}: [R{i}.2, R{i + 1}.1]\n" for i in range(1999))
    assert len(read("circuit: c\nparts:\n" + parts + "nets:\n" + nets)[0].parts) == 2000


def test_nearest_knows_patterns_and_ignores_capitals():
    assert nearest("HEADER-4", ["header-N", "dip-8"]) == "header-4"
    assert nearest("zzz", ["header-N", "dip-8"]) == ""


@settings(max_examples=150, deadline=None)
@given(
    st.integers(0, len(LANTERN) - 1),
    st.integers(0, 12),
    st.text(max_size=4) | st.sampled_from("{}[]:,*&!|>'\"#?-%@\n\t."),
)
def test_a_damaged_file_is_read_or_refused_with_a_place_and_never_crashes(at, removed, put):
    text = LANTERN[:at] + put + LANTERN[at + removed :]
    try:
        circuit, _ = read(text)
        found: tuple[Diagnostic, ...] = ()
    except PlacerError as err:
        circuit, found = None, err.diagnostics
    assert (circuit is None) == bool(found)
    last_line = text.count("\n") + text.count("\r") + 1
    for diagnostic in found:
        assert diagnostic.message
        assert diagnostic.span is None or diagnostic.span.line <= last_line
