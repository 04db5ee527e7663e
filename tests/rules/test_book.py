"""The rule sets: they load, differ where the books differ, and rest on measures that exist."""

from __future__ import annotations

import pytest

from midfoot.measures.registry import definition
from midfoot.records.base import LIFTS
from midfoot.rules import RuleBook, RulesError, load, names


def ids(book: RuleBook, lift: str) -> set[str]:
    """Ids of a lift's rules."""
    return {r.id for r in book.rules[lift]}


@pytest.mark.parametrize("name", names())
def test_every_rule_stands_on_a_measure_of_its_lift_or_says_why_not(name: str) -> None:
    """A rule without clause, source, title or reason is no use to anybody; every allowance says whose it is."""
    book = load(name)
    for lift in LIFTS:
        assert len(ids(book, lift)) == len(book.rules[lift])
        for rule in book.rules[lift]:
            assert rule.clause
            assert rule.source
            assert rule.title
            if rule.measure:
                definition(rule.measure, lift)
            else:
                assert rule.unseen
            if rule.limit and rule.id != "grip_width":
                assert rule.allowance, rule.id
            if rule.most == "close":
                assert rule.why_most, rule.id


def test_elbow_depth_came_in_2023() -> None:
    """British Powerlifting, news: cause for failing a bench press from 1 January 2023 on."""
    assert "elbow_depth" in ids(load("ipf-2026"), "bench")
    assert "elbow_depth" not in ids(load("ipf-2022"), "bench")
    assert ids(load("ipf-2026"), "squat") == ids(load("ipf-2022"), "squat")


def test_head_and_heels_differ_between_federations() -> None:
    """IPF: head down and feet flat; WPPL's published rules: the head may lift, toes may stand alone."""
    strict, other = ids(load("ipf-2026"), "bench"), ids(load("wppl-bench"), "bench")
    assert strict - other == {"head_down", "feet_flat", "elbow_depth", "elbows_locked_at_start"}


def test_grip_is_810_millimetres_between_the_forefingers() -> None:
    """IPF: the spacing of the hands must not exceed 81 cm measured between the forefingers."""
    rule = next(r for r in load("ipf-2026").rules["bench"] if r.id == "grip_width")
    assert (rule.limit, rule.inside) == (810, "at_most")


def test_unknown_names_say_which_there_are() -> None:
    """With the nearest first."""
    with pytest.raises(RulesError, match="nearest is ipf-2026"):
        load("ipf-2062")
