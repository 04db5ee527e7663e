"""Joints marked by a person, on tracks made from formulas."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from sets import made_set

from midfoot.body import with_marks
from midfoot.body.marked import CLICK_SD_PX, FADE_S
from midfoot.records.body import HIDDEN, INDEX, SEEN, BodyTrack
from midfoot.records.clip import JointMark, Tap

HIP = INDEX["left_hip"]


def body(**changes: object) -> BodyTrack:
    return evolve(made_set().body, **changes)


def hip_at(track: BodyTrack, t_s: float) -> np.ndarray:
    return np.array([np.interp(t_s, track.t_s, track.xy_px[:, HIP, axis]) for axis in (0, 1)])


def test_a_mark_is_met_at_its_moment_and_fades_out() -> None:
    """The mark moves the hip by (12, -7) px there, by half of that at half the fade (cos^2 45 deg = 1/2), then by
    nothing."""
    before = body()
    at = float(before.t_s[len(before.t_s) // 2])
    x, y = hip_at(before, at) + (12, -7)
    after = with_marks(before, [JointMark("left_hip", Tap(x, y, at))])

    moved = {s: hip_at(after, at + s) - hip_at(before, at + s) for s in (0.0, FADE_S / 2, 1.2 * FADE_S)}
    assert moved[0.0] == pytest.approx([12, -7], abs=0.05)
    assert moved[FADE_S / 2] == pytest.approx([6, -3.5], abs=0.2)
    assert moved[1.2 * FADE_S] == pytest.approx([0, 0], abs=1e-9)
    row = int(np.argmin(np.abs(after.t_s - at)))
    assert after.sd_px[row, HIP] == pytest.approx(CLICK_SD_PX, abs=0.3)
    other = INDEX["left_knee"]
    assert np.array_equal(after.xy_px[:, other], before.xy_px[:, other], equal_nan=True)


def test_a_hidden_joint_is_seen_only_beside_its_mark() -> None:
    before = body()
    state, xy = before.state.copy(), before.xy_px.copy()
    state[:, HIP], xy[:, HIP] = HIDDEN, np.nan
    before = evolve(before, state=state, xy_px=xy)
    at = float(before.t_s[20])
    after = with_marks(before, [JointMark("left_hip", Tap(100, 200, at))])

    seen = np.flatnonzero(after.state[:, HIP] == SEEN)
    assert 20 in seen
    assert np.abs(after.t_s[seen] - at).max() <= 0.05 + 1e-9
    assert np.isnan(after.xy_px[~np.isin(np.arange(len(after.t_s)), seen), HIP]).all()


def test_two_marks_share_what_lies_between() -> None:
    """Both marks move the hip by 10 px: between them it moves by no more."""
    before = body()
    a, b = (float(before.t_s[i]) for i in (20, 24))
    marks = [JointMark("left_hip", Tap(hip_at(before, t)[0] + 10, hip_at(before, t)[1], t)) for t in (a, b)]
    after = with_marks(before, marks)

    between = (after.xy_px - before.xy_px)[20:25, HIP, 0]
    assert between == pytest.approx(np.full(5, 10.0), abs=0.1)


def test_no_marks_change_nothing_and_no_landmark_is_refused() -> None:
    before = body()
    assert with_marks(before, []) is before
    nobody = made_set(seen=False).body
    assert with_marks(nobody, [JointMark("left_hip", Tap(1, 1, 1))]) is nobody
    with pytest.raises(ValueError, match="left_hip"):
        with_marks(before, [JointMark("tail", Tap(1, 1, 1))])
