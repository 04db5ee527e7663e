"""Random clips through `midfoot measure`: `python -m lab.bench_clips --phone 1-200 --planted 1-300 --jobs 2`.

Draws each set, films it, measures it without a click, scores it against its truth, and keeps one line of JSON a
clip; a clip whose line is there already is not made again. `--phone`, `--hard` and `--still` are random sets,
every second one told the plate's diameter; `--planted` are sets of 3 or 4 reps, half of which have a fault,
`--sweep` sets with one thing changed at a time. `--tables DIR` prints the tables of lines that are there.
"""

from __future__ import annotations

import argparse
import json
import time
from collections import Counter, defaultdict
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np

from lab.bench_planted import planted_tables
from lab.clip_jobs import Job, mixed, planted_jobs, random_jobs, sweep_jobs
from lab.one_clip import Bench
from lab.render.recipe import DIFFICULTIES, LIFTS
from lab.render.sets import seeds_of
from lab.smallest_change import smallest_change_table

A_WORKERS_CLIPS = 12
"""A worker is made anew after so many clips, so that what drawing leaves behind goes."""


def jobs_of(args: argparse.Namespace) -> list[Job]:
    """Give the jobs that were asked for and whose line is not there yet, each kind's share in every stretch."""
    parts = [list(random_jobs(getattr(args, d), d, args.lift)) for d in DIFFICULTIES if getattr(args, d)]
    parts += [
        list(make(seeds)) for make, seeds in ((planted_jobs, args.planted), (sweep_jobs, args.sweep)) if seeds
    ]
    bench = Bench(args.out)
    return [job for job in mixed(parts) if not bench.line(job).exists()]


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    for kind in (*DIFFICULTIES, "planted", "sweep"):
        parser.add_argument(f"--{kind}", type=seeds_of, metavar="SEEDS", help="such as 1-200")
    parser.add_argument("--lift", choices=LIFTS, help="of the random sets")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=0.0, help="stop after so long; 0 goes on to the end")
    parser.add_argument("--finer", type=float, default=1.5, help="draw so many times finer than the picture")
    parser.add_argument("--keep", action="store_true", help="keep clips that are worth a look")
    parser.add_argument("--films", type=Path, help="keep every clip there, and take those that are there")
    parser.add_argument("--out", type=Path, default=Path("out/clips"))
    parser.add_argument("--tables", type=Path, help="print the tables of a folder of lines and do nothing else")
    args = parser.parse_args()
    if args.tables:
        print(tables(lines_of(args.tables)))
        return
    jobs, begun = jobs_of(args), time.monotonic()
    with get_context("spawn").Pool(args.jobs, maxtasksperchild=A_WORKERS_CLIPS) as pool:
        for k, row in enumerate(
            pool.imap_unordered(Bench(args.out, args.finer, args.keep, args.films), jobs), start=1
        ):
            said = row.get("failed") or f"{row['followed']}, reps {row['reps_found']} of {row['reps_true']}"
            took = f", {row['film_s']:.0f} + {row['measure_s']:.0f} s" if "film_s" in row else ""
            print(f"{k} of {len(jobs)} {row['name']}: {said}{took}", flush=True)
            if args.seconds and time.monotonic() - begun > args.seconds:
                pool.terminate()
                break
    print(tables(lines_of(args.out)))


def lines_of(folder: Path) -> list[dict[str, Any]]:
    """Read the lines that a folder holds; other benches' lines there, which name no clip, are left out."""
    rows = [json.loads(p.read_text()) for p in sorted(folder.rglob("*.line.json"))]
    return [row for row in rows if "name" in row]


def tables(rows: list[dict[str, Any]]) -> str:
    """All tables of some lines."""
    good = [r for r in rows if "failed" not in r]
    planted = [r for r in good if r["name"].startswith("planted")]
    random = [r for r in good if not r["changed"] and r not in planted]
    sweep = [r for r in good if r["changed"]]
    parts = [f"{len(good)} clips measured, {len(rows) - len(good)} failed: "
             + ", ".join(sorted({r["failed"][:80] for r in rows if "failed" in r}))]  # fmt: skip
    if random:
        parts += [found_table(random), error_table(random), coverage_table(random), wrong_list(random)]
    if planted:
        parts += planted_tables(planted)
    if random or planted:
        followed = [r for r in random + planted if r["followed"] == "right"]
        parts.append(smallest_change_table([{**r, "measures": r["all"], "view": kind(r)} for r in followed]))
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
