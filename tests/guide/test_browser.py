"""The page in a real browser, opened from disk: what a builder does with it on a phone and on a laptop."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from selenium import webdriver
from selenium.webdriver.common.keys import Keys

from placer.guide.build import build_guide
from placer.guide.drawing import plan_scenes
from placer.guide.html import guide_html
from placer.plan.file import read_plan
from placer.plan.model import Plan
from tests.guide.browser import LAPTOP, PHONE, Page, started
from tests.guide.plans import generated, hostile

OUTPUTS = Path(__file__).resolve().parents[2] / "outputs"
CIRCUITS = ("gate-blinker", "hive-counter", "solar-charge-indicator")
SCREENS = pytest.mark.parametrize("screen", [PHONE, LAPTOP], ids=["phone", "laptop"])


@pytest.fixture(scope="module")
def browser() -> Iterator[webdriver.Chrome]:
    with started() as driver:
        yield driver


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    plans: dict[str, Plan] = {name: read_plan(OUTPUTS / name / "plan.json") for name in CIRCUITS}
    plans["hostile"] = hostile()
    plans["strips"] = generated("long-strip-39x60", 12, 5, jumpers=6, cuts=4)
    for name, plan in plans.items():
        path = folder / f"{name}.html"
        path.write_text(guide_html(plan, build_guide(plan), plan_scenes(plan)), encoding="utf-8")
    return {name: folder / f"{name}.html" for name in plans}


def current(page: Page) -> str:
    return page.js("document.querySelector('.step.current').id")


@SCREENS
@pytest.mark.parametrize("name", CIRCUITS)
def test_all_steps_can_be_walked_and_marks_outlast_a_reload(
    browser: webdriver.Chrome, pages: dict[str, Path], name: str, screen: tuple[int, int, bool]
) -> None:
    page = Page(browser, pages[name], screen)
    page.js("localStorage.clear()")
    browser.refresh()
    steps = page.js("document.querySelectorAll('.step').length")
    assert steps > 10
    seen = []
    for number in range(steps):
        seen.append(current(page))
        holes = page.js("JSON.parse(document.querySelector('.step.current').dataset.holes).length")
        assert page.js("document.querySelectorAll('.sheet.shown .ring').length") == holes
        assert page.js("document.querySelector('.step.current .do').getClientRects().length") > 0
        assert page.widest() == []
        if number % 2 == 0:
            page.click("#done")
        elif number < steps - 1:
            page.click("#next")
    assert seen == [f"step-{number}" for number in range(1, steps + 1)]

    browser.refresh()
    marks = page.js("[...document.querySelectorAll('.step input[data-mark]')].map((tick) => tick.checked)")
    assert marks == [number % 2 == 0 for number in range(steps)]
    assert page.js("document.querySelector('#count').textContent") == f"{-(-steps // 2)} of {steps} steps done"
    assert current(page) == seen[-1]
    assert page.errors() == []


@SCREENS
def test_what_is_soldered_now_is_shown_and_what_comes_later_is_not(
    browser: webdriver.Chrome, pages: dict[str, Path], screen: tuple[int, int, bool]
) -> None:
    page = Page(browser, pages["hive-counter"], screen)
    shown = "[...document.querySelectorAll('.sheet.shown g.part')].filter((g) => g.getClientRects().length).length"
    page.js("document.querySelector('#step-20 .go').click()")
    assert page.js("document.querySelectorAll('.sheet.shown g.part.now').length") == 1
    by_now = page.js(shown)
    page.click("#all")
    assert page.js(shown) == 33
    assert 0 < by_now < 33
    page.click("#all")
    assert page.js(shown) == by_now
    # The ringed holes are in sight.
    assert page.js(
        """[...document.querySelectorAll('.sheet.shown .ring')].every((ring) => {
          const a = ring.getBoundingClientRect(), b = document.querySelector('#stage').getBoundingClientRect();
          return a.top >= b.top && a.bottom <= b.bottom && a.left >= b.left && a.right <= b.right;
        })"""
    )


@SCREENS
def test_sides_are_switched_and_a_net_is_traced_on_both(
    browser: webdriver.Chrome, pages: dict[str, Path], screen: tuple[int, int, bool]
) -> None:
    page = Page(browser, pages["hive-counter"], screen)
    plan = read_plan(OUTPUTS / "hive-counter" / "plan.json")
    supply = next(net for net in plan.circuit.nets if net.name == "V9")
    pins = [plan.placements[pin.part].pins[pin.pin] for pin in supply.pins]

    page.click("[data-side=copper]")
    assert page.js("[...document.querySelectorAll('.sheet.shown')].map((s) => s.dataset.sheet)") == ["copper"]
    page.click("[data-side=board]")
    page.js("document.querySelector('.sheet.shown [data-hole=\"' + arguments[0] + '\"]').dispatchEvent("
            "new MouseEvent('click', {bubbles: true}))", pins[0])  # fmt: skip
    for side in ("board", "copper"):
        lit = page.js(
            "[...document.querySelectorAll(`[data-sheet=${arguments[0]}] circle.lit[data-hole]`)]"
            ".map((c) => c.dataset.hole)",
            side,
        )
        assert set(pins) <= set(lit)
        ground = next(net for net in plan.circuit.nets if net.name == "GND")
        assert not {plan.placements[pin.part].pins[pin.pin] for pin in ground.pins} & set(lit)
    said = page.js("document.querySelector('#trace-text').textContent")
    assert said.startswith("Net V9 (supply): ")
    assert all(f"{pin.part}.{pin.pin} in " in said for pin in supply.pins)
    page.click("#untrace")
    assert page.js("document.querySelectorAll('.lit').length") == 0
    assert page.errors() == []


def test_the_copper_side_is_the_mirror_image_on_the_screen_too(
    browser: webdriver.Chrome, pages: dict[str, Path]
) -> None:
    page = Page(browser, pages["gate-blinker"], LAPTOP)
    places = """Object.fromEntries([...document.querySelectorAll('.sheet.shown [data-hole]')].map((hole) => {
      const a = hole.getBoundingClientRect();
      const b = document.querySelector('.sheet.shown .outline path').getBoundingClientRect();
      return [hole.dataset.hole, [a.left + a.width / 2 - b.left, b.right - a.left - a.width / 2, a.top - b.top]];
    }))"""
    page.click("[data-side=board]")
    front = page.js(places)
    page.click("[data-side=copper]")
    back = page.js(places)
    assert len(front) == 420  # 30 rows of 2 x 5 holes and 4 rails
    assert front.keys() == back.keys()
    for hole, (left, right, top) in front.items():
        assert back[hole] == pytest.approx([right, left, top], abs=0.05)


@SCREENS
def test_every_section_fits_the_screen(
    browser: webdriver.Chrome, pages: dict[str, Path], screen: tuple[int, int, bool]
) -> None:
    for name in ("hive-counter", "strips", "hostile"):
        page = Page(browser, pages[name], screen)
        views = page.js("[...document.querySelectorAll('nav a')].map((a) => a.dataset.view)")
        assert {"steps", "parts", "tests", "power", "cautions"} <= set(views)
        for view in views:
            page.click(f"nav a[data-view={view}]")
            assert page.js("[...document.querySelectorAll('#views > section.shown')].map((s) => s.id)") == [view]
            assert page.widest() == [], (name, view)
        assert page.errors() == []


def test_lists_show_on_the_board_what_they_name(browser: webdriver.Chrome, pages: dict[str, Path]) -> None:
    page = Page(browser, pages["strips"], PHONE)
    for view, count in (("parts", None), ("jumpers", 2), ("cuts", None), ("tests", 2)):
        page.click(f"nav a[data-view={view}]")
        page.click(f"#{view} .show")
        rings = page.js("document.querySelectorAll('.sheet.shown .ring').length")
        assert rings == count if count else rings > 0
        assert page.js("document.querySelectorAll('.show[aria-pressed=true]').length") == 1


def test_a_cut_is_shown_from_the_copper_side(browser: webdriver.Chrome, pages: dict[str, Path]) -> None:
    page = Page(browser, pages["strips"], LAPTOP)
    page.js("document.querySelector('.step[data-kind=cut] .go').click()")
    assert page.js("document.querySelector('.sheet.shown').dataset.sheet") == "copper"
    page.js("document.querySelector('.step[data-kind=part] .go').click()")
    assert page.js("document.querySelector('.sheet.shown').dataset.sheet") == "board"


def test_the_keyboard_alone_suffices(browser: webdriver.Chrome, pages: dict[str, Path]) -> None:
    page = Page(browser, pages["gate-blinker"], LAPTOP)
    page.js("localStorage.clear()")
    browser.refresh()
    page.press(Keys.ARROW_RIGHT, Keys.ARROW_RIGHT)
    assert current(page) == "step-3"
    page.press(Keys.ARROW_LEFT)
    assert current(page) == "step-2"
    page.press("d")
    assert page.js("document.querySelector('#step-2 input').checked")
    page.press("s")
    assert page.js("document.querySelector('.sheet.shown').dataset.sheet") == "copper"
    width = "document.querySelector('.sheet.shown svg').getBoundingClientRect().width"
    before = page.js(width)
    page.press("+")
    assert page.js(width) > before
    page.tab_to("nav a[data-view=tests]")
    outline = "getComputedStyle(document.activeElement).outlineStyle"
    assert page.js(outline) == "solid"  # where the focus is can be seen
    page.press(Keys.ENTER)
    assert page.js("document.body.dataset.view") == "tests"
    page.tab_to("#tests input")
    page.press(Keys.SPACE)
    assert page.js("document.querySelector('#tests input').checked")
    page.tab_to("#tests .show")
    page.press(Keys.ENTER)
    assert page.js("document.querySelectorAll('.sheet.shown .ring').length") == 2
    page.tab_to("nav a[data-view=steps]", back=True)
    page.press(Keys.ENTER)
    page.tab_to(".step.current .net")
    assert page.js("document.querySelectorAll('.sheet.shown circle.lit').length") > 0  # focus alone traces
    page.tab_to("#nets", back=True)
    page.press("V")
    assert page.js("document.querySelector('#nets').value").startswith("V")
    assert page.js("document.querySelectorAll('.sheet.shown circle.lit').length") > 0
    page.tab_to("#done")
    page.press(Keys.ENTER)
    assert page.js("document.querySelector('#step-2 input').checked")
    assert current(page) == "step-3"
    assert page.js("document.querySelector('#told').textContent").startswith("Step 3 of ")
    assert page.errors() == []


def test_letter_keys_can_be_turned_off(browser: webdriver.Chrome, pages: dict[str, Path]) -> None:
    """WCAG 2.1, success criterion 2.1.4: shortcuts of a single letter can be turned off."""
    page = Page(browser, pages["gate-blinker"], LAPTOP)
    page.js("document.querySelector('#keys').click()")
    page.press("s")
    assert page.js("document.querySelector('.sheet.shown').dataset.sheet") == "board"


def swipe(page: Page, query: str, dx: int) -> None:
    page.js(
        """(() => {
          const target = document.querySelector(arguments[0]);
          const box = target.getBoundingClientRect();
          const at = (x) => new Touch({ identifier: 1, target, clientX: box.left + 200 + x, clientY: box.top + 60 });
          const fire = (type, x, list) => target.dispatchEvent(new TouchEvent(type, {
            bubbles: true, cancelable: true, touches: list ? [at(x)] : [], changedTouches: [at(x)],
          }));
          fire("touchstart", 0, true);
          fire("touchend", arguments[1], false);
        })()""",
        query,
        dx,
    )


def test_touch_swipes_through_the_steps_and_pinches_the_board(
    browser: webdriver.Chrome, pages: dict[str, Path]
) -> None:
    page = Page(browser, pages["hive-counter"], PHONE)
    page.js("localStorage.clear()")
    browser.refresh()
    swipe(page, "#views", -120)
    assert current(page) == "step-2"
    swipe(page, "#views", 120)
    assert current(page) == "step-1"
    swipe(page, "#views", -20)
    assert current(page) == "step-1"

    width = "document.querySelector('.sheet.shown svg').getBoundingClientRect().width"
    before = page.js(width)
    page.js(
        """(() => {
          const target = document.querySelector("#stage");
          const box = target.getBoundingClientRect();
          const pair = (half) => [-half, half].map((x, identifier) => new Touch({
            identifier, target, clientX: box.left + 190 + x, clientY: box.top + 100,
          }));
          for (const [type, half] of [["touchstart", 40], ["touchmove", 80]]) {
            target.dispatchEvent(new TouchEvent(type, { bubbles: true, cancelable: true, touches: pair(half) }));
          }
        })()"""
    )
    assert page.js(width) == pytest.approx(2 * before, rel=0.01)


@pytest.mark.parametrize(
    ("name", "screen", "dark"),
    [("gate-blinker", PHONE, False), ("strips", LAPTOP, True), ("hostile", PHONE, True), ("hostile", LAPTOP, False)],
)
def test_nothing_serious_for_accessibility(
    browser: webdriver.Chrome, pages: dict[str, Path], name: str, screen: tuple[int, int, bool], dark: bool
) -> None:
    """Rules of axe-core, a published checker of WCAG."""
    page = Page(browser, pages[name], screen, dark=dark)
    told = ("findings",) if name == "hostile" else ()
    for view in ("steps", "parts", "tests", "power", *told, "cautions"):
        page.click(f"nav a[data-view={view}]")
        assert page.serious() == [], view


def test_light_and_dark_follow_the_system_until_chosen(browser: webdriver.Chrome, pages: dict[str, Path]) -> None:
    paper = "getComputedStyle(document.querySelector('#stage')).backgroundColor"
    page = Page(browser, pages["gate-blinker"], LAPTOP, dark=True)
    page.js("localStorage.clear()")
    browser.refresh()
    dark = page.js(paper)
    page.click("#theme")
    light = page.js(paper)
    assert light == "rgb(255, 255, 255)"
    assert dark != light
    browser.refresh()
    assert page.js(paper) == light
    page.js("localStorage.clear()")


def test_hostile_names_are_shown_and_do_nothing(browser: webdriver.Chrome, pages: dict[str, Path]) -> None:
    page = Page(browser, pages["hostile"], LAPTOP)
    steps = page.js("document.querySelectorAll('.step').length")
    for _ in range(steps - 1):
        page.click("#next")
    assert page.js("window.harmed === undefined")
    assert page.js("document.querySelectorAll('main script, main img, main iframe').length") == 0
    assert page.js("document.querySelectorAll('script').length") == 2  # the data and the page's own
    text = page.js("document.querySelector('#views').textContent")
    assert "<script>harmed=1</script>" in text
    assert "\u05d0\u05d1\u05d2" in text
    page.js("document.querySelector('#nets').selectedIndex = 1")
    page.js("document.querySelector('#nets').dispatchEvent(new Event('change'))")
    assert page.js("document.querySelectorAll('.lit').length") > 0
    assert page.errors() == []


def test_marks_of_one_plan_are_not_those_of_another_and_a_shut_store_is_no_fault(
    browser: webdriver.Chrome, pages: dict[str, Path]
) -> None:
    page = Page(browser, pages["gate-blinker"], LAPTOP)
    page.js("localStorage.clear()")
    browser.refresh()
    page.click("#done")
    page = Page(browser, pages["hive-counter"], LAPTOP)
    assert page.js("document.querySelectorAll('input[data-mark]:checked').length") == 0

    shut = {"source": "Object.defineProperty(window, 'localStorage', {get() { throw new Error('shut'); }});"}
    made = browser.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", shut)
    try:
        browser.refresh()
        page.click("#done")
        assert page.js("document.querySelector('#step-1 input').checked")
        assert current(page) == "step-2"
        assert page.errors() == []
    finally:
        browser.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", {"identifier": made["identifier"]})


def test_print_shows_every_section_and_both_sides_at_1_to_1(browser: webdriver.Chrome, pages: dict[str, Path]) -> None:
    page = Page(browser, pages["gate-blinker"], LAPTOP)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    page.js("window.dispatchEvent(new Event('beforeprint'))")
    hidden = "[...document.querySelectorAll('#views > section, .sheet, .step .body')].filter((e) => !e.offsetHeight)"
    assert page.js(f"{hidden}.length") == 0
    assert page.js("document.querySelector('#walk').offsetHeight + document.querySelector('nav').offsetHeight") == 0
    # 1 mm is 96 / 25.4 px (CSS Values and Units).
    sizes = page.js(
        "[...document.querySelectorAll('.sheet')].map((s) => "
        "[s.dataset.width * 96 / 25.4, s.querySelector('svg').getBoundingClientRect().width])"
    )
    for meant, found in sizes:
        assert found == pytest.approx(meant, abs=0.5)
