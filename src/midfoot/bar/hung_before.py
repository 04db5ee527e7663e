"""Whether the followed disc may be a smaller one that hangs before the largest.

What is told or assumed of a plate's diameter is the largest one's. A larger disc behind the followed one is
looked for (behind.py), but from aside and from the front little of it is seen. So beside the fit with that
diameter another is made in which the disc is of any size; what the rest of the picture says of it (the lifter's
length, the far end, the lens, the height of the camera) then weighs the largest disc's size against those of the
smaller ones. Where it says nothing, the chance that a smaller one was followed stays in the error.
"""

from __future__ import annotations

import math

from attrs import evolve

from midfoot.bar.fit import LN_H, LN_R, TURN, Answer, Cues, answers
from midfoot.bar.plate_size import by_size
from midfoot.bar.scale import PlatePrior, Size
from midfoot.records.base import Value

SHARES = (0.89, 0.72, 0.51)
"""Discs of a set against its largest: 400, 325 and 228 mm against 450 (rulebooks' discs of 15, 10 and 5 kg, from
memory)."""
SHARE_SD = 0.04
"""How much sets differ in it (common practice, no source)."""
ASIDE_DEG, CHANCE_ASIDE, CHANCE_NEAR = 20.0, 0.10, 0.02
"""How likely, before the rest is asked, a smaller disc hangs outermost and the larger one was not seen behind it:
from farther aside than so many degrees, and nearer the side (judgement; smaller discs hang outermost in some half
of all sets)."""
ODD_SDS = 1.0
"""Near the side it is asked only where the lifter would come out taller by so many of his sds."""
WIDE = 0.30
"""Relative sd of the diameter in the fit that leaves it open."""
LEAST = 0.003


def smaller_before(found: tuple[Answer, ...], cues: Cues, plate: PlatePrior) -> tuple[Answer, ...]:
    """Give the answers with those added in which a smaller disc was followed; weights add up to 1.

    Parameters
    ----------
    found : the answers for the diameter that was told or assumed, the likeliest first.
    cues : what they were fitted to.
    plate : that diameter; with `sizes` the few that it may have.
    """
    aside = abs(math.degrees(found[0].x[TURN])) > ASIDE_DEG
    stature = cues.stature_m
    if not aside and found[0].x[LN_H] - math.log(stature.value) < ODD_SDS * stature.sd / stature.value:
        return found
    own = plate.sizes or (Size(plate.mm.value, plate.mm.sd / plate.mm.value, 1.0),)
    least = (1.0 - SHARE_SD) * min(size.mm for size in own)
    chance = CHANCE_ASIDE if aside else CHANCE_NEAR
    smaller = tuple(
        Size(share * size.mm, math.hypot(size.share_sd, SHARE_SD), size.weight * chance / len(SHARES))
        for size in own
        for share in SHARES
        if share * size.mm < least
    )
    middle = plate.mm.value
    loose = evolve(cues, radius_m=Value(middle / 2000.0, WIDE * middle / 2000.0))
    open_size = evolve(plate, mm=Value(middle, WIDE * middle), sizes=(*own, *smaller))
    small = [a for a in by_size(answers(loose), open_size) if 2000.0 * math.exp(a.x[LN_R]) < least]
    share = sum(a.weight for a in small)
    if share < LEAST:
        return found
    whole = [evolve(a, weight=(1.0 - share) * a.weight) for a in found]
    return tuple(sorted((*whole, *small), key=lambda a: -a.weight))
