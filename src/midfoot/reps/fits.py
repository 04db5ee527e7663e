"""Which of the three lifts the motion fits, from where the bar rests and how the body stands to it."""

from __future__ import annotations

import numpy as np
from attrs import evolve, frozen

from midfoot.records.bar import BarTrack
from midfoot.records.base import FloatArray, Warned
from midfoot.records.body import HIDDEN, INDEX, BodyTrack

LIES_DEG = 60.0
"""A trunk farther than this from the vertical in three quarters of what is seen lies on something."""
SURE = 2.0
"""Points of evidence by which another lift must lead before the asked one is doubted."""
TIED = 1.0
"""Lifts nearer than this to the leading one cannot be told from it."""
HANGS, STRAIGHT = 0.85, 0.95
"""From the shoulder to the fist of a hanging arm is 1.0-1.2 trunk lengths (0.332 + 0.054 of the stature against
0.288: Winter, Biomechanics and Motor Control of Human Movement, from memory); wrists, not fists, are read here. A
pulling arm is straight: from shoulder to wrist is as far as along the elbow."""
HANGS_NOT = 0.6
"""Wrists higher than this many trunk lengths below the shoulders are on no bar that is pulled off the floor."""
WORDS = {"squat": "a squat", "bench": "a bench press", "deadlift": "a deadlift"}


@frozen
class Resting:
    """Where the height rests: `low`, `high` or None, and whether the clip both starts and ends there."""

    level: str | None
    at_both_ends: bool = False


@frozen
class Evidence:
    """Points for each lift and the sentences they rest on.

    With no bar followed: `seat` says what shows that the lifter sits between his movements, "" where nothing does;
    `sits` when the balance shows it; `arms` says how they are, `hang` straight,
    `held` higher, "" where that is not seen.
    """

    points: dict[str, float]
    said: tuple[str, ...]
    seat: str = ""
    arms: str = ""
    sits: bool = False


def lift_fits(
    resting: Resting,
    body: BodyTrack,
    track: BarTrack | None,
    *,
    bar_followed: bool,
    hips: bool = False,
    sits: bool = False,
) -> tuple[str | None, Evidence]:
    """Weigh what speaks for each lift.

    Parameters
    ----------
    resting : where the bar (without one: hips or wrists) rests around its movements.
    body, track : the lifter and the bar in the picture.
    bar_followed : False when the height is the body's own.
    hips : whether, with no bar followed, it is the hips that rise and fall.
    sits : whether the lifter is seen to sit at their lows.

    Returns
    -------
    The lift that leads, or None, and the evidence.
    """
    points = dict.fromkeys(WORDS, 0.0)
    said: list[str] = []
    if resting.level == "low":
        points["deadlift"] += 2.0 if resting.at_both_ends else 1.0
        said.append("it rests low, goes up and comes down to rest")
    elif resting.level == "high":
        weight = 2.0 if resting.at_both_ends else 0.5
        points["squat"] += weight
        points["bench"] += weight
        said.append("it is held high, goes down and comes back up")
    posture = _posture(body)
    if posture == "lying":
        points["bench"] += 3.0
        points["squat"] -= 1.0
        points["deadlift"] -= 1.0
        said.append("the lifter lies")
    elif posture == "upright":
        points["bench"] -= 3.0
        said.append("the lifter stands")
    if bar_followed:
        _weigh_hips(points, said, body, track)
        hang = _hands_below_shoulders(body)
        bent_over = posture is None and _arms_hang(body)
        if (posture == "upright" and hang is not None and hang > 0.6) or bent_over:
            points["deadlift"] += 2.0
            said.append("the hands hang below the shoulders")
        elif posture == "upright" and hang is not None and hang < 0.35:
            points["squat"] += 2.0
            said.append("the hands are at the shoulders")
    arms = ""
    if not bar_followed:
        arms = _weigh_arms(points, said, body, posture)
        if hips:
            points["bench"] -= 2.0
            # of what the hips go up and down in, a pull has hanging arms
            points["squat"] += 1.0 if arms == "held" else 0.0
            said.append("the hips go up and down")
    rests = resting.level == "low" and resting.at_both_ends
    if hips and sits:
        seat = "the weight is not over the feet where the hips are low"
    else:
        seat = "the hips rest low at the clip's start and end" if hips and arms != "hang" and rests else ""
    order = sorted(points, key=lambda k: points[k], reverse=True)
    leads = points[order[0]] - points[order[1]]
    fits = order[0] if leads >= TIED and points[order[0]] > 0 else None
    return (None if seat else fits), Evidence(points, tuple(said), seat, arms, hips and sits)


def _weigh_arms(points: dict[str, float], said: list[str], body: BodyTrack, posture: str | None) -> str:
    """Weigh how the arms are where no bar was followed: `hang` straight, are `held` higher, or ""."""
    low = _bent(body)
    if posture != "lying" and _arms_hang(low):
        points["deadlift"] += 2.0
        said.append("the arms hang straight")
        return "hang"
    down = _hands_below_shoulders(low)
    if posture == "upright" and down is not None and down < HANGS_NOT:
        points["deadlift"] -= 2.0
        said.append("the hands do not hang")
        return "held"
    return ""


def _bent(body: BodyTrack) -> BodyTrack:
    """Give the rows in which the hips are in the lower half of their way: arms hang from everybody who stands."""
    hips = _points(body, "hip")[:, 1]
    known = hips[np.isfinite(hips)]
    if len(known) < 10:
        return body
    low = np.nan_to_num(hips, nan=-np.inf) > 0.5 * (np.quantile(known, 0.1) + np.quantile(known, 0.9))
    if low.sum() < 5:
        return body
    return evolve(
        body, t_s=body.t_s[low], xy_px=body.xy_px[low], sd_px=body.sd_px[low], state=body.state[low],
        peak=body.peak[low], depth_m=body.depth_m[low], world_m=body.world_m[low],
    )  # fmt: skip


def _weigh_hips(points: dict[str, float], said: list[str], body: BodyTrack, track: BarTrack | None) -> None:
    share = _hips_with_bar(body, track)
    if share is None:
        return
    if abs(share) < 0.12:
        points["bench"] += 2.0
        points["squat"] -= 1.0
        said.append("the hips stay where they are while the bar moves")
    elif share > 0.25:
        points["bench"] -= 2.0
        said.append("the hips move with the bar")
    if share > 0.6:
        points["squat"] += 1.0


def doubt(asked: str, evidence: Evidence) -> Warned | None:
    """Give the warning that the motion contradicts the asked lift, None where it does not clearly."""
    if evidence.seat and (asked != "deadlift" or evidence.arms == "held"):
        counted = "; no rep is counted" if asked == "squat" else ""
        pull = evidence.arms == "" and not evidence.sits
        how = (
            "in a pull off the floor, or when standing up from a seat" if pull else "when standing up from a seat"
        )
        end = "" if pull else ": none of the three lifts fits"
        return Warned(
            "lift_doubtful",
            f"Asked was {WORDS[asked]}, but {evidence.seat} and they rise in between, as {how}{end}{counted}.",
            "Check the clip; "
            + ("if it is a deadlift, measure again with --lift deadlift; " if pull else "")
            + f"if it is {WORDS[asked]}, give the moments with --reps FILE.",
        )
    points = evidence.points
    best = max(points.values())
    tied = [lift for lift in WORDS if best - points[lift] < TIED]
    if best <= 0 or asked in tied or len(tied) == len(WORDS) or best - points[asked] < SURE:
        return None
    which, option = " or ".join(WORDS[lift] for lift in tied), " or ".join(f"--lift {lift}" for lift in tied)
    return Warned(
        "lift_doubtful",
        f"Asked was {WORDS[asked]}, but the motion fits {which}: {'; '.join(evidence.said)}.",
        f"If it is {which}, measure again with {option}; otherwise give the moments with --reps FILE.",
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


def _posture(body: BodyTrack) -> str | None:
    """Say `lying` or `upright`, None where the picture does not tell (a bench filmed from its end)."""
    if body.status != "seen" or not len(body.t_s):
        return None
    lean, length = _trunk(body)
    if len(lean) < 5:
        return None
    if float(np.mean(lean > LIES_DEG)) > 0.75:
        # a lifter bent low over the bar leans as far, but his arms hang
        return None if _arms_hang(body) else "lying"
    wide = _points(body, "ankle")[:, 1] - _points(body, "hip")[:, 1]
    legs = wide[np.isfinite(wide)]
    trunk = float(np.quantile(length, 0.9))
    across = body.xy_px[:, INDEX["left_shoulder"]] - body.xy_px[:, INDEX["right_shoulder"]]
    shoulders = np.linalg.norm(across[np.isfinite(across).all(axis=1)], axis=1)
    stands = (
        float(np.quantile(lean, 0.2)) < 40
        and len(legs) >= 5
        and float(np.quantile(legs, 0.9)) > 1.1 * trunk
        and (len(shoulders) < 5 or trunk > 1.1 * float(np.median(shoulders)))
    )
    return "upright" if stands else None


def _hips_with_bar(body: BodyTrack, track: BarTrack | None) -> float | None:
    """Slope of the hips' height on the bar's in the picture, None where either is not seen enough."""
    if track is None or body.status != "seen" or len(track.t_s) < 10 or len(body.t_s) < 10:
        return None
    known = np.isfinite(track.xy_px[:, 1]) & track.seen
    hips = _points(body, "hip")[:, 1]
    both = np.isfinite(hips)
    if known.sum() < 10 or both.sum() < 10:
        return None
    bar = np.interp(body.t_s[both], track.t_s[known], track.xy_px[known, 1])
    spread = float(np.var(bar))
    if np.sqrt(spread) < 5.0:
        return None
    return float(np.mean((bar - bar.mean()) * (hips[both] - hips[both].mean())) / spread)


def _hands_below_shoulders(body: BodyTrack) -> float | None:
    """Median height of the shoulders above the wrists in trunk lengths, None where not seen."""
    down = _points(body, "wrist")[:, 1] - _points(body, "shoulder")[:, 1]
    _, length = _trunk(body)
    down = down[np.isfinite(down)]
    if len(down) < 5 or len(length) < 5:
        return None
    return float(np.median(down) / max(np.quantile(length, 0.9), 1.0))


def _arms_hang(body: BodyTrack) -> bool:
    """Say whether the arms hang straight, also from a trunk that leans or is seen from above."""
    down, straight = _hands_below_shoulders(body), _arms_straight(body)
    return down is not None and down >= HANGS and straight is not None and straight >= STRAIGHT


def _arms_straight(body: BodyTrack) -> float | None:
    """Median distance from shoulder to wrist over the way by the elbow, the straighter arm's, None if not seen."""
    found: list[float] = []
    for side in ("left", "right"):
        chain = [INDEX[f"{side}_{joint}"] for joint in ("shoulder", "elbow", "wrist")]
        known = (body.state[:, chain] != HIDDEN).all(axis=1)
        if known.sum() < 5:
            continue
        a, b, c = (body.xy_px[known, joint] for joint in chain)
        way = np.linalg.norm(b - a, axis=1) + np.linalg.norm(c - b, axis=1)
        found.append(float(np.median(np.linalg.norm(c - a, axis=1) / np.maximum(way, 1e-9))))
    return max(found, default=None)


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
