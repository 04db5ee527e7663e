"""How far the network's hips lie from a person's hip joint centres: OpenCap's squats against their markers.

    python -m lab.hip_centres MEASURED ../shared/clips/real/opencap_squat

MEASURED is the folder that `midfoot measure` wrote of video.mp4 (its body.npz). The camera is fitted to all
joints but the hips; the middle of both hips is compared, so that how far they lie apart drops out. How much their
rise from the low to a third of the way scatters between the squats says how long a look the hips' lead needs
(`measures/legs.py`).
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from midfoot.records.body import INDEX

MARKERS = {
    "shoulder": ("L_Shoulder",), "elbow": ("L_elbow_lat", "L_elbow_med"), "knee": ("L_knee",),
    "wrist": ("L_wrist_radius", "L_wrist_ulna"), "ankle": ("L_ankle",), "heel": ("L_calc",),
    "foot_index": ("L_toe",),
}  # fmt: skip
SHOULDER_BELOW_M = 0.04
"""The marker sits on the acromion, the joint lies below it (common practice)."""
LOOKS_S = (0.07, 0.1, 0.15, 0.2, 0.25)
LOW_SHARE, UP_S = 0.35, 2.0
"""A squat's low lies in this lowest share of the heights, and he stands again within so long."""
CENTRE_PX = np.array([360.0, 640.0])


def trc(path: Path) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Read times (n,) and markers (n, 3) m, y up."""
    lines = path.read_text().splitlines()
    names = [n for n in lines[3].split("\t")[2:] if n.strip()]
    rows = [line.split("\t")[: 2 + 3 * len(names)] for line in lines[5:] if line.strip()]
    table = np.array([[float(x) for x in row] for row in rows])
    return table[:, 1], {n: table[:, 2 + 3 * i : 5 + 3 * i] for i, n in enumerate(names)}


def right_of(name: str, known: dict[str, np.ndarray]) -> str:
    """Give the right side's name of a left marker; they are written in two ways."""
    return next(n for n in (f"R{name[1:]}", f"r{name[1:]}") if n in known)


def project(p: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Project (n, 3) m with turn (3), shift (3) and focal length of a pinhole camera."""
    at = points @ Rotation.from_rotvec(p[:3]).as_matrix().T + p[3:6]
    return CENTRE_PX + p[6] * at[:, :2] / at[:, 2:]


def camera(points: np.ndarray, pixels: np.ndarray) -> np.ndarray:
    """Fit the camera from twelve directions; the best counts."""
    down = np.array([[1.0, 0, 0], [0, -1, 0], [0, 0, -1]])
    found = []
    for turn in np.radians(range(0, 360, 30)):
        first = Rotation.from_matrix(down @ Rotation.from_euler("y", turn).as_matrix()).as_rotvec()
        start = np.r_[first, -down @ points.mean(0) * [1, 1, 0], 1000.0]
        start[5] = 4.0
        found.append(
            least_squares(
                lambda p: (project(p, points) - pixels).ravel(), start, loss="soft_l1", f_scale=8, max_nfev=200
            )
        )
    return np.asarray(min(found, key=lambda f: float(f.cost)).x)


def main() -> None:
    """Print the offset of the hips' middle, forward and up, standing and low."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("measured", type=Path)
    parser.add_argument("folder", type=Path)
    given = parser.parse_args()
    with np.load(given.measured / "body.npz", allow_pickle=False) as file:
        t_s, xy, status = file["t_s"], file["xy_px"], file["status"]
    times, m = trc(given.folder / "squats1.trc")

    def at(marker: np.ndarray) -> np.ndarray:
        return np.stack([np.interp(t_s, times, marker[:, k]) for k in range(3)], 1)

    points, pixels = [], []
    for joint, left in MARKERS.items():
        for side, names in (("left", left), ("right", tuple(right_of(n, m) for n in left))):
            place = at(np.mean([m[n] for n in names], axis=0))
            place[:, 1] -= SHOULDER_BELOW_M if joint == "shoulder" else 0.0
            k = INDEX[f"{side}_{joint}"]
            seen = (status[:, k] == "seen") & np.isfinite(xy[:, k]).all(axis=1)
            points.append(place[seen])
            pixels.append(xy[seen, k])
    middle = np.concatenate(points).mean(0)
    p = camera(np.concatenate(points) - middle, np.concatenate(pixels))
    rms = np.sqrt(np.mean((project(p, np.concatenate(points) - middle) - np.concatenate(pixels)) ** 2))
    print(f"camera fitted to {sum(map(len, points))} points, rms {rms:.1f} px, {1000 * p[5] / p[6]:.2f} mm per px")
    hips = at(0.5 * (m["L_HJC"] + m["R_HJC"])) - middle
    forward = np.cross(at(m["R_HJC"] - m["L_HJC"]), [0.0, 1.0, 0.0])
    feet = at(m["L_toe"] - m["L_calc"] + m["r_toe"] - m["r_calc"])
    forward *= (np.sign(np.sum(forward * feet, axis=1)) / np.linalg.norm(forward, axis=1))[:, None]
    up = np.tile([0.0, 1.0, 0.0], (len(hips), 1))
    here = project(p, hips)
    axes = [(project(p, hips + 0.05 * way) - here) / 50.0 for way in (forward, up)]
    off = 0.5 * (xy[:, INDEX["left_hip"]] + xy[:, INDEX["right_hip"]]) - here
    offsets = np.array([np.linalg.solve(np.stack([axes[0][i], axes[1][i]], 1), off[i]) for i in range(len(off))])
    seen = (status[:, INDEX["left_hip"]] == "seen") & (status[:, INDEX["right_hip"]] == "seen")
    heights = hips[:, 1]
    for name, rows in (("standing", heights > np.quantile(heights[seen], 0.8)),
                       ("low", heights < np.quantile(heights[seen], 0.15))):  # fmt: skip
        both = offsets[rows & seen]
        print(f"{name}: hips {both[:, 0].mean():.0f} mm forward, {both[:, 1].mean():.0f} up of the joint centres "
              f"(spread {both[:, 0].std():.0f}, {both[:, 1].std():.0f}; {len(both)} frames)")  # fmt: skip
    for look in LOOKS_S:
        print(f"rise to a third of the way, looks over {look:g} s to each side: scatter between squats "
              f"{rise_scatter(t_s[seen], offsets[seen, 1], heights[seen], look):.1f} mm")  # fmt: skip


def rise_scatter(t_s: np.ndarray, off_mm: np.ndarray, up_m: np.ndarray, look_s: float) -> float:
    """Scatter, mm, of a rise that is read from the low until a third of the way up, by rep.

    Parameters
    ----------
    t_s, off_mm, up_m : times, how much too high the hips are read, and their true height.
    look_s : readings are means over so long to each side.
    """
    low = up_m < np.min(up_m) + LOW_SHARE * np.ptp(up_m)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], low, [False]]).astype(int)))
    rises = []
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        turn = a + int(np.argmin(up_m[a:b]))
        later = (t_s > t_s[turn]) & (t_s < t_s[turn] + UP_S)
        third = up_m[turn] + (np.max(up_m[later]) - up_m[turn]) / 3.0
        at = float(t_s[later][np.argmax(up_m[later] > third)])
        then, before = (off_mm[np.abs(t_s - x) <= look_s].mean() for x in (at, t_s[turn]))
        rises.append(then - before)
    return float(np.std(rises, ddof=1))


if __name__ == "__main__":
    main()
