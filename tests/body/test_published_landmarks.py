"""The landmarks that were published for the same network on the same clip.

Source: TensorFlow.js models, pose-detection test data (Apache-2.0): the BlazePose full model, tracked and
smoothed, 33 landmarks a frame. MediaPipe's own pipeline is 4.9 px (median) from them; the network itself moves by
about 4 px
on a person of this size when its region does.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from body.network import every, files

from midfoot.body.detector import Detector, whole
from midfoot.body.landmarks import LandmarkNet
from midfoot.records.body import INDEX

JOINTS = [INDEX[f"{s}_{j}"] for j in ("shoulder", "hip", "knee", "ankle") for s in ("left", "right")]


@pytest.mark.footage
@pytest.mark.parametrize("tracked", [False, True])
def test_joints_lie_where_they_were_published(shared_clips: Path, tracked: bool) -> None:
    models = files()
    detector, net = Detector(models.detector), LandmarkNet(models.full)
    published = np.array(json.loads((shared_clips / "real/pose_reference/pose_squats.full.json").read_text()))
    away = []
    region = None
    for frame, expected in zip(
        every(shared_clips / "real/pose_reference/pose_squats.mp4"), published, strict=True
    ):
        rgb = frame.rgb()
        assert rgb.shape[:2] == (1280, 720)
        if region is None or not tracked:
            region = detector.look(rgb, whole(720, 1280), 0.5)[0].region
        pose = net.see(rgb, region)
        assert pose.presence > 0.9
        region = pose.next_region
        away.append(np.hypot(*(pose.xy_px - expected[:, :2])[JOINTS].T))
    assert np.median(away) <= 7.0
    assert np.percentile(away, 95) <= 20.0
