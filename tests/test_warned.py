"""What a clip and a set as a whole warn of: each warning by its cause, and none without one."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from attrs import evolve
from sets import made_set

from midfoot.footage import Watched
from midfoot.records.bar import Candidate, Sightings
from midfoot.records.base import Value
from midfoot.records.clip import ClipInfo
from midfoot.records.context import Competition, Context
from midfoot.records.measures import SetData
from midfoot.records.reps import Moment
from midfoot.warned import clip_warnings, said_warnings, set_warnings

INFO: ClipInfo = made_set().clip
WATCHED = Watched(cuts_s=(), median_luma=120.0, dark_share=0.05, repeat_doubt="", frames=240, last_s=8.0)


def _clip(info: ClipInfo = INFO, watched: Watched = WATCHED, **more: int) -> dict[str, str]:
    found = clip_warnings(info, watched, **more)
    assert all(w.text.endswith(".") and w.remedy.endswith(".") for w in found)
    return {w.id: w.text for w in found}


def _still(data: SetData) -> Sightings:
    return _camera(data, np.zeros((len(data.track.t_s), 2)))


def _camera(data: SetData, moved_px: np.ndarray, zoom: float = 1.0) -> Sightings:
    """A camera whose middle of the picture goes by `moved_px`, and that zooms about it on the way."""
    count = len(data.track.t_s)
    to_first = np.zeros((count, 2, 3))
    middle = np.array([data.clip.width_px / 2, data.clip.height_px / 2])
    for i, scale in enumerate(np.linspace(1, zoom, count)):
        to_first[i, :, :2] = scale * np.eye(2)
        to_first[i, :, 2] = moved_px[i] + (1 - scale) * middle
    return Sightings(
        boxes_t_s=np.zeros(0), boxes=(), camera_t_s=data.track.t_s, camera_to_first=to_first,
        camera_ok=np.ones(count, bool),
    )  # fmt: skip


def _set(data: SetData, sightings: Sightings | None = None) -> dict[str, str]:
    found = set_warnings(data, sightings or _still(data))
    assert all(w.remedy.endswith(".") for w in found)
    return {w.id: f"{w.text} {w.remedy}" for w in found}


def test_an_ordinary_clip_and_set_warn_of_nothing() -> None:
    """No warning is a habit."""
    assert _clip() == {}
    assert _set(made_set()) == {}


@pytest.mark.parametrize(
    ("fps", "words"),
    [(60, None), (30, None), (24, None), (20, "less sure"), (15, "less sure"), (14, "no velocity"),
     (10, "10 frames"), (5, "no velocity")],
)  # fmt: skip
def test_few_frames(fps: float, words: str | None) -> None:
    """Fewer than 15 a second carry no velocity; up to 24 peaks are less sure."""
    found = _clip(evolve(INFO, frame_interval_median_s=1 / fps, frame_interval_max_s=1.2 / fps))

    assert set(found) == (set() if words is None else {"few_frames"})
    assert words is None or words in found["few_frames"]


def test_a_hole_in_the_clip() -> None:
    """A quarter of a second without a frame."""
    assert "missing in places" in _clip(evolve(INFO, frame_interval_max_s=0.25))["few_frames"]


def test_what_the_file_is() -> None:
    """HDR, very large pictures, breaking off, a clock that is not real time."""
    found = _clip(
        evolve(INFO, hdr=True, reduced=4.0, truncated=True, time_base_doubtful="It plays eight times slower.")
    )

    assert set(found) == {"hdr", "large_picture", "clip_truncated", "time_base_doubtful"}
    assert "4.0 times smaller" in found["large_picture"]
    assert "It plays eight times slower." in found["time_base_doubtful"]


def test_frames_that_do_not_decode() -> None:
    """Told in numbers once a tenth is missing."""
    assert (
        "only 150 of the clip's 240 frames" in _clip(watched=evolve(WATCHED, frames=150))["clip_damaged"].lower()
    )
    assert _clip(watched=evolve(WATCHED, frames=238)) == {}


def test_darkness() -> None:
    """By the middle light of the picture, or by how much of it is black."""
    assert "low_light" in _clip(evolve(INFO, median_luma=30.0))
    assert "low_light" in _clip(watched=evolve(WATCHED, dark_share=0.8))


def test_cuts() -> None:
    """Where they are, and what was done about them."""
    cut = evolve(INFO, cuts_s=(2.0, 5.5))

    assert "2.0 s, 5.5 s: every piece was measured on its own" in _clip(cut, pieces=3)["cut_in_clip"]
    assert "shorter than a second" in _clip(cut, pieces=0)["cut_in_clip"]


def test_no_bar_and_nobody() -> None:
    """Both say why; a candidate is offered ready to be typed."""
    found = _set(made_set(seen=False))

    assert set(found) == {"no_bar", "nobody_seen"}
    assert "no disc moved like a bar" in found["no_bar"]
    assert "--bar-at 10,20@1.50" in found["no_bar"]
    assert "nobody was seen" in found["nobody_seen"]
    assert "--lifter-at X,Y@S" in found["nobody_seen"]


def test_an_unsure_bar_offers_its_candidates() -> None:
    """Every one as an option ready to be typed."""
    data = made_set()
    offered = (Candidate(412.4, 633.2, 40, 2.504, 0.5), Candidate(90, 100, 40, 3, 0.4))

    found = _set(
        evolve(data, track=evolve(data.track, status="unsure", reason="Two things move.", candidates=offered))
    )

    assert set(found) == {"bar_unsure"}
    assert "Two things move." in found["bar_unsure"]
    assert "--bar-at 412,633@2.50 or --bar-at 90,100@3.00" in found["bar_unsure"]


def test_a_plate_at_the_edge_of_the_picture() -> None:
    """Told with its share; a plate just inside is whole."""
    data = made_set()
    at_edge = data.track.xy_px + [data.clip.width_px - 320 - 40, 0]  # centre 40 px inside, radius 75
    just_inside = data.track.xy_px + [data.clip.width_px - 320 - 90, 0]

    assert "100% of the frames" in _set(evolve(data, track=evolve(data.track, xy_px=at_edge)))["plate_cut_off"]
    assert _set(evolve(data, track=evolve(data.track, xy_px=just_inside))) == {}
    hands = evolve(data.track, xy_px=at_edge, source="hands", diameter_px=None)
    assert _set(evolve(data, track=hands)) == {}


def test_a_moving_camera() -> None:
    """Measured at the middle of the picture: a zoom about it moves nothing, a pan of 40 px does."""
    data = made_set()
    pan = np.column_stack([np.linspace(0, 40, 240), np.zeros(240)])

    assert "moves by 40 px" in _set(data, _camera(data, pan))["camera_moves"]
    assert _set(data, _camera(data, 0.2 * pan)) == {}
    assert _set(data, _camera(data, 0 * pan, zoom=1.1)) == {}


@pytest.mark.parametrize(("ascent_s", "word"), [(0.1, "fast"), (0.5, ""), (4.0, ""), (12.0, "slowly")])
def test_reps_that_no_lifter_does_doubt_the_clock(ascent_s: float, word: str) -> None:
    """Ascents of twelve seconds or of a tenth of one."""
    data = made_set()
    reps = tuple(
        evolve(r, low_end=Moment(10.0 * r.n, 0.01), end=Moment(10.0 * r.n + ascent_s, 0.01))
        for r in data.reps.reps
    )

    found = _set(evolve(data, reps=evolve(data.reps, reps=reps)))

    assert set(found) == ({"time_base_doubtful"} if word else set())
    assert word in found.get("time_base_doubtful", "")
    if word:
        assert "--real-speed" in found["time_base_doubtful"]
        told = evolve(data.clip, time_base_doubtful="Told already.")
        assert _set(evolve(data, clip=told, reps=evolve(data.reps, reps=reps))) == {}


def test_a_bar_at_the_hands_is_no_plate() -> None:
    """No diameter, no complaint about the plate."""
    data = made_set()

    assert _set(evolve(data, track=evolve(data.track, source="hands", diameter_px=Value(150, 1)))) == {}


def test_context_against_clip_names_what_was_done() -> None:
    """Five said, two seen; a day that is past; a lift that differs; a rule set without this lift."""
    data = made_set()
    data = evolve(data, asked=evolve(data.asked, reps=5))
    context = Context(
        lift="bench", competition=Competition(date(2030, 5, 1)), read_on=date(2030, 5, 2), sha256="0" * 64
    )

    found = {w.id: w for w in said_warnings(context, data, "wppl-bench")}

    assert set(found) == {"reps_differ", "competition_past", "lift_differs", "rules_missing"}
    assert found["reps_differ"].text == "5 reps were said, 2 were seen: those 2 were measured."
    assert "2030-05-01" in found["competition_past"].text
    assert "as if none were coming" in found["competition_past"].text
    assert "the option was taken" in found["lift_differs"].text
    assert said_warnings(Context(), made_set()) == []
    assert said_warnings(Context(lift="squat"), evolve(data, asked=evolve(data.asked, reps=2))) == []
