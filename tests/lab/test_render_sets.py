"""Random sets: recipes, a bar that bends, a lens that bends, planted faults; and that it is a person who lifts.

The checks on bodies need the bank (`python -m lab.render.bank`, which needs the package `anny`).
"""

import collections

import attrs
import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lab.render import bank, course_deadlift, course_squat, faults, moments, truth
from lab.render.ascent import MISSED, ascent
from lab.render.barbell import end_centres
from lab.render.camera import Camera
from lab.render.faults import Fault
from lab.render.lens import Lens
from lab.render.motion import RepPlan, Variation
from lab.render.recipe import DIFFICULTIES, LIFTS, VARIATIONS, recipe, with_faults
from lab.render.whip import whip

EVEN = Variation(path_m=0.0, tempo=0.0, depth_m=0.0, sway_m=0.0)


def test_a_seed_gives_one_recipe_and_another_seed_another():
    assert recipe(5, "hard") == recipe(5, "hard")
    assert recipe(5, "hard") != recipe(6, "hard")
    assert recipe(5, "hard").person != recipe(5, "phone").person


def test_telling_the_reps_changes_nothing_else():
    assert attrs.evolve(recipe(9, "phone", reps=4), reps=()) == attrs.evolve(recipe(9, "phone", reps=2), reps=())


def test_everything_that_can_be_drawn_is_drawn():
    drawn = [recipe(seed, "hard") for seed in range(600)]
    assert {r.lift for r in drawn} == set(LIFTS)
    for lift in LIFTS:
        assert {r.style.variation for r in drawn if r.lift == lift} == set(VARIATIONS[lift])
    assert {d.diameter_m for r in drawn for d in r.discs if d.diameter_m >= 0.4} == {0.40, 0.425, 0.45}
    assert {len(r.discs) for r in drawn} == {1, 2, 3, 4, 5}
    assert {p.outcome for r in drawn for p in r.reps} == {"completed", "missed", "assisted", "dropped"}
    assert {r.take.codec for r in drawn} == {"h264", "hevc", "hevc_hdr"}
    for told in ("mirrored", "turned", "variable"):
        assert {getattr(r.take, told) for r in drawn} == {True, False}
    statures = [r.person.stature_m for r in drawn]
    assert min(statures) >= 1.50
    assert max(statures) <= 1.95
    assert min(r.eye.yaw_deg for r in drawn) < -80
    assert max(r.eye.yaw_deg for r in drawn) > 80
    ways = collections.Counter(where for r in drawn for _, where in r.around.others)
    assert set(ways) == {"behind", "passing", "near_end", "far_end"}


def test_an_unknown_difficulty_is_said():
    with pytest.raises(ValueError, match="difficulty: expected one of"):
        recipe(1, "easy")
    assert len(DIFFICULTIES) == 3


@pytest.mark.parametrize("sag_m", [0.005, 0.016, 0.040])
def test_a_bar_that_hangs_by_h_swings_at_root_g_over_h(sag_m):
    """A mass on a spring: f = sqrt(g / h) / (2 pi), any physics textbook."""
    t = np.arange(0, 3, 0.001)
    mid = np.where(t < 0.5, 0.0, 0.02)  # a jolt
    off = whip(t, np.convolve(np.pad(mid, 25, mode="edge"), np.ones(51) / 51, "valid"), sag_m)
    assert off[400] == pytest.approx(-sag_m, abs=1e-4)
    late = (t > 0.7) & (t < 2.2)
    wave = off[late] + sag_m
    rising = np.flatnonzero((wave[:-1] < 0) & (wave[1:] >= 0))
    hertz = (len(rising) - 1) / (t[late][rising[-1]] - t[late][rising[0]])
    assert hertz == pytest.approx(np.sqrt(9.81 / sag_m) / (2 * np.pi), rel=0.03)


def test_the_middle_rises_by_the_sag_before_the_discs_leave_the_floor():
    t = np.arange(0, 4, 0.002)
    mid = 0.225 + 0.03 * np.clip((t - 1) / 2, 0, 1)
    off = whip(t, mid, 0.02, 0.225)
    discs = mid + off
    assert discs.min() >= 0.225 - 1e-9
    left = t[np.flatnonzero(discs > 0.2252)[0]]
    assert np.interp(left, t, mid) - 0.225 == pytest.approx(0.02, abs=0.002)
    assert not whip(t, mid, 0.0).any()


@given(st.floats(-0.08, 0.05), st.integers(0, 2**31))
@settings(max_examples=20, deadline=None)
def test_the_lens_bends_as_opencvs_does(bend, seed):
    camera = Camera("left", 20.0, 3.2, 1.1, (0.0, 0.0, 0.0), 0.9, 1.0, 65.0, 320, 180)
    lens, view = Lens(camera, bend), camera.still()
    points = np.random.default_rng(seed).uniform((-0.8, -0.8, 0.1), (0.8, 0.8, 1.7), (20, 3))
    turn, _ = cv2.Rodrigues(view.turn)
    theirs, _ = cv2.projectPoints(
        points, turn, -view.turn @ view.place_m, lens.matrix, np.array([bend, 0.0, 0.0, 0.0])
    )
    np.testing.assert_allclose(lens.bent(view.project(points)), theirs[:, 0], atol=1e-6)


def test_a_bent_picture_has_its_lights_where_the_lens_says():
    camera = Camera("left", 0.0, 3.0, 1.0, (0.0, 0.0, 0.0), 1.0, 0.0, 65.0, 320, 180)
    lens = Lens(camera, -0.06)
    spot = np.array([[280.0, 150.0]])
    shift = np.array([(lens.canvas.width_px - 320) / 2, (lens.canvas.height_px - 180) / 2])
    drawn = np.zeros((lens.canvas.height_px, lens.canvas.width_px, 3), np.uint8)
    x, y = (round(float(v)) for v in (spot + shift)[0])
    drawn[y - 1 : y + 2, x - 1 : x + 2] = 255
    seen = lens.picture(drawn)[..., 0].astype(float)
    rows, columns = np.mgrid[0:180, 0:320]
    middle = np.array([(columns * seen).sum(), (rows * seen).sum()]) / seen.sum()
    np.testing.assert_allclose(middle, lens.bent(spot)[0], atol=0.15)


@given(st.floats(-6, 6), st.floats(-0.04, 0.0), st.floats(0.5, 1.0))
def test_a_tilted_bars_ends(tilt, flex, face):
    left, right = end_centres(np.array([0.0, 0.1, 1.0]), face, flex, tilt)
    assert np.linalg.norm(left - right) == pytest.approx(2 * face)
    rise = np.degrees(np.arctan2(left[2] - right[2], left[0] - right[0]))
    assert rise == pytest.approx(tilt, abs=1e-9)


def test_lengths_come_back_from_two_pictures():
    """Triangulated by OpenCV from two views, the ends of a bar are as far apart as they were put."""
    ends = np.array(end_centres(np.array([0.0, -0.05, 1.2]), 0.77, -0.01, 1.5))
    views = [Camera("left", yaw, 3.3, 1.1, (0.0, 0.0, 0.0), 0.9, 0.5, 60.0, 1280, 720).still() for yaw in (15, 50)]
    lens = Lens(views[0].camera, 0.0).matrix
    rows = [lens @ np.column_stack([v.turn, -v.turn @ v.place_m]) for v in views]
    seen = [v.project(ends).T for v in views]
    found = cv2.triangulatePoints(*rows, *seen)
    found = (found[:3] / found[3]).T
    np.testing.assert_allclose(found, ends, atol=1e-4)


@pytest.mark.parametrize("outcome", ["missed", "assisted"])
def test_a_rise_that_stands(outcome):
    made = ascent(up_s=1.5, stick=0.2, stick_at=0.4, outcome=outcome, stuck_at=0.6, dip=0.0, dip_at=0.7)
    share = made.share(np.linspace(0, 1, 2000))
    assert share[0] == pytest.approx(0, abs=1e-9)
    assert share[-1] == pytest.approx(0.0 if outcome == MISSED else 1.0, abs=1e-9)
    still = np.flatnonzero(np.abs(np.diff(share)) < 1e-7)
    assert len(still) * made.duration_s / 2000 > 0.4
    if outcome == MISSED:
        assert share.max() == pytest.approx(0.6)
        assert share[int(made.peak * 1999)] == pytest.approx(0.6, abs=1e-6)


def test_a_missed_squat_ends_where_it_comes_into_the_band_below_its_highest_point():
    """As docs/decisions/0008 has it: when a bar that stands is highest, its sway decides."""
    plans = [RepPlan(up_s=1.2), RepPlan(outcome=MISSED, stuck_at=0.5, up_s=1.5)]
    course = course_squat.course(
        plans, over_m=0.06, top_m=1.4, low_m=0.85, variation=EVEN, rng=np.random.default_rng(1)
    )
    events = moments.of_set(course.t_s, course.up_m, course.marks, deadlift=False, outcomes=course.outcomes)
    assert course.outcomes == ("completed", "missed")
    highest_m = 0.85 + 0.5 * 0.55
    assert course.at("up_m", events[1]["end_s"]) == pytest.approx(highest_m - 0.010, abs=0.004)
    assert events[1]["end_s"] < course.marks[1]["end"] - 0.5


def test_a_dropped_bar_falls_as_bodies_fall():
    """Half a metre takes sqrt(2 h / g) = 0.32 s."""
    course = course_deadlift.course(
        [RepPlan(outcome="dropped")], over_m=0.1, floor_m=0.225, top=(0.12, 0.775), variation=EVEN,
        rng=np.random.default_rng(2),
    )  # fmt: skip
    down = (course.up_m > 0.235) & (course.up_m < 0.765) & (course.t_s > course.marks[0]["turn"])
    first = np.flatnonzero(down)
    run = first[: np.flatnonzero(np.diff(first) > 1)[0] + 1] if (np.diff(first) > 1).any() else first
    took = course.t_s[run[-1]] - course.t_s[run[0]]
    assert took == pytest.approx(np.sqrt(2 * 0.54 / 9.81) - np.sqrt(2 * 0.01 / 9.81), abs=0.02)
    assert course.at("hands_up_m", course.t_s[-1]) > 0.5


def test_what_a_lift_cannot_have_is_said():
    with pytest.raises(ValueError, match="hips_off is a fault of bench"):
        faults.planted("squat", [RepPlan()], [Fault("hips_off", 0.03, 1)])
    with pytest.raises(ValueError, match="kind: expected one of"):
        faults.planted("squat", [RepPlan()], [Fault("smiles", 0.03, 1)])


def test_a_fault_that_grows_is_whole_at_the_last_rep():
    plans, grip = faults.planted(
        "bench", [RepPlan()] * 4, [Fault("hips_off", 0.04, 2, grows=True), Fault("grip_narrower", 0.06)]
    )
    assert [round(p.hips_m, 4) for p in plans] == [0.0, round(0.04 / 3, 4), round(0.08 / 3, 4), 0.04]
    assert grip == pytest.approx(-0.03)


needs_bank = pytest.mark.skipif(not bank.bank_file().exists(), reason=f"no bank of bodies at {bank.bank_file()}")


def _figures(made_recipe):
    from lab.render.build import lifter_of

    made = lifter_of(made_recipe)
    return made, truth.of_reps(made_recipe.lift, made.lifter)[1]


@needs_bank
def test_a_body_keeps_its_shares_at_every_stature():
    """Thigh and shank 0.245 and 0.246 of stature: Drillis & Contini 1966 (from memory)."""
    for stature in (1.50, 1.95):
        body = bank.body_of(2, stature)
        assert body.stature_m == pytest.approx(stature)
        assert body.length("upperleg01.L", "lowerleg01.L") / stature == pytest.approx(0.245, abs=0.008)
        assert body.length("lowerleg01.L", "foot.L") / stature == pytest.approx(0.246, abs=0.010)


PERSON = {
    "squat": {"range": (0.31, 0.39), "trunk_angle_low_deg": (28, 56), "knee_at_low_deg": (105, 146),
              "hip_lead_ratio": (0.92, 1.35), "squat_depth_mm": (-40, 130)},
    "bench": {"range": (0.10, 0.25), "path_at_low_mm": (35, 160), "forearm_angle_deg": (-25, 15)},
    "deadlift": {"range": (0.24, 0.38), "trunk_angle_start_deg": (40, 80), "knee_at_top_deg": (0, 12),
                 "hip_lead_ratio": (0.7, 1.45)},
}  # fmt: skip
"""Wide limits of what people do: range of motion over stature and style as published for the lifts (from memory of
the project's reference values), joint angles common practice."""


@needs_bank
@pytest.mark.parametrize("lift", LIFTS)
def test_it_is_a_person_who_lifts(lift):
    for seed in (31, 32):
        made, rows = _figures(recipe(seed, "phone", lift=lift, reps=2))
        for row in rows:
            shown = {**row, "range": row["range_of_motion_mm"] / 1000 / made.body.stature_m}
            for name, (low, high) in PERSON[lift].items():
                assert low <= shown[name] <= high, (seed, made.style.variation, name, shown[name])


@needs_bank
def test_no_two_reps_are_alike_and_none_is_far_off():
    """Standard deviation from rep to rep: depth 12 mm, tempo 6 %, path 8-12 mm; common practice, no source."""
    depth, tempo, path = [], [], []
    for seed in range(40, 44):
        asked = recipe(seed, "phone", lift="squat", reps=4)
        alike = attrs.evolve(asked, reps=(asked.reps[0],) * 4)
        _, rows = _figures(alike)
        depth.append(np.std([r["low_height_change_mm"] for r in rows], ddof=1))
        tempo.append(np.std(np.log([r["ascent_time_s"] for r in rows]), ddof=1))
        path.append(np.std([r["path_departure_mm"] for r in rows], ddof=1))
    assert 6 < np.median(depth) < 20
    assert 0.03 < np.median(tempo) < 0.11
    assert 5 < np.median(path) < 13


@needs_bank
@pytest.mark.parametrize(
    ("lift", "fault", "measure", "least"),
    [
        ("squat", Fault("forward_drift", 0.040, 2), "path_departure_mm", 25),
        ("squat", Fault("shallower", 0.045, 2), "depth_change_mm", 22),
        ("squat", Fault("hips_first", 14.0, 2), "hip_lead_ratio", 0.15),
        ("squat", Fault("lockout_short", 0.020, 2), "lockout_shortfall_mm", 15),
        ("squat", Fault("sinks", 0.020, 2), "downward_movement_mm", 10),
        ("bench", Fault("late_toward_feet", 0.035, 2), "late_descent_travel_mm", 15),
        ("bench", Fault("hips_off", 0.050, 2), "hip_lift_mm", 45),
        ("bench", Fault("shoulders_creep", 0.025, 2), "shoulder_shift_mm", -20),
        ("bench", Fault("bar_tilts", 3.0, 2), "tilt_left_up_deg", 1.0),
        ("deadlift", Fault("forward_drift", 0.080, 2), "path_departure_mm", 25),
        ("deadlift", Fault("lockout_short", 0.030, 2), "lockout_shortfall_mm", 25),
        ("deadlift", Fault("hips_first", 16.0, 2), "hip_lead_ratio", 0.10),
    ],
    ids=lambda v: v.kind if isinstance(v, Fault) else None,
)
def test_a_planted_fault_shows_in_the_measures_of_the_truth(lift, fault, measure, least):
    asked = recipe(51, "still", lift=lift, reps=2)
    asked = attrs.evolve(asked, scatter=EVEN, reps=(asked.reps[0], asked.reps[0]),
                         style=attrs.evolve(asked.style, sag_m=0.0))  # fmt: skip
    _, (first, second) = _figures(with_faults(asked, [fault]))
    change = second[measure] - first[measure]
    assert change >= least if least > 0 else change <= least
