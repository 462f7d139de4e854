"""The PDF, measured as a printer would print it: true to scale, mirrored exactly, nothing lost, nothing executed."""

from __future__ import annotations

import io
import re
import subprocess
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

from placer.guide.build import build_guide
from placer.guide.drawing import plan_scenes
from placer.guide.paper import BAR_MM, GAP_MM, HEAD_MM, MARGIN_MM
from placer.guide.pdf import guide_pdf
from placer.guide.picture import picture_of
from placer.guide.scene import Circle
from placer.plan.findings import Finding
from placer.plan.model import Plan
from tests.guide.plans import generated, hostile, lantern
from tests.outside import need

DPI = 600
PX = DPI / 25.4


@cache
def pdf_of(name: str, paper: str) -> bytes:
    plan = {
        "lantern": lantern,
        "hostile": hostile,
        "strips": lambda: generated("long-strip-39x60", 12, 5, cuts=4),
        "large": lambda: generated("five-hole-100", 10, 7),
    }[name]()
    return guide_pdf(plan, build_guide(plan), plan_scenes(plan), paper)


def words(pdf: bytes) -> list[str]:
    """The text of each page; line breaks count as blanks."""
    return [" ".join((page.extract_text() or "").split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def page_with(pdf: bytes, text: str) -> int:
    return next(number for number, said in enumerate(words(pdf)) if text in said)


def picture(pdf: bytes, page: int, tmp_path: Path) -> np.ndarray:
    """A page at 600 dpi as grey levels."""
    source = tmp_path / "guide.pdf"
    source.write_bytes(pdf)
    command = [need("pdftoppm"), "-r", str(DPI), "-f", str(page + 1), "-l", str(page + 1), "-gray", str(source)]
    run = subprocess.run(command, capture_output=True, check=True)
    return np.asarray(Image.open(io.BytesIO(run.stdout)), dtype=float)


def outline(sheet: np.ndarray, x_mm: float, y_mm: float) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of the board's outline, mm, found near where a board of that size should begin."""
    dark = sheet < 100
    x, y = round(x_mm * PX), round(y_mm * PX)
    row = np.flatnonzero(dark[y + round(15 * PX), :])
    column = np.flatnonzero(dark[:, x + round(15 * PX)])
    return float(row.min()), float(column.min()), float(row.max()), float(column.max())


def ring_centres(sheet: np.ndarray, expected: dict[str, tuple[float, float]]) -> dict[str, tuple[float, float]]:
    """The centre of each hole that is drawn as an open ring, from the middle of its ink, mm.

    What a label or a body covers has more ink than a ring alone, and most are open: those near the median count.
    """
    inks, centres = {}, {}
    for hole, (x_mm, y_mm) in expected.items():
        reach = 0.75
        x0, y0 = round((x_mm - reach) * PX), round((y_mm - reach) * PX)
        size = round(2 * reach * PX)
        ink = np.clip(200 - sheet[y0 : y0 + size, x0 : x0 + size], 0, None)
        if not ink.sum():
            continue
        rows, columns = np.indices(ink.shape) + 0.5
        inks[hole] = float(ink.sum())
        centres[hole] = (
            float(x0 + (columns * ink).sum() / ink.sum()) / PX,
            float(y0 + (rows * ink).sum() / ink.sum()) / PX,
        )
    whole = float(np.median(list(inks.values())))
    return {hole: at for hole, at in centres.items() if abs(inks[hole] / whole - 1) < 0.05}


def open_holes(plan: Plan, side: str) -> dict[str, tuple[float, float]]:
    """Holes with nothing but their own ring near them, mm from the corner of the picture."""
    drawn = picture_of(plan_scenes(plan)[side])
    x0, y0, _, _ = drawn.window
    taken = [plan.board.holes[a] for p in plan.placements.values() for a in p.pins.values()]
    taken += [plan.board.holes[a] for j in plan.jumpers for a in (j.start, j.end)]
    rings = {
        dict(c.data)["hole"]: (c.x - x0, c.y - y0)
        for g in drawn.scene.groups
        if g.id == "holes"
        for c in g.items
        if isinstance(c, Circle)
    }
    near = {a for h in taken for a, o in plan.board.holes.items() if abs(o.x - h.x) < 3 and abs(o.y - h.y) < 3}
    return {hole: at for hole, at in rings.items() if hole not in near}


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_pitch_and_mirror_over_the_whole_board(paper: str, tmp_path: Path) -> None:
    """2.54 mm (0.1 in) a step, fitted to every open hole (least squares); both sides on one page.

    A pitch that is off by a little is off by that much at each step: over the whole board it must stay below 0.02 mm.
    """
    plan = lantern()
    pdf = pdf_of("lantern", paper)
    sheet = picture(pdf, page_with(pdf, "Both sides at true scale"), tmp_path)
    corner = MARGIN_MM + BAR_MM, MARGIN_MM + HEAD_MM
    width = picture_of(plan_scenes(plan)["board"]).window[2]
    measured = {}
    for side, left, sense in (("board", corner[0], 1), ("copper", corner[0] + width + GAP_MM, -1)):
        expected = {hole: (left + x, corner[1] + y) for hole, (x, y) in open_holes(plan, side).items()}
        assert len(expected) > 60
        measured[side] = ring_centres(sheet, expected)
        assert len(measured[side]) > 60
        at = np.array([(plan.board.holes[h].x, plan.board.holes[h].y) for h in measured[side]], dtype=float)
        found = np.array(list(measured[side].values()))
        (pitches, *_) = np.linalg.lstsq(np.column_stack([at, np.ones(len(at))]), found, rcond=None)
        steps = np.ptp(at, axis=0)
        assert steps.tolist() == [17, 29]  # from the first column to the last, from the first row to the last
        meant = np.array([[sense * 2.54, 0], [0, 2.54]])  # columns run across, mirrored on the copper side; rows down
        assert np.abs((pitches[:2] - meant) * steps[:, None]).max() < 0.02
        # And no hole stands off the grid.
        assert np.abs(at @ pitches[:2] + pitches[2] - found).max() < 0.02
    both = sorted(set(measured["board"]) & set(measured["copper"]))
    assert len(both) > 20
    sums = [measured["board"][h][0] + measured["copper"][h][0] for h in both]
    assert max(sums) - min(sums) < 0.06  # x + mirrored x is the same for every hole


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_both_bars_measure_100_mm(paper: str, tmp_path: Path) -> None:
    pdf = pdf_of("lantern", paper)
    sheet = picture(pdf, page_with(pdf, "Both sides at true scale"), tmp_path) < 128
    left = round(MARGIN_MM * PX)
    # The bar that stands: ticks reach 1 to 1.8 mm left of its line, 2 mm from the margin.
    upright = np.flatnonzero(sheet[:, left + round(1.5 * PX)]) / PX
    top = MARGIN_MM + HEAD_MM
    upright = upright[(upright > top - 1) & (upright < top + 102)]
    assert upright.max() - upright.min() == pytest.approx(100, abs=0.1 + 0.18)  # a tick is 0.18 mm wide
    # The bar that lies: where it runs between its ticks, which stand out by half their width, and no further down.
    rows = sheet[round((MARGIN_MM + HEAD_MM + 60) * PX) :, :]
    shortest = min((np.flatnonzero(row) for row in rows if row.sum() > 99 * PX), key=len)
    assert (shortest.max() - shortest.min() + 1) / PX == pytest.approx(100, abs=0.1)


@pytest.mark.parametrize(("paper", "size"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_pages_have_the_paper_s_size(paper: str, size: tuple[float, float]) -> None:
    """A4: ISO 216; letter: 8.5 x 11 in. A page across has the same sides."""
    for name in ("lantern", "strips"):
        for page in PdfReader(io.BytesIO(pdf_of(name, paper))).pages:
            sides = sorted(float(v) * 25.4 / 72 for v in (page.mediabox.width, page.mediabox.height))
            assert sides == pytest.approx(sorted(size), abs=0.1)


def test_a_board_larger_than_the_page_comes_in_sheets_that_say_how_to_join_them() -> None:
    said = words(pdf_of("large", "a4"))
    for side in ("Component side", "Copper side, mirrored"):
        first = [s for s in said if f"{side} at true scale – sheet 1 of 2" in s]
        second = [s for s in said if f"{side} at true scale – sheet 2 of 2" in s]
        assert len(first) == len(second) == 1
        assert all("Line A is on two sheets" in page for page in (*first, *second))


def test_every_step_probe_part_and_wire_is_in_the_pdf() -> None:
    plan = lantern()
    guide = build_guide(plan)
    said = " ".join(words(pdf_of("lantern", "a4")))
    assert "Print at 100 %" in said
    squeezed = said.replace(" ", "")
    for step in guide.steps:
        assert step.title.replace(" ", "") in squeezed
        assert step.text[:40].replace(" ", "") in squeezed
    for wire in guide.wires:
        assert f"{wire.start}–{wire.end}" in squeezed
        assert f"{wire.piece_mm:.0f}mm" in squeezed
    for probe in guide.probes:
        assert probe.expect.replace(" ", "") in squeezed
    for caution in guide.cautions:
        assert caution.text[:40].replace(" ", "") in squeezed


def test_findings_are_told_before_power_and_errors_first_of_all() -> None:
    """A resistor above its power class: at the top, in the table and once more before power."""
    hot = Finding("resistor-power", "error", "R3 turns 1 W into heat", ("R3",), {}, "power class", "use 2 W")
    drop = Finding("voltage-drop", "note", "9.5 mV are lost along VCC", ("VCC",), {}, "law of Ohm")
    plan = replace(lantern(), findings=(drop, hot))
    said = " ".join(words(guide_pdf(plan, build_guide(plan), plan_scenes(plan))))

    top, _, rest = said.partition("Parts Count Value")
    assert "Above a limit: do not build it as it is R3 turns 1 W into heat. Use 2 W." in top
    bears = rest.partition("What it bears")[2].partition("First power-up")[0]
    assert "1 error, 1 note." in bears
    table = bears.partition("Found Mend Source")[2]
    assert table.index("Error R3 turns 1 W into heat use 2 W power class") < table.index(
        "Note 9.5 mV are lost along VCC"
    )
    assert "law of Ohm" in table
    power = rest.partition("First power-up")[2]
    assert "do not switch on Until this is mended: R3 turns 1 W into heat." in power


def test_a_plan_without_errors_is_not_warned_of_as_a_whole() -> None:
    assert "Above a limit" not in " ".join(words(pdf_of("lantern", "a4")))


def test_what_is_said_before_a_list_stands_on_the_page_where_the_list_begins() -> None:
    for parts in range(13, 21):
        plan = generated("five-hole-100", parts, 7)
        pdf = guide_pdf(plan, build_guide(plan), plan_scenes(plan), "a4")
        said = words(pdf)[page_with(pdf, "Jumpers to cut")]
        assert re.search("Jumpers to cut Cut is the length .* Hole to hole", said), parts


def test_same_plan_same_bytes_and_no_date() -> None:
    plan = lantern()
    again = guide_pdf(plan, build_guide(plan), plan_scenes(plan), "a4")
    assert again == pdf_of("lantern", "a4")
    facts = PdfReader(io.BytesIO(again)).metadata
    assert facts is not None
    assert facts.creation_date is None


def test_names_that_look_like_markup_are_set_as_they_are() -> None:
    said = " ".join(words(pdf_of("hostile", "a4"))).replace(" ", "")
    assert "<script>harmed=1</script>" in said
    assert '#eval("1")$x$*bold*@ref\\u{41}' in said
    assert "#include" in said
    bears = said.partition("Whatitbears")[2]
    assert "<script>harmed=1</script>ishot" in bears
    assert '#eval("1")*mend*' in bears


def test_the_typeface_comes_with_the_document() -> None:
    fonts = set()
    for page in PdfReader(io.BytesIO(pdf_of("lantern", "a4"))).pages:
        resources = page["/Resources"]
        for font in resources.get("/Font", {}).values():  # type: ignore[attr-defined]
            fonts.add(font.get_object()["/BaseFont"].split("+")[-1])
    assert fonts
    assert all(name.startswith("DejaVuSans") for name in fonts)
