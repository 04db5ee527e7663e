"""Which of a few usual diameters the near plate has, weighed against everything else that was seen.

A plate of unknown make is one of a few sizes, most likely full size, and no bell curve about one of them: the fit
(fit.py) is made with a wide one, which is taken out again here, and each size gets its share of every answer. The
likeliest stands for the value; the others are in its sd.
"""

from __future__ import annotations

import math

import numpy as np
from attrs import evolve

from midfoot.bar.fit import LN_R, Answer
from midfoot.bar.scale import PlatePrior

LEAST_WEIGHT = 1e-3
HELD = 0.02
"""A usual size that the rest of the picture leaves so much of a chance must lie within two stated sds: of several
sizes one is the plate's, and a spread about the likeliest in which the others count by their chance alone leaves
club iron of 400 mm just outside."""
OPEN = 1e-6
"""Least precision of what the other cues say of the plate's radius (log); nearly nothing."""


def by_size(found: tuple[Answer, ...], plate: PlatePrior) -> tuple[Answer, ...]:
    """Give each answer once for each size that the plate may have, the likeliest first; weights add up to 1.

    Parameters
    ----------
    found : the fit's answers, made with `plate.mm` as the prior of the diameter.
    plate : without `sizes` the answers stay as they are.
    """
    if not plate.sizes:
        return found
    wide, middle = (plate.mm.sd / plate.mm.value) ** 2, math.log(plate.mm.value / 2000.0)
    out: list[Answer] = []
    for answer in found:
        own = float(answer.covariance[LN_R, LN_R])
        precision = max(1.0 / own - 1.0 / wide, OPEN)
        told = (float(answer.x[LN_R]) / own - middle / wide) / precision
        tie = answer.covariance[:, LN_R] / own
        for size in plate.sizes:
            mean, variance = math.log(size.mm / 2000.0), size.share_sd**2
            apart = 1.0 / precision + variance
            weight = answer.weight * size.weight * math.exp(-0.5 * (mean - told) ** 2 / apart) / math.sqrt(apart)
            kept = 1.0 / (precision + 1.0 / variance)
            at = kept * (precision * told + mean / variance)
            x = answer.x + tie * (at - answer.x[LN_R])
            covariance = answer.covariance + np.outer(tie, tie) * (kept - own)
            out.append(evolve(answer, weight=weight, x=x, covariance=covariance))
    total = sum(a.weight for a in out)
    if not total > 0:
        return found
    kept_answers = [evolve(a, weight=a.weight / total) for a in out if a.weight > LEAST_WEIGHT * total]
    return tuple(sorted(kept_answers, key=lambda a: -a.weight))


def held_within(answer: Answer, weight: float, plate: PlatePrior) -> bool:
    """Tell whether an answer is one of the usual sizes and likely enough that the stated sd must hold it.

    Parameters
    ----------
    answer : one of those that `by_size` or what follows it gave.
    weight : its share of all that count, 0..1.
    plate : what is known of the diameter; nothing is held where it has one size.
    """
    if not plate.sizes or weight < HELD:
        return False
    size = float(answer.x[LN_R]) + math.log(2000.0)
    return any(abs(size - math.log(one.mm)) < 3.0 * one.share_sd for one in plate.sizes)
