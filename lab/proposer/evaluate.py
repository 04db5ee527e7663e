"""Measure the packaged proposer on clips with known or hand-marked plates; draw contact sheets of stills.

python -m proposer.evaluate --rendered DIR --real DIR --marks FILE --scales 640 640,960 [--stills DIR --sheets DIR]
python -m proposer.evaluate --ranks --rendered DIR --real DIR --marks FILE --stills DIR --frames DIR
                            [--network FILE]

A plate counts as among the boxes when a box's centre lies within half a half-axis and its half-axis within a
factor 1.6 of the mark. Changes: as filmed, mirrored, darkened to a third with noise, cut to the middle 80 %.
`--ranks` prints by group how high the near plate stands among the boxes, and how many boxes are on neither end of
the bar; FRAMES is what frames.py makes, `--network` another network than the packaged one.
"""

from __future__ import annotations

import argparse
import json
import math
import time
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path

import cv2
import numpy as np

from midfoot.bar.proposer import Proposer
from midfoot.footage import frames_at
from midfoot.records.bar import Box

HEAD = (
    "| clip | frames | near plate among the boxes | it is the top box | centre error / R | radius ratio "
    "| its score | other boxes a frame | ms a frame |"
)
RANKS_HEAD = (
    "| group | frames | near plate the top box | in the first 3 | in the first 8 | anywhere | score > 0.3 "
    "| centre error / R | size error | far plate anywhere | boxes on neither end, score > 0.3 | > 0.12 |"
)
Place = tuple[float, float, float]
Sample = tuple[str, np.ndarray, Place]
Ends = tuple[str, np.ndarray, Place | None, Place | None]


def rendered(folder: Path, count: int) -> Iterator[Sample]:
    """Frames of the rendered clips with centre and half-axis of the near plate's face."""
    for truth_file in sorted(folder.glob("*.json")):
        truth = json.loads(truth_file.read_text())
        t = np.array(truth["t"])
        camera = truth["camera"]
        toward = math.cos(math.radians(camera["azimuth"]))
        near = 0 if toward > 0 else 1
        px_per_m = truth["px_per_m_at_plate"]  # of the +x end, whichever end is near
        if near:
            focal_px = truth["size"][1] / 2 / math.tan(math.radians(camera["vfov"]) / 2)
            px_per_m = focal_px / (focal_px / px_per_m + 2 * truth["plate_face_x_m"] * toward)
        radius = px_per_m * truth["plate_diameter_m"] / 2
        at = t[np.linspace(0.04 * len(t), 0.96 * len(t), count).astype(int)]
        for frame in frames_at(truth_file.with_suffix(".mp4"), at.tolist()):
            x, y = truth["end_px"][int(np.abs(t - frame.t_s).argmin())][near]
            yield truth_file.stem, frame.rgb(), (x, y, radius)


def real(folder: Path, marks: Path) -> Iterator[Sample]:
    """Frames of the real clips whose near plate is marked by hand."""
    for label, clip in tomllib.loads(marks.read_text()).items():
        if clip.get("kind") != "plate" or not (folder / f"{label}.mp4").exists():
            continue
        rows = {row["t_s"]: row["rim"] for row in clip["rims"]}
        for t_s, frame in zip(sorted(rows), frames_at(folder / f"{label}.mp4", sorted(rows))):
            yield label, frame.rgb(), tuple(rows[t_s][:3])


def stills(folder: Path) -> Iterator[Ends]:
    """Stills with hand marks of both ends of a loaded bar (stills.json), and those where none shows a face."""
    marks = json.loads((Path(__file__).parent / "stills.json").read_text())
    for path in sorted(folder.glob("*.jpg")):
        rgb = np.ascontiguousarray(cv2.imread(str(path))[:, :, ::-1])
        if path.name in marks:
            yield "stills", rgb, tuple(marks[path.name]["near"]), tuple(marks[path.name]["far"])
        else:
            yield "stills, end-on or none", rgb, None, None


def random_frames(folder: Path) -> Iterator[Ends]:
    """Frames that frames.py made, by difficulty and view."""
    for path in sorted(folder.glob("*.json")):
        told = json.loads(path.read_text())
        off = abs(told["yaw"])
        view = "side" if off <= 10 else "oblique" if off <= 60 else "front or rear"
        for k, (near, far) in enumerate(told["rims"]):
            bgr = cv2.imread(str(path.with_name(f"{path.stem}_{k}.jpg")))
            rgb = np.ascontiguousarray(bgr[:, :, ::-1])
            yield f"random {path.stem.split('-')[0]}, {view}", rgb, tuple(near[:3]), tuple(far[:3])


def on(box: Box, place: Place | None) -> bool:
    """Whether a box is on a plate."""
    if place is None:
        return False
    off, size = errors(box, place)
    return off < 0.5 and size < math.log(1.6)


def errors(box: Box, place: Place) -> tuple[float, float]:
    """How far a box's centre lies off a plate's, radii, and how far its size, as a log."""
    x, y, radius = place
    return math.hypot(box.x_px - x, box.y_px - y) / radius, abs(math.log(box.radius_px / radius))


def ranks(proposer: Proposer, samples: Iterable[Ends], scales: tuple[int, ...]) -> None:
    """Print by group how high the near plate stands among the boxes."""
    groups: dict[str, list[list[float]]] = {}
    for group, rgb, near, far in samples:
        boxes = proposer.propose(rgb, long_sides_px=scales)
        height, width = rgb.shape[:2]
        inside = [p if p and 0 <= p[0] < width and 0 <= p[1] < height else None for p in (near, far)]
        row = [math.nan] * 8
        if inside[0] is not None:
            rank = next((i for i, b in enumerate(boxes) if on(b, inside[0])), 999)
            row[:5] = [rank < 1, rank < 3, rank < 8, rank < 999, rank < 999 and boxes[rank].score > 0.3]
            if rank < 999:
                row[5:7] = errors(boxes[rank], inside[0])
        if inside[1] is not None:
            row[7] = any(on(b, inside[1]) for b in boxes)
        neither = [b.score for b in boxes if not on(b, near) and not on(b, far)]
        groups.setdefault(group, []).append([*row, sum(s > 0.3 for s in neither), len(neither)])
    print(RANKS_HEAD + "\n" + "|---" * 12 + "|")
    for group, rows in groups.items():
        cells = []
        for k, column in enumerate(np.array(rows, float).T):
            known = column[np.isfinite(column)]
            cells.append(f"{known.mean():.{3 if k == 5 else 1 if k == 9 else 2}f}" if len(known) else "")
        print(f"| {group} | {len(rows)} | " + " | ".join(cells) + " |", flush=True)


def changed(how: str, rgb: np.ndarray, plate: tuple[float, float, float]) -> tuple[np.ndarray, tuple[float, ...]]:
    """Change a frame and its plate."""
    x, y, radius = plate
    h, w = rgb.shape[:2]
    if how == "mirrored":
        return np.ascontiguousarray(rgb[:, ::-1]), (w - 1 - x, y, radius)
    if how == "dim":
        noise = np.random.default_rng(0).normal(0, 6, rgb.shape)
        return np.clip(rgb / 3.0 + noise, 0, 255).astype(np.uint8), plate
    if how == "cut":
        left, up = w // 10, h // 10
        return np.ascontiguousarray(rgb[up : h - up, left : w - left]), (x - left, y - up, radius)
    return rgb, plate


def measure(
    proposer: Proposer, samples: list[Sample], scales: tuple[int, ...], how: str
) -> dict[str, list[float]]:
    """Figures by clip: found, top, centre error, ratio, others, milliseconds (means or medians)."""
    rows: dict[str, list[tuple[float, ...]]] = {}
    for label, original, plate in samples:
        rgb, (x, y, radius) = changed(how, original, plate)
        if not (0 <= x < rgb.shape[1] and 0 <= y < rgb.shape[0]):
            continue
        start = time.process_time()
        boxes = proposer.propose(rgb, long_sides_px=scales)
        spent = (time.process_time() - start) * 1e3
        hits = [
            i
            for i, b in enumerate(boxes)
            if math.hypot(b.x_px - x, b.y_px - y) < 0.5 * radius
            and abs(math.log(b.radius_px / radius)) < math.log(1.6)
        ]
        gap = ratio = score = math.nan
        if hits:
            best = boxes[hits[0]]
            gap = math.hypot(best.x_px - x, best.y_px - y) / radius
            ratio, score = best.radius_px / radius, best.score
        top = float(bool(hits) and hits[0] == 0)
        rows.setdefault(label, []).append((bool(hits), top, gap, ratio, len(boxes) - len(hits), score, spent))
    out = {}
    for label, got in rows.items():
        a = np.array(got, float)
        seen = a[a[:, 0] > 0]
        middle = np.median(seen[:, [2, 3, 5]], 0) if len(seen) else np.full(3, np.nan)
        spread = seen[:, 3].std() if len(seen) else math.nan
        out[label] = [len(a), a[:, 0].mean(), a[:, 1].mean(), middle[0], middle[1], spread, middle[2],
                      a[:, 4].mean(), float(np.median(a[:, 6]))]  # fmt: skip
    return out


def sheet(proposer: Proposer, folder: Path, out: Path, scales: tuple[int, ...]) -> None:
    """Draw the boxes over all stills of a folder, 16 a sheet."""
    tiles = []
    for path in sorted(folder.glob("*.jpg")):
        bgr = cv2.imread(str(path))
        for b in proposer.propose(np.ascontiguousarray(bgr[:, :, ::-1]), long_sides_px=scales):
            at = (round(b.x_px), round(b.y_px))
            axes = (max(round(b.radius_px * b.aspect), 1), round(b.radius_px))
            cv2.ellipse(bgr, at, axes, 0, 0, 360, (0, 230, 255), 2)
            cv2.putText(bgr, f"{b.score:.2f}", at, 0, 0.6, (0, 255, 0), 2)
        tiles.append(cv2.resize(bgr, (480, 320), interpolation=cv2.INTER_AREA))
    for k in range(0, len(tiles), 16):
        part = tiles[k : k + 16]
        part += [np.zeros_like(part[0])] * (-len(part) % 4)
        rows = [np.hstack(part[i : i + 4]) for i in range(0, len(part), 4)]
        cv2.imwrite(str(out / f"stills_{k // 16}.jpg"), np.vstack(rows))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rendered", type=Path)
    parser.add_argument("--real", type=Path)
    parser.add_argument("--marks", type=Path)
    parser.add_argument("--stills", type=Path)
    parser.add_argument("--sheets", type=Path)
    parser.add_argument("--frames", type=Path)
    parser.add_argument("--ranks", action="store_true")
    parser.add_argument("--network", type=Path)
    parser.add_argument("--score", type=float, default=0.3)
    parser.add_argument("--count", type=int, default=12, help="frames of each rendered clip")
    parser.add_argument("--scales", nargs="+", default=["640"], help="long sides, comma-separated sets")
    parser.add_argument("--changes", nargs="+", default=["as filmed"])
    args = parser.parse_args()
    cv2.setNumThreads(1)
    proposer = Proposer(score=0.12 if args.ranks else args.score, network=args.network)
    print(proposer.facts)
    samples: list[Sample] = []
    if args.rendered:
        samples += rendered(args.rendered, args.count)
    if args.real:
        samples += real(args.real, args.marks)
    if args.ranks:
        both: list[Ends] = [
            (f"real {label}" if label.startswith("R") else "rendered", rgb, tuple(near), None)
            for label, rgb, near in samples
        ]
        both += stills(args.stills) if args.stills else ()
        both += random_frames(args.frames) if args.frames else ()
        for text in args.scales:
            print(f"\nlong side {text} px")
            ranks(proposer, both, tuple(map(int, text.split(","))))
        return
    for how in args.changes:
        for text in args.scales:
            scales = tuple(map(int, text.split(",")))
            print(f"\n{how}, long side {text} px, score > {args.score}")
            print(HEAD + "\n" + "|---" * 9 + "|")
            for label, r in measure(proposer, samples, scales, how).items():
                cells = f"{r[0]:.0f} | {r[1]:.2f} | {r[2]:.2f} | {r[3]:.2f} | {r[4]:.2f} ± {r[5]:.2f} | {r[6]:.2f}"
                print(f"| {label} | {cells} | {r[7]:.1f} | {r[8]:.0f} |", flush=True)
    if args.stills and args.sheets:
        sheet(proposer, args.stills, args.sheets, tuple(map(int, args.scales[0].split(","))))


if __name__ == "__main__":
    main()
