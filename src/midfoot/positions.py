"""From a measured set to places in metres: joints and the middle of the bar in the plane of motion.

Composes the camera of the measures with bar and body as they were followed. In every frame the plate's own place
says how far the picture has moved, so a hand-held clip needs nothing more. The middle of the bar is taken at the
lifter's mid-plane.
"""

from __future__ import annotations

import math

import numpy as np
from attrs import evolve, frozen
from numpy.typing import NDArray

from midfoot.hands_on_bar import Learnt, Wrist, learn, wrist_of
from midfoot.measures.joints import BESIDE_MM, OWN_SHARE
from midfoot.measures.plane import Lens, Optics, optics
from midfoot.mechanics import apart, misplaced, the_lifter
from midfoot.records.base import FloatArray, NotMeasured
from midfoot.records.body import HIDDEN, LANDMARKS, SEEN
from midfoot.records.measures import SetData
from midfoot.records.mechanics import ArmLine, ArmsInPicture, MomentOfRep, Places

JOINTS = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "foot_index")
BENCH_SHOULDER_SD_M = 0.025
"""Of a shoulder taken from the lockouts before and after (rendered clips: it creeps by some 12 mm a rep)."""
TALLEST_M = 1.9
"""Stature that is reckoned with where none was told, with what segments differ by for it: up to some 2.05 m."""
BETWEEN_SDS = 2.0
ON_BACK_M = 0.25
"""From the shoulder joint to a bar on the back, at the most (common practice, no source)."""
LARGEST_YAW_DEG = 45.0
"""Beyond, what lies to one side of the mid-plane reads as farther forward or back than it is to the side: a foot
of a wide stance as its whole 0.3-0.4 m."""
LARGEST_PLATE_MM = 450.0
"""IPF technical rules; behind the near plate, what the network says of a hand is a guess."""
CENTRE_SD_M = {"hip": 0.030, "knee": 0.020, "ankle": 0.010, "shoulder": 0.020, "elbow": 0.015}
"""What a pose network calls a joint is not the centre it turns about: one sd, the same in every rep (systematic
differences of 30-50 mm at hip and knee and up to 15 mm at the ankle, Needham et al. 2021, Sci Rep 11:20673, as
remembered; the network's own error is counted besides)."""


@frozen
class _Row:
    """The rows of a set's path in which the bar was followed, (n,) each."""

    t_s: FloatArray
    forward_mm: FloatArray
    up_mm: FloatArray
    x_px: FloatArray
    y_px: FloatArray
    sd_forward_mm: FloatArray
    sd_up_mm: FloatArray


def places_of(data: SetData) -> Places | NotMeasured:
    """Give bar and joints of a measured set in metres, or why they cannot be had."""
    side = _side(data)
    if data.path is None or data.track.source == "none" or data.scale is None:
        return NotMeasured(
            "the bar was not followed or the scale is not known", "measure again with --plate, --bar-at"
        )
    if data.body.status != "seen" or side is None or not len(data.body.t_s):
        return NotMeasured("the lifter was not followed", "point at the lifter with --lifter-at")
    found = _followed(data)
    if isinstance(found, NotMeasured):
        return found
    path, camera = found
    yaw_deg = data.view.yaw_deg.value
    if abs(yaw_deg) > LARGEST_YAW_DEG:
        return NotMeasured(
            f"the camera stands {abs(yaw_deg):.0f} degrees off the side, where a joint's place to the side cannot "
            "be told from its place forward",
            "film from the side, or up to 40 degrees off",
        )
    learnt = learn(_wrists(data, camera, path, side))
    places = _places(data, path, _corrected(camera, learnt), side, learnt)
    return _believed(places, data.asked.lift, data.asked.stature_m)


def arms_in_picture(data: SetData, moment: MomentOfRep) -> ArmsInPicture | None:
    """Give where the moment arms of one moment lie in its frame, px; None where the bar was not followed.

    Bar and vertical are drawn at the lifter's mid-plane, every arm at its own joint's distance from the camera, so
    that its length in the picture is the length that was computed; seen obliquely the ends need not meet.
    """
    found = _followed(data)
    side = _side(data)
    if isinstance(found, NotMeasured) or side is None or "bar" not in moment.places_m:
        return None
    path, camera = found
    lift = data.asked.lift
    camera = _corrected(camera, learn(_wrists(data, camera, path, side)))
    shift = _shift(path, camera)
    moved = [float(np.interp(moment.at_s, path.t_s, shift[:, k])) for k in (0, 1)]

    def at(forward_m: float, up_m: float, away_mm: float) -> tuple[float, float]:
        x, y = camera.lens.project(1000 * forward_m, 1000 * up_m, away_mm)
        return x - moved[0], y - moved[1]

    forward, up = moment.places_m["bar"]
    beside = BESIDE_MM[lift]
    away = {joint: max(camera.middle_mm - beside[joint][0], 0.0) for joint in moment.places_m if joint != "bar"}
    legs = ("knee", "ankle", "heel", "foot_index") if lift == "bench" else ()
    lifter = tuple(at(*moment.places_m[joint], depth) for joint, depth in away.items() if joint not in legs)
    ups, arms = [up], []
    for load in moment.loads:
        if load.arm_mm is not None:
            here = moment.places_m[load.joint]
            ups.append(here[1])
            depth = away[load.joint]
            arms.append(ArmLine(load.joint, at(*here, depth), at(forward, here[1], depth)))
    middle = camera.middle_mm
    vertical = (at(forward, max(ups) + 0.06, middle), at(forward, min(ups) - 0.03, middle))
    return ArmsInPicture(moment.at_s, at(forward, up, middle), vertical, tuple(arms), lifter)


def _side(data: SetData) -> str | None:
    return data.view.near_side or data.body.near_side


def _followed(data: SetData) -> tuple[_Row, Optics] | NotMeasured:
    path, track = data.path, data.track
    if path is None or data.scale is None:
        return NotMeasured("the bar was not followed", "measure again with --bar-at")
    known = np.isfinite(path.up_mm) & np.isfinite(track.xy_px[:, 0])
    if known.sum() < 10:
        return NotMeasured("the bar was followed in too few frames", "measure again with --bar-at")
    columns = (path.t_s, path.forward_mm, path.up_mm, track.xy_px[:, 0], track.xy_px[:, 1], path.sd_forward_mm,
               path.sd_up_mm)  # fmt: skip
    row = _Row(*(column[known] for column in columns))
    near = np.argsort(np.hypot(row.forward_mm, row.up_mm), kind="stable")[:5]
    camera = optics(
        data.view,
        data.scale,
        size_px=(data.clip.width_px, data.clip.height_px),
        plate_px=(float(np.median(row.x_px[near])), float(np.median(row.y_px[near]))),
        sds=(path.scale_pct, path.yaw_deg, path.roll_deg),
    )
    if camera is None:
        return NotMeasured("it cannot be told which way the lifter faces", "film from the side")
    return row, camera


def _shift(path: _Row, camera: Optics) -> FloatArray:
    """Give how far the picture has moved in each frame of the path (n, 2) px: the plate tells."""
    expected = np.array([camera.lens.project(f, u) for f, u in zip(path.forward_mm, path.up_mm, strict=True)])
    return np.asarray(expected - np.stack([path.x_px, path.y_px], 1))


def _places(data: SetData, path: _Row, camera: Optics, side: str, learnt: Learnt | None) -> Places:
    lift, body = data.asked.lift, data.body
    t_s = body.t_s
    moved = _at(t_s, path.t_s, _shift(path, camera))
    joints: dict[str, FloatArray] = {}
    sds: dict[str, FloatArray] = {}
    common: dict[str, dict[str, FloatArray]] = {}
    looks: dict[str, NDArray[np.bool_]] = {}
    for joint in JOINTS:
        k = LANDMARKS.index(f"{side}_{joint}")
        beside, beside_sd = BESIDE_MM[lift][joint]
        away = max(camera.middle_mm - beside, 0.0)
        points = np.where((body.state[:, k] != HIDDEN)[:, None], body.xy_px[:, k] + moved, np.nan)
        place = camera.lens.points_on_plane(points, away) / 1000.0
        joints[joint] = place
        looks[joint] = np.asarray(body.state[:, k] == SEEN, np.bool_)
        sds[joint] = body.sd_px[:, k] * camera.lens.mm_per_px_at(away) / 1000.0
        seen = np.isfinite(place).all(axis=1)
        if seen.any():
            middle = np.median(points[seen], axis=0)
            for source, effect in _effects(camera, middle, away, joint, beside_sd).items():
                common.setdefault(source, {})[joint] = effect
    for joint, off in CENTRE_SD_M.items():
        for k, axis in enumerate(("forward", "up")):
            common[f"centre of the {joint}, {axis}"] = {joint: off * np.eye(2)[k]}
    common.setdefault("scale", {})["share"] = np.array([camera.scale_share, 0.0])
    if lift == "bench":
        _still_shoulder(t_s, joints, sds)
    bar = np.stack([path.forward_mm, path.up_mm], 1) / 1000.0
    sd = float(np.nanmedian(np.hypot(path.sd_forward_mm, path.sd_up_mm))) / 1000.0 / math.sqrt(2)
    return Places(
        t_s=t_s, bar=_at(t_s, path.t_s, bar), path_t_s=path.t_s, path=bar, joints=joints, sd=sds,
        bar_sd_m=sd, common=common if learnt is None else learnt.left(common), own_share=OWN_SHARE, seen=looks,
    )  # fmt: skip


def _believed(places: Places, lift: str, stature_m: float | None) -> Places:
    """Leave out joints between which a segment would be too long, and whoever has the bar out of reach.

    No arm is drawn from a joint that cannot be there.
    """
    segments = the_lifter("male", stature_m or TALLEST_M, 75.0).segments
    longest = {n: s.length_m * (1.0 + BETWEEN_SDS * s.length_sd) for n, s in segments.items()}
    wrong = misplaced(places, longest)
    reach = ON_BACK_M if lift == "squat" else longest["upper_arm"] + longest["forearm"] + longest["hand"]
    other = apart(places, reach)
    joints = {n: np.where((wrong[n] | other)[:, None], np.nan, xy) for n, xy in places.joints.items()}
    return evolve(places, joints=joints)


def _at(wanted_s: FloatArray, t_s: FloatArray, values: FloatArray) -> FloatArray:
    return np.stack([np.interp(wanted_s, t_s, values[:, k]) for k in (0, 1)], 1)


def _corrected(camera: Optics, learnt: Learnt | None) -> Optics:
    """Give the camera as the hands on the bar correct it."""
    if learnt is None:
        return camera
    lens, fields = camera.lens, {}
    for name, off in camera.off:
        field = "distance_mm" if name == "distance" else f"{name}_rad"
        fields[field] = getattr(lens, field) + learnt.mean.get(name, 0.0) * (
            getattr(off, field) - getattr(lens, field)
        )
    middle = camera.middle_mm + learnt.mean.get("mid-plane", 0.0) * camera.middle_sd_mm
    new = evolve(lens, **fields)
    off_lenses = tuple((name, _moved(new, lens, off, name)) for name, off in camera.off)
    return evolve(camera, lens=new, off=off_lenses, middle_mm=max(middle, 0.0))


def _moved(new: Lens, old: Lens, off: Lens, name: str) -> Lens:
    field = "distance_mm" if name == "distance" else f"{name}_rad"
    return evolve(new, **{field: getattr(new, field) + getattr(off, field) - getattr(old, field)})


def _still_shoulder(t_s: FloatArray, joints: dict[str, FloatArray], sds: dict[str, FloatArray]) -> None:
    """Bridge the shoulder on the bench where the plate hides it: it lies between where it was seen."""
    shoulder = joints["shoulder"].copy()
    seen = np.isfinite(shoulder).all(axis=1)
    if seen.sum() < 2:
        return
    for k in (0, 1):
        shoulder[~seen, k] = np.interp(t_s[~seen], t_s[seen], shoulder[seen, k])
    joints["shoulder"] = shoulder
    sds["shoulder"] = np.where(seen, sds["shoulder"], BENCH_SHOULDER_SD_M)


def _effects(
    camera: Optics, point: FloatArray, away: float, joint: str, beside_sd: float, *, far: bool = False
) -> dict[str, FloatArray]:
    """Give what one sd of every shared error does to a joint, m; the far side lies beside the other way."""
    here = (float(point[0]), float(point[1]))
    forward, up = camera.effects(here, away)
    found = {name: np.array([forward[name], up[name]]) / 1000.0 for name in forward}
    place = np.array(camera.lens.on_plane(here, away))
    for name, by in (("mid-plane", camera.middle_sd_mm), (f"aside {joint}", beside_sd if far else -beside_sd)):
        found[name] = (np.array(camera.lens.on_plane(here, away + by)) - place) / 1000.0
    return found


def _wrists(data: SetData, camera: Optics, path: _Row, near: str) -> list[Wrist]:
    """Read both wrists while the bar is lifted, each at its own distance, against the bar."""
    lift, body = data.asked.lift, data.body
    t_s = body.t_s
    times = [m.t_s for rep in data.reps.reps for m in (rep.start, rep.end) if m is not None]
    lifted = (t_s >= min(times, default=math.inf)) & (t_s <= max(times, default=-math.inf))
    beside, beside_sd = BESIDE_MM[lift]["wrist"]
    moved = _at(t_s, path.t_s, _shift(path, camera))
    bar = _at(t_s, path.t_s, np.stack([path.forward_mm, path.up_mm], 1) / 1000.0)
    plate = _at(t_s, path.t_s, np.stack([path.x_px, path.y_px], 1))
    radius = 0.5 * LARGEST_PLATE_MM / camera.lens.mm_per_px
    found = []
    for side in ("left", "right"):
        k = LANDMARKS.index(f"{side}_wrist")
        away = max(camera.middle_mm - beside, 0.0) if side == near else camera.middle_mm + beside
        rows = lifted & (body.state[:, k] == SEEN) & np.isfinite(body.xy_px[:, k]).all(axis=1)
        # behind the near plate, as always from the side, what the network says of a hand is a guess
        rows &= np.hypot(*(body.xy_px[:, k] - plate).T) > radius
        if not rows.any():
            continue
        points = body.xy_px[:, k] + moved
        place = camera.lens.points_on_plane(points, away) / 1000.0
        effects = _effects(camera, np.median(points[rows], axis=0), away, "wrist", beside_sd, far=side != near)
        sd = body.sd_px[:, k] * camera.lens.mm_per_px_at(away) / 1000.0
        one = wrist_of(place, bar, sd, rows, lift, {n: float(e[0]) for n, e in effects.items() if n != "scale"})
        if one is not None:
            found.append(one)
    return found
