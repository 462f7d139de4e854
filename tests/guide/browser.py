"""A real browser without a window, for tests of the page."""

from __future__ import annotations

import importlib.util
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from tests.outside import need

PHONE = (390, 844, True)
LAPTOP = (1440, 900, False)
_QUIET = ("--headless=new", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars", "--no-first-run")


@contextmanager
def started() -> Iterator[webdriver.Chrome]:
    """Chromium under control, or a skip where it is missing."""
    options = webdriver.ChromeOptions()
    options.binary_location = need("chromium")
    for word in _QUIET:
        options.add_argument(word)
    if os.geteuid() == 0:
        options.add_argument("--no-sandbox")  # Chromium does not start for the superuser otherwise
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(need("chromedriver")))
    driver.set_script_timeout(60)
    try:
        yield driver
    finally:
        driver.quit()


class Page:
    """A guide in the browser."""

    def __init__(self, driver: webdriver.Chrome, path: Path, screen: tuple[int, int, bool], *, dark: bool = False):
        self.driver = driver
        width, height, mobile = screen
        size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": mobile}
        driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        driver.execute_cdp_cmd("Emulation.setTouchEmulationEnabled", {"enabled": mobile})
        features = [
            {"name": "prefers-color-scheme", "value": "dark" if dark else "light"},
            {"name": "prefers-reduced-motion", "value": "reduce"},
        ]
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "", "features": features})
        driver.get_log("browser")
        driver.get(path.as_uri())

    def js(self, script: str, *args: Any) -> Any:
        """What a script returns."""
        return self.driver.execute_script(f"return {script}", *args)

    def click(self, query: str) -> None:
        """A click on the first match, as a pointer would make it."""
        self.driver.find_element("css selector", query).click()

    def press(self, *keys: str) -> None:
        """Keys, sent to whatever has the focus."""
        ActionChains(self.driver).send_keys(*keys).perform()

    def tab_to(self, query: str, *, back: bool = False) -> None:
        """Go there by the tab key alone."""
        for _ in range(400):
            if self.js("document.activeElement && document.activeElement.matches(arguments[0])", query):
                return
            if back:
                ActionChains(self.driver).key_down(Keys.SHIFT).send_keys(Keys.TAB).key_up(Keys.SHIFT).perform()
            else:
                self.press(Keys.TAB)
        raise AssertionError(f"{query} cannot be reached with the tab key")

    def errors(self) -> list[str]:
        """What the console complains of."""
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def widest(self) -> list[str]:
        """Everything that makes the page scroll sideways, and every panel whose content does."""
        return self.js(
            """[
              ...(document.documentElement.scrollWidth > innerWidth ? ["the page"] : []),
              ...[...document.querySelectorAll("header, #over, nav, #views, .tools, #trace, #walk")]
                .filter((e) => e.scrollWidth > e.clientWidth + 1).map((e) => e.id || e.tagName),
            ]"""
        )

    def serious(self) -> list[str]:
        """Findings of axe-core that are serious or worse."""
        spec = importlib.util.find_spec("axe_selenium_python")
        assert spec is not None
        assert spec.submodule_search_locations
        source = Path(spec.submodule_search_locations[0], "node_modules", "axe-core", "axe.min.js")
        self.driver.execute_script(source.read_text(encoding="utf-8"))
        # What is inside a picture (role img) is presentational, and there are thousands of shapes.
        found = self.driver.execute_async_script(
            "const end = arguments[0];"
            "const only = { resultTypes: ['violations'], elementRef: false };"
            "axe.run({ exclude: ['.sheet svg'] }, only).then((r) => end({ violations: r.violations }));"
        )
        return [
            f"{each['id']}: {node['target']} {node.get('failureSummary', '')}"
            for each in found["violations"]
            if each["impact"] in ("serious", "critical")
            for node in each["nodes"][:3]
        ]
