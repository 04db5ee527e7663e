"""The two ends of one bar, and which is the nearer."""

from __future__ import annotations

import numpy as np

from midfoot.bar.link_evidence import Judged

SAME_END_RADII = 1.7
"""Two ends of a bar are farther apart than this, in radii of the larger disc, unless one hides the other."""
NEARER_BY = 1.08
WEAK_END, STRONG_END = 0.2, 0.5
"""Shares of the best end's score from which another thing that goes with it may be the other end: when it was
seen through the largest swing, and when not."""
FARTHER = 0.85
FULL_FACE = 0.93
"""Minor over major axis from which a disc counts as seen from the side."""
TOO_LARGE_FAR, WENT = 0.28, 0.3
"""Radius, in half lengths of the lifter's body, that no far end shows in a side view, and how far his hands must
have gone with it for the body to be the right one. Discs measure 450 mm at most (rulebook) and a far one is 0.7 m
behind the lifter: 4.5 m from one of 1.55 m it shows 0.225 / 0.775 * 4.5 / 5.2 = 0.25, farther off hardly more; 3 m
from one of 1.72 m 0.21, and a near one there 0.34."""


def ends_of(k: int, judged: list[Judged]) -> set[int]:
    """Give the paths that go rigidly with `k` or with its other end, itself included."""
    first = {k, *(i for i, _ in judged[k].partners)}
    return first | {i for m in first for i, _ in judged[m].partners}


def real_ends(ends: set[int], judged: list[Judged]) -> list[Judged]:
    """Leave out what goes along but is far less of a disc or only now and then one: a head, an elbow."""
    best = judged[min(ends)]
    start, _, end = best.thing.swing_at_s
    out = []
    for i in sorted(ends):
        a = judged[i].thing
        shared = min(end, a.t_s[-1]) - max(start, a.t_s[0])
        lasting = shared >= 0.6 * (end - start)
        if judged[i].score >= (WEAK_END if lasting else STRONG_END) * best.score:
            out.append(judged[i])
    return [j for j in out if not any(_part_of(j, o, judged) for o in out)]


def _part_of(j: Judged, whole: Judged, judged: list[Judged]) -> bool:
    """Tell whether `j` is a lesser disc at the same end of the bar as `whole`: a sleeve's end, a small plate.

    It moves as much or more; the far plate beside the near one moves less.
    """
    if j.thing.radius_px > 0.75 * whole.thing.radius_px:
        return False
    return any(judged[i] is whole and t.apart < SAME_END_RADII and t.ratio < 1.04 for i, t in j.partners)


def nearer(ends: set[int], judged: list[Judged]) -> tuple[Judged, str]:
    """Choose the nearer end, and say what makes it doubtful ("" when nothing does).

    It is larger and moves more in the picture than the other end; seen alone, it moves more than the hands in the
    bar's middle, or shows its full face: then it hides the other one. Where it hides the hands too, it is nearer
    than the lifter when it is larger beside him than any disc behind him can look.
    """
    real = real_ends(ends, judged)
    top = max(real, key=lambda j: min((_lead(j, o, judged) for o in real if o is not j), default=0.0))
    others = [j for j in real if j is not top]
    if others and min(_lead(top, j, judged) for j in others) < np.log(NEARER_BY):
        return top, "Both ends of the bar are seen and it cannot be told which is nearer."
    if not any(j.score >= STRONG_END * top.score for j in others):
        taller = next((h.taller for h in top.hands if h.taller is not None and h.share > 0.4), None)
        if taller is not None and taller < FARTHER:
            return top, "The end of the bar that is seen moves less than the hands: it may be the far one."
        held = bool(top.hands) and top.hands[0].share >= 0.3
        large = bool(top.hands) and top.hands[0].went >= WENT and top.hands[0].radius_bodies >= TOO_LARGE_FAR
        shown = ((held or large) and top.thing.aspect >= FULL_FACE) or (taller is not None and taller > NEARER_BY)
        return top, "" if shown else "One end of the bar is seen and it cannot be told whether it is the nearer."
    return top, ""


def _lead(a: Judged, b: Judged, judged: list[Judged]) -> float:
    """How much nearer `a` looks than `b`, as a logarithm: by its size, and twice by its way, which blurs less."""
    size = float(np.log(a.thing.radius_px / b.thing.radius_px))
    way = next((float(np.log(t.ratio)) for i, t in b.partners if judged[i] is a), size)
    if size * way < 0 and min(abs(size), abs(way)) > 0.06:
        return 0.0  # the two contradict each other
    return (size + 2.0 * way) / 3.0
