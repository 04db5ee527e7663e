"""Keeping the network on the lifter: the region for the next frame, and when not to believe it.

A plate passes over the body, the pose collapses, and the region that it asks for slides away onto somebody
else. So the region moves on only with a pose that fits what went before; else it stays, and where the first
look over the clip knew better, it goes there.
"""

from __future__ import annotations

import numpy as np
from attrs import define, field

from midfoot.body.bar_place import Bar
from midfoot.body.claims import hold_joints
from midfoot.body.landmarks import Pose
from midfoot.body.regions import BODY_PER_SIDE, Region, wrap
from midfoot.body.search import CORE
from midfoot.records.base import FloatArray

LEAST_PRESENCE, LEAST_CORE = 0.5, 0.4
LEAP = 0.12
SIDES = (0.8, 1.25)
TURN = {"squat": np.radians(25), "deadlift": np.radians(25), "bench": np.radians(9)}
"""How far a region may turn against its own running median: a lying body does not turn."""
MEMORY = 60
SEED_REACH_S = 0.35
ASTRAY = 0.2
"""Distance (share of the side) from where the first look saw the lifter at which the region is put back."""
HOLD_OFF = 0.3
"""Distance, in bodies, of the hold from where the moving bar says it is, from which the pose is somebody else's
(or, at the hands, from which the region stays)."""
HOLD_PEAK = 0.5
MOVING = 0.25
"""Speed of the bar, in bodies a second, from which the lifter surely holds it. In the squat nothing of him is
wanted while he is not under it."""
GOES_ALONG = {"squat": 1.0, "deadlift": 0.6, "bench": 0.0}
"""How far a lost region is taken along with the bar: the hips' share of the bar's way."""


@define
class Lock:
    """The region to look at next.

    `seed_t_s`, `seed_region` are where the first look saw the lifter; `bar` and `hold_px` say where his hold is.
    """

    lift: str
    seed_t_s: FloatArray
    seed_region: FloatArray
    bar: Bar
    hold_px: FloatArray
    region: Region | None = None
    good_t_s: float = -np.inf
    _rows: list[FloatArray] = field(factory=list)

    def seed(self, t_s: float) -> Region | None:
        """Give where the first look saw the lifter at `t_s`, between its looks by line, None if it did not."""
        if not len(self.seed_t_s):
            return None
        after = int(np.searchsorted(self.seed_t_s, t_s))
        near = [i for i in (after - 1, after) if 0 <= i < len(self.seed_t_s)]
        near = [i for i in near if abs(self.seed_t_s[i] - t_s) <= SEED_REACH_S]
        if not near:
            return None
        if len(near) == 1:
            return Region.from_row(self.seed_region[near[0]])
        i, j = near
        share = (t_s - self.seed_t_s[i]) / (self.seed_t_s[j] - self.seed_t_s[i])
        row = self.seed_region[i] + share * (self.seed_region[j] - self.seed_region[i])
        row[3] = self.seed_region[i, 3] + share * wrap(float(self.seed_region[j, 3] - self.seed_region[i, 3]))
        return Region.from_row(row)

    def off_the_bar(self, pose: Pose, t_s: float) -> bool:
        """Tell whether the pose's hold is elsewhere than the bar says."""
        if not np.isfinite(self.hold_px).all():
            return False
        around = self.bar.at(np.array([t_s - 0.15, t_s, t_s + 0.15]))
        body = self._usual_side() * BODY_PER_SIDE
        if not np.isfinite(around).all():
            return False
        if self.lift != "squat" and np.hypot(*(around[2] - around[0])) / 0.3 < MOVING * body:
            return False
        hold = list(hold_joints(self.lift))
        if self.lift != "squat" and pose.peak[hold].min() < HOLD_PEAK:
            return False  # hands behind the plate are imagined anywhere
        away = pose.xy_px[hold].mean(axis=0) - around[1] - self.hold_px
        return bool(np.hypot(*away) > HOLD_OFF * body)

    def _usual_side(self) -> float:
        if self._rows:
            return float(np.median([r[2] for r in self._rows]))
        return float(np.median(self.seed_region[:, 2]))

    def look_at(self, t_s: float) -> Region | None:
        """Give the region to look at: where the last good pose asked for, taken along with the bar when old."""
        if self.region is None:
            return self.seed(t_s)
        if t_s - self.good_t_s < 0.1 or not GOES_ALONG[self.lift]:
            return self.region
        was, now = self.bar.at(np.array([self.good_t_s, t_s]))
        step = GOES_ALONG[self.lift] * (now - was)
        if not np.isfinite(step).all():
            return self.region
        was_at = self.region
        return Region(was_at.x_px + step[0], was_at.y_px + step[1], was_at.side_px, was_at.turn)

    def good(self, pose: Pose, t_s: float) -> bool:
        """Tell whether the region may move on with this pose."""
        after = pose.next_region
        if self.off_the_bar(pose, t_s):
            return False
        if pose.presence < LEAST_PRESENCE or after.side_px < 8 or float(pose.peak[CORE].mean()) < LEAST_CORE:
            return False
        if self._rows:
            leap = np.hypot(after.x_px - pose.region.x_px, after.y_px - pose.region.y_px)
            if leap > LEAP * pose.region.side_px:
                return False
        if len(self._rows) >= 5:
            rows = np.array(self._rows)
            ratio = after.side_px / float(np.median(rows[:, 2]))
            turn = wrap(after.turn - float(rows[-1, 3]))
            usual = float(np.median([wrap(float(r - rows[-1, 3])) for r in rows[:, 3]]))
            return bool(SIDES[0] < ratio < SIDES[1] and abs(wrap(turn - usual)) < TURN[self.lift])
        return True

    def advance(self, pose: Pose, t_s: float) -> None:
        """Move on with a good pose."""
        self.region, self.good_t_s = pose.next_region, t_s
        self._rows = [*self._rows[-MEMORY + 1 :], pose.next_region.as_row()]

    def astray(self, t_s: float) -> Region | None:
        """Give the first look's region where the own one is clearly elsewhere."""
        seed = self.seed(t_s)
        if seed is None or self.region is None:
            return seed
        away = np.hypot(seed.x_px - self.region.x_px, seed.y_px - self.region.y_px)
        return seed if away > ASTRAY * self.region.side_px else None

    def restart(self, pose: Pose, t_s: float) -> None:
        """Begin anew at another place."""
        self._rows = []
        self.advance(pose, t_s)
