"""The set as the measures look at it: readers built once, and one view per rep with its moments and instants."""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np

from midfoot.measures.bar import NO_BAR, NO_BAR_REMEDY, BarReader
from midfoot.measures.definition import DoesNotApply, Unseen
from midfoot.measures.joints import JointReader
from midfoot.measures.plane import optics
from midfoot.measures.uncertain import Number, own
from midfoot.measures.velocity import LOWEST_FPS, Velocity, velocity
from midfoot.records.bar import READOUT_S
from midfoot.records.measures import SetData
from midfoot.records.reps import Moment, Rep

LOCKOUT_S = 0.5
"""How long after the end of the ascent the bar's held height is read, unless something follows sooner."""
FLOOR_S = 0.4
"""How long before lift-off the bar's rest on the floor is read."""
TOUCH_S = 0.1
"""The bar enters the band about its rest this long before it touches the floor at the most."""
HOLD_S = 1.0
MOMENT_WORDS = {
    "start": "the start", "low_start": "the low", "low_end": "the end of the low", "end": "the end",
    "top_start": "the lockout", "top_end": "the end of the lockout",
}  # fmt: skip
ROWS = "rows read one after the other"
"""Name of the error that a picture read row by row puts into times and velocities."""
WHOLE_REP = "let the clip run from before the first rep until after the last"
ONLY_ONE = "no second rep to hold it against"
FEW_FRAMES = "fewer than 15 frames a second carry times and angles, no velocity"


class Scene:
    """One measured set; everything is worked out when first asked for, and then kept.

    `kept` is for numbers of the whole clip that several reps need.
    """

    def __init__(self, data: SetData) -> None:
        self.data = data
        self.lift = data.asked.lift
        self.reps = tuple(RepScene(self, i) for i in range(len(data.reps.reps)))
        self.kept: dict[object, float] = {}

    @property
    def interval_s(self) -> float:
        """Median time between frames."""
        return self.data.clip.frame_interval_median_s

    @property
    def read_s_per_mm(self) -> float:
        """How much earlier a place 1 mm higher up may be read in the same frame, one sd; 0 without a scale."""
        scale = self.data.scale
        return READOUT_S / (self.data.clip.height_px * scale.mm_per_px.value) if scale is not None else 0.0

    @property
    def velocity_allowed(self) -> bool:
        """Whether there are frames enough for a derivative."""
        return 0 < self.interval_s <= 1.0 / LOWEST_FPS + 1e-6

    @cached_property
    def _optics(self) -> object:
        data = self.data
        path = data.path
        sds = (path.scale_pct, path.yaw_deg, path.roll_deg) if path is not None else None
        return optics(
            data.view,
            data.scale,
            size_px=(data.clip.width_px, data.clip.height_px),
            plate_px=self._plate_px,
            sds=sds,
        )

    @property
    def _plate_px(self) -> tuple[float, float]:
        """The near plate's place in the steady picture where the path has its origin."""
        track, path = self.data.track, self.data.path
        known = np.flatnonzero(np.isfinite(track.steady_px).all(axis=1)) if len(track.t_s) else np.zeros(0, int)
        middle = (self.data.clip.width_px / 2.0, self.data.clip.height_px / 2.0)
        if not len(known):
            return middle
        if path is None or len(path.t_s) != len(track.t_s):
            x, y = np.median(track.steady_px[known], axis=0)
            return float(x), float(y)
        away = np.hypot(path.forward_mm[known], path.up_mm[known])
        near = known[np.argsort(np.nan_to_num(away, nan=1e9), kind="stable")[:5]]
        x, y = np.median(track.steady_px[near], axis=0)
        return float(x), float(y)

    @cached_property
    def _bar(self) -> BarReader | None:
        path = self.data.path
        if path is None or np.isfinite(path.up_mm).sum() < 5:
            return None
        return BarReader(path, self._optics, self.data.track.status == "unsure")  # type: ignore[arg-type]

    @property
    def bar(self) -> BarReader:
        """The bar's path.

        Raises
        ------
        Unseen
            When the bar was not followed.
        """
        if self._bar is None:
            raise Unseen(self.data.track.reason or NO_BAR, NO_BAR_REMEDY)
        return self._bar

    @cached_property
    def _joints(self) -> JointReader | Unseen:
        data = self.data
        if data.body.status != "seen" or not len(data.body.t_s):
            return Unseen(
                data.body.reason or "the lifter's body was not followed",
                "point at the lifter with --lifter-at, the whole body in the picture",
            )
        side = data.view.near_side or data.body.near_side
        if side is None:
            return Unseen("it cannot be told which side of the lifter is near", "film from the side")
        if self._optics is None:
            return Unseen(
                "it cannot be told which way the lifter faces", "film from the side or 20-30 degrees off"
            )
        return JointReader(data.body, data.track, self._optics, self.lift, side)  # type: ignore[arg-type]

    @property
    def joints(self) -> JointReader:
        """The near side's joints; raises `Unseen` where nobody was followed."""
        if isinstance(self._joints, Unseen):
            raise Unseen(self._joints.reason, self._joints.remedy)
        return self._joints

    @property
    def joints_mm(self) -> JointReader:
        """The joints, where millimetres are known and not angles alone."""
        joints = self.joints
        if joints.optics.lens.distant:
            raise Unseen("the scale is not known, so lengths on the body are not", "give the plate with --plate")
        return joints

    @cached_property
    def _velocity(self) -> Velocity | None:
        return velocity(self.bar, self.interval_s)

    @property
    def velocity(self) -> Velocity:
        """The bar's vertical velocity; raises `Unseen` below 15 frames a second."""
        if not self.velocity_allowed:
            raise Unseen(FEW_FRAMES, "film at 60 frames a second")
        if self._velocity is None:
            raise Unseen("the bar was followed in too few frames", NO_BAR_REMEDY)
        return self._velocity

    def completed(self) -> tuple[RepScene, ...]:
        """Give the reps that were completed."""
        return tuple(r for r in self.reps if r.rep.outcome == "completed")

    def highest_lockout(self) -> Number:
        """Give the height of the set's highest lockout, its error shared by all reps."""
        return self._extreme("held_up", 1.0)

    def lowest_low(self) -> Number:
        """Give the height of the set's lowest low, its error shared by all reps."""
        return self._extreme("low_up", -1.0)

    def _extreme(self, what: str, sign: float) -> Number:
        found: list[Number] = []
        for rep in self.completed() or self.reps:
            try:
                found.append(getattr(rep, what))
            except (Unseen, DoesNotApply):
                continue
        if not found:
            raise Unseen("no rep of this set shows it", WHOLE_REP)
        if len(found) < 2:
            raise DoesNotApply(ONLY_ONE)
        best = max(found, key=lambda n: sign * n.value)
        return best.as_common(f"the set's {what}")


class RepScene:
    """One rep: its moments, and the bar at them."""

    def __init__(self, scene: Scene, place: int) -> None:
        self.scene = scene
        self.place = place

    @property
    def rep(self) -> Rep:
        """The record."""
        return self.scene.data.reps.reps[self.place]

    @property
    def lift(self) -> str:
        """The lift."""
        return self.scene.lift

    @property
    def bar(self) -> BarReader:
        """The bar's path."""
        return self.scene.bar

    def moment(self, name: str) -> Moment:
        """Give a moment of the rep; raises `Unseen` when the clip does not show it."""
        moment: Moment | None = getattr(self.rep, name)
        if moment is None:
            raise Unseen(f"the clip does not show {MOMENT_WORDS[name]} of this rep", WHOLE_REP)
        return moment

    def t(self, name: str) -> float:
        """Give a moment's time."""
        return self.moment(name).t_s

    def time(self, name: str) -> Number:
        """Give a moment as a number with its error; never surer than a frame allows.

        Rows that are read one after the other put it off by the bar's height, in every rep alike.
        """
        moment = self.moment(name)
        sd = max(moment.sd_s, self.scene.interval_s / math.sqrt(12.0))
        return own(moment.t_s, sd, f"{name} of rep {self.rep.n}").plus(ROWS, self._read_s(moment.t_s))

    def _read_s(self, t_s: float) -> float:
        path = self.scene.data.path
        known = np.isfinite(path.up_mm) if path is not None else np.zeros(0, bool)
        if path is None or not known.any():
            return 0.0
        return self.scene.read_s_per_mm * float(np.interp(t_s, path.t_s[known], path.up_mm[known]))

    @property
    def ascent_names(self) -> tuple[str, str]:
        """Names of the moments at which the ascent (deadlift: the pull) begins and ends."""
        return ("start", "top_start") if self.lift == "deadlift" else ("low_end", "end")

    @property
    def ascent(self) -> tuple[float, float]:
        """Begin and end of the ascent, s."""
        first, last = self.ascent_names
        return self.t(first), self.t(last)

    @property
    def before_s(self) -> float:
        """When the rep before this one ended, or the clip began."""
        if self.place == 0:
            return float(self.bar.t_s[0])
        earlier = self.scene.data.reps.reps[self.place - 1]
        last = earlier.end or earlier.top_end or earlier.low_end or earlier.start
        return last.t_s if last is not None else float(self.bar.t_s[0])

    @property
    def after_s(self) -> float:
        """When the next rep starts, or the bar is put back, or the clip ends."""
        ends = [float(self.bar.t_s[-1])]
        if self.place + 1 < len(self.scene.reps):
            later = self.scene.data.reps.reps[self.place + 1]
            first = later.start or later.low_start or later.low_end or later.top_start
            if first is not None:
                ends.append(first.t_s)
        mine = self.rep.end
        ends += [
            p.start_s for p in self.scene.data.reps.phases if p.kind == "rerack" and mine and p.start_s > mine.t_s
        ]
        return min(ends)

    @cached_property
    def held(self) -> tuple[Number, Number]:
        """Forward and up of the bar as held at the end of the ascent (deadlift: at the top)."""
        if self.rep.outcome == "missed":
            raise DoesNotApply("the rep was not completed")
        if self.lift == "deadlift":
            start = self.t("top_start")
            stop = self.rep.top_end.t_s if self.rep.top_end is not None else start + LOCKOUT_S
            return self.bar.held(start, max(stop, start + 0.05))
        end = self.t("end")
        return self.bar.held(end, max(min(end + LOCKOUT_S, self.after_s), end + 0.05))

    @property
    def held_up(self) -> Number:
        """Height of the bar as held at the end of the ascent."""
        return self.held[1]

    @property
    def top_up(self) -> Number:
        """Height that the ascent reached: held, or for a missed rep its highest point."""
        if self.rep.outcome != "missed":
            return self.held[1]
        first, last = self.ascent
        return self.bar.up(self.bar.highest_s(first, self.bar.turned_s(last)))

    @cached_property
    def low_s(self) -> float:
        """The moment of the lowest point (squat, bench)."""
        if self.lift == "deadlift":
            raise DoesNotApply("a deadlift has no low: it starts from the floor")
        first = self.rep.low_start or self.rep.start
        last = self.rep.low_end or self.rep.end
        if first is None or last is None:
            raise Unseen("the clip does not show the low of this rep", WHOLE_REP)
        return self.bar.lowest_s(first.t_s, last.t_s)

    @cached_property
    def low_up(self) -> Number:
        """Height of the lowest point (squat, bench)."""
        return self.bar.up(self.low_s)

    @cached_property
    def low_forward(self) -> Number:
        """Mean forward place over the low interval (squat, bench)."""
        self.low_s  # noqa: B018  raises where there is no low
        return self.bar.over(self.t("low_start"), self.t("low_end"))[0]

    @cached_property
    def start_place(self) -> tuple[Number, Number]:
        """Forward and up where the rep starts: as held just before (deadlift: as it rests on the floor)."""
        start = self.t("start")
        if not self.rep.start_seen:
            raise Unseen("the clip begins after this rep started", WHOLE_REP)
        if self.lift == "deadlift" and start - self.before_s < FLOOR_S:
            # Touch and go: no rest to read. The floor is where the bar was lowest, however it bounced after.
            lowest = self.bar.lowest_s(self.before_s - TOUCH_S, start)
            return self.bar.forward(start), self.bar.sharp(lowest, -1.0)
        span = FLOOR_S if self.lift == "deadlift" else LOCKOUT_S
        first = max(start - span, self.before_s)
        forward, up = self.bar.held(first, start)
        # People sway while they hold: where the rep starts is known as well as the bar stands still.
        sway = float(np.std(self.bar.forward_mm[self.bar.rows(first, start)])) if self.lift != "deadlift" else 0.0
        return forward.plus(f"own:sway before rep {self.rep.n}", sway if math.isfinite(sway) else 0.0), up

    @property
    def bottom(self) -> tuple[Number, Number]:
        """Where the ascent begins: forward over the low and the lowest height.

        Deadlift: forward at lift-off and the height of rest on the floor.
        """
        if self.lift == "deadlift":
            return self.bar.forward(self.t("start")), self.start_place[1]
        return self.low_forward, self.low_up

    def third_s(self) -> float:
        """Give the moment at which the bar has risen a third of its range in the ascent."""
        first, last = self.ascent
        bar = self.bar
        rows = bar.rows(first, last)
        if len(rows) < 4:
            raise Unseen("too few frames show the ascent", "film at 60 frames a second")
        level = bar.up(first).value + (self.top_up.value - bar.up(first).value) / 3.0
        over = np.flatnonzero(bar.up_mm[rows] >= level)
        if not len(over) or over[0] == 0:
            raise Unseen("the ascent is not seen whole", WHOLE_REP)
        i, j = rows[over[0] - 1], rows[over[0]]
        step = (level - bar.up_mm[i]) / max(bar.up_mm[j] - bar.up_mm[i], 1e-9)
        return float(bar.t_s[i] + step * (bar.t_s[j] - bar.t_s[i]))
