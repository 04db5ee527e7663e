"""The main job end to end on made clips: what is found, when, on which clock; cuts, slowed clips, stopping."""

from __future__ import annotations

import math
import threading
from pathlib import Path

import numpy as np
import pytest
from attrs import evolve
from body.network import files
from clips import write_clip
from gym import RADIUS_PX, SIZE, SQUAT_S, drawn_px, gym_pictures, write_gym

from midfoot import footage, pipeline
from midfoot.pipeline import Request, measure_clip
from midfoot.records.bar import Sightings
from midfoot.records.body import People
from midfoot.records.clip import Asked, Reading
from midfoot.records.measures import Measurement
from midfoot.reps import GivenRep, GivenReps
from midfoot.store import to_json, validate

pytestmark = pytest.mark.footage
SECONDS, START_S = 2.6, 0.6
ASKED = Asked("squat", plate_mm=450.0)


@pytest.fixture(scope="module", autouse=True)
def pose_files() -> None:
    """The pose network's files are at hand, or all of this is skipped."""
    files()


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One squat, nobody under the bar."""
    path = tmp_path_factory.mktemp("gym") / "set.mp4"
    write_gym(path, seconds=SECONDS, starts_s=(START_S,))
    return path


@pytest.fixture(scope="module")
def told() -> list[tuple[str, float]]:
    """What progress was told while the clip was measured."""
    return []


@pytest.fixture(scope="module")
def measured(clip: Path, told: list[tuple[str, float]]) -> Measurement:
    """The clip, measured once."""
    return measure_clip(Request(clip, ASKED), progress=lambda step, share: told.append((step, share)))


def _leaves_band_s(range_mm: float) -> float:
    """When the drawn bar has left the band of 10 mm: range sin2(pi t / T) = 10."""
    return SQUAT_S / math.pi * math.asin(math.sqrt(10.0 / range_mm))


def test_the_drawn_squat_is_found_and_timed(measured: Measurement) -> None:
    """One completed rep; moments by the rule of bands, within a frame and 10 ms."""
    data = measured.data
    assert (data.track.status, data.track.source) == ("found", "plate")
    assert data.track.seen.mean() >= 0.99
    assert len(data.track.t_s) == round(SECONDS * 30)
    (rep,) = data.reps.reps
    assert rep.outcome == "completed"
    value = measured.measured.of(0, "range_of_motion_mm")
    assert value is not None
    assert value.value is not None
    off = _leaves_band_s(value.value)
    assert rep.start is not None
    assert rep.end is not None
    assert rep.start.t_s == pytest.approx(START_S + off, abs=1 / 30 + 0.010)
    assert rep.end.t_s == pytest.approx(START_S + SQUAT_S - off, abs=1 / 30 + 0.010)


def test_its_range_is_right_within_what_is_claimed(measured: Measurement) -> None:
    """70 px of a disc drawn 68 px wide that is told to measure 450 mm."""
    value = measured.measured.of(0, "range_of_motion_mm")
    assert value is not None
    assert value.value is not None
    assert value.sd is not None
    assert value.sd_common is not None

    assert value.value == pytest.approx(70.0 * 450.0 / 68.0, abs=3.0 * math.hypot(value.sd, value.sd_common))


def test_nobody_under_the_bar_is_said_and_the_bar_is_measured_alone(measured: Measurement) -> None:
    """Velocity from the bar; angles of a body that is not there are not seen, with the reason."""
    assert "nobody_seen" in {w.id for w in measured.warnings}
    assert measured.data.body.status == "not_seen"
    velocity = measured.measured.of(0, "ascent_mean_velocity_m_s")
    angle = measured.measured.of(0, "trunk_angle_low_deg")
    assert velocity is not None
    assert velocity.status == "measured"
    assert angle is not None
    assert angle.status == "not_seen"
    assert angle.reason


def test_the_result_obeys_the_schema_and_names_its_steps(measured: Measurement) -> None:
    """Provenance: every step with its version."""
    document = to_json(measured)

    validate(document)
    assert [s["name"] for s in document["provenance"]["steps"]] == [
        "footage",
        "bar",
        "body",
        "reps",
        "measures",
        "rules",
        "findings",
    ]
    first = measured.data.reps.reps[0].start
    assert first is not None
    assert measured.data.path is not None
    assert np.interp(first.t_s, measured.data.path.t_s, measured.data.path.up_mm) == pytest.approx(0, abs=3.0)


def test_progress_goes_forward_to_its_end(measured: Measurement, told: list[tuple[str, float]]) -> None:
    """Each step from near nothing to all of it."""
    steps = list(dict.fromkeys(step for step, _ in told))
    assert steps[0] == "looking for the bar and the lifter"
    assert steps[-1] == "following the bar and the body"
    for step in (steps[0], steps[-1]):
        shares = [share for s, share in told if s == step]
        assert shares == sorted(shares)
        assert shares[0] < 0.1
        assert shares[-1] > 0.95


def test_given_reps_count_on_the_clips_clock_also_in_a_part(measured: Measurement) -> None:
    """A part that starts at 30 s holds moments from there on; its phases lie within it."""
    data, by = measured.data, 30.0
    reading = Reading(from_s=by, to_s=by + SECONDS)
    track = evolve(data.track, t_s=data.track.t_s + by)
    still = Sightings(boxes_t_s=[], boxes=(), camera_t_s=[], camera_to_first=np.zeros((0, 2, 3)), camera_ok=[])
    followed = pipeline._Followed(
        Request(Path("set.mp4"), ASKED, reading), data.clip, still, People(looked_t_s=[]), track, data.body,
        data.view, data.scale, (),
    )  # fmt: skip

    plain, _ = pipeline._set_of(followed, None)
    corrected, _ = pipeline._set_of(followed, GivenReps([GivenRep(n=1, start_s=by + 0.7)]))

    (before,), (after,) = plain.reps.reps, corrected.reps.reps
    own = data.reps.reps[0].start
    assert own is not None
    assert before.start is not None
    assert before.start.t_s == pytest.approx(own.t_s + by, abs=1e-6)
    assert after.start is not None
    assert after.start.t_s == by + 0.7
    assert after.end == before.end
    assert all(by <= p.start_s <= p.end_s <= by + SECONDS + 1e-9 for p in plain.reps.phases)


def test_a_cut_clip_is_measured_piece_by_piece(tmp_path: Path) -> None:
    """Two views of one squat each, a title of half a second between them: two reps, the title aside."""
    t_s = np.arange(round(2.3 * 30)) / 30
    title = [np.full((SIZE[1], SIZE[0], 3), (20, 30, 90), np.uint8)] * 15
    near = gym_pictures(t_s, starts_s=(0.35,))
    far = gym_pictures(t_s, starts_s=(0.35,), seed=9, radius=26)
    pictures = [*near, *title, *far]
    write_clip(tmp_path / "cut.mp4", times_s=np.arange(len(pictures)) / 30, size=SIZE, pictures=pictures)
    steps: list[str] = []

    found = measure_clip(Request(tmp_path / "cut.mp4", ASKED), progress=lambda step, _: steps.append(step))

    second = len(near) / 30, (len(near) + 15) / 30
    data = found.data
    assert data.clip.cuts_s == pytest.approx(second, abs=1e-3)
    assert [r.n for r in data.reps.reps] == [1, 2]
    for rep, from_s, radius in zip(data.reps.reps, (0.0, second[1]), (RADIUS_PX, 26), strict=True):
        way_mm = 70.0 * radius / RADIUS_PX * 450.0 / drawn_px(radius)
        value = found.measured.of(rep.n - 1, "range_of_motion_mm")
        assert value is not None
        assert value.value == pytest.approx(way_mm, rel=0.04), "each by the scale of its own piece"
        assert rep.start is not None
        assert rep.start.t_s == pytest.approx(from_s + 0.35 + _leaves_band_s(463.0), abs=1 / 30 + 0.010)
    aside = [(p.start_s, p.end_s) for p in data.reps.phases if p.kind == "aside"]
    assert any(a <= second[0] + 0.02 and b >= second[1] - 0.05 for a, b in aside)
    ids = {w.id for w in found.warnings}
    assert {"cut_in_clip", "pieces_differ"} <= ids
    assert found.measured.best_rep is None
    assert found.measured.drift == ()
    assert "piece 2 of 2: following the bar and the body" in steps
    validate(to_json(found))


def test_a_slowed_clip_is_doubted(tmp_path: Path) -> None:
    """Every frame shown twice: the clock is doubted, the remedy is --real-speed; with it nothing is doubted."""
    pictures = gym_pictures(np.arange(60) / 30, starts_s=(0.2,), disc=True)
    slow = [p for p in pictures for _ in range(2)]
    write_clip(tmp_path / "slow.mp4", times_s=np.arange(len(slow)) / 30, size=SIZE, pictures=slow)

    found = measure_clip(Request(tmp_path / "slow.mp4", ASKED))

    doubt = [w for w in found.warnings if w.id == "time_base_doubtful"]
    assert len(doubt) == 1
    assert "shown twice" in doubt[0].text
    assert "--real-speed" in doubt[0].remedy
    assert found.data.clip.time_base_doubtful
    (rep,) = found.data.reps.reps
    assert rep.start is not None
    assert rep.end is not None
    assert rep.end.t_s - rep.start.t_s > 2.0, "as the file plays it: nothing is corrected without being asked"


@pytest.mark.parametrize("at_share", [0.0, 0.5])
def test_stopping_ends_the_work_soon(clip: Path, at_share: float) -> None:
    """Asked to stop in the first look, no second look is begun."""
    stop = threading.Event()
    steps: list[str] = []

    def ask(step: str, share: float) -> None:
        steps.append(step)
        if share >= at_share:
            stop.set()

    with pytest.raises(footage.Stopped):
        measure_clip(Request(clip, ASKED), progress=ask, stop=stop)

    assert set(steps) == {"looking for the bar and the lifter"}


def test_no_plate_and_a_lifter_is_measured_from_the_body(shared_clips: Path) -> None:
    """A squat without a bar, filmed at an angle: rep and times from the hips, and no bar is claimed."""
    path = shared_clips / "real" / "opencap_squat" / "video.mp4"
    if not path.exists():
        pytest.skip("the motion-capture squat is not among the shared footage")

    found = measure_clip(Request(path, Asked("squat"), Reading(2.0, 6.0)))

    assert found.data.track.source != "plate"
    assert found.data.body.status == "seen"
    assert "no_bar" in {w.id for w in found.warnings}
    (rep,) = found.data.reps.reps
    assert rep.outcome == "completed"
    time = found.measured.of(0, "ascent_time_s")
    assert time is not None
    assert time.value is not None
    assert 0.3 < time.value < 1.5
