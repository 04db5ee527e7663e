"""From excursions to reps: which moments each shows, and how it ended."""

from __future__ import annotations

import numpy as np
from attrs import evolve, frozen

from midfoot.records.reps import Moment, Rep
from midfoot.reps.dips import Dip, run_below
from midfoot.reps.dropped import lands, let_go
from midfoot.reps.heights import GRID_S, Heights
from midfoot.reps.moments import (
    BAND_MM,
    enters_rest,
    highest_of,
    leaves_rest,
    quits_extreme,
    reaches_extreme,
)
from midfoot.reps.rests import EDGE_S, Rest, rest_after, rest_before

RETURNED = 0.8
"""Share of the fall (or of the set's usual rise) that a completed squat or bench press comes back by."""
AGAIN = 0.75
"""Rising by this share between two extremes makes them two reps whatever the levels around them."""
SHORT = 0.15
"""A pull that ends this share of the range below the set's usual top was not locked out (a soft lockout is
short by 20-40 mm, a failed pull by 100 and more; common practice, no source)."""
STANDS_LOW_S, LIES_MM = 1.2, 25.0
"""A bar that fell back and stayed this long within so much of its low did not go on by the same effort."""
BUMP_MM = (25.0, 60.0)
BUMP_SHARE = 0.12
"""A way back of this share of the range, within these bounds in mm, is a way back and not a wobble."""


@frozen(kw_only=True)
class Try:
    """One excursion with its rests, in the making."""

    h: Heights
    dip: Dip
    before: Rest | None
    after: Rest | None
    earliest: int
    latest: int
    outcome: str = "completed"
    note: str = ""
    top: int | None = None
    """Squat and bench: index of the highest point of a failed ascent."""

    @property
    def start_s(self) -> float:
        """When it can first be seen."""
        return float(self.h.t_s[self.before.past - 1 if self.before else self.dip.before])


def tries_of(h: Heights, dips: list[Dip], range_mm: float) -> list[Try]:
    """Join excursions that belong to one rep, find the rests around each, and judge how it ended."""
    joined = _joined(h, dips, range_mm)
    out: list[Try] = []
    for k, dip in enumerate(joined):
        earliest = joined[k - 1].at if k else 0
        latest = joined[k + 1].at if k + 1 < len(joined) else len(h) - 1
        before = rest_before(h, dip, earliest) if dip.fall_mm >= 0.25 * range_mm else None
        after = rest_after(h, dip, latest, before) if dip.rise_mm >= 0.25 * range_mm else None
        if after is None and before is not None and h.sign < 0:
            after = _same_floor(h, dip, before)
        out.append(Try(h=h, dip=dip, before=before, after=after, earliest=earliest, latest=latest))
    judged: list[Try] = []
    for k, t in enumerate(out):
        if judged and _belongs_to_missed(judged[-1], t, range_mm):
            continue
        if judged and judged[-1].outcome == "dropped" and _bounces(judged[-1], t):
            continue
        judged.append(_pull(t, out, k, range_mm) if h.sign < 0 else _press(t, out, k, range_mm))
    return judged


def _same_floor(h: Heights, dip: Dip, before: Rest) -> Rest | None:
    """Where the clip ends as the bar comes down: the floor it left stands for the floor it comes to."""
    if h.x_mm[dip.after] < before.height_mm - 0.5 * BAND_MM:
        return None
    return Rest(before.height_mm, float(np.hypot(before.sd_mm, h.wander_mm)), "edge", dip.after, dip.after + 1)


def _belongs_to_missed(missed: Try, t: Try, range_mm: float) -> bool:
    """Say whether an excursion is how a failed squat or press was taken down or helped up."""
    if missed.outcome != "missed" or t.h.sign < 0 or missed.h is not t.h:
        return False
    rest = missed.before.height_mm if missed.before else float(t.h.x_mm[missed.dip.before])
    return bool(t.h.x_mm[t.dip.before] < rest - 0.15 * range_mm)


def _bounces(dropped: Try, t: Try) -> bool:
    """Say whether an excursion is a dropped bar bouncing: it never lay still in between."""
    h = t.h
    between = [s for s in h.still if s.overlaps(dropped.dip.at, t.dip.at) and h.x_mm[s.first] > h.x_mm[t.dip.at]]
    floor = dropped.dip.after
    return h is dropped.h and not any(s.past > floor for s in between)


def _joined(h: Heights, dips: list[Dip], range_mm: float) -> list[Dip]:
    """Join extremes between which the bar came only part of the way back and went on soon.

    Two neighbours are one rep when the way back between them is under `AGAIN` of the range, the bar ends well
    above that point, and it did not lie at the second extreme. (A deadlift lowered to the shin and pulled
    again is two pulls: there the first must also have stopped short of the second.)
    """
    out: list[Dip] = []
    for dip in dips:
        last = out[-1] if out else None
        if last is not None and _goes_on(h, last, dip, range_mm):
            at = last.at if h.x_mm[last.at] <= h.x_mm[dip.at] else dip.at
            x = h.x_mm
            out[-1] = Dip(at, last.before, dip.after, float(x[last.before] - x[at]), float(x[dip.after] - x[at]))
        else:
            out.append(dip)
    return out


def _goes_on(h: Heights, first: Dip, second: Dip, range_mm: float) -> bool:
    back = h.x_mm[first.after] - min(h.x_mm[first.at], h.x_mm[second.at])
    if back >= AGAIN * range_mm:
        return False
    if h.sign < 0:
        return bool(h.x_mm[first.at] - h.x_mm[second.at] > SHORT * range_mm)
    full = h.x_mm[first.before] - h.x_mm[second.after] < 0.25 * range_mm
    near = h.x_mm[second.at] + 0.1 * range_mm
    begin, past = run_below(h.x_mm, second.at, near)
    return bool(full and (past - begin) * GRID_S < STANDS_LOW_S)


def _moving_at_end(h: Heights) -> float:
    """Mean slope over the clip's last tenth of a second, 0 while still."""
    v = float(np.mean(h.v_mm_s[-round(EDGE_S / GRID_S) :]))
    return v if abs(v) > h.still_mm_s else 0.0


def _pull(t: Try, all_tries: list[Try], k: int, range_mm: float) -> Try:
    h, dip = t.h, t.dip
    edge = dip.at >= len(h) - 1 - round(EDGE_S / GRID_S)
    if edge and _moving_at_end(h) < 0:
        return evolve(t, outcome="cut_off", note="the clip ends during the pull")
    tops = [float(u.h.x_mm[u.dip.at]) for i, u in enumerate(all_tries) if i != k]
    if tops:
        short = float(h.x_mm[dip.at]) - (min(tops) if len(tops) < 3 else float(np.median(tops)))
        # places that are only known to some cm (discs edge-on, boxes alone) tell no lockout from one a hand lower
        if short > max(SHORT * range_mm, h.swing_mm):
            return evolve(t, outcome="missed", note=f"it ends {short:.0f} mm below the set's lockouts")
    if let_go(h, dip.at, dip.after):
        return evolve(t, outcome="dropped", note="lowered in free fall: let go")
    note = ""
    if dip.fall_mm < 0.25 * range_mm:
        note = "the clip starts at the top"
    elif t.before is None:
        note = "the clip starts during the pull"
    elif t.after is None:
        note = "the clip ends before the bar rests on the floor"
    return evolve(t, note=note)


def _press(t: Try, all_tries: list[Try], k: int, range_mm: float) -> Try:
    h, dip = t.h, t.dip
    others = [u.dip for i, u in enumerate(all_tries) if i != k and u.dip.rise_mm > 0.5 * range_mm]
    due = dip.fall_mm if t.before is not None else range_mm
    if len(others) >= 2:
        due = min(due, float(np.median([d.rise_mm for d in others])))
    back = dip.rise_mm >= RETURNED * due
    if t.before is None and dip.at <= round(EDGE_S / GRID_S) and t.after is not None:
        # The clip starts on the way up: how far it came back can only be told from where the others rest.
        heights = [float(h.x_mm[d.after]) for d in others if d.after < len(h)]
        back = not heights or float(h.x_mm[dip.after]) > float(np.median(heights)) - 0.2 * range_mm
    if back:
        note = "" if t.before is not None else "the clip starts after the descent began"
        if t.after is None:
            return evolve(t, outcome="cut_off", note="the clip ends before the bar is held again")
        failed = _failed(t, range_mm, dip.after)
        if failed is not None and _lay(failed, t):
            return failed
        return evolve(t, note=note or _way_back(t, range_mm))
    failed = _failed(t, range_mm, t.latest)
    if failed is not None:
        return failed
    if let_go(h, dip.at, dip.before):
        return evolve(t, outcome="dropped", after=None, note="the bar fell freely and did not come back up")
    lows = [float(u.h.x_mm[u.dip.at]) for i, u in enumerate(all_tries) if i != k]
    if lows and float(np.median(lows)) - h.x_mm[dip.at] > 0.2 * range_mm:
        return evolve(t, outcome="missed", after=None, note="the bar went on down below the set's lows")
    return evolve(t, outcome="cut_off", after=None, note="the clip ends before the bar has come back up")


def bump_mm(h: Heights, range_mm: float) -> float:
    """Give the least way back that is one and no wobble."""
    return max(float(np.clip(BUMP_SHARE * range_mm, *BUMP_MM)), 1.25 * h.swing_mm)


def _failed(t: Try, range_mm: float, stop: int) -> Try | None:
    """Give a missed rep: it rose from a first low to a highest point and came down again."""
    from scipy.signal import find_peaks  # late: it takes 0.3 s to load, before the first word

    h, dip = t.h, t.dip
    begin = dip.before
    x = h.x_mm[begin : stop + 1]
    wall = np.concatenate([[x.min() - 1], x, [x.min() - 1]])
    peaks = find_peaks(wall, prominence=bump_mm(h, range_mm))[0] - 1
    peaks = peaks[(peaks > 0) & (x[peaks] < h.x_mm[begin] - 0.1 * range_mm)]
    level = h.x_mm[begin] - 0.3 * max(dip.fall_mm, dip.rise_mm)
    under = np.flatnonzero(x < level)
    peaks = peaks[peaks > (under[0] if len(under) else 0)]
    peaks = peaks[peaks < len(x) - 1]
    if not len(peaks):
        return None
    top = int(peaks[np.argmax(x[peaks])])
    low = int(np.argmin(x[: top + 1]))
    height = float(x[top] - x[low])
    if height < bump_mm(h, range_mm):
        return None
    at, high = begin + low, begin + top
    fixed = Dip(at, dip.before, high, float(h.x_mm[dip.before] - h.x_mm[at]), height)
    after = Rest(*highest_of(h, high), "turned", high, high + 1)
    note = f"rose by {height:.0f} mm of {fixed.fall_mm:.0f} and came down again"
    return evolve(t, dip=fixed, after=after, outcome="missed", top=high, note=note)


def _lay(failed: Try, t: Try) -> bool:
    """Say whether the bar, come down again, lay low before it was brought up: not by the same effort."""
    h = t.h
    top = failed.top if failed.top is not None else failed.dip.at
    low = top + int(np.argmin(h.slow_mm[top : t.dip.after + 1]))
    first, past = run_below(h.slow_mm, low, float(h.slow_mm[low]) + max(LIES_MM, h.swing_mm))
    return (past - max(first, top)) * GRID_S >= STANDS_LOW_S


def _way_back(t: Try, range_mm: float) -> str:
    """Say where a completed ascent went down again on its way."""
    h, dip = t.h, t.dip
    last = t.after.first if t.after is not None else dip.after
    x = h.x_mm[dip.at : last + 1]
    if len(x) < 3:
        return ""
    fallen = np.maximum.accumulate(x) - x
    worst = int(np.argmax(fallen))
    if fallen[worst] < bump_mm(h, range_mm) or x[worst] > x[-1] - 0.05 * range_mm:
        return ""
    return (
        f"on the way up it went down by {fallen[worst]:.0f} mm and on again; whether it was helped cannot be"
        " told from the bar alone"
    )


def rep_of(t: Try, n: int) -> Rep:
    """Write a try down as a rep with its moments."""
    h, dip = t.h, t.dip
    deadlift = h.sign < 0
    what = "top" if deadlift else "lowest point"
    floor = "its rest on the floor" if deadlift else ""
    start = leaves_rest(h, t.before, dip.at, floor) if t.before is not None else None
    end = None
    if t.after is not None and t.outcome != "cut_off":
        if t.outcome == "dropped" and deadlift:
            end = lands(h, t.after, dip.at)
        else:
            end = enters_rest(h, t.after, dip.at, floor, first_touch=deadlift)
        if t.top is not None and end is not None:
            end = evolve(end, why="comes within the band about the highest point of a failed ascent")
    steps = round(EDGE_S / GRID_S)
    reached = dip.at < len(h) - 1 - steps or _moving_at_end(h) == 0.0
    began = dip.at > steps or abs(float(np.mean(h.v_mm_s[:steps]))) < h.still_mm_s
    first = reaches_extreme(h, t.before.past - 1 if t.before else dip.before, dip.at, what) if reached else None
    last = quits_extreme(h, dip.at, t.after.past if t.after else dip.after, what) if began and reached else None
    if h.gap_length_s(dip.at) > 0.4:
        first = last = None
    start, first, last, end = _in_order(start, first, last, end)
    common = dict(
        n=n, outcome=t.outcome, start_seen=start is not None, end_seen=end is not None, start=start, end=end,
        why=_why(t),
    )  # fmt: skip
    if deadlift:
        return Rep(**common, top_start=first, top_end=last)  # type: ignore[arg-type]
    return Rep(**common, low_start=first, low_end=last)  # type: ignore[arg-type]


def _in_order(*moments: Moment | None) -> list[Moment | None]:
    """Drop what contradicts the order of a rep (both of a crossed pair are unsure, the later one goes)."""
    out: list[Moment | None] = []
    reached = -np.inf
    for m in moments:
        if m is not None and m.t_s < reached - 1e-9:
            m = Moment(float(reached), max(m.sd_s, reached - m.t_s), m.why) if reached - m.t_s < 0.1 else None
        out.append(m)
        if m is not None:
            reached = m.t_s
    return out


def _why(t: Try) -> str:
    way = ("rises", "returns") if t.h.sign < 0 else ("goes down", "comes back")
    words = f"the bar {way[0]} by {t.dip.fall_mm:.0f} mm and {way[1]} by {t.dip.rise_mm:.0f} mm"
    return f"{words}; {t.note}" if t.note else words
