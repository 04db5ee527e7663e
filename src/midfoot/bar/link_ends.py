"""The two ends of one bar, and which is the nearer."""

from __future__ import annotations

import numpy as np

from midfoot.bar.link_evidence import SAME_END_RADII, Judged

NEARER_BY = 1.08
WEAK_END, STRONG_END = 0.2, 0.5
"""Shares of the best end's score from which another thing that goes with it may be the other end: when it was
seen through the largest swing, and when not."""
FARTHER = 0.85
FULL_FACE = 0.93
"""Minor over major axis from which a disc counts as seen from the side."""
NO_LESS = 1.03
"""How much more than the lifter's shoulders or hands an end must at least move that is told by its full face and
its size: a far end moves a tenth to a fifth less than they do."""
NEARER_IF_SMALL = 1.15
"""The same as `NEARER_BY` for an end seen alone that is no larger than far ones are."""
ALONE = "One end of the bar is seen and it cannot be told whether it is the nearer."
TOO_LARGE_FAR, FAR_AT_MOST, WENT = 0.28, 0.25, 0.3
"""Radii, in half lengths of the lifter's body, that no far end shows in a side view, and that few do; and how far
his hands must have gone with it for the body to be the right one. Discs measure 450 mm at most (rulebook) and a
far one is 0.7 m behind the lifter: 4.5 m from one of 1.55 m it shows 0.225 / 0.775 * 4.5 / 5.2 = 0.25, farther
off hardly more; 3 m from one of 1.72 m 0.21, and a near one there 0.34."""
TOO_LARGE_ANYWHERE, BARELY_WENT = 0.32, 0.2
"""The same beside everybody who is in view, whoever of them lifts: a far end shows 0.31 beside somebody who stands
a metre behind the lifter, 4 m from the camera; and how little his hands, hidden by the plate, then need to go."""


def ends_of(k: int, judged: list[Judged]) -> set[int]:
    """Give the paths that go rigidly with `k` or with its other end, itself included."""
    first = {k, *(i for i, _ in judged[k].partners)}
    return first | {i for m in first for i, _ in judged[m].partners}


def real_ends(ends: set[int], judged: list[Judged]) -> list[Judged]:
    """Leave out what goes along but is far less of a disc or only now and then one: a head, an elbow."""
    best = judged[min(ends)]
    out = []
    for i in sorted(ends):
        if judged[i].score >= (WEAK_END if _lasts(judged[i], best) else STRONG_END) * best.score:
            out.append(judged[i])
    return [j for j in out if not any(_part_of(j, o, judged) for o in out)]


def _lasts(j: Judged, best: Judged) -> bool:
    """Tell whether a thing was followed through most of the best one's largest swing."""
    start, _, end = best.thing.swing_at_s
    return bool(min(end, j.thing.t_s[-1]) - max(start, j.thing.t_s[0]) >= 0.6 * (end - start))


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
    bar's middle, or shows its full face: then it hides the other one, unless it is as small beside the lifter as
    discs behind him look, or moves hardly more than he. Where it hides the hands too, it is nearer than the lifter
    when it is larger beside him than any disc behind him can look.
    """
    real = real_ends(ends, judged)
    top = max(real, key=lambda j: min((_lead(j, o, judged) for o in real if o is not j), default=0.0))
    others = [(j, _lasts(j, judged[min(ends)])) for j in real if j is not top]
    # what is seen for a moment only must look nearer to raise a doubt, and is no other end that settles it
    if any(_lead(top, j, judged) < (np.log(NEARER_BY) if lasting else 0.0) for j, lasting in others):
        return top, "Both ends of the bar are seen and it cannot be told which is nearer."
    if not any(lasting and j.score >= STRONG_END * top.score for j, lasting in others):
        return top, _doubt_alone(top)
    return top, ""


def _doubt_alone(top: Judged) -> str:
    """Say what makes an end that is seen alone doubtful as the nearer one, "" when nothing does."""
    taller = next((h.taller for h in top.hands if h.taller is not None and h.share > 0.4), None)
    if taller is not None and taller < FARTHER:
        return "The end of the bar that is seen moves less than the hands: it may be the far one."
    size = top.hands[0].radius_bodies if top.hands else 0.0
    moves = taller is not None and taller > (NEARER_BY if size >= FAR_AT_MOST else NEARER_IF_SMALL)
    more = taller is None or taller > NO_LESS
    held = bool(top.hands) and top.hands[0].share >= 0.3 and size >= FAR_AT_MOST and more
    large = bool(top.hands) and top.hands[0].went >= WENT and size >= TOO_LARGE_FAR
    if top.hands and top.hands[0].went >= BARELY_WENT:
        large = large or min(h.radius_bodies for h in top.hands) >= TOO_LARGE_ANYWHERE
    face = top.thing.aspect >= FULL_FACE and (taller is None or taller > 1.0)
    return "" if moves or (face and (held or large)) else ALONE


def _lead(a: Judged, b: Judged, judged: list[Judged]) -> float:
    """How much nearer `a` looks than `b`, as a logarithm: by its size, and twice by its way, which blurs less."""
    size = float(np.log(a.thing.radius_px / b.thing.radius_px))
    way = next((float(np.log(t.ratio)) for i, t in b.partners if judged[i] is a), size)
    if size * way < 0 and min(abs(size), abs(way)) > 0.06:
        return 0.0  # the two contradict each other
    return (size + 2.0 * way) / 3.0
