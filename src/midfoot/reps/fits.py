"""Which of the three lifts the motion fits, from where the bar rests and how the body stands to it."""

from __future__ import annotations

import numpy as np
from attrs import frozen

from midfoot.records.bar import BarTrack
from midfoot.records.base import FloatArray, Warned
from midfoot.records.body import HIDDEN, INDEX, BodyTrack

LIES_DEG = 60.0
"""A trunk farther than this from the vertical in three quarters of what is seen lies on something."""
SURE = 2.0
"""Points of evidence by which another lift must lead before the asked one is doubted."""
WORDS = {"squat": "a squat", "bench": "a bench press", "deadlift": "a deadlift"}


@frozen
class Evidence:
    """Points for each lift and the sentences they rest on."""

    points: dict[str, float]
    said: tuple[str, ...]


def lift_fits(
    resting: str | None, body: BodyTrack, track: BarTrack | None, *, bar_followed: bool
) -> tuple[str | None, Evidence]:
    """Weigh what speaks for each lift.

    Parameters
    ----------
    resting : `low`, `high` or None
        Where the bar rests before and after its excursions.
    body, track : the lifter and the bar in the picture.
    bar_followed : False when the height is the body's own.

    Returns
    -------
    The lift that leads by `SURE` points, or None, and the evidence.
    """
    points = dict.fromkeys(WORDS, 0.0)
    said: list[str] = []
    if resting == "low":
        points["deadlift"] += 2.0
        said.append("it rests low, goes up and comes down to rest")
    elif resting == "high":
        points["squat"] += 1.0
        points["bench"] += 1.0
        said.append("it is held high, goes down and comes back up")
    lies = _lies(body)
    if lies is True:
        points["bench"] += 3.0
        points["squat"] -= 2.0
        points["deadlift"] -= 2.0
        said.append("the lifter lies")
    elif lies is False:
        points["bench"] -= 3.0
        said.append("the lifter is upright")
        hang = _hands_below_shoulders(body)
        if hang is not None and bar_followed:
            if hang > 0.6:
                points["deadlift"] += 2.0
                said.append("the hands hang below the shoulders")
            elif hang < 0.35:
                points["squat"] += 2.0
                said.append("the hands are at the shoulders")
    order = sorted(points, key=lambda k: points[k], reverse=True)
    leads = points[order[0]] - points[order[1]]
    return (order[0] if leads >= 1.0 and points[order[0]] > 0 else None), Evidence(points, tuple(said))


def doubt(asked: str, fits: str | None, evidence: Evidence) -> Warned | None:
    """Give the warning that the motion contradicts the asked lift, None where it does not clearly."""
    if fits is None or fits == asked or evidence.points[fits] - evidence.points[asked] < SURE:
        return None
    return Warned(
        "lift_doubtful",
        f"Asked was {WORDS[asked]}, but the motion fits {WORDS[fits]}: {'; '.join(evidence.said)}.",
        f"If it is {WORDS[fits]}, measure again with --lift {fits}; otherwise give the moments with --reps FILE.",
    )


def _points(body: BodyTrack, name: str) -> FloatArray:
    """Mean of left and right where not hidden, (n, 2), NaN elsewhere."""
    both = [INDEX[f"left_{name}"], INDEX[f"right_{name}"]]
    known = (body.state[:, both] != HIDDEN) & np.isfinite(body.xy_px[:, both]).all(axis=2)
    xy = np.where(known[:, :, None], body.xy_px[:, both], 0.0)
    count = known.sum(axis=1)
    return np.asarray(np.where(count[:, None] > 0, xy.sum(axis=1) / np.maximum(count, 1)[:, None], np.nan))


def _trunk(body: BodyTrack) -> tuple[FloatArray, FloatArray]:
    trunk = _points(body, "shoulder") - _points(body, "hip")
    known = np.isfinite(trunk).all(axis=1)
    lean = np.degrees(np.arctan2(np.abs(trunk[known, 0]), -trunk[known, 1]))
    return lean, np.linalg.norm(trunk[known], axis=1)


def _lies(body: BodyTrack) -> bool | None:
    if body.status != "seen" or not len(body.t_s):
        return None
    lean, _ = _trunk(body)
    if len(lean) < 5:
        return None
    share = float(np.mean(lean > LIES_DEG))
    return True if share > 0.75 else False if share < 0.5 and float(np.quantile(lean, 0.1)) < 45 else None


def _hands_below_shoulders(body: BodyTrack) -> float | None:
    """Median height of the shoulders above the wrists in trunk lengths, None where not seen."""
    down = _points(body, "wrist")[:, 1] - _points(body, "shoulder")[:, 1]
    _, length = _trunk(body)
    down = down[np.isfinite(down)]
    if len(down) < 5 or len(length) < 5:
        return None
    return float(np.median(down) / max(np.quantile(length, 0.9), 1.0))


def leans_deg(body: BodyTrack, t_s: float, reach_s: float = 0.2) -> float | None:
    """Give the trunk's lean from the vertical in the picture around a moment, None where not seen."""
    if body.status != "seen":
        return None
    near = np.abs(body.t_s - t_s) <= reach_s
    trunk = (_points(body, "shoulder") - _points(body, "hip"))[near]
    trunk = trunk[np.isfinite(trunk).all(axis=1)]
    if not len(trunk):
        return None
    return float(np.median(np.degrees(np.arctan2(np.abs(trunk[:, 0]), -trunk[:, 1]))))
