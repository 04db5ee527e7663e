"""Whether somebody sits: his weight is not over his feet, so something else bears it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from midfoot.records.base import FloatArray
from midfoot.records.body import HIDDEN, INDEX, BodyTrack

PARTS = (
    (0.678, "hip", "shoulder", 0.626), (0.200, "hip", "knee", 0.433), (0.093, "knee", "ankle", 0.433),
    (0.029, "heel", "foot_index", 0.5),
)  # fmt: skip
"""Share of the body's mass, from which joint to which, and how far along its centre lies: head, arms and trunk,
thighs, shanks, feet (Winter, Biomechanics and Motor Control of Human Movement, from memory)."""
BACK = 0.25
"""A centre of mass that lies behind the heels, and by this share of the foot farther back than while the same
person stands, is borne by a seat: on his feet a person keeps it between heel and toes. Against his own standing
what is wrong with the joints, some centimetres, drops out."""
LEAST_FOOT = 0.12
"""A foot shorter in the picture than this share of the trunk is seen from the front or the rear: there front and
back cannot be told."""
AROUND_S = 0.25


def sits_at(body: BodyTrack, lows_s: Sequence[float], tops_s: Sequence[float]) -> bool:
    """Say whether the lifter sits at the lows of his movement; False where that is not seen.

    Parameters
    ----------
    body : the lifter.
    lows_s, tops_s : when his hips are lowest, and when he stands.
    """
    low, top = ([p for t in times if (p := weight_in_feet(body, t)) is not None] for times in (lows_s, tops_s))
    if not low or len(low) < 0.5 * len(lows_s):
        return False
    stands = float(np.median(top)) if top else 0.0
    return float(np.median(low)) < min(0.0, stands - BACK)


def weight_in_feet(body: BodyTrack, t_s: float) -> float | None:
    """Give where the centre of mass is along the feet, 0 at the heel and 1 at the toes, None where not seen."""
    if body.status != "seen":
        return None
    near = np.abs(body.t_s - t_s) <= AROUND_S
    x = {name: _x(body, name, near) for name in ("shoulder", "hip", "knee", "ankle", "heel", "foot_index")}
    foot = x["foot_index"] - x["heel"]
    mass = sum(share * (x[a] + along * (x[b] - x[a])) for share, a, b, along in PARTS)
    known = np.isfinite(mass) & np.isfinite(foot)
    trunk = _trunk_px(body)
    if known.sum() < 2 or trunk is None:
        return None
    length = float(np.median(foot[known]))
    if abs(length) < LEAST_FOOT * trunk:
        return None
    return float(np.median((mass - x["heel"])[known])) / length


def _x(body: BodyTrack, name: str, rows: np.ndarray) -> FloatArray:
    """Mean of left and right, NaN unless both are known: with one side alone an oblique view would shift it."""
    both = [INDEX[f"left_{name}"], INDEX[f"right_{name}"]]
    known = (body.state[rows][:, both] != HIDDEN).all(axis=1)
    return np.where(known, body.xy_px[rows][:, both, 0].mean(axis=1), np.nan)


def _trunk_px(body: BodyTrack) -> float | None:
    ends = [[INDEX[f"{side}_{n}"] for side in ("left", "right")] for n in ("shoulder", "hip")]
    a, b = (body.xy_px[:, pair].mean(axis=1) for pair in ends)
    length = np.hypot(*(a - b).T)
    length = length[np.isfinite(length)]
    return float(np.quantile(length, 0.9)) if len(length) else None
