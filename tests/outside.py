"""Programs from outside that some tests compare with: found on the PATH, or the test is skipped and says why.

Set ``PLACER_REQUIRE_OUTSIDE=1`` where a missing program must not pass unnoticed: such a skip is then a failure.
"""

from __future__ import annotations

import os
import shutil
from typing import NoReturn

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
    return missing(f"{program} is not on the PATH (Debian package {package})")


def missing(reason: str) -> NoReturn:
    """Skip the test for want of something from outside, or fail it where PLACER_REQUIRE_OUTSIDE is set."""
    if os.environ.get("PLACER_REQUIRE_OUTSIDE", "") not in ("", "0"):
        pytest.fail(f"{reason}, and PLACER_REQUIRE_OUTSIDE is set")
    pytest.skip(reason)
