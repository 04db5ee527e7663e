"""Joint moments of measured folders against statics on the rendered clips' exact truth.

    python -m lab.score_mechanics MEASURED TRUTH [--load 140] [--body-mass 83] [--without-hands]

MEASURED holds one folder per clip as `midfoot measure` wrote it, TRUTH the clips' .json of the same names. Moments
are taken at the low (lift-off) and where the bar stands farthest from its vertical in the ascent. The truth is
written out here from joints and bar alone, with nothing of the program but the segment shares.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

import numpy as np

from midfoot import positions
from midfoot.mechanics import mechanics_of, tables, the_lifter
from midfoot.records.base import NotMeasured
from midfoot.records.mechanics import Known
from midfoot.store import read_measurement

G_M_S2 = 9.80665
NAMES = {
    "hip": "upperleg01.L", "knee": "lowerleg01.L", "ankle": "foot.L", "shoulder": "upperarm01.L",
    "elbow": "lowerarm01.L", "wrist": "wrist.L",
}  # fmt: skip
JOINTS = {"squat": ("hip", "knee", "ankle"), "deadlift": ("hip", "knee", "ankle"), "bench": ("shoulder", "elbow")}
LIFTING = {"hip": 1.0, "knee": -1.0, "ankle": 1.0, "shoulder": 1.0, "elbow": 1.0}


def truth_moment(
    truth: dict[str, Any], row: int, joint: str, load_kg: float, mass_kg: float
) -> tuple[float, float]:
    """Give arm (m) and quasi-static moment (N m) of one joint from the truth's joints and bar in one frame.

    Every weight times how far it lies in front of the joint; forward is the truth's -y.
    """
    spots = {name: -float(truth["joints"][row][key][1]) for name, key in NAMES.items()}
    bar = float(truth["bar"][row][0])
    share = tables()["de_leva"]["female" if truth["lifter"]["gender"] > 0.5 else "male"]

    def kg(name: str) -> float:
        return float(share[name][0]) * mass_kg * (1.0 if name in ("trunk", "head") else 2.0)

    def between(first: str, last: float | str, part: float) -> float:
        end = last if isinstance(last, float) else spots[last]
        return spots[first] + part * (end - spots[first])

    parts = [(load_kg, bar)]
    if truth["lift"] == "bench":
        low = kg("forearm") + kg("hand")
        part = (kg("forearm") * share["forearm"][1] + kg("hand")) / low
        parts.append((low, between("elbow", bar, part)))
        if joint == "shoulder":
            parts.append((kg("upper_arm"), between("shoulder", "elbow", share["upper_arm"][1])))
    else:
        up = np.array(truth["joints"][row][NAMES["shoulder"]]) - np.array(truth["joints"][row][NAMES["hip"]])
        lean = -float(up[1]) / float(np.hypot(up[1], up[2]))
        head = share["head"][3] * float(truth["stature"])
        parts.append((kg("trunk"), between("shoulder", "hip", share["trunk"][1])))
        parts.append((kg("head"), spots["shoulder"] + lean * head * (1.0 - share["head"][1])))
        parts.append((sum(kg(n) for n in ("upper_arm", "forearm", "hand")), between("shoulder", bar, 0.53)))
        if joint in ("knee", "ankle"):
            parts.append((kg("thigh"), between("hip", "knee", share["thigh"][1])))
        if joint == "ankle":
            parts.append((kg("shank"), between("knee", "ankle", share["shank"][1])))
    at = spots[joint]
    return bar - at, LIFTING[joint] * sum(m * G_M_S2 * (x - at) for m, x in parts)


def moments_of(truth: dict[str, Any]) -> list[tuple[int, dict[str, float]]]:
    """Give per rep the low (lift-off) and where the bar stands farthest forward of it in the ascent, s."""
    t, forward = np.array(truth["t"]), np.array(truth["bar"])[:, 0]
    found = []
    for n, event in enumerate(truth["events"], 1):
        first = event["start_s"] if truth["lift"] == "deadlift" else event["low_end_s"]
        last = event["top_start_s"] if truth["lift"] == "deadlift" else event["end_s"]
        rows = np.flatnonzero((t >= first) & (t <= last))
        far = rows[int(np.argmax(np.abs(forward[rows] - forward[rows[0]])))]
        found.append((n, {"low": float(first), "farthest": float(t[far])}))
    return found


def score(folder: Path, truth: dict[str, Any], load_kg: float, mass_kg: float) -> list[dict[str, Any]]:
    """Give one row per rep, moment and joint: ours, its errors, the truth's; None where it is not seen."""
    places = positions.places_of(read_measurement(folder).data)
    if isinstance(places, NotMeasured):
        return []
    sex = "female" if truth["lifter"]["gender"] > 0.5 else "male"
    lifter = the_lifter(sex, truth["stature"], mass_kg)
    times = moments_of(truth)
    reps, _ = mechanics_of(truth["lift"], places, [(n, named, None) for n, named in times], lifter, load_kg)
    rows = []
    for rep in reps:
        for moment in rep.moments:
            row = int(np.argmin(np.abs(np.array(truth["t"]) - moment.at_s)))
            for load in moment.loads:
                arm, whole = truth_moment(truth, row, load.joint, load_kg, mass_kg)
                rows.append({"rep": rep.n, "moment": moment.name, "joint": load.joint, "arm": load.arm_mm,
                             "whole": load.moment_nm, "true_arm_mm": 1000 * arm, "true_nm": whole})  # fmt: skip
    return rows


def main() -> None:
    """Print the table and the share of values within one and two sds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("measured", type=Path)
    parser.add_argument("truth", type=Path)
    parser.add_argument("--load", type=float, default=140.0)
    parser.add_argument("--body-mass", type=float, default=83.0)
    parser.add_argument("--without-hands", action="store_true", help="do not hold the hands against the bar")
    given = parser.parse_args()
    if given.without_hands:
        positions.learn = lambda wrists: None
    off: list[float] = []
    for file in sorted(given.truth.glob("*.json")):
        if not (given.measured / file.stem / "measurement.json").is_file():
            continue
        errors, claims = [], []
        for row in score(given.measured / file.stem, json.loads(file.read_text()), given.load, given.body_mass):
            arm, whole = row["arm"], row["whole"]
            where = f"{file.stem:24} rep {row['rep']} {row['moment']:8} {row['joint']:8}"
            if arm is None:
                print(f"{where} not seen")
                continue
            errors.append(arm.value - row["true_arm_mm"])
            claims.append(arm.total_sd)
            off.append(abs(errors[-1]) / claims[-1])
            print(f"{where} arm {_said(arm)} mm, true {row['true_arm_mm']:4.0f}", end="")
            print("" if whole is None else f";  whole {_said(whole)} N·m, true {row['true_nm']:4.0f}")
        if errors:
            rms = np.sqrt(np.mean(np.square(errors)))
            print(f"{file.stem}: rms error {rms:.0f} mm, claimed {np.mean(claims):.0f}")
    if off:
        one, two = np.mean(np.array(off) < 1), np.mean(np.array(off) < 2)
        print(f"{len(off)} arms: within one sd {one:.2f}, within two {two:.2f}")


def _said(known: Known) -> str:
    return f"{known.value:4.0f} ± {known.sd:2.0f} rep ± {known.sd_common:3.0f} clip"


if __name__ == "__main__":
    main()
