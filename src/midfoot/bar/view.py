"""View and scale of a clip, from the followed bar, the body, and what was asked."""

from __future__ import annotations

import math

import numpy as np
from attrs import evolve

from midfoot.bar.bodycues import body_cues
from midfoot.bar.far_bar import SHAFT_M, inner_span
from midfoot.bar.fit import (
    FAR_ROWS,
    LN_H,
    LN_R,
    TURN,
    Answer,
    Cues,
    answers,
    camera_of,
    height_m,
    middle_m,
    spread,
)
from midfoot.bar.hung_before import smaller_before
from midfoot.bar.plate_size import by_size, held_within
from midfoot.bar.scale import (
    PlatePrior,
    bar_height_prior,
    focal_prior,
    length_prior,
    length_px,
    plate_prior,
    span_prior,
    stack_prior,
    stature_prior,
)
from midfoot.bar.tilt import Tilt
from midfoot.records.bar import BarTrack, Scale, View
from midfoot.records.base import FloatArray, Value, Warned
from midfoot.records.body import INDEX, BodyTrack
from midfoot.records.clip import Asked, ClipInfo, KnownLength

SIDE_DEG, OBLIQUE_DEG = 10.0, 60.0
SURE_SIDE = 0.9
STEEP_PITCH_DEG = 20.0
EDGE_ON_SDS = 1.5
# Pitch is left nearly open: who holds the phone high looks down, so the prior of the camera's height says it all.
ROLL_DEFAULT, PITCH_DEFAULT = Value(0.0, 1.5), Value(2.0, 15.0)


def reference_px(track: BarTrack, body: BodyTrack, info: ClipInfo) -> FloatArray:
    """Give the place in the first frame's pixels that stands for the bar: the median of where it was seen.

    Without a bar the lifter's hips stand in; without both, the picture's middle.
    """
    rows = track.seen & np.isfinite(track.steady_px).all(axis=1)
    if rows.any():
        return np.asarray(np.median(track.steady_px[rows], axis=0))
    if body.status == "seen" and body.t_s.size:
        hips = body.xy_px[:, [INDEX["left_hip"], INDEX["right_hip"]]].reshape(-1, 2)
        hips = hips[np.isfinite(hips).all(axis=1)]
        if hips.size:
            return np.asarray(np.median(hips, axis=0))
    return np.array([(info.width_px - 1) / 2.0, (info.height_px - 1) / 2.0])


def steadying_px(track: BarTrack, t_s: FloatArray) -> FloatArray | None:
    """Give what to add to a frame's pixels at `t_s` to have those of the first frame; None without a track."""
    rows = np.isfinite(track.steady_px).all(axis=1) & np.isfinite(track.xy_px).all(axis=1)
    if rows.sum() < 2 or t_s.size == 0:
        return None
    shift = track.steady_px[rows] - track.xy_px[rows]
    return np.stack([np.interp(t_s, track.t_s[rows], shift[:, k]) for k in (0, 1)], axis=1)


def _bar_at(track: BarTrack, t_s: FloatArray) -> FloatArray:
    """Give the bar's place (n, 2) in the first frame's pixels at `t_s`; NaN where no seen frame is near."""
    rows = track.seen & np.isfinite(track.steady_px).all(axis=1)
    if rows.sum() < 2:
        return np.full((t_s.size, 2), np.nan)
    seen_s = track.t_s[rows]
    place = np.stack([np.interp(t_s, seen_s, track.steady_px[rows, k]) for k in (0, 1)], axis=1)
    after = np.clip(np.searchsorted(seen_s, t_s), 0, seen_s.size - 1)
    before = np.maximum(after - 1, 0)
    gap = np.minimum(np.abs(seen_s[after] - t_s), np.abs(seen_s[before] - t_s))
    place[gap > 0.1] = np.nan
    return place


def _both_ends(track: BarTrack) -> tuple[FloatArray, FloatArray]:
    """Give a dozen frames, spread over the path's heights, in which both ends were seen (first frame's px)."""
    shift = track.steady_px - track.xy_px
    far = track.far_xy_px + shift
    one = track.steady_px if track.near_xy_px is None else track.near_xy_px + shift
    rows = np.flatnonzero(track.seen & np.isfinite(one).all(axis=1) & np.isfinite(far).all(axis=1))
    if rows.size == 0:
        return np.zeros((0, 2)), np.zeros((0, 2))
    order = rows[np.argsort(one[rows, 1], kind="stable")]
    # a row stands for its neighbours in height: their median throws out the odd wrong far disc
    groups = np.array_split(order, min(FAR_ROWS, max(order.size // 3, 1)))
    near = np.array([np.median(one[g], axis=0) for g in groups])
    gap = np.array([np.median(far[g] - one[g], axis=0) for g in groups])
    return near, near + gap


def _gather(
    track: BarTrack,
    body: BodyTrack,
    asked: Asked,
    info: ClipInfo,
    plate: PlatePrior,
    tilt: Tilt | None,
    length: KnownLength | None,
) -> Cues:
    is_plate = track.source == "plate"
    at = reference_px(track, body, info)
    by_ends = is_plate or track.near_xy_px is not None
    near, far = _both_ends(track) if by_ends else (np.zeros((0, 2)), np.zeros((0, 2)))
    diameter = track.diameter_px if is_plate else length_px(length) if length is not None else None
    size = diameter.value if diameter is not None else 0.1 * max(info.width_px, info.height_px)
    height, end = bar_height_prior(asked, plate.mm.value / 1000.0)
    rows = track.seen & np.isfinite(track.steady_px).all(axis=1)
    height_px = at
    if rows.any():
        y = track.steady_px[rows, 1]
        limit = np.percentile(y, 97.0 if end == "lowest" else 3.0)
        close = np.abs(track.steady_px[:, 1] - limit) <= 0.05 * size
        height_px = np.median(track.steady_px[rows & close], axis=0) if (rows & close).any() else at
    elif body.status == "seen":
        # the hips stand in for the bar
        height = Value(0.5 * stature_prior(asked).value, 0.25)
    roll = (tilt.roll_deg if tilt is not None else None) or ROLL_DEFAULT
    pitch = (tilt.pitch_deg if tilt is not None else None) or PITCH_DEFAULT
    to_inner = is_plate and track.far_common_sd_px is not None
    return Cues(
        size_px=(info.width_px, info.height_px),
        at_px=at,
        near_px=near,
        far_px=far,
        # bars swing and tilt by a third of a degree while they move
        far_sd_px=math.hypot(0.7, 0.018 * size),
        far_bias_sd_px=max(math.hypot(0.8, 0.012 * size), track.far_common_sd_px or 0.0),
        diameter_px=diameter,
        far_diameter_px=track.far_diameter_px if is_plate else None,
        aspect=track.aspect if is_plate else None,
        focal_px=focal_prior(info),
        roll_rad=_radians(roll),
        pitch_rad=_radians(pitch),
        radius_m=Value(plate.mm.value / 2000.0, plate.mm.sd / 2000.0),
        near_is_origin=track.near_xy_px is None,
        stack_m=stack_prior(asked).value + stack_prior(asked).sd,
        span_m=inner_span(asked) if to_inner else span_prior(track, asked),
        shaft_m=SHAFT_M if to_inner else None,
        stature_m=stature_prior(asked),
        bar_height_m=height,
        bar_height_px=height_px,
        # a shaft is followed at its middle
        mid_away=0.0 if track.source in ("none", "shaft") else 1.0,
        body=body_cues(
            body,
            asked.lift,
            steadying_px(track, body.t_s),
            _bar_at(track, body.t_s) if is_plate else None,
            at,
        ),
    )


def _radians(v: Value) -> Value:
    return Value(math.radians(v.value), math.radians(v.sd))


LOGS = [3, 5, 6]
"""Which of the derived values are lengths, as logarithms: distance, and mm per px at the near plate and behind."""


def _derived(x: FloatArray, cues: Cues) -> FloatArray:
    """turn, roll, pitch in degrees; distance, height in m; mm per px at the near plate and at the mid-plane."""
    camera = camera_of(x, cues)
    middle = camera.camera_m(np.array([0.0, middle_m(x, cues), 0.0]))
    return np.array(
        [
            math.degrees(camera.turn_rad),
            math.degrees(camera.roll_rad),
            math.degrees(camera.pitch_rad),
            math.log(camera.distance_m),
            height_m(camera, x, cues),
            math.log(camera.m_per_px),
            math.log(float(middle[2]) / camera.focal_px),
        ]
    )


def _side(found: tuple[Answer, ...]) -> tuple[int, float]:
    """Give the likelier side (+1: the right one is near) and its probability."""
    right = sum(a.weight for a in found if a.sigma > 0)
    return (1, right) if right >= 0.5 else (-1, 1.0 - right)


def view_and_scale(
    track: BarTrack,
    body: BodyTrack,
    asked: Asked,
    info: ClipInfo,
    tilt: Tilt | None = None,
    length: KnownLength | None = None,
) -> tuple[View, Scale | None, tuple[Warned, ...]]:
    """Infer where the camera stood and how large a pixel is.

    Parameters
    ----------
    track : BarTrack
        The bar in the picture; may be `not_found` (then the body alone speaks).
    body : BodyTrack
        May be `not_seen`.
    asked, info
        What was said of the set, and the clip.
    tilt : Tilt, optional
        Roll and pitch from the scene (tilt.py); else roll is 0 +- 1.5 degrees.
    length : KnownLength, optional
        Two points and a length, at the near plate's (without one: the hands') distance from the camera; it goes
        before what was told or assumed of the plate.

    Returns
    -------
    View
        `near_side` is None and `facing` unknown where the side cannot be told with 90 % certainty; `yaw_deg` then
        counts as if the lifter faced the picture's right. Every sd covers what the other possible answers say.
    Scale or None
        None when neither a plate nor a body gives any length.
    tuple of Warned
    """
    plate = plate_prior(asked) if length is None else length_prior(length, track)
    cues = _gather(track, body, asked, info, plate, tilt, length)
    found = answers(cues)
    if not cues.near_is_origin and abs(found[0].x[TURN]) > math.pi / 2:
        # edge-on, the ends look alike: what was called the near one is then the farther one
        turned = evolve(cues, near_px=cues.far_px, far_px=cues.near_px)
        other = answers(turned)
        if abs(other[0].x[TURN]) < abs(found[0].x[TURN]):
            cues, found = turned, other
    if cues.diameter_px is not None:
        found = by_size(found, plate)
        if track.source == "plate" and length is None:
            found = smaller_before(found, cues, plate)
    sigma, certainty = _side(found)
    known = certainty >= SURE_SIDE
    if not known:
        sigma = 1
    best = next((a for a in found if a.sigma == sigma or not known), found[0])
    value, sd = _with_sd(best, found, cues, sigma if known else 0, plate)
    if not known:
        sigma = 1
    yaw = Value(float(sigma * value[0]), float(sd[0]))
    warnings: list[Warned] = []
    square = not cues.near_is_origin and abs(yaw.value) + EDGE_ON_SDS * yaw.sd > 90.0
    view = View(
        # square from the front or the rear neither end is the nearer
        near_side=("right" if sigma > 0 else "left") if known and not square else None,
        facing=_facing(yaw.value, sigma) if known else "unknown",
        view_class=_view_class(yaw, known),
        yaw_deg=yaw,
        roll_deg=Value(float(value[1]), float(sd[1])),
        pitch_deg=Value(float(value[2]), float(sd[2])),
        distance_m=_from_log(value[3], sd[3]),
        height_m=Value(float(value[4]), float(sd[4])),
    )
    scale = _scale(track, cues, plate, value, sd)
    warnings += _warnings(track, view, scale, plate, best, cues)
    return view, scale, tuple(warnings)


def _with_sd(
    best: Answer, found: tuple[Answer, ...], cues: Cues, sigma: int, plate: PlatePrior
) -> tuple[FloatArray, FloatArray]:
    """Give the best answer's derived values, with sds that cover every other answer of the same side.

    Lengths also hold within two sds, with its own sd, each size that a plate of unknown make may still have.
    """
    rows = [a for a in found if not sigma or a.sigma == sigma]
    total = sum(a.weight for a in rows)
    value = _derived(best.x, cues)
    variance, least = np.zeros_like(value), np.zeros_like(value)
    for a in rows:
        mine = _derived(a.x, cues)
        own = np.diag(spread(lambda x: _derived(x, cues), a.x, a.covariance))
        variance += a.weight / total * (own + (mine - value) ** 2)
        if a is not best and held_within(a, a.weight / total, plate):
            away = np.expm1(np.abs(mine - value)[LOGS])
            least[LOGS] = np.maximum(least[LOGS], 0.25 * (away + np.sqrt(own[LOGS])) ** 2)
    return value, np.sqrt(np.maximum(variance, least))


def _from_log(mean: float, sd: float) -> Value:
    return Value(math.exp(mean), math.exp(mean) * float(sd))


def _facing(yaw_deg: float, sigma: int) -> str:
    if abs(yaw_deg) > OBLIQUE_DEG:
        return "toward" if yaw_deg > 0 else "away"
    return "image_right" if sigma > 0 else "image_left"


def _view_class(yaw: Value, known: bool) -> str:
    """Name the view; `unknown` where front and rear cannot be told apart or the yaw is wide open."""
    size = abs(yaw.value)
    if size <= SIDE_DEG:
        return "side" if yaw.sd <= 20.0 else "unknown"
    if not known or yaw.sd > 25.0:
        return "unknown"
    if size <= OBLIQUE_DEG:
        return "front_oblique" if yaw.value > 0 else "rear_oblique"
    return "front" if yaw.value > 0 else "rear"


def _scale(track: BarTrack, cues: Cues, plate: PlatePrior, value: FloatArray, sd: FloatArray) -> Scale | None:
    near, middle = _from_log(value[5] + math.log(1000.0), sd[5]), _from_log(value[6] + math.log(1000.0), sd[6])
    if cues.diameter_px is not None:
        return Scale(near, middle, plate.mm.value if track.source == "plate" else None, plate.basis)
    if cues.near_px.shape[0] and abs(value[0]) > 30.0:
        return Scale(near, middle, None, "distance between the bar's collars, 1.31 m")
    if cues.body.stature_px is not None:
        told = cues.stature_m.sd < 0.03
        basis = "stature told" if told else "stature of adults, 1.72 m +- 6 %"
        return Scale(near, middle, None, f"body lengths; {basis}")
    return None


def _warnings(
    track: BarTrack, view: View, scale: Scale | None, plate: PlatePrior, best: Answer, cues: Cues
) -> list[Warned]:
    out: list[Warned] = []
    if scale is not None and scale.plate_mm is not None and plate.warning is not None:
        out.append(plate.warning)
    if scale is not None and cues.diameter_px is None:
        out.append(
            Warned(
                "scale_from_body",
                f"No plate was measured: millimetres come from {scale.basis} "
                f"(+- {100 * scale.mm_per_px.sd / scale.mm_per_px.value:.0f} %).",
                "Film so that a whole plate is in the picture, and tell its diameter.",
            )
        )
    yaw, pitch = view.yaw_deg, view.pitch_deg
    if abs(yaw.value) > OBLIQUE_DEG or abs(pitch.value) > STEEP_PITCH_DEG:
        what = f"{abs(yaw.value):.0f} degrees off the side" if abs(yaw.value) > OBLIQUE_DEG else "steeply tilted"
        out.append(
            Warned(
                "camera_angle",
                f"The camera stood {what}: forward-backward movement is hardly seen from there.",
                "Film from the side, level, at the height of the lifter's knees to hips.",
            )
        )
    elif yaw.sd > 12.0:
        out.append(
            Warned(
                "camera_angle",
                f"How far the camera stood off the side is uncertain (+- {yaw.sd:.0f} degrees): "
                "forward-backward lengths carry that.",
                "Film from the side with both ends of the bar in the picture.",
            )
        )
    if view.facing == "unknown" and track.status != "not_found":
        out.append(
            Warned(
                "facing_unknown",
                "Which way the lifter faces could not be told: forward and back are not given, "
                "and paths are drawn as they run in the picture.",
                "Keep the lifter's head and feet in the picture.",
            )
        )
    if cues.body.stature_px is not None and cues.diameter_px is not None and track.source == "plate":
        off = best.x[LN_H] - math.log(cues.stature_m.value)
        limit = math.hypot(cues.stature_m.sd / cues.stature_m.value, 0.04)
        if abs(off) > 2.0 * limit:
            size = 2000.0 * math.exp(best.x[LN_R])
            out.append(
                Warned(
                    "scale_doubtful",
                    f"With a plate of {size:.0f} mm the lifter would be {math.exp(best.x[LN_H]):.2f} m tall.",
                    "Measure the largest plate across with a tape and give it as --plate.",
                )
            )
    return out
