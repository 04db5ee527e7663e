"""Whether somebody helped the bar up: it stood or sank on its way, hands came to it, and it went on with them.

Spotters stand near, and their hands follow the bar through a clean rep: neither is help. Hands that are at the bar
all the time tell nothing either way, and nothing is claimed then.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from attrs import evolve, frozen

from midfoot.records.bar import BarTrack
from midfoot.records.base import FloatArray, Warned
from midfoot.records.body import HIDDEN, INDEX, BodyTrack, People, PersonTrack
from midfoot.reps.heights import GRID_S, HOLD_S
from midfoot.reps.tries import Try, bump_mm

WRISTS = (INDEX["left_wrist"], INDEX["right_wrist"])
TRUNK = tuple(INDEX[f"{side}_{n}"] for side in ("left", "right") for n in ("shoulder", "hip"))
BODY_PER_SIDE = 0.4
"""Half a body's length over the side of a person's region: the unit of length of a person here, some 0.85 m."""
SAME_PERSON = 0.35
"""A trunk nearer to the lifter's than this (units) is the lifter's own."""
AT_BAR = 0.22
"""Wrists nearer to the bar than this (units, 0.19 m) may hold it: the wrist lies 0.1 m from what the fist holds,
and the line of the bar in the picture is as good as the joints (common practice, no source)."""
CAME = 0.2
"""Hands that hold the bar now and did not before came nearer by at least this much (units)."""
WENT_WITH = 0.5
"""Hands that lift rise with the bar: by at least this share of its way in the picture."""
CLEAR_PEAK = 0.4
SURELY_STILL_MM_S = 30.0
"""A grinding bar goes at 50 mm/s and more (common practice, no source): where less is not told from stillness,
standing is not."""
NEAR_S = 0.8
"""Hands that help are at the bar within this time of its going on; people other than the lifter are looked at
twice a second."""


@frozen
class Stall:
    """Where an ascent stopped or sank: when it did, when it went on, and by how much it sank, mm (0: it stood)."""

    stop_s: float
    on_s: float
    sank_mm: float

    @property
    def words(self) -> str:
        """Say what it did."""
        return f"sank by {self.sank_mm:.0f} mm" if self.sank_mm else f"stood for {self.on_s - self.stop_s:.1f} s"


def stall_of(t: Try) -> Stall | None:
    """Give where the bar stood or sank on a completed way up, None where it rose all the way."""
    h, last = t.h, (t.after.first if t.after is not None else t.dip.after)
    first = t.dip.at
    x = h.x_mm[first : last + 1]
    bump = bump_mm(h, t.dip.depth_mm)
    if h.sign < 0 or len(x) < 3 or x[-1] - x[0] < 2 * bump:
        return None
    highest = np.maximum.accumulate(x)
    worst = int(np.argmax(highest - x))
    sank = float(highest[worst] - x[worst])
    if sank >= bump and x[worst] < x[-1] - bump:
        stop = int(np.argmax(x[: worst + 1]))
        return Stall(float(h.t_s[first + stop]), float(h.t_s[first + worst]), sank)
    stood = [s for s in h.still if s.first > first and s.past <= last and (s.past - s.first) * GRID_S >= HOLD_S]
    between = [s for s in stood if h.x_mm[first] + bump < np.median(h.x_mm[s.first : s.past]) < x[-1] - bump]
    if not between:
        return None
    longest = max(between, key=lambda s: s.past - s.first)
    return Stall(float(h.t_s[longest.first]), float(h.t_s[longest.past - 1]), 0.0)


def untold(tries: Sequence[Try]) -> list[Warned]:
    """Tell of completed reps whose bar stood or sank on its way: effort looks the same as help that is not seen.

    A lifter's own sticking slows the bar and at worst stops it; a helper waits until it has stopped. From the
    bar alone the two are not told apart. Noisy heights, in which stillness is only slowness, say nothing.
    """
    sank: dict[int, Stall] = {}
    for n, t in enumerate(tries, start=1):
        stall = stall_of(t) if t.outcome == "completed" and t.h.still_mm_s <= SURELY_STILL_MM_S else None
        if stall is not None:
            sank[n] = stall
    if not sank:
        return []
    how = ", ".join(f"rep {n} {s.words}" for n, s in sank.items())
    return [
        Warned(
            "help_not_told",
            f"On its way up the bar of {how} and went on: help that is not seen and effort are not told apart.",
            "Look at the hands about it; where somebody helped, give that rep's outcome with --reps FILE.",
        )
    ]


def helped(t: Try, body: BodyTrack, people: People | None, track: BarTrack | None) -> Try:
    """Call a rep assisted where somebody else's hands came to a bar that stood or sank, and rose on with it.

    Parameters
    ----------
    t : a try that came back up.
    body, track : the lifter and the bar in the picture.
    people : everybody of the first look.
    """
    if t.outcome != "completed" or people is None or track is None or body.status != "seen":
        return t
    stall = stall_of(t)
    if stall is None:
        return t
    bar = _bar_line(track, body)
    others = [p for p in people.tracks if len(p.t_s) >= 3 and not _is_lifter(p, body)]
    end_s = float(t.h.t_s[t.after.first if t.after is not None else t.dip.after])
    if not any(_came(p, bar, float(t.h.t_s[t.dip.at]), stall, end_s) for p in others):
        return t
    words = f"on the way up it {stall.words}, somebody's hands came to the bar and it went on with them"
    return evolve(t, outcome="assisted", note=words)


@frozen
class _Line:
    """The bar in the picture: times (n,) and its two ends (n, 2) px."""

    t_s: FloatArray
    one: FloatArray
    other: FloatArray

    def at(self, t_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Give both ends (m, 2) at times (m,)."""
        one, other = (
            np.stack([np.interp(t_s, self.t_s, xy[:, k]) for k in (0, 1)], axis=1) for xy in (self.one, self.other)
        )
        return one, other


def _bar_line(track: BarTrack, body: BodyTrack) -> _Line:
    """From the near end to the far one; where that is not seen, as far beyond the middle of the lifter's fists."""
    known = np.isfinite(track.xy_px).all(axis=1)
    t_s, near = track.t_s[known], track.xy_px[known]
    far = track.far_xy_px[known].copy()
    wrists = body.xy_px[:, WRISTS]
    both = (body.state[:, WRISTS] != HIDDEN).all(axis=1) & np.isfinite(wrists).all(axis=(1, 2))
    if both.sum() >= 2:
        left, right = (
            np.stack([np.interp(t_s, body.t_s[both], wrists[both][:, side, k]) for k in (0, 1)], axis=1)
            for side in (0, 1)
        )
        middle = 0.5 * (left + right)
        mirrored = 2 * middle - near
        if track.source in ("hands", "shaft"):
            near, mirrored = middle + 1.5 * (left - middle), middle + 1.5 * (right - middle)
        far = np.where(np.isfinite(far), far, mirrored)
    return _Line(t_s, near, np.where(np.isfinite(far), far, near))


def _is_lifter(person: PersonTrack, body: BodyTrack) -> bool:
    trunk = body.xy_px[:, TRUNK].mean(axis=1)
    known = np.isfinite(trunk).all(axis=1)
    shared = (person.t_s >= body.t_s[0] - 0.2) & (person.t_s <= body.t_s[-1] + 0.2)
    if known.sum() < 2 or not shared.any():
        return False
    mine = np.stack([np.interp(person.t_s[shared], body.t_s[known], trunk[known, k]) for k in (0, 1)], axis=1)
    unit = BODY_PER_SIDE * person.region[shared, 2]
    apart = np.hypot(*(person.xy_px[shared][:, TRUNK].mean(axis=1) - mine).T) / np.maximum(unit, 1.0)
    return bool(np.median(apart) < SAME_PERSON)


def _came(person: PersonTrack, bar: _Line, low_s: float, stall: Stall, end_s: float) -> bool:
    """Say whether one person's hands came to the bar when it stood and rose on with it."""
    t_s = person.t_s
    rows = (t_s >= bar.t_s[0]) & (t_s <= bar.t_s[-1])
    if rows.sum() < 3:
        return False
    t_s, hands, clear = t_s[rows], person.xy_px[rows][:, WRISTS], person.peak[rows][:, WRISTS] > CLEAR_PEAK
    unit = BODY_PER_SIDE * float(np.median(person.region[:, 2]))
    one, other = bar.at(t_s)
    # the farther end rises less in the picture
    bar_y = (one if np.ptp(one[:, 1]) < np.ptp(other[:, 1]) else other)[:, 1]
    for k in (0, 1):
        known = clear[:, k]
        away = _from_segment(hands[known, k], one[known], other[known]) / unit
        if _arrives(t_s[known], away, low_s, stall, end_s) and _rises(
            t_s[known], hands[known, k, 1], bar_y[known], stall, end_s
        ):
            return True
    return False


def _arrives(t_s: FloatArray, away: FloatArray, low_s: float, stall: Stall, end_s: float) -> bool:
    """Say whether a hand is at the bar about the time at which it goes on and was not before."""
    before = (t_s >= low_s - 1.0) & (t_s <= stall.stop_s)
    there = (t_s > stall.stop_s - 0.1) & (t_s <= min(stall.on_s + NEAR_S, end_s)) & (away <= AT_BAR)
    return bool(before.any() and there.any() and float(np.min(away[before])) - float(np.min(away[there])) >= CAME)


def _rises(t_s: FloatArray, hand_y: FloatArray, bar_y: FloatArray, stall: Stall, end_s: float) -> bool:
    """Say whether a hand goes up with the bar from where it goes on."""
    then = np.flatnonzero((t_s >= stall.on_s - 0.1) & (t_s <= end_s + NEAR_S))
    if len(then) < 2:
        return False
    way = float(bar_y[then[0]] - bar_y[then[-1]])
    return way > 0 and float(hand_y[then[0]] - hand_y[then[-1]]) >= WENT_WITH * way


def _from_segment(p: FloatArray, a: FloatArray, b: FloatArray) -> FloatArray:
    """Distance of points (n, 2) from the segments between `a` and `b` (n, 2)."""
    way = b - a
    length = np.maximum((way**2).sum(axis=1), 1e-9)
    share = np.clip(((p - a) * way).sum(axis=1) / length, 0.0, 1.0)
    return np.asarray(np.hypot(*(p - a - share[:, None] * way).T))
