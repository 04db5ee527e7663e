"""The report's section on rules: words of the rule and never of the lift, value with unit and sd."""

from __future__ import annotations

from attrs import evolve
from sets import made_measurement

from midfoot.publish import report_html
from midfoot.publish.rules_table import rule_rows
from midfoot.records.rules import Margin, RuleCheck


def one(rule: str, rep: int, verdict: str, margin: Margin | None, reason: str = "") -> RuleCheck:
    """A check by a made book."""
    return RuleCheck(
        id=rule, rep=rep, verdict=verdict, margin=margin, at_s=2.0, rulebook="A book, 2031", clause="4.1",
        title=rule,
        reason=reason,
    )  # fmt: skip


def test_a_row_a_rule_and_a_cell_a_rep() -> None:
    """What no rep shows comes last with its reason once; text is escaped."""
    made = evolve(
        made_measurement(),
        rule_checks=(
            one("head", 1, "not_seen", None, "plate <b>"),
            one("head", 2, "not_seen", None, "plate <b>"),
            one("depth", 1, "clear", Margin(61.2, "mm", 25.1)),
            one("depth", 2, "close", Margin(-12.0, "mm", 25.1), "one end"),
        ),
    )

    rows = rule_rows(made)
    page = report_html(made, {})

    assert [r["title"] for r in rows] == ["Depth", "Head"]
    assert [c["word"] for c in rows[0]["cells"]] == ["inside", "too close to call"]
    assert rows[0]["cells"][0]["margin"].startswith("+")
    assert rows[1]["why"] == "plate <b>"
    assert "A book, 2031" in page
    assert "Not seen: plate &lt;b&gt;." in page
    assert "The referee decides, not the camera" in page
    assert "good lift" not in page.lower()


def test_no_rules_no_section() -> None:
    """A set that was held against none says nothing of rules."""
    assert "Held against the rules" not in report_html(made_measurement(), {})
