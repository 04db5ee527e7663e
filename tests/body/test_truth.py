"""The body stage against known truth: rendered bodies, and a person under motion capture."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from body.network import followed

from midfoot.body import angles
from midfoot.records.body import INDEX, SEEN
from midfoot.records.clip import Tap

BAD_MM = 75.0


@pytest.mark.footage
@pytest.mark.parametrize(
    ("clip", "near", "most_bad"),
    [("squat_side", "left", 0.1), ("bench_side", "left", 0.1), ("deadlift_oblique_portrait", "left", 0.1)],
)
def test_what_is_called_seen_is_where_it_is(shared_clips: Path, clip: str, near: str, most_bad: float) -> None:
    truth = json.loads((shared_clips / f"rendered/{clip}.json").read_text())
    t, end = np.array(truth["t"]), np.array(truth["end_px"])[:, 0]
    radius = truth["px_per_m_at_plate"] * truth["plate_diameter_m"] / 2
    bar = SimpleNamespace(t_s=t, xy_px=end, radius_px=radius)
    choice, body = followed(shared_clips / f"rendered/{clip}.mp4", truth["lift"], bar, until_s=6.0)
    assert choice.next_score < choice.score / 1.5
    assert body.near_side == near
    off = []
    for side in ("left", "right"):
        for joint in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle"):
            column = truth["keypoints"].index(f"{side}_{joint}")
            at = np.array(truth["kp_px"])[:, column]
            true = np.stack([np.interp(body.t_s, t, at[:, k]) for k in (0, 1)], axis=1)
            k = INDEX[f"{side}_{joint}"]
            seen = body.state[:, k] == SEEN
            off.append(np.hypot(*(body.xy_px[seen, k] - true[seen]).T) / truth["px_per_m_at_plate"] * 1000)
    off = np.concatenate(off)
    assert len(off) > 2 * len(body.t_s), "hiding everything is no answer"
    assert (off > BAD_MM).mean() < most_bad


@pytest.mark.footage
def test_a_persons_knee_against_motion_capture(shared_clips: Path) -> None:
    # OpenCap validation data (Apache-2.0), joint angles from optical markers (nimblephysics, BSD-2-Clause)
    folder = shared_clips / "real/opencap_squat"
    _, rows = (folder / "squats1_ik.mot").read_text().split("endheader")
    names, *lines = rows.strip().splitlines()
    table = np.array([[float(x) for x in line.split()] for line in lines])
    knee = np.degrees(table[:, names.split().index("knee_angle_r")])
    _, body = followed(folder / "video.mp4", "squat", tap=Tap(360, 760, 0.5))
    assert body.near_side == "left"  # her left foot is the one nearer to the camera
    got = angles.joint_in_space(body, "knee", side="right")
    seen = np.isfinite(got.deg)
    assert seen.mean() > 0.9
    flexion = 180 - np.interp(table[:, 0], body.t_s[seen], got.deg[seen])
    true_peaks, peaks = [], []
    for start, stop in _squats(knee):
        true_peaks.append(knee[start:stop].max())
        peaks.append(flexion[start:stop].max())
    np.testing.assert_allclose(true_peaks, [99, 96, 94, 91.5, 93], atol=0.6)
    apart = np.array(peaks) - np.mean(peaks) - (np.array(true_peaks) - np.mean(true_peaks))
    assert np.abs(apart).max() < 4
    inside = (table[:, 0] > body.t_s[0]) & (table[:, 0] < body.t_s[-1])
    assert np.corrcoef(flexion[inside], knee[inside])[0, 1] > 0.97
    assert abs(np.mean(flexion[inside] - knee[inside])) < 8
    # the image plane falls short at 45 degrees: it is refused there
    assert np.isnan(angles.joint(body, "knee", side="right", yaw_deg=45.0).deg).all()


def _squats(knee: np.ndarray) -> list[tuple[int, int]]:
    """Give the stretches in which the knee is bent by more than 50 degrees."""
    bent = np.concatenate([[False], knee > 50, [False]])
    edges = np.flatnonzero(np.diff(bent.astype(int)))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))
