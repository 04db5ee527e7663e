"""Where the camera stood: everything seen of bar and body, weighed against each other by least squares.

Every cue becomes a residual in units of its own standard deviation and every unknown has a prior, so missing cues
widen the answer instead of breaking it. The unknowns are those of the pinhole (camera.py), the distance between
the two plates, the plate's radius, the lifter's stature, a tilt of the bar, and a constant error of the far
plate's place. Several starts find several answers where the cues allow them (an ellipse alone cannot tell a
turn to the left from one to the right); each keeps its weight, and the stated sds cover the others.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from attrs import field, frozen
from scipy.optimize import least_squares

from midfoot.bar.bodycues import BodyCues
from midfoot.bar.camera import Camera
from midfoot.records.base import FloatArray, Value, float_field

LN_F, TURN, PITCH, ROLL, LN_Z, SPAN, LN_R, TILT, FAR_U, FAR_V, LN_H, BODY_TURN = range(12)
STARTS_DEG = (-62.0, -30.0, 0.0, 30.0, 62.0)
STEEP_STARTS_DEG = (-84.0, 84.0)
STEEPEST_RAD = math.radians(97.0)
PAIR_WIDTH_SD = 0.12
LYING_SD = 0.7
"""How little a lying lifter's length in the picture tells of his stature, seen from his head or his feet."""
TRUST_PARABOLA_RAD = math.radians(3.0)
FAR_ROWS = 12


@frozen(kw_only=True)
class Cues:
    """What the fit is given. Pixels are those of the first frame; None where a cue is missing.

    `near_px`, `far_px` (m, 2): some frames in which both ends of the bar were seen, with the sd of the far one's
    changing part; `at_px` the near plate's reference place, or that of the bar's middle where it is followed
    (`near_is_origin` False: the near end is half a span before it); `stack_m` how
    deep what hangs there may be. `radius_m`, `span_m`, `stature_m`,
    `focal_px`, `roll_rad`, `pitch_rad` are priors. `floor_up_m`, when given, is where the floor is known to be,
    from the reference place; `mid_away` is 1 when an end of the bar is followed (the lifter's middle is half a
    span behind) and 0 when the lifter stands in for it or its middle is. `shaft_m`: given where the span runs to
    the inner face of what hangs at the far end; the shaft between the discs' inner faces, whose middle is his.
    """

    size_px: tuple[int, int]
    at_px: FloatArray = float_field(2)
    near_px: FloatArray = float_field(None, 2)
    far_px: FloatArray = float_field(None, 2)
    far_sd_px: float
    far_bias_sd_px: float
    diameter_px: Value | None
    far_diameter_px: Value | None
    aspect: Value | None
    focal_px: Value
    roll_rad: Value
    pitch_rad: Value
    radius_m: Value
    span_m: Value
    stature_m: Value
    bar_height_m: Value
    bar_height_px: FloatArray = float_field(2)
    mid_away: float
    body: BodyCues
    near_is_origin: bool = True
    stack_m: float = 0.12
    shaft_m: float | None = None


@frozen
class Answer:
    """One answer of the fit.

    `sigma` +1 when the lifter's forward is toward the picture's right (his right side is near), -1 when left;
    `weight` its share of the posterior; `x` the unknowns, `covariance` of them.
    """

    sigma: int
    weight: float
    x: FloatArray = field(eq=False)
    covariance: FloatArray = field(eq=False)


def _prior(cues: Cues) -> tuple[FloatArray, FloatArray]:
    """Give means and sds of the unknowns before anything is seen."""
    f, r, h = cues.focal_px, cues.radius_m, cues.stature_m
    mean = np.zeros(12)
    sd = np.ones(12)
    mean[LN_F], sd[LN_F] = math.log(f.value), f.sd / f.value
    mean[TURN], sd[TURN] = 0.0, math.radians(50.0)
    mean[PITCH], sd[PITCH] = cues.pitch_rad.value, cues.pitch_rad.sd
    mean[ROLL], sd[ROLL] = cues.roll_rad.value, cues.roll_rad.sd
    mean[LN_Z], sd[LN_Z] = math.log(3.2), 0.45
    mean[SPAN], sd[SPAN] = cues.span_m.value, cues.span_m.sd
    mean[LN_R], sd[LN_R] = math.log(r.value), r.sd / r.value
    sd[TILT] = math.radians(0.7)
    sd[FAR_U] = sd[FAR_V] = cues.far_bias_sd_px
    mean[LN_H], sd[LN_H] = math.log(h.value), h.sd / h.value
    # people do not stand exactly square under the bar
    sd[BODY_TURN] = math.radians(5.0)
    return mean, sd


def camera_of(x: FloatArray, cues: Cues) -> Camera:
    """Give the camera that the unknowns describe."""
    w, h = cues.size_px
    return Camera(
        focal_px=math.exp(x[LN_F]),
        centre_px=((w - 1) / 2.0, (h - 1) / 2.0),
        turn_rad=float(np.clip(x[TURN], -STEEPEST_RAD, STEEPEST_RAD)),
        pitch_rad=float(x[PITCH]),
        roll_rad=float(x[ROLL]),
        plate_px=(float(cues.at_px[0]), float(cues.at_px[1])),
        depth_m=math.exp(x[LN_Z]),
    )


def _step(camera: Camera, at_px: FloatArray, away_m: float, by_m: FloatArray) -> FloatArray:
    """How far (px) the picture of a point moves when it, seen at `at_px` on that plane, moves by `by_m`."""
    here = camera.about_plane(at_px, away_m)
    ends = camera.project(np.stack([here - 0.5 * by_m, here + 0.5 * by_m]))
    return np.asarray(ends[1] - ends[0])


def middle_m(x: FloatArray, cues: Cues) -> float:
    """Give how far behind what is followed the lifter's middle is along the bar, metres."""
    half = 0.5 * x[SPAN] if cues.shaft_m is None else x[SPAN] - 0.5 * cues.shaft_m
    return float(cues.mid_away * half)


def floor_up_m(camera: Camera, x: FloatArray, cues: Cues) -> tuple[float, float]:
    """Height of the floor from the reference place, metres, and its sd; from the feet, else from the lift."""
    mid = middle_m(x, cues)
    if cues.body.feet_px is not None:
        # the lower foot in the picture is the near one, 0.1 m nearer than the lifter's middle; landmarks of
        # heel and toes lie about 20 mm above the floor
        up = camera.about_plane(cues.body.feet_px, mid - 0.1)[2]
        return float(up) - 0.02, 0.05
    up = camera.about_plane(cues.bar_height_px)[2]
    return float(up) - cues.bar_height_m.value, cues.bar_height_m.sd


def height_m(camera: Camera, x: FloatArray, cues: Cues) -> float:
    """Height of the camera above the floor, metres."""
    return float(camera.position_m[2] - floor_up_m(camera, x, cues)[0])


def _bar_residuals(camera: Camera, x: FloatArray, cues: Cues) -> list[float]:
    radius = math.exp(x[LN_R])
    out: list[float] = []
    if cues.near_px.shape[0]:
        before = 0.0 if cues.near_is_origin else -0.5 * x[SPAN]
        near = camera.about_plane(camera.rim_to_centre(cues.near_px, radius), before)
        far = near + x[SPAN] * np.array([0.0, math.cos(x[TILT]), math.sin(x[TILT])])
        seen = camera.ellipse_centres(far, radius) + x[[FAR_U, FAR_V]]
        # frames of one clip err together (the bar swings, one template): a dozen count as four
        out.extend(((seen - cues.far_px) / (cues.far_sd_px * math.sqrt(near.shape[0] / 4.0))).ravel())
        if cues.far_diameter_px is not None:
            disc = camera.ellipse(far[far.shape[0] // 2], radius)
            sd = math.hypot(cues.far_diameter_px.sd, 0.01 * cues.far_diameter_px.value)
            out.append((2.0 * disc.major_px - cues.far_diameter_px.value) / sd)
    if cues.diameter_px is not None:
        disc = camera.ellipse(np.zeros(3), radius)
        sd = max(cues.diameter_px.sd, 0.002 * cues.diameter_px.value)
        out.append((2.0 * disc.major_px - cues.diameter_px.value) / sd)
        if cues.aspect is not None:
            # a plate has a thick rim: seen at an angle, part of it may be taken for the face and make the ellipse
            # rounder (up to t sin(a) / 2R; t some 45 mm of 450)
            seen_at = math.sqrt(max(1.0 - min(cues.aspect.value, 1.0) ** 2, 0.0))
            sd = math.sqrt(cues.aspect.sd**2 + 0.004**2 + (0.03 * seen_at) ** 2)
            off = disc.aspect - cues.aspect.value
            if off < 0.0:
                sd = math.hypot(sd, _rounder_by(camera, radius, cues.stack_m))
            out.append(off / sd)
    return out


def _rounder_by(camera: Camera, radius_m: float, stack_m: float) -> float:
    """How much rounder than its face an outline may be that has taken in the sides of what hangs beside it.

    All of the side makes a disc seen at an angle rounder by depth over diameter times the sine of the turn; how
    much of it is taken for the outline goes by its share of what is seen of face and side.
    """
    side = stack_m * abs(math.sin(camera.turn_rad))
    face = 2.0 * radius_m * abs(math.cos(camera.turn_rad))
    return side / (2.0 * radius_m) * side / max(side + face, 1e-9)


def _body_residuals(camera: Camera, x: FloatArray, cues: Cues, sigma: int) -> list[float]:
    body = cues.body
    mid = middle_m(x, cues)
    stature = math.exp(x[LN_H])
    out: list[float] = []
    if body.stature_px is not None:
        depth = float(camera.camera_m(np.array([0.0, mid, 0.0]))[2])
        # from his head or feet a lying lifter is seen shortened
        shortened = LYING_SD * math.sin(camera.turn_rad) ** 2 if body.lying else 0.0
        sd = math.hypot(math.hypot(body.stature_rel_sd, 0.04), shortened)
        out.append(math.log(body.stature_px * depth / (camera.focal_px * stature)) / sd)
    turn = x[BODY_TURN]
    left = sigma * np.array([math.sin(turn), math.cos(turn), 0.0])
    ahead = sigma * np.array([math.cos(turn), -math.sin(turn), 0.0])
    for pair in body.pairs:
        width = pair.width_of_stature * stature
        seen = _step(camera, pair.at_px, mid, width * left)
        sd = math.hypot(pair.sd_px, PAIR_WIDTH_SD * width / camera.m_per_px)
        out.append(_soft((seen[0] - pair.left_minus_right_px) / sd))
    n = max(len(body.directions), 1)
    for way in body.directions:
        seen = _step(camera, way.at_px, mid, way.length_of_stature * stature * ahead)
        sd = math.hypot(way.sd_px, way.spread * stature / camera.m_per_px)
        # they share their errors (one body, one network): together they count as two
        out.append(_soft((seen[0] - way.px) / sd) / math.sqrt(max(n / 2.0, 1.0)))
    for anchor in body.anchors:
        aside = anchor.aside * stature
        away = mid + (aside if anchor.left == (sigma > 0) else -aside)
        off = camera.about_plane(anchor.at_px, away)[0] - sigma * anchor.ahead_m
        # what is not known of its place along the bar shows ahead by the tangent of the turn
        slide = anchor.aside_sd * stature * min(abs(math.tan(camera.turn_rad)), 2.0)
        sd = math.sqrt((anchor.sd_px * camera.m_per_px) ** 2 + anchor.ahead_sd_m**2 + slide**2)
        out.append(_soft(off / sd) / math.sqrt(max(len(body.anchors) / 2.0, 1.0)))
    if body.right_minus_left_depth_m is not None:
        out.append((body.right_minus_left_depth_m + sigma * 0.25 * math.cos(x[TURN])) / 0.35)
    return out


def _soft(r: float, limit: float = 4.0) -> float:
    """Bound one cue's say, smoothly, so that a single gross error cannot rule."""
    return limit * math.tanh(float(r) / limit)


def _residuals(q: FloatArray, cues: Cues, sigma: int, mean: FloatArray, sd: FloatArray) -> FloatArray:
    x = mean + sd * q
    camera = camera_of(x, cues)
    out = [*q, *_bar_residuals(camera, x, cues)]
    if sigma:
        out += _body_residuals(camera, x, cues, sigma)
    _, floor_sd = floor_up_m(camera, x, cues)
    # phones stand on something between a bench's foot and chest height
    out.append((height_m(camera, x, cues) - 1.0) / math.hypot(0.4, floor_sd))
    values = np.array(out, dtype=np.float64)
    return np.where(np.isfinite(values), values, 50.0)


def _told_side(body: BodyCues, sigma: int) -> float:
    """Minus log of the probability that the body stage gives to this side."""
    if body.near_side is None:
        return 0.0
    right = 0.5 + 0.45 * body.near_side_margin * (1 if body.near_side == "right" else -1)
    return -math.log(right if sigma > 0 else 1.0 - right)


def _maybe_steep(cues: Cues) -> bool:
    """Whether the discs may be edge-on: a narrow ellipse, or a far end well beside the near one."""
    if cues.diameter_px is None or (cues.aspect is None and not cues.near_px.shape[0]):
        return True
    if cues.aspect is not None and cues.aspect.value < 0.5:
        return True
    apart = np.abs(cues.far_px[:, 0] - cues.near_px[:, 0])
    return bool(apart.size and np.median(apart) > 2.3 * cues.diameter_px.value)


def answers(cues: Cues) -> tuple[Answer, ...]:
    """Find every answer that the cues allow, the likeliest first; weights add up to 1."""
    mean, sd = _prior(cues)
    rough: list[tuple[float, FloatArray]] = []
    sides = (1, -1)
    for start in STARTS_DEG + (STEEP_STARTS_DEG if _maybe_steep(cues) else ()):
        q0 = np.zeros(12)
        q0[TURN] = math.radians(start) / sd[TURN]
        got = least_squares(_residuals, q0, args=(cues, 0, mean, sd), method="lm", max_nfev=400)
        if all(np.abs(got.x - other).max() > 0.05 for _, other in rough):
            rough.append((float(got.cost), got.x))
    best = min(cost for cost, _ in rough)
    found: list[tuple[float, int, FloatArray, FloatArray]] = []
    beyond: list[tuple[float, int, FloatArray, FloatArray]] = []
    for sigma in sides:
        mine: list[FloatArray] = []
        for cost, q0 in rough:
            if cost > best + 40.0:
                continue
            got = least_squares(_residuals, q0, args=(cues, sigma, mean, sd), method="lm", max_nfev=600)
            if any(np.abs(got.x - other).max() < 0.05 for other in mine):
                continue
            mine.append(got.x)
            information = got.jac.T @ got.jac
            sign, logdet = np.linalg.slogdet(information)
            if sign <= 0:
                continue
            covariance = _widened(got.x, np.linalg.inv(information), cues, sigma, mean, sd)
            # the turn's share of the volume is its true width, not the parabola's
            logdet -= math.log(covariance[TURN, TURN]) - math.log(np.linalg.inv(information)[TURN, TURN])
            score = -float(got.cost) - 0.5 * float(logdet) - _told_side(cues.body, sigma)
            steep = abs(sd[TURN] * got.x[TURN]) >= STEEPEST_RAD
            (beyond if steep else found).append((score, sigma, mean + sd * got.x, covariance * np.outer(sd, sd)))
    found = found or beyond
    found.sort(key=lambda item: -item[0])
    weights = np.exp(np.array([item[0] for item in found]) - found[0][0])
    weights /= weights.sum()
    return tuple(
        Answer(sigma, float(w), x, c) for w, (_, sigma, x, c) in zip(weights, found, strict=True) if w > 1e-4
    )


def _widened(
    q: FloatArray, covariance: FloatArray, cues: Cues, sigma: int, mean: FloatArray, sd: FloatArray
) -> FloatArray:
    """Put the turn's true spread into the covariance where it is wide.

    A round disc says that the turn is near 0, but the first derivative of its roundness is nought there and the
    parabola at the best answer is far too flat. So the cost itself is walked along the turn, the other unknowns
    following as they are tied to it, until it has risen by 8 or falls toward another answer.
    """
    own = float(covariance[TURN, TURN])
    if math.sqrt(own) * sd[TURN] < TRUST_PARABOLA_RAD:
        return covariance
    tie = covariance[:, TURN] / own
    step = min(max(math.sqrt(own) / 4.0, math.radians(0.7) / sd[TURN]), math.radians(2.5) / sd[TURN])
    start = 0.5 * float(np.sum(_residuals(q, cues, sigma, mean, sd) ** 2))
    total, moment = 1.0, 0.0
    for way in (-1.0, 1.0):
        highest = 0.0
        for k in range(1, 40):
            by = way * k * step
            if abs(sd[TURN] * (q[TURN] + by)) >= STEEPEST_RAD:
                break
            rise = 0.5 * float(np.sum(_residuals(q + tie * by, cues, sigma, mean, sd) ** 2)) - start
            if rise > 8.0 or rise < highest - 0.5:
                break
            highest = max(highest, rise)
            total += math.exp(-rise)
            moment += math.exp(-rise) * by**2
    wide = max(moment / total, 1e-6)
    return np.asarray(covariance + np.outer(tie, tie) * (wide - own))


def spread(function: Callable[[FloatArray], FloatArray], x: FloatArray, covariance: FloatArray) -> FloatArray:
    """Give the covariance of `function(x)` (k,) for small errors of `x`, by central differences."""
    steps = 0.1 * np.sqrt(np.diag(covariance)) + 1e-9
    rows = []
    for i, h in enumerate(steps):
        ahead, back = x.copy(), x.copy()
        ahead[i] += h
        back[i] -= h
        rows.append((function(ahead) - function(back)) / (2.0 * h))
    jacobian = np.stack(rows, axis=1)
    return np.asarray(jacobian @ covariance @ jacobian.T)
