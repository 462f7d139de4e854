"""Programs from outside that some tests compare with: found on the PATH, or the test is skipped and says why.

Set ``PLACER_REQUIRE_OUTSIDE=1`` where a missing program must not pass unnoticed: such a skip is then a failure.
"""

from __future__ import annotations

import os
import shutil

import pytest

DEBIAN_PACKAGE = {
    "ngspice": "ngspice",
    "netgen-lvs": "netgen-lvs",
    "chromium": "chromium",
    "chromedriver": "chromium-driver",
    "rsvg-convert": "librsvg2-bin",
    "pdftoppm": "poppler-utils",
    "pdftotext": "poppler-utils",
}


def need(program: str) -> str:
    """Return the path of ``program``; without it skip the test, or fail it where outside programs are required."""
    path = shutil.which(program)
    if path is not None:
        return path
    package = DEBIAN_PACKAGE.get(program, program)
    reason = f"{program} is not on the PATH (Debian package {package})"
    if os.environ.get("PLACER_REQUIRE_OUTSIDE", "") not in ("", "0"):
        pytest.fail(f"{reason}, and PLACER_REQUIRE_OUTSIDE is set")
    pytest.skip(reason)
