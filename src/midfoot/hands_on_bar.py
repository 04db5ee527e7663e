"""The hands hold the bar: what that says about the errors that all joints of a clip share.

Seen obliquely, where a joint lies along the bar decides how far forward it reads, and that is known to a hand's
breadth at best. But both hands hold the bar: read at their own distance they must come out where the bar is. So
the wrists tell the camera's and the mid-plane's errors, as far as a wrist is a hand. From the side the near plate
hides the hands, and nothing is learnt.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from midfoot.records.base import FloatArray

HAND_SD_M = {"squat": 0.040, "bench": 0.020, "deadlift": 0.020}
"""How far a wrist may lie in front of or behind the bar that its hand holds: one sd (common practice, no
source)."""
LEAST_FRAMES = 10
MOST_AWAY_M = 0.25
"""A wrist that lies this far above or below the bar does not hold it."""
MOST_SDS = 3.0
"""A wrist that contradicts the bar by more than this many sds is not seen where it is."""

Effects = Mapping[str, Mapping[str, FloatArray]]


@frozen
class Wrist:
    """One wrist against the bar: how far in front of it it reads (m), its own sd, the shared errors' effects."""

    forward_m: float
    sd_m: float
    effects: Mapping[str, float]


@frozen(eq=False)
class Learnt:
    """What is known of the shared errors afterwards.

    `mean` is how many of its sds each error is off by; `root` (n, n) turns n new independent errors of unit size
    into what is left of those `names`.
    """

    names: tuple[str, ...]
    mean: Mapping[str, float]
    root: FloatArray

    def left(self, common: Effects) -> dict[str, dict[str, FloatArray]]:
        """Give the shared errors' effects on places as they are now; errors that are not in `names` stay."""
        found = {name: dict(effects) for name, effects in common.items() if name not in self.names}
        for joint in sorted({j for name in self.names for j in common.get(name, {})}):
            effect = np.array([common.get(name, {}).get(joint, np.zeros(2)) for name in self.names])
            for k, mixed in enumerate(self.root.T @ effect):
                found.setdefault(f"camera {k + 1}", {})[joint] = mixed
        return found


def wrist_of(
    place: FloatArray, bar: FloatArray, sd_m: FloatArray, rows: NDArray[np.bool_], lift: str,
    effects: Mapping[str, float],
) -> Wrist | None:  # fmt: skip
    """Hold one wrist against the bar; None where it is seen too seldom or does not hold it.

    Parameters
    ----------
    place, bar : (n, 2) m, the wrist as read and the bar's middle.
    sd_m : (n,) of the wrist.
    rows : (n,) bool, where the wrist is seen while the bar is lifted.
    lift : the lift.
    effects : signed forward effect (m) on the wrist of one sd of each shared error.
    """
    held = np.flatnonzero(rows & np.isfinite(place).all(axis=1))
    if len(held) < LEAST_FRAMES:
        return None
    off = np.median(place[held] - bar[held], axis=0)
    if abs(float(off[1])) > MOST_AWAY_M:
        return None
    sd = math.hypot(float(np.median(sd_m[held])), HAND_SD_M[lift])
    return Wrist(float(off[0]), sd, effects)


def learn(wrists: Sequence[Wrist]) -> Learnt | None:
    """Learn of the shared errors from wrists that must lie at the bar (Gaussian errors, to first order).

    Parameters
    ----------
    wrists : one or both, all with effects of the same errors; those that contradict the bar by more than three sds
        are left out.

    Returns
    -------
    Learnt or None
        None where no wrist says anything.
    """
    usable = [w for w in wrists if abs(w.forward_m) < MOST_SDS * math.hypot(w.sd_m, *w.effects.values())]
    if not usable:
        return None
    names = tuple(usable[0].effects)
    h = np.array([[w.effects[name] for name in names] for w in usable])
    gain = h.T @ np.linalg.inv(h @ h.T + np.diag([w.sd_m**2 for w in usable]))
    mean = gain @ np.array([-w.forward_m for w in usable])
    values, vectors = np.linalg.eigh(np.eye(len(names)) - gain @ h)
    return Learnt(
        names, dict(zip(names, mean.tolist(), strict=True)), vectors * np.sqrt(np.clip(values, 0.0, None))
    )
