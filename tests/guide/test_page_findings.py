"""The page as a document: what it says of findings, and that nothing in them becomes markup."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace

from bs4 import BeautifulSoup, Tag

from placer.guide.build import build_guide
from placer.guide.drawing import plan_scenes
from placer.guide.html import guide_html, plan_key
from placer.limits.find import find
from placer.plan.findings import Finding
from placer.plan.model import Plan
from tests.guide.built import built
from tests.guide.plans import hostile, lantern


def page_of(plan: Plan) -> BeautifulSoup:
    return BeautifulSoup(guide_html(plan, build_guide(plan), plan_scenes(plan)), "html.parser")


def said(elements: Sequence[Tag]) -> list[str]:
    return [" ".join(" ".join(element.stripped_strings).split()) for element in elements]


def bearing(*findings: Finding) -> Plan:
    return replace(lantern(), findings=findings)


def test_findings_are_told_with_severity_mend_and_source_the_gravest_first() -> None:
    page = page_of(
        bearing(
            Finding("a", "note", "a drop of 3 mV", source="law one"),
            Finding("b", "warning", "R1 is warm", ("R1",), {}, "law two", "take a larger one"),
            Finding("c", "error", "R2 is hot", ("R2",), {}, "law three", "use 1 W"),
        )
    )
    assert said(page.select("#findings li")) == [
        "Error R2 is hot Mend use 1 W R2 Source: law three",
        "Warning R1 is warm Mend take a larger one R1 Source: law two",
        "Note a drop of 3 mV Source: law one",
    ]
    assert "1 error, 1 warning, 1 note." in said(page.select("#findings > p"))[0]
    assert "findings" in [link.get("data-view") for link in page.select("nav a")]


def test_an_error_stands_at_the_top_and_before_power() -> None:
    page = page_of(bearing(Finding("c", "error", "R2 is hot", ("R2",), {}, "", "use 1 W")))
    (top,) = page.select("body > aside")
    assert top.find_next_sibling().name == "nav"
    assert said([top])[0].startswith("Above a limit: do not build it as it is.")
    assert said(top.select("li")) == ["R2 is hot. Use 1 W."]
    assert said(page.select("#power .cautions li"))[0] == (
        "Above a limit: do not switch on Until this is mended: R2 is hot."
    )


def test_warnings_and_notes_are_no_reason_to_stop() -> None:
    page = page_of(bearing(Finding("b", "warning", "R1 is warm"), Finding("a", "note", "a drop")))
    assert page.select("body > aside") == []
    assert not any("Above a limit" in text for text in said(page.select(".cautions li")))


def test_a_plan_that_nobody_looked_at_has_no_such_section() -> None:
    page = page_of(bearing())
    assert page.select("#findings, nav a[data-view=findings]") == []


def test_every_finding_of_a_demo_is_on_its_page() -> None:
    """The fan supply: a regulator that is nearly too hot, and notes."""
    plan = built("fan-supply")
    plan = replace(plan, findings=find(plan))
    told = said(page_of(plan).select("#findings li"))
    assert told[0].startswith("Warning Q1 (TIP31) turns 1.26 W into heat")
    assert len(told) == len(plan.findings)
    for finding in plan.findings:
        assert any(finding.message in text and finding.mend in text and finding.source in text for text in told)


def test_what_findings_say_stays_text() -> None:
    page = page_of(hostile())
    told = " ".join(said(page.select("#findings")))
    assert "<script>harmed=1</script> is hot" in told
    assert "\"'`><img src=x onerror=harmed=1>&amp;]]> is warm" in told
    assert page.select("#over script, #findings script, #over img, #findings img") == []
    assert len(page.select("script")) == 2  # the data and the page's own


def test_findings_show_what_they_name_unless_it_may_mean_two_things() -> None:
    """On this board J1 is a hole, and the circuit has a part J1: neither is pointed at."""
    plan = built("gate-blinker-long-strip-16x20")
    assert "J1" in plan.board.holes
    assert "J1" in plan.placements
    places = plan.placements["U1"].pins
    wire = plan.jumpers[0]
    finding = Finding("x", "note", "look", ("VCC", "U1", "U1.3", "A2", "jumper 1", "J1", "nowhere"))

    (item,) = page_of(replace(plan, findings=(finding,))).select("#findings li")
    assert [each["data-trace"] for each in item.select(".net")] == ["VCC"]
    shown = {said([each])[0]: json.loads(str(each["data-holes"])) for each in item.select(".show")}
    assert shown == {
        "U1": list(places.values()),
        "U1.3": [places["3"]],
        "A2": ["A2"],
        "jumper 1": [wire.start, wire.end],
    }


def test_marks_of_a_plan_outlast_another_look_at_what_it_bears() -> None:
    assert plan_key(bearing()) == plan_key(bearing(Finding("a", "note", "a drop")))
