"""The first look over a clip: everybody in it, followed cheaply, so that the lifter can be told later.

Searching is spread over the frames: the first frame is searched all over, then a few views a step. Everyone
found is followed by the region that his own last pose asks for; whose hands carry something is followed most
often. The work per second of clip is bounded whatever the number of people.
"""

from __future__ import annotations

import numpy as np
from attrs import define, field

from midfoot.body.carried import Motion, carried, shared
from midfoot.body.detector import Detector
from midfoot.body.landmarks import LandmarkNet, Pose
from midfoot.body.models import ModelFiles
from midfoot.body.regions import Region, alike
from midfoot.body.search import HELD, SHOULDERS, THRESHOLD, probes, quality, same_person
from midfoot.records.base import FloatArray
from midfoot.records.body import LANDMARKS, People, PersonTrack
from midfoot.records.clip import ClipInfo, Frame

STEP_S = 0.1
"""Between looks. Slower, and people are lost in fast drops."""
FOLLOWED_A_STEP = 2
STEP_COST, STEP_COST_SURE = 20.0, 14.0
"""Work of a step; the second while somebody who carries something is in view."""
DETECTOR_COST, LANDMARK_COST = 6.0, 8.5
"""Milliseconds of one core for one call, as measured on an ordinary laptop core; they share out a step."""
MOST_PEOPLE = 7
OFTEN, DOUBTFUL = 10.0, 0.4
"""How much more often the two likeliest lifters are followed than others; poses under this quality get half."""
REMEMBER_S = 4.0
"""How long a place that turned out to be nobody is not tried again."""
LEAST_PRESENCE = 0.5
LEAST_QUALITY = 0.3
IDLE_SHARE, IDLE_S = 0.15, 0.4
"""Once somebody carries something, whose claim is under this share of his is looked at only this often."""
SETTLING_S = 1.5
PATIENCE_S, PATIENCE_HELD_S = 1.5, 3.0
"""How long a person who cannot be made out is looked for where he was last: plates pass in front of people.
Longer for one whose hands carried something."""
LEAP, SWELL = 0.25, 1.5
"""A region that moves by more than this share of its side in one step, or grows or shrinks by more than this
factor against what it was, has slid onto something else."""
MEMORY_S = 3.0
INTEREST = 0.05
"""Way carried lately, in body lengths, from which a person may be the lifter."""


@define
class _Followed:
    """A person being followed."""

    id: int
    pose: Pose
    t_s: float
    since_s: float
    lift: str | None = None
    rows: list[tuple[float, FloatArray, FloatArray, float, FloatArray, FloatArray]] = field(factory=list)
    pending: FloatArray = field(factory=lambda: np.zeros(3))
    interest: float = 0.0
    worth: float = 0.0
    ended: bool = False
    tried_s: float = 0.0
    sides: list[float] = field(factory=list)

    @property
    def claim(self) -> float:
        """How likely this is the lifter, by what was carried lately, clarity and size (px)."""
        lying = 1.0
        if self.lift == "bench":
            hands, shoulders = (self.pose.xy_px[list(j), 1].mean() for j in (HELD, SHOULDERS))
            lying = 0.2 if hands > shoulders else 1.0
        return lying * (self.interest + 0.05) * self.worth**2 * self.pose.region.side_px

    def fits(self, pose: Pose) -> bool:
        """Tell whether `pose` can be the same person one step on."""
        if pose.presence < LEAST_PRESENCE or pose.next_region.side_px < 8:
            return False
        old, new = self.pose.next_region, pose.next_region
        usual = float(np.median(self.sides[-30:]))
        leap = np.hypot(new.x_px - old.x_px, new.y_px - old.y_px) / usual
        return bool(leap < LEAP and 1 / SWELL < new.side_px / usual < SWELL)

    def add(self, t_s: float, pose: Pose) -> None:
        """Take the pose at `t_s` and what was carried since the last one."""
        if self.rows:
            wrists = pose.xy_px[list(HELD), 1] - self.pose.xy_px[list(HELD), 1]
            held = float(shared(np.concatenate([wrists, self.pending])[None])[0]) / pose.region.body_px
            fade = np.exp(-(t_s - self.t_s) / MEMORY_S)
            self.interest = self.interest * fade + abs(held)
            self.worth += 0.2 * (quality(pose) - self.worth)
        else:
            self.worth = quality(pose)
        row = self.pending if self.rows else np.full(3, np.nan)
        self.rows.append((t_s, pose.xy_px, pose.peak, pose.presence, pose.region.as_row(), row))
        self.pending = np.zeros(3)
        self.sides.append(pose.next_region.side_px)
        self.pose, self.t_s, self.tried_s = pose, t_s, t_s


class PeopleScout:
    """Follows everybody. Give it every frame with `see`, then take `result`.

    Parameters
    ----------
    models : ModelFiles
        Where the network's files are.
    info : ClipInfo, optional
        Taken for callers that have it.
    lift : str, optional
        Everybody is followed whatever the lift; on the bench, who has his hands above his shoulders more often.
    """

    def __init__(self, models: ModelFiles, info: ClipInfo | None = None, *, lift: str | None = None) -> None:
        self._detector = Detector(models.detector)
        self._net = LandmarkNet(models.full)
        self._motion = Motion()
        self._lift = lift
        self._looked: list[float] = []
        self._people: list[_Followed] = []
        self._nobody: list[tuple[float, Region]] = []
        self._views: list[Region] = []
        self._next_view = 0
        self._credit = 0.0
        self._shape: tuple[int, ...] = ()

    def see(self, frame: Frame) -> None:
        """Take the next frame; most are passed over."""
        if self._looked and frame.t_s - self._looked[-1] < STEP_S - 1e-3:
            return
        if frame.luma.shape != self._shape:
            self._shape = frame.luma.shape
            self._views = probes(frame.luma.shape[1], frame.luma.shape[0])
            self._next_view = 0
        first = not self._looked
        self._looked.append(frame.t_s)
        rgb = frame.rgb()
        self._motion.see(frame.luma)
        live = [p for p in self._people if not p.ended]
        for person in live:
            person.pending = person.pending + carried(self._motion, person.pose.xy_px, person.pose.region.body_px)
        followed = self._follow(live, rgb, frame.t_s)
        self._drop_doubles(frame.t_s)
        sure = any(p.interest > INTEREST and p.t_s == frame.t_s for p in live if not p.ended)
        self._credit += (STEP_COST_SURE if sure else STEP_COST) - followed * LANDMARK_COST
        self._credit = max(self._credit, -STEP_COST)
        views = max(0, int(self._credit / DETECTOR_COST))
        self._credit -= views * DETECTOR_COST
        self._search(rgb, frame.t_s, len(self._views) if first else views)
        if first:
            self._credit = 0.0

    def _follow(self, live: list[_Followed], rgb: np.ndarray, t_s: float) -> int:
        ranked = sorted(live, key=lambda p: -p.claim)
        decided = bool(ranked) and ranked[0].interest > INTEREST
        due = []
        for place, person in enumerate(ranked):
            idle = decided and person.claim < IDLE_SHARE * ranked[0].claim
            if t_s - person.tried_s >= (IDLE_S if idle else STEP_S) - 1e-3:
                weight = OFTEN if place < 2 else 1.0 if person.worth > DOUBTFUL else 0.5
                due.append(((t_s - person.tried_s) * weight, person))
        turn = [p for _, p in sorted(due, key=lambda d: -d[0])[:FOLLOWED_A_STEP]]
        for person in turn:
            pose = self._net.see(rgb, person.pose.next_region)
            person.tried_s = t_s
            if not person.fits(pose):
                patience = PATIENCE_HELD_S if person.interest > INTEREST else PATIENCE_S
                person.ended = t_s - person.t_s > patience
                continue
            person.add(t_s, pose)
            if t_s - person.since_s > SETTLING_S and person.worth < LEAST_QUALITY:
                person.ended = True
        return len(turn)

    def _drop_doubles(self, t_s: float) -> None:
        live = [p for p in self._people if not p.ended]
        for i, a in enumerate(live):
            for b in live[i + 1 :]:
                fresh = t_s - min(a.t_s, b.t_s) < 2 * STEP_S
                if fresh and not (a.ended or b.ended) and same_person(a.pose, b.pose):
                    (b if a.worth + 0.1 * (b.since_s - a.since_s > 1) >= b.worth else a).ended = True

    def _search(self, rgb: np.ndarray, t_s: float, count: int) -> None:
        found: list[tuple[float, Region]] = []
        for _ in range(min(count, len(self._views))):
            view = self._views[self._next_view]
            self._next_view = (self._next_view + 1) % len(self._views)
            found += [(d.score, d.region) for d in self._detector.look(rgb, view, THRESHOLD)]
        found.sort(key=lambda f: -f[0])
        self._nobody = [(t, r) for t, r in self._nobody if t_s - t < REMEMBER_S]
        tried: list[Region] = []
        poses: list[Pose] = []
        for _, region in found:
            live = [p.pose for p in self._people if not p.ended]
            known = tried + [p.next_region for p in live] + [r for _, r in self._nobody]
            if any(alike(region, k) for k in known):
                continue
            tried.append(region)
            self._credit -= 2 * LANDMARK_COST
            pose = self._net.see_twice(rgb, region)
            if pose.presence >= LEAST_PRESENCE and quality(pose) >= LEAST_QUALITY:
                poses.append(pose)
            else:
                self._nobody.append((t_s, region))
        poses.sort(key=lambda p: -quality(p))
        for pose in poses:
            self._admit(pose, t_s)

    def _admit(self, pose: Pose, t_s: float) -> None:
        live = [p for p in self._people if not p.ended]
        for person in live:
            if same_person(person.pose, pose):
                if person.rows[-1][0] == t_s or quality(pose) < person.worth + 0.1:
                    self._nobody.append((t_s, pose.region))
                    return
                person.ended = True  # the new look at the same person fits better: a track of its own
        live = [p for p in live if not p.ended]
        if len(live) >= MOST_PEOPLE:
            least = min(live, key=lambda p: p.claim)
            if least.interest > INTEREST or least.worth > quality(pose) or t_s - least.since_s < SETTLING_S:
                return
            least.ended = True
        person = _Followed(len(self._people), pose, t_s, t_s, self._lift)
        person.add(t_s, pose)
        self._people.append(person)

    def result(self) -> People:
        """Give everybody followed for at least three looks."""
        tracks = tuple(_track(p) for p in self._people if len(p.rows) >= 3)
        return People(looked_t_s=np.array(self._looked), tracks=tracks)


def _track(person: _Followed) -> PersonTrack:
    columns = list(zip(*person.rows, strict=True))
    return PersonTrack(
        id=person.id,
        t_s=np.array(columns[0]),
        xy_px=np.array(columns[1]).reshape(-1, len(LANDMARKS), 2),
        peak=np.array(columns[2]),
        presence=np.array(columns[3]),
        region=np.array(columns[4]),
        carried_px=np.array(columns[5]),
    )
