"""A missing outside program skips a test with the reason, or fails it where that is asked for."""

from __future__ import annotations

import pytest

from tests.outside import need

MISSING = "no-such-program-on-any-path"


def test_a_program_that_is_there_is_found() -> None:
    assert need("sh").endswith("sh")


def test_a_missing_program_skips_with_the_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("PLACER_REQUIRE_OUTSIDE", raising=False)
    with pytest.raises(pytest.skip.Exception, match=MISSING):
        need(MISSING)


def test_a_missing_program_fails_where_it_is_required(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PLACER_REQUIRE_OUTSIDE", "1")
    with pytest.raises(pytest.fail.Exception, match="PLACER_REQUIRE_OUTSIDE"):
        need(MISSING)
