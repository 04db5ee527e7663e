"""Random clips through `midfoot measure`: `python -m lab.bench_clips --seeds 1-200 --difficulty phone --out DIR`.

Draws each set, films it, measures it without a click, scores it against its truth, and keeps one line of JSON a
clip. `--sweep` films `still` sets again and again with one thing changed at a time. `--tables DIR` prints the
tables of lines that are there. Half of the clips are told the plate's diameter.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import tempfile
import time
import traceback
from collections import Counter, defaultdict
from collections.abc import Iterator
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
from attrs import evolve, frozen

from lab.render.recipe import DIFFICULTIES, LIFTS, SetRecipe, recipe
from lab.render.sets import seeds_of
from lab.score_clip import followed, score

SWEEPS: dict[str, tuple[float, ...]] = {
    "yaw_deg": (0, 10, 20, 30, 45, 60), "fps": (24, 30, 60, 120), "long_side_px": (640, 960, 1280, 1920),
    "noise": (1, 4, 8, 14), "shake_deg": (0, 0.1, 0.3, 0.6), "exposure_ms": (0, 8, 16, 33),
    "plate_wrong_pct": (0, 3, 6),
}  # fmt: skip


@frozen
class Job:
    """One clip to be made and measured."""

    name: str
    made: SetRecipe
    told_mm: float | None
    out: Path
    changed: tuple[str, float] | None = None
    keep: bool = False
    finer: float = 1.5


def jobs_of(args: argparse.Namespace) -> Iterator[Job]:
    for seed in args.seeds:
        if not args.sweep:
            made = recipe(seed, args.difficulty, lift=args.lift)
            told = 1000.0 * max(d.diameter_m for d in made.discs) if seed % 2 else None
            yield Job(f"{args.difficulty}-{seed}", made, told, args.out, keep=args.keep, finer=args.finer)
            continue
        base = recipe(seed, "still", lift=LIFTS[seed % 3], reps=2)
        for what, values in SWEEPS.items():
            for value in values:
                made, told = swept(base, what, value)
                yield Job(
                    f"sweep-{what}-{value:g}-{seed}", made, told, args.out, (what, float(value)), finer=args.finer
                )


def swept(base: SetRecipe, what: str, value: float) -> tuple[SetRecipe, float]:
    """Change one thing of a set; gives the set and the diameter that is told, mm."""
    eye, take = evolve(base.eye, width_px=1280, height_px=720, yaw_deg=3.0), base.take
    told = 1000.0 * max(d.diameter_m for d in base.discs)
    if what == "yaw_deg":
        eye = evolve(eye, yaw_deg=value)
    elif what == "fps":
        take = evolve(take, fps=value)
    elif what == "long_side_px":
        eye = evolve(eye, width_px=int(value), height_px=int(2 * round(value * 9 / 32)))
        take = evolve(take, mbit_s=max(take.mbit_s * (value / 1280) ** 2, 1.0))
    elif what == "noise":
        take = evolve(take, noise=value)
    elif what == "shake_deg":
        eye = evolve(eye, rock_deg=value, shift_m=0.02 * value)
    elif what == "exposure_ms":
        take = evolve(take, exposure_s=value / 1000.0)
    else:
        told *= 1.0 + value / 100.0
    return evolve(base, eye=eye, take=take), told


def one_clip(job: Job) -> dict[str, Any]:
    """Make, measure and score one clip; what goes wrong is said in the line and not raised."""
    row: dict[str, Any] = {"name": job.name, "seed": job.made.seed, "changed": job.changed}
    folder = Path(tempfile.mkdtemp(prefix="lab-clips-"))
    try:
        row.update(_measured(job, folder))
    except Exception as error:
        row["failed"] = f"{type(error).__name__}: {error}"
        row["trace"] = traceback.format_exc()[-1500:]
    if job.keep and (row.get("failed") or row.get("followed") in ("wrong", "far end")):
        shutil.copytree(folder, job.out / "kept" / job.name, dirs_exist_ok=True)
    shutil.rmtree(folder, ignore_errors=True)
    job.out.mkdir(parents=True, exist_ok=True)
    (job.out / f"{job.name}.line.json").write_text(json.dumps(row))
    return row


def _measured(job: Job, folder: Path) -> dict[str, Any]:
    import cv2

    from lab.render.sets import write_set
    from midfoot import outputs, pipeline
    from midfoot.records.clip import Asked, Reading

    cv2.setNumThreads(1)
    cards = int(os.environ.get("LAB_EGL_DEVICES", "1"))
    if cards > 1:
        os.environ["LAB_EGL_DEVICE"] = str(os.getpid() % cards)
    begun = time.perf_counter()
    true = write_set(job.made, folder, "clip", finer=job.finer)
    filmed = time.perf_counter()
    request = pipeline.Request(
        clip=folder / "clip.mp4", asked=Asked(true["lift"], plate_mm=job.told_mm),
        reading=Reading(mirrored=true["mirrored"], real_speed=true["real_speed"]),
    )  # fmt: skip
    found = pipeline.measure_clip(request)
    (folder / "measured").mkdir()
    outputs.write_numbers(found, folder / "measured")
    measurement = json.loads((folder / "measured" / "measurement.json").read_text())
    body = None
    if (folder / "measured" / "body.npz").exists():
        with np.load(folder / "measured" / "body.npz") as kept:
            body = dict(kept)
    made = job.made
    row = {
        "lift": true["lift"], "variation": true["variation"], "yaw_deg": true["camera"]["yaw_deg"],
        "told": job.told_mm,
        "fps": true["fps"], "frames": len(true["t_s"]), "size_px": [true["width_px"], true["height_px"]],
        "discs": [d.diameter_m for d in made.discs], "others": [w for _, w in made.around.others],
        "post": bool(made.around.posts), "caption": made.take.caption, "mirrored": true["mirrored"],
        "blurred": made.take.exposure_s > 0, "rolling": made.take.readout_s > 0, "bend": made.eye.bend,
        "pan_deg": made.eye.pan_deg, "zoom": made.eye.zoom, "lower": made.eye.lower, "gain": made.take.gain,
        "film_s": round(filmed - begun, 1), "measure_s": round(time.perf_counter() - filmed, 1),
    }  # fmt: skip
    row.update(score(measurement, true, body))
    row["followed"] = followed(row)
    return row


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seeds", type=seeds_of, default="1-12")
    parser.add_argument("--difficulty", choices=DIFFICULTIES, default="phone")
    parser.add_argument("--lift", choices=LIFTS)
    parser.add_argument("--sweep", action="store_true")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=0.0, help="stop after so long; 0 goes on to the end")
    parser.add_argument("--finer", type=float, default=1.5, help="draw so many times finer than the picture")
    parser.add_argument("--keep", action="store_true", help="keep clips that went wrong")
    parser.add_argument("--out", type=Path, default=Path("out/clips"))
    parser.add_argument("--tables", type=Path, help="print the tables of a folder of lines and do nothing else")
    args = parser.parse_args()
    if args.tables:
        print(tables([json.loads(p.read_text()) for p in sorted(args.tables.rglob("*.line.json"))]))
        return
    begun, rows = time.monotonic(), []
    with get_context("spawn").Pool(args.jobs, maxtasksperchild=4) as pool:
        for row in pool.imap_unordered(one_clip, list(jobs_of(args))):
            rows.append(row)
            said = row.get("failed") or f"{row['followed']}, reps {row['reps_found']} of {row['reps_true']}"
            print(f"{len(rows)} {row['name']}: {said}", flush=True)
            if args.seconds and time.monotonic() - begun > args.seconds:
                pool.terminate()
                break
    print(tables(rows))


def tables(rows: list[dict[str, Any]]) -> str:
    """All tables of some lines."""
    good = [r for r in rows if "failed" not in r]
    random, sweep = [r for r in good if not r["changed"]], [r for r in good if r["changed"]]
    parts = [f"{len(good)} clips measured, {len(rows) - len(good)} failed: "
             + ", ".join(sorted({r["failed"][:80] for r in rows if "failed" in r}))]  # fmt: skip
    if random:
        parts += [found_table(random), error_table(random), coverage_table(random), wrong_list(random)]
    if sweep:
        parts.append(sweep_table(sweep))
    return "\n\n".join(parts)


def kind(row: dict[str, Any]) -> str:
    """Kind of view by the true yaw: side, front or rear oblique, front or rear."""
    yaw = row["yaw_deg"]
    if abs(yaw) <= 10:
        return "side"
    if abs(yaw) <= 60:
        return "front oblique" if yaw > 0 else "rear oblique"
    return "front or rear"


def groups(rows: list[dict[str, Any]]) -> list[tuple[str, list[dict[str, Any]]]]:
    by: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        by[f"{row['name'].split('-')[0]}, {kind(row)}"].append(row)
    return sorted(by.items())


def found_table(rows: list[dict[str, Any]]) -> str:
    lines = ["| clips | n | near plate | hands | unsure | not found | far end | wrong | frames seen | "
             "reps exact | false reps | lifter right | near side right, wrong |",
             "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |"]  # fmt: skip
    for name, some in groups(rows):
        count, n = Counter(r["followed"] for r in some), len(some)
        seen = [r["seen_pct"] for r in some if r["followed"] == "right"]
        exact = sum(r["reps_found"] == r["reps_true"] == r["reps_matched"] for r in some)
        false = sum(r["reps_found"] - r["reps_matched"] for r in some)
        people = [r["lifter_right"] for r in some if r["lifter_right"] is not None]
        told = sum(r["near_side_told"] and not r["near_side_right"] for r in some)
        cells = [f"{100 * count[k] / n:.0f} %" for k in ("right", "hands", "unsure", "not found")]
        cells += [str(count[k]) for k in ("far end", "wrong")]
        lines.append(
            f"| {name} | {n} | " + " | ".join(cells) + f" | {np.median(seen) if seen else np.nan:.1f} % | "
            f"{100 * exact / n:.0f} % | {false} | {100 * np.mean(people) if people else np.nan:.0f} % | "
            f"{100 * np.mean([r['near_side_right'] for r in some]):.0f} %, {told} |"
        )
    return "\n".join(lines)


def error_table(rows: list[dict[str, Any]]) -> str:
    """Median and 90th percentile over clips on which the near plate was followed."""
    lines = ["| clips | n | forward about each rep's start, rms mm | up, rms mm | range, % | mean velocity, m/s | "
             "peak velocity, m/s | worst moment, s |",
             "| --- | --- | --- | --- | --- | --- | --- | --- |"]  # fmt: skip
    for name, some in groups(rows):
        right = [r for r in some if r["followed"] == "right"]
        if not right:
            continue
        lines.append(f"| {name} | {len(right)} | " + " | ".join([
            _spread([r.get("forward_rms_mm") for r in right], 1), _spread([r.get("up_rms_mm") for r in right], 1),
            _spread([_pct(r) for r in right], 1), _spread(_errors(right, "ascent_mean_velocity_m_s"), 3),
            _spread(_errors(right, "ascent_peak_velocity_m_s"), 3),
            _spread([r.get("worst_moment_s") for r in right], 3),
        ]) + " |")  # fmt: skip
    return "\n".join(lines) + "\n\nMedian; 90th percentile, of the sizes of the errors."


def _pct(row: dict[str, Any]) -> float | None:
    error = row["errors"].get("range_of_motion_mm")
    return None if error is None else 100.0 * abs(error) / row["range_true_mm"]


def _errors(rows: list[dict[str, Any]], name: str) -> list[float | None]:
    return [abs(r["errors"][name]) if name in r["errors"] else None for r in rows]


def _spread(values: list[float | None], digits: int) -> str:
    known = [v for v in values if v is not None and np.isfinite(v)]
    if not known:
        return "–"
    return f"{np.median(known):.{digits}f}; {np.percentile(known, 90):.{digits}f}"


def coverage_table(rows: list[dict[str, Any]]) -> str:
    """Share of clips within two stated sd, one vote a clip, and how sharp the sd is."""
    lines = ["| quantity | clips | bias | rms error | stated sd, median | within 2 sd | sd / rms |",
             "| --- | --- | --- | --- | --- | --- | --- |"]  # fmt: skip
    right = [r for r in rows if r["followed"] == "right"]
    names = sorted({n for r in right for n in r["sds"]})
    for name in names:
        votes = np.array([(r["errors"][name], r["sds"][name]) for r in right if name in r["sds"]])
        if len(votes) < 8:
            continue
        rms = float(np.sqrt(np.mean(votes[:, 0] ** 2)))
        inside = 100 * float(np.mean(np.abs(votes[:, 0]) <= 2 * votes[:, 1]))
        sd = float(np.median(votes[:, 1]))
        lines.append(f"| {name} | {len(votes)} | {votes[:, 0].mean():.3g} | {rms:.3g} | {sd:.3g} | "
                     f"{inside:.0f} % | {sd / max(rms, 1e-9):.2f} |")  # fmt: skip
    for k, way in enumerate(("forward", "up")):
        shares = [r["random_inside_pct"][k] for r in right if "random_inside_pct" in r]
        sizes = [(r["random_rms_mm"][k], r["random_sd_mm"][k]) for r in right if "random_inside_pct" in r]
        if shares:
            rms, sd = (float(np.median([s[i] for s in sizes])) for i in (0, 1))
            lines.append(f"| {way}, random part, frames | {len(shares)} |  | {rms:.2g} | {sd:.2g} | "
                         f"{np.mean(shares):.0f} % | {sd / max(rms, 1e-9):.2f} |")  # fmt: skip
    return "\n".join(lines)


def wrong_list(rows: list[dict[str, Any]]) -> str:
    """Clips in which something that is not the near plate was followed as if it were, and false reps."""
    out = []
    for r in rows:
        extra = r["reps_found"] - r["reps_matched"]
        if r["followed"] in ("wrong", "far end") or extra > 0:
            out.append(f"- {r['name']} ({r['lift']}, {r['variation']}, yaw {r['yaw_deg']:.0f}): {r['followed']}, "
                       f"on the near plate {r.get('on_near_pct', 0):.0f} %, far {r.get('on_far_pct', 0):.0f} %, "
                       f"reps {r['reps_found']} of {r['reps_true']}, {extra} false")  # fmt: skip
    return "\n".join(["Wrong tracks and false reps:", *(out or ["- none"])])


def sweep_table(rows: list[dict[str, Any]]) -> str:
    """One line for each value of each thing changed; medians over the sets."""
    lines = ["| changed | value | clips | near plate | forward rms mm | up rms mm | range error % | "
             "mean velocity m/s | worst moment s |",
             "| --- | --- | --- | --- | --- | --- | --- | --- | --- |"]  # fmt: skip
    by: dict[tuple[str, float], list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        by[row["changed"][0], row["changed"][1]].append(row)
    for (what, value), some in sorted(by.items()):
        right = [r for r in some if r["followed"] == "right"]
        cells = [
            _spread([r.get("forward_rms_mm") for r in right], 1), _spread([r.get("up_rms_mm") for r in right], 1),
            _spread([_pct(r) for r in right], 1), _spread(_errors(right, "ascent_mean_velocity_m_s"), 3),
            _spread([r.get("worst_moment_s") for r in right], 3),
        ]  # fmt: skip
        lines.append(f"| {what} | {value:g} | {len(some)} | {len(right)} | " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n\nMedian; 90th percentile."


if __name__ == "__main__":
    main()
