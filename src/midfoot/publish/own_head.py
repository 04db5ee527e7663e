"""Where the lifter's own head is by what was measured of him, also while a plate hides it: carried by the bar."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from midfoot.publish.sharp import known_mean
from midfoot.records.bar import BarTrack
from midfoot.records.base import FloatArray
from midfoot.records.body import HIDDEN, INDEX, BodyTrack
from midfoot.records.heads import HeadTrack

HEAD_LANDMARKS = list(range(11))
HEAD_PER_TRUNK = 0.30
"""Radius of a head with some room over shoulder to hip: 0.065 and 0.288 of the stature (segment tables, from
memory), and a third more."""
LEAST_ROWS = 30
"""In so many rows at least his head is surely known before others are held against them."""
STEADY = 0.7
"""So steady (radii, nine tenths of the rows) a head goes along with a bar on the shoulders, or lies on a bench."""
OFF = 1.3
"""Farther than this (radii) from where it then is a head that is known by itself alone is not his."""
ARMS = 1.5
"""No farther from his hips than this (trunks) is a bar that he has on his shoulders."""
NECK = 1.8
"""A head farther from his shoulders than so many of his own necks is not surely his."""

NOWHERE = HeadTrack("body", np.zeros(0), np.zeros((0, 2)), np.zeros(0))


def own_head(body: BodyTrack, bar: BarTrack | None = None) -> HeadTrack:
    """Give where the lifter's head is: by its landmarks, else above his shoulders; else no row.

    Where it lies still, or goes along with the bar, those rows in which it is surely his tell where it cannot be
    in others; along with the bar they tell where it is, also while a plate hides it.
    """
    if body.status != "seen" or not len(body.t_s):
        return NOWHERE
    xy = np.where(np.asarray(body.state != HIDDEN)[..., None], body.xy_px, np.nan)
    shoulders, hips = (known_mean(xy[:, [INDEX[f"left_{j}"], INDEX[f"right_{j}"]]]) for j in ("shoulder", "hip"))
    trunk = np.hypot(*(shoulders - hips).T)
    if not np.isfinite(trunk).any():
        return NOWHERE
    long = float(np.nanquantile(trunk, 0.9))  # a trunk that points at the camera looks short
    head = known_mean(xy[:, HEAD_LANDMARKS])
    with np.errstate(invalid="ignore", divide="ignore"):
        above = shoulders + (shoulders - hips) / trunk[:, None] * (0.5 * long)
    place = np.where(np.isfinite(head), head, above)
    radius = HEAD_PER_TRUNK * long
    for sure in _sure(head, shoulders, hips):
        held = _held(place, sure, body.t_s, hips, bar, radius, ARMS * long)
        if held is not None:
            place = held
            break
    known = np.flatnonzero(np.isfinite(place).all(axis=1))
    return HeadTrack("body", body.t_s[known], place[known], np.full(len(known), radius))


def _sure(
    head: FloatArray, shoulders: FloatArray, hips: FloatArray
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Tell in which rows the head is surely his: on his own neck and with his hips; by the hips alone as well."""
    neck = np.hypot(*(head - shoulders).T)
    known = np.isfinite(neck)
    usual = float(np.median(neck[known])) if known.any() else 0.0
    beside = np.isfinite(head).all(axis=1) & np.isfinite(hips).all(axis=1)
    on_neck = beside & known & (np.where(known, neck, np.inf) <= NECK * usual)
    return on_neck, on_neck | (beside & ~known)


def _held(
    place: FloatArray,
    sure: NDArray[np.bool_],
    t_s: FloatArray,
    hips: FloatArray,
    bar: BarTrack | None,
    radius: float,
    reach: float,
) -> FloatArray | None:
    """Give the head's places (n, 2), px, held against those that are sure; None where these do not tell enough.

    Where the head goes along with the bar, or lies still, a place that is known by itself alone and lies elsewhere
    is none; along with the bar it is known wherever his hips are within reach of that.
    """
    at = np.zeros_like(place)
    if bar is not None and bar.status == "found" and len(bar.t_s):
        at = np.column_stack([np.interp(t_s, bar.t_s, xy, left=np.nan, right=np.nan) for xy in bar.xy_px.T])
    off = place - at
    tells = sure & np.isfinite(off).all(axis=1)
    on_bar = tells.sum() >= LEAST_ROWS and _spread(off[tells]) <= min(STEADY * radius, _spread(place[tells]))
    if not on_bar:
        at, off, tells = np.zeros_like(place), place, sure
        if tells.sum() < LEAST_ROWS or _spread(place[tells]) > STEADY * radius:
            return None
    where = np.column_stack([np.interp(t_s, t_s[tells], v) for v in off[tells].T]) + at
    with np.errstate(invalid="ignore"):
        elsewhere = ~tells & (np.hypot(*(place - where).T) > OFF * radius)
        near = on_bar & (np.hypot(*(hips - at).T) <= reach)
    place = np.where(elsewhere[:, None], np.nan, place)
    return np.where((near & ~np.isfinite(place).all(axis=1))[:, None], where, place)


def _spread(xy: FloatArray) -> float:
    """How far nine tenths of places lie from their middle at most, px."""
    return float(np.quantile(np.hypot(*(xy - np.median(xy, axis=0)).T), 0.9)) if len(xy) else np.inf
