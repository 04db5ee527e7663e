"""What the clip does not show is not seen, with a reason and a remedy; it is never made up."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from measures.built import no_body
from measures.figures import Plan, bencher, figure, oblique, puller, squatter

from midfoot.findings import find
from midfoot.measures import measure
from midfoot.measures.registry import definition, rep_measures, set_measures
from midfoot.measures.scene import Scene
from midfoot.measures.views import rules
from midfoot.records.base import Value
from midfoot.records.body import HIDDEN, INDEX, INFERRED
from midfoot.records.measures import Measure, Measured, SetData
from midfoot.records.reps import Phase

TWO = (Plan(), Plan())
BY_BAR = ("range_of_motion_mm", "path_departure_mm", "ascent_mean_velocity_m_s")


def got(found: Measured, rep: int, name: str) -> Measure:
    m = found.of(rep, name)
    assert m is not None
    return m


def kept_rules(found: Measured) -> None:
    """Every measure keeps the record's promises, whatever its status."""
    for m in (*found.whole, *(m for row in found.reps for m in row)):
        if m.status in ("measured", "inferred"):
            assert np.isfinite([m.value, m.sd, m.sd_common]).all(), m
            assert m.sd >= 0, m
            assert m.basis, m
        else:
            assert m.value is None, m
            assert m.sd is None, m
            assert m.sd_common is None, m
            assert m.reason, m


def squat(**made: object) -> SetData:
    return figure(TWO, "squat", joints=squatter(), fps=30.0, **made)[0]


def with_state(data: SetData, joint: str, state: int, span: tuple[float, float]) -> SetData:
    """Set the near side's joint to a state for a time, its place left as nonsense when hidden."""
    body = data.body
    rows = (body.t_s >= span[0]) & (body.t_s <= span[1])
    k = INDEX[f"{data.view.near_side}_{joint}"]
    states, xy = body.state.copy(), body.xy_px.copy()
    states[rows, k] = state
    if state == HIDDEN:
        xy[rows, k] = 7.0
    return evolve(data, body=evolve(body, state=states, xy_px=xy))


def test_all_measures_of_the_lift_are_there_for_every_rep() -> None:
    for lift, joints in (("squat", squatter()), ("bench", bencher()), ("deadlift", puller())):
        found = measure(figure(TWO, lift, joints=joints, fps=30.0)[0])
        assert [m.id for m in found.whole] == [m.id for m in set_measures(lift)]
        for row in found.reps:
            assert [m.id for m in row] == [m.id for m in rep_measures(lift)]
        kept_rules(found)


def test_without_a_bar_there_are_times_and_the_body() -> None:
    data = squat()
    found = measure(evolve(data, path=None, track=evolve(data.track, reason="no disc was found")))
    for name in BY_BAR:
        m = got(found, 0, name)
        assert m.status == "not_seen"
        assert "no disc was found" in m.reason
        assert "--bar-at" in m.reason
    assert got(found, 0, "ascent_time_s").status == "measured"
    assert got(found, 0, "trunk_angle_low_deg").status == "not_seen"
    kept_rules(found)


def test_without_a_body_there_is_the_bar() -> None:
    found = measure(evolve(squat(), body=no_body()))
    assert got(found, 0, "range_of_motion_mm").status == "measured"
    m = got(found, 0, "hip_lead_ratio")
    assert m.status == "not_seen"
    assert "nobody whose hands hold the bar" in m.reason
    assert "--lifter-at" in m.reason
    kept_rules(found)


def test_without_a_scale_there_are_angles_of_the_body_alone() -> None:
    data = figure(TWO, "bench", joints=bencher(), fps=30.0)[0]
    found = measure(evolve(data, scale=None, path=None))
    forearm = got(found, 0, "forearm_angle_deg")
    assert forearm.status == "measured"
    # with the bar it is read to the bar in the hand, which lies beside the wrist: within what that is said to be
    with_bar = got(measure(data), 0, "forearm_angle_deg")
    assert abs(forearm.value - with_bar.value) < 2 * with_bar.sd_common
    assert got(found, 0, "shoulder_shift_mm").status == "not_seen"
    assert "scale" in got(found, 0, "shoulder_shift_mm").reason


def test_a_hidden_hip_is_not_used_and_says_what_hides_it() -> None:
    # At the low the hip is taken away; wherever nonsense stands in its place it must not come through.
    data = squat()
    r = data.reps.reps[0]
    blind = with_state(data, "hip", HIDDEN, (r.low_start.t_s - 0.3, r.low_end.t_s + 1.0))
    found = measure(blind)
    for name in ("squat_depth_mm", "trunk_angle_low_deg", "hip_lead_ratio", "knee_flexion_low_deg"):
        m = got(found, 0, name)
        assert m.status == "not_seen", name
        assert "hip" in m.reason
        assert "20-30 degrees" in m.reason
        assert got(found, 1, name).status == "measured"
    # Where the joint was last seen at the plate, the plate is what hides it.
    near = evolve(blind, track=evolve(blind.track, diameter_px=Value(900.0, 2.0)))
    assert "hidden by the plate" in got(measure(near), 0, "squat_depth_mm").reason
    kept_rules(found)


def test_an_inferred_joint_makes_an_inferred_measure() -> None:
    data = squat()
    r = data.reps.reps[0]
    found = measure(with_state(data, "hip", INFERRED, (r.low_start.t_s - 0.2, r.low_end.t_s + 0.2)))
    assert got(found, 0, "squat_depth_mm").status == "inferred"
    assert got(found, 1, "squat_depth_mm").status == "measured"
    assert got(found, 0, "range_of_motion_mm").status == "measured"


def test_a_bar_followed_at_the_hands_is_inferred() -> None:
    data = squat()
    found = measure(evolve(data, path=evolve(data.path, source="hands")))
    m = got(found, 0, "range_of_motion_mm")
    assert m.status == "inferred"
    assert "hands" in m.basis


def test_under_15_frames_a_second_there_are_times_and_no_velocity() -> None:
    data, _ = figure(TWO, "squat", joints=squatter(), fps=10.0)
    found = measure(data)
    for m in (*found.reps[0], *found.whole):
        if m.unit == "m_s" or m.id in ("velocity_loss_pct", "pause_time_s", "sticking_height_mm"):
            assert m.status == "not_seen", m.id
            assert "15 frames" in m.reason
    assert got(found, 0, "ascent_time_s").status == "measured"
    assert got(found, 0, "squat_depth_mm").status == "measured"
    assert not found.curves
    kept_rules(found)


@pytest.mark.parametrize("view_class", ["front", "rear"])
def test_front_and_rear_views_tell_heights_and_say_what_would_tell_the_rest(view_class: str) -> None:
    data = squat()
    view = evolve(data.view, view_class=view_class, facing="toward" if view_class == "front" else "away",
                  yaw_deg=Value(85.0, 3.0))  # fmt: skip
    found = measure(evolve(data, view=view))
    m = got(found, 0, "path_departure_mm")
    assert m.status == "not_seen"
    assert "film from the side" in m.reason
    height = got(found, 0, "range_of_motion_mm")
    assert height.status == "measured"
    assert "weak" in height.basis
    assert height.sd > got(measure(data), 0, "range_of_motion_mm").sd
    kept_rules(found)


def test_a_view_that_could_not_be_told_gives_no_joints() -> None:
    data = squat()
    found = measure(evolve(data, view=evolve(data.view, view_class="unknown", facing="unknown", near_side=None)))
    assert got(found, 0, "squat_depth_mm").status == "not_seen"
    assert got(found, 0, "range_of_motion_mm").status == "measured"
    kept_rules(found)


def test_angles_are_refused_from_far_round() -> None:
    data, _ = figure((Plan(),), "squat", joints=squatter(), fps=30.0, camera=oblique(40.0))
    m = got(measure(data), 0, "knee_flexion_low_deg")
    assert m.status == "not_seen"
    assert "film from the side" in m.reason


def test_a_clip_that_begins_in_the_middle_of_a_rep() -> None:
    data = squat()
    first = evolve(data.reps.reps[0], start=None, low_start=None, start_seen=False, outcome="cut_off")
    found = measure(evolve(data, reps=evolve(data.reps, reps=(first, data.reps.reps[1]))))
    m = got(found, 0, "descent_time_s")
    assert m.status == "not_seen"
    assert "before the first rep" in m.reason
    assert got(found, 0, "ascent_time_s").status == "measured"
    assert got(found, 1, "descent_time_s").status == "measured"
    kept_rules(found)


def test_a_missed_rep_has_a_height_and_no_lockout() -> None:
    data = squat()
    missed = evolve(data.reps.reps[1], outcome="missed")
    found = measure(evolve(data, reps=evolve(data.reps, reps=(data.reps.reps[0], missed))))
    assert got(found, 1, "lockout_shortfall_mm").status == "not_applicable"
    # To the highest point, which comes after the end of the ascent: that is where it enters the 10 mm about it.
    assert got(found, 1, "range_of_motion_mm").value == pytest.approx(500, abs=1)
    kept_rules(found)


def test_a_covered_plate_leaves_a_hole_in_the_velocity() -> None:
    data = squat()
    first, last = data.reps.reps[0].ascent_s
    middle = (first + last) / 2
    path = data.path
    hole = (path.t_s > middle - 0.25) & (path.t_s < middle + 0.25)
    blind = evolve(
        data,
        path=evolve(path, seen=path.seen & ~hole, up_mm=np.where(hole, np.nan, path.up_mm),
                    forward_mm=np.where(hole, np.nan, path.forward_mm)),
    )  # fmt: skip
    found = measure(blind)
    assert got(found, 0, "ascent_peak_velocity_m_s").status == "not_seen"
    assert got(found, 0, "sticking_velocity_m_s").status == "not_seen"
    # Its two ends are seen, and the mean needs no more.
    assert got(found, 0, "ascent_mean_velocity_m_s").status == "measured"
    curve = next(c for c in found.curves if c.n == 1)
    assert np.isnan(curve.velocity_m_s).any()
    kept_rules(found)


def test_the_unrack_is_measured_where_the_clip_shows_it() -> None:
    data = figure((Plan(), Plan()), "bench", joints=bencher(), fps=30.0)[0]
    path = data.path
    start = data.reps.reps[0].start.t_s
    racked = path.t_s < 0.4
    moved = evolve(
        data,
        path=evolve(path, up_mm=path.up_mm - 60.0 * racked, forward_mm=path.forward_mm - 45.0 * racked),
        reps=evolve(
            data.reps, phases=(Phase("setup", 0.0, 0.4), Phase("unrack", 0.4, 0.5), Phase("hold", 0.5, start))
        ),
    )
    found = measure(moved)
    assert got(found, 0, "unrack_lift_mm").value == pytest.approx(60, abs=1)
    assert got(found, 0, "unrack_travel_mm").value == pytest.approx(45, abs=1)
    assert got(found, 1, "unrack_lift_mm").status == "not_applicable"
    # arms that come from the rack pull the shoulder's place along: its offset there is another one
    joints = Scene(data).reps[0].scene.joints_mm
    offset = joints.at("shoulder", start, "held")[0].parts["shoulder forward held"]
    assert got(found, 0, "unrack_shoulder_shift_mm").sd_common > 0.45 * abs(offset)
    assert got(found, 0, "unrack_hip_shift_mm").sd_common > 0.3 * abs(offset)
    unrack = next(m for m in found.whole if m.id == "unrack_time_s")
    assert unrack.value == pytest.approx(0.1)


def test_a_drop_in_the_swing_of_the_plates_counts_only_with_the_wrists() -> None:
    # Down shortly before the lockout: plates swing there. With the wrist going down as well it is the bar.
    data, _ = figure((Plan(up_s=2.0),), "deadlift", joints=puller(), fps=60.0)
    top = data.reps.reps[0].top_start.t_s
    dip = 100 * np.exp(-(((data.path.t_s - (top - 0.2)) / 0.1) ** 2))
    swung = evolve(data, path=evolve(data.path, up_mm=data.path.up_mm - dip))
    alone = got(measure(swung), 0, "downward_movement_mm")
    assert alone.value < 2
    xy = swung.body.xy_px.copy()
    for side in ("left", "right"):
        xy[:, INDEX[f"{side}_wrist"], 1] += dip / data.scale.body_mm_per_px.value * 1.1
    together = evolve(swung, body=evolve(swung.body, xy_px=xy))
    with_hands = got(measure(together), 0, "downward_movement_mm")
    assert with_hands.value > 15
    assert "wrists" in with_hands.basis


def test_a_single_rep_has_nothing_to_be_held_against() -> None:
    data, _ = figure((Plan(),), "squat", joints=squatter(), fps=30.0)
    found = measure(data)
    for name in ("lockout_shortfall_mm", "low_height_change_mm", "depth_change_mm"):
        assert got(found, 0, name).status == "not_applicable"


def test_an_empty_set_has_no_reps_and_does_not_fail() -> None:
    data = squat()
    found = measure(evolve(data, reps=evolve(data.reps, reps=(), phases=())))
    assert found.reps == ()
    assert found.best_rep is None
    kept_rules(found)


@pytest.mark.parametrize(("lift", "joints"), [("squat", squatter()), ("bench", bencher()), ("deadlift", puller())])
@pytest.mark.parametrize("view_class", ["side", "front_oblique", "unknown"])
def test_without_the_lifters_facing_nothing_says_forward_or_back(
    lift: str, joints: object, view_class: str
) -> None:
    # Forward is toward the way the lifter faces; without it only sizes along the path are known, never their sign.
    data = figure(TWO, lift, joints=joints, fps=30.0)[0]
    known = measure(data)
    view = evolve(data.view, view_class=view_class, facing="unknown", near_side=None)
    found = measure(evolve(data, view=view))
    signed = {m for m, rule in rules().items() if rule.needs_facing}
    assert {"path_at_low_mm", "path_departure_mm", "late_descent_travel_mm", "touch_point_mm"} <= signed
    seen = 0
    for place, row in enumerate(found.reps):
        for m in row:
            # What says "forward" of a place or an angle in its own words has no value.
            whole = definition(m.id, lift)
            if m.id in signed:
                assert m.value is None, m
                seen += m.status == "not_seen" and got(known, place, m.id).status == "measured"
                if m.status == "not_seen":
                    assert m.reason.startswith("which way the lifter faces could not be told; "), m
            elif m.status == "measured":
                assert "forward of" not in whole.what.replace("forward or", ""), whole.id
                assert "forward positive" not in whole.what, whole.id
    assert seen >= 2
    for name in ("path_range_mm", "range_of_motion_mm"):
        assert got(found, 0, name).value == pytest.approx(got(known, 0, name).value, rel=1e-3)
    drifting = {d.measure for d in found.drift}
    assert not drifting & signed
    kept_rules(found)


def test_without_the_lifters_facing_no_finding_rests_on_forward() -> None:
    plans = (Plan(bulge_mm=10.0), Plan(bulge_mm=10.0), Plan(bulge_mm=10.0), Plan(bulge_mm=90.0))
    data = figure(plans, "squat", joints=squatter(), fps=30.0)[0]
    assert "squat_bar_forward" in {f.id for f in find(data, measure(data)).findings}
    blind = evolve(data, view=evolve(data.view, facing="unknown", near_side=None))
    assert "squat_bar_forward" not in {f.id for f in find(blind, measure(blind)).findings}
