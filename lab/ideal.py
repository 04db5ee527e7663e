"""How much of a planted change anybody could tell from a lifter's own scatter: the bound for every detector.

The detector knows each rep's true value, the size of the scatter and that a change, if there is one, stays from
some rep on; it does not know from which. It tells at a rate of false ones that is allowed for this one measure.
Nobody who sees only the reps can do better for a change of unknown size (the largest of the standardised steps is
the likelihood ratio's own statistic). What is missed here is missed because people vary, and not by a program.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
FALSE_SHARE = 0.03
DRAWS = 4000
MOST_FLOORS = 4.0


def steps(values: Array) -> Array:
    """Largest standardised step of every row (m, n): mean from some rep on less the mean before, over its sd."""
    count = values.shape[1]
    found = [
        (values[:, k:].mean(axis=1) - values[:, :k].mean(axis=1)) / np.sqrt(1.0 / k + 1.0 / (count - k))
        for k in range(1, count)
    ]
    return np.asarray(np.max(found, axis=0))


def recall_by_size(
    scatter_floors: float, bins: Sequence[tuple[float, float]], counts: Sequence[int], *, seed: int = 0
) -> list[float]:
    """Share of changes found, by their true size in floors.

    Parameters
    ----------
    scatter_floors : scatter of one rep, one sd, in floors.
    bins : sizes in floors, from and below; a size is the largest change of a rep from the mean of the reps before
        the fault, chance included, as `bench_records.there` counts it.
    counts : how many reps a set may have, each as likely.
    seed : of the draws.

    Returns
    -------
    list of float
        For every bin; NaN where no draw fell into it.
    """
    rng = np.random.default_rng(seed)
    sizes, found = [], []
    for count in counts:
        noise = rng.normal(0.0, max(scatter_floors, 1e-6), (2 * DRAWS, count))
        bar = np.quantile(steps(noise[:DRAWS]), 1.0 - FALSE_SHARE)
        first = rng.integers(1, count, DRAWS)
        change = rng.uniform(0.0, MOST_FLOORS, DRAWS)
        has = np.arange(count)[None] >= first[:, None]
        values = noise[DRAWS:] + change[:, None] * has
        clean = np.where(has, 0.0, values).sum(axis=1) / first
        sizes.append((values - clean[:, None]).max(axis=1))
        found.append(steps(values) > bar)
    size, hit = np.concatenate(sizes), np.concatenate(found)
    out = []
    for low, high in bins:
        inside = (size >= low) & (size < high)
        out.append(float(hit[inside].mean()) if inside.any() else float("nan"))
    return out
