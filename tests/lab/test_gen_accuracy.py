"""docs/accuracy.md names the versions of the steps that its figures belong to, and those of the code as it is."""

import json

import pytest
from lab import gen_accuracy
from lab.clip_jobs import USUAL


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
    for name in ("forward.svg", "up.svg", "scale.svg", "sweeps.svg"):
        assert f"accuracy/{name}" in page
        assert (gen_accuracy.INTO / name).stat().st_size < 200_000


def test_a_sweep_s_usual_clip_stands_in_every_sweep_and_one_that_was_not_found_has_no_figure(tmp_path):
    found = {"followed": "right", "forward_rms_mm": 0.4, "up_rms_mm": 0.6, "seed": 1, "lift": "squat"}
    rows = {
        "usual": {**found, "changed": ["usual", 0.0]},
        "turned": {**found, "changed": ["yaw_deg", 30.0], "up_rms_mm": 5.0},
        "small": {"seed": 1, "lift": "squat", "followed": "unsure", "changed": ["long_side_px", 640.0]},
        "random": {**found, "changed": None},
    }
    for name, row in rows.items():
        (tmp_path / f"{name}.line.json").write_text(json.dumps({"name": name, **row}))
    swept = gen_accuracy.swept([tmp_path])
    assert {r["what"] for r in swept} == set(USUAL)
    assert [(r["value"], r["up"]) for r in swept if r["what"] == "yaw_deg"] == [(3.0, 0.6), (30.0, 5.0)]
    assert [(r["value"], r["found"], r["up"]) for r in swept if r["what"] == "long_side_px"] == [
        (640.0, False, None),
        (1280.0, True, 0.6),
    ]
    assert "<svg" in gen_accuracy.sweep_chart(swept)
