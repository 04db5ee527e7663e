from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from attrs import evolve
from drawn import Drawn

from midfoot.bar.follow import Follower
from midfoot.bar.lay import Laid
from midfoot.bar.rows import finished
from midfoot.records.clip import Frame


@pytest.mark.parametrize(("boxed", "status"), [(1.2, "found"), (2.1, "unsure"), (np.nan, "found")])
def test_an_outline_half_as_large_as_what_was_boxed_is_not_taken_for_it(boxed: float, status: str) -> None:
    """Near the front the follower may lay hold of what hangs before an edge-on plate: half its size and scale."""
    follower, laid, scene = learnt()
    assert follower.look is not None
    coarse = evolve(scene.coarse(1.0, 0), status="found")
    track = finished(follower.look, laid, coarse, None, boxed * scene.radius)
    assert track.status == status
    assert ("boxed" in track.reason) == (status == "unsure")
    # what it may be instead lies within twice the stated sd, and a plain rim keeps its own
    assert track.diameter_px is not None
    assert track.diameter_px.sd < 0.04 * track.diameter_px.value or status == "unsure"
    if status == "unsure":
        assert abs(2 * boxed * scene.radius - track.diameter_px.value) < 2 * track.diameter_px.sd


@cache
def learnt() -> tuple[Follower, list[Laid], Drawn]:
    """Learn a drawn plate; it is laid where it was drawn."""
    scene = Drawn(frames=30)
    shown = scene.pictures()
    rows = [Frame(i, float(t), shown[i], lambda: np.zeros(0, np.uint8)) for i, t in enumerate(scene.t_s)]
    follower = Follower(scene.info, scene.coarse(1.0, 0), None)
    while follower.sample_times_s:
        wanted = {int(np.argmin(np.abs(scene.t_s - t))) for t in follower.sample_times_s}
        follower.learn([rows[i] for i in sorted(wanted)])
    laid = [Laid(float(t), float(x), float(y), 0.9) for t, (x, y) in zip(scene.t_s, scene.centres, strict=True)]
    return follower, laid, scene
