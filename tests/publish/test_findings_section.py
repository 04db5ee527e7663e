"""What was found stands in the report with its evidence: the still, the values of every rep, what to try."""

from __future__ import annotations

import numpy as np
from attrs import evolve
from publish.test_pages import grey_frames
from sets import made_measurement

from midfoot.publish import key_moments, report_html, still_picture
from midfoot.publish.findings_section import finding_rows, size_words
from midfoot.publish.stills import finding_stills
from midfoot.records.findings import Cause, Change, Evidence, Finding, Found, Held, Size, TryAt
from midfoot.records.measures import Measurement

FINDING = Finding(
    id="squat_bar_forward", by="measured", title="The bar goes forward", reps=(2,), at_s=(6.3,),
    text="In rep 2 the bar went 24 mm farther forward than in rep 1. More <b>.", why="It costs.",
    size=Size(24.0, "mm", 1.8, 3.5), worst_rep=2, confidence="likely", doubts=("its size is near what counts",),
    evidence=(Evidence(measure="path_departure_mm", title="forward on the way up", unit="mm", values=(0.0, 24.0),
                       sds=(1.3, 1.3), reference_rep=1),),
    possible_causes=(Cause("hips", "The hips lead", ("they rise more",), ()), Cause("toes", "Onto the toes")),
    changes=(Change("push", "cue", "Push your back into the bar.", TryAt(80.0, 7.0), None),),
)  # fmt: skip


def found(**changes: object) -> Measurement:
    """The made set with one finding."""
    held = Held(text="The depth (within 12 mm) held through both reps.")
    finding = evolve(FINDING, **changes)
    return evolve(made_measurement(), found=Found(findings=(finding,), held=held))


def test_the_report_shows_claim_size_doubt_evidence_and_still() -> None:
    measurement = found()
    pictures = {s: still_picture(measurement, s, grey_frames(1)[0]) for s in key_moments(measurement)}

    page = report_html(measurement, pictures)

    section = page[page.index("What was found") : page.index('id="h-moments"')]
    for words in (
        "held through both reps", "The bar goes forward", "24 mm farther", "likely", "24 ± 2 mm",
        "its size is near", "forward on the way up", "yardstick rep 1", "For: they rise more", "tells neither way",
        "Push your back into the bar.", "at most 80 % of this load", "RPE 7", "&lt;b&gt;",
    ):  # fmt: skip
        assert words in section, words
    assert section.count("<figure>") == 1
    assert page.count("<figure>") == len(pictures)


def test_a_hint_has_no_picture_of_its_own() -> None:
    assert len(finding_stills(found())) == 1
    assert finding_stills(found(confidence="hint")) == []
    assert finding_rows(found(confidence="hint"), {})[0]["still"] is None


def test_the_picture_is_of_the_rep_that_shows_it_most() -> None:
    still = finding_stills(found(reps=(1, 2), at_s=(2.0, 6.3)))[0]
    assert (still.rep, still.at_s) == (2, 6.3)
    assert still.words == "In rep 2 the bar went 24 mm farther forward than in rep 1"
    assert np.isfinite(still.at_s)


def test_a_set_without_findings_has_no_section() -> None:
    assert "What was found" not in report_html(made_measurement(), {})
    assert size_words(evolve(FINDING, size=None)) == ""
