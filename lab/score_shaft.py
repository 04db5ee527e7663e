"""The bar by its shaft beside the hands alone: `python -m lab.score_shaft --seeds 8001-8024 --jobs 2 --out DIR`.

Draws random sets as filmed from the front and the rear (65 to 90 degrees off the side), measures each as the
program does and once more with the shaft left out, and holds both against the truth. One line of JSON a clip;
`--tables DIR` reads lines again.
"""

from __future__ import annotations

import argparse
import json
import shutil
import tempfile
import time
import traceback
from multiprocessing import get_context
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
from attrs import evolve
from numpy.typing import NDArray

from lab.render.recipe import LIFTS, SetRecipe, recipe
from lab.render.sets import seeds_of

Array = NDArray[np.float64]
STEEPEST, LEAST = 90.0, 65.0


def made(seed: int) -> SetRecipe:
    """A phone's clip of a set, or for every third seed a hard one, turned to the front or the rear."""
    base = recipe(seed, "hard" if seed % 3 == 0 else "phone", lift=LIFTS[seed // 3 % 3], reps=1 + seed % 2)
    yaw = LEAST + (STEEPEST - LEAST) * (0.618 * seed % 1)
    take = evolve(base.take, mirrored=False, real_speed=1.0)
    return evolve(base, eye=evolve(base.eye, yaw_deg=yaw if seed % 2 else -yaw), take=take)


def one(job: tuple[int, Path]) -> dict[str, Any]:
    """Draw, measure twice and score one clip; what goes wrong is said in the line."""
    seed, out = job
    row: dict[str, Any] = {"seed": seed}
    folder = Path(tempfile.mkdtemp(prefix="lab-shaft-"))
    try:
        row.update(_measured(seed, folder))
    except Exception as error:
        row["failed"] = f"{type(error).__name__}: {error}"
        row["trace"] = traceback.format_exc()[-1000:]
    shutil.rmtree(folder, ignore_errors=True)
    out.mkdir(parents=True, exist_ok=True)
    (out / f"shaft-{seed}.line.json").write_text(json.dumps(row, default=float))
    return row


def _measured(seed: int, folder: Path) -> dict[str, Any]:
    import cv2

    from lab.render.sets import write_set
    from midfoot import bar, pipeline
    from midfoot.records.clip import Asked

    cv2.setNumThreads(1)
    asked = made(seed)
    true = write_set(asked, folder, "clip", finer=1.0)
    told = 1000.0 * max(d.diameter_m for d in asked.discs) if seed % 2 else None
    request = pipeline.Request(clip=folder / "clip.mp4", asked=Asked(true["lift"], plate_mm=told))
    row: dict[str, Any] = {"lift": true["lift"], "yaw_deg": true["camera"]["yaw_deg"],
                           "near_side": true["camera"]["near_side"], "reps_true": len(true["events"])}  # fmt: skip
    row["shaft"] = _scored(pipeline.measure_clip(request), true)
    if row["shaft"]["source"] == "shaft":
        with patch.object(bar.Shaft, "worth", False):
            row["without"] = _scored(pipeline.measure_clip(request), true)
    return row


def _scored(found: Any, true: dict[str, Any]) -> dict[str, Any]:
    """Errors of one measurement; heights about each true rep's start, worst rep."""
    data = found.data
    track, path, view = data.track, data.path, data.view
    out: dict[str, Any] = {
        "status": track.status, "source": track.source,
        "seen": float(track.seen.mean()) if len(track.seen) else 0.0,
        "reps": len(data.reps.reps), "yaw": [view.yaw_deg.value, view.yaw_deg.sd], "near_side": view.near_side,
        "view": view.view_class, "ends": track.near_xy_px is not None,
    }  # fmt: skip
    if path is None:
        return out
    t = np.array(true["t_s"])
    # of the bar's middle; of the near disc where that was followed
    height = np.interp(path.t_s, t, np.array(true["near_mm" if track.source == "plate" else "bar_mm"])[:, 1])
    rms, own, ranges, inside, scales = [], [], [], [], []
    for event in true["events"]:
        rows = (path.t_s >= event["start_s"] - 0.1) & (path.t_s <= event["end_s"] + 0.1) & path.seen
        rows &= np.isfinite(path.up_mm)
        if rows.sum() < 10:
            continue
        up, truth = path.up_mm[rows], height[rows]
        rms.append(_rms((up - up[:5].mean()) - (truth - truth[:5].mean())))
        line = np.polyfit(truth, up, 1)
        off = (up - np.polyval(line, truth)) / line[0]
        own.append(_rms(off))
        inside.append(float(np.mean(np.abs(off) <= 2 * path.sd_up_mm[rows])))
        scales.append(float(line[0]))
        ranges.append(100.0 * float(np.ptp(up) / np.ptp(truth) - 1.0))
    if rms:
        out.update(
            up_rms_mm=max(rms), up_own_rms_mm=max(own), range_pct=max(ranges, key=abs),
            inside=float(np.mean(inside)),
            scale_pct=100.0 * (float(np.median(scales)) - 1.0), scale_sd_pct=path.scale_pct,
            sd_up_mm=float(np.nanmedian(path.sd_up_mm)),
        )  # fmt: skip
    if track.near_xy_px is not None:
        near, far = (np.stack([np.interp(track.t_s, t, np.array(true[k])[:, i]) for i in (0, 1)], axis=1)
                     for k in ("near_px", "far_px"))  # fmt: skip
        off = _slope_deg(track.far_xy_px - track.near_xy_px) - _slope_deg(far - near)
        off = off[np.isfinite(off)]
        out["slope_deg"] = [float(np.median(off)), 1.4826 * float(np.median(np.abs(off - np.median(off))))]
    return out


def _slope_deg(way: Array) -> Array:
    return np.degrees(np.arctan(way[:, 1] / way[:, 0]))


def _rms(values: Array) -> float:
    return float(np.sqrt(np.mean(values**2)))


def tables(rows: list[dict[str, Any]]) -> str:
    """What was followed, and the errors with and without the shaft on the clips where it was."""
    done = [r for r in rows if "shaft" in r]
    counts: dict[str, int] = {}
    for r in done:
        what = r["shaft"]["source"] if r["shaft"]["status"] == "found" else r["shaft"]["status"]
        counts[what] = counts.get(what, 0) + 1
    lines = [f"{len(done)} clips: " + ", ".join(f"{k} {v}" for k, v in sorted(counts.items())), "",
             "| clip | lift | yaw | reps | up rms, mm | own scale | range, % | scale, % (sd) | within 2 sd | "
             "yaw found (sd) | near side | slope, degrees: bias, sd | without: up rms, own scale, range |",
             "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |"]  # fmt: skip
    for r in done:
        s = r["shaft"]
        if s["source"] != "shaft" or "up_rms_mm" not in s:
            continue
        w = r.get("without", {})
        side = "unknown" if s["near_side"] is None else "right" if s["near_side"] == r["near_side"] else "WRONG"
        slope = "–" if "slope_deg" not in s else "{:.2f}, {:.2f}".format(*s["slope_deg"])
        less = f"{w['up_rms_mm']:.0f}, {w['up_own_rms_mm']:.1f}, {w['range_pct']:.0f}" if "up_rms_mm" in w else "–"
        lines.append(
            f"| {r['seed']} | {r['lift']} | {r['yaw_deg']:.0f} | {s['reps']} of {r['reps_true']} | "
            f"{s['up_rms_mm']:.0f} | {s['up_own_rms_mm']:.1f} | {s['range_pct']:.1f} | "
            f"{s['scale_pct']:.1f} ({s['scale_sd_pct']:.1f}) | {100 * s['inside']:.0f} % | "
            f"{s['yaw'][0]:.0f} ({s['yaw'][1]:.0f}) | {side} | {slope} | {less} |"
        )
    return "\n".join(lines)


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seeds", type=seeds_of, default=seeds_of("8001-8024"))
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=1e9, help="no further clip is waited for after so long")
    parser.add_argument("--out", type=Path, default=Path("out/shaft"))
    parser.add_argument("--tables", type=Path)
    args = parser.parse_args()
    if args.tables is None:
        end = time.monotonic() + args.seconds
        with get_context("spawn").Pool(args.jobs, maxtasksperchild=1) as pool:
            for row in pool.imap_unordered(one, [(seed, args.out) for seed in args.seeds]):
                print(row["seed"], row.get("failed") or row["shaft"]["source"], flush=True)
                if time.monotonic() > end:
                    pool.terminate()
                    break
    folder = args.tables or args.out
    print(tables([json.loads(p.read_text()) for p in sorted(folder.glob("shaft-*.line.json"))]))


if __name__ == "__main__":
    main()
