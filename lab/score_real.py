"""Score measurements of the real clips against hand marks: `python -m lab.score_real [--out DIR] [NAME ...]`.

The clips are not part of the project: the folder that holds them is named by MIDFOOT_REAL_CLIPS, and without it
this says so and ends. Marks are numbers in tests/marks/real.toml. `--measured DIR` scores results that are
there already (DIR/NAME/measurement.json).
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import numpy as np

MARKS = Path(__file__).resolve().parent.parent / "tests" / "marks" / "real.toml"
MOMENTS = ("start_s", "low_start_s", "low_end_s", "top_start_s", "top_end_s", "end_s")
ON_IT = 0.35
"""A place within this many radii of the marked rim's centre is on the right end."""


def marks() -> dict[str, Any]:
    """Give the hand marks of every clip."""
    with MARKS.open("rb") as file:
        return tomllib.load(file)


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--out", type=Path, default=Path("out/real"))
    parser.add_argument("--measured", type=Path, default=None)
    parser.add_argument("names", nargs="*")
    args = parser.parse_args()
    folder = os.environ.get("MIDFOOT_REAL_CLIPS", "")
    if args.measured is None and not Path(folder or "?").is_dir():
        sys.exit("MIDFOOT_REAL_CLIPS names no folder: the real clips are not on this machine")
    rows = []
    for name, mark in marks().items():
        if args.names and name not in args.names:
            continue
        where = (args.measured or args.out) / name
        if args.measured is None:
            clip = Path(folder) / f"{name}.mp4"
            command = [sys.executable, "-m", "midfoot", "measure", str(clip), "--lift", mark["lift"],
                       "--no-video", "--out", str(where)]  # fmt: skip
            subprocess.run(command, check=True)
        rows.append({"clip": name, **score(json.loads((where / "measurement.json").read_text()), mark)})
    print(table(rows))


def score(found: dict[str, Any], mark: dict[str, Any]) -> dict[str, Any]:
    """Compare one measurement with the hand marks of its clip."""
    path = found["bar"]["path"]
    t_s = np.array([r["t_s"] for r in path], float)
    xy = np.array([[_number(r["x_px"]), _number(r["y_px"])] for r in path], float).reshape(-1, 2)
    seen = np.array([r["seen"] for r in path], bool)
    errors, seen_at = places(t_s, xy, seen, mark)
    at_hands = hands_error(t_s, xy, mark)
    candidates = [(c["x_px"], c["y_px"], c["at_s"]) for c in found["bar"]["candidates"]]
    reps = [r for r in found["reps"] if r["outcome"] != "missed"]
    return {
        "status": found["bar"]["status"],
        "source": found["bar"]["source"],
        "seen_pct": 100 * float(seen.mean()) if len(seen) else 0.0,
        "error_R": errors,
        "marks_seen": int(seen_at.sum()),
        "marks": len(seen_at),
        "hands_R": at_hands,
        "candidate_right": any(on_path(c, mark) for c in candidates) if candidates else None,
        "diameter_ratio": _ratio(found["bar"]["near_plate_diameter_px"], mark),
        "reps_found": len(reps),
        "reps_marked": len(mark["reps"]),
        "moments_s": moments(reps, mark["reps"]),
        "facing_right": found["view"]["facing"] in mark["facing"],
        "near_right": found["view"]["near_side"] == mark["near_side"],
        "class_right": found["view"]["class"] in mark["view"],
    }


def _number(value: float | None) -> float:
    return np.nan if value is None else float(value)


def _ratio(diameter: Any, mark: dict[str, Any]) -> float | None:
    if diameter is None or mark["kind"] != "plate":
        return None
    value = diameter["value"] if isinstance(diameter, dict) else diameter
    return float(value / (2 * np.median([r["rim"][2] for r in mark["rims"]])))


def rims_at(mark: dict[str, Any]) -> tuple[np.ndarray, np.ndarray]:
    """Give times (k,) and rims (k, 4) of a clip's marks."""
    rows = mark["rims"]
    return np.array([r["t_s"] for r in rows], float), np.array([r["rim"] for r in rows], float)


def places(
    t_s: np.ndarray, xy: np.ndarray, seen: np.ndarray, mark: dict[str, Any]
) -> tuple[np.ndarray, np.ndarray]:
    """Distance from each marked centre in radii (NaN where the path has no place), and whether it was seen."""
    times, rims = rims_at(mark)
    if not len(t_s):
        return np.full(len(times), np.nan), np.zeros(len(times), bool)
    row = np.array([int(np.argmin(np.abs(t_s - t))) for t in times])
    near = np.abs(t_s[row] - times) < 0.06
    error = np.hypot(*(xy[row] - rims[:, :2]).T) / rims[:, 2]
    return np.where(near, error, np.nan), seen[row] & near


def hands_error(t_s: np.ndarray, xy: np.ndarray, mark: dict[str, Any]) -> float | None:
    """Median distance of the path from the middle of both fists, in plate radii; None without such marks."""
    rows = [r for r in mark["rims"] if len(r.get("fists", ())) == 2]
    if not rows or not len(t_s):
        return None
    out = []
    for r in rows:
        i = int(np.argmin(np.abs(t_s - r["t_s"])))
        out.append(np.hypot(*(xy[i] - np.mean(r["fists"], axis=0))) / r["rim"][2])
    return float(np.nanmedian(out)) if np.isfinite(out).any() else None


def on_path(candidate: tuple[float, float, float], mark: dict[str, Any]) -> bool:
    """Tell whether a candidate lies on the marked rim, the marks joined by lines in time."""
    x, y, at = candidate
    times, rims = rims_at(mark)
    rim = [np.interp(at, times, rims[:, k]) for k in range(4)]
    # between marks the bar may be anywhere between them; at most a radius is granted
    slack = ON_IT if np.abs(times - at).min() < 0.15 else 1.0
    return bool(np.hypot(x - rim[0], y - rim[1]) < slack * rim[2])


def moments(reps: list[dict[str, Any]], marked: list[dict[str, Any]]) -> dict[str, float]:
    """Give the largest error of each moment where both have it, seconds; reps matched in order from the last."""
    worst: dict[str, float] = {}
    for found, true in zip(reps[::-1], marked[::-1], strict=False):
        for key in MOMENTS:
            if key in true and found.get(key) is not None:
                error = found[key] - true[key]
                if abs(error) > abs(worst.get(key, 0.0)):
                    worst[key] = error
        if "top_s" in true and found.get("top_start_s") is not None and found.get("top_end_s") is not None:
            # the marked instant of lockout must lie in the interval found; else by how much it misses
            error = max(found["top_start_s"] - true["top_s"], true["top_s"] - found["top_end_s"], 0.0)
            worst["top_s"] = max(worst.get("top_s", 0.0), error)
    return worst


def table(rows: list[dict[str, Any]]) -> str:
    """Give the rows as text, one clip a line."""
    out = [
        "clip  status     source  seen%  error/R median max  marks seen  hands/R  candidate  diameter  "
        "reps  facing near class  worst moments"
    ]
    for r in rows:
        e = r["error_R"]
        known = np.isfinite(e).any()
        error = f"{np.nanmedian(e):5.2f} {np.nanmax(e):5.2f}" if known else "   -     -  "
        hands = "  -  " if r["hands_R"] is None else f"{r['hands_R']:5.2f}"
        ratio = "  -  " if r["diameter_ratio"] is None else f"{r['diameter_ratio']:5.3f}"
        worst = " ".join(f"{k[:-2]}{v:+.2f}" for k, v in r["moments_s"].items())
        out.append(
            f"{r['clip']:5} {r['status']:10} {r['source']:7} {r['seen_pct']:5.1f}  {error}       "
            f"{r['marks_seen']:2d}/{r['marks']:<2d}      {hands}    {r['candidate_right']!s:5}     {ratio}   "
            f"{r['reps_found']}/{r['reps_marked']}   {r['facing_right']!s:5} {r['near_right']!s:5} "
            f"{r['class_right']!s:5}  {worst}"
        )
    return "\n".join(out)


if __name__ == "__main__":
    main()
