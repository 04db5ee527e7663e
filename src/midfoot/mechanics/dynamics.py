"""Planar Newton-Euler dynamics, vectorised over time. x is forward, y is up, counter-clockwise is positive."""

from __future__ import annotations

import numpy as np
from attrs import frozen

from midfoot.records.base import FloatArray

G_M_S2 = 9.80665
"""Standard gravity (3rd CGPM, 1901), exact by definition."""


@frozen(eq=False)
class Body:
    """A rigid part over time: mass, inertia about the centre of mass, `com` (n, 2), its acceleration (n, 2),
    and the
    angular acceleration (n,). The bar is a body without inertia.
    """

    mass_kg: float
    inertia_kg_m2: float
    com: FloatArray
    acceleration: FloatArray
    alpha: FloatArray


def cross(a: FloatArray, b: FloatArray) -> FloatArray:
    """Give the side-to-side component of a cross product of (..., 2) arrays."""
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def forces(body: Body, g: float = G_M_S2) -> FloatArray:
    """Give the force (n, 2) that must act on a body beside gravity for it to move as it does."""
    return np.asarray(body.mass_kg * (body.acceleration + np.array([0.0, g])))


def net_load(
    body: Body,
    proximal: FloatArray,
    distal: FloatArray,
    distal_force: FloatArray,
    distal_moment: FloatArray,
    g: float = G_M_S2,
) -> tuple[FloatArray, FloatArray]:
    """Give force (n, 2) and moment (n,) at the proximal end of one segment from what acts at its distal end.

    Fp = m a - Fd + (0, m g); Mp = I alpha - Md - (rd - rcm) x Fd - (rp - rcm) x Fp (Newton and Euler; as in the
    running benchmark of the International Society of Biomechanics). Pass -Fp and -Mp on to the next segment.
    """
    force = forces(body, g) - distal_force
    moment = (
        body.inertia_kg_m2 * body.alpha
        - distal_moment
        - cross(distal - body.com, distal_force)
        - cross(proximal - body.com, force)
    )
    return force, moment


def joint_moment(joint: FloatArray, beyond: list[Body], g: float = G_M_S2) -> FloatArray:
    """Give the moment (n,) that a joint must give everything beyond it, the bar among it.

    The sum over all bodies beyond of (r - joint) x m (a + g) + I alpha: the same as passing loads from segment to
    segment, without needing the joints between. Positive holds up what is in front of the joint.
    """
    total = np.zeros(joint.shape[:-1])
    for body in beyond:
        total = total + cross(body.com - joint, forces(body, g)) + body.inertia_kg_m2 * body.alpha
    return total


def ground_force(bodies: list[Body], g: float = G_M_S2) -> FloatArray:
    """Give the force (n, 2) of the ground on the feet: the sum of all bodies' forces."""
    return np.asarray(sum(forces(body, g) for body in bodies))


def joint_powers(moment: FloatArray, omega_beyond: FloatArray, omega_before: FloatArray) -> FloatArray:
    """Give the power (n,) of a joint: its moment times the angular velocity across it."""
    return moment * (omega_beyond - omega_before)
