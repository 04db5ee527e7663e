"""A measure against a rule: verdict by margin and both kinds of error; the whole bar; what is not seen."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sets import made_measurement

from midfoot.records.base import LIFTS
from midfoot.records.measures import Measure, Measured
from midfoot.records.reps import Moment, Rep
from midfoot.records.rules import RuleCheck
from midfoot.rules import check, load

REP = Rep(
    n=1, outcome="completed", start_seen=True, end_seen=True, start=Moment(1.0, 0.01), low_start=Moment(2.0, 0.01),
    low_end=Moment(2.2, 0.01), end=Moment(3.2, 0.01),
)  # fmt: skip


def measured(value: float | None, sd: float, common: float, measure_id: str, *more: Measure) -> Measured:
    """One rep with one measure and perhaps others."""
    seen = value is not None
    one = Measure(
        measure_id, value, measure_id.rsplit("_", 1)[1], sd if seen else None, common if seen else None,
        "measured" if seen else "not_seen", "made", "" if seen else "the plate hides it",
    )  # fmt: skip
    return Measured(reps=((one, *more),))


def verdict_of(
    rule: str, value: float | None, sd: float, common: float, measure_id: str, *more: Measure, lift: str = "squat",
    book: str = "ipf-2026",
) -> RuleCheck:  # fmt: skip
    """The check of one rule."""
    found = check(lift, (REP,), measured(value, sd, common, measure_id, *more), load(book))
    return next(c for c in found if c.id == rule)


def test_depth_counts_the_error_that_the_clip_shares() -> None:
    """20 mm below the knee by joints that stand 25 mm otherwise in every person is too close to call."""
    proxy = verdict_of("depth", 20.0, 4.0, 25.0, "squat_depth_mm")
    marked = verdict_of("depth", 20.0, 4.0, 7.0, "squat_depth_mm")
    high = verdict_of("depth", -73.0, 4.0, 25.0, "squat_depth_mm")

    assert [c.verdict for c in (proxy, marked, high)] == ["close", "clear", "not_met"]
    assert proxy.margin is not None
    assert proxy.margin.value == 20.0
    assert proxy.margin.sd == pytest.approx((4.0**2 + 25.0**2) ** 0.5)
    assert proxy.at_s == 2.0
    assert proxy.clause == "4.1 item 3"


def test_one_end_of_the_bar_never_says_not_met() -> None:
    """IPF: any downward movement of the whole bar. The far end may have stood still."""
    both = Measure("whole_bar_drop_mm", 20.0, "mm", 2.0, 0.1, "measured", "both ends")
    stays = Measure("whole_bar_drop_mm", 0.0, "mm", 1.0, 0.1, "measured", "both ends")
    near = verdict_of("no_downward_movement", 30.0, 0.5, 0.1, "downward_movement_mm")
    whole = verdict_of("no_downward_movement", 30.0, 0.5, 0.1, "downward_movement_mm", both)

    assert near.verdict == "close"
    assert "one end" in near.reason
    assert whole.verdict == "not_met"
    assert whole.measure == "whole_bar_drop_mm"
    kept = verdict_of("no_downward_movement", 30.0, 0.5, 0.1, "downward_movement_mm", stays)
    assert kept.verdict == "clear"


def test_what_is_not_seen_keeps_its_reason() -> None:
    """No margin, the measure's own words."""
    found = verdict_of("depth", None, 0.0, 0.0, "squat_depth_mm")
    assert (found.verdict, found.margin, found.reason) == ("not_seen", None, "the plate hides it")


@pytest.mark.parametrize("lift", LIFTS)
@pytest.mark.parametrize("book", ["ipf-2026", "ipf-2022"])
def test_every_rule_answers_for_every_rep(lift: str, book: str) -> None:
    """Also where nothing was measured; never a word of a good lift."""
    found = check(lift, (REP,), Measured(reps=((),)), load(book))
    assert {c.verdict for c in found} == {"not_seen"}
    assert all(c.reason and c.rulebook and c.clause and c.source for c in found)
    assert not any("good lift" in f"{c.title} {c.reason}".lower() for c in found)


@given(value=st.floats(-300, 300), sd=st.floats(0.01, 60), common=st.floats(0, 60), shift=st.floats(0.0, 100))
def test_more_depth_is_never_a_worse_verdict(value: float, sd: float, common: float, shift: float) -> None:
    """With the same error, going deeper cannot turn inside into outside."""
    order = ["not_met", "close", "clear"]
    less = verdict_of("depth", value, sd, common, "squat_depth_mm").verdict
    more = verdict_of("depth", value + shift, sd, common, "squat_depth_mm").verdict
    assert order.index(more) >= order.index(less)


def test_checks_are_in_the_document() -> None:
    """By the schema, with value, unit and sd."""
    from attrs import evolve

    from midfoot.store import to_json, validate

    made = made_measurement()
    document = to_json(
        evolve(made, rule_checks=check("squat", made.data.reps.reps, made.measured, load("ipf-2026")))
    )
    validate(document)
    assert {c["rep"] for c in document["rule_checks"]} == {1, 2}
    assert document["rule_checks"][0]["verdict"] == "not_seen"
