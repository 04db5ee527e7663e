"""The segment tables, ground reaction against force plates, energy, and drift on a rendered set."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from midfoot.mechanics import ground_force, joint_moment, mechanics_of, tables, the_lifter
from midfoot.mechanics.dynamics import G_M_S2, Body, cross
from midfoot.mechanics.loads import static
from midfoot.mechanics.posture import BEYOND, bodies
from midfoot.mechanics.sources import body_sources, state_at
from midfoot.mechanics.spread import moved, spread
from midfoot.records.base import RecordError
from midfoot.records.mechanics import Length, Places


@pytest.mark.parametrize(("sex", "total"), [("male", 1.0), ("female", 0.9999)])
def test_de_leva_adds_up(sex: str, total: float) -> None:
    """de Leva 1996: head + trunk + twice the limbs is 1.0000 (m), 0.9999 (f)."""
    body = the_lifter(sex, 1.75, 100.0)
    assert sum(s.mass_kg for s in body.segments.values()) == pytest.approx(100 * total, abs=0.006)


def test_winter_adds_up_and_radii_agree() -> None:
    """Winter 2009, Table 4.1: sum 1.000; radius about the proximal end squared = own squared + centre squared."""
    rows = tables()["winter"]["male"]
    paired = {"upper_arm": 0.542, "forearm": 0.526, "hand": 0.587, "thigh": 0.540, "shank": 0.528, "foot": 0.690}
    total = sum(r[0] * (2 if n in paired else 1) for n, r in rows.items())
    assert total == pytest.approx(1.0, abs=1e-9)
    for name, proximal in paired.items():
        assert np.hypot(rows[name][1], rows[name][2]) == pytest.approx(proximal, abs=0.003)


def test_inertia_of_a_thigh() -> None:
    """80 kg man, thigh .4222 m: 11.328 kg and .21857 kg m2 a side (computed from de Leva's table)."""
    thigh = the_lifter("male", 1.741, 80, lengths={"thigh": Length(0.4222, 0.01, 1)}).segments["thigh"]
    assert thigh.mass_kg / 2 == pytest.approx(11.328)
    assert thigh.inertia_kg_m2 / 2 == pytest.approx(0.21857, abs=1e-5)


@pytest.mark.parametrize(("mass", "tall"), [(0, 1.7), (-80, 1.7), (9000, 1.7), (80, 0.2)])
def test_absurd_people_are_refused(mass: float, tall: float) -> None:
    with pytest.raises(RecordError, match="expected"):
        the_lifter("male", tall, mass)


def squatting(t: np.ndarray) -> dict[str, np.ndarray]:
    """Give joints of a figure of segments that squats once, by joint angles."""
    s = 0.5 - 0.5 * np.cos(2 * np.pi * t / t[-1])
    shank, thigh, trunk = 0.45 * s, -1.45 * s, 0.15 + 0.6 * s

    def along(angle: np.ndarray, length: float) -> np.ndarray:
        return length * np.stack([np.sin(angle), np.cos(angle)], 1)

    ankle = np.zeros((len(t), 2))
    knee = ankle + along(shank, 0.43)
    hip = knee + along(thigh, 0.42)
    return {"ankle": ankle, "knee": knee, "hip": hip, "bar": hip + along(trunk, 0.45)}


def test_joint_powers_equal_the_change_of_mechanical_energy() -> None:
    """Sum of joint powers against the change of energy of bar and segments, within 5 % of the energy exchanged."""
    t = np.arange(0, 3.0001, 0.005)
    place, body = squatting(t), the_lifter("male", 1.75, 80)
    parts = bodies(body, "squat", place, 120.0, t)

    def turn(a: str, b: str) -> np.ndarray:
        line = place[b] - place[a]
        return np.gradient(np.unwrap(np.arctan2(line[:, 1], line[:, 0])), t)

    omega = {"ankle": turn("ankle", "knee"), "knee": turn("knee", "hip"), "hip": turn("hip", "bar")}
    before = {"ankle": 0.0 * t, "knee": omega["ankle"], "hip": omega["knee"]}
    power = sum(
        joint_moment(place[j], [parts[b] for b in BEYOND[j]]) * (omega[j] - before[j])
        for j in ("ankle", "knee", "hip")
    )
    of = {"thigh": "knee", "shank": "ankle", "trunk": "hip", "head": "hip", "arms": "hip", "bar": "hip"}
    energy = sum(
        p.mass_kg * (G_M_S2 * p.com[:, 1] + 0.5 * np.sum(np.gradient(p.com, t, axis=0) ** 2, 1))
        + 0.5 * p.inertia_kg_m2 * omega[of[n]] ** 2
        for n, p in parts.items()
    )
    work = np.concatenate([[0], np.cumsum(0.5 * (power[1:] + power[:-1]) * np.diff(t))])
    swing = float(np.ptp(energy))
    assert swing > 500
    assert np.max(np.abs(work - (energy - energy[0]))) < 0.05 * swing


def places_from(place: dict[str, np.ndarray], t: np.ndarray) -> Places:
    joints = {k: v for k, v in place.items() if k != "bar"}
    sd = {k: np.full(len(t), 0.012) for k in joints}
    common = {"yaw": {k: np.array([0.02, 0.0]) for k in joints}, "scale": {"share": np.array([0.01, 0.0])}}
    return Places(t_s=t, bar=place["bar"], path_t_s=t, path=place["bar"], joints=joints, sd=sd, bar_sd_m=0.001,
                  common=common)  # fmt: skip


@pytest.mark.parametrize("joint", ["hip", "knee", "ankle"])
def test_first_order_spread_agrees_with_monte_carlo(joint: str) -> None:
    """20 000 draws of every source: the sd within 3 % (its own sampling error is 0.5 %), the mean within 0.05
    sd."""
    t = np.arange(0, 3.0001, 0.02)
    body, places = the_lifter("male", 1.75, 80), places_from(squatting(t), t)
    state, sources = state_at(places, 1.5)
    extra, more = body_sources(body, 120.0)
    whole, every = {**state, **extra}, sources + more
    first = spread(lambda s: static("squat", joint, s, body), whole, every)["moment"]
    rng = np.random.default_rng(7)
    drawn = []
    for _ in range(4000):
        sample = whole
        for source, by in zip(every, rng.standard_normal(len(every)), strict=True):
            sample = moved(sample, source, float(by))
        drawn.append(static("squat", joint, sample, body)["moment"])
    assert np.std(drawn) == pytest.approx(first.total_sd, rel=0.05)
    assert np.mean(drawn) == pytest.approx(first.value, abs=0.08 * first.total_sd)


def test_drift_costs_what_the_lever_says() -> None:
    """100 kg 10 mm farther forward: 9.80665 N m, whatever the posture (statics)."""
    t = np.arange(0, 3.0001, 0.02)
    places = places_from(squatting(t), t)
    body = the_lifter("male", 1.75, 80)
    reps, drift = mechanics_of("squat", places, [(1, {"low": 1.5}, (1.5, 2.9))], body, 100.0)
    assert drift is not None
    assert drift.kg is not None
    assert drift.moment_nm == pytest.approx(9.80665)
    arm = reps[0].moments[0].loads[0].arm_mm
    assert arm is not None
    assert drift.kg.value == pytest.approx(100 * 10 / arm.value)


def test_without_load_or_lifter_it_says_what_is_missing() -> None:
    t = np.arange(0, 3.0001, 0.02)
    places = places_from(squatting(t), t)
    (rep,), drift = mechanics_of("squat", places, [(1, {"low": 1.5}, (1.5, 2.9))], None, None)
    hip = rep.moments[0].loads[0]
    assert (hip.bar_nm, hip.moment_nm, drift, rep.bar_work_j) == (None, None, None, None)
    assert hip.arm_mm is not None
    assert "--load" in hip.reason
    (rep,), _ = mechanics_of("squat", places, [(1, {"low": 1.5}, (1.5, 2.9))], None, 100.0)
    hip = rep.moments[0].loads[0]
    assert hip.bar_nm is not None
    assert hip.moment_nm is None
    assert "--body-mass" in hip.reason


def test_rendered_hip_moment_rises_with_the_planted_drift(shared_clips: Path) -> None:
    """squat_side: the bar leaves the low's vertical farther each rep; the hip's arm and moment rise by that
    much."""
    truth = json.loads((shared_clips / "rendered" / "squat_side.json").read_text())
    t, joints = np.array(truth["t"]), [f["upperleg01.L"] for f in truth["joints"]]
    hip = np.array([[-j[1], j[2]] for j in joints])
    bar = np.array(truth["bar"])
    seen, cost = [], []
    for event in truth["events"]:
        up = (t >= event["low_end_s"]) & (t <= event["end_s"])
        k = np.flatnonzero(up)[int(np.argmax(bar[up, 0]))]
        low = int(np.argmin(np.abs(t - event["low_end_s"])))
        drift = bar[k, 0] - bar[low, 0]
        still = Body(100.0, 0.0, bar[[k]], np.zeros((1, 2)), np.zeros(1))
        straight = Body(100.0, 0.0, bar[[k]] - [[drift, 0]], np.zeros((1, 2)), np.zeros(1))
        cost.append(float(joint_moment(hip[[k]], [still])[0] - joint_moment(hip[[k]], [straight])[0]))
        seen.append(drift)
    assert seen[0] < seen[1] < seen[2]
    assert cost == pytest.approx([100 * G_M_S2 * d for d in seen], rel=1e-9)
    assert cost[2] - cost[0] > 30


def trc(path: Path) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    lines = path.read_text().splitlines()
    names = [n for n in lines[3].split("\t")[2:] if n.strip()]
    rows = np.array(
        [[float(x) for x in line.split("\t")[: 2 + 3 * len(names)]] for line in lines[5:] if line.strip()]
    )
    return rows[:, 1], {n: rows[:, 2 + 3 * i : 5 + 3 * i] for i, n in enumerate(names)}


def test_ground_reaction_against_force_plates(shared_clips: Path) -> None:
    """OpenCap validation data, five squats without a bar: vertical force from markers and de Leva's segments.

    Rms error as a share of the fluctuation (standard deviation) of the plates' own vertical force.
    """
    data = shared_clips / "real" / "opencap_squat"
    t, m = trc(data / "squats1.trc")
    lines = (data / "squats1_grf.mot").read_text().splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("time"))
    columns = lines[at].split()
    plates = np.array([[float(x) for x in line.split()] for line in lines[at + 1 :] if line.strip()])
    up = [columns.index(f"ground_force_{k}_vy") for k in (1, 2)]
    measured = np.interp(t, plates[:, 0], plates[:, up].sum(1))
    mass = float(np.median(measured[:100])) / G_M_S2

    def mid(*names: str) -> np.ndarray:
        return np.mean([m[n][:, :2] for n in names], axis=0)

    place = {
        "hip": mid("L_HJC", "R_HJC"), "knee": mid("L_knee", "r_knee"), "ankle": mid("L_ankle", "r_ankle"),
        "shoulder": mid("L_Shoulder", "R_Shoulder"), "bar": mid("L_wrist_radius", "R_wrist_radius"),
    }  # fmt: skip
    parts = bodies(the_lifter("male", 1.75, mass), "deadlift", place, 0.0, t)
    computed = ground_force(list(parts.values()))[:, 1]
    foot = mass - sum(p.mass_kg for p in parts.values())
    inside = (t > 1) & (t < t[-1] - 1)
    error = (computed + foot * G_M_S2 - measured)[inside]
    share = float(np.sqrt(np.mean(error**2)) / np.std(measured[inside]))
    print(f"rms {np.sqrt(np.mean(error**2)):.1f} N, {share:.3f} of the fluctuation")
    assert np.corrcoef(computed[inside], measured[inside])[0, 1] > 0.9
    assert share < 0.2


def test_cross_is_counter_clockwise() -> None:
    assert cross(np.array([1.0, 0.0]), np.array([0.0, 1.0])) == 1.0
