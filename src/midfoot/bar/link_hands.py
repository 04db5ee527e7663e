"""Whose hands go with a path: evidence, never a veto. Hands are often hidden by the plate itself."""

from __future__ import annotations

import numpy as np
from attrs import frozen

from midfoot.bar.link_motion import Thing
from midfoot.bar.link_people import BODY_PER_SIDE
from midfoot.records.base import FloatArray
from midfoot.records.body import INDEX, People, PersonTrack

WRISTS = (INDEX["left_wrist"], INDEX["right_wrist"])
ARMS = tuple(INDEX[f"{side}_{n}"] for side in ("left", "right") for n in ("shoulder", "elbow", "wrist", "hip"))
LEAST_TRACK_S, LEAST_PEAK = 1.5, 0.5
SHOULDERS = (INDEX["left_shoulder"], INDEX["right_shoulder"])
HEAD = tuple(INDEX[n] for n in ("nose", "left_ear", "right_ear"))
HEAD_BODIES, IN_HEAD = 0.2, 0.75
"""Radius, in bodies, up to which a disc may be a head (0.14, boxes are generous); how much of what is asked of
other joints its centre must keep from a head's, which is met somewhere in it and not in its middle."""
NOT_HELD = tuple(
    INDEX[n] for n in ("nose", "left_hip", "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle")
)
CLEAR_PEAK, CLEAR_HANDS = 0.5, 0.55
"""Mean peaks from which a joint that must not be the disc is made out, and hands that are measured against."""
BRIDGE_S = 0.35
STEP_S, SMOOTH_S, MOST_SMOOTH_S = 0.1, 0.3, 0.9
STILL_RADII_S = 0.25
"""Slower than this, in radii per second, a bar counts as held."""
LEAST_WAY_RADII = 0.3
LOOSE, FIRM = 0.5, 0.9
"""Correlations of a hold's height with the path's between which it comes to count as going along."""
LEAST_GAIN, MOST_GAIN = 0.35, 2.2
"""How much a hold may move for one that moves along: hands that a plate hides are put anywhere on it, and a hold
is nearer to the camera than the far disc and farther than the near one."""
MOST_TALLER = 1.7
"""No end of a bar, 0.7 m before the hands, moves more than this: 2 m from the camera 1.54."""
SWUNG_RADII, LEAST_ROWS = 0.8, 15
"""Over less of a way than this, or fewer rows, heights that rise together say nothing."""
LEAST_AGREEMENT = 0.95
LEAST_CARRIED = 0.06
"""Body lengths that somebody's hands must have carried something to be taken for the lifter without a bar."""
TOGETHER = 0.25
"""Hands nearer than this, in bodies, are one point in the picture: a side view."""


@frozen
class Hands:
    """How one person goes with one path.

    `person_id`; `share` of the path's vertical way, over the whole clip, that his hold went with it (0..1);
    `went` the same over the time in which he was followed; `off_line` median distance of the path from the line
    through his wrists, bodies; `radius_bodies` the disc's radius in his body lengths; `shared_s`. `taller` is how
    much more the path moves than the middle of his shoulders (bench, or not agreeing: of his hands) where both
    heights agree well, else None: the nearer end of a bar moves more in the picture than its middle, the farther
    end less. `made_out`: whether his hands are.
    """

    person_id: int
    share: float
    went: float
    off_line: float
    radius_bodies: float
    shared_s: float
    taller: float | None
    made_out: bool = True


def hands_with(a: Thing, people: People | None, lift: str) -> list[Hands]:
    """Give how everybody's hands go with a path, the best first."""
    if people is None:
        return []
    whole = float(np.abs(_steps(a.t_s, a.xy_px[:, 1], a.radius_px)[1]).sum())
    out = [h for track in people.tracks if (h := _one(a, track, whole, lift)) is not None]
    return sorted(out, key=lambda h: -_merit(h))


def away_from_joints(a: Thing, people: People | None) -> float:
    """Give how far, radii, the path stays from the nearest joint that no bar rides on, of anybody, while it moves.

    Heads, hips and knees go up and down too, and some are round. A plate may pass a knee or cover a face; it does
    not stay there.
    """
    least = np.inf
    for track in people.tracks if people is not None else ():
        place = _at(a, track.t_s)
        known = np.isfinite(place[:, 0]) & (track.t_s >= a.swing_at_s[0]) & (track.t_s <= a.swing_at_s[2])
        if known.sum() < 8 or np.ptp(track.t_s[known]) < 0.6 * (a.swing_at_s[2] - a.swing_at_s[0]):
            continue
        apart = np.linalg.norm(track.xy_px[known][:, NOT_HELD] - place[known][:, None], axis=2) / a.radius_px
        # a joint that the plate hides is put just anywhere, often on the hand
        clear = np.mean(track.peak[known][:, NOT_HELD] > CLEAR_PEAK, axis=0) > 0.7
        if clear.any():
            least = min(least, float(np.percentile(apart[:, clear], 85, axis=0).min()))
        if a.radius_px < HEAD_BODIES * BODY_PER_SIDE * float(np.median(track.region[:, 2])):
            middle = track.xy_px[known][:, HEAD].mean(axis=1)
            off = float(np.median(np.hypot(*(middle - place[known]).T))) / a.radius_px
            least = min(least, IN_HEAD * off)
    return least


def _merit(h: Hands) -> float:
    return h.share * float(np.clip(1.5 - h.off_line / 0.5, 0.1, 1.0))


def _even(t_s: FloatArray, y: FloatArray, at_s: FloatArray, half_s: float = SMOOTH_S) -> FloatArray:
    """Give `y` at `at_s`, smoothed over `half_s` to both sides; NaN where fewer than two are known there."""
    out = np.full(len(at_s), np.nan)
    for i, t in enumerate(at_s):
        first, last = np.searchsorted(t_s, (t - half_s, t + half_s))
        if last - first < 2 or np.abs(t_s[first:last] - t).min() > 0.8 * half_s:
            continue
        weight = 1.0 - (np.abs(t_s[first:last] - t) / (half_s + 1e-3)) ** 2
        # a line, not a mean: a mean would lag at the ends
        x = t_s[first:last] - t
        total = weight.sum()
        mx, my = (weight * x).sum() / total, (weight * y[first:last]).sum() / total
        xx = (weight * (x - mx) ** 2).sum()
        slope = (weight * (x - mx) * (y[first:last] - my)).sum() / xx if xx > 0 else 0.0
        out[i] = my - slope * mx
    return out


def _steps(
    t_s: FloatArray, y: FloatArray, radius_px: float, half_s: float = SMOOTH_S
) -> tuple[FloatArray, FloatArray]:
    """Give even times and the vertical steps to the next, px; steps slower than a held bar's wobble are 0."""
    at = np.arange(t_s[0], t_s[-1] + 1e-9, STEP_S)
    step = np.diff(_even(t_s, y, at, half_s))
    step[np.abs(step) < STILL_RADII_S * radius_px * STEP_S] = 0.0
    return at[:-1], np.nan_to_num(step)


def _one(a: Thing, track: PersonTrack, whole: float, lift: str) -> Hands | None:
    """Compare in the frame's own coordinates: shake moves both alike."""
    inside = (track.t_s >= a.t_s[0] - BRIDGE_S) & (track.t_s <= a.t_s[-1] + BRIDGE_S)
    if inside.sum() < 6 or whole <= 0:
        return None
    # people who are looked at more seldom are compared more coarsely
    half_s = float(np.clip(1.3 * np.median(np.diff(track.t_s)), SMOOTH_S, MOST_SMOOTH_S))
    at, down = _steps(a.t_s, a.xy_px[:, 1], a.radius_px, half_s)
    until = np.append(at, at[-1] + STEP_S)
    bar = _even(a.t_s, a.xy_px[:, 1], until, half_s)
    holds = [_even(track.t_s, np.median(track.xy_px[:, hold, 1], axis=1), until, half_s) for hold in _holds(lift)]
    both = np.isfinite(np.diff(holds[0]))
    way = float(np.abs(down[both]).sum())
    if way < LEAST_WAY_RADII * a.radius_px:
        return None
    went = max(max(_step_by_step(down[both], np.diff(h)[both]) / way, _risen_with(bar, h, a)) for h in holds)
    body = track.region[:, 2] * BODY_PER_SIDE
    place = _at(a, track.t_s)
    known = np.isfinite(place[:, 0])
    off = _off_line(track, place, body, known) if known.any() else np.inf
    return Hands(
        track.id, min(1.0, went * way / whole), min(1.0, went), off, a.radius_px / float(np.median(body)),
        float(both.sum()) * STEP_S, _taller(a, track, at, half_s, lift),
        _made_out(track),
    )  # fmt: skip


def _holds(lift: str) -> tuple[list[int], ...]:
    """Give the sets of joints that go with the bar of a lift.

    A bar lies on the shoulders or hangs from them by straight arms: they go with it where a plate hides the hands.
    """
    hands, shoulders = list(WRISTS), list(SHOULDERS)
    if lift == "bench":
        return (hands,)
    return (hands + shoulders if lift == "squat" else hands, shoulders)


def _step_by_step(down: FloatArray, hand: FloatArray) -> float:
    """How much of the way (sum of the steps `down`, px) a hold went along, step by step, px."""
    shared = np.where(down * hand > 0, np.minimum(np.abs(down), np.abs(hand)), 0.0)
    # hands that wave about go with anything now and then: what they do beside it counts against them
    against = np.maximum(np.abs(hand) - 1.8 * np.abs(down), 0.0) * (down * hand > 0)
    against += np.abs(hand) * (down * hand < 0)
    return max(0.0, float(shared.sum() - 0.5 * against.sum()))


def _risen_with(bar: FloatArray, hold: FloatArray, a: Thing) -> float:
    """How clearly a hold is high when the bar is and low when it is, 0..1, however much it trembles on the way."""
    both = np.isfinite(bar) & np.isfinite(hold)
    if both.sum() < LEAST_ROWS or np.ptp(bar[both]) < max(SWUNG_RADII, 0.8 * a.swing) * a.radius_px:
        return 0.0
    x, y = bar[both] - bar[both].mean(), hold[both] - hold[both].mean()
    xx, xy, yy = float(x @ x), float(x @ y), float(y @ y)
    if yy <= 0 or not LEAST_GAIN < xy / xx < MOST_GAIN:
        return 0.0
    return float(np.clip((xy / np.sqrt(xx * yy) - LOOSE) / (FIRM - LOOSE), 0.0, 1.0))


def _at(a: Thing, t_s: FloatArray) -> FloatArray:
    xy = np.stack([np.interp(t_s, a.t_s, a.xy_px[:, k]) for k in (0, 1)], axis=1)
    after = np.clip(np.searchsorted(a.t_s, t_s), 0, len(a.t_s) - 1)
    before = np.clip(after - 1, 0, None)
    near = np.minimum(np.abs(a.t_s[after] - t_s), np.abs(a.t_s[before] - t_s))
    xy[near > BRIDGE_S] = np.nan
    return xy


def _off_line(track: PersonTrack, place: FloatArray, body: FloatArray, known: np.ndarray) -> float:
    left, right = track.xy_px[known][:, WRISTS[0]], track.xy_px[known][:, WRISTS[1]]
    at, unit = place[known], body[known]
    line = right - left
    span = np.hypot(line[:, 0], line[:, 1])
    offset = at - 0.5 * (left + right)
    across = np.abs(offset[:, 0] * line[:, 1] - offset[:, 1] * line[:, 0]) / np.maximum(span, 1e-9)
    to_hand = np.minimum(np.hypot(*(at - left).T), np.hypot(*(at - right).T))
    off = np.where(span < TOGETHER * unit, to_hand, np.minimum(across, to_hand)) / unit
    return float(np.median(off))


def _taller(a: Thing, track: PersonTrack, at: FloatArray, half_s: float, lift: str) -> float | None:
    """By the shoulders, where the bar lies on them or hangs from them; by hands only where they are made out.

    Hands that a plate hides are put anywhere on it, and may go up and down more than it does.
    """
    if lift != "bench" and (way := _way_over(a, track, at, half_s, SHOULDERS)) is not None:
        return way
    return _way_over(a, track, at, half_s, WRISTS) if _made_out(track) else None


def _made_out(track: PersonTrack) -> bool:
    return bool(track.peak[:, WRISTS].mean() >= CLEAR_HANDS)


def _way_over(
    a: Thing, track: PersonTrack, at: FloatArray, half_s: float, joints: tuple[int, ...]
) -> float | None:
    hands = _even(track.t_s, track.xy_px[:, joints, 1].mean(axis=1), at, half_s)
    bar = _even(a.t_s, a.xy_px[:, 1], at, half_s)
    both = np.isfinite(hands) & np.isfinite(bar)
    if both.sum() < 15 or np.ptp(bar[both]) < 0.5 * a.radius_px:
        return None
    x, y = hands[both] - hands[both].mean(), bar[both] - bar[both].mean()
    xx, yy = float(x @ x), float(y @ y)
    if xx <= 0 or float(x @ y) / np.sqrt(xx * yy) < LEAST_AGREEMENT:
        return None
    way = float(np.sqrt(yy / xx))
    return way if way < MOST_TALLER else None


def main_carrier(people: People | None, lift: str) -> tuple[int, float] | None:
    """Give who carries most, by his own hands alone, and how clearly he leads the next (a factor).

    The way that both wrists, the picture at both and the picture further out on their line went together, in
    body lengths, weighted by his size in the picture and by how clearly he is made out. None when nobody does.
    """
    claims = []
    for track in people.tracks if people is not None else ():
        enough = len(track.t_s) >= 8 and len(track.carried_px) == len(track.t_s)
        if not enough or np.ptp(track.t_s) < LEAST_TRACK_S or track.peak[:, ARMS].mean() < LEAST_PEAK:
            continue
        body = track.region[:, 2] * BODY_PER_SIDE
        wrists = np.diff(np.apply_along_axis(_smooth, 0, track.xy_px[:, WRISTS, 1]), axis=0)
        moves = np.nan_to_num(np.concatenate([wrists, track.carried_px[1:]], axis=1))
        agree = np.all(moves > 0, axis=1) | np.all(moves < 0, axis=1)
        way = float((np.abs(moves).min(axis=1) * agree / body[1:]).sum())
        clear = float((track.presence * (0.3 + track.peak.mean(axis=1))).mean())
        if lift == "bench":  # a spotter's hands hang below his shoulders, a lying lifter's do not
            below = (track.xy_px[:, WRISTS, 1].mean(axis=1) - track.xy_px[:, SHOULDERS, 1].mean(axis=1)) / body
            way *= float(np.clip((0.05 - np.percentile(below, 30)) / 0.15, 0.05, 1.0))
        claims.append((way * clear * float(np.median(body)), way, track))
    claims.sort(key=lambda c: -c[0])
    if not claims or claims[0][1] < LEAST_CARRIED:
        return None
    first = claims[0][2]
    others = [c[0] for c in claims[1:] if not _same_person(first, c[2])]
    return first.id, claims[0][0] / max(others) if others and max(others) > 0 else np.inf


def _same_person(a: PersonTrack, b: PersonTrack) -> bool:
    """Tell whether two tracks lie on one another, or one where the other left off."""
    body = min(np.median(a.region[:, 2]), np.median(b.region[:, 2])) * BODY_PER_SIDE
    at = b.t_s[(b.t_s >= a.t_s[0] - 1.0) & (b.t_s <= a.t_s[-1] + 1.0)]
    if not len(at):
        return False
    apart = [np.interp(at, t.t_s, t.region[:, k]) for k in (0, 1) for t in (a, b)]
    return bool(np.median(np.hypot(apart[0] - apart[1], apart[2] - apart[3])) < 0.5 * body)


def _smooth(y: FloatArray) -> FloatArray:
    out = y.copy()
    out[1:-1] = (y[:-2] + 2 * y[1:-1] + y[2:]) / 4
    return out
