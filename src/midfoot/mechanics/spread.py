"""First-order propagation of named sources of error through any function of a state."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

from attrs import frozen

from midfoot.records.mechanics import Known

State = dict[str, float]


@frozen
class Source:
    """One independent error: by how much one sd of it moves each entry of the state; common to the clip or not."""

    name: str
    effects: Mapping[str, float]
    common: bool


def moved(state: State, source: Source, by: float) -> State:
    """Give the state with a source `by` standard deviations off."""
    out = dict(state)
    for key, effect in source.effects.items():
        out[key] = out.get(key, 0.0) + by * effect
    return out


def spread(
    formula: Callable[[State], Mapping[str, float]], state: State, sources: Sequence[Source]
) -> dict[str, Known]:
    """Carry sources of error through a formula to first order, by central differences of a tenth of an sd.

    Parameters
    ----------
    formula : gives named numbers for a state; must be smooth over an sd of every source.
    state : the state as measured.
    sources : independent of each other.

    Returns
    -------
    dict of Known
        Random and common parts apart; names whose value is not finite are left out.
    """
    middle = formula(state)
    own = dict.fromkeys(middle, 0.0)
    common = dict.fromkeys(middle, 0.0)
    step = 0.1
    for source in sources:
        up, down = formula(moved(state, source, step)), formula(moved(state, source, -step))
        into = common if source.common else own
        for name in middle:
            into[name] += ((up[name] - down[name]) / (2.0 * step)) ** 2
    return {
        name: Known(value, math.sqrt(own[name]), math.sqrt(common[name]))
        for name, value in middle.items()
        if math.isfinite(value)
    }
