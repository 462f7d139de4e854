"""What is refused for its voltage, and what is not: mains by figures and by words."""

from __future__ import annotations

import pytest

from placer.circuit.model import Circuit
from placer.limits.voltage import mains_in, refusals, voltage_findings
from tests.limits.test_dc import circuit


def codes(found: Circuit) -> list[tuple[str, str]]:
    return [(finding.severity, finding.code) for finding in voltage_findings(found)]


def with_volts(*nets: str) -> Circuit:
    """A circuit of one net for each text such as ``volts=48``."""
    parts = "; ".join(f"J{n} header-1" for n in range(1, len(nets) + 1))
    return circuit(parts, ";".join(f"X{n} {text}: J{n}.1" for n, text in enumerate(nets, 1)))


@pytest.mark.parametrize(
    ("nets", "expected"),
    [
        # 60 V DC and 30 V r.m.s. may be touched (IEC 62368-1 ES1, from memory); 120 V DC and 50 V r.m.s. is the end of
        # extra-low voltage (IEC 61140 as quoted in a note of IEC 61347-2-2).
        (("volts=60",), []),
        (("volts=60.1",), [("warning", "above-touchable-voltage")]),
        (("volts=120",), [("warning", "above-touchable-voltage")]),
        (("volts=120.5",), [("error", "above-extra-low-voltage")]),
        (("volts=-121",), [("error", "above-extra-low-voltage")]),
        (("volts=30 ac=true",), []),
        (("volts=31 ac=true",), [("warning", "above-touchable-voltage")]),
        (("volts=50 ac=true",), [("warning", "above-touchable-voltage")]),
        (("volts=51 ac=true",), [("error", "above-extra-low-voltage")]),
        (("volts=15", "volts=-15"), []),
        (("volts=40", "volts=-40"), [("warning", "above-touchable-voltage")]),  # 80 V between them
        (
            ("volts=61", "volts=-61"),
            [("warning", "above-touchable-voltage")] * 2 + [("error", "above-extra-low-voltage")],
        ),
        (("volts=58", "volts=5"), []),
    ],
)
def test_bounds_of_volts(nets: tuple[str, ...], expected: list[tuple[str, str]]) -> None:
    assert codes(with_volts(*nets)) == expected


@pytest.mark.parametrize(
    "text",
    [
        *("mains", "MAINS_L", "AC mains in", "230 V", "230V~", "230 VAC", "120 VAC", "115VAC", "240 V AC", "AC 230 V"),
        *("VAC230", "AC120", "from 110 V", "220V", "400 V", "150 V", "325 V DC", "230 V 50 Hz", "85..264 VAC"),
        *("IN_230VAC", "L_230V", "AC_230_L", "HEATER 230V"),
    ],
)
def test_words_of_the_mains(text: str) -> None:
    assert mains_in(text, entry=True)


@pytest.mark.parametrize(
    "text",
    [
        *(
            "12 V",
            "24 VAC",
            "12VAC",
            "AC24",
            "48 V",
            "60 V",
            "remains",
            "domains",
            "main",
            "MAIN",
            "N",
            "L",
            "L1",
            "PE",
        ),
        *("HOT", "LINE_OUT", "AC", "VAC", "V120X", "R230", "230", "C230", "1.230 V", "5V120", "no mains", "not mains"),
        *("mains hum filter", "50 Hz", "AC coupled", "120 ohm", "230 mV", "9..12 V", "0..5 V", "108 V DC", "AC50Hz"),
    ],
)
def test_words_that_only_look_like_it(text: str) -> None:
    assert mains_in(text, entry=True) == ""


def test_a_net_that_says_its_direct_volts_may_be_named_after_them() -> None:
    assert codes(circuit("J1 header-1", "REF_100V volts=100: J1.1")) == [("warning", "above-touchable-voltage")]
    assert codes(circuit("J1 header-1", "REF_100V: J1.1")) == [("error", "mains-named")]
    assert codes(circuit("J1 header-1", "REF_100VAC volts=12: J1.1")) == [("error", "mains-named")]


def test_a_rating_of_a_part_is_no_mains() -> None:
    """A capacitor for 250 VAC, a relay for 230 V contacts, in a circuit of 12 V."""
    found = circuit(
        "J1 terminal-2 12 V; C1 film-10 100n 250 VAC; K1 relay 12 V, 230 V contacts; T1 to-220 MOSFET 100 V",
        "V role=supply volts=12: J1.1 C1.1 K1.1 T1.2; GND role=ground: J1.2 C1.2 K1.16 T1.3",
    )
    assert refusals(found) == ()


@pytest.mark.parametrize(
    "parts", ["J1 terminal-2 230 V", "J1 terminal-2 mains", "P1 pad-2 120 VAC", "T1 header-4 230 V to 12 V"]
)
def test_what_brings_the_mains_in_is_refused_by_name(parts: str) -> None:
    ref = parts.split()[0]
    (refusal,) = refusals(circuit(parts, f"V: {ref}.1; GND role=ground: {ref}.2"))
    assert (refusal.code, refusal.severity) == ("mains-named", "error")
    assert ref in refusal.message
    assert "licensed hands" in refusal.help


@pytest.mark.parametrize(
    ("names", "expected"),
    [
        ("L N PE", [("error", "mains-named")]),
        ("L1 N", [("error", "mains-named")]),
        ("L1 L2 L3 PE", [("error", "mains-named")]),
        ("LINE NEUTRAL", [("error", "mains-named")]),
        ("L N", [("warning", "mains-names")]),
        *((names, []) for names in ("N", "L", "L1 L2 L3", "N P", "PE", "L R", "NL NR", "PHASE", "LINE GND")),
    ],
)
def test_conductors_by_name(names: str, expected: list[tuple[str, str]]) -> None:
    listed = names.split()
    parts = "; ".join(f"J{n} header-1" for n in range(1, len(listed) + 1))
    found = circuit(parts, ";".join(f"{name}: J{n}.1" for n, name in enumerate(listed, 1)))
    assert codes(found) == expected
