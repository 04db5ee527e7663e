"""Newton-Euler against worked examples, the running benchmark, and an independent formulation."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from midfoot.mechanics import Body, joint_moment, net_load
from midfoot.mechanics.dynamics import G_M_S2

BENCHMARK = Path(__file__).resolve().parent.parent / "data" / "mechanics" / "running_benchmark.csv"


def at(*xy: float) -> np.ndarray:
    return np.array([xy], np.float64)


def body(
    mass: float, inertia: float, com: np.ndarray, a: tuple[float, float] = (0, 0), alpha: float = 0.0
) -> Body:
    return Body(mass, inertia, com, at(*a), np.array([alpha]))


def test_massive_rod_held_and_swung() -> None:
    """Kinetics Toolkit unit tests (felixchenier/kineticstoolkit, test_inversedynamics): rod 3 kg, 80 N at the
    tip."""
    rod = body(3.0, 0.12, at(1, 0))
    force, moment = net_load(rod, at(0, 0), at(2, 0), at(0, -80), np.zeros(1), 9.81)
    assert force[0, 1] == pytest.approx(109.43)
    assert moment[0] == pytest.approx(189.43)
    swung = body(3.0, 0.12, at(1, 0), (0, 1), 1.0)
    force, moment = net_load(swung, at(0, 0), at(2, 0), at(0, -80), np.zeros(1), 9.81)
    assert force[0, 1] == pytest.approx(112.43)
    assert moment[0] == pytest.approx(192.55)


def test_winter_foot_and_shank() -> None:
    """Winter 2009, examples 5.1 to 5.3 (from memory; they recompute): -22.99, 1.34 and 3.46 N m, g 9.8."""
    foot = body(0.9, 0.0, at(0.06, 0))
    # ground at 0.08 from the ankle's line, the ankle at 0: 588 x 0.02 about the foot's centre
    _, moment = net_load(foot, at(0, 0), at(0.08, 0), at(0, 588), np.zeros(1), 9.8)
    assert moment[0] == pytest.approx(-(588 * 0.02 + 579.18 * 0.06), abs=0.01)
    swing = body(1.16, 0.0105, at(0, 0), (9.07, -6.62), 21.69)
    force, moment = net_load(swing, at(-0.0195, 0.0985), at(0, 0), at(0, 0), np.zeros(1), 9.8)
    assert force[0] == pytest.approx([10.52, 3.69], abs=0.01)
    assert moment[0] == pytest.approx(1.34, abs=0.01)
    shank = body(3.72, 0.0638, at(0, 0), (-0.03, -4.21), 36.9)
    force, up = net_load(shank, at(0.125, 0.142), at(-0.163, -0.185), -force, -moment, 9.8)
    assert force[0] == pytest.approx([10.41, 24.48], abs=0.05)
    assert up[0] == pytest.approx(3.457, abs=0.03)


SAMPLE = {  # ISB benchmark by van den Bogert (simulated running, true moments known), BMC teaching data, n = 4200
    "hip": at(0.2352717505, 0.8557659795), "knee": at(0.326547258, 0.4140991545),
    "ankle": at(0.1014554917, 0.0762088163),
}  # fmt: skip
PARTS = (  # mass, inertia, proximal joint, acceleration, alpha
    (1.00, 0.0200, "ankle", (0.3560, 1.7602), -13.2943),
    (2.86, 0.042996389, "knee", (-10.9578, 7.7797), 55.4487),
    (6.85, 0.145361267, "hip", (-6.9666, 8.8400), -45.5840),
)


def benchmark(*, moving: bool) -> list[float]:
    """Give ankle, knee and hip moments of the sample; centres at .4323725 and .4334975 of the segments."""
    force, moment = at(15.58562, 1045.655), np.zeros(1)
    distal = at(0.2346732, 0.0)
    found = []
    shares = {"ankle": 0.0, "knee": 0.4334975, "hip": 0.4323725}
    for mass, inertia, name, a, alpha in PARTS:
        proximal = SAMPLE[name]
        end = {"ankle": SAMPLE["ankle"], "knee": SAMPLE["ankle"], "hip": SAMPLE["knee"]}[name]
        com = proximal + shares[name] * (end - proximal)
        part = body(mass, inertia, com, a if moving else (0, 0), alpha if moving else 0.0)
        force, moment = net_load(part, proximal, distal if name == "ankle" else end, force, moment)
        found.append(float(moment[0]))
        force, moment = -force, -moment
    return found


def test_running_benchmark_moving() -> None:
    """True moments -140.7534, 79.7513, -41.3083 N m; accelerations are second differences of the data."""
    assert benchmark(moving=True) == pytest.approx([-140.7534, 79.7513, -41.3083], abs=0.02)


def test_running_benchmark_quasi_static() -> None:
    """The same sample without accelerations: -140.4875, 84.6704, -11.5497 N m (computed from the data)."""
    assert benchmark(moving=False) == pytest.approx([-140.4875, 84.6704, -11.5497], abs=0.02)


def test_running_benchmark_through_stance() -> None:
    """31 instants of stance, accelerations as second differences of the benchmark's own places.

    The true moments swing by 43 (hip), 120 (knee) and 165 N m (ankle). Half-spans of one sample give rms errors of
    0.15, 0.08 and 0.01 N m over the whole run (computed from the data); two samples as here give less noise.
    """
    table = np.genfromtxt(BENCHMARK, delimiter=",", names=True, skip_header=3)

    def place(name: str, when: str) -> np.ndarray:
        return np.stack([table[f"{name}_x_{when}"], table[f"{name}_y_{when}"]], 1)

    def twice(values: list[np.ndarray]) -> np.ndarray:
        return (values[2] - 2 * values[1] + values[0]) / 2e-4**2

    times = ("before", "now", "after")
    force = np.stack([table["force_x"], table["force_y"]], 1)
    distal, moment = np.stack([table["force_at_x"], 0 * table["n"]], 1), np.zeros(len(table))
    rows = (("ankle", "toe", 1.00, 0.0200, 0.0), ("knee", "ankle", 2.86, 0.042996389, 0.4334975),
            ("hip", "knee", 6.85, 0.145361267, 0.4323725))  # fmt: skip
    for name, end, mass, inertia, share in rows:
        tops, ends = [place(name, w) for w in times], [place(end, w) for w in times]
        lines = [e - p for p, e in zip(tops, ends, strict=True)]
        coms = [p + share * line for p, line in zip(tops, lines, strict=True)]
        angles = [np.arctan2(line[:, 1], line[:, 0]) for line in lines]
        part = Body(mass, inertia, coms[1], twice(coms), twice(angles))
        force, moment = net_load(part, tops[1], distal if name == "ankle" else ends[1], force, moment)
        rms = float(np.sqrt(np.mean((moment - table[f"{name}_nm"]) ** 2)))
        print(f"{name}: rms {rms:.3f} N·m, true swing {np.ptp(table[f'{name}_nm']):.0f}")
        assert rms < 0.1
        force, moment = -force, -moment


@pytest.mark.parametrize(("kg", "arm", "nm"), [(100, 0.25, 245.17), (140, 0.30, 411.88)])
def test_lever(kg: float, arm: float, nm: float) -> None:
    """Mass times standard gravity times arm (computed)."""
    assert joint_moment(at(0, 0), [body(kg, 0, at(arm, 1.0))])[0] == pytest.approx(nm, abs=0.01)


small = st.floats(-5, 5)


@given(st.lists(small, min_size=12, max_size=12))
def test_sum_beyond_equals_passing_on(x: list[float]) -> None:
    """The sum over everything beyond a joint is what two segments pass on, in any motion."""
    upper = body(7.0, 0.2, at(x[0], x[1]), (x[2], x[3]), x[4])
    lower = body(3.0, 0.05, at(x[5], x[6]), (x[7], x[8]), x[9])
    middle, root = at(x[10], x[11]), at(0.3, -0.2)
    force, moment = net_load(lower, middle, middle, at(0, 0), np.zeros(1))
    _, passed = net_load(upper, root, middle, -force, -moment)
    assert joint_moment(root, [upper, lower])[0] == pytest.approx(passed[0], abs=1e-9)


def test_pendulum_by_lagrange_over_a_cycle() -> None:
    """A double pendulum's joint moments by Lagrange's equations (textbook form), a second formulation of the
    same."""
    t = np.linspace(0, 2, 2001)
    q = np.stack([0.6 * np.sin(2 * np.pi * t / 2), 0.4 * np.cos(2 * np.pi * t)], 1)
    w = np.stack([0.6 * np.pi * np.cos(np.pi * t), -0.8 * np.pi * np.sin(2 * np.pi * t)], 1)
    b = np.stack([-0.6 * np.pi**2 * np.sin(np.pi * t), -1.6 * np.pi**2 * np.cos(2 * np.pi * t)], 1)
    m1, m2, i1, i2, l1, c1, c2 = 12.0, 5.0, 0.2, 0.05, 0.45, 0.2, 0.25
    u = np.stack([np.cos(q), np.sin(q)], 2)
    n = np.stack([-np.sin(q), np.cos(q)], 2)

    def acceleration(k: int, length: float) -> np.ndarray:
        return length * (b[:, k, None] * n[:, k] - w[:, k, None] ** 2 * u[:, k])

    first = Body(m1, i1, c1 * u[:, 0], acceleration(0, c1), b[:, 0])
    second = Body(m2, i2, l1 * u[:, 0] + c2 * u[:, 1], acceleration(0, l1) + acceleration(1, c2), b[:, 1])
    d = q[:, 0] - q[:, 1]
    outer = (i2 + m2 * c2**2) * b[:, 1] + m2 * l1 * c2 * (np.cos(d) * b[:, 0] - np.sin(d) * w[:, 0] ** 2)
    outer += m2 * G_M_S2 * c2 * u[:, 1, 0]
    inner = (i1 + m1 * c1**2 + m2 * l1**2) * b[:, 0] + m2 * l1 * c2 * (
        np.cos(d) * b[:, 1] + np.sin(d) * w[:, 1] ** 2
    )
    inner += (m1 * c1 + m2 * l1) * G_M_S2 * u[:, 0, 0]
    assert joint_moment(l1 * u[:, 0], [second]) == pytest.approx(outer, abs=1e-9)
    assert joint_moment(np.zeros((len(t), 2)), [first, second]) == pytest.approx(inner + outer, abs=1e-9)
    power = outer * (w[:, 1] - w[:, 0]) + (inner + outer) * w[:, 0]
    kinetic = sum(
        0.5 * x.mass_kg * np.sum(np.gradient(x.com, t, axis=0) ** 2, 1) + 0.5 * x.inertia_kg_m2 * w[:, k] ** 2
        for k, x in enumerate((first, second))
    )
    height = G_M_S2 * (m1 * first.com[:, 1] + m2 * second.com[:, 1])
    change = kinetic + height
    assert math.isclose(np.trapezoid(power[:800], t[:800]), change[799] - change[0], rel_tol=0.05, abs_tol=0.5)
