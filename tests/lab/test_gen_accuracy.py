"""docs/accuracy.md names the versions of the steps that its figures belong to, and those of the code as it is."""

import json

import pytest
from lab import gen_accuracy


def test_the_page_says_which_versions_it_was_read_with_and_what_the_code_has_now():
    """Who raises a step's VERSION reads the page again, or runs lab.gen_accuracy, which says it is older."""
    read = json.loads(gen_accuracy.READ.read_text("utf-8"))
    page = gen_accuracy.PAGE.read_text("utf-8")
    assert gen_accuracy.versions_text(read, gen_accuracy.versions()) in page


def test_a_raised_version_makes_its_sections_older():
    now = {"bar": "8", "reps": "2"}
    text = gen_accuracy.versions_text({"paths": {"bar": "7", "reps": "2"}, "moments": {"reps": "2"}}, now)
    assert "| paths | bar 7, reps 2 | bar (now 8) |" in text
    assert "| moments | reps 2 | nothing |" in text


def test_a_page_without_the_place_for_it_is_refused():
    with pytest.raises(ValueError, match="expected the line"):
        gen_accuracy.with_versions("# no place", "text")


def test_the_charts_are_those_of_the_figures_that_are_kept():
    rows = json.loads(gen_accuracy.CLIPS.read_text("utf-8"))
    assert len(rows) >= 60
    page = gen_accuracy.PAGE.read_text("utf-8")
    for name in ("forward.svg", "up.svg", "scale.svg"):
        assert f"accuracy/{name}" in page
        assert (gen_accuracy.INTO / name).stat().st_size < 200_000
