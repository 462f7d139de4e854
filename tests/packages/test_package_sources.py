"""The catalogue against published figures and the arithmetic on them; each check names its source beside it."""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

import pytest

from placer.packages.catalogue import lookup
from placer.packages.model import Diagonal, Rigid, TwoLead

D = Decimal
STEP = D("2.54")


def rigid(name: str) -> Rigid:
    form = lookup(name).form
    assert isinstance(form, Rigid)
    return form


def two_lead(name: str) -> TwoLead:
    form = lookup(name).form
    assert isinstance(form, TwoLead)
    return form


def at(name: str) -> dict[str, tuple[int, int]]:
    package = lookup(name)
    return dict(zip(package.pins, rigid(name).offsets, strict=True))


def size(name: str) -> tuple[float, float]:
    body = rigid(name).body
    assert body is not None
    x0, y0, x1, y1 = body
    return round(x1 - x0, 4), round(y1 - y0, 4)


# --- dual in-line ------------------------------------------------------------------------------------------------

NARROW = [4, 6, 8, 10, 12, 14, 16, 18, 20, 24, 28]
DIPS = [(f"dip-{n}", n) for n in NARROW] + [(f"dip-{n}-wide", n) for n in (24, 28, 40)]


@pytest.mark.parametrize(("name", "n"), DIPS)
def test_pin_k_faces_pin_n_plus_1_minus_k_and_pins_run_counter_clockwise(name: str, n: int) -> None:
    """JEDEC practice (from memory): pin 1 top left, down the left row, back up the right row."""
    place = at(name)
    rows = 6 if name.endswith("wide") else 3

    for k in range(1, n // 2 + 1):
        assert place[str(k)] == (0, k - 1)
        assert place[str(n + 1 - k)] == (rows, k - 1)


# Row spacing at the lead: E = 7.62..8.25 in JEDEC MS-001 via case outline 646AA-01; eA 15.24 BSC in JEDEC MS-011-AC
# via the 82C55A datasheet, outline E40.6.
@pytest.mark.parametrize(("name", "spacing"), [("dip-8", "7.62"), ("dip-28", "7.62"), ("dip-40-wide", "15.24")])
def test_row_spacing(name: str, spacing: str) -> None:
    place = at(name)

    assert (place[str(len(place))][0] - place["1"][0]) * STEP == D(spacing)


# First to last lead of a row, (n/2 - 1) x 2.54 with e = 2.54 BSC (JEDEC MS-001 via 646AA-01; MS-011-AC via E40.6).
@pytest.mark.parametrize(
    ("name", "length"),
    [
        ("dip-8", "7.62"),
        ("dip-14", "15.24"),
        ("dip-16", "17.78"),
        ("dip-18", "20.32"),
        ("dip-20", "22.86"),
        ("dip-24-wide", "27.94"),
        ("dip-28-wide", "33.02"),
        ("dip-40-wide", "48.26"),
    ],
)
def test_first_to_last_lead(name: str, length: str) -> None:
    place = at(name)
    last = str(len(place) // 2)

    assert (place[last][1] - place["1"][1]) * STEP == D(length)


@pytest.mark.parametrize(
    ("name", "width", "length"),
    [
        ("dip-8", 7.11, 10.16),  # JEDEC MS-001 via case outline 646AA-01: E1 max, D max
        ("dip-14", 7.11, 19.69),  # E1 as above; D from memory, JEDEC MS-001 variations, as are 16 to 24
        ("dip-16", 7.11, 19.69),
        ("dip-18", 7.11, 22.35),
        ("dip-20", 7.11, 26.92),
        ("dip-24", 7.11, 32.51),
        ("dip-24-wide", 14.73, 32.77),  # E1: JEDEC MS-011-AC via E40.6; D from memory
        ("dip-28-wide", 14.73, 39.75),  # D: JEDEC MS-011-AB, drawing MPDI056
        ("dip-40-wide", 14.73, 53.2),  # D: JEDEC MS-011-AC via 82C55A datasheet, outline E40.6
        ("to-92", 4.6, 3.56),  # TO-92 packing specification KSA-A0A000-003
        ("to-220", 10.66, 4.82),  # outline document 95221, SBR20A60 drawing: E max, A max
        ("button-6", 6.0, 6.0),  # PTS645 series datasheet
    ],
)
def test_rigid_bodies_have_the_largest_published_size(name: str, width: float, length: float) -> None:
    assert size(name) == (width, length)


def test_dual_in_line_heights() -> None:
    """A max: 5.33 in JEDEC MS-001 via case outline 646AA-01, 6.35 in JEDEC MS-011-AC via outline E40.6."""
    assert lookup("dip-16").height_mm == 5.33
    assert lookup("dip-40-wide").height_mm == 6.35


@pytest.mark.parametrize(
    ("name", "a", "b"),
    [
        ("dip-8", 0.56, 0.36),  # b and c max: JEDEC MS-001 via case outline 646AA-01
        ("dip-40-wide", 0.56, 0.38),  # b 0.558, c 0.381: JEDEC MS-011-AC via outline E40.6
        ("led-5", 0.50, 0.50),  # HLMP-BL01 datasheet p.5, nominal
        ("led-3", 0.50, 0.50),  # GB-413 datasheet
        ("header-4", 0.64, 0.64),  # 0.64 square post, header page of an encyclopaedia
        ("to-220", 0.81, 0.50),  # typical b: SBR20A60 drawing
        ("to-92", 0.53, 0.53),  # 0.48 + 0.05: TO-92 packing specification KSA-A0A000-003
        ("button-6", 0.70, 0.30),  # from memory
    ],
)
def test_a_flat_lead_counts_with_its_diagonal(name: str, a: float, b: float) -> None:
    assert lookup(name).lead_mm == pytest.approx(math.hypot(a, b), abs=0.001)


def test_a_to_220_covers_five_hole_columns() -> None:
    """Derived from E max 10.66 (outline document 95221): +-5.33 = +-2.1 steps from the middle lead."""
    body = rigid("to-220").body
    assert body is not None

    assert sum(body[0] < 2.54 * k < body[2] for k in range(-9, 12)) == 5


# --- axial parts: the lead-bend rule -----------------------------------------------------------------------------


def bend_span(length: str, lead: str) -> Decimal:
    """Shortest lead distance S = L + 2 (max(0.8, d) + r + d/2), mm.

    Training page restating the IPC-A-610 / J-STD-001 rule (Table 7-1): straight part at least one diameter and 0.8;
    inside radius 1 d below 0.8, 1.5 d to 1.2, 2 d above.
    """
    d = D(lead)
    radius = d if d < D("0.8") else d * D("1.5") if d <= D("1.2") else d * 2
    return D(length) + 2 * (max(D("0.8"), d) + radius + d / 2)


def bend_steps(length: str, lead: str) -> int:
    return int((bend_span(length, lead) / STEP).to_integral_value(ROUND_CEILING))


@pytest.mark.parametrize(
    ("name", "length", "lead", "span", "steps"),
    [
        ("axial-0204", "3.7", "0.5", "6.80", 3),  # body and lead from memory: DIN size codes
        ("axial-0207", "6.5", "0.6", "9.90", 4),
        ("axial-0309", "9.0", "0.6", "12.40", 5),
        ("axial-0309", "9.0", "0.7", "12.70", 5),
        ("do-35", "4.25", "0.56", "7.53", 3),  # from memory: SOD27 drawing
        ("do-41", "5.2", "0.72", "8.96", 4),  # DO-204-AL in the DO-204 table (encyclopaedia reprint of JEDEC)
    ],
)
def test_the_shortest_flat_distance_is_the_lead_bend_rules(
    name: str, length: str, lead: str, span: str, steps: int
) -> None:
    form = two_lead(name)

    assert bend_span(length, lead) == D(span)
    assert bend_steps(length, lead) == steps == min(form.flat)
    assert form.length == float(length)
    assert lookup(name).lead_mm >= float(lead)


@pytest.mark.parametrize("name", ["axial-0204", "axial-0207", "axial-0309", "do-35"])
def test_the_rule_holds_for_the_catalogued_body_with_the_largest_lead(name: str) -> None:
    assert bend_steps(str(two_lead(name).length), str(lookup(name).lead_mm)) == min(two_lead(name).flat)


def test_a_0207_resistor_at_3_steps_breaks_the_rule() -> None:
    """(7.62 - 6.5) / 2 = 0.56 is left from body end to lead centre; the rule asks for 0.8 straight alone."""
    assert (3 * STEP - D(str(two_lead("axial-0207").length))) / 2 == D("0.56")
    assert 3 not in two_lead("axial-0207").flat


@pytest.mark.parametrize(
    ("name", "length", "lead", "span", "steps"),
    [
        ("do-35", "5.08", "0.55", "8.33", 4),  # longest DO-204-AH body: DO-204 table (encyclopaedia reprint of JEDEC)
        ("do-41", "5.2", "0.86", "10.36", 5),  # thickest DO-204-AL lead: same table
    ],
)
def test_where_an_extreme_part_needs_one_step_more_the_source_says_so(
    name: str, length: str, lead: str, span: str, steps: int
) -> None:
    assert bend_span(length, lead).quantize(D("0.01")) == D(span)
    assert bend_steps(length, lead) == steps == min(two_lead(name).flat) + 1
    said = lookup(name).sources["flat"]
    assert span in said
    assert "measure yours" in said


def test_the_thickest_do_41_lead_that_still_bends_to_4_steps() -> None:
    """The limit that the source text states: 5.2 + 6 d <= 10.16 from d = 0.8 on, so d <= 0.826."""
    assert bend_steps("5.2", "0.82") == 4
    assert bend_steps("5.2", "0.83") == 5
    assert "over 0.82" in lookup("do-41").sources["flat"]


@pytest.mark.parametrize(
    ("name", "flat", "standing"),
    [
        ("axial-0204", (3, 8), (1, 2)),
        ("axial-0207", (4, 8), (1, 2)),
        ("axial-0309", (5, 9), ()),
        ("do-35", (3, 8), (1, 2)),
        ("do-41", (4, 8), (1, 2)),
        ("disc-2.5", (1, 3), ()),
        ("disc-5", (1, 3), ()),
        ("film-5", (2, 2), ()),
        ("film-10", (4, 4), ()),
        ("film-15", (6, 6), ()),
        ("radial-5", (1, 2), ()),
        ("radial-6.3", (1, 2), ()),
        ("radial-8", (1, 2), ()),
        ("radial-10", (2, 2), ()),
        ("radial-13", (2, 2), ()),
        ("led-3", (1, 2), ()),
        ("led-5", (1, 2), ()),
        ("crystal-hc49", (2, 2), ()),
    ],
)
def test_the_lead_distances_of_the_contract(name: str, flat: tuple[int, int], standing: tuple[int, ...]) -> None:
    form = two_lead(name)

    assert form.flat == tuple(range(flat[0], flat[1] + 1))
    assert form.standing == standing


# --- cans, boxes, lamps ------------------------------------------------------------------------------------------

# Lead spacing F and can diameter D: 515D series lead-form table; D 5 also single-ended capacitor taping document A4007.
CANS = [("radial-5", "5", "2.0"), ("radial-6.3", "6.3", "2.5"), ("radial-8", "8", "3.5"), ("radial-10", "10", "5.0")]


@pytest.mark.parametrize(("name", "diameter", "spacing"), CANS)
def test_a_can_includes_its_tolerance_and_stands_on_a_near_distance(name: str, diameter: str, spacing: str) -> None:
    """Diameter tolerance +0.5 (from memory); a distance off by at most 1 step of the lead spacing can be bent."""
    form = two_lead(name)

    assert form.length == form.width == float(D(diameter) + D("0.5"))
    nearest = int((D(spacing) / STEP).to_integral_value())
    assert nearest in form.flat or name == "radial-8"  # 3.5 lies between 1 and 2 steps: both are listed
    assert all(abs(steps * STEP - D(spacing)) < D("3.1") for steps in form.flat)


def test_two_10_mm_cans_need_5_steps() -> None:
    """Derived: 10.5 > 4 steps = 10.16, which two nominal cans would have fitted."""
    pitch = math.ceil(D(str(two_lead("radial-10").width)) / STEP)

    assert pitch == 5


# Pitches from memory (10.0 and 15.0 named in an RFI capacitor datasheet); the errors on the grid are derived.
@pytest.mark.parametrize(
    ("name", "pitch", "error"), [("film-5", "5.0", "0.08"), ("film-10", "10.0", "0.16"), ("film-15", "15.0", "0.24")]
)
def test_film_boxes_on_the_grid(name: str, pitch: str, error: str) -> None:
    (steps,) = two_lead(name).flat

    assert steps * STEP - D(pitch) == D(error)
    assert two_lead(name).length > float(pitch)


def test_led_bodies_are_their_flanges() -> None:
    """Flange 3.8: GB-413 datasheet. Flange 5.8..5.9: from memory; body 5.00 +-0.20: HLMP-BL01 datasheet p.5."""
    assert two_lead("led-3").width == 3.8
    assert two_lead("led-5").width == 5.9 > 5.20


def test_crystal_case_covers_the_published_one() -> None:
    """Case 10.77 x 4.34: HC49-4H datasheet; 11.05 x 4.65, pitch 4.88: from memory, IEC 60122-3."""
    form = two_lead("crystal-hc49")

    assert (form.length, form.width) >= (10.77, 4.34)
    assert form.flat[0] * STEP - D("4.88") == D("0.20")


def test_button_pins_are_a_3_by_2_rectangle_joined_along_the_long_side() -> None:
    """From memory: 6.5 x 4.5 rectangle, 3 steps +1.12, 2 steps +0.58; pairs across the 6.5 side."""
    place = at("button-6")

    assert place == {"1": (0, 0), "2": (3, 0), "3": (0, 2), "4": (3, 2)}
    assert lookup("button-6").joined == (("1", "2"), ("3", "4"))
    assert (3 * STEP - D("6.5"), 2 * STEP - D("4.5")) == (D("1.12"), D("0.58"))


def test_relay_pins_stand_on_the_16_pin_grid() -> None:
    sixteen = at("dip-16")

    assert at("relay") == {pin: sixteen[pin] for pin in ("1", "4", "6", "8", "9", "11", "13", "16")}


def test_two_row_headers_number_across() -> None:
    """Ribbon-cable connector practice (from memory): 1 and 2 opposite, 3 and 4 next."""
    assert at("header-2x3") == {"1": (0, 0), "2": (1, 0), "3": (0, 1), "4": (1, 1), "5": (0, 2), "6": (1, 2)}


@pytest.mark.parametrize(("name", "pitch"), [("header-5", 1), ("sip-5", 1), ("terminal-5", 2), ("terminal-5-5.0", 2)])
def test_parts_in_one_row_count_left_to_right(name: str, pitch: int) -> None:
    assert rigid(name).offsets == tuple((k * pitch, 0) for k in range(5))


# --- screw terminals ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("poles", "error"), [(2, "0.04"), (3, "0.08"), (4, "0.12"), (6, "0.20"), (8, "0.28"), (12, "0.44")]
)
def test_a_5_00_terminal_is_off_by_0_04_a_pole_at_each_end(poles: int, error: str) -> None:
    """Derived: (5.08 - 5.00)(k - 1) end to end, half of it at each end with the body centred."""
    spread = D(str(lookup(f"terminal-{poles}-5.0").spread_mm))

    assert spread / 2 == D(error)


# Largest number of poles of a 5.00 terminal with leads of diameter d in holes of H: floor(1 + (H - d) / 0.08), derived.
LEADS = ("0.8", "0.9", "1.0", "1.1", "1.2")
LARGEST = {
    "1.0": (3, 2, 1, 0, 0),
    "1.1": (4, 3, 2, 1, 0),
    "1.2": (6, 4, 3, 2, 1),
    "1.3": (7, 6, 4, 3, 2),
    "1.5": (9, 8, 7, 6, 4),
}


@pytest.mark.parametrize("hole", LARGEST)
def test_how_many_poles_of_a_5_00_terminal_enter_a_hole(hole: str) -> None:
    """The catalogue's spread with the geometry's rule, lead + spread <= hole, gives the same table."""
    for lead, expected in zip(LEADS, LARGEST[hole], strict=True):
        by_formula = int((1 + (D(hole) - D(lead)) / D("0.08")).to_integral_value(ROUND_FLOOR))
        assert max(by_formula, 0) == expected
        fitting = [
            poles for poles in range(2, 25) if D(lead) + D(str(lookup(f"terminal-{poles}-5.0").spread_mm)) <= D(hole)
        ]
        assert max(fitting, default=1) == max(expected, 1)


def test_the_catalogued_terminal_lead_in_usual_holes() -> None:
    """The 0.9 column of the table above, in integer um as the geometry compares."""
    for hole, poles in ((1000, 2), (1100, 3), (1200, 4), (1300, 6), (1500, 8)):
        packages = [lookup(f"terminal-{k}-5.0") for k in range(2, 25)]
        fit = [p for p in packages if round(p.lead_mm * 1000) + round(p.spread_mm * 1000) <= hole]
        assert len(fit[-1].pins) == poles


def test_a_5_08_terminal_fits_with_any_number_of_poles() -> None:
    assert {lookup(f"terminal-{k}").spread_mm for k in range(2, 25)} == {0.0}


def test_a_3_50_terminal_stands_on_the_diagonal() -> None:
    """Derived: the diagonal neighbour is 3.592 away, 0.046 off at each end."""
    package = lookup("terminal-2-3.5")

    assert isinstance(package.form, Diagonal)
    assert package.form.length == 7.0
    away = math.hypot(2.54, 2.54)
    assert round(away, 3) == 3.592
    assert package.spread_mm >= away - 3.5
    assert package.spread_mm / 2 == pytest.approx(0.046, abs=0.0005)
    assert package.lead_mm + package.spread_mm <= 1.0


def test_flying_leads_are_wires_up_to_awg_20() -> None:
    """AWG diameter 0.127 x 92 ** ((36 - n) / 39) mm (from memory: ASTM B258)."""
    for name in ("pad-2", "barrel-jack", "usb-b"):
        assert 0 <= lookup(name).lead_mm - 0.127 * 92 ** ((36 - 20) / 39) < 0.01
