"""The page as a file: one document that needs nothing else and in which text from a circuit stays text."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from pathlib import Path

from placer.guide.build import build_guide
from placer.guide.drawing import plan_scenes
from placer.guide.html import guide_html, plan_key
from placer.plan.file import read_plan
from placer.plan.model import Plan
from tests.guide.plans import hostile, lantern

OUTPUTS = Path(__file__).resolve().parents[2] / "outputs"


def page_of(plan: Plan) -> str:
    return guide_html(plan, build_guide(plan), plan_scenes(plan))


def test_the_page_needs_nothing_from_outside() -> None:
    page = page_of(lantern())
    # Nothing is fetched: no sources, no style sheets, no imports; the only addresses are names (XML namespaces).
    assert not re.search(r"<(?:link|img|iframe|object|embed|base)\b|\bsrc=|@import|url\(", page)
    assert set(re.findall(r"https?://[^\s\"'<>)]+", page)) == {"http://www.w3.org/2000/svg"}


def test_only_the_page_s_own_style_and_script_may_run() -> None:
    page = page_of(hostile())
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]+)"', page)
    assert policy
    allowed = re.findall(r"(\w+-src) 'sha256-([^']+)'", policy[1])
    found = {}
    for kind, tag in (("style-src", "style"), ("script-src", "script")):
        (text,) = re.findall(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)
        found[kind] = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    assert dict(allowed) == found
    assert policy[1].startswith("default-src 'none';")
    assert "unsafe" not in policy[1]


def test_data_in_the_page_cannot_end_its_block() -> None:
    page = page_of(hostile())
    (block,) = re.findall(r'<script type="application/json" id="data">(.*?)</script>', page, re.DOTALL)
    assert "<script>harmed=1</script>" in json.loads(block)["nets"]
    assert "<" not in block


def test_a_page_of_58_parts_stays_below_2_mb() -> None:
    plan = read_plan(OUTPUTS / "four-hive-mixer" / "plan.json")
    assert len(plan.placements) == 58
    assert len(page_of(plan).encode()) < 2_000_000


def test_marks_belong_to_what_is_built_and_not_to_how_it_was_found() -> None:
    plan = lantern()
    assert plan_key(replace(plan, solve=replace(plan.solve, seconds=9.0))) == plan_key(plan)
    assert plan_key(replace(plan, jumpers=plan.jumpers[1:])) != plan_key(plan)


def test_same_plan_same_page() -> None:
    assert page_of(lantern()) == page_of(lantern())
