"""Reading the lifter's joints on the near side, in millimetres of the plane of motion, hidden ones left hidden.

The network's error is mostly slow: in trials on rendered bodies a landmark stood 15-40 mm off the joint, the
same way whenever the posture was the same, and shook by 2-8 mm from frame to frame. So a joint's sd is split: a
third of it is this reading's own, the rest belongs to the joint *in that posture* and drops out when the same
posture is compared between reps, but not between the low and the lockout.
"""

from __future__ import annotations

import math

import numpy as np
from attrs import field, frozen

from midfoot.measures.definition import Unseen
from midfoot.measures.plane import Optics
from midfoot.measures.uncertain import Number, averaged, own
from midfoot.records.bar import BarTrack
from midfoot.records.base import FloatArray
from midfoot.records.body import HIDDEN, INDEX, INFERRED, BodyTrack

OWN_SHARE = 0.35
"""Of a joint's sd: what differs between two readings in the same posture."""
OFFSET_SHARE = math.sqrt(1.0 - OWN_SHARE**2)
CHANGED_SHARE, LYING_CHANGED_SHARE = 1.0, 0.35
"""Of a joint's sd: how much its offset changes from one moment of a rep to another, from posture to posture and
for who lies as he lay: there a reading's own error is all (hips on the bench: rms 9-14 mm on 32 drawn sets)."""
HIP_CHANGED_MM = 40.0
"""And how much the height of a bent hip's offset changes at the least while the bar rises a third of its range: on
49 drawn sets the hip's rise came out 40 mm short, rms 45, squats and deadlifts alike, from every side. Drawn
bodies bend otherwise than people, whose hips were seen to change by 26 mm forward (docs/mechanics.md): so it is an
error and not taken out."""
REACH_S = 0.07
WANDER_S = 0.3
"""Memory of what the network is off by while nobody moves."""
GAP_S = 0.2
COVER_MARGIN = 1.5
"""A joint last seen within this many radii of the near plate's centre counts as behind it now."""
USUALLY_COVERED = {
    ("squat", "shoulder"), ("squat", "elbow"), ("squat", "wrist"), ("bench", "shoulder"), ("deadlift", "hip"),
    ("deadlift", "ankle"), ("deadlift", "wrist"),
}  # fmt: skip
"""What the near plate covers in a true side view."""

BESIDE_MM: dict[str, dict[str, tuple[float, float]]] = {
    "squat": {
        "shoulder": (180, 25), "elbow": (250, 80), "wrist": (350, 90), "hip": (90, 20), "knee": (180, 60),
        "ankle": (180, 70), "heel": (170, 70), "foot_index": (210, 80),
    },
    "bench": {
        "shoulder": (180, 25), "elbow": (320, 80), "wrist": (340, 80), "hip": (90, 20), "knee": (230, 80),
        "ankle": (230, 90), "heel": (220, 90), "foot_index": (240, 90),
        "ear": (75, 20),
    },
    "deadlift": {
        "shoulder": (180, 25), "elbow": (230, 50), "wrist": (260, 60), "hip": (90, 20), "knee": (160, 60),
        "ankle": (150, 80), "heel": (140, 80), "foot_index": (170, 90),
    },
}  # fmt: skip
"""How far each joint lies to the side of the lifter's mid-plane, mm, and how much that differs between people and
stances (common practice, no source)."""

SIDE_DEG = 15.0
FILM_OBLIQUE = "film from 20-30 degrees to the front"
JOINT_WORDS = {"foot_index": "toe"}


@frozen(eq=False)
class JointReader:
    """The near side's joints over time. `side` is `left` or `right`."""

    body: BodyTrack
    track: BarTrack
    optics: Optics
    lift: str
    side: str
    shift_px: FloatArray = field(init=False)
    plate_px: FloatArray = field(init=False)

    def __attrs_post_init__(self) -> None:
        moved = self.track.steady_px - self.track.xy_px
        object.__setattr__(self, "shift_px", _at_times(self.track.t_s, moved, self.body.t_s, 0.0))
        object.__setattr__(self, "plate_px", _at_times(self.track.t_s, self.track.xy_px, self.body.t_s, np.nan))

    @property
    def remedy(self) -> str:
        """What would show a joint that is not seen: from the side it is the plate that is in the way."""
        if abs(math.degrees(self.optics.lens.yaw_rad)) <= SIDE_DEG:
            return FILM_OBLIQUE + ", the whole body in the picture"
        return "the whole body in the picture, nobody and nothing in front of it, more light"

    def away_mm(self, joint: str) -> tuple[float, float]:
        """Give how far behind the near plate a near-side joint lies, mm, and its sd."""
        beside, sd = BESIDE_MM[self.lift][joint]
        return max(self.optics.middle_mm - beside, 0.0), math.hypot(sd, self.optics.middle_sd_mm)

    def index(self, joint: str) -> int:
        """Give the landmark's place in the body's arrays."""
        return INDEX[f"{self.side}_{joint}"]

    def at(self, joint: str, t_s: float, posture: str) -> tuple[Number, Number]:
        """Give forward and up of a joint at a moment, mm from the bar's place where the first rep starts.

        Parameters
        ----------
        joint : str
        t_s : float
        posture : str
            Readings of the same posture share the network's offset: `held`, `low`, `liftoff` ...

        Raises
        ------
        Unseen
            Where the joint is hidden; the reason says by what.
        """
        x, y, sd_px, inferred = self._pixel(joint, t_s)
        away, away_sd = self.away_mm(joint)
        lens = self.optics.lens
        forward_mm, up_mm = lens.on_plane((x, y), away)
        if not (math.isfinite(forward_mm) and math.isfinite(up_mm)):
            raise Unseen("the camera stands too far round for this joint", "film from the side")
        per_px = lens.mm_per_px_at(away)
        stretch = 1.0 / max(abs(math.cos(lens.yaw_rad)), 0.2)
        effects_f, effects_u = self.optics.effects((x, y), away)
        if not lens.distant:
            nearer = lens.on_plane((x, y), away + away_sd)
            effects_f[f"aside {joint}"] = nearer[0] - forward_mm
            effects_u[f"aside {joint}"] = nearer[1] - up_mm
        both = []
        for value, name, effects, size in (
            (forward_mm, "forward", effects_f, sd_px * per_px * stretch),
            (up_mm, "up", effects_u, sd_px * per_px),
        ):
            number = own(value, OWN_SHARE * size, f"{joint} {name} {t_s:.4f}", inferred=inferred)
            number = number.plus(f"{joint} {name} {posture}", OFFSET_SHARE * size)
            for source, effect in effects.items():
                number = number.plus(source, effect)
            both.append(number)
        return both[0], both[1]

    def held(self, joint: str, start_s: float, end_s: float, posture: str) -> tuple[Number, Number]:
        """Give forward and up of a joint that rests from `start_s` to `end_s`: the mean over that time, mm.

        What the network is off by wanders within some tenths of a second; a longer look is steadier: its own error
        falls with the root of the time over twice that memory.

        Raises
        ------
        Unseen
            Where the joint is hidden all that time.
        """
        found: list[tuple[Number, Number]] = []
        why: Unseen | None = None
        for at in np.linspace(start_s, end_s, max(1, round((end_s - start_s) / REACH_S))):
            try:
                found.append(self.at(joint, float(at), posture))
            except Unseen as unseen:
                why = why or unseen
        if not found:
            raise why or Unseen(f"the near {joint} is not seen", self.remedy)
        times = 1.0 + REACH_S * (len(found) - 1) / (2.0 * WANDER_S)
        forward, up = (
            averaged(one, float(np.mean([pair[axis].value for pair in found])), times)
            for axis, one in enumerate(found[0])
        )
        return forward, up

    def pair(
        self, joint: str, first_s: float, then_s: float, posture: str, least_mm: float = 0.0
    ) -> tuple[tuple[Number, Number], tuple[Number, Number]]:
        """Give a joint at two moments of one rep, to be subtracted from each other.

        The network's offset is nearly the same at both; what changes with the posture between them is the same in
        every rep, its height by `least_mm` at the least.
        """
        before, then = self.at(joint, first_s, posture), self.at(joint, then_s, posture)
        size = max(abs(p) for s, p in then[1].parts.items() if s == f"{joint} up {posture}") / OFFSET_SHARE
        changed = (LYING_CHANGED_SHARE if posture == "lying" else CHANGED_SHARE) * size
        source = f"{joint} between postures"
        return before, (
            then[0].plus(source + ", forward", changed),
            then[1].plus(source + ", up", max(changed, least_mm)),
        )

    def seen_rows(self, *joints: str, start_s: float = -math.inf, end_s: float = math.inf) -> np.ndarray:
        """Give the rows of the body track at which all these joints are seen or inferred."""
        rows = (self.body.t_s >= start_s) & (self.body.t_s <= end_s)
        for joint in joints:
            k = self.index(joint)
            rows &= (self.body.state[:, k] > HIDDEN) & np.isfinite(self.body.xy_px[:, k]).all(axis=1)
        return np.flatnonzero(rows)

    def place(self, joint: str, rows: np.ndarray) -> FloatArray:
        """Give forward and up (m, 2) mm of a joint in rows of the body track, without errors."""
        k = self.index(joint)
        away = self.away_mm(joint)[0]
        points = self.body.xy_px[rows, k] + self.shift_px[rows]
        return self.optics.lens.points_on_plane(points, away)

    def _pixel(self, joint: str, t_s: float) -> tuple[float, float, float, bool]:
        k = self.index(joint)
        rows = self.seen_rows(joint, start_s=t_s - GAP_S, end_s=t_s + GAP_S)
        times = self.body.t_s
        near = rows[np.abs(times[rows] - t_s) <= REACH_S]
        before, after = rows[times[rows] <= t_s + 1e-6], rows[times[rows] >= t_s - 1e-6]
        if not len(near):
            if not (len(before) and len(after)) or times[after[0]] - times[before[-1]] > GAP_S:
                self._hidden(joint, t_s)
            near = np.array([before[-1], after[0]])
        points = self.body.xy_px[near, k] + self.shift_px[near]
        x = times[near] - t_s
        if len(near) >= 3 and x.min() < 0 < x.max():
            place = np.linalg.pinv(np.vander(x, 2))[-1] @ points
        elif len(near) == 2 and x[0] < 0 < x[1]:
            place = points[0] + (points[1] - points[0]) * (-x[0] / (x[1] - x[0]))
        else:
            place = points[int(np.argmin(np.abs(x)))]
        sd = float(np.median(self.body.sd_px[near, k]))
        inferred = bool(np.mean(self.body.state[near, k] == INFERRED) >= 0.5)
        return float(place[0]), float(place[1]), sd, inferred

    def _hidden(self, joint: str, t_s: float) -> None:
        word = JOINT_WORDS.get(joint, joint)
        if self._behind_plate(joint, t_s):
            raise Unseen(f"the near {word} is hidden by the plate at {t_s:.1f} s", self.remedy)
        raise Unseen(f"the near {word} is not seen clearly at {t_s:.1f} s", self.remedy)

    def _behind_plate(self, joint: str, t_s: float) -> bool:
        """Tell whether the joint was last (or next) seen about where the plate now is."""
        diameter = self.track.diameter_px
        if diameter is None:
            return False
        rows = self.seen_rows(joint, start_s=t_s - 1.5, end_s=t_s + 1.5)
        if not len(rows):
            return (self.lift, joint) in USUALLY_COVERED
        nearest = rows[int(np.argmin(np.abs(self.body.t_s[rows] - t_s)))]
        here = int(np.argmin(np.abs(self.body.t_s - t_s)))
        apart = self.body.xy_px[nearest, self.index(joint)] - self.plate_px[here]
        return bool(np.hypot(*apart) <= COVER_MARGIN * diameter.value / 2)


def _at_times(t_s: FloatArray, values: FloatArray, wanted_s: FloatArray, missing: float) -> FloatArray:
    """Interpolate (n, 2) at other times, column by column; `missing` where there is nothing to go by."""
    out = np.full((len(wanted_s), 2), missing)
    for column in (0, 1):
        known = np.isfinite(values[:, column])
        if known.any() and len(wanted_s):
            out[:, column] = np.interp(wanted_s, t_s[known], values[known, column])
    return out
