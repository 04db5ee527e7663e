"""What is assumed of plates, bars, lenses and people, and that it is said."""

import math

import attrs
import numpy as np
import pytest
from pinhole import REAL_NOISE, Noise, Shot, take

from midfoot.bar.far_bar import SHAFT_M
from midfoot.bar.fit import SPAN, middle_m
from midfoot.bar.scale import (
    BAR_M,
    COLLARS_M,
    FLANGE_M,
    FULL_SIZE_MM,
    bar_height_prior,
    focal_prior,
    plate_prior,
    span_prior,
    stature_prior,
)
from midfoot.bar.view import _gather, view_and_scale
from midfoot.records.base import Value
from midfoot.records.clip import Asked


def test_rulebook_dimensions():
    # IPF Technical Rule Book (quoted): 1.31 m <= between collars <= 1.32 m, bar <= 2.2 m, discs <= 450 mm;
    # IWF TCRR 2018-2020 3.3 (quoted): 450 mm +- 1 mm, 1310 mm between collars
    assert 1.31 <= COLLARS_M <= 1.32
    assert BAR_M <= 2.2
    assert FULL_SIZE_MM == 450.0
    # loaded from the floor the bar's axis lies 225 mm up
    height, end = bar_height_prior(Asked(lift="deadlift"), FULL_SIZE_MM / 1000)
    assert height.value == pytest.approx(0.225)
    assert end == "lowest"


def test_a_told_plate_is_believed_to_three_tenths_of_a_percent():
    got = plate_prior(Asked(lift="squat", plate_mm=400.0))
    assert got.mm.value == 400.0
    assert got.mm.sd == pytest.approx(1.2)
    assert got.warning is None


@pytest.mark.parametrize("load", [None, 60.0, 140.0])
def test_an_assumed_plate_is_said_to_be_one(load):
    got = plate_prior(Asked(lift="squat", load_kg=load))
    assert got.mm.value == 450.0
    assert got.warning is not None
    assert got.warning.id == "plate_diameter_assumed"
    assert got.warning.remedy
    # 400 mm is what it would be wrong by: within five of its sds
    assert got.mm.value - 400.0 < 5 * got.mm.sd


def test_a_disc_known_to_be_full_size_is_sure_to_seven_tenths():
    got = plate_prior(Asked(lift="deadlift", variation="competition, bumpers", load_kg=140.0))
    assert got.mm.sd == pytest.approx(0.007 * 450)
    assert got.warning is not None


@pytest.mark.parametrize("mm", [450.0, 425.0, 400.0])
@pytest.mark.parametrize("stature", [1.55, 1.75, 1.95])
def test_whichever_usual_size_an_untold_plate_has_lies_within_two_sds(mm, stature):
    """Club iron down to 400 mm, on lifters whose length speaks for one size or for the other."""
    t = take(Shot(yaw_deg=-5.0, plate_mm=mm, stature_m=stature), REAL_NOISE, seed=3)
    untold = attrs.evolve(t.asked, plate_mm=None)
    _, scale, _ = view_and_scale(t.track, t.body, untold, t.info)
    for one, true in ((scale.mm_per_px, t.truth["mm_per_px"]), (scale.body_mm_per_px, t.truth["body_mm_per_px"])):
        assert abs(one.value / true - 1) < 2 * one.sd / one.value
    assert scale.mm_per_px.sd < 0.085 * scale.mm_per_px.value


@pytest.mark.parametrize("load", [20.0, 40.0, 59.9])
def test_under_sixty_kilograms_nobody_assumes_full_size(load):
    got = plate_prior(Asked(lift="bench", load_kg=load))
    assert got.mm.value < 449
    assert got.mm.sd >= 0.03 * got.mm.value
    assert got.warning is not None


def test_span_between_plates_fits_between_collars_and_bar_ends():
    t = take(Shot())
    for load in (None, 60.0, 100.0, 300.0):
        span = span_prior(t.track, Asked(lift="squat", load_kg=load))
        assert COLLARS_M < span.value < BAR_M
        assert 0.03 < span.sd < 0.17
    loose = attrs.evolve(t.track, far_diameter_px=None)
    assert span_prior(loose, Asked(lift="squat")).sd > span_prior(t.track, Asked(lift="squat")).sd


def test_stature_told_and_not():
    assert stature_prior(Asked(lift="squat", stature_m=1.6)).value == 1.6
    assert stature_prior(Asked(lift="squat")).sd > 0.05


@pytest.mark.parametrize("angle", [50.0, 55.0, 65.0, 75.0])
def test_lenses_of_phones_are_within_reach_of_the_prior(angle):
    t = take(Shot(view_angle_deg=angle))
    prior = focal_prior(t.info)
    assert abs(prior.value - Shot(view_angle_deg=angle).focal_px) < 2 * prior.sd


@pytest.mark.parametrize("sold_as_mm", [24.0, 25.0, 26.0, 27.0])
@pytest.mark.parametrize("left", [1.0, 0.9, 0.8])
def test_lens_of_a_phone_from_what_it_is_sold_as(sold_as_mm, left):
    # a 4:3 picture with the diagonal of 36 x 24 mm (43.27 mm) is 34.6 mm long; films use its width, and
    # stabilisers leave nine or eight tenths of it (geometry; the crop from memory)
    info = take(Shot()).info
    prior = focal_prior(info)
    focal = max(info.width_px, info.height_px) * sold_as_mm / (0.8 * math.hypot(36.0, 24.0) * left)
    assert abs(prior.value - focal) < prior.sd


@pytest.mark.parametrize("depth_m", [0.03, 0.10, 0.25])
def test_the_lifter_is_half_way_between_the_inner_faces(depth_m):
    # geometry: from the near stack's outer face that is the stack and half the shaft, however deep the stack is;
    # collars 1.31-1.32 m apart (rulebook)
    x = np.zeros(12)
    x[SPAN] = SHAFT_M + depth_m
    t = take(Shot(yaw_deg=25.0))
    far = attrs.evolve(t.track, far_common_sd_px=1.0)
    cues = _gather(far, t.body, t.asked, t.info, plate_prior(t.asked), None, None)
    assert middle_m(x, cues) == pytest.approx(depth_m + 0.5 * 1.315 + FLANGE_M)
    x[SPAN] = 2.0 * (0.5 * SHAFT_M + depth_m)
    cues = _gather(t.track, t.body, t.asked, t.info, plate_prior(t.asked), None, None)
    assert middle_m(x, cues) == pytest.approx(depth_m + 0.5 * SHAFT_M)


def test_millimetres_a_pixel_and_at_the_body():
    t = take(Shot(yaw_deg=3.0), Noise())
    _, scale, _ = view_and_scale(t.track, t.body, t.asked, t.info)
    assert scale.mm_per_px.value == pytest.approx(t.truth["mm_per_px"], rel=0.004)
    assert scale.body_mm_per_px.value == pytest.approx(t.truth["body_mm_per_px"], rel=0.03)
    assert scale.body_mm_per_px.value > 1.15 * scale.mm_per_px.value
    assert scale.plate_mm == 450.0
    assert "told" in scale.basis


def test_without_a_plate_the_body_gives_the_scale_and_says_so():
    t = take(Shot(yaw_deg=3.0), Noise(landmark_px=5.0), told=False)
    hands = attrs.evolve(t.track, source="hands", diameter_px=None, aspect=None, far_diameter_px=None)
    _, scale, warnings = view_and_scale(hands, t.body, t.asked, t.info)
    assert scale.plate_mm is None
    assert "stature" in scale.basis
    assert scale.mm_per_px.sd > 0.05 * scale.mm_per_px.value
    assert "scale_from_body" in [w.id for w in warnings]
    # what is followed is in the lifter's own plane, or one fist's width before it
    assert 0.0 < scale.body_mm_per_px.value / scale.mm_per_px.value - 1.0 < 0.1
    told = attrs.evolve(t.asked, stature_m=1.75)
    _, better, _ = view_and_scale(hands, t.body, told, t.info)
    assert better.mm_per_px.sd < scale.mm_per_px.sd
    assert abs(better.body_mm_per_px.value - t.truth["body_mm_per_px"]) < 2.5 * better.body_mm_per_px.sd


def test_with_nothing_to_measure_by_there_is_no_scale():
    t = take(Shot(), body=False)
    bare = attrs.evolve(t.track, source="shaft", diameter_px=None, aspect=None, far_diameter_px=None)
    _, scale, _ = view_and_scale(bare, t.body, t.asked, t.info)
    assert scale is None


@pytest.mark.parametrize(
    ("near_side", "yaw_deg", "view_class"), [("right", 72.0, "front"), ("left", -76.0, "rear")]
)
@pytest.mark.parametrize("told_round", [False, True], ids=["as it is", "ends taken for one another"])
def test_a_shaft_with_both_ends_tells_the_view_from_front_and_rear(near_side, yaw_deg, view_class, told_round):
    t = take(Shot(near_side=near_side, yaw_deg=yaw_deg, half_m=0.73), Noise(landmark_px=5.0))
    near, far = t.track.xy_px, t.track.far_xy_px
    ends = (far, near) if told_round else (near, far)
    middle = 0.5 * (near + far)
    shaft = attrs.evolve(
        t.track, source="shaft", xy_px=middle, steady_px=middle, near_xy_px=ends[0], far_xy_px=ends[1],
        diameter_px=None, aspect=None, far_diameter_px=None, far_common_sd_px=2.0,
    )  # fmt: skip
    view, scale, _ = view_and_scale(shaft, t.body, t.asked, t.info)
    assert (view.near_side, view.view_class) == (near_side, view_class)
    assert abs(view.yaw_deg.value - yaw_deg) < max(2.5 * view.yaw_deg.sd, 3.0)
    assert abs(scale.body_mm_per_px.value / t.truth["body_mm_per_px"] - 1.0) < 0.06
    assert 0.03 < scale.body_mm_per_px.sd / scale.body_mm_per_px.value < 0.08
    assert "1.31" in scale.basis


def test_square_from_the_front_neither_end_is_said_to_be_the_nearer():
    t = take(Shot(near_side="right", yaw_deg=89.0), Noise(landmark_px=5.0))
    middle = 0.5 * (t.track.xy_px + t.track.far_xy_px)
    shaft = attrs.evolve(
        t.track, source="shaft", xy_px=middle, steady_px=middle, near_xy_px=t.track.xy_px,
        diameter_px=None, aspect=None, far_diameter_px=None, far_common_sd_px=2.0,
    )  # fmt: skip
    view, _, warnings = view_and_scale(shaft, t.body, t.asked, t.info)
    assert view.near_side is None
    assert (view.facing, view.view_class) == ("toward", "front")
    assert "facing_unknown" not in [w.id for w in warnings]


@pytest.mark.parametrize("yaw", [74.0, 82.0])
def test_a_stack_whose_side_is_taken_for_its_face_does_not_hide_the_front(yaw):
    # pinhole of the tests; the outline of a stack 0.15 m deep is rounder by depth / diameter times the sine
    shot = take(Shot(yaw_deg=yaw), far=False)
    side = 0.15 / 0.45 * math.sin(math.radians(yaw))
    rounder = Value(shot.track.aspect.value + side, 0.02)

    view, _, _ = view_and_scale(attrs.evolve(shot.track, aspect=rounder), shot.body, shot.asked, shot.info)

    assert abs(view.yaw_deg.value - yaw) <= 2.5 * view.yaw_deg.sd
