"""What leaves the house of a review: subtitles, the plan of the video, marks and overlays, page, print, video."""

from __future__ import annotations

import io
import re
from itertools import pairwise
from pathlib import Path

import av
import numpy as np
import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st
from review.made import FAULTS, measured

from midfoot.publish import captions, look, review_page, review_print, review_shots, review_video
from midfoot.records.context import Context
from midfoot.records.measures import Measurement
from midfoot.records.reps import Moment
from midfoot.records.review import Edit, Line, Review, Script
from midfoot.review import apply, draft_of, load_library, moment_words, script_of

PRIVATE = Context(pain="tingling in the hand", age_years=17, body_mass_kg=61.7, lifter="Runa", safeties="pins")


def reviewed(measurement: Measurement, edits: tuple[Edit, ...] = ()) -> tuple[Measurement, Review, Script]:
    """The review and its script of a made set."""
    review = apply(draft_of(measurement, load_library()), edits)
    return measurement, review, script_of(review, moment_words(measurement))


def made(lift: str = "squat", context: Context | None = None) -> tuple[Measurement, Review, Script]:
    return reviewed(measured(lift, FAULTS[lift][:2], context or Context(safeties="pins", rpe=8.0)))


def drawn(measurement: Measurement, review: Review) -> dict[str, list[tuple[review_shots.Shot, look.Picture]]]:
    """Every still on plain grey."""
    grey = np.full((480, 640, 3), 110, np.uint8)
    parts = {p.id: p for p in review.parts}
    out: dict[str, list[tuple[review_shots.Shot, look.Picture]]] = {}
    for shot in review_shots.shots_of(review, measurement):
        picture = review_shots.shot_picture(measurement, parts[shot.part], shot, grey, clean=True)
        out.setdefault(shot.part, []).append((shot, picture))
    return out


words = st.lists(
    st.sampled_from(["a", "bar", "forward,", "hips", "repetition.", "slowly", "it:", "Watch"]), min_size=1
)


@given(st.lists(words, min_size=1, max_size=6), st.floats(10, 90))
def test_cues_follow_each_other_hold_two_lines_and_lose_no_word(lines: list[list[str]], seconds: float) -> None:
    """No gap, no overlap, 42 characters a line, every word once and in order."""
    script = Script(lines=tuple(Line(words=" ".join(w)) for w in lines), words=1, seconds=seconds)

    cues = captions.cues_of(script)

    assert [w for c in cues for line in c.lines for w in line.split()] == [w for ws in lines for w in ws]
    assert all(1 <= len(c.lines) <= captions.LINES for c in cues)
    assert all(len(line) <= captions.LINE_CHARS for c in cues for line in c.lines)
    assert cues[0].start_s == 0
    assert cues[-1].end_s == pytest.approx(seconds)
    assert all(a.end_s == pytest.approx(b.start_s) for a, b in pairwise(cues))


def test_subtitles_are_read_by_a_player() -> None:
    """Outside check: FFmpeg (through PyAV) reads both forms and finds every cue at its time."""
    _, _, script = made()
    cues = captions.cues_of(script)
    assert captions.vtt(cues).startswith("WEBVTT\n\n1\n00:00:00.000 --> ")
    for form, text in (("webvtt", captions.vtt(cues)), ("srt", captions.srt(cues))):
        with av.open(io.BytesIO(text.encode()), format=form) as container:
            times = [float(p.pts * p.time_base) for p in container.demux() if p.pts is not None]
        assert times == pytest.approx([c.start_s for c in cues], abs=0.002), form


def test_the_video_lasts_as_long_as_the_script_and_stops_at_each_moment() -> None:
    """Line by line; a moment is the last frame of its piece and stands at least a second and a half."""
    _, review, script = made()

    pieces = review_video.plan(script, review, end_s=8.0)

    assert [p.length_s for p in pieces] == pytest.approx(captions.durations_s(script))
    for line, piece in zip(script.lines, pieces, strict=True):
        assert 0 <= piece.from_s <= piece.to_s <= 8.0
        if line.at_s is not None:
            assert piece.to_s == pytest.approx(line.at_s)
            assert piece.hold_s >= review_video.LEAST_HOLD_S - 1e-9
            assert piece.slow > 1


def test_the_video_is_encoded_with_its_holds(tmp_path: Path) -> None:
    """H.264 without sound, as long as the script; the held frame is the moment's."""
    measurement, review, script = made()
    script = evolve(script, lines=script.lines[:3], seconds=12.0)

    def between(a: float, b: float) -> list[tuple[float, look.Picture]]:
        return [(float(t), np.full((480, 640, 3), 100, np.uint8)) for t in np.arange(a, b + 1e-6, 1 / 15)]

    length = review_video.write_review_video(
        measurement, review, script, between, tmp_path / "review.mp4", end_s=8.0, clean=True
    )

    with av.open(str(tmp_path / "review.mp4")) as container:
        stream = container.streams.video[0]
        assert (len(container.streams), stream.codec_context.name) == (1, "h264")
        times = [float(f.pts * stream.time_base) for f in container.decode(stream)]
    assert length == pytest.approx(12.0)
    assert times[-1] == pytest.approx(12.0, abs=0.01)
    assert max(np.diff(times)) <= review_video.HOLD_STEP_S + 1e-6


def test_an_overlay_laid_over_the_frame_is_the_drawn_frame() -> None:
    """Composed by the rule of alpha over grey it gives what drawing on grey gives.

    Within the rounding of three layers painted in whole levels, twice: 6 of 255 at most.
    """
    measurement, review, _ = made()
    part = next(p for p in review.parts if p.section == "change")
    shot = next(s for s in review_shots.shots_of(review, measurement) if s.part == part.id)

    rgba = review_shots.overlay(measurement.data, part, shot).astype(float)
    grey = np.full((480, 640, 3), 90, np.uint8)
    review_shots.draw_moment(grey, measurement.data, part, shot.at_s, 1.0, 14.0, clean=True)
    alpha = rgba[..., 3:] / 255

    assert (rgba[..., 3] > 200).sum() > 50
    assert (rgba[..., 3] == 0).mean() > 0.8
    assert np.abs(rgba[..., :3] * alpha + 90 * (1 - alpha) - grey).max() <= 6.0
    assert review_shots.png(rgba.astype(np.uint8)).startswith(b"\x89PNG")


@pytest.mark.parametrize(("meaning", "count"), [("where", 1), ("how_far", 2), ("what_angle", 3), ("hold_here", 1)])
def test_every_mark_shows_on_its_own_frame_only(meaning: str, count: int) -> None:
    measurement, review, _ = made()
    part = next(p for p in review.parts if p.section == "change")
    points = ((200.0, 200.0), (260.0, 240.0), (320.0, 200.0))[:count]
    edit = Edit(id="m", kind="mark", part=part.id, meaning=meaning, reps=(2,), at_s=(6.2,), points_px=points,
                text="here")  # fmt: skip
    marked = next(p for p in apply(review.draft, (edit,)).parts if p.id == part.id)

    def painted(at_s: float, of: object) -> int:
        canvas = np.full((480, 640, 3), 90, np.uint8)
        review_shots.draw_moment(canvas, measurement.data, of, at_s, 1.0, 14.0, clean=False)  # type: ignore[arg-type]
        return int((canvas != 90).any(axis=2).sum())

    assert painted(6.2, marked) > 40
    assert painted(6.5, marked) == 0
    assert painted(6.2, part) == 0


def test_comparison_is_at_the_same_height() -> None:
    """In the made set both reps rise alike: half-way up in one is half-way up in the other."""
    data = measured().data
    first, second = data.reps.reps

    twin = review_shots.same_moment(data, 2, second.low_end.t_s + 0.5, 1)  # type: ignore[union-attr]

    assert twin == pytest.approx(first.low_end.t_s + 0.5, abs=0.05)  # type: ignore[union-attr]


def test_comparison_stays_in_its_part_of_the_rep() -> None:
    """A lockout is held against a lockout, whatever its height; a low against a low."""
    data = measured().data
    first, second = data.reps.reps
    pulls = tuple(
        evolve(r, low_start=None, low_end=None, top_start=Moment(r.low_end.t_s, 0.01),  # type: ignore[union-attr]
               top_end=Moment(r.low_end.t_s + 0.5, 0.01))  # type: ignore[union-attr]
        for r in (first, second)
    )  # fmt: skip
    pulled = evolve(data, reps=evolve(data.reps, reps=pulls))
    top = pulls[1].top_start.t_s  # type: ignore[union-attr]

    assert review_shots.same_moment(pulled, 2, top + 0.2, 1) == pytest.approx(pulls[0].top_start.t_s + 0.2)  # type: ignore[union-attr]
    assert review_shots.same_moment(data, 2, second.end.t_s, 1) == first.end.t_s  # type: ignore[union-attr]
    assert review_shots.same_moment(data, 2, second.low_start.t_s, 1) == first.low_start.t_s  # type: ignore[union-attr]


def test_the_page_needs_nothing_beside_it_and_has_the_figure_on_tap() -> None:
    """No address, no script; the sd stands only behind the tap; the range in the open."""
    measurement, review, _ = made()

    page = review_page.review_html(measurement, review, drawn(measurement, review))

    loaded = re.findall(r'(?:src|href|poster)="([^"]+)"', page)
    assert loaded
    assert all(s.startswith("data:") for s in loaded)
    assert "<script" not in page
    assert "url(" not in page
    assert "http" not in page
    open_text = re.sub(r"<details.*?</details>|<svg.*?</svg>|<style.*?</style>", "", page, flags=re.S)
    assert "sd " not in open_text
    assert "2 to 3.5 cm" in open_text
    assert "27 mm, sd 3" in page
    assert page.count('class="try"') == 2


def test_what_leaves_the_house_names_nothing_private() -> None:
    """Not in the page's public parts, the print's data, the subtitles, the script, nor in names of files."""
    measurement, review, script = made("bench", PRIVATE)
    shots = drawn(measurement, review)
    told = [captions.vtt(captions.cues_of(script)), review_page.review_html(measurement, review, shots),
            " ".join(s.file for rows in shots.values() for s, _ in rows)]  # fmt: skip

    for text in told:
        plain = re.sub(r"data:[^\"]+", "", text)
        for private in ("tingling", "61.7", "aged 17", "Runa 17"):
            assert private not in plain


def test_what_hurts_and_missing_safeties_stand_before_everything_else() -> None:
    """Before the question, the praise and the changes; and once."""
    measurement, review, _ = made("squat", Context(pain="a knee", question="Is it deep?"))

    page = review_page.review_html(measurement, review, {})

    for about in ("hurts", "guard"):
        text = next(p.text for p in review.parts if p.about == about)
        assert page.count(text) == 1
        assert page.index(text) < page.index("<section")
    assert review_print.review_pdf(measurement, review, {}).startswith(b"%PDF-")


def test_dropped_parts_and_notes_do_not_leave_the_house() -> None:
    measurement, review, _ = made()
    part = next(p for p in review.parts if p.section == "change")
    edits = (Edit(id="1", kind="drop", part=part.id, reason="not worth it"),
             Edit(id="2", kind="note", text="ask him about shoes"))  # fmt: skip
    measurement, review, script = reviewed(measurement, edits)

    page = review_page.review_html(measurement, review, drawn(measurement, review))

    assert part.text not in page
    assert "not worth it" not in page
    assert "shoes" not in page
    assert part.aloud not in " ".join(line.words for line in script.lines)


@pytest.mark.parametrize("lift", ["squat", "bench", "deadlift"])
def test_the_print_is_two_or_three_pages_and_the_same_every_time(lift: str) -> None:
    """By typst's own pages; no page is blank; same review, same bytes."""
    measurement, review, _ = reviewed(measured(lift, FAULTS[lift][:3], Context(safeties="pins", rpe=8.0)))
    shots, curves = drawn(measurement, review), measurement.measured.curves

    pages = review_print.typeset(measurement, review, shots, curves=curves, form="png")
    once, again = (review_print.review_pdf(measurement, review, shots, curves=curves) for _ in range(2))

    assert 2 <= len(pages) <= 3
    assert all(len(p) > 8000 for p in pages)
    assert once.startswith(b"%PDF-")
    assert once == again
    assert b"pdfuaid" in once  # PDF/UA-1: typst refuses to write it where a picture has no words for it


def test_text_of_a_lifter_is_never_markup() -> None:
    """What typst or HTML would take for commands stands there as text."""
    nasty = '#panic("x") <b>*bold*</b> $x$ \\ @ref {{ 1 }}'
    context = Context(safeties="pins", question=nasty, lifter="<i>R</i>")
    measurement, review, _ = made("squat", context)

    page = review_page.review_html(measurement, review, {})

    assert "&lt;b&gt;" in page
    assert "<b>*bold" not in page
    assert review_print.review_pdf(measurement, review, {}).startswith(b"%PDF-")


def test_a_remark_stands_under_what_was_seen_with_its_reason() -> None:
    """A single one as well: slowing down is no task for the next session."""
    measurement, review, _ = reviewed(measured("deadlift", ("deadlift_slowing",), Context(safeties="x", rpe=8.0)))
    page = review_page.review_html(measurement, review, {})
    remark = next(p for p in review.parts if p.section == "seen")

    assert remark.why
    assert f"{remark.text} {remark.why}" in page
    assert page.index("Seen besides") < page.index(remark.text) < page.index("Next session")
    assert review_print.review_pdf(measurement, review, {}).startswith(b"%PDF")
