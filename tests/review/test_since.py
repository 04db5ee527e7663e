"""What the first lines say of the last review's changes: what held first, each thing once, nothing said twice."""

from __future__ import annotations

from midfoot.records.review import Since
from midfoot.review import load_library
from midfoot.review.library import Picker, sentences
from midfoot.review.since import since_parts


def test_what_held_is_said_first_and_of_one_thing_the_later_word_counts() -> None:
    since = (
        Since(about="a", title="The heels lift", verdict="cannot_tell", reason="the loads are too unlike"),
        Since(about="b", title="The bar drifts", verdict="held"),
        Since(about="c", title="The dive", verdict="held"),
        Since(about="b", title="The bar drifts", verdict="not_held"),
    )

    parts = since_parts(Picker(load_library(None), "trained"), {}, since)

    assert [p.about for p in parts] == ["c", "b", "a"]
    assert "the loads are too unlike" in parts[-1].text
    said = [s for p in parts for s in sentences(p.text)]
    assert len(set(said)) == len(said)
    assert all(p.quiet and p.section == "since" for p in parts)
