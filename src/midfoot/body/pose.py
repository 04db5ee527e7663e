"""The second look: the lifter's landmarks at about 15 frames a second, and the body track made of them."""

from __future__ import annotations

import numpy as np

from midfoot.body.follow import Lock
from midfoot.body.hidden import sd_px, states
from midfoot.body.infer import infer
from midfoot.body.landmarks import COUNT, LandmarkNet, Pose
from midfoot.body.lifter import BarEvidence, LifterChoice, bar_of
from midfoot.body.models import ModelFiles
from midfoot.body.regions import BODY_PER_SIDE
from midfoot.body.search import quality
from midfoot.body.smoothing import WEIGHT_SD_PX_PER_BODY, whittaker
from midfoot.records.base import FloatArray
from midfoot.records.body import HIDDEN, INDEX, INFERRED, SEEN, BodyTrack
from midfoot.records.clip import ClipInfo, Frame

STEP_S = 1 / 15
"""Between poses: 12 to 15 a second is where more gains nothing and fewer lose the region in fast drops."""
BRIDGE_S = 0.2
"""Longest stretch of hidden frames over which a joint is carried by the curve through its neighbours in time."""
LEAST_ROWS = 5
NEAR_JOINTS = ("hip", "knee", "ankle")
NEAR_LEAST = 0.02
"""Difference of mean peaks between the sides from which the near side is told."""


def not_seen(reason: str, model: str = "full") -> BodyTrack:
    """Give the body track of a lifter who was not seen, and why."""
    flat = np.zeros((0, COUNT))
    return BodyTrack(
        status="not_seen", model=model, t_s=np.zeros(0), xy_px=np.zeros((0, COUNT, 2)), sd_px=flat,
        state=np.zeros((0, COUNT)), peak=flat, depth_m=flat, world_m=np.zeros((0, COUNT, 3)), reason=reason,
    )  # fmt: skip


class LifterPose:
    """Follows the lifter's landmarks. Give it every frame with `see`, then take `result`.

    Parameters
    ----------
    models : ModelFiles
        `heavy` is used where it is given, else `full`.
    choice : LifterChoice
    info, coarse, lift : optional
        Taken for callers that have them; `choice` carries what is needed.
    """

    def __init__(
        self,
        models: ModelFiles,
        choice: LifterChoice,
        info: ClipInfo | None = None,
        coarse: BarEvidence | None = None,
        *,
        lift: str | None = None,
    ) -> None:
        self.model = "heavy" if models.heavy is not None else "full"
        self._net = LandmarkNet(models.heavy or models.full)
        self._choice = choice
        self._lock = Lock(lift or choice.lift, choice.t_s, choice.region)
        self._t_s: list[float] = []
        self._poses: list[Pose] = []
        self._last_s = -np.inf

    def see(self, frame: Frame) -> None:
        """Take the next frame; about every second one is looked at."""
        if frame.t_s - self._last_s < STEP_S - 2e-3:
            return
        self._last_s = frame.t_s
        region = self._lock.region
        if region is None:
            region = self._lock.seed(frame.t_s)
        if region is None:
            return
        rgb = frame.rgb()
        pose = self._net.see(rgb, region)
        good = self._lock.good(pose)
        other = self._lock.astray(frame.t_s) if self._lock.region is not None else None
        if other is not None or (not good and self._lock.seed(frame.t_s) is not None):
            seed = other or self._lock.seed(frame.t_s)
            assert seed is not None
            again = self._net.see(rgb, seed)
            if again.presence > 0.5 and (quality(again) > quality(pose) or other is not None):
                pose = again
                self._lock.restart(again, frame.t_s)
                good = False  # already moved on
        if good:
            self._lock.advance(pose, frame.t_s)
        self._t_s.append(frame.t_s)
        self._poses.append(pose)

    def result(self, bar: BarEvidence | None = None) -> BodyTrack:
        """Give the body track.

        Parameters
        ----------
        bar : BarTrack, optional
            The finished track of the bar, whose near disc covers joints; what the choice rested on by default.
        """
        if len(self._t_s) < LEAST_ROWS:
            return not_seen("The lifter was not in view for long enough.", self.model)
        t_s = np.array(self._t_s)
        raw = np.array([p.xy_px for p in self._poses])
        presence = np.array([p.presence for p in self._poses])
        peak = np.array([p.peak for p in self._poses]) * (presence > 0.5)[:, None]
        body = np.array([p.region.side_px for p in self._poses]) * BODY_PER_SIDE
        usual = np.full(len(t_s), float(np.median(body)))
        where = bar_of(bar, self._choice.bar)
        state = states(raw, peak, where.at(t_s), where.radius_px, self.model)
        sd = sd_px(peak, usual, self.model)
        xy, sd, state = smooth_joints(t_s, raw, sd, state, float(usual[0]))
        near, margin = near_side(peak)
        xy, sd, state = infer(t_s, xy, sd, state, float(usual[0]))
        if not (state[:, [INDEX["left_hip"], INDEX["right_hip"]]] != HIDDEN).any():
            return not_seen("The lifter's hips were never clearly in view.", self.model)
        metres = np.array([p.world_m for p in self._poses])
        return BodyTrack(
            status="seen", model=self.model, t_s=t_s, xy_px=xy, sd_px=sd, state=state, peak=peak,
            depth_m=metres[:, :, 2], world_m=metres, near_side=near, near_side_margin=margin,
            reason=f"chosen by {self._choice.basis}",
        )  # fmt: skip


def smooth_joints(
    t_s: FloatArray, raw: FloatArray, sd: FloatArray, state: np.ndarray, body_px: float
) -> tuple[FloatArray, FloatArray, np.ndarray]:
    """Smooth every joint over its seen frames; short gaps are carried, longer ones stay hidden (NaN)."""
    xy = np.full(raw.shape, np.nan)
    out_sd = np.where(state == SEEN, sd, np.nan)
    out_state = state.copy()
    for k in range(raw.shape[1]):
        seen = state[:, k] == SEEN
        for rows in _stretches(t_s, seen):
            weight = np.where(seen[rows], (WEIGHT_SD_PX_PER_BODY * body_px / sd[rows, k]) ** 2, 0.0)
            xy[rows, k] = whittaker(t_s[rows], raw[rows, k], weight)
            carried = rows[~seen[rows]]
            out_state[carried, k] = INFERRED
            inside = rows[seen[rows]]
            out_sd[carried, k] = 1.5 * np.interp(t_s[carried], t_s[inside], sd[inside, k])
    return xy, out_sd, out_state


def _stretches(t_s: FloatArray, seen: np.ndarray) -> list[np.ndarray]:
    """Split rows into stretches between seen rows no further than the bridge apart."""
    rows = np.flatnonzero(seen)
    if not len(rows):
        return []
    steps = np.diff(t_s)
    usual = float(np.median(steps)) if len(steps) else 0.0
    breaks = np.flatnonzero(np.diff(t_s[rows]) > BRIDGE_S + usual)
    starts, ends = np.concatenate([[0], breaks + 1]), np.concatenate([breaks, [len(rows) - 1]])
    return [np.arange(rows[a], rows[b] + 1) for a, b in zip(starts, ends, strict=True)]


def near_side(peak: FloatArray) -> tuple[str | None, float]:
    """Give the side toward the camera by the clip's mean peaks of hip, knee and ankle, and how clear it is."""
    mean = {s: float(peak[:, [INDEX[f"{s}_{j}"] for j in NEAR_JOINTS]].mean()) for s in ("left", "right")}
    apart = mean["left"] - mean["right"]
    margin = float(min(1.0, abs(apart) / 0.2))
    if abs(apart) < NEAR_LEAST:
        return None, margin
    return ("left" if apart > 0 else "right"), margin
