"""How far coach and program agree and how sure that is; the size that best parts what was kept from what was not.

Pure numbers: no row, no page. Sizes of one finding are all in one unit; none of this depends on their order.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from itertools import pairwise

from attrs import evolve, frozen

Z95 = statistics.NormalDist().inv_cdf(0.975)
"""1.95996: two-sided 95 % of the normal law."""
FEWEST_CASES = 8
"""So many kept and so many dropped are needed before a size is proposed (this project's own rule)."""
BY_CHANCE = 0.05
"""Sizes that lie so apart by chance in one case of twenty or more tell nothing."""


@frozen
class Share:
    """`count` of `of`, with the 95 % interval of the share behind it; None, and 0 to 1, where there is nothing."""

    count: int
    of: int

    @property
    def value(self) -> float | None:
        """The share itself, 0 to 1."""
        return self.count / self.of if self.of else None

    @property
    def low(self) -> float:
        """Lower end of the interval."""
        return wilson(self.count, self.of)[0]

    @property
    def high(self) -> float:
        """Upper end of the interval."""
        return wilson(self.count, self.of)[1]


def wilson(count: int, of: int, z: float = Z95) -> tuple[float, float]:
    """Give the score interval of a share (Wilson 1927, JASA 22:209-212), without correction for continuity.

    It keeps within 0 and 1 and holds for few cases and shares near the ends, where the usual one does not
    (Newcombe 1998, Statistics in Medicine 17:857-872).

    Parameters
    ----------
    count, of : so many of so many; of none the share may be anything.
    z : normal quantile, 1.96 for 95 %.

    Raises
    ------
    ValueError
        When more are counted than there are.
    """
    if not 0 <= count <= of:
        raise ValueError(f"count: expected 0 to {of}, got {count}")
    if of == 0:
        return 0.0, 1.0
    share, extra = count / of, z * z / of
    middle = (share + extra / 2) / (1 + extra)
    half = z * math.sqrt(share * (1 - share) / of + extra / (4 * of)) / (1 + extra)
    # the ends are exact where all or none were counted; sums of roundings are not
    return 0.0 if count == 0 else middle - half, 1.0 if count == of else middle + half


@frozen
class Cut:
    """A size that parts two groups: from it on a case counts.

    Attributes
    ----------
    value : float
        In the middle of the gap.
    low, high : float
        Neighbouring sizes: every cut above `low` and up to `high` does the same.
    kept_below, dropped_above : int
        Cases on the wrong side.
    """

    value: float
    low: float
    high: float
    kept_below: int
    dropped_above: int

    @property
    def wrong(self) -> int:
        """How many cases lie on the wrong side."""
        return self.kept_below + self.dropped_above


def wrong_at(cut: float, kept: Sequence[float], dropped: Sequence[float]) -> int:
    """Count the cases on the wrong side of a size: kept below it, dropped at it or above."""
    return sum(k < cut for k in kept) + sum(d >= cut for d in dropped)


def best_cut(kept: Sequence[float], dropped: Sequence[float], present: float | None = None) -> Cut | None:
    """Give the size with the fewest cases on the wrong side, counting both kinds alike.

    Of several the one in the widest gap, then the one nearest to the size in force, then the larger. None where no
    size between the cases does better than to count all of them, or none.

    Parameters
    ----------
    kept, dropped : sizes of what the coach let stand and of what he threw out.
    present : the size in force.
    """
    every = sorted({*kept, *dropped})
    best: tuple[tuple[float, ...], Cut] | None = None
    for low, high in pairwise(every):
        value = (low + high) / 2
        cut = Cut(value, low, high, sum(k <= low for k in kept), sum(d >= high for d in dropped))
        away = abs(value - present) if present is not None else 0.0
        rank = (cut.wrong, -(high - low), away, -value)
        if best is None or rank < best[0]:
            best = rank, cut
    if best is None or best[1].wrong >= min(len(kept), len(dropped)):
        return None
    return best[1]


def apart_by_chance(kept: Sequence[float], dropped: Sequence[float]) -> float:
    """Give how often two such groups would lie apart so far by chance, kept ones being larger (one-sided).

    The rank-sum test of Mann and Whitney (1947, Annals of Mathematical Statistics 18:50-60), as scipy has it.
    """
    from scipy.stats import mannwhitneyu

    if not kept or not dropped:
        return 1.0
    return float(mannwhitneyu(kept, dropped, alternative="greater").pvalue)


@frozen(kw_only=True)
class Proposal:
    """What the cases say of a size from which on something is to count.

    Attributes
    ----------
    size : float or None
        The size proposed; None where the cases propose none.
    why : str
        `few`, `alike` (sizes do not tell kept from dropped), `as_good` (the size in force does as well), `raised`
        (as far as clips can tell), `cut`.
    cut : Cut or None
    kept, dropped : int
        How many cases there are.
    wrong_now : int
        On the wrong side of the size in force.
    by_chance : float
    """

    size: float | None
    why: str
    cut: Cut | None = None
    kept: int = 0
    dropped: int = 0
    wrong_now: int = 0
    by_chance: float = 1.0

    @property
    def more_kept(self) -> int:
        """How many kept cases are still missing."""
        return max(0, FEWEST_CASES - self.kept)

    @property
    def more_dropped(self) -> int:
        """How many dropped cases are still missing."""
        return max(0, FEWEST_CASES - self.dropped)


def propose(kept: Sequence[float], dropped: Sequence[float], *, present: float, least: float) -> Proposal:
    """Propose the size from which on a finding should be raised.

    Parameters
    ----------
    kept, dropped : sizes of what the coach let stand and of what he threw out, in one unit.
    present : the size from which on it is raised now.
    least : the smallest change that clips can tell; nothing below it is ever proposed.

    Returns
    -------
    Proposal
    """
    wrong_now = wrong_at(present, kept, dropped)
    told = Proposal(size=None, why="few", kept=len(kept), dropped=len(dropped), wrong_now=wrong_now)
    if told.more_kept or told.more_dropped:
        return told
    cut = best_cut(kept, dropped, present)
    told = evolve(told, why="alike", by_chance=apart_by_chance(kept, dropped))
    if cut is None or told.by_chance >= BY_CHANCE:
        return told
    # what clips cannot tell is not proposed, however well it would part these cases
    why, size = ("cut", cut.value) if cut.value >= least else ("raised", least)
    if wrong_at(size, kept, dropped) >= wrong_now:
        return evolve(told, why="as_good", cut=cut)
    return evolve(told, why=why, size=size, cut=cut)


def between(low: float, high: float, value: float, digits: int = 2) -> float:
    """Round a size to so many digits, above `low` and at most `high`; more digits where those do not do."""
    for places in range(digits, 12):
        rounded = float(f"{value:.{places}g}")
        if low < rounded <= high:
            return rounded
    return value
