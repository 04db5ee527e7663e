"""Agreement with a reference library over a full cycle: sympy's method of Lagrange on the same chain and bar."""

from __future__ import annotations

import numpy as np
import pytest
import sympy
from sympy.physics.mechanics import LagrangesMethod, dynamicsymbols

from midfoot.mechanics import Body, joint_moment
from midfoot.mechanics.dynamics import G_M_S2

LENGTHS, CENTRES = (0.43, 0.42, 0.50), (0.24, 0.25, 0.24)
MASSES, INERTIAS, BAR = (7.0, 22.0, 45.0), (0.1, 0.4, 1.6), 140.0


def reference() -> object:
    """Give generalised forces of three links (absolute angles) with a point mass at the end, as a function."""
    q = dynamicsymbols("q0:3")
    v = [s.diff() for s in q]
    a = [s.diff() for s in v]
    kinetic = height = sympy.Integer(0)
    end = sympy.Matrix([0, 0])
    time = dynamicsymbols._t
    bodies = []
    for i in range(3):
        along = sympy.Matrix([sympy.cos(q[i]), sympy.sin(q[i])])
        bodies.append((MASSES[i], INERTIAS[i], end + CENTRES[i] * along, i))
        end = end + LENGTHS[i] * along
    bodies.append((BAR, 0, end, 2))
    for mass, inertia, place, i in bodies:
        speed = place.diff(time)
        kinetic += mass * speed.dot(speed) / 2 + inertia * v[i] ** 2 / 2
        height += mass * G_M_S2 * place[1]
    equations = LagrangesMethod(kinetic - height, q).form_lagranges_equations()
    names = sympy.symbols("a0:3 v0:3 q0:3")
    plain = equations.subs(dict(zip(a, names[:3], strict=True)))
    plain = plain.subs(dict(zip(v, names[3:6], strict=True))).subs(dict(zip(q, names[6:], strict=True)))
    return sympy.lambdify(names, list(plain), "numpy")


def test_ankle_knee_and_hip_over_a_full_squat() -> None:
    """Moments of a moving three-link squat under 140 kg, every 5 ms of a cycle."""
    t = np.arange(0, 2.0, 0.005)
    w = np.pi
    still, swing = np.array([1.55, 1.60, 1.45]), np.array([-0.45, 1.35, -0.65])
    s = (0.5 - 0.5 * np.cos(w * t))[:, None]
    q, v = still + swing * s, swing * (0.5 * w * np.sin(w * t))[:, None]
    a = swing * (0.5 * w**2 * np.cos(w * t))[:, None]
    forces = reference()(*a.T, *v.T, *q.T)  # type: ignore[operator]
    hip = np.asarray(forces[2])
    knee = hip + np.asarray(forces[1])
    ankle = knee + np.asarray(forces[0])

    unit, normal = np.stack([np.cos(q), np.sin(q)], 2), np.stack([-np.sin(q), np.cos(q)], 2)
    turned = a[:, :, None] * normal - v[:, :, None] ** 2 * unit
    end, moved, bodies, joints = np.zeros((len(t), 2)), np.zeros((len(t), 2)), [], []
    for i in range(3):
        joints.append(end)
        centre, shift = end + CENTRES[i] * unit[:, i], moved + CENTRES[i] * turned[:, i]
        bodies.append(Body(MASSES[i], INERTIAS[i], centre, shift, a[:, i]))
        end, moved = end + LENGTHS[i] * unit[:, i], moved + LENGTHS[i] * turned[:, i]
    bodies.append(Body(BAR, 0.0, end, moved, np.zeros(len(t))))
    for k, expected in enumerate((ankle, knee, hip)):
        assert joint_moment(joints[k], bodies[k:]) == pytest.approx(expected, abs=1e-6)
    assert np.ptp(hip) > 100
