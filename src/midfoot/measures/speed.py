"""Velocity of the bar: means, peaks, the sticking region, and the curve for the report."""

from __future__ import annotations

import math

import numpy as np
from attrs import frozen

from midfoot.measures.definition import Answer, DoesNotApply, RepMeasure, Unseen
from midfoot.measures.scene import ROWS, WHOLE_REP, RepScene
from midfoot.measures.uncertain import Number, own
from midfoot.measures.velocity import Velocity, filtered
from midfoot.records.measures import Curve

LEAST_DIP_M_S = 0.03
"""A minimum shallower than this is no sticking region whatever the noise (common practice, no source)."""
TURN_SDS = 2.0 * math.sqrt(2.0)
"""So many sds apart two readings of the velocity differ for sure (95 %, two-sided)."""
NOISE_S = 0.1
"""For so long noise may lift the filtered velocity over its limit (a wave of the filter's own)."""
LEAST_DIP_SHARE = 0.1
"""Nor is one shallower than this share of the peak: plates that bounce off the floor make such (same)."""
DIP_SDS = 5.0
"""And it must be this many sds of the velocity deep: with four, noise of 6 mm a frame made a dip in one clean
ascent of ten, with five in none of 160."""
MOST_UNSEEN = 0.15
"""Share of the ascent that may be bridged before its peak is not told."""
FILM_FAST = "60 frames a second, the phone on a stand, enough light that the plate is sharp while it moves"
STICKING_SOURCE = (
    "first peak to first minimum of the upward velocity: Lander 1985; van den Tillaar & Ettema 2010, J "
    "Sports Sci "
    "28:529-535; a squat at 6RM shows one in 10 of 15 lifters (J Hum Kinet 2014, 42:63-71), so none is a "
    "valid answer"
)


@frozen
class Sticking:
    """First peak, minimum and second peak of an ascent, as indices of the velocity's grid."""

    first: int
    lowest: int
    second: int


def mean_of(rep: RepScene, first: str, last: str) -> Answer:
    """Height between two instants over the time between them."""
    _allowed(rep)
    a, b = rep.time(first), rep.time(last)
    if b.value - a.value <= 0:
        raise Unseen("this stretch of the rep has no length", "film at 60 frames a second")
    time = b.value - a.value
    mean = (rep.bar.up(b.value) - rep.bar.up(a.value)) * (0.001 / time)
    # A moment read late also reads the height that the bar has by then: what counts is how much the bar's own
    # velocity there differs from the mean.
    for moment in (a, b):
        mean = mean.plus(
            f"own:{moment.value:.4f} s", (_speed_at(rep, moment.value) - mean.value) / time * moment.sd
        )
    mean = mean.plus(ROWS, -mean.value / time * (b - a).parts.get(ROWS, 0.0))
    return Answer(mean, f"{rep.bar.basis}, height between two moments over the time")


def _speed_at(rep: RepScene, t_s: float) -> float:
    speed = rep.scene.velocity
    near = float(np.interp(t_s, speed.t_s, speed.velocity_m_s))
    return near if math.isfinite(near) else 0.0


def ascent_mean_velocity(rep: RepScene) -> Answer:
    """Mean upward velocity of the ascent."""
    return mean_of(rep, *rep.ascent_names)


def descent_mean_velocity(rep: RepScene) -> Answer:
    """Mean downward velocity of the descent, positive downward."""
    names = ("top_end", "end") if rep.lift == "deadlift" else ("start", "low_start")
    down = mean_of(rep, *names)
    return Answer(-down.number, down.basis)


def ascent_peak_velocity(rep: RepScene) -> Answer:
    """Highest upward velocity of the ascent."""
    return _peak(rep, *rep.ascent, sign=1.0)


def descent_peak_velocity(rep: RepScene) -> Answer:
    """Highest downward velocity of the descent, positive downward."""
    first, last = ("top_end", "end") if rep.lift == "deadlift" else ("start", "low_start")
    return _peak(rep, rep.t(first), rep.t(last), sign=-1.0)


def first_peak_velocity(rep: RepScene) -> Answer:
    """Velocity at the first peak before the sticking region."""
    return _point(rep, sticking(rep).first)


def sticking_velocity(rep: RepScene) -> Answer:
    """Velocity at the minimum of the sticking region."""
    return _point(rep, sticking(rep).lowest)


def second_peak_velocity(rep: RepScene) -> Answer:
    """Velocity at the second peak after the sticking region."""
    return _point(rep, sticking(rep).second)


def sticking_height(rep: RepScene) -> Answer:
    """Height above the low or the floor at the minimum of the sticking region."""
    found = sticking(rep)
    speed = rep.scene.velocity
    at = float(speed.t_s[found.lowest])
    height = rep.bar.up(at) - rep.bottom[1]
    spread = _flat_s(speed, found.lowest)
    error = abs(float(speed.velocity_m_s[found.lowest])) * 1000.0 * spread
    return Answer(height.plus(f"own:minimum at {at:.3f}", error), f"{rep.bar.basis}, filtered velocity")


def sticking_time(rep: RepScene) -> Answer:
    """Time from the first peak to the minimum of the velocity."""
    found = sticking(rep)
    speed = rep.scene.velocity
    sd = math.hypot(_flat_s(speed, found.first), _flat_s(speed, found.lowest))
    value = float(speed.t_s[found.lowest] - speed.t_s[found.first])
    return Answer(own(value, sd, f"sticking {rep.rep.n}"), f"{rep.bar.basis}, filtered velocity")


def sticking(rep: RepScene) -> Sticking:
    """Find first peak, minimum and second peak of the ascent; raises `DoesNotApply` when there is no such dip."""
    from scipy.signal import find_peaks  # late: it takes 0.3 s to load, before the first word

    speed = rep.scene.velocity
    first, last = rep.ascent
    rows = speed.span(first, last)
    v = speed.velocity_m_s[rows]
    if len(rows) < 8 or not np.isfinite(v).all():
        raise Unseen("the ascent is not seen without gaps", "nothing between camera and plate; " + FILM_FAST)
    least = max(LEAST_DIP_M_S, LEAST_DIP_SHARE * float(np.max(v)), DIP_SDS * float(np.median(speed.sd_m_s[rows])))
    # A peak at the very edge (a bar that leaves the low fast) still is one: pad with rest on both sides.
    padded = np.concatenate([[0.0], v, [0.0]])
    peaks, _ = find_peaks(padded, prominence=least)
    peaks = peaks - 1
    if len(peaks) < 2:
        raise DoesNotApply("no sticking region: the velocity has one peak and no dip larger than its noise")
    dip = int(peaks[0] + np.argmin(v[peaks[0] : peaks[1] + 1]))
    return Sticking(int(rows[peaks[0]]), int(rows[dip]), int(rows[peaks[1]]))


def slowest_s(rep: RepScene) -> float:
    """Give the moment of the sticking region's minimum."""
    return float(rep.scene.velocity.t_s[sticking(rep).lowest])


def curve(rep: RepScene) -> Curve:
    """Give velocity over time and over height through the ascent; raises `Unseen`."""
    speed = rep.scene.velocity
    first, last = rep.ascent
    rows = speed.span(first, last)
    if len(rows) < 4:
        raise Unseen("too few frames show the ascent", WHOLE_REP)
    base = rep.bottom[1].value
    return Curve(
        n=rep.rep.n,
        t_s=speed.t_s[rows] - first,
        up_mm=speed.up_mm[rows] - base,
        velocity_m_s=speed.velocity_m_s[rows],
        sd_m_s=speed.sd_m_s[rows],
    )


def _allowed(rep: RepScene) -> None:
    _ = rep.scene.velocity


def _peak(rep: RepScene, first: float, last: float, *, sign: float) -> Answer:
    speed = rep.scene.velocity
    rows = speed.span(first, last)
    v = sign * speed.velocity_m_s[rows]
    known = np.isfinite(v)
    if len(rows) < 4 or known.mean() < 1 - MOST_UNSEEN:
        raise Unseen("part of this stretch is not seen", "nothing between camera and plate; " + FILM_FAST)
    at = int(np.nanargmax(v))
    number = _with_errors(rep, float(v[at]), float(speed.sd_m_s[rows[at]]), f"peak {first:.3f}")
    return Answer(number.plus("own:filter", _flattened(rep, first, last, sign, float(v[at]))), _basis(rep, speed))


def _flattened(rep: RepScene, first: float, last: float, sign: float, peak: float) -> float:
    """Give how much the filter may have taken off the peak: what half as high a cut-off again brings back."""
    wider = filtered(rep.bar, rep.scene.interval_s, 1.5 * rep.scene.velocity.cutoff_hz)
    if wider is None:
        return 0.0
    rows = wider.span(first, last)
    return abs(float(np.nanmax(sign * wider.velocity_m_s[rows])) - peak) if len(rows) else 0.0


def _point(rep: RepScene, row: int) -> Answer:
    speed = rep.scene.velocity
    number = _with_errors(rep, float(speed.velocity_m_s[row]), float(speed.sd_m_s[row]), f"at {row}")
    return Answer(number, _basis(rep, speed))


def _with_errors(rep: RepScene, value: float, sd: float, name: str) -> Number:
    number = own(value, sd, f"velocity {name}", inferred=rep.bar.inferred)
    # a place higher up is read earlier, so a bar that rises seems to need longer
    rows = -1000.0 * value**2 * rep.scene.read_s_per_mm
    return number.plus("scale", value * rep.bar.path.scale_pct / 100.0).plus(ROWS, rows)


def _basis(rep: RepScene, speed: Velocity) -> str:
    return f"{rep.bar.basis}, two-pass low-pass at {speed.cutoff_hz:.0f} Hz"


def _flat_s(speed: Velocity, row: int) -> float:
    """Give the sd of the time of a turn of the velocity: it may lie anywhere while that stays within its error.

    Two values of the velocity are told apart when they differ by `TURN_SDS` sds; over such a stretch, which noise
    may interrupt for a moment, every moment is as likely (an even spread).
    """
    step = float(speed.t_s[1] - speed.t_s[0])
    near = np.abs(speed.velocity_m_s - speed.velocity_m_s[row]) <= TURN_SDS * float(speed.sd_m_s[row])
    reach = max(1, round(NOISE_S / step))
    left = right = row
    while (more := np.flatnonzero(near[max(left - reach, 0) : left])).size:
        left = max(left - reach, 0) + int(more[0])
    while (more := np.flatnonzero(near[right + 1 : right + 1 + reach])).size:
        right += 1 + int(more[-1])
    return max(right - left, 1) * step / math.sqrt(12.0)


CATALOGUE: tuple[RepMeasure, ...] = (
    RepMeasure(
        id="ascent_mean_velocity_m_s", title="Mean velocity of the ascent", unit="m_s",
        compute=ascent_mean_velocity, needs_velocity=True, good="more", typical=True,
        what="Height between the begin and the end of the ascent over the time between them.",
        formula="(up(end) - up(begin)) / (t(end) - t(begin)), the begin and end of the ascent by the 10 mm "
        "bands.",
        lies="Two positions and two moments are all it rests on. A slow lockout lowers it much. An assumed "
        "plate "
        "diameter scales it in every rep alike.",
        film=FILM_FAST,
        source="velocities at one repetition maximum between 0.1 and 0.35 m/s by lift and lifter "
        "(Helms 2017, JSCR 31:292-297; Sanchez-Medina 2017, SMIO 1:E80-88): a sanity range, not a yardstick",
    ),
    RepMeasure(
        id="ascent_peak_velocity_m_s", title="Peak velocity of the ascent", unit="m_s",
        compute=ascent_peak_velocity, needs_velocity=True, good="more",
        what="Highest upward velocity between the begin and the end of the ascent.",
        formula="max of the slope of the height, low-passed in two passes (Butterworth, cut-off corrected "
        "for two "
        "passes).",
        lies="Noise raises a peak and the filter lowers it; the sd holds both. Under 30 frames a second "
        "short peaks "
        "are flattened.",
        film=FILM_FAST,
    ),
    RepMeasure(
        id="descent_mean_velocity_m_s", title="Mean velocity of the descent", unit="m_s",
        compute=descent_mean_velocity, needs_velocity=True, good="same",
        what="Height between the begin and the end of the descent (deadlift: lowering) over the time, positive "
        "downward.",
        formula="(up(start) - up(low_start)) / time.", lies="As for the ascent.", film=FILM_FAST,
    ),
    RepMeasure(
        id="descent_peak_velocity_m_s", title="Peak velocity of the descent", unit="m_s",
        compute=descent_peak_velocity, needs_velocity=True, good="same",
        what="Highest downward velocity of the descent (deadlift: lowering), positive downward.",
        formula="-min of the slope of the filtered height.",
        lies="As for the ascent; a dropped bar has free fall.",
        film=FILM_FAST,
    ),
    RepMeasure(
        id="first_peak_velocity_m_s", title="First peak before the sticking region", unit="m_s",
        compute=first_peak_velocity, needs_velocity=True, good="more",
        what="Velocity at the first peak of the ascent when a dip follows it.",
        formula="first peak of the filtered velocity whose dip is deeper than 0.03 m/s, a tenth of the peak "
        "and five of its sds.",
        lies="A bar that bends or plates that swing can make a dip of their own.", film=FILM_FAST,
        source=STICKING_SOURCE,
    ),
    RepMeasure(
        id="sticking_velocity_m_s", title="Velocity in the sticking region", unit="m_s",
        compute=sticking_velocity, needs_velocity=True, good="more",
        what="Lowest velocity between the first and the second peak of the ascent; without such a dip there "
        "is no "
        "sticking region, and that is a valid answer.",
        formula="min of the filtered velocity between two peaks.",
        lies="The filter lifts a short dip; the depth that counts as a dip depends on the clip's noise.",
        film=FILM_FAST, source=STICKING_SOURCE,
    ),
    RepMeasure(
        id="second_peak_velocity_m_s", title="Second peak after the sticking region", unit="m_s",
        compute=second_peak_velocity, needs_velocity=True, good="more",
        what="Velocity at the peak that follows the sticking region.", formula="second such peak.",
        lies="As for the first.", film=FILM_FAST, source=STICKING_SOURCE,
    ),
    RepMeasure(
        id="sticking_height_mm", title="Height of the sticking region", unit="mm", compute=sticking_height,
        needs_velocity=True, good="same",
        what="Height above the low (deadlift: above the floor) at which the velocity is lowest between its "
        "peaks.",
        formula="up(minimum) - up(lowest).",
        lies="A long flat dip has no sharp place; its sd says so.", film=FILM_FAST, source=STICKING_SOURCE,
    ),
    RepMeasure(
        id="sticking_time_s", title="From first peak to the slowest point", unit="s", compute=sticking_time,
        needs_velocity=True, good="less",
        what="Time from the first peak of the velocity to the minimum that follows.",
        formula="t(minimum) - t(first peak).", lies="A long flat dip has no sharp time.", film=FILM_FAST,
        source=STICKING_SOURCE,
    ),
)  # fmt: skip
