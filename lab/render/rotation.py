"""Rotations as 3 x 3 matrices: about an axis, between frames, part of the way."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

X = np.array([1.0, 0.0, 0.0])
Y = np.array([0.0, 1.0, 0.0])
Z = np.array([0.0, 0.0, 1.0])


def cross(a: Array, b: Array) -> Array:
    """Cross product of two vectors (3,); NumPy's own takes ten times as long for one pair."""
    (ax, ay, az), (bx, by, bz) = a.tolist(), b.tolist()
    return np.array([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])


def unit(v: Array) -> Array:
    """Give `v` (3,) scaled to length 1."""
    length = math.sqrt(v @ v)
    if length < 1e-12:
        raise ValueError("v: expected a vector with a direction, got zero length")
    return np.asarray(v / length)


def across(v: Array, axis: Array) -> Array:
    """Give the part of `v` at right angles to `axis`, scaled to length 1."""
    axis = unit(axis)
    return unit(np.asarray(v - axis * float(v @ axis)))


def about(axis: Array, angle_deg: float) -> Array:
    """Give the rotation by `angle_deg` about `axis` (right-handed)."""
    a = unit(np.asarray(axis, dtype=float))
    x, y, z = a.tolist()
    w = math.radians(angle_deg)
    s, c = math.sin(w), math.cos(w)
    d = 1.0 - c
    return np.array([
        [c + d * x * x, d * x * y - s * z, d * x * z + s * y],
        [d * x * y + s * z, c + d * y * y, d * y * z - s * x],
        [d * x * z - s * y, d * y * z + s * x, c + d * z * z],
    ])  # fmt: skip


def frame(along: Array, side: Array) -> Array:
    """Give the right-handed frame whose first column is `along` and whose second lies toward `side`."""
    first = unit(along)
    second = across(side, first)
    return np.array([first, second, cross(first, second)]).T


def turn(from_along: Array, from_side: Array, to_along: Array, to_side: Array) -> Array:
    """Give the rotation that takes one frame (a direction and a side) to another."""
    return frame(to_along, to_side) @ frame(from_along, from_side).T


def log(rotation: Array) -> Array:
    """Give the rotation vector (axis times angle, rad) of a rotation of less than half a turn."""
    cos = (np.trace(rotation) - 1.0) / 2.0
    angle = float(np.arccos(np.clip(cos, -1.0, 1.0)))
    v = np.array(
        [rotation[2, 1] - rotation[1, 2], rotation[0, 2] - rotation[2, 0], rotation[1, 0] - rotation[0, 1]]
    )
    if angle < 1e-9:
        return v / 2.0
    return np.asarray(v * (angle / (2.0 * np.sin(angle))))


def part(start: Array, end: Array, share: float) -> Array:
    """Give the rotation that lies `share` of the way from `start` to `end`."""
    v = log(end @ start.T)
    angle = float(np.linalg.norm(v))
    if angle < 1e-9:
        return start.copy()
    return about(v, float(np.degrees(angle)) * share) @ start


def twist_deg(rotation: Array, axis: Array) -> float:
    """Give how far `rotation` turns about `axis`, in degrees (the rest of it swings the axis)."""
    axis = unit(axis)
    q = np.empty(4)
    v = log(rotation)
    angle = float(np.linalg.norm(v))
    q[0] = np.cos(angle / 2.0)
    q[1:] = 0.0 if angle < 1e-12 else v / angle * np.sin(angle / 2.0)
    return float(np.degrees(2.0 * np.arctan2(q[1:] @ axis, q[0])))
