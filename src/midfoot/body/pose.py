"""The second look: the lifter's landmarks at about 15 frames a second, and the body track made of them."""

from __future__ import annotations

import numpy as np

from midfoot.body.bar_place import BarEvidence, bar_of
from midfoot.body.follow import Lock
from midfoot.body.hidden import metre_at_body_px, sd_px, states
from midfoot.body.infer import infer
from midfoot.body.landmarks import COUNT, LandmarkNet, Pose
from midfoot.body.lifter import LifterChoice
from midfoot.body.lying import HipLooks
from midfoot.body.models import ModelFiles
from midfoot.body.regions import BODY_PER_SIDE
from midfoot.body.search import JOINTS, quality
from midfoot.body.smoothing import WEIGHT_SD_M, whittaker
from midfoot.records.base import FloatArray
from midfoot.records.body import INDEX, INFERRED, SEEN, BodyTrack
from midfoot.records.clip import ClipInfo, Frame

STEP_S = 1 / 15
"""Between poses: 12 to 15 a second is where more gains nothing and fewer lose the region in fast drops."""
EVERY_S = STEP_S - 2e-3
"""What is asked of the frame that is looked at next: at least so long after the last one."""
BRIDGE_S = 0.2
"""Longest stretch of hidden frames over which a joint is carried by the curve through its neighbours in time."""
LEAST_ROWS = 5
SIDEWAYS = 0.7
"""How clear the near side must be for the other side to be taken as covered by the body: not from the front."""
NEAR_LEAST_M, NEAR_SURE_M, NEAR_PEAK = 0.06, 0.2, 0.4
"""Difference in depth of the two shoulders and hips from which the near side is told, and at which it is sure."""


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
        self._lock = Lock(choice.lift, choice.t_s, choice.region, choice.bar, choice.hold_px)
        self._t_s: list[float] = []
        self._poses: list[Pose] = []
        self._doubted: list[bool] = []
        self._hips = HipLooks() if choice.lift == "bench" else None
        self._last_s = -np.inf

    def see(self, frame: Frame) -> None:
        """Take the next frame; about every second one is looked at."""
        if frame.t_s - self._last_s < EVERY_S:
            return
        self._last_s = frame.t_s
        lock, t_s = self._lock, frame.t_s
        region = lock.look_at(t_s)
        if region is None:
            return
        rgb = frame.rgb()
        pose = self._net.see(rgb, region)
        good = lock.good(pose, t_s)
        elsewhere = lock.astray(t_s)
        seed = elsewhere or (None if good else lock.seed(t_s))
        if seed is not None and lock.region is not None:
            again = self._net.see(rgb, seed)
            better = quality(again) > quality(pose) or elsewhere is not None or lock.off_the_bar(pose, t_s)
            if again.presence > 0.5 and better and not lock.off_the_bar(again, t_s):
                pose, good = again, False
                lock.restart(again, t_s)
        if good:
            lock.advance(pose, t_s)
        self._t_s.append(t_s)
        self._poses.append(pose)
        if self._hips is not None:
            self._hips.see(frame.luma, pose.xy_px, pose.peak, pose.region.side_px * BODY_PER_SIDE)
        self._doubted.append(lock.off_the_bar(pose, t_s) and self._choice.lift == "squat")

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
        there = (presence > 0.5) & ~np.array(self._doubted)
        peak = np.array([p.peak for p in self._poses]) * there[:, None]
        metres = np.array([p.world_m for p in self._poses])
        body_px = float(np.median([p.region.side_px for p in self._poses])) * BODY_PER_SIDE
        metre_px = metre_at_body_px(raw, peak, body_px)
        near, margin = near_side(peak, metres[:, :, 2])
        where = bar_of(bar, self._choice.bar)
        state = states(raw, peak, where.at(t_s), where.radius_px, self.model, near if margin >= SIDEWAYS else None)
        sd = sd_px(peak, metre_px, self.model)
        xy, sd, state = smooth_joints(t_s, raw, sd, state, metre_px)
        if self._hips is not None:
            xy, sd, state = self._hips.fill(t_s, xy, sd, state)
        xy, sd, state = infer(t_s, xy, sd, state, metre_px, near_side=near, lying=self._choice.lift == "bench")
        if (state[:, list(JOINTS)] == SEEN).any(axis=1).sum() < LEAST_ROWS:
            return not_seen("None of the lifter's joints was ever clearly in view.", self.model)
        space = smooth_space(t_s, metres, state)
        return BodyTrack(
            status="seen", model=self.model, t_s=t_s, xy_px=xy, sd_px=sd, state=state, peak=peak,
            depth_m=space[:, :, 2], world_m=space, near_side=near, near_side_margin=margin,
            reason=f"chosen by {self._choice.basis}",
        )  # fmt: skip


def smooth_joints(
    t_s: FloatArray, raw: FloatArray, sd: FloatArray, state: np.ndarray, metre_px: float
) -> tuple[FloatArray, FloatArray, np.ndarray]:
    """Smooth every joint over its seen frames; short gaps are carried, longer ones stay hidden (NaN)."""
    xy = np.full(raw.shape, np.nan)
    out_sd = np.where(state == SEEN, sd, np.nan)
    out_state = state.copy()
    for k in range(raw.shape[1]):
        seen = state[:, k] == SEEN
        for rows in _stretches(t_s, seen):
            weight = np.where(seen[rows], (WEIGHT_SD_M * metre_px / sd[rows, k]) ** 2, 0.0)
            xy[rows, k] = whittaker(t_s[rows], raw[rows, k], weight)
            carried = rows[~seen[rows]]
            out_state[carried, k] = INFERRED
            inside = rows[seen[rows]]
            out_sd[carried, k] = 1.5 * np.interp(t_s[carried], t_s[inside], sd[inside, k])
    return xy, out_sd, out_state


def smooth_space(t_s: FloatArray, metres: FloatArray, state: np.ndarray) -> FloatArray:
    """Smooth the network's guess in metres (n, 33, 3) over the seen frames of every joint; NaN where not seen."""
    out = np.full(metres.shape, np.nan)
    for k in range(metres.shape[1]):
        seen = state[:, k] == SEEN
        for rows in _stretches(t_s, seen):
            smooth = whittaker(t_s[rows], metres[rows, k], seen[rows].astype(np.float64))
            out[rows[seen[rows]], k] = smooth[seen[rows]]
    return out


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


def near_side(peak: FloatArray, depth_m: FloatArray) -> tuple[str | None, float]:
    """Give the side of the lifter toward the camera and how clear it is, 0..1.

    From the network's depths (n, 33) of the two shoulders and hips, where both are clear in (n, 33) peaks. The
    depths are weak in size and dependable in sign; the peaks themselves do not tell the side in oblique views.
    """
    apart = []
    for joint in ("shoulder", "hip"):
        pair = [INDEX[f"left_{joint}"], INDEX[f"right_{joint}"]]
        clear = peak[:, pair].min(axis=1) >= NEAR_PEAK
        if clear.sum() >= LEAST_ROWS:
            apart.append(float(np.median(depth_m[clear, pair[1]] - depth_m[clear, pair[0]])))
    if not apart:
        return None, 0.0
    left_nearer = float(np.mean(apart))
    margin = min(1.0, abs(left_nearer) / NEAR_SURE_M)
    if abs(left_nearer) < NEAR_LEAST_M:
        return None, margin
    return ("left" if left_nearer > 0 else "right"), margin
