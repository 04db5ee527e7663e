"""The bar stage beside general trackers: `python -m lab.bench_trackers [--clips FOLDER] [--out DIR] [NAME ...]`.

OpenCV's contrib trackers and plain Lucas-Kanade flow are put on the true plate in the first frame; midfoot's bar
stage finds the plate by itself. All see the same decoded frames of the same clip in one run. Places are compared
with the true centre of the near disc's face in pixels, so that no scale comes into it, and turned into mm with the
true scale there. Seconds are the processor's, over all threads, without decoding.

The contrib build of OpenCV cannot share an environment with midfoot's, so it gets one of its own, made on the
first run from the package registry at the version below.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from itertools import islice
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from lab.score import mm_per_px_of
from midfoot import bar, body, footage
from midfoot.records.clip import Asked, Frame

CONTRIB = "opencv-contrib-python-headless==5.0.0.93"
TRACKERS = ("CSRT", "KCF", "MIL", "MOSSE")
FLOW, OURS, OURS_FOLLOWING = "flow", "midfoot", "midfoot, following alone"
BATCH = 48


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--clips", type=Path, default=Path("../shared/clips/rendered"))
    parser.add_argument("--out", type=Path, default=Path("out/trackers"))
    parser.add_argument("--cache", type=Path, default=None, help="where the contrib environment is kept")
    parser.add_argument("names", nargs="*")
    args = parser.parse_args()
    python = contrib_python(args.cache or cache_folder())
    rows = []
    for truth_path in sorted(args.clips.glob("*.json")):
        if args.names and truth_path.stem not in args.names:
            continue
        rows.append(compare(truth_path.with_suffix(".mp4"), json.loads(truth_path.read_text()), python))
        print(f"{truth_path.stem}: {json.dumps(rows[-1]['by'])}", file=sys.stderr)
    args.out.mkdir(parents=True, exist_ok=True)
    (args.out / "trackers.json").write_text(json.dumps(rows, indent=1))
    print(table(rows))


def cache_folder() -> Path:
    """Give the folder for what a run may keep."""
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "midfoot-lab"


def contrib_python(cache: Path) -> Path:
    """Give the Python of the environment with OpenCV's contrib build; makes it the first time."""
    home = cache / CONTRIB.replace("==", "-")
    python = home / "bin" / "python"
    done = home / "done"
    if not done.exists():
        subprocess.run([sys.executable, "-m", "venv", "--clear", str(home)], check=True)
        install = [str(python), "-m", "pip", "install", "--quiet", "--only-binary=:all:", CONTRIB]
        subprocess.run(install, check=True)
        done.touch()
    return python


def compare(clip: Path, truth: dict[str, Any], python: Path) -> dict[str, Any]:
    """Run everything on one clip; gives errors, shares and seconds by name."""
    info = footage.probe(clip)
    true = TrueDisc(truth)
    stage = BarStage(clip, truth["lift"])
    flow = Flow(*true.at(0.0), true.radius_px)
    x, y = true.at(0.0)
    half_w, half_h = true.radius_px * true.aspect, true.radius_px
    left, top = max(x - half_w, 0.0), max(y - half_h, 0.0)
    right, bottom = min(x + half_w, info.width_px - 1.0), min(y + half_h, info.height_px - 1.0)
    asked = {"height": info.height_px, "width": info.width_px, "trackers": TRACKERS,
             "box": [left, top, right - left, bottom - top]}  # fmt: skip
    run = [str(python), str(Path(__file__).with_name("contrib_trackers.py"))]
    process = subprocess.Popen(run, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert process.stdin is not None
    process.stdin.write(json.dumps(asked).encode() + b"\n")
    times = []
    for batch in _batches(footage.frames(clip)):
        for frame in batch:
            times.append(frame.t_s)
            process.stdin.write(np.ascontiguousarray(frame.rgb()[..., ::-1]).tobytes())
        stage.first_look(batch)
        flow.see(batch)
    out, _ = process.communicate()
    answer = json.loads(out)
    t = np.array(times)
    by: dict[str, Any] = {}
    for name, got in answer["trackers"].items():
        xy = np.array([[np.nan, np.nan] if p is None else p for p in got["xy"]], float)
        by[name] = {**true.errors(t, xy), "cpu_ms_frame": 1000 * got["cpu_s"] / (len(t) - 1)}
    by[FLOW] = {**true.errors(t, np.array(flow.xy)), "cpu_ms_frame": 1000 * flow.cpu_s / (len(t) - 1)}
    track = stage.second_look()
    xy = np.where(track.seen[:, None], track.xy_px, np.nan)
    ours = true.errors(track.t_s, xy)
    by[OURS] = {**ours, "cpu_ms_frame": 1000 * sum(stage.cpu_s.values()) / len(t)}
    by[OURS_FOLLOWING] = {**ours, "cpu_ms_frame": 1000 * stage.cpu_s["following"] / len(t)}
    errors = {name: got["error"] for name, got in answer["trackers"].items() if "error" in got}
    return {"clip": clip.stem, "errors": errors, "frames": len(t), "contrib": answer["opencv"],
            "bar_stage_cpu_s": {k: round(v, 2) for k, v in stage.cpu_s.items()},
            "by": {k: {n: round(v, 3) for n, v in row.items()} for k, row in by.items()}}  # fmt: skip


class TrueDisc:
    """The near disc's face by a clip's truth file."""

    def __init__(self, truth: dict[str, Any]) -> None:
        azimuth = truth["camera"]["azimuth"]
        self._t = np.array(truth["t"])
        self._xy = np.array(truth["end_px"])[:, 0 if abs(azimuth) <= 90 else 1]
        self.mm_per_px = mm_per_px_of(truth)
        self.radius_px = truth["plate_diameter_m"] * 500.0 / self.mm_per_px
        self.aspect = abs(float(np.cos(np.radians(azimuth))))

    def at(self, t_s: float) -> tuple[float, float]:
        return float(np.interp(t_s, self._t, self._xy[:, 0])), float(np.interp(t_s, self._t, self._xy[:, 1]))

    def errors(self, t_s: np.ndarray, xy: np.ndarray) -> dict[str, float]:
        """Rms after the mean offset is removed, of the frames with an answer; shares of frames.

        `on_plate_pct` counts the frames whose answer lies within half a radius of the true centre.
        """
        true = np.column_stack([np.interp(t_s, self._t, self._xy[:, k]) for k in (0, 1)])
        off = xy - true
        known = np.isfinite(off).all(axis=1)
        near = known & (np.hypot(*np.nan_to_num(off, nan=1e9).T) < self.radius_px / 2)
        rms = (off[known] - off[known].mean(axis=0)) * self.mm_per_px if known.any() else off[known]
        forward, up = np.sqrt((rms**2).mean(axis=0)) if known.any() else (np.nan, np.nan)
        return {
            "forward_rms_mm": float(forward),
            "up_rms_mm": float(up),
            "answered_pct": 100.0 * float(known.mean()),
            "on_plate_pct": 100.0 * float(near.mean()),
        }


class Flow:
    """Pyramidal Lucas-Kanade on corners inside the plate, moved by the median step; new ones when few are left."""

    def __init__(self, x: float, y: float, radius_px: float) -> None:
        self.xy: list[tuple[float, float]] = [(x, y)]
        self.cpu_s = 0.0
        self._radius = radius_px
        self._before: np.ndarray | None = None
        self._points = np.zeros((0, 1, 2), np.float32)

    def see(self, batch: Iterable[Frame]) -> None:
        begun = time.process_time()
        for frame in batch:
            if self._before is not None:
                self._step(self._before, frame.luma)
            self._before = frame.luma
        self.cpu_s += time.process_time() - begun

    def _step(self, before: np.ndarray, now: np.ndarray) -> None:
        if len(self._points) < 20:
            mask = np.zeros_like(before)
            place = (round(self.xy[-1][0]), round(self.xy[-1][1]))
            cv2.circle(mask, place, round(0.95 * self._radius), 255, -1)
            found = cv2.goodFeaturesToTrack(before, 60, 0.01, 4, mask=mask)
            self._points = np.zeros((0, 1, 2), np.float32) if found is None else found
        if not len(self._points):
            self.xy.append(self.xy[-1])
            return
        moved, ok, _ = cv2.calcOpticalFlowPyrLK(before, now, self._points, None, winSize=(21, 21), maxLevel=3)
        kept = ok.ravel() == 1
        step = np.median((moved - self._points)[kept, 0], axis=0) if kept.any() else np.zeros(2)
        self.xy.append((self.xy[-1][0] + float(step[0]), self.xy[-1][1] + float(step[1])))
        self._points = moved[kept]


class BarStage:
    """midfoot's bar stage on one clip, each part's processor time apart; nobody shows it the plate."""

    def __init__(self, clip: Path, lift: str) -> None:
        self._clip, self._lift = clip, lift
        self._info = footage.probe(clip)
        self._scout = bar.Scout(self._info)
        self._people = body.PeopleScout(body.ensure_models(None), self._info, lift=lift)
        self.cpu_s = {"looking for discs": 0.0, "linking": 0.0, "learning the plate": 0.0, "following": 0.0}

    def first_look(self, batch: list[Frame]) -> None:
        self._timed("looking for discs", lambda: [self._scout.see(frame) for frame in batch])
        for frame in batch:
            self._people.see(frame)

    def second_look(self) -> Any:
        """Link, learn, follow; gives the track."""
        people = self._people.result()
        asked = Asked(self._lift)

        def link() -> Any:
            self._seen = self._scout.result()
            return bar.link(self._seen, people, lift=asked.lift, info=self._info, tap=None)

        found = self._timed("linking", link)
        if not found:
            raise SystemExit(f"{self._clip.name}: no plate was found; this clip cannot be compared")
        follower = bar.Follower(self._info, found[0], self._seen)
        while follower.sample_times_s:
            chosen = list(footage.frames_at(self._clip, follower.sample_times_s))
            self._timed("learning the plate", lambda chosen=chosen: follower.learn(chosen))
        for batch in _batches(footage.frames(self._clip)):
            self._timed("following", lambda batch=batch: [follower.see(frame) for frame in batch])
        return self._timed("following", follower.result)

    def _timed(self, part: str, work: Callable[[], Any]) -> Any:
        begun = time.process_time()
        out = work()
        self.cpu_s[part] += time.process_time() - begun
        return out


def _batches(frames: Iterator[Frame]) -> Iterator[list[Frame]]:
    """Some decoded frames at a time, so that decoding stays outside of what is timed."""
    while batch := list(islice(frames, BATCH)):
        _settle()
        yield batch


def _settle() -> None:
    """Wait until the decoder's own threads, which run a few frames ahead, have come to rest."""
    for _ in range(50):
        begun = time.process_time()
        time.sleep(0.01)
        if time.process_time() - begun < 0.002 or threading.active_count() > 64:
            return


def table(rows: list[dict[str, Any]]) -> str:
    """One line per clip and name: error, share of frames, time, and how many times midfoot's bar stage takes."""
    lines = ["| clip | by | forward / up rms mm | answered / on the plate % | CPU ms a frame | times midfoot's |",
             "| --- | --- | --- | --- | --- | --- |"]  # fmt: skip
    for row in rows:
        ours = row["by"][OURS]["cpu_ms_frame"]
        for name, r in row["by"].items():
            lines.append(
                f"| {row['clip']} | {name} | {r['forward_rms_mm']:.1f} / {r['up_rms_mm']:.1f} | "
                f"{r['answered_pct']:.0f} / {r['on_plate_pct']:.0f} | {r['cpu_ms_frame']:.2f} | "
                f"{r['cpu_ms_frame'] / ours:.2f} |"
            )
    return "\n".join(lines)


if __name__ == "__main__":
    main()
