"""Measures that need both ends of the bar or both hands on it: tilt and grip."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from attrs import frozen

from midfoot.measures.definition import Answer, RepMeasure, Unseen
from midfoot.measures.plane import Lens
from midfoot.measures.scene import RepScene
from midfoot.measures.uncertain import own
from midfoot.records.body import HIDDEN, INDEX

LEAST_ENDS_MM, MOST_ENDS_MM = 1370.0, 2200.0
"""A bar measures 1310-1320 mm between the collars' faces and at most 2200 in all (rulebook)."""
MIDDLE_TO_END_MM = (720.0, 40.0)
"""Of a bar whose shaft is followed: from its middle to a disc somewhere in the depth of what is loaded."""
LEAST_SIDE_DEG = 8.0
WRIST_OUTSIDE_MM = (70.0, 25.0)
"""How far a wrist's centre lies outside the forefinger along the bar (from anatomy, unverified)."""
START_S, PART_S, LEAST_PARTS = 0.3, 0.3, 4
"""Around the start; landmarks wander together for about as long, so parts of a rep are as long at least."""
OWN_SHARE = 0.1
"""Of what the network puts a wrist off, how much may differ between reps whose parts all agree (assumed)."""
NO_FAR_END = "the bar's far end is not seen in the ascent"
BOTH_ENDS = "20-40 degrees off the side with both ends of the bar in view"


def bar_tilt(rep: RepScene) -> Answer:
    """Mean tilt of the bar over the ascent, positive with the near end higher."""
    seen = Tilts.of(rep)
    rows = seen.rows(*rep.ascent)
    if len(rows) < 5:
        raise Unseen(NO_FAR_END, "film from " + BOTH_ENDS)
    number = own(
        float(np.mean(seen.tilt_deg[rows])), seen.sd_deg / math.sqrt(min(len(rows), 4)), f"tilt {rep.rep.n}"
    )
    for source, away in seen.effects(rep):
        number = number.plus(source, float(np.mean(away[rows] - seen.tilt_deg[rows])))
    return Answer(number, "both ends of the bar")


def bar_tilt_change(rep: RepScene) -> Answer:
    """Largest change of the bar's tilt in the ascent from its tilt as the ascent begins."""
    seen = Tilts.of(rep)
    first, last = rep.ascent
    rows, begin = seen.rows(first, last), seen.rows(first - 0.15, first + 0.15)
    if len(rows) < 8 or len(begin) < 3:
        raise Unseen(NO_FAR_END, "film from " + BOTH_ENDS)
    calm = np.convolve(np.pad(seen.tilt_deg[rows], 2, mode="edge"), np.ones(5) / 5, mode="valid")
    change = calm - float(np.mean(seen.tilt_deg[begin]))
    at = int(np.argmax(np.abs(change)))
    sd = seen.sd_deg * math.sqrt(1 / 5 + 1 / len(begin))
    number = own(float(change[at]), sd, f"tilt change {rep.rep.n}")
    for source, away in seen.effects(rep):
        moved = (away - seen.tilt_deg)[rows[at]] - float(np.mean((away - seen.tilt_deg)[begin]))
        number = number.plus(source, float(moved))
    return Answer(number, "both ends of the bar")


def grip_width(rep: RepScene) -> Answer:
    """Distance between the forefingers on the bar, from both wrists on the bar's own line.

    Hands do not wander along a bar within a rep, so every part of it gives the width anew: how far parts differ
    is this rep's own error, and how far the network puts wrists off at all is the same in every rep.
    """
    joints = rep.scene.joints_mm
    lens = joints.optics.lens
    if abs(math.degrees(lens.yaw_rad)) < LEAST_SIDE_DEG:
        raise Unseen("the bar points at the camera", "film from the front, the rear or 30 degrees off")
    at = rep.t("start")
    body = joints.body
    since = body.t_s - (at - START_S) + 1e-6  # a frame on an edge stays on its side wherever time begins
    rows = np.flatnonzero((since >= 0.0) & (since <= max(_last_s(rep) - at, START_S) + START_S))
    begin = rows[since[rows] <= 2 * START_S]
    places: list[np.ndarray] = []
    spread: list[float] = []
    for side in ("left", "right"):
        k = INDEX[f"{side}_wrist"]
        seen = begin[body.state[begin, k] > HIDDEN]
        if not len(seen):
            raise Unseen(f"the {side} wrist is not seen", "film from the front, the rear or 30 degrees off")
        x, y = np.median(body.xy_px[seen, k] + joints.shift_px[seen], axis=0)
        sd = float(np.median(body.sd_px[seen, k]))
        spread.append(
            abs(lens.along_bar((float(x) + sd, float(y))) - lens.along_bar((float(x) - sd, float(y)))) / 2
        )
        known = body.state[rows, k] > HIDDEN
        along = [lens.along_bar((float(x), float(y))) for x, y in body.xy_px[rows, k] + joints.shift_px[rows]]
        places.append(np.where(known, along, np.nan))
    apart = np.abs(places[1] - places[0])
    middle, random = _by_parts(since[rows], apart)
    if random is None:
        first = np.isin(rows, begin)
        middle = abs(float(np.nanmedian(places[1][first]) - np.nanmedian(places[0][first])))
    width = middle - 2 * WRIST_OUTSIDE_MM[0]
    if not math.isfinite(width) or width <= 0:
        raise Unseen("the wrists cannot be told apart along the bar", "film from the front or the rear")
    off = math.hypot(*spread)
    if random is None:
        number = own(width, off, f"grip {rep.rep.n}", inferred=True)
    else:
        number = own(width, math.hypot(random, OWN_SHARE * off), f"grip {rep.rep.n}", inferred=True)
        number = number.plus("wrists off alike", off)
    number = number.plus("wrists outside forefingers", 2 * WRIST_OUTSIDE_MM[1])
    number = number.plus("scale", width * joints.optics.scale_share)
    yaw_sd = rep.bar.path.yaw_deg
    bend = abs(math.radians(yaw_sd) / math.tan(lens.yaw_rad)) if math.isfinite(yaw_sd) else 0.1
    return Answer(number.plus("yaw", width * bend), "both wrists on the line of the bar")


def _last_s(rep: RepScene) -> float:
    ends = (rep.rep.end, rep.rep.top_end, rep.rep.low_end)
    return next((m.t_s for m in ends if m is not None), rep.t("start"))


def _by_parts(since_s: np.ndarray, apart_mm: np.ndarray) -> tuple[float, float | None]:
    """Give the middle of a width over parts of a rep and its random error, None with too few parts."""
    known = np.isfinite(apart_mm)
    part = np.floor(since_s / PART_S)
    middles = [float(np.median(apart_mm[known & (part == p)])) for p in np.unique(part[known])]
    if len(middles) < LEAST_PARTS:
        return math.nan, None
    return float(np.median(middles)), float(np.std(middles, ddof=1)) / math.sqrt(len(middles))


@frozen(eq=False)
class Tilts:
    """The bar's tilt wherever both ends are seen, over the whole clip."""

    t_s: np.ndarray
    near_px: np.ndarray
    far_px: np.ndarray
    tilt_deg: np.ndarray
    sd_deg: float
    length_mm: float
    length_sd_mm: float
    far_common_sd_px: float = 0.0

    @staticmethod
    def of(rep: RepScene) -> Tilts:
        """Read both ends; raises `Unseen` where only one is seen."""
        track, optics = rep.scene.data.track, rep.scene.bar.optics
        both = np.isfinite(track.far_xy_px).all(axis=1) & np.isfinite(track.xy_px).all(axis=1)
        if optics is None or optics.lens.distant or both.sum() < 10:
            raise Unseen("only one end of the bar is seen", "film from " + BOTH_ENDS)
        rows = np.flatnonzero(both)
        shift = np.nan_to_num(track.steady_px - track.xy_px)[rows]
        near, far = track.xy_px[rows] + shift, track.far_xy_px[rows] + shift
        px = float(np.nanmedian(track.sd_px[rows, 1]))
        lens = optics.lens
        # Where it is not told: the far end is smaller and its place less sure, twice the near end's error.
        far_px = track.far_sd_px if track.far_sd_px is not None else 2 * px
        # The lifter stands in the middle of the bar: twice as far behind the near end is the far one.
        length = float(np.clip(2 * optics.middle_mm, LEAST_ENDS_MM, MOST_ENDS_MM))
        length_sd = 2 * optics.middle_sd_mm
        if track.source == "shaft":
            length, length_sd = MIDDLE_TO_END_MM
        mm = math.hypot(px * lens.mm_per_px_at(0.0), far_px * lens.mm_per_px_at(length))
        return Tilts(
            track.t_s[rows], near, far, _tilt(lens, near, far, length), math.degrees(mm / length), length,
            length_sd, track.far_common_sd_px or 0.0,
        )  # fmt: skip

    def rows(self, start_s: float, end_s: float) -> np.ndarray:
        """Give the indices of a stretch."""
        return np.flatnonzero((self.t_s >= start_s) & (self.t_s <= end_s))

    def effects(self, rep: RepScene) -> Iterator[tuple[str, np.ndarray]]:
        """Give the tilt as it would be with each error that the clip shares one sd off."""
        optics = rep.scene.bar.optics
        assert optics is not None
        for source, lens in optics.off:
            yield source, _tilt(lens, self.near_px, self.far_px, self.length_mm)
        if self.far_common_sd_px:
            aside = self.far_px + np.array([0.0, self.far_common_sd_px])
            yield "place of the far end", _tilt(optics.lens, self.near_px, aside, self.length_mm)
        yield (
            "length between the ends",
            _tilt(optics.lens, self.near_px, self.far_px, self.length_mm + self.length_sd_mm),
        )


def _tilt(lens: Lens, near: np.ndarray, far: np.ndarray, length_mm: float) -> np.ndarray:
    rise = lens.points_on_plane(near)[:, 1] - lens.points_on_plane(far, length_mm)[:, 1]
    return np.degrees(np.arcsin(np.clip(rise / length_mm, -1.0, 1.0)))


CATALOGUE: tuple[RepMeasure, ...] = (
    RepMeasure(
        id="bar_tilt_deg", title="Tilt of the bar", unit="deg", compute=bar_tilt,
        what="Mean tilt over the ascent, positive with the end near the camera higher.",
        formula="asin((height of near end - height of far end) / distance between the ends).",
        lies="One degree of camera pitch looks like one degree of tilt, in every rep alike. Plates of other "
        "width "
        "change the distance between the ends.",
        film=BOTH_ENDS, good="zero",
    ),
    RepMeasure(
        id="bar_tilt_change_deg", title="Change of tilt in the ascent", unit="deg", compute=bar_tilt_change,
        what="Largest change of the bar's tilt in the ascent from its tilt as the ascent begins: one end "
        "running "
        "ahead. Needs no level camera.",
        formula="largest (tilt - tilt at the begin of the ascent), smoothed over five frames.",
        lies="A bar that also turns (one end forward) looks tilted from the side.",
        film=BOTH_ENDS, good="zero",
    ),
    RepMeasure(
        id="grip_width_mm", title="Grip width", unit="mm", compute=grip_width,
        what="Distance between the forefingers over the whole rep, from both wrists on the bar's own line.",
        formula="distance of the wrist centres along the bar - 2 x 70 mm.",
        lies="Wrist centres lie some 70 mm (sd 25) outside the forefingers: from anatomy, unverified. What the "
        "network puts wrists off is taken for the same in every rep.",
        film="from the front, the rear, or 30 degrees off with both hands in view",
        source="rulebooks allow at most 810 mm between the forefingers on the bench",
    ),
)  # fmt: skip
